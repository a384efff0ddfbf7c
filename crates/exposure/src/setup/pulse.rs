//! Lights of a setup that pulse, against its shutter.
//!
//! A lamp's pulsing counts by its share of the light on the subject. Ambient light counts as lamps
//! on the place's mains where the place states a frequency and it is weaker than daylight; a light on the performer's edge counts
//! whole, as nothing else lights the edge.

use super::Notes;
use super::ambient::AmbientLight;
use super::camera::Resolved;
use super::says;
use super::side::Side;
use crate::flicker::{self, SafeAngle};
use model::Practice;
use model::{FallsOn, Finding, FrameRate, KitId, Project, Readout, Setup};
use serde::Serialize;

/// Angles and rates listed at most: mains of 60 Hz at 1 frame a second have 120.
const MOST_LISTED: usize = 120;

/// What pulses.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(tag = "of", rename_all = "kebab-case")]
pub enum PulseOf {
    /// Lamps on mains.
    Mains {
        /// Mains frequency, hertz.
        mains_hz: u32,
    },
    /// A light dimmed by pulses.
    Dimmed {
        /// Which light of the kit.
        light: KitId,
        /// Whether its pulses are assumed ([`Practice::led_pulses_hz`]) as it states none.
        assumed: bool,
    },
}

/// A light that pulses, against the shutter.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Pulse {
    /// What pulses.
    #[serde(flatten)]
    pub of: PulseOf,
    /// Pulses a second.
    pub pulses_hz: f64,
    /// Pulses that one exposure sees.
    pub seen: f64,
    /// Whether that is as good as whole.
    pub safe: bool,
    /// Whether ambient light counts as such.
    pub ambient: bool,
    /// Its share of the light, on the subject where it is largest; 1 where it is not known.
    pub share: f64,
    /// How much exposures differ at the most, peak to peak as a share of the mean, all light counted.
    pub contrast: f64,
    /// The same in stops.
    pub contrast_stops: f64,
    /// Whether that is expected to be seen (common practice).
    pub visible: bool,
    /// Whether it shows as bands across the picture: the sensor is read line after line.
    pub bands: bool,
    /// Whether every frame sees the same part of the pulses.
    pub frames_repeat: bool,
    /// How fast brightness wanders from frame to frame, hertz.
    pub beat_hz: f64,
    /// The safe angle nearest to the one set.
    pub nearest_safe: Option<SafeAngle>,
    /// The safe angles, narrowest first, at most 120 (of lamps on mains).
    pub safe_angles: Vec<SafeAngle>,
    /// Rates at which the angle set is safe, nearest to the rate first, at most four (of lamps on mains).
    pub safe_rates: Vec<FrameRate>,
}

/// Mains frequency of the lamps that count in `setup`: those of the place, where its ambient light is
/// not daylight, and those that are set and follow it.
pub(super) fn mains(project: &Project, setup: &Setup, ambient: [AmbientLight; 2]) -> Option<u32> {
    let follow = || !indices(project, setup, |light, _| light.follows_mains).is_empty();
    of_place(project, setup).filter(|_| from_lamps(ambient, &project.practice) || follow())
}

fn of_place(project: &Project, setup: &Setup) -> Option<u32> {
    let place = setup.place.as_ref().and_then(|id| project.place(id))?;
    place.mains_hz.filter(|hz| *hz > 0)
}

/// Whether ambient light may come from lamps: it is unknown, or weaker than daylight.
fn from_lamps(ambient: [AmbientLight; 2], practice: &Practice) -> bool {
    let lamps = |light: AmbientLight| light.lux.is_none_or(|lux| lux < practice.daylight_lux);
    ambient.into_iter().any(lamps)
}

pub(super) fn all(
    project: &Project,
    setup: &Setup,
    kit: &Resolved,
    sides: [&Side; 2],
    notes: &mut Notes,
) -> Vec<Pulse> {
    let practice = &project.practice;
    let mut pulses = Vec::new();
    let mut add = |of, pulses_hz, share, notes: &mut Notes| {
        pulses.extend(one(of, pulses_hz, share, kit, practice, notes));
    };
    let at_place = of_place(project, setup);
    let ambient = at_place.is_some() && from_lamps(sides.map(|side| side.ambient), practice);
    let follow: Vec<usize> = indices(project, setup, |light, _| light.follows_mains);
    let frequencies = match (at_place, follow.is_empty()) {
        (Some(hz), _) => vec![hz],
        (None, true) => Vec::new(),
        (None, false) => {
            notes.say(Finding::unknown("mains-unknown", "a lamp follows the mains, and the place does not say whether they have 50 or 60 Hz; both are computed"));
            vec![50, 60]
        }
    };
    let share = share(setup, sides, &follow, ambient);
    // A place's lamps that give nothing here are of no account.
    for mains_hz in frequencies.into_iter().filter(|_| share > 0.0) {
        let hz = f64::from(flicker::mains_pulses(mains_hz));
        add(PulseOf::Mains { mains_hz }, hz, (share, ambient), notes);
    }
    let pulses_of = |light: &model::Light| {
        let assumed = || {
            let may = !light.hot && !light.follows_mains && practice.led_pulses_hz > 0.0;
            may.then_some(practice.led_pulses_hz)
        };
        light.pulses_hz.or_else(assumed)
    };
    let dimmed = indices(project, setup, |light, level| {
        pulses_of(light).is_some() && level > 0.0 && level < 1.0
    });
    for nth in dimmed {
        let id = &setup.lights[nth].light;
        let light = project.item(id).and_then(|item| item.light.as_ref());
        let hz = light.and_then(pulses_of).unwrap_or(0.0);
        let of = PulseOf::Dimmed {
            light: id.clone(),
            assumed: light.is_some_and(|light| light.pulses_hz.is_none()),
        };
        let share = self::share(setup, sides, &[nth], false);
        add(of, hz, (share, false), notes);
    }
    for pulse in pulses.iter().filter(|pulse| pulse.visible) {
        notes.say(says::flicker(pulse, kit.set.shutter_deg, kit.set.rate));
    }
    pulses
}

/// Which of the setup's lights are such, with the level they are set to.
fn indices(
    project: &Project,
    setup: &Setup,
    such: impl Fn(&model::Light, f64) -> bool,
) -> Vec<usize> {
    let is = |used: &model::LightUse| {
        let light = project
            .item(&used.light)
            .and_then(|item| item.light.as_ref());
        light.is_some_and(|light| such(light, used.level.unwrap_or(1.0)))
    };
    let lights = setup.lights.iter().enumerate();
    lights
        .filter(|(_, used)| is(used))
        .map(|(nth, _)| nth)
        .collect()
}

/// The largest share that the lights `which` (and ambient light) have on a subject.
fn share(setup: &Setup, sides: [&Side; 2], which: &[usize], ambient: bool) -> f64 {
    let edge = which
        .iter()
        .any(|nth| setup.lights[*nth].falls_on == FallsOn::Edge);
    if edge {
        return 1.0;
    }
    let on = |side: &Side| {
        // Light that is not known may be all there is.
        let unknown = ambient && side.ambient.lux.is_none();
        if unknown {
            return 1.0;
        }
        let counts = |nth: Option<usize>| nth.map_or(ambient, |nth| which.contains(&nth));
        let parts = side.parts.iter().filter(|part| counts(part.nth));
        parts.map(|part| part.share).sum()
    };
    sides.map(on).into_iter().fold(0.0, f64::max)
}

fn one(
    of: PulseOf,
    pulses_hz: f64,
    (share, ambient): (f64, bool),
    kit: &Resolved,
    practice: &Practice,
    notes: &mut Notes,
) -> Option<Pulse> {
    let (rate, deg, whole_hz) = (kit.set.rate, kit.set.shutter_deg, pulses_hz.round() as u32);
    let seen = notes.kept(flicker::pulses_seen(deg, rate, pulses_hz))?;
    let mains = matches!(of, PulseOf::Mains { .. });
    let safe = flicker::is_safe(seen);
    let contrast = share
        * if mains {
            flicker::contrast_wave(seen)
        } else {
            flicker::contrast_bound(seen)
        };
    let bands = kit
        .camera
        .is_none_or(|camera| camera.readout == Readout::Rolling);
    let frames_repeat = f64::from(whole_hz) == pulses_hz && flicker::repeats(rate, whole_hz);
    let mut safe_rates: Vec<FrameRate> = Vec::new();
    if mains {
        safe_rates = notes
            .kept(flicker::safe_rates(deg, whole_hz))?
            .take(MOST_LISTED)
            .collect();
        let off = |other: &FrameRate| (other.fps() / rate.fps()).ln().abs();
        safe_rates.sort_by(|a, b| off(a).total_cmp(&off(b)));
        safe_rates.truncate(4);
    }
    Some(Pulse {
        pulses_hz,
        seen,
        safe,
        ambient,
        share,
        contrast,
        contrast_stops: flicker::contrast_stops(contrast),
        // Read all at once, frames that repeat look alike.
        visible: !safe && contrast >= practice.seen_contrast && (bands || !frames_repeat),
        bands,
        frames_repeat,
        beat_hz: notes.kept(flicker::beat_hz(rate, pulses_hz))?,
        nearest_safe: notes.kept(flicker::nearest_safe(deg, rate, whole_hz))?,
        safe_angles: if mains {
            flicker::safe_angles(rate, whole_hz)
                .take(MOST_LISTED)
                .collect()
        } else {
            Vec::new()
        },
        safe_rates,
        of,
    })
}
