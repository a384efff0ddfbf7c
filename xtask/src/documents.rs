//! The documents as a test: links lead somewhere, commands exist, the list of dependencies is the
//! one in force, and no file tells a registry's address or a developer's folders.
//!
//! It does not judge what the documents say.

use std::collections::BTreeSet;
use std::path::{Component, Path, PathBuf};
use std::process::Command;
use std::time::Duration;

use anyhow::{Context, Result};

use crate::run::{self, Show};
use crate::source;

/// What may stand in no file, in two halves so that it does not stand in this one either.
const NOWHERE: [(&str, &str); 13] = [
    ("crates", ".io"),
    ("static.", "rust-lang.org"),
    ("py", "pi.org"),
    ("python", "hosted.org"),
    ("registry.", "npmjs"),
    ("npm", "js.com"),
    ("deb.", "debian.org"),
    ("security.", "debian.org"),
    ("/ro", "ot/"),
    ("/ho", "me/"),
    ("/Us", "ers/"),
    ("/wo", "rk/main"),
    ("/tm", "p/w/"),
];

/// What is wrong with the documents, one sentence each. With `program`, the commands of
/// `barebulb` that they name are asked of it too.
///
/// # Errors
/// When the project cannot be read.
pub fn problems(root: &Path, program: Option<&Path>) -> Result<Vec<String>> {
    let files = source::files(root)?;
    let mut problems = Vec::new();
    let mut asked = BTreeSet::new();
    for file in &files {
        let path = shown(file);
        let bytes =
            std::fs::read(root.join(file)).with_context(|| format!("could not read {path}"))?;
        if path != "Cargo.lock" {
            problems.extend(tell_tales(&bytes).map(|word| format!("{path} holds `{word}`")));
        }
        if !path.ends_with(".md") {
            continue;
        }
        let text = String::from_utf8_lossy(&bytes);
        for link in links(&text) {
            problems.extend(
                dead(root, file, &files, &link).map(|why| format!("{path}: `{link}` {why}")),
            );
        }
        for (first, second) in commands(&text) {
            let known = match first.as_str() {
                "cargo xtask" => crate::COMMANDS.iter().any(|(name, _)| *name == second),
                _ if path == "CHANGELOG.md" || !asked.insert(second.clone()) => true,
                _ => program.is_none_or(|program| takes(program, &second)),
            };
            if !known {
                problems.push(format!("{path}: there is no `{first} {second}`"));
            }
        }
    }
    problems.extend(dependency_problems(root)?);
    Ok(problems)
}

/// True when the program knows the command.
fn takes(program: &Path, command: &str) -> bool {
    let mut help = Command::new(program);
    help.args([command, "--help"]);
    run::gathered(&mut help, Duration::from_secs(20), Show::Quietly).is_ok_and(|ended| ended.good)
}

fn tell_tales(bytes: &[u8]) -> impl Iterator<Item = String> {
    NOWHERE
        .iter()
        .map(|(start, end)| format!("{start}{end}"))
        .filter(move |word| {
            let word = word.as_bytes();
            bytes.windows(word.len()).any(|part| part == word)
        })
}

/// The lines of a document with whether each stands in a fenced block.
fn lines(text: &str) -> impl Iterator<Item = (&str, bool)> {
    let mut fenced = false;
    text.lines().map(move |line| {
        let fence = line.trim_start().starts_with("```");
        if fence {
            fenced = !fenced;
        }
        (line, fenced || fence)
    })
}

/// The targets of links and pictures outside code.
fn links(text: &str) -> Vec<String> {
    let mut found = Vec::new();
    for (line, fenced) in lines(text) {
        if fenced {
            continue;
        }
        // Every second part between backticks is code.
        let prose: Vec<&str> = line.split('`').step_by(2).collect();
        let prose = prose.join("``");
        for (start, end) in [("](", ")"), ("src=\"", "\""), ("href=\"", "\"")] {
            for part in prose.split(start).skip(1) {
                let target = part.split(end).next().unwrap_or_default();
                // After a blank, a link may have a title.
                let target = target.split_whitespace().next().unwrap_or_default();
                found.push(target.to_owned());
            }
        }
    }
    found
}

/// Why a link leads nowhere, if it does; links to other hosts are not followed.
fn dead(root: &Path, from: &Path, files: &[PathBuf], link: &str) -> Option<String> {
    if link.contains("://") || link.starts_with("mailto:") {
        return None;
    }
    let (path, heading) = link.split_once('#').unwrap_or((link, ""));
    let target = if path.is_empty() {
        from.to_owned()
    } else {
        plain(&from.parent().unwrap_or(Path::new("")).join(path))
    };
    let is_folder = files.iter().any(|file| file.starts_with(&target));
    if !is_folder && !files.contains(&target) {
        return Some("leads to no file of the project".to_owned());
    }
    if heading.is_empty() || target.extension().is_none_or(|ending| ending != "md") {
        return None;
    }
    let text = std::fs::read_to_string(root.join(&target)).ok()?;
    (!headings(&text).contains(heading)).then(|| format!("names no heading of {}", shown(&target)))
}

/// A path without `.` and `..`.
fn plain(path: &Path) -> PathBuf {
    let mut plain = PathBuf::new();
    for part in path.components() {
        match part {
            Component::ParentDir => {
                plain.pop();
            }
            Component::Normal(name) => plain.push(name),
            _ => {}
        }
    }
    plain
}

/// The names under which a document's headings can be linked to.
fn headings(text: &str) -> BTreeSet<String> {
    lines(text)
        .filter(|(line, fenced)| !fenced && line.starts_with('#'))
        .map(|(line, _)| {
            let name = line.trim_start_matches('#').trim().to_lowercase();
            name.chars()
                .filter(|c| c.is_alphanumeric() || matches!(c, ' ' | '-' | '_'))
                .map(|c| if c == ' ' { '-' } else { c })
                .collect()
        })
        .collect()
}

/// The commands of ours that a document tells to type: the program, and the word after it.
fn commands(text: &str) -> Vec<(String, String)> {
    let mut found = Vec::new();
    for (line, fenced) in lines(text) {
        let code: Vec<&str> = if fenced {
            vec![line.trim_start().trim_start_matches("$ ")]
        } else {
            line.split('`').skip(1).step_by(2).collect()
        };
        for typed in code {
            for first in ["cargo xtask", "barebulb"] {
                let Some(rest) = typed
                    .strip_prefix(first)
                    .filter(|rest| rest.starts_with(' '))
                else {
                    continue;
                };
                let second = rest.split_whitespace().next().unwrap_or_default();
                if !second.is_empty() && second.chars().all(|c| c.is_ascii_lowercase() || c == '-')
                {
                    found.push((first.to_owned(), second.to_owned()));
                }
            }
        }
    }
    found
}

/// Where `docs/dependencies.md` differs from what is in force, and what no crate uses.
fn dependency_problems(root: &Path) -> Result<Vec<String>> {
    let read = |path: &str| {
        std::fs::read_to_string(root.join(path)).with_context(|| format!("could not read {path}"))
    };
    let manifest = read("Cargo.toml")?;
    let page = read("docs/dependencies.md")?;
    let libraries = read("checks/requirements.txt")?;
    let ours_and_others = workspace_dependencies(&manifest);
    let mut in_force: BTreeSet<&str> = python_libraries(&libraries);
    in_force.extend(&ours_and_others);
    let listed = listed(&page);
    let mut problems: Vec<String> = in_force
        .difference(&listed)
        .map(|name| format!("docs/dependencies.md has no line for `{name}`"))
        .collect();
    problems.extend(
        listed
            .difference(&in_force)
            .map(|name| format!("docs/dependencies.md has a line for `{name}`, which nobody uses")),
    );
    let metadata = source::metadata(root, &["--no-deps"])?;
    let empty = Vec::new();
    let used: BTreeSet<&str> = metadata["packages"]
        .as_array()
        .unwrap_or(&empty)
        .iter()
        .flat_map(|package| package["dependencies"].as_array().unwrap_or(&empty))
        .filter_map(|dependency| dependency["name"].as_str())
        .collect();
    problems.extend(
        ours_and_others
            .difference(&used)
            .map(|name| format!("Cargo.toml lists `{name}`, which no crate imports")),
    );
    Ok(problems)
}

/// The names under `[workspace.dependencies]` that are not our own crates.
fn workspace_dependencies(manifest: &str) -> BTreeSet<&str> {
    manifest
        .lines()
        .skip_while(|line| line.trim() != "[workspace.dependencies]")
        .skip(1)
        .take_while(|line| !line.starts_with('['))
        .filter(|line| !line.contains("path ="))
        .filter_map(|line| line.split_once('='))
        .map(|(name, _)| name.trim())
        .filter(|name| !name.starts_with('#'))
        .collect()
}

fn python_libraries(requirements: &str) -> BTreeSet<&str> {
    requirements
        .lines()
        .filter(|line| !line.starts_with('#'))
        .filter_map(|line| line.split_once("=="))
        .map(|(name, _)| name.trim())
        .collect()
}

/// The names in the first column of the page's tables: `` | `name` | … ``.
fn listed(page: &str) -> BTreeSet<&str> {
    page.lines()
        .filter_map(|line| line.strip_prefix("| `"))
        .filter_map(|rest| rest.split('`').next())
        .collect()
}

fn shown(path: &Path) -> String {
    path.to_string_lossy().replace('\\', "/")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn this_projects_documents_are_right() {
        assert_eq!(
            problems(&crate::root(), None).unwrap(),
            Vec::<String>::new()
        );
    }

    #[test]
    fn links_outside_code() {
        let text = "See [a](b.md \"t\") and `[c](d)`; ![p](e.png)\n```\n[f](g)\n```\n\
                    <img src=\"h.svg\" alt=\"\">";
        assert_eq!(links(text), ["b.md", "e.png", "h.svg"]);
    }

    #[test]
    fn dead_links_are_told_from_live_ones() {
        let root = crate::root();
        let files = [PathBuf::from("checks/README.md"), "Cargo.toml".into()];
        let from = Path::new("checks/README.md");
        let dead = |link| dead(&root, from, &files, link).is_some();
        assert!(!dead("../Cargo.toml") && !dead("..") && !dead("#checks"));
        assert!(!dead("https://example.org/x"));
        assert!(dead("Cargo.toml") && dead("#no-such-heading"));
    }

    #[test]
    fn headings_become_anchors() {
        let names = headings("# A check, really\n```\n# not one\n```\n## `x_y` & z\n");
        let want = ["a-check-really", "x_y--z"].map(String::from);
        assert_eq!(names, BTreeSet::from(want));
    }

    #[test]
    fn commands_in_blocks_and_in_lines() {
        let text = "Type `barebulb listen FILE` or `barebulb`.\n```sh\n$ cargo xtask demo\n\
                    barebulb DIR\n```\n";
        let found: Vec<String> = commands(text)
            .into_iter()
            .map(|(first, second)| format!("{first} {second}"))
            .collect();
        assert_eq!(found, ["barebulb listen", "cargo xtask demo"]);
    }

    #[test]
    fn names_of_what_is_listed() {
        let manifest = "[workspace.dependencies]\n# x = 1\nours = { path = \"crates/ours\" }\n\
                        serde = { version = \"1\" }\n\n[workspace.lints]\nrust = 1\n";
        assert_eq!(workspace_dependencies(manifest), BTreeSet::from(["serde"]));
        assert_eq!(
            listed("| name | for |\n|---|---|\n| `serde` | x |\n"),
            BTreeSet::from(["serde"])
        );
        assert_eq!(
            python_libraries("# a==b\nnumpy==2; python_version < \"3\"\n"),
            BTreeSet::from(["numpy"])
        );
    }

    #[test]
    fn tell_tales_are_found() {
        let text = format!("see {}{}/foo", "py", "pi.org");
        assert_eq!(tell_tales(text.as_bytes()).count(), 1);
        assert_eq!(tell_tales(b"nothing of the kind").count(), 0);
    }
}
