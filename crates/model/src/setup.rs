//! A setup: one position of camera and light, what it is for, and with which kit.

use crate::clock::ClockTime;
use crate::ids::{KitId, PlaceId, SetupId};
use crate::noun::noun;
use crate::time::{FrameRate, Stretch};
use serde::{Deserialize, Serialize};

/// What a setup is for.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Purpose {
    /// The performer performs to playback.
    #[default]
    Performance,
    /// Everything else that can be cut to.
    BRoll,
}

/// Minutes to rig camera and light for a simple change of setup (common practice).
pub const USUAL_RIG_MINUTES: u32 = 15;
/// Minutes to relight instead, on a rig that stands (common practice).
pub const USUAL_RELIGHT_MINUTES: u32 = 5;
/// Minutes between two passes (common practice).
pub const USUAL_RESET_MINUTES: u32 = 2;

/// How much of the subject the frame holds (common practice).
#[derive(
    Clone, Copy, Debug, Default, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize,
)]
#[serde(rename_all = "kebab-case")]
pub enum Framing {
    /// The place, the subject small in it.
    Wide,
    /// Head to foot.
    Full,
    /// Waist up.
    #[default]
    Medium,
    /// Head and shoulders.
    Close,
    /// Part of a face or of a thing.
    Detail,
}

noun! {
    /// One position of camera and light.
    pub struct Setup {
        /// Its id.
        pub id: SetupId,
        /// What it is called.
        #[serde(default, skip_serializing_if = "String::is_empty")]
        pub name: String,
        /// Where.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub place: Option<PlaceId>,
        /// What it is for.
        #[serde(default)]
        pub purpose: Purpose,
        /// How much of the subject it holds.
        #[serde(default)]
        pub framing: Framing,
        /// The sections it is planned over, by letter, letter and count, or name (`B`, `B2`, `last chorus`).
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        pub sections: Vec<String>,
        /// The bars it is planned over, first and last, both included, counted from 1.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        pub bars: Vec<[u32; 2]>,
        /// The stretches it is planned over. With no sections, bars or stretches a setup is planned over the whole song.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        pub stretches: Vec<Stretch>,
        /// How many passes are planned.
        #[serde(default = "one")]
        pub passes: u32,
        /// The camera's rate, when it differs from the brief's.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub shot_rate: Option<FrameRate>,
        /// Performer state, an index into [`crate::Project::states`].
        #[serde(default, skip_serializing_if = "is_first")]
        pub state: u32,
        /// Whether the video can't do without it.
        #[serde(default, skip_serializing_if = "is_false")]
        pub must: bool,
        /// What is seen and done.
        #[serde(default, skip_serializing_if = "String::is_empty")]
        pub action: String,
        /// What to mind: powder, water, stairs, traffic.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        pub cautions: Vec<String>,
        /// Camera and lens, and how they are set.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub optics: Option<Optics>,
        /// Filters on the lens.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        pub filters: Vec<KitId>,
        /// Lights that are set.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        pub lights: Vec<LightUse>,
        /// The light that is already there.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub ambient: Option<Ambient>,
        /// How far from its correct exposure the face is wanted, stops (0 where it is left out).
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub face_stops: Option<f64>,
        /// The same for the background (2 under where it is left out).
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub background_stops: Option<f64>,
        /// Other kit it needs, and what feeds what.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        pub kit: Vec<KitUse>,
        /// How the camera is held.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub mount: Option<Mount>,
        /// What is thrown, lit or poured.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        pub effects: Vec<Effect>,
        /// Who is there besides the maker, by name.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        pub people: Vec<String>,
        /// Whether playback keeps the song's pitch at another speed.
        #[serde(default = "yes", skip_serializing_if = "is_true")]
        pub pitch_kept: bool,
        /// Whether playback carries timecode on its right channel.
        #[serde(default, skip_serializing_if = "is_false")]
        pub timecode: bool,
        /// Minutes to rig camera and light (where it is left out [`USUAL_RIG_MINUTES`], or what the maker's
        /// habits say).
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub rig_minutes: Option<u32>,
        /// Setups of one group at one place stand on one rig: after another of it this one is only relit.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub rig_group: Option<String>,
        /// Minutes to relight instead, right after another setup of its rig group ([`USUAL_RELIGHT_MINUTES`] where it is left out).
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub relight_minutes: Option<u32>,
        /// Which light of the sky it is shot in: any of these; none for any light.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        pub light_of: Vec<SkyLight>,
        /// Whether the moon must be up.
        #[serde(default, skip_serializing_if = "is_false")]
        pub moon: bool,
        /// When it can be shot for another reason, from and to; none for any time.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        pub hours: Vec<[ClockTime; 2]>,
        /// Setups that must have been shot before it.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        pub after: Vec<SetupId>,
        /// Minutes between two passes (where it is left out [`USUAL_RESET_MINUTES`], or what the maker's
        /// habits say).
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub reset_minutes: Option<u32>,
    }
}

impl Setup {
    /// One pass of performance, waist up, over the whole song; nothing else said.
    pub fn new(id: SetupId) -> Self {
        Self {
            id,
            name: String::new(),
            place: None,
            purpose: Purpose::Performance,
            framing: Framing::Medium,
            sections: Vec::new(),
            bars: Vec::new(),
            stretches: Vec::new(),
            passes: 1,
            shot_rate: None,
            state: 0,
            must: false,
            action: String::new(),
            cautions: Vec::new(),
            optics: None,
            filters: Vec::new(),
            lights: Vec::new(),
            ambient: None,
            face_stops: None,
            background_stops: None,
            kit: Vec::new(),
            mount: None,
            effects: Vec::new(),
            people: Vec::new(),
            pitch_kept: true,
            timecode: false,
            rig_minutes: None,
            rig_group: None,
            relight_minutes: None,
            light_of: Vec::new(),
            moon: false,
            hours: Vec::new(),
            after: Vec::new(),
            reset_minutes: None,
            extra: Default::default(),
        }
    }

    /// Whether it names no part of the song, and so is planned over all of it.
    pub fn is_over_all(&self) -> bool {
        self.sections.is_empty() && self.bars.is_empty() && self.stretches.is_empty()
    }

    /// Whether it uses the item called `id` for anything.
    pub fn uses(&self, id: &KitId) -> bool {
        let optics = self
            .optics
            .iter()
            .flat_map(|optics| std::iter::once(&optics.camera).chain(&optics.lens));
        let lights = self
            .lights
            .iter()
            .flat_map(|light| std::iter::once(&light.light).chain(&light.fed_from));
        let others = self
            .kit
            .iter()
            .flat_map(|used| std::iter::once(&used.item).chain(&used.fed_from));
        optics
            .chain(&self.filters)
            .chain(lights)
            .chain(others)
            .any(|used| used == id)
    }

    /// What a person calls it: its name, or its id.
    pub fn called(&self) -> &str {
        if self.name.is_empty() {
            self.id.as_str()
        } else {
            &self.name
        }
    }
}

noun! {
    /// Camera and lens as they are set for a setup.
    pub struct Optics {
        /// Which camera.
        pub camera: KitId,
        /// Which lens.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub lens: Option<KitId>,
        /// Focal length, millimetres, when the lens has several.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub focal_mm: Option<f64>,
        /// T-stop it is set to; the lens's widest where it is left out.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub t_stop: Option<f64>,
        /// Exposure index (ISO 12232); the camera's first base where it is left out.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub iso: Option<u32>,
        /// Shutter angle, degrees of 360 (180 where it is left out).
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub shutter_deg: Option<f64>,
        /// From the sensor to the subject, metres.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub subject_m: Option<f64>,
        /// Most room there is behind the subject's distance for the camera, metres: a small room's wall.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub room_m: Option<f64>,
    }
}

/// What a light falls on.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum FallsOn {
    /// The performer's face.
    #[default]
    Face,
    /// What is behind.
    Background,
    /// Both, as it spills.
    Both,
    /// The performer from behind: neither is exposed by it.
    Edge,
}

noun! {
    /// A light as it is set.
    pub struct LightUse {
        /// Which light.
        pub light: KitId,
        /// What it falls on.
        #[serde(default)]
        pub falls_on: FallsOn,
        /// How far it stands from that, metres.
        pub distance_m: f64,
        /// Level it is dimmed to, share of full (1 where it is left out).
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub level: Option<f64>,
        /// Lost in diffusion before it, stops.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub loss_stops: Option<f64>,
        /// Gel before it, mired; positive warms.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub gel_mired: Option<f64>,
        /// What it is fed from: a battery, an inverter, or `mains`; found by its connectors where it is left out.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub fed_from: Option<KitId>,
    }
}

noun! {
    /// Light that is already there, in lux on the subject.
    pub struct Ambient {
        /// On the face.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub face_lux: Option<f64>,
        /// On the background.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub background_lux: Option<f64>,
        /// Its colour temperature, kelvin.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub kelvin: Option<f64>,
        /// Its distance from the blackbody locus in CIE 1960 (u, v); positive is green.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub duv: Option<f64>,
    }
}

noun! {
    /// Other kit in use at a setup.
    pub struct KitUse {
        /// Which item.
        pub item: KitId,
        /// How many of it.
        #[serde(default = "one", skip_serializing_if = "is_one")]
        pub count: u32,
        /// What it is fed from, when it is fed.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub fed_from: Option<KitId>,
    }
}

/// A light of the sky that a setup can ask for. Where the bands of golden and blue hour lie is practice.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum SkyLight {
    /// The sun is up.
    Day,
    /// The sun reaches the place, past what stands around it.
    DirectSun,
    /// The sun is up and does not reach the place.
    Shade,
    /// The sun is low.
    GoldenHour,
    /// The sun is a little below the horizon.
    BlueHour,
    /// From civil dusk to civil dawn.
    Night,
    /// From astronomical dusk to astronomical dawn.
    FullDark,
}

/// How the camera is held.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Mount {
    /// In the hand.
    Hand,
    /// On a tripod.
    Tripod,
    /// On a stabiliser.
    Stabiliser,
    /// Fixed where no person can stand: in a machine, under a ceiling.
    Rigged,
    /// On or in a vehicle.
    Vehicle,
    /// Held out over a drop or water.
    Overhead,
}

/// What is thrown, lit or poured.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Effect {
    /// Powder.
    Powder,
    /// An open flame.
    Flame,
    /// Smoke or haze.
    Smoke,
    /// Water on the performer.
    Wet,
    /// The performer stands or swims in water.
    InWater,
    /// Glass or anything that breaks.
    Breakage,
}

fn one() -> u32 {
    1
}
fn is_one(count: &u32) -> bool {
    *count == 1
}
fn yes() -> bool {
    true
}
fn is_true(flag: &bool) -> bool {
    *flag
}
fn is_first(state: &u32) -> bool {
    *state == 0
}
fn is_false(flag: &bool) -> bool {
    !*flag
}
