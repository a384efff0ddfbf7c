//! The desk: stereo stems, a reverb, and what makes a mix a master (glue, loudness, limiter).

use crate::band::{Filter, Smooth};
use crate::compose::SONG_RATE_HZ;

/// A stereo stem, both sides the same length.
#[derive(Clone, Debug)]
pub struct Stem {
    /// Left and right.
    pub sides: [Vec<f32>; 2],
}

impl Stem {
    /// Silence of `samples`.
    pub fn silent(samples: usize) -> Self {
        Self {
            sides: [vec![0.0; samples], vec![0.0; samples]],
        }
    }

    /// Adds `sound` from `at_s`, at `gain`, `pan` from −1 (left) to 1 (right), equal power.
    pub fn add(&mut self, sound: &[f32], at_s: f64, gain: f32, pan: f32) {
        let at = (at_s * f64::from(SONG_RATE_HZ)).round();
        let (skip, from) = if at < 0.0 {
            (-at as usize, 0)
        } else {
            (0, at as usize)
        };
        let angle = (pan.clamp(-1.0, 1.0) + 1.0) * std::f32::consts::FRAC_PI_4;
        for (side, share) in self.sides.iter_mut().zip([angle.cos(), angle.sin()]) {
            let gain = gain * share * std::f32::consts::SQRT_2;
            for (to, value) in side.iter_mut().skip(from).zip(sound.iter().skip(skip)) {
                *to += value * gain;
            }
        }
    }

    /// Adds another stem at `gain`.
    pub fn add_stem(&mut self, other: &Self, gain: f32) {
        for (side, from) in self.sides.iter_mut().zip(&other.sides) {
            for (to, value) in side.iter_mut().zip(from) {
                *to += value * gain;
            }
        }
    }

    /// Takes out what lies below `corner_hz` (12 dB an octave).
    pub fn cut_below(&mut self, corner_hz: f32) {
        for side in &mut self.sides {
            let mut filter = Filter::new(corner_hz, 0.707);
            for value in side {
                *value = filter.run(*value)[2];
            }
        }
    }

    /// Left and right, interleaved.
    pub fn interleaved(&self) -> Vec<f32> {
        self.sides[0]
            .iter()
            .zip(&self.sides[1])
            .flat_map(|(left, right)| [*left, *right])
            .collect()
    }
}

/// A plate-like reverb of `send`: eight delay lines fed back through a Hadamard mix (Jot 1991),
/// falling by 60 dB in `decay_s`. Wet only.
pub fn reverb(send: &Stem, decay_s: f32) -> Stem {
    const LENGTHS: [usize; 8] = [1423, 1637, 1871, 2053, 2311, 2539, 2819, 3089];
    let rate = SONG_RATE_HZ as f32;
    let gains = LENGTHS.map(|length| 10f32.powf(-3.0 * length as f32 / rate / decay_s));
    let mut lines = LENGTHS.map(|length| vec![0.0f32; length]);
    let mut at = [0usize; 8];
    let mut damp = [Smooth::default(); 8];
    let share = 1.0 - (-std::f32::consts::TAU * 5200.0 / rate).exp();
    let mut wet = Stem::silent(send.sides[0].len());
    let pre = (0.018 * rate) as usize;
    for n in pre..send.sides[0].len() {
        let mut taps = [0.0f32; 8];
        for line in 0..8 {
            taps[line] = damp[line].step(lines[line][at[line]] * gains[line], share);
        }
        wet.sides[0][n] = (taps[0] - taps[2] + taps[4] - taps[6]) * 0.5;
        wet.sides[1][n] = (taps[1] - taps[3] + taps[5] - taps[7]) * 0.5;
        for width in [1, 2, 4] {
            for first in (0..8).filter(|line| line & width == 0) {
                let (a, b) = (taps[first], taps[first + width]);
                taps[first] = a + b;
                taps[first + width] = a - b;
            }
        }
        for line in 0..8 {
            let fed = send.sides[line % 2][n - pre];
            lines[line][at[line]] = fed + taps[line] * 0.353_553_4;
            at[line] += 1;
            if at[line] == LENGTHS[line] {
                at[line] = 0;
            }
        }
    }
    wet
}

/// Glues `mix` together, brings it to `lufs` (BS.1770-4, integrated) and holds every sample
/// below `ceiling` with a look-ahead limiter.
pub fn master(mix: &mut Stem, lufs: f64, ceiling: f32) {
    level(mix, lufs - 1.0);
    glue(mix);
    // Limiting takes some loudness away again; two rounds come within a few tenths.
    for _ in 0..2 {
        level(mix, lufs);
        limit(mix, ceiling);
    }
}

fn level(mix: &mut Stem, lufs: f64) {
    let Ok(mut meter) = ebur128::EbuR128::new(2, SONG_RATE_HZ, ebur128::Mode::I) else {
        return;
    };
    let measured = meter
        .add_frames_planar_f32(&[&mix.sides[0], &mix.sides[1]])
        .and_then(|()| meter.loudness_global());
    if let Ok(measured) = measured
        && measured.is_finite()
    {
        let gain = 10f64.powf((lufs - measured) / 20.0) as f32;
        mix.sides
            .iter_mut()
            .flatten()
            .for_each(|value| *value *= gain);
    }
}

/// A gentle compressor: 2 to 1 over −18 dB, 15 ms in, 180 ms out, both sides together.
fn glue(mix: &mut Stem) {
    let rate = SONG_RATE_HZ as f32;
    let (fast, slow) = (
        1.0 - (-1.0 / (0.015 * rate)).exp(),
        1.0 - (-1.0 / (0.18 * rate)).exp(),
    );
    let threshold = 10f32.powf(-18.0 / 20.0);
    let mut level = 0.0f32;
    let [left, right] = &mut mix.sides;
    for (l, r) in left.iter_mut().zip(right) {
        let now = l.abs().max(r.abs());
        level += (now - level) * if now > level { fast } else { slow };
        let gain = if level > threshold {
            (threshold / level).sqrt()
        } else {
            1.0
        };
        *l *= gain;
        *r *= gain;
    }
}

fn limit(mix: &mut Stem, ceiling: f32) {
    let rate = SONG_RATE_HZ as f32;
    let ahead = (0.003 * rate) as usize;
    let samples = mix.sides[0].len();
    let wanted: Vec<f32> = (0..samples)
        .map(|n| {
            let peak = mix.sides[0][n].abs().max(mix.sides[1][n].abs());
            if peak > ceiling { ceiling / peak } else { 1.0 }
        })
        .collect();
    // The lowest gain wanted within the look-ahead, then eased over the same time.
    let mut lowest = vec![1.0f32; samples];
    let mut queue = std::collections::VecDeque::<usize>::new();
    for n in 0..samples + ahead {
        if n < samples {
            while queue.back().is_some_and(|last| wanted[*last] >= wanted[n]) {
                queue.pop_back();
            }
            queue.push_back(n);
        }
        if n >= ahead {
            let from = (n - ahead).saturating_sub(ahead);
            while queue.front().is_some_and(|first| *first < from) {
                queue.pop_front();
            }
            lowest[n - ahead] = queue.front().map_or(1.0, |first| wanted[*first]);
        }
    }
    let release = 1.0 - (-1.0 / (0.12 * rate)).exp();
    let mut gain = 1.0f32;
    let attack = 1.0 - (-1.0 / (0.0006 * rate)).exp();
    for n in 0..samples {
        let target = lowest[n];
        gain += (target - gain) * if target < gain { attack } else { release };
        for side in &mut mix.sides {
            side[n] = (side[n] * gain).clamp(-ceiling, ceiling);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_master_reaches_its_loudness_below_its_ceiling() {
        let mut mix = Stem::silent(SONG_RATE_HZ as usize * 6);
        for (n, value) in mix
            .sides
            .iter_mut()
            .flat_map(|side| side.iter_mut().enumerate())
        {
            let t = n as f32 / SONG_RATE_HZ as f32;
            *value = (t * 220.0 * std::f32::consts::TAU).sin() * 0.05 * (1.0 + (t * 8.0).sin());
        }
        master(&mut mix, -14.0, 0.89);
        assert!(mix.sides.iter().flatten().all(|value| value.abs() <= 0.89));
        let mut meter = ebur128::EbuR128::new(2, SONG_RATE_HZ, ebur128::Mode::I).unwrap();
        meter
            .add_frames_planar_f32(&[&mix.sides[0], &mix.sides[1]])
            .unwrap();
        let loudness = meter.loudness_global().unwrap();
        assert!((loudness + 14.0).abs() < 0.7, "{loudness}");
    }

    #[test]
    fn a_reverb_dies_away() {
        let mut send = Stem::silent(96_000);
        send.sides[0][0] = 1.0;
        let wet = reverb(&send, 0.8);
        let power =
            |from: usize| -> f32 { wet.sides[0][from..from + 4800].iter().map(|v| v * v).sum() };
        assert!(power(4800) > 1e-4);
        assert!(power(90_000) < power(4800) * 1e-4);
    }
}
