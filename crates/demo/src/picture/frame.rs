//! Planes of pixels and the few fast things done with them.
//!
//! A frame is planar YUV 4:2:0, 8 bit, BT.709, limited range.

/// One plane of bytes.
#[derive(Clone, Debug)]
pub struct Plane {
    /// Pixels in a row.
    pub width: usize,
    /// Rows.
    pub height: usize,
    /// Rows one after another.
    pub data: Vec<u8>,
}

impl Plane {
    /// A plane full of `value`.
    pub fn filled(width: usize, height: usize, value: u8) -> Self {
        Self {
            width,
            height,
            data: vec![value; width * height],
        }
    }

    fn row(&self, y: usize) -> &[u8] {
        &self.data[y * self.width..(y + 1) * self.width]
    }

    /// Rows for columns.
    fn transposed(&self) -> Self {
        let mut out = Self::filled(self.height, self.width, 0);
        for (y, row) in self.data.chunks_exact(self.width).enumerate() {
            for (x, value) in row.iter().enumerate() {
                out.data[x * self.height + y] = *value;
            }
        }
        out
    }
}

/// A picture: luma at full size, the two chroma planes at half.
#[derive(Clone, Debug)]
pub struct Picture {
    /// Luma, blue and red difference.
    pub planes: [Plane; 3],
}

impl Picture {
    /// Black, `width` × `height`, both even.
    pub fn black(width: usize, height: usize) -> Self {
        Self {
            planes: [
                Plane::filled(width, height, 16),
                Plane::filled(width / 2, height / 2, 128),
                Plane::filled(width / 2, height / 2, 128),
            ],
        }
    }

    /// Appends its planes to `out` as an encoder takes them.
    pub fn write_to(&self, out: &mut Vec<u8>) {
        out.clear();
        for plane in &self.planes {
            out.extend_from_slice(&plane.data);
        }
    }

    /// Red, green and blue, a byte each (BT.709, full range).
    pub fn rgb(&self) -> Vec<u8> {
        let [luma, ..] = &self.planes;
        let pixel = |n: usize| {
            let half = n / luma.width / 2 * (luma.width / 2) + n % luma.width / 2;
            let value = |plane: usize, at: usize, zero: f32, span: f32| {
                (f32::from(self.planes[plane].data[at]) - zero) / span
            };
            let y = value(0, n, 16.0, 219.0);
            let (b, r) = (value(1, half, 128.0, 224.0), value(2, half, 128.0, 224.0));
            [y + 1.5748 * r, y - 0.1873 * b - 0.4681 * r, y + 1.8556 * b]
        };
        let byte = |value: f32| (value * 255.0).round().clamp(0.0, 255.0) as u8;
        (0..luma.data.len()).flat_map(pixel).map(byte).collect()
    }

    /// Turned a quarter anticlockwise, so that a player told to turn it 90° clockwise shows it upright.
    pub fn turned(&self) -> Self {
        let turn = |plane: &Plane| {
            let mut turned = plane.transposed();
            let rows = turned.data.chunks_exact(turned.width).rev();
            turned.data = rows.flatten().copied().collect();
            turned
        };
        Self {
            planes: self.planes.each_ref().map(turn),
        }
    }
}

/// A picture with transparency: colours multiplied by their alpha, and the alpha at both sizes.
#[derive(Clone, Debug)]
pub struct Sprite {
    /// Colours times alpha.
    pub colours: [Plane; 3],
    /// Alpha for luma, and for chroma.
    pub alpha: [Plane; 2],
}

/// A position in 1/256 pixel: whole part and the rest.
fn split(at: f32) -> (i32, u32) {
    let fixed = (at * 256.0).round() as i32;
    (fixed >> 8, (fixed & 255) as u32)
}

/// Fills `to` with `from` as seen through a window whose corner lies at (`x`, `y`) luma pixels.
/// The window must stay inside `from` by a pixel; it is held there.
pub fn pan(to: &mut Picture, from: &Picture, x: f32, y: f32) {
    for index in 0..3 {
        let scale = if index == 0 { 1.0 } else { 0.5 };
        pan_plane(
            &mut to.planes[index],
            &from.planes[index],
            x * scale,
            y * scale,
        );
    }
}

fn pan_plane(to: &mut Plane, from: &Plane, x: f32, y: f32) {
    let x = x.clamp(0.0, (from.width - to.width - 1) as f32 - 0.01);
    let y = y.clamp(0.0, (from.height - to.height - 1) as f32 - 0.01);
    let ((x, fx), (y, fy)) = (split(x), split(y));
    for row in 0..to.height {
        blend_row(to, row, from, (x as usize, y as usize + row), (fx, fy));
    }
}

/// Weights of four pixels, here, right, below and right below: 8 bits together, so that sums stay within 16.
fn weights(fx: u32, fy: u32) -> [u16; 4] {
    let w11 = ((fx * fy) >> 8) as u16;
    let w10 = (fx as u16).saturating_sub(w11);
    let w01 = (fy as u16).saturating_sub(w11);
    [256 - w11 - w10 - w01, w10, w01, w11]
}

/// Fills row `row` of `to` with what lies (`fx`, `fy`) beyond (`x`, `y`) in `from`.
fn blend_row(
    to: &mut Plane,
    row: usize,
    from: &Plane,
    (x, y): (usize, usize),
    (fx, fy): (u32, u32),
) {
    let width = to.width;
    let (above, below) = (&from.row(y)[x..], &from.row(y + 1)[x..]);
    let (a0, a1) = (&above[..width], &above[1..=width]);
    let (b0, b1) = (&below[..width], &below[1..=width]);
    let to = &mut to.data[row * width..(row + 1) * width];
    let [w00, w10, w01, w11] = weights(fx, fy);
    for n in 0..width {
        let sum = u16::from(a0[n]) * w00
            + u16::from(a1[n]) * w10
            + u16::from(b0[n]) * w01
            + u16::from(b1[n]) * w11;
        to[n] = ((sum.wrapping_add(128)) >> 8) as u8;
    }
}

/// Sets `sprite` into `to` with its corner at (`x`, `y`) luma pixels; `shear` shifts each row by
/// that many pixels per row counted from `pivot_row`.
pub fn set_in(to: &mut Picture, sprite: &Sprite, x: f32, y: f32, shear: f32, pivot_row: f32) {
    for index in 0..3 {
        let scale = if index == 0 { 1.0 } else { 0.5 };
        let (colour, alpha) = (
            &sprite.colours[index],
            &sprite.alpha[usize::from(index > 0)],
        );
        let (at, pivot_row) = ((x * scale, y * scale), pivot_row * scale);
        set_in_plane(&mut to.planes[index], colour, alpha, at, shear, pivot_row);
    }
}

fn set_in_plane(
    to: &mut Plane,
    colour: &Plane,
    alpha: &Plane,
    (x, y): (f32, f32),
    shear: f32,
    pivot_row: f32,
) {
    let (y, fy) = split(y);
    for source_row in 0..colour.height.saturating_sub(1) {
        let row = y + source_row as i32;
        if row < 0 || row >= to.height as i32 {
            continue;
        }
        let (x, fx) = split(x + (source_row as f32 - pivot_row) * shear);
        // A sprite moved right by a part shows its left neighbour: sample from the other side.
        let (fx, fy) = (256 - fx, 256 - fy);
        let skip = (-x).max(0) as usize;
        let from_x = x.max(0) as usize;
        if from_x >= to.width || skip + 1 >= colour.width {
            continue;
        }
        let width = (to.width - from_x).min(colour.width - 1 - skip);
        let target_start = row as usize * to.width + from_x;
        let target = &mut to.data[target_start..target_start + width];
        let [c0, c1, a0, a1] = [(colour, 0), (colour, 1), (alpha, 0), (alpha, 1)]
            .map(|(plane, below)| &plane.row(source_row + below)[skip..=skip + width]);
        mix_row(target, [c0, c1], [a0, a1], fx, fy);
    }
}

fn mix_row(to: &mut [u8], colour: [&[u8]; 2], alpha: [&[u8]; 2], fx: u32, fy: u32) {
    let width = to.len();
    let [w00, w10, w01, w11] = weights(fx, fy);
    let (c00, c10) = (&colour[0][..width], &colour[0][1..=width]);
    let (c01, c11) = (&colour[1][..width], &colour[1][1..=width]);
    let (a00, a10) = (&alpha[0][..width], &alpha[0][1..=width]);
    let (a01, a11) = (&alpha[1][..width], &alpha[1][1..=width]);
    for n in 0..width {
        let blend = |[here, right, below, across]: [u8; 4]| {
            (u16::from(here) * w00
                + u16::from(right) * w10
                + u16::from(below) * w01
                + u16::from(across) * w11)
                >> 8
        };
        let c = blend([c00[n], c10[n], c01[n], c11[n]]);
        let a = blend([a00[n], a10[n], a01[n], a11[n]]);
        // x × (255 − a) ÷ 255, rounded.
        let rest = u16::from(to[n]) * (255 - a) + 128;
        to[n] = (((rest + (rest >> 8)) >> 8) + c).min(255) as u8;
    }
}

/// Shifts rows `from_row..` of every plane sideways by `shift(row of luma)` pixels and takes them from
/// `rise(row)` rows away: ripples on water. Rows are read from `source`.
pub fn ripple(
    to: &mut Picture,
    source: &Picture,
    (corner_x, corner_y): (f32, f32),
    rows: std::ops::Range<usize>,
    shift: impl Fn(f32) -> (f32, f32),
) {
    for index in 0..3 {
        let scale = if index == 0 { 1.0 } else { 0.5 };
        let step = 1.0 / scale;
        let (plane, from) = (&mut to.planes[index], &source.planes[index]);
        let range = (rows.start as f32 * scale) as usize
            ..((rows.end as f32 * scale) as usize).min(plane.height);
        for row in range {
            let luma_row = row as f32 * step;
            let (dx, dy) = shift(luma_row);
            let x = ((corner_x + dx) * scale).clamp(0.0, (from.width - plane.width - 2) as f32);
            let y = ((corner_y + luma_row + dy) * scale).clamp(0.0, from.height as f32 - 2.01);
            let ((x, fx), (y, fy)) = (split(x), split(y));
            blend_row(plane, row, from, (x as usize, y as usize), (fx, fy));
        }
    }
}

/// Adds grain: `noise` is a plane of values around 128, larger than the frame, read from (`x`, `y`).
pub fn grain(to: &mut Plane, noise: &Plane, x: usize, y: usize) {
    for row in 0..to.height {
        let width = to.width;
        let from = &noise.row(y + row)[x..x + width];
        for (value, grain) in to.data[row * width..(row + 1) * width].iter_mut().zip(from) {
            *value = (i16::from(*value) + i16::from(*grain) - 128).clamp(16, 235) as u8;
        }
    }
}

/// A box blur of every plane, `reach` luma pixels to each side.
pub fn blur(picture: &mut Picture, reach: usize) {
    for (index, plane) in picture.planes.iter_mut().enumerate() {
        let reach = if index == 0 { reach } else { reach / 2 };
        let down = blurred_across(&plane.transposed(), reach).transposed();
        *plane = blurred_across(&down, reach);
    }
}

fn blurred_across(plane: &Plane, reach: usize) -> Plane {
    let mut out = plane.clone();
    let share = (65_536 / (2 * reach + 1)) as u32;
    for (to, from) in out
        .data
        .chunks_exact_mut(plane.width)
        .zip(plane.data.chunks_exact(plane.width))
    {
        let last = plane.width - 1;
        let mut sum: u32 = (0..=2 * reach)
            .map(|n| u32::from(from[n.saturating_sub(reach).min(last)]))
            .sum();
        for (x, value) in to.iter_mut().enumerate() {
            *value = ((sum * share + 32_768) >> 16) as u8;
            sum += u32::from(from[(x + reach + 1).min(last)]);
            sum -= u32::from(from[x.saturating_sub(reach)]);
        }
    }
    out
}

/// Scales light by `gain` (luma above black, chroma about its middle): exposure after the fact.
pub fn expose(picture: &mut Picture, gain: f32) {
    for (index, plane) in picture.planes.iter_mut().enumerate() {
        let middle = if index == 0 { 16.0 } else { 128.0 };
        for value in &mut plane.data {
            let exposed = middle + (f32::from(*value) - middle) * gain;
            *value = exposed.round().clamp(0.0, 255.0) as u8;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn panning_by_whole_pixels_copies() {
        let mut from = Picture::black(40, 30);
        for (n, value) in from.planes[0].data.iter_mut().enumerate() {
            *value = (n * 7 % 200) as u8 + 16;
        }
        let mut to = Picture::black(16, 16);
        pan(&mut to, &from, 4.0, 2.0);
        assert_eq!(to.planes[0].data[0], from.planes[0].data[2 * 40 + 4]);
        assert_eq!(
            to.planes[0].data[15 * 16 + 15],
            from.planes[0].data[17 * 40 + 19]
        );
    }

    #[test]
    fn a_turned_picture_stands_up_when_turned_clockwise() {
        let mut upright = Picture::black(4, 6);
        upright.planes[0].data[3] = 99; // top right
        let lying = upright.turned();
        assert_eq!((lying.planes[0].width, lying.planes[0].height), (6, 4));
        // Clockwise by 90°, top left of the lying picture becomes the top right of the upright one.
        assert_eq!(lying.planes[0].data[0], 99);
    }

    #[test]
    fn a_blur_keeps_a_flat_field_flat() {
        let mut picture = Picture::black(32, 32);
        picture.planes[0].data.fill(120);
        blur(&mut picture, 3);
        assert!(
            picture.planes[0]
                .data
                .iter()
                .all(|value| (119..=120).contains(value))
        );
    }
}
