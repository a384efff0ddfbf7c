//! A picture that is drawn to keep a reader of QR codes busy: thousands of the squares that mark their corners.
//! A file of its own, since the search that it begins goes on for minutes after it was given up.

use image::{GrayImage, Luma};
use media::{Error, read_codes};
use std::sync::atomic::{AtomicU32, Ordering};

/// A square of 7 × 7 modules as ISO/IEC 18004 has it in three corners: dark, light, dark in its middle.
fn finder(picture: &mut GrayImage, left: u32, top: u32, module: u32) {
    for (x, y) in (0..7 * module).flat_map(|x| (0..7 * module).map(move |y| (x, y))) {
        let ring = [x, y, 7 * module - 1 - x, 7 * module - 1 - y].map(|px| px / module);
        let dark = !ring.contains(&1) || ring.contains(&0);
        if dark {
            picture.put_pixel(left + x, top + y, Luma([0]));
        }
    }
}

#[test]
fn a_picture_full_of_corners_can_be_stopped_and_is_given_up() {
    let folder = tempfile::tempdir().unwrap();
    let (bomb, plain) = (
        folder.path().join("bomb.png"),
        folder.path().join("plain.png"),
    );
    let mut picture = GrayImage::from_pixel(1800, 1800, Luma([255]));
    for (column, row) in (0..60).flat_map(|column| (0..60).map(move |row| (column, row))) {
        finder(&mut picture, 4 + column * 30, 4 + row * 30, 3);
    }
    picture.save(&bomb).unwrap();
    GrayImage::from_pixel(64, 48, Luma([128]))
        .save(&plain)
        .unwrap();
    let asked = AtomicU32::new(0);
    let stopped = read_codes(&bomb, &|| asked.fetch_add(1, Ordering::Relaxed) < 20);
    assert!(matches!(stopped, Err(Error::Cancelled)), "{stopped:?}");
    // The search goes on, since nobody can end it; the next one is told so and does not wait for ever.
    let next = read_codes(&plain, &|| true).unwrap_err();
    assert!(matches!(next, Error::NotItsTurn { .. }), "{next}");
}
