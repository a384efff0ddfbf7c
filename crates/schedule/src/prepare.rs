//! From a project's day to a bare instance.

use crate::clocks::Clocks;
use crate::instance::{Begun, Candidate, Instance, Meal};
use model::window::common;
use model::{BarWorth, ClockTime, Day, Finding, Minutes, PlaceId, Project, Setup, SetupId};
use std::collections::BTreeMap;

/// The one place of a plan that names none.
pub(crate) const NOWHERE: &str = "here";

/// When the sky gives a setup the light it asks for.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Light {
    /// It asks for none.
    Any,
    /// Within these, minutes passed since midnight, rising; empty for never on this day.
    Within(Vec<[i64; 2]>),
    /// It can't be known, for this reason.
    Unknown(String),
}

/// What a bar's first, second, third … setup to cut to is worth, against each other: a choice of our own, with
/// less for each one more.
const OPTION_VALUES: [i64; 10] = [100, 60, 40, 27, 18, 12, 8, 5, 4, 3];

/// What a day is planned from.
pub struct Given<'a> {
    /// The document.
    pub project: &'a Project,
    /// The day.
    pub day: &'a Day,
    /// Seconds of song that a setup's passes each run over, at the song's own speed.
    pub lengths: &'a dyn Fn(&Setup) -> Option<f64>,
    /// The bars of the song.
    pub bars: &'a [BarWorth],
    /// The sky.
    pub light: &'a dyn Fn(&Setup) -> Light,
    /// Changes of the clock.
    pub clocks: Clocks,
    /// The day as it stands, when it has begun.
    pub begun: Option<Now>,
    /// Shot on an earlier day: it counts for the song and for `after`.
    pub shot_before: &'a [SetupId],
    /// When the next day of the plan is called, minutes passed since this one's midnight.
    pub next_call: Option<i64>,
    /// Whether a later day can take what this one can't: then musts are only preferred.
    pub more_days: bool,
}

/// A day that has begun.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Now {
    /// What the clock shows.
    pub at: ClockTime,
    /// What has been shot, in order.
    pub done: Vec<SetupId>,
    /// Where one is; where the last setup was when none.
    pub place: Option<PlaceId>,
    /// Whether the meal has been taken.
    pub eaten: bool,
}

/// A day ready to be solved.
#[derive(Clone, Debug)]
pub(crate) struct Prepared {
    pub instance: Instance,
    /// What was taken for granted, one sentence each.
    pub notes: Vec<Finding>,
}

/// The place of all setups that have one; nowhere when none has.
fn only_place(project: &Project) -> Option<&str> {
    let places: Vec<&PlaceId> = project
        .setups
        .iter()
        .filter_map(|s| s.place.as_ref())
        .collect();
    match &places[..] {
        [] => Some(NOWHERE),
        [first, rest @ ..] if rest.iter().all(|place| place == first) => Some(first.as_str()),
        _ => None,
    }
}

impl Given<'_> {
    /// Minutes passed when a clock shows `at`.
    pub(crate) fn passed(&self, at: ClockTime) -> i64 {
        self.clocks.passed(i64::from(at.minutes()))
    }

    fn windows(&self, hours: &[[ClockTime; 2]]) -> Option<Vec<[i64; 2]>> {
        let passed = |[from, to]: &[ClockTime; 2]| [self.passed(*from), self.passed(*to)];
        (!hours.is_empty()).then(|| hours.iter().map(passed).collect())
    }

    /// The call and the latest wrap, minutes passed since midnight.
    fn span(&self) -> [i64; 2] {
        let day = self.day;
        let call = self.passed(day.call);
        let most = day
            .longest_minutes
            .unwrap_or(self.project.practice.longest_minutes);
        let longest = call + i64::from(most);
        let latest = match (day.latest_wrap, day.longest_minutes) {
            (Some(wrap), None) => self.passed(wrap),
            (Some(wrap), Some(_)) => self.passed(wrap).min(longest),
            (None, _) => longest,
        };
        let rested = self
            .next_call
            .map(|next| next - i64::from(self.project.practice.turnaround_minutes));
        [
            call,
            rested.map_or(latest, |rested| latest.min(rested.max(call))),
        ]
    }

    /// What `setup` takes; of its passes whole minutes, rounded up.
    fn minutes(&self, setup: &Setup, notes: &mut Vec<Finding>) -> [i64; 3] {
        let usual = &self.project.practice;
        let rate = self.project.brief.rate;
        let minutes = Minutes::of(setup, rate, (self.lengths)(setup), usual);
        if !minutes.known {
            let says = format!(
                "how long the song runs over `{}` is not known; {} s are taken",
                setup.id, usual.usual_stretch_s
            );
            notes.push(Finding::unknown("length-unknown", says).about(&setup.id));
        }
        [minutes.rig, minutes.relight, minutes.shoot()].map(whole)
    }

    /// The setups this day chooses from.
    fn choice(&self) -> Vec<&Setup> {
        let day = self.day;
        let others = || self.project.days.iter().filter(|other| other.id != day.id);
        let elsewhere = |id: &SetupId| {
            let ordered = |other: &Day| other.order.iter().any(|slot| slot.setup == *id);
            others().any(|other| ordered(other) || other.setups.contains(id))
        };
        let chosen = |setup: &&Setup| {
            if self.shot_before.contains(&setup.id) {
                return false;
            }
            match day.setups.is_empty() {
                true => !elsewhere(&setup.id),
                false => {
                    day.setups.contains(&setup.id)
                        || day
                            .order
                            .iter()
                            .any(|slot| slot.setup == setup.id && slot.pinned)
                }
            }
        };
        self.project.setups.iter().filter(chosen).collect()
    }

    /// When everybody whom `setup` needs is there: what all their hours have in common.
    fn people(&self, setup: &Setup) -> Option<Vec<[i64; 2]>> {
        let mut common: Option<Vec<[i64; 2]>> = None;
        for id in &setup.people {
            if let Some(person) = self.project.person(id)
                && let Some(hours) = self.windows(&person.hours)
            {
                common = Some(both(common.as_deref(), &hours));
            }
        }
        common
    }

    pub(crate) fn prepare(&self) -> Prepared {
        let (project, day, practice) = (self.project, self.day, &self.project.practice);
        let mut notes = Vec::new();
        let only_place = only_place(project);
        let mut setups = self.candidates(only_place, &mut notes);
        let chosen: Vec<String> = setups.iter().map(|setup| setup.id.clone()).collect();
        // What earlier days hold stands in the bars as done, in no state that forbids anything.
        let mut done: Vec<String> = Vec::new();
        for id in self.shot_before {
            if !chosen.iter().any(|known| known == id.as_str()) {
                setups.push(Candidate {
                    state: i64::MIN,
                    ..free(id.as_str(), only_place.unwrap_or(NOWHERE))
                });
                done.push(id.to_string());
            }
        }
        let [call, latest_wrap] = self.span();
        if self
            .next_call
            .is_some_and(|next| latest_wrap == next - i64::from(practice.turnaround_minutes))
        {
            let rest = practice.turnaround_minutes;
            let says = format!("the wrap is held to {rest} min before the next call");
            notes.push(Finding::note("rest", says));
        }
        let mut start_place = day.start_place.as_ref().map(PlaceId::to_string);
        let meal_minutes = day.meal_minutes.unwrap_or(practice.meal_minutes);
        let mut meal = (meal_minutes > 0).then(|| Meal {
            minutes: i64::from(meal_minutes),
            latest_start_after_call: i64::from(practice.meal_by_minutes),
        });
        let mut begun = (!done.is_empty()).then(|| Begun {
            now: call,
            done: done.clone(),
        });
        if let Some(now) = &self.begun {
            let at = self.passed(now.at);
            let last = now.done.last().and_then(|id| project.setup(id));
            let there = now
                .place
                .as_ref()
                .or(last.and_then(|setup| setup.place.as_ref()));
            start_place = there.map(PlaceId::to_string).or(start_place);
            done.extend(now.done.iter().map(SetupId::to_string));
            done.retain(|id| setups.iter().any(|setup| setup.id == *id));
            begun = Some(Begun { now: at, done });
            if now.eaten {
                meal = None;
            } else if let Some(meal) = &mut meal
                && at > call + meal.latest_start_after_call
            {
                let says = "the meal is overdue: it is planned for now";
                notes.push(Finding::warning("meal-overdue", says));
                meal.latest_start_after_call = at - call;
            }
        }
        let travel_minutes = self.ways(&setups, start_place.as_deref(), &mut notes);
        let value = |bar: &BarWorth| i64::from(bar.value);
        Prepared {
            instance: Instance {
                call,
                latest_wrap,
                start_place,
                travel_minutes,
                setups,
                meal,
                bar_values: self.bars.iter().map(value).collect(),
                option_values: OPTION_VALUES.to_vec(),
                begun,
                clocks: self.clocks,
            },
            notes,
        }
    }

    /// What there is to choose from, with only what is shot on this day in its `after`.
    fn candidates(&self, only_place: Option<&str>, notes: &mut Vec<Finding>) -> Vec<Candidate> {
        let mut setups = Vec::new();
        for setup in self.choice() {
            let Some(place) = setup.place.as_ref().map(PlaceId::as_str).or(only_place) else {
                let says = format!("`{}` has no place, so it can't stand in a day", setup.id);
                let found = Finding::unknown("no-place", says).about(&setup.id);
                notes.push(found.mended_by("write `place`"));
                continue;
            };
            let pin = self
                .day
                .order
                .iter()
                .find(|slot| slot.setup == setup.id && slot.pinned);
            setups.push(self.candidate(setup, place, pin.is_some(), notes));
            if let Some(slot) = pin
                && let Some(last) = setups.last_mut()
            {
                pin_down(
                    last,
                    self.passed(slot.shoot.unwrap_or(slot.start)),
                    slot.shoot.is_some(),
                );
            }
        }
        let chosen: Vec<String> = setups.iter().map(|setup| setup.id.clone()).collect();
        for setup in &mut setups {
            // What was shot on an earlier day, or stands in another day's order, is no reason to wait.
            setup.after.retain(|id| {
                let known = chosen.contains(id);
                let before = self.shot_before.iter().any(|other| other.as_str() == id);
                if !known && !before {
                    let says = format!(
                        "`{}` comes after `{id}`, which is not shot on this day",
                        setup.id
                    );
                    let found = Finding::unknown("after-another-day", says);
                    notes.push(found.mended_by("make sure that it was shot before"));
                }
                known
            });
        }
        setups
    }

    fn candidate(
        &self,
        setup: &Setup,
        place: &str,
        pinned: bool,
        notes: &mut Vec<Finding>,
    ) -> Candidate {
        let [rig_minutes, relight_minutes, shoot_minutes] = self.minutes(setup, notes);
        let mut access = self
            .project
            .places
            .iter()
            .find(|known| known.id.as_str() == place)
            .and_then(|known| self.windows(&known.access));
        let mut light = match (self.light)(setup) {
            Light::Any => None,
            Light::Within(windows) => Some(windows),
            Light::Unknown(why) => {
                let says = format!("the light `{}` asks for is not kept: {why}", setup.id);
                notes.push(Finding::unknown("light-unknown", says).about(&setup.id));
                None
            }
        };
        let mut light_is: Vec<&str> = light.iter().map(|_| "its light").collect();
        for (hours, name) in [
            (self.windows(&setup.hours), "its hours"),
            (self.people(setup), "the hours of its people"),
        ] {
            if let Some(hours) = hours {
                light = Some(both(light.as_deref(), &hours));
                light_is.push(name);
            }
        }
        // Windows of other hours than the day's would only be read out.
        let [call, latest] = self.span();
        let touches = |[open, close]: &[i64; 2]| *close > call && *open < latest;
        for windows in light.iter_mut().chain(&mut access) {
            windows.retain(touches);
        }
        let bars = self.bars.iter().enumerate();
        Candidate {
            rig_minutes,
            relight_minutes,
            shoot_minutes,
            rig_group: setup.rig_group.clone(),
            access,
            light,
            must: setup.must || pinned,
            state: i64::from(setup.state),
            after: setup.after.iter().map(SetupId::to_string).collect(),
            bars: bars
                .filter(|(_, bar)| bar.setups.contains(&setup.id))
                .map(|(at, _)| at as i64)
                .collect(),
            light_is: light_is.join(" and "),
            ..free(setup.id.as_str(), place)
        }
    }

    /// Minutes between the places of the day: as said at either end, else what is usual.
    fn ways(
        &self,
        setups: &[Candidate],
        start: Option<&str>,
        notes: &mut Vec<Finding>,
    ) -> BTreeMap<String, BTreeMap<String, i64>> {
        let mut places: Vec<&str> = start.into_iter().collect();
        for setup in setups {
            if !places.contains(&setup.place.as_str()) {
                places.push(&setup.place);
            }
        }
        let mut out: BTreeMap<String, BTreeMap<String, i64>> = BTreeMap::new();
        for (nth, from) in places.iter().enumerate() {
            for (other, to) in places.iter().enumerate() {
                if from == to {
                    continue;
                }
                let usual = self.project.practice.travel_minutes;
                let way = self.project.way(from, to, usual);
                if !way.said && nth < other {
                    let says = format!(
                        "how long it takes from `{from}` to `{to}` is not said; {usual} min are taken"
                    );
                    notes.push(Finding::unknown("travel-unknown", says));
                }
                out.entry((*from).into())
                    .or_default()
                    .insert((*to).into(), whole(way.minutes));
            }
        }
        out
    }
}

/// Minutes as a day is planned in, rounded up and no more than two days.
fn whole(minutes: f64) -> i64 {
    // A hair below, so that what is whole but for the rounding of a float stays whole.
    (minutes - 1e-6).ceil().clamp(0.0, 2880.0) as i64
}

/// A setup of which nothing is asked.
fn free(id: &str, place: &str) -> Candidate {
    Candidate {
        id: id.into(),
        place: place.into(),
        rig_minutes: 0,
        relight_minutes: 0,
        shoot_minutes: 0,
        rig_group: None,
        access: None,
        light: None,
        must: false,
        state: 0,
        after: Vec::new(),
        bars: Vec::new(),
        light_is: String::new(),
    }
}

/// Holds `setup` at the minute `at`: of its shoot, or of its rig.
fn pin_down(setup: &mut Candidate, at: i64, of_shoot: bool) {
    let shoot = match of_shoot {
        true => at,
        false => at + setup.rig_minutes,
    };
    setup.light = Some(vec![[shoot, shoot + setup.shoot_minutes]]);
    // The pin is the maker's word against the windows; what it breaks is said elsewhere.
    setup.access = None;
}

/// What two lists of windows have in common; `None` is any time.
fn both(a: Option<&[[i64; 2]]>, b: &[[i64; 2]]) -> Vec<[i64; 2]> {
    a.map_or_else(|| b.to_vec(), |a| common(a, b))
}
