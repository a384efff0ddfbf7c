//! The frame counter burnt into every take, so that sync and cut can be measured from pictures.
//!
//! Along the bottom of the largest centred 4:3 area of the upright picture runs a row of 28 cells:
//! bright, dark, then 24 bits most significant first (bright is 1), then dark, bright. The bits
//! are 6 of the take's number, 14 of the frame's index (0 is the first frame of the file), and 4
//! of check: the sum of the other five groups of four, modulo 16, exclusive-or 5. A cell is
//! 1/60 of the area wide and 1/80 of its height tall; the row is centred and ends 1.5 of its
//! heights above the bottom.
//! A crop or an inset to 4:3 keeps the row at the same place of the same area.

use super::frame::Plane;

const BITS: u32 = 24;
const CELLS: u32 = BITS + 4;
/// Luma of bright and dark cells: apart enough to survive coding, low enough not to draw the eye.
const BRIGHT: u8 = 88;
const DARK: u8 = 34;

/// What a counter says.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Counter {
    /// The take's number, 0 to 63.
    pub take: u32,
    /// The frame's index in the take, 0 to 16 383.
    pub frame: u32,
}

fn check(bits20: u32) -> u32 {
    let sum: u32 = (0..5).map(|group| (bits20 >> (group * 4)) & 15).sum();
    (sum & 15) ^ 5
}

fn cells(counter: Counter) -> u32 {
    let bits20 = ((counter.take & 63) << 14) | (counter.frame & 0x3fff);
    let bits24 = (bits20 << 4) | check(bits20);
    (0b10 << 26) | (bits24 << 2) | 0b01
}

/// Left, top, cell width and cell height in pixels, for an upright picture.
fn layout(width: usize, height: usize) -> (f32, f32, f32, f32) {
    let (w, h) = (width as f32, height as f32);
    let (area_w, area_h) = if w * 3.0 > h * 4.0 {
        (h * 4.0 / 3.0, h)
    } else {
        (w, w * 0.75)
    };
    let (cell_w, cell_h) = (area_w / 60.0, area_h / 80.0);
    let left = w / 2.0 - cell_w * CELLS as f32 / 2.0;
    let top = h / 2.0 + area_h / 2.0 - cell_h * 2.5;
    (left, top, cell_w, cell_h)
}

/// Draws `counter` into an upright luma plane.
pub fn draw(luma: &mut Plane, counter: Counter) {
    let (left, top, cell_w, cell_h) = layout(luma.width, luma.height);
    let bits = cells(counter);
    let rows = top.round() as usize..((top + cell_h).round() as usize).min(luma.height);
    for row in rows {
        for cell in 0..CELLS {
            let from = (left + cell_w * cell as f32).round() as usize;
            let to = (left + cell_w * (cell + 1) as f32).round() as usize;
            let value = if bits >> (CELLS - 1 - cell) & 1 == 1 {
                BRIGHT
            } else {
                DARK
            };
            luma.data[row * luma.width + from..row * luma.width + to].fill(value);
        }
    }
}

/// Reads the counter from an upright luma (or grey) picture of any size, rows one after another;
/// `None` when there is none or it cannot be trusted.
#[cfg(test)]
pub(crate) fn read_counter(luma: &[u8], width: usize, height: usize) -> Option<Counter> {
    if width < 160 || height < 120 || luma.len() < width * height {
        return None;
    }
    let (left, top, cell_w, cell_h) = layout(width, height);
    let value = |cell: u32| -> f32 {
        // The mean of the middle of the cell.
        let x = left + cell_w * (cell as f32 + 0.5);
        let y = top + cell_h * 0.5;
        let (reach_x, reach_y) = ((cell_w * 0.25).max(0.5), (cell_h * 0.2).max(0.5));
        let (mut sum, mut count) = (0.0, 0.0f32);
        for row in (y - reach_y) as usize..=((y + reach_y) as usize).min(height - 1) {
            for column in (x - reach_x) as usize..=((x + reach_x) as usize).min(width - 1) {
                sum += f32::from(luma[row * width + column]);
                count += 1.0;
            }
        }
        sum / count.max(1.0)
    };
    let values: Vec<f32> = (0..CELLS).map(value).collect();
    let last = CELLS as usize - 1;
    let (bright, dark) = (
        (values[0] + values[last]) / 2.0,
        (values[1] + values[last - 1]) / 2.0,
    );
    if bright - dark < 24.0 {
        return None;
    }
    let middle = (bright + dark) / 2.0;
    let bits = values
        .iter()
        .fold(0u32, |bits, value| (bits << 1) | u32::from(*value > middle));
    if bits >> 26 != 0b10 || bits & 3 != 0b01 {
        return None;
    }
    let bits24 = (bits >> 2) & 0x00ff_ffff;
    let bits20 = bits24 >> 4;
    (check(bits20) == bits24 & 15).then_some(Counter {
        take: bits20 >> 14,
        frame: bits20 & 0x3fff,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn a_counter_reads_back_at_any_size(take in 0u32..64, frame in 0u32..16_384, wide in 0usize..4, grey in 16u8..235) {
            let (width, height) = [(640, 360), (360, 640), (480, 360), (1280, 720)][wide];
            let mut luma = Plane::filled(width, height, grey);
            draw(&mut luma, Counter { take, frame });
            prop_assert_eq!(read_counter(&luma.data, width, height), Some(Counter { take, frame }));
        }
    }

    #[test]
    fn it_survives_a_crop_to_four_by_three_and_noise() {
        let mut luma = Plane::filled(640, 360, 60);
        let counter = Counter {
            take: 21,
            frame: 4711,
        };
        draw(&mut luma, counter);
        let mut dice = crate::dice::Dice::new(1, "noise");
        let cropped: Vec<u8> = luma
            .data
            .chunks_exact(640)
            .flat_map(|row| row[80..560].to_vec())
            .map(|value| (f32::from(value) + dice.normal() * 8.0).clamp(0.0, 255.0) as u8)
            .collect();
        assert_eq!(read_counter(&cropped, 480, 360), Some(counter));
    }

    #[test]
    fn a_picture_without_one_reads_nothing() {
        assert_eq!(read_counter(&vec![90; 640 * 360], 640, 360), None);
        assert_eq!(read_counter(&[], 640, 360), None);
    }
}
