//! The scouting walk: what a phone photographed a week before the night, at the hours of the night.
//!
//! The light at each stop is invented to agree with what the plan says was metered there. The phone
//! exposes by it as a phone does (ISO 2720, its meter a little off), so that whoever works back from
//! the exposure comes to that light within the doubt there is about a phone's meter.

use crate::dice::Dice;
use crate::error::Error;
use crate::picture::frame::{Picture, Plane, grain};
use crate::picture::places::{Scene, shade};
use crate::picture::shade::{Light, View, mix, plate, rgb};
use crate::truth::PhotoTruth;
use exif::{Field, In, Rational, SRational, Tag, Value};
use std::path::{Path, PathBuf};
use std::time::{Duration, SystemTime};

/// The day of the walk, a Friday as the night is. Porto keeps UTC in November.
const DAY: &str = "2026-11-13";
/// Its first second, since 1970.
const DAY_S: u64 = 1_794_528_000;
/// Long and short side of a picture, pixels.
const SIDES: (usize, usize) = (480, 360);
/// Radius of the earth, metres.
const EARTH_M: f64 = 6_371_000.0;
/// How far the phone's meter is off at most, stops: faces and skies, less than the usual doubt of one.
const METER_STOPS: f32 = 0.6;
/// ISO 2720's constant for reflected light, cd/m², and the grey that a meter takes everything for.
const K_CD_M2: f64 = 12.5;
const GREY: f64 = 0.18;
/// The phone's one aperture.
const F_NUMBER: (u32, u32) = (18, 10);
/// How the phone goes on as it gets darker: a shutter of 1/n s, up to this sensitivity.
const PROGRAMME: [(u32, f64); 7] = [
    (1000, 64.0),
    (250, 64.0),
    (120, 160.0),
    (60, 400.0),
    (30, 800.0),
    (15, 1250.0),
    (8, 3200.0),
];
/// The last resort: as long as a hand can be still, and whatever sensitivity that takes.
const LONGEST: u32 = 4;
const MOST_ISO: f64 = 6400.0;

/// A photograph of the walk: what is true of it, and how it is drawn.
#[derive(Clone, Debug)]
pub struct PhotoPlan {
    /// What is true of it.
    pub truth: PhotoTruth,
    seed: u64,
    stop: Stop,
}

/// A stop of the walk, as written below.
#[derive(Clone, Debug)]
struct Stop {
    /// The plan's place; none for one that the plan does not have.
    place: Option<&'static str>,
    at: (u32, u32, u32),
    /// Where the phone was: metres east and north of the place, or none where it saw no satellites.
    off_m: Option<(f64, f64)>,
    /// Which way it looked.
    bearing_deg: Option<u32>,
    /// The light there, and the thirds of a stop the picture was pulled by.
    lux: f64,
    thirds: i32,
    scene: Scene,
    /// Scene point in the middle of the picture, and scene height that it shows.
    middle: (f32, f32),
    tall: f32,
    upright: bool,
    /// How much of the day is left, 0 to 1.
    day: f32,
}

/// A street that was looked at on the way and left alone: too many trams, too much light.
const STREET: (&str, [f64; 2]) = ("tram-street", [41.1461, -8.6110]);

/// The stops, in their order. Sunset is at a quarter past five, civil dusk at a quarter to six; a
/// clear sky then falls from some 400 lux to 3 (published means), houses take half of it, and lamps
/// hold up what is left.
#[rustfmt::skip]
fn stops() -> Vec<Stop> {
    let stop = |place, at, off_m, bearing_deg, lux, scene, middle, tall| Stop {
        place, at, off_m: Some(off_m), bearing_deg: Some(bearing_deg), lux, thirds: 0, scene, middle, tall,
        upright: false, day: 0.0,
    };
    let (stairs, wash, quay) = (Some("stairway"), Some("launderette"), Some("quay"));
    vec![
        Stop { day: 1.0, upright: true, ..stop(stairs, (17, 12, 4), (-6.0, -9.0), 34, 220.0, Scene::Stairs, (0.889, 0.52), 1.35) },
        Stop { day: 0.6, ..stop(stairs, (17, 24, 51), (4.0, 7.0), 41, 60.0, Scene::Stairs, (0.80, 0.5), 1.1) },
        Stop { day: 0.2, ..stop(stairs, (17, 37, 22), (2.0, -3.0), 37, 13.0, Scene::Stairs, (0.95, 0.46), 0.92) },
        stop(stairs, (17, 53, 40), (11.0, 8.0), 301, 6.0, Scene::Lamps, (0.92, 0.5), 0.95),
        stop(None, (18, 9, 15), (0.0, 0.0), 118, 22.0, Scene::Lamps, (1.05, 0.52), 0.6),
        stop(wash, (18, 41, 30), (5.0, -8.0), 202, 80.0, Scene::Launderette, (0.889, 0.5), 1.05),
        // Between its walls the phone saw no satellites.
        Stop { off_m: None, bearing_deg: None, ..stop(wash, (18, 44, 2), (0.0, 0.0), 0, 75.0, Scene::Launderette, (0.62, 0.6), 0.62) },
        stop(wash, (18, 46, 48), (-7.0, 3.0), 188, 70.0, Scene::Drum, (0.889, 0.5), 1.05),
        // Pulled down, so that the bulb keeps its shape.
        Stop { thirds: -2, upright: true, ..stop(wash, (18, 50, 19), (2.0, 10.0), 205, 60.0, Scene::Launderette, (1.02, 0.36), 0.8) },
        stop(quay, (21, 41, 7), (-9.0, 4.0), 196, 3.0, Scene::Quay, (0.889, 0.52), 1.0),
        Stop { upright: true, ..stop(quay, (21, 44, 33), (6.0, -5.0), 171, 3.2, Scene::Quay, (1.12, 0.56), 1.15) },
        stop(quay, (21, 50, 12), (14.0, 2.0), 214, 2.0, Scene::Water, (0.889, 0.5), 1.0),
    ]
}

/// The photographs, in the order they were taken. `positions` are the plan's places by id.
pub(crate) fn photos(seed: u64, positions: &dyn Fn(&str) -> Option<[f64; 2]>) -> Vec<PhotoPlan> {
    let mut dice = Dice::new(seed, "walk");
    stops()
        .into_iter()
        .map(|stop| {
            let (h, m, s) = stop.at;
            let name = format!("{}-{h:02}{m:02}{s:02}.jpg", DAY.replace('-', ""));
            let middle = stop.place.map_or(Some(STREET.1), positions);
            let position = middle.zip(stop.off_m).map(|(at, off)| moved(at, off));
            let bias = f64::from(stop.thirds) / 3.0;
            let seen = f64::from(dice.between(-METER_STOPS, METER_STOPS)).exp2() * stop.lux;
            let (under_s, iso) = exposed(seen, bias);
            PhotoPlan {
                seed: seed ^ u64::from(h * 3600 + m * 60 + s),
                truth: PhotoTruth {
                    file: match stop.place {
                        Some(_) => name,
                        None => format!("{}/{name}", STREET.0),
                    },
                    place: stop.place.unwrap_or(STREET.0).to_string(),
                    taken: format!("{DAY}T{h:02}:{m:02}:{s:02}"),
                    utc_offset_minutes: 0,
                    position_deg: position,
                    bearing_deg: stop.bearing_deg.map(f64::from),
                    exposure_s: 1.0 / f64::from(under_s),
                    f_number: f64::from(F_NUMBER.0) / f64::from(F_NUMBER.1),
                    iso: f64::from(iso),
                    bias_stops: bias,
                    lux: stop.lux,
                },
                stop,
            }
        })
        .collect()
}

/// `at` moved by metres east and north, to the thousandth of a second of arc that is written.
fn moved([latitude, longitude]: [f64; 2], (east, north): (f64, f64)) -> [f64; 2] {
    let written = |degrees: f64| (degrees * 3.6e6).round() / 3.6e6;
    [
        written(latitude + (north / EARTH_M).to_degrees()),
        written(longitude + (east / EARTH_M / latitude.to_radians().cos()).to_degrees()),
    ]
}

/// The phone's exposure for light of `lux` on grey: 1/n s as n, and its sensitivity.
///
/// L = 0.18 E / π, and a meter sets t S = K N² 2^bias / L (ISO 2720, reflected light).
fn exposed(lux: f64, bias_stops: f64) -> (u32, u16) {
    let number = f64::from(F_NUMBER.0) / f64::from(F_NUMBER.1);
    let luminance = GREY * lux / std::f64::consts::PI;
    let time_by_iso = K_CD_M2 * number * number * bias_stops.exp2() / luminance;
    let (under_s, _) = PROGRAMME
        .into_iter()
        .find(|(under_s, most)| time_by_iso * f64::from(*under_s) <= *most)
        .unwrap_or((LONGEST, MOST_ISO));
    let iso = (time_by_iso * f64::from(under_s)).clamp(25.0, MOST_ISO);
    (under_s, iso.round() as u16)
}

/// Draws `photo` into the folder `out`, with what the phone wrote, and dates the file to its moment.
/// The same photograph gives the same file.
///
/// # Errors
/// [`Error::Stopped`] when `keep_going` said no, [`Error::Write`] when the file could not be written.
pub fn draw_photo(
    photo: &PhotoPlan,
    out: &Path,
    keep_going: &(dyn Fn() -> bool + Sync),
) -> Result<PathBuf, Error> {
    let truth = &photo.truth;
    if !keep_going() {
        return Err(Error::Stopped {
            file: truth.file.clone(),
        });
    }
    let path = out.join(&truth.file);
    let failed = |cause: &dyn std::fmt::Display| Error::Write {
        path: path.clone(),
        cause: cause.to_string(),
    };
    if let Some(folder) = path.parent() {
        std::fs::create_dir_all(folder).map_err(|cause| failed(&cause))?;
    }
    let picture = picture(photo);
    let [luma, ..] = &picture.planes;
    let size = (luma.width as u16, luma.height as u16);
    let exif = exif(truth).map_err(|cause| failed(&cause))?;
    media::write_jpeg(&path, &picture.rgb(), size, &exif).map_err(|cause| failed(&cause))?;
    // As a phone's file has it; otherwise a clock set after today's would be doubted, and rightly.
    let taken = SystemTime::UNIX_EPOCH + Duration::from_secs(DAY_S + seconds(&truth.taken));
    std::fs::File::options()
        .write(true)
        .open(&path)
        .and_then(|file| file.set_modified(taken))
        .map_err(|cause| failed(&cause))?;
    Ok(path)
}

/// Seconds of the day in `2026-11-13T17:12:04`.
fn seconds(taken: &str) -> u64 {
    taken
        .split('T')
        .nth(1)
        .unwrap_or_default()
        .split(':')
        .fold(0, |sum, part| sum * 60 + part.parse::<u64>().unwrap_or(0))
}

fn picture(photo: &PhotoPlan) -> Picture {
    let mut dice = Dice::new(photo.seed, "photograph");
    let stop = &photo.stop;
    let (width, height) = match stop.upright {
        true => (SIDES.1, SIDES.0),
        false => SIDES,
    };
    let unit_px = height as f32 / stop.tall;
    let (mx, my) = stop.middle;
    let view = View {
        corner: (
            mx - width as f32 / 2.0 / unit_px,
            my - height as f32 / 2.0 / unit_px,
        ),
        unit_px,
        size: (width, height),
    };
    // Nobody holds a phone quite level.
    let (sin, cos) = dice.between(-0.03, 0.03).sin_cos();
    let mut out = plate(view, |x, y| {
        let (dx, dy) = (x - mx, y - my);
        let light = shade(
            stop.scene,
            mx + cos * dx - sin * dy,
            my + sin * dx + cos * dy,
        );
        by_day(light, stop.day)
    });
    let coarse = 1.0 + photo.truth.iso as f32 / 700.0;
    let mut noise = Plane::filled(width, height, 128);
    for value in &mut noise.data {
        *value = (128.0 + dice.normal() * coarse).round().clamp(0.0, 255.0) as u8;
    }
    grain(&mut out.planes[0], &noise, 0, 0);
    out
}

/// What dusk shows, with more of the day in it: bluer and brighter, the lamps the weaker for it.
fn by_day(light: Light, day: f32) -> Light {
    light * mix(rgb(1.0, 1.0, 1.0), rgb(1.15, 1.7, 2.5), day)
}

/// What the phone wrote: time with its zone, exposure, and where the satellites had it.
fn exif(truth: &PhotoTruth) -> Result<Vec<u8>, exif::Error> {
    let text = |words: &str| Value::Ascii(vec![words.as_bytes().to_vec()]);
    let short = |number: u16| Value::Short(vec![number]);
    let ratio = |(num, denom): (u32, u32)| Value::Rational(vec![Rational { num, denom }]);
    let thirds = (truth.bias_stops * 3.0).round() as i32;
    let ahead = truth.utc_offset_minutes.unsigned_abs();
    let sign = if truth.utc_offset_minutes < 0 {
        '-'
    } else {
        '+'
    };
    let offset = text(&format!("{sign}{:02}:{:02}", ahead / 60, ahead % 60));
    let taken = text(&truth.taken.replace('-', ":").replace('T', " "));
    let mut written = vec![
        (Tag::Orientation, short(1)), // stands upright as it is
        (Tag::DateTime, taken.clone()),
        (
            Tag::ExposureTime,
            ratio((1, (1.0 / truth.exposure_s).round() as u32)),
        ),
        (Tag::FNumber, ratio(F_NUMBER)),
        (Tag::PhotographicSensitivity, short(truth.iso as u16)),
        (Tag::ExifVersion, Value::Undefined(b"0232".to_vec(), 0)),
        (Tag::DateTimeOriginal, taken),
        (Tag::OffsetTime, offset.clone()),
        (Tag::OffsetTimeOriginal, offset),
        (
            Tag::ExposureBiasValue,
            Value::SRational(vec![SRational {
                num: thirds,
                denom: 3,
            }]),
        ),
        (Tag::Flash, short(16)), // off
        (Tag::FocalLength, ratio((54, 10))),
        (Tag::ExposureMode, short(0)), // exposed by its meter
        (Tag::FocalLengthIn35mmFilm, short(26)),
    ];
    if let Some([latitude, longitude]) = truth.position_deg {
        let clock = seconds(&truth.taken) as u32;
        written.extend([
            (
                Tag::GPSLatitudeRef,
                text(if latitude < 0.0 { "S" } else { "N" }),
            ),
            (Tag::GPSLatitude, angle(latitude)),
            (
                Tag::GPSLongitudeRef,
                text(if longitude < 0.0 { "W" } else { "E" }),
            ),
            (Tag::GPSLongitude, angle(longitude)),
            (Tag::GPSTimeStamp, sixtieths(clock, 1)),
            (Tag::GPSDateStamp, text(&DAY.replace('-', ":"))),
        ]);
        if let Some(bearing) = truth.bearing_deg {
            written.push((Tag::GPSImgDirectionRef, text("T")));
            let hundredths = (bearing * 100.0).round() as u32;
            written.push((Tag::GPSImgDirection, ratio((hundredths, 100))));
        }
    }
    let field = |(tag, value)| Field {
        tag,
        ifd_num: In::PRIMARY,
        value,
    };
    let fields: Vec<Field> = written.into_iter().map(field).collect();
    let mut writer = exif::experimental::Writer::new();
    fields.iter().for_each(|field| writer.push_field(field));
    let mut bytes = std::io::Cursor::new(Vec::new());
    writer.write(&mut bytes, false)?;
    Ok(bytes.into_inner())
}

/// Degrees, minutes and thousandths of a second of arc.
fn angle(degrees: f64) -> Value {
    sixtieths((degrees.abs() * 3.6e6).round() as u32, 1000)
}

/// `parts` of which `per` make a second, as degrees or hours, minutes, seconds.
fn sixtieths(parts: u32, per: u32) -> Value {
    let ratio = |num, denom| Rational { num, denom };
    Value::Rational(vec![
        ratio(parts / (3600 * per), 1),
        ratio(parts / (60 * per) % 60, 1),
        ratio(parts % (60 * per), per),
    ])
}

#[cfg(test)]
mod tests {
    use super::*;

    fn all(seed: u64) -> Vec<PhotoPlan> {
        let plan = crate::plan::plan(crate::compose::sample());
        crate::walk(seed, &plan)
    }

    /// Metres between two positions, near enough for a street.
    fn apart_m(a: [f64; 2], b: [f64; 2]) -> f64 {
        let east = (a[1] - b[1]).to_radians() * a[0].to_radians().cos();
        (a[0] - b[0]).to_radians().hypot(east) * EARTH_M
    }

    #[test]
    fn what_is_written_is_read_back() {
        let folder = tempfile::tempdir().unwrap();
        for photo in all(1) {
            let truth = &photo.truth;
            let path = folder.path().join("a.tif");
            std::fs::write(&path, exif(truth).unwrap()).unwrap();
            let read = media::read_photo(&path).unwrap();
            assert_eq!(read.taken.as_ref(), Some(&truth.taken));
            assert_eq!(read.utc_offset_minutes, Some(0));
            assert_eq!(read.bearing_deg, truth.bearing_deg);
            assert!(!read.bearing_is_magnetic);
            assert_eq!(read.exposure_s, Some(truth.exposure_s));
            assert_eq!(read.f_number, Some(truth.f_number));
            assert_eq!(read.iso, Some(truth.iso));
            assert_eq!(read.bias_stops, Some(truth.bias_stops));
            assert_eq!(read.flash, Some(false));
            assert_eq!(read.position_deg.is_some(), truth.position_deg.is_some());
            for (read, true_one) in read.position_deg.iter().zip(&truth.position_deg) {
                assert!(apart_m(*read, *true_one) < 0.001, "{read:?} {true_one:?}");
            }
        }
    }

    #[test]
    fn exposures_tell_the_light_within_a_stop() {
        for seed in 0..40 {
            for photo in all(seed) {
                let truth = &photo.truth;
                // By hand: E = π / 0.18 · 12.5 N² / (t S) · 2^bias.
                let lux = std::f64::consts::PI / 0.18 * 12.5 * truth.f_number.powi(2)
                    / (truth.exposure_s * truth.iso)
                    * truth.bias_stops.exp2();
                assert!((lux / truth.lux).log2().abs() < 0.7, "{truth:?} {lux}");
                assert!((25.0..=MOST_ISO).contains(&truth.iso));
            }
        }
    }

    #[test]
    fn stops_lie_where_they_belong() {
        let plan = crate::plan::plan(crate::compose::sample());
        let photos = all(1);
        assert_eq!(photos.len(), 12);
        let without: Vec<_> = photos
            .iter()
            .filter(|photo| photo.truth.position_deg.is_none())
            .collect();
        assert_eq!(without.len(), 1);
        for photo in &photos {
            let Some(at) = photo.truth.position_deg else {
                continue;
            };
            for place in &plan.places {
                let near = apart_m(at, place.position_deg.unwrap()) < 40.0;
                assert_eq!(near, place.id.as_str() == photo.truth.place, "{photo:?}");
            }
        }
        assert!(photos.is_sorted_by_key(|photo| &photo.truth.taken));
    }

    #[test]
    fn a_photograph_is_the_same_each_time() {
        let photo = &all(1)[2];
        let (a, b) = (picture(photo), picture(photo));
        assert_eq!(a.planes[0].data, b.planes[0].data);
        assert!(a.planes[0].data.iter().any(|value| *value > 150));
    }
}
