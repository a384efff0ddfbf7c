//! The cut shot by shot, as numbers for a machine and as a table for a person.
//!
//! The same numbers as in the timelines, so that those can be read back and compared with it.

use crate::edit::Edit;
use crate::place::{PlacedShot, placed_shots};
use crate::url;
use model::SongTime;
use serde::{Deserialize, Serialize};

/// The cut, shot by shot.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Listing {
    /// What the timeline is called.
    pub title: String,
    /// Version of the cut.
    pub version: u32,
    /// The cut's rate, as a fraction: `24000/1001`.
    pub rate: String,
    /// Frames of the cut.
    pub frames: i64,
    /// Frames that hold the song.
    pub song_frames: i64,
    /// The song's file, as the timelines refer to it.
    pub song_url: String,
    /// Samples of the song.
    pub song_samples: i64,
    /// Samples of the song per second.
    pub song_rate_hz: u32,
    /// Record timecode of frame 0.
    pub record_start: String,
    /// The shots, tiling the cut.
    pub shots: Vec<ListedShot>,
    /// The sections, in frames of the cut.
    pub sections: Vec<ListedSection>,
    /// What the reader should know.
    pub notes: Vec<String>,
}

/// One shot, both sides.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ListedShot {
    /// First frame of the cut it fills.
    pub from_frame: i64,
    /// First frame after it.
    pub to_frame: i64,
    /// Record timecode of `from_frame`.
    pub record_in: String,
    /// Record timecode of `to_frame`.
    pub record_out: String,
    /// What is seen; `null` is black.
    pub source: Option<ListedSource>,
    /// Whether the lips should fit here.
    pub in_sync: bool,
    /// Whether the maker locked it.
    pub locked: bool,
    /// The section it starts in: `B2`, or its name.
    pub section: String,
    /// Bar it starts in, counted from 1.
    pub bar: u32,
    /// Beat it starts on, counted from 1.
    pub beat: u32,
    /// The lyric line sung as it starts.
    pub lyric: Option<String>,
}

/// The take's side of a shot.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ListedSource {
    /// The take's id.
    pub take: String,
    /// The take's file name.
    pub name: String,
    /// The take's file, as the timelines refer to it.
    pub url: String,
    /// The take's own rate, as a fraction.
    pub rate: String,
    /// Timecode of the file's first frame.
    pub file_start: String,
    /// How many frames the take has.
    pub available: i64,
    /// The take's frame the shot starts on, from 0.
    pub start_frame: i64,
    /// Timecode of `start_frame`.
    pub timecode: String,
    /// How many of the take's frames pass, as an exact fraction.
    pub frames: String,
    /// Take seconds per record second, as an exact fraction.
    pub time_scalar: String,
    /// Song seconds per take second: the inverse of `time_scalar`.
    pub speed: f64,
}

/// One section of the song, in frames of the cut.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct ListedSection {
    /// What it is called: `B2`, or its name.
    pub call: String,
    /// First frame of the cut in it.
    pub from_frame: i64,
    /// First frame after it.
    pub to_frame: i64,
}

/// The cut as a listing.
pub fn listing(edit: &Edit<'_>) -> Listing {
    let (shots, notes) = placed_shots(edit);
    let end = shots.last().map_or(0, |shot| shot.to_frame);
    let sections = (0..edit.map.sections.len()).filter_map(|index| {
        let (from_frame, to_frame) = edit.frames_of(edit.map.sections[index].at, end)?;
        Some(ListedSection {
            call: section_name(edit, index),
            from_frame,
            to_frame,
        })
    });
    Listing {
        title: edit.title.to_owned(),
        version: edit.cut.version,
        rate: edit.cut.rate.to_string(),
        frames: end,
        song_frames: edit.cut.rate.frames_to_hold(edit.song.length),
        song_url: url::reference(edit.to_project, &edit.song.path),
        song_samples: edit.song.samples(),
        song_rate_hz: edit.song.rate_hz,
        record_start: edit.record_start().to_string(),
        shots: shots.iter().map(|shot| listed(edit, shot)).collect(),
        sections: sections.collect(),
        notes: notes.iter().map(ToString::to_string).collect(),
    }
}

fn listed(edit: &Edit<'_>, shot: &PlacedShot) -> ListedShot {
    // A shot that starts on a beat starts on a frame beside it: the last tick of its first frame
    // is on the right side of the beat however that frame was rounded.
    let next = edit
        .cut
        .rate
        .ticks_of_frame(shot.from_frame.saturating_add(1));
    let at = SongTime::from_ticks(next.saturating_sub(1));
    let (bar, beat) = if edit.map.bars.is_empty() {
        (0, 1)
    } else {
        edit.map.address(at)
    };
    let section = if edit.map.sections.is_empty() {
        String::new()
    } else {
        section_name(edit, edit.map.section_index_at(at))
    };
    let lyric = edit
        .lyrics
        .iter()
        .find(|line| line.at.is_some_and(|stretch| stretch.holds(at)));
    ListedShot {
        from_frame: shot.from_frame,
        to_frame: shot.to_frame,
        record_in: edit.record_timecode(shot.from_frame).to_string(),
        record_out: edit.record_timecode(shot.to_frame).to_string(),
        source: shot.source.map(|source| {
            let take = &edit.takes[source.take];
            ListedSource {
                take: take.id.to_string(),
                name: take.name.clone(),
                url: url::reference(edit.to_project, &take.path),
                rate: source.rate.to_string(),
                file_start: source.file_start.to_string(),
                available: source.available,
                start_frame: source.start_frame,
                timecode: source.timecode().to_string(),
                frames: source.frames.to_string(),
                time_scalar: source.time_scalar.to_string(),
                speed: source.time_scalar.inverse().value(),
            }
        }),
        in_sync: shot.in_sync,
        locked: shot.locked,
        section,
        bar,
        beat,
        lyric: lyric.map(|line| line.text.clone()),
    }
}

fn section_name(edit: &Edit<'_>, index: usize) -> String {
    edit.map.sections[index]
        .name
        .clone()
        .unwrap_or_else(|| edit.map.section_call(index))
}

impl Listing {
    /// As JSON, indented, with a line end.
    ///
    /// # Panics
    /// Never: text and numbers always serialise.
    pub fn to_json(&self) -> String {
        let mut text = serde_json::to_string_pretty(self).unwrap_or_default();
        text.push('\n');
        text
    }

    /// A table for the terminal: one line per shot.
    pub fn to_text(&self) -> String {
        let head = [
            "shot", "record", "frames", "bar", "section", "take", "from", "plays at", "",
        ];
        let mut rows = vec![head.map(str::to_owned)];
        for (number, shot) in (1..).zip(&self.shots) {
            let (take, from, speed) = match &shot.source {
                None => ("black".to_owned(), String::new(), String::new()),
                Some(source) => (
                    plain(&source.take),
                    source.timecode.clone(),
                    percent(source.speed),
                ),
            };
            let marks = [(shot.in_sync, "in sync"), (shot.locked, "locked")];
            let marks: Vec<&str> = marks.iter().filter(|m| m.0).map(|m| m.1).collect();
            rows.push([
                format!("{number}"),
                shot.record_in.clone(),
                format!("{}", shot.to_frame - shot.from_frame),
                format!("{}.{}", shot.bar, shot.beat),
                plain(&shot.section),
                take,
                from,
                speed,
                marks.join(", "),
            ]);
        }
        let widths: Vec<usize> = (0..head.len())
            .map(|column| rows.iter().map(|row| row[column].chars().count()).max())
            .map(Option::unwrap_or_default)
            .collect();
        let mut text = String::new();
        for row in &rows {
            let cells = row
                .iter()
                .zip(&widths)
                .enumerate()
                .map(|(column, (cell, &width))| {
                    // Counts to the right, words to the left.
                    if matches!(column, 0 | 2 | 7) {
                        format!("{cell:>width$}")
                    } else {
                        format!("{cell:<width$}")
                    }
                });
            text.push_str(cells.collect::<Vec<_>>().join("  ").trim_end());
            text.push('\n');
        }
        text
    }
}

/// Control characters would break the table, or the terminal.
fn plain(text: &str) -> String {
    text.chars()
        .map(|c| if c.is_control() { '_' } else { c })
        .collect()
}

/// How fast a source passes: `40 %` for a pass made to playback at 2.5 times the speed.
fn percent(speed: f64) -> String {
    let text = format!("{:.1}", 100.0 / speed);
    format!("{} %", text.trim_end_matches(".0"))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::edit::sample;
    use model::{FrameRate, LyricLine, Stretch};

    #[test]
    fn a_cut_as_a_table() {
        let mut world = sample::world(FrameRate::FPS_25, 150);
        world.takes.push(sample::take(
            "slow",
            FrameRate::new(50, 1).unwrap(),
            Some("10:00:00:00"),
        ));
        world.cut.shots = vec![
            sample::shot(0, 50, "a", 1.0, 1.0),
            sample::shot(50, 100, "slow", 0.0, 2.0),
            sample::shot(100, 150, "a", 0.0, 1.0),
        ];
        world.cut.shots[1].locked = true;
        world.cut.shots[2].take = None;
        world.lyrics = vec![LyricLine {
            at: Stretch::between_seconds(1.9, 3.0),
            text: "rain on paper".into(),
            extra: Default::default(),
        }];
        let listing = listing(&world.edit());
        assert_eq!(
            listing.to_text(),
            "\
shot  record       frames  bar  section  take   from         plays at
   1  01:00:00:00      50  1.1  A        a      00:00:01:00     100 %  in sync
   2  01:00:02:00      50  2.1  A        slow   10:00:00:00      50 %  in sync, locked
   3  01:00:04:00      50  3.1  B        black
"
        );
        assert_eq!(listing.shots[1].lyric.as_deref(), Some("rain on paper"));
        assert_eq!(listing.sections[0].to_frame, listing.sections[1].from_frame);
        assert_eq!(
            serde_json::from_str::<Listing>(&listing.to_json()).unwrap(),
            listing
        );
    }

    #[test]
    fn a_shot_on_a_beat_is_called_by_that_beat() {
        // The beat at 2 s lies in frame 47.95 of 23.976; whichever neighbour the shot starts on.
        for frame in [47, 48] {
            let mut world = sample::world(FrameRate::FPS_23_976, 96);
            world.cut.shots = vec![
                sample::shot(0, frame, "a", 0.0, 1.0),
                sample::shot(frame, 96, "a", 0.0, 1.0),
            ];
            let listing = listing(&world.edit());
            assert_eq!((listing.shots[1].bar, listing.shots[1].beat), (2, 1));
        }
    }
}
