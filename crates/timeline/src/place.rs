//! Each shot's two sides: frames of the cut, and frames of the take.

use crate::edit::Edit;
use crate::error::Note;
use crate::ratio::Ratio;
use crate::timecode::Timecode;
use model::FrameRate;

/// A shot with both its sides worked out. Placed shots tile the cut from frame 0.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PlacedShot {
    /// First frame of the cut it fills.
    pub from_frame: i64,
    /// First frame after it.
    pub to_frame: i64,
    /// What is seen; `None` is black.
    pub source: Option<Source>,
    /// Whether the lips should fit here.
    pub in_sync: bool,
    /// Whether the maker locked it.
    pub locked: bool,
}

/// The take's side of a shot.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Source {
    /// Index into [`Edit::takes`].
    pub take: usize,
    /// The take's own rate.
    pub rate: FrameRate,
    /// The take's frame nearest to where the shot starts, counted from 0, the first frame of the file.
    pub start_frame: i64,
    /// How many of the take's frames pass during the shot, exactly: record frames × take rate ÷
    /// cut rate × time scalar.
    pub frames: Ratio,
    /// Take seconds per record second.
    pub time_scalar: Ratio,
    /// Timecode of `start_frame`, at the take's own rate and counting.
    pub timecode: Timecode,
    /// How many frames the take has; `None` when unknown.
    pub available: Option<i64>,
}

impl PlacedShot {
    /// How many frames of the cut it fills.
    pub fn frames(&self) -> i64 {
        self.to_frame - self.from_frame
    }
}

/// Both sides of every shot, tiling the cut from frame 0 to its end without gap or overlap, and
/// notes on what had to be set right.
pub fn placed_shots(edit: &Edit<'_>) -> (Vec<PlacedShot>, Vec<Note>) {
    let _ = edit;
    (Vec::new(), Vec::new())
}
