//! Bars over known beats: which metre, and which beat is the first.
//!
//! A hidden Markov model over (rhythm pattern, position in the bar). The patterns say where a bar
//! usually has its bass drum, its snare, its change of chord and of bass note; they are written
//! down from common practice, not learned. After N. Whiteley, A. T. Cemgil and S. Godsill,
//! "Bayesian modelling of temporal structure in musical audio" (ISMIR 2006) and F. Krebs, S. Böck
//! and G. Widmer, "Rhythmic pattern modeling for beat and downbeat tracking in musical audio"
//! (ISMIR 2013).

use crate::curves::Curves;

/// What is seen at one beat: low onset, high onset, chord change, bass change.
pub(crate) const SEEN: usize = 4;
const WEIGHTS: [f32; SEEN] = [1.0, 0.8, 1.3, 0.7];
/// Below this spread a feature says nothing here; in local means for onsets, in shares for changes.
const FLOORS: [f32; SEEN] = [0.5, 0.5, 0.06, 0.06];
/// Beats either side that a feature is measured against.
const AROUND: usize = 16;
/// Cost of losing count, and of another pattern at a bar line, in units of emission.
const LOST: f32 = 9.0;
const OTHER: f32 = 1.5;

/// What a chord change half a beat early counts.
const PUSHED: f32 = 0.7;

struct Pattern {
    beats: usize,
    /// Per beat of the bar.
    shape: &'static [[f32; SEEN]],
}

/// Bass drum on 1 and 3, snare on 2 and 4; the snare on 3 alone (half-time); accents without a kit.
const PATTERNS: &[Pattern] = &[
    Pattern {
        beats: 4,
        shape: &[
            [1.0, -0.8, 1.0, 1.0],
            [-0.8, 0.8, -0.5, -0.4],
            [0.6, -0.8, 0.0, -0.2],
            [-0.8, 0.8, -0.5, -0.4],
        ],
    },
    Pattern {
        beats: 4,
        shape: &[
            [1.0, -0.5, 1.0, 1.0],
            [-0.3, -0.3, -0.5, -0.4],
            [-0.4, 1.1, 0.0, -0.2],
            [-0.3, -0.3, -0.5, -0.4],
        ],
    },
    Pattern {
        beats: 4,
        shape: &[
            [1.0, 0.6, 1.0, 1.0],
            [-0.5, -0.3, -0.5, -0.4],
            [0.0, 0.0, 0.0, -0.2],
            [-0.5, -0.3, -0.5, -0.4],
        ],
    },
    Pattern {
        beats: 4,
        shape: &[
            [0.15, -0.8, 1.0, 1.0],
            [-0.05, 0.8, -0.5, -0.4],
            [-0.05, -0.8, 0.0, -0.2],
            [-0.05, 0.8, -0.5, -0.4],
        ],
    },
    Pattern {
        beats: 3,
        shape: &[
            [1.0, -0.7, 1.0, 1.0],
            [-0.5, 0.35, -0.5, -0.5],
            [-0.5, 0.35, -0.5, -0.5],
        ],
    },
    Pattern {
        beats: 3,
        shape: &[
            [1.0, 0.6, 1.0, 1.0],
            [-0.5, -0.3, -0.5, -0.5],
            [-0.5, -0.3, -0.5, -0.5],
        ],
    },
    Pattern {
        beats: 3,
        shape: &[
            [1.0, -0.5, 1.0, 1.0],
            [-0.5, -0.4, -0.5, -0.5],
            [-0.5, 0.9, -0.5, -0.5],
        ],
    },
    Pattern {
        beats: 2,
        shape: &[[1.0, -0.8, 1.0, 1.0], [-1.0, 0.8, -1.0, -1.0]],
    },
    Pattern {
        beats: 2,
        shape: &[[1.0, 0.6, 1.0, 1.0], [-1.0, -0.6, -1.0, -1.0]],
    },
];

/// A count of bars over given beats.
#[derive(Clone, Debug)]
pub(crate) struct Count {
    pub beats_per_bar: usize,
    /// Position in the bar of each beat, from 0.
    pub positions: Vec<usize>,
    /// Mean emission a beat, 1 where every beat fits as expected.
    pub fit: f32,
}

impl Count {
    /// How much louder the high onsets of beats 2 and 4 are than those of 1 and 3.
    pub fn backbeat(&self, seen: &[[f32; SEEN]]) -> f32 {
        let sum: f32 = seen
            .iter()
            .zip(&self.positions)
            .map(|(s, p)| if p % 2 == 1 { s[1] } else { -s[1] })
            .sum();
        sum / seen.len().max(1) as f32
    }
}

/// The features of each beat, against their surroundings.
pub(crate) fn seen(curves: &Curves, beats: &[f64]) -> Vec<[f32; SEEN]> {
    let mut raw: Vec<[f32; SEEN]> = beats.iter().map(|&t| raw_at(curves, t)).collect();
    let n = raw.len();
    for i in 1..n {
        // A chord pushed ahead of its bar by half a beat still belongs to the bar.
        let pushed = raw_at(curves, 0.5 * (beats[i - 1] + beats[i]));
        for f in 2..SEEN {
            raw[i][f] = raw[i][f].max(PUSHED * pushed[f]);
        }
    }
    (0..n)
        .map(|i| {
            let (a, b) = (i.saturating_sub(AROUND), (i + AROUND + 1).min(n));
            let count = (b - a) as f32;
            std::array::from_fn(|f| {
                let mean = raw[a..b].iter().map(|r| r[f]).sum::<f32>() / count;
                let spread =
                    (raw[a..b].iter().map(|r| (r[f] - mean).powi(2)).sum::<f32>() / count).sqrt();
                ((raw[i][f] - mean) / (spread + FLOORS[f])).clamp(-2.0, 2.0)
            })
        })
        .collect()
}

fn raw_at(curves: &Curves, time_s: f64) -> [f32; SEEN] {
    let peak = |curve: &[u8], hz: usize, reach: usize| -> f32 {
        if curve.is_empty() {
            return 0.0;
        }
        let centre = ((time_s * hz as f64).round().max(0.0) as usize).min(curve.len() - 1);
        let (a, b) = (
            centre.saturating_sub(reach),
            (centre + reach + 1).min(curve.len()),
        );
        f32::from(curve[a..b].iter().copied().max().unwrap_or(0))
    };
    let onset = |curve: &[u8]| peak(curve, Curves::FAST_HZ, 4) / Curves::MEAN;
    let change = |curve: &[u8]| peak(curve, Curves::SLOW_HZ, 1) / 255.0;
    [
        onset(&curves.low),
        0.5 * (onset(&curves.middle) + onset(&curves.high)),
        change(&curves.chord_change),
        change(&curves.bass_change),
    ]
}

/// The accents of `bar` beats to look for: those of the patterns, of one size and weighted.
fn shapes(bar: usize) -> Vec<Vec<[f32; SEEN]>> {
    let mut shapes: Vec<Vec<[f32; SEEN]>> = PATTERNS
        .iter()
        .filter(|p| p.beats == bar)
        .map(|p| p.shape.to_vec())
        .collect();
    if shapes.is_empty() {
        let rest = if bar > 1 {
            -1.0 / (bar - 1) as f32
        } else {
            0.0
        };
        shapes.push(
            (0..bar)
                .map(|k| {
                    if k == 0 {
                        [1.0, 0.3, 1.0, 1.0]
                    } else {
                        [rest, 0.3 * rest, rest, rest]
                    }
                })
                .collect(),
        );
    }
    for shape in &mut shapes {
        for beat in shape.iter_mut() {
            for (x, w) in beat.iter_mut().zip(WEIGHTS) {
                *x *= w;
            }
        }
        let size = (shape.iter().flatten().map(|x| x * x).sum::<f32>() / bar as f32).sqrt();
        for x in shape.iter_mut().flatten() {
            *x /= size.max(1e-6);
        }
    }
    shapes
}

/// The best count with `beats_per_bar` beats in a bar; for metres without a pattern of their own
/// only the accents of the first beat are looked for.
pub(crate) fn count(seen: &[[f32; SEEN]], beats_per_bar: usize) -> Count {
    let bar = beats_per_bar.clamp(1, 32);
    let shapes = shapes(bar);
    let patterns = shapes.len();
    let emission = |pattern: usize, position: usize, i: usize| -> f32 {
        shapes[pattern][position]
            .iter()
            .zip(&seen[i])
            .map(|(a, b)| a * b)
            .sum()
    };
    let n = seen.len();
    if n == 0 {
        return Count {
            beats_per_bar: bar,
            positions: Vec::new(),
            fit: 0.0,
        };
    }
    let states = patterns * bar;
    let mut value: Vec<f32> = (0..states).map(|s| emission(s / bar, s % bar, 0)).collect();
    let mut from: Vec<u16> = vec![0; n * states];
    for i in 1..n {
        let lost = (0..states).fold(0, |m, s| if value[s] > value[m] { s } else { m });
        let mut next = vec![0f32; states];
        for s in 0..states {
            let (pattern, position) = (s / bar, s % bar);
            let before = (position + bar - 1) % bar;
            let mut back = pattern * bar + before;
            let mut top = value[back];
            if position == 0 {
                for other in 0..patterns {
                    let v = value[other * bar + before] - OTHER;
                    if v > top {
                        (top, back) = (v, other * bar + before);
                    }
                }
            }
            if value[lost] - LOST > top {
                (top, back) = (value[lost] - LOST, lost);
            }
            next[s] = top + emission(pattern, position, i);
            from[i * states + s] = back as u16;
        }
        value = next;
    }
    let mut state = (0..states).fold(0, |m, s| if value[s] > value[m] { s } else { m });
    let fit = value[state] / n as f32;
    let mut positions = vec![0; n];
    for i in (0..n).rev() {
        positions[i] = state % bar;
        state = usize::from(from[i * states + state]);
    }
    Count {
        beats_per_bar: bar,
        positions,
        fit,
    }
}
