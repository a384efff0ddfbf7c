//! A click at a known moment in every container and codec: found where it lies, to the sample.
//!
//! The reference is ffmpeg itself, asked another way than the program asks it: the decoded sound
//! without any filter, and the time stamps of the first decoded frames. Where nothing is lost in
//! encoding, the truth is known as well: the moment the click was put at.

use crate::{ffmpeg, ffmpeg_tries, output_of, tools};
use media::{Probe, Tools, WavFormat, decode_song, decode_take_at, probe, write_wav};
use std::path::Path;

const RATE_HZ: u32 = 48_000;
/// Not a whole number of codec frames (1024, 1152, 960 samples) nor of picture frames.
const CLICK_AT: usize = 61_237;
const LENGTH: usize = 2 * RATE_HZ as usize;

fn keep_going() -> bool {
    true
}

/// Two channels: a click in a whisper of noise, the second channel quieter.
fn write_click(folder: &Path) {
    let mut state = 0x2545_f491_u32;
    let left: Vec<f32> = (0..LENGTH)
        .map(|n| {
            state ^= state << 13;
            state ^= state >> 17;
            state ^= state << 5;
            let whisper = (state as f32 / u32::MAX as f32 - 0.5) * 2e-3;
            whisper + if n == CLICK_AT { 0.9 } else { 0.0 }
        })
        .collect();
    let right: Vec<f32> = left.iter().map(|s| s * 0.5).collect();
    write_wav(
        &folder.join("click.wav"),
        RATE_HZ,
        &[&left, &right],
        WavFormat::Float32,
    )
    .unwrap();
}

fn loudest(samples: &[f32]) -> i64 {
    let at = |best: (usize, f32), (n, s): (usize, &f32)| {
        if s.abs() > best.1 { (n, s.abs()) } else { best }
    };
    samples.iter().enumerate().fold((0, 0.0), at).0 as i64
}

/// Makes many files by one run of ffmpeg, or one by one where an encoder is missing; gives those made.
fn make_all<'a, T: Copy>(
    folder: &Path,
    inputs: &str,
    files: &[(&'a str, &'a str, T)],
    options: &dyn Fn(&str, &str) -> String,
) -> Vec<(&'a str, &'a str, T)> {
    let all: Vec<String> = files
        .iter()
        .map(|(f, codec, _)| options(f, codec))
        .collect();
    if ffmpeg_tries(folder, &format!("{inputs} {}", all.join(" "))) {
        return files.to_vec();
    }
    let made = files.iter().filter(|(file, codec, _)| {
        let made = ffmpeg_tries(folder, &format!("{inputs} {}", options(file, codec)));
        if !made {
            eprintln!("skipped: this ffmpeg cannot write {file} ({codec})");
        }
        made
    });
    made.copied().collect()
}

/// Where ffmpeg, asked plainly, has the click in each of the files: in samples after its first
/// decoded sample.
fn plain(folder: &Path, files: &[&str]) -> Vec<i64> {
    let inputs: Vec<String> = files.iter().map(|file| format!("-i {file}")).collect();
    let outputs = |(n, file): (usize, &&str)| format!("-map {n}:a:0 -f f32le {file}.raw");
    let outputs: Vec<String> = files.iter().enumerate().map(outputs).collect();
    ffmpeg(
        folder,
        &format!("{} {}", inputs.join(" "), outputs.join(" ")),
    );
    let place = |file: &&str| {
        let bytes = std::fs::read(folder.join(format!("{file}.raw"))).unwrap();
        let left = bytes.as_chunks::<4>().0.iter().step_by(2);
        loudest(&left.map(|b| f32::from_le_bytes(*b)).collect::<Vec<f32>>())
    };
    files.iter().map(place).collect()
}

/// The times of the first decoded frames of sound and of picture, by ffprobe.
fn first_frames_s(file: &Path) -> [f64; 2] {
    let arguments = [
        "-show_entries",
        "frame=media_type,best_effort_timestamp_time",
        "-of",
        "csv=p=0",
        "-read_intervals",
        "%+#80",
    ];
    let text = output_of("ffprobe", &arguments, file);
    let text = String::from_utf8_lossy(&text);
    ["audio", "video"].map(|kind| {
        text.lines()
            .filter_map(|line| line.strip_prefix(kind)?.split(',').nth(1)?.parse().ok())
            .fold(f64::INFINITY, f64::min)
    })
}

struct Row {
    name: String,
    here: i64,
    ffmpeg: i64,
    truth: Option<i64>,
    /// How far from ffmpeg's own account it may lie, in samples.
    within: i64,
}

fn check(rows: &[Row]) {
    eprintln!(
        "{:<34} {:>8} {:>8} {:>8}",
        "file", "here", "ffmpeg", "truth"
    );
    for row in rows {
        let truth = row.truth.map_or("lossy".to_owned(), |t| t.to_string());
        eprintln!(
            "{:<34} {:>8} {:>8} {:>8}",
            row.name, row.here, row.ffmpeg, truth
        );
    }
    for row in rows {
        assert!(
            (row.here - row.ffmpeg).abs() <= row.within,
            "{}: {} against ffmpeg's {}",
            row.name,
            row.here,
            row.ffmpeg
        );
        if let Some(truth) = row.truth {
            assert!(
                (row.here - truth).abs() <= 1,
                "{}: {} against the truth {truth}",
                row.name,
                row.here
            );
        }
    }
}

/// Songs: with ffmpeg at hand, and, where they can be read without, without.
#[test]
fn songs() {
    let Some(tools) = tools("impulse::songs") else {
        return;
    };
    let folder = tempfile::tempdir().unwrap();
    write_click(folder.path());
    let mut rows = Vec::new();
    let files = [
        ("s16.wav", "pcm_s16le", (true, true)),
        ("s24.wav", "pcm_s24le", (true, true)),
        ("f32.wav", "pcm_f32le", (true, true)),
        ("f64.wav", "pcm_f64le", (true, true)),
        ("u8.wav", "pcm_u8", (true, true)),
        ("s16.aiff", "pcm_s16be", (true, true)),
        ("s24.aiff", "pcm_s24be", (true, true)),
        ("a.flac", "flac", (true, true)),
        ("a.mp3", "libmp3lame", (true, false)),
        ("a.ogg", "libvorbis", (true, false)),
        ("opus.ogg", "libopus", (false, false)),
        ("flac.ogg", "flac", (true, true)),
        ("aac.m4a", "aac", (false, false)),
        ("alac.m4a", "alac", (false, true)),
        ("a.caf", "pcm_s16be", (false, true)),
        ("a.w64", "pcm_s16le", (false, true)),
        ("rf64.wav", "pcm_s16le -rf64 always", (false, true)),
        ("opus.mka", "libopus", (false, false)),
        ("flac.mka", "flac", (false, true)),
        ("aac.mka", "aac", (false, false)),
        ("a.wma", "wmav2", (false, false)),
        ("adts.aac", "aac", (false, false)),
    ];
    let made = make_all(folder.path(), "-i click.wav", &files, &|file, codec| {
        format!("-c:a {codec} {file}")
    });
    let names: Vec<&str> = made.iter().map(|(file, ..)| *file).collect();
    let references = plain(folder.path(), &names);
    for ((file, codec, (alone, lossless)), reference) in made.into_iter().zip(references) {
        let path = folder.path().join(file);
        let mut ways = vec![Some(&tools)];
        if alone {
            ways.push(None);
        }
        for way in ways {
            let song =
                decode_song(&path, way, &keep_going).unwrap_or_else(|e| panic!("{file}: {e}"));
            assert_eq!((song.rate_hz, song.channels.len()), (RATE_HZ, 2), "{file}");
            if lossless {
                assert_eq!(song.channels[0].len(), LENGTH, "{file}");
            }
            assert!(song.notes.is_empty(), "{file}: {:?}", song.notes);
            rows.push(Row {
                name: format!(
                    "{file} {codec}{}",
                    if way.is_none() { " (alone)" } else { "" }
                ),
                here: loudest(&song.channels[0]),
                ffmpeg: reference,
                truth: lossless.then_some(CLICK_AT as i64),
                within: 1,
            });
        }
    }
    check(&rows);
}

fn take_row(
    file: &Path,
    tools: &Tools,
    probed: &Probe,
    reference: i64,
    truth: Option<i64>,
    also_at_half: bool,
) -> Row {
    let name = file.file_name().unwrap().to_string_lossy().into_owned();
    let take = decode_take_at(file, probed, Some(tools), RATE_HZ, &keep_going)
        .unwrap_or_else(|e| panic!("{name}: {e}"));
    assert_eq!(take.rate_hz, RATE_HZ, "{name}");
    let [sound_s, picture_s] = first_frames_s(file);
    let from_picture_s = sound_s + reference as f64 / f64::from(RATE_HZ) - picture_s;
    // The quieter second channel has the same moment.
    let here = loudest(&take.channels[0].samples);
    assert!(
        (here - loudest(&take.channels[1].samples)).abs() <= 1,
        "{name}"
    );
    if also_at_half {
        // Half the rate, as takes are decoded by default: half the position.
        let half = decode_take_at(file, probed, Some(tools), RATE_HZ / 2, &keep_going).unwrap();
        assert_eq!(half.rate_hz, RATE_HZ / 2);
        let at_half = loudest(&half.channels[0].samples);
        assert!(
            (2 * at_half - here).abs() <= 2,
            "{name}: {at_half} at half the rate of {here}"
        );
    }
    Row {
        name,
        here,
        ffmpeg: (from_picture_s * f64::from(RATE_HZ)).round() as i64,
        truth,
        // Matroska counts milliseconds, and ffprobe writes times so rounded: half of one is 24 samples.
        within: if file.extension().is_some_and(|e| e == "mkv") {
            25
        } else {
            1
        },
    }
}

/// Camera files, picture and sound beginning together or either one later.
#[test]
fn takes() {
    let Some(tools) = tools("impulse::takes") else {
        return;
    };
    let folder = tempfile::tempdir().unwrap();
    write_click(folder.path());
    let mut rows = Vec::new();
    // Encoded once, so that each case below only copies it.
    ffmpeg(
        folder.path(),
        "-f lavfi -i testsrc=s=64x64:r=25:d=2 -c:v mpeg4 -bf 2 picture.mp4",
    );
    let files = [
        ("aac.mp4", "aac", false),
        ("aac.mov", "aac", false),
        ("alac.mp4", "alac", true),
        ("s16le.mov", "pcm_s16le", true),
        ("s16be.mov", "pcm_s16be", true),
        ("s24le.mov", "pcm_s24le", true),
        ("s24be.mov", "pcm_s24be", true),
        ("f32le.mov", "pcm_f32le", true),
        ("mp3.mp4", "libmp3lame", false),
        ("ac3.mp4", "ac3", false),
        ("opus.mkv", "libopus", false),
        ("flac.mkv", "flac", true),
        ("aac.mkv", "aac", false),
        ("s16.mkv", "pcm_s16le", true),
        ("aac.ts", "aac", false),
        ("ac3.ts", "ac3", false),
        ("s16.avi", "pcm_s16le", true),
        ("aac.3gp", "aac", false),
    ];
    let inputs = "-i picture.mp4 -i click.wav";
    let made = make_all(folder.path(), inputs, &files, &|file, codec| {
        // AVI has no time stamps for frames shown out of order; cameras write Motion JPEG in it. A
        // transport stream needs the codec's own head in the stream.
        let video = match &file[file.len() - 3..] {
            "avi" => "mjpeg",
            ".ts" => "mpeg2video",
            _ => "copy",
        };
        format!("-map 0:v -map 1:a -c:v {video} -c:a {codec} -strict -2 {file}")
    });
    let names: Vec<&str> = made.iter().map(|(file, ..)| *file).collect();
    let references = plain(folder.path(), &names);
    for ((file, _, lossless), reference) in made.into_iter().zip(references) {
        let path = folder.path().join(file);
        let probed = probe(&path, Some(&tools)).unwrap_or_else(|e| panic!("{file}: {e}"));
        let truth = lossless.then_some(CLICK_AT as i64);
        let at_half = matches!(file, "aac.mp4" | "s24le.mov" | "opus.mkv" | "ac3.ts");
        rows.push(take_row(&path, &tools, &probed, reference, truth, at_half));
    }
    check(&rows);
}

/// Sound that starts after the picture, and picture that starts after the sound.
#[test]
fn late_starts() {
    let Some(tools) = tools("impulse::late_starts") else {
        return;
    };
    let folder = tempfile::tempdir().unwrap();
    write_click(folder.path());
    let mut rows = Vec::new();
    ffmpeg(
        folder.path(),
        "-f lavfi -i testsrc=s=64x64:r=25:d=2 -c:v mpeg4 -bf 2 picture.mp4",
    );
    // 0.3 s of 48 kHz are 14 400 samples, not a whole number of AAC frames.
    for (file, codec, which, shift) in [
        ("sound_late.mp4", "aac", "1", 14_400),
        ("sound_late.mov", "pcm_s24le", "1", 14_400),
        ("sound_late.mkv", "flac", "1", 14_400),
        ("picture_late.mp4", "aac", "0", -14_400),
        ("picture_late.mov", "pcm_s16le", "0", -14_400),
        ("picture_late.mkv", "libopus", "0", -14_400),
    ] {
        let (first, second) = if which == "0" {
            ("-itsoffset 0.3", "")
        } else {
            ("", "-itsoffset 0.3")
        };
        ffmpeg(
            folder.path(),
            &format!(
                "{first} -i picture.mp4 {second} -i click.wav -map 0:v -map 1:a -c:v copy -c:a {codec} {file}"
            ),
        );
        let path = folder.path().join(file);
        let probed = probe(&path, Some(&tools)).unwrap();
        let lossless = codec != "aac" && codec != "libopus";
        // Matroska counts milliseconds: the truth is known to one of them only, 48 samples.
        let exact = lossless && !file.ends_with("mkv");
        let reference = plain(folder.path(), &[file])[0];
        let truth = exact.then_some(CLICK_AT as i64 + shift);
        rows.push(take_row(&path, &tools, &probed, reference, truth, true));
    }
    check(&rows);
}

/// Two sound tracks of different rates in one file: both come, at the lower rate.
#[test]
fn several_tracks() {
    let Some(tools) = tools("impulse::several_tracks") else {
        return;
    };
    let folder = tempfile::tempdir().unwrap();
    write_click(folder.path());
    ffmpeg(
        folder.path(),
        "-f lavfi -i testsrc=s=64x64:r=25:d=2 -i click.wav -f lavfi -i sine=r=44100:d=2 \
         -map 0:v -map 2:a -map 1:a -c:v mpeg4 -c:a:0 pcm_s16le -c:a:1 pcm_s24le two.mov",
    );
    let path = folder.path().join("two.mov");
    let probed = probe(&path, Some(&tools)).unwrap();
    assert_eq!(probed.sound.len(), 2);
    let take = decode_take_at(&path, &probed, Some(&tools), RATE_HZ, &keep_going).unwrap();
    assert_eq!(take.rate_hz, 44_100);
    let places: Vec<_> = take.channels.iter().map(|c| (c.track, c.channel)).collect();
    assert_eq!(places, [(0, 0), (1, 0), (1, 1)]);
    let expected = CLICK_AT as f64 * 44_100.0 / 48_000.0;
    assert!((loudest(&take.channels[1].samples) as f64 - expected).abs() <= 1.0);
}

/// A plain WAV as a take, with no ffmpeg anywhere.
#[test]
fn a_wav_take_without_ffmpeg() {
    let folder = tempfile::tempdir().unwrap();
    write_click(folder.path());
    let path = folder.path().join("click.wav");
    let probed = probe(&path, None).unwrap();
    assert_eq!(
        (probed.sound[0].rate_hz, probed.sound[0].channels),
        (RATE_HZ, 2)
    );
    assert_eq!(probed.length.seconds(), 2.0);
    let take = decode_take_at(&path, &probed, None, RATE_HZ, &keep_going).unwrap();
    assert_eq!(loudest(&take.channels[0].samples), CLICK_AT as i64);
    assert_eq!(take.channels.len(), 2);
}
