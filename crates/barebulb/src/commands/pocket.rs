//! `barebulb pocket`: the page for the phone, and its log.

use crate::arguments::Pocket;
use crate::screen::Screen;
use crate::{End, commands};
use model::{Project, Rating, SetupShot};
use std::fmt::Write as _;
use steps::{Job, LogTaken, PocketOptions, PocketReport, pocket_file, write_text};

pub fn run(args: &Pocket, screen: &Screen) -> anyhow::Result<End> {
    let mut job = Job::open(&args.dir)?;
    if args.log.is_empty() && !args.to_takes {
        return write(&mut job, args, screen);
    }
    let (mut taken, trouble) = job.take_log(&args.log, screen)?;
    if args.to_takes {
        taken.takes = job.log_to_takes()?;
    }
    taken.notes.iter().for_each(|note| screen.finding(note));
    screen.result(&taken, || taken_text(&taken, job.project()));
    Ok(commands::tell(&trouble, screen))
}

fn write(job: &mut Job, args: &Pocket, screen: &Screen) -> anyhow::Result<End> {
    let options = PocketOptions {
        day: args.day.clone(),
        without_sound: args.without_sound,
        link: None,
    };
    let made = job.pocket(&options, screen)?;
    let beside = || job.folder().papers().join(pocket_file(&made.report));
    let path = args.out.clone().unwrap_or_else(beside);
    write_text(&path, &made.page.html)?;
    made.report
        .notes
        .iter()
        .for_each(|note| screen.finding(note));
    let file = path.display().to_string();
    screen.result(
        &serde_json::json!({ "file": file, "report": made.report }),
        || text(&file, &made.report),
    );
    Ok(End::Done)
}

fn text(file: &str, report: &PocketReport) -> String {
    let megabytes = |bytes: usize| bytes as f64 / 1e6;
    let counted = |count: usize, one: &str, many: &str| match count {
        1 => format!("1 {one}"),
        count => format!("{count} {many}"),
    };
    let sound = match report.sounds {
        0 => "no sound".to_owned(),
        count => format!(
            "{} ({:.1} MB)",
            counted(count, "sound", "sounds"),
            megabytes(report.sound_bytes)
        ),
    };
    format!(
        "{file}\n{:.1} MB: {}, {}, {sound}\nPut it on the phone and open it there; it needs no network. Its log comes back with `barebulb pocket DIR --log FILE`.\n",
        megabytes(report.bytes),
        counted(report.setups.len(), "setup", "setups"),
        counted(report.pictures, "photograph", "photographs"),
    )
}

fn taken_text(taken: &LogTaken, project: &Project) -> String {
    let mut out = String::new();
    let _ = match (taken.new, taken.known) {
        (0, 0) => Ok(()),
        (0, known) => writeln!(out, "nothing new: all {known} entries were there already"),
        (new, 0) => writeln!(out, "{new} new entries of the log"),
        (new, known) => writeln!(
            out,
            "{new} new entries of the log; {known} were there already"
        ),
    };
    for shot in &taken.so_far.setups {
        let _ = writeln!(out, "  {}", setup_text(shot, project));
    }
    if !taken.so_far.swaps.is_empty() {
        let _ = writeln!(out, "  batteries changed: {}", taken.so_far.swaps.len());
    }
    for note in &taken.so_far.notes {
        let _ = writeln!(out, "  note: {note}");
    }
    if !taken.takes.is_empty() {
        let _ = writeln!(out, "given to takes: {}", taken.takes.join(", "));
    }
    out
}

fn setup_text(shot: &SetupShot, project: &Project) -> String {
    let name = project.setup_name(&shot.setup);
    let passes = shot.passes.iter().filter(|pass| pass.done_ms.is_some());
    let circled: Vec<String> = shot
        .passes
        .iter()
        .filter(|pass| pass.rating == Rating::Circled)
        .map(|pass| pass.pass.to_string())
        .collect();
    let mut out = format!("{name}: {} passes", passes.count());
    if !circled.is_empty() {
        out.push_str(&format!(", circled {}", circled.join(", ")));
    }
    let state = match (shot.done_ms, shot.dropped_ms) {
        (Some(_), _) => ", done",
        (None, Some(_)) => ", dropped",
        (None, None) => "",
    };
    out.push_str(state);
    out
}
