//! What was ticked and written down while shooting, and what it comes to.
//!
//! A log only grows. Every device numbers its own entries from 1, and a correction is a new entry,
//! so logs of several devices can be brought together in any order, in parts and more than once,
//! and always give the same. What holds now follows from the entries: [`SoFar::of`].

use crate::ids::{DayId, DeviceId, KitId, SetupId};
use crate::noun;
use crate::take::Rating;
use serde::{Deserialize, Serialize};
use std::collections::HashSet;

/// The longest note, in bytes.
pub const MAX_NOTE: usize = 4_000;
/// The highest number an entry can have.
pub const MAX_NUMBER: u32 = 1_000_000;
/// The instants an entry can carry, milliseconds since 1970-01-01 00:00 UTC: to the end of 2199.
pub const AT_MS: std::ops::RangeInclusive<i64> = 0..=7_258_118_399_999;

noun! {
    /// One thing ticked or written down while shooting.
    pub struct LogEntry(called: "entry of the log") {
        /// Which device wrote it.
        pub device: DeviceId => "Device",
        /// Its number there, counted from 1.
        pub number: u32 => "Number".range(1.0, MAX_NUMBER as f64),
        /// When, by that device's clock: milliseconds since 1970-01-01 00:00 UTC.
        pub at_ms: i64 => "When".unit("ms").range(0.0, *AT_MS.end() as f64),
        /// On which day of shooting. It may be gone from the plan: it was shot all the same.
        pub day: Option<DayId> => "Day".unchecked(),
        /// What it says.
        pub what: LogWhat => "What it says",
    }
}

/// What an entry of the log says.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "kebab-case")]
pub enum LogWhat {
    /// A pass was shot, or, `done` being false, was not after all.
    Pass {
        /// Of which setup.
        setup: SetupId,
        /// Which, counted from 1.
        pass: u32,
        /// Whether it was.
        done: bool,
    },
    /// A setup is done, or is not after all.
    Setup {
        /// Which.
        setup: SetupId,
        /// Whether it is.
        done: bool,
    },
    /// What the maker thinks of a pass.
    Rating {
        /// Of which setup.
        setup: SetupId,
        /// Which.
        pass: u32,
        /// What of it; [`Rating::Unrated`] takes an earlier one back.
        rating: Rating,
    },
    /// A note.
    Note {
        /// About which setup; about the day when none.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        setup: Option<SetupId>,
        /// About which pass of it.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pass: Option<u32>,
        /// What it says.
        text: String,
    },
    /// A battery was changed for a full one.
    Swap {
        /// Which item of the kit.
        battery: KitId,
    },
    /// A setup will not be shot.
    Drop {
        /// Which.
        setup: SetupId,
    },
    /// A dropped setup will be shot after all.
    Reinstate {
        /// Which.
        setup: SetupId,
    },
    /// The meal was had, or was not after all.
    Meal {
        /// Whether it was.
        taken: bool,
    },
    /// An earlier entry of the same device does not hold: a note or a battery ticked by mistake.
    Withdraw {
        /// Its number.
        number: u32,
    },
}

impl LogWhat {
    /// The setup it is about.
    pub fn setup(&self) -> Option<&SetupId> {
        match self {
            Self::Pass { setup, .. }
            | Self::Setup { setup, .. }
            | Self::Rating { setup, .. }
            | Self::Drop { setup }
            | Self::Reinstate { setup } => Some(setup),
            Self::Note { setup, .. } => setup.as_ref(),
            Self::Swap { .. } | Self::Meal { .. } | Self::Withdraw { .. } => None,
        }
    }

    /// The pass it is about.
    pub fn pass(&self) -> Option<u32> {
        match self {
            Self::Pass { pass, .. } | Self::Rating { pass, .. } => Some(*pass),
            Self::Note { pass, .. } => *pass,
            _ => None,
        }
    }
}

impl LogEntry {
    /// The order in which entries hold: by their time; where that is equal, by device and number.
    pub fn order(&self) -> (i64, &DeviceId, u32) {
        (self.at_ms, &self.device, self.number)
    }
}

/// What a log comes to.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct SoFar {
    /// Each setup something was said of, in the order in which it was first.
    pub setups: Vec<SetupShot>,
    /// Batteries changed, in order of time.
    pub swaps: Vec<Swapped>,
    /// When the meal was had.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub meal_ms: Option<i64>,
    /// Notes about the day as a whole.
    pub notes: Vec<String>,
}

/// What was said of one setup.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SetupShot {
    /// Which.
    pub setup: SetupId,
    /// Since when it is done.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub done_ms: Option<i64>,
    /// Since when it is dropped.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub dropped_ms: Option<i64>,
    /// Its passes something was said of, by their number.
    pub passes: Vec<PassShot>,
    /// Notes about it.
    pub notes: Vec<String>,
}

/// What was said of one pass.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PassShot {
    /// Which, counted from 1.
    pub pass: u32,
    /// When it was shot.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub done_ms: Option<i64>,
    /// What the maker thinks of it.
    pub rating: Rating,
    /// Notes about it.
    pub notes: Vec<String>,
}

/// A battery changed.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Swapped {
    /// Which item of the kit.
    pub battery: KitId,
    /// When.
    pub at_ms: i64,
}

impl SoFar {
    /// What `entries` come to, in whatever order they are given. Later entries hold against earlier
    /// ones; what was withdrawn counts for nothing.
    pub fn of<'a>(entries: impl IntoIterator<Item = &'a LogEntry>) -> Self {
        let mut entries: Vec<&LogEntry> = entries.into_iter().collect();
        entries.sort_by_key(|entry| entry.order());
        let withdrawn: HashSet<(&DeviceId, u32)> = entries
            .iter()
            .filter_map(|entry| match entry.what {
                LogWhat::Withdraw { number } => Some((&entry.device, number)),
                _ => None,
            })
            .collect();
        let mut out = Self::default();
        for entry in entries {
            if !withdrawn.contains(&(&entry.device, entry.number)) {
                out.take(entry);
            }
        }
        out
    }

    fn take(&mut self, entry: &LogEntry) {
        let at_ms = entry.at_ms;
        let when = |flag: bool| flag.then_some(at_ms);
        match &entry.what {
            LogWhat::Pass { setup, pass, done } => {
                self.pass(setup, *pass).done_ms = when(*done);
            }
            LogWhat::Setup { setup, done } => self.setup(setup).done_ms = when(*done),
            LogWhat::Rating {
                setup,
                pass,
                rating,
            } => self.pass(setup, *pass).rating = *rating,
            LogWhat::Note { setup, pass, text } => match (setup, pass) {
                (Some(setup), Some(pass)) => self.pass(setup, *pass).notes.push(text.clone()),
                (Some(setup), None) => self.setup(setup).notes.push(text.clone()),
                (None, _) => self.notes.push(text.clone()),
            },
            LogWhat::Swap { battery } => self.swaps.push(Swapped {
                battery: battery.clone(),
                at_ms,
            }),
            LogWhat::Drop { setup } => self.setup(setup).dropped_ms = Some(at_ms),
            LogWhat::Reinstate { setup } => self.setup(setup).dropped_ms = None,
            LogWhat::Meal { taken } => self.meal_ms = when(*taken),
            LogWhat::Withdraw { .. } => {}
        }
    }

    fn setup(&mut self, id: &SetupId) -> &mut SetupShot {
        let at = match self.setups.iter().position(|known| known.setup == *id) {
            Some(at) => at,
            None => {
                self.setups.push(SetupShot {
                    setup: id.clone(),
                    done_ms: None,
                    dropped_ms: None,
                    passes: Vec::new(),
                    notes: Vec::new(),
                });
                self.setups.len() - 1
            }
        };
        &mut self.setups[at]
    }

    fn pass(&mut self, id: &SetupId, pass: u32) -> &mut PassShot {
        let passes = &mut self.setup(id).passes;
        let at = match passes.binary_search_by_key(&pass, |known| known.pass) {
            Ok(at) => at,
            Err(at) => {
                passes.insert(
                    at,
                    PassShot {
                        pass,
                        done_ms: None,
                        rating: Rating::Unrated,
                        notes: Vec::new(),
                    },
                );
                at
            }
        };
        &mut passes[at]
    }

    /// The setups that are done, in the order in which they were: what a day that has begun is
    /// planned on from.
    pub fn done(&self) -> Vec<SetupId> {
        let mut done: Vec<(i64, &SetupId)> = self
            .setups
            .iter()
            .filter_map(|shot| Some((shot.done_ms?, &shot.setup)))
            .collect();
        done.sort();
        done.into_iter().map(|(_, setup)| setup.clone()).collect()
    }

    /// The setups that were dropped and are not done.
    pub fn dropped(&self) -> Vec<SetupId> {
        let dropped = self
            .setups
            .iter()
            .filter(|shot| shot.dropped_ms.is_some() && shot.done_ms.is_none());
        dropped.map(|shot| shot.setup.clone()).collect()
    }

    /// What was said of a setup.
    pub fn of_setup(&self, id: &SetupId) -> Option<&SetupShot> {
        self.setups.iter().find(|shot| shot.setup == *id)
    }

    /// What was said of a pass.
    pub fn of_pass(&self, id: &SetupId, pass: u32) -> Option<&PassShot> {
        let passes = &self.of_setup(id)?.passes;
        passes.iter().find(|shot| shot.pass == pass)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::edit::{Edit, Refusal};
    use crate::project::Project;
    use crate::song::MediaFile;
    use crate::take::Take;
    use crate::{Setup, TakeId};
    use proptest::prelude::*;

    fn setup(id: &str) -> SetupId {
        SetupId::new(id).unwrap()
    }

    fn entry(device: &str, number: u32, at_ms: i64, what: LogWhat) -> LogEntry {
        LogEntry {
            device: DeviceId::new(device).unwrap(),
            number,
            at_ms,
            day: None,
            what,
            extra: Default::default(),
        }
    }

    fn pass(id: &str, pass: u32, done: bool) -> LogWhat {
        LogWhat::Pass {
            setup: setup(id),
            pass,
            done,
        }
    }

    fn note(text: &str) -> LogWhat {
        LogWhat::Note {
            setup: Some(setup("quay")),
            pass: Some(1),
            text: text.into(),
        }
    }

    #[test]
    fn what_was_said_last_holds_and_what_was_withdrawn_does_not() {
        let rate = |rating| LogWhat::Rating {
            setup: setup("quay"),
            pass: 1,
            rating,
        };
        let log = [
            entry("phone", 3, 3_000, note("out of focus at the turn")),
            entry("phone", 1, 1_000, pass("quay", 1, true)),
            entry("phone", 2, 2_000, rate(Rating::Usable)),
            entry("tablet", 1, 5_000, rate(Rating::Circled)),
            entry("phone", 4, 4_000, note("typed by a glove")),
            entry("phone", 5, 6_000, LogWhat::Withdraw { number: 4 }),
            // The number of another device's entry: nothing of its own has it.
            entry("tablet", 2, 6_000, LogWhat::Withdraw { number: 3 }),
            entry("phone", 6, 7_000, pass("stairs", 1, true)),
            entry("phone", 7, 8_000, pass("stairs", 1, false)),
        ];
        let shot = SoFar::of(&log);
        let quay = shot.of_pass(&setup("quay"), 1).unwrap();
        assert_eq!(quay.done_ms, Some(1_000));
        assert_eq!(quay.rating, Rating::Circled);
        assert_eq!(quay.notes, ["out of focus at the turn"]);
        assert_eq!(
            shot.of_pass(&setup("stairs"), 1).and_then(|p| p.done_ms),
            None
        );
    }

    #[test]
    fn done_setups_come_in_the_order_they_were_done() {
        let done = |id, done| LogWhat::Setup {
            setup: setup(id),
            done,
        };
        let drop = |id| LogWhat::Drop { setup: setup(id) };
        let log = [
            entry("a", 1, 10, pass("quay", 1, true)),
            entry("a", 2, 20, done("stairs", true)),
            entry("a", 3, 30, done("quay", true)),
            entry("a", 4, 40, drop("lamps")),
            entry("a", 5, 50, drop("wash")),
            entry(
                "a",
                6,
                60,
                LogWhat::Reinstate {
                    setup: setup("wash"),
                },
            ),
            entry("a", 7, 70, done("bulb", true)),
            entry("a", 8, 80, done("bulb", false)),
        ];
        let shot = SoFar::of(&log);
        assert_eq!(shot.done(), [setup("stairs"), setup("quay")]);
        assert_eq!(shot.dropped(), [setup("lamps")]);
    }

    fn with(entries: Vec<LogEntry>, project: &Project) -> Result<Project, Refusal> {
        Edit::AddLog { entries }.apply(project)
    }

    #[test]
    fn a_log_that_contradicts_itself_or_is_out_of_range_is_refused() {
        let first = entry("phone", 1, 10, pass("quay", 1, true));
        let project = with(vec![first.clone()], &Project::default()).unwrap();
        assert_eq!(with(vec![first], &project).unwrap(), project);
        let other = entry("phone", 1, 10, pass("quay", 2, true));
        let refused = with(vec![other], &project).unwrap_err().to_string();
        assert!(
            refused.contains("number 1 of the device `phone`"),
            "{refused}"
        );
        for bad in [
            entry("phone", 0, 10, pass("quay", 1, true)),
            entry("phone", 2, -1, pass("quay", 1, true)),
            entry("phone", 2, 10, pass("quay", 0, true)),
            entry("phone", 2, 10, pass("quay", 100_000, true)),
            entry("phone", 2, 10, note(&"x".repeat(MAX_NOTE + 1))),
            entry("phone", 2, 10, note("null\0")),
        ] {
            assert!(with(vec![bad.clone()], &project).is_err(), "{bad:?}");
        }
    }

    #[test]
    fn ratings_and_notes_go_to_the_one_take_of_their_pass() {
        let take = |id: &str, pass| Take {
            id: TakeId::new(id).unwrap(),
            file: MediaFile {
                path: id.into(),
                hash: format!("{:032x}", id.len()),
                bytes: 1,
                extra: Default::default(),
            },
            setup: Some(setup("quay")),
            pass,
            rating: Rating::Unrated,
            state: None,
            placed_by_hand: None,
            remark: String::new(),
            extra: Default::default(),
        };
        let rate = |pass| LogWhat::Rating {
            setup: setup("quay"),
            pass,
            rating: Rating::Circled,
        };
        let mut rated = take("rated", Some(3));
        rated.rating = Rating::NoGood;
        let project = Project {
            setups: vec![Setup::new(setup("quay"))],
            takes: vec![
                take("one", Some(1)),
                take("two", Some(2)),
                take("two-again", Some(2)),
                rated,
                take("none", None),
            ],
            ..Project::default()
        };
        let log = vec![
            entry("a", 1, 1, rate(1)),
            entry("a", 2, 2, note("the good one")),
            entry("a", 3, 3, rate(2)),
            entry("a", 4, 4, rate(3)),
        ];
        let project = with(log, &project).unwrap();
        let given = Edit::LogToTakes.apply(&project).unwrap();
        let ratings: Vec<Rating> = given.takes.iter().map(|take| take.rating).collect();
        let none = Rating::Unrated;
        assert_eq!(ratings, [Rating::Circled, none, none, Rating::NoGood, none]);
        assert_eq!(given.takes[0].remark, "the good one");
        assert_eq!(Edit::LogToTakes.apply(&given).unwrap(), given);
    }

    fn whats() -> impl Strategy<Value = LogWhat> {
        let id = prop::sample::select(vec!["quay", "stairs", "lamps"]);
        let rating = prop::sample::select(vec![Rating::NoGood, Rating::Usable, Rating::Circled]);
        prop_oneof![
            (id.clone(), 1..4u32, any::<bool>()).prop_map(|(id, at, done)| pass(id, at, done)),
            (id.clone(), any::<bool>()).prop_map(|(id, done)| LogWhat::Setup {
                setup: setup(id),
                done
            }),
            (id.clone(), 1..4u32, rating).prop_map(|(id, pass, rating)| LogWhat::Rating {
                setup: setup(id),
                pass,
                rating
            }),
            (id.clone(), "[a-z ]{0,12}").prop_map(|(id, text)| LogWhat::Note {
                setup: Some(setup(id)),
                pass: None,
                text
            }),
            id.prop_map(|id| LogWhat::Drop { setup: setup(id) }),
            (1..20u32).prop_map(|number| LogWhat::Withdraw { number }),
        ]
    }

    proptest! {
        /// Whatever parts of whatever devices' logs come in whatever order, overlapping or twice:
        /// once all is there, the document is the same.
        #[test]
        fn any_order_and_overlap_gives_the_same(
            whats in prop::collection::vec((0..3usize, 0..50i64, whats()), 1..30),
            parts in prop::collection::vec(prop::collection::vec(any::<prop::sample::Index>(), 1..12), 0..8),
            turn in any::<prop::sample::Index>(),
        ) {
            let mut numbers = [0u32; 3];
            let log: Vec<LogEntry> = whats
                .into_iter()
                .map(|(device, at, what)| {
                    numbers[device] += 1;
                    entry(["a", "b", "c"][device], numbers[device], at, what)
                })
                .collect();
            let straight = with(log.clone(), &Project::default()).unwrap();
            let mut project = Project::default();
            for part in parts {
                let some = part.iter().map(|at| log[at.index(log.len())].clone()).collect();
                project = with(some, &project).unwrap();
            }
            let mut turned = log.clone();
            turned.rotate_left(turn.index(log.len()));
            turned.reverse();
            project = with(turned, &project).unwrap();
            prop_assert_eq!(&project, &straight);
            prop_assert_eq!(&with(log.clone(), &project).unwrap(), &straight);
            prop_assert_eq!(SoFar::of(&project.log), SoFar::of(&log));
        }
    }
}
