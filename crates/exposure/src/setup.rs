//! One setup of the document judged: light, exposure, lens, flicker, speed and colour together.
//!
//! [`judge`] never fails. What the document does not say is taken as the model's words have it
//! (widest T-stop, 180 degrees, first base ISO, the brief's rate) and listed in
//! [`CameraSet::assumed`]; what can't be assumed is a finding, and the figures that hang on it
//! are left out.
//!
//! # Where ambient light comes from
//! What the setup says; else the light of its place ([`model::metering::light`]), by its meter readings or else its
//! photographs, with its doubt; else it is unknown and counted as none. A reading
//! or photograph is taken to hold for face and background alike. B-roll with nobody in it, no light on
//! a face and no wish for one has no face, and none is looked for.
//!
//! # Left out
//! The hour: readings and photographs are not moved along with the sun. Light that walls throw
//! back. Where on the camera's curve a stop under ends up.

mod ambient;
mod camera;
mod mixed;
mod pulse;
mod says;
mod side;
#[cfg(test)]
mod tests;
mod view;

pub use ambient::{AmbientFrom, AmbientLight};
pub use camera::CameraSet;
pub use pulse::{Pulse, PulseOf};
pub use side::{NearLight, On, Part, Side};
pub use view::View;

use crate::offspeed::{OffSpeed, off_speed};
use model::text::number as num;
use model::{Finding, Project, Setup, SetupId, Severity};
use serde::Serialize;

/// Everything computed for one setup.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Judgement {
    /// Which setup.
    pub setup: SetupId,
    /// The camera as it is set, with what was assumed.
    pub camera: CameraSet,
    /// The face.
    pub face: Side,
    /// The background.
    pub background: Side,
    /// What the lens shows and holds sharp, when camera and focal length are known.
    pub view: Option<View>,
    /// Lights that pulse, against the shutter.
    pub pulses: Vec<Pulse>,
    /// What another rate than the brief's does, when it is another.
    pub off_speed: Option<OffSpeed>,
    /// What a person should know, in the order of the fields above.
    pub findings: Vec<Finding>,
    /// Lights too near for inverse square.
    pub near_lights: Vec<NearLight>,
}

impl Judgement {
    /// The first thing that is not known and that its light, lens or shutter rests on.
    pub fn unknown(&self) -> Option<&Finding> {
        let mut all = self.findings.iter();
        all.find(|found| found.severity == Severity::Unknown)
    }

    /// What is exposed off its target, face before background.
    pub fn off_target(&self) -> impl Iterator<Item = &Finding> {
        self.findings.iter().filter(|found| found.kind == "gap")
    }
}

/// Everything that can be computed for `setup` of `project`, by its practice.
pub fn judge(project: &Project, setup: &Setup) -> Judgement {
    let mut notes = Notes::default();
    let kit = camera::resolve(project, setup, &mut notes);
    let [mut face, mut background] = side::both(project, setup, &kit, &mut notes);
    let view = view::look(project, setup, &kit, &mut notes);
    let pulses = pulse::all(project, setup, &kit, [&face, &background], &mut notes);
    mixed::tell(project, setup, [&mut face, &mut background], &mut notes);
    let (rate, shown) = (kit.set.rate, kit.set.shown_rate);
    let off_speed = match rate == shown {
        true => None,
        false => notes.kept(off_speed(rate, shown, kit.set.shutter_deg)),
    };
    if let Some(off) = &off_speed {
        let loses = if off.lost_stops >= 0.0 {
            "loses"
        } else {
            "gains"
        };
        notes.say(Finding::note("off-speed", format!(
            "shot at {} and shown at {} frames a second: the song is played at {} times its speed, and the same angle {loses} {}",
            num(rate.fps(), 3),
            num(shown.fps(), 3),
            num(off.ratio.value(), 4),
            says::stops(off.lost_stops)
        )));
    }
    Judgement {
        setup: setup.id.clone(),
        camera: kit.set,
        face,
        background,
        view,
        pulses,
        off_speed,
        findings: notes
            .found
            .into_iter()
            .map(|found| found.about(&setup.id))
            .collect(),
        near_lights: notes.near,
    }
}

/// Findings as they come up.
#[derive(Default)]
struct Notes {
    found: Vec<Finding>,
    near: Vec<NearLight>,
}

impl Notes {
    /// Adds a finding, once.
    fn say(&mut self, finding: Finding) {
        finding.once(&mut self.found);
    }

    /// The value, or a finding that says why there is none.
    fn kept<T>(&mut self, result: Result<T, crate::Error>) -> Option<T> {
        let mut say =
            |error: crate::Error| self.say(Finding::unknown("not-computed", error.to_string()));
        result.map_err(&mut say).ok()
    }
}
