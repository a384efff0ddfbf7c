//! Light that pulses, against the shutter: which angles and rates see whole pulses, and how bad it
//! is where they don't.
//!
//! Lamps on mains of f hertz pulse 2f times a second. An exposure that lasts a whole number of
//! pulses sees the same light whenever it starts (formula: angle = 360 × rate × n / pulses a
//! second), so neither frames nor the lines of a rolling shutter differ. Angles are exact fractions,
//! the 1000/1001 rates too.
//!
//! # When every frame has the same number of pulses
//! If pulses ÷ rate is a whole number (25 and 50 frames at 50 Hz, 24, 30, 40 and 60 at 60 Hz), frames
//! repeat each other at any angle. But only a safe angle also keeps a rolling shutter free of
//! bands, which then stand still, and survives mains that drift.
//!
//! # How bad
//! [`contrast_bound`] holds for any lamp, however short its pulses; [`contrast_wave`] for a lamp
//! whose light swings as a wave between nothing and twice its mean. From which contrast on one sees
//! it is common practice and stands in [`model::Practice`].

use crate::error::{Error, PULSES_HZ, RATE_FPS, READOUT_S, SHUTTER_DEG};
use model::{FrameRate, Ratio};
use serde::Serialize;

/// How far from whole the pulses in an exposure may be, as a share, and still count as safe: as far
/// as mains themselves wander (50 ± 0.2 Hz in normal running; common practice).
pub const MAINS_WANDER: f64 = 0.004;

/// A shutter angle that sees whole pulses.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct SafeAngle {
    /// How many pulses one exposure sees.
    pub pulses: u64,
    /// The angle, degrees of 360, exact.
    pub deg: Ratio,
}

/// Pulses a second of a lamp on mains of `mains_hz`: two for every period.
pub const fn mains_pulses(mains_hz: u32) -> u32 {
    mains_hz.saturating_mul(2)
}

/// The safe angles at `rate` for light of `pulses_hz` whole pulses a second, narrowest first; none
/// when a pulse lasts longer than a frame, or without pulses.
pub fn safe_angles(rate: FrameRate, pulses_hz: u32) -> impl Iterator<Item = SafeAngle> {
    (1..=most_pulses(rate, pulses_hz)).filter_map(move |pulses| safe_angle(rate, pulses_hz, pulses))
}

/// The whole pulses that fit a frame: pulses × den / num, rounded down.
fn most_pulses(rate: FrameRate, pulses_hz: u32) -> u64 {
    u64::from(pulses_hz) * u64::from(rate.den()) / u64::from(rate.num())
}

fn safe_angle(rate: FrameRate, pulses_hz: u32, pulses: u64) -> Option<SafeAngle> {
    let deg = Ratio::new(
        360 * u128::from(rate.num()) * u128::from(pulses),
        u128::from(rate.den()) * u128::from(pulses_hz),
    )?;
    Some(SafeAngle { pulses, deg })
}

/// The safe angle nearest to `shutter_deg`, if there is any at that rate.
///
/// # Errors
/// [`Error::OutOfRange`] for an angle outside 0.1 to 360 degrees.
pub fn nearest_safe(
    shutter_deg: f64,
    rate: FrameRate,
    pulses_hz: u32,
) -> Result<Option<SafeAngle>, Error> {
    let pulses = pulses_seen(shutter_deg, rate, f64::from(pulses_hz))?;
    let most = most_pulses(rate, pulses_hz);
    if most == 0 {
        return Ok(None);
    }
    let nearest = (pulses.round() as u64).clamp(1, most);
    Ok(safe_angle(rate, pulses_hz, nearest))
}

/// The rates at which `shutter_deg` (to the thousandth of a degree) is safe, fastest first, exact:
/// pulses a second × angle ÷ (360 × n), from 1000 frames a second down to 1.
///
/// # Errors
/// [`Error::OutOfRange`] for an angle outside 0.1 to 360 degrees.
pub fn safe_rates(
    shutter_deg: f64,
    pulses_hz: u32,
) -> Result<impl Iterator<Item = FrameRate>, Error> {
    let angle = Ratio::nearest_thousandth(SHUTTER_DEG.check(shutter_deg)?).unwrap_or(Ratio::ONE);
    let at = move |n: u64| {
        let fps = Ratio::new(
            u128::from(pulses_hz) * u128::from(angle.num()),
            360 * u128::from(angle.den()) * u128::from(n),
        )?;
        FrameRate::new(fps.num().try_into().ok()?, fps.den().try_into().ok()?)
    };
    let one = f64::from(pulses_hz) * angle.value() / 360.0;
    let first = (one / 1000.0).ceil().max(1.0) as u64;
    Ok((first..=one as u64).filter_map(at))
}

/// How many pulses one exposure sees: pulses a second × angle ÷ (360 × rate).
///
/// # Errors
/// [`Error::OutOfRange`] for an angle outside 0.1 to 360 degrees or pulses outside 1 Hz to 10 MHz.
pub fn pulses_seen(shutter_deg: f64, rate: FrameRate, pulses_hz: f64) -> Result<f64, Error> {
    // Multiplied before divided, so that whole numbers come out whole.
    let top = PULSES_HZ.check(pulses_hz)? * SHUTTER_DEG.check(shutter_deg)? * f64::from(rate.den());
    Ok(top / (360.0 * f64::from(rate.num())))
}

/// Whether `pulses` in an exposure are as good as whole: within [`MAINS_WANDER`].
pub fn is_safe(pulses: f64) -> bool {
    let whole = pulses.round();
    whole >= 1.0 && (pulses - whole).abs() <= MAINS_WANDER * whole
}

/// Whether every frame at `rate` sees the same part of the pulses: pulses ÷ rate is whole.
pub fn repeats(rate: FrameRate, pulses_hz: u32) -> bool {
    (u64::from(pulses_hz) * u64::from(rate.den())).is_multiple_of(u64::from(rate.num()))
}

/// The most that exposures can differ, peak to peak as a share of their mean, when each sees
/// `pulses` pulses of any shape: 1/pulses, or 0 when they are whole.
///
/// Formula: an exposure sees ⌊p⌋ whole pulses and a part of one more, which gives between nothing
/// and all of a pulse's light; pulses short against the exposure reach it.
pub fn contrast_bound(pulses: f64) -> f64 {
    if pulses <= 0.0 || (pulses - pulses.round()).abs() < 1e-9 * pulses {
        0.0
    } else {
        1.0 / pulses
    }
}

/// How much exposures differ, peak to peak as a share of their mean, when each sees `pulses` swings
/// of a light that goes as 1 + cos: 2 |sin π p| ÷ (π p) (formula, the integral of the wave).
/// Filaments swing less, cheap LED bulbs about so much.
pub fn contrast_wave(pulses: f64) -> f64 {
    if pulses <= 0.0 {
        return 0.0;
    }
    let angle = std::f64::consts::PI * pulses;
    2.0 * angle.sin().abs() / angle
}

/// A contrast (peak to peak, share of the mean) in stops between the brightest and the darkest.
pub fn contrast_stops(contrast: f64) -> f64 {
    let half = (contrast / 2.0).min(0.999);
    ((1.0 + half) / (1.0 - half)).log2()
}

/// How many bands a rolling shutter that takes `readout_s` from its first to its last line shows.
///
/// # Errors
/// [`Error::OutOfRange`] for a readout outside 1 µs to 1 s or pulses outside 1 Hz to 10 MHz.
pub fn bands(readout_s: f64, pulses_hz: f64) -> Result<f64, Error> {
    Ok(READOUT_S.check(readout_s)? * PULSES_HZ.check(pulses_hz)?)
}

/// How fast brightness wanders from frame to frame, hertz: from the pulses to the nearest multiple
/// of the rate. 0 where frames repeat.
///
/// # Errors
/// [`Error::OutOfRange`] for pulses outside 1 Hz to 10 MHz.
pub fn beat_hz(rate: FrameRate, pulses_hz: f64) -> Result<f64, Error> {
    let fps = RATE_FPS.check(rate.fps())?;
    let pulses = PULSES_HZ.check(pulses_hz)?;
    Ok((pulses - fps * (pulses / fps).round()).abs())
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn rate(text: &str) -> FrameRate {
        text.parse().unwrap()
    }

    #[test]
    fn safe_angles_of_the_table() {
        // 360 fps n/2f, worked out in Python (24 frames at 50 Hz, 172.8 degrees: published by a secondary).
        let table: [(&str, &[f64], &[f64]); 10] = [
            (
                "24000/1001",
                &[86.314, 172.627, 258.941, 345.255],
                &[71.928, 143.856, 215.784, 287.712, 359.640],
            ),
            (
                "24",
                &[86.4, 172.8, 259.2, 345.6],
                &[72.0, 144.0, 216.0, 288.0, 360.0],
            ),
            (
                "25",
                &[90.0, 180.0, 270.0, 360.0],
                &[75.0, 150.0, 225.0, 300.0],
            ),
            (
                "30000/1001",
                &[107.892, 215.784, 323.676],
                &[89.910, 179.820, 269.730, 359.640],
            ),
            ("30", &[108.0, 216.0, 324.0], &[90.0, 180.0, 270.0, 360.0]),
            ("48", &[172.8, 345.6], &[144.0, 288.0]),
            ("50", &[180.0, 360.0], &[150.0, 300.0]),
            ("60000/1001", &[215.784], &[179.820, 359.640]),
            ("60", &[216.0], &[180.0, 360.0]),
            ("120", &[], &[360.0]),
        ];
        for (fps, at_50, at_60) in table {
            for (hz, wanted) in [(50, at_50), (60, at_60)] {
                let got: Vec<SafeAngle> = safe_angles(rate(fps), mains_pulses(hz)).collect();
                assert_eq!(got.len(), wanted.len(), "{fps} at {hz}");
                for (angle, deg) in got.iter().zip(wanted) {
                    assert!(
                        (angle.deg.value() - deg).abs() < 6e-4,
                        "{fps} at {hz}: {angle:?}"
                    );
                }
            }
        }
        let first = safe_angles(rate("24000/1001"), 100).next().unwrap();
        assert_eq!(first.deg.to_string(), "86400/1001");
    }

    #[test]
    fn half_open_at_24() {
        // By hand: 180 degrees at 24 sees 2.5 pulses of 60 Hz and 2.083 of 50 Hz.
        assert_eq!(pulses_seen(180.0, rate("24"), 120.0), Ok(2.5));
        assert!((pulses_seen(180.0, rate("24"), 100.0).unwrap() - 2.0833).abs() < 5e-5);
        assert!(
            !is_safe(2.5) && !is_safe(2.0833) && is_safe(2.0) && is_safe(2.005) && !is_safe(0.0)
        );
        let nearest = nearest_safe(180.0, rate("24"), 100).unwrap().unwrap();
        assert_eq!(nearest.deg.to_string(), "864/5");
        assert_eq!(nearest_safe(180.0, rate("120"), 100), Ok(None));
        // An angle typed for 24 frames still serves 23.976.
        assert!(is_safe(pulses_seen(172.8, rate("23.976"), 100.0).unwrap()));
    }

    #[test]
    fn frames_that_repeat() {
        // By hand: the pulses per frame, 2f/fps, are whole.
        for (fps, hz, same) in [
            ("25", 50, true),
            ("50", 50, true),
            ("24", 60, true),
            ("30", 60, true),
            ("40", 60, true),
            ("60", 60, true),
            ("24", 50, false),
            ("25", 60, false),
            ("30000/1001", 60, false),
            ("48", 60, false),
        ] {
            assert_eq!(repeats(rate(fps), mains_pulses(hz)), same, "{fps} {hz}");
            assert_eq!(
                beat_hz(rate(fps), f64::from(2 * hz)).unwrap() < 1e-9,
                same,
                "{fps} {hz}"
            );
        }
    }

    #[test]
    fn rates_for_an_angle() {
        let rates: Vec<String> = safe_rates(180.0, 100)
            .unwrap()
            .take(4)
            .map(|r| r.to_string())
            .collect();
        assert_eq!(rates, ["50", "25", "50/3", "25/2"]);
        let rates: Vec<String> = safe_rates(172.8, 100)
            .unwrap()
            .take(2)
            .map(|r| r.to_string())
            .collect();
        assert_eq!(rates, ["48", "24"]);
        assert!(safe_rates(400.0, 100).is_err());
        assert_eq!(safe_rates(0.5, 100).unwrap().count(), 0);
        // A very fast lamp: only rates that a camera can have.
        assert!(
            safe_rates(180.0, 25_000)
                .unwrap()
                .all(|r| r.fps() <= 1000.0)
        );
    }

    #[test]
    fn the_wave_by_summing_it() {
        // Slow and plain: the mean of 1 + cos over the exposure, begun at every phase.
        for pulses in [0.4, 1.25, 2.0, 2.083, 2.5] {
            let (mut low, mut high) = (f64::MAX, 0.0f64);
            for phase in 0..400 {
                let mean = (0..2000)
                    .map(|n| {
                        let at = (f64::from(n) + 0.5) / 2000.0 * pulses + f64::from(phase) / 400.0;
                        1.0 + (at * std::f64::consts::TAU).cos()
                    })
                    .sum::<f64>()
                    / 2000.0;
                (low, high) = (low.min(mean), high.max(mean));
            }
            assert!(
                (high - low - contrast_wave(pulses)).abs() < 1e-3,
                "{pulses}"
            );
        }
    }

    #[test]
    fn bands_on_the_picture() {
        // Formula: 20 ms of readout under 100 pulses a second.
        assert!((bands(0.02, 100.0).unwrap() - 2.0).abs() < 1e-12);
        assert!(bands(0.0, 100.0).is_err() && pulses_seen(180.0, rate("24"), 0.0).is_err());
        assert!((contrast_stops(2.0 / 3.0) - 1.0).abs() < 1e-12);
    }

    proptest! {
        #[test]
        fn a_safe_angle_sees_whole_pulses(num in 1000u32..120_000, ntsc in any::<bool>(), hz in prop_oneof![Just(50u32), Just(60)]) {
            let rate = FrameRate::new(num, if ntsc { 1001 } else { 1000 });
            if let Some(rate) = rate {
                for angle in safe_angles(rate, mains_pulses(hz)) {
                    // In whole numbers: pulses a second × angle × den = n × 360 × num.
                    let left = u128::from(mains_pulses(hz)) * u128::from(angle.deg.num()) * u128::from(rate.den());
                    let right = u128::from(angle.pulses) * 360 * u128::from(rate.num()) * u128::from(angle.deg.den());
                    prop_assert_eq!(left, right);
                    prop_assert!(angle.deg.value() <= 360.0);
                    prop_assert!(contrast_wave(angle.pulses as f64) < 1e-12);
                }
            }
        }

        #[test]
        fn a_safe_rate_makes_the_angle_safe(milli in 500u32..=360_000, pulses in 20u32..2000) {
            let angle = f64::from(milli) / 1000.0;
            for rate in safe_rates(angle, pulses).unwrap().take(20) {
                let seen = pulses_seen(angle, rate, f64::from(pulses)).unwrap();
                prop_assert!((seen - seen.round()).abs() < 1e-9 * seen.max(1.0));
            }
        }

        #[test]
        fn the_bound_holds_for_square_pulses(pulses in 0.2f64..40.0, duty in 0.05f64..0.95, phase in 0.0f64..1.0) {
            // Light on during `duty` of each period; exact integral from `phase` on.
            let on = |to: f64| to.floor() * duty + (to - to.floor()).min(duty);
            let mean = pulses * duty;
            let one = (on(phase + pulses) - on(phase)) / mean;
            let other = (on(pulses) - on(0.0)) / mean;
            prop_assert!((one - other).abs() <= contrast_bound(pulses) + 1e-9);
            prop_assert!(contrast_wave(pulses) <= contrast_bound(pulses) + 1e-9);
        }
    }
}
