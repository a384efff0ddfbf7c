//! Finds what the demo and the tests need from outside, and installs by package name what is
//! missing.
//!
//! It never stops anybody: what could not be had becomes a sentence, and the caller goes on
//! without it. It asks only where a person is at the terminal, and only before it uses sudo.
//! The Python environment of the checks is `python`'s.

use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::Duration;

use anyhow::Result;

use crate::install::{self, Installer};
use crate::packages::Need;
use crate::python;
use crate::run::{self, Show};

/// Chrome-family browsers by the names they have on PATH.
const BROWSERS: [&str; 7] = [
    "chromium",
    "chromium-browser",
    "google-chrome",
    "google-chrome-stable",
    "chrome",
    "microsoft-edge",
    "msedge",
];

/// Where such browsers lie on systems that do not put them on PATH.
const BROWSER_FILES: [&str; 5] = [
    "/Applications/Chromium.app/Contents/MacOS/Chromium",
    "/Applications/Google Chrome.app/Contents/MacOS/Google Chrome",
    r"C:\Program Files\Google\Chrome\Application\chrome.exe",
    r"C:\Program Files (x86)\Google\Chrome\Application\chrome.exe",
    r"C:\Program Files (x86)\Microsoft\Edge\Application\msedge.exe",
];

/// What was found or brought.
#[derive(Debug, Default)]
pub struct Tools {
    /// Both `ffmpeg` and `ffprobe` answer.
    pub ffmpeg: bool,
    /// A Chrome-family browser whose driver is there too.
    pub browser: Option<PathBuf>,
    /// The Python of `.venv`, with the checks' libraries installed.
    pub python: Option<PathBuf>,
    /// What is not there.
    pub lacking: Vec<Lacking>,
}

impl Tools {
    fn lacks(&mut self, name: &str, says: String) {
        let name = name.to_owned();
        self.lacking.push(Lacking { name, says });
    }
}

/// A thing that is not there.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Lacking {
    /// What `--without` calls it: one of [`TOOLS`], or a library of the checks.
    pub name: String,
    /// That it is not there, why, and what follows, in a sentence.
    pub says: String,
}

/// What the tests need from outside, as `--without` calls it; libraries of the checks that some
/// systems have not are called by their own names.
pub const TOOLS: [&str; 6] = ["ffmpeg", "browser", "python", "libltc", "clippy", "rustfmt"];

/// How far a set-up may go.
#[derive(Clone, Copy, Debug)]
pub struct Options {
    /// May packages of the system be installed?
    pub install: bool,
}

/// ffmpeg, for the demo.
pub fn for_demo(options: Options) -> Tools {
    let installer = Installer::new(options.install);
    let mut tools = Tools::default();
    ffmpeg(&installer, &mut tools);
    tools
}

/// ffmpeg, the parts of the Rust toolchain that check source, a browser, the Python environment
/// of `root`, and the library that reads timecode for the checks.
pub fn for_tests(root: &Path, options: Options) -> Tools {
    let installer = Installer::new(options.install);
    let mut tools = Tools::default();
    ffmpeg(&installer, &mut tools);
    toolchain(&mut tools);
    browser(&installer, &mut tools);
    match python::environment(root, &installer) {
        Ok(environment) => {
            for (name, says) in environment.lacking {
                tools.lacks(&name, says);
            }
            libltc(&environment.python, &installer, &mut tools);
            tools.python = Some(environment.python);
        }
        Err(error) => {
            let says = format!("no Python environment, so no checks: {error:#}");
            tools.lacks("python", says);
        }
    }
    tools
}

/// `cargo xtask setup`.
///
/// # Errors
/// Never so far; what could not be had is said, and the answer is then `false`.
pub fn command(options: Options) -> Result<bool> {
    let tools = for_tests(&crate::root(), options);
    say(&tools);
    let there = |found: bool| if found { "there" } else { "missing" };
    println!("ffmpeg   {}", there(tools.ffmpeg));
    println!("browser  {}", there(tools.browser.is_some()));
    println!("Python   {}", there(tools.python.is_some()));
    Ok(tools.lacking.is_empty())
}

/// Says what is not there.
pub fn say(tools: &Tools) {
    for lacking in &tools.lacking {
        println!("setup: {}", lacking.says);
    }
}

/// True when both programs of ffmpeg start and tell their version.
fn ffmpeg_answers() -> bool {
    ["ffmpeg", "ffprobe"].iter().all(|program| {
        let mut command = Command::new(program);
        command.arg("-version");
        run::gathered(&mut command, Duration::from_secs(30), Show::Quietly)
            .is_ok_and(|ended| ended.good)
    })
}

fn ffmpeg(installer: &Installer, tools: &mut Tools) {
    if !ffmpeg_answers()
        && let Err(error) = installer.bring(Need::Ffmpeg)
    {
        let says = format!(
            "ffmpeg is not there and could not be installed ({error:#}); going on without it"
        );
        tools.lacks("ffmpeg", says);
        return;
    }
    tools.ffmpeg = ffmpeg_answers();
    if !tools.ffmpeg {
        let says = "ffmpeg was installed but does not answer on this PATH; open a new terminal or \
                    add its folder to PATH; going on without it";
        tools.lacks("ffmpeg", says.to_owned());
    }
}

fn toolchain(tools: &mut Tools) {
    for (subcommand, component) in [("clippy", "clippy"), ("fmt", "rustfmt")] {
        let answers = || {
            let mut command = Command::new(crate::cargo());
            command.args([subcommand, "--version"]);
            run::gathered(&mut command, Duration::from_secs(60), Show::Quietly)
                .is_ok_and(|ended| ended.good)
        };
        if answers() {
            continue;
        }
        let mut add = Command::new("rustup");
        add.args(["component", "add", component]);
        let _ = run::gathered(&mut add, install::LIMIT, Show::Live);
        if !answers() {
            let says =
                format!("`cargo {subcommand}` is not there and rustup could not add `{component}`");
            tools.lacks(component, says);
        }
    }
}

fn browser(installer: &Installer, tools: &mut Tools) {
    // The tests steer a browser through its driver.
    let found = || find_browser().filter(|_| run::find("chromedriver").is_some());
    tools.browser = found();
    if tools.browser.is_some() {
        return;
    }
    let why = match installer.bring(Need::Chromium) {
        Ok(()) => "its packages bring no browser with a driver".to_owned(),
        Err(error) => format!("Chromium could not be installed ({error:#})"),
    };
    tools.browser = found();
    if tools.browser.is_none() {
        let says = format!(
            "no Chrome-family browser with its driver, and {why}; nothing that a browser shows is \
             tested"
        );
        tools.lacks("browser", says);
    }
}

/// The library that reads timecode in the check of playback files, through the checks' Python.
fn libltc(python: &Path, installer: &Installer, tools: &mut Tools) {
    let answers = || {
        let mut load = Command::new(python);
        load.args([
            "-c",
            "import ctypes, ctypes.util as u; ctypes.CDLL(u.find_library('ltc') or 'libltc.so.11')",
        ]);
        run::gathered(&mut load, Duration::from_secs(60), Show::Quietly)
            .is_ok_and(|ended| ended.good)
    };
    if answers() {
        return;
    }
    let why = match installer.bring(Need::Libltc) {
        Ok(()) if answers() => return,
        Ok(()) => "was installed but Python does not find it".to_owned(),
        Err(error) => format!("is not there and could not be installed ({error:#})"),
    };
    let says = format!("libltc {why}; timecode is read by our own reader alone");
    tools.lacks("libltc", says);
}

fn find_browser() -> Option<PathBuf> {
    BROWSERS
        .iter()
        .find_map(|name| run::find(name))
        .or_else(|| {
            BROWSER_FILES
                .iter()
                .map(PathBuf::from)
                .find(|file| file.is_file())
        })
}
