//! `barebulb day`: the best day, what to drop when it gets late, and the bare problem.

use crate::End;
use crate::arguments::Day;
use crate::screen::Screen;
use crate::text::{Lines, width};
use anyhow::Context as _;
use model::{Finding, PlaceId, SetupId};
use schedule::Now;
use std::path::Path;
use std::time::{Duration, Instant};
use steps::{DayOptions, DaysReport, Job, OneDay, Pin, Progress as _};

pub fn run(args: &Day, screen: &Screen) -> anyhow::Result<End> {
    match &args.instance {
        Some(file) => bare(file, args, screen),
        None => of_project(args, screen),
    }
}

fn of_project(args: &Day, screen: &Screen) -> anyhow::Result<End> {
    let Some(dir) = &args.dir else {
        anyhow::bail!("the day needs a project, or --instance with a file");
    };
    let mut job = Job::open(dir)?;
    let options = DayOptions {
        day: args.day.clone(),
        now: now(args)?,
        why: args.why.clone(),
        seconds: args.seconds,
    };
    let report = match args.pin.is_empty() && args.unpin.is_empty() {
        true => job.day(&options, screen)?,
        false => pin(args, &options, &mut job, screen)?,
    };
    report.notes.iter().for_each(|note| screen.finding(note));
    for one in &report.days {
        one.plan.notes.iter().for_each(|note| screen.finding(note));
    }
    if let Some(file) = &args.ics {
        steps::write_text(file, &job.calendar(&report, &job.project().title)?)?;
        screen.line(&format!("calendar written to `{}`", file.display()));
    }
    if args.keep {
        for one in report.days.iter().filter(|one| one.plan.is_found()) {
            job.keep_day(&one.plan)?;
        }
    }
    let width = width();
    screen.result(&report, || match &report.why {
        Some(why) => why.iter().map(|line| format!("{line}\n")).collect(),
        None => {
            let days: Vec<String> = report.days.iter().map(|one| text(one, width)).collect();
            days.join("\n")
        }
    });
    if !report.days.iter().all(|one| one.plan.is_found()) {
        return Ok(End::Partly);
    }
    Ok(End::Done)
}

/// Pins setups, or lets them go, and says what that does to the day.
fn pin(
    args: &Day,
    options: &DayOptions,
    job: &mut Job,
    screen: &Screen,
) -> anyhow::Result<DaysReport> {
    // A day that can't be planned may be so for a pin.
    let before = match job.day(options, screen) {
        Err(error) if error.is_stop() => return Err(error.into()),
        before => before.ok(),
    };
    let mut pins = args.pin.clone();
    pins.extend(args.unpin.iter().map(|setup| Pin {
        setup: setup.clone(),
        shoot: None,
        end: None,
    }));
    let day = job.pin(args.day.as_deref(), &pins, screen)?;
    let mut report = job.day(options, screen)?;
    let says = before.and_then(|before| report.pinned(&before, &day));
    report
        .notes
        .extend(says.map(|says| Finding::note("pinned", says)));
    Ok(report)
}

/// What was said of a day that has begun.
fn now(args: &Day) -> anyhow::Result<Option<Now>> {
    let Some(at) = args.now else {
        return Ok(None);
    };
    let done = args.done.iter().filter(|id| !id.is_empty());
    let done: Result<_, String> = done.map(SetupId::new).collect();
    let place = args.at.as_ref().map(PlaceId::new).transpose();
    Ok(Some(Now {
        at,
        done: done.map_err(anyhow::Error::msg)?,
        place: place.map_err(anyhow::Error::msg)?,
        eaten: args.eaten,
    }))
}

/// A day with what else is to be said of it.
fn text(one: &OneDay, width: usize) -> String {
    let mut out = Lines::new(width);
    out.text = schedule::text::day(&one.plan, &one.sky, width);
    out.findings(
        "What breaks in the order as it stands in the plan",
        &one.typed,
    );
    out.findings("What runs short in this day", &one.conflicts);
    if !one.cautions.is_empty() {
        out.gap();
        out.cautions(&one.cautions);
    }
    out.text
}

/// The largest file with an instance that is read, bytes.
const MOST_INSTANCE: usize = 16 << 20;

fn bare(file: &Path, args: &Day, screen: &Screen) -> anyhow::Result<End> {
    let path = file.display();
    let text = steps::read_at_most(file, MOST_INSTANCE)?;
    let read = &mut serde_json::Deserializer::from_slice(&text);
    let instance: schedule::Instance = serde_path_to_error::deserialize(read).map_err(|error| {
        let at = match error.path().to_string().as_str() {
            "." => String::new(),
            at => format!(" at `{at}`"),
        };
        anyhow::anyhow!(
            "`{path}` is no instance{at}: {}; docs/schedule.md lists its fields",
            error.inner()
        )
    })?;
    let usual = schedule::usual_seconds(instance.setups.len());
    let seconds = args.seconds.unwrap_or(usual);
    let until = Instant::now() + Duration::from_secs(seconds);
    let stop = || Instant::now() > until || !screen.keep_going();
    let answer = schedule::solve(&instance, &stop).with_context(|| format!("`{path}`"))?;
    screen.result(&answer, || schedule::text::bare(&answer));
    Ok(End::Done)
}
