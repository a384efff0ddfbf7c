//! Copies of takes that a browser plays and jumps about in, and how far apart a take's key frames are.

use crate::output::Output;
use crate::process::{self, Out};
use crate::reading::{self, Moments};
use crate::{Error, KeepGoing, Probe, Tools, confine, probe};
use std::ffi::OsString;
use std::path::Path;

/// The widest a viewing copy is, in pixels: enough to judge a cut by.
pub const VIEW_WIDTH: u32 = 960;

/// How many frames lie from key frame to key frame: at 25 a second a jump decodes half a second at most.
const KEY_EVERY: &str = "12";

/// How much of a file is read to see how far apart its key frames are.
const JUDGED: &str = "%+30";

/// The longest time between two key frames in the first half minute of the picture, in seconds; the length
/// of what was read when there is one key frame alone.
///
/// # Errors
/// [`Error::NoPicture`], [`Error::Cancelled`], and what ffprobe refuses.
pub fn key_frame_gap_s(path: &Path, tools: &Tools, keep_going: KeepGoing) -> Result<f64, Error> {
    let arguments = process::arguments([
        "-select_streams",
        "V:0",
        "-show_entries",
        "packet=pts_time,flags",
        "-read_intervals",
        JUDGED,
        "-of",
        "csv=p=0",
    ]);
    let told = tools.ffprobe(&arguments, path, keep_going)?;
    let told = String::from_utf8_lossy(&told);
    let mut packets: Vec<(f64, bool)> = told
        .lines()
        .filter_map(|line| {
            let (time, flags) = line.split_once(',')?;
            Some((time.parse().ok()?, flags.contains('K')))
        })
        .collect();
    packets.sort_by(|a, b| a.0.total_cmp(&b.0));
    let (Some(first), Some(last)) = (packets.first(), packets.last()) else {
        return Err(Error::NoPicture {
            path: path.display().to_string(),
        });
    };
    let ends = [first.0, last.0];
    let mut keys: Vec<f64> = packets
        .iter()
        .filter(|one| one.1)
        .map(|one| one.0)
        .collect();
    keys.extend(ends);
    keys.sort_by(f64::total_cmp);
    Ok(keys
        .windows(2)
        .map(|pair| pair[1] - pair[0])
        .fold(0.0, f64::max))
}

/// Writes a copy of the picture at `path` that browsers play and jump about in: H.264, upright, at most
/// [`VIEW_WIDTH`] wide, a key frame every twelve, silent. It begins with the take's first frame and runs at
/// the take's rate: frame `n` of it is frame `n` of the take (of one whose rate varies, the frame seen at
/// that time).
///
/// `progress` is told the share done, 0 to 1; once it answers `false` the work stops within a second and
/// leaves nothing behind.
///
/// # Errors
/// [`Error::NoPicture`], [`Error::Cancelled`], [`Error::DiskFull`], and what ffmpeg or the system refuses.
pub fn viewing_copy(
    path: &Path,
    probe_of: &Probe,
    tools: &Tools,
    out: &Path,
    progress: &(dyn Fn(f32) -> bool + Sync),
) -> Result<(), Error> {
    let name = || path.display().to_string();
    let Some(picture) = &probe_of.picture else {
        return Err(Error::NoPicture { path: name() });
    };
    let encoder = ["libx264", "libopenh264"]
        .into_iter()
        .find(|encoder| tools.has_encoder(encoder))
        .ok_or_else(|| Error::Refused {
            program: "ffmpeg",
            doing: "write",
            path: out.display().to_string(),
            said: "it has no encoder for H.264; install one with libx264".into(),
        })?;
    let moments = Moments {
        from_s: 0.0,
        stretched: 1.0,
        rate: picture.rate,
        count: None,
    };
    // As the preview does: untagged pictures of 720 lines and more are Rec. 709.
    let from = if picture.colour[2].is_none() && picture.height >= 720 {
        ":in_color_matrix=bt709"
    } else {
        ""
    };
    let shape = format!(
        "scale=w=trunc(min({VIEW_WIDTH}\\,iw*sar)/2)*2:h=-2:flags=bilinear{from}:out_color_matrix=bt709:out_range=tv,setsar=1,format=yuv420p"
    );
    let output = Output::beside(out)?;
    let mut arguments = reading::wanted(path, picture, &moments, &shape, 2)?;
    let quality = match encoder {
        "libx264" => format!(
            "-preset veryfast -crf 23 -keyint_min {KEY_EVERY} -sc_threshold 0 -tune fastdecode"
        ),
        _ => "-b:v 2M".into(),
    };
    arguments.extend(process::words(&format!(
        "-c:v {encoder} -g {KEY_EVERY} -bf 0 -pix_fmt yuv420p -colorspace bt709 -color_range tv {quality}"
    )));
    arguments.extend(process::words(
        "-movflags +faststart -map_metadata -1 -progress pipe:1 -f mp4 -y",
    ));
    arguments.push(confine::url(output.path()));
    let length_s = picture.length.seconds().max(1e-3);
    write_watched(&arguments, out, tools, length_s, progress)?;
    let written = probe(output.path(), Some(tools))?;
    if written.picture.is_none() {
        return Err(Error::Refused {
            program: "ffmpeg",
            doing: "write",
            path: out.display().to_string(),
            said: "no frame of the take came through".into(),
        });
    }
    output.persist(out)
}

/// Runs ffmpeg to its end, telling `progress` by the time that it says it has reached of `length_s`.
fn write_watched(
    arguments: &[OsString],
    out: &Path,
    tools: &Tools,
    length_s: f64,
    progress: &(dyn Fn(f32) -> bool + Sync),
) -> Result<(), Error> {
    let pieces = Out::Pieces {
        bytes: 256,
        ahead: 64,
    };
    let share = std::sync::Mutex::new(0.0f32);
    let going = || progress(share.lock().map_or(0.0, |share| *share));
    let mut job = tools.ffmpeg(arguments, "write", out, pieces, None)?;
    let mut told = String::new();
    while let Some(piece) = job.next(&going)? {
        told.push_str(&String::from_utf8_lossy(&piece));
        if let Some(at) = told.rfind("out_time_us=") {
            let number: String = told[at + 12..]
                .chars()
                .take_while(char::is_ascii_digit)
                .collect();
            if let (Ok(done), Ok(mut share)) = (number.parse::<f64>(), share.lock()) {
                *share = (done * 1e-6 / length_s).clamp(0.0, 1.0) as f32;
            }
            told.drain(..at);
        }
    }
    Ok(())
}
