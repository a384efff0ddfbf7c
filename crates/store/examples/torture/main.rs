//! `cargo run -p store --example torture -- [EDITS [KILLS [SEED [DIR]]]]`
//!
//! Two processes make 10,000 edits to one project while 200 and more `kill -9` come at random
//! moments. One summary line; exit status 1 when anything acknowledged was lost, the file is not
//! whole, or it has grown beyond 50 MB.

mod rig;
mod world;

use rig::{Job, Plan};
use std::process::{Command, ExitCode};

/// The largest the file and its log may become.
const MOST_BYTES: u64 = 50_000_000;

fn main() -> ExitCode {
    match torture(std::env::args().skip(1).collect()) {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("error: {error}");
            ExitCode::FAILURE
        }
    }
}

fn torture(args: Vec<String>) -> Result<(), String> {
    if args.first().is_some_and(|first| first == "worker") {
        let job = Job::from_args(&args[1..]).ok_or("a worker is started by its parent")?;
        return rig::work(&job);
    }
    let number = |place: usize, otherwise: u64| match args.get(place) {
        None => Ok(otherwise),
        Some(text) => text
            .parse::<u64>()
            .map_err(|_| format!("`{text}` is not a number; write EDITS KILLS SEED DIR")),
    };
    let temporary = tempfile::tempdir().map_err(|error| error.to_string())?;
    let plan = Plan {
        edits: number(0, 10_000)?.max(20),
        kills: number(1, 220)?,
        seed: number(2, 1)?,
        dir: args
            .get(3)
            .map_or_else(|| temporary.path().join("project"), Into::into),
    };
    let program = std::env::current_exe().map_err(|error| error.to_string())?;
    let outcome = rig::run(&plan, |job| {
        let mut command = Command::new(&program);
        command.arg("worker").args(job.to_args());
        command
    })?;
    println!(
        "ok: {} edits acknowledged, {} more in the file unsaid, {} kills, {:.1} MB at the end, {:.1} MB at most, document {:.1} kB, {:.1} s of editing, {:.1} s of checking, seed {}",
        outcome.acknowledged,
        outcome.unsaid,
        outcome.kills,
        outcome.end_bytes as f64 / 1e6,
        outcome.peak_bytes as f64 / 1e6,
        outcome.document_bytes as f64 / 1e3,
        outcome.edits_s,
        outcome.check_s,
        plan.seed,
    );
    if outcome.peak_bytes > MOST_BYTES {
        return Err(format!("the file grew to {} bytes", outcome.peak_bytes));
    }
    if outcome.kills < plan.kills {
        return Err(format!(
            "only {} of {} kills met a worker at work",
            outcome.kills, plan.kills
        ));
    }
    Ok(())
}
