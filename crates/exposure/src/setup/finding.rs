//! What a person should know of a setup, as data. The sentences stand in `says`.

use super::ambient::AmbientFrom;
use super::pulse::Pulse;
use super::view::LensThere;
use crate::closing::Closing;
use crate::colour::White;
use crate::gel::Gel;
use model::{FallsOn, FrameRate, Framing, KitId, Ratio};
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
pub enum Finding {
    /// The setup names no camera.
    NoCamera,
    /// Kit that is not there.
    UnknownItem {
        /// The id that is used.
        item: KitId,
    },
    /// Kit without the figures it is used for.
    NoFigures {
        /// Which item.
        item: KitId,
        /// Which figures.
        what: What,
    },
    /// A setting nobody has said and nothing gives.
    Unsaid {
        /// Which setting.
        what: What,
    },
    /// Figures that can't be computed with.
    NotComputed {
        /// What is wrong, with the value and the range allowed.
        why: String,
    },
    /// More sensitivity than the maker wants of the camera.
    BeyondCamera {
        /// As set.
        iso: u32,
        /// The most wanted.
        most: u32,
    },
    /// A rate the camera does not list.
    NoSuchRate {
        /// Which camera.
        item: KitId,
        /// The rate wanted.
        rate: FrameRate,
    },
    /// A setting the lens does not have.
    BeyondLens {
        /// Which setting.
        what: What,
        /// As set.
        value: f64,
        /// The least it has.
        least: f64,
        /// The most it has, when that is stated.
        most: Option<f64>,
    },
    /// Nothing is known of the light that is already there.
    AmbientUnknown {
        /// On which subjects.
        on: Vec<On>,
    },
    /// It was estimated from photographs, or its readings differ.
    AmbientGuessed {
        /// The estimate.
        lux: f64,
        /// It may be this much brighter or darker.
        plus_minus_stops: f64,
        /// Of what.
        from: AmbientFrom,
        /// How many of them.
        told_by: usize,
    },
    /// No light at all.
    Dark {
        /// On which subject.
        on: On,
    },
    /// An exposure off its target.
    Gap(Gap),
    /// A light too near for inverse square.
    InverseSquare {
        /// Which light.
        item: KitId,
        /// How many times its size away it stands.
        sizes: f64,
        /// From how many on inverse square is trusted (common practice).
        trusted: f64,
        /// How much darker an even disc would be there, stops.
        stops: f64,
    },
    /// A light dimmed further than it dims.
    TooDim {
        /// Which light.
        item: KitId,
        /// As set, share of full.
        level: f64,
        /// The lowest it dims to, share of full.
        least: f64,
    },
    /// A gel whose loss is not said.
    GelLoss {
        /// Which light.
        item: KitId,
    },
    /// A filter that lifts the shadows.
    Diffusion {
        /// Which filter.
        item: KitId,
    },
    /// Sources of different colours on one subject.
    Mixed {
        /// On which subject.
        on: On,
        /// The light that can be corrected.
        item: KitId,
        /// What it differs from; none for ambient light.
        against: Option<KitId>,
        /// Its colour, gel counted.
        own: White,
        /// The other's colour.
        other: White,
        /// Whether a gel is before it already.
        gel_there: bool,
        /// What brings it there.
        gel: Gel,
    },
    /// Pulsing light that is expected to be seen.
    Flicker {
        /// What pulses, and how it meets the shutter.
        pulse: Pulse,
        /// The shutter angle set, degrees.
        shutter_deg: f64,
        /// The camera's rate.
        rate: FrameRate,
    },
    /// A lamp follows mains of unknown frequency.
    MainsUnknown,
    /// Another rate than the brief's.
    OffSpeed {
        /// The camera's rate.
        shot: FrameRate,
        /// The brief's rate.
        shown: FrameRate,
        /// Speed of the song on set.
        speed: Ratio,
        /// Light lost against the shown rate at the same angle.
        lost_stops: f64,
    },
    /// The frame holds something else than planned.
    OtherFraming {
        /// From the sensor to the subject.
        subject_m: f64,
        /// What the frame holds there from top to bottom.
        height_m: f64,
        /// What the trade calls that.
        framing: Framing,
        /// What is planned.
        wanted: Framing,
        /// From where that is had.
        wanted_m: f64,
    },
    /// The camera would stand in the wall.
    NoRoom {
        /// How far off the camera would stand.
        wanted_m: f64,
        /// How far off it can.
        room_m: f64,
        /// The focal length that shows the same from there.
        focal_mm: f64,
        /// A lens of the kit that does.
        lens: Option<LensThere>,
    },
    /// Nearer than the lens focuses.
    TooNear {
        /// Where the subject is.
        subject_m: f64,
        /// The nearest the lens focuses.
        close_focus_m: f64,
        /// What the frame is called from there.
        framing_there: Option<Framing>,
    },
    /// The picture is enlarged.
    Enlarged {
        /// How many times.
        times: f64,
        /// The recorded pixels that are delivered.
        px: [u32; 2],
    },
    /// Sensor and picture have different shapes.
    SensorShape {
        /// Width and height of the part recorded.
        sensor_mm: [f64; 2],
        /// Width and height of its picture, pixels.
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
