//! The command line: reads what was typed, calls the steps, prints what came of it.
//!
//! Nothing is computed here. Results go to standard output, everything else to standard error;
//! with `--json` standard output holds one JSON object and nothing more.

mod arguments;
mod commands;
mod screen;
mod text;

use arguments::{Arguments, Command};
use clap::Parser as _;
use screen::Screen;
use std::process::ExitCode;

/// How a command ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum End {
    /// All of it was done.
    Done,
    /// Something could not be done, and was said.
    Partly,
}

fn main() -> ExitCode {
    let arguments = match Arguments::try_parse() {
        Ok(arguments) => arguments,
        Err(error) => {
            // Help and version are no mistakes.
            let wrong = error.use_stderr();
            if wrong && std::env::args().any(|word| word == "--json") {
                Screen::new(true).error(error.to_string().trim());
            } else {
                let _ = error.print();
            }
            return ExitCode::from(if wrong { 2 } else { 0 });
        }
    };
    let screen = Screen::new(arguments.json);
    let end = match arguments.command {
        Command::New(new) => commands::new::run(&new, &screen),
        Command::Get(get) => commands::document::get(&get, &screen),
        Command::Set(set) => commands::document::set(&set, &screen),
        Command::Add(add) => commands::document::add(&add, &screen),
        Command::Remove(remove) => commands::document::remove(&remove, &screen),
        Command::Next(next) => commands::next::run(&next, &screen),
        Command::Plan(plan) => commands::plan::run(&plan, &screen),
        Command::Listen(listen) => commands::listen::run(&listen, &screen),
        Command::Scout(scout) => commands::scout::run(&scout, &screen),
        Command::Sync(sync) => commands::sync::run(&sync, &screen),
        Command::Coverage(coverage) => commands::coverage::run(&coverage, &screen),
        Command::Assemble(assemble) => commands::assemble::run(&assemble, &screen),
        Command::Kit(kit) => commands::kit::run(&kit, &screen),
        Command::Playback(playback) => commands::playback::run(&playback, &screen),
        Command::Pocket(pocket) => commands::pocket::run(&pocket, &screen),
        Command::Day(day) => commands::day::run(&day, &screen),
        Command::Sky(sky) => commands::sky::run(&sky, &screen),
        Command::Open(open) => commands::open::run(&open, &screen),
        Command::Demo(demo) => commands::demo::run(&demo, &screen),
    };
    screen.finish();
    match end.and_then(|end| screen.written().map(|()| end)) {
        Ok(End::Done) => ExitCode::SUCCESS,
        Ok(End::Partly) => ExitCode::from(1),
        Err(error) => {
            screen.error(&format!("{error:#}"));
            ExitCode::from(1)
        }
    }
}
