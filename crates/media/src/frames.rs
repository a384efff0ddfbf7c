//! Small grey frames at a low rate, for measuring the picture, and single stills.

use crate::output::Output;
use crate::process::Out;
use crate::reading::{self, Moments};
use crate::tools::input;
use crate::{Error, KeepGoing, Probe, Tools};
use model::{FrameRate, Picture};
use std::io::Write;
use std::path::Path;

/// Reads `path` as grey frames of `width` × `height` (stretched to fit, upright), `per_second` of
/// them for each second of the take, and hands each to `each` with its time in the take.
///
/// Bytes are luma on the coded scale, 16 (black) to 235 (white), row by row from the top. Sizes are
/// even, 2 to 4096; `per_second` is above 0, at most 1000. Decoding is hurried: the codec's smoothing between blocks is
/// left out, which measures do not see.
///
/// # Errors
/// [`Error::NoPicture`], [`Error::OutOfRange`], [`Error::Cancelled`], and what ffmpeg refuses.
/// Frames handed over before an error are good.
#[expect(
    clippy::too_many_arguments,
    reason = "each is one plain value of one call"
)]
pub fn gray_frames(
    path: &Path,
    probe: &Probe,
    tools: &Tools,
    width: u32,
    height: u32,
    per_second: f64,
    keep_going: KeepGoing,
    each: &mut dyn FnMut(f64, &[u8]),
) -> Result<(), Error> {
    let picture = picture_of(path, probe)?;
    for size in [width, height] {
        if !(2..=4096).contains(&size) || size % 2 == 1 {
            return Err(Error::OutOfRange {
                what: "the size of a grey frame".into(),
                met: format!("{width}×{height}"),
                allowed: "even, 2 to 4096".into(),
            });
        }
    }
    if !(per_second > 0.0 && per_second <= 1000.0) {
        return Err(Error::OutOfRange {
            what: "the number of grey frames per second".into(),
            met: per_second.to_string(),
            allowed: "above 0, at most 1000".into(),
        });
    }
    let mut arguments =
        crate::process::words("-copyts -threads 1 -skip_loop_filter all -flags2 +fast");
    arguments.extend(input(path)?);
    let filter = format!(
        "settb=1/705600000,setpts=PTS-({:.0}),fps={per_second:.9}:round=up:start_time=0,\
         scale={width}:{height}:flags=fast_bilinear:out_range=tv,format=yuv420p,extractplanes=y",
        picture.start_s * model::TICKS_PER_SECOND as f64
    );
    arguments.extend(crate::process::arguments([
        "-map", "0:V:0", "-an", "-sn", "-dn", "-vf", &filter, "-f", "rawvideo", "pipe:1",
    ]));
    let bytes = width as usize * height as usize;
    let out = Out::Pieces { bytes, ahead: 16 };
    let mut job = tools.ffmpeg(&arguments, "read", path, out, None)?;
    let mut index = 0u64;
    while let Some(frame) = job.next(keep_going)? {
        if frame.len() == bytes {
            each(index as f64 / per_second, &frame);
            index += 1;
        }
    }
    Ok(())
}

/// Writes the frame shown at `at_s` in the take as a PNG no wider than `width`, upright.
///
/// # Errors
/// [`Error::NoPicture`], [`Error::OutOfRange`] when the take has no frame there, and what ffmpeg or
/// the system refuses.
pub fn extract_still(
    path: &Path,
    probe: &Probe,
    tools: &Tools,
    at_s: f64,
    width: u32,
    out: &Path,
) -> Result<(), Error> {
    let picture = picture_of(path, probe)?;
    let moments = Moments {
        from_s: if at_s.is_finite() { at_s.max(0.0) } else { 0.0 },
        stretched: 1.0,
        rate: FrameRate::FPS_25,
        count: Some(1),
    };
    let shape = format!("scale=w=min({}\\,iw*sar):h=-2,setsar=1", width.max(2));
    let sent_as = ["-f", "image2pipe", "-c:v", "png"];
    let arguments = reading::arguments(path, picture, &moments, &shape, 1, &sent_as)?;
    let pieces = Out::Pieces {
        bytes: 1 << 16,
        ahead: 8,
    };
    let mut job = tools.ffmpeg(&arguments, "read", path, pieces, None)?;
    let mut output = Output::beside(out)?;
    let mut any = false;
    while let Some(piece) = job.next(&|| true)? {
        any = true;
        output
            .file()
            .write_all(&piece)
            .map_err(Error::io(out, "written"))?;
    }
    if !any {
        return Err(Error::OutOfRange {
            what: format!("the moment in `{}`", path.display()),
            met: format!("{at_s} s"),
            allowed: format!("before its end at {:.2} s", picture.length.seconds()),
        });
    }
    output.persist(out)
}

fn picture_of<'a>(path: &Path, probe: &'a Probe) -> Result<&'a Picture, Error> {
    probe.picture.as_ref().ok_or_else(|| Error::NoPicture {
        path: path.display().to_string(),
    })
}
