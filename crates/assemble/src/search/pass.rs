//! One search: every node's best way, from the first point to the last.

use super::lines::Shows;
use super::{FreeTable, INSIDE_S, Limits, NEVER, PRICE_STEP_S, Search, Way};
use crate::material::Kind;
use crate::objective::{INTO_BLACK, Seg, TOO_LONG, TOUCH_S};

/// Stands for "black goes on" where the point a shot starts at is kept.
const HELD_BLACK: u32 = u32::MAX;

/// What a search keeps for each node.
#[derive(Debug, Default)]
pub struct Nodes {
    /// Worth of the best way into each node: by point, line and group before.
    worth: Vec<f64>,
    /// The point that the last shot of that way starts at.
    from: Vec<u32>,
    /// Worth of ways that hold a synced shot on past its longest, and the point that shot starts at.
    on: Vec<f64>,
    on_from: Vec<u32>,
    /// The best way into a cut: by point, line after it and group before it, the line and group before.
    before: Vec<(u16, u16)>,
}

/// One search: the state of the programme.
pub struct Pass<'p, 's, 'a> {
    search: &'p Search<'s, 'a>,
    limits: &'p Limits,
    /// Running sums of prices by take; empty where there are none.
    paid: Vec<Vec<f64>>,
    nodes: Nodes,
    /// Source and start of the best free shot: by pool, point and length.
    starts: Vec<Vec<(u32, f64)>>,
    free_worth: Vec<Vec<f64>>,
    span_offset: Vec<usize>,
}

impl<'p, 's, 'a> Pass<'p, 's, 'a> {
    /// Makes ready: prices summed up, free shots chosen.
    pub fn new(search: &'p Search<'s, 'a>, limits: &'p Limits) -> Self {
        let nodes = (search.objective.grid.end() + 1) * search.lines.len() * search.groups;
        let paid = limits
            .prices
            .iter()
            .map(|prices| {
                if prices.iter().all(|p| *p == 0.0) {
                    return Vec::new();
                }
                let mut sum = 0.0;
                let mut sums = vec![0.0];
                for price in prices {
                    sum += price;
                    sums.push(sum);
                }
                sums
            })
            .collect();
        let mut span_offset = vec![0];
        for spans in &search.lengths {
            span_offset.push(span_offset[span_offset.len() - 1] + spans.len());
        }
        let mut pass = Self {
            search,
            limits,
            paid,
            nodes: search.spare.take(),
            starts: Vec::new(),
            free_worth: Vec::new(),
            span_offset,
        };
        // Only worths are read before they are written; the rest may keep what was there.
        pass.nodes.worth.clear();
        pass.nodes.worth.resize(nodes, NEVER);
        pass.nodes.on.clear();
        pass.nodes.on.resize(nodes, NEVER);
        pass.nodes.from.resize(nodes, 0);
        pass.nodes.on_from.resize(nodes, 0);
        pass.nodes.before.resize(nodes, (0, 0));
        let spans = pass.span_offset[pass.span_offset.len() - 1];
        for pool in &search.pools {
            let (mut worth, mut starts) = (vec![NEVER; spans], vec![(0, 0.0); spans]);
            for source in &pool.members {
                if let Some(table) = &search.tables[*source] {
                    pass.best_starts(*source, table, &mut worth, &mut starts);
                }
            }
            pass.free_worth.push(worth);
            pass.starts.push(starts);
        }
        pass
    }

    /// Price of the points before the one a piece starting at `from_s` shows first.
    fn paid_before(&self, take: usize, from_s: f64) -> f64 {
        match (&self.search.priced[take], self.paid.get(take)) {
            (Some((origin, count)), Some(paid)) if !paid.is_empty() => {
                paid[Search::first_point((from_s + INSIDE_S - origin) / PRICE_STEP_S, *count)]
            }
            _ => 0.0,
        }
    }

    /// Price of the points up to the one a piece ending at `to_s` shows last.
    fn paid_until(&self, take: usize, to_s: f64) -> f64 {
        match (&self.search.priced[take], self.paid.get(take)) {
            (Some((origin, count)), Some(paid)) if !paid.is_empty() => {
                paid[Search::after_point((to_s - INSIDE_S - origin) / PRICE_STEP_S, *count)]
            }
            _ => 0.0,
        }
    }

    /// Puts the shots of a free source in for every stretch where they are the best.
    fn best_starts(
        &self,
        source: usize,
        table: &FreeTable,
        best: &mut [f64],
        starts: &mut [(u32, f64)],
    ) {
        let objective = self.search.objective;
        let s = &objective.sources[source];
        let banned = self.limits.bans.iter().any(|ban| ban.take == s.take)
            || self.limits.kept.iter().any(|kept| kept.take == s.take);
        let paid = self.paid.get(s.take).filter(|paid| !paid.is_empty());
        for i in 0..objective.grid.end() {
            let span = self.search.lengths[i].len();
            for (n, start) in table.starts.iter().enumerate() {
                let cells = table.offset[i] + n * span;
                let allowed = if banned {
                    let last = self.search.last_allowed(source, i, *start, self.limits);
                    span.min(last - i)
                } else {
                    span
                };
                let row = &table.worth[cells..][..allowed];
                let ends = &table.ends[cells..][..allowed];
                let best = &mut best[self.span_offset[i]..][..allowed];
                let starts = &mut starts[self.span_offset[i]..][..allowed];
                let back = self.paid_before(s.take, *start);
                let choice = (source as u32, *start);
                for (((worth, end), best), chosen) in row.iter().zip(ends).zip(best).zip(starts) {
                    let owed = paid.map_or(0.0, |paid| (paid[*end as usize] - back).max(0.0));
                    let worth = worth - owed;
                    let better = worth > *best;
                    *best = if better { worth } else { *best };
                    *chosen = if better { choice } else { *chosen };
                }
            }
        }
    }

    fn node(&self, point: usize, line: usize) -> usize {
        (point * self.search.lines.len() + line) * self.search.groups
    }

    /// Searches from the first point to the last.
    pub fn run(mut self) -> Way {
        let (search, end) = (self.search, self.search.objective.grid.end());
        let (count, groups) = (search.lines.len(), search.groups);
        let mut into = vec![NEVER; count * groups];
        for i in 0..end {
            if i > 0 {
                self.hold_on(i);
            }
            self.cuts(i, &mut into);
            for line in 0..count {
                if i == 0 || into[line * groups..][..groups].iter().any(|w| *w > NEVER) {
                    self.shots(i, line, &into[line * groups..][..groups]);
                }
            }
            self.hold_black(i);
        }
        self.hold_on(end);
        let way = self.trace();
        search.spare.replace(self.nodes);
        way
    }

    /// The best way to cut at point `i` to every line, by the group before the cut.
    fn cuts(&mut self, i: usize, into: &mut [f64]) {
        let (search, groups) = (self.search, self.search.groups);
        let lines = &search.lines;
        into.fill(NEVER);
        if i == 0 {
            for (index, line) in lines.iter().enumerate() {
                if line.reached == 0 || line.state.is_some() {
                    into[index * groups + groups - 1] = 0.0;
                }
            }
            return;
        }
        // For every line that ends here the best two ways with different groups before it.
        let mut ending: Vec<(usize, [(f64, usize); 2])> = Vec::with_capacity(lines.len());
        for line in 0..lines.len() {
            let node = self.node(i, line);
            let mut two = [(NEVER, 0); 2];
            for (b, worth) in self.nodes.worth[node..][..groups].iter().enumerate() {
                if *worth > two[0].0 {
                    two[1] = two[0];
                    two[0] = (*worth, b);
                } else if *worth > two[1].0 {
                    two[1] = (*worth, b);
                }
            }
            if two[0].0 > NEVER {
                ending.push((line, two));
            }
        }
        let on_the_bar = search.objective.on_the_bar(i);
        for to in 0..lines.len() {
            if search.alike[to] == to {
                self.cuts_like(i, to, &ending, on_the_bar, into);
            }
        }
    }

    /// The best way to cut at point `i` into every line that is like `first`.
    fn cuts_like(
        &mut self,
        i: usize,
        first: usize,
        ending: &[(usize, [(f64, usize); 2])],
        on_the_bar: f64,
        into: &mut [f64],
    ) {
        let (search, groups) = (self.search, self.search.groups);
        let lines = &search.lines;
        let turns = &search.turns[first * lines.len()..][..lines.len()];
        let own = lines[first].group;
        let recent = if own == groups - 1 {
            0.0
        } else {
            search.objective.q.weights.recent
        };
        // By group before the cut: the best way, and the best from another line.
        let none = (NEVER, 0, 0);
        let mut best = vec![[none; 2]; groups];
        for (from, two) in ending {
            if turns[*from] == NEVER {
                continue;
            }
            let seen = |(worth, b): (f64, usize)| if b == own { worth - recent } else { worth };
            let (mut worth, mut b) = (seen(two[0]), two[0].1);
            if seen(two[1]) > worth {
                (worth, b) = (seen(two[1]), two[1].1);
            }
            let way = (worth + turns[*from] + on_the_bar, *from, b);
            let two = &mut best[lines[*from].group];
            if way.0 > two[0].0 {
                two[1] = two[0];
                two[0] = way;
            } else if way.0 > two[1].0 {
                two[1] = way;
            }
        }
        for to in first..lines.len() {
            if search.alike[to] != first {
                continue;
            }
            let node = self.node(i, to);
            for (a, two) in best.iter().enumerate() {
                let itself = match (lines[two[0].1].source, lines[to].source) {
                    (Some(from), Some(to)) => search.objective.no_cut(from, to),
                    _ => false,
                };
                let (worth, from, b) = two[usize::from(itself && two[0].0 > NEVER)];
                into[to * groups + a] = worth;
                self.nodes.before[node + a] = (from as u16, b as u16);
            }
        }
    }

    /// Every shot of `line` that starts at point `i`.
    fn shots(&mut self, i: usize, line: usize, into: &[f64]) {
        let (search, objective) = (self.search, self.search.objective);
        let source = match search.lines[line].shows {
            Shows::Black => {
                if search.lock_at[i].is_none() {
                    let worth = objective.black(i) - INTO_BLACK;
                    self.reach(i + 1, line, i, into, worth);
                }
                return;
            }
            Shows::Any(pool) => {
                if search.lock_at[i].is_none() {
                    for j in i + 1..=objective.grid.reach[i].min(search.next_lock[i]) {
                        let worth = self.free_worth[pool][self.span_offset[i] + j - i - 1];
                        if worth > NEVER {
                            self.reach(j, line, i, into, worth);
                        }
                    }
                }
                return;
            }
            Shows::Source(source) => source,
        };
        let s = &objective.sources[source];
        if objective.locked(source) {
            let held = &objective.held[source - objective.free];
            if held.from == i {
                let seg = Seg {
                    from: i,
                    to: held.to,
                    source: Some(source),
                    start: held.start,
                };
                let worth = objective.own(&seg).total();
                self.reach(held.to, line, i, into, worth);
            }
            return;
        }
        let Kind::Synced { lo, hi, .. } = &s.kind else {
            return;
        };
        if search.lock_at[i].is_some() || i < *lo || i >= *hi {
            return;
        }
        let reach = objective.grid.reach[i];
        let Some(table) = &search.synced[source] else {
            return;
        };
        let start = table.take_s[i];
        let last = search
            .last_allowed(source, i, start, self.limits)
            .min(search.next_lock[i])
            .min(*hi);
        let sums = &table.sums;
        let base = table.before[i] - sums[i] + self.paid_before(s.take, start);
        let within = reach.min(last).saturating_sub(i);
        for (n, length) in search.lengths[i][..within].iter().enumerate() {
            let j = i + n + 1;
            let open = base + sums[j] + length;
            let worth = open + table.after[j] - self.paid_until(s.take, table.take_s[j]);
            self.reach(j, line, i, into, worth);
            if j == reach && j < last {
                let node = self.node(j, line);
                for (a, before) in into.iter().enumerate() {
                    if before + open > self.nodes.on[node + a] {
                        self.nodes.on[node + a] = before + open;
                        self.nodes.on_from[node + a] = i as u32;
                    }
                }
            }
        }
    }

    fn reach(&mut self, j: usize, line: usize, i: usize, into: &[f64], worth: f64) {
        let node = self.node(j, line);
        let groups = self.search.groups;
        let best = &mut self.nodes.worth[node..][..groups];
        let from = &mut self.nodes.from[node..][..groups];
        for ((best, from), before) in best.iter_mut().zip(from).zip(into) {
            let found = before + worth;
            let better = found > *best;
            *best = if better { found } else { *best };
            *from = if better { i as u32 } else { *from };
        }
    }

    /// Synced shots past their longest are held on for the interval that ends at point `j`.
    fn hold_on(&mut self, j: usize) {
        let (search, objective) = (self.search, self.search.objective);
        for line in 0..search.lines.len() {
            let Shows::Source(source) = search.lines[line].shows else {
                continue;
            };
            if objective.locked(source) {
                continue;
            }
            let s = &objective.sources[source];
            let Kind::Synced { lo, hi, .. } = s.kind else {
                continue;
            };
            let earlier = self.node(j - 1, line);
            let groups = search.groups;
            if j <= lo + 1
                || j > hi
                || search.next_lock[j - 1] < j
                || self.nodes.on[earlier..][..groups]
                    .iter()
                    .all(|w| *w == NEVER)
            {
                continue;
            }
            let Some(table) = &search.synced[source] else {
                continue;
            };
            let (was, is) = (table.take_s[j - 1], table.take_s[j]);
            if self.barred(source, was, is) {
                continue;
            }
            let more = table.sums[j]
                - table.sums[j - 1]
                - TOO_LONG * objective.grid.intervals[j - 1].beats;
            let close = table.after[j] - self.paid_until(s.take, is);
            let now = self.node(j, line);
            for a in 0..groups {
                let on = self.nodes.on[earlier + a] + more;
                if on == NEVER {
                    continue;
                }
                let from = self.nodes.on_from[earlier + a];
                if on > self.nodes.on[now + a] {
                    self.nodes.on[now + a] = on;
                    self.nodes.on_from[now + a] = from;
                }
                if on + close > self.nodes.worth[now + a] {
                    self.nodes.worth[now + a] = on + close;
                    self.nodes.from[now + a] = from;
                }
            }
        }
    }

    /// Whether holding a synced shot on from `was` to `is` in its take runs into what it must not show.
    fn barred(&self, source: usize, was: f64, is: f64) -> bool {
        let (search, objective) = (self.search, self.search.objective);
        let s = &objective.sources[source];
        let runs_into = |a: f64, b: f64| b - a > TOUCH_S && was <= a + TOUCH_S && is > a + TOUCH_S;
        search.taken[s.take].iter().any(|(a, b)| runs_into(*a, *b))
            // Kept for a shot elsewhere: this one comes from long before.
            || self
                .limits
                .kept
                .iter()
                .any(|kept| kept.take == s.take && runs_into(kept.from_s, kept.to_s))
            || self.limits.bans.iter().any(|ban| {
                let Kind::Synced { run, .. } = &s.kind else {
                    return false;
                };
                ban.take == s.take
                    && was < ban.at_s + INSIDE_S
                    && is >= ban.at_s + INSIDE_S
                    && (ban.from..ban.to).contains(&objective.grid.interval_at(run.song_s_at(ban.at_s)))
            })
    }

    /// Black goes on for the interval that starts at point `i`.
    fn hold_black(&mut self, i: usize) {
        let (search, objective) = (self.search, self.search.objective);
        if search.lock_at[i].is_some() {
            return;
        }
        let worth = objective.black(i);
        for line in 0..search.lines.len() {
            if search.lines[line].shows != Shows::Black {
                continue;
            }
            let (now, next) = (self.node(i, line), self.node(i + 1, line));
            for a in 0..search.groups {
                let on = self.nodes.worth[now + a] + worth;
                if on > self.nodes.worth[next + a] {
                    self.nodes.worth[next + a] = on;
                    self.nodes.from[next + a] = HELD_BLACK;
                }
            }
        }
    }

    fn trace(&self) -> Way {
        let (search, objective) = (self.search, self.search.objective);
        let end = objective.grid.end();
        let mut best = (NEVER, 0, 0);
        for line in 0..search.lines.len() {
            let node = self.node(end, line);
            for a in 0..search.groups {
                if self.nodes.worth[node + a] > best.0 {
                    best = (self.nodes.worth[node + a], line, a);
                }
            }
        }
        let (value, mut line, mut a) = best;
        let mut segs = Vec::new();
        let mut to = end;
        let mut at = end;
        while at > 0 {
            let node = self.node(at, line);
            let from = self.nodes.from[node + a];
            if from == HELD_BLACK {
                at -= 1;
                continue;
            }
            let from = from as usize;
            let (source, start) = match search.lines[line].shows {
                Shows::Black => (None, 0.0),
                Shows::Any(pool) => {
                    let (source, start) = self.starts[pool][self.span_offset[from] + to - from - 1];
                    (Some(source as usize), start)
                }
                Shows::Source(source) => {
                    let start = match &objective.sources[source].kind {
                        Kind::Synced { run, .. } => run.take_s_at(objective.grid.at_s[from]),
                        Kind::Free { starts } => starts.first().copied().unwrap_or(0.0),
                    };
                    (Some(source), start)
                }
            };
            segs.push(Seg {
                from,
                to,
                source,
                start,
            });
            let node = self.node(from, line);
            let (before, b) = self.nodes.before[node + a];
            (line, a) = (usize::from(before), usize::from(b));
            (at, to) = (from, from);
        }
        segs.reverse();
        Way { value, segs }
    }
}
