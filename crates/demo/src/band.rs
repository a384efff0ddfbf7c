//! The band: drums, bass, electric piano, guitar, strings, each one note at a time.
//!
//! Every function gives one mono sound at [`SONG_RATE_HZ`] that starts at its attack.

use crate::compose::SONG_RATE_HZ;
use crate::dice::Dice;
use std::f32::consts::TAU;

const RATE: f32 = SONG_RATE_HZ as f32;

fn samples(seconds: f32) -> usize {
    (seconds * RATE) as usize
}

/// Frequency of a MIDI number.
pub fn hz(midi: f32) -> f32 {
    440.0 * 2f32.powf((midi - 69.0) / 12.0)
}

/// A one-pole low-pass.
#[derive(Clone, Copy, Default)]
pub struct Smooth(f32);

impl Smooth {
    /// One sample through a corner at `corner_hz`.
    pub fn run(&mut self, x: f32, corner_hz: f32) -> f32 {
        let share = 1.0 - (-TAU * corner_hz / RATE).exp();
        self.step(x, share)
    }
    /// One sample, `share` of the way towards `x`.
    pub fn step(&mut self, x: f32, share: f32) -> f32 {
        self.0 += (x - self.0) * share;
        self.0
    }
}

/// A two-pole state-variable filter (topology-preserving; Zavalishin 2012).
#[derive(Clone, Copy, Default)]
pub struct Filter {
    g: f32,
    k: f32,
    s1: f32,
    s2: f32,
}

impl Filter {
    /// Tuned to `corner_hz` with `q`.
    pub fn new(corner_hz: f32, q: f32) -> Self {
        let mut filter = Self::default();
        filter.tune(corner_hz, q);
        filter
    }
    /// Retunes, keeping its state.
    pub fn tune(&mut self, corner_hz: f32, q: f32) {
        self.g = (std::f32::consts::PI * (corner_hz / RATE).min(0.49)).tan();
        self.k = 1.0 / q;
    }
    /// Low, band and high of one sample.
    pub fn run(&mut self, x: f32) -> [f32; 3] {
        let high = (x - (self.k + self.g) * self.s1 - self.s2) / (1.0 + self.g * (self.g + self.k));
        let band = self.g * high + self.s1;
        let low = self.g * band + self.s2;
        self.s1 = 2.0 * band - self.s1;
        self.s2 = 2.0 * low - self.s2;
        [low, band, high]
    }
}

/// A sound of `length_s`, from its value at each second.
fn sound(length_s: f32, mut at: impl FnMut(f32) -> f32) -> Vec<f32> {
    (0..samples(length_s))
        .map(|n| at(n as f32 / RATE))
        .collect()
}

/// Bass drum.
pub fn kick(force: f32) -> Vec<f32> {
    let mut phase = 0.0f32;
    sound(0.34, |t| {
        phase += (47.0 + 120.0 * (-t * 32.0).exp() + 260.0 * (-t * 220.0).exp()) / RATE;
        let body = (phase * TAU).sin() * (-t * 8.5).exp();
        let click = (t * 3200.0 * TAU).sin() * (-t * 450.0).exp() * 0.25;
        ((body + click) * 1.5 * force).tanh() * fade(t, 0.34)
    })
}

fn fade(t: f32, length_s: f32) -> f32 {
    ((length_s - t) / 0.03).clamp(0.0, 1.0)
}

/// Snare drum.
pub fn snare(force: f32, dice: &mut Dice) -> Vec<f32> {
    let mut wires = Filter::new(3400.0, 0.6);
    let (mut low, mut high) = (0.0f32, 0.0f32);
    sound(0.3, |t| {
        low += (186.0 + 40.0 * (-t * 60.0).exp()) / RATE;
        high += 331.0 / RATE;
        let shell = ((low * TAU).sin() + 0.5 * (high * TAU).sin()) * (-t * 24.0).exp();
        let [_, band, top] = wires.run(dice.noise());
        let rattle = (band * 0.7 + top * 0.5) * ((-t * 15.0).exp() * 0.8 + (-t * 70.0).exp());
        (shell * 0.55 + rattle * 0.75) * force * fade(t, 0.3)
    })
}

/// Stick across the rim.
pub fn rim(force: f32) -> Vec<f32> {
    sound(0.08, |t| {
        let tone = (t * 1720.0 * TAU).sin() + 0.6 * (t * 2650.0 * TAU).sin();
        tone * (-t * 90.0).exp() * 0.5 * force * fade(t, 0.08)
    })
}

/// Hi-hat or cymbal: noise that rings `ring_s`, high-passed at `corner_hz`.
pub fn cymbal(force: f32, ring_s: f32, corner_hz: f32, dice: &mut Dice) -> Vec<f32> {
    let mut filter = Filter::new(corner_hz, 0.8);
    let length_s = ring_s * 5.0;
    let metal = [3187.0, 4111.0, 5423.0, 6571.0, 8123.0, 9311.0];
    sound(length_s, |t| {
        // Inharmonic squares give the metal, noise the splash.
        let ring: f32 = metal
            .iter()
            .map(|hz| if (t * hz).fract() < 0.5 { 0.12 } else { -0.12 })
            .sum();
        let [_, _, top] = filter.run(dice.noise() * 0.7 + ring);
        top * (-t / ring_s).exp() * force * fade(t, length_s)
    })
}

/// Tom.
pub fn tom(force: f32, pitch_hz: f32) -> Vec<f32> {
    let mut phase = 0.0f32;
    sound(0.5, |t| {
        phase += pitch_hz * (1.0 + 0.5 * (-t * 28.0).exp()) / RATE;
        (phase * TAU).sin() * (-t * 7.5).exp() * force * fade(t, 0.5)
    })
}

/// Shaker: a soft swell of high noise.
pub fn shaker(force: f32, dice: &mut Dice) -> Vec<f32> {
    let mut filter = Filter::new(6200.0, 1.2);
    sound(0.11, |t| {
        let swell = (t / 0.03).min(1.0) * (-((t - 0.03).max(0.0)) * 55.0).exp();
        filter.run(dice.noise())[1] * swell * force * fade(t, 0.11)
    })
}

/// Electric piano: two operators by frequency modulation (Chowning 1973) and a tine.
pub fn keys(pitch: i32, length_s: f32, force: f32) -> Vec<f32> {
    let tone = hz(pitch as f32);
    let total = length_s + 0.25;
    let decay = 0.9 + 0.012 * (pitch - 48) as f32;
    sound(total, |t| {
        let depth = (0.35 + 1.5 * force) * (-t * 2.6).exp();
        let modulator = (TAU * tone * t).sin() * depth;
        let tine = (TAU * tone * 7.0 * t).sin() * (-t * 16.0).exp() * 0.13 * force;
        let body = (TAU * tone * t + modulator).sin();
        let release = ((total - t) / 0.25).clamp(0.0, 1.0);
        (body * (-t * decay).exp() + tine) * force * (t / 0.003).min(1.0) * release
    })
}

/// Bell-like motif voice.
pub fn bell(pitch: i32, force: f32) -> Vec<f32> {
    let tone = hz(pitch as f32);
    sound(1.4, |t| {
        let a = (TAU * tone * t).sin() * (-t * 3.2).exp();
        let b = (TAU * tone * 2.76 * t).sin() * (-t * 7.0).exp() * 0.3;
        let c = (TAU * tone * 5.4 * t).sin() * (-t * 13.0).exp() * 0.14;
        (a + b + c) * force * (t / 0.002).min(1.0) * fade(t, 1.4)
    })
}

/// Electric bass: a filtered sawtooth over a sine.
pub fn bass(pitch: i32, length_s: f32, force: f32) -> Vec<f32> {
    let step = hz(pitch as f32) / RATE;
    let mut filter = Filter::default();
    let mut phase = 0.0f32;
    let total = length_s + 0.06;
    (0..samples(total))
        .map(|n| {
            let t = n as f32 / RATE;
            phase = (phase + step).fract();
            if n % 16 == 0 {
                filter.tune(140.0 + (500.0 + 700.0 * force) * (-t * 7.0).exp(), 0.9);
            }
            let edge = filter.run(sawtooth(phase, step))[0];
            let body = (phase * TAU).sin();
            let shape =
                (t / 0.004).min(1.0) * (-t * 1.2).exp() * ((total - t) / 0.06).clamp(0.0, 1.0);
            ((edge * 0.9 + body * 0.7) * 1.2).tanh() * shape * force
        })
        .collect()
}

/// A sawtooth at `phase` with its step smoothed (polynomial band-limited step).
fn sawtooth(phase: f32, step: f32) -> f32 {
    let raw = 2.0 * phase - 1.0;
    if phase < step {
        let t = phase / step;
        raw - (2.0 * t - t * t - 1.0)
    } else if phase > 1.0 - step {
        let t = (phase - 1.0) / step;
        raw - (t * t + 2.0 * t + 1.0)
    } else {
        raw
    }
}

/// A plucked string (Karplus and Strong 1983, tuned by linear interpolation).
pub fn guitar(pitch: i32, length_s: f32, force: f32, dice: &mut Dice) -> Vec<f32> {
    let period = RATE / hz(pitch as f32) - 0.5;
    let whole = period.floor() as usize;
    let part = period - whole as f32;
    let mut line = vec![0.0f32; whole + 2];
    let mut pick = Smooth::default();
    for value in &mut line {
        *value = pick.run(dice.noise(), 1800.0 + 4200.0 * force) * 1.6;
    }
    let mean = line.iter().sum::<f32>() / line.len() as f32;
    line.iter_mut().for_each(|value| *value -= mean);
    let size = line.len();
    let mut at = 0;
    let mut before = 0.0f32;
    sound(length_s, |t| {
        let read = |back: usize| line[(at + size - back) % size];
        let tap = read(whole) * (1.0 - part) + read(whole + 1) * part;
        let value = (tap + before) * 0.5 * 0.9965;
        before = tap;
        line[at] = value;
        at = (at + 1) % size;
        value * force * ((length_s - t) / 0.08).clamp(0.0, 1.0)
    })
}

/// Strings: three detuned sawtooths through a low-pass that opens with `bright` (0 to 1).
pub fn strings(pitch: i32, length_s: f32, force: f32, bright: f32, dice: &mut Dice) -> Vec<f32> {
    let total = length_s + 0.5;
    let steps = [-0.07f32, 0.0, 0.08].map(|off| hz(pitch as f32 + off) / RATE);
    let mut phases = [dice.unit(), dice.unit(), dice.unit()];
    let mut filter = Filter::new(500.0 + 2600.0 * bright, 0.6);
    sound(total, |t| {
        let mut sum = 0.0;
        for (phase, step) in phases.iter_mut().zip(steps) {
            *phase = (*phase + step).fract();
            sum += sawtooth(*phase, step);
        }
        let shape = (t / 0.35).min(1.0) * ((total - t) / 0.5).clamp(0.0, 1.0);
        filter.run(sum * 0.33)[0] * shape * force
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_plucked_string_is_in_tune() {
        let sound = guitar(57, 1.0, 0.8, &mut Dice::new(1, "string"));
        // Autocorrelation peaks at the period: 48 000 / 220 = 218.2 samples.
        let piece = &sound[4800..14_400];
        let at = |lag: usize| -> f32 { piece.iter().zip(&piece[lag..]).map(|(a, b)| a * b).sum() };
        let best = (150..300).max_by(|a, b| at(*a).total_cmp(&at(*b))).unwrap();
        assert!((217..=219).contains(&best), "{best}");
    }

    #[test]
    fn every_sound_is_finite_and_held() {
        let mut dice = Dice::new(3, "all");
        let all = [
            kick(1.0),
            snare(1.0, &mut dice),
            rim(1.0),
            cymbal(1.0, 0.3, 5000.0, &mut dice),
            tom(1.0, 110.0),
            shaker(1.0, &mut dice),
            keys(60, 1.0, 0.8),
            bell(84, 0.7),
            bass(38, 0.5, 0.9),
            guitar(60, 1.0, 0.8, &mut dice),
            strings(60, 1.0, 0.6, 0.5, &mut dice),
        ];
        for sound in all {
            assert!(
                sound
                    .iter()
                    .all(|sample| sample.is_finite() && sample.abs() < 3.0)
            );
            assert!(sound.iter().any(|sample| sample.abs() > 0.05));
            assert!(sound[sound.len() - 1].abs() < 0.05);
        }
    }
}
