//! What is in a file, without decoding it: picture, sound tracks, length.

use crate::{Error, KeepGoing, Note, Tools, inprocess, kind};
use model::{FrameRate, Length, Picture};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::path::Path;

/// How many packets are read to find when the picture really begins.
const FIRST_PACKETS: &str = "%+#64";

/// How much of a file whose rate looks uneven is read to judge it.
const JUDGED: &str = "%+60";

/// What is in a file.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Probe {
    /// How long there is something to show, or to hear where there is no picture.
    pub length: Length,
    /// The first picture track; `None` for sound alone. Cover pictures do not count.
    pub picture: Option<Picture>,
    /// Every sound track, in the order of the file.
    pub sound: Vec<SoundTrack>,
    /// What is worth telling; not kept with the rest.
    #[serde(skip)]
    pub notes: Vec<Note>,
}

/// One sound track of a file.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct SoundTrack {
    /// Which of the file's sound tracks, counted from 0.
    pub index: usize,
    /// Channels in it.
    pub channels: usize,
    /// Its rate.
    pub rate_hz: u32,
    /// Codec, as ffmpeg names it.
    pub codec: String,
    /// When its first sample is heard, on the clock of [`Picture::start_s`]: the file's own.
    pub start_s: f64,
    /// How long it sounds, in seconds, as declared.
    pub length_s: f64,
}

impl Probe {
    /// How long the longest sound track is, in seconds; 0 when there is none.
    pub fn sound_length_s(&self) -> f64 {
        self.sound.iter().map(|t| t.length_s).fold(0.0, f64::max)
    }
}

/// Says what is in `path`. Without `tools` only sound files (WAV, FLAC, MP3, AIFF, Ogg Vorbis) can
/// be probed.
///
/// # Errors
/// [`Error::Unfinished`] while it is being written, [`Error::NotMedia`], [`Error::NeedsTools`],
/// [`Error::NoFile`], [`Error::Empty`], and what the system refuses.
pub fn probe(path: &Path, tools: Option<&Tools>) -> Result<Probe, Error> {
    probe_while(path, tools, &|| true)
}

/// As [`probe`], until told to stop.
pub(crate) fn probe_while(
    path: &Path,
    tools: Option<&Tools>,
    keep_going: KeepGoing,
) -> Result<Probe, Error> {
    inprocess::check_file(path)?;
    let kind = kind::known(path)?;
    match tools {
        Some(tools) => by_ffprobe(path, tools, keep_going),
        None if kind.in_process => by_ourselves(path),
        None => Err(Error::NeedsTools {
            path: path.display().to_string(),
        }),
    }
}

fn by_ourselves(path: &Path) -> Result<Probe, Error> {
    let opened = inprocess::caught(path, || inprocess::open(path))?;
    let length_s = opened.frames.unwrap_or(0) as f64 / f64::from(opened.rate_hz);
    Ok(Probe {
        length: Length::nearest_to_seconds(length_s),
        picture: None,
        sound: vec![SoundTrack {
            index: 0,
            channels: opened.channels.max(1),
            rate_hz: opened.rate_hz,
            codec: opened.codec,
            start_s: 0.0,
            length_s,
        }],
        notes: Vec::new(),
    })
}

fn by_ffprobe(path: &Path, tools: &Tools, keep_going: KeepGoing) -> Result<Probe, Error> {
    let name = path.display().to_string();
    let ask = |options: &[&str]| ask(path, tools, options, keep_going);
    let answer = ask(&[
        "-show_entries",
        "packet=stream_index,pts_time,flags:stream=index,codec_type,codec_name,width,height,\
             sample_aspect_ratio,pix_fmt,color_range,color_space,color_transfer,color_primaries,\
             r_frame_rate,avg_frame_rate,start_time,duration,nb_frames,sample_rate,channels\
             :stream_tags=timecode,DURATION,rotate:stream_side_data=rotation\
             :stream_disposition=attached_pic:format=format_name,duration,start_time:format_tags=timecode",
        "-read_intervals",
        FIRST_PACKETS,
    ])?;
    let file_end_s = seconds(&answer.format.start_time).unwrap_or(0.0)
        + seconds(&answer.format.duration).unwrap_or(0.0);
    let sound: Vec<SoundTrack> = answer
        .streams
        .iter()
        .filter(|s| s.codec_type == "audio")
        .enumerate()
        .map(|(index, stream)| {
            let start_s = seconds(&stream.start_time).unwrap_or(0.0);
            SoundTrack {
                index,
                channels: stream.channels,
                rate_hz: stream
                    .sample_rate
                    .as_deref()
                    .and_then(|r| r.parse().ok())
                    .unwrap_or(0),
                codec: stream.codec_name.clone(),
                start_s,
                length_s: stream.length_s().unwrap_or(file_end_s - start_s).max(0.0),
            }
        })
        .collect();
    if let Some(track) = sound.iter().find(|t| t.rate_hz == 0 || t.channels == 0) {
        // The head is there but nothing that could be decoded behind it.
        return Err(Error::NotMedia {
            path: name,
            said: format!(
                "sound track {} gives no rate or no channels",
                track.index + 1
            ),
        });
    }
    let mut notes = Vec::new();
    let is_picture = |s: &&Stream| s.codec_type == "video" && s.disposition.attached_pic == 0;
    let picture = match answer.streams.iter().find(is_picture) {
        Some(stream) => picture_of(path, &ask, &answer, stream, file_end_s, &mut notes)?,
        None => None,
    };
    if picture.is_none() && sound.is_empty() {
        return Err(Error::NotMedia {
            path: name,
            said: "it holds neither sound nor picture".into(),
        });
    }
    let length = match &picture {
        Some(picture) => picture.length,
        None => Length::nearest_to_seconds(sound.iter().map(|t| t.length_s).fold(0.0, f64::max)),
    };
    Ok(Probe {
        length,
        picture,
        sound,
        notes,
    })
}

/// When the first frame of `stream` is shown, when that can be told.
fn first_shown_s(answer: &Answer, stream: &Stream) -> Option<f64> {
    // What an edit list cuts off is marked to be discarded: it is decoded and not shown.
    answer
        .packets
        .iter()
        .filter(|packet| packet.stream_index == stream.index && !packet.flags.contains('D'))
        .map(|packet| seconds(&packet.pts_time))
        .try_fold(f64::INFINITY, |first, time| Some(first.min(time?)))
        .filter(|first| first.is_finite())
}

fn picture_of(
    path: &Path,
    ask: &dyn Fn(&[&str]) -> Result<Answer, Error>,
    answer: &Answer,
    stream: &Stream,
    file_end_s: f64,
    notes: &mut Vec<Note>,
) -> Result<Option<Picture>, Error> {
    if stream.width == 0 || stream.height == 0 {
        return Ok(None);
    }
    let declared_start_s = seconds(&stream.start_time).unwrap_or(0.0);
    let start_s = first_shown_s(answer, stream).unwrap_or(declared_start_s);
    let declared = fraction(&stream.r_frame_rate);
    let mean = fraction(&stream.avg_frame_rate);
    let mut frames = stream.nb_frames.as_deref().and_then(|n| n.parse().ok());
    // Matroska and AVI declare a rate without having counted frames; the others' mean is counted.
    let counted = !["matroska", "avi"]
        .iter()
        .any(|name| answer.format.format_name.contains(name));
    let even = matches!((declared, mean), (Some(d), Some(m)) if same(d.fps(), m.fps()));
    let (rate, variable_rate) = match declared {
        Some(declared) if even && counted => (snapped(declared.fps()).unwrap_or(declared), false),
        _ => {
            let times = shown_times(ask, stream.index)?;
            let pace = pace(&times.seconds, declared);
            if times.whole && frames.is_none() {
                frames = Some(times.seconds.len() as u64);
            }
            match (pace, declared.or(mean)) {
                (Some(pace), _) => (pace.rate, !pace.steady),
                (None, Some(rate)) => (rate, false),
                // One frame, or none: any rate is as good.
                (None, None) => (FrameRate::FPS_25, false),
            }
        }
    };
    if variable_rate {
        notes.push(Note::VariableRate {
            path: path.display().to_string(),
            fps: rate.fps(),
        });
    }
    let length_s = match (stream.length_s(), frames) {
        (Some(length_s), _) => length_s - (start_s - declared_start_s).max(0.0),
        (None, Some(frames)) => frames as f64 / rate.fps(),
        (None, None) => file_end_s - start_s,
    };
    let timecode_of = |tags: &BTreeMap<String, String>| tags.get("timecode").cloned();
    Ok(Some(Picture {
        width: stream.width,
        height: stream.height,
        rotation_deg: stream.clockwise_deg(),
        pixel_aspect: ratio(&stream.sample_aspect_ratio).unwrap_or((1, 1)),
        rate,
        variable_rate,
        codec: stream.codec_name.clone(),
        pixel_format: stream.pix_fmt.clone().unwrap_or_default(),
        colour: [
            tag(&stream.color_primaries),
            tag(&stream.color_transfer),
            tag(&stream.color_space),
            tag(&stream.color_range),
        ],
        // The picture's own, then a timecode track's, then the file's.
        start_timecode: timecode_of(&stream.tags)
            .or_else(|| answer.streams.iter().find_map(|s| timecode_of(&s.tags)))
            .or_else(|| timecode_of(&answer.format.tags)),
        frames,
        start_s,
        length: Length::nearest_to_seconds(length_s.max(0.0)),
    }))
}

/// When frames are shown.
struct Times {
    /// Rising, in seconds on the file's clock.
    seconds: Vec<f64>,
    /// Whether that is all of the file.
    whole: bool,
}

fn shown_times(
    ask: &dyn Fn(&[&str]) -> Result<Answer, Error>,
    stream: usize,
) -> Result<Times, Error> {
    let answer = ask(&[
        "-select_streams",
        &stream.to_string(),
        "-show_entries",
        "packet=stream_index,pts_time,flags:format=duration",
        "-read_intervals",
        JUDGED,
    ])?;
    let mut times: Vec<f64> = answer
        .packets
        .iter()
        .filter(|p| !p.flags.contains('D'))
        .filter_map(|p| seconds(&p.pts_time))
        .collect();
    times.sort_by(f64::total_cmp);
    Ok(Times {
        whole: seconds(&answer.format.duration).is_some_and(|length| length < 59.0),
        seconds: times,
    })
}

struct Pace {
    rate: FrameRate,
    steady: bool,
}

/// How frames follow each other: `None` for fewer than three.
fn pace(times: &[f64], declared: Option<FrameRate>) -> Option<Pace> {
    let [first, .., last] = times else {
        return None;
    };
    if times.len() < 3 || last <= first {
        return None;
    }
    let span_s = last - first;
    let mean_s = span_s / (times.len() - 1) as f64;
    // Containers that count milliseconds round each time by up to half of one; 1.1 ms between two.
    const ROUNDED_S: f64 = 0.0011;
    let steady = times
        .windows(2)
        .all(|pair| (pair[1] - pair[0] - mean_s).abs() < ROUNDED_S);
    let fps = 1.0 / mean_s;
    // That rounding also blurs the mean, the more the shorter the file: then the declared rate
    // is the better witness.
    let fits = |rate: &FrameRate| (rate.fps() / fps - 1.0).abs() < (ROUNDED_S / span_s).max(2e-4);
    let declared = declared.map(|rate| snapped(rate.fps()).unwrap_or(rate));
    let rate = match declared.filter(fits) {
        Some(rate) if steady => Some(rate),
        _ if steady => snapped(fps),
        _ => None,
    };
    let rate = rate.or_else(|| FrameRate::new((fps * 1000.0).round().max(0.0) as u32, 1000))?;
    Some(Pace { rate, steady })
}

/// The usual rate within 0.02 % of `fps`: closer than 24 is to 24000/1001 (0.1 %).
fn snapped(fps: f64) -> Option<FrameRate> {
    let whole = FrameRate::new(fps.round() as u32, 1);
    let ntsc = FrameRate::new(fps.ceil() as u32 * 1000, 1001);
    [whole, ntsc]
        .into_iter()
        .flatten()
        .find(|rate| (rate.fps() / fps - 1.0).abs() < 2e-4)
}

/// Whether two ways to write a rate mean the same: within a hundred-thousandth.
fn same(a: f64, b: f64) -> bool {
    (a / b - 1.0).abs() < 1e-5
}

fn ask(
    path: &Path,
    tools: &Tools,
    options: &[&str],
    keep_going: KeepGoing,
) -> Result<Answer, Error> {
    let mut arguments = crate::process::arguments(["-of", "json"]);
    arguments.extend(crate::process::arguments(options));
    let answer = tools.ffprobe(&arguments, path, keep_going)?;
    serde_json::from_slice(&answer).map_err(|error| Error::Refused {
        program: "ffprobe",
        doing: "describe",
        path: path.display().to_string(),
        said: format!("its answer is not understood ({error})"),
    })
}

#[derive(Deserialize)]
struct Answer {
    #[serde(default)]
    packets: Vec<Packet>,
    #[serde(default)]
    streams: Vec<Stream>,
    #[serde(default)]
    format: Format,
}

#[derive(Deserialize)]
struct Packet {
    #[serde(default)]
    stream_index: usize,
    pts_time: Option<String>,
    #[serde(default)]
    flags: String,
}

#[derive(Default, Deserialize)]
struct Format {
    #[serde(default)]
    format_name: String,
    start_time: Option<String>,
    duration: Option<String>,
    #[serde(default)]
    tags: BTreeMap<String, String>,
}

#[derive(Deserialize)]
struct Stream {
    index: usize,
    #[serde(default)]
    codec_type: String,
    #[serde(default)]
    codec_name: String,
    #[serde(default)]
    width: u32,
    #[serde(default)]
    height: u32,
    sample_aspect_ratio: Option<String>,
    pix_fmt: Option<String>,
    color_range: Option<String>,
    color_space: Option<String>,
    color_transfer: Option<String>,
    color_primaries: Option<String>,
    r_frame_rate: Option<String>,
    avg_frame_rate: Option<String>,
    start_time: Option<String>,
    duration: Option<String>,
    nb_frames: Option<String>,
    sample_rate: Option<String>,
    #[serde(default)]
    channels: usize,
    #[serde(default)]
    tags: BTreeMap<String, String>,
    #[serde(default)]
    side_data_list: Vec<SideData>,
    #[serde(default)]
    disposition: Disposition,
}

#[derive(Deserialize)]
struct SideData {
    rotation: Option<f64>,
}

#[derive(Default, Deserialize)]
struct Disposition {
    #[serde(default)]
    attached_pic: u32,
}

impl Stream {
    fn length_s(&self) -> Option<f64> {
        seconds(&self.duration).or_else(|| {
            // Matroska keeps a track's length in a tag, `00:00:03.003000000`.
            let tag = self
                .tags
                .iter()
                .find(|(k, _)| k.eq_ignore_ascii_case("duration"))?;
            let mut total = 0.0;
            for part in tag.1.split(':') {
                total = total * 60.0 + part.trim().parse::<f64>().ok()?;
            }
            Some(total).filter(|t: &f64| t.is_finite() && *t >= 0.0)
        })
    }

    /// ffprobe says by how much the display matrix turns the picture counter-clockwise. Anything
    /// between quarter turns goes to the nearest.
    fn clockwise_deg(&self) -> u32 {
        let turned = self.side_data_list.iter().find_map(|data| data.rotation);
        let clockwise = match (turned, self.tags.get("rotate")) {
            (Some(counter), _) => -counter,
            (None, Some(tag)) => tag.parse().unwrap_or(0.0),
            (None, None) => 0.0,
        };
        if clockwise.is_finite() {
            (clockwise / 90.0).round().rem_euclid(4.0) as u32 * 90
        } else {
            0
        }
    }
}

fn seconds(text: &Option<String>) -> Option<f64> {
    let seconds: f64 = text.as_deref()?.parse().ok()?;
    seconds.is_finite().then_some(seconds)
}

fn fraction(text: &Option<String>) -> Option<FrameRate> {
    let (num, den) = text.as_deref()?.split_once('/')?;
    let (mut num, mut den): (u64, u64) = (num.parse().ok()?, den.parse().ok()?);
    while num > u64::from(u32::MAX) || den > u64::from(u32::MAX) {
        (num, den) = (num / 2, den / 2);
    }
    FrameRate::new(num as u32, den as u32)
}

fn ratio(text: &Option<String>) -> Option<(u32, u32)> {
    let (width, height) = text.as_deref()?.split_once(':')?;
    let ratio = (width.parse().ok()?, height.parse().ok()?);
    (ratio.0 > 0 && ratio.1 > 0).then_some(ratio)
}

fn tag(text: &Option<String>) -> Option<String> {
    text.clone()
        .filter(|t| !matches!(t.as_str(), "" | "unknown" | "unspecified" | "reserved"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_pace_is_steady_or_not() {
        let at = |fps: f64, n: usize| (0..n).map(|k| k as f64 / fps).collect::<Vec<_>>();
        let steady = pace(&at(30_000.0 / 1001.0, 100), None).unwrap();
        assert_eq!((steady.rate, steady.steady), (FrameRate::FPS_29_97, true));
        // As a container that counts milliseconds writes them.
        let rounded: Vec<f64> = at(24_000.0 / 1001.0, 500)
            .iter()
            .map(|t| (t * 1000.0).round() / 1000.0)
            .collect();
        let rounded = pace(&rounded, None).unwrap();
        assert_eq!(
            (rounded.rate, rounded.steady),
            (FrameRate::FPS_23_976, true)
        );
        let mut uneven = at(30.0, 50);
        uneven.extend((0..25).map(|k| 50.0 / 30.0 + k as f64 / 15.0));
        let uneven = pace(&uneven, None).unwrap();
        assert!(!uneven.steady);
        assert!((uneven.rate.fps() - 22.6).abs() < 0.5, "{}", uneven.rate);
        assert!(pace(&[0.0, 0.04], None).is_none());
        assert!(pace(&[0.0, 0.0, 0.0], None).is_none());
    }
}
