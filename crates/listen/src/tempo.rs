//! The local beat period: a tempogram and the steadiest strong path through it.
//!
//! Autocorrelation of the onset curves in windows of 10 s, summed over multiples of each period
//! (comb), then a Viterbi path over log-spaced periods. The path settles *a* metrical level; which
//! multiple of it is the beat is decided later by rival readings (`tracking`).
//! After P. Grosche and M. Müller, "Extracting predominant local pulse information from music
//! recordings", IEEE TASLP 19(6), 2011, and A. P. Klapuri, A. J. Eronen and J. T. Astola,
//! "Analysis of the meter of acoustic musical signals", IEEE TASLP 14(1), 2006.

use crate::curves::Curves;

/// Shortest and longest period of the path, in frames of 10 ms: 222 to 54 beats a minute.
const PERIODS: (f32, f32) = (27.0, 111.0);
const PER_OCTAVE: f32 = 48.0;
/// Length of a window and distance between windows, frames.
const WINDOW: usize = 1000;
const HOP: usize = 150;
const MAX_LAG: usize = 450;

/// Beat period over time, in frames, one entry every [`PeriodPath::HOP`] frames.
#[derive(Clone, Debug)]
pub(crate) struct PeriodPath {
    periods: Vec<f32>,
    /// How periodic the song is, 0 to 1: mean of the comb along the path.
    pub strength: f32,
}

impl PeriodPath {
    /// The period at `frame`.
    pub fn at(&self, frame: usize) -> f32 {
        let x = frame as f32 / HOP as f32;
        let i = (x as usize).min(self.periods.len() - 1);
        let j = (i + 1).min(self.periods.len() - 1);
        let part = (x - i as f32).clamp(0.0, 1.0);
        let (a, b) = (self.periods[i], self.periods[j]);
        if (a / b).ln().abs() > 0.1 {
            // A jump of tempo is a jump, not a glide.
            if part < 0.5 { a } else { b }
        } else {
            a + (b - a) * part
        }
    }

    /// The same path at `factor` times the period.
    pub fn times(&self, factor: f32) -> Self {
        Self {
            periods: self.periods.iter().map(|p| p * factor).collect(),
            strength: self.strength,
        }
    }

    /// A steady path.
    pub fn steady(period: f32) -> Self {
        Self {
            periods: vec![period],
            strength: 1.0,
        }
    }

    /// The middle period.
    pub fn median(&self) -> f32 {
        let mut sorted = self.periods.clone();
        sorted.sort_by(f32::total_cmp);
        sorted[sorted.len() / 2]
    }
}

/// The path for a song. Total: a song without pulse gets a path of little strength.
pub(crate) fn period_path(curves: &Curves) -> PeriodPath {
    let count = ((PERIODS.1 / PERIODS.0).log2() * PER_OCTAVE) as usize + 1;
    let periods: Vec<f32> = (0..count)
        .map(|i| PERIODS.0 * 2f32.powf(i as f32 / PER_OCTAVE))
        .collect();
    let n = curves.onset.len();
    let windows = (n / HOP).max(1) + 1;
    let mut combs: Vec<Vec<f32>> = Vec::with_capacity(windows);
    for w in 0..windows {
        let centre = w * HOP;
        let (a, b) = (
            centre.saturating_sub(WINDOW / 2),
            (centre + WINDOW / 2).min(n),
        );
        let mut comb = vec![0f32; count];
        for (curve, weight) in [(&curves.onset, 1.0), (&curves.low, 0.5)] {
            let acf = autocorrelation(&curve[a.min(b)..b]);
            for (to, &p) in comb.iter_mut().zip(&periods) {
                *to += weight / 1.5 * comb_at(&acf, p);
            }
        }
        // A mild preference for usual tempi, log-normal about 110 (common practice), so that the
        // path does not settle on eighths without need.
        for (to, &p) in comb.iter_mut().zip(&periods) {
            let octaves = (6000.0 / p / 110.0).log2();
            *to *= (-0.5 * (octaves / 1.0).powi(2)).exp();
        }
        combs.push(comb);
    }
    let (path, strength) = viterbi(&combs);
    PeriodPath {
        periods: path.into_iter().map(|i| periods[i]).collect(),
        strength,
    }
}

/// Autocorrelation at lags 0 to [`MAX_LAG`], mean removed, 1 at lag 0, unbiased by overlap.
fn autocorrelation(curve: &[u8]) -> Vec<f32> {
    let n = curve.len();
    let mean = curve.iter().map(|x| f32::from(*x)).sum::<f32>() / n.max(1) as f32;
    let x: Vec<f32> = curve
        .iter()
        .map(|x| (f32::from(*x) - mean).clamp(-64.0, 96.0))
        .collect();
    let dot = |a: &[f32], b: &[f32]| -> f32 {
        let mut sums = [0f32; 8];
        for (p, q) in a.chunks_exact(8).zip(b.chunks_exact(8)) {
            for k in 0..8 {
                sums[k] += p[k] * q[k];
            }
        }
        sums.iter().sum()
    };
    let zero = dot(&x, &x) / n.max(1) as f32;
    (0..=MAX_LAG)
        .map(|lag| {
            if lag + 64 > n || zero < 1e-3 {
                return 0.0;
            }
            dot(&x[lag..], &x[..n - lag]) / (n - lag) as f32 / zero
        })
        .collect()
}

/// Mean autocorrelation at the first four multiples of `period`, less what lies between them.
fn comb_at(acf: &[f32], period: f32) -> f32 {
    let at = |lag: f32| {
        let i = lag as usize;
        if i + 1 >= acf.len() {
            return None;
        }
        let part = lag - i as f32;
        Some(acf[i] * (1.0 - part) + acf[i + 1] * part)
    };
    let (mut sum, mut weights) = (0.0, 0.0);
    for k in 1..=4 {
        let lag = period * k as f32;
        // The tooth widens with the lag, because tempo is never quite steady.
        let best = [-1.0f32, 0.0, 1.0]
            .iter()
            .filter_map(|d| at(lag + d * (k as f32 / 2.0)))
            .fold(f32::NEG_INFINITY, f32::max);
        if best.is_finite() {
            sum += best;
            weights += 1.0;
        }
    }
    if weights > 0.0 {
        (sum / weights).max(0.0)
    } else {
        0.0
    }
}

/// The best path: high combs, small steps free, jumps dear.
fn viterbi(combs: &[Vec<f32>]) -> (Vec<usize>, f32) {
    const STEP: usize = 6;
    const STEP_COST: f32 = 0.02;
    const JUMP_COST: f32 = 1.2;
    let count = combs[0].len();
    let peak = combs
        .iter()
        .map(|c| c.iter().copied().fold(0.0, f32::max))
        .sum::<f32>()
        / combs.len() as f32
        + 1e-6;
    let mut score: Vec<f32> = combs[0].iter().map(|c| c / peak).collect();
    let mut from: Vec<Vec<u16>> = Vec::with_capacity(combs.len());
    for comb in &combs[1..] {
        let (top, best) = score
            .iter()
            .copied()
            .enumerate()
            .fold((0, f32::NEG_INFINITY), |m, x| if x.1 > m.1 { x } else { m });
        let mut next = vec![0f32; count];
        let mut back = vec![0u16; count];
        for i in 0..count {
            let (mut at, mut most) = (top, best - JUMP_COST);
            let near = i.saturating_sub(STEP)..(i + STEP + 1).min(count);
            for (j, before) in near.clone().zip(&score[near]) {
                let value = before - STEP_COST * i.abs_diff(j) as f32;
                if value > most {
                    (at, most) = (j, value);
                }
            }
            next[i] = most + comb[i] / peak;
            back[i] = at as u16;
        }
        score = next;
        from.push(back);
    }
    let mut at = score
        .iter()
        .enumerate()
        .fold(
            (0, f32::NEG_INFINITY),
            |m, (i, &x)| if x > m.1 { (i, x) } else { m },
        )
        .0;
    let mut path = vec![at];
    for back in from.iter().rev() {
        at = usize::from(back[at]);
        path.push(at);
    }
    path.reverse();
    let strength = path.iter().zip(combs).map(|(&i, c)| c[i]).sum::<f32>() / combs.len() as f32;
    (path, strength.clamp(0.0, 1.0))
}
