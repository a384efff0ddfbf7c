//! Taking apart what is struck and what is steady, by median filters of the spectrogram
//! (Fitzgerald, "Harmonic/percussive separation using median filtering", DAFx 2010).
//!
//! Steady sound is a ridge along time, struck sound one along frequency: the median over the other
//! direction removes it. Both parts add up to the song exactly, whatever the masks say.

use super::windowed;
use crate::Error;
use rayon::prelude::*;
use realfft::RealFftPlanner;
use realfft::num_complex::Complex;
use std::f64::consts::PI;

/// Frame of about 43 ms: 2048 samples at 44.1 and 48 kHz.
const FRAME_S: f64 = 0.0435;
/// Hops in a frame.
const OVERLAP: usize = 4;
/// Frames between the nine that a median over time is taken of: 16 hops, 0.17 s in all.
const TIME_STEP: usize = 2;
/// Bins from the middle of the nine that a median over frequency is taken of: 450 Hz in all.
const BIN_STEPS: [usize; 9] = [0, 2, 5, 7, 10, 12, 15, 17, 20];
/// Frames worked on at once.
const BLOCK: usize = 128;

/// Song taken apart; `steady` plus `struck` is the song.
pub(super) struct Parts {
    pub steady: Vec<Vec<f32>>,
    pub struck: Vec<Vec<f32>>,
}

/// Takes the channels apart with masks common to all of them, so that nothing moves in the stereo
/// picture.
pub(super) fn split(
    channels: Vec<Vec<f32>>,
    rate_hz: u32,
    keep_going: &(dyn Fn() -> bool + Sync),
) -> Result<Parts, Error> {
    let frame = ((f64::from(rate_hz) * FRAME_S).log2().round().exp2() as usize).max(256);
    let hop = frame / OVERLAP;
    let len = channels.first().map_or(0, Vec::len);
    let frames = len / hop + OVERLAP;
    let blocks: Vec<Vec<Vec<f32>>> = (0..frames.div_ceil(BLOCK))
        .into_par_iter()
        .map(|block| {
            if keep_going() {
                Ok(struck_of_block(&channels, frame, block * BLOCK))
            } else {
                Err(Error::Stopped)
            }
        })
        .collect::<Result<_, _>>()?;
    let mut steady = channels;
    let mut struck = vec![vec![0_f32; len]; steady.len()];
    for (block, parts) in blocks.iter().enumerate() {
        let from = frame_start(block * BLOCK, hop);
        for (out, part) in struck.iter_mut().zip(parts) {
            for (k, x) in part.iter().enumerate() {
                if let Some(out) = usize::try_from(from + k as i64)
                    .ok()
                    .and_then(|at| out.get_mut(at))
                {
                    *out += x;
                }
            }
        }
    }
    for (steady, struck) in steady.iter_mut().zip(&struck) {
        for (x, s) in steady.iter_mut().zip(struck) {
            *x -= s;
        }
    }
    Ok(Parts { steady, struck })
}

/// Where the frame of that index starts: the first is nearly all before the sound.
fn frame_start(index: usize, hop: usize) -> i64 {
    (index as i64 + 1 - OVERLAP as i64) * hop as i64
}

/// The struck part of frames `first..first + BLOCK`, overlap-added, per channel.
fn struck_of_block(channels: &[Vec<f32>], frame: usize, first: usize) -> Vec<Vec<f32>> {
    let hop = frame / OVERLAP;
    let mut planner = RealFftPlanner::<f32>::new();
    let (forward, inverse) = (
        planner.plan_fft_forward(frame),
        planner.plan_fft_inverse(frame),
    );
    // Square root of a periodic Hann window, for analysis and for synthesis.
    let window: Vec<f32> = (0..frame)
        .map(|n| (PI * n as f64 / frame as f64).sin() as f32)
        .collect();
    let bins = frame / 2 + 1;
    let reach = 4 * TIME_STEP;
    let mut input = forward.make_input_vec();
    let mut scratch = forward.make_scratch_vec();
    let mut spectra: Vec<Vec<Vec<Complex<f32>>>> = Vec::with_capacity(BLOCK + 2 * reach);
    let mut sizes: Vec<Vec<f32>> = Vec::with_capacity(BLOCK + 2 * reach);
    for index in 0..BLOCK + 2 * reach {
        let start = frame_start(first + index, hop) - (reach * hop) as i64;
        let mut size = vec![0_f32; bins];
        let mut of_channels = Vec::with_capacity(channels.len());
        for channel in channels {
            windowed(channel, start, &window, &mut input);
            let mut spectrum = forward.make_output_vec();
            // Lengths are the plan's own, so the transform cannot refuse.
            let _ = forward.process_with_scratch(&mut input, &mut spectrum, &mut scratch);
            for (size, x) in size.iter_mut().zip(&spectrum) {
                *size += x.norm_sqr();
            }
            of_channels.push(spectrum);
        }
        size.iter_mut().for_each(|x| *x = x.sqrt());
        sizes.push(size);
        spectra.push(of_channels);
    }
    let mut out = vec![vec![0_f32; (BLOCK - 1) * hop + frame]; channels.len()];
    let (mut over_time, mut over_bins) = (vec![0_f32; bins], vec![0_f32; bins]);
    let edge = BIN_STEPS[4];
    let mut padded = vec![0_f32; bins + 2 * edge];
    let mut wave = inverse.make_output_vec();
    let mut back = inverse.make_scratch_vec();
    let scale = 1.0 / (frame * OVERLAP / 2) as f32;
    for index in 0..BLOCK {
        let middle = index + reach;
        let rows: [&[f32]; 9] =
            std::array::from_fn(|k| sizes[middle + k * TIME_STEP - reach].as_slice());
        medians(rows, &mut over_time);
        padded[edge..edge + bins].copy_from_slice(&sizes[middle]);
        for k in 0..edge {
            padded[edge - 1 - k] = sizes[middle][(k + 1).min(bins - 1)];
            padded[edge + bins + k] = sizes[middle][bins.saturating_sub(k + 2)];
        }
        let rows: [&[f32]; 9] = std::array::from_fn(|k| &padded[BIN_STEPS[k]..BIN_STEPS[k] + bins]);
        medians(rows, &mut over_bins);
        for (channel, spectrum) in spectra[middle].iter_mut().enumerate() {
            for (bin, x) in spectrum.iter_mut().enumerate() {
                let (h, p) = (over_time[bin].powi(2), over_bins[bin].powi(2));
                *x *= p / (h + p + 1e-20);
            }
            spectrum[0].im = 0.0;
            spectrum[bins - 1].im = 0.0;
            let _ = inverse.process_with_scratch(spectrum, &mut wave, &mut back);
            let at = index * hop;
            for ((out, x), w) in out[channel][at..at + frame]
                .iter_mut()
                .zip(&wave)
                .zip(&window)
            {
                *out += x * w * scale;
            }
        }
    }
    out
}

/// The median of nine rows, column by column, by Paeth's exchange network (Graphics Gems, 1990).
fn medians(rows: [&[f32]; 9], out: &mut [f32]) {
    const EXCHANGES: [(usize, usize); 19] = [
        (1, 2),
        (4, 5),
        (7, 8),
        (0, 1),
        (3, 4),
        (6, 7),
        (1, 2),
        (4, 5),
        (7, 8),
        (0, 3),
        (5, 8),
        (4, 7),
        (3, 6),
        (1, 4),
        (2, 5),
        (4, 7),
        (4, 2),
        (6, 4),
        (4, 2),
    ];
    const LANES: usize = 8;
    for from in (0..out.len()).step_by(LANES) {
        let count = LANES.min(out.len() - from);
        let mut lanes = [[0_f32; LANES]; 9];
        for (lane, row) in lanes.iter_mut().zip(rows) {
            lane[..count].copy_from_slice(&row[from..from + count]);
        }
        for (a, b) in EXCHANGES {
            let (low, high) = (lanes[a], lanes[b]);
            lanes[a] = std::array::from_fn(|k| if low[k] < high[k] { low[k] } else { high[k] });
            lanes[b] = std::array::from_fn(|k| if low[k] < high[k] { high[k] } else { low[k] });
        }
        out[from..from + count].copy_from_slice(&lanes[4][..count]);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn medians_are_medians(values in prop::collection::vec(prop::collection::vec(-100.0_f32..100.0, 13), 9)) {
            let mut out = [0.0; 13];
            medians(std::array::from_fn(|k| values[k].as_slice()), &mut out);
            for (column, got) in out.iter().enumerate() {
                let mut all: Vec<f32> = values.iter().map(|row| row[column]).collect();
                all.sort_by(f32::total_cmp);
                prop_assert_eq!(*got, all[4]);
            }
        }
    }

    #[test]
    fn an_impulse_is_struck_and_a_sine_is_steady() {
        let energy = |x: &[f32]| x.iter().map(|x| f64::from(x * x)).sum::<f64>();
        let mut impulse = vec![0_f32; 60_000];
        impulse[30_000] = 1.0;
        let parts = split(vec![impulse], 48_000, &|| true).unwrap();
        assert!(energy(&parts.struck[0]) > 0.97 && parts.struck[0][30_000] > 0.97);
        let sine: Vec<f32> = (0..60_000)
            .map(|n| (0.1 * f64::from(n)).sin() as f32)
            .collect();
        let parts = split(vec![sine.clone()], 48_000, &|| true).unwrap();
        let middle = 12_000..48_000;
        assert!(energy(&parts.struck[0][middle.clone()]) < 0.01 * energy(&sine[middle]));
        for (k, x) in sine.iter().enumerate() {
            assert!((parts.steady[0][k] + parts.struck[0][k] - x).abs() < 1e-5);
        }
    }
}
