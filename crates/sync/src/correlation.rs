//! Cross-correlation by FFT, of many windows against one long song.

use realfft::num_complex::Complex;
use realfft::{ComplexToReal, RealFftPlanner, RealToComplex};
use std::sync::Arc;

/// Length of a window slid over the song, in samples at the working rate: 4.1 s. Longer windows gain
/// against noise but lose against drift: at 100 ppm the lag moves 3 samples in this one.
pub(crate) const WINDOW: usize = 1 << 15;
/// FFT length.
const BLOCK: usize = 1 << 17;
/// New lags per block.
const ADVANCE: usize = BLOCK - WINDOW;
/// Lags pooled into one bin: 4 ms.
pub(crate) const POOL: usize = 32;

/// A song's spectra, block by block (overlap-save), against which windows are slid.
pub(crate) struct Slider {
    blocks: Vec<Vec<Complex<f32>>>,
    lags: usize,
    forward: Arc<dyn RealToComplex<f32>>,
    inverse: Arc<dyn ComplexToReal<f32>>,
}

impl std::fmt::Debug for Slider {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Slider").field("lags", &self.lags).finish()
    }
}

/// How well one window fits everywhere: bin `b` covers window starts
/// `b * POOL - WINDOW ..` of the song.
#[derive(Clone, Debug)]
pub(crate) struct Fit {
    /// Greatest magnitude in the bin, in robust standard deviations of all lags.
    pub(crate) z: Vec<f32>,
    /// Where in the bin, 0 to POOL - 1.
    pub(crate) at: Vec<u8>,
}

impl Slider {
    pub(crate) fn new(song: &[f32]) -> Self {
        let mut planner = RealFftPlanner::<f32>::new();
        let forward = planner.plan_fft_forward(BLOCK);
        let inverse = planner.plan_fft_inverse(BLOCK);
        let lags = (song.len() + WINDOW).next_multiple_of(POOL);
        let blocks = (0..lags.div_ceil(ADVANCE))
            .map(|b| {
                let start = (b * ADVANCE) as i64 - WINDOW as i64;
                let mut piece = piece(song, start, BLOCK);
                let mut out = forward.make_output_vec();
                let done = forward.process(&mut piece, &mut out);
                debug_assert!(done.is_ok());
                out
            })
            .collect();
        Self {
            blocks,
            lags,
            forward,
            inverse,
        }
    }

    /// Slides `window` (at most [`WINDOW`] samples) over the song.
    pub(crate) fn slide(&self, window: &[f32]) -> Fit {
        let mut padded = piece(window, 0, BLOCK);
        let mut spectrum = self.forward.make_output_vec();
        let done = self.forward.process(&mut padded, &mut spectrum);
        debug_assert!(done.is_ok());
        for c in spectrum.iter_mut() {
            *c = c.conj();
        }
        let bins = self.lags / POOL;
        let mut fit = Fit {
            z: Vec::with_capacity(bins),
            at: Vec::with_capacity(bins),
        };
        let mut product = self.inverse.make_input_vec();
        let mut lags = self.inverse.make_output_vec();
        let mut scratch = self.inverse.make_scratch_vec();
        let mut sample = Vec::new();
        for block in &self.blocks {
            for ((p, a), b) in product.iter_mut().zip(block).zip(&spectrum) {
                *p = a * b;
            }
            product[0].im = 0.0;
            product[BLOCK / 2].im = 0.0;
            let done = self
                .inverse
                .process_with_scratch(&mut product, &mut lags, &mut scratch);
            debug_assert!(done.is_ok());
            for bin in lags[..ADVANCE].chunks_exact(POOL) {
                if fit.z.len() == bins {
                    break;
                }
                let mut best = 0.0f32;
                let mut at = 0;
                for (i, v) in bin.iter().enumerate() {
                    if v.abs() > best {
                        best = v.abs();
                        at = i;
                    }
                }
                sample.push(bin[7].abs());
                fit.z.push(best);
                fit.at.push(at as u8);
            }
        }
        // Standard deviation from the median magnitude (of a Gaussian: 0.6745), over lags at which
        // something of the song lies under the window.
        sample.retain(|v| *v > 0.0);
        let middle = sample.len() / 2;
        let median = if sample.is_empty() {
            0.0
        } else {
            *sample.select_nth_unstable_by(middle, f32::total_cmp).1
        };
        let scale = if median > 0.0 { 0.6745 / median } else { 0.0 };
        for z in &mut fit.z {
            *z *= scale;
        }
        fit
    }
}

/// `len` samples of `x` from `start`, zeros outside.
pub(crate) fn piece(x: &[f32], start: i64, len: usize) -> Vec<f32> {
    let mut out = vec![0.0; len];
    let from = start.clamp(0, x.len() as i64);
    let to = (start + len as i64).clamp(from, x.len() as i64);
    let offset = (from - start).max(0) as usize;
    let source = &x[from as usize..to as usize];
    if offset < len {
        out[offset..offset + source.len()].copy_from_slice(source);
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Noise, by the constants of Numerical Recipes.
    fn noise(len: usize) -> Vec<f32> {
        let next = |seed: &u32| Some(seed.wrapping_mul(1_664_525).wrapping_add(1_013_904_223));
        let values = std::iter::successors(next(&1), next);
        let sample = |value: u32| (f64::from(value) / 2f64.powi(31) - 1.0) as f32;
        values.map(sample).take(len).collect()
    }

    #[test]
    fn a_window_fits_where_it_was_cut_from() {
        let song = noise(BLOCK * 2);
        let slider = Slider::new(&song);
        for start in [0, 777, ADVANCE - 1, 151_234] {
            let fit = slider.slide(&song[start..start + WINDOW]);
            let best = (0..fit.z.len())
                .max_by(|a, b| fit.z[*a].total_cmp(&fit.z[*b]))
                .unwrap();
            let lag = best * POOL + usize::from(fit.at[best]);
            assert_eq!(lag, start + WINDOW);
            // In noise the fit stands out by the root of the window's length, and more.
            assert!(fit.z[best] > 50.0, "{}", fit.z[best]);
        }
    }
}
