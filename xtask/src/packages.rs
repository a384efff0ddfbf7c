//! Which package brings what is missing, and the command that installs it: tables and pure
//! functions.
//!
//! It runs nothing and looks at nothing; `setup` does.

/// A package manager of the system.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Manager {
    /// Debian, Ubuntu and their kin.
    Apt,
    /// Fedora and its kin.
    Dnf,
    /// macOS.
    Brew,
    /// Windows.
    Winget,
}

/// Something from outside that the demo or the tests can use.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Need {
    /// `ffmpeg` and `ffprobe`.
    Ffmpeg,
    /// A Chrome-family browser and its driver.
    Chromium,
    /// Python 3.10 or later with `venv`.
    Python,
    /// The library that reads timecode for the checks.
    Libltc,
}

/// With what rights an installing command may be run.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Rights {
    /// As we are: we are root, or the manager wants no more.
    Direct,
    /// Through sudo, after the person at the terminal has said yes.
    AskThenSudo,
    /// Through `sudo -n`, which never asks: nobody is there.
    SudoWithoutAsking,
    /// Not at all.
    Impossible,
}

impl Manager {
    /// In the order tried: a system's own manager before one that was added to it.
    const ALL: [Manager; 4] = [Manager::Apt, Manager::Dnf, Manager::Winget, Manager::Brew];

    /// The first manager whose program `is_there`.
    pub fn find(is_there: impl Fn(&str) -> bool) -> Option<Manager> {
        Self::ALL
            .into_iter()
            .find(|manager| is_there(manager.program()))
    }

    /// The program's name on PATH.
    pub fn program(self) -> &'static str {
        match self {
            Manager::Apt => "apt-get",
            Manager::Dnf => "dnf",
            Manager::Brew => "brew",
            Manager::Winget => "winget",
        }
    }

    /// The packages that bring `need`.
    pub fn packages(self, need: Need) -> &'static [&'static str] {
        match (self, need) {
            (Manager::Apt | Manager::Brew, Need::Ffmpeg) => &["ffmpeg"],
            // Fedora's own build; the one called `ffmpeg` lives in a repository that may be off.
            (Manager::Dnf, Need::Ffmpeg) => &["ffmpeg-free"],
            (Manager::Winget, Need::Ffmpeg) => &["Gyan.FFmpeg"],
            (Manager::Apt, Need::Chromium) => &["chromium", "chromium-driver"],
            (Manager::Dnf, Need::Chromium) => &["chromium", "chromedriver"],
            (Manager::Brew, Need::Chromium) => &["google-chrome", "chromedriver"],
            (Manager::Winget, Need::Chromium) => &["Google.Chrome"],
            (Manager::Apt, Need::Python) => &["python3", "python3-venv"],
            (Manager::Dnf, Need::Python) => &["python3"],
            // OpenTimelineIO's newest wheels stop at 3.13.
            (Manager::Brew, Need::Python) => &["python@3.13"],
            (Manager::Winget, Need::Python) => &["Python.Python.3.13"],
            (Manager::Apt, Need::Libltc) => &["libltc11"],
            (Manager::Dnf | Manager::Brew, Need::Libltc) => &["libltc"],
            (Manager::Winget, Need::Libltc) => &[],
        }
    }

    /// The command lines that install `need`, the program first, run with `rights`; empty when
    /// that is impossible.
    pub fn install(self, need: Need, rights: Rights) -> Vec<Vec<String>> {
        let packages = self.packages(need);
        let lines: Vec<Vec<&str>> = match self {
            // A run of ours may meet another one at the lock: wait for it rather than fail.
            Manager::Apt => vec![
                [
                    &["env", "DEBIAN_FRONTEND=noninteractive", "apt-get"],
                    &["-o", "DPkg::Lock::Timeout=120", "install"],
                    &["--yes", "--no-install-recommends"][..],
                    packages,
                ]
                .concat(),
            ],
            Manager::Dnf => vec![[&["dnf", "install", "--assumeyes"][..], packages].concat()],
            Manager::Brew if need == Need::Chromium => {
                vec![[&["brew", "install", "--cask"][..], packages].concat()]
            }
            Manager::Brew => vec![[&["brew", "install"][..], packages].concat()],
            Manager::Winget => packages
                .iter()
                .map(|package| {
                    let mut line = vec!["winget", "install", "--exact", "--id", package];
                    line.extend(["--disable-interactivity", "--accept-source-agreements"]);
                    line.push("--accept-package-agreements");
                    line
                })
                .collect(),
        };
        with_rights(lines, rights)
    }

    /// The command line that reads the list of packages anew, where installing needs that first.
    pub fn refresh(self, rights: Rights) -> Option<Vec<String>> {
        let line = vec!["apt-get", "-o", "DPkg::Lock::Timeout=120", "update"];
        (self == Manager::Apt)
            .then(|| with_rights(vec![line], rights))
            .and_then(|mut lines| lines.pop())
    }

    /// With what rights its installing commands may be run.
    pub fn rights(self, root: bool, sudo_there: bool, person_there: bool) -> Rights {
        let wants_root = matches!(self, Manager::Apt | Manager::Dnf);
        if root || !wants_root {
            Rights::Direct
        } else if !sudo_there {
            Rights::Impossible
        } else if person_there {
            Rights::AskThenSudo
        } else {
            Rights::SudoWithoutAsking
        }
    }
}

impl Need {
    /// What to call it in a sentence.
    pub fn name(self) -> &'static str {
        match self {
            Need::Ffmpeg => "ffmpeg",
            Need::Chromium => "Chromium",
            Need::Python => "Python 3.10 or later with venv",
            Need::Libltc => "libltc",
        }
    }
}

fn with_rights(lines: Vec<Vec<&str>>, rights: Rights) -> Vec<Vec<String>> {
    let prefix: &[&str] = match rights {
        Rights::Direct => &[],
        Rights::AskThenSudo => &["sudo"],
        Rights::SudoWithoutAsking => &["sudo", "-n"],
        Rights::Impossible => return Vec::new(),
    };
    lines
        .into_iter()
        .map(|line| {
            prefix
                .iter()
                .copied()
                .chain(line)
                .map(String::from)
                .collect()
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_system_has_its_command() {
        let cases = [
            (
                Manager::Apt,
                Need::Ffmpeg,
                Rights::AskThenSudo,
                "sudo env DEBIAN_FRONTEND=noninteractive apt-get -o DPkg::Lock::Timeout=120 \
                 install --yes --no-install-recommends ffmpeg",
            ),
            (
                Manager::Apt,
                Need::Python,
                Rights::Direct,
                "env DEBIAN_FRONTEND=noninteractive apt-get -o DPkg::Lock::Timeout=120 install \
                 --yes --no-install-recommends python3 python3-venv",
            ),
            (
                Manager::Dnf,
                Need::Chromium,
                Rights::SudoWithoutAsking,
                "sudo -n dnf install --assumeyes chromium chromedriver",
            ),
            (
                Manager::Brew,
                Need::Chromium,
                Rights::Direct,
                "brew install --cask google-chrome chromedriver",
            ),
            (
                Manager::Brew,
                Need::Ffmpeg,
                Rights::Direct,
                "brew install ffmpeg",
            ),
            (
                Manager::Dnf,
                Need::Libltc,
                Rights::Direct,
                "dnf install --assumeyes libltc",
            ),
            (
                Manager::Winget,
                Need::Ffmpeg,
                Rights::Direct,
                "winget install --exact --id Gyan.FFmpeg --disable-interactivity \
                 --accept-source-agreements --accept-package-agreements",
            ),
        ];
        for (manager, need, rights, want) in cases {
            let lines = manager.install(need, rights);
            assert_eq!(lines.len(), 1);
            assert_eq!(lines[0].join(" "), want);
        }
        assert!(
            Manager::Apt
                .install(Need::Ffmpeg, Rights::Impossible)
                .is_empty()
        );
    }

    #[test]
    fn only_apt_reads_its_list_first() {
        for manager in Manager::ALL {
            let line = manager.refresh(Rights::Direct);
            assert_eq!(line.is_some(), manager == Manager::Apt);
        }
    }

    #[test]
    fn the_manager_that_is_there_is_taken() {
        assert_eq!(
            Manager::find(|name| name == "apt-get" || name == "brew"),
            Some(Manager::Apt)
        );
        assert_eq!(Manager::find(|name| name == "brew"), Some(Manager::Brew));
        assert_eq!(Manager::find(|_| false), None);
    }

    #[test]
    fn nobody_is_asked_where_nobody_is() {
        let rights = |root, sudo, person| Manager::Apt.rights(root, sudo, person);
        assert_eq!(rights(true, false, true), Rights::Direct);
        assert_eq!(rights(false, true, true), Rights::AskThenSudo);
        assert_eq!(rights(false, true, false), Rights::SudoWithoutAsking);
        assert_eq!(rights(false, false, true), Rights::Impossible);
        assert_eq!(Manager::Brew.rights(false, true, true), Rights::Direct);
    }
}
