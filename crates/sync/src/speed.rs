//! Passes at another speed: which speed, pitch kept or not, and where, to about a tenth of a second.
//!
//! Pieces of the take's flux are slid over the song's flux, stretched to each speed in turn: the usual
//! ratios of frame rates and a grid in between. What fits best is handed on to be heard closely.

use crate::flux::{BANDS, Series, Spectra, flux, spread};
use crate::sound::RATE;
use crate::{Error, Settings};
use realfft::num_complex::Complex;
use realfft::{ComplexToReal, RealFftPlanner, RealToComplex};
use std::sync::Arc;

/// Frame step of the coarse flux: 32 ms.
pub(crate) const HOP: usize = 256;
/// Frames in a piece: 12.8 s.
const PIECE: usize = 400;
/// Most pieces of a take listened to.
const MOST_PIECES: usize = 5;
/// Step of the grid of speeds: over a piece the ends are off by half of this times 12.8 s, one frame.
const GRID: f64 = 1.005;
/// Speeds looked at.
pub(crate) const RANGE: (f64, f64) = (0.5, 2.5);
/// Hypotheses handed on.
const MOST: usize = 12;
/// Score under which a guess is not worth hearing closely. It only saves time: music of the song's own
/// tempo and drums was seen to reach 17 and is refused later, by [`crate::search::believed`].
const LEAST_SCORE: f64 = 5.5;

/// A guess: at take second `take_s` the song stands at `song_s`, running at about `speed`.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Guess {
    pub(crate) speed: f64,
    pub(crate) kept: bool,
    pub(crate) take_s: f64,
    pub(crate) song_s: f64,
    /// Sum over pieces of robust standard deviations beyond chance.
    pub(crate) score: f64,
}

/// Usual speeds with their 1000/1001 kin, sorted.
pub(crate) fn usual(settings: &Settings) -> Vec<f64> {
    let mut all: Vec<f64> = settings
        .usual_speeds
        .iter()
        .flat_map(|s| [s * 1000.0 / 1001.0, *s, s * 1001.0 / 1000.0])
        .filter(|s| s.is_finite() && (0.4..=3.0).contains(s))
        .collect();
    all.sort_unstable_by(f64::total_cmp);
    all
}

/// A spectrum per band.
type BandSpectra = Vec<Vec<Complex<f32>>>;

struct Transform {
    size: usize,
    forward: Arc<dyn RealToComplex<f32>>,
    inverse: Arc<dyn ComplexToReal<f32>>,
}

impl Transform {
    fn spectra(&self, series: &Series) -> BandSpectra {
        series
            .rows
            .iter()
            .map(|row| {
                let mut padded = row.clone();
                padded.resize(self.size, 0.0);
                let mut out = self.forward.make_output_vec();
                let done = self.forward.process(&mut padded, &mut out);
                debug_assert!(done.is_ok());
                out
            })
            .collect()
    }
}

/// The best guesses for `take` (at the working rate), best first.
pub(crate) fn guesses(
    song: &Series,
    take: &[f32],
    settings: &Settings,
    keep_going: &dyn Fn() -> bool,
) -> Result<Vec<Guess>, Error> {
    let frames = take.len() / HOP;
    let piece = PIECE.min(frames);
    if piece < 60 || song.len() < 60 {
        return Ok(Vec::new());
    }
    let starts = starts(frames, piece);
    let spectra: Vec<Spectra> = starts
        .iter()
        .map(|s| Spectra::of(&take[s * HOP..(s + piece) * HOP], HOP))
        .collect();
    let level: Vec<Series> = spectra.iter().map(|s| flux(&s.bands(1.0), 1)).collect();

    let mut planner = RealFftPlanner::<f32>::new();
    let mut kept_spectra: Vec<(usize, Vec<BandSpectra>)> = Vec::new();
    let mut all: Vec<Guess> = Vec::new();
    for speed in speeds(settings) {
        if !keep_going() {
            return Err(Error::Stopped);
        }
        let long = (song.len() as f64 / speed) as usize;
        let size = (long + piece).next_power_of_two();
        let transform = Transform {
            size,
            forward: planner.plan_fft_forward(size),
            inverse: planner.plan_fft_inverse(size),
        };
        let song_spectra = transform.spectra(&flux(&spread(song, 0.0, speed, long), 1));
        for kept in [true, false] {
            if kept && (speed - 1.0).abs() < 0.003 {
                continue;
            }
            let fresh: Vec<BandSpectra>;
            let pieces: &Vec<BandSpectra> = if kept {
                let known = kept_spectra.iter().position(|(n, _)| *n == size);
                let index = known.unwrap_or_else(|| {
                    kept_spectra.push((size, level.iter().map(|l| transform.spectra(l)).collect()));
                    kept_spectra.len() - 1
                });
                &kept_spectra[index].1
            } else {
                fresh = spectra
                    .iter()
                    .map(|s| transform.spectra(&flux(&s.bands(speed), 1)))
                    .collect();
                &fresh
            };
            let fits: Vec<Vec<f32>> = pieces
                .iter()
                .map(|p| slide(&transform, &song_spectra, p, long, piece))
                .collect();
            agree(&fits, &starts, long, piece, speed, kept, &mut all);
        }
    }
    Ok(best(all))
}

/// Where pieces of `piece` frames start in a take of `frames`.
fn starts(frames: usize, piece: usize) -> Vec<usize> {
    // Pieces spread evenly; the take may hold talk and silence at both ends.
    let count = (frames / piece).clamp(1, MOST_PIECES);
    (0..count)
        .map(|i| {
            if count == 1 {
                (frames - piece) / 2
            } else {
                let gap = (frames - piece * count) as f64 / count as f64;
                (gap * (i as f64 + 0.5) + (piece * i) as f64) as usize
            }
        })
        .collect()
}

/// The speeds to look at: the usual ones, and a grid between them.
fn speeds(settings: &Settings) -> Vec<f64> {
    let mut speeds: Vec<f64> = usual(settings);
    speeds.dedup_by(|a, b| (*a / *b - 1.0).abs() < 0.002);
    let mut s = RANGE.0 * 0.998;
    while s < RANGE.1 * 1.003 {
        if speeds.iter().all(|u| (u / s - 1.0).abs() > 0.0015) {
            speeds.push(s);
        }
        s *= GRID;
    }
    speeds
}

/// The best of `all` guesses, near ones once, best first.
fn best(mut all: Vec<Guess>) -> Vec<Guess> {
    all.retain(|g| g.score >= LEAST_SCORE);
    all.sort_by(|a, b| b.score.total_cmp(&a.score));
    let mut out: Vec<Guess> = Vec::new();
    for guess in all {
        let near = |g: &Guess| {
            g.kept == guess.kept
                && (g.speed / guess.speed - 1.0).abs() < 0.012
                && (g.song_s + (guess.take_s - g.take_s) * g.speed - guess.song_s).abs()
                    < 0.5 * guess.speed
        };
        if out.len() < MOST && !out.iter().any(near) {
            out.push(guess);
        }
    }
    out
}

/// Correlation of one piece with the stretched song at every start `-piece..long`, in robust standard
/// deviations.
fn slide(
    transform: &Transform,
    song: &[Vec<Complex<f32>>],
    piece: &[Vec<Complex<f32>>],
    long: usize,
    length: usize,
) -> Vec<f32> {
    let mut product = transform.inverse.make_input_vec();
    for b in 0..BANDS {
        for ((p, s), x) in product.iter_mut().zip(&song[b]).zip(&piece[b]) {
            *p += s * x.conj();
        }
    }
    product[0].im = 0.0;
    product[transform.size / 2].im = 0.0;
    let mut out = transform.inverse.make_output_vec();
    let done = transform.inverse.process(&mut product, &mut out);
    debug_assert!(done.is_ok());
    let mut z: Vec<f32> = (0..long + length)
        .map(|i| out[(i + transform.size - length) % transform.size])
        .collect();
    // The scatter where the piece lies wholly on the song.
    let mut sample: Vec<f32> = z.iter().skip(length).step_by(7).map(|v| v.abs()).collect();
    let middle = sample.len() / 2;
    let median = if sample.is_empty() {
        0.0
    } else {
        *sample.select_nth_unstable_by(middle, f32::total_cmp).1
    };
    let scale = if median > 0.0 { 0.6745 / median } else { 0.0 };
    for v in &mut z {
        *v *= scale;
    }
    z
}

/// Adds the lags at which the pieces agree.
fn agree(
    fits: &[Vec<f32>],
    starts: &[usize],
    long: usize,
    length: usize,
    speed: f64,
    kept: bool,
    all: &mut Vec<Guess>,
) {
    let last = starts[starts.len() - 1];
    let middle = (starts[0] + last) / 2;
    // Lag in stretched frames: song position minus take frame, offset to be positive.
    let mut sums = vec![0.0f32; long + length + last + 1];
    let mut single: Vec<(f32, usize)> = Vec::new();
    for (fit, &start) in fits.iter().zip(starts) {
        // A speed off by half the grid's step moves the lag by this much over the distance.
        let reach = 1 + (start.abs_diff(middle) as f64 * (GRID - 1.0) * 0.55).ceil() as usize;
        let reach = reach.min(12);
        let (mut best, mut best_at) = (0.0f32, 0);
        for i in 0..fit.len() {
            if fit[i] > best {
                best = fit[i];
                best_at = i;
            }
            let low = i.saturating_sub(reach);
            let high = (i + reach + 1).min(fit.len());
            let most = fit[low..high].iter().copied().fold(0.0, f32::max);
            sums[i + last - start] += (most - 2.5).max(0.0);
        }
        single.push((best - 2.0, best_at + last - start));
    }
    let mut best: Vec<(f32, usize)> = Vec::new();
    for _ in 0..2 {
        let top = (0..sums.len())
            .filter(|i| best.iter().all(|b| b.1.abs_diff(*i) > 20))
            .map(|i| (sums[i], i))
            .max_by(|a, b| a.0.total_cmp(&b.0));
        best.extend(top);
    }
    best.extend(single);
    for (score, index) in best {
        // Which piece carries it: the guess is anchored there.
        let carrier = fits
            .iter()
            .zip(starts)
            .filter_map(|(fit, &start)| {
                let at = (index + start).checked_sub(last)?;
                let low = at.saturating_sub(12);
                let high = (at + 13).min(fit.len());
                (low..high)
                    .max_by(|&a, &b| fit[a].total_cmp(&fit[b]))
                    .map(|i| (fit[i], i, start))
            })
            .max_by(|a, b| a.0.total_cmp(&b.0));
        if let Some((z, at, start)) = carrier {
            if z < 3.5 {
                continue;
            }
            let step_s = HOP as f64 / RATE;
            all.push(Guess {
                speed,
                kept,
                take_s: (start + length / 2) as f64 * step_s,
                song_s: (at as f64 - length as f64 + length as f64 / 2.0) * step_s * speed,
                score: f64::from(score),
            });
        }
    }
}
