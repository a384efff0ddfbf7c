//! The steady part at another speed: a phase vocoder with rigid phase locking (Laroche and Dolson,
//! "Improved phase vocoder time-scale modification of audio", 1999).
//!
//! Each frame of the song is read twice, where it lies and one output hop earlier. The phase a
//! partial gains between the two is what it must gain between two output frames, so nothing has to
//! be unwrapped: the frame is turned, region by region around each spectral peak, so that its
//! earlier reading would lie on the frame made before. A partial that is new in the frame is left
//! as it lies in the song (after Röbel, "A new approach to transient processing in the phase
//! vocoder", 2003). All channels are turned alike.

use super::{Map, windowed};
use crate::Error;
use rayon::prelude::*;
use realfft::num_complex::Complex;
use realfft::{ComplexToReal, RealFftPlanner, RealToComplex};
use std::f64::consts::TAU;
use std::sync::Arc;

/// Frame of 64 ms: parts fundamentals 50 Hz from each other.
const FRAME_S: f64 = 0.064;
/// Output hops in a frame.
const OVERLAP: usize = 4;
/// A peak this many times as strong (in energy) as one hop earlier is new.
const NEW: f32 = 10.0;
/// Frames transformed at once.
const BATCH: usize = 64;

/// Plans and window of one frame length.
struct Frames {
    len: usize,
    hop: usize,
    forward: Arc<dyn RealToComplex<f32>>,
    inverse: Arc<dyn ComplexToReal<f32>>,
    window: Vec<f32>,
}

/// A frame as read: per channel the spectrum, and the one a hop earlier.
type Reading = Vec<(Vec<Complex<f32>>, Vec<Complex<f32>>)>;

/// The steady channels by `map`.
pub(super) fn stretch(
    steady: &[Vec<f32>],
    map: Map,
    rate_hz: u32,
    keep_going: &(dyn Fn() -> bool + Sync),
) -> Result<Vec<Vec<f32>>, Error> {
    let frames = Frames::new(rate_hz);
    let mut out = vec![vec![0_f32; map.count]; steady.len()];
    let count = map.count / frames.hop + OVERLAP + 1;
    let mut before: Vec<Vec<Complex<f32>>> = Vec::new();
    let centre = |index: usize| (index as i64 - OVERLAP as i64 / 2) * frames.hop as i64;
    for first in (0..count).step_by(BATCH) {
        if !keep_going() {
            return Err(Error::Stopped);
        }
        let batch = first..(first + BATCH).min(count);
        let mut readings: Vec<Reading> = batch
            .clone()
            .into_par_iter()
            .map(|index| frames.read(steady, map.song(centre(index))))
            .collect();
        for reading in &mut readings {
            turn(reading, &before);
            before.clear();
            before.extend(reading.iter().map(|(now, _)| now.clone()));
        }
        let waves: Vec<Vec<Vec<f32>>> = readings
            .into_par_iter()
            .map(|reading| {
                reading
                    .into_iter()
                    .map(|(now, _)| frames.wave(now))
                    .collect()
            })
            .collect();
        for (index, waves) in batch.zip(waves) {
            let start = centre(index) - frames.len as i64 / 2;
            for (out, wave) in out.iter_mut().zip(waves) {
                let skip = usize::try_from(-start).unwrap_or(0).min(wave.len());
                let at = usize::try_from(start).unwrap_or(0).min(out.len());
                for (out, x) in out[at..].iter_mut().zip(&wave[skip..]) {
                    *out += x;
                }
            }
        }
    }
    Ok(out)
}

impl Frames {
    fn new(rate_hz: u32) -> Self {
        // A multiple of 32, so that hops are whole and the transform is quick.
        let len = ((f64::from(rate_hz) * FRAME_S / 256.0).round() as usize).max(1) * 256;
        let mut planner = RealFftPlanner::<f32>::new();
        Self {
            len,
            hop: len / OVERLAP,
            forward: planner.plan_fft_forward(len),
            inverse: planner.plan_fft_inverse(len),
            // Periodic Hann.
            window: (0..len)
                .map(|n| (0.5 - 0.5 * (TAU * n as f64 / len as f64).cos()) as f32)
                .collect(),
        }
    }

    fn read(&self, channels: &[Vec<f32>], centre: i64) -> Reading {
        let start = centre - self.len as i64 / 2;
        channels
            .iter()
            .map(|channel| {
                (
                    self.spectrum(channel, start),
                    self.spectrum(channel, start - self.hop as i64),
                )
            })
            .collect()
    }

    fn spectrum(&self, channel: &[f32], start: i64) -> Vec<Complex<f32>> {
        let mut input = self.forward.make_input_vec();
        windowed(channel, start, &self.window, &mut input);
        let mut out = self.forward.make_output_vec();
        // Lengths are the plan's own, so the transform cannot refuse.
        let _ = self.forward.process(&mut input, &mut out);
        out
    }

    fn wave(&self, mut spectrum: Vec<Complex<f32>>) -> Vec<f32> {
        let last = spectrum.len() - 1;
        spectrum[0].im = 0.0;
        spectrum[last].im = 0.0;
        let mut out = self.inverse.make_output_vec();
        let _ = self.inverse.process(&mut spectrum, &mut out);
        // Squared Hann windows at a quarter of a frame sum to 3/2; the transform multiplies by its length.
        let scale = 1.0 / (1.5 * self.len as f32);
        for (x, w) in out.iter_mut().zip(&self.window) {
            *x *= w * scale;
        }
        out
    }
}

/// Turns the frame's regions so that they continue `before`.
fn turn(reading: &mut Reading, before: &[Vec<Complex<f32>>]) {
    if before.is_empty() {
        return;
    }
    let bins = reading.first().map_or(0, |(now, _)| now.len());
    let mut energy = vec![0_f32; bins];
    for (now, _) in reading.iter() {
        for (e, x) in energy.iter_mut().zip(now) {
            *e += x.norm_sqr();
        }
    }
    let peaks: Vec<usize> = (0..bins)
        .filter(|&k| {
            let here = energy[k];
            let greater =
                |other: Option<usize>| other.and_then(|o| energy.get(o)).is_none_or(|e| here > *e);
            here > 0.0
                && greater(k.checked_sub(1))
                && greater(k.checked_sub(2))
                && energy.get(k + 1).is_none_or(|e| here >= *e)
                && energy.get(k + 2).is_none_or(|e| here >= *e)
        })
        .collect();
    let mut from = 0;
    for (n, &peak) in peaks.iter().enumerate() {
        // The region ends at the weakest bin before the next peak.
        let to = peaks.get(n + 1).map_or(bins, |&next| {
            (peak..next)
                .min_by(|a, b| energy[*a].total_cmp(&energy[*b]))
                .unwrap_or(peak)
                + 1
        });
        let (mut sum, mut earlier) = (Complex::new(0.0, 0.0), 0_f32);
        for ((_, back), before) in reading.iter().zip(before) {
            sum += before[peak] * back[peak].conj();
            earlier += back[peak].norm_sqr();
        }
        let size = sum.norm();
        if size > 1e-20 && energy[peak] < NEW * earlier {
            let turn = sum / size;
            for (now, _) in reading.iter_mut() {
                now[from..to].iter_mut().for_each(|x| *x *= turn);
            }
        }
        from = to;
    }
}
