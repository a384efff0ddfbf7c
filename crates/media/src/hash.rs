//! Content hashes, and files found again by them.

use crate::{Error, KeepGoing};
use std::collections::VecDeque;
use std::fs::File;
use std::io::Read;
use std::path::{Path, PathBuf};
use xxhash_rust::xxh3::Xxh3;

/// How deep below a root folder a moved file is looked for.
const DEEPEST: usize = 8;
/// How many files and folders are looked at before the search gives up.
const MOST_ENTRIES: usize = 200_000;

/// XXH3-128 of a file's content, as 32 lower-case hexadecimal digits, and its size in bytes.
///
/// # Errors
/// [`Error::NoFile`], [`Error::Folder`], [`Error::Cancelled`], and what the system refuses.
pub fn hash_file(path: &Path, keep_going: KeepGoing) -> Result<(String, u64), Error> {
    let mut file = File::open(path).map_err(Error::io(path, "opened"))?;
    let about = file.metadata().map_err(Error::io(path, "read"))?;
    if about.is_dir() {
        return Err(Error::Folder {
            path: path.display().to_string(),
        });
    }
    let mut hasher = Xxh3::new();
    let mut piece = vec![0u8; 1 << 20];
    let mut bytes = 0u64;
    loop {
        if !keep_going() {
            return Err(Error::Cancelled);
        }
        let count = match file.read(&mut piece) {
            Ok(0) => break,
            Ok(count) => count,
            Err(error) if error.kind() == std::io::ErrorKind::Interrupted => continue,
            Err(error) => return Err(Error::io(path, "read")(error)),
        };
        hasher.update(&piece[..count]);
        bytes += count as u64;
    }
    Ok((format!("{:032x}", hasher.digest128()), bytes))
}

/// Looks for a file of `bytes` bytes with this `hash` under `roots`, the nearest folders first.
///
/// Only files of the right size are read. Eight folders deep and 200 000 entries wide at most;
/// what cannot be read is passed over; links to folders are not followed. `None` also when
/// cancelled.
pub fn find_moved(
    hash: &str,
    bytes: u64,
    roots: &[&Path],
    keep_going: KeepGoing,
) -> Option<PathBuf> {
    let mut folders: VecDeque<(PathBuf, usize)> =
        roots.iter().map(|root| (root.to_path_buf(), 0)).collect();
    let mut looked_at = 0usize;
    while let Some((folder, depth)) = folders.pop_front() {
        let Ok(entries) = std::fs::read_dir(&folder) else {
            continue;
        };
        let mut entries: Vec<_> = entries.flatten().collect();
        entries.sort_by_key(std::fs::DirEntry::file_name);
        for entry in entries {
            looked_at += 1;
            if looked_at > MOST_ENTRIES || !keep_going() {
                return None;
            }
            let Ok(kind) = entry.file_type() else {
                continue;
            };
            let path = entry.path();
            if kind.is_dir() {
                if depth < DEEPEST {
                    folders.push_back((path, depth + 1));
                }
                continue;
            }
            // Through a link to a file, but not to a folder.
            let same_size =
                std::fs::metadata(&path).is_ok_and(|about| about.is_file() && about.len() == bytes);
            if same_size && hash_file(&path, keep_going).is_ok_and(|(found, _)| found == hash) {
                return Some(path);
            }
        }
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;

    // The Python library xxhash 4.1.0; those of nothing, `a` and `abc` also in public test suites.
    #[test]
    fn hashes_are_the_published_ones() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("file");
        let million: Vec<u8> = (0..1_000_000).map(|n| (n % 256) as u8).collect();
        for (content, hash) in [
            (&b""[..], "99aa06d3014798d86001c324468d497f"),
            (b"a", "a96faf705af16834e6c632b61e964e1f"),
            (b"abc", "06b05ab6733a618578af5f94892f3950"),
            (b"hello", "b5e9c1ad071b3e7fc779cfaa5e523818"),
            (&million[..256], "f1f8a93f50849ac39408a4433b952d71"),
            (&million, "565215e97a5cb3524b96367f698ae779"),
        ] {
            std::fs::write(&path, content).unwrap();
            assert_eq!(
                hash_file(&path, &|| true).unwrap(),
                (hash.to_owned(), content.len() as u64)
            );
        }
        assert!(matches!(hash_file(&path, &|| false), Err(Error::Cancelled)));
        assert!(matches!(
            hash_file(folder.path(), &|| true),
            Err(Error::Folder { .. })
        ));
        let gone = hash_file(&folder.path().join("gone"), &|| true);
        assert!(matches!(gone, Err(Error::NoFile { .. })));
    }

    #[test]
    fn a_moved_file_is_found_again() {
        let folder = tempfile::tempdir().unwrap();
        let deep = folder.path().join("a/b c/d");
        std::fs::create_dir_all(&deep).unwrap();
        std::fs::write(folder.path().join("same size"), b"xyz").unwrap();
        std::fs::write(deep.join("renamed.mov"), b"abc").unwrap();
        let find = |hash: &str, bytes, going: KeepGoing| {
            find_moved(
                hash,
                bytes,
                &[Path::new("/no such folder"), folder.path()],
                going,
            )
        };
        let abc = "06b05ab6733a618578af5f94892f3950";
        assert_eq!(find(abc, 3, &|| true), Some(deep.join("renamed.mov")));
        assert_eq!(find(abc, 4, &|| true), None);
        assert_eq!(find("99aa06d3014798d86001c324468d497f", 3, &|| true), None);
        assert_eq!(find(abc, 3, &|| false), None);
    }

    #[cfg(unix)]
    #[test]
    fn links_in_a_circle_end() {
        let folder = tempfile::tempdir().unwrap();
        std::os::unix::fs::symlink(folder.path(), folder.path().join("again")).unwrap();
        assert_eq!(find_moved("0", 1, &[folder.path()], &|| true), None);
    }
}
