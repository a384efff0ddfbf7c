//! The day: the document, the song's bars and the sky, joined for the solver.

use crate::practice::Customs;
use crate::{Error, Job, Progress};
use cautions::Caution;
use model::{
    ClockTime, Day, DayId, Edit, Place, Project, Purpose, Setup, SetupId, SkyLight, Slot, SongMap,
    Wish,
};
use schedule::{BarWorth, Clocks, DayPlan, Depth, Given, Light, Now, SkyBand};
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
    /// What a person should know, one sentence each.
    pub notes: Vec<String>,
}

/// One day, with what other crafts say of it.
#[derive(Clone, Debug, Serialize)]
pub struct OneDay {
    /// The day.
    #[serde(flatten)]
    pub plan: DayPlan,
    /// The sky over the first place whose position is known, around the day's hours.
    pub sky: Vec<SkyBand>,
    /// What breaks in the order that stands in the plan, one sentence each; none when nothing stands there.
    pub typed: Vec<String>,
    /// What runs short in the day found, one sentence each: batteries and cards.
    pub conflicts: Vec<String>,
    /// What calls for care in it: hours, rest, meal, weather, working alone.
    pub cautions: Vec<Caution>,
}

/// Setups up to which why each is left out is worked out without being asked.
const EXPLAINED: usize = 14;

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
        if project.days.is_empty() {
            return Err(Error::NoDays);
        }
        if project.setups.is_empty() {
            return Err(Error::NoSetups);
        }
        let mut days: Vec<&Day> = project.days.iter().collect();
        days.sort_by(|a, b| (&a.date, a.call).cmp(&(&b.date, b.call)));
        if let Some(id) = &options.day {
            days.retain(|day| day.id.as_str() == id);
            if days.is_empty() {
                return Err(Error::NoDay(id.clone()));
            }
        }
        if let Some(id) = &options.why
            && !project.setups.iter().any(|setup| setup.id.as_str() == id)
        {
            return Err(Error::NoSetup(id.clone()));
        }
        progress.stage("planning the day", 0);
        let bars = bars(project, map.as_ref(), &mut notes);
        let whole_s = project.song.as_ref().map(|song| song.length.seconds());
        let lengths = |setup: &Setup| power::planned_s(setup, map.as_ref(), whole_s);
        let customs = Customs::of(&project.practice);
        let practice = customs.day.clone();
        let usual = schedule::usual_seconds(project.setups.len());
        let seconds = options.seconds.unwrap_or(usual);
        let mut shot_before: Vec<SetupId> = Vec::new();
        let mut out = Vec::new();
        let mut why = None;
        for (nth, day) in days.iter().enumerate() {
            let until = Instant::now() + Duration::from_secs(seconds);
            let stop = || Instant::now() > until || !progress.keep_going();
            let sky = DaySky::over(project, day, &customs.bands, &mut notes);
            let light = |setup: &Setup| sky.light(project, setup);
            let given = Given {
                project,
                day,
                lengths: &lengths,
                bars: &bars,
                light: &light,
                clocks: sky.clocks,
                practice: &practice,
                begun: options.now.clone(),
                shot_before: &shot_before,
                next_call: next_call(project, day),
                more_days: nth + 1 < days.len(),
            };
            let said = |source| Error::Day {
                day: day.id.to_string(),
                source,
            };
            let depth = Depth {
                late: true,
                why: project.setups.len() <= EXPLAINED,
            };
            let plan = schedule::plan(&given, depth, &stop).map_err(said)?;
            if let Some(id) = &options.why
                && let Ok(id) = SetupId::new(id.as_str())
                && why.is_none()
            {
                why = schedule::why(&given, &plan, &id, &stop).map_err(said)?;
            }
            let typed = match options.now {
                None => schedule::broken(&given),
                Some(_) => Vec::new(),
            };
            shot_before.extend(plan.order.iter().map(|strip| strip.setup.clone()));
            let (conflicts, cautions) = self.judged(day, &plan, &lengths, &customs)?;
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

    /// Writes the days found into the plan, each in one edit.
    ///
    /// # Errors
    /// When an edit is refused or can't be saved.
    pub fn keep_days(&mut self, report: &DaysReport) -> Result<(), Error> {
        for one in &report.days {
            let Some(was) = self
                .project()
                .days
                .iter()
                .find(|day| day.id == one.plan.day)
            else {
                continue;
            };
            let was = was.clone();
            let mut day = was.clone();
            day.order = slots(&one.plan);
            day.meal = one.plan.meal.map(|[from, _]| from);
            self.edit(&Edit::change_of(&was, &day))?;
        }
        Ok(())
    }

    /// The instant of what a clock of `day` shows, seconds since 1970-01-01 00:00 UTC; by the clock of
    /// Greenwich where no zone is known.
    ///
    /// # Errors
    /// When the zone or the date is none.
    pub fn instants(&self, day: &DayId) -> Result<impl Fn(ClockTime) -> i64 + use<>, Error> {
        let project = self.project();
        let known = project.days.iter().find(|known| known.id == *day);
        let day = known.ok_or_else(|| Error::NoDay(day.to_string()))?;
        let zone = sky::Zone::named(zone_of(project, day).unwrap_or("UTC"))?;
        let date = sky::date(&day.date)?;
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
        customs: &Customs,
    ) -> Result<(Vec<String>, Vec<Caution>), Error> {
        let habits = &customs.habits;
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
            let power = power::day_power(&timed, known, lengths, habits);
            conflicts.extend(power.shortages.iter().map(ToString::to_string));
            if let Some(fix) = power.fixes.first()
                && !power.shortages.is_empty()
            {
                conflicts.push(format!("what mends the first of them: {fix}"));
            }
            let order: Vec<SetupId> = known.order.iter().map(|slot| slot.setup.clone()).collect();
            let cards = power::card_plan(&timed, &order, lengths, habits);
            if cards.short_gb > 0.0 {
                conflicts.push(format!(
                    "the cards hold {:.0} GB and the day records {:.0} GB: {:.0} GB have no card; get one more, or copy and check one between setups",
                    cards.there_gb, cards.needed_gb, cards.short_gb
                ));
            }
        }
        let dark = |day: &Day, slot: &Slot| crate::night::is_dark(&timed, day, slot, customs);
        let given = cautions::Given {
            dark: Some(&dark),
            by_air: None,
        };
        let mut all = cautions::of(&timed, &customs.cautions, &given)?;
        all.retain(|caution| caution.kind.is_of_the_day() && caution.at.days.contains(&day.id));
        Ok((conflicts, all))
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

/// What each bar of the song is worth: its length in tenths of a second, more where a wish asks for more setups
/// than is usual, less where for fewer; as far as there is a voice, the same again for setups in which somebody
/// performs; and half of it again for the setups that a wish names. Without a song each setup stands for a bar of
/// its own. Some bars come up to three times, with the setups that they count for.
fn bars(project: &Project, map: Option<&SongMap>, notes: &mut Vec<String>) -> Vec<BarWorth> {
    let Some(map) = map else {
        notes.push("without a song's bars every setup counts alike".into());
        let one = |(nth, setup): (usize, &Setup)| BarWorth {
            number: nth as u32 + 1,
            value: 10,
            setups: vec![setup.id.clone()],
        };
        return project.setups.iter().enumerate().map(one).collect();
    };
    let usual = coverage::Options::default();
    let covered = coverage::coverage(map, &project.setups, &project.wishes, &[], &usual);
    let performs = |id: &SetupId| {
        let setup = project.setup(id);
        setup.is_some_and(|setup| setup.purpose == Purpose::Performance)
    };
    let mut out = Vec::new();
    for (bar, known) in covered.bars.iter().zip(&map.bars) {
        let wanted = f64::from(bar.wanted) / f64::from(usual.wanted);
        let length = (bar.end_s - bar.start_s) * 10.0 * wanted;
        let mut count = |share: f64, setups: Vec<SetupId>| {
            let value = (length * share).round().clamp(0.0, 10_000.0) as u32;
            if value > 0 && !setups.is_empty() {
                out.push(BarWorth {
                    number: bar.number,
                    value,
                    setups,
                });
            }
        };
        let planned = || bar.planned.iter().cloned();
        count(1.0, planned().collect());
        count(
            f64::from(known.voice),
            planned().filter(|id| performs(id)).collect(),
        );
        let wished = |id: &SetupId| {
            let here = |wish: &Wish| {
                let stretches = map.sections_called(&wish.section);
                stretches.iter().any(|at| at.overlap(known.at).is_some())
            };
            project
                .wishes
                .iter()
                .any(|wish| wish.setups.contains(id) && here(wish))
        };
        count(0.5, planned().filter(|id| wished(id)).collect());
    }
    out
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
        .filter(|other| (&other.date, other.call) > (&day.date, day.call));
    let next = later.min_by_key(|other| (&other.date, other.call))?;
    let zone = sky::Zone::named(zone_of(project, day).unwrap_or("UTC")).ok()?;
    let (date, other) = (sky::date(&day.date).ok()?, sky::date(&next.date).ok()?);
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
    let (mut same, mut other) = (0, i64::from(ClockTime::MOST_MINUTES));
    let by = zone.set_on_minutes(date, other)?;
    if by == 0 {
        return Ok(Clocks::default());
    }
    while other - same > 1 {
        let middle = same + (other - same) / 2;
        match zone.set_on_minutes(date, middle)? == by {
            true => other = middle,
            false => same = middle,
        }
    }
    Ok(Clocks {
        change: Some((other, by)),
    })
}

/// The sky over the places of a day, in minutes that pass since its midnight.
struct DaySky {
    clocks: Clocks,
    /// By place and light.
    windows: BTreeMap<(String, SkyLight), Vec<[i64; 2]>>,
    moon: BTreeMap<String, Vec<[i64; 2]>>,
    /// Why the sky over a place is not known.
    unknown: BTreeMap<String, String>,
    /// The first place whose sky is known.
    shown: Option<String>,
}

const LIGHTS: [SkyLight; 7] = [
    SkyLight::Day,
    SkyLight::DirectSun,
    SkyLight::Shade,
    SkyLight::GoldenHour,
    SkyLight::BlueHour,
    SkyLight::Night,
    SkyLight::FullDark,
];

impl DaySky {
    fn over(project: &Project, day: &Day, bands: &sky::Bands, notes: &mut Vec<String>) -> Self {
        let mut out = Self {
            clocks: Clocks::default(),
            windows: BTreeMap::new(),
            moon: BTreeMap::new(),
            unknown: BTreeMap::new(),
            shown: None,
        };
        let zone = zone_of(project, day).map(sky::Zone::named);
        let date = sky::date(&day.date);
        let (zone, date) = match (zone, date) {
            (Some(Ok(zone)), Ok(date)) => (zone, date),
            (Some(Err(error)), _) | (_, Err(error)) => {
                return out.nowhere(project, &error.to_string());
            }
            (None, _) => {
                return out.nowhere(project, "no time zone is written at the day or its places");
            }
        };
        match clocks(&zone, date) {
            Ok(clocks) => out.clocks = clocks,
            Err(error) => return out.nowhere(project, &error.to_string()),
        }
        if let Some((at, by)) = out.clocks.change {
            let (from, to) = (
                ClockTime::from_minutes(at as u32).unwrap_or_default(),
                ClockTime::from_minutes((at + by) as u32).unwrap_or_default(),
            );
            notes.push(format!("clocks are changed on this night: {from} becomes {to}; times are what they show, counted on past midnight"));
        }
        for place in &project.places {
            let id = place.id.to_string();
            match out.place(place, &zone, date, bands) {
                Ok(()) => {
                    let used = |setup: &Setup| setup.place.as_ref() == Some(&place.id);
                    if out.shown.is_none() && project.setups.iter().any(used) {
                        out.shown = Some(id);
                    }
                }
                Err(why) => {
                    out.unknown.insert(id, why);
                }
            }
        }
        out
    }

    fn nowhere(mut self, project: &Project, why: &str) -> Self {
        for place in &project.places {
            self.unknown.insert(place.id.to_string(), why.to_owned());
        }
        self
    }

    fn place(
        &mut self,
        place: &Place,
        zone: &sky::Zone,
        date: sky::Date,
        bands: &sky::Bands,
    ) -> Result<(), String> {
        let said = |error: sky::Error| error.to_string();
        let Some([latitude, longitude]) = place.position_deg else {
            return Err(format!("the place `{}` has no position", place.id));
        };
        let at = sky::Place::new(latitude, longitude).map_err(said)?;
        let pairs: Vec<(f64, f64)> = place.horizon_deg.iter().map(|[a, e]| (*a, *e)).collect();
        let horizon = sky::Horizon::new(&pairs).map_err(said)?;
        let days = sky::days(&at, zone, date, 2, bands).map_err(said)?;
        let first = sky::look(&at, zone.after_minutes(date, 0).map_err(said)?.at).map_err(said)?;
        let end = i64::from(ClockTime::MOST_MINUTES);
        let passed = |when: sky::When| zone.minutes_since(date, when).unwrap_or(0.0);
        // Whole minutes inside: opened at the next, closed at the last.
        let inside = |from: f64, to: f64| [from.ceil() as i64, (to.floor() as i64).min(end)];
        let listed = |intervals: &mut dyn Iterator<Item = &sky::Interval>| {
            joined(intervals.map(|one| inside(passed(one.from), passed(one.to))))
        };
        let events: Vec<&sky::Event> = days.iter().flat_map(|day| &day.events).collect();
        let between = |opens: sky::What, closes: sky::What, open_first: bool| {
            let mut since = open_first.then_some(0.0);
            let mut out = Vec::new();
            for event in &events {
                let at = passed(event.at);
                if event.what == opens {
                    since = since.or(Some(at));
                } else if event.what == closes
                    && let Some(from) = since.take()
                {
                    out.push(inside(from, at));
                }
            }
            out.extend(since.map(|from| inside(from, end as f64)));
            joined(out.into_iter())
        };
        let sun = first.sun.altitude_deg;
        let up = between(
            sky::What::Sunrise,
            sky::What::Sunset,
            sun > sky::SUNRISE_DEG,
        );
        let mut direct = Vec::new();
        for day in &days {
            let found = sky::direct_sun(&at, zone, day.date, &horizon).map_err(said)?;
            direct.extend(listed(&mut found.iter()));
        }
        let direct = joined(direct.into_iter());
        let [civil, _, astronomical] = sky::TWILIGHTS_DEG;
        let id = place.id.to_string();
        for light in LIGHTS {
            let windows = match light {
                SkyLight::Day => up.clone(),
                SkyLight::DirectSun => direct.clone(),
                SkyLight::Shade => without(&up, &direct),
                SkyLight::GoldenHour => listed(&mut days.iter().flat_map(|day| &day.golden_hour)),
                SkyLight::BlueHour => listed(&mut days.iter().flat_map(|day| &day.blue_hour)),
                SkyLight::Night => between(sky::What::CivilDusk, sky::What::CivilDawn, sun < civil),
                SkyLight::FullDark => between(
                    sky::What::AstronomicalDusk,
                    sky::What::AstronomicalDawn,
                    sun < astronomical,
                ),
            };
            self.windows.insert((id.clone(), light), windows);
        }
        let moons = events.iter().find_map(|event| match event.what {
            sky::What::Moonset => Some(true),
            sky::What::Moonrise => Some(false),
            _ => None,
        });
        let moon_up = moons.unwrap_or(first.moon.altitude_deg > 0.0);
        let moon = between(sky::What::Moonrise, sky::What::Moonset, moon_up);
        self.moon.insert(id, moon);
        Ok(())
    }

    /// When `setup` has the light it asks for.
    fn light(&self, project: &Project, setup: &Setup) -> Light {
        if setup.light_of.is_empty() && !setup.moon {
            return Light::Any;
        }
        let Some(place) = &setup.place else {
            return Light::Unknown(format!("`{}` has no place", setup.id));
        };
        let place = place.to_string();
        if let Some(why) = self.unknown.get(&place) {
            return Light::Unknown(why.clone());
        }
        if !project
            .places
            .iter()
            .any(|known| known.id.as_str() == place)
        {
            return Light::Unknown(format!("there is no place `{place}`"));
        }
        let of = |light: &SkyLight| self.windows.get(&(place.clone(), *light));
        let mut windows: Vec<[i64; 2]> = match setup.light_of.is_empty() {
            true => vec![[0, i64::from(ClockTime::MOST_MINUTES)]],
            false => joined(setup.light_of.iter().filter_map(of).flatten().copied()),
        };
        if setup.moon {
            let moon = self.moon.get(&place).map(Vec::as_slice).unwrap_or_default();
            windows = common(&windows, moon);
        }
        Light::Within(windows)
    }

    /// The golden and blue hours and the night that the day of `plan` touches.
    fn bands(&self, plan: &DayPlan) -> Vec<SkyBand> {
        let Some(place) = &self.shown else {
            return Vec::new();
        };
        let show = |passed: i64| {
            let shown = self
                .clocks
                .shown(passed)
                .clamp(0, i64::from(ClockTime::MOST_MINUTES));
            ClockTime::from_minutes(shown as u32).unwrap_or_default()
        };
        let mut out: Vec<SkyBand> = Vec::new();
        for light in [SkyLight::GoldenHour, SkyLight::BlueHour, SkyLight::Night] {
            let windows = self.windows.get(&(place.clone(), light));
            for [from, to] in windows.into_iter().flatten() {
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

/// Windows in order, those that touch made one.
fn joined(windows: impl Iterator<Item = [i64; 2]>) -> Vec<[i64; 2]> {
    let mut all: Vec<[i64; 2]> = windows.filter(|[from, to]| from < to).collect();
    all.sort_unstable();
    let mut out: Vec<[i64; 2]> = Vec::new();
    for [from, to] in all {
        match out.last_mut() {
            // Within a minute: a midnight between two days, rounded inwards on both sides.
            Some(last) if from <= last[1] + 1 => last[1] = last[1].max(to),
            _ => out.push([from, to]),
        }
    }
    out
}

/// What two lists of windows have in common.
fn common(a: &[[i64; 2]], b: &[[i64; 2]]) -> Vec<[i64; 2]> {
    let pairs = a
        .iter()
        .flat_map(|one| b.iter().map(move |other| (one, other)));
    joined(pairs.map(|(one, other)| [one[0].max(other[0]), one[1].min(other[1])]))
}

/// `a` less `b`; both in order.
fn without(a: &[[i64; 2]], b: &[[i64; 2]]) -> Vec<[i64; 2]> {
    let mut out = Vec::new();
    for [from, to] in a {
        let mut left = *from;
        for [cut, end] in b.iter().filter(|[cut, end]| end > from && cut < to) {
            out.push([left, *cut]);
            left = *end;
        }
        out.push([left, *to]);
    }
    out.retain(|[from, to]| from < to);
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn windows_are_joined_cut_and_taken_away() {
        assert_eq!(joined([[5, 9], [0, 3], [4, 6]].into_iter()), [[0, 9]]);
        assert_eq!(
            common(&[[0, 10], [20, 30]], &[[5, 25]]),
            [[5, 10], [20, 25]]
        );
        assert_eq!(
            without(&[[0, 30]], &[[5, 10], [20, 25]]),
            [[0, 5], [10, 20], [25, 30]]
        );
        assert_eq!(without(&[[0, 10]], &[[0, 10]]), Vec::<[i64; 2]>::new());
    }

    #[test]
    fn changes_of_the_clock_are_found() {
        let lisbon = sky::Zone::named("Europe/Lisbon").unwrap();
        let on = |date: &str| clocks(&lisbon, sky::date(date).unwrap()).unwrap().change;
        // Source: Directive 2000/84/EC, at 01:00 UTC on the last Sundays of March and October.
        assert_eq!(on("2026-10-24"), Some((26 * 60, -60)));
        assert_eq!(on("2026-10-25"), Some((2 * 60, -60)));
        assert_eq!(on("2026-03-28"), Some((25 * 60, 60)));
        assert_eq!(on("2026-11-20"), None);
    }
}
