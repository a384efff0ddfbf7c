//! A take's picture measures, ready to be averaged over any piece of it.

use crate::grid::unit;
use model::{PictureTrack, PlacedTake};

/// What a piece is given where nothing was measured: neither good nor bad.
pub const NEUTRAL: f64 = 0.5;

/// How well a picture is exposed, 0 to 1, from its mean brightness and the share of its pixels that
/// are crushed or clipped, both on the coded scale 0 to 1.
///
/// The limits are ours, and wide on purpose: a night objective is dark and has black in it. Brightness
/// counts fully from 0.10 to 0.80 and not at all under 0.02 or over 0.95; crushed or clipped pixels
/// count nothing up to a tenth of the picture, and ruin it from six tenths.
pub fn exposure(brightness: f64, clipped: f64) -> f64 {
    let ramp = |x: f64, from: f64, to: f64| ((x - from) / (to - from)).clamp(0.0, 1.0);
    let bright = ramp(brightness, 0.02, 0.10).min(ramp(brightness, 0.95, 0.80));
    bright * ramp(clipped, 0.60, 0.10)
}

/// The mean of a step function over any stretch, in constant time.
#[derive(Clone, Debug)]
struct Sums {
    values: Vec<f64>,
    /// `sums[i]` is the integral over the first `i` entries, in entries.
    sums: Vec<f64>,
}

impl Sums {
    fn of(values: Vec<f64>) -> Self {
        let mut sums = vec![0.0];
        let mut sum = 0.0;
        for value in &values {
            sum += value;
            sums.push(sum);
        }
        Self { values, sums }
    }

    /// Integral from 0 to `x` entries; the first and last values hold beyond the ends.
    fn integral(&self, x: f64) -> f64 {
        let n = self.values.len();
        if x <= 0.0 {
            self.values[0] * x
        } else if x >= n as f64 {
            self.sums[n] + self.values[n - 1] * (x - n as f64)
        } else {
            let whole = x as usize;
            self.sums[whole] + self.values[whole] * (x - whole as f64)
        }
    }

    fn mean(&self, from: f64, to: f64) -> f64 {
        (self.integral(to) - self.integral(from)) / (to - from)
    }
}

/// Sharpness, exposure and movement of one take.
#[derive(Clone, Debug)]
pub struct Measured {
    step_s: f64,
    sharpness: Sums,
    exposure: Sums,
    movement: Sums,
}

impl Measured {
    /// Makes the measures of `track` ready; `None` when there are none. Movement is read as its
    /// rank in `ranks`.
    pub fn of(track: &PictureTrack, ranks: &Ranks) -> Option<Self> {
        let step_s = track.step.seconds();
        let n = [
            track.sharpness.len(),
            track.brightness.len(),
            track.clipped.len(),
            track.movement.len(),
        ]
        .into_iter()
        .min()?;
        if n == 0 || step_s < 1e-3 {
            return None;
        }
        let read = |values: &[f32]| -> Vec<f64> {
            values[..n].iter().map(|v| unit(f64::from(*v))).collect()
        };
        let brightness = read(&track.brightness);
        let clipped = read(&track.clipped);
        Some(Self {
            step_s,
            sharpness: Sums::of(read(&track.sharpness)),
            exposure: Sums::of(
                brightness
                    .iter()
                    .zip(&clipped)
                    .map(|(b, c)| exposure(*b, *c))
                    .collect(),
            ),
            movement: Sums::of(
                read(&track.movement)
                    .iter()
                    .map(|m| ranks.rank(*m))
                    .collect(),
            ),
        })
    }

    /// Mean sharpness, exposure and movement over `[from_s, to_s)` of the take.
    pub fn means(&self, from_s: f64, to_s: f64) -> [f64; 3] {
        let (from, to) = (from_s / self.step_s, to_s / self.step_s);
        [
            self.sharpness.mean(from, to),
            self.exposure.mean(from, to),
            self.movement.mean(from, to),
        ]
    }
}

/// All movement met in the material, so that "much" and "little" mean: for this material. What a
/// camera's shake or a small loud figure comes to in absolute terms says nothing by itself.
#[derive(Clone, Debug, Default)]
pub struct Ranks(Vec<f64>);

impl Ranks {
    /// Gathers the movement of every take.
    pub fn of(takes: &[PlacedTake]) -> Self {
        let mut all: Vec<f64> = takes
            .iter()
            .filter_map(|take| take.track.as_ref())
            .flat_map(|track| track.movement.iter().map(|m| unit(f64::from(*m))))
            .collect();
        all.sort_by(f64::total_cmp);
        Self(all)
    }

    /// Where `movement` stands among all met: 0 the least, 1 the most, ties in the middle.
    pub fn rank(&self, movement: f64) -> f64 {
        if self.0.is_empty() {
            return NEUTRAL;
        }
        let below = self.0.partition_point(|m| *m < movement);
        let not_above = self.0.partition_point(|m| *m <= movement);
        (below + not_above) as f64 / (2 * self.0.len()) as f64
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use model::Length;

    #[test]
    fn means_weigh_entries_by_what_of_them_is_shown() {
        let track = PictureTrack {
            step: Length::nearest_to_seconds(0.5),
            sharpness: vec![0.0, 1.0, 0.5],
            brightness: vec![0.5; 3],
            clipped: vec![0.0; 3],
            movement: vec![0.1, 0.2, 0.3],
        };
        let ranks = Ranks(vec![0.1f32, 0.2, 0.3].into_iter().map(f64::from).collect());
        let measured = Measured::of(&track, &ranks).unwrap();
        // Half a second of 0 and a quarter second of 1.
        let [sharp, exposed, moved] = measured.means(0.0, 0.75);
        assert!((sharp - 1.0 / 3.0).abs() < 1e-12);
        assert_eq!(exposed, 1.0);
        // Ranks 1/6, 3/6, 5/6.
        assert!((moved - (2.0 / 6.0 + 3.0 / 6.0) / 3.0).abs() < 1e-12);
        // Beyond its end the last entry holds.
        assert_eq!(measured.means(5.0, 6.0)[0], 0.5);
    }

    #[test]
    fn exposure_spares_the_night_and_not_the_lens_cap() {
        assert_eq!(exposure(0.12, 0.1), 1.0);
        assert_eq!(exposure(0.01, 0.0), 0.0);
        assert_eq!(exposure(0.97, 0.0), 0.0);
        assert!((exposure(0.5, 0.35) - 0.5).abs() < 1e-12);
    }
}
