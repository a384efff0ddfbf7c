//! Two processes edit one project while a third kills them at random moments.
//!
//! Each worker writes a line to its own log, synced to disk, after an edit has returned. At the
//! end every logged edit must be in the history, the history replayed edit by edit must give the
//! document, and the file must be whole.
//!
//! This shows what survives the death of a process. It does not pull the plug: what survives that
//! rests on SQLite's `synchronous = FULL` and on the disk keeping its word.

use crate::world::{self, Dice, KEPT_IDEAS};
use model::{Edit, Idea, NoteId, Project};
use serde_json::json;
use std::fs::{File, OpenOptions};
use std::io::{Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};
use std::process::{Child, Command};
use std::time::{Duration, Instant, SystemTime, UNIX_EPOCH};
use store::{Error, Folder, Options, RevisionId, Store, UnixMs};
use xxhash_rust::xxh3::xxh3_128;

/// How hard to be.
pub struct Plan {
    /// The project's folder.
    pub dir: PathBuf,
    /// Acknowledged edits in all.
    pub edits: u64,
    /// Kills in all.
    pub kills: u64,
    /// Decides who is killed when, and what is edited.
    pub seed: u64,
}

/// What a worker is told on its command line.
pub struct Job {
    pub dir: PathBuf,
    pub worker: u64,
    pub start: u64,
    pub edits: u64,
    pub seed: u64,
}

impl Job {
    /// As arguments.
    pub fn to_args(&self) -> Vec<String> {
        vec![
            self.dir.to_string_lossy().into_owned(),
            self.worker.to_string(),
            self.start.to_string(),
            self.edits.to_string(),
            self.seed.to_string(),
        ]
    }

    /// From arguments.
    pub fn from_args(args: &[String]) -> Option<Self> {
        let [dir, worker, start, edits, seed] = args else {
            return None;
        };
        Some(Self {
            dir: dir.into(),
            worker: worker.parse().ok()?,
            start: start.parse().ok()?,
            edits: edits.parse().ok()?,
            seed: seed.parse().ok()?,
        })
    }
}

/// Length of a line in a worker's log, its end included.
const LINE: u64 = 12 + 1 + 32 + 6;
const WORKERS: u64 = 2;

fn log_path(dir: &Path, worker: u64) -> PathBuf {
    dir.join(format!("acknowledged-{worker}.log"))
}

fn fingerprint(edit: &str) -> String {
    format!("{:032x}", xxh3_128(edit.as_bytes()))
}

/// The complete lines of a log: revision and fingerprint of the edit. A line that a kill cut short
/// was never acknowledged.
fn acknowledged(path: &Path) -> Vec<(i64, String)> {
    let text = std::fs::read_to_string(path).unwrap_or_default();
    text.lines()
        .filter_map(|line| {
            let mut words = line.split_whitespace();
            let found = (words.next()?.parse().ok()?, words.next()?.to_owned());
            (words.next() == Some("done")).then_some(found)
        })
        .collect()
}

/// The worker: edits until its log holds as many lines as asked for.
pub fn work(job: &Job) -> Result<(), String> {
    let path = log_path(&job.dir, job.worker);
    let mut done = acknowledged(&path).len() as u64;
    let mut log = OpenOptions::new()
        .create(true)
        .read(true)
        .append(true)
        .open(&path)
        .map_err(|error| error.to_string())?;
    end_torn_line(&mut log).map_err(|error| error.to_string())?;
    let mut dice = Dice(job.seed ^ (job.worker << 32) ^ job.start);
    let options = Options {
        by: format!("worker {}", job.worker),
        wait: Duration::from_secs(60),
    };
    let mut store = Store::open_with(&job.dir, options).map_err(|error| error.to_string())?;
    let mut count = 0u64;
    while done < job.edits {
        count += 1;
        let name = format!("w{}-{}-{count}", job.worker, job.start);
        let (_, project) = store.head().map_err(|error| error.to_string())?;
        let edit = choose(&mut dice, &project, &name);
        let text = serde_json::to_string(&edit).map_err(|error| error.to_string())?;
        let revision = match store.apply(&edit, now()) {
            Ok((revision, _)) => revision,
            // The other worker removed it first: refused, so nothing to acknowledge.
            Err(Error::Refused(_)) => continue,
            Err(error) => return Err(error.to_string()),
        };
        let line = format!("{:>12} {} done\n", revision.number(), fingerprint(&text));
        debug_assert_eq!(line.len() as u64, LINE);
        log.write_all(line.as_bytes())
            .and_then(|()| log.sync_data())
            .map_err(|error| error.to_string())?;
        done += 1;
    }
    Ok(())
}

fn end_torn_line(log: &mut File) -> std::io::Result<()> {
    let length = log.metadata()?.len();
    if length > 0 {
        log.seek(SeekFrom::Start(length - 1))?;
        let mut last = [0];
        log.read_exact(&mut last)?;
        if last != *b"\n" {
            log.write_all(b"\n")?;
        }
    }
    Ok(())
}

/// An edit that always changes something and carries `name`.
fn choose(dice: &mut Dice, project: &Project, name: &str) -> Edit {
    let id = NoteId::new(name).expect("made of letters, digits and dashes");
    let text = format!("{name}: a hand wipes the glass and the street comes through");
    match dice.below(20) {
        0..14 if project.ideas.len() > KEPT_IDEAS => Edit::remove::<Idea>(&project.ideas[0].id),
        0..14 => Edit::put(&Idea {
            id,
            at: None,
            text,
            extra: Default::default(),
        }),
        14..18 => {
            let mut take = project.takes[dice.below(project.takes.len() as u64) as usize].clone();
            take.remark = text;
            Edit::put(&take)
        }
        18 => Edit::title(format!("Paper Weather {name}")),
        _ if project.cuts.len() > 6 => Edit::RemoveCut {
            version: project.cuts[0].version,
        },
        _ => Edit::AddCut {
            cut: serde_json::from_value(json!({
                "version": 1, "rate": "25", "remark": name, "shots": world::shots(dice.below(1000)),
            }))
            .expect("written in the form the model reads"),
        },
    }
}

fn now() -> UnixMs {
    let since = SystemTime::now()
        .duration_since(UNIX_EPOCH)
        .unwrap_or_default();
    UnixMs(i64::try_from(since.as_millis()).unwrap_or(i64::MAX))
}

/// What came of it.
#[derive(Debug, Default)]
pub struct Outcome {
    pub acknowledged: u64,
    /// Edits that were in the file although their worker died before it could say so.
    pub unsaid: u64,
    pub kills: u64,
    /// Bytes of the file and its log at their largest, and after the last close.
    pub peak_bytes: u64,
    pub end_bytes: u64,
    pub document_bytes: u64,
    pub edits_s: f64,
    pub check_s: f64,
}

/// Runs `plan`; `spawn` starts a worker. The first thing that is wrong comes back as a sentence.
pub fn run(plan: &Plan, spawn: impl Fn(&Job) -> Command) -> Result<Outcome, String> {
    let first = world::project();
    drop(Store::create(&plan.dir, &first, now()).map_err(|error| error.to_string())?);
    let mut outcome = Outcome::default();
    let began = Instant::now();
    torment(plan, &spawn, &mut outcome)?;
    outcome.edits_s = began.elapsed().as_secs_f64();

    let began = Instant::now();
    let head = verify(plan, first, &mut outcome)?;
    outcome.check_s = began.elapsed().as_secs_f64();
    outcome.document_bytes = serde_json::to_string(&head).map_or(0, |text| text.len()) as u64;
    outcome.end_bytes = bytes(&plan.dir);
    Ok(outcome)
}

/// A worker that runs, with what is needed to start it again.
struct Running {
    child: Child,
    job: Job,
}

impl Running {
    fn start(job: Job, spawn: &impl Fn(&Job) -> Command) -> Result<Self, String> {
        let child = spawn(&job).spawn().map_err(|error| error.to_string())?;
        Ok(Self { child, job })
    }

    /// `kill -9`, then a new one. `false` when it had finished by itself.
    fn kill_and_restart(&mut self, spawn: &impl Fn(&Job) -> Command) -> Result<bool, String> {
        if let Some(status) = self.child.try_wait().map_err(|error| error.to_string())? {
            return if status.success() {
                Ok(false)
            } else {
                Err(format!("worker {} gave up: {status}", self.job.worker))
            };
        }
        self.child.kill().map_err(|error| error.to_string())?;
        self.child.wait().map_err(|error| error.to_string())?;
        self.job.start += 1;
        self.child = spawn(&self.job)
            .spawn()
            .map_err(|error| error.to_string())?;
        Ok(true)
    }
}

impl Drop for Running {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

fn torment(
    plan: &Plan,
    spawn: &impl Fn(&Job) -> Command,
    outcome: &mut Outcome,
) -> Result<(), String> {
    let mut dice = Dice(plan.seed);
    let mut workers = (0..WORKERS)
        .map(|worker| {
            let edits = plan.edits / WORKERS + u64::from(worker < plan.edits % WORKERS);
            let job = Job {
                dir: plan.dir.clone(),
                worker,
                start: 0,
                edits,
                seed: plan.seed,
            };
            Running::start(job, spawn)
        })
        .collect::<Result<Vec<_>, _>>()?;
    // After how many acknowledged edits the next kill comes; all before the last twentieth, so
    // that there is somebody left to kill.
    let mut moments: Vec<u64> = (0..plan.kills)
        .map(|_| dice.below(plan.edits - plan.edits / 20))
        .collect();
    moments.sort_unstable();
    let mut moments = moments.into_iter().peekable();
    while let Some(moment) = moments.next() {
        while said(plan) < moment {
            outcome.peak_bytes = outcome.peak_bytes.max(bytes(&plan.dir));
            std::thread::sleep(Duration::from_millis(3));
            for worker in &mut workers {
                let ended = worker.child.try_wait().map_err(|error| error.to_string())?;
                if let Some(status) = ended.filter(|status| !status.success()) {
                    return Err(format!("worker {} gave up: {status}", worker.job.worker));
                }
            }
        }
        // Anywhere within an edit, or within opening and recovery when the kill before was just now.
        std::thread::sleep(Duration::from_micros(dice.below(20_000)));
        let victim = dice.below(WORKERS) as usize;
        for worker in [victim, 1 - victim] {
            // The other one, when the first has finished its share.
            if workers[worker].kill_and_restart(spawn)? {
                outcome.kills += 1;
                break;
            }
        }
        // One time in five the other at once, so that nobody is left who knows the log.
        if dice.below(5) == 0 && moments.next().is_some() {
            outcome.kills += u64::from(workers[1 - victim].kill_and_restart(spawn)?);
        }
    }
    for worker in &mut workers {
        let status = worker.child.wait().map_err(|error| error.to_string())?;
        if !status.success() {
            return Err(format!("worker {} gave up: {status}", worker.job.worker));
        }
    }
    outcome.peak_bytes = outcome.peak_bytes.max(bytes(&plan.dir));
    Ok(())
}

/// How many lines the logs hold, about: torn lines make it a little more.
fn said(plan: &Plan) -> u64 {
    (0..WORKERS)
        .map(|worker| {
            log_path(&plan.dir, worker)
                .metadata()
                .map_or(0, |log| log.len())
                / LINE
        })
        .sum()
}

/// Bytes of the file and what SQLite keeps beside it.
fn bytes(dir: &Path) -> u64 {
    let name = Folder::new(dir).database();
    ["", "-wal", "-shm"]
        .iter()
        .map(|ending| {
            let mut name = name.clone().into_os_string();
            name.push(ending);
            Path::new(&name).metadata().map_or(0, |file| file.len())
        })
        .sum()
}

/// Every acknowledged edit is in the history and on the line that stands; replaying the history
/// gives every document; the file is whole.
pub fn verify(plan: &Plan, first: Project, outcome: &mut Outcome) -> Result<Project, String> {
    let mut store = Store::open(&plan.dir).map_err(|error| error.to_string())?;
    let (_, head) = store.head().map_err(|error| error.to_string())?;
    let mut history = store
        .history(usize::MAX)
        .map_err(|error| error.to_string())?;
    history.reverse();

    let mut project = first;
    let mut dice = Dice(plan.seed);
    for (index, entry) in history.iter().enumerate().skip(1) {
        if !entry.stands || entry.parent != Some(history[index - 1].id) {
            return Err(format!(
                "revision {} is not on the line that stands",
                entry.id
            ));
        }
        let edit: Edit = entry
            .edit
            .as_deref()
            .and_then(|edit| serde_json::from_str(edit).ok())
            .ok_or_else(|| format!("revision {} has no edit beside it", entry.id))?;
        project = edit
            .apply(&project)
            .map_err(|refusal| format!("revision {} can't be replayed: {refusal}", entry.id))?;
        if dice.below(20) == 0 && store.at(entry.id).map_err(|error| error.to_string())? != project
        {
            return Err(format!("revision {} is not what its edits make", entry.id));
        }
    }
    if project != head {
        return Err("the document is not what its edits make".into());
    }

    for worker in 0..WORKERS {
        for (revision, print) in acknowledged(&log_path(&plan.dir, worker)) {
            outcome.acknowledged += 1;
            let by = format!("worker {worker}");
            let kept = history
                .binary_search_by_key(&RevisionId::new(revision), |entry| entry.id)
                .ok()
                .map(|place| &history[place])
                .filter(|entry| entry.by == by)
                .and_then(|entry| entry.edit.as_deref());
            if kept.map(fingerprint) != Some(print) {
                return Err(format!(
                    "revision {revision} was acknowledged and is not there"
                ));
            }
        }
    }
    if outcome.acknowledged < plan.edits {
        return Err(format!(
            "only {} edits were acknowledged",
            outcome.acknowledged
        ));
    }
    outcome.unsaid = history.len() as u64 - 1 - outcome.acknowledged;

    let check = store.check().map_err(|error| error.to_string())?;
    if let Some(problem) = check.problems.first() {
        return Err(problem.clone());
    }
    if check.revisions != history.len() as u64 {
        return Err("the check saw another number of revisions".into());
    }
    Ok(head)
}
