//! A setup: one position of camera and light, what it is for, and with which kit.

use crate::clock::ClockTime;
use crate::ids::{KitId, PersonId, PlaceId, SetupId};
use crate::kit::{CAMERAS, FILTERS, LENSES, LIGHTS, POWER};
use crate::noun::made;
use crate::project::STATES;
use crate::time::{FrameRate, Stretch};
use crate::{noun, words};

words! {
    /// What a setup is for.
    pub enum Purpose = Performance {
        /// The performer performs to playback.
        Performance = "performance", "performance to playback";
        /// Everything else that can be cut to.
        BRoll = "b-roll", "b-roll";
    }
}

/// The most passes of one setup.
pub const MAX_PASSES: u32 = 200;

words! {
    /// How much of the subject the frame holds (common practice).
    pub enum Framing = Medium {
        /// The place, the subject small in it.
        Wide = "wide", "wide";
        /// Head to foot.
        Full = "full", "full";
        /// Waist up.
        Medium = "medium", "medium";
        /// Head and shoulders.
        Close = "close", "close";
        /// Part of a face or of a thing.
        Detail = "detail", "detail";
    }
}

noun! {
    /// One position of camera and light.
    pub struct Setup(list: "setups", called: "setup") {
        /// Its id.
        pub id: SetupId => "Id".never(),
        /// What it is called.
        pub name: String => "Name",
        /// Where.
        pub place: Option<PlaceId> => "Place",
        /// What it is for.
        pub purpose: Purpose = Purpose::Performance => "For",
        /// How much of the subject it holds.
        pub framing: Framing = Framing::Medium => "Framing",
        /// The sections it is planned over, by letter, letter and count, or name (`B`, `B2`, `last chorus`).
        pub sections: Vec<String> => "Sections"
            .hint("Letters or names, such as B, chorus 1. With no sections, bars or stretches: the whole song."),
        /// The bars it is planned over, first and last, both included, counted from 1.
        pub bars: Vec<[u32; 2]> => "Bars".range(0.0, 1e6).hint("Such as 9–16, 25."),
        /// How many passes are planned.
        pub passes: u32 = 1 => "Passes".range(1.0, MAX_PASSES as f64),
        /// Whether the video can't do without it.
        pub must: bool => "The day can't do without it",
        /// Performer state, an index into [`crate::Project::states`].
        pub state: u32 = 0 => "State of the performer".of(&STATES),
        /// What is seen and done.
        pub action: String => "What happens".lines(),
        /// Camera and lens, and how they are set.
        pub optics: Option<Optics> => "Camera".later(),
        /// Filters on the lens.
        pub filters: Vec<KitId> => "Filters".of(&FILTERS).later(),
        /// Lights that are set.
        pub lights: Vec<LightUse> => "Lights".later(),
        /// The light that is already there.
        pub ambient: Option<Ambient> => "Light that is there"
            .hint("Empty: from the place's readings and photographs.").later(),
        /// How far from its correct exposure the face is wanted; as the practice has it where it is left out.
        pub face_stops: Option<f64> => "Face, from its correct exposure".unit("stops").range(-20.0, 20.0).later(),
        /// The same for the background.
        pub background_stops: Option<f64> => "Background, from its correct exposure".unit("stops").range(-20.0, 20.0).later(),
        /// Which light of the sky it is shot in: any of these; none for any light.
        pub light_of: Vec<SkyLight> => "Light of the sky it needs".later(),
        /// Whether the moon must be up.
        pub moon: bool => "The moon must be up".later(),
        /// When it can be shot for another reason, from and to; none for any time.
        pub hours: Vec<[ClockTime; 2]> => "Hours it can be shot in".hint("Such as 21:00–26:00. Empty: any.").later(),
        /// Setups that must have been shot before it.
        pub after: Vec<SetupId> => "Only after".later(),
        /// Who is there besides the maker.
        pub people: Vec<PersonId> => "Who is needed".later(),
        /// The camera's rate, when it differs from the brief's.
        pub shot_rate: Option<FrameRate> => "Camera, frames a second"
            .hint("When it differs from the video's: the song is played faster or slower.").later(),
        /// Whether playback keeps the song's pitch at another speed.
        pub pitch_kept: bool = true => "Playback keeps its pitch".later(),
        /// Whether playback carries timecode on its right channel.
        pub timecode: bool => "Timecode on the playback's right side".later(),
        /// The stretches it is planned over. With no sections, bars or stretches a setup is planned over the whole song.
        pub stretches: Vec<Stretch> => "Stretches of the song".hint("Such as 0:12.5–0:20.").later(),
        /// To rig camera and light; as the practice has it where it is left out.
        pub rig_minutes: Option<u32> => "To rig".unit("minutes").range(0.0, 1440.0).later(),
        /// Setups of one group at one place stand on one rig: after another of it this one is only relit.
        pub rig_group: Option<String> => "Shares a rig with setups of the group".later(),
        /// To relight instead, right after another setup of its rig group, likewise.
        pub relight_minutes: Option<u32> => "To relight within the group".unit("minutes").range(0.0, 1440.0).later(),
        /// Between two passes, likewise.
        pub reset_minutes: Option<u32> => "Between passes".unit("minutes").range(0.0, 1440.0).later(),
        /// How the camera is held.
        pub mount: Option<Mount> => "Camera is".later(),
        /// What is thrown, lit or poured.
        pub effects: Vec<Effect> => "Effects".later(),
        /// Other kit it needs, and what feeds what.
        pub kit: Vec<KitUse> => "Other kit".later(),
        /// What to mind: powder, water, stairs, traffic.
        pub cautions: Vec<String> => "Cautions of your own".lines().hint("One a line.").later(),
    }
}

impl Setup {
    /// One pass of performance, waist up, over the whole song; nothing else said.
    pub fn new(id: SetupId) -> Self {
        made(serde_json::json!({ "id": id }))
    }

    /// Whether it names no part of the song, and so is planned over all of it.
    pub fn is_over_all(&self) -> bool {
        self.sections.is_empty() && self.bars.is_empty() && self.stretches.is_empty()
    }

    /// What may be fed in it, each with what is said to feed it: lights, other things, the camera.
    pub fn fed(&self) -> impl Iterator<Item = (&KitId, Option<&KitId>)> {
        let lights = self.lights.iter().map(|l| (&l.light, &l.fed_from));
        let others = self.kit.iter().map(|used| (&used.item, &used.fed_from));
        let camera = self.optics.iter().map(|o| (&o.camera, &o.fed_from));
        let all = lights.chain(others).chain(camera);
        all.map(|(item, from)| (item, from.as_ref()))
    }

    /// Whether it uses the item called `id` for anything.
    pub fn uses(&self, id: &KitId) -> bool {
        let lens = self.optics.iter().flat_map(|optics| &optics.lens);
        let fed = self.fed().flat_map(|(item, from)| [Some(item), from]);
        lens.chain(&self.filters)
            .chain(fed.flatten())
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
        pub camera: KitId => "Camera".of(&CAMERAS),
        /// Which lens.
        pub lens: Option<KitId> => "Lens".of(&LENSES),
        /// Focal length, when the lens has several.
        pub focal_mm: Option<f64> => "Focal length".unit("mm").range(1.0, 3000.0),
        /// T-stop it is set to; the lens's widest where it is left out.
        pub t_stop: Option<f64> => "T-stop".range(0.5, 128.0),
        /// Exposure index (ISO 12232); the camera's first base where it is left out.
        pub iso: Option<u32> => "ISO".range(1.0, 1e7),
        /// Shutter angle, of 360; as the practice has it where it is left out.
        pub shutter_deg: Option<f64> => "Shutter".unit("degrees").range(0.1, 360.0),
        /// From the sensor to the subject.
        pub subject_m: Option<f64> => "To the subject".unit("m").range(0.01, 10_000.0),
        /// Most room there is behind the subject's distance for the camera: a small room's wall.
        pub room_m: Option<f64> => "Room for the camera".unit("m").range(0.01, 10_000.0),
        /// What the camera is fed from: a battery, an inverter, or `mains`; found by its connectors where it is left out.
        pub fed_from: Option<KitId> => "Fed from".of(&POWER),
    }
}

words! {
    /// What a light falls on.
    pub enum FallsOn = Face {
        /// The performer's face.
        Face = "face", "the face";
        /// What is behind.
        Background = "background", "the background";
        /// Both, as it spills.
        Both = "both", "both";
        /// The performer from behind: neither is exposed by it.
        Edge = "edge", "an edge";
    }
}

noun! {
    /// A light as it is set.
    pub struct LightUse(called: "light") {
        /// Which light.
        pub light: KitId => "Light".of(&LIGHTS),
        /// What it falls on.
        pub falls_on: FallsOn = FallsOn::Face => "Falls on",
        /// How far it stands from that.
        pub distance_m: f64 => "Stands away".unit("m").range(0.01, 10_000.0),
        /// Level it is dimmed to, share of full (1 where it is left out).
        pub level: Option<f64> => "Level".share(0.0, 1.0),
        /// Lost in diffusion before it.
        pub loss_stops: Option<f64> => "Lost in front of it".unit("stops").range(0.0, 30.0),
        /// Gel before it; positive warms.
        pub gel_mired: Option<f64> => "Gel".unit("mired").range(-500.0, 500.0),
        /// What it is fed from: a battery, an inverter, or `mains`; found by its connectors where it is left out.
        pub fed_from: Option<KitId> => "Fed from".of(&POWER),
    }
}

noun! {
    /// Light that is already there, on the subject.
    pub struct Ambient {
        /// On the face.
        pub face_lux: Option<f64> => "On the face".unit("lux").range(0.0, 200_000.0),
        /// On the background.
        pub background_lux: Option<f64> => "On the background".unit("lux").range(0.0, 200_000.0),
        /// Its colour temperature.
        pub kelvin: Option<f64> => "Colour temperature".unit("K").range(1000.0, 40_000.0),
        /// Its distance from the blackbody locus in CIE 1960 (u, v); positive is green.
        pub duv: Option<f64> => "Duv".range(-0.1, 0.1),
    }
}

noun! {
    /// Other kit in use at a setup.
    pub struct KitUse(called: "thing") {
        /// Which item.
        pub item: KitId => "What",
        /// How many of it.
        pub count: u32 = 1 => "How many".range(1.0, 10_000.0),
        /// What it is fed from, when it is fed.
        pub fed_from: Option<KitId> => "Fed from".of(&POWER),
    }
}

words! {
    /// A light of the sky that a setup can ask for. Where the bands of golden and blue hour lie is practice.
    pub enum SkyLight {
        /// The sun is up.
        Day = "day", "day";
        /// The sun reaches the place, past what stands around it.
        DirectSun = "direct-sun", "direct sun";
        /// The sun is up and does not reach the place.
        Shade = "shade", "shade";
        /// The sun is low.
        GoldenHour = "golden-hour", "golden hour";
        /// The sun is a little below the horizon.
        BlueHour = "blue-hour", "blue hour";
        /// From civil dusk to civil dawn.
        Night = "night", "night";
        /// From astronomical dusk to astronomical dawn.
        FullDark = "full-dark", "full dark";
    }
}

words! {
    /// How the camera is held.
    pub enum Mount {
        /// In the hand.
        Hand = "hand", "in the hand";
        /// On a tripod.
        Tripod = "tripod", "on a tripod";
        /// On a stabiliser.
        Stabiliser = "stabiliser", "on a stabiliser";
        /// Fixed where no person can stand: in a machine, under a ceiling.
        Rigged = "rigged", "rigged where nobody can stand";
        /// On or in a vehicle.
        Vehicle = "vehicle", "on or in a vehicle";
        /// Held out over a drop or water.
        Overhead = "overhead", "held out over a drop or water";
    }
}

words! {
    /// What is thrown, lit or poured.
    pub enum Effect {
        /// Powder.
        Powder = "powder", "powder";
        /// An open flame.
        Flame = "flame", "flame";
        /// Smoke or haze.
        Smoke = "smoke", "smoke";
        /// Water on the performer.
        Wet = "wet", "wet";
        /// The performer stands or swims in water.
        InWater = "in-water", "in water";
        /// Glass or anything that breaks.
        Breakage = "breakage", "something breaks";
    }
}
