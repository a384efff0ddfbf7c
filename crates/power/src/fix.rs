//! What mends a shortage: each change is tried by simulating the day again, and kept when the shortage is gone
//! and no other comes for it.
//!
//! Cheapest first: a socket that is there, charging while there is time, two setups the other way round,
//! charging that makes the day longer, less light, more batteries. Each stands alone; joint changes are not sought.

use crate::feed::Src;
use crate::scene::{Consumer, Scene};
use crate::simulate::{Outcome, Short, Tweak, simulate};
use crate::times::{Timed, again};
use model::{Day, KitId, PlaceId, SetupId};
use serde::{Serialize, Serializer};
use std::fmt;

/// A change that mends the first shortage.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(tag = "fix", rename_all = "kebab-case")]
pub enum Fix {
    /// Everything that can goes on the mains where there are any.
    UseMains {
        /// Where.
        places: Vec<PlaceId>,
    },
    /// Batteries are charged at a place before a setup.
    ChargeBefore {
        /// Where.
        place: PlaceId,
        /// After which setup one stays.
        after: SetupId,
        /// How many minutes.
        minutes: u32,
        /// Before which setup.
        before: SetupId,
        /// By how much the day grows longer, minutes.
        delay_min: f64,
    },
    /// Two setups the other way round, if their light and people allow.
    SwapSetups {
        /// The one that is earlier now.
        earlier: SetupId,
        /// The one that is later now.
        later: SetupId,
    },
    /// Lights dimmed.
    Dim {
        /// Lights on what: a battery, or `mains`.
        source: String,
        /// In which setup; `None` for all day.
        setup: Option<SetupId>,
        /// To what level at most, percent of full.
        percent: u32,
        /// Light lost, stops, on the brightest of them.
        stops: f64,
    },
    /// More batteries of a sort.
    MoreBatteries {
        /// Of which.
        battery: KitId,
        /// How many more.
        count: u32,
        /// What they would cost at the price of those in the plan, minor units.
        cost_minor: Option<i64>,
    },
}

impl fmt::Display for Fix {
    /// One sentence.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::UseMains { places } => {
                let names: Vec<String> = places.iter().map(|place| format!("`{place}`")).collect();
                let names = names.join(" and ");
                write!(
                    f,
                    "use the mains at {names}, through a residual-current device"
                )
            }
            Self::ChargeBefore {
                place,
                after,
                minutes,
                before,
                delay_min,
            } => {
                write!(
                    f,
                    "stay at `{place}` for {minutes} minutes after `{after}` and charge before `{before}`"
                )?;
                if *delay_min > 0.5 {
                    write!(f, "; the day grows {delay_min:.0} minutes longer")?;
                }
                Ok(())
            }
            Self::SwapSetups { earlier, later } => write!(
                f,
                "shoot `{later}` where `{earlier}` stands in the order and the other way round, if light and people allow"
            ),
            Self::Dim {
                source,
                setup,
                percent,
                stops,
            } => {
                let all_day = || "all day".to_owned();
                let when = setup
                    .as_ref()
                    .map_or_else(all_day, |setup| format!("in `{setup}`"));
                write!(
                    f,
                    "dim the lights on `{source}` {when} to {percent} % or less, {stops:.1} stops"
                )
            }
            Self::MoreBatteries { battery, count, .. } => {
                write!(f, "bring {count} more of `{battery}`")
            }
        }
    }
}

/// Writes each fix with its sentence beside its fields, as `says`.
pub(crate) fn with_says<S: Serializer>(fixes: &[Fix], to: S) -> Result<S::Ok, S::Error> {
    #[derive(Serialize)]
    struct Said<'a> {
        #[serde(flatten)]
        fix: &'a Fix,
        says: String,
    }
    to.collect_seq(fixes.iter().map(|fix| Said {
        fix,
        says: fix.to_string(),
    }))
}

/// How long one may stay to charge, minutes, and in which steps.
const STAYS: [u32; 8] = [15, 30, 45, 60, 75, 90, 105, 120];

/// What mends `first`, the cheapest first; at most one of each sort.
pub(crate) fn fixes(scene: &Scene<'_>, day: &Day, base: &Outcome, first: &Short) -> Vec<Fix> {
    let search = Search {
        scene,
        day,
        source: first.source,
        slot: first.slot,
        before: sources_short(base),
    };
    let charge = search.charge();
    let free = |fix: &Fix| matches!(fix, Fix::ChargeBefore { delay_min, .. } if *delay_min < 0.5);
    let (at_leisure, longer): (Vec<Fix>, Vec<Fix>) = charge.into_iter().partition(free);
    let mut found: Vec<Fix> = search.mains().into_iter().collect();
    found.extend(at_leisure);
    found.extend(search.order());
    found.extend(longer);
    found.extend(search.dim());
    found.extend(search.more());
    found
}

struct Search<'s, 'a> {
    scene: &'s Scene<'a>,
    day: &'s Day,
    source: Src,
    slot: usize,
    before: Vec<Src>,
}

impl Search<'_, '_> {
    fn mends(&self, slots: &[Timed], tweak: &Tweak) -> bool {
        let after = sources_short(&simulate(self.scene, slots, tweak, false));
        !after.contains(&self.source) && after.iter().all(|short| self.before.contains(short))
    }

    /// Whether `consumer` is fed from what falls short.
    fn is_on(&self, consumer: &Consumer<'_>) -> bool {
        let route = consumer.routes.first();
        route.is_some_and(|route| route.source == self.source)
    }

    fn mains(&self) -> Option<Fix> {
        let mut places: Vec<PlaceId> = Vec::new();
        for (slot, load) in self.scene.slots.iter().zip(&self.scene.loads) {
            let moves = load.consumers.iter().any(|consumer| {
                consumer.to_mains.is_some() && self.source != Src::Mains && self.is_on(consumer)
            });
            if let Some(place) = slot.place.filter(|_| moves) {
                let id = &self.scene.project.places[place].id;
                if !places.contains(id) {
                    places.push(id.clone());
                }
            }
        }
        let tweak = Tweak {
            mains: true,
            ..Tweak::default()
        };
        (!places.is_empty() && self.mends(&self.scene.slots, &tweak))
            .then_some(Fix::UseMains { places })
    }

    /// Whether the day may run as `slots`: no longer than it may, and nobody before a locked door who wasn't.
    fn may(&self, slots: &[Timed], longer: bool) -> bool {
        let was = end(&self.scene.slots);
        let wrap = self.day.latest_wrap.map(|wrap| f64::from(wrap.minutes()));
        let latest = match wrap {
            Some(wrap) => wrap.max(was),
            None if longer => f64::INFINITY,
            None => was,
        };
        let open = |slot: &Timed| {
            let access = &self.scene.loads[slot.nth].access;
            access.is_empty()
                || access.iter().any(|window| {
                    window[0] <= slot.times.start_min + 1e-6
                        && slot.times.end_min <= window[1] + 1e-6
                })
        };
        end(slots) <= latest + 1e-6
            && slots
                .iter()
                .all(|slot| open(slot) || !open(&self.scene.slots[slot.nth]))
    }

    fn charge(&self) -> Option<Fix> {
        let Src::Battery(item) = self.source else {
            return None;
        };
        let cells = self.scene.cells.iter().find(|cells| cells.item == item)?;
        if cells.chargers.is_empty() && !cells.by_itself {
            return None;
        }
        let scene = self.scene;
        let order: Vec<usize> = (0..scene.slots.len()).collect();
        let mut best: Option<(f64, u32, Fix)> = None;
        for at in 0..self.slot {
            let (Some(place), Some(_)) = (scene.slots[at].place, scene.loads[at].mains_w) else {
                continue;
            };
            for minutes in STAYS {
                let stay = Some((at, f64::from(minutes)));
                let slots = again(scene.project, &scene.slots, &order, stay);
                let delay_min = end(&slots) - end(&scene.slots);
                let better = best
                    .as_ref()
                    .is_none_or(|(delay, least, _)| (delay_min, minutes) < (*delay, *least));
                if !better || !self.may(&slots, true) {
                    break;
                }
                if self.mends(&slots, &Tweak::default()) {
                    let fix = Fix::ChargeBefore {
                        place: scene.project.places[place].id.clone(),
                        after: scene.slots[at].times.setup.clone(),
                        minutes,
                        before: scene.slots[at + 1].times.setup.clone(),
                        delay_min,
                    };
                    best = Some((delay_min, minutes, fix));
                    break;
                }
            }
        }
        best.map(|(.., fix)| fix)
    }

    fn order(&self) -> Option<Fix> {
        let scene = self.scene;
        let count = scene.slots.len();
        let state = |slot: usize| scene.project.setups[scene.slots[slot].setup].state;
        // Setups that stand before one of an earlier state: powder can't be undone.
        let backwards = |order: &[usize]| {
            let after = |n: usize| {
                order[n + 1..]
                    .iter()
                    .filter(move |b| state(order[n]) > state(**b))
            };
            (0..order.len()).map(|n| after(n).count()).sum::<usize>()
        };
        let plain: Vec<usize> = (0..count).collect();
        let was = backwards(&plain);
        let with = (0..count).filter(|other| *other != self.slot);
        let mut pairs: Vec<(usize, usize)> = with
            .map(|other| (self.slot.min(other), self.slot.max(other)))
            .collect();
        pairs.extend((1..self.slot).map(|at| (at - 1, at)));
        let mut best: Option<(f64, usize, Fix)> = None;
        for (a, b) in pairs {
            let mut order = plain.clone();
            order.swap(a, b);
            if backwards(&order) > was {
                continue;
            }
            let slots = again(scene.project, &scene.slots, &order, None);
            let end = end(&slots);
            let better = best
                .as_ref()
                .is_none_or(|(e, apart, _)| (end, b - a) < (*e, *apart));
            if better && self.may(&slots, false) && self.mends(&slots, &Tweak::default()) {
                let fix = Fix::SwapSetups {
                    earlier: scene.slots[a].times.setup.clone(),
                    later: scene.slots[b].times.setup.clone(),
                };
                best = Some((end, b - a, fix));
            }
        }
        best.map(|(.., fix)| fix)
    }

    /// Dims where it falls short, and all day when that is not enough.
    fn dim(&self) -> Option<Fix> {
        self.dim_in(Some(self.slot)).or_else(|| self.dim_in(None))
    }

    fn dim_in(&self, only: Option<usize>) -> Option<Fix> {
        let scene = self.scene;
        let mut brightest: f64 = 0.0;
        let mut lowest: f64 = 0.01;
        for (slot, load) in scene.loads.iter().enumerate() {
            if only.is_some_and(|only| only != slot) {
                continue;
            }
            for consumer in &load.consumers {
                if let Some(light) = consumer.light.filter(|_| self.is_on(consumer)) {
                    let level = consumer.level;
                    brightest = brightest.max(if level.is_finite() {
                        level.clamp(0.0, 1.0)
                    } else {
                        1.0
                    });
                    let least = light.least_level.filter(|level| level.is_finite());
                    lowest = lowest.max(least.unwrap_or(0.0).min(1.0));
                }
            }
        }
        let mends = |percent: u32| {
            let level = f64::from(percent) / 100.0;
            let tweak = Tweak {
                dim: Some((self.source, level, only)),
                ..Tweak::default()
            };
            self.mends(&scene.slots, &tweak)
        };
        let mut good = (lowest * 100.0 - 1e-9).ceil() as u32;
        let mut bad = (brightest * 100.0 - 1e-9).ceil() as u32;
        if good >= bad || !mends(good) {
            return None;
        }
        while bad - good > 1 {
            let middle = good + (bad - good) / 2;
            if mends(middle) {
                good = middle;
            } else {
                bad = middle;
            }
        }
        Some(Fix::Dim {
            source: self.source.described(&scene.project.kit).to_string(),
            setup: only.map(|slot| scene.slots[slot].times.setup.clone()),
            percent: good,
            stops: (brightest * 100.0 / f64::from(good)).log2(),
        })
    }

    fn more(&self) -> Option<Fix> {
        let Src::Battery(item) = self.source else {
            return None;
        };
        let cells = self.scene.cells_of(item)?;
        if self.scene.cells[cells].battery.built_in {
            return None;
        }
        let count = (1..=self.scene.project.practice.most_more_batteries).find(|count| {
            let tweak = Tweak {
                more: Some((cells, *count)),
                ..Tweak::default()
            };
            self.mends(&self.scene.slots, &tweak)
        })?;
        let item = &self.scene.project.kit[item];
        Some(Fix::MoreBatteries {
            battery: item.id.clone(),
            count,
            cost_minor: item
                .cost_minor
                .map(|cost| cost.saturating_mul(i64::from(count)) / i64::from(item.count.max(1))),
        })
    }
}

/// When the last of `slots` is done.
fn end(slots: &[Timed]) -> f64 {
    slots.last().map_or(0.0, |slot| slot.times.end_min)
}

/// The sources that run short, each once.
fn sources_short(outcome: &Outcome) -> Vec<Src> {
    let mut sources: Vec<Src> = outcome.shorts.iter().map(|short| short.source).collect();
    sources.sort();
    sources.dedup();
    sources
}
