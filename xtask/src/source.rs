//! The project's files as the rules read them: which there are, what cargo knows of the crates,
//! and Rust source as tokens without comments, literals and tests.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::process::Command;

use anyhow::{Context, Result, bail};
use serde_json::Value;

/// A word, number or sign of Rust source, and the line it stands on (from 1).
pub type Token<'a> = (&'a str, usize);

/// `#[cfg(test)]`, and where only some systems have the tests.
const TEST_ONLY: [&[&str]; 2] = [
    &["#", "[", "cfg", "(", "test", ")", "]"],
    &["#", "[", "cfg", "(", "all", "(", "test", ","],
];

/// The files of the checkout, tracked or about to be, relative to `root` and sorted; no build
/// output.
///
/// # Errors
/// When git does not answer and the folders cannot be read.
pub fn files(root: &Path) -> Result<Vec<PathBuf>> {
    let mut git = Command::new("git");
    git.args(["ls-files", "-z", "--cached", "--others"]);
    git.args(["--exclude-standard", "--deduplicate"]);
    let listed = git.current_dir(root).output().ok();
    let mut files: Vec<PathBuf> = match listed.filter(|output| output.status.success()) {
        Some(output) => String::from_utf8_lossy(&output.stdout)
            .split_terminator('\0')
            .map(PathBuf::from)
            .collect(),
        // A copy of the project without its history.
        None => walk(root)?,
    };
    // A file deleted but not yet committed is listed still.
    files.retain(|file| root.join(file).is_file());
    files.sort();
    Ok(files)
}

/// What `cargo metadata` tells.
///
/// # Errors
/// When cargo does not answer, with its own last line.
pub fn metadata(root: &Path, further: &[&str]) -> Result<Value> {
    let output = Command::new(crate::cargo())
        .args(["metadata", "--format-version", "1"])
        .args(further)
        .current_dir(root)
        .output()
        .context("could not start cargo")?;
    if !output.status.success() {
        let said = String::from_utf8_lossy(&output.stderr);
        bail!("cargo metadata failed: {}", said.trim());
    }
    serde_json::from_slice(&output.stdout).context("cargo metadata printed no JSON")
}

/// The text with comments, and the insides of text and character literals, blanked out; lines
/// stay where they are.
pub fn without_comments(text: &str) -> String {
    let chars: Vec<char> = text.chars().collect();
    let mut out = String::with_capacity(text.len());
    let mut at = 0;
    while at < chars.len() {
        let end = match chars[at] {
            '/' if chars.get(at + 1) == Some(&'/') => {
                find(&chars, at, |c| c == '\n').unwrap_or(chars.len())
            }
            '/' if chars.get(at + 1) == Some(&'*') => end_of_block_comment(&chars, at),
            '"' => end_of_text(&chars, at),
            'r' if !is_word(at.checked_sub(1).and_then(|before| chars.get(before))) => {
                end_of_raw_text(&chars, at).unwrap_or(at)
            }
            '\'' => end_of_char(&chars, at).unwrap_or(at),
            _ => at,
        };
        if end == at {
            out.push(chars[at]);
            at += 1;
            continue;
        }
        let blanked = chars[at..end].iter();
        out.extend(blanked.map(|&c| if c == '\n' { '\n' } else { ' ' }));
        at = end;
    }
    out
}

/// The tokens of blanked source, up to and without whatever stands under `#[cfg(test)]`.
pub fn tokens(blanked: &str) -> Vec<Token<'_>> {
    apart(blanked).0
}

/// Which lines of blanked source stand under `#[cfg(test)]`, the attribute's own included.
pub fn test_lines(blanked: &str) -> BTreeSet<usize> {
    apart(blanked)
        .1
        .into_iter()
        .flat_map(|(from, to)| from..=to)
        .collect()
}

/// The tokens outside what stands under `#[cfg(test)]`, and first and last line of each such part.
fn apart(blanked: &str) -> (Vec<Token<'_>>, Vec<(usize, usize)>) {
    let all = every_token(blanked);
    let mut kept = Vec::with_capacity(all.len());
    let mut parts = Vec::new();
    let mut at = 0;
    while at < all.len() {
        if let Some(attribute) = test_only_at(&all, at) {
            let end = end_of_item(&all, at + attribute);
            parts.push((all[at].1, all[end - 1].1));
            at = end;
        } else {
            kept.push(all[at]);
            at += 1;
        }
    }
    (kept, parts)
}

/// How many tokens the attribute has that begins at `at`, if it leaves the next item to tests.
fn test_only_at(tokens: &[Token<'_>], at: usize) -> Option<usize> {
    TEST_ONLY
        .iter()
        .any(|attribute| stands_at(tokens, at, attribute))
        .then(|| tokens[at..].iter().position(|(token, _)| *token == "]"))
        .flatten()
        .map(|closing| closing + 1)
}

/// The modules that blanked source names as `#[cfg(test)] mod NAME;`: files that only tests see.
pub fn test_modules(blanked: &str) -> Vec<&str> {
    let all = every_token(blanked);
    (0..all.len())
        .filter_map(|at| test_only_at(&all, at).map(|length| at + length))
        .filter(|&at| stands_at(&all, at, &["mod"]))
        .filter(|&at| all.get(at + 2).is_some_and(|(token, _)| *token == ";"))
        .map(|at| all[at + 1].0)
        .collect()
}

/// Where the module that `file` names lies, without an ending.
pub fn module_path(file: &str, module: &str) -> String {
    let (folder, name) = file.rsplit_once('/').unwrap_or(("", file));
    match name {
        "lib.rs" | "main.rs" | "mod.rs" => format!("{folder}/{module}"),
        _ => format!("{}/{module}", file.trim_end_matches(".rs")),
    }
}

/// True when blanked source reads `pattern` somewhere, in tests too.
pub fn stand_in(blanked: &str, pattern: &[&str]) -> bool {
    let all = every_token(blanked);
    (0..all.len()).any(|at| stands_at(&all, at, pattern))
}

/// True when the tokens from `at` on read `pattern`.
pub fn stands_at(tokens: &[Token<'_>], at: usize, pattern: &[&str]) -> bool {
    tokens.len() >= at + pattern.len()
        && pattern
            .iter()
            .zip(&tokens[at..])
            .all(|(want, (have, _))| want == have)
}

fn walk(root: &Path) -> Result<Vec<PathBuf>> {
    let left_out = [".git", ".venv", "target", "out"];
    let mut found = Vec::new();
    let mut folders = vec![PathBuf::new()];
    while let Some(folder) = folders.pop() {
        let place = root.join(&folder);
        let entries = std::fs::read_dir(&place)
            .with_context(|| format!("could not read {}", place.display()))?;
        for entry in entries {
            let entry = entry?;
            let path = folder.join(entry.file_name());
            if entry.file_type()?.is_file() {
                found.push(path);
            } else if entry.file_type()?.is_dir()
                && !left_out.iter().any(|name| entry.file_name() == *name)
            {
                folders.push(path);
            }
        }
    }
    Ok(found)
}

/// The tokens of blanked source, those for tests included.
pub fn every_token(text: &str) -> Vec<Token<'_>> {
    let mut tokens = Vec::new();
    for (number, line) in text.lines().enumerate() {
        let mut rest = line.trim_start();
        while let Some(first) = rest.chars().next() {
            let length = if is_word(Some(&first)) {
                rest.find(|c| !is_word(Some(&c))).unwrap_or(rest.len())
            } else if rest.starts_with("::") {
                2
            } else {
                first.len_utf8()
            };
            let (token, after) = rest.split_at(length);
            tokens.push((token, number + 1));
            rest = after.trim_start();
        }
    }
    tokens
}

/// Past the item that begins at `at`: past its first `;`, or past the braces it opens before one.
fn end_of_item(tokens: &[Token<'_>], at: usize) -> usize {
    let mut depth = 0usize;
    for (index, (token, _)) in tokens.iter().enumerate().skip(at) {
        match *token {
            "{" | "(" | "[" => depth += 1,
            "}" | ")" | "]" => {
                depth = depth.saturating_sub(1);
                if depth == 0 && *token == "}" {
                    return index + 1;
                }
            }
            ";" if depth == 0 => return index + 1,
            _ => {}
        }
    }
    tokens.len()
}

fn is_word(c: Option<&char>) -> bool {
    c.is_some_and(|c| c.is_alphanumeric() || *c == '_')
}

fn find(chars: &[char], from: usize, wanted: impl Fn(char) -> bool) -> Option<usize> {
    (from..chars.len()).find(|&index| wanted(chars[index]))
}

fn end_of_block_comment(chars: &[char], at: usize) -> usize {
    let mut depth = 0usize;
    let mut index = at;
    while index + 1 < chars.len() {
        match (chars[index], chars[index + 1]) {
            ('/', '*') => {
                depth += 1;
                index += 2;
            }
            ('*', '/') => {
                depth -= 1;
                index += 2;
                if depth == 0 {
                    return index;
                }
            }
            _ => index += 1,
        }
    }
    chars.len()
}

fn end_of_text(chars: &[char], at: usize) -> usize {
    let mut index = at + 1;
    while index < chars.len() {
        match chars[index] {
            '\\' => index += 2,
            '"' => return index + 1,
            _ => index += 1,
        }
    }
    chars.len()
}

/// Past `r"…"` or `r#"…"#`; `None` when no raw text begins here.
fn end_of_raw_text(chars: &[char], at: usize) -> Option<usize> {
    let quote = find(chars, at + 1, |c| c != '#')?;
    if chars[quote] != '"' {
        return None;
    }
    let hashes = quote - at - 1;
    let closes = |index: usize| {
        chars[index] == '"'
            && chars.len() > index + hashes
            && chars[index + 1..=index + hashes].iter().all(|&c| c == '#')
    };
    (quote + 1..chars.len())
        .find(|&index| closes(index))
        .map(|index| index + hashes + 1)
}

/// Past a character literal; `None` for a lifetime.
fn end_of_char(chars: &[char], at: usize) -> Option<usize> {
    match (chars.get(at + 1)?, chars.get(at + 2)) {
        // What is escaped may itself be a quote.
        ('\\', Some(_)) => find(chars, at + 3, |c| c == '\'').map(|end| end + 1),
        (_, Some('\'')) => Some(at + 3),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn comments_and_literals_are_blanked() {
        let cases = [
            ("a // b\nc", "a     \nc"),
            ("a /* b /* c */ d */ e", "a                   e"),
            (r#"f("x // \" y") + 1"#, "f(           ) + 1"),
            (r##"f(r#"x " y"#)"##, "f(          )"),
            (r"('\'', 'x', &'a str)", "(    ,    , &'a str)"),
            ("for r in x", "for r in x"),
        ];
        for (text, want) in cases {
            assert_eq!(without_comments(text), want, "{text}");
        }
    }

    #[test]
    fn what_is_for_tests_only_is_left_out() {
        let text = "use a::b;\n#[cfg(test)]\nmod tests {\n fn f() { g(); }\n}\n\
                    #[cfg(test)]\nuse c::d;\nfn last() {}";
        let kept: Vec<&str> = tokens(text).into_iter().map(|(token, _)| token).collect();
        assert_eq!(
            kept,
            ["use", "a", "::", "b", ";", "fn", "last", "(", ")", "{", "}"]
        );
    }

    #[test]
    fn files_for_tests_are_known() {
        let text = "#[cfg(test)]\nmod cases;\nmod other;\n#[cfg(test)]\nmod tests { mod x; }\n\
                    #[cfg(all(test, unix))]\nmod here;";
        assert_eq!(test_modules(text), ["cases", "here"]);
    }

    #[test]
    fn lines_for_tests_are_told_from_the_others() {
        let text =
            "use a;\n#[cfg(test)]\nuse b;\nfn f() {}\n#[cfg(test)]\nmod t {\n fn g() {}\n}\n";
        assert_eq!(Vec::from_iter(test_lines(text)), [2, 3, 5, 6, 7, 8]);
    }

    #[test]
    fn modules_lie_where_rust_looks_for_them() {
        assert_eq!(module_path("crates/a/src/lib.rs", "m"), "crates/a/src/m");
        assert_eq!(module_path("crates/a/src/b.rs", "m"), "crates/a/src/b/m");
    }

    #[test]
    fn tokens_know_their_line() {
        assert_eq!(
            tokens("a\n  b::c"),
            [("a", 1), ("b", 2), ("::", 2), ("c", 2)]
        );
    }
}
