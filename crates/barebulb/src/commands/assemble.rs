//! `barebulb assemble`: the first assembly, its timelines and a preview; or why a bar shows what it shows.

use crate::arguments::Assemble;
use crate::screen::Screen;
use crate::{End, commands};
use anyhow::Context as _;
use model::{Edit, Length, Lock, Project, SongMap, SongTime};
use serde::Serialize;
use std::fmt::Write as _;
use steps::{Job, Made, MadeFiles, PreviewMade, ShotAt, known};

#[derive(Serialize)]
struct Printed<'a> {
    #[serde(flatten)]
    listing: &'a timeline::Listing,
    score: f64,
    bound: f64,
    proven: bool,
    new_version: bool,
    terms: &'a [assemble::Terms],
    files: &'a MadeFiles,
    preview: Option<String>,
    more_notes: Vec<model::Finding>,
}

pub fn run(args: &Assemble, screen: &Screen) -> anyhow::Result<End> {
    let mut job = begin(args, screen)?;
    if let Some(bar) = args.why {
        let why = job.why(bar, screen)?;
        screen.result(&why, || why.to_text());
        return Ok(End::Done);
    }
    let mut end = End::Done;
    if !args.takes.is_empty() {
        let brought = job.bring_in(&args.takes, screen)?;
        end = commands::tell(&brought.trouble, screen);
        screen.line(&format!(
            "{} takes brought in, {} already there",
            brought.added.len(),
            brought.known
        ));
    }
    change(args, &mut job, screen)?;
    let made = job.assemble(screen)?;
    if commands::tell(&made.trouble, screen) == End::Partly {
        end = End::Partly;
    }
    made.notes.iter().for_each(|note| screen.finding(note));
    // The timelines stand whether or not a preview can be made.
    let mut preview = None;
    if args.preview {
        match job.preview(args.labels, screen) {
            Ok(made) => {
                made.notes.iter().for_each(|note| screen.finding(note));
                preview = Some(made);
            }
            Err(error) => {
                screen.error(&format!("no preview: {error}"));
                end = End::Partly;
            }
        }
    }
    print(&made, preview.as_ref(), screen);
    Ok(end)
}

/// Opens the project, or begins one when a song is given.
fn begin(args: &Assemble, screen: &Screen) -> anyhow::Result<Job> {
    let missing = !args.dir.join("project.sqlite").exists();
    let mut job = match (&args.song, missing) {
        (Some(_), true) => Job::create(&args.dir, &Project::default())?,
        _ => Job::open(&args.dir)?,
    };
    if let Some(song) = &args.song {
        let heard = match job.set_song(song, screen) {
            Ok(heard) => heard,
            Err(error) => {
                if missing {
                    drop(job);
                    commands::plan::withdraw(&args.dir, args.dir.join("song").exists());
                }
                return Err(error.into());
            }
        };
        heard.notes.iter().for_each(|note| screen.finding(note));
    }
    Ok(job)
}

/// The edits typed: locks, shots by hand, weights.
fn change(args: &Assemble, job: &mut Job, screen: &Screen) -> anyhow::Result<()> {
    type Change = fn(ShotAt) -> Result<Edit, steps::Error>;
    let by_hand: [(&[usize], Change); 3] = [
        (&args.free_shot, |shot| shot.free()),
        (&args.not_here, |shot| shot.not_here()),
        (&args.lock_shot, |shot| shot.lock()),
    ];
    // All of them are there, or nothing is done.
    let shown = args.show.iter().map(|(shot, _)| shot);
    for shot in by_hand.iter().flat_map(|(shots, _)| *shots).chain(shown) {
        job.shot(*shot)?;
    }
    for (shots, change) in by_hand {
        for shot in shots {
            let edit = change(job.shot(*shot)?)?;
            job.edit(&edit)?;
        }
    }
    for (shot, take) in &args.show {
        let map = job.heard(screen)?.map;
        let takes = job.gather(false, screen)?.placed();
        let take = &known::take(job.project(), take)?.id;
        let edit = job.shot(*shot)?.show(take, &map, &takes)?;
        job.edit(&edit)?;
    }
    for at in &args.free {
        job.edit(&Edit::RemoveLock { at: *at })?;
    }
    if !args.lock.is_empty() {
        let map = job.heard(screen)?.map;
        for (bars, take) in &args.lock {
            let lock = lock(job.project(), &map, *bars, take)?;
            job.edit(&Edit::PutLock { lock })?;
        }
    }
    if !args.weight.is_empty() {
        let sets: Vec<(String, String)> = args
            .weight
            .iter()
            .map(|(name, number)| (format!("weights.{name}"), number.clone()))
            .collect();
        job.edit(&model::path::set(job.project(), &sets)?)?;
    }
    Ok(())
}

fn lock(
    project: &Project,
    map: &SongMap,
    [first, last]: [u32; 2],
    take: &str,
) -> anyhow::Result<Lock> {
    let (take, take_start) = match take.split_once('@') {
        Some((take, at)) => {
            let at: SongTime = at.parse().map_err(anyhow::Error::msg)?;
            (take, Some(Length::from_ticks(at.ticks())))
        }
        None => (take, None),
    };
    let take = known::take(project, take)?.id.clone();
    let at = map.bars_stretch(first, last).with_context(|| {
        format!(
            "bars {first} to {last} are not in the song; it has bars {} to {}",
            map.bars.first().map_or(0, |bar| bar.number),
            map.bars.last().map_or(0, |bar| bar.number)
        )
    })?;
    Ok(Lock {
        extra: Default::default(),
        at,
        take,
        take_start,
    })
}

fn print(made: &Made, preview: Option<&PreviewMade>, screen: &Screen) {
    let result = Printed {
        listing: &made.listing,
        score: made.answer.score,
        bound: made.answer.bound,
        proven: made.answer.proven,
        new_version: made.fresh,
        terms: &made.answer.terms,
        files: &made.files,
        preview: preview.map(|preview| preview.path.display().to_string()),
        more_notes: made.notes.clone(),
    };
    screen.result(&result, || {
        let mut text = made.listing.to_text();
        text.push('\n');
        let proof = if made.answer.proven {
            "no better cut exists under these weights".to_owned()
        } else {
            format!("at most {:.2} could be reached", made.answer.bound)
        };
        let _ = writeln!(
            text,
            "v{:03}: {} shots, {} frames at {}, score {:.2} ({proof})",
            made.cut.version,
            made.cut.shots.len(),
            made.cut.frames(),
            made.cut.rate,
            made.answer.score
        );
        if !made.fresh {
            text.push_str("the cut is the same as before; no new version was made\n");
        }
        for path in [
            Some(&made.files.otio),
            Some(&made.files.edl),
            Some(&made.files.listing),
            Some(&made.files.strip),
            made.files.captions.as_ref(),
            preview.map(|preview| &preview.path),
        ]
        .into_iter()
        .flatten()
        {
            let _ = writeln!(text, "  {}", path.display());
        }
        text
    });
}
