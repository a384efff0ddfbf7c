//! All of a place in one piece, as `scout --json` tells it.

use crate::ask::to_ask;
use model::metering::{self, PlaceLight};
use model::{Finding, Photo, Place};
use serde::Serialize;

/// A place.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PlaceReport {
    /// Its id.
    pub id: String,
    /// What it is called.
    pub name: String,
    /// Latitude and longitude, degrees.
    pub position_deg: Option<[f64; 2]>,
    /// Which way its street or stair runs, degrees.
    pub bearing_deg: Option<f64>,
    /// Its photographs.
    pub photos: Vec<PhotoReport>,
    /// The light falling on it, where anything tells.
    pub light: Option<PlaceLight>,
    /// What is still to ask of it.
    pub to_ask: Vec<String>,
}

/// A photograph.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PhotoReport {
    /// Where it lies: relative to the project, or absolute.
    pub file: String,
    /// When, local time as written.
    pub taken: Option<String>,
    /// Minutes the clock was ahead of UTC, when it is written.
    pub utc_offset_minutes: Option<i32>,
    /// Latitude and longitude, degrees.
    pub position_deg: Option<[f64; 2]>,
    /// Metres above the sea.
    pub altitude_m: Option<f64>,
    /// Which way it looks, degrees from north through east.
    pub bearing_deg: Option<f64>,
    /// Whether from magnetic north.
    pub bearing_is_magnetic: bool,
    /// Exposure time, seconds.
    pub exposure_s: Option<f64>,
    /// f-number.
    pub f_number: Option<f64>,
    /// Sensitivity (ISO).
    pub iso: Option<f64>,
    /// Exposure bias, stops.
    pub bias_stops: Option<f64>,
    /// Whether a flash fired.
    pub flash: Option<bool>,
    /// Focal length, millimetres.
    pub focal_mm: Option<f64>,
    /// The focal length that shows as much on a frame of 36 mm by 24 mm.
    pub focal_35_mm: Option<f64>,
    /// Average luminance of the scene, cd/m².
    pub luminance_cd_m2: Option<f64>,
    /// Light falling on it, lux.
    pub illuminance_lux: Option<f64>,
    /// EV at ISO 100 that the camera was set to.
    pub ev100: Option<f64>,
    /// How far luminance and light may be off, stops either way.
    pub uncertainty_stops: Option<f64>,
    /// What to know of it.
    pub notes: Vec<Finding>,
}

/// All of `place`. `notes` says what was found when a photograph was read.
pub fn report(place: &Place, notes: impl Fn(&Photo) -> Vec<Finding>) -> PlaceReport {
    PlaceReport {
        id: place.id.to_string(),
        name: place.name.clone(),
        position_deg: place.position_deg,
        bearing_deg: place.bearing_deg,
        photos: place
            .photos
            .iter()
            .map(|photo| of_photo(photo, notes(photo)))
            .collect(),
        light: metering::light(place),
        to_ask: to_ask(place).into_iter().map(str::to_owned).collect(),
    }
}

fn of_photo(photo: &Photo, mut notes: Vec<Finding>) -> PhotoReport {
    let (estimate, doubts) = metering::estimate(photo);
    let doubts = doubts.iter();
    notes.extend(doubts.map(|doubt| Finding::unknown("light", doubt.to_string())));
    PhotoReport {
        file: photo.file.path.clone(),
        taken: photo.taken.clone(),
        utc_offset_minutes: photo.utc_offset_minutes,
        position_deg: photo.position_deg,
        altitude_m: photo.altitude_m,
        bearing_deg: photo.bearing_deg,
        bearing_is_magnetic: photo.bearing_is_magnetic,
        exposure_s: photo.exposure_s,
        f_number: photo.f_number,
        iso: photo.iso,
        bias_stops: photo.bias_stops,
        flash: photo.flash,
        focal_mm: photo.focal_mm,
        focal_35_mm: photo.focal_35_mm,
        luminance_cd_m2: estimate.map(|e| e.luminance_cd_m2),
        illuminance_lux: estimate.map(|e| e.illuminance_lux),
        ev100: metering::ev100_of(photo),
        uncertainty_stops: estimate.map(|e| e.uncertainty_stops),
        notes,
    }
}
