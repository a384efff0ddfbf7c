//! Sound and pictures made small for a phone's page.

use crate::process::{Out, words};
use crate::tools::input;
use crate::{Error, KeepGoing, Tools, confine};
use std::path::Path;

/// The sound at `path` as an MP4 with one channel of AAC at about 80 kbit/s, which every phone plays.
/// With `left` only its left channel, where the right one carries timecode; otherwise all channels mixed.
///
/// It starts where the file starts: the 1024 samples that an AAC encoder puts in front stand in the
/// file's edit list, by which players leave them out. The same input gives the same bytes with the
/// same ffmpeg.
///
/// # Errors
/// [`Error::Cancelled`], and what ffmpeg or the system refuses.
pub fn phone_sound(
    path: &Path,
    left: bool,
    tools: &Tools,
    keep_going: KeepGoing,
) -> Result<Vec<u8>, Error> {
    // MP4 is written with going back, so not through a pipe.
    let made = tempfile::Builder::new()
        .prefix("barebulb-")
        .suffix(".m4a")
        .tempfile()
        .map_err(Error::io(path, "made small"))?;
    let mut list = words("-y");
    list.extend(input(path)?);
    list.extend(words("-map 0:a:0 -vn -sn -dn"));
    list.extend(words(match left {
        true => "-af pan=mono|c0=c0",
        false => "-ac 1",
    }));
    list.extend(words("-c:a aac -b:a 80k -map_metadata -1 -fflags +bitexact -flags:a +bitexact -movflags +faststart -f ipod"));
    list.push(confine::url(made.path()));
    tools
        .ffmpeg(&list, "write", path, Out::Nothing, None)?
        .finish(keep_going)?;
    std::fs::read(made.path()).map_err(Error::io(path, "made small"))
}

/// The picture at `path` as a JPEG whose longer side is at most `most_px`, upright, with nothing of what
/// the camera wrote about it: no place, no time.
///
/// # Errors
/// [`Error::OutOfRange`] for `most_px` outside 16 to 4096, [`Error::NotPhoto`], [`Error::Cancelled`],
/// and what ffmpeg refuses.
pub fn phone_picture(
    path: &Path,
    most_px: u32,
    tools: &Tools,
    keep_going: KeepGoing,
) -> Result<Vec<u8>, Error> {
    if !(16..=4096).contains(&most_px) {
        return Err(Error::OutOfRange {
            what: "the size of a small picture".into(),
            met: most_px.to_string(),
            allowed: "16 to 4096".into(),
        });
    }
    let mut list = input(path)?;
    let scale = format!(
        "scale=w=min({most_px}\\,iw):h=min({most_px}\\,ih):force_original_aspect_ratio=decrease:force_divisible_by=2,setsar=1"
    );
    list.extend(words(&format!(
        "-map 0:v:0 -frames:v 1 -vf {scale} -map_metadata -1 -c:v mjpeg -pix_fmt yuvj420p -q:v 6 -threads 1 \
         -fflags +bitexact -flags:v +bitexact -f image2pipe pipe:1"
    )));
    let pieces = Out::Pieces {
        bytes: 1 << 16,
        ahead: 8,
    };
    let mut job = tools.ffmpeg(&list, "read", path, pieces, None)?;
    let mut jpeg = Vec::new();
    while let Some(piece) = job.next(keep_going)? {
        jpeg.extend(piece);
    }
    match jpeg.starts_with(&[0xFF, 0xD8]) {
        true => Ok(jpeg),
        false => Err(Error::NotPhoto {
            path: path.display().to_string(),
        }),
    }
}
