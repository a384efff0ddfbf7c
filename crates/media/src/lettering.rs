//! Letters drawn into a frame: the burnt-in label of a shot and the card that stands for a take
//! that cannot be shown.
//!
//! Built in, so that a preview needs no font file and no text filter of ffmpeg's. Capitals, digits
//! and common signs; small letters are drawn as capitals, anything else as `?`.

/// Rows of a letter.
const ROWS: usize = 7;
/// Columns of a letter; one more is left free after it.
const COLUMNS: usize = 5;

/// A frame in planar YUV 4:2:0, video range, width and height even.
pub(crate) struct Canvas<'a> {
    bytes: &'a mut [u8],
    width: usize,
    height: usize,
}

/// How many bytes a frame has.
pub(crate) fn frame_bytes(width: u32, height: u32) -> usize {
    width as usize * height as usize * 3 / 2
}

/// An all-black frame.
pub(crate) fn black(width: u32, height: u32) -> Vec<u8> {
    let mut frame = vec![128; frame_bytes(width, height)];
    frame[..width as usize * height as usize].fill(16);
    frame
}

/// A dark frame with `lines` in the middle.
pub(crate) fn card(width: u32, height: u32, lines: &[String]) -> Vec<u8> {
    let mut frame = black(width, height);
    frame[..width as usize * height as usize].fill(36);
    if let Some(mut canvas) = Canvas::of(&mut frame, width, height) {
        let size = canvas.letter_size();
        let room = (canvas.width / ((COLUMNS + 1) * size))
            .saturating_sub(2)
            .max(4);
        let lines: Vec<String> = lines
            .iter()
            .flat_map(|line| {
                let letters: Vec<char> = line.chars().collect();
                letters
                    .chunks(room)
                    .map(String::from_iter)
                    .collect::<Vec<_>>()
            })
            .take(6)
            .collect();
        let step = (ROWS + 4) * size;
        let mut top = (canvas.height / 2).saturating_sub(lines.len() * step / 2);
        for line in &lines {
            let wide = line.chars().count() * (COLUMNS + 1) * size;
            canvas.write(line, canvas.width.saturating_sub(wide) / 2, top, size, 190);
            top += step;
        }
    }
    frame
}

impl<'a> Canvas<'a> {
    /// `None` when `bytes` are not one frame of that size.
    pub(crate) fn of(bytes: &'a mut [u8], width: u32, height: u32) -> Option<Self> {
        (bytes.len() == frame_bytes(width, height)).then_some(Self {
            bytes,
            width: width as usize,
            height: height as usize,
        })
    }

    /// Writes `text` in the lower left corner, light on a dark strip.
    pub(crate) fn label(&mut self, text: &str) {
        let size = self.letter_size();
        let margin = 4 * size;
        let high = (ROWS + 4) * size;
        let wide = (text.chars().count() * (COLUMNS + 1) + 3) * size;
        let top = self.height.saturating_sub(high + margin);
        self.darken(margin, top, wide, high);
        self.write(text, margin + 2 * size, top + 2 * size, size, 225);
    }

    /// Pixels per dot of a letter: a letter is about a thirtieth of the frame's height.
    fn letter_size(&self) -> usize {
        (self.height / 240).max(1)
    }

    fn darken(&mut self, left: usize, top: usize, wide: usize, high: usize) {
        let (right, bottom) = ((left + wide).min(self.width), (top + high).min(self.height));
        for y in top..bottom {
            if left < right {
                self.bytes[y * self.width + left..y * self.width + right].fill(24);
            }
        }
        let luma = self.width * self.height;
        let (half_width, half_height) = (self.width / 2, self.height / 2);
        for plane in 0..2 {
            let start = luma + plane * half_width * half_height;
            for y in top / 2..bottom / 2 {
                let row = start + y * half_width;
                if left < right {
                    self.bytes[row + left / 2..row + right / 2].fill(128);
                }
            }
        }
    }

    fn write(&mut self, text: &str, left: usize, top: usize, size: usize, luma: u8) {
        for (index, letter) in text.chars().enumerate() {
            let dots = dots(letter);
            let from = left + index * (COLUMNS + 1) * size;
            for (row, bits) in dots.iter().enumerate() {
                for column in (0..COLUMNS).filter(|c| bits >> (COLUMNS - 1 - c) & 1 == 1) {
                    self.dot(from + column * size, top + row * size, size, luma);
                }
            }
        }
    }

    fn dot(&mut self, left: usize, top: usize, size: usize, luma: u8) {
        let right = (left + size).min(self.width);
        for y in top..(top + size).min(self.height) {
            if left < right {
                self.bytes[y * self.width + left..y * self.width + right].fill(luma);
            }
        }
    }
}

/// Seven rows of five dots for each letter, the highest bit on the left. Drawn for this program.
#[rustfmt::skip]
const LETTERS: [(char, [u8; ROWS]); 54] = [
    (' ', [0; ROWS]),
    ('A', [0b00100, 0b01010, 0b10001, 0b10001, 0b11111, 0b10001, 0b10001]),
    ('B', [0b11110, 0b10001, 0b10001, 0b11110, 0b10001, 0b10001, 0b11110]),
    ('C', [0b01111, 0b10000, 0b10000, 0b10000, 0b10000, 0b10000, 0b01111]),
    ('D', [0b11110, 0b10001, 0b10001, 0b10001, 0b10001, 0b10001, 0b11110]),
    ('E', [0b11111, 0b10000, 0b10000, 0b11110, 0b10000, 0b10000, 0b11111]),
    ('F', [0b11111, 0b10000, 0b10000, 0b11110, 0b10000, 0b10000, 0b10000]),
    ('G', [0b01111, 0b10000, 0b10000, 0b10011, 0b10001, 0b10001, 0b01111]),
    ('H', [0b10001, 0b10001, 0b10001, 0b11111, 0b10001, 0b10001, 0b10001]),
    ('I', [0b01110, 0b00100, 0b00100, 0b00100, 0b00100, 0b00100, 0b01110]),
    ('J', [0b00111, 0b00010, 0b00010, 0b00010, 0b00010, 0b10010, 0b01100]),
    ('K', [0b10001, 0b10010, 0b10100, 0b11000, 0b10100, 0b10010, 0b10001]),
    ('L', [0b10000, 0b10000, 0b10000, 0b10000, 0b10000, 0b10000, 0b11111]),
    ('M', [0b10001, 0b11011, 0b10101, 0b10101, 0b10001, 0b10001, 0b10001]),
    ('N', [0b10001, 0b11001, 0b11001, 0b10101, 0b10011, 0b10011, 0b10001]),
    ('O', [0b01110, 0b10001, 0b10001, 0b10001, 0b10001, 0b10001, 0b01110]),
    ('P', [0b11110, 0b10001, 0b10001, 0b11110, 0b10000, 0b10000, 0b10000]),
    ('Q', [0b01110, 0b10001, 0b10001, 0b10001, 0b10101, 0b10010, 0b01101]),
    ('R', [0b11110, 0b10001, 0b10001, 0b11110, 0b10100, 0b10010, 0b10001]),
    ('S', [0b01111, 0b10000, 0b10000, 0b01110, 0b00001, 0b00001, 0b11110]),
    ('T', [0b11111, 0b00100, 0b00100, 0b00100, 0b00100, 0b00100, 0b00100]),
    ('U', [0b10001, 0b10001, 0b10001, 0b10001, 0b10001, 0b10001, 0b01110]),
    ('V', [0b10001, 0b10001, 0b10001, 0b10001, 0b01010, 0b01010, 0b00100]),
    ('W', [0b10001, 0b10001, 0b10001, 0b10101, 0b10101, 0b11011, 0b10001]),
    ('X', [0b10001, 0b10001, 0b01010, 0b00100, 0b01010, 0b10001, 0b10001]),
    ('Y', [0b10001, 0b10001, 0b01010, 0b00100, 0b00100, 0b00100, 0b00100]),
    ('Z', [0b11111, 0b00001, 0b00010, 0b00100, 0b01000, 0b10000, 0b11111]),
    ('0', [0b01110, 0b10001, 0b10011, 0b10101, 0b11001, 0b10001, 0b01110]),
    ('1', [0b00100, 0b01100, 0b00100, 0b00100, 0b00100, 0b00100, 0b01110]),
    ('2', [0b01110, 0b10001, 0b00001, 0b00110, 0b01000, 0b10000, 0b11111]),
    ('3', [0b11110, 0b00001, 0b00001, 0b01110, 0b00001, 0b00001, 0b11110]),
    ('4', [0b00010, 0b00110, 0b01010, 0b10010, 0b11111, 0b00010, 0b00010]),
    ('5', [0b11111, 0b10000, 0b11110, 0b00001, 0b00001, 0b10001, 0b01110]),
    ('6', [0b00110, 0b01000, 0b10000, 0b11110, 0b10001, 0b10001, 0b01110]),
    ('7', [0b11111, 0b00001, 0b00010, 0b00010, 0b00100, 0b00100, 0b00100]),
    ('8', [0b01110, 0b10001, 0b10001, 0b01110, 0b10001, 0b10001, 0b01110]),
    ('9', [0b01110, 0b10001, 0b10001, 0b01111, 0b00001, 0b00010, 0b01100]),
    ('.', [0, 0, 0, 0, 0, 0b01100, 0b01100]),
    (',', [0, 0, 0, 0, 0b01100, 0b00100, 0b01000]),
    (':', [0, 0b01100, 0b01100, 0, 0b01100, 0b01100, 0]),
    (';', [0, 0b01100, 0b01100, 0, 0b01100, 0b00100, 0b01000]),
    ('-', [0, 0, 0, 0b01110, 0, 0, 0]),
    ('_', [0, 0, 0, 0, 0, 0, 0b11111]),
    ('+', [0, 0b00100, 0b00100, 0b11111, 0b00100, 0b00100, 0]),
    ('=', [0, 0, 0b11111, 0, 0b11111, 0, 0]),
    ('/', [0b00001, 0b00001, 0b00010, 0b00100, 0b01000, 0b10000, 0b10000]),
    ('(', [0b00010, 0b00100, 0b01000, 0b01000, 0b01000, 0b00100, 0b00010]),
    (')', [0b01000, 0b00100, 0b00010, 0b00010, 0b00010, 0b00100, 0b01000]),
    ('\'', [0b00100, 0b00100, 0, 0, 0, 0, 0]),
    ('"', [0b01010, 0b01010, 0, 0, 0, 0, 0]),
    ('!', [0b00100, 0b00100, 0b00100, 0b00100, 0b00100, 0, 0b00100]),
    ('#', [0b01010, 0b11111, 0b01010, 0b01010, 0b01010, 0b11111, 0b01010]),
    ('%', [0b11001, 0b11001, 0b00010, 0b00100, 0b01000, 0b10011, 0b10011]),
    ('·', [0, 0, 0, 0b00100, 0, 0, 0]),
];

/// What stands for a letter that is not drawn.
const UNKNOWN: [u8; ROWS] = [0b01110, 0b10001, 0b00001, 0b00110, 0b00100, 0, 0b00100];

fn dots(letter: char) -> [u8; ROWS] {
    let wanted = letter.to_ascii_uppercase();
    let known = LETTERS.iter().find(|(letter, _)| *letter == wanted);
    known.map_or(UNKNOWN, |(_, dots)| *dots)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn letters_differ() {
        let all = " ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789.,:;-_+=/()'\"!#%·?";
        for (index, a) in all.chars().enumerate() {
            for b in all.chars().skip(index + 1) {
                assert_ne!(dots(a), dots(b), "{a} {b}");
            }
        }
    }

    proptest! {
        #[test]
        fn any_text_fits_any_frame(text in ".{0,300}", width in 1u32..200, height in 1u32..200) {
            let (width, height) = (width * 2, height * 2);
            let mut frame = card(width, height, std::slice::from_ref(&text));
            prop_assert_eq!(frame.len(), frame_bytes(width, height));
            Canvas::of(&mut frame, width, height).unwrap().label(&text);
            prop_assert!(frame.iter().all(|b| (16..=235).contains(b)));
        }
    }
}
