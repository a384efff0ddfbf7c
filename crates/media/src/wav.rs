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
