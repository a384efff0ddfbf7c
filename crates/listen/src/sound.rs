//! Song audio as it comes in: bounds, cleaning, and cheap mixing to centre and side.
//!
//! Reads the caller's samples in place, block by block, so that an hour of audio costs no second
//! copy. Values that are not numbers count as silence; values far beyond full scale are held.

use crate::notes::{Error, MAX_CHANNELS, MAX_S, MIN_S, RATES_HZ};

/// Song audio: one slice of samples per channel, all of the same length, nominally −1 to 1.
///
/// Channel order is that of WAVE files (left, right, centre, low-frequency, surrounds).
#[derive(Clone, Copy, Debug)]
pub struct Sound<'a> {
    /// Samples a second of each channel.
    pub rate_hz: u32,
    /// The channels.
    pub channels: &'a [Vec<f32>],
}

/// Samples beyond this are held: 24 dB over full scale is no music.
const HOLD: f32 = 16.0;
/// Above this rate neighbouring samples are averaged first; nothing here needs content over 20 kHz.
const FULL_RATE_HZ: u32 = 44_100;

impl Sound<'_> {
    /// Checks the bounds above.
    ///
    /// # Errors
    /// No channel, too many, channels of unequal length, a rate or a length out of range.
    pub fn check(&self) -> Result<(), Error> {
        let Some(first) = self.channels.first() else {
            return Err(Error::NoChannels);
        };
        if self.channels.len() > MAX_CHANNELS {
            return Err(Error::TooManyChannels(self.channels.len()));
        }
        if let Some(other) = self.channels.iter().find(|c| c.len() != first.len()) {
            return Err(Error::UnequalChannels(first.len(), other.len()));
        }
        if !RATES_HZ.contains(&self.rate_hz) {
            return Err(Error::Rate(self.rate_hz));
        }
        let duration_s = self.duration_s();
        if duration_s < MIN_S {
            return Err(Error::TooShort(duration_s));
        }
        if duration_s > MAX_S {
            return Err(Error::TooLong(duration_s));
        }
        Ok(())
    }

    /// How long it sounds, seconds.
    pub fn duration_s(&self) -> f64 {
        self.channels.first().map_or(0, Vec::len) as f64 / f64::from(self.rate_hz.max(1))
    }
}

/// What one pass over the samples tells.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Scan {
    /// Root mean square of the whole, without its mean.
    pub rms: f64,
    /// Largest magnitude after cleaning.
    pub peak: f32,
    /// Mean of all samples.
    pub mean: f64,
    /// Samples that were no numbers.
    pub not_numbers: u64,
    /// Samples that had to be held.
    pub held: u64,
}

/// One cleaned sample.
pub(crate) fn clean(x: f32) -> f32 {
    // NaN fails every comparison, so it falls to zero as an infinity does.
    if x.abs() < f32::INFINITY {
        x.clamp(-HOLD, HOLD)
    } else {
        0.0
    }
}

/// Looks at every sample once.
pub(crate) fn scan(sound: &Sound) -> Scan {
    let mut scan = Scan::default();
    let (mut sum, mut square, mut count) = (0f64, 0f64, 0u64);
    for channel in sound.channels {
        for block in channel.chunks(4096) {
            let (mut s, mut q, mut bad, mut held) = (0f32, 0f32, 0u32, 0u32);
            let mut peak = 0f32;
            for &x in block {
                let c = clean(x);
                bad += u32::from(!x.is_finite());
                held += u32::from(x.is_finite() && x.abs() > HOLD);
                s += c;
                q += c * c;
                peak = peak.max(c.abs());
            }
            sum += f64::from(s);
            square += f64::from(q);
            scan.not_numbers += u64::from(bad);
            scan.held += u64::from(held);
            scan.peak = scan.peak.max(peak);
            count += block.len() as u64;
        }
    }
    let n = count.max(1) as f64;
    scan.mean = sum / n;
    scan.rms = (square / n - scan.mean * scan.mean).max(0.0).sqrt();
    scan
}

/// Centre and side of the sound at about 44.1 kHz or below, read by position.
pub(crate) struct Mix<'a> {
    sound: &'a Sound<'a>,
    /// How many input samples one output sample covers.
    step: usize,
    /// Output samples a second.
    pub rate_hz: f64,
    /// Multiplies every sample.
    gain: f32,
    /// Weight of each channel in the centre.
    weights: Vec<f32>,
    raw: Vec<[f32; 2]>,
}

impl<'a> Mix<'a> {
    /// A mix that multiplies by `gain`.
    pub fn new(sound: &'a Sound<'a>, gain: f32) -> Self {
        let step = (sound.rate_hz / FULL_RATE_HZ).max(1) as usize;
        let n = sound.channels.len();
        let mut weights = vec![1.0 / n as f32; n];
        if n == 6 {
            // Left, right, centre, low-frequency, surrounds: the low-frequency channel left out,
            // front over back (weights by common practice).
            weights = vec![0.35, 0.35, 0.35, 0.0, 0.2, 0.2];
        }
        Self {
            sound,
            step,
            rate_hz: f64::from(sound.rate_hz) / step as f64,
            gain,
            weights,
            raw: Vec::new(),
        }
    }

    /// Samples there are.
    pub fn len(&self) -> usize {
        self.sound.channels.first().map_or(0, Vec::len) / self.step
    }

    /// Whether there is a side at all.
    pub fn has_side(&self) -> bool {
        self.sound.channels.len() >= 2
    }

    /// Fills `out` with `[centre, side]` from sample `from` on; zero outside the song.
    ///
    /// Above 44.1 kHz the step is averaged twice (a second-order comb filter), which is enough
    /// against aliasing of what little music holds up there.
    pub fn read(&mut self, from: i64, out: &mut [[f32; 2]]) {
        let step = self.step as i64;
        let len = out.len() * self.step + self.step;
        self.raw.clear();
        self.raw.resize(len, [0.0; 2]);
        let start = from * step - step / 2;
        let total = self.sound.channels.first().map_or(0, Vec::len) as i64;
        let a = start.clamp(0, total) as usize;
        let b = (start + len as i64).clamp(0, total) as usize;
        let at = (a as i64 - start) as usize;
        for (index, (channel, &weight)) in self.sound.channels.iter().zip(&self.weights).enumerate()
        {
            let weight = weight * self.gain;
            let side = match index {
                0 if self.has_side() => 0.5 * self.gain,
                1 => -0.5 * self.gain,
                _ => 0.0,
            };
            if b > a {
                for (to, &x) in self.raw[at..].iter_mut().zip(&channel[a..b]) {
                    let c = clean(x);
                    to[0] += weight * c;
                    to[1] += side * c;
                }
            }
        }
        if self.step == 1 {
            out.copy_from_slice(&self.raw[..out.len()]);
            return;
        }
        let scale = 1.0 / (self.step * self.step) as f32;
        for (i, to) in out.iter_mut().enumerate() {
            let mut sum = [0f32; 2];
            let base = i * self.step;
            // A triangle two steps wide: two running means in one.
            for k in 0..2 * self.step {
                let weight = (self.step as f32) - (k as f32 + 0.5 - self.step as f32).abs();
                if let Some(x) = self.raw.get(base + k) {
                    sum[0] += weight * x[0];
                    sum[1] += weight * x[1];
                }
            }
            *to = [sum[0] * scale, sum[1] * scale];
        }
    }
}
