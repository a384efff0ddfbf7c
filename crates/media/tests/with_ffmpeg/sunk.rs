//! Movie files written from frames and sound.

use crate::{output_of, tools};
use media::{Error, SinkAudio, SinkSound, SinkSpec, VideoSink, decode_take_at, probe};
use model::FrameRate;

fn spec(codec: &str) -> SinkSpec {
    SinkSpec {
        width: 64,
        height: 48,
        rate: FrameRate::FPS_24,
        gray: false,
        codec: codec.into(),
        codec_options: Vec::new(),
        rotation_deg: 0,
        timecode: Some("10:11:12:13".into()),
        audio: vec![SinkAudio {
            source: SinkSound::Samples {
                rate_hz: 48_000,
                channels: vec![[0.0, 0.5, -0.5, 0.25].repeat(12_000); 2],
            },
            codec: "pcm_s16le".into(),
        }],
    }
}

#[test]
fn what_is_written_is_read_back() {
    let Some(tools) = tools("sunk::read_back") else {
        return;
    };
    let folder = tempfile::tempdir().unwrap();
    let mut first: Option<Vec<u8>> = None;
    for rotation_deg in [0, 90, 180, 270, 0] {
        let path = folder.path().join("a.mov");
        let spec = SinkSpec {
            rotation_deg,
            ..spec("mpeg4")
        };
        let mut sink = VideoSink::create(&path, &spec, &tools).unwrap();
        for n in 0..24u8 {
            sink.push_frame(&[16 + 8 * n; 64 * 48 * 3 / 2]).unwrap();
        }
        sink.finish().unwrap();
        let probed = probe(&path, Some(&tools)).unwrap();
        let picture = probed.picture.as_ref().unwrap();
        assert_eq!(
            (picture.width, picture.height, picture.rotation_deg),
            (64, 48, rotation_deg)
        );
        assert_eq!(
            (picture.frames, picture.rate),
            (Some(24), FrameRate::FPS_24)
        );
        assert_eq!(picture.start_timecode.as_deref(), Some("10:11:12:13"));
        assert_eq!(picture.colour[2].as_deref(), Some("bt709"));
        // ffmpeg itself turns it so.
        let shown = output_of(
            "ffmpeg",
            &[
                "-frames:v",
                "1",
                "-f",
                "image2pipe",
                "-c:v",
                "pgm",
                "pipe:1",
            ],
            &path,
        );
        let head = String::from_utf8_lossy(&shown[..9.min(shown.len())]).into_owned();
        let size = if rotation_deg % 180 == 90 {
            "48 64"
        } else {
            "64 48"
        };
        assert!(head.contains(size), "{rotation_deg}: {head}");
        let sound = decode_take_at(&path, &probed, Some(&tools), 48_000, &|| true).unwrap();
        assert_eq!(sound.channels[1].samples[..4], [0.0, 0.5, -0.5, 0.25]);
        assert_eq!(sound.channels[0].samples.len(), 48_000);
        let bytes = std::fs::read(&path).unwrap();
        if rotation_deg == 0 {
            // The same frames and sound give the same file.
            assert!(first.get_or_insert_with(|| bytes.clone()) == &bytes);
        }
    }
}

#[test]
fn what_cannot_be_written_leaves_nothing() {
    let Some(tools) = tools("sunk::nothing_left") else {
        return;
    };
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("a.mp4");
    let refused = |spec: &SinkSpec, name: &str| {
        let error = VideoSink::create(&folder.path().join(name), spec, &tools)
            .err()
            .unwrap();
        assert!(matches!(error, Error::OutOfRange { .. }), "{error}");
    };
    refused(
        &SinkSpec {
            width: 63,
            ..spec("mpeg4")
        },
        "a.mp4",
    );
    refused(
        &SinkSpec {
            rotation_deg: 45,
            ..spec("mpeg4")
        },
        "a.mp4",
    );
    refused(
        &SinkSpec {
            rotation_deg: 90,
            ..spec("mpeg4")
        },
        "a.mkv",
    );
    refused(&spec("mpeg4"), "a.txt");

    let mut sink = VideoSink::create(&path, &spec("mpeg4"), &tools).unwrap();
    assert!(matches!(
        sink.push_frame(&[0; 7]),
        Err(Error::OutOfRange { .. })
    ));
    sink.push_frame(&[16; 64 * 48 * 3 / 2]).unwrap();
    drop(sink);

    // An encoder that is not there shows while frames are fed or at the end, with ffmpeg's words.
    let mut sink = VideoSink::create(&path, &spec("no_such_encoder"), &tools).unwrap();
    let mut error = None;
    for _ in 0..200 {
        error = sink.push_frame(&[16; 64 * 48 * 3 / 2]).err();
        if error.is_some() {
            break;
        }
    }
    let error = error.unwrap_or_else(|| sink.finish().unwrap_err());
    assert!(error.to_string().contains("no_such_encoder"), "{error}");
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 0);
}
