//! The architecture as a test: who may import whom, a head on every module, and crafts that touch
//! nothing outside; and `cargo xtask tidy`, which runs this and the other rules that need no
//! build.
//!
//! The map itself, with the reasons, stands in `docs/architecture.md`.

use std::path::Path;

use anyhow::{Context, Result};
use serde_json::Value;

use crate::measures::{self, Measures};
use crate::source::{self, Token};
use crate::{dependencies, documents, licences};

/// Which crates of ours a crate may import, for building and for its tests alike. A crate that is
/// not listed here fails, so that every new one gets its row.
const MAY_IMPORT: [(&str, &[&str]); 25] = [
    ("model", &[]),
    ("whole", &[]),
    ("store", &["model", "whole"]),
    ("media", &["model", "whole"]),
    ("listen", &["model"]),
    ("sync", &["model"]),
    ("coverage", &["model"]),
    ("assemble", &["model"]),
    ("timeline", &["model"]),
    ("scout", &["model"]),
    ("schedule", &["model"]),
    ("exposure", &["model"]),
    ("playback", &["model"]),
    ("pocket", &["model"]),
    ("power", &["model"]),
    ("kit", &["model"]),
    ("cautions", &["model"]),
    ("sky", &["model"]),
    (
        "charts",
        &[
            "model", "listen", "coverage", "exposure", "power", "schedule", "sky",
        ],
    ),
    (
        "steps",
        &[
            "model", "store", "media", "listen", "sync", "coverage", "assemble", "timeline",
            "charts", "exposure", "playback", "pocket", "power", "kit", "cautions", "sky", "scout",
            "schedule", "whole",
        ],
    ),
    ("demo", &["model", "media"]),
    (
        "pages",
        &[
            "model", "store", "media", "listen", "sync", "coverage", "assemble", "timeline",
            "exposure", "playback", "pocket", "power", "kit", "cautions", "sky", "scout",
            "schedule", "charts", "steps", "whole",
        ],
    ),
    (
        "barebulb",
        &[
            "model", "store", "media", "listen", "sync", "coverage", "assemble", "timeline",
            "exposure", "playback", "pocket", "power", "kit", "cautions", "sky", "scout",
            "schedule", "steps", "demo", "pages",
        ],
    ),
    (
        "fuzz",
        &["media", "model", "pages", "pocket", "schedule", "steps"],
    ),
    ("xtask", &[]),
];

/// The crates that are functions from values to values.
const PURE: [&str; 16] = [
    "model", "listen", "sync", "coverage", "assemble", "timeline", "exposure", "playback",
    "pocket", "power", "kit", "cautions", "sky", "scout", "schedule", "charts",
];

/// What a pure crate may not name, as tokens, and what to do instead.
const BARRED: [(&[&str], &str); 16] = [
    (
        &["std", "::", "fs"],
        "take the bytes or values as an argument",
    ),
    (&["std", "::", "env"], "take the setting as an argument"),
    (&["std", "::", "net"], "leave the network to the shells"),
    (&["std", "::", "process"], "leave programs to `media`"),
    (
        &["File", "::", "open"],
        "take the bytes or values as an argument",
    ),
    (&["SystemTime", "::", "now"], "take the time as an argument"),
    (
        &["Instant", "::", "now"],
        "take a limit in steps, not in time",
    ),
    (&["println", "!"], "return a note"),
    (&["print", "!"], "return a note"),
    (&["eprintln", "!"], "return a note"),
    (&["eprint", "!"], "return a note"),
    (&["stdin", "("], "take the text as an argument"),
    (&["stdout", "("], "return a note"),
    (&["thread_rng", "("], "take a seed"),
    (&["from_entropy", "("], "take a seed"),
    (&["OsRng"], "take a seed"),
];

/// Gives what is wrong, one sentence each.
type Rule = fn(&Path) -> Result<Vec<String>>;

/// The rules that need no build, by name; those of the documents are asked apart, since with a
/// build they ask more.
pub const RULES: [(&str, Rule); 4] = [
    ("architecture", problems),
    ("licences", licences::problems),
    ("dependencies", dependencies::problems),
    ("size", measures::problems),
];

/// `cargo xtask tidy [--long]`.
///
/// # Errors
/// When the project cannot be read.
pub fn command(long: bool) -> Result<bool> {
    let root = crate::root();
    let mut good = true;
    let documents: Rule = |root| documents::problems(root, None);
    for (name, rule) in RULES.into_iter().chain([("documents", documents)]) {
        let problems = rule(&root)?;
        let judgement = if problems.is_empty() {
            "good"
        } else {
            "not so"
        };
        println!("{name}: {judgement}");
        for problem in &problems {
            println!("  {problem}");
        }
        good &= problems.is_empty();
    }
    Measures::taken(&root)?.print(long);
    Ok(good)
}

/// Where the architecture is not kept, one sentence each.
///
/// # Errors
/// When the project cannot be read.
pub fn problems(root: &Path) -> Result<Vec<String>> {
    let mut problems = import_problems(&source::metadata(root, &["--no-deps"])?);
    let mut pure = Vec::new();
    let mut for_tests = Vec::new();
    for file in source::files(root)? {
        if file.extension().is_none_or(|ending| ending != "rs") {
            continue;
        }
        let path = file.to_string_lossy().replace('\\', "/");
        let text = std::fs::read_to_string(root.join(&file))
            .with_context(|| format!("could not read {path}"))?;
        if !text.starts_with("//!") {
            problems.push(format!(
                "{path} does not open with `//!`: say what the module gives and what it does not"
            ));
        }
        let blanked = source::without_comments(&text);
        if path.contains("/src/") && source::stand_in(&blanked, &["#", "[", "path", "="]) {
            problems.push(format!(
                "{path} names the path of a module: let it lie where its name says"
            ));
        }
        if PURE
            .iter()
            .any(|name| path.starts_with(&format!("crates/{name}/src/")))
        {
            for module in source::test_modules(&blanked) {
                for_tests.push(source::module_path(&path, module));
            }
            pure.push((path, blanked));
        }
    }
    for (path, blanked) in pure {
        // `a/b.rs` and all of `a/b/` belong to the module `a/b`.
        let tested = |module: &String| {
            path.strip_prefix(module)
                .is_some_and(|rest| rest.starts_with(['.', '/']))
        };
        if !for_tests.iter().any(tested) {
            let found = barred(&blanked).into_iter();
            problems.extend(found.map(|(line, what)| format!("{path}:{line} {what}")));
        }
    }
    Ok(problems)
}

fn import_problems(metadata: &Value) -> Vec<String> {
    let empty = Vec::new();
    let packages = metadata["packages"].as_array().unwrap_or(&empty);
    let names: Vec<&str> = packages
        .iter()
        .filter_map(|package| package["name"].as_str())
        .collect();
    let mut problems = Vec::new();
    for package in packages {
        let name = package["name"].as_str().unwrap_or_default();
        let Some((_, allowed)) = MAY_IMPORT.iter().find(|(known, _)| *known == name) else {
            problems.push(format!(
                "the crate `{name}` has no row in MAY_IMPORT of xtask/src/tidy.rs"
            ));
            continue;
        };
        for dependency in package["dependencies"].as_array().unwrap_or(&empty) {
            let other = dependency["name"].as_str().unwrap_or_default();
            if names.contains(&other) && !allowed.contains(&other) {
                problems.push(format!("`{name}` may not import `{other}`"));
            }
        }
    }
    problems
}

/// What a pure crate's blanked source names that it may not: the line, and what to do instead.
fn barred(blanked: &str) -> Vec<(usize, String)> {
    let tokens = source::tokens(blanked);
    let mut found = Vec::new();
    for (at, &(_, line)) in tokens.iter().enumerate() {
        for (pattern, instead) in BARRED {
            if source::stands_at(&tokens, at, pattern) || in_group(&tokens, at, pattern) {
                found.push((line, format!("names `{}`: {instead}", pattern.concat())));
            }
        }
    }
    found
}

/// True when `use std::{…}` begins at `at` and its braces hold the pattern's last word.
fn in_group(tokens: &[Token<'_>], at: usize, pattern: &[&str]) -> bool {
    let ["std", "::", wanted] = pattern else {
        return false;
    };
    if !source::stands_at(tokens, at, &["std", "::", "{"]) {
        return false;
    }
    let mut depth = 1usize;
    let mut before = "{";
    for &(token, _) in &tokens[at + 3..] {
        if depth == 1 && token == *wanted && matches!(before, "{" | ",") {
            return true;
        }
        match token {
            "{" => depth += 1,
            "}" if depth == 1 => return false,
            "}" => depth -= 1,
            _ => {}
        }
        before = token;
    }
    false
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn this_project_keeps_it() {
        assert_eq!(problems(&crate::root()).unwrap(), Vec::<String>::new());
    }

    #[test]
    fn a_craft_that_imports_a_craft_is_found() {
        let metadata = serde_json::json!({"packages": [
            {"name": "sync", "dependencies": [{"name": "model"}, {"name": "listen"}, {"name": "rayon"}]},
            {"name": "listen", "dependencies": []},
            {"name": "model", "dependencies": []},
            {"name": "newcomer", "dependencies": []},
        ]});
        assert_eq!(
            import_problems(&metadata),
            [
                "`sync` may not import `listen`",
                "the crate `newcomer` has no row in MAY_IMPORT of xtask/src/tidy.rs",
            ]
        );
    }

    #[test]
    fn barred_names_are_found_and_others_left_alone() {
        let cases: [(&str, &[usize]); 8] = [
            ("fn f() {\n    std::fs::read(p);\n}", &[2]),
            ("use std::{\n io::Read, fs,\n};", &[1]),
            ("use std::{fmt::{self, env}, io};", &[]),
            ("fn f() { println!(\"x\") }", &[1]),
            ("let t = time::SystemTime :: now();", &[1]),
            ("// std::fs\nlet s = \"println!\"; my_println!();", &[]),
            (
                "#[cfg(test)]\nmod tests {\n fn f() { std::env::var(x); }\n}",
                &[],
            ),
            ("#[cfg(test)]\nuse a::b;\nfn f() { eprint!() }", &[3]),
        ];
        for (text, want) in cases {
            let blanked = source::without_comments(text);
            let found: Vec<usize> = barred(&blanked).into_iter().map(|(line, _)| line).collect();
            assert_eq!(found, want, "{text}");
        }
    }
}
