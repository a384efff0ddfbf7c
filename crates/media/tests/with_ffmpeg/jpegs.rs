//! A picture written as a JPEG, with its EXIF, as ffmpeg reads it.

use crate::{output_of, tools};
use media::{Error, read_photo, write_jpeg};

/// A TIFF structure with one field: orientation 1, by hand.
const EXIF: &[u8] = b"MM\0\x2A\0\0\0\x08\0\x01\x01\x12\0\x03\0\0\0\x01\0\x01\0\0\0\0\0\0";

#[test]
fn a_picture_comes_back_with_its_exif() {
    if tools("a_picture_comes_back_with_its_exif").is_none() {
        return;
    }
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("a.jpg");
    // Upper half white, lower half black.
    let rgb = [[255; 3 * 64 * 16], [0; 3 * 64 * 16]].concat();
    write_jpeg(&path, &rgb, (64, 32), EXIF).unwrap();
    assert_eq!(read_photo(&path).unwrap().notes, []);
    let bytes = std::fs::read(&path).unwrap();
    assert!(bytes.windows(EXIF.len()).any(|window| window == EXIF));
    let arguments = ["-f", "rawvideo", "-pix_fmt", "gray", "-"];
    let seen = output_of("ffmpeg", &arguments, &path);
    assert_eq!(seen.len(), 64 * 32);
    // Black and white over the whole range, give or take what JPEG loses.
    assert!(seen[64 * 4] > 250 && seen[64 * 28] < 5, "{seen:?}");
    write_jpeg(&path, &rgb, (64, 32), EXIF).unwrap();
    assert_eq!(std::fs::read(&path).unwrap(), bytes);

    for (rgb, size, exif) in [
        (&rgb[..], (63, 32), EXIF),
        (&rgb[1..], (64, 32), EXIF),
        (&[][..], (0, 32), EXIF),
        (&rgb[..], (64, 32), &[0; 65_536][..]),
    ] {
        let refused = write_jpeg(&path, rgb, size, exif);
        assert!(matches!(refused, Err(Error::OutOfRange { .. })));
    }
    assert_eq!(std::fs::read(&path).unwrap(), bytes);
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1);
}
