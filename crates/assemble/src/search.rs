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

use crate::material::Kind;
use crate::scene::{INTO_BLACK, Scene, Seg, TOO_LONG, TOUCH_S};

/// Distance between the points of a take that carry a price, in seconds.
const PRICE_STEP_S: f64 = 0.25;
/// A point counts as shown when the piece holds it with this much on both sides, so that two pieces
/// that both show a point overlap by more than [`TOUCH_S`].
const INSIDE_S: f64 = TOUCH_S / 2.0;
const NEVER: f64 = f64::NEG_INFINITY;
const HELD_BLACK: u32 = u32::MAX;

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

/// Prices and bans that keep a take from being shown twice.
#[derive(Clone, Debug, Default)]
pub struct Limits {
    /// For each take, the price of each of its points; empty where nothing can repeat.
    pub prices: Vec<Vec<f64>>,
    /// What must not be shown where.
    pub bans: Vec<Ban>,
}

/// The best way through, and what it is worth with the prices paid.
#[derive(Clone, Debug)]
pub struct Way {
    /// Worth after prices.
    pub value: f64,
    /// The shots.
    pub segs: Vec<Seg>,
}

#[derive(Clone, Copy, Debug)]
struct Line {
    /// What is shown; `None` is black.
    source: Option<usize>,
    group: usize,
    /// The state reached once it is shown: 0 is none.
    reached: usize,
    /// Its own state, counted from 1; `None` where it has none.
    state: Option<usize>,
}

/// Worth of every shot of a free source, prices aside.
#[derive(Clone, Debug)]
struct FreeTable {
    starts: Vec<f64>,
    /// Where the shots from each point begin in `worth`.
    offset: Vec<usize>,
    /// By point, start, and how many intervals long, less one.
    worth: Vec<f64>,
}

/// Everything about one scene that does not change from one search to the next.
#[derive(Debug)]
pub struct Search<'s, 'a> {
    scene: &'s Scene<'a>,
    lines: Vec<Line>,
    groups: usize,
    /// Worth of going from one line to another, by both; [`NEVER`] where forbidden.
    turns: Vec<f64>,
    tables: Vec<Option<FreeTable>>,
    /// Running sums of content for synced sources.
    sums: Vec<Vec<f64>>,
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
}

impl<'s, 'a> Search<'s, 'a> {
    /// Makes ready to search `scene`.
    pub fn new(scene: &'s Scene<'a>) -> Self {
        let end = scene.grid.end();
        let lines = lines(scene);
        let groups = scene.material.group_count + 1;
        let turns = turns(scene, &lines);

        let mut next_lock = vec![end; end + 1];
        let mut lock_at = vec![None; end + 1];
        for (index, held) in scene.held.iter().enumerate().rev() {
            for at in &mut next_lock[..=held.from] {
                *at = held.from;
            }
            lock_at[held.from] = Some(index);
        }
        let mut taken = vec![Vec::new(); scene.q.takes.len()];
        for (index, held) in scene.held.iter().enumerate() {
            let seg = Seg {
                from: held.from,
                to: held.to,
                source: Some(scene.free + index),
                start: held.start,
            };
            if let Some((take, from, to)) = scene.piece(&seg) {
                taken[take].push((from, to));
            }
        }
        let lengths = (0..end)
            .map(|i| {
                (i + 1..=scene.grid.reach[i])
                    .map(|j| scene.length(i, j) + scene.limits(i, j))
                    .collect()
            })
            .collect();

        let mut search = Self {
            scene,
            lines,
            groups,
            turns,
            tables: Vec::new(),
            sums: Vec::new(),
            next_lock,
            lock_at,
            taken,
            priced: vec![None; scene.q.takes.len()],
            lengths,
        };
        for (index, source) in scene.sources.iter().enumerate() {
            let free = !scene.locked(index);
            search.sums.push(match &source.kind {
                Kind::Synced { lo, hi, .. } if free => search.synced_sums(index, *lo, *hi),
                _ => Vec::new(),
            });
            search.tables.push(match &source.kind {
                Kind::Free { starts } if free => Some(search.free_table(index, starts)),
                _ => None,
            });
            let ways = scene.sources[..scene.free]
                .iter()
                .filter(|other| other.take == source.take)
                .count();
            if free && (ways > 1 || search.tables[index].is_some()) {
                let (from, to) = source.usable;
                let points = ((to - from) / PRICE_STEP_S).ceil() as usize;
                search.priced[source.take] = Some((from, points.min(100_000)));
            }
        }
        search
    }

    /// The scene searched.
    pub fn scene(&self) -> &Scene<'a> {
        self.scene
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
        ((x - 0.5).ceil().max(0.0) as usize).min(count)
    }

    /// How many points lie up to and at `x`.
    fn after_point(x: f64, count: usize) -> usize {
        ((x + 0.5).floor().max(0.0) as usize).min(count)
    }

    fn synced_sums(&self, source: usize, lo: usize, hi: usize) -> Vec<f64> {
        let (scene, at) = (self.scene, &self.scene.grid.at_s);
        let s = &scene.sources[source];
        let mut sums = vec![0.0; at.len()];
        for k in lo..hi {
            let piece = [s.take_s(at[k], 0.0, 0.0), s.take_s(at[k + 1], 0.0, 0.0)];
            let worth: f64 = scene.content(source, k, piece[0], piece[1]).iter().sum();
            sums[k + 1] = sums[k] + worth;
        }
        sums
    }

    fn free_table(&self, source: usize, starts: &[f64]) -> FreeTable {
        let (scene, at) = (self.scene, &self.scene.grid.at_s);
        let s = &scene.sources[source];
        let mut table = FreeTable {
            starts: starts.to_vec(),
            offset: Vec::with_capacity(at.len()),
            worth: Vec::new(),
        };
        for i in 0..scene.grid.end() {
            table.offset.push(table.worth.len());
            for start in starts {
                let mut content = scene.handle_before(source, *start);
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
                        break;
                    }
                    content += scene.content(source, j - 1, from, to).iter().sum::<f64>();
                    table
                        .worth
                        .push(content + length + scene.handle_after(source, to));
                    from = to;
                }
            }
        }
        table
    }

    /// The last point a shot from point `i` may end at so that it shows nothing banned and nothing a
    /// lock shows.
    fn last_allowed(&self, source: usize, i: usize, start: f64, bans: &[Ban]) -> usize {
        let (scene, at) = (self.scene, &self.scene.grid.at_s);
        let s = &scene.sources[source];
        let mut last = scene.grid.end();
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
        for ban in bans.iter().filter(|ban| ban.take == s.take) {
            if ban.at_s < start + INSIDE_S {
                continue;
            }
            let song_s = match &s.kind {
                Kind::Synced { run, .. } => run.song_s_at(ban.at_s),
                Kind::Free { .. } => at[i] + (ban.at_s - start) * s.pace,
            };
            if (ban.from..ban.to).contains(&scene.grid.interval_at(song_s)) {
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

fn lines(scene: &Scene) -> Vec<Line> {
    let mut states: Vec<u32> = scene.sources[..scene.free]
        .iter()
        .filter_map(|source| source.state)
        .collect();
    states.sort_unstable();
    states.dedup();
    if states.len() < 2 {
        states.clear();
    }
    let void = scene.material.group_count;
    let mut lines: Vec<Line> = (0..=states.len())
        .map(|reached| Line {
            source: None,
            group: void,
            reached,
            state: None,
        })
        .collect();
    for (index, source) in scene.sources.iter().enumerate() {
        let own = source
            .state
            .filter(|_| !scene.locked(index))
            .and_then(|state| states.binary_search(&state).ok());
        let made = |reached, state| Line {
            source: Some(index),
            group: source.group,
            reached,
            state,
        };
        match own {
            Some(state) => lines.push(made(state + 1, Some(state + 1))),
            None => lines.extend((0..=states.len()).map(|reached| made(reached, None))),
        }
    }
    lines
}

fn turns(scene: &Scene, lines: &[Line]) -> Vec<f64> {
    let mut turns = Vec::with_capacity(lines.len() * lines.len());
    for to in lines {
        for from in lines {
            let in_order = match to.state {
                Some(state) => from.reached <= state,
                None => from.reached == to.reached,
            };
            turns.push(match (from.source, to.source) {
                _ if !in_order => NEVER,
                // Black that goes on is no cut; `Pass` carries it on by itself.
                (None, None) => NEVER,
                (Some(a), Some(b)) if scene.no_cut(a, b) => NEVER,
                (Some(a), Some(b)) => {
                    let (same, near) = scene.turn(a, b);
                    same + near
                }
                _ => 0.0,
            });
        }
    }
    turns
}

/// One search: the state of the programme.
struct Pass<'p, 's, 'a> {
    search: &'p Search<'s, 'a>,
    limits: &'p Limits,
    /// Running sums of prices by take; empty where there are none.
    paid: Vec<Vec<f64>>,
    /// Worth of the best way into each node: by point, line and group before.
    worth: Vec<f64>,
    /// The point that the last shot of that way starts at.
    from: Vec<u32>,
    /// Worth of ways that hold a synced shot on past its longest, and the point that shot starts at.
    on: Vec<f64>,
    on_from: Vec<u32>,
    /// The best way into a cut: by point, line after it and group before it, the line and group before.
    before: Vec<(u16, u16)>,
    /// Start in the take of the best free shot: by source, point and length.
    starts: Vec<Vec<f64>>,
    free_worth: Vec<Vec<f64>>,
    span_offset: Vec<usize>,
}

impl<'p, 's, 'a> Pass<'p, 's, 'a> {
    fn new(search: &'p Search<'s, 'a>, limits: &'p Limits) -> Self {
        let nodes = (search.scene.grid.end() + 1) * search.lines.len() * search.groups;
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
            worth: vec![NEVER; nodes],
            from: vec![0; nodes],
            on: vec![NEVER; nodes],
            on_from: vec![0; nodes],
            before: vec![(0, 0); nodes],
            starts: Vec::new(),
            free_worth: Vec::new(),
            span_offset,
        };
        for source in 0..search.scene.sources.len() {
            let (worth, starts) = match &search.tables[source] {
                Some(table) => pass.best_starts(source, table),
                None => (Vec::new(), Vec::new()),
            };
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

    /// For every stretch the worth and start of the best shot of a free source.
    fn best_starts(&self, source: usize, table: &FreeTable) -> (Vec<f64>, Vec<f64>) {
        let (scene, at) = (self.search.scene, &self.search.scene.grid.at_s);
        let s = &scene.sources[source];
        let spans = self.span_offset[self.span_offset.len() - 1];
        let (mut best, mut starts) = (vec![NEVER; spans], vec![0.0; spans]);
        let banned = self.limits.bans.iter().any(|ban| ban.take == s.take);
        let paid = self
            .paid
            .get(s.take)
            .filter(|paid| !paid.is_empty())
            .zip(self.search.priced[s.take]);
        for i in 0..scene.grid.end() {
            let span = self.search.lengths[i].len();
            for (n, start) in table.starts.iter().enumerate() {
                let row = &table.worth[table.offset[i] + n * span..][..span];
                let allowed = if banned {
                    let last = self
                        .search
                        .last_allowed(source, i, *start, &self.limits.bans);
                    span.min(last - i)
                } else {
                    span
                };
                let to = self.span_offset[i];
                let mut take_in = |m: usize, worth: f64| {
                    if worth > best[to + m] {
                        best[to + m] = worth;
                        starts[to + m] = *start;
                    }
                };
                match paid {
                    None => {
                        for (m, worth) in row[..allowed].iter().enumerate() {
                            take_in(m, *worth);
                        }
                    }
                    Some((paid, (origin, count))) => {
                        let back = self.paid_before(s.take, *start);
                        let base = (start - INSIDE_S - origin) / PRICE_STEP_S;
                        let pace = 1.0 / (s.pace * PRICE_STEP_S);
                        for (m, worth) in row[..allowed].iter().enumerate() {
                            if *worth == NEVER {
                                break;
                            }
                            let x = base + (at[i + m + 1] - at[i]) * pace;
                            let owed = (paid[Search::after_point(x, count)] - back).max(0.0);
                            take_in(m, worth - owed);
                        }
                    }
                }
            }
        }
        (best, starts)
    }

    fn node(&self, point: usize, line: usize) -> usize {
        (point * self.search.lines.len() + line) * self.search.groups
    }

    fn run(mut self) -> Way {
        let (search, end) = (self.search, self.search.scene.grid.end());
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
        self.trace()
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
        // For every line the best two ways with different groups before it.
        let best_two: Vec<[(f64, usize); 2]> = (0..lines.len())
            .map(|line| {
                let mut two = [(NEVER, 0); 2];
                let node = self.node(i, line);
                for (b, worth) in self.worth[node..][..groups].iter().enumerate() {
                    if *worth > two[0].0 {
                        two[1] = two[0];
                        two[0] = (*worth, b);
                    } else if *worth > two[1].0 {
                        two[1] = (*worth, b);
                    }
                }
                two
            })
            .collect();
        let on_the_bar = search.scene.on_the_bar(i);
        let recent = search.scene.q.weights.recent;
        let void = groups - 1;
        for (to, line) in lines.iter().enumerate() {
            let turns = &search.turns[to * lines.len()..][..lines.len()];
            for (from, two) in best_two.iter().enumerate() {
                if two[0].0 == NEVER || turns[from] == NEVER {
                    continue;
                }
                let seen = |(worth, b): (f64, usize)| {
                    if b == line.group && b != void {
                        worth - recent
                    } else {
                        worth
                    }
                };
                let (mut worth, mut b) = (seen(two[0]), two[0].1);
                if seen(two[1]) > worth {
                    (worth, b) = (seen(two[1]), two[1].1);
                }
                worth += turns[from] + on_the_bar;
                let a = lines[from].group;
                let cell = to * groups + a;
                if worth > into[cell] {
                    into[cell] = worth;
                    let node = self.node(i, to);
                    self.before[node + a] = (from as u16, b as u16);
                }
            }
        }
    }

    /// Every shot of `line` that starts at point `i`.
    fn shots(&mut self, i: usize, line: usize, into: &[f64]) {
        let (search, scene) = (self.search, self.search.scene);
        let Some(source) = search.lines[line].source else {
            if search.lock_at[i].is_none() {
                let worth = scene.black(i) - INTO_BLACK;
                self.reach(i + 1, line, i, into, worth);
            }
            return;
        };
        let s = &scene.sources[source];
        if scene.locked(source) {
            let held = &scene.held[source - scene.free];
            if held.from == i {
                let seg = Seg {
                    from: i,
                    to: held.to,
                    source: Some(source),
                    start: held.start,
                };
                let worth = scene.own(&seg).total();
                self.reach(held.to, line, i, into, worth);
            }
            return;
        }
        if search.lock_at[i].is_some() {
            return;
        }
        let reach = scene.grid.reach[i];
        match &s.kind {
            Kind::Free { .. } => {
                for j in i + 1..=reach.min(search.next_lock[i]) {
                    let worth = self.free_worth[source][self.span_offset[i] + j - i - 1];
                    if worth > NEVER {
                        self.reach(j, line, i, into, worth);
                    }
                }
            }
            Kind::Synced { lo, hi, .. } => {
                if i < *lo || i >= *hi {
                    return;
                }
                let at = &scene.grid.at_s;
                let start = s.take_s(at[i], 0.0, 0.0);
                let last = search
                    .last_allowed(source, i, start, &self.limits.bans)
                    .min(search.next_lock[i])
                    .min(*hi);
                let sums = &search.sums[source];
                let base =
                    scene.handle_before(source, start) - sums[i] + self.paid_before(s.take, start);
                for j in i + 1..=reach.min(last) {
                    let to = s.take_s(at[j], 0.0, 0.0);
                    let open = base + sums[j] + search.lengths[i][j - i - 1];
                    let worth = open + scene.handle_after(source, to) - self.paid_until(s.take, to);
                    self.reach(j, line, i, into, worth);
                    if j == reach && j < last {
                        let node = self.node(j, line);
                        for (a, before) in into.iter().enumerate() {
                            if before + open > self.on[node + a] {
                                self.on[node + a] = before + open;
                                self.on_from[node + a] = i as u32;
                            }
                        }
                    }
                }
            }
        }
    }

    fn reach(&mut self, j: usize, line: usize, i: usize, into: &[f64], worth: f64) {
        let node = self.node(j, line);
        let groups = self.search.groups;
        let best = &mut self.worth[node..][..groups];
        let from = &mut self.from[node..][..groups];
        for ((best, from), before) in best.iter_mut().zip(from).zip(into) {
            let found = before + worth;
            let better = found > *best;
            *best = if better { found } else { *best };
            *from = if better { i as u32 } else { *from };
        }
    }

    /// Synced shots past their longest are held on for the interval that ends at point `j`.
    fn hold_on(&mut self, j: usize) {
        let (search, scene) = (self.search, self.search.scene);
        let at = &scene.grid.at_s;
        for line in 0..search.lines.len() {
            let Some(source) = search.lines[line].source.filter(|s| *s < scene.free) else {
                continue;
            };
            let s = &scene.sources[source];
            let Kind::Synced { lo, hi, .. } = s.kind else {
                continue;
            };
            let earlier = self.node(j - 1, line);
            let groups = search.groups;
            if j <= lo + 1
                || j > hi
                || search.next_lock[j - 1] < j
                || self.on[earlier..][..groups].iter().all(|w| *w == NEVER)
            {
                continue;
            }
            let (was, is) = (s.take_s(at[j - 1], 0.0, 0.0), s.take_s(at[j], 0.0, 0.0));
            if self.barred(source, was, is) {
                continue;
            }
            let more = search.sums[source][j]
                - search.sums[source][j - 1]
                - TOO_LONG * scene.grid.intervals[j - 1].beats;
            let close = scene.handle_after(source, is) - self.paid_until(s.take, is);
            let now = self.node(j, line);
            for a in 0..groups {
                let on = self.on[earlier + a] + more;
                if on == NEVER {
                    continue;
                }
                let from = self.on_from[earlier + a];
                if on > self.on[now + a] {
                    self.on[now + a] = on;
                    self.on_from[now + a] = from;
                }
                if on + close > self.worth[now + a] {
                    self.worth[now + a] = on + close;
                    self.from[now + a] = from;
                }
            }
        }
    }

    /// Whether holding a synced shot on from `was` to `is` in its take runs into what it must not show.
    fn barred(&self, source: usize, was: f64, is: f64) -> bool {
        let (search, scene) = (self.search, self.search.scene);
        let s = &scene.sources[source];
        let taken = search.taken[s.take]
            .iter()
            .any(|(a, b)| b - a > TOUCH_S && was <= a + TOUCH_S && is > a + TOUCH_S);
        taken
            || self.limits.bans.iter().any(|ban| {
                let Kind::Synced { run, .. } = &s.kind else {
                    return false;
                };
                ban.take == s.take
                    && was < ban.at_s + INSIDE_S
                    && is >= ban.at_s + INSIDE_S
                    && (ban.from..ban.to).contains(&scene.grid.interval_at(run.song_s_at(ban.at_s)))
            })
    }

    /// Black goes on for the interval that starts at point `i`.
    fn hold_black(&mut self, i: usize) {
        let (search, scene) = (self.search, self.search.scene);
        if search.lock_at[i].is_some() {
            return;
        }
        let worth = scene.black(i);
        for line in 0..search.lines.len() {
            if search.lines[line].source.is_some() {
                continue;
            }
            let (now, next) = (self.node(i, line), self.node(i + 1, line));
            for a in 0..search.groups {
                let on = self.worth[now + a] + worth;
                if on > self.worth[next + a] {
                    self.worth[next + a] = on;
                    self.from[next + a] = HELD_BLACK;
                }
            }
        }
    }

    fn trace(&self) -> Way {
        let (search, scene) = (self.search, self.search.scene);
        let end = scene.grid.end();
        let mut best = (NEVER, 0, 0);
        for line in 0..search.lines.len() {
            let node = self.node(end, line);
            for a in 0..search.groups {
                if self.worth[node + a] > best.0 {
                    best = (self.worth[node + a], line, a);
                }
            }
        }
        let (value, mut line, mut a) = best;
        let mut segs = Vec::new();
        let mut to = end;
        let mut at = end;
        while at > 0 {
            let node = self.node(at, line);
            let from = self.from[node + a];
            if from == HELD_BLACK {
                at -= 1;
                continue;
            }
            let from = from as usize;
            let source = search.lines[line].source;
            let start = match source {
                None => 0.0,
                Some(source) if scene.locked(source) => scene.held[source - scene.free].start,
                Some(source) => match &scene.sources[source].kind {
                    Kind::Synced { run, .. } => run.take_s_at(scene.grid.at_s[from]),
                    Kind::Free { .. } => {
                        self.starts[source][self.span_offset[from] + to - from - 1]
                    }
                },
            };
            segs.push(Seg {
                from,
                to,
                source,
                start,
            });
            let node = self.node(from, line);
            let (before, b) = self.before[node + a];
            (line, a) = (usize::from(before), usize::from(b));
            (at, to) = (from, from);
        }
        segs.reverse();
        Way { value, segs }
    }
}
