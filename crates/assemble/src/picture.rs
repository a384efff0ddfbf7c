//! What a take's picture is like over time, measured from small grey frames.
//!
//! Give frames a few times a second (4 to 12), about 160 to 320 pixels wide, all takes alike:
//! sharpness depends on the size of the frames and movement on the time between them, so takes
//! measured differently can't be compared.
//!
//! - *Sharpness*: how much finest detail there is for the contrast there is. The Laplacian answers to
//!   single-pixel detail (its spread as a measure of focus: J. L. Pech-Pacheco et al., "Diatom
//!   autofocusing in brightfield microscopy", ICPR 2000), the gradient to edges of any softness
//!   (Tenengrad: J. M. Tenenbaum, "Accommodation in Computer Vision", Stanford 1970). Their ratio tells a
//!   soft picture from a dark or a plain one, which neither does alone. A flat picture has none and is
//!   given 0.
//! - *Brightness*: mean luma over 255.
//! - *Clipped*: share of pixels at or below 5, or at or above 250: the lowest and highest two per cent.
//! - *Movement*: `1 − exp(−d / 0.04)` where `d` is the mean absolute difference to the frame before, after
//!   the difference in mean brightness is taken out, so that a flickering lamp is not movement. A hand-held
//!   static subject lies near 0.2, a fast pan above 0.8 (tried on drawn frames, not on a survey of footage).
//!
//! It does not judge composition, faces, colour, or whether the right thing is sharp.

use model::{Length, PictureTrack};

/// Length of one entry of the track, in seconds.
pub const STEP_S: f64 = 0.5;
/// The longest take measured, in steps: six hours. What comes later is left out.
const MOST_STEPS: usize = 43_200;
/// Mean difference at which movement reaches `1 − 1/e`.
const MOVED: f64 = 0.04;
/// Luma at or below which a pixel counts as crushed, and at or above which as clipped.
const CRUSHED: u8 = 5;
const BLOWN: u8 = 250;

/// One small grey frame.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct GrayFrame {
    /// When it is shown, from the start of the take.
    pub at: Length,
    /// Pixels in a row.
    pub width: usize,
    /// Rows.
    pub height: usize,
    /// Luma, row by row, 0 (black) to 255 (white); `width × height` bytes.
    pub luma: Vec<u8>,
}

#[derive(Clone, Copy, Debug, Default)]
struct Sums {
    frames: u32,
    moves: u32,
    sharpness: f64,
    brightness: f64,
    clipped: f64,
    movement: f64,
}

/// Measures frames one by one, so that a take need not be held in memory.
#[derive(Clone, Debug, Default)]
pub struct Meter {
    steps: Vec<Sums>,
    before: Vec<u8>,
    before_mean: f64,
}

impl Meter {
    /// Takes in the next frame, in order of time. A frame without pixels, or with fewer bytes than its
    /// size needs, is left out.
    pub fn push(&mut self, at: Length, width: usize, height: usize, luma: &[u8]) {
        let Some(count) = width.checked_mul(height).filter(|n| *n > 0) else {
            return;
        };
        let Some(luma) = luma.get(..count) else {
            return;
        };
        let step = (at.seconds() / STEP_S) as usize;
        if step >= MOST_STEPS {
            return;
        }
        if self.steps.len() <= step {
            self.steps.resize(step + 1, Sums::default());
        }
        let mean = luma.iter().map(|p| f64::from(*p)).sum::<f64>() / count as f64;
        let outside = luma
            .iter()
            .filter(|p| **p <= CRUSHED || **p >= BLOWN)
            .count();
        let sums = &mut self.steps[step];
        sums.frames += 1;
        sums.brightness += mean / 255.0;
        sums.clipped += outside as f64 / count as f64;
        sums.sharpness += sharpness(width, height, luma);
        if self.before.len() == count {
            let shift = mean - self.before_mean;
            let change: f64 = luma
                .iter()
                .zip(&self.before)
                .map(|(a, b)| (f64::from(*a) - f64::from(*b) - shift).abs())
                .sum();
            sums.moves += 1;
            sums.movement += 1.0 - (-change / (count as f64 * 255.0) / MOVED).exp();
        }
        self.before.clear();
        self.before.extend_from_slice(luma);
        self.before_mean = mean;
    }

    /// What was measured: one entry each half second up to the last frame. A half second without a
    /// frame repeats what is known nearest before it, or after it at the start.
    pub fn finish(self) -> PictureTrack {
        let fill = |read: &dyn Fn(&Sums) -> Option<f64>| -> Vec<f32> {
            let first = self.steps.iter().find_map(read).unwrap_or(0.0);
            let mut last = first;
            self.steps
                .iter()
                .map(|sums| {
                    last = read(sums).unwrap_or(last);
                    last.clamp(0.0, 1.0) as f32
                })
                .collect()
        };
        let mean = |pick: fn(&Sums) -> f64| {
            fill(&move |s: &Sums| (s.frames > 0).then(|| pick(s) / f64::from(s.frames)))
        };
        PictureTrack {
            step: Length::nearest_to_seconds(STEP_S),
            sharpness: mean(|s| s.sharpness),
            brightness: mean(|s| s.brightness),
            clipped: mean(|s| s.clipped),
            movement: fill(&|s: &Sums| (s.moves > 0).then(|| s.movement / f64::from(s.moves))),
        }
    }
}

/// What the picture is like over time, from its frames in order of time.
pub fn measure(frames: impl IntoIterator<Item = GrayFrame>) -> PictureTrack {
    let mut meter = Meter::default();
    for frame in frames {
        meter.push(frame.at, frame.width, frame.height, &frame.luma);
    }
    meter.finish()
}

/// Sharpness of one frame, 0 to 1: with `l` the mean square of the Laplacian and `g` the mean squared
/// central difference, `r = l / 8g` and the result is `r / (r + 0.05)`, where one-pixel edges give about 0.7. The part of both that noise of one
/// grey level would make is taken off first.
fn sharpness(width: usize, height: usize, luma: &[u8]) -> f64 {
    if width < 3 || height < 3 {
        return 0.0;
    }
    let (mut detail, mut edges) = (0.0, 0.0);
    for rows in luma.chunks_exact(width).collect::<Vec<_>>().windows(3) {
        let (mut row_detail, mut row_edges) = (0i64, 0i64);
        for x in 1..width - 1 {
            let at = |row: usize, x: usize| i64::from(rows[row][x]);
            let (left, right) = (at(1, x - 1), at(1, x + 1));
            let (up, down) = (at(0, x), at(2, x));
            let bent = left + right + up + down - 4 * at(1, x);
            row_detail += bent * bent;
            row_edges += (right - left) * (right - left) + (down - up) * (down - up);
        }
        detail += row_detail as f64;
        edges += row_edges as f64;
    }
    let count = ((width - 2) * (height - 2)) as f64;
    // Noise of variance 1 gives 20 in the Laplacian (4² + 4 × 1²) and 4 in the two differences.
    let detail = (detail / count - 20.0).max(0.0);
    let edges = (edges / count - 4.0).max(0.0);
    if edges <= 0.0 {
        return 0.0;
    }
    let ratio = detail / (8.0 * edges);
    ratio / (ratio + 0.05)
}

#[cfg(test)]
mod tests {
    use super::*;

    const W: usize = 64;
    const H: usize = 48;

    fn frame(at_s: f64, paint: impl Fn(f64, f64) -> f64) -> GrayFrame {
        let luma = (0..W * H)
            .map(|i| {
                paint((i % W) as f64, (i / W) as f64)
                    .round()
                    .clamp(0.0, 255.0) as u8
            })
            .collect();
        GrayFrame {
            at: Length::nearest_to_seconds(at_s),
            width: W,
            height: H,
            luma,
        }
    }

    /// A bright disc, its edge as wide as `soft` pixels.
    fn disc(cx: f64, soft: f64, light: f64) -> impl Fn(f64, f64) -> f64 {
        move |x, y| {
            let r = ((x - cx).powi(2) + (y - 24.0).powi(2)).sqrt();
            20.0 + light * ((12.0 - r) / soft + 0.5).clamp(0.0, 1.0)
        }
    }

    fn one(frame: GrayFrame) -> PictureTrack {
        measure([frame])
    }

    #[test]
    fn a_softer_picture_is_less_sharp_and_a_darker_one_is_not() {
        let crisp = one(frame(0.0, disc(32.0, 0.5, 200.0))).sharpness[0];
        let soft = one(frame(0.0, disc(32.0, 3.0, 200.0))).sharpness[0];
        let softer = one(frame(0.0, disc(32.0, 8.0, 200.0))).sharpness[0];
        let dark = one(frame(0.0, disc(32.0, 0.5, 60.0))).sharpness[0];
        assert!(
            crisp > soft + 0.1 && soft > softer + 0.1,
            "{crisp} {soft} {softer}"
        );
        assert!((crisp - dark).abs() < 0.05, "{crisp} {dark}");
        assert_eq!(one(frame(0.0, |_, _| 90.0)).sharpness[0], 0.0);
    }

    #[test]
    fn brightness_and_clipping_are_shares() {
        let half = one(frame(0.0, |x, _| if x < 32.0 { 255.0 } else { 102.0 }));
        assert!((half.brightness[0] - 0.7).abs() < 1e-6);
        assert!((half.clipped[0] - 0.5).abs() < 1e-6);
        assert_eq!(one(frame(0.0, |_, _| 0.0)).clipped[0], 1.0);
    }

    #[test]
    fn movement_is_seen_and_a_lamp_is_not() {
        let still = measure((0..8).map(|n| frame(f64::from(n) / 8.0, disc(32.0, 1.0, 150.0))));
        let moving = measure((0..8).map(|n| {
            frame(
                f64::from(n) / 8.0,
                disc(16.0 + 4.0 * f64::from(n), 1.0, 150.0),
            )
        }));
        let lamp = measure((0..8).map(|n| {
            frame(f64::from(n) / 8.0, move |_, _| {
                80.0 + 10.0 * f64::from(n % 2)
            })
        }));
        assert_eq!(still.movement, [0.0, 0.0]);
        assert!(
            moving.movement.iter().all(|m| *m > 0.3),
            "{:?}",
            moving.movement
        );
        assert!(
            lamp.movement.iter().all(|m| *m < 1e-6),
            "{:?}",
            lamp.movement
        );
    }

    #[test]
    fn every_half_second_has_an_entry() {
        let track = measure([
            frame(0.6, |_, _| 51.0),
            frame(2.2, |_, _| 102.0),
            frame(2.3, |_, _| 102.0),
        ]);
        assert_eq!(track.brightness, [0.2, 0.2, 0.2, 0.2, 0.4]);
        for values in [&track.sharpness, &track.clipped, &track.movement] {
            assert_eq!(values.len(), 5);
        }
    }

    #[test]
    fn what_is_no_frame_is_left_out() {
        let mut meter = Meter::default();
        meter.push(Length::ZERO, 0, 10, &[]);
        meter.push(Length::ZERO, 10, 10, &[0; 7]);
        meter.push(Length::ZERO, usize::MAX, 2, &[0; 7]);
        meter.push(Length::nearest_to_seconds(600_000.0), 1, 1, &[0]);
        assert_eq!(meter.clone().finish().sharpness.len(), 0);
        meter.push(Length::ZERO, 1, 1, &[255]);
        let track = meter.finish();
        assert_eq!((track.sharpness[0], track.brightness[0]), (0.0, 1.0));
    }
}
