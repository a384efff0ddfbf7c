//! `barebulb plan`: the plan as one text file, and going back and forward.

use crate::End;
use crate::arguments::{Plan, PlanWhat};
use crate::screen::Screen;
use anyhow::Context as _;
use model::{Project, plan_file};
use serde::Serialize;
use std::path::Path;
use steps::Job;

#[derive(Serialize)]
struct Moved {
    revision: i64,
}

#[derive(Serialize)]
struct Rescued {
    revision: i64,
    newest: i64,
    kept: Option<String>,
}

#[derive(Serialize)]
struct Change {
    revision: i64,
    at_unix_ms: i64,
    by: String,
    what: String,
    stands: bool,
}

#[derive(Serialize)]
struct Changes {
    changes: Vec<Change>,
}

#[derive(Serialize)]
struct Exported {
    plan: String,
    file: Option<String>,
}

pub fn run(args: &Plan, screen: &Screen) -> anyhow::Result<End> {
    match &args.what {
        PlanWhat::Schema => {
            let schema = model::schema::schema(&Project::NOUN);
            screen.result(&schema, || format!("{schema:#}\n"));
        }
        PlanWhat::Export { dir, out } => {
            let job = Job::open(dir)?;
            let text = plan_file::export(job.project());
            if let Some(path) = out {
                steps::write_text(path, &text)?;
            }
            let result = Exported {
                plan: text,
                file: out.as_ref().map(|path| path.display().to_string()),
            };
            screen.result(&result, || match &result.file {
                Some(file) => format!("the plan is in {file}"),
                None => result.plan.clone(),
            });
        }
        PlanWhat::Import { dir, file } => {
            let mut job = Job::open(dir)?;
            let plan = read(file, job.project())?;
            let revision = job
                .edit(&plan.edit())
                .with_context(|| format!("{} could not be taken in", file.display()))?;
            screen.result(
                &Moved {
                    revision: revision.number(),
                },
                || {
                    format!(
                        "{} is taken in; `barebulb plan undo` takes it back",
                        file.display()
                    )
                },
            );
        }
        PlanWhat::Undo { dir } => step(dir, false, screen)?,
        PlanWhat::Redo { dir } => step(dir, true, screen)?,
        PlanWhat::Rescue { dir } => rescue(dir, screen)?,
        PlanWhat::History { dir, last } => {
            let mut job = Job::open(dir)?;
            let changes = job
                .store()
                .history(*last)?
                .into_iter()
                .map(|entry| Change {
                    revision: entry.id.number(),
                    at_unix_ms: entry.at.0,
                    by: entry.by,
                    what: entry.what,
                    stands: entry.stands,
                })
                .collect();
            let result = Changes { changes };
            screen.result(&result, || {
                let line = |change: &Change| {
                    format!(
                        "{:>6} {} {}\n",
                        change.revision,
                        if change.stands { " " } else { "x" },
                        change.what
                    )
                };
                result.changes.iter().map(line).collect::<String>()
                    + "x marks what was taken back\n"
            });
        }
    }
    Ok(End::Done)
}

fn rescue(dir: &Path, screen: &Screen) -> anyhow::Result<()> {
    let rescued = steps::rescue(dir)?;
    let result = Rescued {
        revision: rescued.revision.number(),
        newest: rescued.newest.number(),
        kept: rescued.kept.as_ref().map(|path| path.display().to_string()),
    };
    screen.result(&result, || match &result.kept {
        None => "the project can be read as it is; nothing was changed".into(),
        Some(kept) => format!(
            "the project stands on change {} of {}; the damaged file is kept as {kept}",
            result.revision, result.newest
        ),
    });
    Ok(())
}

fn step(dir: &Path, forward: bool, screen: &Screen) -> anyhow::Result<()> {
    let mut job = Job::open(dir)?;
    let revision = job.step_history(forward)?.number();
    screen.result(&Moved { revision }, || {
        format!("the document is at change {revision}")
    });
    Ok(())
}

/// Reads a plan file that is to be taken into `onto`; a mistake in it is said with its line.
pub fn read(file: &Path, onto: &Project) -> anyhow::Result<plan_file::Plan> {
    let bytes = steps::read_at_most(file, plan_file::MAX_BYTES)?;
    let text = String::from_utf8(bytes).map_err(|error| {
        let line = error.as_bytes()[..error.utf8_error().valid_up_to()]
            .iter()
            .filter(|byte| **byte == b'\n')
            .count()
            + 1;
        anyhow::anyhow!(
            "{}: line {line}: this is not UTF-8 text; save the plan as UTF-8",
            file.display()
        )
    })?;
    plan_file::import_onto(&text, onto)
        .map_err(|fault| anyhow::anyhow!("{}: {fault}", file.display()))
}

/// Takes away what `new` made when it could not finish: only what it can have made itself.
pub fn withdraw(dir: &Path, existed: bool) {
    for name in ["project.sqlite", "project.sqlite-wal", "project.sqlite-shm"] {
        let _ = std::fs::remove_file(dir.join(name));
    }
    for name in [
        "song",
        "references",
        "takes",
        "papers",
        "assembly",
        "handover",
        "cache",
    ] {
        // Removes empty folders alone.
        let _ = std::fs::remove_dir(dir.join(name));
    }
    if !existed {
        let _ = std::fs::remove_dir(dir);
    }
}
