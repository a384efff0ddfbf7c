//! Making the file: lay it out, play the song at its speed, set the level, add what goes over it.

use crate::count_in::{Beat, CountIn};
use crate::layout::{Click, Course, Layout, Spacing};
use crate::level::{self, Level, Reading};
use crate::speed::{Pitch, Speed};
use crate::{Error, ltc, resample, stretch, tones};
use model::{FrameRate, Length, SongTime, Stretch, TICKS_PER_SECOND};

/// The longest file.
const MOST_S: f64 = 3600.0;
/// Where the song begins or ends in the middle of its music it fades over this time.
const FADE_S: f64 = 0.03;
/// The song under the clicks is lower by this factor (6 dB), so that they are heard.
const UNDER_CLICKS: f32 = 0.5;
/// Peaks of timecode: −12 dBFS, common practice for a recorder's line input.
const TIMECODE_DBFS: f64 = -12.0;
/// Below this many samples a second the edges of timecode are lost.
const LEAST_TIMECODE_HZ: u32 = 16_000;
/// Clicks faster than this are hard to count by.
const FAST_BPM: f64 = 240.0;

/// What shall be made.
#[derive(Clone, Copy, Debug)]
pub struct Request<'a> {
    /// Samples per second of the song and of the file, 8 000 to 384 000.
    pub rate_hz: u32,
    /// The song, planar: one or two channels (of more the first two are taken), equally long.
    pub song: &'a [Vec<f32>],
    /// The part of the song that is performed.
    pub stretch: Stretch,
    /// Song seconds per second of the file.
    pub speed: Speed,
    /// What becomes of the pitch.
    pub pitch: Pitch,
    /// Beats to count in by.
    pub count_in: CountIn<'a>,
    /// The rate the video is shown at: a beep lasts one frame of it.
    pub shown: FrameRate,
    /// How loud.
    pub level: Level,
    /// Timecode on the right channel, the song as one channel on the left.
    pub timecode: Option<Timecode>,
    /// Silences around.
    pub spacing: Spacing,
}

/// Which labels the song carries.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Timecode {
    /// Rate and counting.
    pub rate: ltc::Rate,
    /// The label of song time zero, as a frame of the day.
    pub zero: i64,
}

impl Timecode {
    /// Song time in labels of a video shown at `shown`, song time zero at one hour (common practice,
    /// so that what lies before the song has labels too).
    ///
    /// # Errors
    /// [`Error::TimecodeRate`] when linear timecode has no such rate.
    pub fn of_show(shown: FrameRate) -> Result<Self, Error> {
        let rate = ltc::Rate::for_show(shown)?;
        Ok(Self {
            rate,
            zero: rate.frame(ltc::Label {
                hours: 1,
                minutes: 0,
                seconds: 0,
                frames: 0,
                drop: rate.drop(),
            }),
        })
    }
}

/// A file made.
#[derive(Clone, Debug, PartialEq)]
pub struct Made {
    /// Its samples, planar, all channels as long.
    pub channels: Vec<Vec<f32>>,
    /// Where everything in it lies.
    pub layout: Layout,
    /// What a meter reads of it, timecode left out.
    pub reading: Reading,
    /// Whether the song was stretched with its pitch kept.
    pub pitch_kept: bool,
    /// What is worth knowing.
    pub notes: Vec<Note>,
}

/// Something worth knowing about a file.
#[derive(Clone, Debug, PartialEq)]
pub enum Note {
    /// The song has no beats to count in by; the music starts with the stretch.
    NoBeats,
    /// The stretch reached beyond the song and was cut to it.
    StretchCut {
        /// What is left of it.
        to: Stretch,
    },
    /// The count-in begins before the song does: clicks over silence.
    BeforeTheSong {
        /// How many clicks lie before the song.
        clicks: usize,
    },
    /// At this speed the clicks come fast.
    FastClicks {
        /// Clicks a minute.
        bpm: f64,
    },
    /// Samples that are no numbers were taken as silence.
    NotANumber {
        /// How many.
        samples: usize,
    },
    /// Only the first two channels of the song are played.
    TwoChannels {
        /// How many it has.
        of: usize,
    },
    /// The speed is so near to one that the pitch follows unnoticed, and nothing had to be stretched.
    PitchLeft {
        /// By how many cents of a semitone it is off.
        cents: f64,
    },
    /// Timecode is not song time itself, as no recorder takes it at that speed: it runs in real time
    /// and agrees with the song at the start of the stretch.
    TimecodeInRealTime {
        /// Song seconds per second of labels.
        song_per_label: f64,
    },
    /// The song is quieter than asked for, as its peaks allow no more.
    Quieter {
        /// Loudness asked for, LUFS.
        asked_lufs: f64,
        /// Loudness reached, LUFS.
        reached_lufs: f64,
    },
}

impl std::fmt::Display for Note {
    /// One sentence.
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::NoBeats => f.write_str(
                "the song has no beats to count in by, so the music starts with the stretch",
            ),
            Self::StretchCut { to } => {
                write!(f, "the stretch reached beyond the song and was cut to {to}")
            }
            Self::BeforeTheSong { clicks } => write!(
                f,
                "the count-in begins before the song does, so {clicks} clicks lie over silence"
            ),
            Self::FastClicks { bpm } => write!(
                f,
                "at this speed the clicks come {bpm:.0} times a minute, which is hard to count by"
            ),
            Self::NotANumber { samples } => write!(
                f,
                "{samples} samples of the song are no numbers and were taken as silence"
            ),
            Self::TwoChannels { of } => write!(
                f,
                "only the first two of the song's {of} channels are played"
            ),
            Self::PitchLeft { cents } => write!(
                f,
                "the pitch is off by {cents:.1} cents, which nobody hears, so nothing was stretched"
            ),
            Self::TimecodeInRealTime { song_per_label } => write!(
                f,
                "timecode runs in real time from the start of the stretch on, as no recorder takes it at this speed; one second of labels is {song_per_label:.4} s of song"
            ),
            Self::Quieter {
                asked_lufs,
                reached_lufs,
            } => write!(
                f,
                "the song is {reached_lufs:.1} LUFS, quieter than {asked_lufs:.1}, as its peaks allow no more"
            ),
        }
    }
}

/// Makes the playback file. `keep_going` is asked now and then, from several threads; when it says
/// no, the work stops.
///
/// # Errors
/// When the request is out of range (the variants of [`Error`] say how), or on a stop.
pub fn make(request: &Request, keep_going: &(dyn Fn() -> bool + Sync)) -> Result<Made, Error> {
    let mut notes = Vec::new();
    let song = song_of(request, &mut notes)?;
    let plan = Plan::new(request, song[0].len() as i64, &mut notes)?;
    let layout = &plan.layout;
    let pitch_kept = request.pitch == Pitch::Kept && !request.speed.is_near_one();
    if request.pitch == Pitch::Kept && !pitch_kept && !request.speed.is_one() {
        notes.push(Note::PitchLeft {
            cents: request.speed.semitones() * 100.0,
        });
    }
    let music = play(request, &song, &plan, pitch_kept, keep_going)?;
    let go_on = || keep_going().then_some(()).ok_or(Error::Stopped);
    go_on()?;

    // From here on everything has its place in the file.
    let at = layout.music_start as usize;
    let mut channels: Vec<Vec<f32>> = if request.timecode.is_some() {
        vec![together(&music)]
    } else {
        music
    };
    let stretch = layout.stretch_start as usize - at..layout.stretch_end as usize - at;
    let parts: Vec<Vec<f32>> = channels
        .iter()
        .map(|c| c[stretch.clone()].to_vec())
        .collect();
    let song_reading = level::measure(&parts, request.rate_hz)?;
    drop(parts);
    go_on()?;
    level::scale(
        &mut channels,
        level::gain_for(request.level, song_reading) as f32,
    );
    for channel in &mut channels {
        plan.shape(channel);
        let mut file = vec![0_f32; at];
        file.append(channel);
        file.resize(layout.samples as usize, 0.0);
        plan.add_tones(&mut file, request);
        *channel = file;
    }
    let limiter = request.level != Level::AsMastered;
    let reading = level::finish(&mut channels, request.rate_hz, limiter)?;
    go_on()?;
    if let (Level::Raised(asked_lufs), Some(reached_lufs)) = (request.level, reading.loudness_lufs)
        && reached_lufs < asked_lufs - 1.0
    {
        notes.push(Note::Quieter {
            asked_lufs,
            reached_lufs,
        });
    }
    if let Some(course) = layout.timecode {
        if course.song_per_label != 1.0 {
            notes.push(Note::TimecodeInRealTime {
                song_per_label: course.song_per_label,
            });
        }
        channels.push(timecode(&course, layout));
    } else if channels.len() == 1 {
        // A file of two channels plays on both sides everywhere.
        channels.push(channels[0].clone());
    }
    Ok(Made {
        channels,
        layout: plan.layout,
        reading,
        pitch_kept,
        notes,
    })
}

/// The song as it is used: at most two channels, every sample a number.
fn song_of(request: &Request, notes: &mut Vec<Note>) -> Result<Vec<Vec<f32>>, Error> {
    if !(8_000..=384_000).contains(&request.rate_hz) {
        return Err(Error::Rate {
            rate_hz: request.rate_hz,
        });
    }
    let first = request.song.first().map_or(0, Vec::len);
    if first == 0 {
        return Err(Error::NoSound);
    }
    if let Some(other) = request.song.iter().find(|c| c.len() != first) {
        return Err(Error::Channels {
            first,
            other: other.len(),
        });
    }
    if request.song.len() > 2 {
        notes.push(Note::TwoChannels {
            of: request.song.len(),
        });
    }
    let mut song: Vec<Vec<f32>> = request.song.iter().take(2).cloned().collect();
    let mut samples = 0;
    for x in song.iter_mut().flatten() {
        // Beyond this there is no sound, only a file gone wrong; its sums would overflow.
        if !x.is_finite() || x.abs() > 1e6 {
            samples += 1;
            *x = 0.0;
        }
    }
    if samples > 0 {
        notes.push(Note::NotANumber { samples });
    }
    Ok(song)
}

/// The mean of all channels.
fn together(channels: &[Vec<f32>]) -> Vec<f32> {
    let share = 1.0 / channels.len().max(1) as f32;
    let mut out = vec![0_f32; channels.first().map_or(0, Vec::len)];
    for channel in channels {
        for (out, x) in out.iter_mut().zip(channel) {
            *out += x * share;
        }
    }
    out
}

/// The song from `music_start` to `music_end`, at its speed, without fades.
fn play(
    request: &Request,
    song: &[Vec<f32>],
    plan: &Plan,
    pitch_kept: bool,
    keep_going: &(dyn Fn() -> bool + Sync),
) -> Result<Vec<Vec<f32>>, Error> {
    let layout = &plan.layout;
    let from = layout.music_start as i64 - layout.stretch_start as i64;
    let count = (layout.music_end - layout.music_start) as usize;
    if request.speed.is_one() {
        let at = plan.anchor + from;
        return Ok(song
            .iter()
            .map(|c| resample::excerpt(c, at, at + count as i64))
            .collect());
    }
    if pitch_kept {
        return stretch::stretch(
            song,
            plan.anchor,
            request.speed,
            from,
            count,
            request.rate_hz,
            keep_going,
        );
    }
    song.iter()
        .map(|c| resample::resample(c, plan.anchor, request.speed, from, count, keep_going))
        .collect()
}

/// Timecode along the whole file.
fn timecode(course: &Course, layout: &Layout) -> Vec<f32> {
    let run = ltc::Run {
        first_frame: course.first_frame,
        frames: course.frames,
        start: course.first_start,
        spacing: course.spacing,
    };
    let level = level::from_db(TIMECODE_DBFS) as f32;
    ltc::encode(
        course.rate,
        run,
        layout.rate_hz,
        layout.samples as usize,
        level,
    )
}

/// Refuses a file that would be too long, with `span_s` from the count-in to the end of the stretch.
fn within_reason(request: &Request, span_s: f64) -> Result<(), Error> {
    let spacing = &request.spacing;
    let spaces = [spacing.lead_s, spacing.beep_s, spacing.after_s];
    let total_s: f64 = span_s + spaces.iter().sum::<f64>() + spacing.beep_s;
    if !spaces.iter().all(|s| (0.0..=MOST_S).contains(s)) || total_s > MOST_S {
        return Err(Error::TooLong {
            length_s: total_s,
            most_s: MOST_S,
        });
    }
    Ok(())
}

/// The layout, and what it was made from.
struct Plan {
    layout: Layout,
    /// The song sample that sounds at `stretch_start`.
    anchor: i64,
    /// Whether the song has begun before it is heard, and goes on when it no longer is.
    fades: (bool, bool),
}

impl Plan {
    fn new(request: &Request, song_samples: i64, notes: &mut Vec<Note>) -> Result<Self, Error> {
        let (speed, rate_hz) = (request.speed, request.rate_hz);
        speed.within(request.pitch)?;
        let fs = f64::from(rate_hz);
        let length = Length::of_samples(song_samples as u64, rate_hz);
        let outside = Error::StretchOutside {
            stretch: request.stretch,
            length,
        };
        let whole = Stretch::new(SongTime::ZERO, SongTime::ZERO + length);
        let stretch = whole
            .and_then(|whole| whole.overlap(request.stretch))
            .ok_or(outside.clone())?;
        if stretch != request.stretch {
            notes.push(Note::StretchCut { to: stretch });
        }
        let anchor = nearest_sample(stretch.start(), rate_hz);
        let last = nearest_sample(stretch.end(), rate_hz).min(song_samples);
        if last <= anchor {
            return Err(outside);
        }
        let beats = request.count_in.beats_before(stretch.start())?;
        if beats.is_empty() && request.count_in != CountIn::Off {
            notes.push(Note::NoBeats);
        }
        // Everything relative to the first sample of the stretch, then shifted.
        let out = |song: i64| speed.out_near(song - anchor);
        let clicks: Vec<i64> = beats
            .iter()
            .map(|beat| out(nearest_sample(beat.at, rate_hz)).min(-1))
            .collect();
        count_in_notes(&beats, &clicks, fs, notes);
        let count_in = clicks.first().copied().unwrap_or(0);
        // The first file sample that lies in the song.
        let begin = out(0) + i64::from(speed.song_at(out(0)).0 < -anchor);
        let music = count_in.max(begin).min(0);
        let end = speed.out_near(last - anchor).max(1);
        let song_end = out(song_samples).max(end);
        let fade = (FADE_S * fs) as i64;
        let music_end = (end + fade).min(song_end);
        within_reason(request, (end - count_in) as f64 / fs)?;
        let samples = |s: f64| (s * fs).round() as i64;
        let beep = tones::beep(rate_hz, 1.0 / request.shown.fps()).len() as i64;
        let head = samples(request.spacing.lead_s);
        // A beep never sounds into the count-in or the stretch.
        let gap = samples(request.spacing.beep_s).max(beep + fade);
        let start = head + gap - count_in;
        let tail = start + end + gap;
        let mut layout = Layout {
            rate_hz,
            speed,
            head_beep: head as u64,
            beep_samples: beep as u64,
            clicks: beats
                .iter()
                .zip(&clicks)
                .map(|(beat, at)| Click {
                    sample: (start + at) as u64,
                    song: beat.at,
                    accent: beat.accent,
                })
                .collect(),
            music_start: (start + music) as u64,
            stretch_start: start as u64,
            song_at_stretch: SongTime::of_sample(anchor, rate_hz),
            stretch_end: (start + end) as u64,
            music_end: (start + music_end) as u64,
            tail_beep: tail as u64,
            samples: (tail + beep + samples(request.spacing.after_s)) as u64,
            timecode: None,
        };
        if let Some(timecode) = request.timecode {
            layout.timecode = Some(course(timecode, &layout)?);
        }
        Ok(Self {
            layout,
            anchor,
            fades: (music > begin, song_end > end),
        })
    }

    /// Fades the music where it is cut, and lowers it under the clicks.
    fn shape(&self, music: &mut [f32]) {
        let layout = &self.layout;
        let fade = (FADE_S * f64::from(layout.rate_hz)) as usize;
        let before = (layout.stretch_start - layout.music_start) as usize;
        let ramp = |n: usize| ((n as f32 + 0.5) / fade as f32).min(1.0);
        for (n, x) in music[..before].iter_mut().enumerate() {
            // Full level is reached with the first sample of the stretch.
            *x *= UNDER_CLICKS + (1.0 - UNDER_CLICKS) * (1.0 - ramp(before - 1 - n));
            if self.fades.0 {
                *x *= ramp(n);
            }
        }
        if self.fades.1 {
            let end = (layout.stretch_end - layout.music_start) as usize;
            let count = music.len() - end;
            for (n, x) in music[end..].iter_mut().enumerate() {
                *x *= 1.0 - (n as f32 + 0.5) / count as f32;
            }
        }
    }

    /// Adds clicks and beeps at their samples.
    fn add_tones(&self, file: &mut [f32], request: &Request) {
        let layout = &self.layout;
        let mut add = |at: u64, tone: &[f32], most: u64| {
            let to = (at + (tone.len() as u64).min(most)).min(file.len() as u64);
            for (x, t) in file[at as usize..to as usize].iter_mut().zip(tone) {
                *x += t;
            }
        };
        let beep = tones::beep(request.rate_hz, 1.0 / request.shown.fps());
        add(layout.head_beep, &beep, u64::MAX);
        add(layout.tail_beep, &beep, u64::MAX);
        let sounds = [false, true].map(|accent| tones::click(request.rate_hz, accent));
        for click in &layout.clicks {
            // Nothing is added to the stretch itself.
            let most = layout.stretch_start.saturating_sub(click.sample);
            add(click.sample, &sounds[usize::from(click.accent)], most);
        }
    }
}

/// What there is to say about the clicks.
fn count_in_notes(beats: &[Beat], clicks: &[i64], fs: f64, notes: &mut Vec<Note>) {
    let before = beats.iter().filter(|beat| beat.at < SongTime::ZERO).count();
    if before > 0 {
        notes.push(Note::BeforeTheSong { clicks: before });
    }
    if let (Some(first), Some(last)) = (clicks.first(), clicks.last())
        && last > first
    {
        let bpm = 60.0 * fs * (clicks.len() - 1) as f64 / (last - first) as f64;
        if bpm > FAST_BPM {
            notes.push(Note::FastClicks { bpm });
        }
    }
}

/// Lays timecode along the file: song time itself where a recorder takes it, else real time that
/// agrees with the song at the start of the stretch.
fn course(timecode: Timecode, layout: &Layout) -> Result<Course, Error> {
    if layout.rate_hz < LEAST_TIMECODE_HZ {
        return Err(Error::TimecodeSampleRate {
            rate_hz: layout.rate_hz,
            least_hz: LEAST_TIMECODE_HZ,
        });
    }
    let speed = layout.speed;
    let (label_speed, song_per_label) = if speed.is_near_one() {
        (speed.value(), 1.0)
    } else {
        (1.0, speed.value())
    };
    let fs = f64::from(layout.rate_hz);
    let fps = timecode.rate.frames().fps();
    let spacing = fs / fps / label_speed;
    // Frames of labels, counted from song time zero, at the first sample of the file.
    let at_stretch = layout.song_at_stretch.seconds() * fps;
    let at_file = at_stretch - layout.stretch_start as f64 / spacing;
    // A label that starts with the file but for rounding starts with it.
    let first = (at_file - 1e-6).ceil();
    let first_start = ((first - at_file) * spacing).max(0.0);
    // One bit is left over for the edge that ends the last label.
    let frames = ((layout.samples as f64 - first_start) / spacing - 0.0125).floor() as i64;
    Ok(Course {
        rate: timecode.rate,
        zero: timecode.zero,
        song_per_label,
        first_frame: timecode.zero + first as i64,
        frames,
        first_start,
        spacing,
        song_at_stretch: layout.song_at_stretch,
    })
}

/// The sample nearest to an instant of the song.
fn nearest_sample(at: SongTime, rate_hz: u32) -> i64 {
    let (ticks, rate, per) = (
        i128::from(at.ticks()),
        i128::from(rate_hz),
        i128::from(TICKS_PER_SECOND),
    );
    (ticks * rate * 2 + per).div_euclid(per * 2) as i64
}
