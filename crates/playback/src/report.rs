//! A file made, in the shape the command line prints and the check reads.

use crate::make::Made;
use crate::speed::Speed;
use serde::Serialize;

/// Where everything in one file lies, in seconds of the file unless a field says otherwise.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Report {
    /// Samples per second.
    pub rate_hz: u32,
    /// How long the file is.
    pub length_s: f64,
    /// Song seconds per second of the file; written as a fraction, `5/2`.
    pub speed: Speed,
    /// Whether the song was stretched with its pitch kept.
    pub pitch_kept: bool,
    /// The song's time, on the song, where it is first heard.
    pub starts_at_s: f64,
    /// Where the song is first heard.
    pub music_start_s: f64,
    /// Where the stretch starts.
    pub stretch_start_s: f64,
    /// The song's time there, on the song.
    pub song_at_stretch_s: f64,
    /// Where the stretch ends.
    pub stretch_end_s: f64,
    /// Where the song has faded out.
    pub music_end_s: f64,
    /// Where the head beep starts.
    pub head_beep_s: f64,
    /// Where the tail beep starts.
    pub tail_beep_s: f64,
    /// How long each beep is.
    pub beep_length_s: f64,
    /// Where the clicks start.
    pub clicks_s: Vec<f64>,
    /// The beats' times on the song, for each click.
    pub clicks_song_s: Vec<f64>,
    /// Which clicks are downbeats.
    pub accents: Vec<bool>,
    /// Highest true peak, dBTP, timecode left out.
    pub true_peak_dbtp: f64,
    /// Integrated loudness, LUFS, timecode left out.
    pub loudness_lufs: Option<f64>,
    /// Timecode on the right channel.
    pub timecode: Option<ReportTimecode>,
}

/// Timecode of a file. The song where a label starts is
/// `song_at_stretch_s + (label − song_zero − song_at_stretch_s) × song_per_label`.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ReportTimecode {
    /// Labels per second, as a fraction: `24000/1001`.
    pub rate: String,
    /// Drop-frame counting.
    pub drop: bool,
    /// The first label.
    pub start: String,
    /// Where it starts in the file, in seconds.
    pub start_s: f64,
    /// Seconds of the file per label.
    pub label_s: f64,
    /// How many labels there are.
    pub labels: i64,
    /// The label of song time zero.
    pub song_zero: String,
    /// Song seconds per second of labels: 1 where labels are song time.
    pub song_per_label: f64,
}

/// The report of a file.
pub fn report(made: &Made) -> Report {
    let layout = &made.layout;
    let seconds = |sample| layout.seconds(sample);
    let clicks = || layout.clicks.iter();
    Report {
        rate_hz: layout.rate_hz,
        length_s: seconds(layout.samples),
        speed: layout.speed,
        pitch_kept: made.pitch_kept,
        starts_at_s: layout.song_at(layout.music_start).seconds(),
        music_start_s: seconds(layout.music_start),
        stretch_start_s: seconds(layout.stretch_start),
        song_at_stretch_s: layout.song_at_stretch.seconds(),
        stretch_end_s: seconds(layout.stretch_end),
        music_end_s: seconds(layout.music_end),
        head_beep_s: seconds(layout.head_beep),
        tail_beep_s: seconds(layout.tail_beep),
        beep_length_s: seconds(layout.beep_samples),
        clicks_s: clicks().map(|click| seconds(click.sample)).collect(),
        clicks_song_s: clicks().map(|click| click.song.seconds()).collect(),
        accents: clicks().map(|click| click.accent).collect(),
        true_peak_dbtp: made.reading.true_peak_dbtp,
        loudness_lufs: made.reading.loudness_lufs,
        timecode: layout.timecode.map(|course| ReportTimecode {
            rate: {
                let rate = course.rate.frames();
                format!("{}/{}", rate.num(), rate.den())
            },
            drop: course.rate.drop(),
            start: course.label(0).to_string(),
            start_s: course.first_start / f64::from(layout.rate_hz),
            label_s: course.spacing / f64::from(layout.rate_hz),
            labels: course.frames,
            song_zero: course.rate.label(course.zero).to_string(),
            song_per_label: course.song_per_label,
        }),
    }
}
