//! Brings packages of the system by name, once it is known how, and asks before it uses sudo.

use std::cell::{Cell, RefCell};
use std::io::{IsTerminal, Write};
use std::process::Command;
use std::time::Duration;

use anyhow::{Result, bail};

use crate::packages::{Manager, Need, Rights};
use crate::run::{self, Show};

/// A package with all it needs comes down a slow line in this time, or not at all.
pub const LIMIT: Duration = Duration::from_secs(15 * 60);

/// Installs packages, once it is known how, and remembers what it has already tried.
pub struct Installer {
    /// Whether it may install at all.
    allowed: bool,
    manager: Option<Manager>,
    rights: Rights,
    refreshed: Cell<bool>,
    /// The answer of the person at the terminal, once asked, so that it is asked once only.
    agreed: RefCell<Option<bool>>,
}

impl Installer {
    /// Knows how on this system; `allowed` is false where nothing may be installed.
    pub fn new(allowed: bool) -> Installer {
        let manager = Manager::find(|program| run::find(program).is_some());
        let rights = manager.map_or(Rights::Impossible, |manager| {
            let sudo = run::find("sudo").is_some();
            manager.rights(is_root(), sudo, std::io::stdin().is_terminal())
        });
        Installer {
            allowed,
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
        if !self.allowed {
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
            run::attached(&mut command, LIMIT)?
        } else {
            run::gathered(&mut command, LIMIT, Show::Quietly)?
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
