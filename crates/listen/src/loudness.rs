//! Loudness of the whole song by ITU-R BS.1770: integrated, range (EBU Tech 3342), true peak.
//!
//! The measuring itself is the `ebur128` crate's; its figures are checked here against the
//! minimum-requirement signals of EBU Tech 3341.

use crate::Error;
use crate::sound::{Sound, clean};
use ebur128::{EbuR128, Mode};
use serde::{Deserialize, Serialize};

/// Loudness of a song. A figure is missing where there is none: silence has no loudness.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Loudness {
    /// Integrated loudness, LUFS.
    pub integrated_lufs: Option<f64>,
    /// Loudness range, LU.
    pub range_lu: Option<f64>,
    /// Highest true peak of any channel, dB relative to full scale.
    pub true_peak_dbtp: Option<f64>,
}

/// Samples handed over at once, per channel: the meter's buffers stay small and progress moves.
const BLOCK: usize = 1 << 16;

/// Measures the whole sound; `dirty` when samples need cleaning first.
///
/// # Errors
/// [`Error::Stopped`] when `progress` (0 to 1) answers no; [`Error::Meter`] when the meter refuses.
pub(crate) fn measure(
    sound: &Sound,
    dirty: bool,
    progress: &dyn Fn(f32) -> bool,
) -> Result<Loudness, Error> {
    let refused = |e: ebur128::Error| Error::Meter(e.to_string());
    let mut meter = EbuR128::new(
        sound.channels.len() as u32,
        sound.rate_hz,
        Mode::I | Mode::LRA | Mode::TRUE_PEAK,
    )
    .map_err(refused)?;
    let len = sound.channels.first().map_or(0, Vec::len);
    let mut cleaned: Vec<Vec<f32>> = Vec::new();
    for from in (0..len).step_by(BLOCK) {
        if !progress(from as f32 / len as f32) {
            return Err(Error::Stopped);
        }
        let to = (from + BLOCK).min(len);
        if dirty {
            cleaned.clear();
            cleaned.extend(
                sound
                    .channels
                    .iter()
                    .map(|c| c[from..to].iter().map(|x| clean(*x)).collect()),
            );
        }
        let parts: Vec<&[f32]> = if dirty {
            cleaned.iter().map(Vec::as_slice).collect()
        } else {
            sound.channels.iter().map(|c| &c[from..to]).collect()
        };
        meter.add_frames_planar_f32(&parts).map_err(refused)?;
    }
    let finite = |x: Result<f64, ebur128::Error>| x.ok().filter(|x| x.is_finite());
    let integrated_lufs = finite(meter.loudness_global());
    let peak = (0..sound.channels.len() as u32)
        .filter_map(|c| meter.true_peak(c).ok())
        .fold(0.0, f64::max);
    Ok(Loudness {
        integrated_lufs,
        range_lu: finite(meter.loudness_range()).filter(|_| integrated_lufs.is_some()),
        true_peak_dbtp: (peak > 0.0).then(|| 20.0 * peak.log10()),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::TAU;

    /// Parts of `(seconds, level in dBFS)` of an in-phase 1 kHz sine in `channels`, each with its own
    /// offset in dB; `None` leaves a channel silent.
    fn tones(rate: u32, channels: &[Option<f64>], parts: &[(f64, f64)]) -> Vec<Vec<f32>> {
        let fs = f64::from(rate);
        channels
            .iter()
            .map(|offset| {
                let mut out = Vec::new();
                for &(seconds, level) in parts {
                    for _ in 0..(seconds * fs).round() as usize {
                        let t = out.len() as f64 / fs;
                        let gain = offset.map_or(0.0, |o| 10f64.powf((level + o) / 20.0));
                        out.push((gain * (TAU * 1000.0 * t).sin()) as f32);
                    }
                }
                out
            })
            .collect()
    }

    fn loud(rate: u32, channels: &[Vec<f32>]) -> Loudness {
        measure(
            &Sound {
                rate_hz: rate,
                channels,
            },
            false,
            &|_| true,
        )
        .unwrap()
    }

    /// EBU Tech 3341, table 1, signals 1 to 6: integrated −23 (−33) ±0.1 LUFS.
    #[test]
    fn integrated_loudness_meets_ebu_tech_3341() {
        let stereo = [Some(0.0), Some(0.0)];
        let cases: [(&[(f64, f64)], f64); 5] = [
            (&[(20.0, -23.0)], -23.0),
            (&[(20.0, -33.0)], -33.0),
            (&[(10.0, -36.0), (60.0, -23.0), (10.0, -36.0)], -23.0),
            (
                &[
                    (10.0, -72.0),
                    (10.0, -36.0),
                    (60.0, -23.0),
                    (10.0, -36.0),
                    (10.0, -72.0),
                ],
                -23.0,
            ),
            (&[(20.0, -26.0), (20.1, -20.0), (20.0, -26.0)], -23.0),
        ];
        for rate in [48_000, 44_100] {
            // The longer programmes at one rate only: they say the same twice.
            let cases = &cases[..if rate == 48_000 { 5 } else { 2 }];
            for &(parts, expected) in cases {
                let got = loud(rate, &tones(rate, &stereo, parts))
                    .integrated_lufs
                    .unwrap();
                assert!((got - expected).abs() <= 0.1, "{parts:?} at {rate}: {got}");
            }
        }
        // Signal 6: left and right −28, centre −24, surrounds −30, 20 s.
        let five = [
            Some(-28.0),
            Some(-28.0),
            Some(-24.0),
            None,
            Some(-30.0),
            Some(-30.0),
        ];
        let got = loud(48_000, &tones(48_000, &five, &[(20.0, 0.0)]))
            .integrated_lufs
            .unwrap();
        assert!((got + 23.0).abs() <= 0.1, "{got}");
    }

    /// EBU Tech 3342, minimum-requirement signals 1 to 4: range 10, 5, 20, 15 ±1 LU.
    #[test]
    fn loudness_range_meets_ebu_tech_3342() {
        let cases: [(&[f64], f64); 4] = [
            (&[-20.0, -30.0], 10.0),
            (&[-20.0, -15.0], 5.0),
            (&[-40.0, -20.0], 20.0),
            (&[-50.0, -35.0, -20.0, -35.0, -50.0], 15.0),
        ];
        for (levels, expected) in cases {
            let parts: Vec<(f64, f64)> = levels.iter().map(|l| (20.0, *l)).collect();
            let got = loud(48_000, &tones(48_000, &[Some(0.0), Some(0.0)], &parts))
                .range_lu
                .unwrap();
            assert!((got - expected).abs() <= 1.0, "{levels:?}: {got}");
        }
    }

    /// EBU Tech 3341, table 1, signals 15 to 19: tones whose samples miss the crest; +0.2/−0.4 dB.
    #[test]
    fn true_peak_meets_ebu_tech_3341() {
        let fs = 48_000.0;
        for (divisor, phase_deg, amplitude, expected) in [
            (4.0, 0.0, 0.5, -6.0),
            (4.0, 45.0, 0.5, -6.0),
            (6.0, 60.0, 0.5, -6.0),
            (8.0, 67.5, 0.5, -6.0),
            (4.0, 45.0, 1.41, 3.0),
        ] {
            let n = 48_000;
            let fade = (0.01 * fs) as usize;
            let one: Vec<f32> = (0..n)
                .map(|i| {
                    let edge = i.min(n - 1 - i) as f64 / fade as f64;
                    let x =
                        amplitude * (TAU * i as f64 / divisor + f64::to_radians(phase_deg)).sin();
                    (x * edge.min(1.0)) as f32
                })
                .collect();
            let got = loud(48_000, &[one.clone(), one]).true_peak_dbtp.unwrap();
            assert!(
                (expected - 0.4..=expected + 0.2).contains(&got),
                "fs/{divisor} {phase_deg}°: {got}"
            );
        }
    }

    #[test]
    fn silence_has_no_loudness() {
        assert_eq!(loud(48_000, &[vec![0.0; 96_000]]), Loudness::default());
    }
}
