//! What a take's picture is like over time, measured from small grey frames.

use model::{Length, PictureTrack};

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

/// Measures frames one by one, so that a take need not be held in memory.
#[derive(Clone, Debug, Default)]
pub struct Meter {}

impl Meter {
    /// Takes in the next frame, in order of time.
    pub fn push(&mut self, at: Length, width: usize, height: usize, luma: &[u8]) {
        let _ = (at, width, height, luma);
    }

    /// What was measured.
    pub fn finish(self) -> PictureTrack {
        PictureTrack::default()
    }
}

/// What the picture is like over time.
pub fn measure(frames: impl IntoIterator<Item = GrayFrame>) -> PictureTrack {
    let mut meter = Meter::default();
    for frame in frames {
        meter.push(frame.at, frame.width, frame.height, &frame.luma);
    }
    meter.finish()
}
