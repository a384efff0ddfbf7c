//! One frame written as a JPEG, with what a camera writes into it.

use crate::output::Output;
use crate::process::{Out, arguments};
use crate::{Error, KeepGoing, Tools};
use std::io::Write as _;
use std::path::Path;

/// The most bytes of EXIF that one segment holds: its length counts in 16 bits, itself and the
/// mark `Exif` with two zeros included.
const MOST_EXIF: usize = 65_535 - 8;

/// Writes `frame` as a JPEG at `path`: planar YUV 4:2:0 of `width` × `height` (even, 2 to 4096), BT.709,
/// luma 16 (black) to 235 (white). `exif` is a TIFF structure (EXIF 2.32), put into the segment that
/// cameras put it into. The same input gives the same bytes with the same ffmpeg.
///
/// # Errors
/// [`Error::OutOfRange`] for a frame or an EXIF of the wrong size, [`Error::Cancelled`], and what
/// ffmpeg or the system refuses. Nothing is left under the name then.
pub fn write_jpeg(
    path: &Path,
    frame: &[u8],
    (width, height): (u32, u32),
    exif: &[u8],
    tools: &Tools,
    keep_going: KeepGoing,
) -> Result<(), Error> {
    let wrong = |what: &str, met: String, allowed: String| Error::OutOfRange {
        what: format!("{what} of `{}`", path.display()),
        met,
        allowed,
    };
    if [width, height]
        .iter()
        .any(|side| !(2..=4096).contains(side) || side % 2 == 1)
    {
        let met = format!("{width}×{height}");
        return Err(wrong("the picture", met, "even, 2 to 4096".into()));
    }
    let bytes = width as usize * height as usize * 3 / 2;
    if frame.len() != bytes {
        let met = format!("{} bytes", frame.len());
        return Err(wrong("the picture", met, format!("{bytes} bytes")));
    }
    if exif.len() > MOST_EXIF {
        let met = format!("{} bytes", exif.len());
        let allowed = format!("at most {MOST_EXIF} bytes");
        return Err(wrong("the EXIF", met, allowed));
    }
    // A JPEG is read as BT.601 over the whole range, whatever it was made from (JFIF 1.02).
    let list = arguments([
        "-f",
        "rawvideo",
        "-pix_fmt",
        "yuv420p",
        "-video_size",
        &format!("{width}x{height}"),
        "-i",
        "pipe:0",
        "-frames:v",
        "1",
        "-vf",
        "scale=in_color_matrix=bt709:out_color_matrix=bt601:in_range=tv:out_range=pc",
        "-c:v",
        "mjpeg",
        "-pix_fmt",
        "yuvj420p",
        "-q:v",
        "4",
        "-threads",
        "1",
        "-fflags",
        "+bitexact",
        "-flags:v",
        "+bitexact",
        "-f",
        "image2pipe",
        "pipe:1",
    ]);
    let pieces = Out::Pieces {
        bytes: 1 << 16,
        ahead: 8,
    };
    let mut job = tools.ffmpeg(&list, "write", path, pieces, Some(1))?;
    job.feed(frame.to_vec(), keep_going)?;
    job.no_more();
    let mut jpeg = Vec::new();
    while let Some(piece) = job.next(keep_going)? {
        jpeg.extend(piece);
    }
    let Some(rest) = jpeg.strip_prefix(&[0xFF, 0xD8]) else {
        return Err(Error::BrokenPhoto {
            path: path.display().to_string(),
            said: "what ffmpeg wrote is no JPEG".into(),
        });
    };
    let mut output = Output::beside(path)?;
    let mut start = vec![0xFF, 0xD8, 0xFF, 0xE1];
    start.extend((exif.len() as u16 + 8).to_be_bytes());
    start.extend(b"Exif\0\0");
    for part in [&start[..], exif, rest] {
        output
            .file()
            .write_all(part)
            .map_err(Error::io(path, "written"))?;
    }
    output.persist(path)
}
