//! What a person should know of a setup, as data. The sentences stand in `says`.

use super::pulse::Pulse;
use super::view::LensThere;
use crate::closing::Closing;
use crate::colour::White;
use crate::gel::Gel;
use crate::ratio::Ratio;
use model::{FallsOn, FrameRate, Framing, KitId};
use serde::Serialize;

/// A finding with its sentence: lower case, no full stop.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Found {
    /// What was found, with its numbers.
    #[serde(flatten)]
    pub finding: Finding,
    /// The same in words.
    pub says: String,
}

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

    pub(super) const fn word(self) -> &'static str {
        match self {
            Self::Face => "face",
            Self::Background => "background",
        }
    }
}

/// What sort of figure is meant.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum What {
    /// Camera figures.
    Camera,
    /// Lens figures.
    Lens,
    /// Filter figures.
    Filter,
    /// Light figures.
    Light,
    /// A sensitivity.
    Iso,
    /// A T-stop.
    TStop,
    /// A focal length.
    Focal,
}

impl What {
    pub(super) const fn word(self) -> &'static str {
        match self {
            Self::Camera => "camera",
            Self::Lens => "lens",
            Self::Filter => "filter",
            Self::Light => "light",
            Self::Iso => "ISO",
            Self::TStop => "T-stop",
            Self::Focal => "focal length",
        }
    }
}

/// What was found.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(tag = "kind", rename_all = "kebab-case")]
#[allow(
    missing_docs,
    reason = "the fields are named by their unit and the sentence says the rest"
)]
pub enum Finding {
    /// The setup names no camera.
    NoCamera,
    /// Kit that is not there.
    UnknownItem { item: KitId },
    /// Kit without the figures it is used for.
    NoFigures { item: KitId, what: What },
    /// A setting nobody has said and nothing gives.
    Unsaid { what: What },
    /// Figures that can't be computed with.
    NotComputed { why: String },
    /// A photograph whose figures can't be.
    BadPhoto { file: String, why: String },
    /// More sensitivity than the maker wants of the camera.
    BeyondCamera { iso: u32, most: u32 },
    /// A setting the lens does not have.
    BeyondLens {
        what: What,
        value: f64,
        least: f64,
        most: Option<f64>,
    },
    /// Nothing is known of the light that is already there.
    AmbientUnknown { on: Vec<On> },
    /// It was estimated from photographs.
    AmbientGuessed {
        lux: f64,
        plus_minus_stops: f64,
        photographs: usize,
    },
    /// No light at all.
    Dark { on: On },
    /// An exposure off its target.
    Gap(Gap),
    /// A light too near for inverse square.
    InverseSquare { item: KitId, sizes: f64, stops: f64 },
    /// A light dimmed further than it dims.
    TooDim { item: KitId, level: f64, least: f64 },
    /// A gel whose loss is not said.
    GelLoss { item: KitId },
    /// A filter that lifts the shadows.
    Diffusion { item: KitId },
    /// Sources of different colours on one subject.
    Mixed {
        on: On,
        item: KitId,
        against: Option<KitId>,
        own: White,
        other: White,
        gel_there: bool,
        gel: Gel,
    },
    /// Pulsing light that is expected to be seen.
    Flicker {
        pulse: Pulse,
        shutter_deg: f64,
        rate: FrameRate,
    },
    /// A lamp follows mains of unknown frequency.
    MainsUnknown,
    /// Another rate than the brief's.
    OffSpeed {
        shot: FrameRate,
        shown: FrameRate,
        speed: Ratio,
        lost_stops: f64,
    },
    /// The frame holds something else than planned.
    OtherFraming {
        subject_m: f64,
        height_m: f64,
        framing: Framing,
        wanted: Framing,
        wanted_m: f64,
    },
    /// The camera would stand in the wall.
    NoRoom {
        wanted_m: f64,
        room_m: f64,
        focal_mm: f64,
        lens: Option<LensThere>,
    },
    /// Nearer than the lens focuses.
    TooNear {
        subject_m: f64,
        close_focus_m: f64,
        framing_there: Option<Framing>,
    },
    /// The picture is enlarged.
    Enlarged { times: f64, px: [u32; 2] },
    /// Sensor and picture have different shapes.
    SensorShape {
        sensor_mm: [f64; 2],
        frame: [u32; 2],
    },
}

/// An exposure off its target; stops are positive when over.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Gap {
    /// Of what.
    pub on: On,
    /// How far.
    pub stops: f64,
    /// The same at the least and the most that ambient light may be.
    pub between: [f64; 2],
    /// Whether ambient light is left out because nothing is known of it.
    pub ambient_unknown: bool,
    /// Of the background: how far it is once the camera has brought the face to its target.
    pub with_face_right: Option<f64>,
    /// What closes it, each alone; in JSON they stand with the subject.
    #[serde(skip)]
    pub closings: Vec<Closing>,
}
