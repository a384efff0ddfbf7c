//! The objective: what a shot and a cut are worth. Every other module asks here.
//!
//! The formulas stand in `docs/assembly.md` and at each function.

use crate::answer::{Question, Terms};
use crate::grid::{Grid, LEAST_S};
use crate::locks::Held;
use crate::material::{HANDLE_S, Kind, Material, Source, intent, planned};
use model::{Purpose, SongTime};

/// Cost of a shot shorter than [`LEAST_S`].
pub const TOO_SHORT: f64 = 12.0;
/// Cost of each beat by which a shot is longer than a shot may be.
pub const TOO_LONG: f64 = 4.0;
/// Cost of every stretch of black, on top of what its beats cost. A flash of black must be worse than a
/// short shot, and worse than holding a shot on for as long again as it may be: 16 beats × [`TOO_LONG`]
/// is less than this and one beat of black at the default weight.
pub const INTO_BLACK: f64 = 60.0;
/// Cost per beat of a performer state that runs backwards against a lock. More than all that speaks
/// for a shot together, less than black.
pub const OUT_OF_ORDER: f64 = 8.0;
/// Pieces of a take that share no more than this are not a repetition, in seconds.
pub const TOUCH_S: f64 = 1e-3;

/// Whether two pieces show something of the same take twice.
pub fn repeats(a: &(usize, f64, f64), b: &(usize, f64, f64)) -> bool {
    a.0 == b.0 && a.2.min(b.2) - a.1.max(b.1) > TOUCH_S
}

/// One stretch between two points and what it shows.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Seg {
    /// The point it starts at.
    pub from: usize,
    /// The point it ends at.
    pub to: usize,
    /// What it shows; `None` is black.
    pub source: Option<usize>,
    /// Where in the take it starts, seconds; for synced sources as heard.
    pub start: f64,
}

/// A song, its grid and all there is to cut to, with the objective over them.
#[derive(Clone, Debug)]
pub struct Objective<'a> {
    /// The question.
    pub q: Question<'a>,
    /// The points.
    pub grid: Grid,
    /// Sources to choose from, then one for each lock.
    pub sources: Vec<Source>,
    /// How many of them may be chosen; those after are locks.
    pub free: usize,
    /// The locks, in order; lock `n` shows source `free + n`.
    pub held: Vec<Held>,
    /// Picture measures and groups.
    pub material: Material,
    /// Intent by source and section change: `intents[source][interval]`.
    intents: Vec<Vec<f64>>,
    /// States allowed by the locks around, by interval, both included.
    order: Vec<(u32, u32)>,
    /// Sum of beats × expected length up to each point.
    expected: Vec<f64>,
}

impl<'a> Objective<'a> {
    /// Sets the objective.
    pub fn new(q: Question<'a>, grid: Grid, mut material: Material, held: Vec<Held>) -> Self {
        let mut sources = std::mem::take(&mut material.sources);
        let free = sources.len();
        sources.extend(held.iter().map(|held| held.source.clone()));
        let plan = planned(&q);
        let middles: Vec<SongTime> = grid
            .at_s
            .windows(2)
            .map(|w| SongTime::nearest_to_seconds((w[0] + w[1]) / 2.0))
            .collect();
        let intents = sources
            .iter()
            .map(|source| {
                // Many intervals of a section read the same; only the plan's stretches may differ.
                let mut last: Option<(usize, Vec<bool>, f64)> = None;
                grid.intervals
                    .iter()
                    .zip(&middles)
                    .map(|(interval, at)| {
                        let here: Vec<bool> = source.setup.map_or(Vec::new(), |setup| {
                            plan[setup].iter().map(|s| s.holds(*at)).collect()
                        });
                        match &last {
                            Some((section, holds, value))
                                if *section == interval.section && *holds == here =>
                            {
                                *value
                            }
                            _ => {
                                let value = intent(&q, source, &plan, interval.section, *at);
                                last = Some((interval.section, here, value));
                                value
                            }
                        }
                    })
                    .collect()
            })
            .collect();
        let order = (0..grid.intervals.len())
            .map(|k| {
                let state = |held: &Held| held.source.state;
                let before = held
                    .iter()
                    .filter(|h| h.to <= k)
                    .filter_map(state)
                    .next_back();
                let after = held.iter().filter(|h| h.from > k).find_map(state);
                (before.unwrap_or(0), after.unwrap_or(u32::MAX))
            })
            .collect();
        let mut expected = vec![0.0];
        for interval in &grid.intervals {
            expected.push(expected[expected.len() - 1] + interval.beats * interval.log_expected);
        }
        Self {
            q,
            grid,
            sources,
            free,
            held,
            material,
            intents,
            order,
            expected,
        }
    }

    /// Whether `source` belongs to a lock.
    pub fn locked(&self, source: usize) -> bool {
        source >= self.free
    }

    /// What showing `[from_s, to_s)` of a source's take during interval `k` is worth, term by term:
    /// wish, rating, sharpness, exposure, movement, voice, confidence, limits.
    ///
    /// Each is weight × beats × a value from 0 to 1: the plan's [`intent`], the rating (circled 1,
    /// usable 0.6, unrated 0.3), mean sharpness, mean exposure, `1 − |rank of movement − energy|`, the
    /// likelihood of a voice for a performance in sync and of none for b-roll, and trust in the
    /// placement. `limits` is [`OUT_OF_ORDER`] where the take's state contradicts a lock.
    pub fn content(&self, source: usize, k: usize, from_s: f64, to_s: f64) -> [f64; 8] {
        let interval = &self.grid.intervals[k];
        let s = &self.sources[source];
        let w = self.q.weights;
        let [sharpness, exposure, movement] = self.material.means(s.take, from_s, to_s);
        let voice = match s.purpose {
            Purpose::Performance if s.in_sync => interval.voice,
            Purpose::Performance => 0.0,
            Purpose::BRoll => 1.0 - interval.voice,
        };
        let against = !self.locked(source)
            && s.state
                .is_some_and(|state| state < self.order[k].0 || state > self.order[k].1);
        let b = interval.beats;
        [
            w.wish * b * self.intents[source][k],
            w.rating * b * s.rating,
            w.sharpness * b * sharpness,
            w.exposure * b * exposure,
            w.movement * b * (1.0 - (movement - interval.energy).abs()),
            w.voice * b * voice,
            w.confidence * b * s.confidence,
            if against { -OUT_OF_ORDER * b } else { 0.0 },
        ]
    }

    /// What black costs during interval `k`.
    pub fn black(&self, k: usize) -> f64 {
        -self.q.weights.black * self.grid.intervals[k].beats
    }

    /// What the length of a shot from point `i` to `j` is worth: `−weight × (log2 of its beats over
    /// those expected)²`, so that twice or half as long as expected costs the weight once. The expected
    /// length is the geometric mean over its beats. Read up to the longest a shot may be.
    pub fn length(&self, i: usize, j: usize) -> f64 {
        let j = j.min(self.grid.reach[i]);
        let beats = self.grid.beat[j] - self.grid.beat[i];
        let off = beats.log2() - (self.expected[j] - self.expected[i]) / beats;
        -self.q.weights.length * off * off
    }

    /// Fixed costs of a shot from point `i` to `j`: too short, too long.
    pub fn limits(&self, i: usize, j: usize) -> f64 {
        let mut cost = 0.0;
        if self.grid.at_s[j] - self.grid.at_s[i] < LEAST_S - self.grid.frame_s / 2.0 {
            cost -= TOO_SHORT;
        }
        if j > self.grid.reach[i] {
            cost -= TOO_LONG * (self.grid.beat[j] - self.grid.beat[self.grid.reach[i]]);
        }
        cost
    }

    /// What a shot that starts at `start` seconds into its take pays for the handle before it: half
    /// the weight when there is less than [`HANDLE_S`] of take.
    pub fn handle_before(&self, source: usize, start: f64) -> f64 {
        let short = start - self.sources[source].usable.0 < HANDLE_S - 1e-6;
        if short {
            -self.q.weights.handles / 2.0
        } else {
            0.0
        }
    }

    /// The same for the handle after it.
    pub fn handle_after(&self, source: usize, end: f64) -> f64 {
        let short = self.sources[source].usable.1 - end < HANDLE_S - 1e-6;
        if short {
            -self.q.weights.handles / 2.0
        } else {
            0.0
        }
    }

    /// How far off the bar a cut at point `i` is, as a cost. The start of the song is no cut.
    pub fn on_the_bar(&self, i: usize) -> f64 {
        if i == 0 {
            0.0
        } else {
            -self.q.weights.on_the_bar * self.grid.off_bar[i]
        }
    }

    /// What it costs to go from one source to another: the same setup, or near-identical framings
    /// (another setup of the same purpose, place and framing).
    pub fn turn(&self, from: usize, to: usize) -> (f64, f64) {
        let (a, b) = (&self.sources[from], &self.sources[to]);
        let w = self.q.weights;
        if a.group == b.group {
            return (-w.same_setup, 0.0);
        }
        let near = a.setup.zip(b.setup).is_some_and(|(x, y)| {
            let (x, y) = (&self.q.setups[x], &self.q.setups[y]);
            x.purpose == y.purpose && x.place == y.place && x.framing == y.framing
        });
        (0.0, if near { -w.near_framing } else { 0.0 })
    }

    /// Whether `to` may not follow `from`: one run shown on, which would be one shot.
    pub fn no_cut(&self, from: usize, to: usize) -> bool {
        from == to && !self.locked(from) && matches!(self.sources[from].kind, Kind::Synced { .. })
    }

    /// The piece of the take that `seg` shows, in seconds.
    pub fn piece(&self, seg: &Seg) -> Option<(usize, f64, f64)> {
        let source = &self.sources[seg.source?];
        let (from, to) = (self.grid.at_s[seg.from], self.grid.at_s[seg.to]);
        Some((
            source.take,
            source.take_s(from, from, seg.start),
            source.take_s(to, from, seg.start),
        ))
    }

    /// What `seg` adds by itself, whatever stands before and after it.
    pub fn own(&self, seg: &Seg) -> Terms {
        let mut terms = Terms::default();
        let Some(source) = seg.source else {
            terms.black = (seg.from..seg.to).map(|k| self.black(k)).sum();
            terms.limits = -INTO_BLACK;
            return terms;
        };
        let s = &self.sources[source];
        let at = &self.grid.at_s;
        for k in seg.from..seg.to {
            let from = s.take_s(at[k], at[seg.from], seg.start);
            let to = s.take_s(at[k + 1], at[seg.from], seg.start);
            let c = self.content(source, k, from, to);
            terms.wish += c[0];
            terms.rating += c[1];
            terms.sharpness += c[2];
            terms.exposure += c[3];
            terms.movement += c[4];
            terms.voice += c[5];
            terms.confidence += c[6];
            terms.limits += c[7];
        }
        if !self.locked(source) {
            let (_, start, end) = self.piece(seg).unwrap_or_default();
            terms.length = self.length(seg.from, seg.to);
            terms.limits += self.limits(seg.from, seg.to);
            terms.handles = self.handle_before(source, start) + self.handle_after(source, end);
        }
        terms
    }

    /// What the cut into `segs[n]` adds.
    pub fn cut(&self, segs: &[Seg], n: usize) -> Terms {
        let mut terms = Terms {
            on_the_bar: self.on_the_bar(segs[n].from),
            ..Terms::default()
        };
        let Some(source) = segs[n].source else {
            return terms;
        };
        if let Some(before) = n.checked_sub(1).and_then(|n| segs[n].source) {
            (terms.same_setup, terms.near_framing) = self.turn(before, source);
        }
        if let Some(earlier) = n.checked_sub(2).and_then(|n| segs[n].source)
            && self.sources[earlier].group == self.sources[source].group
        {
            terms.recent = -self.q.weights.recent;
        }
        terms
    }

    /// What each of `segs` adds, in order.
    pub fn terms(&self, segs: &[Seg]) -> Vec<Terms> {
        (0..segs.len())
            .map(|n| self.own(&segs[n]).and(&self.cut(segs, n)))
            .collect()
    }
}
