//! Copies to watch: frame by frame those of the take.

use crate::{ffmpeg, output_of, tools};
use media::{Error, SinkSpec, VIEW_WIDTH, VideoSink, key_frame_gap_s, probe, viewing_copy};
use model::FrameRate;
use std::path::Path;

/// The luma of every frame, as coded.
fn lumas(path: &Path) -> Vec<u8> {
    let size = 16;
    let raw = [
        "-vf",
        "scale=16:16",
        "-pix_fmt",
        "yuv420p",
        "-f",
        "rawvideo",
        "pipe:1",
    ];
    let bytes = output_of("ffmpeg", &raw, path);
    bytes
        .chunks_exact(size * size * 3 / 2)
        .map(|frame| frame[size * size / 2])
        .collect()
}

#[test]
fn frame_by_frame_a_copy_is_its_take() {
    let Some(tools) = tools("viewed::frame_by_frame") else {
        return;
    };
    if !tools.has_encoder("libx264") {
        return;
    }
    let folder = tempfile::tempdir().unwrap();
    // Neighbours differ by 75 and more, so that coding can't blur one into another.
    let shown = |n: usize| 16 + 25 * (3 * n as u8 % 8);
    for (file, rate, more) in [
        ("a.mov", "25", "-c:v mjpeg -q:v 2"),
        (
            "b.mp4",
            "25",
            "-c:v libx264 -qp 2 -g 250 -bf 3 -sc_threshold 0",
        ),
        ("c.mkv", "30000/1001", "-c:v libx264 -qp 2 -g 250 -bf 2"),
        ("d.mov", "50", "-c:v mpeg4 -q:v 2 -g 250"),
        // Reordered frames whose file begins late.
        (
            "e.mp4",
            "24",
            "-c:v libx264 -qp 2 -g 60 -bf 3 -output_ts_offset 0.6",
        ),
    ] {
        ffmpeg(
            folder.path(),
            &format!(
                "-f lavfi -i color=black:s=64x36:r={rate} -vf geq=lum=16+25*mod(3*N\\,8):cb=128:cr=128,scale=1280:720 -frames:v 50 {more} {file}"
            ),
        );
        let path = folder.path().join(file);
        let probed = probe(&path, Some(&tools)).unwrap();
        let out = folder.path().join(format!("{file}-copy.mp4"));
        let last = std::sync::Mutex::new(0.0f32);
        viewing_copy(&path, &probed, &tools, &out, &|share| {
            *last.lock().unwrap() = share;
            true
        })
        .unwrap();
        let seen = lumas(&out);
        assert_eq!(seen.len(), 50, "{file}");
        for (n, luma) in seen.iter().enumerate() {
            assert!(luma.abs_diff(shown(n)) <= 9, "{file} frame {n}: {seen:?}");
        }
        let copy = probe(&out, Some(&tools)).unwrap();
        let (of, is) = (probed.picture.unwrap(), copy.picture.unwrap());
        assert_eq!(
            (is.rate, is.width, is.height),
            (of.rate, VIEW_WIDTH, 540),
            "{file}"
        );
        assert!(is.start_s.abs() < 1e-6, "{file}: {}", is.start_s);
        assert!(copy.sound.is_empty());
        let gap = key_frame_gap_s(&out, &tools, &|| true).unwrap();
        assert!((gap - 12.0 / is.rate.fps()).abs() < 1e-3, "{file}: {gap}");
    }
    let long = key_frame_gap_s(&folder.path().join("b.mp4"), &tools, &|| true).unwrap();
    assert!(long > 1.9, "{long}");
}

#[test]
fn a_copy_stands_upright_and_is_whole_or_not_there() {
    let Some(tools) = tools("viewed::upright") else {
        return;
    };
    if !tools.has_encoder("libx264") {
        return;
    }
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("turned.mp4");
    let spec = SinkSpec {
        width: 320,
        height: 180,
        rate: FrameRate::FPS_25,
        gray: true,
        codec: "libx264".into(),
        codec_options: Vec::new(),
        rotation_deg: 90,
        timecode: None,
        audio: Vec::new(),
    };
    let mut sink = VideoSink::create(&path, &spec, &tools).unwrap();
    for n in 0..30u8 {
        sink.push_frame(&vec![60 + n; 320 * 180]).unwrap();
    }
    sink.finish().unwrap();
    let probed = probe(&path, Some(&tools)).unwrap();
    let out = folder.path().join("copy.mp4");
    let stopped = viewing_copy(&path, &probed, &tools, &out, &|_| false);
    assert!(matches!(stopped, Err(Error::Cancelled)), "{stopped:?}");
    let left = std::fs::read_dir(folder.path()).unwrap().count();
    assert_eq!(left, 1, "nothing half made is left");
    viewing_copy(&path, &probed, &tools, &out, &|_| true).unwrap();
    let picture = probe(&out, Some(&tools)).unwrap().picture.unwrap();
    assert_eq!(
        (picture.width, picture.height, picture.rotation_deg),
        (180, 320, 0)
    );
}
