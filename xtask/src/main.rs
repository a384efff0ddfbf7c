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
mod mentions;
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

/// The commands, each with what it is for; documents may name no other.
const COMMANDS: [(&str, &str); 6] = [
    (
        "demo",
        "[DIR] [--no-open]: build the program, make the demo in DIR (default out/demo), show its pages",
    ),
    (
        "test",
        "[--fast] [--without TOOL]: every test and check there is; --fast leaves out the slow ones",
    ),
    (
        "tidy",
        "[--long]: the rules of the house alone: imports, documents, licences, size; seconds",
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
    let without = take_values(&mut arguments, "--without");
    let plain = !fast && !long && without.is_empty();
    let words: Vec<&str> = arguments.iter().map(String::as_str).collect();
    let result = match words.as_slice() {
        ["demo"] if plain => demo::command(None, open, options),
        ["demo", folder] if plain && !folder.starts_with('-') => {
            demo::command(Some(folder), open, options)
        }
        ["test"] if open && !long => test::command(fast, without, options),
        ["tidy"] if open && !fast && without.is_empty() => tidy::command(long),
        ["bench"] if open && plain => bench::command(options),
        ["picture"] if open && plain => picture::command(options),
        ["setup"] if open && plain => setup::command(options),
        _ => {
            eprintln!("{}", usage());
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

/// The words after each `flag`, or after its `=`; one at the end stays and is wrong usage.
fn take_values(arguments: &mut Vec<String>, flag: &str) -> Vec<String> {
    let mut values = Vec::new();
    let mut at = 0;
    while at < arguments.len() {
        let value = arguments[at].strip_prefix(flag).map(String::from);
        match value.as_deref() {
            Some("") if at + 1 < arguments.len() => {
                arguments.remove(at);
                values.push(arguments.remove(at));
            }
            Some(value) if value.starts_with('=') => {
                values.push(value[1..].to_owned());
                arguments.remove(at);
            }
            _ => at += 1,
        }
    }
    values
}

/// What can be typed.
fn usage() -> String {
    let commands = COMMANDS.map(|(name, what)| format!("  {name:7} {what}\n"));
    format!(
        "usage: cargo xtask COMMAND [--no-install]\n\n{}\n\
         --no-install: install no package, go on with what is there\n\
         --without TOOL: do not fail where TOOL is missing; leave out what it is for ({} and optional \
         libraries of the checks)",
        commands.concat(),
        setup::TOOLS.join(", ")
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn values_are_taken_from_among_the_words() {
        let words = [
            "test",
            "--without",
            "ffmpeg",
            "--without=browser",
            "--without",
        ];
        let mut words = words.map(String::from).to_vec();
        let values = take_values(&mut words, "--without");
        assert_eq!(values, ["ffmpeg", "browser"]);
        assert_eq!(words, ["test", "--without"]);
    }
}
