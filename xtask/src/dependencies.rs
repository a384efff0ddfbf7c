//! Dependencies that a crate asks for and does not use, or uses in tests alone.
//!
//! A library is used where its name stands in the crate's source outside comments and literals. A
//! macro that writes a path into another library does not show; no crate of ours needs that.

use std::collections::BTreeSet;
use std::path::Path;

use anyhow::Result;
use serde_json::Value;

use crate::measures::{self, RustFile};
use crate::{modules, source};

/// Each dependency that is listed where it need not be, in a sentence.
///
/// # Errors
/// When the project cannot be read.
pub fn problems(root: &Path) -> Result<Vec<String>> {
    let files = measures::rust_files(root)?;
    Ok(unused(&source::metadata(root, &[])?, &files))
}

fn unused(metadata: &Value, files: &[RustFile]) -> Vec<String> {
    let empty = Vec::new();
    let packages = metadata["packages"].as_array().unwrap_or(&empty);
    let mut problems = Vec::new();
    let ours = packages
        .iter()
        .filter(|package| package["source"].is_null());
    for package in ours {
        let crate_name = package["name"].as_str().unwrap_or_default();
        let (product, tests) = named(crate_name, files);
        for dependency in package["dependencies"].as_array().unwrap_or(&empty) {
            let name = dependency["name"].as_str().unwrap_or_default();
            let known_as = dependency["rename"]
                .as_str()
                .unwrap_or_else(|| library(packages, name))
                .replace('-', "_");
            let known_as = known_as.as_str();
            let for_tests = dependency["kind"].as_str() == Some("dev");
            let used = product.contains(known_as);
            let problem = match (for_tests, used, tests.contains(known_as)) {
                (false, true, _) | (true, false, true) => continue,
                (false, false, true) => "is used by its tests alone: list it for them",
                (_, false, false) => "is not used by it",
                (true, true, _) => "is listed for its tests, which have it already",
            };
            problems.push(format!("`{crate_name}`: `{name}` {problem}"));
        }
    }
    problems
}

/// The name under which a package is imported: its library's, which need not be its own.
fn library<'a>(packages: &'a [Value], name: &'a str) -> &'a str {
    const KINDS: [&str; 3] = ["lib", "rlib", "proc-macro"];
    let is_library = |target: &&Value| {
        let kinds = target["kind"].as_array();
        kinds.is_some_and(|kinds| {
            kinds
                .iter()
                .filter_map(Value::as_str)
                .any(|it| KINDS.contains(&it))
        })
    };
    packages
        .iter()
        .find(|package| package["name"] == name)
        .and_then(|package| package["targets"].as_array()?.iter().find(is_library))
        .and_then(|target| target["name"].as_str())
        .unwrap_or(name)
}

/// The crates that a crate's product names, and the words its tests, examples and benches name.
fn named(package: &str, files: &[RustFile]) -> (BTreeSet<String>, BTreeSet<String>) {
    let mut product = Vec::new();
    let mut tests = BTreeSet::new();
    for file in files.iter().filter(|file| file.package == package) {
        let of_product = file.in_source.as_ref().filter(|_| !file.for_tests);
        if let Some(below) = of_product {
            product.push((below.clone(), file.blanked.clone()));
        }
        let of_tests = source::test_lines(&file.blanked);
        let all = source::every_token(&file.blanked);
        let paths = all
            .windows(3)
            .filter(|three| (three[0].0 != "::" && three[2].0 == "::") || three[0].0 == "use");
        tests.extend(
            paths
                .map(|three| three[1])
                .filter(|(_, line)| of_product.is_none() || of_tests.contains(line))
                .map(|(token, _)| token.to_owned()),
        );
    }
    (modules::graph(&product).outside, tests)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn file(path: &str, in_source: Option<&str>, text: &str) -> RustFile {
        RustFile {
            path: path.to_owned(),
            package: "a".to_owned(),
            in_source: in_source.map(String::from),
            blanked: source::without_comments(text),
            lines: text.lines().count(),
            for_tests: false,
        }
    }

    #[test]
    fn what_is_not_used_is_found() {
        let metadata = serde_json::json!({"packages": [{"name": "a", "dependencies": [
            {"name": "used-well"},
            {"name": "renamed", "rename": "other"},
            {"name": "kit"},
            {"name": "in-tests"},
            {"name": "for-tests", "kind": "dev"},
            {"name": "not-even-there", "kind": "dev"},
            {"name": "used-well", "kind": "dev"},
        ]}]});
        let text = "mod kit;\nuse used_well::{self, B};\n// not_even_there::x\n\
                    fn f() { kit::g(); other::h(); let for_tests = 1; }\n\
                    #[cfg(test)]\nmod tests { use in_tests::C; fn f() { for_tests::x() } }\n";
        let files = [
            file("crates/a/src/lib.rs", Some("lib.rs"), text),
            file("crates/a/src/kit.rs", Some("kit.rs"), "pub fn g() {}\n"),
        ];
        assert_eq!(
            unused(&metadata, &files),
            [
                "`a`: `kit` is not used by it",
                "`a`: `in-tests` is used by its tests alone: list it for them",
                "`a`: `not-even-there` is not used by it",
                "`a`: `used-well` is listed for its tests, which have it already",
            ]
        );
    }
}
