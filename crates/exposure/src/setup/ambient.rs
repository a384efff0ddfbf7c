//! The light that is already there, and where its figure comes from.

use super::Notes;
use super::says;
use super::side::On;
use crate::colour::White;
use model::metering::{self, LightFrom};
use model::text::counted;
use model::{FallsOn, Finding, Photo, Place, Project, Purpose, Setup};
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

impl AmbientLight {
    const UNKNOWN: Self = Self {
        from: AmbientFrom::Unknown,
        lux: None,
        plus_minus_stops: 0.0,
        white: None,
    };
}

/// Ambient light on face and background.
pub(super) fn on_both(project: &Project, setup: &Setup, notes: &mut Notes) -> [AmbientLight; 2] {
    let place = setup.place.as_ref().and_then(|id| project.place(id));
    let said = setup.ambient.as_ref();
    let of_place = || from_place(place, notes);
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
        (None, _) if side == 0 && faceless => AmbientLight::UNKNOWN,
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
        let on: Vec<&str> = unknown.iter().map(|on| on.word()).collect();
        let says = format!(
            "the ambient light on the {} is not known and counts as none",
            on.join(" and ")
        );
        notes.say(
            Finding::unknown("ambient-unknown", says)
                .mended_by("meter it")
                .mended_by("photograph the place"),
        );
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

fn from_place(place: Option<&Place>, notes: &mut Notes) -> AmbientLight {
    let Some((place, light)) = place.and_then(|place| Some((place, metering::light(place)?)))
    else {
        return AmbientLight::UNKNOWN;
    };
    let (from, told_by) = match light.source {
        LightFrom::Meter => (AmbientFrom::Reading, place.readings.len()),
        LightFrom::Photographs => {
            let tells = |photo: &&Photo| metering::estimate(photo).0.is_some();
            let told_by = place.photos.iter().filter(tells).count();
            (AmbientFrom::Photographs, told_by)
        }
    };
    if from == AmbientFrom::Photographs || told_by > 1 {
        let (got, of, mends) = match from {
            AmbientFrom::Reading => {
                let own = "write the setup's own ambient light";
                ("taken", "meter reading", own)
            }
            _ => ("estimated", "photograph", "meter it"),
        };
        let says = format!(
            "the ambient light is {got} from {} as {} lux, {} either way",
            counted(told_by, of),
            says::figures(light.lux),
            says::stops(light.stops_uncertainty)
        );
        notes.say(Finding::note("ambient-guessed", says).mended_by(mends));
    }
    let newest = place.readings.iter().rev();
    AmbientLight {
        from,
        lux: Some(light.lux),
        plus_minus_stops: light.stops_uncertainty,
        white: newest
            .filter_map(|reading| reading.kelvin)
            .next()
            .map(White::blackbody),
    }
}
