//! What the page shows, as plain values.

use model::{Date, DayId, Finding, Framing, KitId, LogEntry, SetupId};

/// A time of the day: what the day's clock shows and, where the zone is known, the instant.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Clock {
    /// As a person reads it: `18:05`, `02:30 (+1)`.
    pub text: String,
    /// Seconds since 1970-01-01 00:00 UTC.
    pub at_s: Option<i64>,
}

/// Everything on the page.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Pocket {
    /// What the video is called.
    pub title: String,
    /// For whom.
    pub artist: String,
    /// The mark of the project: [`crate::log::mark`].
    pub project: String,
    /// The day, when there is one.
    pub day: Option<DayId>,
    /// Its date.
    pub date: Option<Date>,
    /// Its time zone (IANA), when it is known.
    pub zone: Option<String>,
    /// When work begins.
    pub call: Option<Clock>,
    /// When the last setup ends.
    pub wrap: Option<Clock>,
    /// When it must have ended.
    pub latest_wrap: Option<Clock>,
    /// The meal.
    pub meal: Option<[Clock; 2]>,
    /// The setups in the order they are shot; without a day in the order of the plan.
    pub setups: Vec<SetupView>,
    /// Setups that are not in the day.
    pub left_out: Vec<LeftOut>,
    /// What happens in the sky, in order.
    pub sky: Vec<Moment>,
    /// Over which place that is.
    pub sky_over: String,
    /// What to drop when it gets late.
    pub late: Vec<LateLine>,
    /// Batteries that can be changed.
    pub batteries: Vec<BatteryView>,
    /// The places.
    pub places: Vec<PlaceView>,
    /// Whom to reach.
    pub contacts: Vec<Contact>,
    /// What calls for care.
    pub care: Vec<Care>,
    /// The number of the song's first bar: 0 when it begins with an upbeat.
    pub first_bar: u32,
    /// Where each bar of the song starts, seconds, and where the last one ends.
    pub bars_s: Vec<f64>,
    /// Playback.
    pub sounds: Vec<Sound>,
    /// The log as the project has it already.
    pub log: Vec<LogEntry>,
    /// What a person should know, one sentence each.
    pub notes: Vec<Finding>,
    /// How the page reaches the laptop that serves it; none for a file.
    pub link: Option<Link>,
}

/// How a served page reaches the laptop.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Link {
    /// Where to post, relative to the page: `pocket/log`.
    pub address: String,
    /// Sent along as the header `x-barebulb-token`, when the server wants one.
    pub token: String,
}

/// One setup.
#[derive(Clone, Debug, PartialEq)]
pub struct SetupView {
    /// Its id.
    pub id: SetupId,
    /// What it is called.
    pub name: String,
    /// Where.
    pub place: String,
    /// When rigging begins.
    pub start: Option<Clock>,
    /// When shooting begins.
    pub shoot: Option<Clock>,
    /// When it is done.
    pub end: Option<Clock>,
    /// Minutes on the way there.
    pub travel_minutes: i64,
    /// How many minutes late one may set out, it and all that follows still fitting.
    pub room_minutes: Option<i64>,
    /// Whether the video can't do without it.
    pub must: bool,
    /// The performer's state, where there are any.
    pub state: String,
    /// How much of the subject it holds.
    pub framing: Framing,
    /// What is seen and done.
    pub action: String,
    /// Which part of the song, in words: `bars 9–16`.
    pub part: String,
    /// Passes planned.
    pub passes: u32,
    /// Camera, lens, stop and the rest: name and value.
    pub settings: Vec<(String, String)>,
    /// Lights as set, one line each.
    pub lights: Vec<String>,
    /// What to mind, in the maker's own words.
    pub cautions: Vec<String>,
    /// Who is there.
    pub people: Vec<String>,
    /// A photograph of its place.
    pub picture: Option<PictureView>,
    /// Its playback: indices into [`Pocket::sounds`], with what to call them.
    pub sounds: Vec<PassView>,
}

/// One stretch of playback of a setup.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PassView {
    /// Which sound.
    pub sound: usize,
    /// What to call it: `bars 9–16`.
    pub name: String,
}

/// A photograph.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PictureView {
    /// A JPEG.
    pub jpeg: Vec<u8>,
    /// What it shows.
    pub says: String,
}

/// A playback file, and where everything lies in it, in its seconds.
#[derive(Clone, Debug, PartialEq)]
pub struct Sound {
    /// An MP4 with AAC.
    pub m4a: Vec<u8>,
    /// How long it is.
    pub length_s: f64,
    /// Where its clicks of the count-in start.
    pub clicks_s: Vec<f64>,
    /// Where its stretch starts.
    pub stretch_start_s: f64,
    /// Where its stretch ends.
    pub stretch_end_s: f64,
    /// The song's time at the start of the stretch.
    pub song_at_stretch_s: f64,
    /// Song seconds per second.
    pub speed: f64,
    /// The same as a fraction: `5/2`.
    pub speed_text: String,
    /// Whether the pitch is kept at that speed.
    pub pitch_kept: bool,
}

/// A setup that is not in the day.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LeftOut {
    /// Which.
    pub id: SetupId,
    /// What it is called.
    pub name: String,
    /// Why, in short.
    pub why: String,
}

/// Something that happens in the sky.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Moment {
    /// When.
    pub at: Clock,
    /// What, in words: `blue hour begins`.
    pub what: String,
}

/// One line of what to drop when late.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LateLine {
    /// When the plan has one free there.
    pub at: Clock,
    /// Before which setup.
    pub next: String,
    /// For each delay: its minutes, and what to do.
    pub cells: Vec<(u32, String)>,
}

/// A battery, or several alike.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct BatteryView {
    /// Which item.
    pub id: KitId,
    /// What it is called.
    pub name: String,
    /// How many there are.
    pub count: u32,
    /// When changes are planned: when, and for what.
    pub changes: Vec<(Clock, String)>,
}

/// A place.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PlaceView {
    /// What it is called.
    pub name: String,
    /// Where.
    pub address: String,
    /// The nearest hospital.
    pub hospital: String,
    /// Whose leave, and how far it has come.
    pub leave: String,
    /// What to mind there, in the maker's own words.
    pub cautions: Vec<String>,
}

/// Somebody to reach.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Contact {
    /// Name.
    pub name: String,
    /// What they do.
    pub role: String,
    /// How to reach them.
    pub contact: String,
    /// When they can be there.
    pub hours: String,
}

/// Something that calls for care.
#[derive(Clone, Debug, PartialEq)]
pub struct Care {
    /// What it is about: `electricity and water`.
    pub name: String,
    /// Where.
    pub place: String,
    /// What in this plan calls for it, and what is usually done.
    pub finding: Finding,
    /// Whom to ask.
    pub ask: String,
}
