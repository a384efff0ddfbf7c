//! One take, drawn to a file.

use crate::compose::Composed;
use crate::error::Error;
use crate::picture::camera::{Camera, FRAME};
use crate::set_sound::set_sound;
use crate::takes::{Codec, TakePlan};
use media::{SinkAudio, SinkSound, SinkSpec, Tools, VideoSink, WavFormat, write_wav};
use std::path::{Path, PathBuf};

/// Draws `take` into the folder `out` and returns the file written.
///
/// With `tools` it is a camera file of that name; without, the take's sound alone as `NAME.wav`
/// (of two tracks, the one that holds the set). `keep_going` is asked between frames.
///
/// # Errors
/// [`Error::Stopped`] when `keep_going` said no, [`Error::Write`] when a file could not be
/// written. Either way nothing is left under the final name.
pub fn draw_take(
    composed: &Composed,
    take: &TakePlan,
    out: &Path,
    tools: Option<&Tools>,
    keep_going: &(dyn Fn() -> bool + Sync),
) -> Result<PathBuf, Error> {
    let stopped = || Error::Stopped {
        file: take.truth.file.clone(),
    };
    if !keep_going() {
        return Err(stopped());
    }
    let mut tracks = set_sound(composed, take);
    let Some(tools) = tools else {
        let path = out.join(&take.truth.file).with_extension("wav");
        let channels = tracks.pop().unwrap_or_default();
        let slices: Vec<&[f32]> = channels.iter().map(Vec::as_slice).collect();
        write_wav(&path, take.sample_rate_hz, &slices, WavFormat::Int16)
            .map_err(|cause| failed(&path, &cause))?;
        return Ok(path);
    };
    let path = out.join(&take.truth.file);
    let codec = if take.aac { "aac" } else { "pcm_s16le" };
    let spec = SinkSpec {
        width: FRAME.0 as u32,
        height: FRAME.1 as u32,
        rate: take.truth.rate,
        gray: false,
        codec: encoder(take.codec).to_string(),
        codec_options: options(take.codec),
        rotation_deg: if take.upright { 90 } else { 0 },
        timecode: Some(take.start_timecode.clone()),
        audio: tracks
            .into_iter()
            .map(|channels| SinkAudio {
                source: SinkSound::Samples {
                    rate_hz: take.sample_rate_hz,
                    channels,
                },
                codec: codec.to_string(),
            })
            .collect(),
    };
    let mut sink = VideoSink::create(&path, &spec, tools).map_err(|cause| failed(&path, &cause))?;
    let mut camera = Camera::new(composed, take);
    let mut bytes = Vec::with_capacity(FRAME.0 * FRAME.1 * 3 / 2);
    for index in 0..frames(take) {
        if !keep_going() {
            return Err(stopped());
        }
        camera.frame(index, &mut bytes);
        sink.push_frame(&bytes)
            .map_err(|cause| failed(&path, &cause))?;
    }
    sink.finish().map_err(|cause| failed(&path, &cause))?;
    Ok(path)
}

/// How many frames `take` has.
pub fn frames(take: &TakePlan) -> u32 {
    (take.truth.duration_s * take.truth.rate.fps()).round() as u32
}

fn failed(path: &Path, cause: &media::Error) -> Error {
    Error::Write {
        path: path.to_path_buf(),
        cause: cause.to_string(),
    }
}

fn encoder(codec: Codec) -> &'static str {
    match codec {
        Codec::H264 => "libx264",
        Codec::Mpeg4 => "mpeg4",
        Codec::Mjpeg => "mjpeg",
    }
}

/// Fast encoding with a key frame every half second, so that cutting seeks quickly; one thread, so
/// that the same frames give the same bytes (takes are drawn side by side instead).
fn options(codec: Codec) -> Vec<String> {
    let words = match codec {
        Codec::H264 => "-preset ultrafast -crf 27 -g 12 -threads 1",
        Codec::Mpeg4 => "-q:v 4 -g 12 -threads 1",
        Codec::Mjpeg => "-q:v 4 -threads 1",
    };
    words.split(' ').map(str::to_owned).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::compose::sample;
    use crate::{plan, takes};

    #[test]
    fn without_ffmpeg_a_take_is_its_sound_alone() {
        let folder = tempfile::tempdir().unwrap();
        let all = takes(sample(), &plan(sample()));
        let path = draw_take(sample(), &all[5], folder.path(), None, &|| true).unwrap();
        assert_eq!(path.file_name().unwrap(), "n06-launderette-wide-2.wav");
        let wav = hound::WavReader::open(&path).unwrap();
        assert_eq!(wav.spec().channels, 1);
        let length_s = f64::from(wav.duration()) / f64::from(wav.spec().sample_rate);
        assert!((length_s - all[5].truth.duration_s).abs() < 1e-3);
    }

    #[test]
    fn stopped_it_leaves_nothing() {
        let folder = tempfile::tempdir().unwrap();
        let all = takes(sample(), &plan(sample()));
        let outcome = draw_take(sample(), &all[11], folder.path(), None, &|| false);
        assert!(matches!(outcome, Err(Error::Stopped { .. })));
        assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 0);
    }
}
