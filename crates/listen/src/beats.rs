//! Beats along a known period: exact dynamic programming over frame and interval.
//!
//! The state is (frame, interval to the beat before); the tempo may change only at beats, with a
//! cost on the squared log ratio of neighbouring intervals. This is the efficient state space of
//! F. Krebs, S. Böck and G. Widmer, "An efficient state-space model for joint tempo and meter
//! tracking" (ISMIR 2015) written as a semi-Markov chain, with the objective of D. P. W. Ellis,
//! "Beat tracking by dynamic programming" (J. New Music Research 36(1), 2007).

use crate::curves::Curves;
use crate::tempo::PeriodPath;

/// Cost of a change of interval, times the squared log ratio. 3 % costs about 0.3 of an average onset.
const CHANGE: f32 = 300.0;
/// Cost of leaving the local period, times the squared log ratio.
const LEAVING: f32 = 6.0;
/// Cost of any change at all: what it takes to break the pulse.
const BREAK: f32 = 6.0;
/// How far from the local period an interval may lie, as factors.
pub(crate) type Reach = (f32, f32);
/// Around a heard period: wide enough for a ritardando faster than the tempogram can follow.
pub(crate) const HEARD: Reach = (0.7, 1.55);
/// Around a period set by hand.
pub(crate) const BY_HAND: Reach = (0.85, 1.18);
const MIN_INTERVAL: usize = 8;

/// Onset strength as a reward: local mean is 0, strong onsets about 3.
pub(crate) fn reward(curve: &[u8]) -> Vec<f32> {
    let n = curve.len();
    let at = |i: isize| f32::from(curve[i.clamp(0, n as isize - 1) as usize]);
    (0..n as isize)
        .map(|i| {
            let smooth =
                0.4 * at(i) + 0.24 * (at(i - 1) + at(i + 1)) + 0.06 * (at(i - 2) + at(i + 2));
            (smooth / Curves::MEAN - 1.0).min(3.5)
        })
        .collect()
}

/// Beat frames along `path`, rising. At least one whenever there is a frame.
pub(crate) fn track(reward: &[f32], path: &PeriodPath, reach: Reach) -> Vec<usize> {
    let n = reward.len();
    if n == 0 {
        return Vec::new();
    }
    let hops = 50;
    let locals: Vec<f32> = (0..n.div_ceil(hops)).map(|i| path.at(i * hops)).collect();
    let least = locals.iter().copied().fold(f32::INFINITY, f32::min);
    let most = locals.iter().copied().fold(0.0, f32::max);
    let low = ((least * reach.0) as usize).max(MIN_INTERVAL);
    let high = ((most * reach.1) as usize + 1).max(low + 1);
    let width = high - low + 1;
    let log: Vec<f32> = (0..=high).map(|i| (i.max(1) as f32).ln()).collect();

    // Only the rows an interval can reach back to are kept.
    let rows = high + 1;
    let mut value = vec![f32::NEG_INFINITY; rows * width];
    let mut best = vec![(f32::NEG_INFINITY, 0u16); n];
    let mut from = vec![u16::MAX; n * width];
    for t in 0..n {
        let local = locals[t / hops];
        let log_local = local.ln();
        let a = ((local * reach.0) as usize).clamp(low, high);
        let b = ((local * reach.1) as usize).clamp(a, high);
        value[t % rows * width..][..width].fill(f32::NEG_INFINITY);
        for interval in a..=b {
            let here = t % rows * width + interval - low;
            let trace = t * width + interval - low;
            let off = log[interval] - log_local;
            let gain = reward[t] - LEAVING * off * off;
            if t < interval {
                value[here] = gain;
                from[trace] = u16::MAX;
            } else {
                let row = (t - interval) % rows * width;
                let (mut top, mut back) = (best[t - interval].0 - BREAK, best[t - interval].1);
                let near = interval / 8 + 1;
                let first = interval.saturating_sub(near).max(low);
                let last = (interval + near).min(high);
                for before in first..=last {
                    let ratio = log[before] - log[interval];
                    let v = value[row + before - low] - CHANGE * ratio * ratio;
                    if v > top {
                        top = v;
                        back = before as u16;
                    }
                }
                value[here] = gain + top;
                from[trace] = back;
            }
            if value[here] > best[t].0 {
                best[t] = (value[here], interval as u16);
            }
        }
    }
    let tail = (locals[locals.len() - 1] as usize).clamp(1, n);
    let mut at = (n - tail..n).fold(n - tail, |m, t| if best[t].0 > best[m].0 { t } else { m });
    let mut interval = usize::from(best[at].1);
    let mut beats = vec![at];
    loop {
        let back = from[at * width + interval - low];
        if back == u16::MAX || interval > at {
            break;
        }
        at -= interval;
        beats.push(at);
        interval = usize::from(back);
    }
    beats.reverse();
    beats
}

/// Frames to seconds with less than a frame of error: each beat moves to the vertex of the onset
/// peak beside it, then towards the line through its neighbours, the more the weaker its onset.
pub(crate) fn refine(frames: &[usize], reward: &[f32]) -> Vec<f64> {
    let n = reward.len();
    let fast = Curves::FAST_HZ as f64;
    let raw: Vec<(f64, f64)> = frames
        .iter()
        .map(|&frame| {
            let a = frame.saturating_sub(2);
            let b = (frame + 3).min(n);
            let top = (a..b).fold(frame, |m, i| if reward[i] > reward[m] { i } else { m });
            if top == 0 || top + 1 >= n {
                return (frame as f64, 0.05);
            }
            let (l, c, r) = (reward[top - 1], reward[top], reward[top + 1]);
            let bend = l - 2.0 * c + r;
            let shift = if bend < -1e-3 {
                (0.5 * (l - r) / bend).clamp(-0.5, 0.5)
            } else {
                0.0
            };
            (
                top as f64 + f64::from(shift),
                f64::from((c + 0.5).clamp(0.05, 3.0)),
            )
        })
        .collect();
    let count = raw.len();
    let mut out: Vec<f64> = (0..count)
        .map(|i| {
            // Weighted line through up to four neighbours either side, the beat itself included.
            let (a, b) = (i.saturating_sub(4), (i + 5).min(count));
            let (mut w, mut sx, mut sy, mut sxx, mut sxy) = (0.0, 0.0, 0.0, 0.0, 0.0);
            for (j, &(y, strength)) in raw.iter().enumerate().take(b).skip(a) {
                let x = j as f64 - i as f64;
                let weight = strength * (-x * x / 8.0).exp();
                w += weight;
                sx += weight * x;
                sy += weight * y;
                sxx += weight * x * x;
                sxy += weight * x * y;
            }
            let det = w * sxx - sx * sx;
            if det > 1e-9 {
                (sy * sxx - sx * sxy) / det
            } else {
                raw[i].0
            }
        })
        .map(|frame| (frame / fast).max(0.0))
        .collect();
    // Order is kept whatever the smoothing did.
    for i in 1..out.len() {
        if out[i] <= out[i - 1] + 0.02 {
            out[i] = out[i - 1] + 0.02;
        }
    }
    out
}
