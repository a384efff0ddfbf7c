//! What the documents mention as code: commands with their options, files, and names with an
//! underscore. Each must be in the program or in the tree.
//!
//! What only a run of the program shows (its commands and options) is asked of the built program,
//! where there is one. Words, formulas and what a reader is to fill in (`DIR`, `song.wav` in a
//! command) are not looked at.

use std::cell::RefCell;
use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;
use std::process::Command;
use std::time::Duration;

use anyhow::{Context, Result};

use crate::run::{self, Show};

/// Options of other programs that the documents name with them.
const OTHERS_OPTIONS: [&str; 1] = ["--workspace"];

/// Endings by which a word is taken for a file's name.
const FILES: [&str; 13] = [
    "rs", "md", "py", "toml", "txt", "js", "css", "html", "json", "sqlite", "svg", "sql", "yml",
];

/// What a mention can be looked up in.
pub struct House<'a> {
    /// Every file, from the root of the checkout on.
    files: &'a [String],
    /// The text of all that is not a document.
    sources: String,
    program: Option<&'a Path>,
    helps: RefCell<BTreeMap<String, String>>,
}

impl<'a> House<'a> {
    /// Reads the sources among `files`; commands are asked of `program`.
    ///
    /// # Errors
    /// When a file cannot be read.
    pub fn new(root: &Path, files: &'a [String], program: Option<&'a Path>) -> Result<House<'a>> {
        let mut sources = String::new();
        for file in files.iter().filter(|file| is_source(file)) {
            let bytes =
                std::fs::read(root.join(file)).with_context(|| format!("could not read {file}"))?;
            sources.push_str(&String::from_utf8_lossy(&bytes));
        }
        Ok(House {
            files,
            sources,
            program,
            helps: RefCell::default(),
        })
    }

    /// What a document mentions and is not to be found, one phrase each.
    pub fn missing(&self, document: &str) -> BTreeSet<String> {
        let mut missing = BTreeSet::new();
        for code in snippets(document) {
            missing.extend(self.unknown(&code));
        }
        missing
    }

    /// What is not to be found of one piece of code.
    fn unknown(&self, code: &str) -> Vec<String> {
        let words: Vec<&str> = code.split_whitespace().collect();
        match words.as_slice() {
            ["barebulb", rest @ ..] => self.of_program(rest),
            ["cargo", "xtask", rest @ ..] => options(rest)
                .filter(|option| !crate::usage().contains(option))
                .map(|option| format!("`cargo xtask` takes no `{option}`"))
                .collect(),
            ["cargo", rest @ ..] => self.of_cargo(rest),
            [first, ..] if first.starts_with("--") => {
                let option = first.split('=').next().unwrap_or_default();
                self.option(option).into_iter().collect()
            }
            _ => {
                let script = words.iter().position(|word| word.ends_with(".py"));
                let mut found: Vec<String> = match script {
                    Some(at) => self.of_script(words[at], &words[at + 1..]),
                    None => Vec::new(),
                };
                if let [word] = words.as_slice() {
                    found.extend(self.file(word).or_else(|| self.name(word)));
                }
                found
            }
        }
    }

    /// A call of our program: its commands and options, by its own help.
    fn of_program(&self, words: &[&str]) -> Vec<String> {
        if self.program.is_none() {
            return Vec::new();
        }
        let mut path = Vec::new();
        for word in words {
            let known = commands_in(&self.help(&path));
            if known.iter().any(|command| command == word) {
                path.push(*word);
            } else if path.is_empty() && word.chars().all(|c| c.is_ascii_lowercase()) {
                return vec![format!("there is no `barebulb {word}`")];
            } else {
                break;
            }
        }
        let help = self.help(&path);
        options(words)
            .filter(|option| !names(&help, option))
            .map(|option| format!("`barebulb {}` takes no `{option}`", path.join(" ")))
            .collect()
    }

    /// What the program says of a command.
    fn help(&self, path: &[&str]) -> String {
        let key = path.join(" ");
        if let Some(known) = self.helps.borrow().get(&key) {
            return known.clone();
        }
        let said = self.program.and_then(|program| {
            let mut help = Command::new(program);
            help.args(path).arg("--help");
            run::gathered(&mut help, Duration::from_secs(20), Show::Quietly).ok()
        });
        let said = said.map_or_else(String::new, |ended| ended.output);
        self.helps.borrow_mut().insert(key, said.clone());
        said
    }

    /// A call of cargo: its packages and examples.
    fn of_cargo(&self, words: &[&str]) -> Vec<String> {
        let after = |flags: &[&str]| {
            let at = words.iter().position(|word| flags.contains(word))?;
            words.get(at + 1).copied()
        };
        let Some(package) = after(&["-p", "--package"]) else {
            return Vec::new();
        };
        let example = after(&["--example"]).map(|name| {
            let folder = format!("crates/{package}/examples/{name}");
            (format!("{folder}.rs"), format!("{folder}/main.rs"))
        });
        let there = |file: &String| self.files.contains(file);
        if !there(&format!("crates/{package}/Cargo.toml")) {
            vec![format!("there is no crate `{package}`")]
        } else if example.is_some_and(|(one, other)| !there(&one) && !there(&other)) {
            vec![format!(
                "`{package}` has no such example: {}",
                words.join(" ")
            )]
        } else {
            Vec::new()
        }
    }

    /// A script of ours with its options, which stand in it as text.
    fn of_script(&self, script: &str, words: &[&str]) -> Vec<String> {
        if script.contains("NAME") {
            return Vec::new();
        }
        if !self.files.iter().any(|file| file.ends_with(script)) {
            return vec![format!("there is no `{script}`")];
        }
        options(words)
            .filter(|option| !self.sources.contains(&format!("\"{option}\"")))
            .map(|option| format!("`{script}` takes no `{option}`"))
            .collect()
    }

    /// An option alone: any of ours may have it.
    fn option(&self, option: &str) -> Option<String> {
        self.program?;
        let of_program = || {
            let commands = commands_in(&self.help(&[]));
            commands.iter().any(|command| {
                let further = commands_in(&self.help(&[command]));
                names(&self.help(&[command]), option)
                    || further
                        .iter()
                        .any(|deeper| names(&self.help(&[command, deeper]), option))
            })
        };
        let known = OTHERS_OPTIONS.contains(&option)
            || crate::usage().contains(option)
            || self.sources.contains(&format!("add_argument(\"{option}\""))
            || of_program();
        (!known).then(|| format!("nothing takes `{option}`"))
    }

    /// A file or folder of the tree, or one that the program writes and therefore names; an address
    /// of the pages; `None` too for a word that is none of these.
    fn file(&self, word: &str) -> Option<String> {
        let ending = word.rsplit_once('.').map_or("", |(_, ending)| ending);
        let is_path = word.contains('/')
            && word
                .chars()
                .all(|c| c.is_ascii_alphanumeric() || "/._-*".contains(c));
        let made = ["target/", ".venv/", "out/"]
            .iter()
            .any(|of| word.starts_with(of));
        let to_fill_in = word.contains("NAME") || word.contains("...");
        if !(is_path || FILES.contains(&ending)) || made || to_fill_in {
            return None;
        }
        let plain = word.trim_end_matches('/');
        let within = |file: &String| {
            let of_folder = format!("{plain}/");
            file == plain
                || file.starts_with(&of_folder)
                || file.ends_with(&format!("/{plain}"))
                || file.contains(&format!("/{of_folder}"))
        };
        // A numbered file is named by its parts: `v001-strip.svg` is made as `v{:03}-strip.svg`.
        let name = plain.rsplit('/').next().unwrap_or(plain);
        let fixed = name.trim_start_matches(|c: char| c == 'v' || c.is_ascii_digit());
        let written = [plain, name, fixed]
            .iter()
            .any(|text| text.len() > 3 && self.sources.contains(&format!("{text}\"")))
            || (word.starts_with('/') && self.sources.contains(&format!("\"{plain}")));
        let there = self.files.iter().any(within) || written;
        (!there).then(|| format!("there is no `{word}`"))
    }

    /// A name with an underscore: some source has it.
    fn name(&self, word: &str) -> Option<String> {
        let plain = word.contains('_')
            && word.chars().all(|c| c.is_ascii_alphanumeric() || c == '_')
            && !word.starts_with('_');
        (plain && !self.sources.contains(word)).then(|| format!("nothing is called `{word}`"))
    }
}

fn is_source(file: &str) -> bool {
    const ENDINGS: [&str; 8] = ["rs", "py", "toml", "js", "css", "sql", "txt", "ci/run"];
    ENDINGS.iter().any(|ending| file.ends_with(ending))
}

/// The options among the words of a command line, up to a remark.
fn options<'a>(words: &'a [&'a str]) -> impl Iterator<Item = &'a str> {
    words
        .iter()
        .take_while(|word| !matches!(**word, "#" | "--" | "|" | ">" | "&&"))
        .filter(|word| word.starts_with("--"))
        .map(|word| word.split('=').next().unwrap_or(word))
}

/// Whether a help text names an option.
fn names(help: &str, option: &str) -> bool {
    help.split(|c: char| !(c.is_ascii_alphanumeric() || c == '-'))
        .any(|word| word == option)
}

/// The commands that a help text lists.
fn commands_in(help: &str) -> Vec<String> {
    help.lines()
        .skip_while(|line| *line != "Commands:")
        .skip(1)
        .take_while(|line| line.starts_with(' '))
        .filter(|line| line.starts_with("  ") && !line.starts_with("   "))
        .filter_map(|line| line.split_whitespace().next().map(String::from))
        .collect()
}

/// The pieces of code in a document: lines of fenced blocks, those that go on joined, and what
/// stands between backticks.
fn snippets(text: &str) -> Vec<String> {
    let mut found = Vec::new();
    let mut fenced = false;
    let mut prose = String::new();
    let mut open = String::new();
    for line in text.lines() {
        if line.trim_start().starts_with("```") {
            fenced = !fenced;
        } else if fenced {
            open.push_str(line.trim_start().trim_start_matches("$ "));
            match open.strip_suffix('\\') {
                Some(more) => open = more.to_owned(),
                None => found.push(std::mem::take(&mut open)),
            }
        } else {
            // A paragraph's backticks pair up within it.
            let end = if line.is_empty() { "\n" } else { " " };
            prose.push_str(line);
            prose.push_str(end);
        }
    }
    let paragraphs = prose.lines();
    found.extend(paragraphs.flat_map(|it| it.split('`').skip(1).step_by(2).map(String::from)));
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    fn house(files: &[String]) -> House<'_> {
        House {
            files,
            sources: "const MAY_IMPORT: x; f(\"v{:03}-strip.svg\") battery_reserve \
                      parser.add_argument(\"--large\") route(\"/pocket/log\")"
                .to_owned(),
            program: Some(Path::new("no-program-is-asked")),
            helps: RefCell::new(BTreeMap::from([
                (
                    String::new(),
                    "Commands:\n  plan  x\n  sky   y\n\nOptions:\n  --json\n".into(),
                ),
                ("plan".into(), "Commands:\n  export  x\n".into()),
                (
                    "plan export".into(),
                    "Options:\n      --out <FILE>  where\n".into(),
                ),
                (
                    "sky".into(),
                    "Options:\n      --at <TIME>  when\n      --json\n".into(),
                ),
            ])),
        }
    }

    #[test]
    fn what_is_there_is_found_and_what_is_not_is_named() {
        let files = [
            "crates/sky/Cargo.toml",
            "crates/sky/examples/year.rs",
            "checks/sky/check_sky.py",
            "crates/pages/src/computed.rs",
        ]
        .map(String::from);
        let house = house(&files);
        let good = "Run `barebulb sky DIR --at=3 --json`, `barebulb plan\nexport DIR --out x`, `--at`, \
                    `--large`, `cargo run -p sky --example year`, `checks/sky/check_sky.py B --large 2`; \
                    see `pages/src/computed.rs`, `assembly/v001-strip.svg`, `crates/sky`, \
                    `/pocket/log`, `MAY_IMPORT`, `battery_reserve`, `a/b = c`, `song.wav`.\n\
                    ```sh\nbarebulb sky DIR \\\n    --at 3    # --not-an-option\n```\n";
        assert_eq!(house.missing(good), BTreeSet::new());
        let cases = [
            ("barebulb moon DIR", "there is no `barebulb moon`"),
            ("barebulb sky --out x", "`barebulb sky` takes no `--out`"),
            (
                "barebulb plan export --at 3",
                "`barebulb plan export` takes no `--at`",
            ),
            ("--nothing", "nothing takes `--nothing`"),
            ("cargo test -p moon", "there is no crate `moon`"),
            (
                "checks/sky/check_sky.py B --small 2",
                "`checks/sky/check_sky.py` takes no `--small`",
            ),
            (
                "checks/sky/check_moon.py",
                "there is no `checks/sky/check_moon.py`",
            ),
            (
                "cargo xtask test --slowly",
                "`cargo xtask` takes no `--slowly`",
            ),
            ("pages/src/counted.rs", "there is no `pages/src/counted.rs`"),
            ("crates/moon/", "there is no `crates/moon/`"),
            ("battery_floor", "nothing is called `battery_floor`"),
        ];
        for (code, want) in cases {
            let found = house.missing(&format!("See `{code}`."));
            assert!(found.contains(want), "{code}: {found:?}");
            let found = house.missing(&format!("```\n{code}\n```\n"));
            assert!(found.contains(want), "{code}: {found:?}");
        }
    }
}
