//! QR codes read from photographs and screenshots.

use crate::Error;
use image::imageops::FilterType;
use image::{GrayImage, ImageReader, Limits};
use std::path::Path;

/// The longest side looked at, pixels: a code that fills a tenth of it still has some five to a module.
const LOOKED_AT_PX: u32 = 3000;

/// The largest picture opened, pixels of a side, and the most memory for it.
const MOST_PX: u32 = 20_000;
const MOST_BYTES: u64 = 512 << 20;

/// What the QR codes in the picture at `path` say: a JPEG, PNG or WebP, upright or not, with any number
/// of codes in it. Empty where none could be read.
///
/// # Errors
/// [`Error::NotPhoto`] when it is no such picture or larger than 20 000 pixels a side,
/// [`Error::BrokenPhoto`] when it breaks off, and what the system refuses.
pub fn read_codes(path: &Path) -> Result<Vec<String>, Error> {
    if path.is_dir() {
        return Err(Error::Folder {
            path: path.display().to_string(),
        });
    }
    let file = std::fs::File::open(path).map_err(|source| match source.kind() {
        std::io::ErrorKind::NotFound => Error::NoFile {
            path: path.display().to_string(),
        },
        _ => Error::io(path, "opened")(source),
    })?;
    let mut reader = ImageReader::new(std::io::BufReader::new(file))
        .with_guessed_format()
        .map_err(Error::io(path, "read"))?;
    let mut limits = Limits::default();
    limits.max_image_width = Some(MOST_PX);
    limits.max_image_height = Some(MOST_PX);
    limits.max_alloc = Some(MOST_BYTES);
    reader.limits(limits);
    let not_photo = || Error::NotPhoto {
        path: path.display().to_string(),
    };
    if reader.format().is_none() {
        return Err(not_photo());
    }
    let picture = reader.decode().map_err(|error| match error {
        image::ImageError::Decoding(said) => Error::BrokenPhoto {
            path: path.display().to_string(),
            said: said.to_string(),
        },
        image::ImageError::IoError(said) => Error::BrokenPhoto {
            path: path.display().to_string(),
            said: said.to_string(),
        },
        _ => not_photo(),
    })?;
    let grey = picture.into_luma8();
    // A screen photographed from near shows its own dots; made smaller they melt together.
    let mut side = grey.width().max(grey.height()).min(LOOKED_AT_PX);
    let mut found = Vec::new();
    for _ in 0..3 {
        for text in codes(&smaller(&grey, side)) {
            if !found.contains(&text) {
                found.push(text);
            }
        }
        side /= 2;
        if side < 300 {
            break;
        }
    }
    Ok(found)
}

fn smaller(grey: &GrayImage, side: u32) -> GrayImage {
    let longest = grey.width().max(grey.height());
    if longest <= side {
        return grey.clone();
    }
    let scaled = |px: u32| (u64::from(px) * u64::from(side) / u64::from(longest)).max(1) as u32;
    image::imageops::resize(
        grey,
        scaled(grey.width()),
        scaled(grey.height()),
        FilterType::Triangle,
    )
}

fn codes(grey: &GrayImage) -> Vec<String> {
    let (width, height) = (grey.width() as usize, grey.height() as usize);
    let mut looked = rqrr::PreparedImage::prepare_from_greyscale(width, height, |x, y| {
        grey.get_pixel(x as u32, y as u32).0[0]
    });
    let grids = looked.detect_grids();
    let read = grids.iter().filter_map(|grid| grid.decode().ok());
    read.map(|(_, text)| text).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_no_picture_is_refused_and_a_plain_one_holds_none() {
        let folder = tempfile::tempdir().unwrap();
        let at = |name: &str| folder.path().join(name);
        std::fs::write(at("text.png"), "hello").unwrap();
        GrayImage::from_pixel(64, 48, image::Luma([128]))
            .save(at("grey.png"))
            .unwrap();
        let whole = std::fs::read(at("grey.png")).unwrap();
        std::fs::write(at("cut.png"), &whole[..whole.len() / 2]).unwrap();
        assert!(matches!(
            read_codes(&at("none.png")),
            Err(Error::NoFile { .. })
        ));
        assert!(matches!(
            read_codes(&at("text.png")),
            Err(Error::NotPhoto { .. })
        ));
        assert!(matches!(
            read_codes(&at("cut.png")),
            Err(Error::BrokenPhoto { .. })
        ));
        assert!(matches!(
            read_codes(folder.path()),
            Err(Error::Folder { .. })
        ));
        assert_eq!(read_codes(&at("grey.png")).unwrap(), Vec::<String>::new());
    }
}
