//! How frames of a take are asked of ffmpeg: from where, at what pace, in what shape.
//!
//! # Time
//! The take is read on its own clock (`-copyts`), and its time stamps are mapped so that the
//! moment wanted first becomes 0 and a second of output is `1 / speed` seconds of take. ffmpeg's
//! `fps` filter with `round=up` then gives at output time `n / rate` the last frame that starts at
//! or before it: the frame that covers the moment. Time stamps up to [`ROUNDED_S`] late count as
//! on time, since containers round them.

use crate::Error;
use crate::tools::input;
use model::{Fit, FrameRate, Picture};
use std::ffi::OsString;
use std::path::Path;

/// How far containers that count milliseconds can be off a frame's true start, and a little more.
const ROUNDED_S: f64 = 0.0006;

/// Which frames of a take are wanted.
pub(crate) struct Moments {
    /// Seconds after the take's first frame.
    pub from_s: f64,
    /// Seconds of output for each second of take.
    pub stretched: f64,
    /// Frames per second of output.
    pub rate: FrameRate,
    /// How many; `None` for all.
    pub count: Option<i64>,
}

/// Arguments that read `path` and send frames to standard output as `sent_as` says, after the filters in
/// `shape`.
pub(crate) fn arguments(
    path: &Path,
    picture: &Picture,
    moments: &Moments,
    shape: &str,
    threads: u32,
    sent_as: &[&str],
) -> Result<Vec<OsString>, Error> {
    let mut list = wanted(path, picture, moments, shape, threads)?;
    list.extend(sent_as.iter().map(OsString::from));
    list.push("pipe:1".into());
    Ok(list)
}

/// Arguments that read the frames wanted of `path` and bring them into `shape`; where they go is to follow.
pub(crate) fn wanted(
    path: &Path,
    picture: &Picture,
    moments: &Moments,
    shape: &str,
    threads: u32,
) -> Result<Vec<OsString>, Error> {
    let mut list: Vec<OsString> = Vec::new();
    let mut add = |argument: &str| list.push(argument.into());
    add("-copyts");
    add("-threads");
    add(&threads.to_string());
    // The frame that covers the moment starts before it, and only frames from a key frame on can
    // be decoded: begin a little earlier. What is decoded too early costs no scaling.
    let frame_s = 1.0 / picture.rate.fps();
    let margin_s = if picture.variable_rate {
        3.0
    } else {
        (3.0 * frame_s).max(0.2)
    };
    let seek_s = picture.start_s + moments.from_s - margin_s;
    if moments.from_s > margin_s {
        add("-noaccurate_seek");
        add("-seek_timestamp");
        add("1");
        add("-ss");
        add(&format!("{seek_s:.6}"));
    }
    list.extend(input(path)?);
    let mut add = |argument: &str| list.push(argument.into());
    let origin_s = picture.start_s + moments.from_s + ROUNDED_S;
    for argument in ["-map", "0:V:0", "-an", "-sn", "-dn", "-vf"] {
        add(argument);
    }
    add(&format!(
        "settb=1/705600000,setpts=(PTS-({:.0}))*{:.12},fps={}:round=up:start_time=0{}{shape}",
        origin_s * model::TICKS_PER_SECOND as f64,
        moments.stretched,
        moments.rate,
        if shape.is_empty() { "" } else { "," },
    ));
    if let Some(count) = moments.count {
        add("-frames:v");
        add(&count.to_string());
    }
    Ok(list)
}

/// Whole frames of 8-bit planar YUV 4:2:0, video range.
pub(crate) const RAW: &[&str] = &["-f", "rawvideo", "-pix_fmt", "yuv420p"];

/// Where the active picture lies in a frame: x, y, width, height, all even.
pub(crate) fn active_area(frame: [u32; 2], active: Option<[u32; 2]>) -> [u32; 4] {
    let [width, height] = frame;
    let Some([a, b]) = active.filter(|[a, b]| *a > 0 && *b > 0) else {
        return [0, 0, width, height];
    };
    inside([width, height], f64::from(a) / f64::from(b))
}

/// The largest area of shape `aspect` in the middle of a frame, all even.
fn inside([width, height]: [u32; 2], aspect: f64) -> [u32; 4] {
    let even = |value: f64, most: u32| ((value / 2.0).round() as u32 * 2).clamp(2, most.max(2));
    let full = f64::from(width) / f64::from(height);
    let (w, h) = if aspect < full {
        (even(f64::from(height) * aspect, width), height)
    } else {
        (width, even(f64::from(width) / aspect, height))
    };
    [(width - w) / 4 * 2, (height - h) / 4 * 2, w, h]
}

/// The filters that bring a take's picture (upright already) into the active area of the frame.
pub(crate) fn shape(picture: &Picture, frame: [u32; 2], area: [u32; 4], fit: Fit) -> String {
    let turned = picture.rotation_deg % 180 == 90;
    let pixel = f64::from(picture.pixel_aspect.0) / f64::from(picture.pixel_aspect.1);
    let (width, height, pixel) = if turned {
        (picture.height, picture.width, 1.0 / pixel)
    } else {
        (picture.width, picture.height, pixel)
    };
    let aspect = f64::from(width) * pixel / f64::from(height.max(1));
    let [x, y, w, h] = area;
    let wanted = f64::from(w) / f64::from(h);
    let mut filters = Vec::new();
    let placed = match fit {
        // A twentieth of a percent: what rounding sizes to whole pixels makes of equal shapes.
        _ if (aspect / wanted - 1.0).abs() < 5e-4 => area,
        Fit::Crop => {
            let (kept_width, kept_height) = if aspect > wanted {
                (
                    (f64::from(width) * wanted / aspect).round(),
                    f64::from(height),
                )
            } else {
                (
                    f64::from(width),
                    (f64::from(height) * aspect / wanted).round(),
                )
            };
            filters.push(format!(
                "crop=w=min(iw\\,{}):h=min(ih\\,{})",
                kept_width.max(2.0),
                kept_height.max(2.0)
            ));
            area
        }
        Fit::Inside => {
            let [dx, dy, w, h] = inside([w, h], aspect);
            [x + dx, y + dy, w, h]
        }
    };
    let [x, y, w, h] = placed;
    // Untagged pictures of 720 lines and more are Rec. 709 (common practice); ffmpeg would take
    // them for Rec. 601.
    let from = if picture.colour[2].is_none() && picture.height >= 720 {
        ":in_color_matrix=bt709"
    } else {
        ""
    };
    filters.push(format!(
        "scale={w}:{h}:flags=bilinear{from}:out_color_matrix=bt709:out_range=tv,setsar=1,format=yuv420p"
    ));
    if [w, h] != frame {
        filters.push(format!("pad={}:{}:{x}:{y}:black", frame[0], frame[1]));
    }
    filters.join(",")
}

#[cfg(test)]
mod tests {
    use super::*;
    use model::Length;
    use proptest::prelude::*;

    fn picture(width: u32, height: u32, rotation_deg: u32, pixel_aspect: (u32, u32)) -> Picture {
        Picture {
            width,
            height,
            rotation_deg,
            pixel_aspect,
            rate: FrameRate::FPS_25,
            variable_rate: false,
            codec: "h264".into(),
            pixel_format: "yuv420p".into(),
            colour: Default::default(),
            start_timecode: None,
            frames: None,
            start_s: 0.0,
            length: Length::ZERO,
        }
    }

    // Cropping to another aspect ratio: width × (wanted / own).
    #[test]
    fn pictures_are_brought_into_shape() {
        let check = |picture: &Picture, active, fit, expected: &str| {
            let area = active_area([960, 540], active);
            let shape = shape(picture, [960, 540], area, fit);
            assert!(shape.starts_with(expected), "{shape}");
        };
        let wide = picture(1920, 1080, 0, (1, 1));
        check(&wide, None, Fit::Crop, "scale=960:540");
        check(
            &wide,
            Some([4, 3]),
            Fit::Crop,
            "crop=w=min(iw\\,1440):h=min(ih\\,1080),scale=720:540",
        );
        check(&wide, Some([4, 3]), Fit::Inside, "scale=720:406");
        let phone = picture(1920, 1080, 90, (1, 1));
        check(&phone, None, Fit::Inside, "scale=304:540");
        check(
            &phone,
            None,
            Fit::Crop,
            "crop=w=min(iw\\,1080):h=min(ih\\,608),scale=960:540",
        );
        // Anamorphic, twice as wide as stored.
        check(
            &picture(960, 1080, 0, (2, 1)),
            None,
            Fit::Crop,
            "scale=960:540",
        );
    }

    #[test]
    fn the_active_picture_lies_in_the_middle() {
        assert_eq!(active_area([960, 540], None), [0, 0, 960, 540]);
        assert_eq!(active_area([960, 540], Some([4, 3])), [120, 0, 720, 540]);
        assert_eq!(active_area([960, 540], Some([239, 100])), [0, 68, 960, 402]);
        assert_eq!(active_area([540, 960], Some([1, 1])), [0, 210, 540, 540]);
    }

    proptest! {
        #[test]
        fn areas_are_even_and_inside(w in 8u32..2000, h in 8u32..2000, a in 1u32..3000, b in 1u32..3000) {
            let frame = [w * 2, h * 2];
            let [x, y, width, height] = active_area(frame, Some([a, b]));
            prop_assert!(x % 2 == 0 && y % 2 == 0 && width % 2 == 0 && height % 2 == 0);
            prop_assert!(width >= 2 && height >= 2);
            prop_assert!(x + width <= frame[0] && y + height <= frame[1]);
        }
    }
}
