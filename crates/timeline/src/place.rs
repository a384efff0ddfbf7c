//! Each shot's two sides: frames of the cut, and frames of the take.
//!
//! A take's frames are counted evenly at its rate from its first frame, wherever in the file that
//! is shown ([`model::Picture::start_s`]). Its start timecode is read as counted at the same rate;
//! a camera that counts a 50 or 60 picture in pairs of frames puts labels up to half a second off,
//! which does not touch the frames themselves.

use crate::edit::{Edit, TakeRef};
use crate::error::Note;
use crate::ratio::Ratio;
use crate::timecode::{Counting, Timecode};
use model::{FrameRate, Shot, SongTime, TICKS_PER_SECOND};

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
    /// Timecode of the file's first frame, at the take's own rate and counting: 00:00:00:00 when
    /// the file has none.
    pub file_start: Timecode,
    /// How many frames the take has.
    pub available: i64,
}

impl PlacedShot {
    /// How many frames of the cut it fills.
    pub fn frames(&self) -> i64 {
        self.to_frame - self.from_frame
    }
}

impl Source {
    /// Timecode of `start_frame`, at the take's own rate and counting.
    pub fn timecode(&self) -> Timecode {
        self.file_start.plus(self.start_frame)
    }
}

/// Both sides of every shot, tiling the cut from frame 0 to its end without gap or overlap, and
/// notes on what had to be set right.
///
/// A shot whose take is unknown becomes black; holes are filled with black; of shots that overlap
/// the earlier one stays whole. A shot that runs past the end of its take keeps its length.
pub fn placed_shots(edit: &Edit<'_>) -> (Vec<PlacedShot>, Vec<Note>) {
    let mut notes = Vec::new();
    let mut files: Vec<Option<TakeFile>> = vec![None; edit.takes.len()];
    let mut placed: Vec<PlacedShot> = Vec::with_capacity(edit.cut.shots.len());
    let mut end = 0_i64;
    for (index, shot) in edit.cut.shots.iter().enumerate() {
        let number = index + 1;
        if shot.to_frame <= shot.from_frame || shot.to_frame <= end {
            notes.push(Note::Covered {
                shot: number,
                from: shot.from_frame,
                to: shot.to_frame,
            });
            continue;
        }
        if shot.from_frame > end {
            notes.push(Note::Hole {
                from: end,
                to: shot.from_frame,
            });
            placed.push(black(end, shot.from_frame));
        }
        let from = shot.from_frame.max(end);
        let late = from.saturating_sub(shot.from_frame);
        if late > 0 {
            notes.push(Note::Overlap {
                shot: number,
                frames: late,
            });
        }
        let source = source_of(edit, shot, number, from, late, &mut files, &mut notes);
        placed.push(PlacedShot {
            source,
            in_sync: shot.in_sync && source.is_some(),
            locked: shot.locked,
            ..black(from, shot.to_frame)
        });
        end = shot.to_frame;
    }
    let song = edit.cut.rate.frames_to_hold(edit.song.length);
    if song != end {
        notes.push(Note::NotTheSong { cut: end, song });
    }
    (placed, notes)
}

fn black(from_frame: i64, to_frame: i64) -> PlacedShot {
    PlacedShot {
        from_frame,
        to_frame,
        source: None,
        in_sync: false,
        locked: false,
    }
}

/// What a take's file is, for counting its frames.
#[derive(Clone, Copy)]
struct TakeFile {
    rate: FrameRate,
    start: Timecode,
    /// When its first frame is shown, in ticks from the start of the file.
    first_shown: i64,
    frames: i64,
}

/// The take's side of `shot`, `late` frames into it.
fn source_of(
    edit: &Edit<'_>,
    shot: &Shot,
    number: usize,
    from: i64,
    late: i64,
    files: &mut [Option<TakeFile>],
    notes: &mut Vec<Note>,
) -> Option<Source> {
    let id = shot.take.as_ref()?;
    let Some(take) = edit.takes.iter().position(|take| take.id == *id) else {
        notes.push(Note::NoSuchTake {
            shot: number,
            take: id.to_string(),
        });
        return None;
    };
    let file =
        *files[take].get_or_insert_with(|| take_file(&edit.takes[take], edit.cut.rate, notes));
    let time_scalar = match Ratio::nearest(shot.speed) {
        Some(speed) if (0.01..=100.0).contains(&shot.speed) => speed.inverse(),
        _ => {
            notes.push(Note::Speed {
                shot: number,
                speed: shot.speed,
            });
            Ratio::ONE
        }
    };
    let cut = edit.cut.rate;
    let per_frame = Ratio::new(i128::from(cut.den()), i128::from(cut.num()));
    let passed = Ratio::new(i128::from(late), 1)
        .times(per_frame)
        .times(time_scalar)
        .times(Ratio::new(i128::from(TICKS_PER_SECOND), 1))
        .round();
    let into = shot
        .take_start
        .ticks()
        .saturating_add(passed)
        .saturating_sub(file.first_shown);
    let start_frame = file.rate.nearest_frame_to_ticks(into).max(0);
    // Take frames per record frame.
    let step = Ratio::new(i128::from(file.rate.num()), i128::from(file.rate.den()))
        .times(per_frame)
        .times(time_scalar);
    let record = shot.to_frame - from;
    let last = step.times(Ratio::new(i128::from(record - 1), 1)).floor();
    let needed = start_frame.saturating_add(last).saturating_add(1);
    if needed > file.frames {
        notes.push(Note::PastTheEnd {
            shot: number,
            take: id.to_string(),
            needed,
            has: file.frames,
        });
    }
    Some(Source {
        take,
        rate: file.rate,
        start_frame,
        frames: step.times(Ratio::new(i128::from(record), 1)),
        time_scalar,
        file_start: file.start,
        available: file.frames,
    })
}

/// Rate, start and frames of a take; a note for each thing that had to be assumed.
fn take_file(take: &TakeRef, cut_rate: FrameRate, notes: &mut Vec<Note>) -> TakeFile {
    let midnight = |rate| Timecode::from_frame(0, rate, Counting::NonDrop);
    let Some(picture) = &take.picture else {
        notes.push(Note::NotProbed {
            take: take.id.to_string(),
            rate: cut_rate,
        });
        return TakeFile {
            rate: cut_rate,
            start: midnight(cut_rate),
            first_shown: 0,
            frames: cut_rate.nearest_frame_to_ticks(take.length.ticks()),
        };
    };
    let rate = picture.rate;
    if picture.variable_rate {
        notes.push(Note::VariableRate {
            take: take.id.to_string(),
            rate,
        });
    }
    let start = match &picture.start_timecode {
        None => midnight(rate),
        Some(text) => Timecode::parse(text, rate).unwrap_or_else(|why| {
            notes.push(Note::StartTimecode {
                take: take.id.to_string(),
                why,
            });
            midnight(rate)
        }),
    };
    let counted = picture.frames.and_then(|n| i64::try_from(n).ok());
    TakeFile {
        rate,
        start,
        first_shown: SongTime::nearest_to_seconds(picture.start_s).ticks(),
        frames: counted.unwrap_or_else(|| rate.nearest_frame_to_ticks(picture.length.ticks())),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::edit::sample;
    use model::Length;

    fn one(edit: &Edit<'_>) -> Source {
        placed_shots(edit).0[0].source.unwrap()
    }

    #[test]
    fn a_double_speed_pass_plays_at_half_speed_in_its_own_frames() {
        // By hand: 60 shown at 24 is ratio 2.5.
        let mut world = sample::world(FrameRate::FPS_24, 48);
        world.takes[0] = sample::take("slow", FrameRate::new(60, 1).unwrap(), Some("10:00:00:00"));
        world.cut.shots[0] = sample::shot(0, 48, "slow", 1.5, 2.5);
        let source = one(&world.edit());
        assert_eq!(source.start_frame, 90);
        assert_eq!(source.time_scalar, Ratio::new(2, 5));
        // 2 s of cut, 0.8 s of take, 48 of its frames.
        assert_eq!(source.frames, Ratio::new(48, 1));
        assert_eq!(source.timecode().to_string(), "10:00:01:30");
    }

    #[test]
    fn the_nearest_frame_of_the_take_is_taken() {
        let mut world = sample::world(FrameRate::FPS_24, 48);
        for (take_start, frame) in [(0.0, 0), (0.019, 0), (0.021, 1), (1.0, 25), (0.97, 24)] {
            world.takes[0] = sample::take("a", FrameRate::FPS_25, None);
            world.cut.shots[0] = sample::shot(0, 48, "a", take_start, 1.0);
            assert_eq!(one(&world.edit()).start_frame, frame, "{take_start}");
        }
    }

    #[test]
    fn a_picture_that_starts_late_in_its_file_is_counted_from_its_first_frame() {
        let mut world = sample::world(FrameRate::FPS_25, 25);
        world.takes[0] = sample::take("a", FrameRate::FPS_25, None);
        world.takes[0].picture.as_mut().unwrap().start_s = 0.08;
        world.cut.shots[0] = sample::shot(0, 25, "a", 1.0, 1.0);
        assert_eq!(one(&world.edit()).start_frame, 23);
        world.cut.shots[0].take_start = Length::ZERO;
        assert_eq!(one(&world.edit()).start_frame, 0);
    }

    #[test]
    fn holes_overlaps_and_nonsense_are_set_right_and_noted() {
        let mut world = sample::world(FrameRate::FPS_25, 100);
        world.takes[0] = sample::take("a", FrameRate::FPS_25, None);
        world.cut.shots = vec![
            sample::shot(-5, 20, "a", 0.2, 1.0),
            sample::shot(30, 50, "nobody", 0.0, 1.0),
            sample::shot(40, 60, "a", 0.0, 2.0),
            sample::shot(55, 55, "a", 0.0, 1.0),
            sample::shot(60, 90, "a", 0.0, f64::NAN),
        ];
        let (shots, notes) = placed_shots(&world.edit());
        let tiles: Vec<_> = shots
            .iter()
            .map(|s| (s.from_frame, s.to_frame, s.source.map(|s| s.start_frame)))
            .collect();
        assert_eq!(
            tiles,
            [
                (0, 20, Some(10)),
                (20, 30, None),
                (30, 50, None),
                (50, 60, Some(5)),
                (60, 90, Some(0))
            ]
        );
        let kinds: Vec<_> = notes.iter().map(|n| n.to_string()).collect();
        assert!(
            matches!(notes[0], Note::Overlap { shot: 1, frames: 5 }),
            "{kinds:?}"
        );
        assert_eq!(notes[1], Note::Hole { from: 20, to: 30 });
        assert!(matches!(notes[2], Note::NoSuchTake { shot: 2, .. }));
        assert_eq!(
            notes[3],
            Note::Overlap {
                shot: 3,
                frames: 10
            }
        );
        assert!(matches!(notes[4], Note::Covered { shot: 4, .. }));
        assert!(matches!(notes[5], Note::Speed { shot: 5, .. }));
        assert_eq!(notes[6], Note::NotTheSong { cut: 90, song: 100 });
    }

    #[test]
    fn a_shot_past_the_end_of_its_take_is_kept_and_noted() {
        let mut world = sample::world(FrameRate::FPS_25, 100);
        world.takes[0] = sample::take("a", FrameRate::FPS_25, None);
        world.takes[0].picture.as_mut().unwrap().frames = Some(50);
        world.cut.shots = vec![
            sample::shot(0, 50, "a", 0.0, 1.0),
            sample::shot(50, 100, "a", 0.04, 1.0),
        ];
        let (shots, notes) = placed_shots(&world.edit());
        assert_eq!(shots[1].frames(), 50);
        assert_eq!(
            notes,
            [Note::PastTheEnd {
                shot: 2,
                take: "a".into(),
                needed: 51,
                has: 50
            }]
        );
    }

    #[test]
    fn what_a_take_lacks_is_assumed_once_and_noted() {
        let mut world = sample::world(FrameRate::FPS_25, 100);
        world.takes[0] = sample::take("a", FrameRate::FPS_25, Some("25:00:00:00"));
        world.takes.push(sample::take("b", FrameRate::FPS_25, None));
        world.takes[1].picture = None;
        world.cut.shots = vec![
            sample::shot(0, 25, "a", 0.0, 1.0),
            sample::shot(25, 50, "b", 0.0, 1.0),
            sample::shot(50, 75, "a", 2.0, 1.0),
            sample::shot(75, 100, "b", 2.0, 1.0),
        ];
        let (shots, notes) = placed_shots(&world.edit());
        assert_eq!(notes.len(), 2, "{notes:?}");
        assert_eq!(
            shots[2].source.unwrap().timecode().to_string(),
            "00:00:02:00"
        );
        assert_eq!(shots[3].source.unwrap().rate, FrameRate::FPS_25);
    }
}
