//! Shading by code: linear light, soft edges, noise, and the way to coded pixels.
//!
//! Scene units: the height of a lying 16:9 frame is 1, x runs right from 0 to 16/9, y down.

use super::frame::{Picture, Plane, Sprite};
use std::ops::{Add, Mul};

/// Linear light, red, green, blue. Lights add; a light times a light is a surface of the one colour under the other.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Light(pub [f32; 3]);

/// The light of these parts.
pub const fn rgb(red: f32, green: f32, blue: f32) -> Light {
    Light([red, green, blue])
}

impl Add for Light {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self([0, 1, 2].map(|n| self.0[n] + other.0[n]))
    }
}

impl Mul for Light {
    type Output = Self;
    fn mul(self, other: Self) -> Self {
        Self([0, 1, 2].map(|n| self.0[n] * other.0[n]))
    }
}

impl Mul<f32> for Light {
    type Output = Self;
    fn mul(self, by: f32) -> Self {
        Self(self.0.map(|value| value * by))
    }
}

/// A bare tungsten bulb.
pub const TUNGSTEN: Light = rgb(1.0, 0.6, 0.25);
/// Sky after sunset.
pub const DUSK: Light = rgb(0.16, 0.26, 0.52);
/// Paper.
pub const PAPER: Light = rgb(0.78, 0.73, 0.62);
/// Ink.
pub const INK: Light = rgb(0.018, 0.022, 0.034);

/// `share` of the way from `a` to `b`.
pub fn mix(a: Light, b: Light, share: f32) -> Light {
    let share = share.clamp(0.0, 1.0);
    Light([0, 1, 2].map(|n| a.0[n] + (b.0[n] - a.0[n]) * share))
}

/// 0 at `low`, 1 at `high`, smooth between; works downwards too.
pub fn ease(low: f32, high: f32, x: f32) -> f32 {
    let t = ((x - low) / (high - low)).clamp(0.0, 1.0);
    t * t * (3.0 - 2.0 * t)
}

/// How much of a pixel lies inside a shape whose edge is `d` away (negative inside), softened over `soft`.
pub fn inside(d: f32, soft: f32) -> f32 {
    (0.5 - d / soft).clamp(0.0, 1.0)
}

/// A number in 0..1 that belongs to a lattice point.
pub fn lattice(x: i32, y: i32, salt: u32) -> f32 {
    let mut h = (x as u32).wrapping_mul(0x9e37_79b1)
        ^ (y as u32).wrapping_mul(0x85eb_ca77)
        ^ salt.wrapping_mul(0xc2b2_ae3d);
    h ^= h >> 15;
    h = h.wrapping_mul(0x2c1b_3c6d);
    h ^= h >> 12;
    h = h.wrapping_mul(0x297a_2d39);
    h ^= h >> 15;
    (h >> 8) as f32 / (1u32 << 24) as f32
}

/// Smooth noise, 0 to 1, one feature per unit.
pub fn noise(x: f32, y: f32, salt: u32) -> f32 {
    let (ix, iy) = (x.floor(), y.floor());
    let (fx, fy) = (ease(0.0, 1.0, x - ix), ease(0.0, 1.0, y - iy));
    let (ix, iy) = (ix as i32, iy as i32);
    let top = lattice(ix, iy, salt) * (1.0 - fx) + lattice(ix + 1, iy, salt) * fx;
    let bottom = lattice(ix, iy + 1, salt) * (1.0 - fx) + lattice(ix + 1, iy + 1, salt) * fx;
    top + (bottom - top) * fy
}

/// Linear light to coded Y′CbCr (BT.709, limited range) through a soft shoulder.
fn coded(light: Light) -> [f32; 3] {
    let [r, g, b] = light
        .0
        .map(|value| (1.0 - (-1.5 * value.max(0.0)).exp()).powf(1.0 / 1.75));
    // A touch of milk in the blacks, as of a print.
    let [r, g, b] = [0.012 + r * 0.97, 0.012 + g * 0.97, 0.018 + b * 0.965];
    let y = 0.2126 * r + 0.7152 * g + 0.0722 * b;
    [
        16.0 + 219.0 * y,
        128.0 + 224.0 * (b - y) / 1.8556,
        128.0 + 224.0 * (r - y) / 1.5748,
    ]
}

/// Where a plate lies in the scene.
#[derive(Clone, Copy, Debug)]
pub struct View {
    /// Scene coordinates of its top left corner.
    pub corner: (f32, f32),
    /// Pixels in one scene unit.
    pub unit_px: f32,
    /// Width and height in pixels, even.
    pub size: (usize, usize),
}

impl View {
    fn at(&self, x: f32, y: f32) -> (f32, f32) {
        (
            self.corner.0 + x / self.unit_px,
            self.corner.1 + y / self.unit_px,
        )
    }
}

/// Shades a picture, four samples a pixel.
pub fn plate(view: View, shade: impl Fn(f32, f32) -> Light) -> Picture {
    let sprite = sprite(view, |x, y| (shade(x, y), 1.0));
    Picture {
        planes: sprite.colours,
    }
}

/// Shades a sprite: light and coverage, four samples a pixel.
pub fn sprite(view: View, shade: impl Fn(f32, f32) -> (Light, f32)) -> Sprite {
    let (width, height) = view.size;
    let mut full = vec![[0.0f32; 4]; width * height];
    for (n, pixel) in full.iter_mut().enumerate() {
        let (x, y) = ((n % width) as f32, (n / width) as f32);
        for (dx, dy) in [(0.25, 0.25), (0.75, 0.25), (0.25, 0.75), (0.75, 0.75)] {
            let (sx, sy) = view.at(x + dx, y + dy);
            let (light, alpha) = shade(sx, sy);
            if alpha > 0.0 {
                let [cy, cb, cr] = coded(light);
                for (sum, value) in
                    pixel
                        .iter_mut()
                        .zip([cy * alpha, cb * alpha, cr * alpha, alpha])
                {
                    *sum += value * 0.25;
                }
            }
        }
    }
    let byte = |value: f32| value.round().clamp(0.0, 255.0) as u8;
    let luma = Plane {
        width,
        height,
        data: full.iter().map(|pixel| byte(pixel[0])).collect(),
    };
    let alpha = Plane {
        width,
        height,
        data: full.iter().map(|pixel| byte(pixel[3] * 255.0)).collect(),
    };
    let (half_w, half_h) = (width / 2, height / 2);
    let half = |channel: usize, gain: f32| Plane {
        width: half_w,
        height: half_h,
        data: (0..half_w * half_h)
            .map(|n| {
                let at = (n / half_w) * 2 * width + (n % half_w) * 2;
                let sum: f32 = [at, at + 1, at + width, at + width + 1]
                    .iter()
                    .map(|at| full[*at][channel])
                    .sum();
                byte(sum * 0.25 * gain)
            })
            .collect(),
    };
    Sprite {
        colours: [luma, half(1, 1.0), half(2, 1.0)],
        alpha: [alpha, half(3, 255.0)],
    }
}

/// One coded pixel of `light`, for what is drawn frame by frame.
pub fn coded_bytes(light: Light) -> [u8; 3] {
    coded(light).map(|value| value.round().clamp(16.0, 240.0) as u8)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn grey_light_has_no_colour_and_more_light_is_brighter() {
        let dim = coded(rgb(0.1, 0.1, 0.1));
        let bright = coded(rgb(0.6, 0.6, 0.6));
        assert!(bright[0] > dim[0] + 30.0);
        assert!((bright[1] - 128.0).abs() < 2.0 && (bright[2] - 128.0).abs() < 2.0);
        assert!(coded(rgb(50.0, 50.0, 50.0))[0] <= 235.5);
    }

    #[test]
    fn noise_is_smooth_and_within_bounds() {
        for n in 0..2000 {
            let x = n as f32 * 0.013;
            let (a, b) = (noise(x, 1.5, 3), noise(x + 0.001, 1.5, 3));
            assert!((0.0..=1.0).contains(&a) && (a - b).abs() < 0.01);
        }
    }
}
