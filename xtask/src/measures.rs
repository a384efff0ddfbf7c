//! How large the house is: product lines, long functions, circles of files, dependencies that
//! nobody uses; and the ceilings that hold them.
//!
//! A product line is any line, blank and comment too, of a Rust file under `crates/*/src` or
//! `xtask/src`, as `wc -l` counts it, except what stands under `#[cfg(test)]` (from the attribute to
//! the end of what it is about, and whole files that only tests see), and except the crate `demo`,
//! which the program could do without, and `fuzz`, which is a test.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

use anyhow::{Context, Result, bail};

use crate::modules::{self, Graph};
use crate::source::{self, Token};

/// A function longer than this many lines, from `fn` to its closing brace, is a long one.
const LONG: usize = 80;

/// What must not grow. A ceiling is only ever lowered, but for what is new: `tidy` says when it can be.
///
/// The house alone came to 82,325 product lines; what reads foreign files, holds ffmpeg and mends damage came after.
///
/// Counted in this way, commit 809ca6d had 84,793 product lines, 86 long functions, 16 circles and 14
/// arrows back up.
const CEILINGS: Ceilings = Ceilings {
    product_lines: 83_778,
    long_functions: 3,
    circles: 3,
    back_up: 0,
};

/// Where the ceilings are to come to.
const TARGETS: Ceilings = Ceilings {
    product_lines: 78_800,
    long_functions: 15,
    circles: 3,
    back_up: 0,
};

/// One number for each measure that is held.
struct Ceilings {
    product_lines: usize,
    long_functions: usize,
    circles: usize,
    back_up: usize,
}

/// A Rust file of a crate, with what is for tests alone known.
pub struct RustFile {
    /// From the root of the checkout, with `/`.
    pub path: String,
    /// Its crate.
    pub package: String,
    /// Its path below the crate's `src/`; `None` for tests, examples and benches.
    pub in_source: Option<String>,
    /// Its text without comments and literals.
    pub blanked: String,
    /// Lines of text.
    pub lines: usize,
    /// Whether only tests see it.
    pub for_tests: bool,
}

/// A function that is longer than it should be.
struct LongFunction {
    lines: usize,
    name: String,
    place: String,
}

/// What was measured.
pub struct Measures {
    lines: BTreeMap<String, usize>,
    long: Vec<LongFunction>,
    circles: Vec<String>,
    back_up: Vec<String>,
}

/// Which measure is over its ceiling, one sentence each.
///
/// # Errors
/// When the project cannot be read.
pub fn problems(root: &Path) -> Result<Vec<String>> {
    Ok(Measures::taken(root)?.problems())
}

/// The Rust files of all crates.
///
/// # Errors
/// When the project cannot be read, or has no such file.
pub fn rust_files(root: &Path) -> Result<Vec<RustFile>> {
    let mut found = Vec::new();
    let mut test_modules = Vec::new();
    for file in source::files(root)? {
        let path = file.to_string_lossy().replace('\\', "/");
        let Some((package, rest)) = in_package(&path).filter(|_| path.ends_with(".rs")) else {
            continue;
        };
        let text = std::fs::read_to_string(root.join(&file))
            .with_context(|| format!("could not read {path}"))?;
        let blanked = source::without_comments(&text);
        for module in source::test_modules(&blanked) {
            test_modules.push(source::module_path(&path, module));
        }
        found.push(RustFile {
            package: package.to_owned(),
            in_source: rest.strip_prefix("src/").map(String::from),
            lines: text.lines().count(),
            blanked,
            for_tests: false,
            path,
        });
    }
    if found.is_empty() {
        bail!("{} holds no crate with a Rust file", root.display());
    }
    for file in &mut found {
        // `a/b.rs` and all of `a/b/` belong to the module `a/b`.
        file.for_tests = test_modules.iter().any(|module| {
            file.path
                .strip_prefix(module.as_str())
                .is_some_and(|rest| rest.starts_with(['.', '/']))
        });
    }
    Ok(found)
}

/// The crate that a path lies in, and the path below it.
fn in_package(path: &str) -> Option<(&str, &str)> {
    match path.strip_prefix("crates/") {
        Some(rest) => rest.split_once('/'),
        None => ["xtask", "fuzz"].into_iter().find_map(|own| {
            let rest = path.strip_prefix(own)?.strip_prefix('/')?;
            Some((own, rest))
        }),
    }
}

impl Measures {
    /// Measures the project.
    ///
    /// # Errors
    /// When it cannot be read.
    pub fn taken(root: &Path) -> Result<Measures> {
        let pages = std::fs::read_to_string(root.join("docs/pages.md"))
            .context("could not read docs/pages.md")?;
        Ok(Measures::of(&rust_files(root)?, &pages))
    }

    /// Measures the files.
    ///
    /// `pages` is the document of the pages, which names their layers.
    fn of(files: &[RustFile], pages: &str) -> Measures {
        let mut measures = Measures {
            lines: BTreeMap::new(),
            long: Vec::new(),
            circles: Vec::new(),
            back_up: Vec::new(),
        };
        let mut crates: BTreeMap<&str, Vec<(String, String)>> = BTreeMap::new();
        for file in files {
            let (Some(below), false) = (&file.in_source, file.for_tests) else {
                continue;
            };
            if !matches!(file.package.as_str(), "demo" | "fuzz") {
                let for_tests = source::test_lines(&file.blanked).len();
                *measures.lines.entry(file.package.clone()).or_default() += file.lines - for_tests;
            }
            measures.long.extend(long_functions(file));
            crates
                .entry(&file.package)
                .or_default()
                .push((below.clone(), file.blanked.clone()));
        }
        measures
            .long
            .sort_by_key(|function| std::cmp::Reverse(function.lines));
        for (name, files) in crates {
            let graph = modules::graph(&files);
            let circles = graph.circles();
            measures.circles.extend(
                circles
                    .iter()
                    .map(|circle| format!("{name}: {}", circle.join(", "))),
            );
            if name == "pages" {
                measures.back_up = back_up(&graph, &layers(pages));
            }
        }
        measures
    }

    /// What is over its ceiling, one sentence each.
    fn problems(&self) -> Vec<String> {
        self.held()
            .into_iter()
            .filter(|(_, found, ceiling, _)| found > ceiling)
            .map(|(what, found, ceiling, _)| {
                format!("{what}: {found} are more than the {ceiling} that were reached before")
            })
            .collect()
    }

    /// Name, figure, ceiling and target of each measure that is held.
    fn held(&self) -> [(&'static str, usize, usize, usize); 4] {
        let lines = self.lines.values().sum();
        let (now, then) = (&CEILINGS, &TARGETS);
        [
            (
                "product lines",
                lines,
                now.product_lines,
                then.product_lines,
            ),
            (
                "functions over 80 lines",
                self.long.len(),
                now.long_functions,
                then.long_functions,
            ),
            (
                "circles of files inside a crate",
                self.circles.len(),
                now.circles,
                then.circles,
            ),
            (
                "arrows inside `pages` that go back up",
                self.back_up.len(),
                now.back_up,
                then.back_up,
            ),
        ]
    }

    /// Prints every figure; with `long`, what each counts as well.
    pub fn print(&self, long: bool) {
        for (what, found, ceiling, target) in self.held() {
            println!("{what}: {found} (ceiling {ceiling}, to become at most {target})");
            if found < ceiling {
                println!("  the ceiling in xtask/src/measures.rs can come down to {found}");
            }
        }
        let per_crate: Vec<String> = self
            .lines
            .iter()
            .map(|(name, lines)| format!("{name} {lines}"))
            .collect();
        println!("product lines by crate: {}", per_crate.join(", "));
        if !long {
            return;
        }
        for function in &self.long {
            println!(
                "{:4} lines  {}  {}",
                function.lines, function.name, function.place
            );
        }
        for circle in &self.circles {
            println!("circle in {circle}");
        }
        for arrow in &self.back_up {
            println!("back up: {arrow}");
        }
    }
}

/// The functions of a file that are too long, tests aside.
fn long_functions(file: &RustFile) -> Vec<LongFunction> {
    let tokens = source::tokens(&file.blanked);
    let starts = tokens.windows(2).enumerate().filter(|(_, pair)| {
        // `fn(…)` is a type.
        pair[0].0 == "fn" && pair[1].0 != "("
    });
    starts
        .filter_map(|(at, pair)| {
            let lines = tokens[body_end(&tokens, at)?].1 + 1 - pair[0].1;
            (lines > LONG).then(|| LongFunction {
                lines,
                name: pair[1].0.to_owned(),
                place: format!("{}:{}", file.path, pair[0].1),
            })
        })
        .collect()
}

/// Where the body of a function that begins at `from` closes; `None` when it has none.
fn body_end(tokens: &[Token<'_>], from: usize) -> Option<usize> {
    let mut depth = 0usize;
    let mut in_body = false;
    for (at, (token, _)) in tokens.iter().enumerate().skip(from) {
        match *token {
            ";" if depth == 0 => return None,
            "{" | "(" | "[" => {
                in_body |= depth == 0 && *token == "{";
                depth += 1;
            }
            "}" | ")" | "]" => {
                depth = depth.checked_sub(1)?;
                if depth == 0 && in_body {
                    return Some(at);
                }
            }
            _ => {}
        }
    }
    None
}

/// The layers of `pages`, the lowest first, as the table under "Layers" of its document names them.
fn layers(document: &str) -> Vec<BTreeSet<&str>> {
    document
        .lines()
        .skip_while(|line| *line != "## Layers")
        .skip(1)
        .take_while(|line| !line.starts_with('#'))
        .filter_map(|line| line.strip_prefix("| ")?.split('|').nth(1))
        .map(|names| names.split('`').skip(1).step_by(2).collect())
        .filter(|names: &BTreeSet<&str>| !names.is_empty())
        .collect()
}

/// The arrows inside `pages` that lead to the same layer or a higher one, but not within a folder,
/// and the files without a layer. The crate's root stands above all.
fn back_up(graph: &Graph, layers: &[BTreeSet<&str>]) -> Vec<String> {
    let module = |file: usize| {
        graph.files[file]
            .split(['/', '.'])
            .next()
            .unwrap_or_default()
    };
    let layer = |file: usize| match module(file) {
        "lib" => Some(layers.len()),
        name => layers.iter().position(|layer| layer.contains(name)),
    };
    let mut found: BTreeSet<String> = (0..graph.files.len())
        .filter(|&file| layer(file).is_none())
        .map(|file| format!("{} has no row under Layers in docs/pages.md", module(file)))
        .collect();
    for (from, others) in graph.leans_on.iter().enumerate() {
        let up = others
            .iter()
            .filter(|&&to| module(from) != module(to) && layer(from) <= layer(to));
        found.extend(up.map(|&to| format!("{} leans on {}", graph.files[from], graph.files[to])));
    }
    found.into_iter().collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn file(text: &str) -> RustFile {
        RustFile {
            path: "crates/a/src/lib.rs".to_owned(),
            package: "a".to_owned(),
            in_source: Some("lib.rs".to_owned()),
            blanked: source::without_comments(text),
            lines: text.lines().count(),
            for_tests: false,
        }
    }

    #[test]
    fn lines_for_tests_are_no_product() {
        let text = "//! x\n\nfn f() {}\n#[cfg(test)]\nmod tests {\n}\n";
        let measures = Measures::of(&[file(text)], "");
        assert_eq!(measures.lines["a"], 3);
    }

    #[test]
    fn a_long_function_is_one_of_more_than_80_lines() {
        let body = |lines: usize| format!("fn f() -> [u8; 2] {{\n{}}}\n", "g();\n".repeat(lines));
        assert!(long_functions(&file(&body(78))).is_empty());
        let long = long_functions(&file(&format!("type T = fn(u8);\n{}", body(79))));
        assert_eq!(
            (long[0].lines, long[0].place.as_str()),
            (81, "crates/a/src/lib.rs:2")
        );
    }

    #[test]
    fn arrows_up_and_files_without_a_layer_are_found() {
        let document = "## Layers\n\n| row | modules | give |\n|---|---|---|\n| 1 | `low`, `by` | x |\n\
                        | 2 | `high` | y |\n\n## More\n| 3 | `z` | z |\n";
        let layers = layers(document);
        assert_eq!(layers.len(), 2);
        let files = [
            ("lib.rs", "use crate::high::H;"),
            ("low.rs", "use crate::high::H; pub struct L;"),
            ("by.rs", "use crate::low::L;"),
            ("high/mod.rs", "use crate::low::L; pub struct H;"),
            ("high/part.rs", "use super::H;"),
            ("new.rs", ""),
        ]
        .map(|(file, text)| (file.to_owned(), text.to_owned()));
        assert_eq!(
            back_up(&modules::graph(&files), &layers),
            [
                "by.rs leans on low.rs",
                "low.rs leans on high/mod.rs",
                "new has no row under Layers in docs/pages.md",
            ]
        );
    }

    #[test]
    fn what_is_over_its_ceiling_is_told() {
        let mut measures = Measures::of(&[file("fn f() {}")], "");
        assert_eq!(measures.problems(), Vec::<String>::new());
        measures
            .lines
            .insert("b".to_owned(), CEILINGS.product_lines);
        assert_eq!(measures.problems().len(), 1);
    }
}
