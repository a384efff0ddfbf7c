//! Lines: where windows agree on one lag that moves evenly, as two clocks do.
//!
//! Every window votes for every lag with the strength of its fit, and votes are summed along lines of
//! lag against time (P. V. C. Hough, US patent 3 069 654, 1962; here over lag and drift). So a song
//! too faint for any one window is still found when all of them lean the same way.

use crate::correlation::{Fit, POOL, WINDOW};

/// Drift looked for, either way: twice what crystal clocks of cameras and players differ at most
/// (common practice: within ±100 ppm).
pub(crate) const MOST_DRIFT: f64 = 200e-6;
/// Lags closer than this are one line: 40 ms, in bins.
const APART: usize = 10;
/// How many lines are kept. A loop-based song has one per repeat.
const MOST_LINES: usize = 32;
/// Above this a window's vote grows at a fifth of its pace, so that one coincidence of drums does not
/// outvote many windows, and a true short run still stands out of them.
const FULL_VOTE: f32 = 40.0;

/// A line: the song position at take sample `t` is `lag + (1 + slope) * t`, in samples.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Line {
    pub(crate) lag: f64,
    pub(crate) slope: f64,
    /// Sum of votes, in nats of improbability under noise.
    pub(crate) votes: f64,
}

impl Line {
    /// Song position at take sample `t`.
    pub(crate) fn song_at(&self, t: f64) -> f64 {
        self.lag + (1.0 + self.slope) * t
    }
}

/// A window's fit and where it starts in the take.
pub(crate) struct Vote {
    /// First sample, a multiple of POOL.
    pub(crate) start: usize,
    pub(crate) fit: Fit,
}

impl Vote {
    fn middle(&self) -> f64 {
        (self.start + WINDOW / 2) as f64
    }

    /// Greatest z within `reach` bins of the line, and the exact lag there.
    pub(crate) fn near(&self, line: &Line, reach: usize) -> Option<(f32, f64)> {
        let lag = line.lag + line.slope * self.middle();
        let bin = ((lag + (self.start + WINDOW) as f64) / POOL as f64).floor();
        if bin < 0.0 || bin as usize >= self.fit.z.len() {
            return None;
        }
        let bin = bin as usize;
        let range = bin.saturating_sub(reach)..(bin + reach + 1).min(self.fit.z.len());
        let best = range.max_by(|&a, &b| self.fit.z[a].total_cmp(&self.fit.z[b]))?;
        let at = (best * POOL + usize::from(self.fit.at[best])) as f64;
        Some((self.fit.z[best], at - (self.start + WINDOW) as f64))
    }
}

/// −ln of the chance that noise reaches `z` anywhere in a pooled pair of bins, 0 where likely.
fn vote(z: f32) -> f32 {
    // P ≈ 2 POOL · 2 · φ(z)/z; half the lags of a band this wide are independent.
    if z < 2.5 {
        return 0.0;
    }
    let nats = z * z / 2.0 + z.ln() + 0.92 - (2.0 * POOL as f32).ln();
    nats.clamp(0.0, FULL_VOTE) + 0.2 * (nats - FULL_VOTE).max(0.0)
}

/// The bins that `v` votes for, and how loudly.
fn scores(v: &Vote) -> Vec<(u32, f32)> {
    let z = &v.fit.z;
    let score = |b: usize| {
        let score = vote(z[b].max(z.get(b + 1).copied().unwrap_or(0.0)));
        (score > 0.0).then_some((b as u32, score))
    };
    (0..z.len()).filter_map(score).collect()
}

/// The lines the votes speak for, best first.
pub(crate) fn lines(votes: &[&Vote]) -> Vec<Line> {
    let (Some(first), Some(last)) = (votes.first(), votes.last()) else {
        return Vec::new();
    };
    let bins = first.fit.z.len();
    let first_bin = first.start / POOL;
    let span_bins = (last.start - first.start) / POOL;
    let reference = 0.5 * (first.middle() + last.middle());
    let half_span = 0.5 * (last.start - first.start) as f64;
    // One bin of lag at the far ends per step of drift.
    let steps = (MOST_DRIFT * half_span / POOL as f64).ceil() as i64;
    let slope_at = |step: i64| match steps {
        0 => 0.0,
        _ => MOST_DRIFT * step as f64 / steps as f64,
    };
    let scored: Vec<Vec<(u32, f32)>> = votes.iter().map(|v| scores(v)).collect();
    let mut sums = vec![0.0f32; bins + span_bins + 2 * APART];
    let mut best = vec![(0.0f32, 0i64); sums.len()];
    for step in -steps..=steps {
        sums.fill(0.0);
        let slope = slope_at(step);
        for (v, scores) in votes.iter().zip(&scored) {
            let shift = (slope * (v.middle() - reference) / POOL as f64).round() as i64;
            let offset = (span_bins + APART) as i64 - (v.start / POOL - first_bin) as i64 - shift;
            for &(b, score) in scores {
                let index = i64::from(b) + offset;
                if index >= 0 && (index as usize) < sums.len() {
                    sums[index as usize] += score;
                }
            }
        }
        for (b, s) in best.iter_mut().zip(&sums) {
            if *s > b.0 {
                *b = (*s, step);
            }
        }
    }
    // What noise gives at its best over all lags and drifts.
    let trials = (best.len() as f32 * (2 * steps + 1) as f32).max(2.0);
    let least = trials.ln();
    let mut order: Vec<usize> = (0..best.len()).filter(|&i| best[i].0 > least).collect();
    order.sort_unstable_by(|&a, &b| best[b].0.total_cmp(&best[a].0));
    let mut taken: Vec<usize> = Vec::new();
    let mut out = Vec::new();
    for index in order {
        if out.len() == MOST_LINES {
            break;
        }
        if taken.iter().any(|&t| t.abs_diff(index) <= APART) {
            continue;
        }
        taken.push(index);
        let (sum, step) = best[index];
        let slope = slope_at(step);
        // Lag at the reference instant, back to the take's first sample.
        let lag_bins = index as f64 - (span_bins + APART) as f64 - first_bin as f64 + 1.0;
        let lag = lag_bins * POOL as f64 - WINDOW as f64 - slope * reference;
        let sum = f64::from(sum);
        out.push(sharpen(
            Line {
                lag,
                slope,
                votes: sum,
            },
            votes,
        ));
    }
    out
}

/// The line through the exact lags of the windows near it.
fn sharpen(line: Line, votes: &[&Vote]) -> Line {
    let mut points: Vec<(f64, f64, f64)> = votes
        .iter()
        .filter_map(|v| {
            let (z, lag) = v.near(&line, 3)?;
            (z > 5.0).then(|| (v.middle(), lag, f64::from(z.min(30.0)).powi(2)))
        })
        .collect();
    let mut line = line;
    if points.is_empty() {
        return line;
    }
    for _ in 0..4 {
        let Some((lag, slope)) = fit_line(&points, 60.0) else {
            break;
        };
        line.lag = lag;
        line.slope = slope;
        // Tukey's biweight at 1 ms.
        for p in &mut points {
            let off = (p.1 - (lag + slope * p.0)) / (3.0 * POOL as f64);
            let keep = (1.0 - off * off).max(0.05);
            p.2 = p.2.min(900.0) * keep * keep;
        }
    }
    line
}

/// Weighted least squares through (t, lag, weight), the slope held towards 0 by a normal prior of
/// 60 ppm; a point of weight 1 is good to `sigma` samples. Slope clamped to [`MOST_DRIFT`].
pub(crate) fn fit_line(points: &[(f64, f64, f64)], sigma: f64) -> Option<(f64, f64)> {
    let total: f64 = points.iter().map(|p| p.2).sum();
    if total <= 0.0 {
        return None;
    }
    let mean_t = points.iter().map(|p| p.2 * p.0).sum::<f64>() / total;
    let mean_lag = points.iter().map(|p| p.2 * p.1).sum::<f64>() / total;
    let tt: f64 = points.iter().map(|p| p.2 * (p.0 - mean_t).powi(2)).sum();
    let tl: f64 = points
        .iter()
        .map(|p| p.2 * (p.0 - mean_t) * (p.1 - mean_lag))
        .sum();
    let prior = (sigma / 60e-6).powi(2);
    let slope = (tl / (tt + prior)).clamp(-MOST_DRIFT, MOST_DRIFT);
    Some((mean_lag - slope * mean_t, slope))
}
