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

    /// Turned a quarter anticlockwise, so that a player told to turn it 90° clockwise shows it upright.
    pub fn turned(&self) -> Self {
        let turn = |plane: &Plane| {
            let (width, height) = (plane.height, plane.width);
            let mut data = vec![0; width * height];
            for (y, row) in plane.data.chunks_exact(plane.width).enumerate() {
                for (x, value) in row.iter().enumerate() {
                    data[(height - 1 - x) * width + y] = *value;
                }
            }
            Plane {
                width,
                height,
                data,
            }
        };
        Self {
            planes: [
                turn(&self.planes[0]),
                turn(&self.planes[1]),
                turn(&self.planes[2]),
            ],
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
        let above = &from.row(y as usize + row)[x as usize..];
        let below = &from.row(y as usize + row + 1)[x as usize..];
        let width = to.width;
        blend_rows(
            &mut to.data[row * width..(row + 1) * width],
            above,
            below,
            fx,
            fy,
        );
    }
}

fn blend_rows(to: &mut [u8], above: &[u8], below: &[u8], fx: u32, fy: u32) {
    let width = to.len();
    let (a0, a1) = (&above[..width], &above[1..=width]);
    let (b0, b1) = (&below[..width], &below[1..=width]);
    // Weights of 8 bits together, so that sums stay within 16 bits.
    let w11 = ((fx * fy) >> 8) as u16;
    let w10 = (fx as u16).saturating_sub(w11);
    let w01 = (fy as u16).saturating_sub(w11);
    let w00 = 256 - w11 - w10 - w01;
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
        let alpha = &sprite.alpha[usize::from(index > 0)];
        set_in_plane(
            &mut to.planes[index],
            &sprite.colours[index],
            alpha,
            (x * scale, y * scale),
            shear,
            pivot_row * scale,
        );
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
        let slice = |plane: &Plane, row: usize| -> (usize, usize) {
            let start = row * plane.width + skip;
            (start, start + width + 1)
        };
        let above = slice(colour, source_row);
        let below = slice(colour, source_row + 1);
        let target_start = row as usize * to.width + from_x;
        mix_row(
            &mut to.data[target_start..target_start + width],
            [
                &colour.data[above.0..above.1],
                &colour.data[below.0..below.1],
            ],
            [&alpha.data[above.0..above.1], &alpha.data[below.0..below.1]],
            fx,
            fy,
        );
    }
}

fn mix_row(to: &mut [u8], colour: [&[u8]; 2], alpha: [&[u8]; 2], fx: u32, fy: u32) {
    let width = to.len();
    let w11 = ((fx * fy) >> 8) as u16;
    let w10 = (fx as u16).saturating_sub(w11);
    let w01 = (fy as u16).saturating_sub(w11);
    let w00 = 256 - w11 - w10 - w01;
    let (c00, c10) = (&colour[0][..width], &colour[0][1..=width]);
    let (c01, c11) = (&colour[1][..width], &colour[1][1..=width]);
    let (a00, a10) = (&alpha[0][..width], &alpha[0][1..=width]);
    let (a01, a11) = (&alpha[1][..width], &alpha[1][1..=width]);
    for n in 0..width {
        let c = (u16::from(c00[n]) * w00
            + u16::from(c10[n]) * w10
            + u16::from(c01[n]) * w01
            + u16::from(c11[n]) * w11)
            >> 8;
        let a = (u16::from(a00[n]) * w00
            + u16::from(a10[n]) * w10
            + u16::from(a01[n]) * w01
            + u16::from(a11[n]) * w11)
            >> 8;
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
            let above = &from.row(y as usize)[x as usize..];
            let below = &from.row(y as usize + 1)[x as usize..];
            let width = plane.width;
            blend_rows(
                &mut plane.data[row * width..(row + 1) * width],
                above,
                below,
                fx,
                fy,
            );
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
        *plane = blurred_across(&blurred_down(plane, reach), reach);
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

fn blurred_down(plane: &Plane, reach: usize) -> Plane {
    let mut out = plane.clone();
    let share = (65_536 / (2 * reach + 1)) as u32;
    let last = plane.height - 1;
    let mut sums = vec![0u32; plane.width];
    for n in 0..=2 * reach {
        let row = plane.row(n.saturating_sub(reach).min(last));
        sums.iter_mut()
            .zip(row)
            .for_each(|(sum, value)| *sum += u32::from(*value));
    }
    for y in 0..plane.height {
        let (added, gone) = (
            plane.row((y + reach + 1).min(last)),
            plane.row(y.saturating_sub(reach)),
        );
        let to = &mut out.data[y * plane.width..(y + 1) * plane.width];
        for (x, value) in to.iter_mut().enumerate() {
            *value = ((sums[x] * share + 32_768) >> 16) as u8;
            sums[x] += u32::from(added[x]);
            sums[x] -= u32::from(gone[x]);
        }
    }
    out
}

/// Scales light by `gain` (luma above black, chroma about its middle): exposure after the fact.
pub fn expose(picture: &mut Picture, gain: f32) {
    for (index, plane) in picture.planes.iter_mut().enumerate() {
        let middle = if index == 0 { 16.0 } else { 128.0 };
        let table: Vec<u8> = (0..256)
            .map(|value| {
                (middle + (value as f32 - middle) * gain)
                    .round()
                    .clamp(0.0, 255.0) as u8
            })
            .collect();
        plane
            .data
            .iter_mut()
            .for_each(|value| *value = table[usize::from(*value)]);
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
