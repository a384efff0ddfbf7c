//! Sound decoded by ffmpeg and read through a pipe.
//!
//! It comes as a Sun AU stream of big-endian floats: the head tells the channels and the rate that
//! ffmpeg really gives, so nothing is assumed of a file whose own head may be wrong.

use crate::inprocess::{Decoded, Limit, silence_what_is_no_number};
use crate::process::Out;
use crate::tools::input;
use crate::{Error, KeepGoing, Tools};
use std::ffi::OsString;
use std::path::Path;

/// Where in a file to read, and how to bring it out.
pub(crate) struct Wanted {
    /// Which of the file's sound tracks, counted from 0.
    pub track: usize,
    /// The rate to bring it to; `None` for its own.
    pub rate_hz: Option<u32>,
    /// On the file's clock, when sample 0 is; `None` for the track's own first sample. What lies
    /// before is cut off, what starts later gets silence in front, gaps beyond 0.1 s are filled.
    pub zero_s: Option<f64>,
    /// The track's own rate, as probed.
    pub native_hz: u32,
}

/// Decodes one track.
pub(crate) fn decode(
    path: &Path,
    tools: &Tools,
    wanted: &Wanted,
    limit: Limit,
    keep_going: KeepGoing,
) -> Result<Decoded, Error> {
    let arguments = arguments_for(path, wanted)?;
    let out = Out::Pieces {
        bytes: 1 << 18,
        ahead: 8,
    };
    let name = path.display().to_string();
    let mut job = tools.ffmpeg(&arguments, "read", path, out, None)?;
    let mut reader = Reader::default();
    while let Some(piece) = job.next(keep_going)? {
        reader.take(&piece).map_err(|said| Error::NotMedia {
            path: name.clone(),
            said,
        })?;
        limit.check(
            &name,
            reader.frames(),
            reader.channels.len(),
            reader.rate_hz,
        )?;
    }
    let Reader {
        rate_hz,
        mut channels,
        ..
    } = reader;
    if channels.first().is_none_or(Vec::is_empty) {
        return Err(Error::NoSound { path: name });
    }
    let mut notes = Vec::new();
    silence_what_is_no_number(&name, &mut channels, &mut notes);
    Ok(Decoded {
        rate_hz,
        channels,
        notes,
    })
}

fn arguments_for(path: &Path, wanted: &Wanted) -> Result<Vec<OsString>, Error> {
    let mut arguments: Vec<OsString> = Vec::new();
    // The file's own clock is kept; otherwise ffmpeg moves it so that the earliest track starts at 0.
    arguments.push("-copyts".into());
    arguments.extend(input(path)?);
    let mut add = |argument: String| arguments.push(argument.into());
    for argument in [
        "-map",
        &format!("0:a:{}", wanted.track),
        "-vn",
        "-sn",
        "-dn",
    ] {
        add(argument.to_owned());
    }
    let mut filter = Vec::new();
    if let Some(rate_hz) = wanted.rate_hz {
        filter.push(format!("osr={rate_hz}"));
    }
    if let Some(zero_s) = wanted.zero_s {
        // `first_pts` counts samples of the track's own rate, whatever the rate that comes out.
        // `min_comp` makes the very first correction exact: by default one below 1 ms is not made.
        filter.push(format!(
            "async=1:min_comp=0.000001:min_hard_comp=0.1:first_pts={:.0}",
            zero_s * f64::from(wanted.native_hz)
        ));
    }
    if !filter.is_empty() {
        add("-af".to_owned());
        add(format!("aresample={}", filter.join(":")));
    }
    for argument in [
        "-f",
        "au",
        "-c:a",
        "pcm_f32be",
        "-map_metadata",
        "-1",
        "pipe:1",
    ] {
        add(argument.to_owned());
    }
    Ok(arguments)
}

/// Takes an AU stream apart as it comes.
#[derive(Default)]
struct Reader {
    head: Vec<u8>,
    rate_hz: u32,
    channels: Vec<Vec<f32>>,
    /// The channel that the next sample belongs to.
    turn: usize,
    /// Bytes of a sample that is not whole yet.
    rest: Vec<u8>,
}

impl Reader {
    fn frames(&self) -> u64 {
        self.channels.first().map_or(0, Vec::len) as u64
    }

    fn take(&mut self, piece: &[u8]) -> Result<(), String> {
        let mut piece = piece;
        if self.channels.is_empty() {
            self.head.extend_from_slice(piece);
            let Some(data) = self.read_head()? else {
                return Ok(());
            };
            let head = std::mem::take(&mut self.head);
            return self.take(&head[data..]);
        }
        if !self.rest.is_empty() {
            let missing = (4 - self.rest.len()).min(piece.len());
            self.rest.extend_from_slice(&piece[..missing]);
            piece = &piece[missing..];
            if let Ok(bytes) = <[u8; 4]>::try_from(self.rest.as_slice()) {
                self.push(f32::from_be_bytes(bytes));
                self.rest.clear();
            } else {
                return Ok(());
            }
        }
        let (samples, rest) = piece.as_chunks::<4>();
        let whole = !samples.is_empty() && samples.len().is_multiple_of(self.channels.len());
        if self.turn == 0 && whole {
            let count = self.channels.len();
            for (index, channel) in self.channels.iter_mut().enumerate() {
                channel.extend(
                    samples[index..]
                        .iter()
                        .step_by(count)
                        .map(|bytes| f32::from_be_bytes(*bytes)),
                );
            }
        } else {
            for bytes in samples {
                self.push(f32::from_be_bytes(*bytes));
            }
        }
        self.rest.extend_from_slice(rest);
        Ok(())
    }

    fn push(&mut self, sample: f32) {
        self.channels[self.turn].push(sample);
        self.turn = (self.turn + 1) % self.channels.len();
    }

    /// Reads the head once it is whole and gives where the samples begin. Five words: magic, where
    /// the samples begin, their size, the encoding (6 is 32-bit float), rate, channels.
    fn read_head(&mut self) -> Result<Option<usize>, String> {
        let (words, _) = self.head.as_chunks::<4>();
        let &[magic, data, _, encoding, rate, channels, ..] = words else {
            return Ok(None);
        };
        let data = u32::from_be_bytes(data) as usize;
        let channels = u32::from_be_bytes(channels);
        if &magic != b".snd" || u32::from_be_bytes(encoding) != 6 || !(24..=65_536).contains(&data)
        {
            return Err("ffmpeg answered in another form than asked for".into());
        }
        if !(1..=64).contains(&channels) {
            return Err(format!("it has {channels} channels"));
        }
        if self.head.len() < data {
            return Ok(None);
        }
        self.rate_hz = u32::from_be_bytes(rate);
        self.channels = vec![Vec::new(); channels as usize];
        Ok(Some(data))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn au(channels: u32, samples: &[f32]) -> Vec<u8> {
        let mut bytes = b".snd".to_vec();
        for word in [32, u32::MAX, 6, 8000, channels] {
            bytes.extend(word.to_be_bytes());
        }
        bytes.extend([0; 8]);
        for sample in samples {
            bytes.extend(sample.to_be_bytes());
        }
        bytes
    }

    proptest! {
        #[test]
        fn pieces_of_any_size_give_the_same(channels in 1u32..5, frames in 0usize..40, sizes in prop::collection::vec(1usize..50, 1..20)) {
            let samples: Vec<f32> = (0..frames * channels as usize).map(|n| n as f32).collect();
            let bytes = au(channels, &samples);
            let mut reader = Reader::default();
            let mut at = 0;
            for size in sizes.iter().cycle() {
                if at == bytes.len() { break; }
                let to = (at + size).min(bytes.len());
                reader.take(&bytes[at..to]).unwrap();
                at = to;
            }
            prop_assert_eq!(reader.rate_hz, 8000);
            for (index, channel) in reader.channels.iter().enumerate() {
                let expected: Vec<f32> = samples[index.min(samples.len())..].iter().copied().step_by(channels as usize).collect();
                prop_assert_eq!(channel, &expected);
            }
        }

        #[test]
        fn any_bytes_are_refused_or_read(bytes in prop::collection::vec(any::<u8>(), 0..200)) {
            let _ = Reader::default().take(&bytes);
        }
    }
}
