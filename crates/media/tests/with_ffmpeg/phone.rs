//! Sound and pictures made small for a phone: they start where they started, and tell nothing more.

use crate::{ffmpeg, output_of, tools};
use media::{Error, WavFormat, decode_song, phone_picture, phone_sound, write_jpeg, write_wav};
use std::f32::consts::PI;

const RATE_HZ: u32 = 48_000;
/// Where a beep starts, in samples: no whole number of AAC's frames of 1024.
const BEEP_AT: usize = 24_137;

/// Where `samples` first are loud.
fn onset(samples: &[f32]) -> usize {
    samples.iter().position(|s| s.abs() > 0.1).unwrap()
}

#[test]
fn a_sound_starts_where_it_started_and_leaves_timecode_out() {
    let Some(tools) = tools("a_sound_starts_where_it_started_and_leaves_timecode_out") else {
        return;
    };
    let folder = tempfile::tempdir().unwrap();
    let wav = folder.path().join("a.wav");
    let beep: Vec<f32> = (0..3 * RATE_HZ as usize)
        .map(|n| match (BEEP_AT..BEEP_AT + 4800).contains(&n) {
            true => 0.5 * (2.0 * PI * 1000.0 * (n - BEEP_AT) as f32 / RATE_HZ as f32).sin(),
            false => 0.0,
        })
        .collect();
    // A square wave from the first sample on, where timecode would be.
    let square: Vec<f32> = (0..beep.len())
        .map(|n| if n / 20 % 2 == 0 { 0.3 } else { -0.3 })
        .collect();
    write_wav(&wav, RATE_HZ, &[&beep, &square], WavFormat::Int16).unwrap();
    let small = phone_sound(&wav, true, &tools, &|| true).unwrap();
    assert_eq!(small, phone_sound(&wav, true, &tools, &|| true).unwrap());
    assert!(small.len() < 60_000, "{} bytes", small.len());
    let m4a = folder.path().join("a.m4a");
    std::fs::write(&m4a, small).unwrap();
    let heard = decode_song(&m4a, Some(&tools), &|| true).unwrap();
    assert_eq!((heard.channels.len(), heard.rate_hz), (1, RATE_HZ));
    // A lossy codec blurs an edge by some of its short windows of 128 samples.
    let off = onset(&heard.channels[0]) as i64 - onset(&beep) as i64;
    assert!(off.abs() <= 96, "{off} samples");
    let both = phone_sound(&wav, false, &tools, &|| true).unwrap();
    std::fs::write(&m4a, both).unwrap();
    let heard = decode_song(&m4a, Some(&tools), &|| true).unwrap();
    assert!(onset(&heard.channels[0]) < 1000, "both channels are mixed");
    assert!(matches!(
        phone_sound(&wav, true, &tools, &|| false),
        Err(Error::Cancelled)
    ));
}

#[test]
fn a_picture_is_small_and_has_nothing_of_the_camera() {
    let Some(tools) = tools("a_picture_is_small_and_has_nothing_of_the_camera") else {
        return;
    };
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    const EXIF: &[u8] = b"MM\0\x2A\0\0\0\x08\0\x01\x01\x12\0\x03\0\0\0\x01\0\x01\0\0\0\0\0\0";
    write_jpeg(&at("a.jpg"), &[128; 1200 * 900 * 3], (1200, 900), EXIF).unwrap();
    ffmpeg(
        folder.path(),
        "-f lavfi -i testsrc2=size=300x801 -frames:v 1 b.png",
    );
    for (name, shape) in [("a.jpg", (640, 480)), ("b.png", (240, 640))] {
        let small = phone_picture(&at(name), 640, &tools, &|| true).unwrap();
        assert!(!small.windows(4).any(|window| window == b"Exif"));
        std::fs::write(at("small.jpg"), &small).unwrap();
        let grey = ["-f", "rawvideo", "-pix_fmt", "gray", "-"];
        assert_eq!(
            output_of("ffmpeg", &grey, &at("small.jpg")).len(),
            shape.0 * shape.1,
            "{name}"
        );
    }
    assert!(matches!(
        phone_picture(&at("a.jpg"), 8, &tools, &|| true),
        Err(Error::OutOfRange { .. })
    ));
    std::fs::write(at("c.jpg"), "hello").unwrap();
    assert!(phone_picture(&at("c.jpg"), 640, &tools, &|| true).is_err());
}
