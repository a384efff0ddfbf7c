//! What ffmpeg may touch while it works on files from elsewhere: those files, what it is told to write, and
//! what it is itself made of. No other file, no network; no more memory than a camera's file needs; and it
//! does not outlive the program that started it.
//!
//! This holds on Linux: by Landlock as far as the running kernel knows it, by a resource limit, and by the
//! signal that a child asks for when its parent ends. On other systems only what ffmpeg is told holds (see
//! [`crate::tools::input`]).

use std::ffi::{OsStr, OsString};
use std::path::{Path, PathBuf};

/// How a path stands before ffmpeg: through its `file:` protocol, so that a leading `-`, a `:` or anything
/// else in it is never read as an option, another protocol or a pattern.
const FILE: &str = "file:";

/// The address of `path` for ffmpeg.
pub(crate) fn url(path: &Path) -> OsString {
    let mut url = OsString::from(FILE);
    url.push(path);
    url
}

/// What a child may touch.
#[derive(Debug, Default, PartialEq)]
pub(crate) struct Reach {
    /// Files that it is told to read.
    read: Vec<PathBuf>,
    /// Files that it is told to write.
    write: Vec<PathBuf>,
    /// Files and folders that it is itself made of.
    itself: Vec<PathBuf>,
}

impl Reach {
    /// What the arguments name, and what `program` needs to start.
    pub(crate) fn of(program: &Path, arguments: &[OsString]) -> Self {
        let mut reach = Self {
            itself: itself(program),
            ..Self::default()
        };
        let mut before: &OsStr = OsStr::new("");
        for argument in arguments {
            if let Some(path) = path_of(argument) {
                match before == "-i" {
                    true => reach.read.push(path),
                    false => reach.write.push(path),
                }
            }
            before = argument;
        }
        reach
    }
}

/// The path in an address that [`url`] made.
fn path_of(argument: &OsStr) -> Option<PathBuf> {
    let bytes = argument.as_encoded_bytes().strip_prefix(FILE.as_bytes())?;
    // Cut behind characters of ASCII, which is where a system string may be cut.
    Some(PathBuf::from(argument.to_str().map_or_else(
        || of_bytes(bytes),
        |text| OsString::from(&text[FILE.len()..]),
    )))
}

#[cfg(unix)]
fn of_bytes(bytes: &[u8]) -> OsString {
    std::os::unix::ffi::OsStringExt::from_vec(bytes.to_vec())
}

#[cfg(not(unix))]
fn of_bytes(bytes: &[u8]) -> OsString {
    OsString::from(String::from_utf8_lossy(bytes).into_owned())
}

/// Where a Linux system keeps programs, and what they need to start.
const SYSTEM: [&str; 17] = [
    "/usr",
    "/lib",
    "/lib32",
    "/lib64",
    "/bin",
    "/sbin",
    "/opt",
    "/nix/store",
    "/gnu/store",
    "/snap",
    "/etc/ld.so.cache",
    "/etc/alternatives",
    "/etc/fonts",
    "/dev/urandom",
    "/proc/cpuinfo",
    "/proc/meminfo",
    "/sys/devices/system",
];

/// What `program` is made of: the system's programs and libraries, itself, and its own libraries beside it. Not
/// the folder that it lies in, which may be somebody's home.
fn itself(program: &Path) -> Vec<PathBuf> {
    let mut all: Vec<PathBuf> = SYSTEM.iter().map(PathBuf::from).collect();
    let paths = |name: &str| {
        let value = std::env::var_os(name).unwrap_or_default();
        std::env::split_paths(&value).collect::<Vec<_>>()
    };
    all.extend(
        paths("LD_LIBRARY_PATH")
            .into_iter()
            .filter(|path| path.is_absolute()),
    );
    let found = match program.components().count() {
        1 => paths("PATH")
            .into_iter()
            .map(|folder| folder.join(program))
            .find(|path| path.is_file()),
        _ => Some(program.to_path_buf()),
    };
    for path in found
        .iter()
        .flat_map(|path| [Some(path.clone()), path.canonicalize().ok()])
        .flatten()
    {
        let Some(folder) = path.parent() else {
            continue;
        };
        if folder.ends_with("bin") {
            let beside = folder.parent().unwrap_or(folder);
            all.extend(["lib", "lib64"].map(|name| beside.join(name)));
        }
        let beside = std::fs::read_dir(folder).into_iter().flatten().flatten();
        let libraries = beside.filter(|one| one.file_name().to_string_lossy().contains(".so"));
        all.extend(libraries.map(|one| one.path()));
        all.push(path.clone());
    }
    all
}

#[cfg(target_os = "linux")]
mod linux {
    use super::Reach;
    use landlock::{
        ABI, Access as _, AccessFs, AccessNet, BitFlags, CompatLevel, Compatible as _, Ruleset,
        RulesetAttr as _, RulesetCreatedAttr as _, RulesetError, Scope, path_beneath_rules,
    };
    use rustix::process::{Resource, Rlimit, Signal};
    use std::os::unix::process::CommandExt as _;
    use std::process::Command;
    use std::sync::OnceLock;

    /// The most memory a child may ask for, in bytes: what pictures of 8K need, sixteen at a time, and as
    /// much again.
    const MOST_MEMORY: u64 = 4 << 30;

    /// The newest rules that are asked for; an older kernel gives those that it knows.
    const RULES: ABI = ABI::V6;

    /// Whether a child can be held to its files on this system.
    pub(crate) fn is_known() -> bool {
        static KNOWN: OnceLock<bool> = OnceLock::new();
        *KNOWN.get_or_init(|| {
            let asked = Ruleset::default()
                .set_compatibility(CompatLevel::HardRequirement)
                .handle_access(AccessFs::from_all(ABI::V1));
            asked.and_then(Ruleset::create).is_ok()
        })
    }

    /// Holds the calling thread, and whatever it starts from now on, to `reach`.
    ///
    /// # Errors
    /// When the system knows such rules and refuses these.
    pub(crate) fn hold_this_thread(reach: &Reach) -> Result<(), RulesetError> {
        let read: BitFlags<AccessFs> = AccessFs::ReadFile.into();
        let write = AccessFs::WriteFile | AccessFs::Truncate;
        Ruleset::default()
            .handle_access(AccessFs::from_all(RULES))?
            .handle_access(AccessNet::from_all(RULES))?
            .scope(Scope::from_all(RULES))?
            .create()?
            .add_rules(path_beneath_rules(
                &reach.itself,
                AccessFs::from_read(RULES),
            ))?
            .add_rules(path_beneath_rules(&reach.read, read))?
            .add_rules(path_beneath_rules(&reach.write, read | write))?
            .add_rules(path_beneath_rules(["/dev/null"], read | write))?
            .restrict_self()?;
        Ok(())
    }

    /// Bounds the memory of what `command` starts, and has it end with the thread that starts it.
    #[expect(
        unsafe_code,
        reason = "only between fork and exec can a child ask for these"
    )]
    pub(crate) fn bound(command: &mut Command) {
        let ask = || {
            let memory = Rlimit {
                current: Some(MOST_MEMORY),
                maximum: Some(MOST_MEMORY),
            };
            // A stricter limit may stand already; then that one holds.
            let _ = rustix::process::setrlimit(Resource::Data, memory);
            rustix::process::set_parent_process_death_signal(Some(Signal::KILL))?;
            Ok(())
        };
        // SAFETY: between fork and exec of a program with several threads only calls are allowed that take
        // no lock and no memory of their own. Both are system calls made directly, on values of the stack;
        // the error they may give holds a number and allocates nothing.
        unsafe {
            command.pre_exec(ask);
        }
    }
}

#[cfg(target_os = "linux")]
pub(crate) use linux::{bound, hold_this_thread, is_known};

#[cfg(not(target_os = "linux"))]
pub(crate) fn is_known() -> bool {
    false
}

#[cfg(not(target_os = "linux"))]
pub(crate) fn hold_this_thread(_: &Reach) -> Result<(), std::convert::Infallible> {
    Ok(())
}

#[cfg(not(target_os = "linux"))]
pub(crate) fn bound(_: &mut std::process::Command) {}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_what_is_named_is_reached() {
        let words = ["-f", "mov", "-i"].map(OsString::from);
        let mut arguments = words.to_vec();
        arguments.push(url(Path::new("card/a b.mov")));
        arguments.push("-y".into());
        arguments.push(url(Path::new("/out/c.mp4")));
        let reach = Reach::of(Path::new("/usr/bin/ffmpeg"), &arguments);
        assert_eq!(reach.read, [PathBuf::from("card/a b.mov")]);
        assert_eq!(reach.write, [PathBuf::from("/out/c.mp4")]);
    }

    #[test]
    fn a_program_at_home_reaches_itself_and_its_libraries_alone() {
        let home = tempfile::tempdir().unwrap();
        let bin = home.path().join("bin");
        std::fs::create_dir(&bin).unwrap();
        std::fs::write(bin.join("ffmpeg"), b"").unwrap();
        let reach = Reach::of(&bin.join("ffmpeg"), &[]);
        assert!(reach.itself.contains(&bin.join("ffmpeg")));
        assert!(!reach.itself.contains(&bin));
        assert!(reach.itself.contains(&home.path().join("lib")));
        assert!(!reach.itself.contains(&home.path().to_path_buf()));
    }
}
