//! What the night needs: light, power, cards, what to pack, what to mind, and the sky over it.
//!
//! Nothing here is kept: every figure follows from the document and is computed anew.

mod only;
mod summary;

pub use only::Only;
pub use summary::{Darkest, DaySummary, Summary, from_target};

use crate::practice::PracticeValue;
use crate::{Error, Job, Progress, known};
use cautions::Caution;
use exposure::setup::Judgement;
use kit::Packing;
use model::{
    ClockTime, Date, Day, DayId, Edit, Finding, KitId, Place, PlaceId, Project, SetupId, Slot,
    SongMap,
};
use power::{CardPlan, Carriage, DayPower};
use serde::Serialize;
use std::collections::BTreeMap;

/// What a person may ask of the kit.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct KitOptions {
    /// How many people share the kit on a flight, when it flies.
    pub by_air: Option<u32>,
    /// What one person carries in one go, kilograms; as the practice has it where it is left out.
    pub trip_kg: Option<f64>,
    /// How often one is ready to walk, likewise.
    pub trips: Option<u32>,
    /// Which setups, places and days are told of.
    pub only: Only,
}

/// Everything the plan says of light, power, cards, packing and care.
#[derive(Clone, Debug, Serialize)]
pub struct KitReport {
    /// What is short, what is missing, what is gravest.
    pub summary: Summary,
    /// Light, lens and shutter of each setup, as the project lists them.
    pub setups: Vec<Judgement>,
    /// Each day.
    pub days: Vec<DayReport>,
    /// What to pack and get.
    pub packing: Packing,
    /// What calls for care.
    pub cautions: Vec<Caution>,
    /// How the batteries fly, when they do.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub carriage: Option<Carriage>,
    /// Every value of how one works, with what is usual.
    pub practice: Vec<PracticeValue>,
    /// What a person should know.
    pub notes: Vec<Finding>,
}

/// Power and cards of a day.
#[derive(Clone, Debug, Serialize)]
pub struct DayReport {
    /// Which day.
    pub day: DayId,
    /// Its date.
    pub date: Date,
    /// Batteries, swaps, shortages and what mends them.
    pub power: DayPower,
    /// Cards and copies.
    pub cards: CardPlan,
}

/// The sky over one place on one day of the project.
#[derive(Clone, Debug, Serialize)]
pub struct PlaceSky {
    /// Which place.
    pub place: PlaceId,
    /// What it is called.
    pub name: String,
    /// Which day of the project; none when a date was asked for.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub day: Option<DayId>,
    /// The sky.
    #[serde(flatten)]
    pub sky: sky::Report,
}

impl Job {
    /// Light, power, cards, packing and cautions, computed from the document. The song is used for how
    /// long each setup runs; where there is none yet, a usual length is taken and said.
    ///
    /// # Errors
    /// When a figure of `options` is out of range, or it was stopped.
    pub fn kit(
        &mut self,
        options: &KitOptions,
        progress: &dyn Progress,
    ) -> Result<KitReport, Error> {
        let mut notes = Vec::new();
        let map = self.song_map_if_any(&mut notes, progress)?;
        let mut practice = self.project().practice.clone();
        practice.trip_kg = options.trip_kg.unwrap_or(practice.trip_kg);
        practice.trips = options.trips.unwrap_or(practice.trips);
        let project = &Edit::put(&practice).apply(self.project())?;
        let lengths = project.heard_s(map.as_ref());

        let mut timed = project.clone();
        let mut days = Vec::new();
        for (index, day) in project.days.iter().enumerate() {
            let power = power::day_power(project, day, &lengths);
            let order: Vec<SetupId> = power.slots.iter().map(|slot| slot.setup.clone()).collect();
            let cards = power::card_plan(project, &order, &lengths);
            // What packs and warns goes by the same times as what was computed of power.
            timed.days[index].order = slots(&power);
            days.push(DayReport {
                day: day.id.clone(),
                date: day.date,
                power,
                cards,
            });
        }
        if project.days.is_empty() {
            let says =
                "the plan has no day yet, so power, cards and hours of darkness can't be computed";
            notes.push(
                Finding::unknown("no-day", says)
                    .mended_by("write one under `days` with its date and call"),
            );
        }
        Self::stop_if_asked(progress)?;
        let part = options.only.part(project, &days)?;
        let dark = |day: &Day, slot: &Slot| is_dark(project, day, slot);
        let given = cautions::Given {
            dark: Some(&dark),
            by_air: options.by_air.map(|_| true),
        };
        let mut cautions = cautions::of(&timed, &given);
        cautions.retain(|caution| part.cautions(caution));
        // Of the whole day, before its other setups are left out.
        days.retain(|day| part.has_day(&day.day));
        let sums = days
            .iter()
            .map(|day| summary::of_day(project, day))
            .collect();
        part.days(&mut days);
        let mut packed = part.project(&timed);
        let mut packing = pack(&packed, &days, &cautions);
        if part.kit(&mut packed, &packing) {
            packing = pack(&packed, &days, &cautions);
        }
        let setups: Vec<Judgement> = project
            .setups
            .iter()
            .filter(|setup| part.has(&setup.id))
            .map(|setup| exposure::judge(project, setup))
            .collect();
        Ok(KitReport {
            summary: summary::summary(project, &setups, sums, &packing, &cautions),
            setups,
            days,
            packing,
            cautions,
            carriage: options
                .by_air
                .map(|people| power::carriage(&packed.kit, people)),
            practice: crate::practice_values(project),
            notes,
        })
    }

    /// The sky over the project's places: over `place` alone when one is named, on `date` instead of
    /// the project's days when one is given. What is missing for a place is said in the notes.
    ///
    /// # Errors
    /// When there is no such place, or nothing can be computed at all.
    pub fn skies(
        &self,
        place: Option<&str>,
        date: Option<Date>,
        at: Option<&str>,
    ) -> Result<(Vec<PlaceSky>, Vec<Finding>), Error> {
        let project = self.project();
        let bands = sky::Bands::from(&project.practice);
        let mut notes = Vec::new();
        let mut out = Vec::new();
        let asked: Vec<&Place> = match place {
            Some(id) => vec![known::place(project, id)?],
            None => project.places.iter().collect(),
        };
        let days: Vec<Option<&Day>> = if date.is_some() || project.days.is_empty() {
            vec![None]
        } else {
            project.days.iter().map(Some).collect()
        };
        for known in asked {
            for day in &days {
                let Some(date) = date.or(day.map(|day| day.date)) else {
                    return Err(Error::NoDate);
                };
                let Some([latitude, longitude]) = known.position_deg else {
                    let says = format!(
                        "the place `{}` has no position, so its sky is not known",
                        known.id
                    );
                    let found = Finding::unknown("no-position", says).about(&known.id);
                    notes.push(found.mended_by(
                        "write `position_deg` or scout it with photographs that hold one",
                    ));
                    break;
                };
                let Some(zone) = zone(project, known, *day) else {
                    let says = format!("no time zone is known for the place `{}`", known.id);
                    let found = Finding::unknown("no-zone", says).about(&known.id);
                    notes.push(found.mended_by("write `zone` with its IANA name, such as Europe/Lisbon, at the place or the day"));
                    break;
                };
                let pairs: Vec<(f64, f64)> =
                    known.horizon_deg.iter().map(|[a, e]| (*a, *e)).collect();
                let report = sky::report(&sky::Question {
                    place: sky::Place::new(latitude, longitude)?,
                    zone: sky::Zone::named(zone)?,
                    date: date.civil(),
                    at: sky::clock(at.unwrap_or("12:00"))?,
                    horizon: sky::Horizon::new(&pairs)?,
                    bearing_deg: known.bearing_deg,
                    bands,
                })?;
                out.push(PlaceSky {
                    place: known.id.clone(),
                    name: known.name.clone(),
                    day: day.map(|day| day.id.clone()),
                    sky: report,
                });
            }
        }
        Ok((out, notes))
    }

    /// The song as a ruler, when there is one that can be read.
    pub(crate) fn song_map_if_any(
        &mut self,
        notes: &mut Vec<Finding>,
        progress: &dyn Progress,
    ) -> Result<Option<SongMap>, Error> {
        if self.project().song.is_none() {
            let found = Finding::unknown(
                "no-song",
                "there is no song yet, so passes are taken at a usual length",
            );
            notes.push(found.mended_by("add it with `barebulb listen DIR --song FILE`"));
            return Ok(None);
        }
        match self.heard(progress) {
            Ok(heard) => Ok(Some(heard.map)),
            Err(Error::Stopped) => Err(Error::Stopped),
            Err(error) => {
                notes.push(Finding::unknown("no-bars", format!(
                    "sections and bars are not known, so setups planned over them are taken at a usual length: {error}"
                )));
                Ok(None)
            }
        }
    }
}

/// The zone a place's clocks show: its own, the day's, or that of any day.
pub(crate) fn zone<'a>(
    project: &'a Project,
    place: &'a Place,
    day: Option<&'a Day>,
) -> Option<&'a str> {
    let of_day = day.and_then(|day| day.zone.as_deref());
    let any = || project.days.iter().find_map(|day| day.zone.as_deref());
    place.zone.as_deref().or(of_day).or_else(any)
}

/// Whether the sun is so low in the middle of a slot that a street is dark. What can't be told from
/// the sun (no position, no zone) goes by the hours of the practice.
pub(crate) fn is_dark(project: &Project, day: &Day, slot: &Slot) -> bool {
    let middle = (slot.start.minutes() + slot.end.minutes()) / 2;
    let light = project.practice.night_to_min..project.practice.night_from_min;
    let by_the_hour = !light.contains(&(middle % (24 * 60)));
    let by_the_sun = || -> Option<bool> {
        let place = project.place(project.setup(&slot.setup)?.place.as_ref()?)?;
        let [latitude, longitude] = place.position_deg?;
        let zone = sky::Zone::named(zone(project, place, Some(day))?).ok()?;
        let mut date = day.date.civil();
        for _ in 0..middle / (24 * 60) {
            date = date.tomorrow().ok()?;
        }
        let in_day = ClockTime::from_minutes(middle % (24 * 60))?.to_string();
        let (at, _) = zone.instant(date, sky::clock(&in_day).ok()?).ok()?;
        let look = sky::look(&sky::Place::new(latitude, longitude).ok()?, at).ok()?;
        Some(look.sun.altitude_deg < project.practice.dark_below_deg)
    };
    by_the_sun().unwrap_or(by_the_hour)
}

/// The times power was computed with, to the minute, as slots of a day.
fn slots(power: &DayPower) -> Vec<Slot> {
    let clock = |minutes: f64| {
        let whole = minutes
            .round()
            .clamp(0.0, f64::from(ClockTime::MOST_MINUTES));
        ClockTime::from_minutes(whole as u32).unwrap_or_default()
    };
    power
        .slots
        .iter()
        .map(|slot| Slot {
            shoot: Some(clock(slot.shoot_min)),
            ..Slot::new(
                slot.setup.clone(),
                clock(slot.start_min),
                clock(slot.end_min),
            )
        })
        .collect()
}

/// What to pack for the days, with what the cautions call for.
fn pack(packed: &Project, days: &[DayReport], cautions: &[Caution]) -> Packing {
    let given = kit::Given {
        needed: needed(packed, days, packed.practice.spare_pieces),
        bring: bring(cautions),
        held: held(packed, cautions),
        ..kit::Given::default()
    };
    kit::pack(packed, &given)
}

/// How many of each battery and card the days ask for: those that were used, and those that are short.
fn needed(project: &Project, days: &[DayReport], spares: u32) -> BTreeMap<KitId, u32> {
    let mut most: BTreeMap<KitId, u32> = BTreeMap::new();
    if days.is_empty() {
        return most;
    }
    for item in &project.kit {
        let for_recording = item.card.as_ref().is_some_and(|card| !card.for_copies);
        if item.battery.is_some() || for_recording {
            most.insert(item.id.clone(), 0);
        }
    }
    for day in days {
        let used = |id: &KitId| -> u32 {
            let batteries = day
                .power
                .ledger
                .iter()
                .filter(|one| one.piece.battery == *id && one.drawn_wh > 0.0);
            let cards = day
                .cards
                .cards
                .iter()
                .filter(|one| one.card == *id && one.gigabytes > 0.0);
            (batteries.count() + cards.count()) as u32
        };
        for (id, count) in &mut most {
            *count = (*count).max(used(id));
        }
    }
    // Some more than are used up, of everything that is used and there: the reserve.
    for (id, count) in &mut most {
        if let Some(item) = project.item(id)
            && *count > 0
        {
            *count = count.saturating_add(spares).min(item.count).max(*count);
        }
    }
    most
}

fn bring(cautions: &[Caution]) -> Vec<kit::Bring> {
    let mut out: Vec<kit::Bring> = Vec::new();
    for caution in cautions {
        for name in &caution.bring {
            let bring = kit::Bring {
                name: name.clone(),
                why: caution.kind.words(),
                place: caution.finding.places().next().cloned(),
            };
            if !out
                .iter()
                .any(|known| known.name == bring.name && known.place == bring.place)
            {
                out.push(bring);
            }
        }
    }
    out
}

/// Which wanted things the kit holds: those whose name stands in the name of a safety item, or the
/// other way round.
fn held(project: &Project, cautions: &[Caution]) -> BTreeMap<String, KitId> {
    let mut out = BTreeMap::new();
    let safety = project
        .kit
        .iter()
        .filter(|item| item.sort == model::Sort::Safety || item.sort == model::Sort::Support);
    for item in safety {
        let called = item.called().to_lowercase();
        for name in cautions.iter().flat_map(|caution| &caution.bring) {
            let wanted = name.to_lowercase();
            if called.contains(&wanted) || wanted.contains(&called) {
                out.entry(name.clone()).or_insert_with(|| item.id.clone());
            }
        }
    }
    out
}
