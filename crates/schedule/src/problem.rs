//! An instance made ready for the search: sets as bits, windows as starts, what stands where as classes.

use crate::instance::{Begun, Candidate, Error, Instance};
use crate::worth::{Set, Worth, each};

/// A time of the day, minutes.
pub(crate) type Minutes = u32;

/// When a setup may be begun, both ends included.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Starts {
    pub from: Minutes,
    pub to: Minutes,
}

/// One way of doing a setup: rigged anew, or relit on the rig that stands.
#[derive(Clone, Debug, Default)]
pub(crate) struct Doing {
    /// Begun within one of these, rising, none within another. What is begun earlier waits.
    pub starts: Vec<Starts>,
    /// Rig or relight and shoot, minutes.
    pub lasts: Minutes,
}

impl Doing {
    /// `access` and `light` as windows, `first` the minutes before the shoot.
    fn new(
        access: &[[i64; 2]],
        light: &[[i64; 2]],
        first: i64,
        shoot: i64,
        latest_wrap: i64,
    ) -> Self {
        let mut all: Vec<Starts> = Vec::new();
        for [may, may_not] in access {
            for [lit, dark] in light {
                // Begun at s, it shoots from max(s + first, lit); so a start before `lit - first` ends as
                // one at it does, and the rule of both windows is one window of starts.
                let from = (*may).max(lit - first).max(0);
                let to = *may_not.min(dark).min(&latest_wrap) - shoot - first;
                if from <= to
                    && let (Ok(from), Ok(to)) = (from.try_into(), to.try_into())
                {
                    all.push(Starts { from, to });
                }
            }
        }
        all.sort_by_key(|one| (one.from, std::cmp::Reverse(one.to)));
        let mut starts: Vec<Starts> = Vec::new();
        for one in all {
            match starts.last_mut() {
                Some(last) if one.from <= last.to => last.to = last.to.max(one.to),
                _ => starts.push(one),
            }
        }
        Self {
            starts,
            lasts: (first + shoot) as Minutes,
        }
    }

    /// When it ends at the earliest, by one who is there at `there`.
    pub fn ends(&self, there: Minutes) -> Option<Minutes> {
        let starts = self.starts.iter();
        // Rising windows, none within another: the first that is not over is the best.
        let start = starts
            .filter(|one| one.to >= there)
            .map(|one| one.from.max(there))
            .next()?;
        Some(start + self.lasts)
    }

    fn last_start(&self) -> Option<Minutes> {
        self.starts.last().map(|one| one.to)
    }
}

/// The meal that is still to be kept.
#[derive(Clone, Copy, Debug)]
pub(crate) struct MealRule {
    pub minutes: Minutes,
    /// When it starts at the latest; a day that ends by then has none.
    pub by: Minutes,
}

/// An instance made ready.
#[derive(Clone, Debug)]
pub(crate) struct Problem {
    /// How many setups.
    pub count: usize,
    /// When the search begins: the call, or now.
    pub from: Minutes,
    pub latest_wrap: Minutes,
    pub done: Set,
    pub musts: Set,
    /// What stands after each setup: place and rig. Setups after which the same stands are of one class.
    pub class_of: Vec<u8>,
    /// Each class's place; the last class is where one starts.
    pub place_of_class: Vec<Option<usize>>,
    pub start_class: u8,
    /// Minutes from a class's place to a setup's, by class and setup.
    pub ways: Vec<Vec<Minutes>>,
    /// Whether the rig of a class serves a setup, by class and setup.
    pub rig_stands: Vec<Vec<bool>>,
    pub rigged: Vec<Doing>,
    pub relit: Vec<Doing>,
    /// Fewest minutes a setup takes, whatever comes before it.
    pub least: Vec<Minutes>,
    /// Setups of a lower and of a higher state.
    pub lower: Vec<Set>,
    pub higher: Vec<Set>,
    pub after: Vec<Set>,
    pub meal: Option<MealRule>,
    pub worth: Worth,
    /// By class: the last minute at which a setup could yet be gone to, falling, with all that can at
    /// that minute or later.
    pub reach: Vec<Vec<(Minutes, Set)>>,
}

/// What stands after a setup: place and rig group.
type Kind<'a> = (usize, Option<&'a str>);

/// The classes of setups after which the same stands, and each setup's.
fn classes<'a>(setups: &'a [Candidate], place_of: &[usize]) -> (Vec<Kind<'a>>, Vec<u8>) {
    let mut kinds: Vec<Kind<'a>> = Vec::new();
    let mut class_of = Vec::with_capacity(setups.len());
    for (at, setup) in setups.iter().enumerate() {
        let kind = (place_of[at], setup.rig_group.as_deref());
        let class = kinds.iter().position(|one| *one == kind);
        class_of.push(class.unwrap_or_else(|| {
            kinds.push(kind);
            kinds.len() - 1
        }) as u8);
    }
    (kinds, class_of)
}

/// Each setup, rigged anew; and relit on a rig that stands, where another could leave it.
fn doings(instance: &Instance, class_of: &[u8]) -> (Vec<Doing>, Vec<Doing>) {
    let setups = &instance.setups;
    let count = setups.len();
    let always = [[0, instance.latest_wrap]];
    let doing = |at: usize, first: i64| {
        let setup = &setups[at];
        Doing::new(
            setup.access.as_deref().unwrap_or(&always),
            setup.light.as_deref().unwrap_or(&always),
            first,
            setup.shoot_minutes,
            instance.latest_wrap,
        )
    };
    let rigged: Vec<Doing> = (0..count)
        .map(|at| doing(at, setups[at].rig_minutes))
        .collect();
    let relit: Vec<Doing> = (0..count)
        .map(|at| {
            // Only where another could leave its rig standing.
            let shared = setups[at].rig_group.is_some()
                && (0..count).any(|other| other != at && class_of[other] == class_of[at]);
            if shared {
                doing(at, setups[at].relight_minutes)
            } else {
                Doing::default()
            }
        })
        .collect();
    (rigged, relit)
}

/// By setup, those whose state stands to its own as `which` says.
fn by_state(setups: &[Candidate], which: &dyn Fn(i64, i64) -> bool) -> Vec<Set> {
    let of = |mine: &Candidate| {
        (0..setups.len())
            .filter(|other| which(setups[*other].state, mine.state))
            .fold(0, |set, other| set | 1 << other)
    };
    setups.iter().map(of).collect()
}

/// Whether the rig of each class (and none, for where one starts) serves each setup.
fn rig_stands(kinds: &[Kind], class_of: &[u8]) -> Vec<Vec<bool>> {
    let serves = |class: usize| {
        let grouped = kinds.get(class).is_some_and(|(_, group)| group.is_some());
        let same = |own: &u8| grouped && usize::from(*own) == class;
        class_of.iter().map(same).collect()
    };
    (0..=kinds.len()).map(serves).collect()
}

/// What the bars are worth, by which setups hold them.
fn worth(instance: &Instance) -> Worth {
    let setups = &instance.setups;
    let first_bar = instance.first_bar();
    let bars = instance.bar_values.iter().enumerate().map(|(bar, value)| {
        let held_by = (0..setups.len())
            .filter(|at| setups[*at].bars.contains(&(bar as i64 + first_bar)))
            .fold(0, |set: Set, at| set | 1 << at);
        (held_by, *value as u64)
    });
    let option_values: Vec<u64> = instance.option_values.iter().map(|v| *v as u64).collect();
    Worth::new(bars, &option_values)
}

impl Problem {
    /// Checks `instance` and makes it ready.
    ///
    /// # Errors
    /// What [`Instance::checked`] finds.
    pub fn new(instance: &Instance) -> Result<Self, Error> {
        instance.checked()?;
        Ok(Self::of_checked(instance))
    }

    /// The same for one that has been checked.
    pub fn of_checked(instance: &Instance) -> Self {
        let setups = &instance.setups;
        let count = setups.len();
        let index = |name: &str| setups.iter().position(|setup| setup.id == name);
        let bits = |names: &[String]| -> Set {
            let known = names.iter().filter_map(|name| index(name));
            known.fold(0, |set, at| set | 1 << at)
        };
        let nothing = Begun {
            now: instance.call,
            done: Vec::new(),
        };
        let begun = instance.begun.as_ref().unwrap_or(&nothing);
        let done = bits(&begun.done);
        let mut places: Vec<&str> = Vec::new();
        let place_of: Vec<usize> = setups
            .iter()
            .map(|setup| index_in(&mut places, &setup.place))
            .collect();
        let start = instance.start_place.as_deref();
        let start_place = start.map(|name| index_in(&mut places, name));

        let (kinds, class_of) = classes(setups, &place_of);
        // The rig of what was shot last stands as long as one has not left.
        let last = begun.done.last().and_then(|name| index(name));
        let start_class = match last {
            Some(at) if Some(place_of[at]) == start_place => class_of[at],
            _ => kinds.len() as u8,
        };
        let mut place_of_class: Vec<Option<usize>> =
            kinds.iter().map(|(place, _)| Some(*place)).collect();
        place_of_class.push(start_place);

        let way = |from: Option<usize>, to: usize| -> Minutes {
            let minutes = from.and_then(|from| instance.way(places[from], places[to]));
            minutes.unwrap_or(0) as Minutes
        };
        let ways: Vec<Vec<Minutes>> = place_of_class
            .iter()
            .map(|from| place_of.iter().map(|to| way(*from, *to)).collect())
            .collect();
        let rig_stands = rig_stands(&kinds, &class_of);
        let (rigged, relit) = doings(instance, &class_of);
        let least = (0..count)
            .map(|at| match relit[at].starts.is_empty() {
                true => rigged[at].lasts,
                false => rigged[at].lasts.min(relit[at].lasts),
            })
            .collect();

        let mut problem = Self {
            count,
            from: begun.now as Minutes,
            latest_wrap: instance.latest_wrap as Minutes,
            done,
            musts: (0..count)
                .filter(|at| setups[*at].must)
                .fold(0, |set, at| set | 1 << at),
            class_of,
            start_class,
            ways,
            rig_stands,
            rigged,
            relit,
            least,
            lower: by_state(setups, &|other, mine| other < mine),
            higher: by_state(setups, &|other, mine| other > mine),
            after: setups.iter().map(|setup| bits(&setup.after)).collect(),
            meal: instance.meal.map(|meal| MealRule {
                minutes: meal.minutes as Minutes,
                by: (instance.call + meal.latest_start_after_call) as Minutes,
            }),
            worth: worth(instance),
            reach: Vec::new(),
            place_of_class,
        };
        problem.reach = problem.reaches(places.len(), &place_of, &way);
        problem
    }

    /// By class, until when each setup can yet be gone to: over the shortest way, since travelling by a
    /// third place may be quicker, and as the quicker of rigging and relighting.
    fn reaches(
        &self,
        places: usize,
        place_of: &[usize],
        way: &dyn Fn(Option<usize>, usize) -> Minutes,
    ) -> Vec<Vec<(Minutes, Set)>> {
        let mut shortest: Vec<Vec<Minutes>> = (0..places)
            .map(|from| {
                let known = |to: usize| place_of.contains(&to);
                (0..places)
                    .map(|to| {
                        if known(to) {
                            way(Some(from), to)
                        } else {
                            Minutes::MAX / 2
                        }
                    })
                    .collect()
            })
            .collect();
        // Floyd and Warshall.
        for by in 0..places {
            for from in 0..places {
                for to in 0..places {
                    let round = shortest[from][by].saturating_add(shortest[by][to]);
                    shortest[from][to] = shortest[from][to].min(round);
                }
            }
        }
        self.place_of_class
            .iter()
            .map(|place| {
                let mut until: Vec<(Minutes, usize)> = each(self.open())
                    .filter_map(|at| {
                        let last = self.rigged[at]
                            .last_start()
                            .max(self.relit[at].last_start())?;
                        let far = place.map_or(0, |place| shortest[place][place_of[at]]);
                        Some((last.checked_sub(far)?, at))
                    })
                    .collect();
                until.sort_by_key(|(minute, _)| std::cmp::Reverse(*minute));
                let mut set = 0;
                until
                    .into_iter()
                    .map(|(minute, at)| {
                        set |= 1 << at;
                        (minute, set)
                    })
                    .collect()
            })
            .collect()
    }

    /// Everything that is not done.
    pub fn open(&self) -> Set {
        self.all() & !self.done
    }

    /// Everything.
    pub fn all(&self) -> Set {
        match self.count {
            0 => 0,
            count => Set::MAX >> (64 - count),
        }
    }

    /// When `setup` ends at the earliest, by one whom `class` leaves at `at`.
    pub fn ends(&self, class: u8, at: Minutes, setup: usize) -> Option<Minutes> {
        let class = usize::from(class);
        let doing = match self.rig_stands[class][setup] {
            true => &self.relit[setup],
            false => &self.rigged[setup],
        };
        doing.ends(at + self.ways[class][setup])
    }

    /// What could yet be shot by one whom `class` leaves at `at`.
    pub fn reachable(&self, class: u8, at: Minutes) -> Set {
        let reach = &self.reach[usize::from(class)];
        let count = reach.partition_point(|(until, _)| *until >= at);
        match count {
            0 => 0,
            count => reach[count - 1].1,
        }
    }

    /// Whether `setup` may come next once `before` has been shot.
    pub fn may_follow(&self, before: Set, setup: usize) -> bool {
        before & self.higher[setup] == 0 && self.after[setup] & !before == 0
    }

    /// Setups that states forbid once `set` has been shot.
    pub fn too_late(&self, set: Set) -> Set {
        each(set).fold(0, |out, at| out | self.lower[at]) & !set
    }

    /// Whether going from `class` to `setup` is a move.
    pub fn is_move(&self, class: u8, setup: usize) -> bool {
        class != self.start_class_of_call() && {
            let from = self.place_of_class[usize::from(class)];
            from != self.place_of_class[usize::from(self.class_of[setup])]
        }
    }

    /// The class of one who has shot nothing yet; the way from there to the first setup is no move.
    fn start_class_of_call(&self) -> u8 {
        self.place_of_class.len() as u8 - 1
    }
}

/// The index of `name` in `places`, where it is put when it is new.
fn index_in<'a>(places: &mut Vec<&'a str>, name: &'a str) -> usize {
    let known = places.iter().position(|place| *place == name);
    known.unwrap_or_else(|| {
        places.push(name);
        places.len() - 1
    })
}
