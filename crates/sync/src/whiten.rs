//! Short-time spectral whitening: every instant and every frequency of the band counts the same.
//!
//! The phase transform of Knapp and Carter ("The generalized correlation method for estimation of
//! time delay", IEEE Trans. ASSP 24(4), 1976) divides the cross-spectrum by its magnitude. Done on
//! short frames before correlating, it takes out the loudspeaker's colour, automatic gain, level
//! steps and hum as well as the spectrum of the music, and leaves a sharp peak.

use crate::sound::RATE;
use realfft::RealFftPlanner;

/// Frame of the whitening: 128 ms.
const FRAME: usize = 1024;
/// Frames overlap by three quarters, so that the result hardly depends on where frames begin.
pub(crate) const HOP: usize = FRAME / 4;
/// The band that is heard, in hertz.
const BAND_HZ: (f64, f64) = (250.0, 3750.0);

/// A whitened signal and how loud it was.
#[derive(Debug)]
pub(crate) struct Whitened {
    /// As long as the input.
    pub(crate) samples: Vec<f32>,
    /// Root of the in-band energy around `i * HOP`.
    pub(crate) level: Vec<f32>,
}

/// Whitens `x`. Bins further than `floor_db` under the loud ones fade out instead of being raised.
pub(crate) fn whiten(x: &[f32], floor_db: f64) -> Whitened {
    let mut planner = RealFftPlanner::<f32>::new();
    let forward = planner.plan_fft_forward(FRAME);
    let inverse = planner.plan_fft_inverse(FRAME);
    let window: Vec<f32> = (0..FRAME)
        .map(|i| (std::f64::consts::PI * (i as f64 + 0.5) / FRAME as f64).sin() as f32)
        .collect();
    let bin_hz = RATE / FRAME as f64;
    let (low, high) = ((BAND_HZ.0 / bin_hz) as usize, (BAND_HZ.1 / bin_hz) as usize);
    // Frame j is centred on j * HOP.
    let frames = x.len().div_ceil(HOP) + 1;
    let mut spectrum = forward.make_output_vec();
    let mut frame = forward.make_input_vec();
    let mut scratch = forward.make_scratch_vec();
    let mut scratch_back = inverse.make_scratch_vec();
    let load = |frame: &mut [f32], j: usize| {
        for (i, slot) in frame.iter_mut().enumerate() {
            let at = (j * HOP + i) as i64 - (FRAME / 2) as i64;
            *slot = if at >= 0 && (at as usize) < x.len() {
                x[at as usize] * window[i]
            } else {
                0.0
            };
        }
    };
    // Twice over the signal, rather than keeping all its spectra: an hour's would take half a gigabyte.
    let mut level = Vec::with_capacity(frames);
    for j in 0..frames {
        load(&mut frame, j);
        let done = forward.process_with_scratch(&mut frame, &mut spectrum, &mut scratch);
        debug_assert!(done.is_ok());
        let band = &spectrum[low..high];
        level.push((band.iter().map(|c| c.norm_sqr()).sum::<f32>() / band.len() as f32).sqrt());
    }
    let mut sorted = level.clone();
    sorted.sort_unstable_by(f32::total_cmp);
    let loud = sorted.get(sorted.len() * 9 / 10).copied().unwrap_or(0.0);
    let floor = loud * 10f32.powf(-(floor_db as f32) / 20.0) + 1e-20;
    let mut out = vec![0.0f32; x.len()];
    let width = high - low;
    let scale = 1.0 / FRAME as f32;
    let mut magnitude = vec![0.0f32; width];
    let zero = realfft::num_complex::Complex::new(0.0, 0.0);
    let mut band = vec![zero; width];
    for j in 0..frames {
        load(&mut frame, j);
        let done = forward.process_with_scratch(&mut frame, &mut spectrum, &mut scratch);
        debug_assert!(done.is_ok());
        band.copy_from_slice(&spectrum[low..high]);
        for (m, c) in magnitude.iter_mut().zip(&band) {
            *m = c.norm();
        }
        spectrum.fill(zero);
        for k in 0..width {
            // Over the neighbours, so that a bin that happens to be empty is not raised to full.
            let around = &magnitude[k.saturating_sub(1)..(k + 2).min(width)];
            let mean = around.iter().sum::<f32>() / around.len() as f32;
            // Soft edges of eight bins.
            let edge = (((k + 1).min(width - k)) as f32 / 8.0).min(1.0);
            spectrum[low + k] = band[k] * (edge * scale / (mean + floor));
        }
        let done = inverse.process_with_scratch(&mut spectrum, &mut frame, &mut scratch_back);
        debug_assert!(done.is_ok());
        for (i, v) in frame.iter().enumerate() {
            let at = (j * HOP + i) as i64 - (FRAME / 2) as i64;
            if at >= 0 && (at as usize) < out.len() {
                out[at as usize] += v * window[i] * 8.0;
            }
        }
    }
    Whitened {
        samples: out,
        level,
    }
}
