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

/// One line of the night's log: setup, pass, rating, what was played, frames a second (numerator and denominator),
/// speed of the playback, what is special, and the remark.
type Row = (
    &'static str,
    u32,
    Rating,
    Played,
    (u32, u32),
    f64,
    Special,
    &'static str,
);

/// What of the song is played.
#[derive(Clone, Copy)]
enum Played {
    /// Sections as written, first and last.
    Song(usize, usize),
    /// None of it, for so many seconds.
    Nothing(f64),
}

#[derive(Clone, Copy, PartialEq)]
enum Special {
    Plain,
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

/// The night's log, in shooting order: blue hour first, powder last.
#[rustfmt::skip]
const LOG: [Row; 24] = {
    use Played::{Nothing, Song};
    use Rating::{Circled, NoGood, Unrated, Usable};
    use Special::{Aac, FalseStart, Mjpeg, Mono44, Mpeg4, OtherSong, Phone, PitchKept, Plain, Short, Soft, TwoTracks, Under};
    let film = (25, 1);
    [
        ("stairs-medium", 1, Usable, Song(0, 3), film, 1.0, Plain, ""),
        ("stairs-medium", 2, Circled, Song(0, 9), film, 1.0, Mono44, "sound at 44.1 kHz"),
        ("stairs-medium", 3, Unrated, Song(4, 6), (30_000, 1001), 1.0, Phone, "on the phone, upright"),
        ("lamps", 1, Usable, Nothing(14.0), film, 1.0, Plain, ""),
        ("launderette-wide", 1, Usable, Song(0, 9), film, 1.0, FalseStart, "false start, then a full pass"),
        ("launderette-wide", 2, Circled, Song(5, 9), film, 1.0, TwoTracks, "the set is on the second track"),
        ("launderette-wide", 3, NoGood, Nothing(26.0), film, 1.0, OtherSong, "another song next door"),
        ("launderette-close", 1, Usable, Song(0, 9), (24, 1), 1.0, Plain, "at 24 frames"),
        ("launderette-close", 2, Circled, Song(5, 9), film, 1.0, Aac, "from the second pre-chorus"),
        ("launderette-close", 3, Unrated, Song(1, 2), film, 1.0, Soft, "focus on the machine behind her"),
        ("drum", 1, Circled, Nothing(16.0), film, 1.0, Mjpeg, ""),
        ("drum", 2, Usable, Nothing(12.0), film, 1.0, Plain, ""),
        ("bulb", 1, Usable, Nothing(14.0), film, 1.0, Mpeg4, ""),
        ("quay-full", 1, Usable, Song(0, 6), (50, 1), 2.0, Plain, "double speed, for half speed"),
        ("quay-full", 2, Circled, Song(4, 9), (50, 1), 2.0, PitchKept, "double speed, pitch kept"),
        ("quay-full", 3, Unrated, Song(2, 3), film, 1.0, Under, "normal speed, too dark"),
        ("water", 1, Circled, Nothing(15.0), film, 1.0, Plain, ""),
        ("water", 2, Usable, Nothing(12.0), film, 1.0, Plain, ""),
        ("lamps", 2, Circled, Nothing(12.0), film, 1.0, Plain, ""),
        ("quay-powder", 1, Circled, Song(7, 9), film, 1.0, Plain, ""),
        ("quay-powder", 2, Usable, Song(8, 9), film, 1.0, Aac, ""),
        ("quay-powder", 3, NoGood, Song(8, 8), film, 1.0, Short, "powder on the lens, stopped"),
        ("powder-burst", 1, Circled, Nothing(12.0), (50, 1), 1.0, Plain, ""),
        ("powder-burst", 2, Usable, Nothing(10.0), (50, 1), 1.0, Plain, ""),
    ]
};

/// Every take of the night, in the order they were shot. States come from the setups of `project`.
pub fn takes(composed: &Composed, project: &Project) -> Vec<TakePlan> {
    // The night's clock, in seconds of the day: blue hour begins.
    let mut clock_s = 20.0 * 3600.0 + 52.0 * 60.0;
    let take = |(number, row): (u32, &Row)| {
        let mut dice = Dice::new(composed.seed ^ u64::from(number), "take");
        let take = plan_of(row, number, &composed.truth, project, clock_s, &mut dice);
        clock_s += take.truth.duration_s + f64::from(dice.between(90.0, 300.0));
        take
    };
    (1..).zip(&LOG).map(take).collect()
}

/// The starts of playback of a take, and how long it is: at least, before frames are counted out.
fn runs_of(row: &Row, song: &SongTruth, dice: &mut Dice) -> (Vec<RunTruth>, f64) {
    let &(.., played, _, speed, special, _) = row;
    // Odd on purpose: nothing starts on a whole frame or second.
    let mut at_s = f64::from(dice.between(2.4, 5.2));
    let after_s = f64::from(dice.between(1.6, 3.4));
    let drift_ppm = f64::from(dice.between(-60.0, 60.0));
    let (first, last) = match played {
        Played::Song(first, last) => (first, last),
        Played::Nothing(length_s) => return (Vec::new(), length_s),
    };
    let mut runs = Vec::new();
    let mut run = |at_s: &mut f64, from_s: f64, to_s: f64| {
        let mut run = RunTruth {
            take_start_s: *at_s,
            take_end_s: *at_s,
            song_start_s: from_s,
            speed,
            drift_ppm,
        };
        *at_s += (to_s - from_s) / run.true_speed();
        run.take_end_s = *at_s;
        runs.push(run);
    };
    // A partial pass starts a bar or so early, as playback does.
    let from_s = match first {
        0 => 0.0,
        _ => song.sections[first].start_s - f64::from(dice.between(1.9, 2.6)),
    };
    let mut to_s = song.sections[last].end_s;
    if last + 1 < song.sections.len() {
        to_s += 1.1;
    }
    if special == Special::FalseStart {
        run(&mut at_s, 0.0, f64::from(dice.between(12.0, 13.0)));
        at_s += 7.4;
    }
    if special == Special::Short {
        to_s = from_s + 17.0;
    }
    run(&mut at_s, from_s, to_s);
    (runs, at_s + after_s)
}

fn plan_of(
    row: &Row,
    number: u32,
    song: &SongTruth,
    project: &Project,
    clock_s: f64,
    dice: &mut Dice,
) -> TakePlan {
    let &(setup, pass, rating, played, (fps, per), _, special, remark) = row;
    let rate = FrameRate::new(fps, per).unwrap_or(FrameRate::FPS_25);
    let (runs, least_s) = runs_of(row, song, dice);
    // A whole number of frames.
    let duration_s = (least_s * rate.fps()).ceil() / rate.fps();
    let ending = match special {
        Special::Phone | Special::Aac => "mp4",
        _ => "mov",
    };
    let whole_s = clock_s as u64;
    let known = project.setups.iter().find(|one| one.id.as_str() == setup);
    TakePlan {
        truth: TakeTruth {
            file: format!("n{number:02}-{setup}-{pass}.{ending}"),
            number,
            setup: setup.to_string(),
            pass,
            rating,
            state: known.map_or(0, |setup| setup.state),
            duration_s,
            rate,
            runs,
            remark: remark.to_string(),
        },
        codec: match special {
            Special::Mjpeg => Codec::Mjpeg,
            Special::Mpeg4 => Codec::Mpeg4,
            _ => Codec::H264,
        },
        tracks: match special {
            Special::TwoTracks => Tracks::HumThenSet,
            Special::Mono44 | Special::Soft => Tracks::Mono,
            _ => Tracks::Stereo,
        },
        sample_rate_hz: match special {
            Special::Mono44 => 44_100,
            _ => 48_000,
        },
        aac: ending == "mp4",
        heard: match (played, special) {
            (_, Special::OtherSong) => Heard::Other,
            (Played::Nothing(_), _) => Heard::Nothing,
            (_, Special::PitchKept) => Heard::SongPitchKept,
            _ => Heard::Song,
        },
        look: match special {
            Special::Soft => Look::Soft,
            Special::Under => Look::Under,
            _ => Look::Good,
        },
        upright: special == Special::Phone,
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
