//! The search: a dynamic programme over sets of setups.
//!
//! Held and Karp (1962) order cities by the set visited and the last one; with time windows, Dumas and
//! others (1995) keep for each such state the earliest time. Here a state is the set of what was shot,
//! what stands afterwards (place and rig; setups that leave the same are one), and whether the meal has
//! been taken; it keeps the times and moves that no other way into it beats in both (labels). Sets are
//! made layer by layer, each one larger by one setup. Since everything that is begun earlier ends no later,
//! the earliest time is all that is to be known of the past.
//!
//! A label is dropped when a must is out of reach for it, when the musts that are left take more minutes than
//! there are, or when even everything it can reach is worth less than a day already found. With more labels in
//! a layer than `width` the least promising are dropped too, and the answer says how much they could at most
//! have been worth.

use crate::problem::{Minutes, Problem};
use crate::worth::{Set, each};
use std::collections::HashMap;

/// A day as the search finds it: setups in order, and before which of them the meal is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Found {
    pub value: u64,
    pub wrap: Minutes,
    pub moves: u32,
    pub order: Vec<usize>,
    /// The meal stands before the setup at this place of `order`.
    pub meal_before: Option<usize>,
}

impl Found {
    /// Whether it is better than `other`: worth more, over earlier, fewer moves.
    pub fn beats(&self, other: &Self) -> bool {
        self.rank() > other.rank()
    }

    fn rank(&self) -> (u64, std::cmp::Reverse<(Minutes, u32)>) {
        (self.value, std::cmp::Reverse((self.wrap, self.moves)))
    }
}

/// What a search came to.
pub(crate) struct Searched {
    /// The best day found, if it beats the one that was known before.
    pub found: Option<Found>,
    /// What is worth at most whatever was dropped for want of room or time. None when nothing was.
    pub dropped: Option<u64>,
}

/// How much a search may hold, and when it must end.
pub(crate) struct Bounds<'a> {
    /// The most labels of one layer that are followed.
    pub width: usize,
    /// The most labels in all.
    pub labels: usize,
    /// Asked now and then; true ends the search.
    pub stop: &'a dyn Fn() -> bool,
}

/// A way into a state.
#[derive(Clone, Copy, Debug)]
struct Label {
    at: Minutes,
    /// The label before, an index; `NONE` for the first.
    parent: u32,
    moves: u8,
    class: u8,
    setup: u8,
    /// Whether the meal needs no more thought.
    fed: bool,
    /// Whether the meal is right before this setup.
    meal: bool,
}

const NONE: u32 = u32::MAX;

/// What a label promises, best last: most worth at most, then least time lost so far (minutes gone and
/// minutes that the rest takes).
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
struct Promise {
    most: u64,
    over: std::cmp::Reverse<Minutes>,
    entry: u32,
    label: u32,
}

/// The labels of one set, a stretch of the arena.
#[derive(Clone, Copy, Debug)]
struct Entry {
    set: Set,
    from: u32,
    to: u32,
}

/// Where the entry of a set is found: by a table where that is small, else by hashing.
enum Index {
    Table(Vec<u32>),
    Map(HashMap<Set, u32>),
}

impl Index {
    fn new(count: usize) -> Self {
        match count {
            0..=20 => Self::Table(vec![NONE; 1 << count]),
            _ => Self::Map(HashMap::new()),
        }
    }

    fn fill(&mut self, layer: &[Entry]) {
        match self {
            // Older layers stay in it: a set belongs to one layer, and only those of the last are asked for.
            Self::Table(table) => {
                for (at, entry) in layer.iter().enumerate() {
                    table[entry.set as usize] = at as u32;
                }
            }
            Self::Map(map) => {
                map.clear();
                map.extend(
                    layer
                        .iter()
                        .enumerate()
                        .map(|(at, one)| (one.set, at as u32)),
                );
            }
        }
    }

    fn get(&self, set: Set) -> Option<usize> {
        let at = match self {
            Self::Table(table) => table[set as usize],
            Self::Map(map) => *map.get(&set)?,
        };
        (at != NONE).then_some(at as usize)
    }
}

struct Search<'a> {
    problem: &'a Problem,
    arena: Vec<Label>,
    best: Option<Found>,
    /// The label that `best` was read from.
    ends_with: Option<u32>,
    /// Whether bounds look at the time that is left too: dearer, and worth it where not every set can be seen.
    by_time: bool,
    gains: [f64; 64],
}

/// Searches for a day that beats `known`.
pub(crate) fn search(problem: &Problem, known: Option<&Found>, bounds: &Bounds) -> Searched {
    let mut search = Search {
        problem,
        arena: Vec::new(),
        best: known.cloned(),
        ends_with: None,
        by_time: problem.open().count_ones() > 18 || bounds.width < usize::MAX,
        gains: [0.0; 64],
    };
    let dropped = search.run(bounds);
    let found = search.ends_with.map(|label| search.read(label));
    Searched { found, dropped }
}

impl Search<'_> {
    fn run(&mut self, bounds: &Bounds) -> Option<u64> {
        let problem = self.problem;
        let mut dropped: Option<u64> = None;
        let first = Label {
            at: problem.from,
            parent: NONE,
            moves: 0,
            class: problem.start_class,
            setup: 0,
            fed: problem.meal.is_none(),
            meal: false,
        };
        if problem.meal.is_some_and(|meal| problem.from > meal.by)
            || problem.from > problem.latest_wrap
        {
            return None;
        }
        self.arena.push(first);
        self.offer(problem.done, 0);
        let mut layer = vec![Entry {
            set: problem.done,
            from: 0,
            to: 1,
        }];
        let mut index = Index::new(problem.count);
        let mut fronts: Vec<Vec<Label>> = vec![Vec::new(); 2 * problem.place_of_class.len()];
        let mut used: Vec<usize> = Vec::new();
        while !layer.is_empty() {
            if layer
                .iter()
                .map(|one| (one.to - one.from) as usize)
                .sum::<usize>()
                > bounds.width
            {
                let worth = self.narrow(&mut layer, bounds.width);
                dropped = dropped.max(worth);
            }
            index.fill(&layer);
            let sets = self.next_sets(&layer);
            let mut next: Vec<Entry> = Vec::with_capacity(sets.len());
            for (nth, set) in sets.into_iter().enumerate() {
                if self.arena.len() > bounds.labels || (nth % 256 == 0 && (bounds.stop)()) {
                    // What was not looked at grows from this layer.
                    return dropped.max(self.rank(&layer).into_iter().map(|one| one.most).max());
                }
                for last in each(set & !problem.done) {
                    let before = set & !(1 << last);
                    if !problem.may_follow(before, last) {
                        continue;
                    }
                    let Some(at) = index.get(before) else {
                        continue;
                    };
                    let entry = layer.get(at).filter(|entry| entry.set == before);
                    if let Some(entry) = entry {
                        self.extend(entry, last, &mut fronts, &mut used);
                    }
                }
                let from = self.arena.len() as u32;
                self.keep(set, &mut fronts, &mut used);
                let to = self.arena.len() as u32;
                if from < to {
                    next.push(Entry { set, from, to });
                }
            }
            layer = next;
        }
        dropped
    }

    /// The sets one setup larger than those of `layer`, rising.
    fn next_sets(&self, layer: &[Entry]) -> Vec<Set> {
        let mut sets: Vec<Set> = Vec::new();
        for entry in layer {
            for more in each(self.problem.all() & !entry.set) {
                if self.problem.may_follow(entry.set, more) {
                    sets.push(entry.set | 1 << more);
                }
            }
        }
        sets.sort_unstable();
        sets.dedup();
        sets
    }

    /// Shoots `last` after every label of `entry`.
    fn extend(&self, entry: &Entry, last: usize, fronts: &mut [Vec<Label>], used: &mut Vec<usize>) {
        let problem = self.problem;
        let class = problem.class_of[last];
        for parent in entry.from..entry.to {
            let before = self.arena[parent as usize];
            let mut try_from = |at: Minutes, fed: bool, meal: bool| {
                let Some(ends) = problem.ends(before.class, at, last) else {
                    return;
                };
                // Without a meal a day may only last until the meal must have begun.
                if !fed && problem.meal.is_some_and(|rule| ends > rule.by) {
                    return;
                }
                let moved = u8::from(problem.is_move(before.class, last));
                let front = 2 * usize::from(class) + usize::from(fed);
                if fronts[front].is_empty() {
                    used.push(front);
                }
                insert(
                    &mut fronts[front],
                    Label {
                        at: ends,
                        parent,
                        moves: before.moves + moved,
                        class,
                        setup: last as u8,
                        fed,
                        meal,
                    },
                );
            };
            try_from(before.at, before.fed, false);
            if let Some(rule) = problem.meal
                && !before.fed
            {
                try_from(before.at + rule.minutes, true, true);
            }
        }
    }

    /// Takes the labels of `set` that may yet lead somewhere into the arena.
    fn keep(&mut self, set: Set, fronts: &mut [Vec<Label>], used: &mut Vec<usize>) {
        let problem = self.problem;
        let forbidden = problem.too_late(set);
        let still: Minutes = each(problem.musts & !set)
            .map(|one| problem.least[one])
            .sum();
        for front in used.drain(..) {
            let mut labels = std::mem::take(&mut fronts[front]);
            for label in labels.drain(..) {
                let reach = problem.reachable(label.class, label.at) & !forbidden;
                let possible = set | reach;
                // The musts that are left take their minutes, one after the other.
                let fits = label.at.saturating_add(still) <= problem.latest_wrap;
                if !fits || problem.musts & !possible != 0 || !self.may_beat(set, possible, &label)
                {
                    continue;
                }
                self.arena.push(label);
                self.offer(set, self.arena.len() as u32 - 1);
            }
            fronts[front] = labels;
        }
    }

    /// Whether a day from this label on, with at most `possible`, can beat the best.
    fn may_beat(&mut self, set: Set, possible: Set, label: &Label) -> bool {
        let Some(best) = &self.best else { return true };
        let (value, over) = (best.value, (best.wrap, best.moves));
        let mut most = self.problem.worth.of(possible);
        if self.by_time && most > value {
            most = most.min(self.most_by_time(set, possible, label.at));
        }
        match most.cmp(&value) {
            std::cmp::Ordering::Less => false,
            std::cmp::Ordering::Equal => (label.at, u32::from(label.moves)) < over,
            std::cmp::Ordering::Greater => true,
        }
    }

    /// What a day can at most be worth from `set` at `at` on: the gains by the concave hull, in the order of
    /// their worth per minute, until the minutes are used up (the last one in part: Dantzig's bound).
    fn most_by_time(&mut self, set: Set, possible: Set, at: Minutes) -> u64 {
        let worth = &self.problem.worth;
        let mut left = f64::from(self.problem.latest_wrap.saturating_sub(at));
        let mut sum = worth.hull_of(set);
        let more = possible & !set;
        worth.gains(set, more, &mut self.gains);
        let mut order: [u8; 64] = [0; 64];
        let mut count = 0;
        for one in each(more) {
            if self.problem.musts >> one & 1 == 1 {
                // It takes its time whatever it gains.
                sum += self.gains[one];
                left -= f64::from(self.problem.least[one]);
            } else {
                order[count] = one as u8;
                count += 1;
            }
        }
        if left < 0.0 {
            return 0;
        }
        let ratio = |one: u8| {
            let one = usize::from(one);
            self.gains[one] / f64::from(self.problem.least[one].max(1))
        };
        order[..count].sort_unstable_by(|a, b| ratio(*b).total_cmp(&ratio(*a)));
        for one in &order[..count] {
            let one = usize::from(*one);
            let minutes = f64::from(self.problem.least[one]);
            if minutes <= left {
                left -= minutes;
                sum += self.gains[one];
            } else {
                sum += self.gains[one] * left / minutes;
                break;
            }
        }
        whole(sum)
    }

    /// Takes a label as a whole day, if it is one and beats the best.
    fn offer(&mut self, set: Set, label: u32) {
        let problem = self.problem;
        let Label { at, moves, fed, .. } = self.arena[label as usize];
        if problem.musts & !set != 0 {
            return;
        }
        // A meal is taken only on a day that is longer than its limit. The same day without it is no later.
        if fed && problem.meal.is_some_and(|rule| at <= rule.by) {
            return;
        }
        let day = Found {
            value: problem.worth.of(set),
            wrap: at,
            moves: u32::from(moves),
            order: Vec::new(),
            meal_before: None,
        };
        if self.best.as_ref().is_none_or(|best| day.beats(best)) {
            self.best = Some(day);
            self.ends_with = Some(label);
        }
    }

    /// Every label of `layer` with what it promises.
    fn rank(&mut self, layer: &[Entry]) -> Vec<Promise> {
        let problem = self.problem;
        let mut ranked = Vec::new();
        for (nth, entry) in layer.iter().enumerate() {
            let forbidden = problem.too_late(entry.set);
            for at in entry.from..entry.to {
                let label = self.arena[at as usize];
                let reach = problem.reachable(label.class, label.at) & !forbidden;
                let possible = entry.set | reach;
                let by_time = self.most_by_time(entry.set, possible, label.at);
                let rest: Minutes = each(reach & !entry.set).map(|one| problem.least[one]).sum();
                ranked.push(Promise {
                    most: problem.worth.of(possible).min(by_time),
                    over: std::cmp::Reverse(label.at + rest),
                    entry: nth as u32,
                    label: at,
                });
            }
        }
        ranked
    }

    /// Keeps the `width` most promising labels of `layer`; what the others are worth at most.
    fn narrow(&mut self, layer: &mut Vec<Entry>, width: usize) -> Option<u64> {
        let mut ranked = self.rank(layer);
        ranked.sort_unstable_by(|a, b| b.cmp(a));
        let dropped = ranked.get(width).map(|one| one.most);
        ranked.truncate(width);
        ranked.sort_unstable_by_key(|one| (one.entry, one.label));
        // What is kept lies together again at the arena's end.
        let mut kept: Vec<Entry> = Vec::new();
        for one in ranked {
            let set = layer[one.entry as usize].set;
            let here = self.arena.len() as u32;
            self.arena.push(self.arena[one.label as usize]);
            match kept.last_mut() {
                Some(entry) if entry.set == set => entry.to = here + 1,
                _ => kept.push(Entry {
                    set,
                    from: here,
                    to: here + 1,
                }),
            }
        }
        *layer = kept;
        dropped
    }

    /// The best day, read back from its last label.
    fn read(&self, label: u32) -> Found {
        let mut labels = Vec::new();
        let mut at = label;
        while self.arena[at as usize].parent != NONE {
            labels.push(self.arena[at as usize]);
            at = self.arena[at as usize].parent;
        }
        labels.reverse();
        let mut found = self.best.clone().unwrap_or(Found {
            value: 0,
            wrap: 0,
            moves: 0,
            order: Vec::new(),
            meal_before: None,
        });
        found.order = labels.iter().map(|one| usize::from(one.setup)).collect();
        found.meal_before = labels.iter().position(|one| one.meal);
        found
    }
}

/// Rounded down, with a hair above for what adding up floats loses.
pub(crate) fn whole(sum: f64) -> u64 {
    (sum * (1.0 + 1e-12) + 1e-6).floor().max(0.0) as u64
}

/// Takes `label` into `front`, which holds what none of it beats in time and moves.
fn insert(front: &mut Vec<Label>, label: Label) {
    let beaten = |one: &Label, by: &Label| by.at <= one.at && by.moves <= one.moves;
    if front.iter().any(|one| beaten(&label, one)) {
        return;
    }
    front.retain(|one| !beaten(one, &label));
    front.push(label);
}
