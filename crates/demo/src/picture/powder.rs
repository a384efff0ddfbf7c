//! Coloured powder in the air: grains and clouds thrown up, carried and falling.

use super::figure::POWDERS;
use super::frame::Picture;
use super::shade::{Light, coded_bytes};
use crate::dice::Dice;

/// One throw of powder.
#[derive(Clone, Debug)]
pub struct Throw {
    /// When it is thrown, seconds on the scene's clock.
    at_s: f32,
    grains: Vec<Grain>,
}

#[derive(Clone, Debug)]
struct Grain {
    from: (f32, f32),
    velocity: (f32, f32),
    /// Radius at the throw, scene units; clouds are larger and grow.
    radius: f32,
    cloud: bool,
    colour: [u8; 3],
}

/// A throw at `at_s` from (`x`, `y`) in scene units, grains `size` times the usual, in the light `light`.
pub fn throw(
    at_s: f32,
    (x, y): (f32, f32),
    size: f32,
    powder: usize,
    light: Light,
    dice: &mut Dice,
) -> Throw {
    let colour = POWDERS[powder % POWDERS.len()];
    let grains = (0..300)
        .map(|n| {
            let cloud = n % 16 == 0;
            let angle = -std::f32::consts::FRAC_PI_2 + dice.normal() * 0.5;
            let speed = if cloud {
                dice.between(0.15, 0.75)
            } else {
                dice.between(0.2, 1.15)
            };
            Grain {
                from: (x + dice.normal() * 0.03, y + dice.normal() * 0.02),
                velocity: (angle.cos() * speed, angle.sin() * speed),
                radius: size
                    * if cloud {
                        dice.between(0.025, 0.06)
                    } else {
                        dice.between(0.0015, 0.005)
                    },
                cloud,
                colour: coded_bytes(colour * light * dice.between(0.6, 1.2)),
            }
        })
        .collect();
    Throw { at_s, grains }
}

impl Throw {
    /// Draws what is in the air at `now_s`. `place` gives the pixel of a scene point, `unit_px` the pixels of one unit.
    pub fn draw(
        &self,
        to: &mut Picture,
        now_s: f32,
        unit_px: f32,
        place: impl Fn(f32, f32) -> (f32, f32),
    ) {
        let age = now_s - self.at_s;
        if !(0.0..4.5).contains(&age) {
            return;
        }
        for grain in &self.grains {
            // Air stops powder quickly; then it hangs, drifts and sinks.
            let (drag, sink) = if grain.cloud {
                (2.6, 0.045)
            } else {
                (1.7, 0.13)
            };
            let reach = (1.0 - (-drag * age).exp()) / drag * 1.6;
            let x = grain.from.0
                + grain.velocity.0 * reach
                + 0.02 * age * (age + grain.from.0 * 40.0).sin();
            let y = grain.from.1 + grain.velocity.1 * reach + sink * age * age;
            let (px, py) = place(x, y);
            let (radius, alpha) = if grain.cloud {
                let grown = grain.radius * (1.0 + 1.1 * (1.0 - (-1.4 * age).exp()));
                (grown, 0.3 * (-0.75 * age).exp() * (age * 14.0).min(1.0))
            } else {
                (grain.radius, 0.85 * (1.0 - age / 4.5))
            };
            dab(to, px, py, radius * unit_px, alpha, grain.colour);
        }
    }
}

/// A soft round dab of colour.
fn dab(to: &mut Picture, x: f32, y: f32, radius: f32, alpha: f32, colour: [u8; 3]) {
    let strength = (alpha * 256.0) as i32;
    if strength <= 0 {
        return;
    }
    for (index, plane) in to.planes.iter_mut().enumerate() {
        let scale = if index == 0 { 1.0 } else { 0.5 };
        let (cx, cy, r) = (x * scale, y * scale, (radius * scale).max(0.7));
        if cx + r < 0.0
            || cy + r < 0.0
            || cx - r > plane.width as f32
            || cy - r > plane.height as f32
        {
            continue;
        }
        let target = i32::from(colour[index]);
        let per = 1.0 / (r * r);
        let rows = (cy - r).max(0.0) as usize..((cy + r + 1.0) as usize).min(plane.height);
        let columns = (cx - r).max(0.0) as usize..((cx + r + 1.0) as usize).min(plane.width);
        for row in rows {
            let dy = row as f32 + 0.5 - cy;
            let across = 1.0 - dy * dy * per;
            if across <= 0.0 {
                continue;
            }
            let line = &mut plane.data[row * plane.width..][columns.clone()];
            for (value, column) in line.iter_mut().zip(columns.start..) {
                let dx = column as f32 + 0.5 - cx;
                let fall = (across - dx * dx * per).max(0.0);
                let share = (fall * strength as f32) as i32;
                *value = (i32::from(*value) + (((target - i32::from(*value)) * share) >> 8)) as u8;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn powder_colours_the_air_and_is_gone_later() {
        let mut dice = Dice::new(1, "throw");
        let thrown = throw(
            1.0,
            (0.9, 0.6),
            1.0,
            2,
            super::super::shade::rgb(1.5, 1.2, 0.9),
            &mut dice,
        );
        let place = |x: f32, y: f32| (x * 180.0, y * 180.0);
        let changed = |now: f32| {
            let mut picture = Picture::black(320, 180);
            thrown.draw(&mut picture, now, 180.0, place);
            picture.planes[1]
                .data
                .iter()
                .filter(|value| **value != 128)
                .count()
        };
        assert_eq!(changed(0.5), 0);
        assert!(changed(1.5) > 500, "{}", changed(1.5));
        assert_eq!(changed(6.0), 0);
    }
}
