//! How the spectrum changes from instant to instant, in log-frequency bands: what is left of a song
//! whatever its speed.
//!
//! Spectral flux per band (P. Masri, "Computer modelling of sound for transformation and synthesis of
//! musical signal", 1996; log bands as in S. Dixon, "Onset detection revisited", DAFx 2006). The part
//! common to all bands is taken out: beats fall together in any two songs of one tempo, changes of
//! harmony, melody and timbre do not.

use crate::sound::RATE;
use realfft::RealFftPlanner;

/// Analysis frame: 64 ms.
const FRAME: usize = 512;
/// Lowest band edge, hertz, in the song.
const LOWEST_HZ: f64 = 200.0;
/// Bands per octave and in all: up to 3800 Hz.
const PER_OCTAVE: f64 = 4.0;
/// How many bands.
pub(crate) const BANDS: usize = 17;

/// Power spectra of successive frames.
#[derive(Debug)]
pub(crate) struct Spectra {
    power: Vec<[f32; FRAME / 2]>,
}

/// Band series: `BANDS` rows of equal length.
#[derive(Clone, Debug)]
pub(crate) struct Series {
    pub(crate) rows: Vec<Vec<f32>>,
}

impl Series {
    pub(crate) fn len(&self) -> usize {
        self.rows.first().map_or(0, Vec::len)
    }
}

impl Spectra {
    /// Spectra of `x`, frame `i` centred on sample `i * hop`.
    pub(crate) fn of(x: &[f32], hop: usize) -> Self {
        let forward = RealFftPlanner::<f32>::new().plan_fft_forward(FRAME);
        let window: Vec<f32> = (0..FRAME)
            .map(|i| {
                (0.5 - 0.5 * (std::f64::consts::TAU * (i as f64 + 0.5) / FRAME as f64).cos()) as f32
            })
            .collect();
        let mut frame = forward.make_input_vec();
        let mut spectrum = forward.make_output_vec();
        let mut scratch = forward.make_scratch_vec();
        let power = (0..x.len().div_ceil(hop))
            .map(|j| {
                for (i, slot) in frame.iter_mut().enumerate() {
                    let at = (j * hop + i) as i64 - (FRAME / 2) as i64;
                    let inside = at >= 0 && (at as usize) < x.len();
                    *slot = if inside {
                        x[at as usize] * window[i]
                    } else {
                        0.0
                    };
                }
                let mut row = [0.0; FRAME / 2];
                if forward
                    .process_with_scratch(&mut frame, &mut spectrum, &mut scratch)
                    .is_ok()
                {
                    for (slot, c) in row.iter_mut().zip(&spectrum) {
                        *slot = c.norm_sqr();
                    }
                }
                row
            })
            .collect();
        Self { power }
    }

    /// Log energies in the song's bands, of a recording whose pitch is `pitch` times the song's.
    /// Bands out of reach are left 0.
    pub(crate) fn bands(&self, pitch: f64) -> Series {
        let bin_hz = RATE / FRAME as f64;
        let edge = |k: usize| LOWEST_HZ * 2f64.powf(k as f64 / PER_OCTAVE) * pitch / bin_hz;
        let rows = (0..BANDS)
            .map(|b| {
                let (low, high) = (edge(b), edge(b + 1));
                if high > (FRAME / 2) as f64 {
                    return vec![0.0; self.power.len()];
                }
                // A soft edge: the bins at both ends count by the share inside.
                let first = low.floor() as usize;
                let last = (high.ceil() as usize).min(FRAME / 2);
                let weights: Vec<f32> = (first..last)
                    .map(|i| ((i as f64 + 1.0).min(high) - (i as f64).max(low)) as f32)
                    .collect();
                let mut row: Vec<f32> = self
                    .power
                    .iter()
                    .map(|p| {
                        p[first..last]
                            .iter()
                            .zip(&weights)
                            .map(|(a, w)| a * w)
                            .sum()
                    })
                    .collect();
                let mut sorted = row.clone();
                sorted.sort_unstable_by(f32::total_cmp);
                // 40 dB under the loud frames counts as silence.
                let loud = sorted.get(sorted.len() * 9 / 10).copied().unwrap_or(0.0);
                let floor = loud * 1e-4 + 1e-20;
                for v in &mut row {
                    *v = (*v + floor).ln();
                }
                row
            })
            .collect();
        Series { rows }
    }
}

/// Reads a series at `count` places, `step` frames apart from `start`.
pub(crate) fn spread(series: &Series, start: f64, step: f64, count: usize) -> Series {
    let rows = series
        .rows
        .iter()
        .map(|row| {
            (0..count)
                .map(|i| {
                    let at = start + i as f64 * step;
                    let whole = at.floor();
                    if whole < 0.0 || whole as usize + 1 >= row.len() {
                        return row.first().copied().unwrap_or(0.0);
                    }
                    let (i, part) = (whole as usize, (at - whole) as f32);
                    row[i] + part * (row[i + 1] - row[i])
                })
                .collect()
        })
        .collect();
    Series { rows }
}

/// Rising change over `reach` frames, the part common to all bands removed, every band of unit variance.
pub(crate) fn flux(series: &Series, reach: usize) -> Series {
    let len = series.len();
    let mut rows: Vec<Vec<f32>> = series
        .rows
        .iter()
        .map(|row| {
            let mut out: Vec<f32> = (0..len)
                .map(|i| {
                    let before = row[i.saturating_sub(reach)];
                    let after = row[(i + reach).min(len - 1)];
                    (after - before).clamp(0.0, 4.0)
                })
                .collect();
            let mean = out.iter().sum::<f32>() / len.max(1) as f32;
            for v in &mut out {
                *v -= mean;
            }
            out
        })
        .collect();
    let used: Vec<usize> = (0..rows.len())
        .filter(|&b| rows[b].iter().any(|v| *v != 0.0))
        .collect();
    let mut common = vec![0.0f32; len];
    for &b in &used {
        for (sum, v) in common.iter_mut().zip(&rows[b]) {
            *sum += v / used.len() as f32;
        }
    }
    for &b in &used {
        for (v, mean) in rows[b].iter_mut().zip(&common) {
            *v -= mean;
        }
    }
    for row in &mut rows {
        let power = row.iter().map(|v| v * v).sum::<f32>() / len.max(1) as f32;
        let scale = if power > 1e-6 {
            1.0 / power.sqrt()
        } else {
            0.0
        };
        for v in row.iter_mut() {
            *v = (*v * scale).clamp(-4.0, 4.0);
        }
    }
    Series { rows }
}
