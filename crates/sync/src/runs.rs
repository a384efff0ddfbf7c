//! From lines to runs: which line, if any, is heard at each instant.

use crate::follow::{FRAME, FREEDOM, Trace};
use crate::sound::RATE;

/// How far short the real world falls of the independent Gaussian noise the likelihoods assume.
const CAUTION: f64 = 0.33;
/// Most that one frame of 32 ms may say, in nats: a loud word over the music must not end a run.
const MOST_SAID: f64 = 1.0;
/// What it costs to begin or end hearing a line, in nats.
const CHANGE: f64 = 10.0;

/// A stretch of take on one line, in frames.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Piece {
    pub(crate) line: usize,
    pub(crate) from: usize,
    pub(crate) to: usize,
}

/// What frame `k` says for the trace against silence, in nats.
pub(crate) fn said(trace: &Trace, typical: f64, k: usize) -> f64 {
    let rho = expected(typical, f64::from(trace.expected[k]));
    let r = f64::from(trace.r[k]);
    (CAUTION * FREEDOM * (rho * r - rho * rho / 2.0)).clamp(-MOST_SAID, MOST_SAID)
}

/// Correlation to expect where the song's level is `level` times its usual, under even noise that
/// gives `typical` at the usual level.
pub(crate) fn expected(typical: f64, level: f64) -> f64 {
    let signal = typical / (1.0 - typical * typical).max(1e-3).sqrt() * level.min(2.0);
    signal / (1.0 + signal * signal).sqrt()
}

/// The correlation typical of the trace where it is heard: the upper quarter's edge of the means over
/// a second, over frames on the song.
pub(crate) fn typical(trace: &Trace) -> f64 {
    let second = (RATE as usize) / FRAME;
    let mut means: Vec<f64> = trace
        .r
        .chunks(second)
        .zip(trace.expected.chunks(second))
        .filter(|(_, e)| e.iter().all(|v| *v > 0.2))
        .map(|(r, _)| r.iter().map(|v| f64::from(*v)).sum::<f64>() / r.len() as f64)
        .collect();
    if means.is_empty() {
        return 0.0;
    }
    means.sort_unstable_by(f64::total_cmp);
    // A run may be a small part of a long take.
    let index = (means.len() * 3 / 4).max(means.len().saturating_sub(4));
    let index = index.min(means.len() - 1);
    means[index].clamp(0.02, 0.9)
}

/// The correlation to work with where `typical` was seen: a strong match may dip far and still be
/// plain, a weak one needs the sharpest test.
pub(crate) fn working(typical: f64) -> f64 {
    typical * (0.9 - typical).clamp(0.5, 0.8)
}

/// The likeliest course of the take over the lines, silence included (Viterbi, IEEE Trans. IT 13(2),
/// 1967).
pub(crate) fn course(traces: &[(&Trace, f64)]) -> Vec<Piece> {
    let frames = traces.iter().map(|(t, _)| t.r.len()).max().unwrap_or(0);
    let states = traces.len() + 1;
    let mut score = vec![0.0f64; states];
    for s in score.iter_mut().skip(1) {
        *s = -CHANGE / 2.0;
    }
    let mut from: Vec<u8> = Vec::with_capacity(frames * states);
    for k in 0..frames {
        // State 0 is silence. From line to line costs ending one and beginning the other.
        let best_line = (1..states)
            .max_by(|&a, &b| score[a].total_cmp(&score[b]))
            .unwrap_or(0);
        let before = score.clone();
        for s in 0..states {
            let mut best = before[s];
            let mut origin = s;
            let leave = |origin: usize| {
                if origin == 0 || s == 0 {
                    CHANGE
                } else {
                    3.0 * CHANGE
                }
            };
            for other in [0, best_line] {
                if other != s && before[other] - leave(other) > best {
                    best = before[other] - leave(other);
                    origin = other;
                }
            }
            let gain = match s.checked_sub(1).map(|i| traces[i]) {
                Some((trace, typical)) if k < trace.r.len() && trace.expected[k] > 0.0 => {
                    said(trace, typical, k)
                }
                // Off the song a line cannot be heard.
                Some(_) => -MOST_SAID,
                None => 0.0,
            };
            score[s] = best + gain;
            from.push(origin as u8);
        }
    }
    let mut state = (0..states)
        .max_by(|&a, &b| score[a].total_cmp(&score[b]))
        .unwrap_or(0);
    let mut out: Vec<Piece> = Vec::new();
    for k in (0..frames).rev() {
        if state > 0 {
            match out.last_mut() {
                Some(piece) if piece.line == state - 1 && piece.from == k + 1 => piece.from = k,
                _ => out.push(Piece {
                    line: state - 1,
                    from: k,
                    to: k + 1,
                }),
            }
        }
        state = usize::from(from[k * states + state]);
    }
    out.reverse();
    // The same line after a gap: the music went on, unheard.
    let mut merged: Vec<Piece> = Vec::new();
    for piece in out {
        match merged.last_mut() {
            Some(last) if last.line == piece.line => last.to = piece.to,
            _ => merged.push(piece),
        }
    }
    merged
}

/// How sure a stretch is: mean correlation and its lower quartile over the frames, share of frames that
/// lean its way, and the number of standard deviations by which that share leaves a coin's.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Strength {
    pub(crate) mean: f64,
    pub(crate) quartile: f64,
    pub(crate) share: f64,
    pub(crate) sign_z: f64,
}

pub(crate) fn strength(trace: &Trace, piece: &Piece) -> Strength {
    let mut heard: Vec<f32> = (piece.from..piece.to.min(trace.r.len()))
        .filter(|&k| trace.expected[k] > 0.1 && trace.r[k] != 0.0)
        .map(|k| trace.r[k])
        .collect();
    if heard.is_empty() {
        return Strength::default();
    }
    let count = heard.len() as f64;
    let positive = heard.iter().filter(|r| **r > 0.0).count() as f64;
    let sum: f64 = heard.iter().map(|r| f64::from(*r)).sum();
    let lower = heard.len() / 4;
    let (_, quartile, _) = heard.select_nth_unstable_by(lower, f32::total_cmp);
    let share = positive / count;
    Strength {
        mean: sum / count,
        quartile: f64::from(*quartile),
        share,
        sign_z: (share - 0.5) * 2.0 * count.sqrt(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::lines::Line;

    fn trace(r: &[f32]) -> Trace {
        let line = Line {
            lag: 0.0,
            slope: 0.0,
            votes: 0.0,
        };
        Trace {
            line,
            r: r.to_vec(),
            expected: vec![1.0; r.len()],
        }
    }

    #[test]
    fn the_course_keeps_a_line_through_a_loud_word_and_leaves_it_at_the_end() {
        let mut a = vec![0.0; 400];
        a[50..300].fill(0.3);
        // Ten frames (a third of a second) drowned.
        a[120..130].fill(0.0);
        let b = vec![0.0; 400];
        let (a, b) = (trace(&a), trace(&b));
        let pieces = course(&[(&a, 0.2), (&b, 0.2)]);
        let whole = Piece {
            line: 0,
            from: 50,
            to: 300,
        };
        assert_eq!(pieces, [whole]);
        let strength = strength(&a, &whole);
        assert_eq!(strength.share, 1.0);
        assert!((strength.quartile - 0.3).abs() < 1e-6);
        assert!((strength.mean - 0.3).abs() < 1e-6);
    }

    #[test]
    fn a_faint_song_is_expected_fainter() {
        assert!((expected(0.3, 1.0) - 0.3).abs() < 1e-9);
        assert!(expected(0.3, 0.1) < 0.04);
        assert_eq!(expected(0.3, 0.0), 0.0);
        assert!(expected(0.3, 100.0) < 1.0);
    }
}
