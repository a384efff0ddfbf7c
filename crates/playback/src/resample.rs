//! Playing sound faster or slower with its pitch following: band-limited interpolation at exact
//! fractions of a sample.
//!
//! A Kaiser-windowed sinc of 32 zero crossings to each side (Smith, "Digital audio resampling",
//! and Kaiser 1974 for the window), symmetric, so it delays nothing: output sample `n` is the song
//! at `n·num/den` samples, whatever the filter's length. Aliases lie below −85 dB; the pass band
//! ends at 82 % of the lower of the two half sample rates.

use crate::Error;
use crate::speed::Speed;
use rayon::prelude::*;
use std::f64::consts::PI;

/// Zero crossings of the sinc to each side.
const CROSSINGS: f64 = 32.0;
/// Where the sinc cuts, as a share of the lower half sample rate: half the transition above it.
const CUT: f64 = 0.91;
/// Kaiser's β for a stop band of −90 dB.
const BETA: f64 = 8.96;
/// Phases kept when the fraction has more than that many; the nearest two are mixed.
const MOST_PHASES: u64 = 2048;
/// Samples made at once.
const BLOCK: usize = 1 << 14;

/// `count` samples of playback, the first of them `out_from` samples after the anchor; the song
/// sample at the anchor is `origin` in `song`. Outside of `song` there is silence.
pub(crate) fn resample(
    song: &[f32],
    origin: i64,
    speed: Speed,
    out_from: i64,
    count: usize,
    keep_going: &(dyn Fn() -> bool + Sync),
) -> Result<Vec<f32>, Error> {
    let table = Table::new(speed);
    let half = table.taps as i64 / 2;
    let (first, _) = speed.song_at(out_from);
    let (last, _) = speed.song_at(out_from + count as i64);
    let from = origin + first - half;
    let padded = excerpt(song, from, origin + last + half + 2);
    let mut out = vec![0_f32; count];
    out.par_chunks_mut(BLOCK)
        .enumerate()
        .try_for_each(|(block, part)| {
            if !keep_going() {
                return Err(Error::Stopped);
            }
            for (k, sample) in part.iter_mut().enumerate() {
                let (whole, rest) = speed.song_at(out_from + (block * BLOCK + k) as i64);
                // The window's first tap is `half - 1` before the whole sample.
                let at = (origin + whole - half + 1 - from) as usize;
                *sample = table.apply(&padded[at..at + table.taps], rest);
            }
            Ok(())
        })?;
    Ok(out)
}

/// `samples[from..to]` with silence where there is none.
pub(crate) fn excerpt(samples: &[f32], from: i64, to: i64) -> Vec<f32> {
    let mut out = vec![0.0; usize::try_from(to - from).unwrap_or(0)];
    let first = from.clamp(0, samples.len() as i64);
    let last = to.clamp(first, samples.len() as i64);
    if last > first {
        let at = (first - from) as usize;
        out[at..at + (last - first) as usize]
            .copy_from_slice(&samples[first as usize..last as usize]);
    }
    out
}

/// The filter at each fraction of a sample.
struct Table {
    taps: usize,
    /// How many equal parts a sample is divided into.
    phases: u64,
    den: u64,
    /// `phases + 1` rows of `taps`.
    rows: Vec<f32>,
}

impl Table {
    fn new(speed: Speed) -> Self {
        let scale = (1.0 / speed.value()).min(1.0);
        let half = (CROSSINGS / scale).ceil() as usize;
        let taps = (2 * half).next_multiple_of(8);
        let phases = speed.den().min(MOST_PHASES);
        let rows = (0..=phases)
            .into_par_iter()
            .flat_map_iter(|phase| row(taps, phase as f64 / phases as f64, scale * CUT))
            .collect();
        Self {
            taps,
            phases,
            den: speed.den(),
            rows,
        }
    }

    fn apply(&self, window: &[f32], rest: u64) -> f32 {
        if self.phases == self.den {
            return dot(window, self.row(rest as usize));
        }
        let at = rest as f64 / self.den as f64 * self.phases as f64;
        let (low, mix) = (at as usize, at.fract() as f32);
        let a = dot(window, self.row(low));
        a + mix * (dot(window, self.row(low + 1)) - a)
    }

    fn row(&self, phase: usize) -> &[f32] {
        &self.rows[phase * self.taps..(phase + 1) * self.taps]
    }
}

/// A windowed sinc that reads the point `frac` after its middle tap, with unity gain at zero
/// frequency; `cut` as a share of the half sample rate.
pub(crate) fn row(taps: usize, frac: f64, cut: f64) -> impl Iterator<Item = f32> {
    let half = taps as f64 / 2.0;
    let weights: Vec<f64> = (0..taps)
        .map(|k| {
            let x = k as f64 - (half - 1.0) - frac;
            let inside = 1.0 - (x / half).powi(2);
            let window = if inside < 0.0 {
                0.0
            } else {
                bessel_i0(BETA * inside.sqrt()) / bessel_i0(BETA)
            };
            let sinc = if x.abs() < 1e-9 {
                cut
            } else {
                (PI * cut * x).sin() / (PI * x)
            };
            sinc * window
        })
        .collect();
    let sum: f64 = weights.iter().sum();
    weights.into_iter().map(move |w| (w / sum) as f32)
}

/// Modified Bessel function of order zero, by its series (Abramowitz and Stegun 9.6.12).
fn bessel_i0(x: f64) -> f64 {
    let (mut term, mut sum) = (1.0, 1.0);
    for k in 1..60 {
        term *= (x / (2.0 * f64::from(k))).powi(2);
        sum += term;
        if term < 1e-16 * sum {
            break;
        }
    }
    sum
}

/// Sum of products, in eight sums that fit a register each.
pub(crate) fn dot(a: &[f32], b: &[f32]) -> f32 {
    let mut sums = [0_f32; 8];
    for (a, b) in a.chunks_exact(8).zip(b.chunks_exact(8)) {
        for k in 0..8 {
            sums[k] += a[k] * b[k];
        }
    }
    sums.iter().sum()
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::TAU;

    fn sine(hz: f64, len: usize) -> Vec<f32> {
        (0..len)
            .map(|n| (TAU * hz * n as f64 / 48_000.0).sin() as f32)
            .collect()
    }

    /// A band-limited pulse comes out as the same pulse at its exact place, to a thousandth.
    #[test]
    fn a_sine_stays_a_sine_without_delay() {
        for (num, den) in [
            (2, 1),
            (5, 2),
            (25, 24),
            (24, 25),
            (1000, 1001),
            (3, 4),
            (1001, 400),
            (99_991, 99_989),
        ] {
            let speed = Speed::new(num, den).unwrap();
            let song = sine(1000.0, 96_000);
            let out = resample(&song, 48_000, speed, -5_000, 10_000, &|| true).unwrap();
            for (k, got) in out.iter().enumerate() {
                let at = 48_000.0 + (k as f64 - 5_000.0) * speed.value();
                let expected = (TAU * 1000.0 * at / 48_000.0).sin();
                assert!((f64::from(*got) - expected).abs() < 1e-3, "{speed} {k}");
            }
        }
    }

    #[test]
    fn what_no_longer_fits_is_taken_out() {
        // 15 kHz would be 30 kHz at double speed.
        let out = resample(
            &sine(15_000.0, 48_000),
            24_000,
            Speed::new(2, 1).unwrap(),
            -4_000,
            8_000,
            &|| true,
        )
        .unwrap();
        assert!(out.iter().all(|x| x.abs() < 1e-4));
    }

    #[test]
    fn silence_lies_around_the_song() {
        let out = resample(
            &[1.0; 100],
            0,
            Speed::new(5, 2).unwrap(),
            -2_000,
            4_000,
            &|| true,
        )
        .unwrap();
        assert!(out[..1900].iter().all(|x| *x == 0.0) && out[2200..].iter().all(|x| *x == 0.0));
        assert!(
            resample(&[1.0; 100], 0, Speed::new(5, 2).unwrap(), 0, 40, &|| false)
                == Err(Error::Stopped)
        );
    }
}
