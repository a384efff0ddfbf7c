//! The light that is already there, and where its figure comes from.

use super::Notes;
use super::finding::{Finding, On};
use crate::colour::White;
use crate::practice::Practice;
use crate::reflected;
use model::{FallsOn, Place, Project, Purpose, Setup};
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
    let faceless = faceless(setup);
    let missing = [given[0].is_none() && !faceless, given[1].is_none()];
    let place_light = missing.contains(&true).then(of_place);
    let said_white = said.and_then(|ambient| {
        Some(White {
            kelvin: ambient.kelvin?,
            duv: ambient.duv.unwrap_or(0.0),
        })
    });
    let both = [0, 1].map(|side| match (given[side], place_light) {
        (None, _) if side == 0 && faceless => AmbientLight {
            from: AmbientFrom::Unknown,
            lux: None,
            plus_minus_stops: 0.0,
            white: None,
        },
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
        .filter(|(light, on)| light.from == AmbientFrom::Unknown && !(*on == On::Face && faceless))
        .map(|(_, on)| on)
        .collect();
    if !unknown.is_empty() {
        notes.say(Finding::AmbientUnknown { on: unknown });
    }
    both
}

/// Whether nothing in the setup speaks of a face: b-roll with nobody in it, and no light on one. What
/// is not in the picture is not exposed for.
fn faceless(setup: &Setup) -> bool {
    let lit = |falls_on| matches!(falls_on, FallsOn::Face | FallsOn::Both);
    setup.purpose == Purpose::BRoll
        && setup.people.is_empty()
        && setup.face_stops.is_none()
        && !setup.lights.iter().any(|used| lit(used.falls_on))
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
