//! One pass over the song: onset strength in bands, tone, timbre, voice cues.
//!
//! Onset strength is the log-filtered spectral flux with a maximum filter along frequency
//! ("SuperFlux": S. Böck and G. Widmer, "Maximum filter vibrato suppression for onset detection",
//! DAFx 2013), kept apart in four bands so that kick, body, voice range and cymbals can be told.
//! What the maximum filter removes is itself kept: partials that move in frequency (vibrato,
//! glides) are the cheapest sign of a singing voice.
//!
//! # Conventions
//! Fast curves run at [`FAST_HZ`], slow ones at [`SLOW_HZ`]; entry `i` is centred on `i / rate`
//! seconds. Levels are relative to the song's own root mean square.

use crate::Error;
use crate::sound::Mix;
use realfft::RealFftPlanner;
use rustfft::{FftPlanner, num_complex::Complex32};
use std::ops::Range;
use std::sync::Arc;

/// Entries a second of the onset curves.
pub(crate) const FAST_HZ: usize = 100;
/// Entries a second of tone and timbre.
pub(crate) const SLOW_HZ: usize = 20;
/// Bands of onset strength: below 160 Hz, to 500 Hz, to 3 kHz, above.
pub(crate) const BANDS: usize = 4;
const BAND_TOPS_HZ: [f64; BANDS - 1] = [160.0, 500.0, 3000.0];
/// Timbre bands.
pub(crate) const TIMBRE: usize = 18;
/// Bass bins, about 5.4 Hz each from 35 Hz up.
pub(crate) const BASS: usize = 24;
/// Frames between the two spectra that are compared: 20 ms.
const LAG: usize = 2;
/// Frames read at once.
const BLOCK: usize = 500;
/// How far after its frame's centre an attack shows, seconds: frames are centred that much later, so
/// that a curve's peak stands on the attack. Measured on songs with known beats (median error).
const LATE_S: f64 = 0.0055;

/// Everything the later stages hear of the song.
#[derive(Default)]
pub(crate) struct Frames {
    /// Onset strength per band, at [`FAST_HZ`].
    pub flux: [Vec<f32>; BANDS],
    /// Onset strength of plain magnitude below 130 Hz and above 1 kHz, at [`FAST_HZ`]: what is
    /// loud counts most, so a kick stands out from a bass and a snare from a hat.
    pub loud_flux: [Vec<f32>; 2],
    /// Pitch classes, C first, at [`SLOW_HZ`]; not normalised.
    pub chroma: Vec<[f32; 12]>,
    /// Spectrum of the bass, at [`SLOW_HZ`].
    pub bass: Vec<[f32; BASS]>,
    /// Log level per timbre band, at [`SLOW_HZ`].
    pub timbre: Vec<[f32; TIMBRE]>,
    /// Power (song RMS = 1), at [`SLOW_HZ`].
    pub power: Vec<f32>,
    /// Voice cues at [`SLOW_HZ`].
    pub cues: Vec<VoiceCue>,
}

/// What hints at a voice in one slow frame.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct VoiceCue {
    /// Movement of partials in frequency, 500 Hz to 4 kHz: share of the flux the maximum filter took.
    pub movement: f32,
    /// Share of centre in centre plus side, 300 Hz to 4 kHz.
    pub centre: f32,
    /// Share of 300 Hz to 4 kHz in the whole, of the tonal part.
    pub share: f32,
}

/// Log-spaced bands over the bins of a spectrum: `(first bin, end bin, onset band)`.
fn log_bands(bin_hz: f64, bins: usize) -> Vec<(usize, usize, usize)> {
    let mut edges: Vec<usize> = Vec::new();
    let mut hz = 30.0;
    while hz < 16_000.0 && hz / bin_hz < (bins as f64) * 0.95 {
        let bin = ((hz / bin_hz).round() as usize).max(2);
        if edges.last() != Some(&bin) {
            edges.push(bin);
        }
        hz *= 2f64.powf(1.0 / 12.0);
    }
    edges
        .windows(2)
        .map(|e| {
            let centre = (e[0] + e[1] - 1) as f64 / 2.0 * bin_hz;
            let band = BAND_TOPS_HZ.iter().filter(|top| centre >= **top).count();
            (e[0], e[1], band)
        })
        .collect()
}

fn hann(n: usize) -> Vec<f32> {
    (0..n)
        .map(|i| 0.5 - 0.5 * (std::f32::consts::TAU * (i as f32 + 0.5) / n as f32).cos())
        .collect()
}

/// Runs over the whole song. `progress` gets 0 to 1 and answers whether to go on.
pub(crate) fn frames(mix: &mut Mix, progress: &dyn Fn(f32) -> bool) -> Result<Frames, Error> {
    let rate = mix.rate_hz;
    let seconds = mix.len() as f64 / rate;
    let fast_count = (seconds * FAST_HZ as f64).ceil() as usize;
    let mut out = Frames::default();
    let mut short = Short::new(rate);
    let mut slow = Slow::new(rate);
    let per_slow = FAST_HZ / SLOW_HZ;
    let mut gathered = Gathered::default();
    let mut samples: Vec<[f32; 2]> = Vec::new();
    let centre_of = |frame: usize| ((frame as f64 / FAST_HZ as f64 + LATE_S) * rate).round() as i64;
    for block in (0..fast_count).step_by(BLOCK) {
        if !progress(block as f32 / fast_count.max(1) as f32) {
            return Err(Error::Stopped);
        }
        let end = (block + BLOCK).min(fast_count);
        let pad = (short.size / 2).max(slow.reach) as i64;
        let from = centre_of(block) - pad;
        let upto = centre_of(end - 1) + pad + (0.02 * rate) as i64;
        samples.resize((upto - from) as usize, [0.0; 2]);
        mix.read(from, &mut samples);
        for frame in block..end {
            let start = (centre_of(frame) - from) as usize - short.size / 2;
            short.transform(&samples[start..start + short.size]);
            let (flux, loud) = short.compare(frame, &mut gathered);
            for (band, value) in flux.iter().enumerate() {
                out.flux[band].push(value / short.band_sizes[band].max(1.0));
            }
            for (part, value) in loud.iter().enumerate() {
                out.loud_flux[part].push(*value);
            }
            short.gather(frame, &mut gathered);
            if frame % per_slow == per_slow / 2 || (frame + 1 == fast_count) {
                let n = per_slow as f32;
                out.timbre.push(std::array::from_fn(|t| {
                    gathered.timbre[t] / (n * short.timbre_sizes[t].max(1.0))
                }));
                out.power.push(gathered.power / n);
                let centre = (centre_of(frame / per_slow * per_slow) - from).max(0) as usize;
                let (chroma, bass) = slow.frame(&samples, centre);
                out.chroma.push(chroma);
                out.bass.push(bass);
                out.cues.push(gathered.cue());
                gathered = Gathered::default();
            }
        }
    }
    Ok(out)
}

/// The shorter transform for onsets: about 32 ms of centre and side, and what it showed the last frames.
struct Short {
    size: usize,
    bin_hz: f64,
    fft: Arc<dyn rustfft::Fft<f32>>,
    scratch: Vec<Complex32>,
    packed: Vec<Complex32>,
    window: Vec<f32>,
    /// First bin, end bin and onset band of each log-spaced band.
    bands: Vec<(usize, usize, usize)>,
    band_sizes: [f32; BANDS],
    timbre_of: Vec<usize>,
    timbre_sizes: [f32; TIMBRE],
    /// Bins of the voice, and of what is told apart as centre and side.
    voice: Range<usize>,
    middle: Range<usize>,
    magnitude: Vec<f32>,
    power: Vec<f32>,
    side_power: Vec<f32>,
    /// Of the last frames, in turn: levels per band, log levels per band, log levels per bin of the voice.
    plain: Vec<Vec<f32>>,
    logs: Vec<Vec<f32>>,
    fine: Vec<Vec<f32>>,
}

impl Short {
    fn new(rate: f64) -> Self {
        let size = ((0.032 * rate) as usize).next_power_of_two();
        let fft = FftPlanner::<f32>::new().plan_fft_forward(size);
        let bin_hz = rate / size as f64;
        let bands = log_bands(bin_hz, size / 2);
        let mut band_sizes = [0f32; BANDS];
        for band in &bands {
            band_sizes[band.2] += 1.0;
        }
        let timbre_of: Vec<usize> = (0..bands.len()).map(|b| b * TIMBRE / bands.len()).collect();
        let mut timbre_sizes = [0f32; TIMBRE];
        for &t in &timbre_of {
            timbre_sizes[t] += 1.0;
        }
        let bin_at = |hz: f64| ((hz / bin_hz) as usize).min(size / 2 - 2).max(2);
        let voice = bin_at(500.0)..bin_at(4000.0);
        let last = |width: usize| vec![vec![0.0; width]; LAG + 1];
        Self {
            size,
            bin_hz,
            scratch: vec![Complex32::default(); fft.get_inplace_scratch_len()],
            packed: vec![Complex32::default(); size],
            fft,
            window: hann(size).iter().map(|w| w * 4.0 / size as f32).collect(),
            band_sizes,
            timbre_of,
            timbre_sizes,
            middle: bin_at(300.0)..bin_at(4000.0),
            magnitude: vec![0f32; size / 2],
            power: vec![0f32; size / 2],
            side_power: vec![0f32; size / 2],
            plain: last(bands.len()),
            logs: last(bands.len()),
            fine: last(voice.len()),
            voice,
            bands,
        }
    }

    /// Takes `samples`, centre and side, apart.
    fn transform(&mut self, samples: &[[f32; 2]]) {
        for ((to, x), w) in self.packed.iter_mut().zip(samples).zip(&self.window) {
            *to = Complex32::new(x[0] * w, x[1] * w);
        }
        self.fft
            .process_with_scratch(&mut self.packed, &mut self.scratch);
        // Two real signals in one complex transform come apart by symmetry.
        for k in 1..self.size / 2 {
            let (a, b) = (self.packed[k], self.packed[self.size - k].conj());
            let centre = (a + b) * 0.5;
            let side = (a - b) * 0.5;
            self.power[k] = centre.norm_sqr();
            self.side_power[k] = side.norm_sqr();
            self.magnitude[k] = self.power[k].sqrt();
        }
    }

    /// Onset strength of `frame` per band, and of plain magnitude below and above, against the frame [`LAG`] before.
    fn compare(&mut self, frame: usize, gathered: &mut Gathered) -> ([f32; BANDS], [f32; 2]) {
        let now = frame % (LAG + 1);
        let was = (frame + 1) % (LAG + 1);
        for (k, &(a, b, _)) in self.bands.iter().enumerate() {
            let sum = self.magnitude[a..b].iter().sum::<f32>();
            self.plain[now][k] = sum;
            self.logs[now][k] = (1.0 + 20.0 * sum).ln();
        }
        let voice = &self.magnitude[self.voice.clone()];
        for (to, &m) in self.fine[now].iter_mut().zip(voice) {
            *to = (1.0 + 100.0 * m).ln();
        }
        let mut flux = [0f32; BANDS];
        let mut loud = [0f32; 2];
        if frame < LAG {
            return (flux, loud);
        }
        let before = &self.logs[was];
        for (b, &(first, _, group)) in self.bands.iter().enumerate() {
            let most = before[b.saturating_sub(1)]
                .max(before[b])
                .max(before[(b + 1).min(self.bands.len() - 1)]);
            flux[group] += (self.logs[now][b] - most).max(0.0);
            let part = match first as f64 * self.bin_hz {
                hz if hz < 130.0 => 0,
                hz if hz >= 1000.0 => 1,
                _ => continue,
            };
            loud[part] += (self.plain[now][b] - self.plain[was][b]).max(0.0);
        }
        let (mut moved, mut held) = (0f32, 0f32);
        let (current, before) = (&self.fine[now], &self.fine[was]);
        for b in 2..current.len().saturating_sub(2) {
            let most = before[b - 2]
                .max(before[b - 1])
                .max(before[b])
                .max(before[b + 1])
                .max(before[b + 2]);
            moved += (current[b] - before[b]).max(0.0);
            held += (current[b] - most).max(0.0);
        }
        gathered.movement += moved - held;
        gathered.level += current.iter().sum::<f32>();
        (flux, loud)
    }

    /// Adds timbre and power of `frame` to what is gathered for a slow one.
    fn gather(&self, frame: usize, gathered: &mut Gathered) {
        for (b, &t) in self.timbre_of.iter().enumerate() {
            gathered.timbre[t] += self.logs[frame % (LAG + 1)][b];
        }
        gathered.power += self.power[2..].iter().sum::<f32>();
        gathered.centre += self.power[self.middle.clone()].iter().sum::<f32>();
        gathered.side += self.side_power[self.middle.clone()].iter().sum::<f32>();
    }
}

#[derive(Default)]
struct Gathered {
    timbre: [f32; TIMBRE],
    power: f32,
    centre: f32,
    side: f32,
    movement: f32,
    level: f32,
}

impl Gathered {
    fn cue(&self) -> VoiceCue {
        VoiceCue {
            movement: self.movement / self.level.max(1e-3),
            centre: self.centre / (self.centre + self.side).max(1e-9),
            share: self.centre / self.power.max(1e-9),
        }
    }
}

/// The longer transform for tone: about 186 ms at about 11 kHz.
struct Slow {
    step: usize,
    size: usize,
    /// Samples needed on either side of the centre.
    reach: usize,
    fft: Arc<dyn realfft::RealToComplex<f32>>,
    input: Vec<f32>,
    output: Vec<Complex32>,
    scratch: Vec<Complex32>,
    window: Vec<f32>,
    magnitude: Vec<f32>,
    /// Pitch class per bin, as fraction of a semitone; `None` outside the range.
    pitch: Vec<Option<(usize, usize, f32)>>,
    bass_from: usize,
}

impl Slow {
    fn new(rate: f64) -> Self {
        let step = ((rate / 11_000.0) as usize).max(1);
        let low_rate = rate / step as f64;
        let size = ((0.125 * low_rate) as usize).next_power_of_two();
        let fft = RealFftPlanner::<f32>::new().plan_fft_forward(size);
        let bin_hz = low_rate / size as f64;
        let pitch = (0..size / 2)
            .map(|k| {
                let hz = k as f64 * bin_hz;
                (130.0..2100.0).contains(&hz).then(|| {
                    let note = 69.0 + 12.0 * (hz / 440.0).log2() + 120.0;
                    let below = note.floor();
                    let at = below as usize % 12;
                    (at, (at + 1) % 12, (note - below) as f32)
                })
            })
            .collect();
        Self {
            step,
            size,
            reach: size / 2 * step + 2 * step,
            input: fft.make_input_vec(),
            output: fft.make_output_vec(),
            scratch: fft.make_scratch_vec(),
            fft,
            window: hann(size).iter().map(|w| w * 4.0 / size as f32).collect(),
            magnitude: vec![0.0; size / 2],
            pitch,
            bass_from: (35.0 / bin_hz) as usize + 1,
        }
    }

    /// Chroma and bass around sample `centre` of `samples`.
    fn frame(&mut self, samples: &[[f32; 2]], centre: usize) -> ([f32; 12], [f32; BASS]) {
        let first = centre as i64 - (self.size / 2 * self.step) as i64;
        let scale = 1.0 / (self.step * self.step) as f32;
        for (i, to) in self.input.iter_mut().enumerate() {
            let base = first + (i * self.step) as i64;
            let mut sum = 0.0;
            for k in 0..2 * self.step {
                let weight = self.step as f32 - (k as f32 + 0.5 - self.step as f32).abs();
                let at = base + k as i64;
                if at >= 0 && (at as usize) < samples.len() {
                    sum += weight * samples[at as usize][0];
                }
            }
            *to = sum * scale * self.window[i];
        }
        // Lengths are those of the plan, so this cannot fail; a failure would leave silence.
        if self
            .fft
            .process_with_scratch(&mut self.input, &mut self.output, &mut self.scratch)
            .is_err()
        {
            return ([0.0; 12], [0.0; BASS]);
        }
        for (to, x) in self.magnitude.iter_mut().zip(&self.output) {
            *to = x.norm();
        }
        let mut chroma = [0f32; 12];
        let m = &self.magnitude;
        for k in 4..m.len().saturating_sub(4) {
            let Some((low, high, part)) = self.pitch[k] else {
                continue;
            };
            // Only what stands above its surroundings is tone; drums fill the floor.
            let floor = (m[k - 4] + m[k - 3] + m[k + 3] + m[k + 4]) * 0.25;
            let tone = (m[k] - floor).max(0.0).sqrt();
            chroma[low] += tone * (1.0 - part);
            chroma[high] += tone * part;
        }
        let bass = std::array::from_fn(|b| m.get(self.bass_from + b).copied().unwrap_or(0.0));
        (chroma, bass)
    }
}
