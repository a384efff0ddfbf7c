//! The exact search: a dynamic programme over cut points, sources, the setup shown before, and the
//! performer state reached.
//!
//! A node is a cut point together with the *line* that ends there (a source, and the state reached so
//! far) and the setup group shown before that line. From every point each line may start a shot that
//! ends at any later point within reach; a shot of a synced source that has come to the longest a shot
//! may be can be held on, beat by beat, at a cost. Since a shot's worth depends on nothing but its own
//! ends and source, and a cut's on nothing but the two groups before it, keeping the best way into
//! every node loses nothing.
//!
//! What the programme does not see is whether a piece of a take is shown twice. [`Limits`] tells it: a
//! price for showing points of a take, and points that must not be shown in some part of the song.
//! `repeats` sets both until the answer is free of repetition and proven.

mod lines;
mod pass;

use crate::material::Kind;
use crate::objective::{Objective, Seg, TOUCH_S};
use lines::{Line, Pool, alike, lines, turns};
use pass::{Nodes, Pass};
use std::cell::RefCell;

/// Distance between the points of a take that carry a price, in seconds.
const PRICE_STEP_S: f64 = 0.25;
/// A point counts as shown when the piece holds it with this much on both sides, so that two pieces
/// that both show a point overlap by more than [`TOUCH_S`].
const INSIDE_S: f64 = TOUCH_S / 2.0;
const NEVER: f64 = f64::NEG_INFINITY;

/// A point of a take that must not be shown during some intervals of the song.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Ban {
    /// The take.
    pub take: usize,
    /// The point, seconds.
    pub at_s: f64,
    /// First interval in which it must not be shown.
    pub from: usize,
    /// First interval after those.
    pub to: usize,
}

/// A piece of a take kept for the shot that shows it: no shot that starts elsewhere may show it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Kept {
    /// The take.
    pub take: usize,
    /// Where the piece starts, seconds.
    pub from_s: f64,
    /// Where it ends, seconds.
    pub to_s: f64,
    /// The point its shot starts at.
    pub from: usize,
    /// The point its shot ends at.
    pub to: usize,
}

/// Prices and bans that keep a take from being shown twice.
#[derive(Clone, Debug, Default)]
pub struct Limits {
    /// For each take, the price of each of its points; empty where nothing can repeat.
    pub prices: Vec<Vec<f64>>,
    /// What must not be shown where.
    pub bans: Vec<Ban>,
    /// What is kept for one shot.
    pub kept: Vec<Kept>,
}

/// The best way through, and what it is worth with the prices paid.
#[derive(Clone, Debug)]
pub struct Way {
    /// Worth after prices.
    pub value: f64,
    /// The shots.
    pub segs: Vec<Seg>,
}

/// Worth of every shot of a free source, prices aside.
#[derive(Clone, Debug)]
struct FreeTable {
    starts: Vec<f64>,
    /// Where the shots from each point begin in `worth`.
    offset: Vec<usize>,
    /// By point, start, and how many intervals long, less one.
    worth: Vec<f64>,
    /// How many price points of the take lie before the end of each of these shots.
    ends: Vec<u32>,
}

/// What a synced source is worth along the song, prices aside; all by point.
#[derive(Clone, Debug)]
struct SyncedTable {
    /// Seconds into the take.
    take_s: Vec<f64>,
    /// Content up to there.
    sums: Vec<f64>,
    /// What a shot that starts there pays for the handle before it.
    before: Vec<f64>,
    /// What a shot that ends there pays for the handle after it.
    after: Vec<f64>,
}

/// Everything about one objective that does not change from one search to the next.
#[derive(Debug)]
pub struct Search<'s, 'a> {
    objective: &'s Objective<'a>,
    lines: Vec<Line>,
    pools: Vec<Pool>,
    groups: usize,
    /// Worth of going from one line to another, by both; [`NEVER`] where forbidden.
    turns: Vec<f64>,
    /// For each line the first line that cuts into it are worth the same for.
    alike: Vec<usize>,
    tables: Vec<Option<FreeTable>>,
    synced: Vec<Option<SyncedTable>>,
    /// For every point the first point of a lock at or after it.
    next_lock: Vec<usize>,
    /// For every point the lock that starts there.
    lock_at: Vec<Option<usize>>,
    /// Pieces of each take that locks show.
    taken: Vec<Vec<(f64, f64)>>,
    /// Takes that could show something twice: first price point and how many.
    priced: Vec<Option<(f64, usize)>>,
    /// Length of a shot, and fixed costs, by point and how many intervals long, less one.
    lengths: Vec<Vec<f64>>,
    /// What the last search left, for the next one to write over.
    spare: RefCell<Nodes>,
}

impl<'s, 'a> Search<'s, 'a> {
    /// Makes ready to search `objective`.
    pub fn new(objective: &'s Objective<'a>) -> Self {
        let end = objective.grid.end();
        let (lines, pools) = lines(objective);
        let groups = objective.material.group_count + 1;
        let turns = turns(objective, &lines);
        let alike = alike(&lines);

        let mut next_lock = vec![end; end + 1];
        let mut lock_at = vec![None; end + 1];
        for (index, held) in objective.held.iter().enumerate().rev() {
            for at in &mut next_lock[..=held.from] {
                *at = held.from;
            }
            lock_at[held.from] = Some(index);
        }
        let mut taken = vec![Vec::new(); objective.q.takes.len()];
        for (index, held) in objective.held.iter().enumerate() {
            let seg = Seg {
                from: held.from,
                to: held.to,
                source: Some(objective.free + index),
                start: held.start,
            };
            if let Some((take, from, to)) = objective.piece(&seg) {
                taken[take].push((from, to));
            }
        }
        let lengths = (0..end)
            .map(|i| {
                (i + 1..=objective.grid.reach[i])
                    .map(|j| objective.length(i, j) + objective.limits(i, j))
                    .collect()
            })
            .collect();

        let mut search = Self {
            objective,
            lines,
            pools,
            groups,
            turns,
            alike,
            tables: Vec::new(),
            synced: Vec::new(),
            next_lock,
            lock_at,
            taken,
            priced: vec![None; objective.q.takes.len()],
            lengths,
            spare: RefCell::default(),
        };
        for source in &objective.sources[..objective.free] {
            let ways = objective.sources[..objective.free]
                .iter()
                .filter(|other| other.take == source.take)
                .count();
            if ways > 1 || matches!(source.kind, Kind::Free { .. }) {
                let (from, to) = source.usable;
                let points = ((to - from) / PRICE_STEP_S).ceil() as usize;
                search.priced[source.take] = Some((from, points.min(100_000)));
            }
        }
        for (index, source) in objective.sources.iter().enumerate() {
            let free = !objective.locked(index);
            search.synced.push(match &source.kind {
                Kind::Synced { lo, hi, .. } if free => Some(search.synced_table(index, *lo, *hi)),
                _ => None,
            });
            search.tables.push(match &source.kind {
                Kind::Free { starts } if free => Some(search.free_table(index, starts)),
                _ => None,
            });
        }
        search
    }

    /// The objective searched.
    pub fn objective(&self) -> &Objective<'a> {
        self.objective
    }

    /// How many numbers one search goes through.
    pub fn size(&self) -> usize {
        let spans: usize = self.lengths.iter().map(Vec::len).sum();
        let tables: usize = self.tables.iter().flatten().map(|t| t.worth.len()).sum();
        spans * self.lines.len() * self.groups + 3 * tables
    }

    /// Prices of nothing.
    pub fn no_prices(&self) -> Vec<Vec<f64>> {
        self.priced
            .iter()
            .map(|points| vec![0.0; points.map_or(0, |(_, count)| count)])
            .collect()
    }

    /// The points of the take that a piece shows, as indices into its prices.
    pub fn points(&self, take: usize, from_s: f64, to_s: f64) -> std::ops::Range<usize> {
        let Some((origin, count)) = self.priced[take] else {
            return 0..0;
        };
        let from = Self::first_point((from_s + INSIDE_S - origin) / PRICE_STEP_S, count);
        let to = Self::after_point((to_s - INSIDE_S - origin) / PRICE_STEP_S, count);
        from..to.max(from)
    }

    /// How many points lie before `x`; point `n` lies at `n + ½`.
    fn first_point(x: f64, count: usize) -> usize {
        // The cast rounds down; `ceil` would be a call of its own on older processors.
        let x = (x - 0.5).max(0.0);
        let whole = x as usize;
        (whole + usize::from(whole as f64 != x)).min(count)
    }

    /// How many points lie up to and at `x`.
    fn after_point(x: f64, count: usize) -> usize {
        ((x + 0.5).max(0.0) as usize).min(count)
    }

    fn synced_table(&self, source: usize, lo: usize, hi: usize) -> SyncedTable {
        let (objective, at) = (self.objective, &self.objective.grid.at_s);
        let s = &objective.sources[source];
        let take_s: Vec<f64> = at.iter().map(|t| s.take_s(*t, 0.0, 0.0)).collect();
        let mut sums = vec![0.0; at.len()];
        for k in lo..hi {
            let worth: f64 = objective
                .content(source, k, take_s[k], take_s[k + 1])
                .iter()
                .sum();
            sums[k + 1] = sums[k] + worth;
        }
        SyncedTable {
            before: take_s
                .iter()
                .map(|t| objective.handle_before(source, *t))
                .collect(),
            after: take_s
                .iter()
                .map(|t| objective.handle_after(source, *t))
                .collect(),
            take_s,
            sums,
        }
    }

    fn free_table(&self, source: usize, starts: &[f64]) -> FreeTable {
        let (objective, at) = (self.objective, &self.objective.grid.at_s);
        let s = &objective.sources[source];
        let mut table = FreeTable {
            starts: starts.to_vec(),
            offset: Vec::with_capacity(at.len()),
            worth: Vec::new(),
            ends: Vec::new(),
        };
        for i in 0..objective.grid.end() {
            table.offset.push(table.worth.len());
            for start in starts {
                let mut content = objective.handle_before(source, *start);
                let mut from = *start;
                for (n, length) in self.lengths[i].iter().enumerate() {
                    let j = i + n + 1;
                    let to = s.take_s(at[j], at[i], *start);
                    let repeats = self.taken[s.take]
                        .iter()
                        .any(|(a, b)| to.min(*b) - start.max(*a) > TOUCH_S);
                    if to > s.usable.1 + 1e-6 || j > self.next_lock[i] || repeats {
                        let rest = self.lengths[i].len() - n;
                        table.worth.extend(std::iter::repeat_n(NEVER, rest));
                        table.ends.extend(std::iter::repeat_n(0, rest));
                        break;
                    }
                    content += objective
                        .content(source, j - 1, from, to)
                        .iter()
                        .sum::<f64>();
                    table
                        .worth
                        .push(content + length + objective.handle_after(source, to));
                    table.ends.push(match self.priced[s.take] {
                        Some((origin, count)) => {
                            Self::after_point((to - INSIDE_S - origin) / PRICE_STEP_S, count) as u32
                        }
                        None => 0,
                    });
                    from = to;
                }
            }
        }
        table
    }

    /// The last point a shot from point `i` may end at so that it shows nothing banned and nothing a
    /// lock shows.
    fn last_allowed(&self, source: usize, i: usize, start: f64, limits: &Limits) -> usize {
        let (objective, at) = (self.objective, &self.objective.grid.at_s);
        let s = &objective.sources[source];
        let mut last = objective.grid.end();
        let mut stop_before = |edge: f64| {
            // The last point up to which the take has not come further than `edge`.
            let ahead = at[i..=last].partition_point(|t| s.take_s(*t, at[i], start) <= edge);
            last = (i + ahead).saturating_sub(1).max(i);
        };
        for (a, b) in &self.taken[s.take] {
            if b - start.max(*a) > TOUCH_S {
                stop_before(start.max(*a) + TOUCH_S);
            }
        }
        for kept in limits.kept.iter().filter(|kept| kept.take == s.take) {
            let elsewhere = !(kept.from..kept.to).contains(&i);
            if elsewhere && kept.to_s - start.max(kept.from_s) > TOUCH_S {
                stop_before(start.max(kept.from_s) + TOUCH_S);
            }
        }
        for ban in limits.bans.iter().filter(|ban| ban.take == s.take) {
            if ban.at_s < start + INSIDE_S {
                continue;
            }
            let song_s = match &s.kind {
                Kind::Synced { run, .. } => run.song_s_at(ban.at_s),
                Kind::Free { .. } => at[i] + (ban.at_s - start) * s.pace,
            };
            if (ban.from..ban.to).contains(&objective.grid.interval_at(song_s)) {
                // Strictly before: a piece that ends at the edge shows the point.
                stop_before(ban.at_s + INSIDE_S - 1e-12);
            }
        }
        last
    }

    /// Whether `seg` could start elsewhere in its take.
    pub fn movable(&self, seg: &Seg) -> bool {
        seg.source.is_some_and(|s| self.tables[s].is_some())
    }

    /// Where a free shot could start in its take, the best first.
    pub fn starts_by_worth(&self, seg: &Seg) -> Vec<f64> {
        let Some(table) = seg.source.and_then(|s| self.tables[s].as_ref()) else {
            return Vec::new();
        };
        let span = self.lengths[seg.from].len();
        let mut starts: Vec<(f64, f64)> = table
            .starts
            .iter()
            .enumerate()
            .map(|(n, start)| {
                let cell = table.offset[seg.from] + n * span + seg.to - seg.from - 1;
                (table.worth[cell], *start)
            })
            .filter(|(worth, _)| *worth > NEVER)
            .collect();
        starts.sort_by(|a, b| b.0.total_cmp(&a.0));
        starts.into_iter().map(|(_, start)| start).collect()
    }

    /// The best way through under `limits`.
    pub fn best(&self, limits: &Limits) -> Way {
        Pass::new(self, limits).run()
    }
}
