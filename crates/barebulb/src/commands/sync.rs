//! `barebulb sync`: bring in takes and find where each lies on the song.

use crate::arguments::Sync;
use crate::screen::Screen;
use crate::{End, commands};
use anyhow::{Context as _, bail};
use model::{Edit, Finding, HandPlacement, SetupId, SongTime};
use serde::Serialize;
use std::fmt::Write as _;
use std::path::Path;
use steps::{BareTake, Gathered, Job, known};

#[derive(Serialize)]
struct Takes<T> {
    takes: Vec<T>,
}

/// One take of a project, as printed: what was heard, with what the document knows.
#[derive(Serialize)]
struct KnownTake {
    take: String,
    setup: Option<String>,
    pass: Option<u32>,
    rating: model::Rating,
    by_hand: bool,
    #[serde(flatten)]
    heard: Option<BareTake>,
}

pub fn run(args: &Sync, screen: &Screen) -> anyhow::Result<End> {
    match &args.song {
        Some(song) => bare(song, args, screen),
        None => project(args, screen),
    }
}

fn bare(song: &Path, args: &Sync, screen: &Screen) -> anyhow::Result<End> {
    let takes = steps::sync_files(song, &args.paths, screen)?;
    let failed = takes.iter().any(|take| take.error.is_some());
    for take in takes.iter().filter(|take| take.error.is_some()) {
        screen.trouble(&take.report.file, take.error.as_deref().unwrap_or_default());
    }
    let result = Takes { takes };
    screen.result(&result, || {
        let mut text = heading();
        result
            .takes
            .iter()
            .for_each(|take| line(&mut text, &take.report.file, "", &take.report, &take.notes));
        text
    });
    Ok(if failed { End::Partly } else { End::Done })
}

fn project(args: &Sync, screen: &Screen) -> anyhow::Result<End> {
    let (dir, paths) = args.paths.split_first().context("name a project folder")?;
    let mut job = Job::open(dir)?;
    let mut end = End::Done;
    if !paths.is_empty() {
        let brought = job.bring_in(paths, screen)?;
        end = commands::tell(&brought.trouble, screen);
        let known = if brought.known > 0 {
            format!(", {} already there", brought.known)
        } else {
            String::new()
        };
        screen.line(&format!("{} takes brought in{known}", brought.added.len()));
    }
    change(&mut job, args)?;
    let gathered = job.gather(false, screen)?;
    if commands::tell(&gathered.trouble(), screen) == End::Partly {
        end = End::Partly;
    }
    let result = Takes {
        takes: heard(&gathered),
    };
    screen.result(&result, || table(&gathered));
    Ok(end)
}

/// The edits typed: ratings, setups, placements by hand.
fn change(job: &mut Job, args: &Sync) -> anyhow::Result<()> {
    for (take, rating) in &args.rate {
        let id = known::take(job.project(), take)?.id.clone();
        job.edit(&Edit::RateTake {
            id,
            rating: *rating,
        })?;
    }
    for (take, setup) in &args.from {
        let project = job.project();
        let take = known::take(project, take)?;
        let (setup, pass) = setup
            .split_once(':')
            .map_or((setup.as_str(), None), |(setup, pass)| (setup, Some(pass)));
        let setup = &known::setup(project, setup)?.id;
        let edit = match pass {
            Some(text) => {
                let pass = text.parse().ok().filter(|pass: &u32| *pass > 0);
                Some(Edit::AssignTake {
                    id: take.id.clone(),
                    setup: Some(setup.clone()),
                    pass: Some(pass.with_context(|| format!("`{text}` is no pass; count from 1"))?),
                })
            }
            None => steps::assign(project, &[take], Some(setup)),
        };
        if let Some(edit) = edit {
            job.edit(&edit)?;
        }
    }
    for (take, at) in &args.at {
        let id = known::take(job.project(), take)?.id.clone();
        let (time, speed) = at.split_once('@').unwrap_or((at, "1"));
        let song_start: SongTime = time.parse().map_err(anyhow::Error::msg)?;
        let Ok(speed) = speed.parse::<f64>() else {
            bail!("`{speed}` is no speed; write 1, 2 or 2.5")
        };
        job.edit(&Edit::PlaceTake {
            id,
            by_hand: Some(HandPlacement {
                extra: Default::default(),
                song_start,
                speed,
            }),
        })?;
    }
    for take in &args.by_ear {
        let id = known::take(job.project(), take)?.id.clone();
        job.edit(&Edit::PlaceTake { id, by_hand: None })?;
    }
    Ok(())
}

fn heard(gathered: &Gathered) -> Vec<KnownTake> {
    gathered
        .takes
        .iter()
        .map(|state| KnownTake {
            take: state.take.id.to_string(),
            setup: state.take.setup.as_ref().map(ToString::to_string),
            pass: state.take.pass,
            rating: state.take.rating,
            by_hand: state.take.placed_by_hand.is_some(),
            heard: state.heard.clone().map(|report| BareTake {
                report,
                notes: state.notes.clone(),
                error: state.trouble.clone(),
            }),
        })
        .collect()
}

/// The takes as a table.
pub fn table(gathered: &Gathered) -> String {
    let mut text = heading();
    for state in &gathered.takes {
        let setup = state.take.setup.as_ref().map_or("", SetupId::as_str);
        match &state.heard {
            Some(report) => line(
                &mut text,
                state.take.id.as_str(),
                setup,
                report,
                &state.notes,
            ),
            None => {
                let _ = writeln!(
                    text,
                    "{:<26} {setup:<14} can't be used",
                    short(state.take.id.as_str())
                );
            }
        }
    }
    text
}

fn heading() -> String {
    format!(
        "{:<26} {:<14} {:>15}  {:>7}  {:>9}  {:>5}\n",
        "take", "setup", "song at start", "speed", "drift", "sure"
    )
}

fn line(text: &mut String, name: &str, setup: &str, report: &sync::Report, notes: &[Finding]) {
    let name = short(name);
    match (
        report.song_offset_s,
        report.speed,
        report.drift_ppm,
        report.confidence,
    ) {
        (Some(offset), Some(speed), Some(drift), Some(sure)) => {
            let at = SongTime::nearest_to_seconds(offset).to_string();
            // Nothing lost is no drift to the other side: −0 becomes 0.
            let drift = drift.round() + 0.0;
            let _ = writeln!(
                text,
                "{name:<26} {setup:<14} {at:>15}  {speed:>6.4}x  {drift:>+5.0} ppm  {:>4.0}%",
                sure * 100.0
            );
        }
        _ => {
            let _ = writeln!(text, "{name:<26} {setup:<14} {:>15}", "no song in it");
        }
    }
    if report.runs.len() > 1 {
        for run in &report.runs {
            let on_song = SongTime::nearest_to_seconds(run.song_start_s);
            let _ = writeln!(
                text,
                "{:<26}   playback from {:.1} s to {:.1} s of the take, song at {on_song}",
                "", run.take_start_s, run.take_end_s
            );
        }
    }
    for other in &report.alternatives {
        let at = SongTime::nearest_to_seconds(other.song_offset_s);
        let _ = writeln!(
            text,
            "{:<26}   also fits at {at} ({:.0}%); choose with --at",
            "",
            other.confidence * 100.0
        );
    }
    for note in notes {
        let _ = writeln!(text, "{:<26}   {note}", "");
    }
}

/// The end of a long name, which tells takes of one card apart.
fn short(name: &str) -> String {
    let count = name.chars().count();
    if count <= 26 {
        name.to_owned()
    } else {
        format!("…{}", name.chars().skip(count - 25).collect::<String>())
    }
}
