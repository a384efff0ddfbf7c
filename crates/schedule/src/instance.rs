//! The bare problem: setups with minutes and windows, without a project. Anybody can write one and
//! check an answer against another solver.

use crate::clocks::Clocks;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// Setups to choose from and to put in order, and what a day allows. Times are whole minutes after the
/// day's midnight and count on past it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Instance {
    /// When work begins.
    pub call: i64,
    /// When everything must have ended.
    pub latest_wrap: i64,
    /// Where one is at the call; from nowhere the first place is reached without travel.
    #[serde(default)]
    pub start_place: Option<String>,
    /// Minutes from place to place, load-out and load-in included; each way by itself.
    #[serde(default)]
    pub travel_minutes: BTreeMap<String, BTreeMap<String, i64>>,
    /// What can be shot.
    pub setups: Vec<Candidate>,
    /// The meal, where one is to be kept.
    #[serde(default)]
    pub meal: Option<Meal>,
    /// What each bar of the song is worth.
    pub bar_values: Vec<i64>,
    /// What a bar's first, second, third … setup adds, times the bar's value.
    pub option_values: Vec<i64>,
    /// The day as it stands, when it has begun.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub begun: Option<Begun>,
    /// How minutes are shown to a person; not part of the bare problem.
    #[serde(skip)]
    pub clocks: Clocks,
}

/// A setup as the solver sees it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Candidate {
    /// Its id.
    pub id: String,
    /// Where.
    pub place: String,
    /// Minutes to rig.
    pub rig_minutes: i64,
    /// Minutes instead of the rig, right after a setup at the same place with the same rig group.
    #[serde(default)]
    pub relight_minutes: i64,
    /// Minutes to shoot.
    pub shoot_minutes: i64,
    /// Setups of one group stand on one rig.
    #[serde(default)]
    pub rig_group: Option<String>,
    /// When one may be there: rig and shoot lie within one of them. None for any time; an empty list for never.
    #[serde(default)]
    pub access: Option<Vec<[i64; 2]>>,
    /// When the light is right: the shoot lies within one of them. None for any time.
    #[serde(default)]
    pub light: Option<Vec<[i64; 2]>>,
    /// Whether the day can't do without it.
    #[serde(default)]
    pub must: bool,
    /// Performer state: a setup never follows one of a higher state.
    #[serde(default)]
    pub state: i64,
    /// Setups that are chosen too, and have ended before this one begins.
    #[serde(default)]
    pub after: Vec<String>,
    /// The bars it holds, as places in `bar_values`, from 0; see [`Instance::first_bar`].
    #[serde(default)]
    pub bars: Vec<i64>,
    /// What the windows of `light` are of, in words; "its light" where it is empty. Not part of the bare problem.
    #[serde(skip)]
    pub light_is: String,
}

/// The meal: right after a setup or at the call.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Meal {
    /// How long it takes.
    pub minutes: i64,
    /// It starts so many minutes after the call at the latest, on a day whose wrap is later than that.
    pub latest_start_after_call: i64,
}

/// A day that has begun.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Begun {
    /// What the clock says.
    pub now: i64,
    /// What has been shot, in order. It counts for the value, for states and for `after`. The rig of the
    /// last one stands yet when one is still at its place (`start_place`).
    #[serde(default)]
    pub done: Vec<String>,
}

/// What is wrong with an instance, in one sentence.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum Error {
    /// A number of minutes below zero or beyond [`MOST_MINUTES`].
    #[error("{what} is {got} minutes; write a whole number from 0 to {MOST_MINUTES}")]
    Minutes {
        /// What it is of.
        what: String,
        /// What was given.
        got: i64,
    },
    /// A value below zero or beyond [`MOST_VALUE`].
    #[error("{what} is {got}; write a whole number from 0 to {MOST_VALUE}")]
    Value {
        /// What it is of.
        what: String,
        /// What was given.
        got: i64,
    },
    /// The wrap lies before the call.
    #[error("the latest wrap ({wrap}) lies before the call ({call}); a wrap past midnight counts on, such as {example} for two in the morning", example = 26 * 60)]
    WrapBeforeCall {
        /// The call.
        call: i64,
        /// The wrap.
        wrap: i64,
    },
    /// Two setups of one id.
    #[error("two setups are called `{0}`; give each an id of its own")]
    EqualIds(String),
    /// A setup without an id.
    #[error("the setup at place {0} of the list has no id; give it one")]
    NoId(usize),
    /// More setups than can be solved for one day.
    #[error(
        "{got} setups are too many for one day, at most {MOST_SETUPS} can be weighed; leave out what is surely not shot, or spread them over several days"
    )]
    TooMany {
        /// How many.
        got: usize,
    },
    /// A way without minutes.
    #[error("no travel time is given from `{from}` to `{to}`; add `travel_minutes.{from}.{to}`")]
    NoWay {
        /// From.
        from: String,
        /// To.
        to: String,
    },
    /// A window that closes before it opens.
    #[error(
        "the {kind} window [{open}, {close}] of `{setup}` closes before it opens; past midnight minutes count on"
    )]
    Window {
        /// Whose.
        setup: String,
        /// `access` or `light`.
        kind: &'static str,
        /// When it opens.
        open: i64,
        /// When it closes.
        close: i64,
    },
    /// A setup named that there is not.
    #[error("{what} names the setup `{name}`, which there is not")]
    Unknown {
        /// Where it is named.
        what: String,
        /// The name.
        name: String,
    },
    /// A bar outside the song.
    #[error(
        "`{setup}` holds bar {bar}, but `bar_values` has {count}, counted from 0; leave the bar out or add its value"
    )]
    Bar {
        /// Which setup.
        setup: String,
        /// Which bar.
        bar: i64,
        /// How many there are.
        count: usize,
    },
    /// A setup said to be done more than once.
    #[error("`{0}` is said to be done twice")]
    DoneTwice(String),
    /// Setups that wait for each other.
    #[error("{}, so it can never be shot; take one `after` away", waiting(.0))]
    Loop(Vec<String>),
}

/// The longest time that is taken, minutes: far beyond a day, so that problems of another scale can be put.
pub const MOST_MINUTES: i64 = 10_000_000;
/// The largest value of a bar or an option.
pub const MOST_VALUE: i64 = 1_000_000;
/// The most setups that are weighed for one day.
pub const MOST_SETUPS: usize = 64;

impl Candidate {
    /// Whether `next`, right after it, stands on its rig.
    pub(crate) fn leaves_rig_to(&self, next: &Self) -> bool {
        self.place == next.place && self.rig_group.is_some() && self.rig_group == next.rig_group
    }
}

fn minutes(what: &dyn Fn() -> String, got: i64) -> Result<(), Error> {
    match (0..=MOST_MINUTES).contains(&got) {
        true => Ok(()),
        false => Err(Error::Minutes { what: what(), got }),
    }
}

fn value(what: &dyn Fn() -> String, got: i64) -> Result<(), Error> {
    match (0..=MOST_VALUE).contains(&got) {
        true => Ok(()),
        false => Err(Error::Value { what: what(), got }),
    }
}

impl Instance {
    /// Makes every must optional and worth more than all that is not one: as many as fit, and then the best day.
    pub(crate) fn prefer_musts(&mut self) {
        let first = self.option_values.first().copied().unwrap_or(0);
        let options: i64 = self.option_values.iter().sum();
        let all: i64 = self.bar_values.iter().sum::<i64>() * options;
        if first == 0 {
            self.option_values = vec![1];
            self.bar_values.fill(0);
        }
        let worth = (all / first.max(1) + 1).min(MOST_VALUE);
        for setup in &mut self.setups {
            if std::mem::take(&mut setup.must) {
                setup.bars.push(self.bar_values.len() as i64);
                self.bar_values.push(worth);
            }
        }
    }

    /// Looks at everything that could be wrong, so that the solver need not.
    ///
    /// # Errors
    /// [`Error`], the first that is found.
    pub fn checked(&self) -> Result<(), Error> {
        minutes(&|| "the call".into(), self.call)?;
        minutes(&|| "the latest wrap".into(), self.latest_wrap)?;
        if self.latest_wrap < self.call {
            return Err(Error::WrapBeforeCall {
                call: self.call,
                wrap: self.latest_wrap,
            });
        }
        if let Some(meal) = &self.meal {
            minutes(&|| "the meal".into(), meal.minutes)?;
            let limit = meal.latest_start_after_call;
            minutes(&|| "the meal's latest start after the call".into(), limit)?;
        }
        for (bar, got) in self.bar_values.iter().enumerate() {
            value(&|| format!("the value of bar {bar}"), *got)?;
        }
        for (nth, got) in self.option_values.iter().enumerate() {
            value(&|| format!("the value of option {}", nth + 1), *got)?;
        }
        for (from, ways) in &self.travel_minutes {
            for (to, got) in ways {
                minutes(&|| format!("the way from `{from}` to `{to}`"), *got)?;
            }
        }
        if self.setups.len() > MOST_SETUPS {
            return Err(Error::TooMany {
                got: self.setups.len(),
            });
        }
        for (nth, setup) in self.setups.iter().enumerate() {
            if setup.id.is_empty() {
                return Err(Error::NoId(nth + 1));
            }
            if self.setups[..nth].iter().any(|other| other.id == setup.id) {
                return Err(Error::EqualIds(setup.id.clone()));
            }
            self.check_setup(setup)?;
        }
        self.check_begun()?;
        self.check_ways()?;
        match self.looped() {
            Some(looped) => Err(Error::Loop(looped)),
            None => Ok(()),
        }
    }

    fn check_setup(&self, setup: &Candidate) -> Result<(), Error> {
        let id = &setup.id;
        minutes(&|| format!("the rig of `{id}`"), setup.rig_minutes)?;
        minutes(&|| format!("the relight of `{id}`"), setup.relight_minutes)?;
        minutes(&|| format!("the shoot of `{id}`"), setup.shoot_minutes)?;
        for (kind, windows) in [("access", &setup.access), ("light", &setup.light)] {
            for [open, close] in windows.iter().flatten().copied() {
                minutes(&|| format!("the {kind} window of `{id}`"), open)?;
                minutes(&|| format!("the {kind} window of `{id}`"), close)?;
                if close < open {
                    return Err(Error::Window {
                        setup: id.clone(),
                        kind,
                        open,
                        close,
                    });
                }
            }
        }
        for bar in &setup.bars {
            let at = usize::try_from(*bar - self.first_bar());
            if at.is_ok_and(|at| at < self.bar_values.len()) {
                continue;
            }
            return Err(Error::Bar {
                setup: id.clone(),
                bar: *bar,
                count: self.bar_values.len(),
            });
        }
        for name in &setup.after {
            self.known(name, || format!("`after` of `{id}`"))?;
        }
        Ok(())
    }

    fn check_begun(&self) -> Result<(), Error> {
        let Some(begun) = &self.begun else {
            return Ok(());
        };
        if !(0..=MOST_MINUTES).contains(&begun.now) {
            return Err(Error::Minutes {
                what: "the present time".into(),
                got: begun.now,
            });
        }
        for (nth, name) in begun.done.iter().enumerate() {
            self.known(name, || "what is done".into())?;
            if begun.done[..nth].contains(name) {
                return Err(Error::DoneTwice(name.clone()));
            }
        }
        Ok(())
    }

    fn known(&self, name: &str, what: impl Fn() -> String) -> Result<(), Error> {
        if self.setups.iter().any(|setup| setup.id == name) {
            return Ok(());
        }
        Err(Error::Unknown {
            what: what(),
            name: name.to_owned(),
        })
    }

    /// Every way that a day could take has its minutes.
    fn check_ways(&self) -> Result<(), Error> {
        let done = self.begun.iter().flat_map(|begun| &begun.done);
        let done: Vec<&String> = done.collect();
        let open: Vec<&Candidate> = self
            .setups
            .iter()
            .filter(|setup| !done.contains(&&setup.id))
            .collect();
        let from = self
            .start_place
            .iter()
            .chain(open.iter().map(|setup| &setup.place));
        for from in from {
            for to in open.iter().map(|setup| &setup.place) {
                if from != to && self.way(from, to).is_none() {
                    return Err(Error::NoWay {
                        from: from.clone(),
                        to: to.clone(),
                    });
                }
            }
        }
        Ok(())
    }

    /// What the first of `bar_values` is called: 0; or 1, as musicians count, when no setup names a bar 0 and one
    /// names the bar that only this count has.
    pub fn first_bar(&self) -> i64 {
        let mut bars = self.setups.iter().flat_map(|setup| &setup.bars);
        let count = self.bar_values.len() as i64;
        let from_one = bars.clone().all(|bar| *bar != 0) && bars.any(|bar| *bar == count);
        i64::from(from_one)
    }

    /// Minutes from `from` to `to`; 0 within a place.
    pub(crate) fn way(&self, from: &str, to: &str) -> Option<i64> {
        if from == to {
            return Some(0);
        }
        self.travel_minutes.get(from)?.get(to).copied()
    }

    /// Setups that wait for each other, in their order round the loop.
    fn looped(&self) -> Option<Vec<String>> {
        let at = |name: &String| self.setups.iter().position(|setup| setup.id == *name);
        // 0 unseen, 1 on the way, 2 clear.
        let mut seen = vec![0_u8; self.setups.len()];
        for root in 0..self.setups.len() {
            let mut path: Vec<(usize, usize)> = Vec::new();
            if seen[root] == 0 {
                seen[root] = 1;
                path.push((root, 0));
            }
            while let Some((here, next)) = path.last_mut() {
                let here = *here;
                let Some(name) = self.setups[here].after.get(*next) else {
                    seen[here] = 2;
                    path.pop();
                    continue;
                };
                *next += 1;
                let Some(to) = at(name) else { continue };
                match seen[to] {
                    0 => {
                        seen[to] = 1;
                        path.push((to, 0));
                    }
                    1 => {
                        let round = path.iter().skip_while(|(one, _)| *one != to);
                        return Some(round.map(|(one, _)| self.setups[*one].id.clone()).collect());
                    }
                    _ => {}
                }
            }
        }
        None
    }
}

/// `a` waits for itself, or several for each other.
fn waiting(names: &[String]) -> String {
    match names {
        [one] => format!("`{one}` waits for itself"),
        [first, rest @ ..] => format!("`{first}` waits for {}, and that for it", list(rest)),
        [] => String::new(),
    }
}

/// `a`, `b` and `c`, in code quotes.
pub(crate) fn list(names: &[String]) -> String {
    let quoted: Vec<String> = names.iter().map(|name| format!("`{name}`")).collect();
    match quoted.split_last() {
        None => String::new(),
        Some((last, [])) => last.clone(),
        Some((last, rest)) => format!("{} and {last}", rest.join(", ")),
    }
}
