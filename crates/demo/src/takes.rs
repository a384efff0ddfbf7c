//! What the camera made that night: which takes there are, and what is true of each.

use crate::compose::Composed;
use crate::dice::Dice;
use crate::truth::{RunTruth, SongTruth, TakeTruth};
use model::{FrameRate, Project, Rating};

/// What the take's picture is coded with.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Codec {
    /// H.264.
    H264,
    /// MPEG-4 part 2.
    Mpeg4,
    /// Motion JPEG.
    Mjpeg,
}

/// What the take's sound holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Tracks {
    /// One channel.
    Mono,
    /// Two channels.
    Stereo,
    /// Two tracks: hum alone on the first, the set on the second.
    HumThenSet,
}

/// What plays on set.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Heard {
    /// The song.
    Song,
    /// The song at another speed with its pitch kept.
    SongPitchKept,
    /// Another song.
    Other,
    /// Nothing.
    Nothing,
}

/// What is wrong with the picture.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Look {
    /// Nothing.
    Good,
    /// Focus is behind the subject.
    Soft,
    /// A stop and a half under.
    Under,
}

/// One take to draw.
#[derive(Clone, Debug)]
pub struct TakePlan {
    /// What is true of it; [`TakeTruth::file`] is its file's name.
    pub truth: TakeTruth,
    /// Picture codec.
    pub codec: Codec,
    /// Sound.
    pub tracks: Tracks,
    /// Sample rate of its sound.
    pub sample_rate_hz: u32,
    /// Whether its sound is coded as AAC; otherwise 16-bit PCM.
    pub aac: bool,
    /// What plays on set.
    pub heard: Heard,
    /// What is wrong with the picture.
    pub look: Look,
    /// Shot upright on a phone: stored lying, with a rotation of 90°.
    pub upright: bool,
    /// Timecode of its first frame, time of day.
    pub start_timecode: String,
}

/// One line of the night's log.
struct Row {
    setup: &'static str,
    pass: u32,
    rating: Rating,
    /// Sections of the song played, as written, first and last; `None`: the song is not played.
    song: Option<(usize, usize)>,
    /// Length where the song is not played.
    length_s: f64,
    /// Frames a second, numerator and denominator.
    fps: (u32, u32),
    speed: f64,
    special: Special,
    remark: &'static str,
}

#[derive(Clone, Copy, PartialEq)]
enum Special {
    None,
    FalseStart,
    TwoTracks,
    OtherSong,
    Mono44,
    Phone,
    PitchKept,
    Soft,
    Under,
    Mjpeg,
    Mpeg4,
    Aac,
    Short,
}

const WHOLE: Option<(usize, usize)> = Some((0, 9));

const fn pass(
    setup: &'static str,
    pass: u32,
    rating: Rating,
    song: Option<(usize, usize)>,
    special: Special,
    remark: &'static str,
) -> Row {
    Row {
        setup,
        pass,
        rating,
        song,
        length_s: 0.0,
        fps: (25, 1),
        speed: 1.0,
        special,
        remark,
    }
}

const fn piece(
    setup: &'static str,
    pass: u32,
    rating: Rating,
    length_s: f64,
    fps: u32,
    special: Special,
    remark: &'static str,
) -> Row {
    Row {
        setup,
        pass,
        rating,
        song: None,
        length_s,
        fps: (fps, 1),
        speed: 1.0,
        special,
        remark,
    }
}

/// The night's log, in shooting order: blue hour first, powder last.
const LOG: [Row; 24] = [
    pass(
        "stairs-medium",
        1,
        Rating::Usable,
        Some((0, 3)),
        Special::None,
        "",
    ),
    pass(
        "stairs-medium",
        2,
        Rating::Circled,
        WHOLE,
        Special::Mono44,
        "sound at 44.1 kHz",
    ),
    Row {
        fps: (30_000, 1001),
        ..pass(
            "stairs-medium",
            3,
            Rating::Unrated,
            Some((4, 6)),
            Special::Phone,
            "on the phone, upright",
        )
    },
    piece("lamps", 1, Rating::Usable, 14.0, 25, Special::None, ""),
    pass(
        "launderette-wide",
        1,
        Rating::Usable,
        WHOLE,
        Special::FalseStart,
        "false start, then a full pass",
    ),
    pass(
        "launderette-wide",
        2,
        Rating::Circled,
        Some((5, 9)),
        Special::TwoTracks,
        "the set is on the second track",
    ),
    piece(
        "launderette-wide",
        3,
        Rating::NoGood,
        26.0,
        25,
        Special::OtherSong,
        "another song next door",
    ),
    Row {
        fps: (24, 1),
        ..pass(
            "launderette-close",
            1,
            Rating::Usable,
            WHOLE,
            Special::None,
            "at 24 frames",
        )
    },
    pass(
        "launderette-close",
        2,
        Rating::Circled,
        Some((5, 9)),
        Special::Aac,
        "from the second pre-chorus",
    ),
    pass(
        "launderette-close",
        3,
        Rating::Unrated,
        Some((1, 2)),
        Special::Soft,
        "focus on the machine behind her",
    ),
    piece("drum", 1, Rating::Circled, 16.0, 25, Special::Mjpeg, ""),
    piece("drum", 2, Rating::Usable, 12.0, 25, Special::None, ""),
    piece("bulb", 1, Rating::Usable, 14.0, 25, Special::Mpeg4, ""),
    Row {
        fps: (50, 1),
        speed: 2.0,
        ..pass(
            "quay-full",
            1,
            Rating::Usable,
            Some((0, 6)),
            Special::None,
            "double speed, for half speed",
        )
    },
    Row {
        fps: (50, 1),
        speed: 2.0,
        ..pass(
            "quay-full",
            2,
            Rating::Circled,
            Some((4, 9)),
            Special::PitchKept,
            "double speed, pitch kept",
        )
    },
    pass(
        "quay-full",
        3,
        Rating::Unrated,
        Some((2, 3)),
        Special::Under,
        "normal speed, too dark",
    ),
    piece("water", 1, Rating::Circled, 15.0, 25, Special::None, ""),
    piece("water", 2, Rating::Usable, 12.0, 25, Special::None, ""),
    piece("lamps", 2, Rating::Circled, 12.0, 25, Special::None, ""),
    pass(
        "quay-powder",
        1,
        Rating::Circled,
        Some((7, 9)),
        Special::None,
        "",
    ),
    pass(
        "quay-powder",
        2,
        Rating::Usable,
        Some((8, 9)),
        Special::Aac,
        "",
    ),
    pass(
        "quay-powder",
        3,
        Rating::NoGood,
        Some((8, 8)),
        Special::Short,
        "powder on the lens, stopped",
    ),
    piece(
        "powder-burst",
        1,
        Rating::Circled,
        12.0,
        50,
        Special::None,
        "",
    ),
    piece(
        "powder-burst",
        2,
        Rating::Usable,
        10.0,
        50,
        Special::None,
        "",
    ),
];

/// Every take of the night, in the order they were shot. States come from the setups of `project`.
pub fn takes(composed: &Composed, project: &Project) -> Vec<TakePlan> {
    // The night's clock, in seconds of the day: blue hour begins.
    let mut clock_s = 20.0 * 3600.0 + 52.0 * 60.0;
    LOG.iter()
        .enumerate()
        .map(|(index, row)| {
            let mut dice = Dice::new(composed.seed ^ (index as u64 + 1), "take");
            let take = plan_of(
                row,
                index as u32 + 1,
                &composed.truth,
                project,
                clock_s,
                &mut dice,
            );
            clock_s += take.truth.duration_s + f64::from(dice.between(90.0, 300.0));
            take
        })
        .collect()
}

fn plan_of(
    row: &Row,
    number: u32,
    song: &SongTruth,
    project: &Project,
    clock_s: f64,
    dice: &mut Dice,
) -> TakePlan {
    // Odd on purpose: nothing starts on a whole frame or second.
    let before_s = f64::from(dice.between(2.4, 5.2));
    let after_s = f64::from(dice.between(1.6, 3.4));
    let drift_ppm = f64::from(dice.between(-60.0, 60.0));
    let rate = FrameRate::new(row.fps.0, row.fps.1).unwrap_or(FrameRate::FPS_25);
    let mut runs = Vec::new();
    let mut at_s = before_s;
    let mut run = |at_s: &mut f64, from_s: f64, to_s: f64| {
        let mut run = RunTruth {
            take_start_s: *at_s,
            take_end_s: *at_s,
            song_start_s: from_s,
            speed: row.speed,
            drift_ppm,
        };
        *at_s += (to_s - from_s) / run.true_speed();
        run.take_end_s = *at_s;
        runs.push(run);
    };
    if let Some((first, last)) = row.song {
        // A partial pass starts a bar or so early, as playback does.
        let from_s = if first == 0 {
            0.0
        } else {
            song.sections[first].start_s - f64::from(dice.between(1.9, 2.6))
        };
        let mut to_s = song.sections[last].end_s;
        if last + 1 < song.sections.len() {
            to_s += 1.1;
        }
        if row.special == Special::FalseStart {
            run(&mut at_s, 0.0, f64::from(dice.between(12.0, 13.0)));
            at_s += 7.4;
        }
        if row.special == Special::Short {
            to_s = from_s + 17.0;
        }
        run(&mut at_s, from_s, to_s);
        at_s += after_s;
    } else {
        at_s = row.length_s;
    }
    // A whole number of frames.
    let frames = (at_s * rate.fps()).ceil();
    let duration_s = frames / rate.fps();
    let ending = match row.special {
        Special::Phone | Special::Aac => "mp4",
        _ => "mov",
    };
    let whole_s = clock_s as u64;
    let state = project
        .setups
        .iter()
        .find(|setup| setup.id.as_str() == row.setup)
        .map_or(0, |setup| setup.state);
    TakePlan {
        truth: TakeTruth {
            file: format!("n{number:02}-{}-{}.{ending}", row.setup, row.pass),
            number,
            setup: row.setup.to_string(),
            pass: row.pass,
            rating: row.rating,
            state,
            duration_s,
            rate,
            runs,
            remark: row.remark.to_string(),
        },
        codec: match row.special {
            Special::Mjpeg => Codec::Mjpeg,
            Special::Mpeg4 => Codec::Mpeg4,
            _ => Codec::H264,
        },
        tracks: match row.special {
            Special::TwoTracks => Tracks::HumThenSet,
            Special::Mono44 | Special::Soft => Tracks::Mono,
            _ => Tracks::Stereo,
        },
        sample_rate_hz: if row.special == Special::Mono44 {
            44_100
        } else {
            48_000
        },
        aac: ending == "mp4",
        heard: match (row.song, row.special) {
            (_, Special::OtherSong) => Heard::Other,
            (None, _) => Heard::Nothing,
            (_, Special::PitchKept) => Heard::SongPitchKept,
            _ => Heard::Song,
        },
        look: match row.special {
            Special::Soft => Look::Soft,
            Special::Under => Look::Under,
            _ => Look::Good,
        },
        upright: row.special == Special::Phone,
        start_timecode: format!(
            "{:02}:{:02}:{:02}:{:02}",
            whole_s / 3600 % 24,
            whole_s / 60 % 60,
            whole_s % 60,
            (clock_s.fract() * f64::from(rate.counted()).floor()) as u32
        ),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::compose::sample;
    use crate::plan;

    #[test]
    fn the_night_is_as_briefed() {
        let composed = sample();
        let project = plan(composed);
        let all = takes(composed, &project);
        assert_eq!(all.len(), 24);
        for take in &all {
            let truth = &take.truth;
            assert!(
                project
                    .setups
                    .iter()
                    .any(|setup| setup.id.as_str() == truth.setup),
                "{}",
                truth.setup
            );
            for run in &truth.runs {
                assert!(run.take_start_s >= 0.0 && run.take_end_s <= truth.duration_s);
                assert!(run.song_s_at(run.take_end_s) <= composed.truth.duration_s + 2.0);
                assert!(run.drift_ppm.abs() <= 60.0);
            }
            assert!(
                truth
                    .runs
                    .windows(2)
                    .all(|pair| pair[0].take_end_s < pair[1].take_start_s)
            );
            let frames = truth.duration_s * truth.rate.fps();
            assert!((frames - frames.round()).abs() < 1e-6 && frames < 16_384.0);
            assert!(truth.number < 64);
        }
        assert!(all.iter().any(|take| take.truth.runs.len() == 2));
        assert!(all.iter().filter(|take| take.truth.runs.is_empty()).count() >= 8);
        // Clean before powdered, in the order of the night.
        assert!(
            all.windows(2)
                .all(|pair| pair[0].truth.state <= pair[1].truth.state)
        );
        let names: std::collections::BTreeSet<_> =
            all.iter().map(|take| &take.truth.file).collect();
        assert_eq!(names.len(), all.len());
    }
}
