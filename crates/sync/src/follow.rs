//! Following one line closely: its exact lag and drift, and instant by instant how much of what the
//! take heard is the song there.

use crate::correlation::piece;
use crate::lines::{Line, MOST_DRIFT, fit_line};
use crate::sound::Reader;
use crate::whiten::{HOP, Whitened};
use realfft::RealFftPlanner;

/// Pieces in which the lag is measured: 1 s, so that 100 ppm moves it by less than a sample.
const PIECE: usize = 8192;
/// Lags looked at around the line, either way: 12 ms. Late ones are the room's first reflections.
const REACH: usize = 96;
/// Frames in which the match is told: 32 ms.
pub(crate) const FRAME: usize = 256;
/// Independent values in a frame: twice bandwidth times time (3500 Hz).
pub(crate) const FREEDOM: f64 = 224.0;

/// Correlation of one piece of take with the song around the line.
struct Piece {
    middle: f64,
    /// The lag of `lags[0]`.
    first_lag: f64,
    /// 2 REACH + 1 lags; normalised by both energies.
    lags: Vec<f32>,
}

/// A line followed.
#[derive(Clone, Debug)]
pub(crate) struct Trace {
    pub(crate) line: Line,
    /// Correlation coefficient of take and song (through the room's first reflections) per frame.
    pub(crate) r: Vec<f32>,
    /// What it should be where the song is heard, from how loud the song is there; 0 off the song.
    pub(crate) expected: Vec<f32>,
}

/// Takes the lag and drift of `line` to a fraction of a sample, over the stretches `spans` of the take
/// in which it was voted for.
pub(crate) fn refine(
    line: Line,
    take: &[f32],
    song: &[f32],
    spans: &[(usize, usize)],
) -> (Line, Vec<(i32, f32)>) {
    let pieces = pieces(&line, take, song, spans);
    let mut points: Vec<(f64, f64, f64)> = Vec::new();
    // One wiring: where most pieces peak upright, all are read upright. The flanks of a band-limited
    // peak are upside down and nearly as high.
    let upright: f32 = pieces
        .iter()
        .map(|p| {
            p.lags
                .iter()
                .fold(0.0f32, |a, v| if v.abs() > a.abs() { *v } else { a })
        })
        .map(|peak| peak * peak.abs())
        .sum();
    let sign = if upright < 0.0 { -1.0 } else { 1.0 };
    for p in &pieces {
        let rms = (p.lags.iter().map(|v| v * v).sum::<f32>() / p.lags.len() as f32).sqrt();
        let at =
            (0..p.lags.len()).max_by(|&a, &b| (sign * p.lags[a]).total_cmp(&(sign * p.lags[b])));
        let at = at.unwrap_or(REACH);
        let around = |i: usize| f64::from(sign * p.lags[i]);
        let z = if rms > 0.0 {
            around(at) / f64::from(rms)
        } else {
            0.0
        };
        // Of 193 noisy lags the greatest is 2.8 on average; 3.5 is rare.
        if z > 3.5 && at > 0 && at + 1 < p.lags.len() {
            let bend = around(at - 1) - 2.0 * around(at) + around(at + 1);
            let nudge = if bend < 0.0 {
                0.5 * (around(at - 1) - around(at + 1)) / bend
            } else {
                0.0
            };
            let lag = p.first_lag + at as f64 + nudge;
            points.push((p.middle, lag, around(at).powi(2).max(1e-6)));
        }
    }
    let mut line = line;
    // The densest agreement first, then biweights of falling width.
    let base = points.clone();
    if let Some(centre) = mode(&base, &line) {
        line.lag += centre;
    }
    for width in [24.0, 12.0, 6.0, 4.0, 3.0, 3.0] {
        for (p, b) in points.iter_mut().zip(&base) {
            let off = (b.1 - (line.lag + line.slope * b.0)) / width;
            let keep = (1.0 - off * off).max(0.0);
            p.2 = b.2 * keep * keep;
        }
        // A piece with correlation 0.3 is good to about a tenth of a sample.
        if let Some((lag, slope)) = fit_line(&points, 0.03) {
            line.lag = lag;
            line.slope = slope;
        }
    }
    line.slope = line.slope.clamp(-MOST_DRIFT, MOST_DRIFT);
    let taps = taps(&pieces, &line);
    (line, taps)
}

/// Offset from the line at which most weight of the points lies within 2 samples.
fn mode(points: &[(f64, f64, f64)], line: &Line) -> Option<f64> {
    let offs: Vec<(f64, f64)> = points
        .iter()
        .map(|p| (p.1 - (line.lag + line.slope * p.0), p.2))
        .collect();
    let mass = |centre: f64| -> f64 {
        offs.iter()
            .map(|(o, w)| w * (1.0 - ((o - centre) / 12.0).powi(2)).max(0.0))
            .sum()
    };
    offs.iter()
        .map(|(o, _)| *o)
        .max_by(|a, b| mass(*a).total_cmp(&mass(*b)))
}

/// The room's first reflections: taps (song offset in samples, weight) that stand out of the
/// correlation summed along the line.
fn taps(pieces: &[Piece], line: &Line) -> Vec<(i32, f32)> {
    let mut sum = vec![0.0f64; 2 * REACH + 1];
    for p in pieces {
        let shift = (line.lag + line.slope * p.middle - p.first_lag).round() as i64 - REACH as i64;
        for (i, slot) in sum.iter_mut().enumerate() {
            let from = i as i64 + shift;
            if from >= 0 && (from as usize) < p.lags.len() {
                *slot += f64::from(p.lags[from as usize]);
            }
        }
    }
    let mut sorted: Vec<f64> = sum.iter().map(|v| v.abs()).collect();
    sorted.sort_unstable_by(f64::total_cmp);
    let sigma = sorted[sorted.len() / 2] / 0.6745;
    let peak = sum
        .iter()
        .fold(0.0f64, |a, v| if v.abs() > a.abs() { *v } else { a });
    if peak == 0.0 {
        return vec![(0, 1.0)];
    }
    let least = (4.0 * sigma).max(0.15 * peak.abs());
    let mut taps: Vec<(i32, f32)> = sum
        .iter()
        .enumerate()
        .filter(|(i, v)| v.abs() >= least || *i == REACH)
        .map(|(i, v)| (i as i32 - REACH as i32, (*v / peak.abs()) as f32))
        .collect();
    // Strongest first; what stands within three samples of a stronger one is its flank.
    taps.sort_by(|a, b| b.1.abs().total_cmp(&a.1.abs()));
    let mut kept: Vec<(i32, f32)> = Vec::new();
    for tap in taps {
        if kept.len() < 16 && kept.iter().all(|k| (k.0 - tap.0).abs() > 3) {
            kept.push(tap);
        }
    }
    kept
}

/// Correlates take and song around the line, piece by piece over `spans`.
fn pieces(line: &Line, take: &[f32], song: &[f32], spans: &[(usize, usize)]) -> Vec<Piece> {
    let size = 2 * PIECE;
    let mut planner = RealFftPlanner::<f32>::new();
    let forward = planner.plan_fft_forward(size);
    let inverse = planner.plan_fft_inverse(size);
    let mut a = forward.make_output_vec();
    let mut b = forward.make_output_vec();
    let mut lags = inverse.make_output_vec();
    let mut out = Vec::new();
    for &(from, to) in spans {
        for start in (from..to.min(take.len()).saturating_sub(PIECE / 4)).step_by(PIECE) {
            let song_start = line.song_at((start + PIECE / 2) as f64).round() as i64
                - (PIECE / 2 + REACH) as i64;
            if song_start + (PIECE as i64) < 0 || song_start >= song.len() as i64 {
                continue;
            }
            let mut x = piece(take, start as i64, PIECE);
            let mut s = piece(song, song_start, PIECE + 2 * REACH);
            let energy =
                x.iter().map(|v| v * v).sum::<f32>() * s.iter().map(|v| v * v).sum::<f32>();
            if energy <= 0.0 {
                continue;
            }
            x.resize(size, 0.0);
            s.resize(size, 0.0);
            if forward.process(&mut x, &mut a).is_err() || forward.process(&mut s, &mut b).is_err()
            {
                continue;
            }
            for (p, q) in a.iter_mut().zip(&b) {
                *p = p.conj() * q;
            }
            a[0].im = 0.0;
            a[size / 2].im = 0.0;
            if inverse.process(&mut a, &mut lags).is_err() {
                continue;
            }
            let scale = 1.0 / (size as f32 * energy.sqrt());
            out.push(Piece {
                middle: (start + PIECE / 2) as f64,
                first_lag: song_start as f64 - start as f64,
                lags: lags[..=2 * REACH].iter().map(|v| v * scale).collect(),
            });
        }
    }
    out
}

/// Follows `line` over the whole take, heard through the reflections `taps`.
pub(crate) fn trace(line: Line, taps: &[(i32, f32)], take: &[f32], song: &Whitened) -> Trace {
    trace_within(line, taps, take, song, 0, usize::MAX)
}

/// As [`trace`], over frames `from..to` alone; the others stay 0.
pub(crate) fn trace_within(
    line: Line,
    taps: &[(i32, f32)],
    take: &[f32],
    song: &Whitened,
    from: usize,
    to: usize,
) -> Trace {
    let frames = take.len() / FRAME;
    let mut r = vec![0.0f32; frames];
    let mut level = vec![0.0f32; frames];
    // Frames with song under them.
    let on = |k: usize| line.song_at((k * FRAME + FRAME / 2) as f64);
    let frames_to = frames.min(to);
    let first = (from..frames_to)
        .find(|&k| on(k) >= 0.0)
        .unwrap_or(frames_to);
    let last = (first..frames_to)
        .find(|&k| on(k) >= song.samples.len() as f64)
        .unwrap_or(frames_to);
    if first < last {
        let reader = Reader::new(1.0 + line.slope);
        // One minute at a time keeps the memory small on a long take.
        let step = 2000;
        for k0 in (first..last).step_by(step) {
            let k1 = (k0 + step).min(last);
            let start = line.song_at((k0 * FRAME) as f64) - REACH as f64;
            let count = (k1 - k0) * FRAME + 2 * REACH;
            let heard = reader.read(&song.samples, start, count);
            for k in k0..k1 {
                let x = &take[k * FRAME..(k + 1) * FRAME];
                let offset = (k - k0) * FRAME + REACH;
                let mut reference = [0.0f32; FRAME];
                for &(tap, weight) in taps {
                    let from = (offset as i64 + i64::from(tap)) as usize;
                    for (slot, v) in reference.iter_mut().zip(&heard[from..from + FRAME]) {
                        *slot += weight * v;
                    }
                }
                let (mut xy, mut xx, mut yy) = (0.0f32, 0.0f32, 0.0f32);
                for (a, b) in x.iter().zip(&reference) {
                    xy += a * b;
                    xx += a * a;
                    yy += b * b;
                }
                r[k] = if xx > 0.0 && yy > 0.0 {
                    xy / (xx * yy).sqrt()
                } else {
                    0.0
                };
                level[k] = level_at(song, on(k));
            }
        }
    }
    let mut known: Vec<f32> = song.level.iter().copied().filter(|v| *v > 0.0).collect();
    known.sort_unstable_by(f32::total_cmp);
    let usual = known.get(known.len() * 6 / 10).copied().unwrap_or(1.0);
    let expected = level.iter().map(|v| v / usual).collect();
    Trace { line, r, expected }
}

fn level_at(song: &Whitened, at: f64) -> f32 {
    let index = (at / HOP as f64).round();
    if index < 0.0 {
        return 0.0;
    }
    song.level.get(index as usize).copied().unwrap_or(0.0)
}
