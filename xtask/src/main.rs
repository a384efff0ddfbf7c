//! The project's own commands, as `cargo xtask NAME`: what the README, CI and a developer call.
//!
//! It imports nothing of ours, so that it compiles in seconds and can build, run and judge the
//! rest from outside: it calls cargo, the built `barebulb`, and the Python checks.

mod bench;
mod checks;
mod demo;
mod dependencies;
mod documents;
mod install;
mod licences;
mod measures;
mod modules;
mod outcome;
mod packages;
mod picture;
mod python;
mod run;
mod setup;
mod source;
mod test;
mod tidy;

use std::ffi::OsString;
use std::path::PathBuf;
use std::process::ExitCode;

/// The commands, each with what it is for; the documents are checked against this list.
const COMMANDS: [(&str, &str); 6] = [
    (
        "demo",
        "[DIR] [--no-open]: build the program, make the demo in DIR (default out/demo), show its pages",
    ),
    (
        "test",
        "[--fast]: every test and check there is; --fast leaves out the slow ones",
    ),
    (
        "tidy",
        "the rules of the house alone: imports, documents, licences; seconds",
    ),
    (
        "bench",
        "measure speed and reach beside reference libraries; prints, never judges",
    ),
    ("picture", "make the README's pictures anew from the demo"),
    ("setup", "install what the tests need, and nothing more"),
];

fn main() -> ExitCode {
    let mut arguments: Vec<String> = std::env::args().skip(1).collect();
    let install = !take_flag(&mut arguments, "--no-install");
    let options = setup::Options { install };
    let fast = take_flag(&mut arguments, "--fast");
    let long = take_flag(&mut arguments, "--long");
    let open = !take_flag(&mut arguments, "--no-open");
    let words: Vec<&str> = arguments.iter().map(String::as_str).collect();
    let result = match words.as_slice() {
        ["demo"] if !fast => demo::command(None, open, options),
        ["demo", folder] if !fast && !folder.starts_with('-') => {
            demo::command(Some(folder), open, options)
        }
        ["test"] if open => test::command(fast, options),
        ["tidy"] if !fast && open => tidy::command(long),
        ["bench"] if !fast && open => bench::command(options),
        ["picture"] if !fast && open => picture::command(options),
        ["setup"] if !fast && open => setup::command(options),
        _ => {
            usage();
            return ExitCode::from(2);
        }
    };
    match result {
        Ok(true) => ExitCode::SUCCESS,
        Ok(false) => ExitCode::FAILURE,
        Err(error) => {
            eprintln!("error: {error:#}");
            ExitCode::FAILURE
        }
    }
}

/// The root of the checkout.
fn root() -> PathBuf {
    // Set by `cargo run` and `cargo test`; the folder of the build is right for a binary started
    // by hand.
    let ours = std::env::var_os("CARGO_MANIFEST_DIR")
        .map_or_else(|| env!("CARGO_MANIFEST_DIR").into(), PathBuf::from);
    ours.parent().map_or(ours.clone(), PathBuf::from)
}

/// The cargo that started us.
fn cargo() -> OsString {
    std::env::var_os("CARGO").unwrap_or_else(|| "cargo".into())
}

fn take_flag(arguments: &mut Vec<String>, flag: &str) -> bool {
    let before = arguments.len();
    arguments.retain(|argument| argument != flag);
    arguments.len() != before
}

fn usage() {
    eprintln!("usage: cargo xtask COMMAND [--no-install]\n");
    for (name, what) in COMMANDS {
        eprintln!("  {name:6} {what}");
    }
    eprintln!("\n--no-install: install no package, go on with what is there");
}
