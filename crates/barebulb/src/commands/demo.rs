//! `barebulb demo`: an invented video from nothing, made with the same steps as a real one, and
//! what it found measured against what was composed.

mod measure;
mod night;

use crate::arguments::Demo;
use crate::screen::Screen;
use crate::{End, commands};
use anyhow::{Context as _, bail};
use demo::{Composed, PhotoPlan, TakePlan, Truth};
use media::Tools;
use model::{Correction, Edit, LyricLine, MarkedSection, Project, SetupId, Stretch};
use rayon::prelude::*;
use serde::Serialize;
use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::time::Instant;
use steps::{Gathered, Heard, Job, Made, PreviewMade, Progress as _, ScoutOptions, Scouted};

/// What marks a folder as made by the demo, so that it may be made anew.
const MARK: &str = "demo-truth.json";

/// What the demo found, as written to `demo-report.json`.
#[derive(Serialize)]
struct Report {
    seed: u64,
    /// Version of ffmpeg; null when there is none.
    ffmpeg: Option<String>,
    /// Outputs that could not be made, with why.
    left_out: Vec<String>,
    /// Wall time of each stage, seconds.
    seconds: Vec<(String, f64)>,
    seconds_in_all: f64,
    #[serde(flatten)]
    measured: measure::Measured,
    /// What the plan says of the night.
    night: night::Night,
    files: Vec<String>,
}

/// Times the stages.
struct Clock {
    begun: Instant,
    last: Instant,
    stages: Vec<(String, f64)>,
}

impl Clock {
    fn lap(&mut self, stage: &str) {
        let now = Instant::now();
        self.stages
            .push((stage.to_owned(), (now - self.last).as_secs_f64()));
        self.last = now;
    }
}

pub fn run(args: &Demo, screen: &Screen) -> anyhow::Result<End> {
    let now = Instant::now();
    let mut clock = Clock {
        begun: now,
        last: now,
        stages: Vec::new(),
    };
    clear(&args.dir)?;
    let tools = Tools::find();
    let mut left_out = Vec::new();
    if let Err(error) = &tools {
        left_out.push(format!(
            "the photographs of the walk, the pictures of the takes and the preview ({error})"
        ));
        screen.note(&left_out[0]);
    }

    screen.stage("composing the song", 0);
    let composed = demo::compose(args.seed);
    let plan = demo::plan(&composed);
    let walk = demo::walk(args.seed, &plan);
    let takes = demo::takes(&composed, &plan);
    let truth = demo::truth(&composed, &walk, &takes);
    clock.lap("composed");

    let mut job = Job::create(&args.dir, &plan)?;
    steps::write_text(&args.dir.join(MARK), &serde_json::to_string(&truth)?)?;
    let scouted = match &tools {
        Ok(tools) => Some(scout(&walk, &mut job, &args.dir, tools, screen)?),
        Err(_) => None,
    };
    clock.lap("walk scouted");
    let song_path = job.folder().song().join("paper-weather.wav");
    let side = |nth: usize| -> Vec<f32> {
        composed
            .sound
            .iter()
            .skip(nth)
            .step_by(2)
            .copied()
            .collect()
    };
    media::write_wav(
        &song_path,
        demo::SONG_RATE_HZ,
        &[&side(0), &side(1)],
        media::WavFormat::Int16,
    )?;
    draw(&composed, &takes, &job, tools.as_ref().ok(), screen)?;
    clock.lap("takes drawn");

    let heard = job.set_song(&song_path, screen)?;
    job.edit(&Edit::SetLyrics {
        lyrics: lyrics(&truth),
        was: None,
    })?;
    job.edit(&Edit::Correct {
        correction: Correction::Sections {
            sections: Some(sections(&truth)),
            was: None,
        },
    })?;
    clock.lap("song heard");
    let takes_folder = job.folder().takes();
    let brought = job.bring_in(&[takes_folder], screen)?;
    commands::tell(&brought.trouble, screen);
    mark(&mut job, &takes)?;
    job.gather(false, screen)?;
    clock.lap("takes placed");

    let (covered, _) = job.coverage(None, screen)?;
    screen.text(|| covered.coverage.to_text(commands::coverage::width()));
    let made = job.assemble(screen)?;
    clock.lap("cut made");
    let (played, trouble) = job.playback(&steps::PlaybackOptions::default(), screen)?;
    commands::tell(&trouble, screen);
    clock.lap("playback made");
    let preview = preview(args, &mut job, tools.is_ok(), &mut left_out, screen)?;
    clock.lap("preview rendered");
    let gathered = job.gather(false, screen)?;
    let night = night::Night::of(&mut job, scouted.as_ref(), &played, screen)?;

    let report = Report {
        seed: args.seed,
        ffmpeg: tools.as_ref().ok().map(|tools| tools.version().to_owned()),
        left_out,
        seconds_in_all: clock.begun.elapsed().as_secs_f64(),
        seconds: clock.stages,
        measured: measure::measure(&truth, &heard.map, &gathered, &made, job.project()),
        night,
        files: files(
            &args.dir,
            &song_path,
            scouted.is_some(),
            &made,
            preview.as_ref(),
        ),
    };
    steps::write_text(
        &args.dir.join("demo-report.json"),
        &(serde_json::to_string_pretty(&report)? + "\n"),
    )?;
    screen.result(&report, || {
        let night = report
            .night
            .rows(job.project(), &args.dir.display().to_string());
        table(&report, night, &heard, &gathered, &made)
    });
    Ok(if report.measured.all_well() {
        End::Done
    } else {
        End::Partly
    })
}

/// Makes room for the demo: an absent or empty folder, or one the demo made before.
fn clear(dir: &Path) -> anyhow::Result<()> {
    if !dir.exists() {
        return Ok(());
    }
    let can_read = || format!("`{}` can't be read", dir.display());
    if std::fs::read_dir(dir)
        .with_context(can_read)?
        .next()
        .is_none()
    {
        return Ok(());
    }
    if !dir.join(MARK).is_file() {
        bail!(
            "`{}` is not empty and was not made by the demo; name another folder",
            dir.display()
        );
    }
    for name in [
        "walk",
        "song",
        "takes",
        "assembly",
        "playback",
        "cache",
        "references",
        "papers",
        "handover",
    ] {
        let path = dir.join(name);
        if path.is_dir() {
            std::fs::remove_dir_all(&path)
                .with_context(|| format!("`{}` can't be made anew", path.display()))?;
        }
    }
    for name in [
        "project.sqlite",
        "project.sqlite-wal",
        "project.sqlite-shm",
        "demo-report.json",
    ] {
        let path = dir.join(name);
        if path.exists() {
            std::fs::remove_file(&path)
                .with_context(|| format!("`{}` can't be made anew", path.display()))?;
        }
    }
    Ok(())
}

/// Draws the photographs of the scouting walk and brings them in, as `barebulb scout` would.
fn scout(
    walk: &[PhotoPlan],
    job: &mut Job,
    dir: &Path,
    tools: &Tools,
    screen: &Screen,
) -> anyhow::Result<Scouted> {
    screen.stage("drawing the scouting walk", walk.len());
    let folder = dir.join("walk");
    walk.par_iter()
        .with_max_len(1)
        .try_for_each(|photo| -> anyhow::Result<()> {
            demo::draw_photo(photo, &folder, tools, &|| screen.keep_going())?;
            screen.part(&photo.truth.file);
            Ok(())
        })?;
    let scouted = job.scout(&[folder], &ScoutOptions::default(), screen)?;
    scouted.notes.iter().for_each(|note| screen.note(note));
    Ok(scouted)
}

fn draw(
    composed: &Composed,
    takes: &[TakePlan],
    job: &Job,
    tools: Option<&Tools>,
    screen: &Screen,
) -> anyhow::Result<()> {
    screen.stage("drawing the takes", takes.len());
    let folder = job.folder().takes();
    // Longest first and one at a time, so that no processor idles at the end.
    let mut order: Vec<&TakePlan> = takes.iter().collect();
    order.sort_by(|a, b| b.truth.duration_s.total_cmp(&a.truth.duration_s));
    order
        .par_iter()
        .with_max_len(1)
        .try_for_each(|take| -> anyhow::Result<()> {
            demo::draw_take(composed, take, &folder, tools, &|| screen.keep_going())?;
            screen.part(&take.truth.file);
            Ok(())
        })
}

fn lyrics(truth: &Truth) -> Vec<LyricLine> {
    let line = |(start, end, text): &(f64, f64, String)| LyricLine {
        at: Stretch::between_seconds(*start, *end),
        text: text.clone(),
        extra: Default::default(),
    };
    truth.song.lyrics.iter().map(line).collect()
}

/// The sections as the maker marks them after listening: they know their song, and the plan calls
/// sections by these names. What was heard before is what gets measured.
fn sections(truth: &Truth) -> Vec<MarkedSection> {
    let end = |index: usize| {
        truth
            .song
            .sections
            .get(index + 1)
            .map_or(truth.song.duration_s, |next| next.start_s)
    };
    let mark = |(index, section): (usize, &demo::SectionTruth)| {
        let at = Stretch::between_seconds(section.start_s, end(index))?;
        Some(MarkedSection {
            extra: Default::default(),
            label: section.label.clone(),
            name: Some(section.name.clone()),
            at,
        })
    };
    truth
        .song
        .sections
        .iter()
        .enumerate()
        .filter_map(mark)
        .collect()
}

/// What the maker wrote on the slate and thought at the monitor: setup, pass, rating, state, remark.
fn mark(job: &mut Job, takes: &[TakePlan]) -> anyhow::Result<()> {
    let known: Project = job.project().clone();
    for take in takes {
        let stem = |name: &str| {
            name.rsplit_once('.')
                .map_or(name.to_owned(), |(stem, _)| stem.to_owned())
        };
        let Some(was) = known
            .takes
            .iter()
            .find(|known| known.id.as_str() == stem(&take.truth.file))
        else {
            continue;
        };
        let mut marked = was.clone();
        let setup = SetupId::new(take.truth.setup.clone()).map_err(anyhow::Error::msg)?;
        marked.setup = known.setup(&setup).map(|setup| setup.id.clone());
        marked.pass = Some(take.truth.pass);
        marked.rating = take.truth.rating;
        marked.state = Some(take.truth.state);
        marked.remark.clone_from(&take.truth.remark);
        job.edit(&Edit::change_of(was, &marked))?;
    }
    Ok(())
}

fn preview(
    args: &Demo,
    job: &mut Job,
    can: bool,
    left_out: &mut Vec<String>,
    screen: &Screen,
) -> anyhow::Result<Option<PreviewMade>> {
    if args.no_preview {
        left_out.push("the preview (asked for)".into());
        return Ok(None);
    }
    if !can {
        return Ok(None);
    }
    let made = job.preview(false, screen)?;
    made.notes.iter().for_each(|note| screen.note(note));
    Ok(Some(made))
}

fn files(
    dir: &Path,
    song: &Path,
    walked: bool,
    made: &Made,
    preview: Option<&PreviewMade>,
) -> Vec<String> {
    let mut paths: Vec<PathBuf> = vec![
        song.to_path_buf(),
        dir.join("takes"),
        dir.join("project.sqlite"),
    ];
    paths.extend([
        made.files.otio.clone(),
        made.files.edl.clone(),
        made.files.listing.clone(),
        made.files.strip.clone(),
    ]);
    paths.extend(made.files.captions.clone());
    paths.extend(preview.map(|preview| preview.path.clone()));
    paths.push(dir.join("playback"));
    paths.extend(walked.then(|| dir.join("walk")));
    paths.push(dir.join(MARK));
    paths.push(dir.join("demo-report.json"));
    paths
        .iter()
        .map(|path| path.display().to_string())
        .collect()
}

fn table(
    report: &Report,
    night: Vec<(&'static str, String)>,
    heard: &Heard,
    gathered: &Gathered,
    made: &Made,
) -> String {
    let mut text = commands::sync::table(gathered);
    text.push('\n');
    text.push_str(&made.listing.to_text());
    text.push('\n');
    let m = &report.measured;
    let mut row = |what: &str, found: String| {
        let _ = writeln!(text, "{what:<28} {found}");
    };
    row(
        "song",
        format!(
            "{}, {:.1} beats a minute, {} in a bar",
            heard.map.length, heard.map.tempo_bpm, heard.map.beats_per_bar
        ),
    );
    row(
        "beats, downbeats",
        format!(
            "F {:.2} within 70 ms, F {:.2}",
            m.listening.beat_f, m.listening.downbeat_f
        ),
    );
    row(
        "sections",
        format!("F {:.2} within 3 s", m.listening.boundary_f),
    );
    row(
        "takes placed",
        format!(
            "{} of {} that hold the song; {} of {} without it left alone",
            m.sync.right, m.sync.with_song, m.sync.left_alone, m.sync.without_song
        ),
    );
    row("worst placement", format!("{:.1} ms", m.sync.worst_ms));
    row(
        "cut",
        format!(
            "{} shots, {} frames, song {} frames",
            m.cut.shots, m.cut.frames, m.cut.song_frames
        ),
    );
    row(
        "worst shot against the song",
        format!(
            "{:.1} ms, {:.2} of half a frame ({} shots in sync)",
            m.cut.worst_shot_ms, m.cut.worst_shot_of_half_frame, m.cut.in_sync_shots
        ),
    );
    for (what, found) in night {
        row(what, found);
    }
    row(
        "time",
        format!(
            "{:.0} s: {}",
            report.seconds_in_all,
            report
                .seconds
                .iter()
                .map(|(stage, s)| format!("{stage} {s:.0}"))
                .collect::<Vec<_>>()
                .join(", ")
        ),
    );
    for what in &report.left_out {
        row("left out", what.clone());
    }
    text.push('\n');
    for file in &report.files {
        let _ = writeln!(text, "  {file}");
    }
    text
}
