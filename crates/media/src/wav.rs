//! WAV files out.

use crate::Error;
use crate::output::Output;
use std::io::BufWriter;
use std::path::Path;

/// How samples stand in a WAV file.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum WavFormat {
    /// 16-bit whole numbers: scaled by 32 768, rounded to nearest, held at the ends. No dither.
    Int16,
    /// 32-bit floats, as they are.
    Float32,
}

/// Writes `channels` (one slice each, all of the same length) as a WAV file at `path`.
///
/// # Errors
/// [`Error::OutOfRange`] for no or more than 64 channels, unequal lengths, or more than a WAV file
/// holds (4 GiB); what the system refuses.
pub fn write_wav(
    path: &Path,
    rate_hz: u32,
    channels: &[&[f32]],
    format: WavFormat,
) -> Result<(), Error> {
    let length = channels.first().map_or(0, |channel| channel.len());
    let refuse = |what: &str, met: String, allowed: &str| Error::OutOfRange {
        what: format!("{what} of `{}`", path.display()),
        met,
        allowed: allowed.to_owned(),
    };
    if channels.is_empty() || channels.len() > 64 {
        return Err(refuse(
            "the number of channels",
            channels.len().to_string(),
            "1 to 64",
        ));
    }
    if rate_hz == 0 {
        return Err(refuse("the rate", "0 Hz".into(), "1 Hz or more"));
    }
    if let Some(other) = channels.iter().find(|channel| channel.len() != length) {
        return Err(refuse(
            "the length of a channel",
            other.len().to_string(),
            &format!("{length}, as the first"),
        ));
    }
    let (bits_per_sample, sample_format) = match format {
        WavFormat::Int16 => (16, hound::SampleFormat::Int),
        WavFormat::Float32 => (32, hound::SampleFormat::Float),
    };
    let bytes = length as u64 * channels.len() as u64 * u64::from(bits_per_sample / 8);
    if bytes > u64::from(u32::MAX) - 1024 {
        return Err(refuse(
            "the size",
            format!("{bytes} bytes"),
            "under 4 GiB; write shorter files",
        ));
    }
    let spec = hound::WavSpec {
        channels: channels.len() as u16,
        sample_rate: rate_hz,
        bits_per_sample,
        sample_format,
    };
    let failed = |error: hound::Error| match error {
        hound::Error::IoError(source) => Error::io(path, "written")(source),
        other => Error::io(path, "written")(std::io::Error::other(other)),
    };
    let mut output = Output::beside(path)?;
    {
        let mut writer =
            hound::WavWriter::new(BufWriter::new(output.file()), spec).map_err(failed)?;
        for index in 0..length {
            for channel in channels {
                let sample = channel[index];
                match format {
                    WavFormat::Int16 => writer.write_sample(to_int16(sample)),
                    WavFormat::Float32 => writer.write_sample(sample),
                }
                .map_err(failed)?;
            }
        }
        writer.finalize().map_err(failed)?;
    }
    output.persist(path)
}

/// Full scale is 32 768, as decoders take it; what lies outside is held. `NaN` becomes 0.
fn to_int16(sample: f32) -> i16 {
    (sample * 32_768.0).round().clamp(-32_768.0, 32_767.0) as i16
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn samples_are_rounded_and_held() {
        for (sample, expected) in [
            (0.0, 0),
            (1.0, 32_767),
            (-1.0, -32_768),
            (2.0, 32_767),
            (-2.0, -32_768),
            (0.5, 16_384),
            (1.4 / 32_768.0, 1),
            (1.6 / 32_768.0, 2),
            (-1.6 / 32_768.0, -2),
            (f32::NAN, 0),
        ] {
            assert_eq!(to_int16(sample), expected, "{sample}");
        }
    }

    #[test]
    fn what_is_written_is_read_back() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a b.wav");
        let left = [0.0, 0.25, -0.5, 1.5];
        let right = [0.125, -1.0, 0.75, -1.5];
        write_wav(&path, 48_000, &[&left, &right], WavFormat::Float32).unwrap();
        let read: Vec<f32> = hound::WavReader::open(&path)
            .unwrap()
            .samples()
            .map(Result::unwrap)
            .collect();
        assert_eq!(read, [0.0, 0.125, 0.25, -1.0, -0.5, 0.75, 1.5, -1.5]);
        write_wav(&path, 44_100, &[&left], WavFormat::Int16).unwrap();
        let mut reader = hound::WavReader::open(&path).unwrap();
        assert_eq!(reader.spec().sample_rate, 44_100);
        let read: Vec<i16> = reader.samples().map(Result::unwrap).collect();
        assert_eq!(read, [0, 8192, -16_384, 32_767]);
        assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1);
    }

    #[test]
    fn what_is_no_sound_is_refused_and_nothing_left() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.wav");
        let refused = |rate_hz, channels: &[&[f32]]| {
            write_wav(&path, rate_hz, channels, WavFormat::Int16)
                .unwrap_err()
                .to_string()
        };
        assert!(refused(8000, &[]).contains("the number of channels"));
        assert!(refused(0, &[&[0.0]]).contains("the rate"));
        assert!(refused(8000, &[&[0.0], &[]]).contains("the length of a channel"));
        let nowhere = folder.path().join("gone/a.wav");
        let error = write_wav(&nowhere, 8000, &[&[0.0]], WavFormat::Int16).unwrap_err();
        assert!(error.to_string().contains("gone"), "{error}");
        assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 0);
    }
}
