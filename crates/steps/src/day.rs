//! The day: the document, the song's bars and the sky, joined for the solver.

use crate::{Error, Job, Progress, known};
use cautions::Caution;
use model::{
    ClockTime, Day, DayId, Edit, Finding, Place, PlaceId, Project, Setup, SetupId, SkyLight, Slot,
    clock,
};
use schedule::{Clocks, DayPlan, Depth, Given, Light, Now, SkyBand};
use serde::Serialize;
use std::collections::BTreeMap;
use std::time::{Duration, Instant};

/// What a person may ask of the day.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct DayOptions {
    /// Which day; every one when none.
    pub day: Option<String>,
    /// The day as it stands, when it has begun.
    pub now: Option<Now>,
    /// A setup whose place or absence is to be explained.
    pub why: Option<String>,
    /// Seconds to search at most; a usual time when none.
    pub seconds: Option<u64>,
}

/// The days, solved.
#[derive(Clone, Debug, Serialize)]
pub struct DaysReport {
    /// Each day.
    pub days: Vec<OneDay>,
    /// Why the setup asked about stands where it stands.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub why: Option<Vec<String>>,
    /// What a person should know.
    pub notes: Vec<Finding>,
}

/// One day, with what other crafts say of it.
#[derive(Clone, Debug, Serialize)]
pub struct OneDay {
    /// The day.
    #[serde(flatten)]
    pub plan: DayPlan,
    /// The sky over the first place whose position is known, around the day's hours.
    pub sky: Vec<SkyBand>,
    /// What breaks in the order that stands in the plan; none when nothing stands there.
    pub typed: Vec<Finding>,
    /// What runs short in the day found: batteries and cards.
    pub conflicts: Vec<Finding>,
    /// What calls for care in it: hours, rest, meal, weather, working alone.
    pub cautions: Vec<Caution>,
}

/// Setups up to which why each is left out is worked out without being asked.
const EXPLAINED: usize = 14;

impl DayOptions {
    /// The days that are asked for, in order, and the day as it stands, when it has begun: a day that has
    /// begun is one day, a small hour on its clock is past midnight.
    fn of<'a>(&self, project: &'a Project) -> Result<(Vec<&'a Day>, Option<Now>), Error> {
        let mut days = match &self.day {
            Some(id) => vec![known::day(project, id)?],
            None => project.days_in_order(),
        };
        let first = *days.first().ok_or(Error::NoDays)?;
        let Some(now) = &self.now else {
            return Ok((days, None));
        };
        days.truncate(1);
        for id in &now.done {
            known::setup(project, id.as_str())?;
        }
        if let Some(id) = &now.place {
            known::place(project, id.as_str())?;
        }
        let now = Now {
            at: first.after_call(now.at),
            ..now.clone()
        };
        Ok((days, Some(now)))
    }
}

impl Job {
    /// The best days for the plan, from here on when they have begun.
    ///
    /// # Errors
    /// When there is no day or no setup, the plan contradicts itself, or it was stopped before anything was found.
    pub fn day(
        &mut self,
        options: &DayOptions,
        progress: &dyn Progress,
    ) -> Result<DaysReport, Error> {
        let mut notes = Vec::new();
        let map = self.song_map_if_any(&mut notes, progress)?;
        let project = self.project();
        let (days, begun) = options.of(project)?;
        if project.setups.is_empty() {
            return Err(Error::NoSetups);
        }
        let asked = options.why.as_deref().map(|id| known::setup(project, id));
        let asked = asked.transpose()?;
        progress.stage("planning the day", 0);
        if map.is_none() {
            notes.push(Finding::unknown(
                "no-bars",
                "without a song's bars every setup counts alike",
            ));
        }
        let bars = coverage::worth(map.as_ref(), &project.setups, &project.wishes);
        let lengths = project.heard_s(map.as_ref());
        let usual = schedule::usual_seconds(project.setups.len());
        let seconds = options.seconds.unwrap_or(usual);
        let depth = Depth {
            late: true,
            why: project.setups.len() <= EXPLAINED,
        };
        let mut shot_before: Vec<SetupId> = Vec::new();
        let mut out = Vec::new();
        let mut why = None;
        for (nth, day) in days.iter().enumerate() {
            let until = Instant::now() + Duration::from_secs(seconds);
            let stop = || Instant::now() > until || !progress.keep_going();
            let sky = DaySky::over(project, day, &mut notes);
            let light = |setup: &Setup| sky.light(setup);
            let given = Given {
                project,
                day,
                lengths: &lengths,
                bars: &bars,
                light: &light,
                clocks: sky.clocks,
                begun: begun.clone(),
                shot_before: &shot_before,
                next_call: next_call(project, day),
                more_days: nth + 1 < days.len(),
            };
            let said = |source| Error::Day {
                day: day.id.to_string(),
                source,
            };
            let plan = schedule::plan(&given, depth, &stop).map_err(said)?;
            if let (Some(setup), None) = (asked, &why) {
                why = schedule::why(&given, &plan, &setup.id, &stop).map_err(said)?;
            }
            let typed = match begun {
                None => schedule::broken(&given),
                Some(_) => Vec::new(),
            };
            shot_before.extend(plan.order.iter().map(|strip| strip.setup.clone()));
            let (conflicts, cautions) = self.judged(day, &plan, &lengths);
            out.push(OneDay {
                sky: sky.bands(&plan),
                typed,
                conflicts,
                cautions,
                plan,
            });
        }
        Ok(DaysReport {
            days: out,
            why,
            notes,
        })
    }

    /// Writes a day that was found into the plan, times and all.
    ///
    /// # Errors
    /// When there is no such day any more, or it can't be saved.
    pub fn keep_day(&mut self, found: &DayPlan) -> Result<(), Error> {
        let was = known::day(self.project(), found.day.as_str())?.clone();
        let mut day = was.clone();
        day.order = slots(found);
        day.meal = found.meal.map(|[from, _]| from);
        self.edit(&Edit::change_of(&was, &day)).map(drop)
    }

    /// The days found as a calendar file (RFC 5545) called `title`.
    ///
    /// # Errors
    /// When a zone or a date is none.
    pub fn calendar(&self, report: &DaysReport, title: &str) -> Result<String, Error> {
        let mut clocks = Vec::new();
        for one in &report.days {
            clocks.push((&one.plan, self.instants(&one.plan.day)?));
        }
        let days: Vec<schedule::CalendarDay> = clocks
            .iter()
            .map(|(plan, utc)| schedule::CalendarDay { plan, utc })
            .collect();
        Ok(schedule::calendar(&days, title, crate::now().0 / 1000))
    }

    /// The instant of what a clock of `day` shows, seconds since 1970-01-01 00:00 UTC; by the clock of
    /// Greenwich where no zone is known.
    ///
    /// # Errors
    /// When the zone or the date is none.
    pub fn instants(&self, day: &DayId) -> Result<impl Fn(ClockTime) -> i64 + use<>, Error> {
        let project = self.project();
        let day = known::day(project, day.as_str())?;
        let zone = sky::Zone::named(zone_of(project, day).unwrap_or("UTC"))?;
        let date = day.date.civil();
        let clocks = clocks(&zone, date)?;
        let first = zone.after_minutes(date, 0)?.unix_s();
        Ok(move |at: ClockTime| first + 60 * clocks.passed(i64::from(at.minutes())))
    }

    /// What runs short in the day, and what calls for care in it.
    fn judged(
        &self,
        day: &Day,
        plan: &DayPlan,
        lengths: &dyn Fn(&Setup) -> Option<f64>,
    ) -> (Vec<Finding>, Vec<Caution>) {
        let mut timed = self.project().clone();
        for known in &mut timed.days {
            if known.id == day.id {
                known.order = slots(plan);
                known.meal = plan.meal.map(|[from, _]| from).or(known.meal);
            }
        }
        let mut conflicts = Vec::new();
        if let Some(known) = timed.days.iter().find(|known| known.id == day.id)
            && !known.order.is_empty()
        {
            let power = power::day_power(&timed, known, lengths);
            conflicts.extend(power.shortages.into_iter().map(|short| short.finding));
            let order: Vec<SetupId> = known.order.iter().map(|slot| slot.setup.clone()).collect();
            let cards = power::card_plan(&timed, &order, lengths);
            if cards.short_gb > 0.0 {
                let says = format!(
                    "the cards hold {:.0} GB and the day records {:.0} GB: {:.0} GB have no card",
                    cards.there_gb, cards.needed_gb, cards.short_gb
                );
                conflicts.push(
                    Finding::problem("cards-full", says)
                        .mended_by("get one more")
                        .mended_by("copy and check one between setups"),
                );
            }
        }
        let dark = |day: &Day, slot: &Slot| crate::night::is_dark(&timed, day, slot);
        let given = cautions::Given {
            dark: Some(&dark),
            by_air: None,
        };
        let mut all = cautions::of(&timed, &given);
        all.retain(|caution| {
            caution.kind.is_of_the_day() && caution.finding.days().any(|id| *id == day.id)
        });
        (conflicts, all)
    }
}

/// The strips as slots of the document.
pub(crate) fn slots(plan: &DayPlan) -> Vec<Slot> {
    let slot = |strip: &schedule::Strip| Slot {
        shoot: Some(strip.shoot),
        pinned: strip.pinned,
        ..Slot::new(strip.setup.clone(), strip.start, strip.end)
    };
    plan.order.iter().map(slot).collect()
}

/// The zone a day's clocks show: its own, or that of any of its places.
pub(crate) fn zone_of<'a>(project: &'a Project, day: &'a Day) -> Option<&'a str> {
    let places = project.places.iter();
    day.zone
        .as_deref()
        .or_else(|| places.filter_map(|place| place.zone.as_deref()).next())
}

/// When the day after `day` in the plan is called, minutes that pass since its midnight.
fn next_call(project: &Project, day: &Day) -> Option<i64> {
    let later = project
        .days
        .iter()
        .filter(|other| (other.date, other.call) > (day.date, day.call));
    let next = later.min_by_key(|other| (other.date, other.call))?;
    let zone = sky::Zone::named(zone_of(project, day).unwrap_or("UTC")).ok()?;
    let (date, other) = (day.date.civil(), next.date.civil());
    let call = clocks(&zone, other)
        .ok()?
        .passed(i64::from(next.call.minutes()));
    let at = zone.after_minutes(other, call).ok()?;
    zone.minutes_since(date, at)
        .ok()
        .map(|minutes| minutes as i64)
}

/// When clocks are changed in the two days from `date` on.
pub(crate) fn clocks(zone: &sky::Zone, date: sky::Date) -> Result<Clocks, Error> {
    let change = zone.change(date)?;
    Ok(Clocks { change })
}

/// The sky over the places of a day, in minutes that pass since its midnight.
struct DaySky {
    clocks: Clocks,
    /// By place; why it is not known where it isn't.
    windows: BTreeMap<PlaceId, Result<sky::Windows, String>>,
    /// The first place whose sky is known.
    shown: Option<PlaceId>,
}

impl DaySky {
    fn over(project: &Project, day: &Day, notes: &mut Vec<Finding>) -> Self {
        let bands = sky::Bands::from(&project.practice);
        let date = day.date.civil();
        let zone = match zone_of(project, day) {
            Some(name) => sky::Zone::named(name)
                .and_then(|zone| {
                    Ok((
                        Clocks {
                            change: zone.change(date)?,
                        },
                        zone,
                    ))
                })
                .map_err(|error| error.to_string()),
            None => Err("no time zone is written at the day or its places".into()),
        };
        let windows = |place: &Place| {
            let (_, zone) = zone.as_ref().map_err(String::clone)?;
            let Some(position) = place.position_deg else {
                return Err(format!("the place `{}` has no position", place.id));
            };
            windows(place, position, zone, date, &bands).map_err(|error| error.to_string())
        };
        let places = project.places.iter();
        let mut out = Self {
            clocks: zone
                .as_ref()
                .map_or(Clocks::default(), |(clocks, _)| *clocks),
            windows: places
                .map(|place| (place.id.clone(), windows(place)))
                .collect(),
            shown: None,
        };
        let shown = |place: &&Place| {
            let used = |setup: &Setup| setup.place.as_ref() == Some(&place.id);
            out.windows[&place.id].is_ok() && project.setups.iter().any(used)
        };
        out.shown = project
            .places
            .iter()
            .find(shown)
            .map(|place| place.id.clone());
        if let Some((at, by)) = out.clocks.change {
            let [from, to] = [at, at + by].map(|at| clock::shown(at as f64));
            let says = format!(
                "clocks are changed on this night: {from} becomes {to}; times are what they show"
            );
            notes.push(Finding::warning("clocks-change", says).about(&day.id));
        }
        out
    }

    /// When `setup` has the light it asks for.
    fn light(&self, setup: &Setup) -> Light {
        if setup.light_of.is_empty() && !setup.moon {
            return Light::Any;
        }
        let Some(place) = &setup.place else {
            return Light::Unknown(format!("`{}` has no place", setup.id));
        };
        match self.windows.get(place) {
            Some(Ok(windows)) => Light::Within(windows.any_of(&setup.light_of, setup.moon)),
            Some(Err(why)) => Light::Unknown(why.clone()),
            None => Light::Unknown(format!("there is no place `{place}`")),
        }
    }

    /// The golden and blue hours and the night that the day of `plan` touches.
    fn bands(&self, plan: &DayPlan) -> Vec<SkyBand> {
        let known = self
            .shown
            .as_ref()
            .and_then(|place| self.windows.get(place));
        let Some(Ok(windows)) = known else {
            return Vec::new();
        };
        let show = |passed: i64| {
            let shown = self.clocks.shown(passed).max(0);
            ClockTime::default().later(u32::try_from(shown).unwrap_or(u32::MAX))
        };
        let mut out: Vec<SkyBand> = Vec::new();
        for light in [SkyLight::GoldenHour, SkyLight::BlueHour, SkyLight::Night] {
            for [from, to] in windows.of(light) {
                let band = SkyBand {
                    light,
                    at: [show(*from), show(*to)],
                };
                if band.at[1] > plan.from && band.at[0] < plan.latest_wrap {
                    out.push(band);
                }
            }
        }
        out.sort_by_key(|band| band.at);
        out
    }
}

fn windows(
    place: &Place,
    [latitude, longitude]: [f64; 2],
    zone: &sky::Zone,
    date: sky::Date,
    bands: &sky::Bands,
) -> Result<sky::Windows, sky::Error> {
    let pairs: Vec<(f64, f64)> = place.horizon_deg.iter().map(|[a, e]| (*a, *e)).collect();
    let at = sky::Place::new(latitude, longitude)?;
    sky::Windows::over(&at, &sky::Horizon::new(&pairs)?, zone, date, bands)
}
