//! Files that are not what they should be: one clear sentence, or what there is and a note.

use crate::{ffmpeg, tools};
use media::{Error, Note, decode_song, decode_take, probe};
use std::path::{Path, PathBuf};

fn keep_going() -> bool {
    true
}

#[test]
fn songs_that_are_none() {
    let folder = tempfile::tempdir().unwrap();
    let place = |name: &str, bytes: &[u8]| -> PathBuf {
        let path = folder.path().join(name);
        std::fs::write(&path, bytes).unwrap();
        path
    };
    let with = media::Tools::find().ok();
    for way in [with.as_ref(), None] {
        let refusal = |path: &Path| decode_song(path, way, &keep_going).unwrap_err();
        let text = refusal(&place("words.wav", b"This is not a song.\n"));
        assert!(text.to_string().contains("it holds text"), "{text}");
        assert!(matches!(
            refusal(&place("empty.wav", b"")),
            Error::Empty { .. }
        ));
        assert!(matches!(refusal(folder.path()), Error::Folder { .. }));
        assert!(matches!(
            refusal(&folder.path().join("gone.wav")),
            Error::NoFile { .. }
        ));
        let head_only = refusal(&place("head.wav", b"RIFF\x24\0\0\0WAVEfmt "));
        assert!(matches!(head_only, Error::NotMedia { .. }), "{head_only:?}");
        let noise: Vec<u8> = (0..5000u32)
            .map(|n| (n.wrapping_mul(2_654_435_761) >> 24) as u8)
            .collect();
        let noise = refusal(&place("noise.wav", &noise));
        assert!(
            matches!(noise, Error::NotMedia { .. } | Error::NeedsTools { .. }),
            "{noise:?}"
        );
    }
}

#[test]
fn what_is_no_number_becomes_silence() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("nan.wav");
    let mut samples = vec![0.25f32; 1000];
    samples[10] = f32::NAN;
    samples[20] = f32::INFINITY;
    media::write_wav(&path, 8000, &[&samples], media::WavFormat::Float32).unwrap();
    let song = decode_song(&path, None, &keep_going).unwrap();
    assert_eq!(
        (
            song.channels[0][10],
            song.channels[0][20],
            song.channels[0][30]
        ),
        (0.0, 0.0, 0.25)
    );
    assert!(
        matches!(song.notes[..], [Note::NotNumbers { count: 2, .. }]),
        "{:?}",
        song.notes
    );
}

#[test]
fn a_file_cut_off_gives_what_is_there() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("cut.wav");
    media::write_wav(&path, 8000, &[&[0.5f32; 80_000]], media::WavFormat::Int16).unwrap();
    let bytes = std::fs::read(&path).unwrap();
    std::fs::write(&path, &bytes[..bytes.len() / 2]).unwrap();
    let song = decode_song(&path, None, &keep_going).unwrap();
    let found_s = song.channels[0].len() as f64 / 8000.0;
    assert!((found_s - 5.0).abs() < 0.2, "{found_s}");
    assert!(
        matches!(song.notes[..], [Note::Truncated { promised_s, .. }] if promised_s == 10.0),
        "{:?}",
        song.notes
    );

    let Some(tools) = tools("bad_files::a_file_cut_off") else {
        return;
    };
    for (file, codec) in [
        ("a.mp3", "libmp3lame"),
        ("a.flac", "flac"),
        ("a.ogg", "libvorbis"),
        ("a.aiff", "pcm_s16be"),
        ("a.mka", "aac"),
    ] {
        ffmpeg(
            folder.path(),
            &format!("-f lavfi -i anoisesrc=d=6:a=0.1:r=44100 -c:a {codec} {file}"),
        );
        let path = folder.path().join(file);
        let bytes = std::fs::read(&path).unwrap();
        std::fs::write(&path, &bytes[..bytes.len() / 2]).unwrap();
        let song =
            decode_song(&path, Some(&tools), &keep_going).unwrap_or_else(|e| panic!("{file}: {e}"));
        let found_s = song.channels[0].len() as f64 / 44_100.0;
        assert!((2.0..4.0).contains(&found_s), "{file}: {found_s}");
        // What the head does not promise cannot be missed: Ogg has no length in it.
        if !matches!(file, "a.ogg" | "a.mka") {
            assert!(!song.notes.is_empty(), "{file}");
        }
    }
}

#[test]
fn a_song_too_long_is_refused_before_it_is_read() {
    let Some(tools) = tools("bad_files::too_long") else {
        return;
    };
    let folder = tempfile::tempdir().unwrap();
    // The head of three hours, and a file with a hole for the samples.
    let path = folder.path().join("three_hours.wav");
    media::write_wav(&path, 8000, &[&[0.0; 8]], media::WavFormat::Int16).unwrap();
    let mut bytes = std::fs::read(&path).unwrap();
    let size = 3 * 3600 * 8000 * 2u32;
    bytes[4..8].copy_from_slice(&(size + 36).to_le_bytes());
    bytes[40..44].copy_from_slice(&size.to_le_bytes());
    std::fs::write(&path, &bytes).unwrap();
    let file = std::fs::File::options().write(true).open(&path).unwrap();
    file.set_len(u64::from(size) + 44).unwrap();
    // What only ffmpeg reads: 91 minutes.
    ffmpeg(
        folder.path(),
        "-f lavfi -i anullsrc=r=8000:cl=mono:d=5460 -c:a pcm_u8 long.mka",
    );
    for (file, minutes) in [("three_hours.wav", 180), ("long.mka", 91)] {
        let error = decode_song(&folder.path().join(file), Some(&tools), &keep_going).unwrap_err();
        let expected =
            format!("lasts {minutes} min (1 channels at 8000 Hz), and at most 90 min is read");
        assert!(error.to_string().contains(&expected), "{error}");
    }
}

#[test]
fn odd_songs_are_read() {
    let Some(tools) = tools("bad_files::odd_songs") else {
        return;
    };
    let folder = tempfile::tempdir().unwrap();
    for (file, source, rate_hz, channels) in [
        ("low.wav", "anoisesrc=r=8000:d=1", 8000, 1),
        ("high.wav", "anoisesrc=r=192000:d=1", 192_000, 1),
        ("five_one.wav", "anullsrc=r=48000:cl=5.1:d=1", 48_000, 6),
        ("five_one.flac", "anullsrc=r=48000:cl=5.1:d=1", 48_000, 6),
        ("five_one.m4a", "anullsrc=r=48000:cl=5.1:d=1", 48_000, 6),
    ] {
        ffmpeg(folder.path(), &format!("-f lavfi -i {source} {file}"));
        let song = decode_song(&folder.path().join(file), Some(&tools), &keep_going).unwrap();
        assert_eq!(
            (song.rate_hz, song.channels.len()),
            (rate_hz, channels),
            "{file}"
        );
        assert!(song.channels[0].len() >= rate_hz as usize, "{file}");
    }
}

#[test]
fn takes_with_something_missing() {
    let Some(tools) = tools("bad_files::takes") else {
        return;
    };
    let folder = tempfile::tempdir().unwrap();
    let path = |name: &str| folder.path().join(name);
    ffmpeg(
        folder.path(),
        "-f lavfi -i testsrc=s=64x64:r=25:d=1 -c:v mpeg4 silent.mp4",
    );
    let probed = probe(&path("silent.mp4"), Some(&tools)).unwrap();
    let error = decode_take(&path("silent.mp4"), &probed, Some(&tools), &keep_going).unwrap_err();
    assert!(matches!(error, Error::NoSound { .. }), "{error}");

    ffmpeg(
        folder.path(),
        "-f lavfi -i testsrc=s=64x64:r=25:d=2 -f lavfi -i sine=d=2 -c:v mpeg4 -c:a aac whole.mp4",
    );
    // Without its index, which is written last.
    let bytes = std::fs::read(path("whole.mp4")).unwrap();
    let at = bytes.windows(4).position(|w| w == b"moov").unwrap();
    std::fs::write(path("unfinished.mp4"), &bytes[..at - 4]).unwrap();
    let error = probe(&path("unfinished.mp4"), Some(&tools)).unwrap_err();
    assert!(matches!(error, Error::Unfinished { .. }), "{error}");

    std::fs::write(path("nothing.mp4"), b"").unwrap();
    let error = probe(&path("nothing.mp4"), Some(&tools)).unwrap_err();
    assert!(matches!(error, Error::Empty { .. }), "{error}");

    let error = probe(&path("whole.mp4"), None).unwrap_err();
    assert!(matches!(error, Error::NeedsTools { .. }), "{error}");

    // No frame at all, but a whole index.
    ffmpeg(
        folder.path(),
        "-f lavfi -i testsrc=s=64x64:r=25:d=1 -c:v mpeg4 -frames:v 0 no_frames.mp4",
    );
    let error = probe(&path("no_frames.mp4"), Some(&tools)).unwrap_err();
    assert!(!error.to_string().is_empty());
}

#[cfg(unix)]
#[test]
fn a_file_that_may_not_be_read_is_told() {
    use std::os::unix::fs::PermissionsExt;
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("locked.wav");
    std::fs::write(&path, b"RIFF").unwrap();
    std::fs::set_permissions(&path, std::fs::Permissions::from_mode(0o000)).unwrap();
    if std::fs::File::open(&path).is_ok() {
        eprintln!("skipped: a_file_that_may_not_be_read: this user may read everything");
        return;
    }
    let error = decode_song(&path, None, &keep_going).unwrap_err();
    assert!(error.to_string().contains("could not be opened"), "{error}");
}

#[test]
fn names_of_every_kind_work() {
    let Some(tools) = tools("bad_files::names") else {
        return;
    };
    let folder = tempfile::tempdir().unwrap();
    ffmpeg(
        folder.path(),
        "-f lavfi -i testsrc=s=64x64:r=25:d=1 -f lavfi -i sine=d=1 -c:v mpeg4 -c:a aac plain.mp4",
    );
    let longest = format!("{}.mp4", "n".repeat(251));
    for name in [
        "-i.mp4",
        "with space.mp4",
        "it's \"quoted\".mp4",
        "📼 é.mp4",
        "a:b.mp4",
        "50%d%%.mp4",
        "http:x.mp4",
        "[0]|;$(x).mp4",
        longest.as_str(),
    ] {
        let path = folder.path().join(name);
        std::fs::copy(folder.path().join("plain.mp4"), &path).unwrap();
        let probed = probe(&path, Some(&tools)).unwrap_or_else(|e| panic!("{name}: {e}"));
        assert!(probed.picture.is_some());
        let take = decode_take(&path, &probed, Some(&tools), &keep_going).unwrap();
        assert_eq!(take.channels.len(), 1, "{name}");
    }
}

#[test]
fn cancelled_work_stops() {
    let Some(tools) = tools("bad_files::cancelled") else {
        return;
    };
    let folder = tempfile::tempdir().unwrap();
    ffmpeg(folder.path(), "-f lavfi -i sine=d=60 -c:a aac long.m4a");
    ffmpeg(folder.path(), "-f lavfi -i sine=d=60 long.wav");
    for file in ["long.m4a", "long.wav"] {
        let asked = std::sync::atomic::AtomicUsize::new(0);
        let stop = || asked.fetch_add(1, std::sync::atomic::Ordering::Relaxed) < 3;
        let error = decode_song(&folder.path().join(file), Some(&tools), &stop).unwrap_err();
        assert!(matches!(error, Error::Cancelled), "{file}: {error}");
    }
}

/// Damage anywhere is an error or less sound, never a panic or a hang.
#[test]
fn damaged_songs_never_panic() {
    let Some(tools) = tools("bad_files::damaged") else {
        return;
    };
    let folder = tempfile::tempdir().unwrap();
    let files = ["a.wav", "a.flac", "a.mp3", "a.ogg", "a.aiff"];
    ffmpeg(
        folder.path(),
        &format!(
            "-f lavfi -i anoisesrc=d=1:a=0.1:r=22050 {}",
            files.join(" ")
        ),
    );
    let mut state = 88_172_645_463_325_252_u64;
    let mut random = |below: usize| {
        state ^= state << 13;
        state ^= state >> 7;
        state ^= state << 17;
        (state % below as u64) as usize
    };
    let path = folder.path().join("damaged");
    for file in files {
        let whole = std::fs::read(folder.path().join(file)).unwrap();
        for round in 0..60 {
            let mut bytes = whole.clone();
            // In the head as often as anywhere.
            let reach = if round % 2 == 0 {
                200.min(bytes.len())
            } else {
                bytes.len()
            };
            for _ in 0..=random(8) {
                bytes[random(reach)] = random(256) as u8;
            }
            bytes.truncate(1 + random(bytes.len()));
            std::fs::write(&path, &bytes).unwrap();
            if let Ok(song) = decode_song(&path, None, &keep_going) {
                assert!(song.channels.iter().flatten().all(|s| s.is_finite()));
            }
            let _ = probe(&path, None);
        }
    }
    // ffmpeg's way, a few times.
    for cut in [100, 1000, 5000] {
        let whole = std::fs::read(folder.path().join("a.ogg")).unwrap();
        std::fs::write(&path, &whole[whole.len().min(cut)..]).unwrap();
        let _ = decode_song(&path, Some(&tools), &keep_going);
    }
}
