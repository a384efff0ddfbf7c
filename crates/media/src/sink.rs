//! Raw frames and sound written as a movie file.

use crate::confine;
use crate::output::Output;
use crate::process::{self, Job, Out};
use crate::tools::input;
use crate::{Error, Tools, WavFormat, write_wav};
use model::FrameRate;
use std::ffi::OsString;
use std::io::{Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};

/// What movie file to write.
#[derive(Clone, Debug, PartialEq)]
pub struct SinkSpec {
    /// Width of a frame in pixels, even.
    pub width: u32,
    /// Height of a frame in pixels, even.
    pub height: u32,
    /// Frames per second.
    pub rate: FrameRate,
    /// Whether frames are grey (one plane of `width × height`) instead of planar YUV 4:2:0. Either
    /// way luma is on the coded scale, 16 (black) to 235 (white).
    pub gray: bool,
    /// ffmpeg's name of the encoder: `libx264`, `mpeg4`, `mjpeg`, `prores_ks`.
    pub codec: String,
    /// Further encoder options, each as ffmpeg takes it: `["-crf", "23"]`.
    pub codec_options: Vec<String>,
    /// Clockwise quarter turns to show it upright, in degrees: 0, 90, 180 or 270. MP4 and MOV only.
    pub rotation_deg: u32,
    /// Timecode of the first frame, `01:00:00:00`.
    pub timecode: Option<String>,
    /// The sound tracks, in order; none is allowed.
    pub audio: Vec<SinkAudio>,
}

/// One sound track of a movie to write.
#[derive(Clone, Debug, PartialEq)]
pub struct SinkAudio {
    /// The sound.
    pub source: SinkSound,
    /// ffmpeg's name of the encoder: `aac`, `pcm_s16le`.
    pub codec: String,
}

/// Where the sound of a movie comes from.
#[derive(Clone, Debug, PartialEq)]
pub enum SinkSound {
    /// A file that ffmpeg can read.
    File(PathBuf),
    /// Samples, full scale ±1.0, one vector per channel.
    Samples {
        /// Samples per second.
        rate_hz: u32,
        /// One vector per channel, all of the same length.
        channels: Vec<Vec<f32>>,
    },
}

/// A movie file being written. Dropped before [`VideoSink::finish`], it leaves nothing behind.
///
/// The same frames and sound give the same bytes with the same ffmpeg: nothing of the time of
/// writing goes into the file.
pub struct VideoSink {
    // Dropped in this order: the child first, then what it reads and writes.
    job: Job,
    output: Output,
    target: PathBuf,
    frame_bytes: usize,
    neutral_bytes: usize,
    turned: Option<(u32, u32, u32)>,
    _sounds: Vec<tempfile::TempPath>,
}

impl VideoSink {
    /// Begins a movie at `path`; its ending decides the container (`.mp4`, `.mov`, `.mkv`, `.avi`).
    ///
    /// # Errors
    /// [`Error::OutOfRange`] for a spec that cannot be written, what the system refuses, and, here or
    /// later, what ffmpeg refuses (an encoder it does not have).
    pub fn create(path: &Path, spec: &SinkSpec, tools: &Tools) -> Result<Self, Error> {
        let container = container_of(path, spec)?;
        let output = Output::beside(path)?;
        let mut sounds = Vec::new();
        let mut inputs = Vec::new();
        for track in &spec.audio {
            match &track.source {
                SinkSound::File(file) => inputs.push(file.clone()),
                SinkSound::Samples { rate_hz, channels } => {
                    // Beside the movie: where there is room for it there is room for its sound.
                    let place = output
                        .path()
                        .with_extension(format!("sound{}", sounds.len()));
                    let slices: Vec<&[f32]> = channels.iter().map(Vec::as_slice).collect();
                    write_wav(&place, *rate_hz, &slices, WavFormat::Float32)?;
                    inputs.push(place.clone());
                    sounds.push(
                        tempfile::TempPath::try_from_path(place)
                            .map_err(Error::io(path, "written"))?,
                    );
                }
            }
        }
        let arguments = arguments_for(spec, container, &inputs, output.path())?;
        let job = tools.ffmpeg(&arguments, "write", path, Out::Nothing, Some(8))?;
        let luma = spec.width as usize * spec.height as usize;
        let chroma = luma / 2;
        Ok(Self {
            job,
            output,
            target: path.to_owned(),
            frame_bytes: if spec.gray { luma } else { luma + chroma },
            neutral_bytes: if spec.gray { chroma } else { 0 },
            turned: (spec.rotation_deg != 0).then_some((
                spec.rotation_deg,
                spec.width,
                spec.height,
            )),
            _sounds: sounds,
        })
    }

    /// Adds one frame.
    ///
    /// # Errors
    /// [`Error::OutOfRange`] for a frame of the wrong size, and what ffmpeg refuses.
    pub fn push_frame(&mut self, frame: &[u8]) -> Result<(), Error> {
        if frame.len() != self.frame_bytes {
            return Err(Error::OutOfRange {
                what: format!("a frame for `{}`", self.target.display()),
                met: format!("{} bytes", frame.len()),
                allowed: format!("{} bytes", self.frame_bytes),
            });
        }
        let mut bytes = Vec::with_capacity(self.frame_bytes + self.neutral_bytes);
        bytes.extend_from_slice(frame);
        bytes.resize(self.frame_bytes + self.neutral_bytes, 128);
        self.job.feed(bytes, &|| true)
    }

    /// Closes the movie and gives it its name.
    ///
    /// # Errors
    /// What ffmpeg or the system refuses.
    pub fn finish(self) -> Result<(), Error> {
        let Self {
            job,
            mut output,
            target,
            turned,
            ..
        } = self;
        job.finish(&|| true)?;
        if let Some((clockwise_deg, width, height)) = turned {
            turn(output.file(), clockwise_deg, width, height)
                .map_err(Error::io(&target, "turned"))?;
        }
        output.persist(&target)
    }
}

fn container_of(path: &Path, spec: &SinkSpec) -> Result<&'static str, Error> {
    let refuse = |what: &str, met: String, allowed: &str| {
        Err(Error::OutOfRange {
            what: format!("{what} of `{}`", path.display()),
            met,
            allowed: allowed.to_owned(),
        })
    };
    let ending = path.extension().unwrap_or_default().to_ascii_lowercase();
    let container = match ending.to_string_lossy().as_ref() {
        "mp4" => "mp4",
        "mov" => "mov",
        "mkv" => "matroska",
        "avi" => "avi",
        other => return refuse("the ending", format!("`{other}`"), "mp4, mov, mkv or avi"),
    };
    let sizes = [spec.width, spec.height];
    if sizes
        .iter()
        .any(|s| !(2..=16_384).contains(s) || s % 2 == 1)
    {
        let met = format!("{}×{}", spec.width, spec.height);
        return refuse("the frame", met, "even, 2 to 16384 each way");
    }
    match spec.rotation_deg {
        0 => {}
        90 | 180 | 270 if matches!(container, "mp4" | "mov") => {}
        other => {
            return refuse(
                "the rotation",
                format!("{other}°"),
                "0, or 90, 180 or 270 in MP4 and MOV",
            );
        }
    }
    Ok(container)
}

fn arguments_for(
    spec: &SinkSpec,
    container: &str,
    sounds: &[PathBuf],
    out: &Path,
) -> Result<Vec<OsString>, Error> {
    let mut list = process::raw_frames([spec.width, spec.height], spec.rate);
    for sound in sounds {
        list.extend(input(sound)?);
    }
    list.extend(process::arguments(["-map", "0:v:0"]));
    for index in 1..=sounds.len() {
        list.extend(process::arguments(["-map", &format!("{index}:a:0")]));
    }
    list.extend(process::arguments(["-c:v", &spec.codec]));
    if !spec.codec_options.iter().any(|option| option == "-pix_fmt") {
        let format = match spec.codec.as_str() {
            "mjpeg" => "yuvj420p",
            "prores" | "prores_ks" | "prores_aw" => "yuv422p10le",
            _ => "yuv420p",
        };
        list.extend(process::arguments(["-pix_fmt", format]));
    }
    if spec.codec != "mjpeg" {
        list.extend(process::words(
            "-color_primaries bt709 -color_trc bt709 -colorspace bt709 -color_range tv",
        ));
    }
    list.extend(spec.codec_options.iter().map(OsString::from));
    for (index, track) in spec.audio.iter().enumerate() {
        list.extend(process::arguments([&format!("-c:a:{index}"), &track.codec]));
    }
    if let Some(timecode) = &spec.timecode {
        list.extend(process::arguments(["-timecode", timecode]));
    }
    list.extend(process::words(
        "-map_metadata -1 -fflags +bitexact -flags:v +bitexact -flags:a +bitexact",
    ));
    if matches!(container, "mp4" | "mov") {
        list.extend(process::arguments(["-movflags", "+faststart"]));
    }
    list.extend(process::arguments(["-f", container]));
    list.push(confine::url(out));
    Ok(list)
}

/// Writes how far the picture is to be turned into an MP4 or MOV: the matrix in the header of its
/// picture track (ISO 14496-12, `tkhd`). Done here because ffmpeg's option for it has changed its
/// name and its sign between versions.
fn turn(
    file: &mut (impl Read + Write + Seek),
    clockwise_deg: u32,
    width: u32,
    height: u32,
) -> std::io::Result<()> {
    let none = || std::io::Error::other("the movie has no picture track to turn");
    file.seek(SeekFrom::Start(0))?;
    let mut at = 0u64;
    loop {
        let mut head = [0u8; 16];
        file.seek(SeekFrom::Start(at))?;
        file.read_exact(&mut head[..8])?;
        let mut size = u64::from(u32::from_be_bytes([head[0], head[1], head[2], head[3]]));
        let mut skip = 8;
        if size == 1 {
            file.read_exact(&mut head[8..])?;
            size = u64::from_be_bytes([
                head[8], head[9], head[10], head[11], head[12], head[13], head[14], head[15],
            ]);
            skip = 16;
        }
        if size < skip {
            return Err(none());
        }
        if &head[4..8] == b"moov" {
            let mut moov = vec![0u8; usize::try_from(size - skip).map_err(|_| none())?];
            file.read_exact(&mut moov)?;
            let matrix = matrix_place(&moov).ok_or_else(none)?;
            file.seek(SeekFrom::Start(at + skip + matrix as u64))?;
            for word in matrix_of(clockwise_deg, width, height) {
                file.write_all(&word.to_be_bytes())?;
            }
            return file.flush();
        }
        at += size;
    }
}

/// The matrix that turns a picture clockwise and moves it back into the first quadrant: rows
/// a b u, c d v, x y w; a to d, x and y in 16.16 fixed point, w in 2.30.
fn matrix_of(clockwise_deg: u32, width: u32, height: u32) -> [u32; 9] {
    const ONE: u32 = 1 << 16;
    const MINUS: u32 = 0u32.wrapping_sub(ONE);
    let (w, h) = (width << 16, height << 16);
    let [a, b, c, d, x, y] = match clockwise_deg {
        90 => [0, ONE, MINUS, 0, h, 0],
        180 => [MINUS, 0, 0, MINUS, w, h],
        270 => [0, MINUS, ONE, 0, 0, w],
        _ => [ONE, 0, 0, ONE, 0, 0],
    };
    [a, b, 0, c, d, 0, x, y, 1 << 30]
}

/// Where in `moov` the matrix of the first picture track stands.
fn matrix_place(moov: &[u8]) -> Option<usize> {
    for (name, start, end) in boxes(moov, 0, moov.len()) {
        if &name != b"trak" {
            continue;
        }
        let mut header = None;
        let mut is_picture = false;
        for (name, start, end) in boxes(moov, start, end) {
            match &name {
                b"tkhd" => header = Some(start),
                b"mdia" => {
                    is_picture |= boxes(moov, start, end).any(|(name, start, _)| {
                        &name == b"hdlr" && moov.get(start + 8..start + 12) == Some(b"vide")
                    });
                }
                _ => {}
            }
        }
        if let (Some(header), true) = (header, is_picture) {
            // Version 1 has 64-bit times: 12 bytes more before the matrix.
            let place = header + if *moov.get(header)? == 1 { 52 } else { 40 };
            return (place + 36 <= moov.len()).then_some(place);
        }
    }
    None
}

/// The boxes in `bytes[start..end]`: name, and where the content starts and ends.
fn boxes(bytes: &[u8], start: usize, end: usize) -> impl Iterator<Item = ([u8; 4], usize, usize)> {
    let mut at = start;
    std::iter::from_fn(move || {
        let head = bytes.get(at..at + 8)?;
        let size = u32::from_be_bytes([head[0], head[1], head[2], head[3]]) as usize;
        let name = [head[4], head[5], head[6], head[7]];
        let content = at + 8;
        at = at.checked_add(size)?;
        (size >= 8 && at <= end).then_some((name, content, at))
    })
}
