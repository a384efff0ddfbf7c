//! A place to shoot: where, whose leave it takes, what light, power and dangers are there.

use crate::clock::ClockTime;
use crate::ids::PlaceId;
use crate::noun::noun;
use crate::song::MediaFile;
use serde::{Deserialize, Serialize};

noun! {
    /// A place to shoot.
    pub struct Place {
        /// Its id.
        pub id: PlaceId,
        /// What it is called.
        pub name: String,
        /// Where it is, in words.
        #[serde(default, skip_serializing_if = "String::is_empty")]
        pub address: String,
        /// Latitude and longitude in degrees, north and east positive (WGS 84).
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub position_deg: Option<[f64; 2]>,
        /// Its time zone (IANA name), when it is not the day's.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub zone: Option<String>,
        /// Indoors or not, when it has been said.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub interior: Option<bool>,
        /// Open to anybody or not, when it has been said.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub public: Option<bool>,
        /// Whose leave it takes, and whether it has been given.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub permission: Option<Permission>,
        /// When one may be there, from and to; none for any time. `26:00` is two in the following morning.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        pub access: Vec<[ClockTime; 2]>,
        /// Mains that may be used there.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub mains: Option<Mains>,
        /// Mains frequency of the lamps there, hertz: 50 or 60.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub mains_hz: Option<u32>,
        /// What is heard there.
        #[serde(default, skip_serializing_if = "String::is_empty")]
        pub noise: String,
        /// What can hurt there.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        pub hazards: Vec<Hazard>,
        /// Minutes from here to other places, loaded and parked.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        pub travel: Vec<Travel>,
        /// What stands up around it: azimuth from north through east and elevation, degrees, joined by straight lines.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        pub horizon_deg: Vec<[f64; 2]>,
        /// Which way the street or stair runs, degrees from north through east.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub bearing_deg: Option<f64>,
        /// The light that is already there, as metered; a photograph's estimate gives way to it.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        pub readings: Vec<Reading>,
        /// Photographs from the walk.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        pub photos: Vec<Photo>,
        /// Nearest hospital with an emergency department, and the number to call.
        #[serde(default, skip_serializing_if = "String::is_empty")]
        pub hospital: String,
        /// What to mind there, in the maker's own words.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        pub cautions: Vec<String>,
        /// A remark.
        #[serde(default, skip_serializing_if = "String::is_empty")]
        pub remark: String,
    }
}

impl Place {
    /// A place called `name` of which nothing else is known.
    pub fn new(id: PlaceId, name: impl Into<String>) -> Self {
        Self {
            id,
            name: name.into(),
            address: String::new(),
            position_deg: None,
            zone: None,
            interior: None,
            public: None,
            permission: None,
            access: Vec::new(),
            mains: None,
            mains_hz: None,
            noise: String::new(),
            hazards: Vec::new(),
            travel: Vec::new(),
            horizon_deg: Vec::new(),
            bearing_deg: None,
            readings: Vec::new(),
            photos: Vec::new(),
            hospital: String::new(),
            cautions: Vec::new(),
            remark: String::new(),
            extra: Default::default(),
        }
    }
}

/// How far a permission has come.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Leave {
    /// Nobody has been asked.
    #[default]
    Unasked,
    /// Asked, no answer yet.
    Asked,
    /// Given by word.
    Promised,
    /// Given in writing.
    Granted,
    /// Refused.
    Refused,
    /// None is needed.
    NotNeeded,
}

noun! {
    /// Whose leave a place takes.
    pub struct Permission {
        /// How far it has come.
        #[serde(default)]
        pub leave: Leave,
        /// Who gives it.
        #[serde(default, skip_serializing_if = "String::is_empty")]
        pub who: String,
        /// What it costs, in minor units (cents).
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub cost_minor: Option<i64>,
        /// Where the paper lies.
        #[serde(default, skip_serializing_if = "String::is_empty")]
        pub paper: String,
    }
}

noun! {
    /// Mains at a place.
    pub struct Mains {
        /// Volts.
        pub volts: f64,
        /// What the circuit's breaker bears, amperes.
        pub amperes: f64,
        /// Whether a residual-current device protects it, when it is known.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub residual_current_device: Option<bool>,
        /// Which socket, whose leave.
        #[serde(default, skip_serializing_if = "String::is_empty")]
        pub remark: String,
    }
}

/// Sorts of danger a place can hold.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Danger {
    /// Open water, a pool, a wet floor.
    Water,
    /// A drop: quay, roof, wall, platform.
    Edge,
    /// Stairs.
    Stairs,
    /// Vehicles, trams, trains.
    Traffic,
    /// Wind that moves stands.
    Wind,
    /// Something that burns easily.
    Fire,
    /// Bad air: dust, fumes, exhaust.
    Air,
    /// A place to judge beforehand: who is there at night, which way out.
    Lonely,
    /// Heat.
    Heat,
    /// Cold.
    Cold,
}

noun! {
    /// A danger at a place.
    pub struct Hazard {
        /// What it is.
        pub danger: Danger,
        /// How far from where one works, metres.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub distance_m: Option<f64>,
        /// Temperature of water, degrees Celsius.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub water_c: Option<f64>,
        /// Wind expected, metres a second.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub wind_m_s: Option<f64>,
        /// More about it.
        #[serde(default, skip_serializing_if = "String::is_empty")]
        pub remark: String,
    }
}

noun! {
    /// The way from one place to another.
    pub struct Travel {
        /// Where to.
        pub to: PlaceId,
        /// Minutes, with loading out and in.
        pub minutes: u32,
    }
}

noun! {
    /// Light measured by a meter.
    pub struct Reading {
        /// Light falling on the place, lux.
        pub lux: f64,
        /// When, where that matters.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub at: Option<ClockTime>,
        /// Colour temperature, kelvin.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub kelvin: Option<f64>,
        /// Where and towards what.
        #[serde(default, skip_serializing_if = "String::is_empty")]
        pub remark: String,
    }
}

noun! {
    /// A photograph from a walk, with what its camera wrote into it (EXIF).
    pub struct Photo {
        /// The file.
        pub file: MediaFile,
        /// When, local time as written (`2026-10-03T18:41:07`).
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub taken: Option<String>,
        /// Minutes the clock was ahead of UTC, when it is written.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub utc_offset_minutes: Option<i32>,
        /// Latitude and longitude, degrees.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub position_deg: Option<[f64; 2]>,
        /// Metres above the sea, as the camera had it.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub altitude_m: Option<f64>,
        /// Which way the camera looked, degrees from true north through east.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub bearing_deg: Option<f64>,
        /// Whether that bearing counts from magnetic north instead.
        #[serde(default, skip_serializing_if = "std::ops::Not::not")]
        pub bearing_is_magnetic: bool,
        /// Exposure time, seconds.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub exposure_s: Option<f64>,
        /// f-number.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub f_number: Option<f64>,
        /// Sensitivity (ISO).
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub iso: Option<f64>,
        /// Exposure bias the photographer set, stops.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub bias_stops: Option<f64>,
        /// Whether a flash fired, when it is written.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub flash: Option<bool>,
        /// Whether the exposure was set by hand rather than by the camera's meter.
        #[serde(default, skip_serializing_if = "std::ops::Not::not")]
        pub exposed_by_hand: bool,
        /// Focal length, millimetres.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub focal_mm: Option<f64>,
        /// The focal length that shows as much on a frame of 36 mm by 24 mm.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub focal_35_mm: Option<f64>,
    }
}

impl Photo {
    /// A photograph of which nothing but its file is known.
    pub fn new(file: MediaFile) -> Self {
        Self {
            file,
            taken: None,
            utc_offset_minutes: None,
            position_deg: None,
            altitude_m: None,
            bearing_deg: None,
            bearing_is_magnetic: false,
            exposure_s: None,
            f_number: None,
            iso: None,
            bias_stops: None,
            flash: None,
            exposed_by_hand: false,
            focal_mm: None,
            focal_35_mm: None,
            extra: Default::default(),
        }
    }
}

noun! {
    /// Photographs for a place that is there already.
    pub struct PhotosAt {
        /// The place.
        pub place: PlaceId,
        /// The photographs.
        pub photos: Vec<Photo>,
        /// Where the place is, for one whose position is not known yet.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pub position_deg: Option<[f64; 2]>,
    }
}
