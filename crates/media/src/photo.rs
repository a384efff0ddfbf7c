//! What a camera wrote into a photograph (EXIF 2.32): where, when, which way, and how it was exposed.
//!
//! JPEG, HEIF, AVIF, PNG, WebP and TIFF, either byte order. A photograph without EXIF, or with a
//! broken one, is no error: what could not be read is absent and said in a note. Nothing is guessed
//! from the picture itself, which is not decoded. Times stay as the camera wrote them; a clock that
//! contradicts the satellites, the file or the position is told, not corrected.

mod clock;
mod fields;
mod note;

use crate::Error;
use fields::Fields;
use model::{MediaFile, Photo};
use std::fs::File;
use std::io::BufReader;
use std::path::Path;

pub use note::PhotoNote;

/// The largest file that is read as a photograph: far above any camera's.
const MOST_BYTES: u64 = 1 << 30;

/// What the EXIF reader says of the EXIF itself, when the file around it is whole.
const EXIF_BROKEN: [&str; 3] = [
    "Truncated TIFF header",
    "Invalid TIFF byte order",
    "Invalid forty two",
];

/// What the reader says of a part that is read whole, when the four bytes behind it lead somewhere.
/// A common general-purpose library writes none there, so that whatever follows is taken for them.
const HARMLESS: &str = "Unexpected next IFD";

/// A photograph, read.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct PhotoRead {
    /// When, local time as written (`2026-10-03T18:41:07.25`).
    pub taken: Option<String>,
    /// Minutes the clock was ahead of UTC, when it is written; −840 to 840.
    pub utc_offset_minutes: Option<i32>,
    /// The satellites' time at the fix, UTC (`2026-10-03T17:41:05`).
    pub gps_utc: Option<String>,
    /// Latitude (−90 to 90, north positive) and longitude (−180 to 180, east positive), degrees.
    pub position_deg: Option<[f64; 2]>,
    /// Metres above the sea.
    pub altitude_m: Option<f64>,
    /// Which way the camera looked, degrees from north through east, 0 to below 360.
    pub bearing_deg: Option<f64>,
    /// Whether that counts from magnetic north.
    pub bearing_is_magnetic: bool,
    /// Exposure time, seconds, above 0.
    pub exposure_s: Option<f64>,
    /// f-number, above 0.
    pub f_number: Option<f64>,
    /// Sensitivity (ISO), above 0.
    pub iso: Option<f64>,
    /// Exposure bias, stops; positive made the picture brighter.
    pub bias_stops: Option<f64>,
    /// Whether a flash fired.
    pub flash: Option<bool>,
    /// Whether the exposure was set by hand.
    pub exposed_by_hand: bool,
    /// Focal length, millimetres.
    pub focal_mm: Option<f64>,
    /// The focal length that shows as much on a frame of 36 mm by 24 mm.
    pub focal_35_mm: Option<f64>,
    /// What a person should know.
    pub notes: Vec<PhotoNote>,
}

impl PhotoRead {
    /// The document's photograph: these values beside its file.
    pub fn into_photo(self, file: MediaFile) -> Photo {
        Photo {
            taken: self.taken,
            utc_offset_minutes: self.utc_offset_minutes,
            position_deg: self.position_deg,
            altitude_m: self.altitude_m,
            bearing_deg: self.bearing_deg,
            bearing_is_magnetic: self.bearing_is_magnetic,
            exposure_s: self.exposure_s,
            f_number: self.f_number,
            iso: self.iso,
            bias_stops: self.bias_stops,
            flash: self.flash,
            exposed_by_hand: self.exposed_by_hand,
            focal_mm: self.focal_mm,
            focal_35_mm: self.focal_35_mm,
            ..Photo::new(file)
        }
    }
}

/// Reads what the camera wrote into the photograph at `path`.
///
/// # Errors
/// [`Error::NoFile`], [`Error::Folder`], [`Error::Empty`], [`Error::NotPhoto`] for another kind of
/// file, [`Error::BrokenPhoto`] for one that breaks off, [`Error::OutOfRange`] above 1 GiB, and what
/// the system refuses. EXIF that is missing or broken is a note.
pub fn read_photo(path: &Path) -> Result<PhotoRead, Error> {
    let about = std::fs::metadata(path).map_err(Error::io(path, "opened"))?;
    let named = || path.display().to_string();
    if about.is_dir() {
        return Err(Error::Folder { path: named() });
    }
    if !about.is_file() {
        return Err(Error::NotPhoto { path: named() });
    }
    if about.len() == 0 {
        return Err(Error::Empty { path: named() });
    }
    if about.len() > MOST_BYTES {
        return Err(Error::OutOfRange {
            what: format!("the size of the photograph `{}`", path.display()),
            met: format!("{} MiB", about.len() >> 20),
            allowed: format!("at most {} MiB", MOST_BYTES >> 20),
        });
    }
    let mut file = BufReader::new(File::open(path).map_err(Error::io(path, "opened"))?);
    let mut damage = Vec::new();
    let read = exif::Reader::new()
        .continue_on_error(true)
        .read_from_container(&mut file)
        .or_else(|error| {
            error.distill_partial_result(|errors| {
                damage.extend(errors.iter().map(ToString::to_string))
            })
        });
    let bare = |note| {
        Ok(PhotoRead {
            notes: vec![note],
            ..PhotoRead::default()
        })
    };
    let exif = match read {
        Ok(exif) => exif,
        Err(exif::Error::NotFound(_)) => return bare(PhotoNote::NoExif),
        Err(exif::Error::Io(source)) => return Err(Error::io(path, "read")(source)),
        Err(exif::Error::InvalidFormat("Unknown image format")) => {
            return Err(Error::NotPhoto { path: named() });
        }
        Err(exif::Error::InvalidFormat(said)) if EXIF_BROKEN.contains(&said) => {
            return bare(PhotoNote::Unreadable { said: said.into() });
        }
        Err(error @ exif::Error::NotSupported(_)) => {
            return bare(PhotoNote::Unreadable {
                said: error.to_string(),
            });
        }
        Err(error) => {
            return Err(Error::BrokenPhoto {
                path: named(),
                said: error.to_string(),
            });
        }
    };
    let mut fields = Fields::new(&exif);
    damage.retain(|said| said != HARMLESS);
    if !damage.is_empty() {
        damage.dedup();
        damage.truncate(3);
        fields.notes.push(PhotoNote::Damaged {
            said: damage.join(", "),
        });
    }
    let modified = about
        .modified()
        .ok()
        .and_then(|time| jiff::Timestamp::try_from(time).ok())
        .map(|time| jiff::tz::TimeZone::UTC.to_datetime(time));
    Ok(gathered(fields, modified))
}

/// Everything the fields say, with the clock held against whatever it can be held against.
fn gathered(mut fields: Fields<'_>, modified: Option<jiff::civil::DateTime>) -> PhotoRead {
    let position_deg = fields.position();
    let altitude_m = fields.altitude();
    let (bearing_deg, bearing_is_magnetic) = fields.bearing();
    let times = clock::times(&mut fields);
    let exposure_s = fields.positive(exif::Tag::ExposureTime, "exposure time", 1e-7..=1e6);
    let f_number = fields.positive(exif::Tag::FNumber, "f-number", 0.1..=1000.0);
    let iso = fields.iso();
    let bias_stops = fields.number(
        exif::Tag::ExposureBiasValue,
        "exposure bias",
        -20.0..=20.0,
        false,
    );
    let flash = fields.flag(exif::Tag::Flash).map(|bits| bits & 1 == 1);
    let exposed_by_hand = fields.flag(exif::Tag::ExposureMode) == Some(1);
    let focal_mm = fields.positive(exif::Tag::FocalLength, "focal length", 0.1..=100_000.0);
    let focal_35_mm = fields.positive(
        exif::Tag::FocalLengthIn35mmFilm,
        "focal length on 36 mm by 24 mm",
        0.1..=100_000.0,
    );
    let mut notes = fields.notes;
    notes.extend(clock::doubts(&times, modified, position_deg));
    PhotoRead {
        taken: times.taken.map(|time| time.to_string()),
        utc_offset_minutes: times.offset_minutes,
        gps_utc: times.gps_utc.map(|time| time.to_string()),
        position_deg,
        altitude_m,
        bearing_deg,
        bearing_is_magnetic,
        exposure_s,
        f_number,
        iso,
        bias_stops,
        flash,
        exposed_by_hand,
        focal_mm,
        focal_35_mm,
        notes,
    }
}
