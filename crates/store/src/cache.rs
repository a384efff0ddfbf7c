//! What can be computed again, kept by the content it was computed from.
//!
//! An entry is named by its kind, the version of the code that made it, and a key: usually the
//! hash of the inputs and the settings. A cache never stops work: an entry that is missing,
//! damaged or unreadable is a miss, and one that can't be written is simply not kept.

use crate::part;
use serde::Serialize;
use serde::de::DeserializeOwned;
use std::fs::File;
use std::io::{Read, Write};
use std::path::{Path, PathBuf};
use xxhash_rust::xxh3::xxh3_128;

/// First bytes of an entry: what it is and how it is laid out.
const MAGIC: &[u8; 8] = b"BBcache1";

/// A folder of entries.
#[derive(Clone, Debug)]
pub struct Cache {
    dir: PathBuf,
}

impl Cache {
    /// The cache in `dir`, which is made when the first entry is kept.
    pub fn new(dir: impl Into<PathBuf>) -> Self {
        Self { dir: dir.into() }
    }

    /// What was kept under `kind`, `version` and `key`, if it is there and undamaged.
    pub fn get(&self, kind: &str, version: u32, key: &str) -> Option<Vec<u8>> {
        let mut entry = Vec::new();
        File::open(self.path(kind, version, key))
            .ok()?
            .read_to_end(&mut entry)
            .ok()?;
        open_entry(entry, &full_key(kind, version, key))
    }

    /// Keeps `content` under `kind`, `version` and `key`, in place of what was there.
    ///
    /// The entry appears whole or not at all. When it could not be kept, the sentence that says
    /// why: worth showing once, never a reason to stop.
    pub fn put(&self, kind: &str, version: u32, key: &str, content: &[u8]) -> Option<String> {
        let path = self.path(kind, version, key);
        write_entry(&path, &full_key(kind, version, key), content)
            .err()
            .map(|error| {
                format!(
                    "could not keep {kind} in {} ({error}); it will be computed again next time",
                    self.dir.display()
                )
            })
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

fn full_key(kind: &str, version: u32, key: &str) -> Vec<u8> {
    format!("{kind}\0{version}\0{key}").into_bytes()
}

/// Layout of an entry: magic, XXH3-128 of all that follows (16 bytes, little-endian), length of
/// the key (8 bytes, little-endian), key, content.
fn write_entry(path: &Path, key: &[u8], content: &[u8]) -> std::io::Result<()> {
    let dir = path.parent().unwrap_or(Path::new("."));
    std::fs::create_dir_all(dir)?;
    let mut part = part::in_folder(dir)?;
    let mut body = Vec::with_capacity(8 + key.len() + content.len());
    body.extend((key.len() as u64).to_le_bytes());
    body.extend(key);
    body.extend(content);
    part.write_all(MAGIC)?;
    part.write_all(&xxh3_128(&body).to_le_bytes())?;
    part.write_all(&body)?;
    // Not synced: an entry that a power cut damaged is seen by its sum.
    part.persist(path).map_err(|refused| refused.error)?;
    Ok(())
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

    fn files(dir: &Path) -> Vec<PathBuf> {
        std::fs::read_dir(dir)
            .into_iter()
            .flatten()
            .map(|entry| entry.unwrap().path())
            .flat_map(|path| {
                if path.is_dir() {
                    files(&path)
                } else {
                    vec![path]
                }
            })
            .collect()
    }

    #[test]
    fn what_was_kept_comes_back() {
        let dir = tempfile::tempdir().unwrap();
        let cache = Cache::new(dir.path().join("cache"));
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
        let kept = files(dir.path());
        assert_eq!(kept.len(), 4, "{kept:?}");
        assert!(
            kept.iter()
                .all(|path| path.starts_with(dir.path().join("cache")))
        );
    }

    #[test]
    fn json_of_another_form_is_a_miss() {
        let dir = tempfile::tempdir().unwrap();
        let cache = Cache::new(dir.path());
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
        let cache = Cache::new(&taken);
        let note = cache.put("peaks", 1, "a", b"x").unwrap();
        assert!(note.contains("computed again"), "{note}");
        assert_eq!(cache.get("peaks", 1, "a"), None);
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
            let cache = Cache::new(dir.path());
            prop_assert_eq!(cache.put("peaks", 1, "key", &content), None);
            let path = files(dir.path()).remove(0);
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
