//! A picture written as a JPEG, with what a camera writes into it.

use crate::Error;
use crate::output::Output;
use image::codecs::jpeg::JpegEncoder;
use image::{ExtendedColorType, ImageEncoder as _};
use std::io::Write as _;
use std::path::Path;

/// The most bytes of EXIF that one segment holds: its length counts in 16 bits, itself and the
/// mark `Exif` with two zeros included.
const MOST_EXIF: usize = 65_535 - 8;

/// libjpeg's scale of 1 to 100: fine enough that nobody sees it in a photograph.
const QUALITY: u8 = 88;

/// Writes `rgb` (red, green, blue, a byte each, row by row) of `width` × `height` pixels as a JPEG at `path`.
/// `exif` is a TIFF structure (EXIF 2.32), put into the segment that cameras put it into. The same input gives
/// the same bytes.
///
/// # Errors
/// [`Error::OutOfRange`] for a picture or an EXIF of the wrong size, and what the system refuses. Nothing is left
/// under the name then.
pub fn write_jpeg(
    path: &Path,
    rgb: &[u8],
    (width, height): (u16, u16),
    exif: &[u8],
) -> Result<(), Error> {
    let wrong = |what: &str, met: usize, allowed: String| Error::OutOfRange {
        what: format!("{what} of `{}`", path.display()),
        met: format!("{met} bytes"),
        allowed,
    };
    let bytes = usize::from(width) * usize::from(height) * 3;
    if rgb.len() != bytes || bytes == 0 {
        let allowed = format!("{width}×{height} pixels of 3 bytes");
        return Err(wrong("the picture", rgb.len(), allowed));
    }
    if exif.len() > MOST_EXIF {
        let allowed = format!("at most {MOST_EXIF} bytes");
        return Err(wrong("the EXIF", exif.len(), allowed));
    }
    let mut jpeg = Vec::new();
    let mut encoder = JpegEncoder::new_with_quality(&mut jpeg, QUALITY);
    let told = encoder.set_exif_metadata(exif.to_vec());
    told.map_err(|refused| refused.to_string())
        .and_then(|()| {
            let (width, height) = (width.into(), height.into());
            let written = encoder.write_image(rgb, width, height, ExtendedColorType::Rgb8);
            written.map_err(|refused| refused.to_string())
        })
        .map_err(std::io::Error::other)
        .map_err(Error::io(path, "written"))?;
    let mut output = Output::beside(path)?;
    output
        .file()
        .write_all(&jpeg)
        .map_err(Error::io(path, "written"))?;
    output.persist(path)
}
