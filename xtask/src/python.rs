//! The Python environment of the checks: `.venv` in the checkout, with what
//! `checks/requirements.txt` pins.
//!
//! It is made once and made anew when that file changes. It installs nothing outside `.venv`
//! except, where the system has no Python that will do, the system's Python package.

use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::Duration;

use anyhow::{Context, Result, bail};

use crate::install::{self, Installer};
use crate::packages::Need;
use crate::run::{self, Show};

/// Versions for which every pinned library has a wheel, the best first.
const VERSIONS: std::ops::RangeInclusive<u32> = 10..=13;

/// An environment that can be used.
pub struct Environment {
    /// The Python in it.
    pub python: PathBuf,
    /// Each optional library that could not be had: its name, and a sentence.
    pub lacking: Vec<(String, String)>,
}

/// What a requirements file asks for.
#[derive(Debug, Default, PartialEq, Eq)]
struct Requirements {
    needed: Vec<String>,
    optional: Vec<String>,
}

/// The environment in `root`, made where it is missing or stale.
///
/// # Errors
/// When there is no Python that will do, or a needed library could not be installed.
pub fn environment(root: &Path, installer: &Installer) -> Result<Environment> {
    let listed = root.join("checks/requirements.txt");
    let text = std::fs::read_to_string(&listed)
        .with_context(|| format!("could not read {}", listed.display()))?;
    let folder = root.join(".venv");
    let python = python_in(&folder);
    let stamp = folder.join("requirements-installed.txt");
    // The stamp holds the file it was made from, then what could not be had: name, tab, sentence.
    if let Ok(done) = std::fs::read_to_string(&stamp)
        && let Some(lacking) = done.strip_prefix(&text)
        && let Some(lacking) = lacking
            .lines()
            .filter(|line| !line.is_empty())
            .map(|line| line.split_once('\t'))
            .collect::<Option<Vec<_>>>()
        && answers(&python)
    {
        let owned = |(name, says): (&str, &str)| (name.to_owned(), says.to_owned());
        return Ok(Environment {
            python,
            lacking: lacking.into_iter().map(owned).collect(),
        });
    }
    make(&folder, installer)?;
    let wanted = requirements(&text);
    println!("setup: installing the checks' Python libraries into .venv …");
    install(&python, &wanted.needed)?;
    let mut lacking = Vec::new();
    for library in &wanted.optional {
        if let Err(error) = install(&python, std::slice::from_ref(library)) {
            let says = format!(
                "the library {library} could not be installed, so its column is left out: \
                 {error:#}"
            );
            lacking.push((name_of(library).to_owned(), says.replace(['\n', '\t'], " ")));
        }
    }
    let lines = lacking
        .iter()
        .map(|(name, says)| format!("{name}\t{says}\n"));
    std::fs::write(&stamp, lines.fold(text, |stamp, line| stamp + &line))
        .with_context(|| format!("could not write {}", stamp.display()))?;
    Ok(Environment { python, lacking })
}

/// The libraries that some systems have not, by the names that `--without` knows them by.
///
/// # Errors
/// When the list of libraries cannot be read.
pub fn optional(root: &Path) -> Result<Vec<String>> {
    let listed = root.join("checks/requirements.txt");
    let text = std::fs::read_to_string(&listed)
        .with_context(|| format!("could not read {}", listed.display()))?;
    let optional = requirements(&text).optional;
    Ok(optional.iter().map(|it| name_of(it).to_owned()).collect())
}

/// The name in a requirement, which names one exact version.
fn name_of(requirement: &str) -> &str {
    requirement
        .split_once("==")
        .map_or(requirement, |(name, _)| name)
}

/// Makes an empty environment with the first Python that can.
fn make(folder: &Path, installer: &Installer) -> Result<()> {
    match make_with(&candidates(), folder) {
        Ok(()) => Ok(()),
        Err(first) => {
            installer
                .bring(Need::Python)
                .with_context(|| format!("{first:#}"))?;
            make_with(&candidates(), folder)
        }
    }
}

fn make_with(pythons: &[PathBuf], folder: &Path) -> Result<()> {
    let mut why = "no Python from 3.10 to 3.13 is on PATH".to_owned();
    for python in pythons {
        // `--clear` also mends a half-made folder that an interrupted run left.
        let mut command = Command::new(python);
        command.args(["-m", "venv", "--clear"]).arg(folder);
        let ended = run::gathered(&mut command, Duration::from_secs(300), Show::Quietly)?;
        if ended.good && answers(&python_in(folder)) {
            return Ok(());
        }
        let last = ended
            .output
            .lines()
            .rfind(|line| !line.trim().is_empty())
            .unwrap_or(&ended.how);
        why = format!("{} could not make .venv: {last}", python.display());
    }
    bail!(why)
}

/// Every Python on PATH whose version will do, without repeats.
fn candidates() -> Vec<PathBuf> {
    let named = VERSIONS.rev().map(|minor| format!("python3.{minor}"));
    let plain = ["python3", "python"].map(String::from);
    plain
        .into_iter()
        .chain(named)
        .filter_map(|name| run::find(&name))
        .filter(|python| version(python).is_some_and(|minor| VERSIONS.contains(&minor)))
        .collect()
}

/// The minor version of a Python 3.
fn version(python: &Path) -> Option<u32> {
    let mut command = Command::new(python);
    command.args(["-c", "import sys; print(*sys.version_info[:2])"]);
    let ended = run::gathered(&mut command, Duration::from_secs(30), Show::Quietly).ok()?;
    let mut numbers = ended.output.split_whitespace();
    let three = numbers.next()? == "3";
    let minor = numbers.next()?.parse().ok()?;
    three.then_some(minor)
}

fn answers(python: &Path) -> bool {
    version(python).is_some()
}

fn python_in(folder: &Path) -> PathBuf {
    if cfg!(windows) {
        folder.join("Scripts/python.exe")
    } else {
        folder.join("bin/python")
    }
}

fn install(python: &Path, libraries: &[String]) -> Result<()> {
    if libraries.is_empty() {
        return Ok(());
    }
    let mut command = Command::new(python);
    command.args(["-m", "pip", "install", "--quiet", "--no-input"]);
    command.arg("--disable-pip-version-check");
    // Big libraries come as wheels; building one from its source takes a compiler and an hour.
    command.args(["--prefer-binary", "--only-binary"]);
    command.arg("numpy,scipy,librosa,numba,llvmlite,scikit-learn,essentia,OpenTimelineIO");
    command.args(libraries);
    let ended = run::gathered(&mut command, install::LIMIT, Show::Quietly)?;
    if ended.good {
        return Ok(());
    }
    let why = ended
        .output
        .lines()
        .rfind(|line| line.trim_start().starts_with("ERROR"))
        .unwrap_or(&ended.how);
    bail!("pip could not install: {}", why.trim())
}

/// Reads a requirements file: one requirement a line, `#` begins a remark, and a line whose
/// remark is `optional` may fail.
fn requirements(text: &str) -> Requirements {
    let mut wanted = Requirements::default();
    for line in text.lines() {
        let (requirement, remark) = line.split_once('#').unwrap_or((line, ""));
        let requirement = requirement.trim().to_owned();
        if requirement.is_empty() {
            continue;
        }
        if remark.trim() == "optional" {
            wanted.optional.push(requirement);
        } else {
            wanted.needed.push(requirement);
        }
    }
    wanted
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn requirements_with_remarks_and_markers() {
        let text = "# a remark\nnumpy==2.4.6; python_version >= \"3.11\"\n\nbig==1  # optional\n";
        assert_eq!(
            requirements(text),
            Requirements {
                needed: vec!["numpy==2.4.6; python_version >= \"3.11\"".to_owned()],
                optional: vec!["big==1".to_owned()],
            }
        );
    }

    #[test]
    fn the_projects_own_file_is_pinned() {
        let text = std::fs::read_to_string(crate::root().join("checks/requirements.txt")).unwrap();
        let wanted = requirements(&text);
        assert!(!wanted.needed.is_empty());
        for line in wanted.needed.iter().chain(&wanted.optional) {
            assert!(line.contains("=="), "`{line}` names no exact version");
        }
    }
}
