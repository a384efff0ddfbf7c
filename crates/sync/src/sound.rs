//! Sound at the working rate: cleaning, rate conversion, and reading between samples.

use crate::Sound;
use rubato::audioadapter_buffers::direct::SequentialSlice;
use rubato::{Fft, FixedSync, Indexing, Resampler, WindowFunction};

/// The rate everything is compared at. A small loudspeaker gives little under 300 Hz, and a camera's
/// microphone across a room little that is coherent over 4 kHz; half the rate is twice the speed.
pub(crate) const RATE_HZ: u32 = 8000;
/// [`RATE_HZ`] as a float.
pub(crate) const RATE: f64 = RATE_HZ as f64;

/// Taps on each side of a reading between samples.
const HALF_TAPS: usize = 12;
/// Places between two samples for which taps are kept; in between they are interpolated linearly.
const PHASES: usize = 256;

/// Sound at [`RATE_HZ`], zero delay, and how many samples were no numbers (taken as zero).
pub(crate) fn at_working_rate(sound: &Sound) -> (Vec<f32>, usize) {
    let bad = sound.samples.iter().filter(|x| !x.is_finite()).count();
    // A wild level would overflow the squares; a reading of ±1e6 keeps room for both.
    let clean = |x: &f32| {
        if x.is_finite() {
            x.clamp(-1e6, 1e6)
        } else {
            0.0
        }
    };
    if sound.rate_hz == RATE_HZ || sound.samples.is_empty() {
        return (sound.samples.iter().map(clean).collect(), bad);
    }
    (convert(sound, clean).unwrap_or_default(), bad)
}

/// Rate conversion by rubato's FFT method, fed piece by piece so that an hour needs no second copy.
fn convert(sound: &Sound, clean: impl Fn(&f32) -> f32) -> Option<Vec<f32>> {
    let (from, to) = (sound.rate_hz as usize, RATE_HZ as usize);
    let common = gcd(from, to);
    let (unit_in, unit_out) = (from / common, to / common);
    // Even multiples of the smallest block, about 256 samples out, put the filter's centre on a
    // whole sample at both rates, so that the delay taken out is exact.
    let multiple = (256 / unit_out.max(1)).max(1).next_multiple_of(2);
    let mut resampler = Fft::<f32>::new_custom(
        from,
        to,
        unit_in * multiple,
        1,
        1,
        WindowFunction::BlackmanHarris2,
        FixedSync::Both,
    )
    .ok()?;
    let (step_in, step_out) = (
        resampler.input_frames_next(),
        resampler.output_frames_next(),
    );
    let delay = resampler.output_delay();
    let wanted = (sound.samples.len() as u64 * to as u64).div_ceil(from as u64) as usize;
    let mut out = Vec::with_capacity(wanted + delay + 2 * step_out);
    let mut piece_in = vec![0.0; step_in];
    let mut piece_out = vec![0.0; step_out];
    let mut fed = 0;
    while out.len() < wanted + delay {
        let rest = &sound.samples[fed.min(sound.samples.len())..];
        let count = rest.len().min(step_in);
        for (slot, x) in piece_in.iter_mut().zip(rest) {
            *slot = clean(x);
        }
        piece_in[count..].fill(0.0);
        fed += count;
        let input = SequentialSlice::new(&piece_in[..], 1, step_in).ok()?;
        let mut output = SequentialSlice::new_mut(&mut piece_out[..], 1, step_out).ok()?;
        resampler
            .process_into_buffer(&input, &mut output, None::<&Indexing>)
            .ok()?;
        out.extend_from_slice(&piece_out);
    }
    out.drain(..delay);
    out.truncate(wanted);
    Some(out)
}

fn gcd(a: usize, b: usize) -> usize {
    if b == 0 { a } else { gcd(b, a % b) }
}

/// Reads a signal between its samples: band-limited interpolation with a table of windowed sincs
/// (J. O. Smith and P. Gossett, "A flexible sampling-rate conversion method", ICASSP 1984).
/// A library's resampler runs through a signal once; this reads any stretch from any place at any
/// step, which following a drifting line needs.
pub(crate) struct Reader {
    step: f64,
    half: usize,
    table: Vec<f32>,
}

impl Reader {
    /// A reader that moves `step` input samples per output sample, low-passed when `step` > 1.
    pub(crate) fn new(step: f64) -> Self {
        let cutoff = (1.0 / step).min(1.0);
        // A multiple of four, so that all taps come in eights.
        let half = ((HALF_TAPS as f64 / cutoff).ceil() as usize).next_multiple_of(4);
        let taps = 2 * half;
        let mut table = Vec::with_capacity((PHASES + 1) * taps);
        for phase in 0..=PHASES {
            let fraction = phase as f64 / PHASES as f64;
            for tap in 0..taps {
                let at = tap as f64 - (half as f64 - 1.0) - fraction;
                let x = std::f64::consts::PI * at * cutoff;
                let sinc = if x.abs() < 1e-9 { 1.0 } else { x.sin() / x };
                // Hann: side lobes matter less here than a short filter.
                let window = 0.5
                    + 0.5
                        * (std::f64::consts::PI * at / half as f64)
                            .clamp(-std::f64::consts::PI, std::f64::consts::PI)
                            .cos();
                table.push((cutoff * sinc * window) as f32);
            }
        }
        Self { step, half, table }
    }

    /// `count` readings, the first at input position `start` (may lie outside: zeros).
    pub(crate) fn read(&self, x: &[f32], start: f64, count: usize) -> Vec<f32> {
        let taps = 2 * self.half;
        (0..count)
            .map(|n| {
                let at = start + n as f64 * self.step;
                let whole = at.floor();
                let phase = (at - whole) * PHASES as f64;
                let row = (phase as usize).min(PHASES - 1);
                let blend = (phase - row as f64) as f32;
                let first = whole as i64 - (self.half as i64 - 1);
                let low = &self.table[row * taps..(row + 1) * taps];
                let high = &self.table[(row + 1) * taps..(row + 2) * taps];
                if first >= 0 && (first as usize) + taps <= x.len() {
                    let piece = &x[first as usize..first as usize + taps];
                    let (sum_low, sum_high) = (dot(low, piece), dot(high, piece));
                    sum_low + blend * (sum_high - sum_low)
                } else if first < x.len() as i64 && first + taps as i64 > 0 {
                    let mut sum = 0.0;
                    for tap in 0..taps {
                        let index = first + tap as i64;
                        if index >= 0 && (index as usize) < x.len() {
                            let weight = low[tap] + blend * (high[tap] - low[tap]);
                            sum += weight * x[index as usize];
                        }
                    }
                    sum
                } else {
                    0.0
                }
            })
            .collect()
    }
}

/// Sum of products, in eight lanes that the compiler can keep in registers. Lengths are multiples of 8.
fn dot(a: &[f32], b: &[f32]) -> f32 {
    let mut lanes = [0.0f32; 8];
    for (x, y) in a.chunks_exact(8).zip(b.chunks_exact(8)) {
        for i in 0..8 {
            lanes[i] += x[i] * y[i];
        }
    }
    lanes.iter().sum()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rate_conversion_and_reading_delay_nothing() {
        // A tone of 700 Hz keeps its phase to a thousandth of a sample's turn.
        for rate_hz in [
            8000u32, 11_025, 16_000, 22_050, 32_000, 44_100, 48_000, 96_000, 47_999,
        ] {
            let tone =
                |hz: f64, i: usize| (std::f64::consts::TAU * 700.0 * i as f64 / hz).sin() as f32;
            let samples: Vec<f32> = (0..rate_hz as usize)
                .map(|i| tone(f64::from(rate_hz), i))
                .collect();
            let (out, bad) = at_working_rate(&Sound {
                rate_hz,
                samples: &samples,
            });
            assert_eq!((out.len(), bad), (RATE_HZ as usize, 0), "{rate_hz}");
            for (i, v) in out.iter().enumerate().skip(2000).take(4000) {
                assert!((v - tone(RATE, i)).abs() < 2e-3, "{rate_hz} at {i}");
            }
        }
        let tone = |t: f64| (std::f64::consts::TAU * 0.11 * t).sin();
        let x: Vec<f32> = (0..4000).map(|i| tone(f64::from(i)) as f32).collect();
        for (start, step) in [(100.0, 1.0), (100.37, 1.0001), (99.9, 0.4), (200.5, 1.9)] {
            for (n, v) in Reader::new(step).read(&x, start, 1000).iter().enumerate() {
                let want = tone(start + n as f64 * step);
                assert!(
                    (f64::from(*v) - want).abs() < 5e-3,
                    "{start} {step}: {v} {want}"
                );
            }
        }
    }
}
