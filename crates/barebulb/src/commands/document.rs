//! `barebulb get`, `set`, `add`, `remove`: whatever the document holds, by its path.

use crate::End;
use crate::arguments::{Add, Get, Remove, Set};
use crate::screen::Screen;
use model::path::{self, Said};
use model::{Edit, Project};
use serde_json::json;
use std::fmt::Write as _;
use steps::Job;

pub fn get(args: &Get, screen: &Screen) -> anyhow::Result<End> {
    let job = Job::open(&args.dir)?;
    let project = job.project();
    let Some(path) = &args.path else {
        screen.result(project, || contents(project));
        return Ok(End::Done);
    };
    let value = path::get(project, path)?;
    let said = path::said(project, path)?;
    screen.result(&json!({ "path": path, "value": value }), || lines(&said));
    Ok(End::Done)
}

pub fn set(args: &Set, screen: &Screen) -> anyhow::Result<End> {
    let mut job = Job::open(&args.dir)?;
    let edit = path::set(job.project(), &args.sets)?;
    let paths: Vec<&str> = args.sets.iter().map(|(path, _)| path.as_str()).collect();
    make(&mut job, &edit, &paths, screen)
}

pub fn add(args: &Add, screen: &Screen) -> anyhow::Result<End> {
    let mut job = Job::open(&args.dir)?;
    let edit = path::add(job.project(), &args.path, &args.sets)?;
    make(&mut job, &edit, &[&args.path], screen)
}

pub fn remove(args: &Remove, screen: &Screen) -> anyhow::Result<End> {
    let mut job = Job::open(&args.dir)?;
    let edit = path::remove(job.project(), &args.path)?;
    job.edit(&edit)?;
    screen.result(&json!({ "removed": args.path }), || {
        format!("{} is gone; one step back brings it back\n", args.path)
    });
    Ok(End::Done)
}

/// Makes the change, and says what now stands at `paths`.
fn make(job: &mut Job, edit: &Edit, paths: &[&str], screen: &Screen) -> anyhow::Result<End> {
    job.edit(edit)?;
    let project = job.project();
    let mut now = serde_json::Map::new();
    let mut text = String::new();
    for path in paths {
        now.insert((*path).to_owned(), path::get(project, path)?);
        text += &lines(&path::said(project, path)?);
    }
    screen.result(&json!({ "set": now }), || text.clone());
    Ok(End::Done)
}

/// One value a line, as it can be typed again.
fn lines(said: &[Said]) -> String {
    let mut out = String::new();
    for one in said {
        let unit = match one.unit {
            "" | "share" => String::new(),
            unit => format!(" {unit}"),
        };
        let value = one.value.replace('\n', " / ");
        let usual = if one.usual { "  (usual)" } else { "" };
        let _ = writeln!(out, "{} = {value}{unit}{usual}", one.path);
    }
    if out.is_empty() {
        out.push_str("nothing is said there\n");
    }
    out
}

/// What the document holds, a line for each of its fields.
fn contents(project: &Project) -> String {
    let mut out = String::new();
    for (name, holds) in path::contents(project) {
        let _ = writeln!(out, "{name:<12} {holds}");
    }
    out
}
