//! The light that is already there, and where its figure comes from.

use super::Notes;
use super::finding::{Finding, On};
use crate::colour::White;
use crate::practice::Practice;
use crate::reflected;
use model::{Place, Project, Setup};
use serde::Serialize;

/// Where a figure of ambient light comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum AmbientFrom {
    /// The setup says it.
    Setup,
    /// A meter reading of the place.
    Reading,
    /// Photographs of the place.
    Photographs,
    /// Nowhere; counted as none.
    Unknown,
}

/// Ambient light on one subject.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct AmbientLight {
    /// Where the figure comes from.
    pub from: AmbientFrom,
    /// Lux on the subject.
    pub lux: Option<f64>,
    /// It may be this many stops brighter or darker.
    pub plus_minus_stops: f64,
    /// Its colour, when it is known.
    pub white: Option<White>,
}

/// Ambient light on face and background.
pub(super) fn on_both(
    project: &Project,
    setup: &Setup,
    practice: &Practice,
    notes: &mut Notes,
) -> [AmbientLight; 2] {
    let place = setup.place.as_ref().and_then(|id| project.place(id));
    let said = setup.ambient.as_ref();
    let of_place = || from_place(place, practice, notes);
    let given = [
        said.and_then(|ambient| ambient.face_lux),
        said.and_then(|ambient| ambient.background_lux),
    ];
    // The place is asked only when something is missing, so that it says nothing needless.
    let place_light = given.contains(&None).then(of_place);
    let said_white = said.and_then(|ambient| {
        Some(White {
            kelvin: ambient.kelvin?,
            duv: ambient.duv.unwrap_or(0.0),
        })
    });
    let both = given.map(|lux| match (lux, place_light) {
        (None, Some(mut light)) => {
            light.white = said_white.or(light.white);
            light
        }
        (lux, _) => AmbientLight {
            from: AmbientFrom::Setup,
            lux,
            plus_minus_stops: 0.0,
            white: said_white,
        },
    });
    let unknown: Vec<On> = both
        .iter()
        .zip([On::Face, On::Background])
        .filter(|(light, _)| light.from == AmbientFrom::Unknown)
        .map(|(_, on)| on)
        .collect();
    if !unknown.is_empty() {
        notes.say(Finding::AmbientUnknown { on: unknown });
    }
    both
}

fn from_place(place: Option<&Place>, practice: &Practice, notes: &mut Notes) -> AmbientLight {
    if let Some(reading) = place.and_then(|place| place.readings.last()) {
        return AmbientLight {
            from: AmbientFrom::Reading,
            lux: Some(reading.lux),
            plus_minus_stops: 0.0,
            white: reading.kelvin.map(White::blackbody),
        };
    }
    let mut estimates = Vec::new();
    for photo in place.iter().flat_map(|place| &place.photos) {
        match reflected::of_photo(photo, practice) {
            Some(Ok(estimate)) => estimates.push(estimate),
            Some(Err(error)) => notes.say(Finding::BadPhoto {
                file: photo.file.path.clone(),
                why: error.to_string(),
            }),
            None => {}
        }
    }
    match reflected::together(&estimates) {
        Some(estimate) => {
            notes.say(Finding::AmbientGuessed {
                lux: estimate.lux,
                plus_minus_stops: estimate.plus_minus_stops,
                photographs: estimates.len(),
            });
            AmbientLight {
                from: AmbientFrom::Photographs,
                lux: Some(estimate.lux),
                plus_minus_stops: estimate.plus_minus_stops,
                white: None,
            }
        }
        None => AmbientLight {
            from: AmbientFrom::Unknown,
            lux: None,
            plus_minus_stops: 0.0,
            white: None,
        },
    }
}
