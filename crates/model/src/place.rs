//! A place to shoot: where, whose leave it takes, what light, power and dangers are there.

use crate::clock::ClockTime;
use crate::ids::PlaceId;
use crate::noun::made;
use crate::song::MediaFile;
use crate::{noun, words};

noun! {
    /// A place to shoot.
    pub struct Place(list: "places", called: "place") {
        /// Its id.
        pub id: PlaceId => "Id".never(),
        /// What it is called.
        pub name: String => "Name",
        /// Where it is, in words.
        pub address: String => "Address",
        /// Latitude and longitude, north and east positive (WGS 84).
        pub position_deg: Option<[f64; 2]> => "Position".unit("degrees").range(-180.0, 180.0)
            .hint("Latitude and longitude, such as 41.1432, -8.6151. Photographs that hold one fill it in."),
        /// Its time zone (IANA name), when it is not the day's.
        pub zone: Option<String> => "Time zone".hint("Its IANA name, such as Europe/Lisbon."),
        /// Indoors or not, when it has been said.
        pub interior: Option<bool> => "Indoors",
        /// When one may be there, from and to; none for any time. `26:00` is two in the following morning.
        pub access: Vec<[ClockTime; 2]> => "Hours one may be there".hint("Such as 21:00–26:00. Empty: always."),
        /// Whose leave it takes, and whether it has been given.
        pub permission: Option<Permission> => "Leave to be there",
        /// Minutes from here to other places, loaded and parked.
        pub travel: Vec<Travel> => "Ways from here",
        /// What can hurt there.
        pub hazards: Vec<Hazard> => "What can hurt here",
        /// Nearest hospital with an emergency department, and the number to call.
        pub hospital: String => "Nearest hospital, and the way there",
        /// The light that is already there, as metered; a photograph's estimate gives way to it.
        pub readings: Vec<Reading> => "Light measured",
        /// What stands up around it: azimuth from north through east and elevation, joined by straight lines.
        pub horizon_deg: Vec<[f64; 2]> => "What stands around it".unit("degrees").range(-90.0, 360.0)
            .hint("Azimuth and elevation, such as 90 12, 180 5.").later(),
        /// Which way the street or stair runs, from north through east.
        pub bearing_deg: Option<f64> => "The street looks towards".unit("degrees").range(0.0, 360.0)
            .hint("From north through east.").later(),
        /// Open to anybody or not, when it has been said.
        pub public: Option<bool> => "Public".later(),
        /// Mains that may be used there.
        pub mains: Option<Mains> => "Mains".later(),
        /// Mains frequency of the lamps there: 50 or 60.
        pub mains_hz: Option<u32> => "Mains frequency".unit("Hz").range(50.0, 60.0).later(),
        /// What is heard there.
        pub noise: String => "Noise".later(),
        /// What to mind there, in the maker's own words.
        pub cautions: Vec<String> => "Cautions of your own".lines().hint("One a line.").later(),
        /// A remark.
        pub remark: String => "Remark".lines().later(),
        /// Photographs from the walk.
        pub photos: Vec<Photo> => "Photographs".never(),
    }
}

impl Place {
    /// A place called `name` of which nothing else is known.
    pub fn new(id: PlaceId, name: impl Into<String>) -> Self {
        made(serde_json::json!({ "id": id, "name": name.into() }))
    }
}

words! {
    /// How far a permission has come.
    pub enum Leave = Unasked {
        /// Nobody has been asked.
        Unasked = "unasked", "not asked yet";
        /// Asked, no answer yet.
        Asked = "asked", "asked";
        /// Given by word.
        Promised = "promised", "promised";
        /// Given in writing.
        Granted = "granted", "granted";
        /// Refused.
        Refused = "refused", "refused";
        /// None is needed.
        NotNeeded = "not-needed", "not needed";
    }
}

noun! {
    /// Whose leave a place takes.
    pub struct Permission {
        /// How far it has come.
        pub leave: Leave = Leave::Unasked => "Stands at",
        /// Who gives it.
        pub who: String => "Who gives it",
        /// What it costs, in minor units (cents).
        pub cost_minor: Option<i64> => "What it costs".money(),
        /// Where the paper lies.
        pub paper: String => "Where it is written",
    }
}

noun! {
    /// Mains at a place.
    pub struct Mains {
        /// Its voltage.
        pub volts: f64 => "Voltage".unit("V").range(5.0, 1000.0),
        /// What the circuit's breaker bears.
        pub amperes: f64 => "Breaker of the circuit".unit("A").range(0.1, 1000.0),
        /// Whether a residual-current device protects it, when it is known.
        pub residual_current_device: Option<bool> => "Residual-current device",
        /// Which socket, whose leave.
        pub remark: String => "Remark",
    }
}

words! {
    /// Sorts of danger a place can hold.
    pub enum Danger {
        /// Open water, a pool, a wet floor.
        Water = "water", "water";
        /// A drop: quay, roof, wall, platform.
        Edge = "edge", "an edge";
        /// Stairs.
        Stairs = "stairs", "stairs";
        /// Vehicles, trams, trains.
        Traffic = "traffic", "traffic";
        /// Wind that moves stands.
        Wind = "wind", "wind";
        /// Something that burns easily.
        Fire = "fire", "fire";
        /// Bad air: dust, fumes, exhaust.
        Air = "air", "bad air";
        /// A place to judge beforehand: who is there at night, which way out.
        Lonely = "lonely", "lonely at night";
        /// Heat.
        Heat = "heat", "heat";
        /// Cold.
        Cold = "cold", "cold";
    }
}

noun! {
    /// A danger at a place.
    pub struct Hazard(called: "danger") {
        /// What it is.
        pub danger: Danger => "Danger",
        /// How far from where one works.
        pub distance_m: Option<f64> => "From the set".unit("m").range(0.0, 10_000.0),
        /// Temperature of water.
        pub water_c: Option<f64> => "Water".unit("°C").range(-5.0, 60.0),
        /// Wind expected.
        pub wind_m_s: Option<f64> => "Wind".unit("m/s").range(0.0, 100.0),
        /// More about it.
        pub remark: String => "Remark",
    }
}

noun! {
    /// The way from one place to another.
    pub struct Travel(called: "way") {
        /// Where to.
        pub to: PlaceId => "To",
        /// How long it takes, with loading out and in.
        pub minutes: u32 => "Takes".unit("minutes").range(0.0, 1440.0),
    }
}

noun! {
    /// Light measured by a meter.
    pub struct Reading(called: "reading") {
        /// Light falling on the place.
        pub lux: f64 => "Light".unit("lux").range(0.0, 200_000.0),
        /// When, where that matters.
        pub at: Option<ClockTime> => "At",
        /// Colour temperature.
        pub kelvin: Option<f64> => "Colour temperature".unit("K").range(1000.0, 40_000.0),
        /// Where and towards what.
        pub remark: String => "Where",
    }
}

noun! {
    /// A photograph from a walk, with what its camera wrote into it (EXIF).
    pub struct Photo(called: "photograph") {
        /// The file.
        pub file: MediaFile => "File",
        /// When, local time as written (`2026-10-03T18:41:07`).
        pub taken: Option<String> => "Taken",
        /// How far the clock was ahead of UTC, when it is written.
        pub utc_offset_minutes: Option<i32> => "Ahead of UTC".unit("minutes").range(-840.0, 840.0),
        /// Latitude and longitude.
        pub position_deg: Option<[f64; 2]> => "Position".unit("degrees").range(-180.0, 180.0),
        /// Above the sea, as the camera had it.
        pub altitude_m: Option<f64> => "Above the sea".unit("m").range(-12_000.0, 100_000.0),
        /// Which way the camera looked, from true north through east.
        pub bearing_deg: Option<f64> => "Looked towards".unit("degrees").range(0.0, 360.0),
        /// Whether that bearing counts from magnetic north instead.
        pub bearing_is_magnetic: bool => "From magnetic north",
        /// Exposure time. A number that no exposure has would make the light infinite.
        pub exposure_s: Option<f64> => "Exposure time".unit("s").range(1e-7, 1e6),
        /// f-number.
        pub f_number: Option<f64> => "f-number".range(0.1, 1000.0),
        /// Sensitivity (ISO).
        pub iso: Option<f64> => "ISO".range(0.1, 1e8),
        /// Exposure bias the photographer set.
        pub bias_stops: Option<f64> => "Exposure bias".unit("stops").range(-20.0, 20.0),
        /// Whether a flash fired, when it is written.
        pub flash: Option<bool> => "Flash",
        /// Whether the exposure was set by hand rather than by the camera's meter.
        pub exposed_by_hand: bool => "Exposed by hand",
        /// Focal length.
        pub focal_mm: Option<f64> => "Focal length".unit("mm").range(0.1, 100_000.0),
        /// The focal length that shows as much on a frame of 36 mm by 24 mm.
        pub focal_35_mm: Option<f64> => "Focal length on 36 × 24".unit("mm").range(0.1, 100_000.0),
    }
}

impl Photo {
    /// A photograph of which nothing but its file is known.
    pub fn new(file: MediaFile) -> Self {
        made(serde_json::json!({ "file": file }))
    }
}

/// Photographs for a place that is there already.
#[derive(Clone, Debug, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct PhotosAt {
    /// The place.
    pub place: PlaceId,
    /// The photographs.
    pub photos: Vec<Photo>,
    /// Where the place is, for one whose position is not known yet.
    pub position_deg: Option<[f64; 2]>,
}
