//! What goes in: the cut, the song, and the takes with where they lie.

use crate::error::Note;
use crate::ratio::Ratio;
use crate::timecode::{Counting, Timecode};
use model::{
    Cut, Length, LyricLine, Picture, SongMap, SongTime, Stretch, TICKS_PER_SECOND, TakeId,
};

/// Everything a timeline is written from.
#[derive(Clone, Copy, Debug)]
pub struct Edit<'a> {
    /// What the timeline is called.
    pub title: &'a str,
    /// The cut.
    pub cut: &'a Cut,
    /// Bars and sections of the song.
    pub map: &'a SongMap,
    /// The song's file.
    pub song: &'a SongRef,
    /// The takes that the cut may name, in any order.
    pub takes: &'a [TakeRef],
    /// The lyrics, timed or not.
    pub lyrics: &'a [LyricLine],
    /// The way from the timeline's folder to the project's, ending in `/`: `../` for a timeline in
    /// `assembly/`. Put before every relative path.
    pub to_project: &'a str,
    /// Whether the OpenTimelineIO file gets a marker per bar beside those per section.
    pub bar_markers: bool,
}

/// The song as a file.
#[derive(Clone, Debug, PartialEq)]
pub struct SongRef {
    /// What it is called: the file's name.
    pub name: String,
    /// Where it lies: relative to the project folder, with `/`, or absolute.
    pub path: String,
    /// How long it sounds.
    pub length: Length,
    /// Samples per second.
    pub rate_hz: u32,
}

impl SongRef {
    /// How many samples it has, to the nearest.
    pub fn samples(&self) -> i64 {
        let seconds = Ratio::new(
            i128::from(self.length.ticks()),
            i128::from(TICKS_PER_SECOND),
        );
        seconds
            .times(Ratio::new(i128::from(self.rate_hz), 1))
            .round()
    }
}

/// A take as a file.
#[derive(Clone, Debug, PartialEq)]
pub struct TakeRef {
    /// Its id.
    pub id: TakeId,
    /// What it is called: the file's name.
    pub name: String,
    /// Where it lies: relative to the project folder, with `/`, or absolute.
    pub path: String,
    /// The reel it is known by in an edit list; made from the name when absent.
    pub reel: Option<String>,
    /// Its picture, when it could be probed. Without one, the cut's rate and a start at
    /// 00:00:00:00 are taken, with a note.
    pub picture: Option<Picture>,
    /// How long it is.
    pub length: Length,
}

/// A text made, and what the reader should know about it.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Written {
    /// The file's text, UTF-8.
    pub text: String,
    /// What could not be said in it exactly, or was set right.
    pub notes: Vec<Note>,
}

impl Edit<'_> {
    /// Where the record side starts: 01:00:00:00 (common practice), drop-frame at 29.97 and 59.94.
    pub fn record_start(&self) -> Timecode {
        let rate = self.cut.rate;
        Timecode::at_clock(1, 0, 0, rate, Counting::usual(rate))
    }

    /// Record timecode of frame `frame` of the cut.
    pub fn record_timecode(&self, frame: i64) -> Timecode {
        self.record_start().plus(frame)
    }

    /// The frames nearest to both ends of `at`, held within a cut of `end` frames; `None` when
    /// none is left. Stretches that touch give frames that touch, and what ends with the song ends
    /// with the last frame that holds it.
    pub(crate) fn frames_of(&self, at: Stretch, end: i64) -> Option<(i64, i64)> {
        let rate = self.cut.rate;
        let nearest = |at: SongTime| rate.nearest_frame_to_ticks(at.ticks());
        let to = if at.end().ticks() >= self.map.length.ticks() {
            rate.frames_to_hold(self.map.length)
        } else {
            nearest(at.end())
        };
        let (from, to) = (nearest(at.start()).clamp(0, end), to.clamp(0, end));
        (from < to).then_some((from, to))
    }
}

/// Small worlds for the tests of this crate.
#[cfg(test)]
pub(crate) mod sample {
    use super::*;
    use model::{Bar, FrameRate, Section, Shot};

    /// Owns what an [`Edit`] borrows.
    #[derive(Clone, Debug)]
    pub struct World {
        pub title: String,
        pub cut: Cut,
        pub map: SongMap,
        pub song: SongRef,
        pub takes: Vec<TakeRef>,
        pub lyrics: Vec<LyricLine>,
    }

    impl World {
        pub fn edit(&self) -> Edit<'_> {
            Edit {
                title: &self.title,
                cut: &self.cut,
                map: &self.map,
                song: &self.song,
                takes: &self.takes,
                lyrics: &self.lyrics,
                to_project: "../",
                bar_markers: false,
            }
        }
    }

    /// A song that fills `frames` frames at `rate`, bars of 2 s, two sections, one take `a`, one shot.
    pub fn world(rate: FrameRate, frames: i64) -> World {
        let length = Length::from_ticks(rate.ticks_of_frame(frames));
        World {
            title: "Paper Weather v001".into(),
            cut: Cut {
                version: 1,
                rate,
                shots: vec![shot(0, frames, "a", 0.0, 1.0)],
                remark: String::new(),
                extra: Default::default(),
            },
            map: map(length),
            song: SongRef {
                name: "Paper Weather.wav".into(),
                path: "song/Paper Weather.wav".into(),
                length,
                rate_hz: 48_000,
            },
            takes: vec![take("a", rate, None)],
            lyrics: Vec::new(),
        }
    }

    pub fn map(length: Length) -> SongMap {
        let end = SongTime::ZERO + length;
        let tile = |step_s: f64| {
            let mut at = SongTime::ZERO;
            let mut tiles = Vec::new();
            while at < end {
                let next = (at + Length::nearest_to_seconds(step_s)).min(end);
                tiles.extend(Stretch::new(at, next));
                at = next;
            }
            tiles
        };
        let bars: Vec<Bar> = (1..)
            .zip(tile(2.0))
            .map(|(number, at)| Bar {
                number,
                at,
                energy: 0.5,
                voice: 0.5,
            })
            .collect();
        let sections = tile(length.seconds() / 2.0 + 0.001)
            .into_iter()
            .zip(["A", "B"])
            .map(|(at, label)| Section {
                label: label.into(),
                name: None,
                at,
                energy: 0.5,
                voiced: 0.5,
            })
            .collect();
        let beats: Vec<SongTime> = tile(0.5).into_iter().map(Stretch::start).collect();
        SongMap {
            length,
            tempo_bpm: 120.0,
            beats_per_bar: 4,
            downbeats: (0..beats.len()).step_by(4).collect(),
            beats,
            bars,
            sections,
        }
    }

    pub fn take(id: &str, rate: FrameRate, start: Option<&str>) -> TakeRef {
        let length = Length::nearest_to_seconds(200.0);
        TakeRef {
            id: TakeId::new(id).unwrap(),
            name: format!("{id}.mov"),
            path: format!("takes/{id}.mov"),
            reel: None,
            picture: Some(Picture {
                width: 1920,
                height: 1080,
                rotation_deg: 0,
                pixel_aspect: (1, 1),
                rate,
                variable_rate: false,
                codec: "h264".into(),
                pixel_format: "yuv420p".into(),
                colour: [None, None, None, None],
                start_timecode: start.map(str::to_owned),
                frames: Some(rate.nearest_frame_to_ticks(length.ticks()) as u64),
                start_s: 0.0,
                length,
            }),
            length,
        }
    }

    pub fn shot(from_frame: i64, to_frame: i64, take: &str, take_start_s: f64, speed: f64) -> Shot {
        Shot {
            extra: Default::default(),
            from_frame,
            to_frame,
            take: Some(TakeId::new(take).unwrap()),
            take_start: Length::nearest_to_seconds(take_start_s),
            speed,
            in_sync: true,
            locked: false,
        }
    }
}
