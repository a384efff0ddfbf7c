//! `barebulb day`: the best day, what to drop when it gets late, and the bare problem.

use crate::End;
use crate::arguments::Day;
use crate::screen::Screen;
use crate::text::{Lines, width};
use anyhow::Context as _;
use model::ClockTime;
use schedule::{Now, Status};
use std::path::Path;
use std::time::{Duration, Instant};
use steps::{DayOptions, DaysReport, Job, OneDay, Progress as _};

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
        day: match (&args.day, &args.now) {
            // A day that has begun is one day: the first, unless another is named.
            (None, Some(_)) => first_day(&job),
            (day, _) => day.clone(),
        },
        now: now(args, &job)?,
        why: args.why.clone(),
        seconds: args.seconds,
    };
    let report = job.day(&options, screen)?;
    report.notes.iter().for_each(|note| screen.finding(note));
    for one in &report.days {
        one.plan.notes.iter().for_each(|note| screen.finding(note));
    }
    if let Some(file) = &args.ics {
        calendar(&job, &report, file)?;
        screen.line(&format!("calendar written to `{}`", file.display()));
    }
    if args.keep {
        job.keep_days(&report)?;
    }
    let width = width();
    screen.result(&report, || match &report.why {
        Some(why) => why.iter().map(|line| format!("{line}\n")).collect(),
        None => {
            let days: Vec<String> = report.days.iter().map(|one| text(one, width)).collect();
            days.join("\n")
        }
    });
    let found = |one: &OneDay| matches!(one.plan.status, Status::Best | Status::Feasible);
    if !report.days.iter().all(found) {
        return Ok(End::Partly);
    }
    Ok(End::Done)
}

fn first_day(job: &Job) -> Option<String> {
    let days = job.project().days.iter();
    days.min_by_key(|day| (day.date, day.call))
        .map(|day| day.id.to_string())
}

/// What was said of a day that has begun.
fn now(args: &Day, job: &Job) -> anyhow::Result<Option<Now>> {
    let Some(clock) = args.now else {
        return Ok(None);
    };
    let project = job.project();
    let mut done = Vec::new();
    for id in args.done.iter().filter(|id| !id.is_empty()) {
        match project.setups.iter().find(|setup| setup.id.as_str() == id) {
            Some(setup) => done.push(setup.id.clone()),
            None => anyhow::bail!(
                "--done names `{id}`, and there is no such setup; there are {}",
                names(project.setups.iter().map(|setup| setup.id.as_str()))
            ),
        }
    }
    let place = match &args.at {
        None => None,
        Some(id) => match project.places.iter().find(|place| place.id.as_str() == id) {
            Some(place) => Some(place.id.clone()),
            None => anyhow::bail!(
                "--at names `{id}`, and there is no such place; there are {}",
                names(project.places.iter().map(|place| place.id.as_str()))
            ),
        },
    };
    // A small hour after an evening's call is past midnight.
    let day = project.days.iter().find(|day| match &args.day {
        Some(id) => day.id.as_str() == id,
        None => Some(day.id.to_string()) == first_day(job),
    });
    let call = day.map(|day| day.call).unwrap_or_default();
    let next = ClockTime::from_minutes(clock.minutes() + 24 * 60);
    let at = match next {
        Some(next) if clock < call && next.minutes() - call.minutes() <= 18 * 60 => next,
        _ => clock,
    };
    Ok(Some(Now {
        at,
        done,
        place,
        eaten: args.eaten,
    }))
}

fn names<'a>(names: impl Iterator<Item = &'a str>) -> String {
    names.collect::<Vec<_>>().join(", ")
}

/// The days as a calendar file.
fn calendar(job: &Job, report: &DaysReport, file: &Path) -> anyhow::Result<()> {
    let stamp_s = steps::now().0 / 1000;
    let title = &job.project().title;
    let mut events = Vec::new();
    for one in &report.days {
        let utc = job.instants(&one.plan.day)?;
        events.push((&one.plan, utc));
    }
    let days: Vec<schedule::CalendarDay> = events
        .iter()
        .map(|(plan, utc)| schedule::CalendarDay { plan, utc })
        .collect();
    steps::write_text(file, &schedule::calendar(&days, title, stamp_s))?;
    Ok(())
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

fn bare(file: &Path, args: &Day, screen: &Screen) -> anyhow::Result<End> {
    let path = file.display();
    let text = std::fs::read_to_string(file)
        .with_context(|| format!("`{path}` can't be read; give a JSON file with an instance"))?;
    let read = &mut serde_json::Deserializer::from_str(&text);
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
