//! What a probe says of picture and sound.

use crate::{ffmpeg, ffmpeg_tries, tools};
use media::probe;
use model::FrameRate;

#[test]
fn the_picture_is_described() {
    let Some(tools) = tools("probed::the_picture") else {
        return;
    };
    let folder = tempfile::tempdir().unwrap();
    ffmpeg(
        folder.path(),
        "-f lavfi -i testsrc=s=320x180:r=30000/1001:d=2 -f lavfi -i sine=d=2 -c:v mpeg4 -bf 2 \
         -vf setsar=4/3 -colorspace bt709 -color_primaries bt709 -color_trc bt709 -color_range tv \
         -timecode 01:00:00;00 -c:a aac a.mov",
    );
    let probed = probe(&folder.path().join("a.mov"), Some(&tools)).unwrap();
    let picture = probed.picture.unwrap();
    assert_eq!((picture.width, picture.height), (320, 180));
    assert_eq!(picture.rate, FrameRate::FPS_29_97);
    assert!(!picture.variable_rate);
    assert_eq!(picture.pixel_aspect, (4, 3));
    assert_eq!(picture.frames, Some(60));
    assert_eq!(picture.start_timecode.as_deref(), Some("01:00:00;00"));
    assert_eq!(picture.start_s, 0.0);
    assert_eq!(picture.colour[2].as_deref(), Some("bt709"));
    assert!((picture.length.seconds() - 2.002).abs() < 1e-6);
    assert_eq!(probed.sound.len(), 1);
    assert_eq!(probed.sound[0].codec, "aac");
}

#[test]
fn usual_rates_are_exact_in_every_container() {
    let Some(tools) = tools("probed::usual_rates") else {
        return;
    };
    let folder = tempfile::tempdir().unwrap();
    let ntsc_60 = FrameRate::new(60_000, 1001).unwrap();
    for (rate, ending) in [
        (FrameRate::FPS_23_976, "mp4"),
        (FrameRate::FPS_23_976, "mkv"),
        (FrameRate::FPS_24, "mkv"),
        (FrameRate::FPS_25, "avi"),
        (FrameRate::FPS_29_97, "mov"),
        (FrameRate::FPS_29_97, "ts"),
        (ntsc_60, "mkv"),
        (ntsc_60, "mp4"),
    ] {
        let file = format!("a.{ending}");
        // MPEG-4 part 2 in a transport stream loses the rate; MPEG-2 keeps it.
        let codec = if ending == "ts" {
            "mpeg2video"
        } else {
            "mpeg4"
        };
        ffmpeg(
            folder.path(),
            &format!("-f lavfi -i testsrc=s=64x64:r={rate}:d=1.5 -c:v {codec} {file}"),
        );
        let probed = probe(&folder.path().join(&file), Some(&tools)).unwrap();
        let picture = probed.picture.unwrap();
        assert_eq!(
            (picture.rate, picture.variable_rate),
            (rate, false),
            "{rate} in {ending}"
        );
    }
}

#[test]
fn an_uneven_rate_is_found() {
    let Some(tools) = tools("probed::uneven_rate") else {
        return;
    };
    let folder = tempfile::tempdir().unwrap();
    // Every third frame left out of the second half.
    for file in ["vfr.mp4", "vfr.mkv"] {
        ffmpeg(
            folder.path(),
            &format!(
                "-f lavfi -i testsrc=s=64x64:r=30:d=3 -vf select='lt(n,45)+mod(n,3)' -vsync vfr -c:v mpeg4 {file}"
            ),
        );
        let probed = probe(&folder.path().join(file), Some(&tools)).unwrap();
        let picture = probed.picture.unwrap();
        assert!(picture.variable_rate, "{file}");
        assert!(
            (picture.rate.fps() - 25.0).abs() < 0.6,
            "{file}: {}",
            picture.rate
        );
        assert_eq!(probed.notes.len(), 1);
    }
}

#[test]
fn sound_alone_has_no_picture_and_covers_are_none() {
    let Some(tools) = tools("probed::sound_alone") else {
        return;
    };
    let folder = tempfile::tempdir().unwrap();
    ffmpeg(
        folder.path(),
        "-f lavfi -i testsrc=s=64x64:d=1 -frames:v 1 cover.png",
    );
    ffmpeg(
        folder.path(),
        "-f lavfi -i sine=d=2 -i cover.png -map 0:a -map 1:v -c:v copy -disposition:v attached_pic a.mp3",
    );
    for way in [Some(&tools), None] {
        let probed = probe(&folder.path().join("a.mp3"), way).unwrap();
        assert_eq!(probed.picture, None);
        assert!(
            (probed.length.seconds() - 2.0).abs() < 0.06,
            "{}",
            probed.length.seconds()
        );
    }
    if ffmpeg_tries(
        folder.path(),
        "-f lavfi -i testsrc=s=64x64:r=25:d=1 -c:v mpeg4 -an only.mp4",
    ) {
        let probed = probe(&folder.path().join("only.mp4"), Some(&tools)).unwrap();
        assert!(probed.sound.is_empty());
        assert_eq!(probed.length.seconds(), 1.0);
    }
}
