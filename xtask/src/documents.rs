//! The documents as a test: links lead somewhere, what they mention exists (see `mentions`), the list
//! of dependencies is the one in force, and no file tells a registry's address or a developer's folders.
//!
//! It does not judge what the documents say.

use std::collections::BTreeSet;
use std::path::{Component, Path, PathBuf};

use anyhow::{Context, Result};

use crate::mentions::House;
use crate::source;

/// What may stand in no file, in two halves so that it does not stand in this one either.
const NOWHERE: [(&str, &str); 11] = [
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
];

/// What is wrong with the documents, one sentence each. With `program`, the commands and options
/// of `barebulb` that they name are asked of it too.
///
/// # Errors
/// When the project cannot be read.
pub fn problems(root: &Path, program: Option<&Path>) -> Result<Vec<String>> {
    let files = source::files(root)?;
    let names: Vec<String> = files.iter().map(|file| shown(file)).collect();
    let house = House::new(root, &names, program)?;
    let mut problems = Vec::new();
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
        // The others tell of what was, or of what others made.
        if ["README.md", "CONTRIBUTING.md", "checks/README.md"].contains(&path.as_str())
            || path.starts_with("docs/")
        {
            let missing = house.missing(&text).into_iter();
            problems.extend(missing.map(|what| format!("{path}: {what}")));
        }
    }
    let terms = std::fs::read_to_string(root.join("docs/terms.md"))
        .context("could not read docs/terms.md")?;
    let twice = explained_twice(&terms).into_iter();
    problems.extend(twice.map(|word| format!("docs/terms.md explains `{word}` twice")));
    problems.extend(dependency_problems(root, &names)?);
    Ok(problems)
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

/// The words that more than one row of a table of terms explains.
fn explained_twice(terms: &str) -> Vec<&str> {
    let rows = terms.lines().filter_map(|line| line.strip_prefix("| "));
    let words = rows.filter_map(|row| row.split('|').next());
    let mut seen = BTreeSet::new();
    words
        .flat_map(|words| words.split([',', ':']))
        .map(str::trim)
        .filter(|word| !seen.insert(*word))
        .collect()
}

/// Where `docs/dependencies.md` differs from what is in force, and what no crate uses.
fn dependency_problems(root: &Path, files: &[String]) -> Result<Vec<String>> {
    let read = |path: &str| {
        std::fs::read_to_string(root.join(path)).with_context(|| format!("could not read {path}"))
    };
    let manifest = read("Cargo.toml")?;
    let page = read("docs/dependencies.md")?;
    let libraries = read("checks/requirements.txt")?;
    let ours_and_others = workspace_dependencies(&manifest);
    let mut in_force: BTreeSet<&str> = python_libraries(&libraries);
    in_force.extend(&ours_and_others);
    let lines = listed(&page);
    let listed: BTreeSet<&str> = lines.iter().copied().collect();
    let mut problems: Vec<String> = in_force
        .difference(&listed)
        .map(|name| format!("docs/dependencies.md has no line for `{name}`"))
        .collect();
    problems.extend(
        listed
            .difference(&in_force)
            .map(|name| format!("docs/dependencies.md has a line for `{name}`, which nobody uses")),
    );
    // What others wrote and is kept here.
    let kept = files
        .iter()
        .filter(|file| file.contains("/vendor/") && file.ends_with(".js"));
    let without = kept.filter(|file| {
        let name = file.rsplit('/').next().unwrap_or_default();
        !page.contains(&format!("`{name}`"))
    });
    problems.extend(without.map(|file| format!("docs/dependencies.md has no line for {file}")));
    let mut seen = BTreeSet::new();
    let twice = lines.iter().filter(|name| !seen.insert(**name));
    problems.extend(twice.map(|name| format!("docs/dependencies.md has two lines for `{name}`")));
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
fn listed(page: &str) -> Vec<&str> {
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
    fn names_of_what_is_listed() {
        let manifest = "[workspace.dependencies]\n# x = 1\nours = { path = \"crates/ours\" }\n\
                        serde = { version = \"1\" }\n\n[workspace.lints]\nrust = 1\n";
        assert_eq!(workspace_dependencies(manifest), BTreeSet::from(["serde"]));
        assert_eq!(
            listed("| name | for |\n|---|---|\n| `serde` | x |\n"),
            ["serde"]
        );
        assert_eq!(
            python_libraries("# a==b\nnumpy==2; python_version < \"3\"\n"),
            BTreeSet::from(["numpy"])
        );
    }

    #[test]
    fn a_word_is_explained_once() {
        let terms = "| word | means |\n|---|---|\n| strip, bound | x |\n| bar: beat, strip | y |\n";
        assert_eq!(explained_twice(terms), ["strip"]);
    }

    #[test]
    fn tell_tales_are_found() {
        let text = format!("see {}{}/foo", "py", "pi.org");
        assert_eq!(tell_tales(text.as_bytes()).count(), 1);
        assert_eq!(tell_tales(b"nothing of the kind").count(), 0);
    }
}
