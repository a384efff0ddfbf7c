//! Small grey frames and stills.

use crate::{ffmpeg, tools};
use media::{Error, extract_still, gray_frames, probe};

#[test]
fn grey_frames_come_at_their_times() {
    let Some(tools) = tools("measured::grey_frames") else {
        return;
    };
    let folder = tempfile::tempdir().unwrap();
    // Luma rises by two a frame from 16: frame n of 50 has 16 + 2n.
    for (file, more) in [
        ("a.mp4", "-c:v libx264 -qp 0 -preset ultrafast"),
        ("a.mov", "-c:v mjpeg -q:v 2"),
    ] {
        ffmpeg(
            folder.path(),
            &format!(
                "-f lavfi -i color=black:s=64x64:r=25:d=2 -vf geq=lum=16+2*N:cb=128:cr=128 {more} {file}"
            ),
        );
        let path = folder.path().join(file);
        let probed = probe(&path, Some(&tools)).unwrap();
        let mut seen = Vec::new();
        gray_frames(
            &path,
            &probed,
            &tools,
            32,
            18,
            5.0,
            &|| true,
            &mut |time_s, frame| {
                assert_eq!(frame.len(), 32 * 18);
                seen.push((time_s, frame[32 * 9 + 16]));
            },
        )
        .unwrap();
        assert_eq!(seen.len(), 10, "{file}: {seen:?}");
        for (n, (time_s, luma)) in seen.iter().enumerate() {
            assert!((time_s - n as f64 / 5.0).abs() < 1e-9);
            assert!(luma.abs_diff(16 + 10 * n as u8) <= 1, "{file}: {seen:?}");
        }
        let stopped = gray_frames(
            &path,
            &probed,
            &tools,
            32,
            18,
            5.0,
            &|| false,
            &mut |_, _| {},
        );
        assert!(matches!(stopped, Err(Error::Cancelled)));
        assert!(
            gray_frames(
                &path,
                &probed,
                &tools,
                31,
                18,
                5.0,
                &|| true,
                &mut |_, _| {}
            )
            .is_err()
        );
    }
}

#[test]
fn a_still_is_a_png_of_the_right_size() {
    let Some(tools) = tools("measured::still") else {
        return;
    };
    let folder = tempfile::tempdir().unwrap();
    ffmpeg(
        folder.path(),
        "-f lavfi -i testsrc=s=320x180:r=25:d=2 -c:v mpeg4 a.mp4",
    );
    let path = folder.path().join("a.mp4");
    let probed = probe(&path, Some(&tools)).unwrap();
    let out = folder.path().join("still 100%d.png");
    extract_still(&path, &probed, &tools, 1.96, 160, &out).unwrap();
    let png = std::fs::read(&out).unwrap();
    // PNG: eight bytes of signature, then IHDR with width and height.
    assert_eq!(&png[..8], b"\x89PNG\r\n\x1a\n");
    assert_eq!(png[16..24], [0, 0, 0, 160, 0, 0, 0, 90]);
    let error = extract_still(&path, &probed, &tools, 60.0, 160, &out).unwrap_err();
    assert!(matches!(error, Error::OutOfRange { .. }), "{error}");
}
