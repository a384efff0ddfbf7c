//! QR codes read from photographs and screenshots.

use crate::inprocess::check_file;
use crate::process::TICK;
use crate::{Error, KeepGoing};
use image::imageops::FilterType;
use image::{GrayImage, ImageReader, Limits};
use std::path::Path;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::RecvTimeoutError;
use std::sync::{Arc, Mutex, TryLockError};
use std::time::{Duration, Instant};

/// The longest side looked at, pixels: a code that fills a tenth of it still has some five to a module.
const LOOKED_AT_PX: u32 = 3000;

/// The most pixels of a picture that is opened, in millions, and the most memory for it: a phone's finest.
const MOST_MEGAPIXELS: u64 = 50;
const MOST_BYTES: u64 = 400 << 20;

/// How long codes are looked for in one picture. A phone's takes a second; one drawn to be slow, with thousands
/// of corners of codes, hours.
const LONGEST: Duration = Duration::from_secs(10);

/// Held by the one search that runs: one that was given up on cannot be ended, only be the last.
static SEARCH: Mutex<()> = Mutex::new(());

/// What the QR codes in the picture at `path` say: a JPEG, PNG or WebP, upright or not, with any number
/// of codes in it. Empty where none could be read.
///
/// # Errors
/// [`Error::NotPhoto`] when it is no such picture, [`Error::OutOfRange`] when it is larger than 50 megapixels,
/// [`Error::BrokenPhoto`] when it breaks off or its codes make no sense, [`Error::TooSlow`] when there is no end to it,
/// [`Error::NotItsTurn`] while an earlier one that was given up still runs,
/// [`Error::Cancelled`], and what the system refuses.
pub fn read_codes(path: &Path, keep_going: KeepGoing) -> Result<Vec<String>, Error> {
    let (give, take) = std::sync::mpsc::sync_channel(1);
    let place = path.to_path_buf();
    let too_slow = || Error::TooSlow {
        path: path.display().to_string(),
        seconds: LONGEST.as_secs(),
    };
    let until = Instant::now() + LONGEST;
    let has_turn = Arc::new(AtomicBool::new(false));
    let turn = Arc::clone(&has_turn);
    std::thread::spawn(move || {
        let held = loop {
            match SEARCH.try_lock() {
                Err(TryLockError::WouldBlock) if Instant::now() > until + TICK * 10 => return,
                Err(TryLockError::WouldBlock) => std::thread::sleep(TICK),
                Ok(held) => break held,
                // A search that panicked left nothing behind.
                Err(TryLockError::Poisoned(held)) => break held.into_inner(),
            }
        };
        turn.store(true, Ordering::Relaxed);
        let found = read(&place);
        drop(held);
        // Nobody waits any more once it was given up.
        let _ = give.send(found);
    });
    loop {
        match take.recv_timeout(TICK) {
            Ok(found) => return found,
            Err(RecvTimeoutError::Timeout) if !keep_going() => return Err(Error::Cancelled),
            Err(RecvTimeoutError::Timeout) if Instant::now() < until => {}
            Err(RecvTimeoutError::Timeout) if has_turn.load(Ordering::Relaxed) => {
                return Err(too_slow());
            }
            // This picture may be as good as any.
            Err(RecvTimeoutError::Timeout) => {
                return Err(Error::NotItsTurn {
                    path: path.display().to_string(),
                });
            }
            Err(RecvTimeoutError::Disconnected) => {
                return Err(Error::BrokenPhoto {
                    path: path.display().to_string(),
                    said: "its codes make no sense".into(),
                });
            }
        }
    }
}

fn read(path: &Path) -> Result<Vec<String>, Error> {
    check_file(path)?;
    let open = || -> Result<_, Error> {
        let file = std::fs::File::open(path).map_err(Error::io(path, "opened"))?;
        let mut reader = ImageReader::new(std::io::BufReader::new(file))
            .with_guessed_format()
            .map_err(Error::io(path, "read"))?;
        let mut limits = Limits::default();
        limits.max_alloc = Some(MOST_BYTES);
        reader.limits(limits);
        Ok(reader)
    };
    let reader = open()?;
    if let Ok((width, height)) = open()?.into_dimensions() {
        let megapixels = u64::from(width) * u64::from(height) / 1_000_000;
        if megapixels > MOST_MEGAPIXELS {
            return Err(Error::OutOfRange {
                what: format!("the size of the picture `{}`", path.display()),
                met: format!("{megapixels} megapixels"),
                allowed: format!("at most {MOST_MEGAPIXELS}"),
            });
        }
    }
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
            read_codes(&at("none.png"), &|| true),
            Err(Error::NoFile { .. })
        ));
        assert!(matches!(
            read_codes(&at("text.png"), &|| true),
            Err(Error::NotPhoto { .. })
        ));
        assert!(matches!(
            read_codes(&at("cut.png"), &|| true),
            Err(Error::BrokenPhoto { .. })
        ));
        assert!(matches!(
            read_codes(folder.path(), &|| true),
            Err(Error::Folder { .. })
        ));
        assert_eq!(
            read_codes(&at("grey.png"), &|| true).unwrap(),
            Vec::<String>::new()
        );
    }
}
