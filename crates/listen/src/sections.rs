//! Sections: where the music turns, and which parts are the same music.
//!
//! Every bar is described by its timbre, its onset strength per band and the pitch classes of the
//! phrase around it. Boundaries are the optimal change points of that description (least squares,
//! exact by dynamic programming) with a cost per section and a preference for phrases of four and
//! eight bars. Letters follow from comparing sections bar by bar: same chords at some alignment and
//! like timbre. Novelty at bar lines goes back to J. Foote, "Automatic audio segmentation using a
//! measure of audio novelty" (ICME 2000); the repetition of a context of bars to J. Serrà, M. Müller,
//! P. Grosche and J. Ll. Arcos, "Unsupervised music structure annotation by time series structure
//! features and segment similarity" (IEEE Trans. Multimedia 16(5), 2014).

use crate::spectrum::{BANDS, FAST_HZ, Frames, SLOW_HZ, TIMBRE};
use std::ops::Range;

/// A stretch and the number of its kind.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Part {
    pub start_s: f64,
    pub end_s: f64,
    pub kind: usize,
}

/// Weights of timbre, onset strength and pitch classes. These and the costs below were chosen by
/// random search on the songs of `checks/listen` marked as tuned and on songs drawn at random.
const GROUPS: [f32; 3] = [0.9, 1.3, 0.5];
/// What a section costs, in bars' worth of total spread.
const SECTION: f32 = 0.4;
/// Below this spread a description is taken as constant.
const FLOORS: [f32; 3] = [0.12, 0.12, 0.05];
/// Sections shorter than this are dear, seconds.
const SHORT_S: f64 = 12.0;
/// The longest section looked for, bars.
const LONGEST: usize = 64;
/// Two sections are the same music above this likeness.
const ALIKE: f32 = 0.66;

const DIMS: usize = TIMBRE + BANDS + 12;

struct Bars {
    edges: Vec<f64>,
    /// Scaled description of each bar.
    described: Vec<[f32; DIMS]>,
    /// Pitch classes of the two halves of each bar, unit length.
    chords: Vec<[f32; 24]>,
    /// Bars at the end in which the music only dies away.
    tail: usize,
}

/// The parts of the song between `edges_s` (bar lines, rising, from zero to the end).
pub(crate) fn parts(frames: &Frames, edges_s: &[f64]) -> Vec<Part> {
    let n = edges_s.len().saturating_sub(1);
    if n == 0 {
        return Vec::new();
    }
    let bars = Bars::of(frames, edges_s);
    let boundaries = boundaries(&bars);
    let kinds = kinds(&bars, &boundaries);
    boundaries
        .windows(2)
        .zip(kinds)
        .map(|(b, kind)| Part {
            start_s: bars.edges[b[0]],
            end_s: bars.edges[b[1]],
            kind,
        })
        .collect()
}

impl Bars {
    /// Whether what comes before the first downbeat is less than a bar.
    fn sliver(&self) -> bool {
        self.edges[1] - self.edges[0] < 0.6 * (self.edges[2] - self.edges[1])
    }

    fn of(frames: &Frames, edges: &[f64]) -> Self {
        let n = edges.len() - 1;
        let mut described = vec![[0f32; DIMS]; n];
        let mut chords = vec![[0f32; 24]; n];
        let mut chroma = vec![[0f32; 12]; n];
        for bar in 0..n {
            let (from, to) = (edges[bar], edges[bar + 1]);
            let slow = span(from, to, SLOW_HZ, frames.timbre.len());
            let timbre = mean(&frames.timbre[slow.clone()]);
            described[bar][..TIMBRE].copy_from_slice(&timbre);
            for band in 0..BANDS {
                let fast = span(from, to, FAST_HZ, frames.flux[band].len());
                let len = fast.len().max(1) as f32;
                let strength = frames.flux[band][fast].iter().sum::<f32>() / len;
                described[bar][TIMBRE + band] = (1.0 + 30.0 * strength).ln();
            }
            chroma[bar] = mean(&frames.chroma[slow]);
            unit(&mut chroma[bar]);
            let middle = 0.5 * (from + to);
            for (half, (a, b)) in [(from, middle), (middle, to)].into_iter().enumerate() {
                let mut part: [f32; 12] =
                    mean(&frames.chroma[span(a, b, SLOW_HZ, frames.chroma.len())]);
                unit(&mut part);
                chords[bar][half * 12..half * 12 + 12].copy_from_slice(&part);
            }
            unit(&mut chords[bar]);
        }
        for bar in 0..n {
            // The phrase around: four bars, so that a turn of four chords reads as one colour.
            let (a, b) = (bar.saturating_sub(2), (bar + 2).min(n));
            let phrase: [f32; 12] = mean(&chroma[a..b]);
            let next: [f32; 12] = mean(&chroma[(bar + 1).saturating_sub(2)..(bar + 3).min(n)]);
            for k in 0..12 {
                described[bar][TIMBRE + BANDS + k] = 0.5 * (phrase[k] + next[k]);
            }
        }
        let tail = if n > 6 { tail(frames, edges) } else { 0 };
        // A sliver before the first bar and a last chord that dies away belong to their neighbours,
        // however different they sound: left as they are they would pull every boundary by a bar.
        if n > 6 {
            if edges[1] - edges[0] < 0.6 * (edges[2] - edges[1]) {
                described[0] = described[1];
            }
            for bar in n - tail..n {
                described[bar] = described[n - tail - 1];
            }
        }
        // The first and last bars often hold silence or a dying note; they are scaled by the others.
        scale(&mut described, if n > 6 { 1..n - 1 } else { 0..n });
        Self {
            edges: edges.to_vec(),
            described,
            chords,
            tail,
        }
    }
}

/// Centres each group of figures on its mean over the bars `inner`, and scales it by their spread.
fn scale(described: &mut [[f32; DIMS]], inner: Range<usize>) {
    let starts = [0, TIMBRE, TIMBRE + BANDS, DIMS];
    for group in 0..3 {
        let dims = starts[group]..starts[group + 1];
        let size = dims.len() as f32;
        let count = inner.len() as f32;
        let centre: Vec<f32> = dims
            .clone()
            .map(|d| described[inner.clone()].iter().map(|x| x[d]).sum::<f32>() / count)
            .collect();
        let spread = (described[inner.clone()]
            .iter()
            .flat_map(|x| {
                dims.clone()
                    .zip(&centre)
                    .map(move |(d, c)| (x[d] - c).powi(2))
            })
            .sum::<f32>()
            / (count * size))
            .sqrt();
        let scale = GROUPS[group] / ((spread.powi(2) + FLOORS[group].powi(2)).sqrt() * size.sqrt());
        for x in described.iter_mut() {
            for (d, c) in dims.clone().zip(&centre) {
                x[d] = (x[d] - c) * scale;
            }
            // No bar may weigh more than a few ordinary ones.
            let length = x[dims.clone()].iter().map(|v| v * v).sum::<f32>().sqrt();
            let most = 2.2 * GROUPS[group];
            if length > most {
                x[dims.clone()].iter_mut().for_each(|v| *v *= most / length);
            }
        }
    }
}

/// Bar indices of the boundaries, first and last included.
fn boundaries(bars: &Bars) -> Vec<usize> {
    let n = bars.described.len();
    let mut sums = vec![[0f64; DIMS]; n + 1];
    let mut squares = vec![0f64; n + 1];
    for (i, x) in bars.described.iter().enumerate() {
        sums[i + 1] = std::array::from_fn(|d| sums[i][d] + f64::from(x[d]));
        squares[i + 1] = squares[i] + x.iter().map(|v| f64::from(v * v)).sum::<f64>();
    }
    let scatter = |a: usize, b: usize| -> f32 {
        let len = (b - a) as f64;
        let mean: f64 = (0..DIMS)
            .map(|d| (sums[b][d] - sums[a][d]).powi(2))
            .sum::<f64>()
            / len;
        (squares[b] - squares[a] - mean).max(0.0) as f32
    };
    let lead = n > 2 && bars.sliver();
    let mut cost = vec![f32::INFINITY; n + 1];
    let mut from = vec![0usize; n + 1];
    cost[0] = 0.0;
    for end in 1..=n {
        for start in end.saturating_sub(LONGEST)..end {
            let seconds = bars.edges[end] - bars.edges[start];
            // Bars are counted from the first downbeat to where the music dies away.
            let uncounted = usize::from(start == 0 && lead) + if end == n { bars.tail } else { 0 };
            let count = (end - start).saturating_sub(uncounted).max(1);
            let edge = if start <= 1 || end == n { 0.4 } else { 1.0 };
            let total = cost[start] + scatter(start, end) + SECTION + odd(count, seconds, edge);
            if total < cost[end] {
                cost[end] = total;
                from[end] = start;
            }
        }
    }
    let mut boundaries = vec![n];
    let mut at = n;
    while at > 0 {
        at = from[at];
        boundaries.push(at);
    }
    boundaries.reverse();
    boundaries
}

/// How many bars at the end, three at most, lie 13 dB or more below the middle one.
fn tail(frames: &Frames, edges: &[f64]) -> usize {
    let powers: Vec<f32> = edges
        .windows(2)
        .map(|e| {
            let part = &frames.power[span(e[0], e[1], SLOW_HZ, frames.power.len())];
            part.iter().sum::<f32>() / part.len().max(1) as f32
        })
        .collect();
    let mut sorted = powers.clone();
    sorted.sort_by(f32::total_cmp);
    let middle = sorted[sorted.len() / 2];
    powers
        .iter()
        .rev()
        .take(3)
        .take_while(|p| **p < 0.05 * middle)
        .count()
}

/// What an unusual length costs.
/// `edge` is how much the length in bars matters here: less at the ends of the song.
fn odd(bars: usize, seconds: f64, edge: f32) -> f32 {
    let phrase = match bars {
        b if b % 8 == 0 => 0.0,
        b if b % 4 == 0 => 0.17,
        b if b % 2 == 0 => 0.5,
        _ => 2.1,
    };
    let short = ((SHORT_S - seconds).max(0.0) / SHORT_S * 4.0) as f32;
    edge * phrase + if edge < 1.0 { 0.5 } else { 1.0 } * short
}

/// The kind of each section, numbered in order of appearance.
fn kinds(bars: &Bars, boundaries: &[usize]) -> Vec<usize> {
    let sections: Vec<(usize, usize)> = boundaries.windows(2).map(|b| (b[0], b[1])).collect();
    let n = sections.len();
    // Average-link clustering; the number of sections is small.
    let mut groups: Vec<Vec<usize>> = (0..n).map(|i| vec![i]).collect();
    let like: Vec<Vec<f32>> = (0..n)
        .map(|i| {
            (0..n)
                .map(|j| likeness(bars, sections[i], sections[j]))
                .collect()
        })
        .collect();
    loop {
        let mut best = (ALIKE, 0, 0);
        for i in 0..groups.len() {
            for j in i + 1..groups.len() {
                let sum: f32 = groups[i]
                    .iter()
                    .flat_map(|a| groups[j].iter().map(|b| like[*a][*b]))
                    .sum();
                let mean = sum / (groups[i].len() * groups[j].len()) as f32;
                if mean > best.0 {
                    best = (mean, i, j);
                }
            }
        }
        if best.1 == best.2 {
            break;
        }
        let moved = groups.remove(best.2);
        groups[best.1].extend(moved);
    }
    groups.sort_by_key(|g| g.iter().copied().min());
    let mut kinds = vec![0; n];
    for (kind, group) in groups.iter().enumerate() {
        for &i in group {
            kinds[i] = kind;
        }
    }
    kinds
}

/// How alike two sections are, 0 to 1: chords at the best alignment, and timbre.
fn likeness(bars: &Bars, a: (usize, usize), b: (usize, usize)) -> f32 {
    let (la, lb) = (a.1 - a.0, b.1 - b.0);
    let shorter = la.min(lb);
    let mut chords = 0f32;
    for shift in 0..4usize.min(shorter) {
        for (x, y) in [(a.0, b.0 + shift), (a.0 + shift, b.0)] {
            let run = shorter - shift;
            let dot: f32 = (0..run)
                .map(|i| {
                    bars.chords[x + i]
                        .iter()
                        .zip(&bars.chords[y + i])
                        .map(|(p, q)| p * q)
                        .sum::<f32>()
                })
                .sum();
            // A little is lost by shifting, so that equal starts win.
            chords = chords.max(dot / run as f32 - 0.01 * shift as f32);
        }
    }
    let centre = |s: (usize, usize)| -> Vec<f32> {
        (0..TIMBRE + BANDS)
            .map(|d| {
                bars.described[s.0..s.1].iter().map(|x| x[d]).sum::<f32>() / (s.1 - s.0) as f32
            })
            .collect()
    };
    let apart = centre(a)
        .iter()
        .zip(centre(b))
        .map(|(p, q)| (p - q).powi(2))
        .sum::<f32>()
        .sqrt();
    let timbre = (-apart * apart / 1.04).exp();
    // Chroma of any two parts of one song is alike to some degree; only the top of the scale tells.
    let harmony = ((chords - 0.84) / 0.24).clamp(0.0, 1.0);
    0.45 * harmony + 0.55 * timbre
}

fn span(from_s: f64, to_s: f64, hz: usize, len: usize) -> Range<usize> {
    let a = ((from_s * hz as f64).round().max(0.0) as usize).min(len);
    let b = ((to_s * hz as f64).round().max(0.0) as usize).clamp(a, len);
    if a == b {
        a.saturating_sub(1)..b.max(a.saturating_sub(1))
    } else {
        a..b
    }
}

fn mean<const N: usize>(rows: &[[f32; N]]) -> [f32; N] {
    let mut sum = [0f32; N];
    for row in rows {
        for (s, x) in sum.iter_mut().zip(row) {
            *s += x;
        }
    }
    let count = rows.len().max(1) as f32;
    sum.map(|s| s / count)
}

fn unit(v: &mut [f32]) {
    let norm = v.iter().map(|x| x * x).sum::<f32>().sqrt();
    if norm > 1e-6 {
        v.iter_mut().for_each(|x| *x /= norm);
    }
}
