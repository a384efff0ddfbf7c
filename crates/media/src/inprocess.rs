//! Sound decoded in this process: WAV, FLAC, MP3, AIFF and Ogg Vorbis, by symphonia.
//!
//! AAC in MP4 and MOV is left out on purpose: symphonia drops the edit list, so it comes out 1024
//! samples late. What else symphonia does not know (RF64, ALAC, AC-3, Opus) it refuses, and ffmpeg
//! may be asked.

use crate::{Error, KeepGoing, Note};
use std::fs::File;
use std::io::{Read as _, Seek as _};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::Path;
use symphonia::core::audio::GenericAudioBufferRef;
use symphonia::core::codecs::CodecParameters;
use symphonia::core::codecs::audio::{AudioDecoder, AudioDecoderOptions};
use symphonia::core::errors::Error as Trouble;
use symphonia::core::formats::probe::Hint;
use symphonia::core::formats::{FormatOptions, FormatReader, TrackType};
use symphonia::core::io::MediaSourceStream;
use symphonia::core::meta::MetadataOptions;

/// A sound file opened by symphonia.
pub(crate) struct Opened {
    path: String,
    format: Box<dyn FormatReader>,
    decoder: Box<dyn AudioDecoder>,
    track: u32,
    /// Samples per second.
    pub rate_hz: u32,
    /// Channels; 0 when only decoding tells.
    pub channels: usize,
    /// Samples per channel the file promises, as far as its size allows.
    pub frames: Option<u64>,
    /// Short name of the codec.
    pub codec: String,
    /// How many times longer than the file its outermost chunk says it is (AIFF): above 1 when it
    /// was cut off, of which symphonia says nothing.
    cut_off: f64,
}

/// Decoded sound, before anyone has looked at it.
pub(crate) struct Decoded {
    pub rate_hz: u32,
    pub channels: Vec<Vec<f32>>,
    pub notes: Vec<Note>,
}

impl Decoded {
    /// Adds a note when a quarter of a second or more is missing of what the file promises. Less
    /// can be how its head rounds, or encoder padding.
    pub(crate) fn note_if_short(&mut self, path: &str, promised_s: f64) {
        let frames = self.channels.first().map_or(0, Vec::len);
        let found_s = frames as f64 / f64::from(self.rate_hz.max(1));
        if promised_s - found_s >= 0.25 {
            self.notes.push(Note::Truncated {
                path: path.to_owned(),
                found_s,
                promised_s,
            });
        }
    }
}

/// How much sound is read at most.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Limit {
    pub longest_s: f64,
    pub most_samples: u64,
}

impl Limit {
    /// Refuses `frames` samples in each of `channels` when that is too much.
    pub(crate) fn check(
        self,
        path: &str,
        frames: u64,
        channels: usize,
        rate_hz: u32,
    ) -> Result<(), Error> {
        let seconds = frames as f64 / f64::from(rate_hz.max(1));
        let samples = frames.saturating_mul(channels.max(1) as u64);
        let most = if seconds > self.longest_s {
            format!("{:.0} min", self.longest_s / 60.0)
        } else if samples > self.most_samples {
            let minutes = self.most_samples as f64
                / channels.max(1) as f64
                / f64::from(rate_hz.max(1))
                / 60.0;
            format!("{minutes:.0} min of that")
        } else {
            return Ok(());
        };
        Err(Error::TooLong {
            path: path.to_owned(),
            minutes: seconds / 60.0,
            channels: channels.max(1),
            rate_hz,
            most,
        })
    }
}

/// Refuses at once what is no file to be read: absent, a folder, empty, a pipe or device (which
/// could make a reader wait for ever).
pub(crate) fn check_file(path: &Path) -> Result<u64, Error> {
    let about = std::fs::metadata(path).map_err(Error::io(path, "opened"))?;
    let name = path.display().to_string();
    if about.is_dir() {
        return Err(Error::Folder { path: name });
    }
    if !about.is_file() {
        return Err(Error::NotMedia {
            path: name,
            said: "it is a pipe or a device".into(),
        });
    }
    if about.len() == 0 {
        return Err(Error::Empty { path: name });
    }
    Ok(about.len())
}

/// What `reads` makes of the file at `path`, where a reader of others that panics has met a file it can't read.
pub(crate) fn caught<T>(path: &Path, reads: impl FnOnce() -> Result<T, Error>) -> Result<T, Error> {
    catch_unwind(AssertUnwindSafe(reads)).unwrap_or_else(|_| {
        Err(Error::NotMedia {
            path: path.display().to_string(),
            said: "its reader made no sense of it".into(),
        })
    })
}

/// Decodes a sound file to the end.
pub(crate) fn decode(path: &Path, limit: Limit, keep_going: KeepGoing) -> Result<Decoded, Error> {
    caught(path, || open(path)?.decode(limit, keep_going))
}

/// Opens a sound file and reads its head.
pub(crate) fn open(path: &Path) -> Result<Opened, Error> {
    let name = path.display().to_string();
    let bytes = check_file(path)?;
    let mut file = File::open(path).map_err(Error::io(path, "opened"))?;
    let mut head = [0u8; 8];
    let cut_off = match file.read_exact(&mut head) {
        Ok(()) if head.starts_with(b"FORM") => {
            let [.., a, b, c, d] = head;
            (f64::from(u32::from_be_bytes([a, b, c, d])) + 8.0) / bytes as f64
        }
        _ => 0.0,
    };
    file.rewind().map_err(Error::io(path, "read"))?;
    let stream = MediaSourceStream::new(Box::new(file), Default::default());
    let format = symphonia::default::get_probe()
        .probe(
            &Hint::new(),
            stream,
            FormatOptions::default(),
            MetadataOptions::default(),
        )
        .map_err(|trouble| not_media(&name, &trouble))?;
    let refused = |said: &str| Error::NotMedia {
        path: name.clone(),
        said: said.into(),
    };
    let track = format
        .default_track(TrackType::Audio)
        .ok_or_else(|| Error::NoSound { path: name.clone() })?;
    let Some(CodecParameters::Audio(parameters)) = &track.codec_params else {
        return Err(refused("its codec is not known"));
    };
    let decoder = symphonia::default::get_codecs()
        .make_audio_decoder(parameters, &AudioDecoderOptions::default())
        .map_err(|trouble| not_media(&name, &trouble))?;
    let rate_hz = parameters
        .sample_rate
        .filter(|rate| (1..=1_000_000).contains(rate))
        .ok_or_else(|| refused("it gives no sample rate"))?;
    let channels = parameters.channels.as_ref().map_or(0, |c| c.count());
    let codec = decoder.codec_info().short_name.to_owned();
    // A recorder that streams writes the largest length it can into the head; the file's own size
    // bounds what uncompressed sound can hold.
    let width = parameters
        .bits_per_coded_sample
        .or(parameters.bits_per_sample)
        .map(|bits| u64::from(bits.div_ceil(8)) * channels as u64)
        .filter(|width| *width > 0 && codec.starts_with("pcm"));
    let frames = track.num_frames.map(|frames| match width {
        Some(width) if frames > bytes.saturating_mul(64) / width => bytes / width,
        _ => frames,
    });
    Ok(Opened {
        path: name,
        track: track.id,
        rate_hz,
        channels,
        frames,
        codec,
        cut_off,
        decoder,
        format,
    })
}

fn not_media(path: &str, trouble: &Trouble) -> Error {
    Error::NotMedia {
        path: path.to_owned(),
        said: match trouble {
            Trouble::IoError(error) if error.kind() == std::io::ErrorKind::UnexpectedEof => {
                "it ends in the middle of its head".into()
            }
            other => other.to_string(),
        },
    }
}

impl Opened {
    /// Decodes to the end. Encoder delay and padding are taken off. A damaged packet becomes
    /// silence of its length, so that what follows keeps its time.
    fn decode(mut self, limit: Limit, keep_going: KeepGoing) -> Result<Decoded, Error> {
        if let Some(frames) = self.frames {
            limit.check(&self.path, frames, self.channels, self.rate_hz)?;
        }
        let mut channels: Vec<Vec<f32>> = vec![Vec::new(); self.channels];
        let mut notes = Vec::new();
        let mut damaged = 0u64;
        let mut last_trouble = None;
        loop {
            if !keep_going() {
                return Err(Error::Cancelled);
            }
            let packet = match self.format.next_packet() {
                Ok(Some(packet)) => packet,
                Ok(None) => break,
                Err(trouble) => {
                    // The end of a file that was cut off looks the same as damage nothing can be read after.
                    last_trouble = Some(trouble);
                    break;
                }
            };
            if packet.track_id != self.track {
                continue;
            }
            match self.decoder.decode(&packet) {
                Ok(decoded) => {
                    if !append(&mut channels, &decoded) {
                        notes.push(Note::Other {
                            path: self.path.clone(),
                            what: "its number of channels changes; what follows was left out"
                                .into(),
                        });
                        break;
                    }
                }
                Err(Trouble::DecodeError(_) | Trouble::IoError(_)) => {
                    damaged += 1;
                    let silent = packet.dur.get().min(1 << 16) as usize;
                    for channel in &mut channels {
                        channel.resize(channel.len() + silent, 0.0);
                    }
                }
                Err(trouble) => {
                    last_trouble = Some(trouble);
                    break;
                }
            }
            let frames = channels.first().map_or(0, Vec::len) as u64;
            limit.check(&self.path, frames, channels.len(), self.rate_hz)?;
        }
        let frames = channels.first().map_or(0, Vec::len) as u64;
        if frames == 0 {
            return Err(match last_trouble {
                Some(trouble) => not_media(&self.path, &trouble),
                None => Error::Empty { path: self.path },
            });
        }
        match self.cut_short(frames) {
            Some(note) => notes.push(note),
            None => damaged += u64::from(last_trouble.is_some()),
        }
        if damaged > 0 {
            notes.push(Note::Damaged {
                path: self.path.clone(),
                count: damaged,
            });
        }
        silence_what_is_no_number(&self.path, &mut channels, &mut notes);
        Ok(Decoded {
            rate_hz: self.rate_hz,
            channels,
            notes,
        })
    }

    /// What to say when only `frames` came of what the file promised.
    fn cut_short(&self, frames: u64) -> Option<Note> {
        let seconds = |frames: u64| frames as f64 / f64::from(self.rate_hz);
        let by_size = (frames as f64 * self.cut_off) as u64;
        let promised = self
            .frames
            .map_or(by_size, |promised| promised.max(by_size));
        // A twentieth of a second: less can be the last packet's padding, written in the head or not.
        (promised > frames && seconds(promised - frames) > 0.05).then(|| Note::Truncated {
            path: self.path.clone(),
            found_s: seconds(frames),
            promised_s: seconds(promised),
        })
    }
}

/// Adds a decoded packet; `false` when it has another number of channels.
fn append(channels: &mut Vec<Vec<f32>>, decoded: &GenericAudioBufferRef<'_>) -> bool {
    if decoded.frames() == 0 {
        return true;
    }
    if channels.is_empty() {
        channels.resize(decoded.num_planes(), Vec::new());
    }
    if channels.len() != decoded.num_planes() {
        return channels[0].is_empty() && {
            *channels = vec![Vec::new(); decoded.num_planes()];
            append(channels, decoded)
        };
    }
    let start = channels[0].len();
    let mut slices: Vec<&mut [f32]> = channels
        .iter_mut()
        .map(|channel| {
            channel.resize(start + decoded.frames(), 0.0);
            &mut channel[start..]
        })
        .collect();
    decoded.copy_to_slice_planar(&mut slices);
    true
}

/// Samples that are no numbers (NaN, infinite) become silence, and a note tells how many.
pub(crate) fn silence_what_is_no_number(
    path: &str,
    channels: &mut [Vec<f32>],
    notes: &mut Vec<Note>,
) {
    let mut count = 0u64;
    for sample in channels.iter_mut().flatten() {
        if !sample.is_finite() {
            *sample = 0.0;
            count += 1;
        }
    }
    if count > 0 {
        notes.push(Note::NotNumbers {
            path: path.to_owned(),
            count,
        });
    }
}
