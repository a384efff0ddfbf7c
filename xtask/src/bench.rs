//! `cargo xtask bench`: speed and reach beside reference libraries, gathered into one table.
//!
//! It prints and never judges. The programs it starts do the measuring, each with its reference in
//! the same run; what they print is described in `checks/README.md`.

use std::path::Path;
use std::process::Command;
use std::time::Duration;

use anyhow::{Context, Result, bail};
use serde_json::Value;

use crate::checks::COMPARISONS;
use crate::demo;
use crate::run::{self, Show};
use crate::setup::{self, Options};

const LIMIT: Duration = Duration::from_secs(30 * 60);

/// Examples of crates that measure; the Python ones are listed in `checks`.
const EXAMPLES: [&str; 5] = ["bench", "load", "size", "year", "torture"];

/// Measurements that need what the browser tests have, and are therefore tests that nothing else
/// runs: their file in `crates/barebulb/tests`.
const IN_A_BROWSER: [&str; 2] = ["pages_browser", "player_browser"];

/// One line of the table.
#[derive(Debug, PartialEq)]
struct Row {
    what: String,
    unit: String,
    figure: f64,
    reference: Option<f64>,
    against: String,
}

/// `cargo xtask bench`.
///
/// # Errors
/// When the program cannot be built.
pub fn command(options: Options) -> Result<bool> {
    let root = crate::root();
    let tools = setup::for_tests(&root, options);
    setup::say(&tools);
    let mut build = Command::new(crate::cargo());
    build.args(demo::BUILD_ALL).current_dir(&root);
    let built = run::attached(&mut build, LIMIT)?;
    if !built.good {
        bail!("the program could not be built ({})", built.how);
    }
    let binary = demo::binary(&root)?;
    let mut rows = Vec::new();
    let mut amiss = Vec::new();
    let demo = root.join("out/bench-demo");
    keep(
        demo_time(&demo, &binary).map(|row| vec![row]),
        &mut rows,
        &mut amiss,
    );
    for check in &COMPARISONS {
        let found = tools.python.as_deref().map_or_else(
            || {
                bail!(
                    "there is no Python environment to compare {} in",
                    check.name
                )
            },
            |python| {
                let mut command = check.command(&root, python, &binary, &root.join("out"));
                let limit = Duration::from_secs(check.minutes * 60);
                measure(&format!("compare: {}", check.name), &mut command, limit)
            },
        );
        keep(found, &mut rows, &mut amiss);
    }
    for example in EXAMPLES {
        let program = binary.with_file_name("examples").join(example);
        let mut command = Command::new(program);
        if example == "load" {
            command.arg(&demo);
        }
        let found = measure(example, command.current_dir(&root), LIMIT);
        keep(found, &mut rows, &mut amiss);
    }
    for file in IN_A_BROWSER {
        let mut command = Command::new(crate::cargo());
        command.args(["test", "--quiet", "--workspace", "--test", file]);
        command.args(["--", "--ignored", "--nocapture"]);
        command.env("BAREBULB_REQUIRE_CHROMIUM", "1");
        command.env("BAREBULB_REQUIRE_FFMPEG", "1");
        let found = measure(file, command.current_dir(&root), LIMIT);
        keep(found, &mut rows, &mut amiss);
    }
    keep(
        rebuild_time(&root).map(|row| vec![row]),
        &mut rows,
        &mut amiss,
    );
    println!("\n{}", table(&rows));
    for sentence in &amiss {
        println!("not measured: {sentence}");
    }
    Ok(amiss.is_empty())
}

fn keep(found: Result<Vec<Row>>, rows: &mut Vec<Row>, amiss: &mut Vec<String>) {
    match found {
        Ok(more) => rows.extend(more),
        Err(error) => amiss.push(format!("{error:#}")),
    }
}

fn measure(name: &str, command: &mut Command, limit: Duration) -> Result<Vec<Row>> {
    println!("\n── {name}");
    let ended = run::gathered(command, limit, Show::Live)?;
    if !ended.good {
        bail!("{name} ended with {}", ended.how);
    }
    let found = rows(&ended.output);
    if found.is_empty() {
        println!("(no line for the table; what it measured stands above)");
    }
    Ok(found)
}

fn demo_time(folder: &Path, binary: &Path) -> Result<Row> {
    println!("\n── demo");
    let ended = demo::afresh(binary, folder, LIMIT)?;
    if !ended.good {
        bail!("the demo ended with {}", ended.how);
    }
    Ok(Row {
        what: "demo, after the build".to_owned(),
        unit: "s".to_owned(),
        figure: ended.took.as_secs_f64(),
        reference: Some(90.0),
        against: "the time it should keep to".to_owned(),
    })
}

/// From an edit in a craft to its tests built and run.
fn rebuild_time(root: &Path) -> Result<Row> {
    println!("\n── rebuild after an edit");
    let test = || {
        let mut test = Command::new(crate::cargo());
        test.args(["test", "--quiet", "--package", "sync", "--lib"])
            .current_dir(root);
        run::gathered(&mut test, LIMIT, Show::Quietly)
    };
    test()?;
    let edited = root.join("crates/sync/src/lib.rs");
    let file = std::fs::File::options()
        .append(true)
        .open(&edited)
        .with_context(|| format!("could not open {}", edited.display()))?;
    file.set_modified(std::time::SystemTime::now())?;
    let ended = test()?;
    if !ended.good {
        bail!("the tests of `sync` ended with {}", ended.how);
    }
    Ok(Row {
        what: "an edit in sync, to its tests run".to_owned(),
        unit: "s".to_owned(),
        figure: ended.took.as_secs_f64(),
        reference: Some(15.0),
        against: "the time it should keep to".to_owned(),
    })
}

/// The figures among what a measuring program printed.
fn rows(output: &str) -> Vec<Row> {
    output
        .lines()
        .filter(|line| line.trim_start().starts_with("{\"bench\""))
        .filter_map(|line| serde_json::from_str::<Value>(line).ok())
        .filter_map(|value| {
            let text = |key: &str| value[key].as_str().unwrap_or_default().to_owned();
            Some(Row {
                what: text("bench"),
                unit: text("unit"),
                figure: value["figure"].as_f64()?,
                reference: value["reference"].as_f64(),
                against: text("against"),
            })
        })
        .collect()
}

fn table(rows: &[Row]) -> String {
    let mut text = format!(
        "{:44} {:>10} {:>10} {:>7}  against\n",
        "what", "figure", "reference", "ratio"
    );
    for row in rows {
        let reference = row.reference.map_or("".to_owned(), number);
        let ratio = row
            .reference
            .filter(|reference| *reference != 0.0)
            .map_or("".to_owned(), |reference| {
                format!("{:.2}", row.figure / reference)
            });
        text.push_str(&format!(
            "{:44} {:>10} {:>10} {:>7}  {}\n",
            format!("{} ({})", row.what, row.unit),
            number(row.figure),
            reference,
            ratio,
            row.against
        ));
    }
    text
}

/// Four figures are all that a measurement on a shared machine can bear.
fn number(value: f64) -> String {
    let digits = match value.abs() {
        v if v >= 1000.0 || v == 0.0 => 0,
        v if v >= 1.0 => 2,
        _ => 4,
    };
    format!("{value:.digits$}")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rows_are_found_among_other_lines() {
        let output = "warming up\n{\"bench\": \"CPU\", \"unit\": \"s\", \"figure\": 0.5, \
                      \"reference\": 2, \"against\": \"a library\"}\n\
                      {\"bench\": \"kills\", \"unit\": \"\", \"figure\": 200}\n{\"bench\": 1}\n";
        let found = rows(output);
        assert_eq!(found.len(), 2);
        assert_eq!(found[0].reference, Some(2.0));
        assert_eq!(found[1].reference, None);
        assert!(table(&found).contains("0.25  a library"));
    }

    #[test]
    fn numbers_keep_four_figures() {
        assert_eq!(number(0.12345), "0.1235");
        assert_eq!(number(12.345), "12.35");
        assert_eq!(number(12_345.6), "12346");
        assert_eq!(number(0.0), "0");
    }
}
