//! The small form of `examples/torture`: the full one takes minutes.

use crate::rig::{Job, Plan, run, work};
use std::process::{Command, Stdio};

const JOB: &str = "STORE_TEST_JOB";

#[test]
fn killed_editors_lose_nothing_acknowledged() {
    let dir = tempfile::tempdir().unwrap();
    let plan = Plan {
        dir: dir.path().join("project"),
        edits: 300,
        kills: 12,
        seed: 7,
    };
    let outcome = run(&plan, |job| {
        let mut command = Command::new(std::env::current_exe().unwrap());
        command
            .args(["--exact", "torture::worker"])
            .env(JOB, job.to_args().join("\n"))
            .stdout(Stdio::null());
        command
    })
    .unwrap();
    assert_eq!(outcome.acknowledged, 300);
    // One or two may come too late to meet a worker.
    assert!(outcome.kills >= 8, "{outcome:?}");
    assert!(outcome.peak_bytes < 50_000_000, "{outcome:?}");
}

/// What a worker process runs; nothing in an ordinary run of the tests.
#[test]
fn worker() {
    let Ok(job) = std::env::var(JOB) else { return };
    let args: Vec<String> = job.lines().map(str::to_owned).collect();
    work(&Job::from_args(&args).unwrap()).unwrap();
}
