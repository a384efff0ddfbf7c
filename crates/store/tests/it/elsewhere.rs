//! Places that can't be written: a read-only folder, a full disk, a limit on file sizes.
//!
//! Each case runs as a process of its own, because it needs another user (permissions mean
//! nothing to root), a small disk, or a limit. The case is this test program again, asked for one
//! test and told by the environment to do the work.

use crate::{NOW, file, idea, impatient, is_sentence, title, world};
use std::path::{Path, PathBuf};
use std::process::Command;
use store::{Cache, Error, RevisionId, Store};

const PLACE: &str = "STORE_TEST_PLACE";

/// The folder to work in, when this process is the one told to.
fn place() -> Option<PathBuf> {
    std::env::var_os(PLACE).map(PathBuf::from)
}

/// This test program again, doing `test` in `place`.
fn again(mut command: Command, test: &str, place: &Path) {
    let output = command
        .args(["--exact", "--nocapture", test])
        .env(PLACE, place)
        .output()
        .unwrap();
    let text = format!(
        "{}{}",
        String::from_utf8_lossy(&output.stdout),
        String::from_utf8_lossy(&output.stderr)
    );
    assert!(output.status.success(), "{text}");
    assert!(text.contains("1 passed"), "{text}");
    // A case that did nothing must not pass for one that did.
    assert!(text.contains(DONE), "{text}");
}

const DONE: &str = "case done";

#[cfg(unix)]
mod unix {
    use super::*;
    use std::os::unix::fs::{MetadataExt, PermissionsExt, chown};
    use std::os::unix::process::CommandExt;

    /// The user and group `nobody`, by convention.
    const NOBODY: u32 = 65_534;

    fn is_root() -> bool {
        tempfile::tempdir()
            .unwrap()
            .path()
            .metadata()
            .unwrap()
            .uid()
            == 0
    }

    fn mode(path: &Path, mode: u32) {
        std::fs::set_permissions(path, std::fs::Permissions::from_mode(mode)).unwrap();
    }

    /// Runs `test` in `dir` as somebody who may not write where the modes say so.
    fn as_ordinary_user(test: &str, dir: &Path) {
        let program = std::env::current_exe().unwrap();
        if is_root() {
            // Another user can't look into root's build folder: give them a copy.
            let open = tempfile::tempdir().unwrap();
            mode(open.path(), 0o755);
            let copy = open.path().join("test");
            std::fs::copy(&program, &copy).unwrap();
            mode(&copy, 0o755);
            let mut command = Command::new(&copy);
            command.uid(NOBODY).gid(NOBODY).current_dir("/");
            again(command, test, dir);
        } else {
            again(Command::new(program), test, dir);
        }
    }

    /// A project whose newest edit is in the file, and another whose newest is in the log alone,
    /// as after a process was killed.
    fn project(dir: &Path, logged: bool) {
        let made = tempfile::tempdir().unwrap();
        let mut store = Store::create(made.path(), &world::project(), NOW).unwrap();
        store.apply(&title("kept"), NOW).unwrap();
        if logged {
            let log = made.path().join("project.sqlite-wal");
            assert!(log.metadata().unwrap().len() > 0);
            std::fs::copy(log, dir.join("project.sqlite-wal")).unwrap();
        } else {
            drop(store);
        }
        std::fs::copy(file(made.path()), file(dir)).unwrap();
    }

    fn shut(dir: &Path) {
        for entry in std::fs::read_dir(dir).unwrap() {
            mode(&entry.unwrap().path(), 0o444);
        }
        mode(dir, 0o555);
    }

    fn content(dir: &Path) -> Vec<(PathBuf, Vec<u8>)> {
        let mut files: Vec<_> = std::fs::read_dir(dir)
            .unwrap()
            .map(|entry| entry.unwrap().path())
            .map(|path| (path.clone(), std::fs::read(path).unwrap()))
            .collect();
        files.sort();
        files
    }

    #[test]
    fn a_folder_that_can_only_be_read() {
        if let Some(dir) = place() {
            let before = content(&dir);
            let mut store = Store::open_with(&dir, impatient()).unwrap();
            assert!(store.is_read_only());
            assert_eq!(store.head().unwrap().1.title, "kept");
            assert_eq!(store.at(RevisionId::new(1)).unwrap().title, "Paper Weather");
            assert_eq!(store.check().unwrap().problems, Vec::<String>::new());
            for refused in [
                store.apply(&title("x"), NOW),
                store.undo(NOW),
                store.redo(NOW),
            ] {
                let error = refused.unwrap_err();
                assert!(matches!(error, Error::ReadOnly { .. }), "{error}");
                assert!(is_sentence(&error.to_string()), "{error}");
                assert!(error.to_string().contains(dir.to_str().unwrap()), "{error}");
            }
            drop(store);
            let beside = Store::create(&dir.join("new"), &world::project(), NOW);
            assert!(is_sentence(&beside.err().unwrap().to_string()));
            let cache = Cache::new(dir.join("cache"), 1 << 30);
            assert!(
                cache
                    .put("peaks", 1, "k", b"x")
                    .is_some_and(|note| is_sentence(&note))
            );
            assert_eq!(cache.get("peaks", 1, "k"), None);
            assert_eq!(content(&dir), before);
            println!("{DONE}");
            return;
        }
        for logged in [false, true] {
            let dir = tempfile::Builder::new()
                .prefix("it's a film? 100% 🎬 #")
                .tempdir()
                .unwrap();
            project(dir.path(), logged);
            shut(dir.path());
            as_ordinary_user(
                "elsewhere::unix::a_folder_that_can_only_be_read",
                dir.path(),
            );
            mode(dir.path(), 0o755);
        }
        // The file is mine, the folder is not: the log can't be made.
        if is_root() {
            let dir = tempfile::tempdir().unwrap();
            project(dir.path(), false);
            mode(dir.path(), 0o755);
            chown(file(dir.path()), Some(NOBODY), Some(NOBODY)).unwrap();
            as_ordinary_user(
                "elsewhere::unix::a_folder_that_can_only_be_read",
                dir.path(),
            );
        }
    }

    #[test]
    fn an_old_file_in_a_folder_that_can_only_be_read() {
        if let Some(dir) = place() {
            let before = content(&dir);
            let mut store = Store::open_with(&dir, impatient()).unwrap();
            assert!(store.is_read_only());
            assert_eq!(store.head().unwrap().1, crate::old::document(2));
            assert!(matches!(store.undo(NOW), Err(Error::ReadOnly { .. })));
            drop(store);
            assert_eq!(content(&dir), before);
            println!("{DONE}");
            return;
        }
        let dir = tempfile::tempdir().unwrap();
        std::fs::copy(crate::old::stored(), file(dir.path())).unwrap();
        shut(dir.path());
        as_ordinary_user(
            "elsewhere::unix::an_old_file_in_a_folder_that_can_only_be_read",
            dir.path(),
        );
        mode(dir.path(), 0o755);
    }

    #[test]
    fn a_file_that_may_not_be_looked_at() {
        if let Some(dir) = place() {
            let error = Store::open_with(&dir, impatient()).err().unwrap();
            assert!(is_sentence(&error.to_string()), "{error}");
            assert!(error.to_string().contains("ermission"), "{error}");
            println!("{DONE}");
            return;
        }
        let dir = tempfile::tempdir().unwrap();
        project(dir.path(), false);
        mode(&file(dir.path()), 0o000);
        mode(dir.path(), 0o755);
        as_ordinary_user(
            "elsewhere::unix::a_file_that_may_not_be_looked_at",
            dir.path(),
        );
    }

    /// Edits until it fails, then again with room made: every edit that returned is there.
    fn edit_until_full(dir: &Path, ballast: Option<&Path>) -> Error {
        let mut store = Store::create(dir, &world::project(), NOW).unwrap();
        let mut kept = vec![store.head().unwrap()];
        let error = loop {
            assert!(kept.len() < 20_000, "it never became full");
            match store.apply(&idea(&format!("n{}", kept.len())), NOW) {
                Ok(made) => kept.push(made),
                Err(error) => break error,
            }
        };
        assert!(kept.len() > 1);
        assert!(is_sentence(&error.to_string()), "{error}");
        assert_eq!(&store.head().unwrap(), kept.last().unwrap());
        drop(store);
        // Still as full as before: it opens, for reading at least, with everything acknowledged.
        let mut store = Store::open_with(dir, impatient()).unwrap();
        assert_eq!(&store.head().unwrap(), kept.last().unwrap());
        let cache = Cache::new(dir.join("cache"), 1 << 30);
        assert!(cache.put("peaks", 1, "k", &[0; 9_000_000]).is_some());
        if let Some(ballast) = ballast {
            drop(store);
            // Not a byte is left.
            let filler = dir.join("filler");
            let mut file = std::fs::File::create(&filler).unwrap();
            while std::io::Write::write_all(&mut file, &[0; 512]).is_ok() {}
            let mut full = Store::open_with(dir, impatient()).unwrap();
            assert_eq!(&full.head().unwrap(), kept.last().unwrap());
            let error = full.apply(&title("no room"), NOW).unwrap_err();
            assert!(matches!(error, Error::DiskFull { .. }), "{error}");
            drop(full);
            std::fs::remove_file(filler).unwrap();
            std::fs::remove_file(ballast).unwrap();
            store = Store::open_with(dir, impatient()).unwrap();
            kept.push(store.apply(&title("room again"), NOW).unwrap());
        }
        assert_eq!(&store.head().unwrap(), kept.last().unwrap());
        for (id, project) in kept.iter().rev().step_by(kept.len() / 40 + 1) {
            assert_eq!(&store.at(*id).unwrap(), project);
        }
        let check = store.check().unwrap();
        assert_eq!(check.problems, Vec::<String>::new());
        assert_eq!(check.revisions, kept.len() as u64);
        error
    }

    #[test]
    fn a_limit_on_file_sizes() {
        if let Some(dir) = place() {
            edit_until_full(&dir, None);
            println!("{DONE}");
            return;
        }
        let dir = tempfile::tempdir().unwrap();
        let mut command = Command::new("sh");
        // 1 MB, in the blocks of 512 bytes that POSIX gives `ulimit -f` (some shells count in 1024).
        command.args(["-c", "trap '' XFSZ; ulimit -f 2048; exec \"$0\" \"$@\""]);
        command.arg(std::env::current_exe().unwrap());
        again(
            command,
            "elsewhere::unix::a_limit_on_file_sizes",
            dir.path(),
        );
    }

    #[cfg(target_os = "linux")]
    #[test]
    fn a_full_disk() {
        if let Some(dir) = place() {
            let ballast = dir.join("ballast");
            std::fs::write(&ballast, vec![0; 400_000]).unwrap();
            let error = edit_until_full(&dir.join("film"), Some(&ballast));
            assert!(matches!(error, Error::DiskFull { .. }), "{error}");
            println!("{DONE}");
            return;
        }
        // A disk of 2 MB that only this process sees.
        let dir = tempfile::tempdir().unwrap();
        let user: &[&str] = if is_root() {
            &[]
        } else {
            &["--user", "--map-root-user"]
        };
        let small_disk = |script: &str| {
            let mut command = Command::new("unshare");
            command
                .args(user)
                .args(["--mount", "sh", "-c", script])
                .arg(dir.path());
            command
        };
        let mount = "mount -t tmpfs -o size=2m none \"$0\"";
        if !small_disk(mount)
            .output()
            .is_ok_and(|output| output.status.success())
        {
            println!("left out: this system lets nobody mount a small disk");
            return;
        }
        let mut command = small_disk(&format!("{mount} && exec \"$@\""));
        command.arg(std::env::current_exe().unwrap());
        again(command, "elsewhere::unix::a_full_disk", dir.path());
    }
}
