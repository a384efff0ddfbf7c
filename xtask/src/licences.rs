//! The licences of everything that is linked in, against a list of those that go with
//! `MIT OR Apache-2.0`.
//!
//! It believes what each package declares; it does not read licence texts.

use std::path::Path;
use std::process::Command;

use anyhow::{Context, Result};

use crate::source;

/// Licences that ask for no more than a notice, or, as MPL-2.0, for the source of their own files
/// only.
const GOOD: [&str; 14] = [
    "0BSD",
    "Apache-2.0",
    "Apache-2.0 WITH LLVM-exception",
    "BSD-2-Clause",
    "BSD-3-Clause",
    "BSL-1.0",
    "CC0-1.0",
    "ISC",
    "MIT",
    "MIT-0",
    "MPL-2.0",
    "Unicode-3.0",
    "Unlicense",
    "Zlib",
];

/// Each package on this system whose licence is not a good one, in a sentence.
///
/// # Errors
/// When cargo does not tell the packages.
pub fn problems(root: &Path) -> Result<Vec<String>> {
    let host = host()?;
    let metadata = source::metadata(root, &["--filter-platform", &host])?;
    let empty = Vec::new();
    let packages = metadata["packages"].as_array().unwrap_or(&empty);
    Ok(packages
        .iter()
        .filter_map(|package| {
            let name = package["name"].as_str().unwrap_or_default();
            match package["license"].as_str() {
                Some(licence) if is_good(licence) => None,
                Some(licence) => Some(format!("`{name}` is under {licence}")),
                None => Some(format!("`{name}` declares no licence")),
            }
        })
        .collect())
}

/// The system that rustc builds for, such as `x86_64-unknown-linux-gnu`.
fn host() -> Result<String> {
    let output = Command::new("rustc")
        .arg("-vV")
        .output()
        .context("could not start rustc")?;
    String::from_utf8_lossy(&output.stdout)
        .lines()
        .find_map(|line| line.strip_prefix("host: ").map(String::from))
        .context("rustc -vV tells no host")
}

/// Whether a licence expression can be kept by keeping good licences alone.
fn is_good(expression: &str) -> bool {
    // Old packages write `MIT/Apache-2.0` for a choice.
    let spaced = expression
        .replace('/', " OR ")
        .replace('(', " ( ")
        .replace(')', " ) ");
    let words: Vec<&str> = spaced.split_whitespace().collect();
    let mut rest = words.as_slice();
    any_of(&mut rest) && rest.is_empty()
}

fn any_of(words: &mut &[&str]) -> bool {
    let mut good = all_of(words);
    while let ["OR", rest @ ..] = *words {
        *words = rest;
        good |= all_of(words);
    }
    good
}

fn all_of(words: &mut &[&str]) -> bool {
    let mut good = one(words);
    while let ["AND", rest @ ..] = *words {
        *words = rest;
        good &= one(words);
    }
    good
}

fn one(words: &mut &[&str]) -> bool {
    match *words {
        ["(", rest @ ..] => {
            *words = rest;
            let good = any_of(words);
            if let [")", rest @ ..] = *words {
                *words = rest;
                return good;
            }
            false
        }
        [name, "WITH", exception, rest @ ..] => {
            *words = rest;
            GOOD.contains(&format!("{name} WITH {exception}").as_str()) || GOOD.contains(name)
        }
        [name, rest @ ..] => {
            *words = rest;
            GOOD.contains(name)
        }
        [] => false,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn expressions() {
        let cases = [
            ("MIT", true),
            ("MIT/Apache-2.0", true),
            ("GPL-3.0-only", false),
            ("GPL-3.0-only OR MIT", true),
            ("GPL-3.0-only AND MIT", false),
            ("(MIT OR Apache-2.0) AND Unicode-3.0", true),
            ("(MIT OR Apache-2.0) AND LGPL-3.0", false),
            ("Apache-2.0 WITH LLVM-exception OR MIT", true),
            ("MIT AND (GPL-2.0", false),
            ("", false),
        ];
        for (expression, want) in cases {
            assert_eq!(is_good(expression), want, "{expression}");
        }
    }

    #[test]
    fn this_project_links_nothing_else() {
        assert_eq!(problems(&crate::root()).unwrap(), Vec::<String>::new());
    }
}
