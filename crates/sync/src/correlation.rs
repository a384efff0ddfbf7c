//! Cross-correlation by FFT: of two signals as a whole, and of many windows against one long song.

use realfft::num_complex::Complex;
use realfft::{ComplexToReal, RealFftPlanner, RealToComplex};
use std::sync::Arc;

/// How the cross-spectrum is weighted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Weighting {
    /// Not at all: plain correlation.
    Plain,
    /// By one over its magnitude (PHAT): Knapp and Carter, IEEE Trans. ASSP 24(4), 1976.
    Phase,
}

/// The best lag of one signal against another.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Peak {
    /// In samples, between samples where that is meant: positive when `y` is late against `x`.
    pub lag: f64,
    /// At the nearest whole lag. Plain: over the root of both energies, 1 for equal signals. Phase: 1 for
    /// a pure delay.
    pub value: f64,
    /// The greatest magnitude at whole lags further than two samples away from the peak.
    pub next: f64,
}

/// Correlates `y` with `x` at every lag. `None` when either is empty or silent.
///
/// Between samples the correlation is read from a cross-spectrum padded eightfold, because a parabola
/// through three samples of a wide-band correlation is biased by a tenth of a sample.
pub fn correlate(x: &[f32], y: &[f32], weighting: Weighting) -> Option<Peak> {
    const FINER: usize = 8;
    let energy = |s: &[f32]| s.iter().map(|v| f64::from(*v).powi(2)).sum::<f64>();
    let norm = (energy(x) * energy(y)).sqrt();
    if !norm.is_normal() {
        return None;
    }
    let size = (x.len() + y.len()).next_multiple_of(2);
    let mut planner = RealFftPlanner::<f64>::new();
    let forward = planner.plan_fft_forward(size);
    let spectrum = |s: &[f32]| {
        let mut padded: Vec<f64> = s.iter().map(|v| f64::from(*v)).collect();
        padded.resize(size, 0.0);
        let mut out = forward.make_output_vec();
        forward.process(&mut padded, &mut out).ok().map(|()| out)
    };
    let mut cross = spectrum(y)?;
    for (c, a) in cross.iter_mut().zip(spectrum(x)?) {
        *c *= a.conj();
        if weighting == Weighting::Phase {
            let magnitude = c.norm();
            *c = if magnitude > 0.0 { *c / magnitude } else { *c };
        }
    }
    let scale = match weighting {
        Weighting::Plain => 1.0 / (size as f64 * norm),
        Weighting::Phase => 1.0 / size as f64,
    };
    let read = |finer: usize| {
        let inverse = RealFftPlanner::<f64>::new().plan_fft_inverse(size * finer);
        let mut padded = inverse.make_input_vec();
        padded[..cross.len()].copy_from_slice(&cross);
        if finer > 1 {
            // The bin at half the rate stands for both its signs.
            padded[cross.len() - 1] *= 0.5;
        }
        let mut out = inverse.make_output_vec();
        padded[0].im = 0.0;
        if let Some(last) = padded.last_mut() {
            last.im = 0.0;
        }
        inverse.process(&mut padded, &mut out).ok().map(|()| out)
    };
    let coarse = read(1)?;
    let fine = read(FINER)?;
    let whole = (0..size).max_by(|&a, &b| coarse[a].total_cmp(&coarse[b]))?;
    // The true top lies within a sample of the greatest whole one.
    let best = (0..=2 * FINER)
        .map(|i| (whole * FINER + fine.len() + i - FINER) % fine.len())
        .max_by(|&a, &b| fine[a].total_cmp(&fine[b]))?;
    let signed = |index: usize, len: usize| {
        if index < len / 2 {
            index as f64
        } else {
            index as f64 - len as f64
        }
    };
    // A parabola through the eightfold readings; on a whole sample it stays there.
    let at = |i: usize| fine[i % fine.len()];
    let (before, peak, after) = (at(best + fine.len() - 1), at(best), at(best + 1));
    let bend = before - 2.0 * peak + after;
    let nudge = if bend < 0.0 {
        0.5 * (before - after) / bend
    } else {
        0.0
    };
    let lag = (signed(best, fine.len()) + nudge) / FINER as f64;
    let next = (0..size)
        .filter(|i| {
            let apart = i.abs_diff(whole);
            apart.min(size - apart) > 2
        })
        .map(|i| coarse[i].abs())
        .fold(0.0, f64::max);
    Some(Peak {
        lag,
        value: coarse[whole] * scale,
        next: next * scale,
    })
}

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
