//! The sounds laid over the song: count-in clicks and sync beeps.
//!
//! Each starts on its sample with a zero crossing and reaches half its level within a third of a
//! millisecond, so that where it lies can be read from the file.

use std::f64::consts::TAU;

/// Frequency of a click on a downbeat.
pub const ACCENT_HZ: f64 = 2500.0;
/// Frequency of a click on any other beat.
pub const BEAT_HZ: f64 = 1600.0;
/// Frequency of the sync beep: 1 kHz for one frame is common practice for a head or tail pop.
pub const BEEP_HZ: f64 = 1000.0;

/// Greatest level of a click on a downbeat: −3 dBFS.
const ACCENT_LEVEL: f64 = 0.71;
/// Greatest level of any other click: −6 dBFS.
const BEAT_LEVEL: f64 = 0.5;
/// Level of the beep: −6 dBFS.
const BEEP_LEVEL: f64 = 0.5;
/// A click falls by 60 dB in 50 ms.
const CLICK_S: f64 = 0.05;

/// A click: a sine that falls away.
pub(crate) fn click(rate_hz: u32, accent: bool) -> Vec<f32> {
    let (hz, level) = if accent {
        (ACCENT_HZ, ACCENT_LEVEL)
    } else {
        (BEAT_HZ, BEAT_LEVEL)
    };
    let fs = f64::from(rate_hz);
    (0..(CLICK_S * fs) as usize)
        .map(|n| {
            let t = n as f64 / fs;
            (level * 10f64.powf(-3.0 * t / CLICK_S) * (TAU * hz * t).sin()) as f32
        })
        .collect()
}

/// A beep of as many whole periods as fit nearest to `length_s`, so that it ends at a zero crossing.
pub(crate) fn beep(rate_hz: u32, length_s: f64) -> Vec<f32> {
    let fs = f64::from(rate_hz);
    let periods = (length_s * BEEP_HZ).round().max(1.0);
    (0..(periods / BEEP_HZ * fs).round() as usize)
        .map(|n| (BEEP_LEVEL * (TAU * BEEP_HZ * n as f64 / fs).sin()) as f32)
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn clicks_start_at_once_and_differ() {
        for accent in [false, true] {
            let sound = click(48_000, accent);
            let most = sound.iter().fold(0_f32, |m, x| m.max(x.abs()));
            assert!(sound[..16].iter().any(|x| x.abs() >= most / 2.0));
            assert!(sound.last().unwrap().abs() < 0.002);
        }
        let energy = |s: &[f32]| s.iter().map(|x| x * x).sum::<f32>();
        assert!(energy(&click(48_000, true)) > 1.5 * energy(&click(48_000, false)));
    }

    #[test]
    fn a_beep_lasts_a_frame_in_whole_periods() {
        let sound = beep(48_000, 1.0 / 24.0);
        assert_eq!(sound.len(), 42 * 48);
        assert_eq!(beep(44_100, 1.0 / 25.0).len(), 1764);
        // Goertzel's sum at 1 kHz holds all of its energy: n·A/2.
        let (re, im) = sound
            .iter()
            .enumerate()
            .fold((0.0, 0.0), |(re, im), (n, x)| {
                let a = TAU * BEEP_HZ * n as f64 / 48_000.0;
                (re + f64::from(*x) * a.cos(), im + f64::from(*x) * a.sin())
            });
        assert!((re.hypot(im) - sound.len() as f64 * BEEP_LEVEL / 2.0).abs() < 1e-2);
    }
}
