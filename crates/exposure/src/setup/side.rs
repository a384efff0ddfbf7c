//! Face and background: what light falls there, how far from the target, what closes the gap.

use super::Notes;
use super::ambient::{self, AmbientFrom, AmbientLight};
use super::camera::{self, Resolved};
use super::finding::{Finding, Gap, On};
use crate::closing::{self, Closing, Lamp};
use crate::colour::{self, White};
use crate::light::{self, Beam};
use crate::practice::Practice;
use model::{FallsOn, KitId, Light, LightUse, Project, Setup};
use serde::Serialize;

/// One subject of the exposure.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Side {
    /// Light on it, lux; none when nothing is known of it.
    pub lux: Option<f64>,
    /// What gives it.
    pub parts: Vec<Part>,
    /// The ambient light's figure and where it comes from.
    pub ambient: AmbientLight,
    /// The colour of all of it together, when the colour of every part is known.
    pub white: Option<White>,
    /// Stops over (positive) or under the correct exposure.
    pub stops: Option<f64>,
    /// The same at the least and the most that ambient light may be.
    pub stops_range: Option<[f64; 2]>,
    /// Where it is wanted, stops from correct.
    pub target_stops: f64,
    /// Stops over (positive) or under the target.
    pub gap_stops: Option<f64>,
    /// What closes the gap, each alone; empty when there is none to speak of.
    pub closings: Vec<Closing>,
}

/// One source's part of the light on a subject.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Part {
    /// Which light of the kit; none for ambient light.
    pub light: Option<KitId>,
    /// Which of the setup's lights, counted from 0.
    pub nth: Option<usize>,
    /// Lux.
    pub lux: f64,
    /// Share of all the light on the subject.
    pub share: f64,
    /// Its colour, gel counted, when it is known.
    pub white: Option<White>,
}

pub(super) fn both(
    project: &Project,
    setup: &Setup,
    kit: &Resolved,
    practice: &Practice,
    notes: &mut Notes,
) -> [Side; 2] {
    let lamps: Vec<Known> = setup
        .lights
        .iter()
        .enumerate()
        .filter_map(|(nth, used)| known(project, nth, used, practice, notes))
        .collect();
    let ambient = ambient::on_both(project, setup, notes);
    let scene = Scene {
        mains_hz: super::pulse::mains(project, setup, ambient, practice),
        kit,
        lamps: &lamps,
        practice,
    };
    let [on_face, on_background] = ambient;
    let target = setup.face_stops.unwrap_or(practice.face_stops);
    let face = scene.judge(On::Face, on_face, target, None, notes);
    let target = setup.background_stops.unwrap_or(practice.background_stops);
    let face_gap = face
        .gap_stops
        .filter(|gap| gap.abs() > practice.slack_stops);
    let background = scene.judge(On::Background, on_background, target, face_gap, notes);
    [face, background]
}

/// What face and background have in common.
struct Scene<'a> {
    mains_hz: Option<u32>,
    kit: &'a Resolved<'a>,
    lamps: &'a [Known],
    practice: &'a Practice,
}

/// A light of the setup whose figures are known and good.
struct Known {
    lamp: Lamp,
    lux: f64,
    white: Option<White>,
    falls_on: FallsOn,
}

fn known(
    project: &Project,
    nth: usize,
    used: &LightUse,
    practice: &Practice,
    notes: &mut Notes,
) -> Option<Known> {
    let figures = camera::light(project, &used.light, notes)?;
    let beam = Beam {
        candela: figures.candela,
        distance_m: used.distance_m,
        level: used.level.unwrap_or(1.0),
        loss_stops: used.loss_stops.unwrap_or(0.0),
    };
    let lux = notes.kept(beam.lux())?;
    doubts(figures, used, practice, notes);
    let bare = figures.kelvin.map(|kelvin| White {
        kelvin,
        duv: figures.duv.unwrap_or(0.0),
    });
    let white = bare.and_then(|bare| match used.gel_mired {
        Some(mired) => notes.kept(bare.through(mired)),
        None => Some(bare),
    });
    Some(Known {
        lamp: Lamp {
            light: used.light.clone(),
            nth,
            beam,
            least_level: figures.least_level.unwrap_or(0.0),
            least_distance_m: practice
                .least_light_m
                .max(figures.size_m.unwrap_or(0.0) * practice.sizes_away),
        },
        lux,
        white,
        falls_on: used.falls_on,
    })
}

/// What makes a light's figure doubtful.
fn doubts(figures: &Light, used: &LightUse, practice: &Practice, notes: &mut Notes) {
    if let Some(size) = figures.size_m
        && used.distance_m < practice.sizes_away * size
        && let Some(stops) = notes.kept(light::disc_stops(size, used.distance_m))
    {
        notes.say(Finding::InverseSquare {
            item: used.light.clone(),
            sizes: used.distance_m / size,
            trusted: practice.sizes_away,
            stops,
        });
    }
    if let (Some(level), Some(least)) = (used.level, figures.least_level)
        && level > 0.0
        && level < least
    {
        notes.say(Finding::TooDim {
            item: used.light.clone(),
            level,
            least,
        });
    }
    if used.gel_mired.is_some_and(|mired| mired != 0.0) && used.loss_stops.is_none() {
        notes.say(Finding::GelLoss {
            item: used.light.clone(),
        });
    }
}

impl Scene<'_> {
    /// One subject; `face_gap` is the face's, when that is to be closed too.
    fn judge(
        &self,
        on: On,
        ambient: AmbientLight,
        target_stops: f64,
        face_gap: Option<f64>,
        notes: &mut Notes,
    ) -> Side {
        let (kit, practice) = (self.kit, self.practice);
        let here: Vec<&Known> = self
            .lamps
            .iter()
            .filter(|lamp| on.lit_by(lamp.falls_on))
            .collect();
        let lamps_lux: f64 = here.iter().map(|lamp| lamp.lux).sum();
        let ambient_lux = ambient
            .lux
            .and_then(|lux| notes.kept(crate::error::LUX_OR_NONE.check(lux)));
        let any = !here.is_empty() || ambient_lux.is_some();
        let total = lamps_lux + ambient_lux.unwrap_or(0.0);
        let share = |lux: f64| if total > 0.0 { lux / total } else { 0.0 };
        let mut parts: Vec<Part> = here
            .iter()
            .map(|known| Part {
                light: Some(known.lamp.light.clone()),
                nth: Some(known.lamp.nth),
                lux: known.lux,
                share: share(known.lux),
                white: known.white,
            })
            .collect();
        if let Some(lux) = ambient_lux {
            parts.push(Part {
                light: None,
                nth: None,
                lux,
                share: share(lux),
                white: ambient.white,
            });
        }
        let mut side = Side {
            lux: any.then_some(total),
            white: together(&parts, notes),
            parts,
            ambient,
            stops: None,
            stops_range: None,
            target_stops,
            gap_stops: None,
            closings: Vec::new(),
        };
        if any && total <= 0.0 {
            notes.say(Finding::Dark { on });
        }
        let (Some(taking), true) = (&kit.taking, total > 0.0) else {
            return side;
        };
        let Some(stops) = notes.kept(taking.stops(total)) else {
            return side;
        };
        let gap = stops - target_stops;
        let spread = ambient.plus_minus_stops;
        let at = |stops_off: f64| {
            let lux = lamps_lux + ambient_lux.unwrap_or(0.0) * stops_off.exp2();
            stops + (lux / total).log2()
        };
        let range = [at(-spread), at(spread)];
        side.stops = Some(stops);
        side.stops_range = Some(range);
        side.gap_stops = Some(gap);
        if gap.abs() <= practice.slack_stops {
            return side;
        }
        let reach = closing::Reach {
            mains_hz: self.mains_hz,
            ..kit.reach.clone()
        };
        let mut closings = notes
            .kept(closing::by_camera(taking, gap, &reach))
            .unwrap_or_default();
        for known in &here {
            closings.extend(
                notes
                    .kept(closing::by_lamp(&known.lamp, total, gap))
                    .unwrap_or_default(),
            );
        }
        notes.say(Finding::Gap(Gap {
            on,
            stops: gap,
            between: [range[0] - target_stops, range[1] - target_stops],
            ambient_unknown: ambient.from == AmbientFrom::Unknown,
            with_face_right: face_gap.map(|face| gap - face),
            closings: closings.clone(),
        }));
        side.closings = closings;
        side
    }
}

/// The colour of all parts together, when each is known.
fn together(parts: &[Part], notes: &mut Notes) -> Option<White> {
    let lit = parts.iter().filter(|part| part.lux > 0.0);
    let sources: Option<Vec<(f64, White)>> =
        lit.map(|part| Some((part.lux, part.white?))).collect();
    let sources = sources.filter(|sources| !sources.is_empty())?;
    notes.kept(colour::mix(&sources))
}
