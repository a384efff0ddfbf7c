//! The small form of `examples/torture`: the full one takes minutes.

use crate::rig::{Job, Outcome, Plan, run, verify, work};
use crate::{NOW, world};
use std::process::{Command, Stdio};
use store::Store;

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

#[test]
fn the_rig_notices_a_loss() {
    let dir = tempfile::tempdir().unwrap();
    let plan = Plan {
        dir: dir.path().join("project"),
        edits: 20,
        kills: 0,
        seed: 1,
    };
    let first = world::project();
    drop(Store::create(&plan.dir, &first, NOW).unwrap());
    for worker in 0..2 {
        work(&Job {
            dir: plan.dir.clone(),
            worker,
            start: 0,
            edits: 10,
            seed: 1,
        })
        .unwrap();
    }
    verify(&plan, first.clone(), &mut Outcome::default()).unwrap();

    // An edit that was acknowledged and is not in the file.
    let log = plan.dir.join("acknowledged-1.log");
    let kept = std::fs::read_to_string(&log).unwrap();
    std::fs::write(&log, format!("{kept}{:>12} {:032x} done\n", 22, 1)).unwrap();
    let said = verify(&plan, first.clone(), &mut Outcome::default()).unwrap_err();
    assert!(said.contains("was acknowledged and is not there"), "{said}");
    std::fs::write(&log, kept).unwrap();

    // An edit that is there and was taken off the line.
    let mut store = Store::open(&plan.dir).unwrap();
    store.undo(NOW).unwrap();
    let said = verify(&plan, first, &mut Outcome::default()).unwrap_err();
    assert!(said.contains("not on the line that stands"), "{said}");
}

/// What a worker process runs; nothing in an ordinary run of the tests.
#[test]
fn worker() {
    let Ok(job) = std::env::var(JOB) else { return };
    let args: Vec<String> = job.lines().map(str::to_owned).collect();
    work(&Job::from_args(&args).unwrap()).unwrap();
}
