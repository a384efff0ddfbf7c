//! Finds what the demo and the tests need from outside, and installs by package name what is
//! missing.
//!
//! It never stops anybody: what could not be had becomes a sentence, and the caller goes on
//! without it. It asks only where a person is at the terminal, and only before it uses sudo.
//! The Python environment of the checks is `python`'s.

use std::cell::{Cell, RefCell};
use std::io::{IsTerminal, Write};
use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::Duration;

use anyhow::{Result, bail};

use crate::packages::{Manager, Need, Rights};
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

/// A package with all it needs comes down a slow line in this time, or not at all.
const INSTALL_LIMIT: Duration = Duration::from_secs(15 * 60);

/// What was found or brought.
#[derive(Debug, Default)]
pub struct Tools {
    /// Both `ffmpeg` and `ffprobe` answer.
    pub ffmpeg: bool,
    /// A Chrome-family browser.
    pub browser: Option<PathBuf>,
    /// The Python of `.venv`, with the checks' libraries installed.
    pub python: Option<PathBuf>,
    /// One sentence for each thing that is not there, and what follows from that.
    pub lacking: Vec<String>,
}

/// How far a set-up may go.
#[derive(Clone, Copy, Debug)]
pub struct Options {
    /// May packages of the system be installed?
    pub install: bool,
}

/// ffmpeg, for the demo.
pub fn for_demo(options: Options) -> Tools {
    let installer = Installer::new(options);
    let mut tools = Tools::default();
    ffmpeg(&installer, &mut tools);
    tools
}

/// ffmpeg, the parts of the Rust toolchain that check source, a browser, the Python environment
/// of `root`, and the library that reads timecode for the checks.
pub fn for_tests(root: &Path, options: Options) -> Tools {
    let installer = Installer::new(options);
    let mut tools = Tools::default();
    ffmpeg(&installer, &mut tools);
    toolchain(&mut tools);
    browser(&installer, &mut tools);
    match python::environment(root, &installer) {
        Ok(environment) => {
            tools.lacking.extend(environment.lacking);
            libltc(&environment.python, &installer, &mut tools);
            tools.python = Some(environment.python);
        }
        Err(error) => tools
            .lacking
            .push(format!("no Python environment, so no checks: {error:#}")),
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
    for line in &tools.lacking {
        println!("setup: {line}");
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
        tools.lacking.push(format!(
            "ffmpeg is not there and could not be installed ({error:#}); going on without it"
        ));
        return;
    }
    tools.ffmpeg = ffmpeg_answers();
    if !tools.ffmpeg {
        tools.lacking.push(
            "ffmpeg was installed but does not answer on this PATH; open a new terminal or add \
             its folder to PATH; going on without it"
                .to_owned(),
        );
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
        let _ = run::gathered(&mut add, INSTALL_LIMIT, Show::Live);
        if !answers() {
            tools.lacking.push(format!(
                "`cargo {subcommand}` is not there and rustup could not add `{component}`; its \
                 step will fail"
            ));
        }
    }
}

fn browser(installer: &Installer, tools: &mut Tools) {
    tools.browser = find_browser();
    if tools.browser.is_some() {
        return;
    }
    match installer.bring(Need::Chromium) {
        Ok(()) => tools.browser = find_browser(),
        Err(error) => tools.lacking.push(format!(
            "no Chrome-family browser, and Chromium could not be installed ({error:#}); nothing \
             that a browser shows is tested"
        )),
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
    tools.lacking.push(format!(
        "libltc {why}; timecode is read by our own reader alone"
    ));
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

/// Installs packages, once it is known how, and remembers what it has already tried.
pub struct Installer {
    options: Options,
    manager: Option<Manager>,
    rights: Rights,
    refreshed: Cell<bool>,
    /// The answer of the person at the terminal, once asked, so that it is asked once only.
    agreed: RefCell<Option<bool>>,
}

impl Installer {
    fn new(options: Options) -> Installer {
        let manager = Manager::find(|program| run::find(program).is_some());
        let rights = manager.map_or(Rights::Impossible, |manager| {
            let sudo = run::find("sudo").is_some();
            manager.rights(is_root(), sudo, std::io::stdin().is_terminal())
        });
        Installer {
            options,
            manager,
            rights,
            refreshed: Cell::new(false),
            agreed: RefCell::new(None),
        }
    }

    /// Installs the packages of `need`.
    ///
    /// # Errors
    /// One sentence that says why it could not.
    pub fn bring(&self, need: Need) -> Result<()> {
        if !self.options.install {
            bail!("installing was switched off with --no-install");
        }
        let Some(manager) = self.manager else {
            bail!("none of apt-get, dnf, winget and brew is there to install it with");
        };
        if manager.packages(need).is_empty() {
            bail!("{} has no package of it", manager.program());
        }
        let lines = manager.install(need, self.rights);
        if lines.is_empty() {
            bail!(
                "{} needs root, and there is no sudo; as root, install {}",
                manager.program(),
                manager.packages(need).join(" ")
            );
        }
        if self.rights == Rights::AskThenSudo && !self.ask(need, &lines[0]) {
            bail!("you said no to `{}`", lines[0].join(" "));
        }
        println!("setup: installing {} …", need.name());
        if !self.refreshed.replace(true)
            && let Some(line) = manager.refresh(self.rights)
            && let Err(error) = self.carry_out(&line)
        {
            // The packages may be known from an earlier reading of the list, so go on.
            println!("setup: {error:#}");
        }
        lines.iter().try_for_each(|line| self.carry_out(line))
    }

    fn ask(&self, need: Need, line: &[String]) -> bool {
        if let Some(answer) = *self.agreed.borrow() {
            return answer;
        }
        print!(
            "{} is missing. May I install what is missing with sudo, as in\n  {}\n[y/N] ",
            need.name(),
            line.join(" ")
        );
        let _ = std::io::stdout().flush();
        let mut answer = String::new();
        let read = std::io::stdin().read_line(&mut answer);
        let yes = read.is_ok() && matches!(answer.trim(), "y" | "Y" | "yes" | "Yes");
        *self.agreed.borrow_mut() = Some(yes);
        yes
    }

    fn carry_out(&self, line: &[String]) -> Result<()> {
        let mut command = Command::new(&line[0]);
        command.args(&line[1..]);
        let ended = if self.rights == Rights::AskThenSudo {
            // sudo may ask for the password, so it needs our terminal.
            run::attached(&mut command, INSTALL_LIMIT)?
        } else {
            run::gathered(&mut command, INSTALL_LIMIT, Show::Quietly)?
        };
        if ended.good {
            return Ok(());
        }
        let last = ended.output.lines().rfind(|line| !line.trim().is_empty());
        bail!(
            "`{}` ended with {}{}",
            line.join(" "),
            ended.how,
            last.map(|line| format!(": {}", line.trim()))
                .unwrap_or_default()
        )
    }
}

fn is_root() -> bool {
    let mut command = Command::new("id");
    command.arg("-u");
    cfg!(unix)
        && run::gathered(&mut command, Duration::from_secs(10), Show::Quietly)
            .is_ok_and(|ended| ended.output.trim() == "0")
}
