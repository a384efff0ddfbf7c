//! Everything about one place and date in one value, as `barebulb sky --json` prints it.

use crate::civil::{When, Zone};
use crate::day::{Bands, Event, Interval, MoonDay, SunDay};
use crate::direct::{self, Bearing, Passing, Shadow};
use crate::error::Error;
use crate::phases::{self, Phase};
use crate::place::{Horizon, Place};
use crate::position::{self, Light, MoonAt, SunAt};
use crate::search;
use jiff::civil::{Date, Time};
use model::Finding;
use serde::Serialize;

/// What is asked.
#[derive(Clone, Debug)]
pub struct Question {
    /// Where.
    pub place: Place,
    /// In which zone dates and times are meant.
    pub zone: Zone,
    /// On which civil date.
    pub date: Date,
    /// For which time of day positions and light are given.
    pub at: Time,
    /// What stands around.
    pub horizon: Horizon,
    /// Bearing of the street or stair, degrees from north through east.
    pub bearing_deg: Option<f64>,
    /// What is called golden and blue.
    pub bands: Bands,
}

/// What is answered.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Report {
    /// As asked.
    pub date: Date,
    /// As asked.
    pub zone: String,
    /// As asked.
    pub latitude_deg: f64,
    /// As asked.
    pub longitude_deg: f64,
    /// The instant of positions and light.
    pub at: When,
    /// The day's first instant.
    pub day_starts: When,
    /// The next day's.
    pub day_ends: When,
    /// The sun's day, and where it stands.
    pub sun: Sun,
    /// The moon's day, and where it stands.
    pub moon: Moon,
    /// What is called golden and blue here.
    pub bands: Bands,
    /// See [`crate::Day`].
    pub golden_hour: Vec<Interval>,
    /// See [`crate::Day`].
    pub blue_hour: Vec<Interval>,
    /// See [`direct::direct_sun`].
    pub direct_sun: Vec<Interval>,
    /// See [`direct::shadow`].
    pub shadow: Option<Shadow>,
    /// Where a bearing was given.
    pub bearing: Option<Along>,
    /// The light.
    pub light: Light,
    /// All that happens, in order.
    pub events: Vec<Event>,
    /// What may not be meant.
    pub notes: Vec<Finding>,
}

/// The sun of a [`Report`].
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Sun {
    /// Its day.
    #[serde(flatten)]
    pub day: SunDay,
    /// Where it stands.
    #[serde(flatten)]
    pub at: SunAt,
}

/// The moon of a [`Report`].
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Moon {
    /// Its day.
    #[serde(flatten)]
    pub day: MoonDay,
    /// Where it stands.
    #[serde(flatten)]
    pub at: MoonAt,
    /// The four principal phases after the instant.
    pub next_phases: Vec<NextPhase>,
}

/// A principal phase to come.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct NextPhase {
    /// Which.
    pub phase: Phase,
    /// When.
    pub at: When,
}

/// The sun and a street.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Along {
    /// At the instant.
    #[serde(flatten)]
    pub now: Bearing,
    /// In the day.
    pub passings: Vec<Passing>,
}

/// Answers a question.
///
/// # Errors
/// When the date is outside [`crate::YEARS`] or was left out, or a band or bearing is none.
pub fn report(question: &Question) -> Result<Report, Error> {
    let Question {
        place,
        zone,
        date,
        bearing_deg,
        ..
    } = question;
    let day = search::day(place, zone, *date, &question.bands)?;
    let (at, clock_note) = zone.instant(*date, question.at)?;
    let look = position::look(place, at)?;
    let bearing = match bearing_deg {
        Some(bearing) => Some(Along {
            now: direct::bearing(&look.sun, *bearing)?,
            passings: direct::passings(place, zone, *date, *bearing)?,
        }),
        None => None,
    };
    let mut notes = zone.notes(place, *date);
    notes.extend(clock_note);
    let next_phases = phases::next_phases(at)?.into_iter();
    Ok(Report {
        date: *date,
        zone: zone.name().to_owned(),
        latitude_deg: place.latitude_deg(),
        longitude_deg: place.longitude_deg(),
        at: zone.when(at),
        day_starts: day.starts,
        day_ends: day.ends,
        sun: Sun {
            day: day.sun,
            at: look.sun,
        },
        moon: Moon {
            day: day.moon,
            at: look.moon,
            next_phases: next_phases
                .map(|(phase, at)| NextPhase {
                    phase,
                    at: zone.when(at),
                })
                .collect(),
        },
        bands: question.bands,
        golden_hour: day.golden_hour,
        blue_hour: day.blue_hour,
        direct_sun: direct::direct_sun(place, zone, *date, &question.horizon)?,
        shadow: direct::shadow(&look.sun),
        bearing,
        light: look.light,
        events: day.events,
        notes,
    })
}
