//! What can be computed again, kept by the content it was computed from.
//!
//! An entry is named by its kind, the version of the code that made it, and a key: usually the
//! hash of the inputs and the settings. A cache never stops work: an entry that is missing,
//! damaged or unreadable is a miss, and one that can't be written is simply not kept.
//!
//! The folder has a bound. When what is kept goes over it, whatever was not used for longest goes, files that
//! others put into the folder ([`Cache::made`]) like its own entries.

use serde::Serialize;
use serde::de::DeserializeOwned;
use std::fs::{File, FileTimes};
use std::io::{Read, Write};
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, SystemTime};
use xxhash_rust::xxh3::xxh3_128;

/// First bytes of an entry: what it is and how it is laid out.
const MAGIC: &[u8; 8] = b"BBcache1";
/// A file in the making is left alone; one that was not touched for so long was given up.
const GIVEN_UP: Duration = Duration::from_secs(24 * 3600);

/// A folder of entries.
#[derive(Clone, Debug)]
pub struct Cache {
    dir: PathBuf,
    size: Arc<Mutex<Size>>,
}

#[derive(Debug)]
struct Size {
    /// The most the folder may hold, bytes.
    most: u64,
    /// What it holds, bytes, as far as this process knows; `None` until it was looked at.
    holds: Option<u64>,
}

/// A file in the folder.
struct Kept {
    path: PathBuf,
    bytes: u64,
    used: SystemTime,
}

impl Cache {
    /// The cache in `dir`, which is made when the first entry is kept and holds at most `most` bytes.
    pub fn new(dir: impl Into<PathBuf>, most: u64) -> Self {
        Self {
            dir: dir.into(),
            size: Arc::new(Mutex::new(Size { most, holds: None })),
        }
    }

    fn size(&self) -> MutexGuard<'_, Size> {
        self.size.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Sets the bound, bytes; it is gone by from the next entry on.
    pub fn hold_at_most(&self, most: u64) {
        let mut size = self.size();
        if size.most != most {
            *size = Size { most, holds: None };
        }
    }

    /// Says that the file at `path` was made in the folder by somebody else, so that it counts.
    pub fn made(&self, path: &Path) {
        self.count(path.metadata().map_or(0, |is| is.len()));
    }

    /// Counts `bytes` more, and makes room when they are too many. What was used last stays, however large:
    /// whoever just made it is about to use it.
    fn count(&self, bytes: u64) {
        let mut size = self.size();
        let most = size.most;
        let known = size.holds.map(|holds| holds.saturating_add(bytes));
        if known.is_some_and(|holds| holds <= most) {
            size.holds = known;
            return;
        }
        let mut all = Vec::new();
        files(&self.dir, &mut all);
        let mut holds = all.iter().map(|file| file.bytes).sum::<u64>();
        if holds > most {
            all.sort_by_key(|file| file.used);
            all.pop();
            // Some room is made at once, so that not every entry has to look through the folder.
            let down_to = most - most / 10;
            for file in all {
                if holds <= down_to {
                    break;
                }
                // One that can't be removed (open elsewhere on some systems) still counts.
                if std::fs::remove_file(&file.path).is_ok() {
                    holds -= file.bytes;
                }
            }
        }
        size.holds = Some(holds);
    }

    /// What was kept under `kind`, `version` and `key`, if it is there and undamaged.
    pub fn get(&self, kind: &str, version: u32, key: &str) -> Option<Vec<u8>> {
        let mut entry = Vec::new();
        let mut file = File::open(self.path(kind, version, key)).ok()?;
        file.read_to_end(&mut entry).ok()?;
        used(&file);
        open_entry(entry, &full_key(kind, version, key))
    }

    /// Keeps `content` under `kind`, `version` and `key`, in place of what was there.
    ///
    /// The entry appears whole or not at all. When it could not be kept, the sentence that says
    /// why: worth showing once, never a reason to stop.
    pub fn put(&self, kind: &str, version: u32, key: &str, content: &[u8]) -> Option<String> {
        let path = self.path(kind, version, key);
        match write_entry(&path, &full_key(kind, version, key), content) {
            Ok(bytes) => {
                self.count(bytes);
                None
            }
            Err(error) => Some(format!(
                "could not keep {kind} in {} ({error}); it will be computed again next time",
                self.dir.display()
            )),
        }
    }

    /// What was kept, read from JSON. A miss too when it does not have the form of a `T`.
    pub fn get_json<T: DeserializeOwned>(&self, kind: &str, version: u32, key: &str) -> Option<T> {
        serde_json::from_slice(&self.get(kind, version, key)?).ok()
    }

    /// Keeps `value` as JSON; as [`Self::put`].
    pub fn put_json<T: Serialize>(
        &self,
        kind: &str,
        version: u32,
        key: &str,
        value: &T,
    ) -> Option<String> {
        match serde_json::to_vec(value) {
            Ok(content) => self.put(kind, version, key, &content),
            Err(error) => Some(format!(
                "could not keep {kind} ({error}); it will be computed again next time"
            )),
        }
    }

    /// Where an entry lies: a name of bounded length whatever the key is.
    fn path(&self, kind: &str, version: u32, key: &str) -> PathBuf {
        let name = xxh3_128(&full_key(kind, version, key));
        // The readable part is for whoever looks into the folder; the number tells entries apart.
        let readable: String = kind
            .chars()
            .filter(|c| c.is_ascii_alphanumeric() || matches!(c, '-' | '_'))
            .take(24)
            .collect();
        self.dir
            .join(format!("{readable}-{version}"))
            .join(format!("{name:032x}"))
    }
}

/// Remembers that the file in the cache at `path` was just used, so that others go before it.
pub fn used_at(path: &Path) {
    if let Ok(file) = File::open(path) {
        used(&file);
    }
}

fn used(file: &File) {
    // When it was read, not when it was written: browsers go by that. Where a system does not let it be
    // set, what was made first goes first.
    let _ = file.set_times(FileTimes::new().set_accessed(SystemTime::now()));
}

/// Every file in `dir` and below but those in the making. What can't be looked at is not there.
fn files(dir: &Path, out: &mut Vec<Kept>) {
    for entry in std::fs::read_dir(dir).into_iter().flatten().flatten() {
        let path = entry.path();
        let Ok(is) = entry.metadata() else {
            continue;
        };
        if is.is_dir() {
            files(&path, out);
            continue;
        }
        let written = is.modified().unwrap_or(SystemTime::UNIX_EPOCH);
        let in_the_making = entry.file_name().to_string_lossy().starts_with('.')
            && written.elapsed().is_ok_and(|since| since < GIVEN_UP);
        if !in_the_making {
            out.push(Kept {
                path,
                bytes: is.len(),
                used: is.accessed().map_or(written, |read| read.max(written)),
            });
        }
    }
}

fn full_key(kind: &str, version: u32, key: &str) -> Vec<u8> {
    format!("{kind}\0{version}\0{key}").into_bytes()
}

/// Layout of an entry: magic, XXH3-128 of all that follows (16 bytes, little-endian), length of
/// the key (8 bytes, little-endian), key, content.
fn write_entry(path: &Path, key: &[u8], content: &[u8]) -> std::io::Result<u64> {
    let dir = path.parent().unwrap_or(Path::new("."));
    std::fs::create_dir_all(dir)?;
    let mut part = whole::passing_file(dir)?;
    let mut body = Vec::with_capacity(8 + key.len() + content.len());
    body.extend((key.len() as u64).to_le_bytes());
    body.extend(key);
    body.extend(content);
    part.write_all(MAGIC)?;
    part.write_all(&xxh3_128(&body).to_le_bytes())?;
    part.write_all(&body)?;
    // Not synced: an entry that a power cut damaged is seen by its sum.
    part.persist(path).map_err(|refused| refused.error)?;
    Ok((MAGIC.len() + 16 + body.len()) as u64)
}

fn open_entry(mut entry: Vec<u8>, key: &[u8]) -> Option<Vec<u8>> {
    let rest = entry.strip_prefix(MAGIC)?;
    let (sum, body) = rest.split_first_chunk::<16>()?;
    if xxh3_128(body).to_le_bytes() != *sum {
        return None;
    }
    let (length, body) = body.split_first_chunk::<8>()?;
    let length = usize::try_from(u64::from_le_bytes(*length)).ok()?;
    // Another key with the same hash would be a miss, not a wrong answer.
    if body.get(..length)? != key {
        return None;
    }
    Some(entry.split_off(MAGIC.len() + 16 + 8 + length))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const MOST: u64 = 1 << 30;

    fn paths(dir: &Path) -> Vec<PathBuf> {
        std::fs::read_dir(dir)
            .into_iter()
            .flatten()
            .map(|entry| entry.unwrap().path())
            .flat_map(|path| {
                if path.is_dir() {
                    paths(&path)
                } else {
                    vec![path]
                }
            })
            .collect()
    }

    #[test]
    fn what_was_kept_comes_back() {
        let dir = tempfile::tempdir().unwrap();
        let cache = Cache::new(dir.path().join("cache"), MOST);
        let long = "k".repeat(100_000);
        for (kind, key, content) in [
            ("peaks", "a", &b"\x00\x01"[..]),
            ("peaks", &long, b""),
            ("peaks/../../x", "../../../etc", b"z"),
            ("", "", b"nothing"),
        ] {
            assert_eq!(cache.get(kind, 1, key), None);
            assert_eq!(cache.put(kind, 1, key, content), None);
            assert_eq!(cache.get(kind, 1, key).as_deref(), Some(content));
            assert_eq!(cache.get(kind, 2, key), None);
            assert_eq!(cache.put(kind, 1, key, b"newer"), None);
            assert_eq!(cache.get(kind, 1, key).as_deref(), Some(&b"newer"[..]));
        }
        let kept = paths(dir.path());
        assert_eq!(kept.len(), 4, "{kept:?}");
        assert!(
            kept.iter()
                .all(|path| path.starts_with(dir.path().join("cache")))
        );
    }

    #[test]
    fn json_of_another_form_is_a_miss() {
        let dir = tempfile::tempdir().unwrap();
        let cache = Cache::new(dir.path(), MOST);
        assert_eq!(
            cache.put_json("beats", 1, "k", &vec![0.1 + 0.2, 1.0 / 3.0]),
            None
        );
        assert_eq!(
            cache.get_json::<Vec<f64>>("beats", 1, "k"),
            Some(vec![0.1 + 0.2, 1.0 / 3.0])
        );
        assert_eq!(cache.get_json::<String>("beats", 1, "k"), None);
    }

    #[test]
    fn where_nothing_can_be_kept_there_is_a_note() {
        let dir = tempfile::tempdir().unwrap();
        let taken = dir.path().join("cache");
        std::fs::write(&taken, "a file where the folder should be").unwrap();
        let cache = Cache::new(&taken, MOST);
        let note = cache.put("peaks", 1, "a", b"x").unwrap();
        assert!(note.contains("computed again"), "{note}");
        assert_eq!(cache.get("peaks", 1, "a"), None);
    }

    /// Says that an entry was used so many hours ago.
    fn used_before(path: &Path, hours: u64) {
        let at = SystemTime::now() - Duration::from_secs(hours * 3600);
        let times = FileTimes::new().set_accessed(at).set_modified(at);
        File::options()
            .write(true)
            .open(path)
            .and_then(|file| file.set_times(times))
            .unwrap();
    }

    #[test]
    fn what_was_not_used_for_longest_goes_when_it_is_full() {
        let dir = tempfile::tempdir().unwrap();
        let cache = Cache::new(dir.path(), 10_000);
        let content = vec![0; 2_900];
        for (key, hours) in [("a", 3), ("b", 2), ("c", 1)] {
            assert_eq!(cache.put("peaks", 1, key, &content), None);
            used_before(&cache.path("peaks", 1, key), hours);
        }
        // Used again, the first is the newest but one.
        assert!(cache.get("peaks", 1, "a").is_some());
        assert_eq!(cache.put("peaks", 1, "d", &content), None);
        let there = |key| cache.get("peaks", 1, key).is_some();
        assert!(there("a") && !there("b") && there("c") && there("d"));
    }

    #[test]
    fn the_bound_holds_for_files_of_others_and_from_one_process_to_the_next() {
        let dir = tempfile::tempdir().unwrap();
        let copy = dir.path().join("view-1").join("00ff.mp4");
        std::fs::create_dir_all(copy.parent().unwrap()).unwrap();
        std::fs::write(&copy, vec![0; 9_000]).unwrap();
        used_before(&copy, 1);
        let making = dir.path().join("view-1").join(".barebulb-1.part");
        std::fs::write(&making, vec![0; 9_000]).unwrap();
        // It counts though this cache did not put it there.
        let cache = Cache::new(dir.path(), 10_000);
        assert_eq!(cache.put("peaks", 1, "a", &[0; 3_000]), None);
        assert!(!copy.exists(), "the older one went");
        assert!(making.exists(), "what is in the making stays");
        assert!(cache.get("peaks", 1, "a").is_some());
        // What was just made stays, however large.
        std::fs::write(&copy, vec![0; 20_000]).unwrap();
        used_before(&cache.path("peaks", 1, "a"), 1);
        cache.made(&copy);
        assert!(copy.exists());
        assert_eq!(cache.get("peaks", 1, "a"), None);
        // A lower bound holds from the next entry on.
        used_before(&copy, 1);
        cache.hold_at_most(5_000);
        assert_eq!(cache.put("peaks", 1, "b", &[0; 3_000]), None);
        assert!(!copy.exists() && cache.get("peaks", 1, "b").is_some());
    }

    #[test]
    fn a_cache_deleted_under_way_is_begun_anew() {
        let dir = tempfile::tempdir().unwrap();
        let cache = Cache::new(dir.path().join("cache"), 10_000);
        for round in 0..8 {
            let key = round.to_string();
            assert_eq!(cache.put("peaks", 1, &key, &[0; 3_000]), None);
            assert!(cache.get("peaks", 1, &key).is_some());
            std::fs::remove_dir_all(dir.path().join("cache")).unwrap();
        }
    }

    proptest! {
        #[test]
        fn a_damaged_entry_is_a_miss(
            content in prop::collection::vec(any::<u8>(), 0..200),
            at in any::<prop::sample::Index>(),
            flip in 1u8..,
            cut in any::<bool>(),
        ) {
            let dir = tempfile::tempdir().unwrap();
            let cache = Cache::new(dir.path(), MOST);
            prop_assert_eq!(cache.put("peaks", 1, "key", &content), None);
            let path = paths(dir.path()).remove(0);
            let mut entry = std::fs::read(&path).unwrap();
            let at = at.index(entry.len());
            if cut {
                entry.truncate(at);
            } else {
                entry[at] ^= flip;
            }
            std::fs::write(&path, entry).unwrap();
            prop_assert_eq!(cache.get("peaks", 1, "key"), None);
        }
    }
}
