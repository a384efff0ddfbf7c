//! The curves that beats and bars are tracked on, small enough to keep with the result.
//!
//! Everything the trackers see is here, in steps of a byte, so that tracking again under a tempo
//! or a metre set by hand needs neither the audio nor the spectra.

use crate::spectrum::{BANDS, FAST_HZ, Frames, SLOW_HZ};
use serde::{Deserialize, Serialize};

/// Onset strength in four parts at [`Curves::FAST_HZ`], harmonic change at [`Curves::SLOW_HZ`].
///
/// Entry `i` is centred on `i / rate` seconds. One unit of the byte is 1/32 of the local mean for
/// onsets (so 32 is average, 255 is eight times that) and 1/255 of full change for the others.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Curves {
    /// Weighted sum of all bands.
    pub onset: Vec<u8>,
    /// Loud onsets below 130 Hz: kick before bass.
    pub low: Vec<u8>,
    /// 160 Hz to 3 kHz: snare body, chords, voice.
    pub middle: Vec<u8>,
    /// Loud onsets above 1 kHz: snare before hats.
    pub high: Vec<u8>,
    /// How much the pitch classes after differ from those before.
    pub chord_change: Vec<u8>,
    /// The same for the bass.
    pub bass_change: Vec<u8>,
}

impl Curves {
    /// Entries a second of the onset curves.
    pub const FAST_HZ: usize = FAST_HZ;
    /// Entries a second of the change curves.
    pub const SLOW_HZ: usize = SLOW_HZ;
    /// What the byte counts of onset strength: this many are the local mean.
    pub(crate) const MEAN: f32 = 32.0;

    /// From the spectra.
    pub(crate) fn of(frames: &Frames) -> Self {
        let bands: [Vec<f32>; BANDS] = std::array::from_fn(|b| levelled(&frames.flux[b]));
        let sum = |weights: [f32; BANDS]| -> Vec<u8> {
            let total: f32 = weights.iter().sum();
            (0..bands[0].len())
                .map(|i| {
                    let x: f32 = weights.iter().zip(&bands).map(|(w, b)| w * b[i]).sum();
                    (x / total * Self::MEAN).round().clamp(0.0, 255.0) as u8
                })
                .collect()
        };
        Self {
            onset: sum([1.0, 0.8, 1.0, 0.7]),
            low: bytes(&levelled(&frames.loud_flux[0])),
            middle: sum([0.0, 0.5, 1.0, 0.0]),
            high: bytes(&levelled(&frames.loud_flux[1])),
            chord_change: change(&frames.chroma),
            bass_change: change(&frames.bass),
        }
    }
}

fn bytes(levelled: &[f32]) -> Vec<u8> {
    levelled
        .iter()
        .map(|x| (x * Curves::MEAN).round().clamp(0.0, 255.0) as u8)
        .collect()
}

/// Onset strength in units of its own local mean. A floor of the song's mean keeps near-silence quiet.
fn levelled(flux: &[f32]) -> Vec<f32> {
    let n = flux.len();
    let whole = flux.iter().sum::<f32>() / n.max(1) as f32;
    let reach = 3 * FAST_HZ;
    let mut sums = vec![0f64; n + 1];
    for (i, x) in flux.iter().enumerate() {
        sums[i + 1] = sums[i] + f64::from(*x);
    }
    (0..n)
        .map(|i| {
            let (a, b) = (i.saturating_sub(reach), (i + reach).min(n));
            let mean = ((sums[b] - sums[a]) / (b - a).max(1) as f64) as f32;
            let level = mean.max(0.25 * whole) + 1e-6;
            (flux[i] / level).min(8.0)
        })
        .collect()
}

/// One minus the cosine between what sounds in 0.4 s before and after each entry, with its own
/// surroundings taken off so that only the turn itself stands out.
fn change<const N: usize>(frames: &[[f32; N]]) -> Vec<u8> {
    let reach = SLOW_HZ * 2 / 5;
    let n = frames.len();
    let mut sums = vec![[0f32; N]; n + 1];
    for (i, frame) in frames.iter().enumerate() {
        let norm = frame.iter().map(|x| x * x).sum::<f32>().sqrt() + 1e-4;
        sums[i + 1] = std::array::from_fn(|k| sums[i][k] + frame[k] / norm);
    }
    let span = |a: usize, b: usize| -> [f32; N] {
        let (a, b) = (a.min(n), b.min(n));
        std::array::from_fn(|k| sums[b][k] - sums[a.min(b)][k])
    };
    let raw: Vec<f32> = (0..n)
        .map(|i| {
            // The window of one entry spans about four; the one at the turn belongs to neither side.
            let before = span(i.saturating_sub(reach), i.saturating_sub(1));
            let after = span(i + 1, i + 1 + reach);
            let dot: f32 = before.iter().zip(&after).map(|(a, b)| a * b).sum();
            let size = |v: &[f32; N]| v.iter().map(|x| x * x).sum::<f32>();
            let norm = (size(&before) * size(&after)).sqrt();
            if norm > 1e-3 {
                (1.0 - dot / norm).clamp(0.0, 1.0)
            } else {
                0.0
            }
        })
        .collect();
    raw.iter()
        .enumerate()
        .map(|(i, &x)| {
            let at = |j: isize| raw[(i as isize + j).clamp(0, n as isize - 1) as usize];
            let around = (at(-6) + at(-5) + at(5) + at(6)) * 0.25;
            // Half of the plain curve is kept: a slow change is a change too.
            ((x - 0.5 * around).max(0.0) * 255.0).round().min(255.0) as u8
        })
        .collect()
}
