//! The preview: the right frame of the right take at every frame of the cut, and nothing left
//! behind when it cannot be.
//!
//! The takes' frames carry their own number as eleven bars of light and dark with a twelfth for
//! parity, so that what the preview shows can be read back from its pixels.

use crate::{ffmpeg, output_of, tools};
use media::{
    Error, Note, PreviewJob, PreviewShot, SinkSpec, Tools, VideoSink, WavFormat, decode_take_at,
    probe, render_preview, write_wav,
};
use model::{Fit, FrameRate, Length};
use std::cell::Cell;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

const BARS: u32 = 12;

/// A grey frame that shows `number` when it is turned upright.
fn numbered(width: u32, height: u32, number: u32, rotation_deg: u32) -> Vec<u8> {
    let parity = number.count_ones() & 1;
    let bits = number << 1 | parity;
    let mut frame = Vec::with_capacity((width * height) as usize);
    for y in 0..height {
        for x in 0..width {
            // How far right of the left edge this lies once upright, 0 to 1.
            let across = match rotation_deg {
                0 => (f64::from(x) + 0.5) / f64::from(width),
                90 => 1.0 - (f64::from(y) + 0.5) / f64::from(height),
                180 => 1.0 - (f64::from(x) + 0.5) / f64::from(width),
                _ => (f64::from(y) + 0.5) / f64::from(height),
            };
            // The bars stand in the middle, where no crop reaches.
            let bar = (across - 0.2) / 0.6 * f64::from(BARS);
            let light =
                (0.0..f64::from(BARS)).contains(&bar) && bits >> (BARS - 1 - bar as u32) & 1 == 1;
            frame.push(if light { 210 } else { 40 });
        }
    }
    frame
}

/// The number in a frame of the preview; `None` when the bars cannot be read.
fn read_number(luma: &[u8], width: usize, height: usize) -> Option<u32> {
    let mut bits = 0u32;
    for bar in 0..BARS as usize {
        let middle = width as f64 * (0.2 + 0.6 * (bar as f64 + 0.5) / f64::from(BARS));
        let at = |y: usize| f64::from(luma[y * width + middle as usize]);
        let mean = (height / 3..height * 2 / 3).map(at).sum::<f64>() / (height / 3) as f64;
        if (90.0..160.0).contains(&mean) {
            return None;
        }
        bits = bits << 1 | u32::from(mean > 125.0);
    }
    let number = bits >> 1;
    (number.count_ones() & 1 == bits & 1).then_some(number)
}

/// The luma planes of a file's frames.
fn lumas(file: &Path, width: usize, height: usize) -> Vec<Vec<u8>> {
    let bytes = output_of(
        "ffmpeg",
        &[
            "-map", "0:v", "-f", "rawvideo", "-pix_fmt", "yuv420p", "pipe:1",
        ],
        file,
    );
    bytes
        .chunks(width * height * 3 / 2)
        .map(|frame| frame[..width * height].to_vec())
        .collect()
}

struct Made {
    path: PathBuf,
    /// When each numbered frame is shown, and its number.
    shown: Vec<(f64, u32)>,
}

#[expect(clippy::too_many_arguments, reason = "a row of the table of takes")]
fn make(
    folder: &Path,
    tools: &Tools,
    name: &str,
    size: [u32; 2],
    rate: FrameRate,
    codec: &str,
    options: &[&str],
    rotation_deg: u32,
    frames: u32,
) -> Option<Made> {
    let spec = SinkSpec {
        width: size[0],
        height: size[1],
        rate,
        gray: true,
        codec: codec.into(),
        codec_options: options.iter().map(|o| (*o).to_owned()).collect(),
        rotation_deg,
        timecode: None,
        audio: Vec::new(),
    };
    let path = folder.join(name);
    let mut sink = VideoSink::create(&path, &spec, tools).unwrap();
    let written = (0..frames)
        .try_for_each(|n| sink.push_frame(&numbered(size[0], size[1], n, rotation_deg)))
        .and_then(|()| sink.finish());
    if let Err(error) = written {
        assert!(!tools.has_encoder(codec), "{error}");
        eprintln!("skipped: this ffmpeg has no {codec}");
        return None;
    }
    let shown = (0..frames)
        .map(|n| (f64::from(n) / rate.fps(), n))
        .collect();
    Some(Made { path, shown })
}

fn make_song(folder: &Path) -> PathBuf {
    let path = folder.join("song.wav");
    let mut samples = vec![0.0f32; 48_000 * 4];
    samples[100_003] = 0.9;
    write_wav(&path, 48_000, &[&samples, &samples], WavFormat::Int16).unwrap();
    path
}

fn job(folder: &Path, shots: Vec<PreviewShot>, rate: FrameRate) -> PreviewJob {
    PreviewJob {
        shots,
        rate,
        frame: [320, 180],
        active: None,
        fit: Fit::Crop,
        song: make_song(folder),
        song_length: Length::nearest_to_seconds(4.0),
        out: folder.join("preview.mp4"),
        probes: BTreeMap::new(),
    }
}

fn shot(take: &Path, frames: i64, take_start_s: f64, speed: f64) -> PreviewShot {
    PreviewShot {
        frames,
        take: Some(take.to_owned()),
        take_start_s,
        speed,
        label: None,
    }
}

/// What lies in a folder besides the named files.
fn others(folder: &Path, known: &[&str]) -> Vec<String> {
    let mut names: Vec<String> = std::fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().file_name().to_string_lossy().into_owned())
        .filter(|name| !known.contains(&name.as_str()))
        .collect();
    names.sort();
    names
}

#[test]
fn every_frame_is_the_take_s() {
    let Some(tools) = tools("rendered::every_frame") else {
        return;
    };
    let folder = tempfile::tempdir().unwrap();
    let f = folder.path();
    let rate = |num, den| FrameRate::new(num, den).unwrap();
    let x264 = &["-preset", "ultrafast", "-g", "24", "-bf", "2"][..];
    let mut takes: Vec<(Made, f64)> = [
        (
            make(
                f,
                &tools,
                "24.mov",
                [320, 180],
                rate(24, 1),
                "libx264",
                x264,
                0,
                60,
            ),
            1.0,
        ),
        (
            make(
                f,
                &tools,
                "25.mp4",
                [400, 300],
                rate(25, 1),
                "libx264",
                x264,
                0,
                60,
            ),
            1.0,
        ),
        (
            make(
                f,
                &tools,
                "29.mp4",
                [640, 360],
                rate(30_000, 1001),
                "mpeg4",
                &["-bf", "2", "-g", "30"],
                0,
                70,
            ),
            1.0,
        ),
        (
            make(
                f,
                &tools,
                "50.mp4",
                [320, 180],
                rate(50, 1),
                "libx264",
                x264,
                0,
                90,
            ),
            2.0,
        ),
        (
            make(
                f,
                &tools,
                "slow.mp4",
                [320, 180],
                rate(25, 1),
                "mpeg4",
                &["-g", "12"],
                0,
                80,
            ),
            0.8,
        ),
        (
            make(
                f,
                &tools,
                "phone.mp4",
                [640, 360],
                rate(30, 1),
                "libx264",
                x264,
                90,
                60,
            ),
            1.0,
        ),
        (
            make(
                f,
                &tools,
                "upside.mov",
                [320, 240],
                rate(25, 1),
                "mpeg4",
                &[],
                180,
                60,
            ),
            1.0,
        ),
        (
            make(
                f,
                &tools,
                "phone2.mov",
                [320, 180],
                rate(24_000, 1001),
                "mjpeg",
                &["-q:v", "3"],
                270,
                60,
            ),
            1.0,
        ),
        (
            make(
                f,
                &tools,
                "pro.mov",
                [320, 180],
                rate(25, 1),
                "prores_ks",
                &["-profile:v", "0"],
                0,
                50,
            ),
            1.0,
        ),
        (
            make(
                f,
                &tools,
                "hevc.mp4",
                [320, 180],
                rate(30_000, 1001),
                "libx265",
                &[
                    "-preset",
                    "ultrafast",
                    "-x265-params",
                    "log-level=error",
                    "-tag:v",
                    "hvc1",
                ],
                0,
                70,
            ),
            1.0,
        ),
        (
            make(
                f,
                &tools,
                "ms.mkv",
                [320, 180],
                rate(30_000, 1001),
                "libx264",
                x264,
                0,
                70,
            ),
            1.0,
        ),
    ]
    .into_iter()
    .filter_map(|(made, speed)| Some((made?, speed)))
    .collect();
    // Uneven: after frame 20 every third frame is missing.
    ffmpeg(
        f,
        "-i phone.mp4 -vf select='lt(n,20)+mod(n,3)' -vsync vfr -c:v mpeg4 -g 15 uneven.mp4",
    );
    let uneven = (0..60)
        .filter(|n| *n < 20 || n % 3 != 0)
        .map(|n| (f64::from(n) / 30.0, n))
        .collect();
    takes.push((
        Made {
            path: f.join("uneven.mp4"),
            shown: uneven,
        },
        1.0,
    ));
    // The picture begins a third of a second after the file does.
    ffmpeg(
        f,
        "-f lavfi -i sine=d=3 -itsoffset 0.333 -i 24.mov -map 1:v -map 0:a -c:v copy -c:a aac late.mov",
    );
    let late = (0..60).map(|n| (f64::from(n) / 24.0, n)).collect();
    takes.push((
        Made {
            path: f.join("late.mov"),
            shown: late,
        },
        1.0,
    ));

    for rate in [FrameRate::FPS_25, FrameRate::FPS_23_976] {
        // Starts on a frame, between frames, late in the take, and in the middle of a frame.
        let starts = [0.0, 0.5, 1.0, 0.777, 1.2345];
        let shots: Vec<(usize, PreviewShot)> = takes
            .iter()
            .enumerate()
            .map(|(n, (made, speed))| {
                (
                    n,
                    shot(
                        &made.path,
                        9 + n as i64 % 3,
                        starts[n % starts.len()],
                        *speed,
                    ),
                )
            })
            .collect();
        let total: i64 = shots.iter().map(|(_, s)| s.frames).sum();
        let job = job(f, shots.iter().map(|(_, s)| s.clone()).collect(), rate);
        let rendered = render_preview(&job, &tools, &|_| true).unwrap();
        assert_eq!((rendered.frames, &rendered.notes[..]), (total, &[][..]));
        let frames = lumas(&job.out, 320, 180);
        assert_eq!(frames.len() as i64, total);
        let mut at = 0;
        for (n, shot) in &shots {
            let (made, _) = &takes[*n];
            for k in 0..shot.frames {
                let t = shot.take_start_s + k as f64 / rate.fps() / shot.speed;
                let read = read_number(&frames[at], 320, 180);
                at += 1;
                // Where a frame begins within a millisecond of the moment, it and the one before are equally near.
                let fits = [t - 1e-3, t + 1e-3].map(|t| {
                    let index = made.shown.partition_point(|(from, _)| *from <= t).max(1) - 1;
                    made.shown[index].1
                });
                let name = made.path.file_name().unwrap();
                assert!(
                    read.is_some_and(|r| fits.contains(&r)),
                    "{name:?} at {t:.4} s, {rate}: shows {read:?}, should show {fits:?}"
                );
            }
        }
    }
}

#[test]
fn the_sound_lies_where_the_song_has_it() {
    let Some(tools) = tools("rendered::the_sound") else {
        return;
    };
    let folder = tempfile::tempdir().unwrap();
    let black = PreviewShot {
        frames: 90,
        take: None,
        take_start_s: 0.0,
        speed: 1.0,
        label: Some("B2 · BAR 17".into()),
    };
    for rate in [FrameRate::FPS_25, FrameRate::FPS_29_97] {
        let job = job(folder.path(), vec![black.clone(), black.clone()], rate);
        render_preview(&job, &tools, &|_| true).unwrap();
        let probed = probe(&job.out, Some(&tools)).unwrap();
        let picture = probed.picture.as_ref().unwrap();
        assert_eq!((picture.rate, picture.frames), (rate, Some(180)));
        let length_s = 180.0 / rate.fps();
        assert!(
            (probed.length.seconds() - length_s).abs() < 1e-4,
            "{}",
            probed.length.seconds()
        );
        assert!(
            (probed.sound_length_s() - length_s).abs() < 1.0 / 48_000.0 * 2.0,
            "{}",
            probed.sound_length_s()
        );
        let sound = decode_take_at(&job.out, &probed, Some(&tools), 48_000, &|| true).unwrap();
        let loudest = sound.channels[0]
            .samples
            .iter()
            .enumerate()
            .max_by(|a, b| a.1.abs().total_cmp(&b.1.abs()))
            .unwrap()
            .0;
        assert!(loudest.abs_diff(100_003) <= 1, "{loudest}");
    }
    assert_eq!(
        others(folder.path(), &["song.wav", "preview.mp4"]),
        Vec::<String>::new()
    );
}

#[test]
fn what_cannot_be_shown_gets_a_card() {
    let Some(tools) = tools("rendered::cards") else {
        return;
    };
    let folder = tempfile::tempdir().unwrap();
    let f = folder.path();
    let short = make(
        f,
        &tools,
        "short.mp4",
        [320, 180],
        FrameRate::FPS_25,
        "mpeg4",
        &[],
        0,
        20,
    )
    .unwrap();
    std::fs::write(f.join("words.mp4"), "no movie\n").unwrap();
    write_wav(
        &f.join("sound.wav"),
        8000,
        &[&[0.1; 8000]],
        WavFormat::Int16,
    )
    .unwrap();
    let mut shots = vec![
        shot(&f.join("gone é.mp4"), 5, 0.0, 1.0),
        shot(&f.join("words.mp4"), 5, 0.0, 1.0),
        shot(&f.join("sound.wav"), 5, 0.0, 1.0),
        // Ten of its frames, then its last held for five.
        shot(&short.path, 15, 0.4, 1.0),
        // Wholly beyond its end.
        shot(&short.path, 5, 9.0, 1.0),
    ];
    for shot in &mut shots {
        shot.label = Some("VERSE 3 A_0012.MP4".into());
    }
    let job = job(f, shots, FrameRate::FPS_25);
    let rendered = render_preview(&job, &tools, &|_| true).unwrap();
    let frames = lumas(&job.out, 320, 180);
    assert_eq!(frames.len(), 35);
    let told: Vec<String> = rendered.notes.iter().map(Note::to_string).collect();
    assert_eq!(told.len(), 5, "{told:#?}");
    assert!(
        told[0].contains("shot 1") && told[0].contains("there is no file"),
        "{told:#?}"
    );
    assert!(told[1].contains("it holds text"), "{told:#?}");
    assert!(told[2].contains("no picture"), "{told:#?}");
    assert!(
        matches!(
            rendered.notes[3],
            Note::HeldLast {
                shot: 4,
                frames: 5,
                ..
            }
        ),
        "{told:#?}"
    );
    assert!(
        matches!(
            rendered.notes[4],
            Note::HeldLast {
                shot: 5,
                frames: 4,
                ..
            }
        ),
        "{told:#?}"
    );
    for (n, expected) in [(15, 10), (24, 19), (29, 19), (34, 19)] {
        assert_eq!(
            read_number(&frames[n], 320, 180),
            Some(expected),
            "frame {n}"
        );
    }
    // The cards are dark with light letters.
    let mean = frames[2].iter().map(|l| f64::from(*l)).sum::<f64>() / frames[2].len() as f64;
    assert!((30.0..60.0).contains(&mean), "{mean}");
    assert!(frames[2].iter().any(|l| *l > 150));
}

#[test]
fn the_active_picture_is_kept_black_around() {
    let Some(tools) = tools("rendered::active") else {
        return;
    };
    let folder = tempfile::tempdir().unwrap();
    ffmpeg(
        folder.path(),
        "-f lavfi -i color=white:s=320x180:r=25:d=1 -c:v mpeg4 white.mp4",
    );
    for (fit, lit) in [
        (Fit::Crop, [42, 0, 236, 180]),
        (Fit::Inside, [40, 22, 240, 134]),
    ] {
        let mut job = job(
            folder.path(),
            vec![shot(&folder.path().join("white.mp4"), 3, 0.0, 1.0)],
            FrameRate::FPS_25,
        );
        job.fit = fit;
        job.active = Some([4, 3]);
        render_preview(&job, &tools, &|_| true).unwrap();
        let frame = &lumas(&job.out, 320, 180)[1];
        let [x, y, w, h] = lit;
        // A pixel inside each corner is white, a few outside are black.
        for (px, py) in [(x + 4, y + 2), (x + w - 5, y + h - 3)] {
            assert!(
                frame[py * 320 + px] > 200,
                "{fit:?} {px},{py}: {}",
                frame[py * 320 + px]
            );
        }
        for (px, py) in [(34, 90), (285, 90)] {
            assert!(
                frame[py * 320 + px] < 30,
                "{fit:?} {px},{py}: {}",
                frame[py * 320 + px]
            );
        }
    }
}

#[test]
fn a_cancelled_preview_leaves_nothing() {
    let Some(tools) = tools("rendered::cancelled") else {
        return;
    };
    let folder = tempfile::tempdir().unwrap();
    let f = folder.path();
    let take = make(
        f,
        &tools,
        "take.mp4",
        [320, 180],
        FrameRate::FPS_25,
        "mpeg4",
        &[],
        0,
        50,
    )
    .unwrap();
    std::fs::write(f.join("preview.mp4"), "the last one").unwrap();
    for stop_at in [0.0, 0.01, 0.5] {
        let shots = (0..2000).map(|_| shot(&take.path, 40, 0.0, 1.0)).collect();
        let job = job(f, shots, FrameRate::FPS_25);
        let highest = Cell::new(0.0f32);
        let asked = Cell::new(0);
        let progress = |share: f32| {
            highest.set(highest.get().max(share));
            asked.set(asked.get() + 1);
            // 0.5 is never reached in time: then it is the tenth asking that stops.
            share < stop_at && asked.get() < 10
        };
        let error = render_preview(&job, &tools, &progress).unwrap_err();
        assert!(matches!(error, Error::Cancelled), "{error}");
        assert!(highest.get() < 1.0);
    }
    assert_eq!(others(f, &["song.wav", "take.mp4"]), ["preview.mp4"]);
    assert_eq!(
        std::fs::read(f.join("preview.mp4")).unwrap(),
        b"the last one"
    );
}

#[test]
fn jobs_that_cannot_be_are_refused() {
    let Some(tools) = tools("rendered::refused") else {
        return;
    };
    let folder = tempfile::tempdir().unwrap();
    let f = folder.path();
    let black = PreviewShot {
        frames: 5,
        take: None,
        take_start_s: 0.0,
        speed: 1.0,
        label: None,
    };
    let refusal = |change: &dyn Fn(&mut PreviewJob)| {
        let mut job = job(f, vec![black.clone()], FrameRate::FPS_25);
        change(&mut job);
        render_preview(&job, &tools, &|_| true)
            .unwrap_err()
            .to_string()
    };
    assert!(refusal(&|j| j.shots.clear()).contains("the length of the cut is 0 frames"));
    assert!(refusal(&|j| j.shots[0].speed = 0.0).contains("the speed of shot 1 is 0"));
    assert!(refusal(&|j| j.shots[0].speed = f64::NAN).contains("the speed of shot 1 is NaN"));
    assert!(refusal(&|j| j.shots[0].take_start_s = f64::INFINITY).contains("the start of shot 1"));
    assert!(refusal(&|j| j.frame = [0, 180]).contains("the preview's frame"));
    assert!(refusal(&|j| j.song = f.join("no song.wav")).contains("there is no file"));
    assert!(
        refusal(&|j| j.out = f.join("no folder/preview.mp4")).contains("no folder/preview.mp4")
    );
    assert!(refusal(&|j| j.out = f.to_owned()).contains("is a folder"));
    assert_eq!(others(f, &["song.wav"]), Vec::<String>::new());
}

/// A disk of 64 kB, where one can be made.
#[cfg(target_os = "linux")]
#[test]
fn a_full_disk_is_one_sentence() {
    let Some(tools) = tools("rendered::full_disk") else {
        return;
    };
    let folder = tempfile::tempdir().unwrap();
    let small = folder.path().join("small");
    std::fs::create_dir(&small).unwrap();
    let mount = |arguments: &[&str]| {
        std::process::Command::new(arguments[0])
            .args(&arguments[1..])
            .arg(&small)
            .output()
            .is_ok_and(|o| o.status.success())
    };
    if !mount(&["mount", "-t", "tmpfs", "-o", "size=64k", "tmpfs"]) {
        eprintln!("skipped: rendered::full_disk: no small disk can be mounted here");
        return;
    }
    // Noise, which no encoder makes small.
    ffmpeg(
        folder.path(),
        "-f lavfi -i testsrc2=s=320x180:r=25:d=4 -vf noise=alls=90:allf=t -c:v mpeg4 -q:v 3 take.mp4",
    );
    let take = folder.path().join("take.mp4");
    let mut job = job(
        folder.path(),
        vec![shot(&take, 100, 0.0, 1.0)],
        FrameRate::FPS_25,
    );
    job.out = small.join("preview.mp4");
    let preview = render_preview(&job, &tools, &|_| true);
    let wav = write_wav(
        &small.join("a.wav"),
        48_000,
        &[&[0.0; 100_000]],
        WavFormat::Int16,
    );
    let left = others(&small, &[]);
    assert!(mount(&["umount"]));
    for error in [preview.unwrap_err(), wav.unwrap_err()] {
        assert!(matches!(error, Error::DiskFull { .. }), "{error}");
        assert!(error.to_string().starts_with("the disk is full"), "{error}");
    }
    assert_eq!(left, Vec::<String>::new());
}

/// ffmpeg ended by someone in the middle of the work: said so, and nothing left.
#[cfg(unix)]
#[test]
fn a_killed_ffmpeg_is_told() {
    use std::os::unix::fs::PermissionsExt;
    if tools("rendered::killed").is_none() {
        return;
    }
    let folder = tempfile::tempdir().unwrap();
    let stand_in = |name: &str, victim: &str| {
        let real =
            std::env::var(format!("BAREBULB_{}", name.to_uppercase())).unwrap_or(name.into());
        let script = format!(
            "#!/bin/sh\ncase \"$*\" in\n{victim}) head -c 900000 >/dev/null; kill -9 $$;;\n*) exec {real} \"$@\";;\nesac\n"
        );
        let path = folder.path().join(name);
        std::fs::write(&path, script).unwrap();
        std::fs::set_permissions(&path, std::fs::Permissions::from_mode(0o755)).unwrap();
        path
    };
    let ffprobe = stand_in("ffprobe", "no_such_words");
    let work = folder.path().join("work");
    std::fs::create_dir(&work).unwrap();
    ffmpeg(
        &work,
        "-f lavfi -i testsrc=s=320x180:r=25:d=4 -c:v mpeg4 take.mp4",
    );
    // The encoder, which is fed through a pipe; then every decoder, which sends raw frames.
    for (victim, whole) in [("*pipe:0*", false), ("*take.mp4*", true)] {
        let ffmpeg = stand_in("ffmpeg", victim);
        // Another test that is starting a child just now may still hold the script open.
        let tools = (0..100)
            .find_map(|_| Tools::at(&ffmpeg, &ffprobe).ok())
            .unwrap();
        let job = job(
            &work,
            vec![shot(&work.join("take.mp4"), 90, 0.0, 1.0)],
            FrameRate::FPS_25,
        );
        match render_preview(&job, &tools, &|_| true) {
            Err(error) => {
                assert!(!whole && matches!(error, Error::Killed { .. }), "{error}");
                assert_eq!(
                    others(&work, &["song.wav", "take.mp4"]),
                    Vec::<String>::new()
                );
            }
            Ok(rendered) => {
                assert!(whole);
                assert!(
                    rendered.notes[0].to_string().contains("killed"),
                    "{:?}",
                    rendered.notes
                );
            }
        }
    }
}
