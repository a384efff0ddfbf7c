//! `barebulb playback`: sound files for the loudspeaker.

use crate::arguments::Playback;
use crate::screen::Screen;
use crate::{End, commands};
use std::fmt::Write as _;
use steps::{Job, PlaybackFile, PlaybackOptions};

pub fn run(args: &Playback, screen: &Screen) -> anyhow::Result<End> {
    let mut job = Job::open(&args.dir)?;
    let options = PlaybackOptions {
        setups: args.setup.clone(),
        lufs: args.loudness,
        as_mastered: args.as_mastered,
    };
    let (files, trouble) = job.playback(&options, screen)?;
    screen.result(&serde_json::json!({ "files": files }), || text(&files));
    let end = commands::tell(&trouble, screen);
    if files.is_empty() && trouble.is_empty() {
        screen.note("no setup of this project is performed to playback; name one with --setup");
    }
    if files.is_empty() && !trouble.is_empty() {
        anyhow::bail!("no playback could be made");
    }
    Ok(end)
}

fn text(files: &[PlaybackFile]) -> String {
    let mut out = String::new();
    for PlaybackFile {
        file: name,
        report: file,
        notes,
        ..
    } in files
    {
        let (speed, kept) = (file.speed, file.pitch_kept);
        let pitch = if speed.is_one() {
            "as it is".to_owned()
        } else {
            let pitch = if kept { "kept" } else { "following" };
            format!("at {speed} times its speed, pitch {pitch}")
        };
        let _ = writeln!(out, "{name}  {pitch}");
        let _ = writeln!(
            out,
            "  beep {}   count-in {}   song from {}   stretch {}–{} (song {})   beep {}   ends {}",
            clock(file.head_beep_s),
            file.clicks_s.first().map_or("none".into(), |at| format!(
                "{} ({} clicks)",
                clock(*at),
                file.clicks_s.len()
            )),
            clock(file.music_start_s),
            clock(file.stretch_start_s),
            clock(file.stretch_end_s),
            clock(file.song_at_stretch_s),
            clock(file.tail_beep_s),
            clock(file.length_s),
        );
        let loudness = file
            .loudness_lufs
            .map_or("silent".to_owned(), |lufs| format!("{lufs:.1} LUFS"));
        let _ = write!(out, "  {loudness}, peak {:.1} dBTP", file.true_peak_dbtp);
        if let Some(timecode) = &file.timecode {
            let _ = write!(
                out,
                "; timecode on the right, song 0:00 at {}",
                timecode.song_zero
            );
        }
        out.push('\n');
        for note in notes {
            let _ = writeln!(out, "  {note}");
        }
    }
    out
}

/// Minutes and seconds, to the hundredth.
fn clock(seconds: f64) -> String {
    let sign = if seconds < -0.005 { "-" } else { "" };
    let hundredths = (seconds.abs() * 100.0).round() as u64;
    format!(
        "{sign}{}:{:02}.{:02}",
        hundredths / 6000,
        hundredths / 100 % 60,
        hundredths % 100
    )
}
