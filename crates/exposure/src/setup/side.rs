//! Face and background: what light falls there, how far from the target, what closes the gap.

use super::Notes;
use super::ambient::{self, AmbientFrom, AmbientLight};
use super::camera::{self, Resolved};
use super::says;
use crate::closing::{self, Closing, Lamp};
use crate::colour::{self, White};
use crate::error::LUX_OR_NONE;
use crate::gel::Gel;
use crate::light::{self, Beam};
use model::Practice;
use model::text::number as num;
use model::{FallsOn, Finding, KitId, Light, LightUse, Project, Setup};
use serde::Serialize;

/// What an exposure is of.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum On {
    /// The performer's face.
    Face,
    /// What is behind.
    Background,
}

impl On {
    /// Whether a light that falls on `falls_on` exposes it.
    pub(super) fn lit_by(self, falls_on: FallsOn) -> bool {
        match falls_on {
            FallsOn::Both => true,
            FallsOn::Face => self == Self::Face,
            FallsOn::Background => self == Self::Background,
            FallsOn::Edge => false,
        }
    }

    /// `face`, `background`.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Face => "face",
            Self::Background => "background",
        }
    }
}

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
    /// What brings a lamp to the colour of what it shares the subject with, where they differ enough to tell.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub gel: Option<Gel>,
}

/// A light too near for inverse square.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct NearLight {
    /// Which.
    pub light: KitId,
    /// How many times its size away it stands.
    pub sizes_away: f64,
    /// How much darker an even disc of its size would be there, stops.
    pub disc_stops: f64,
}

pub(super) fn both(
    project: &Project,
    setup: &Setup,
    kit: &Resolved,
    notes: &mut Notes,
) -> [Side; 2] {
    let practice = &project.practice;
    let lights = setup.lights.iter().enumerate();
    let lamps: Vec<Known> = lights
        .filter_map(|(nth, used)| known(project, nth, used, notes))
        .collect();
    let ambient = ambient::on_both(project, setup, notes);
    let scene = Scene {
        mains_hz: super::pulse::mains(project, setup, ambient),
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

fn known(project: &Project, nth: usize, used: &LightUse, notes: &mut Notes) -> Option<Known> {
    let figures = camera::light(project, &used.light, notes)?;
    let beam = Beam {
        candela: figures.candela,
        distance_m: used.distance_m,
        level: used.level.unwrap_or(1.0),
        loss_stops: used.loss_stops.unwrap_or(0.0),
    };
    let lux = notes.kept(beam.lux())?;
    doubts(figures, used, notes);
    let bare = figures.kelvin.map(|kelvin| White {
        kelvin,
        duv: figures.duv.unwrap_or(0.0),
    });
    let white = bare.and_then(|bare| match used.gel_mired {
        Some(mired) => notes.kept(bare.through(mired)),
        None => Some(bare),
    });
    let near_m = figures.size_m.unwrap_or(0.0) * SIZES_AWAY;
    Some(Known {
        lamp: Lamp {
            light: used.light.clone(),
            nth,
            beam,
            least_level: figures.least_level.unwrap_or(0.0),
            least_distance_m: near_m.max(project.practice.least_light_m),
        },
        lux,
        white,
        falls_on: used.falls_on,
    })
}

/// Inverse square is trusted from this many times a source's size (common practice).
const SIZES_AWAY: f64 = 5.0;

/// What makes a light's figure doubtful.
fn doubts(figures: &Light, used: &LightUse, notes: &mut Notes) {
    if let Some(size) = figures.size_m
        && used.distance_m < SIZES_AWAY * size
        && let Some(stops) = notes.kept(light::disc_stops(size, used.distance_m))
    {
        let sizes_away = used.distance_m / size;
        let says = format!(
            "`{}` stands {} times its size away; inverse square is trusted from {} on, an even disc would give about {} less there",
            used.light,
            num(sizes_away, 1),
            num(SIZES_AWAY, 1),
            says::stops_fine(stops)
        );
        notes.say(Finding::warning("inverse-square", says).about(&used.light));
        notes.near.push(NearLight {
            light: used.light.clone(),
            sizes_away,
            disc_stops: stops,
        });
    }
    if let (Some(level), Some(least)) = (used.level, figures.least_level)
        && level > 0.0
        && level < least
    {
        let says = format!(
            "`{}` is dimmed to {} %, and goes down to {} %",
            used.light,
            num(level * 100.0, 1),
            num(least * 100.0, 1)
        );
        let found = Finding::problem("too-dim", says).about(&used.light);
        notes.say(found.mended_by("move it away or diffuse it"));
    }
    if used.gel_mired.is_some_and(|mired| mired != 0.0) && used.loss_stops.is_none() {
        let says = format!(
            "the gel before `{}` takes light that is not said, so none is counted; full CTO takes about 2/3 stop, full CTB 1.5 to 2",
            used.light
        );
        notes.say(Finding::unknown("gel-loss", says).about(&used.light));
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
        let here = || self.lamps.iter().filter(|lamp| on.lit_by(lamp.falls_on));
        let lamps_lux: f64 = here().map(|lamp| lamp.lux).sum();
        let ambient_lux = ambient.lux;
        let ambient_lux = ambient_lux.and_then(|lux| notes.kept(LUX_OR_NONE.check(lux)));
        let any = here().next().is_some() || ambient_lux.is_some();
        let total = lamps_lux + ambient_lux.unwrap_or(0.0);
        let part = |lamp: Option<&Lamp>, lux: f64, white: Option<White>| Part {
            light: lamp.map(|lamp| lamp.light.clone()),
            nth: lamp.map(|lamp| lamp.nth),
            lux,
            share: if total > 0.0 { lux / total } else { 0.0 },
            white,
            gel: None,
        };
        let lamps = here().map(|known| part(Some(&known.lamp), known.lux, known.white));
        let already = ambient_lux.map(|lux| part(None, lux, ambient.white));
        let parts: Vec<Part> = lamps.chain(already).collect();
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
            let says = format!("no light falls on the {}: 0 lux", on.word());
            notes.say(Finding::problem("dark", says));
        }
        let taking = self.kit.taking.as_ref().filter(|_| total > 0.0);
        let Some(stops) = taking.and_then(|taking| notes.kept(taking.stops(total))) else {
            return side;
        };
        let gap = stops - target_stops;
        let at = |stops_off: f64| {
            let lux = lamps_lux + ambient_lux.unwrap_or(0.0) * stops_off.exp2();
            stops + (lux / total).log2()
        };
        let range = [-1.0, 1.0].map(|way| at(way * ambient.plus_minus_stops));
        side.stops = Some(stops);
        side.stops_range = Some(range);
        side.gap_stops = Some(gap);
        if gap.abs() > self.practice.slack_stops {
            side.closings = self.closings(here(), total, gap, notes);
            notes.say(says::gap(
                on,
                gap,
                range.map(|stops| stops - target_stops),
                ambient.from == AmbientFrom::Unknown,
                face_gap.map(|face| gap - face),
                &side.closings,
            ));
        }
        side
    }

    /// What closes a gap, each alone: the camera, then each of the lamps that light the subject with `lux` in all.
    fn closings<'k>(
        &self,
        lamps: impl Iterator<Item = &'k Known>,
        lux: f64,
        gap: f64,
        notes: &mut Notes,
    ) -> Vec<Closing> {
        let reach = closing::Reach {
            mains_hz: self.mains_hz,
            ..self.kit.reach.clone()
        };
        let camera = self.kit.taking.as_ref();
        let mut all: Vec<Closing> = camera
            .and_then(|taking| notes.kept(closing::by_camera(taking, gap, &reach)))
            .unwrap_or_default();
        for known in lamps {
            let by_lamp = notes.kept(closing::by_lamp(&known.lamp, lux, gap));
            all.extend(by_lamp.into_iter().flatten());
        }
        all
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
