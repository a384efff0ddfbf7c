//! A guess at another speed heard closely: by waveform where the pitch went along with the speed, by fine
//! flux where it was kept.

use crate::correlation::piece;
use crate::flux::{BANDS, Series, Spectra, flux, spread};
use crate::follow::{FRAME, Trace};
use crate::lines::Line;
use crate::runs::{course, strength, typical, working};
use crate::search::{Found, SongSide, believed_by_flux, ends, search};
use crate::sound::{RATE, Reader};
use crate::speed::Guess;
use crate::whiten::whiten;
use crate::{Error, Settings};
use realfft::RealFftPlanner;

/// Within this of a usual ratio, that ratio is meant and the rest is drift.
const SNAP: f64 = 150e-6;
/// Song samples in a piece that tells the speed: 1 s, in which 150 ppm is one sample.
const SHORT: usize = 8192;
/// Lags looked at around the guess, either way: a quarter second.
const AROUND: usize = 2000;

/// Runs at one speed other than the take's own.
#[derive(Debug)]
pub(crate) struct Pass {
    pub(crate) speed: f64,
    pub(crate) kept: bool,
    /// In samples of the speed-corrected take.
    pub(crate) found: Vec<Found>,
}

impl Pass {
    pub(crate) fn said(&self) -> f64 {
        self.found.iter().map(|f| f.said).sum()
    }
}

/// Hears `guess` as a pass whose pitch went with the speed: whether it was worth hearing from end to end,
/// and what was found.
pub(crate) fn resampled(
    song: &SongSide,
    take: &[f32],
    guess: &Guess,
    usual: &[f64],
    settings: &Settings,
    keep_going: &dyn Fn() -> bool,
) -> Result<(bool, Option<Pass>), Error> {
    let (score, mut speed) = best_speed(song, take, guess, usual);
    if score < 2.0 {
        return Ok((false, None));
    }
    let heard = |speed: f64| {
        let count = (take.len() as f64 * speed) as usize;
        let slow = Reader::new(1.0 / speed).read(take, 0.0, count);
        let white = whiten(&slow, 90.0).samples;
        search(song, &white, settings.least_s * speed.max(1.0), keep_going)
    };
    let pass = |speed: f64, found: Vec<Found>| Pass {
        speed,
        kept: false,
        found,
    };
    for _ in 0..3 {
        let found = heard(speed)?;
        let Some(main) = found.iter().max_by_key(|f| f.to - f.from) else {
            return Ok((true, None));
        };
        let real = speed * (1.0 + main.line.slope);
        let meant = usual
            .iter()
            .copied()
            .find(|u| (real / u - 1.0).abs() < SNAP)
            .unwrap_or(real);
        // At the edge of the drift looked at, or not yet at the ratio meant: once more from there.
        if (meant / speed - 1.0).abs() < 1e-7 || (meant == real && main.line.slope.abs() < 2e-6) {
            return Ok((true, Some(pass(meant, found))));
        }
        speed = meant;
    }
    // The drift is what the last round left.
    let mut found = heard(speed)?;
    found.retain(|f| f.line.slope.abs() < SNAP);
    Ok((true, (!found.is_empty()).then(|| pass(speed, found))))
}

/// The speed near `guess` at which pieces of the take fit best, and how well.
fn best_speed(song: &SongSide, take: &[f32], guess: &Guess, usual: &[f64]) -> (f64, f64) {
    let score = |speed: f64, pieces: &[f64]| -> f64 {
        pieces
            .iter()
            .map(|o| fit(song, take, guess, speed, *o))
            .map(|z| (z - 5.5).max(0.0))
            .sum()
    };
    let mut best = usual
        .iter()
        .filter(|u| (*u / guess.speed - 1.0).abs() < 0.006 && (*u - 1.0).abs() > SNAP)
        .map(|s| (score(*s, &[0.0, -2.5, 2.5]), *s))
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .unwrap_or((0.0, guess.speed));
    if best.0 < 6.0 {
        // 300 ppm apart, over what the coarse grid leaves open.
        for step in -12..=12 {
            let speed = guess.speed * (1.0 + f64::from(step) * 300e-6);
            let here = score(speed, &[0.0, 2.0]);
            // Within the drift looked at around 1 the normal search has been.
            if here > best.0 && (speed - 1.0).abs() > SNAP {
                best = (here, speed);
            }
        }
    }
    best
}

/// How well one second of take, brought to the song's time by `speed`, fits around where the guess says,
/// in robust standard deviations. `offset_s` moves along the take.
fn fit(song: &SongSide, take: &[f32], guess: &Guess, speed: f64, offset_s: f64) -> f64 {
    let margin = 1024usize;
    let start = (guess.take_s + offset_s) * RATE - margin as f64 / speed;
    let slow = Reader::new(1.0 / speed).read(take, start, SHORT + 2 * margin);
    if slow.iter().all(|v| *v == 0.0) {
        return 0.0;
    }
    let white = whiten(&slow, 90.0).samples;
    let at = ((guess.song_s + offset_s * guess.speed) * RATE).round() as i64;
    let size = 2 * SHORT;
    let mut planner = RealFftPlanner::<f32>::new();
    let forward = planner.plan_fft_forward(size);
    let inverse = planner.plan_fft_inverse(size);
    let mut x = white[margin..margin + SHORT].to_vec();
    x.resize(size, 0.0);
    let mut s = piece(&song.white.samples, at - AROUND as i64, SHORT + 2 * AROUND);
    s.resize(size, 0.0);
    let mut a = forward.make_output_vec();
    let mut b = forward.make_output_vec();
    if forward.process(&mut x, &mut a).is_err() || forward.process(&mut s, &mut b).is_err() {
        return 0.0;
    }
    for (p, q) in a.iter_mut().zip(&b) {
        *p = p.conj() * q;
    }
    a[0].im = 0.0;
    a[size / 2].im = 0.0;
    let mut lags = inverse.make_output_vec();
    if inverse.process(&mut a, &mut lags).is_err() {
        return 0.0;
    }
    let mut seen: Vec<f32> = lags[..=2 * AROUND].iter().map(|v| v.abs()).collect();
    let most = seen.iter().copied().fold(0.0, f32::max);
    let middle = seen.len() / 2;
    let median = *seen.select_nth_unstable_by(middle, f32::total_cmp).1;
    if median > 0.0 {
        f64::from(most / median) * 0.6745
    } else {
        0.0
    }
}

/// Step of the fine flux: 8 ms.
pub(crate) const FINE: usize = 64;
/// Frames in a piece of it: 2 s.
const LONG: usize = 250;
/// Change is taken over this many frames either way: 16 ms.
const CHANGE: usize = 2;
/// Root of the ratio of independent values in 32 ms of flux (about 20) to those in 32 ms of waveform,
/// which the likelihoods are stated in.
const LESS: f32 = 0.3;

/// Hears `guess` as a pass whose pitch was kept, by fine flux. `take` is the take's fine spectra.
pub(crate) fn kept(
    song: &Series,
    song_len: usize,
    take: &Series,
    take_len: usize,
    guess: &Guess,
    usual: &[f64],
    settings: &Settings,
) -> Option<Pass> {
    let take_flux = flux(take, CHANGE);
    let (points, mut offset, mut speed) = line_of(song, &take_flux, guess)?;
    let meant = usual
        .iter()
        .copied()
        .find(|u| (speed / u - 1.0).abs() < SNAP);
    if let Some(meant) = meant {
        // The drift a flux can tell is smaller than its error over a short run: the ratio is meant.
        let (sum, weight) = points.iter().fold((0.0, 0.0), |(s, w), p| {
            (s + p.2 * (p.1 - meant * p.0), w + p.2)
        });
        speed = meant;
        offset = sum / weight;
    }
    let line = Line {
        lag: offset * FINE as f64,
        slope: speed - 1.0,
        votes: 0.0,
    };
    let trace = flux_trace(song, song_len, &take_flux, take_len, line);
    let typical = typical(&trace);
    let pieces = course(&[(&trace, working(typical))]);
    let mut found = Vec::new();
    for p in pieces {
        let strength = strength(&trace, &p);
        let length_s = ((p.to - p.from) * FRAME) as f64 / RATE;
        if !believed_by_flux(&strength, length_s, settings.least_s) {
            continue;
        }
        let (from, to) = ends(&trace, typical, &p, song_len, take_len);
        let stretched = |t: usize| (t as f64 * speed).round() as usize;
        let said = (p.from..p.to)
            .map(|k| crate::runs::said(&trace, typical, k))
            .sum();
        found.push(Found {
            line: Line {
                lag: line.lag,
                slope: 0.0,
                votes: 0.0,
            },
            from: stretched(from),
            to: stretched(to),
            strength,
            said,
            others: Vec::new(),
            own_share: 1.0,
        });
    }
    (!found.is_empty()).then_some(Pass {
        speed,
        kept: true,
        found,
    })
}

/// Frames of take and song that belong together, with weights.
type Points = Vec<(f64, f64, f64)>;

/// The line around `guess` on which pieces of the take's flux fit: the pieces on it, its song frame at take frame 0,
/// and its speed.
fn line_of(song: &Series, take_flux: &Series, guess: &Guess) -> Option<(Points, f64, f64)> {
    let frame_s = FINE as f64 / RATE;
    // Song frame at take frame t: offset + speed * t.
    let mut speed = guess.speed;
    let mut offset = guess.song_s / frame_s - speed * guess.take_s / frame_s;
    let anchor = guess.take_s / frame_s;
    let count = take_flux.len() / LONG;
    let mut order: Vec<usize> = (0..count).map(|i| i * LONG).collect();
    order.sort_by_key(|s| ((*s + LONG / 2) as f64 - anchor).abs() as u64);
    let mut points: Points = Vec::new();
    for round in 0..2 {
        points.clear();
        for &start in &order {
            let reach = if round == 0 && points.len() < 3 {
                24
            } else {
                8
            };
            let (z, off) = local(song, take_flux, offset, speed, start, reach);
            if z < 4.0 {
                continue;
            }
            let t = (start + LONG / 2) as f64;
            points.push((t, offset + speed * t + off * speed, z * z));
            if points.len() >= 2 {
                (offset, speed) = line_through(&points, guess.speed, 0.004);
            } else {
                offset += off * speed;
            }
        }
        if points.len() < 3 {
            return None;
        }
        for _ in 0..4 {
            let mut weighted = points.clone();
            for p in &mut weighted {
                let away = (p.1 - (offset + speed * p.0)) / 4.0;
                p.2 *= (1.0 - away * away).max(0.02).powi(2);
            }
            (offset, speed) = line_through(&weighted, guess.speed, 0.004);
        }
    }
    Some((points, offset, speed))
}

/// Best lag of one piece within `reach` take frames of the line: (robust z, frames).
fn local(
    song: &Series,
    take: &Series,
    offset: f64,
    speed: f64,
    start: usize,
    reach: usize,
) -> (f64, f64) {
    let first = offset + speed * (start as f64 - reach as f64 - CHANGE as f64);
    let wide = LONG + 2 * (reach + CHANGE);
    if first < 0.0 || first + wide as f64 * speed > song.len() as f64 {
        return (0.0, 0.0);
    }
    let there = flux(&spread(song, first, speed, wide), CHANGE);
    let sums: Vec<f64> = (0..=2 * reach)
        .map(|lag| {
            (0..BANDS)
                .map(|b| {
                    let x = &take.rows[b][start..start + LONG];
                    let y = &there.rows[b][lag + CHANGE..lag + CHANGE + LONG];
                    f64::from(x.iter().zip(y).map(|(a, b)| a * b).sum::<f32>())
                })
                .sum()
        })
        .collect();
    // Independent values: bands times frames over the width of the analysis window (8 frames, tapered).
    let scatter = ((BANDS * LONG) as f64 * 4.0).sqrt();
    let Some(best) = (0..sums.len()).max_by(|&a, &b| sums[a].total_cmp(&sums[b])) else {
        return (0.0, 0.0);
    };
    if best == 0 || best + 1 == sums.len() {
        return (0.0, 0.0);
    }
    let bend = sums[best - 1] - 2.0 * sums[best] + sums[best + 1];
    let nudge = if bend < 0.0 {
        0.5 * (sums[best - 1] - sums[best + 1]) / bend
    } else {
        0.0
    };
    (sums[best] / scatter, best as f64 + nudge - reach as f64)
}

/// Weighted line through (t, position, weight): (offset, slope), the slope within `most` of `about`.
fn line_through(points: &[(f64, f64, f64)], about: f64, most: f64) -> (f64, f64) {
    let total: f64 = points.iter().map(|p| p.2).sum();
    let t = points.iter().map(|p| p.2 * p.0).sum::<f64>() / total;
    let y = points.iter().map(|p| p.2 * p.1).sum::<f64>() / total;
    let tt: f64 = points.iter().map(|p| p.2 * (p.0 - t).powi(2)).sum();
    let ty: f64 = points.iter().map(|p| p.2 * (p.0 - t) * (p.1 - y)).sum();
    // Held to the guess until the points reach far enough apart: one frame of error, 0.3 % of speed.
    let prior = (1.0f64 / 0.003).powi(2) * total / points.len() as f64;
    let slope = (ty + prior * about) / (tt + prior);
    let slope = slope.clamp(about * (1.0 - most), about * (1.0 + most));
    (y - slope * t, slope)
}

/// How well the take's flux agrees with the song's along the line, per frame of 32 ms.
fn flux_trace(song: &Series, song_len: usize, take: &Series, take_len: usize, line: Line) -> Trace {
    let frames = take_len / FRAME;
    let per = FRAME / FINE;
    let there = flux(
        &spread(song, line.lag / FINE as f64, 1.0 + line.slope, take.len()),
        CHANGE,
    );
    let mut r = vec![0.0f32; frames];
    let mut expected = vec![0.0f32; frames];
    for k in 0..frames {
        let at = line.song_at((k * FRAME + FRAME / 2) as f64);
        if at < 0.0 || at >= song_len as f64 {
            continue;
        }
        let range = k * per..((k + 1) * per).min(take.len());
        let (mut xy, mut xx, mut yy) = (0.0f32, 0.0f32, 0.0f32);
        for b in 0..BANDS {
            for i in range.clone() {
                xy += take.rows[b][i] * there.rows[b][i];
                xx += take.rows[b][i].powi(2);
                yy += there.rows[b][i].powi(2);
            }
        }
        // A frame without change in it says little: it is measured against a usual frame.
        let usual = (BANDS * per) as f32 * 0.5;
        r[k] = LESS * xy / (xx.max(usual) * yy.max(usual)).sqrt();
        expected[k] = 1.0;
    }
    Trace { line, r, expected }
}

/// Fine bands of a signal, for [`kept`].
pub(crate) fn fine(x: &[f32]) -> Series {
    Spectra::of(x, FINE).bands(1.0)
}
