//! Ctrl-C anywhere, a full disk, a folder that can only be read: nothing half done under a final name, nothing lost.
#![cfg(unix)]

mod common;

use common::{barebulb, clip, ffmpeg, heard, json, run, song, told, wav};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

/// Every file under `folder` but what SQLite and the cache keep for themselves.
fn files(folder: &Path) -> Vec<String> {
    let mut out = Vec::new();
    let mut open = vec![folder.to_path_buf()];
    while let Some(next) = open.pop() {
        for entry in std::fs::read_dir(next).into_iter().flatten().flatten() {
            let path = entry.path();
            if path.is_dir() {
                open.push(path);
            } else {
                let name = path.strip_prefix(folder).unwrap().display().to_string();
                if !name.starts_with("cache") && !name.starts_with("project.sqlite-") {
                    out.push(name);
                }
            }
        }
    }
    out.sort();
    out
}

#[test]
fn stopping_leaves_whole_files_and_the_work_so_far() {
    if !ffmpeg() {
        return;
    }
    let folder = tempfile::tempdir().unwrap();
    let song = song(24, 5);
    let song_file = wav(&folder.path().join("song.wav"), &song)
        .display()
        .to_string();
    std::fs::create_dir_all(folder.path().join("card")).unwrap();
    for nth in 0..4 {
        assert!(clip(
            &folder.path().join(format!("card/t{nth}.mp4")),
            &heard(&song, f64::from(nth) * 2.0, 30.0, nth as u64),
            &[]
        ));
    }
    let dir = folder.path().join("video");
    let card = folder.path().join("card").display().to_string();
    let arguments = [
        "assemble",
        &dir.display().to_string(),
        "--song",
        &song_file,
        "--takes",
        &card,
        "--preview",
    ];
    // Sooner and later into the run, so that each stage is hit.
    let mut stopped = 0;
    for wait_ms in [30, 120, 300, 600, 1000, 1500, 2200, 3000] {
        let mut child = barebulb()
            .args(arguments)
            .stdout(Stdio::null())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        std::thread::sleep(Duration::from_millis(wait_ms));
        let _ = Command::new("kill")
            .args(["-INT", &child.id().to_string()])
            .status();
        let asked = Instant::now();
        let output = loop {
            match child.try_wait().unwrap() {
                Some(_) => break child.wait_with_output().unwrap(),
                None if asked.elapsed() > Duration::from_secs(60) => {
                    let _ = child.kill();
                    panic!("did not stop within a minute of being asked after {wait_ms} ms");
                }
                None => std::thread::sleep(Duration::from_millis(20)),
            }
        };
        let said = String::from_utf8_lossy(&output.stderr).into_owned();
        assert!(!said.contains("panicked"), "{said}");
        stopped += usize::from(!output.status.success());
        for name in files(&dir) {
            assert!(!name.ends_with(".part"), "{wait_ms} ms left {name}");
            if name.ends_with(".otio") || name.ends_with(".json") {
                let text = std::fs::read_to_string(dir.join(&name)).unwrap();
                assert!(
                    serde_json::from_str::<serde_json::Value>(&text).is_ok(),
                    "{wait_ms} ms: {name} is not whole"
                );
            }
        }
    }
    assert!(stopped > 0, "every run ended before it was stopped");
    // It goes on where it was and ends.
    let output = run(&arguments);
    assert_eq!(
        output.status.code(),
        Some(0),
        "{}",
        told(&output, folder.path())
    );
    let check = run(&["plan", "export", &dir.display().to_string(), "--json"]);
    assert_eq!(
        json(&check)["plan"]
            .as_str()
            .unwrap()
            .matches("[[takes]]")
            .count(),
        4
    );
}

/// A file system of `size` that goes away with it; `None` where this user may not make one.
struct Small(PathBuf);

impl Small {
    fn new(at: &Path, size: &str) -> Option<Self> {
        std::fs::create_dir_all(at).ok()?;
        let made = Command::new("mount")
            .args(["-t", "tmpfs", "-o", &format!("size={size}"), "tmpfs"])
            .arg(at)
            .stderr(Stdio::null())
            .status()
            .is_ok_and(|status| status.success());
        if !made {
            eprintln!("skipped: this user can't mount a small file system");
        }
        made.then(|| Self(at.to_path_buf()))
    }

    fn read_only(&self) -> bool {
        Command::new("mount")
            .args(["-o", "remount,ro"])
            .arg(&self.0)
            .status()
            .is_ok_and(|status| status.success())
    }
}

impl Drop for Small {
    fn drop(&mut self) {
        let _ = Command::new("umount").arg("-l").arg(&self.0).status();
    }
}

/// Fills what is left of a disk but for `spare` bytes.
fn fill(disk: &Path, spare: usize) {
    use std::io::Write as _;
    let mut file = std::fs::File::create(disk.join("ballast")).unwrap();
    let block = vec![7u8; 4096];
    while file.write_all(&block).is_ok() {}
    let size = file.metadata().unwrap().len();
    file.set_len(size.saturating_sub(spare as u64)).unwrap();
}

#[test]
fn a_full_disk_loses_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let disk = folder.path().join("disk");
    let Some(_small) = Small::new(&disk, "24m") else {
        return;
    };
    let song = song(16, 7);
    let song_file = wav(&folder.path().join("song.wav"), &song)
        .display()
        .to_string();
    let with_picture = ffmpeg();
    std::fs::create_dir_all(folder.path().join("card")).unwrap();
    if with_picture {
        assert!(clip(
            &folder.path().join("card/a.mp4"),
            &heard(&song, 0.0, 30.0, 1),
            &[]
        ));
    } else {
        wav(
            &folder.path().join("card/a.wav"),
            &heard(&song, 0.0, 30.0, 1),
        );
    }
    let card = folder.path().join("card").display().to_string();
    let dir = disk.join("video").display().to_string();
    let output = run(&["assemble", &dir, "--song", &song_file, "--takes", &card]);
    assert_eq!(
        output.status.code(),
        Some(0),
        "{}",
        told(&output, folder.path())
    );
    let before = json(&run(&["plan", "export", &dir, "--json"]));
    let stood = files(&disk.join("video"));

    for spare in [0, 4096, 20_000, 60_000] {
        fill(&disk, spare);
        let mut said = Vec::new();
        for arguments in [
            vec!["assemble", &dir, "--lock", "3-4=a", "--preview"],
            vec!["sync", &dir, "--rate", "a=circled"],
            vec![
                "plan",
                "export",
                &dir,
                "--out",
                &disk.join("plan.toml").display().to_string(),
            ],
        ] {
            let output = run(&arguments);
            let all = String::from_utf8_lossy(&output.stderr).into_owned();
            assert!(!all.contains("panicked"), "{all}");
            assert!(matches!(output.status.code(), Some(0 | 1)), "{all}");
            said.push(all);
        }
        let said = said.join("\n");
        assert!(
            spare > 4096 || said.contains("full") || said.contains("No space left"),
            "{spare}: {said}"
        );
        std::fs::remove_file(disk.join("ballast")).unwrap();
        // With room again: it opens, and the document is either as before or as an edit that was acknowledged left it.
        let after = run(&["plan", "export", &dir, "--json"]);
        assert_eq!(
            after.status.code(),
            Some(0),
            "{}",
            told(&after, folder.path())
        );
        for name in files(&disk.join("video")) {
            assert!(!name.ends_with(".part"), "{name}");
            if name.ends_with("preview.mp4") || stood.contains(&name) {
                assert!(
                    std::fs::metadata(disk.join("video").join(&name))
                        .unwrap()
                        .len()
                        > 0,
                    "{name}"
                );
            }
        }
        // Take back what went through, so that every round starts from the same document.
        for _ in 0..6 {
            if json(&run(&["plan", "export", &dir, "--json"])) == before {
                break;
            }
            let _ = run(&["plan", "undo", &dir]);
        }
        assert_eq!(json(&run(&["plan", "export", &dir, "--json"])), before);
    }
    if with_picture {
        let output = run(&["assemble", &dir, "--preview"]);
        assert_eq!(
            output.status.code(),
            Some(0),
            "{}",
            told(&output, folder.path())
        );
    }
}

#[test]
fn a_folder_that_can_only_be_read_is_read() {
    let folder = tempfile::tempdir().unwrap();
    let disk = folder.path().join("disk");
    let Some(small) = Small::new(&disk, "40m") else {
        return;
    };
    let song = song(8, 7);
    wav(&disk.join("song.wav"), &song);
    wav(&disk.join("card/a.wav"), &heard(&song, 0.0, 15.0, 1));
    let dir = disk.join("video").display().to_string();
    let text = |path: &str| disk.join(path).display().to_string();
    assert!(
        run(&[
            "assemble",
            &dir,
            "--song",
            &text("song.wav"),
            "--takes",
            &text("card")
        ])
        .status
        .success()
    );
    assert!(small.read_only());
    for arguments in [
        vec!["coverage", &dir],
        vec!["listen", &dir],
        vec!["sync", &dir],
        vec!["plan", "export", &dir],
        vec!["assemble", &dir, "--why", "3"],
    ] {
        let output = run(&arguments);
        assert_eq!(
            output.status.code(),
            Some(0),
            "{arguments:?}: {}",
            told(&output, folder.path())
        );
    }
    for arguments in [
        vec!["listen", &dir, "--double"],
        vec!["assemble", &dir, "--lock", "2-3=a"],
        vec!["plan", "undo", &dir],
        vec!["new", &text("another")],
    ] {
        let output = run(&arguments);
        let said = told(&output, folder.path());
        assert_eq!(output.status.code(), Some(1), "{arguments:?}: {said}");
        assert!(
            !said.contains("panicked") && said.contains("err: barebulb: "),
            "{said}"
        );
    }
}

/// A result that could not be written is told, and tells in the status; one that nobody wants any more is not.
#[cfg(target_os = "linux")]
#[test]
fn a_result_that_cannot_be_written_is_no_success() {
    let folder = tempfile::tempdir().unwrap();
    let dir = folder.path().join("video");
    assert!(run(&["new", &dir.display().to_string()]).status.success());
    for more in [
        &["plan", "export"][..],
        &["plan", "export", "--json"],
        &["next"],
    ] {
        let full = std::fs::File::options()
            .write(true)
            .open("/dev/full")
            .unwrap();
        let ended = barebulb()
            .args(more)
            .arg(&dir)
            .stdout(full)
            .output()
            .unwrap();
        assert_eq!(ended.status.code(), Some(1), "{more:?}");
        let said = String::from_utf8_lossy(&ended.stderr);
        assert!(
            said.contains("could not be written to standard output"),
            "{said}"
        );
    }
    let mut closed = barebulb()
        .args(["plan", "schema"])
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    drop(closed.stdout.take());
    assert!(closed.wait().unwrap().success());
    // A device stays one.
    let told = run(&[
        "plan",
        "export",
        &dir.display().to_string(),
        "--out",
        "/dev/null",
    ]);
    assert!(told.status.success());
    use std::os::unix::fs::FileTypeExt as _;
    assert!(
        std::fs::metadata("/dev/null")
            .unwrap()
            .file_type()
            .is_char_device()
    );
}
