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
use std::path::Path;
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
            "the pictures of the takes and the preview ({error})"
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
    let scouted = scout(&walk, &mut job, &args.dir, screen)?;
    clock.lap("walk scouted");
    let song_path = job.folder().song().join("paper-weather.wav");
    let side = |nth: usize| -> Vec<f32> {
        let samples = composed.sound.iter().skip(nth);
        samples.step_by(2).copied().collect()
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
    screen.text(|| {
        let mut out = crate::text::Lines::new(crate::text::width());
        commands::coverage::text::table(&mut out, &covered.coverage);
        out.text
    });
    let made = job.assemble(screen)?;
    clock.lap("cut made");
    let (played, trouble) = job.playback(&steps::PlaybackOptions::default(), screen)?;
    commands::tell(&trouble, screen);
    clock.lap("playback made");
    let preview = preview(args, &mut job, tools.is_ok(), &mut left_out, screen)?;
    clock.lap("preview rendered");
    let gathered = job.gather(false, screen)?;
    let night = night::Night::of(&mut job, &scouted, &played, screen)?;

    let report = Report {
        seed: args.seed,
        ffmpeg: tools.as_ref().ok().map(|tools| tools.version().to_owned()),
        left_out,
        seconds_in_all: clock.begun.elapsed().as_secs_f64(),
        seconds: clock.stages,
        measured: measure::measure(&truth, &heard.map, &gathered, &made, job.project()),
        night,
        files: files(&args.dir, &song_path, &made, preview.as_ref()),
    };
    steps::write_text(
        &args.dir.join("demo-report.json"),
        &(serde_json::to_string_pretty(&report)? + "\n"),
    )?;
    screen.result(&report, || {
        let night = report.night.rows(&args.dir.display().to_string());
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
    let mut entries = match std::fs::read_dir(dir) {
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => return Ok(()),
        found => found.with_context(|| format!("`{}` can't be read", dir.display()))?,
    };
    if entries.next().is_none() {
        return Ok(());
    }
    if !dir.join(MARK).is_file() {
        bail!(
            "`{}` is not empty and was not made by the demo; name another folder",
            dir.display()
        );
    }
    let folders = "walk song takes assembly playback cache references papers handover";
    let files = "project.sqlite project.sqlite-wal project.sqlite-shm demo-report.json";
    for path in format!("{folders} {files}")
        .split(' ')
        .map(|name| dir.join(name))
    {
        let removed = match path.symlink_metadata() {
            Ok(about) if about.is_dir() => std::fs::remove_dir_all(&path),
            Ok(_) => std::fs::remove_file(&path),
            Err(_) => continue,
        };
        removed.with_context(|| format!("`{}` can't be made anew", path.display()))?;
    }
    Ok(())
}

/// Draws the photographs of the scouting walk and brings them in, as `barebulb scout` would.
fn scout(
    walk: &[PhotoPlan],
    job: &mut Job,
    dir: &Path,
    screen: &Screen,
) -> anyhow::Result<Scouted> {
    screen.stage("drawing the scouting walk", walk.len());
    let folder = dir.join("walk");
    walk.par_iter()
        .with_max_len(1)
        .try_for_each(|photo| -> anyhow::Result<()> {
            demo::draw_photo(photo, &folder, &|| screen.keep_going())?;
            screen.part(&photo.truth.file);
            Ok(())
        })?;
    let scouted = job.scout(&[folder], &ScoutOptions::default(), screen)?;
    scouted.notes.iter().for_each(|note| screen.finding(note));
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
    let mark = |section: &demo::SectionTruth| {
        Some(MarkedSection {
            extra: Default::default(),
            label: section.label.clone(),
            name: Some(section.name.clone()),
            at: Stretch::between_seconds(section.start_s, section.end_s)?,
        })
    };
    truth.song.sections.iter().filter_map(mark).collect()
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
    made.notes.iter().for_each(|note| screen.finding(note));
    Ok(Some(made))
}

fn files(dir: &Path, song: &Path, made: &Made, preview: Option<&PreviewMade>) -> Vec<String> {
    let made = &made.files;
    let mut paths = vec![song.to_path_buf()];
    paths.extend(["takes", "project.sqlite"].map(|name| dir.join(name)));
    paths.extend([&made.otio, &made.edl, &made.listing, &made.strip].map(Clone::clone));
    paths.extend(made.captions.clone());
    paths.extend(preview.map(|preview| preview.path.clone()));
    paths.extend(["playback", "walk", MARK, "demo-report.json"].map(|name| dir.join(name)));
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
    let map = &heard.map;
    let (bpm, beats) = (map.tempo_bpm, map.beats_per_bar);
    row(
        "song",
        format!("{}, {bpm:.1} beats a minute, {beats} in a bar", map.length),
    );
    let f = &m.listening;
    row(
        "beats, downbeats",
        format!("F {:.2} within 70 ms, F {:.2}", f.beat_f, f.downbeat_f),
    );
    row("sections", format!("F {:.2} within 3 s", f.boundary_f));
    let sync = &m.sync;
    row(
        "takes placed",
        format!(
            "{} of {} that hold the song; {} of {} without it left alone",
            sync.right, sync.with_song, sync.left_alone, sync.without_song
        ),
    );
    row("worst placement", format!("{:.1} ms", sync.worst_ms));
    let cut = &m.cut;
    row(
        "cut",
        format!(
            "{} shots, {} frames, song {} frames",
            cut.shots, cut.frames, cut.song_frames
        ),
    );
    row(
        "worst shot against the song",
        format!(
            "{:.1} ms, {:.2} of half a frame ({} shots in sync)",
            cut.worst_shot_ms, cut.worst_shot_of_half_frame, cut.in_sync_shots
        ),
    );
    for (what, found) in night {
        row(what, found);
    }
    let stages = report.seconds.iter();
    let stages: Vec<String> = stages.map(|(stage, s)| format!("{stage} {s:.0}")).collect();
    let in_all = report.seconds_in_all;
    row("time", format!("{in_all:.0} s: {}", stages.join(", ")));
    for what in &report.left_out {
        row("left out", what.clone());
    }
    text.push('\n');
    for file in &report.files {
        let _ = writeln!(text, "  {file}");
    }
    text
}
