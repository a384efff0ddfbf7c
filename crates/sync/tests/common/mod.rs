//! A small seeded band and what a camera makes of it, for the tests: 16 kHz, mono.

#![allow(dead_code, reason = "each test file uses a part of it")]

/// Sample rate of everything here.
pub const RATE: u32 = 16_000;
const HZ: f64 = RATE as f64;

/// The linear congruential generator of the check values (Numerical Recipes' constants), -1 to 1.
pub struct Lcg(pub u32);

impl Lcg {
    pub fn value(&mut self) -> f32 {
        self.0 = self.0.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        (f64::from(self.0) / 2f64.powi(31) - 1.0) as f32
    }
    fn below(&mut self, n: u32) -> u32 {
        // The low bits of such a generator are poor.
        self.value();
        (self.0 >> 8) % n
    }
}

/// A song: `bars` bars of 2 s; `every` > 0 repeats the backing sample for sample after so many bars;
/// `voice` puts a melody over it that never repeats.
pub fn song(seed: u32, bars: usize, every: usize, voice: bool) -> Vec<f32> {
    let bar = 2 * RATE as usize;
    let mut out = vec![0.0f32; bars * bar];
    let mut dice = Lcg(seed.wrapping_mul(7919).wrapping_add(1));
    let mut drums = Lcg(99);
    let snare: Vec<f32> = (0..2500)
        .map(|i| drums.value() * (-(i as f32) / 600.0).exp())
        .collect();
    let kick: Vec<f32> = (0..3000)
        .map(|i| ((i as f32).sqrt() * 1.2).sin() * (-(i as f32) / 900.0).exp())
        .collect();
    for index in 0..bars {
        let start = index * bar;
        if every > 0 && index >= every {
            let from = (index - every) * bar;
            out.copy_within(from..from + bar, start);
        } else {
            for beat in 0..4 {
                let hit = if beat % 2 == 0 { &kick } else { &snare };
                for (i, v) in hit.iter().enumerate() {
                    out[start + beat * bar / 4 + i] += 0.5 * v;
                }
            }
            let root = 110.0 * 2f64.powf(f64::from(dice.below(12)) / 12.0);
            for step in [1.0, 1.189, 1.498, 2.0] {
                let phase = f64::from(dice.value());
                for i in 0..bar {
                    let saw = (root * step * i as f64 / HZ + phase).rem_euclid(1.0) * 2.0 - 1.0;
                    out[start + i] += (0.1 * saw * (1.0 - i as f64 / bar as f64)) as f32;
                }
            }
        }
    }
    if voice {
        for note in 0..bars * 6 {
            let start = note * bar / 6;
            let pitch = 220.0 * 2f64.powf(f64::from(dice.below(24)) / 12.0);
            let bend = 4.0 + f64::from(dice.value());
            for i in 0..bar / 6 {
                let t = i as f64 / HZ;
                let phase = std::f64::consts::TAU * pitch * (t + 0.001 * (bend * t * 6.0).sin());
                let tone: f64 = (1..9)
                    .map(|k| (phase * f64::from(k)).sin() / f64::from(k))
                    .sum();
                let shape = (std::f64::consts::PI * i as f64 / (bar / 6) as f64).sin();
                out[start + i] += (0.2 * tone * shape) as f32;
            }
        }
    }
    out
}

/// `count` samples of `x` from `start` on, `step` apart (Catmull and Rom's cubic; zeros outside).
pub fn read(x: &[f32], start: f64, step: f64, count: usize) -> Vec<f32> {
    let at = |i: i64| {
        if i >= 0 && (i as usize) < x.len() {
            f64::from(x[i as usize])
        } else {
            0.0
        }
    };
    (0..count)
        .map(|n| {
            let p = start + n as f64 * step;
            let (i, t) = (p.floor() as i64, p - p.floor());
            let (a, b, c, d) = (at(i - 1), at(i), at(i + 1), at(i + 2));
            let value = b + 0.5
                * t
                * (c - a + t * (2.0 * a - 5.0 * b + 4.0 * c - d + t * (3.0 * (b - c) + d - a)));
            value as f32
        })
        .collect()
}

/// Power of a signal.
pub fn power(x: &[f32]) -> f32 {
    x.iter().map(|v| v * v).sum::<f32>() / x.len().max(1) as f32
}

/// Noise at `snr_db` under the power `reference` added.
pub fn noisy(x: &mut [f32], reference: f32, snr_db: f32, seed: u32) {
    let mut dice = Lcg(seed);
    // Uniform noise of ±1 has power 1/3.
    let gain = (3.0 * reference * 10f32.powf(-snr_db / 10.0)).sqrt();
    for v in x.iter_mut() {
        *v += gain * dice.value();
    }
}

/// A small loudspeaker (no bass), overdriven, in a room with a tail of 0.3 s.
pub fn played_in_a_room(x: &[f32]) -> Vec<f32> {
    let mut low = 0.0;
    let thin: Vec<f32> = x
        .iter()
        .map(|v| {
            low += 0.11 * (v - low);
            (3.0 * (v - low)).tanh()
        })
        .collect();
    let mut out = thin.clone();
    let mut dice = Lcg(5);
    for _ in 0..60 {
        let late = 60 + dice.below(4000) as usize;
        let gain = 0.25 * dice.value() * (-(late as f32) / 1400.0).exp();
        for i in late..out.len() {
            out[i] += gain * thin[i - late];
        }
    }
    out
}

/// Speed changed, pitch kept: grains of 40 ms added with overlap.
pub fn pitch_kept(x: &[f32], speed: f64) -> Vec<f32> {
    let (grain, hop) = (1024usize, 256usize);
    let count = (x.len() as f64 / speed) as usize;
    let mut out = vec![0.0; count + grain];
    for start in (0..count).step_by(hop) {
        // The grain's middle lies where the song is then.
        let from = ((start + grain / 2) as f64 * speed) as i64 - grain as i64 / 2;
        for i in 0..grain {
            let index = from + i as i64;
            if index >= 0 && (index as usize) < x.len() {
                let window = 0.5 - 0.5 * (std::f32::consts::TAU * i as f32 / grain as f32).cos();
                out[start + i] += 0.5 * window * x[index as usize];
            }
        }
    }
    out.truncate(count);
    out
}
