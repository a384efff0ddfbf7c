//! Which file of a crate leans on which: read from the paths that its source names, so that
//! circles among them can be counted.
//!
//! A file is a module. It leans on the module in which what it names is *defined*: a name that is
//! only passed on (`pub use`) leads to where it comes from, and passing on is no leaning. A module
//! does not lean on the modules below it, which are its parts; they may lean on it. Names from a
//! glob lead to the module that the glob names. Tests are not looked at.

use std::collections::{BTreeMap, BTreeSet};

use crate::source::{self, Token};

/// A module by its names from the crate's root on; the root itself has none.
type Path = Vec<String>;

/// Words after which a path may begin with `::`.
const KEYWORDS: [&str; 6] = ["use", "as", "mut", "dyn", "in", "return"];

/// How far a name is followed through modules that pass it on; only a circle of those is longer.
const MOST_HOPS: usize = 16;

/// The files of a crate and what each leans on, by their places in `files`.
pub struct Graph {
    /// The files, as they were given.
    pub files: Vec<String>,
    /// For each file the others it leans on.
    pub leans_on: Vec<BTreeSet<usize>>,
    /// The first names of paths that lead out of the crate: other crates, and names of the language.
    pub outside: BTreeSet<String>,
}

/// What a file says, as far as it matters here.
#[derive(Default)]
struct Module {
    /// What it names, with the names of the modules inside the file around it.
    named: Vec<Path>,
    /// Names that it brings in or passes on, and what they stand for.
    brings: BTreeMap<String, Path>,
    /// Modules of which it passes everything on.
    passes_all: Vec<Path>,
    /// Names that it defines itself.
    defines: BTreeSet<String>,
    /// First names of paths that lead out of the crate.
    outside: BTreeSet<String>,
}

/// Reads the graph of one crate from its files: their paths below `src/` and their blanked source.
pub fn graph(files: &[(String, String)]) -> Graph {
    let paths: Vec<Path> = files.iter().map(|(file, _)| module_of(file)).collect();
    let at: BTreeMap<&Path, usize> = paths.iter().zip(0..).collect();
    let modules: Vec<Module> = files
        .iter()
        .zip(&paths)
        .map(|((_, blanked), path)| read(blanked, path, &at))
        .collect();
    let leans_on = modules
        .iter()
        .enumerate()
        .map(|(own, module)| {
            let ends = module.named.iter();
            let mut others: BTreeSet<usize> = ends
                .filter_map(|path| end(path, &at, &modules, MOST_HOPS))
                .collect();
            // What lies below a module is a part of it.
            others.retain(|&to| !paths[to].starts_with(&paths[own]));
            others
        })
        .collect();
    Graph {
        files: files.iter().map(|(file, _)| file.clone()).collect(),
        leans_on,
        outside: modules.into_iter().flat_map(|it| it.outside).collect(),
    }
}

impl Graph {
    /// The circles: sets of files each of which leads to every other, as large as they go. Each
    /// sorted, the largest first.
    pub fn circles(&self) -> Vec<Vec<&str>> {
        let reach: Vec<BTreeSet<usize>> = (0..self.files.len()).map(|at| self.reach(at)).collect();
        let mut seen: BTreeSet<usize> = BTreeSet::new();
        let mut circles = Vec::new();
        for start in 0..self.files.len() {
            if !reach[start].contains(&start) || seen.contains(&start) {
                continue;
            }
            let circle: Vec<usize> = reach[start]
                .iter()
                .copied()
                .filter(|other| reach[*other].contains(&start))
                .collect();
            seen.extend(&circle);
            circles.push(circle.iter().map(|at| self.files[*at].as_str()).collect());
        }
        circles.sort_by_key(|circle: &Vec<&str>| std::cmp::Reverse(circle.len()));
        circles
    }

    /// Everything that can be come to from `start` along one arrow or more.
    fn reach(&self, start: usize) -> BTreeSet<usize> {
        let mut found = BTreeSet::new();
        let mut todo = vec![start];
        while let Some(at) = todo.pop() {
            for &next in &self.leans_on[at] {
                if found.insert(next) {
                    todo.push(next);
                }
            }
        }
        found
    }
}

/// The module that a file below `src/` is.
fn module_of(file: &str) -> Path {
    let mut parts: Path = file
        .trim_end_matches(".rs")
        .split('/')
        .map(String::from)
        .collect();
    let last = parts.last().map(String::as_str);
    if last == Some("mod") || (parts.len() == 1 && matches!(last, Some("lib" | "main"))) {
        parts.pop();
    }
    parts
}

fn read(blanked: &str, own: &Path, all: &BTreeMap<&Path, usize>) -> Module {
    let tokens = source::tokens(blanked);
    let mut module = Module {
        defines: defined(&tokens),
        ..Module::default()
    };
    // The modules inside the file that are open here, each with the depth of braces it ends at.
    let mut inside: Vec<(String, usize)> = Vec::new();
    let mut depth = 0;
    let mut at = 0;
    while at < tokens.len() {
        let token = tokens[at].0;
        match token {
            "{" => depth += 1,
            "}" => {
                depth -= usize::from(depth > 0);
                inside.retain(|(_, ends)| *ends <= depth);
            }
            "mod" if word(&tokens, at + 2) == "{" => {
                inside.push((word(&tokens, at + 1).to_owned(), depth + 1));
            }
            _ => {}
        }
        let here = || {
            let names = inside.iter().map(|(name, _)| name.clone());
            own.iter().cloned().chain(names).collect::<Path>()
        };
        // A keyword, or a lifetime, before `::` begins no path: `::name` is another crate, whatever
        // is called so here.
        let alone = KEYWORDS.contains(&token) || (at > 0 && word(&tokens, at - 1) == "'");
        if alone && word(&tokens, at + 1) == "::" || token == "::" {
            let name = if token == "::" { at + 1 } else { at + 2 };
            module.outside.insert(word(&tokens, name).to_owned());
            at = name + 1;
            continue;
        }
        if token == "use" {
            let passes = at > 0 && matches!(word(&tokens, at - 1), "pub" | ")");
            let (tree, after) = use_tree(&tokens, at + 1);
            for (path, name) in tree {
                let first = path.first().cloned();
                let Some(path) = absolute(&here(), path, all, &module.brings) else {
                    module.outside.extend(first);
                    continue;
                };
                match (path.last().map(String::as_str), passes) {
                    (Some("*"), true) => {
                        let whole = path[..path.len() - 1].to_vec();
                        module.passes_all.push(whole);
                    }
                    _ => {
                        if !passes {
                            module.named.push(path.clone());
                        }
                        module.brings.insert(name, path);
                    }
                }
            }
            at = after;
            continue;
        }
        let begins = word(&tokens, at + 1) == "::" && (at == 0 || word(&tokens, at - 1) != "::");
        if begins && is_name(token) {
            let (mut tree, after) = use_tree(&tokens, at);
            match tree
                .pop()
                .and_then(|(path, _)| absolute(&here(), path, all, &module.brings))
            {
                Some(path) => module.named.push(path),
                None => {
                    module.outside.insert(token.to_owned());
                }
            }
            at = after.max(at + 1);
            continue;
        }
        at += 1;
    }
    module
}

/// The names that a file defines, wherever in it.
fn defined(tokens: &[Token<'_>]) -> BTreeSet<String> {
    const BEFORE: [&str; 9] = [
        "struct",
        "enum",
        "union",
        "fn",
        "trait",
        "type",
        "const",
        "static",
        "macro_rules",
    ];
    tokens
        .windows(3)
        .filter(|window| BEFORE.contains(&window[0].0))
        .map(|window| {
            // `macro_rules! name`
            let name = if window[1].0 == "!" {
                window[2]
            } else {
                window[1]
            };
            name.0.to_owned()
        })
        .collect()
}

/// The paths of a use tree, each with the name it is known by then, and where the tree ends.
fn use_tree(tokens: &[Token<'_>], from: usize) -> (Vec<(Path, String)>, usize) {
    let mut path = Path::new();
    let mut at = from;
    loop {
        let token = word(tokens, at);
        if token == "{" {
            at += 1;
            let mut found = Vec::new();
            while !matches!(word(tokens, at), "}" | "" | ";") {
                if word(tokens, at) == "," {
                    at += 1;
                    continue;
                }
                let (branch, after) = use_tree(tokens, at);
                for (mut rest, name) in branch {
                    if rest == ["self"] {
                        rest.clear();
                    }
                    let name = if name == "self" {
                        path.last().cloned().unwrap_or_default()
                    } else {
                        name
                    };
                    found.push(([&path[..], &rest].concat(), name));
                }
                at = after.max(at + 1);
            }
            return (found, at + 1);
        }
        if !is_name(token) && token != "*" {
            break;
        }
        path.push(token.to_owned());
        at += 1;
        if word(tokens, at) != "::" {
            break;
        }
        at += 1;
    }
    let mut name = path.last().cloned().unwrap_or_default();
    if word(tokens, at) == "as" {
        name = word(tokens, at + 1).to_owned();
        at += 2;
    }
    (vec![(path, name)], at)
}

/// A path from the crate's root on; `None` when it leads out of the crate.
fn absolute(
    here: &Path,
    path: Path,
    all: &BTreeMap<&Path, usize>,
    brings: &BTreeMap<String, Path>,
) -> Option<Path> {
    let mut names = path.into_iter().peekable();
    let mut whole = match names.peek()?.as_str() {
        "crate" => Path::new(),
        "self" | "super" => here.clone(),
        name => {
            let child = [&here[..], &[name.to_owned()]].concat();
            if all.contains_key(&child) {
                here.clone()
            } else {
                let known = brings.get(name)?.clone();
                names.next();
                known
            }
        }
    };
    while let Some(name) = names.next_if(|name| matches!(name.as_str(), "crate" | "self" | "super"))
    {
        if name == "super" {
            whole.pop()?;
        }
    }
    whole.extend(names);
    Some(whole)
}

/// The module in which what a path names is defined.
fn end(path: &Path, at: &BTreeMap<&Path, usize>, modules: &[Module], hops: usize) -> Option<usize> {
    let longest = (0..=path.len())
        .rev()
        .find_map(|length| Some((length, *at.get(&path[..length].to_vec())?)));
    let (length, found) = longest?;
    let (Some(name), true) = (path.get(length), hops > 0) else {
        return Some(found);
    };
    let module = &modules[found];
    if module.defines.contains(name) {
        return Some(found);
    }
    let rest = &path[length + 1..];
    if let Some(comes_from) = module.brings.get(name) {
        return end(&[&comes_from[..], rest].concat(), at, modules, hops - 1);
    }
    let passed = module.passes_all.iter().find_map(|whole| {
        let further = [&whole[..], &path[length..]].concat();
        end(&further, at, modules, hops - 1).filter(|&it| modules[it].defines.contains(name))
    });
    Some(passed.unwrap_or(found))
}

fn word<'a>(tokens: &[Token<'a>], at: usize) -> &'a str {
    tokens.get(at).map_or("", |(token, _)| *token)
}

fn is_name(token: &str) -> bool {
    token.starts_with(|c: char| c.is_alphabetic() || c == '_')
}

#[cfg(test)]
mod tests {
    use super::*;

    fn arrows(files: &[(&str, &str)]) -> Vec<String> {
        let files: Vec<(String, String)> = files
            .iter()
            .map(|(file, text)| ((*file).to_owned(), source::without_comments(text)))
            .collect();
        let graph = graph(&files);
        let of = |at: usize| graph.leans_on[at].iter().map(move |to| (at, *to));
        (0..files.len())
            .flat_map(of)
            .map(|(from, to)| format!("{} {}", graph.files[from], graph.files[to]))
            .collect()
    }

    #[test]
    fn every_way_to_name_a_module_is_an_arrow() {
        let found = arrows(&[
            ("lib.rs", "mod a; mod b;\nfn f() { a::g() }"),
            (
                "a.rs",
                "use crate::b::{self, c::{D, E as F}};\npub fn g() {}",
            ),
            ("b/mod.rs", "pub mod c;\nuse super::a;\nfn h() { a::g() }"),
            (
                "b/c.rs",
                "pub struct D; pub enum E {}\nfn i() { crate::g2() }\n",
            ),
        ]);
        assert_eq!(
            found,
            [
                "a.rs b/mod.rs",
                "a.rs b/c.rs",
                "b/mod.rs a.rs",
                "b/c.rs lib.rs"
            ]
        );
    }

    #[test]
    fn what_is_passed_on_leads_to_where_it_is_defined() {
        let found = arrows(&[
            (
                "lib.rs",
                "mod a; mod b; mod c;\npub use a::*;\npub(crate) use b::Y as Z;",
            ),
            ("a.rs", "pub struct X;"),
            ("b.rs", "pub struct Y;"),
            ("c.rs", "use crate::{X, Z};"),
        ]);
        assert_eq!(found, ["c.rs a.rs", "c.rs b.rs"]);
    }

    #[test]
    fn tests_and_modules_inside_a_file_are_no_arrows() {
        let found = arrows(&[
            ("lib.rs", "mod a;"),
            (
                "a.rs",
                "fn f() {}\nmod x { use super::f; }\n#[cfg(test)]\nmod tests { use crate::a; }",
            ),
        ]);
        assert_eq!(found, Vec::<String>::new());
    }

    #[test]
    fn other_crates_are_known_even_by_the_name_of_a_module() {
        let files = [
            ("lib.rs", "mod power; mod coverage;"),
            ("power.rs", "use ::power::{A, B};\nuse serde::Serialize;"),
            (
                "coverage.rs",
                "fn f(x: &'a ::coverage::C) { Vec::<u8>::new(); crate::power::g() }",
            ),
        ]
        .map(|(file, text)| (file.to_owned(), text.to_owned()));
        let outside = graph(&files).outside;
        for name in ["power", "coverage", "serde"] {
            assert!(outside.contains(name), "{name}: {outside:?}");
        }
    }

    #[test]
    fn circles_are_found_whole_and_once() {
        let files: Vec<(String, String)> = [
            ("a.rs", "use crate::b::B; pub struct A;"),
            ("b.rs", "use crate::c::C; use crate::d::D; pub struct B;"),
            ("c.rs", "use crate::a::A; pub struct C;"),
            ("d.rs", "use crate::e::E; pub struct D;"),
            ("e.rs", "use crate::d::D; pub struct E;"),
            ("f.rs", "use crate::a::A;"),
        ]
        .map(|(file, text)| (file.to_owned(), text.to_owned()))
        .into();
        let graph = graph(&files);
        assert_eq!(
            graph.circles(),
            [vec!["a.rs", "b.rs", "c.rs"], vec!["d.rs", "e.rs"]]
        );
    }
}
