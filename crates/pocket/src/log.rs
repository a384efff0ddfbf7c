//! The log on its way from a phone into the project: as a file, as parts in QR codes, and posted to
//! a laptop nearby. `docs/pocket.md` writes the forms down for others.
//!
//! # As a file
//! One JSON object ([`LogFile`]): `barebulb_log` (the version of this form, 1), `project` (a mark
//! that tells projects apart, [`mark`]) and `entries`, each a [`LogEntry`].
//!
//! # As parts
//! The same JSON, compressed by raw DEFLATE (RFC 1951) where the phone can, is cut into pieces. A
//! part is the text `BB1Z/3/7/89ABCDEF/01234567/DATA`: the form (`BB1Z` compressed, `BB1P` plain),
//! the part's number from 1, how many there are, the CRC-32 (ISO 3309, as in zip) of everything
//! that was cut, that of this part's data as it is written, and the data in Base45 (RFC 9285). All
//! of it are characters of a QR code's alphanumeric mode.
//!
//! # Posted
//! A page served at `/pocket` posts a [`Post`] to `/pocket/log` of the same origin and gets an
//! [`Answer`]: up to which number each device is known, so that it sends what is missing.

use crate::base45;
use model::log::MAX_NUMBER;
use model::{DeviceId, LogEntry, Project};
use serde::{Deserialize, Serialize};
use std::collections::{BTreeMap, BTreeSet};

/// The version of the form of [`LogFile`].
pub const VERSION: u32 = 1;
/// The largest log read, in bytes of JSON.
pub const MAX_BYTES: usize = 8 * 1024 * 1024;
/// The most parts a log is cut into.
pub const MAX_PARTS: usize = 500;

/// A log as a file.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct LogFile {
    /// The version of this form.
    pub barebulb_log: u32,
    /// Of which project: its [`mark`].
    #[serde(default)]
    pub project: String,
    /// The entries of all devices that the page knew, in no order.
    pub entries: Vec<LogEntry>,
}

/// What a page posts to the laptop.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Post {
    /// The device that posts.
    pub device: DeviceId,
    /// Of which project the page is: its [`mark`].
    #[serde(default)]
    pub project: String,
    /// Entries that the laptop may not have yet; none asks only what is known.
    pub entries: Vec<LogEntry>,
}

/// What the laptop answers.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Answer {
    /// For each device: all its entries from 1 to this number are known.
    pub known: BTreeMap<DeviceId, u32>,
}

/// Why a log can't be read. Each message is one sentence.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum Error {
    /// It is too large.
    #[error(
        "a log of more than {} MB is no night's work; give the file that the page saved",
        MAX_BYTES / 1_048_576
    )]
    TooLarge,
    /// No log.
    #[error(
        "this is no log of a pocket page ({said}); give the file that its page saved, or pictures of its QR codes"
    )]
    NotLog {
        /// What the reader said.
        said: String,
    },
    /// A newer form.
    #[error(
        "this log has form {found}, and this version of the program reads form {VERSION}; update the program"
    )]
    Newer {
        /// The form found.
        found: u32,
    },
    /// Parts are missing.
    #[error(
        "of the {total} QR codes of this log {} could not be read: number {}; photograph them again, straight on and sharp, and give all pictures together",
        missing.len(),
        listed(missing)
    )]
    Missing {
        /// How many parts there are.
        total: usize,
        /// Which are missing.
        missing: Vec<usize>,
    },
    /// The parts don't make the whole.
    #[error(
        "the QR codes of this log don't make what its page cut them from; photograph all of them again"
    )]
    NotWhole,
}

/// Numbers in words: `2, 3 and 5`, the first few.
fn listed(numbers: &[usize]) -> String {
    let shown: Vec<String> = numbers.iter().take(12).map(ToString::to_string).collect();
    match shown.as_slice() {
        [one] => one.clone(),
        [rest @ .., _] if numbers.len() > shown.len() => format!("{} …", rest.join(", ")),
        [rest @ .., last] => format!("{} and {last}", rest.join(", ")),
        [] => String::new(),
    }
}

/// A mark that tells a project apart from others: the hash of its song's content, or, before there is a
/// song, one of its title.
pub fn mark(project: &Project) -> String {
    match &project.song {
        Some(song) => song.file.hash.chars().take(12).collect(),
        None => format!("{:08x}", crc32(project.title.as_bytes())),
    }
}

/// Up to which number each device's entries are all there.
pub fn known<'a>(log: impl IntoIterator<Item = &'a LogEntry>) -> Answer {
    let mut numbers: BTreeMap<DeviceId, BTreeSet<u32>> = BTreeMap::new();
    for entry in log {
        numbers
            .entry(entry.device.clone())
            .or_default()
            .insert(entry.number);
    }
    let whole = |numbers: &BTreeSet<u32>| {
        (1..=MAX_NUMBER)
            .zip(numbers)
            .take_while(|(expected, met)| expected == *met)
            .count() as u32
    };
    let known = numbers
        .into_iter()
        .map(|(device, numbers)| (device, whole(&numbers)));
    Answer {
        known: known.collect(),
    }
}

impl LogFile {
    /// A log of `entries` for the project with this mark.
    pub fn new(project: String, entries: Vec<LogEntry>) -> Self {
        Self {
            barebulb_log: VERSION,
            project,
            entries,
        }
    }

    /// Reads the JSON of a log.
    ///
    /// # Errors
    /// [`Error::TooLarge`], [`Error::NotLog`], [`Error::Newer`].
    pub fn read(json: &[u8]) -> Result<Self, Error> {
        if json.len() > MAX_BYTES {
            return Err(Error::TooLarge);
        }
        let not_log = |error: serde_json::Error| Error::NotLog {
            said: error.to_string(),
        };
        #[derive(Deserialize)]
        struct Head {
            barebulb_log: u32,
        }
        let head: Head = serde_json::from_slice(json).map_err(not_log)?;
        if head.barebulb_log > VERSION {
            return Err(Error::Newer {
                found: head.barebulb_log,
            });
        }
        serde_json::from_slice(json).map_err(not_log)
    }

    /// The log as JSON.
    pub fn write(&self) -> String {
        serde_json::to_string(self).unwrap_or_default()
    }

    /// The log as texts for QR codes, each of at most `most` characters (100 or more).
    pub fn parts(&self, most: usize) -> Vec<String> {
        let whole = miniz_oxide::deflate::compress_to_vec(self.write().as_bytes(), 8);
        let piece = (most.max(100) - HEAD) / 3 * 2;
        let total = whole.len().div_ceil(piece);
        let cut = whole.chunks(piece).enumerate();
        cut.map(|(at, bytes)| {
            let data = base45::encode(bytes);
            format!(
                "BB1Z/{}/{total}/{:08X}/{:08X}/{data}",
                at + 1,
                crc32(&whole),
                crc32(data.as_bytes())
            )
        })
        .collect()
    }
}

/// The most characters before a part's data.
const HEAD: usize = "BB1Z/500/500/89ABCDEF/01234567/".len();

/// One part as read from a QR code.
struct Part<'a> {
    compressed: bool,
    number: usize,
    total: usize,
    whole: u32,
    data: &'a str,
}

fn part(text: &str) -> Option<Part<'_>> {
    let mut fields = text.splitn(6, '/');
    let compressed = match fields.next()? {
        "BB1Z" => true,
        "BB1P" => false,
        _ => return None,
    };
    let number = fields.next()?.parse().ok()?;
    let total = fields.next()?.parse().ok()?;
    let whole = u32::from_str_radix(fields.next()?, 16).ok()?;
    let check = u32::from_str_radix(fields.next()?, 16).ok()?;
    let data = fields.next()?;
    let good =
        (1..=total).contains(&number) && total <= MAX_PARTS && crc32(data.as_bytes()) == check;
    good.then_some(Part {
        compressed,
        number,
        total,
        whole,
        data,
    })
}

/// Whether `text` is a part of a log, whole in itself.
pub fn is_part(text: &str) -> bool {
    part(text).is_some()
}

/// The logs that `texts`, read from QR codes in any order and as often as one likes, are the parts
/// of. Texts that are no parts are passed over.
///
/// # Errors
/// [`Error::Missing`] when a log lacks parts; [`Error::NotWhole`], and as [`LogFile::read`].
pub fn join<'a>(texts: impl IntoIterator<Item = &'a str>) -> Result<Vec<LogFile>, Error> {
    let mut logs: BTreeMap<(u32, usize, bool), BTreeMap<usize, &str>> = BTreeMap::new();
    for part in texts.into_iter().filter_map(part) {
        logs.entry((part.whole, part.total, part.compressed))
            .or_default()
            .insert(part.number, part.data);
    }
    let mut out = Vec::new();
    for ((whole, total, compressed), parts) in logs {
        if parts.len() < total {
            let missing = (1..=total).filter(|number| !parts.contains_key(number));
            return Err(Error::Missing {
                total,
                missing: missing.collect(),
            });
        }
        let pieces: Option<Vec<Vec<u8>>> =
            parts.values().map(|data| base45::decode(data)).collect();
        let bytes = pieces.ok_or(Error::NotWhole)?.concat();
        if crc32(&bytes) != whole {
            return Err(Error::NotWhole);
        }
        let json = match compressed {
            true => miniz_oxide::inflate::decompress_to_vec_with_limit(&bytes, MAX_BYTES)
                .map_err(|_| Error::NotWhole)?,
            false => bytes,
        };
        out.push(LogFile::read(&json)?);
    }
    Ok(out)
}

/// CRC-32 as in ISO 3309 and zip: polynomial 0x04C11DB7 reflected, all ones before and after.
pub fn crc32(bytes: &[u8]) -> u32 {
    let step = |crc: u32, byte: &u8| {
        (0..8).fold(crc ^ u32::from(*byte), |crc, _| {
            (crc >> 1) ^ (0xEDB8_8320 * (crc & 1))
        })
    };
    !bytes.iter().fold(!0, step)
}

#[cfg(test)]
mod tests {
    use super::*;
    use model::{LogWhat, SetupId};
    use proptest::prelude::*;

    fn entry(device: &str, number: u32, text: &str) -> LogEntry {
        LogEntry {
            device: DeviceId::new(device).unwrap(),
            number,
            at_ms: 1_795_000_000_000 + i64::from(number) * 61_003,
            day: None,
            what: LogWhat::Note {
                setup: Some(SetupId::new("quay").unwrap()),
                pass: Some(1 + number % 5),
                text: text.into(),
            },
            extra: Default::default(),
        }
    }

    fn log(count: u32) -> LogFile {
        let entries = (1..=count).map(|number| entry("p1", number, "good — «flare» at the end"));
        LogFile::new("abc123".into(), entries.collect())
    }

    #[test]
    fn the_check_value_of_crc_32() {
        // Source: the catalogue value of CRC-32/ISO-HDLC over "123456789".
        assert_eq!(crc32(b"123456789"), 0xCBF4_3926);
    }

    #[test]
    fn missing_mixed_and_damaged_parts_are_told() {
        let (one, other) = (log(60), log(3));
        let parts = one.parts(200);
        assert!(parts.len() > 3 && parts.iter().all(|part| part.len() <= 200));
        let mut some: Vec<&str> = parts.iter().map(String::as_str).collect();
        some.remove(1);
        some.push("something else on a poster");
        let error = join(some.iter().copied()).unwrap_err();
        assert!(matches!(&error, Error::Missing { missing, .. } if missing == &[2]));
        assert!(error.to_string().contains("number 2;"), "{error}");
        // A part with a wrong letter is as good as missing.
        let damaged = parts[1].replace(&parts[1][60..63], "...");
        some.push(&damaged);
        assert!(matches!(
            join(some.iter().copied()),
            Err(Error::Missing { .. })
        ));
        some.push(&parts[1]);
        some.extend(some.clone());
        let second = other.parts(200);
        some.extend(second.iter().map(String::as_str));
        let mut read = join(some).unwrap();
        read.sort_by_key(|log| log.entries.len());
        assert_eq!(read, [other, one]);
        assert_eq!(join(["hello"]).unwrap(), []);
    }

    #[test]
    fn what_is_no_log_is_refused_in_a_sentence() {
        for bad in ["", "[]", "{}", "{\"barebulb_log\":1,\"entries\":[{}]}"] {
            let error = LogFile::read(bad.as_bytes()).unwrap_err().to_string();
            assert!(error.contains("no log"), "{error}");
        }
        let newer = b"{\"barebulb_log\":2,\"entries\":7}";
        assert_eq!(LogFile::read(newer), Err(Error::Newer { found: 2 }));
        let large = vec![b' '; MAX_BYTES + 1];
        assert_eq!(LogFile::read(&large), Err(Error::TooLarge));
        // A small text that would unfold to much.
        let bomb = miniz_oxide::deflate::compress_to_vec(&large, 9);
        let data = base45::encode(&bomb);
        let part = format!(
            "BB1Z/1/1/{:08X}/{:08X}/{data}",
            crc32(&bomb),
            crc32(data.as_bytes())
        );
        assert_eq!(join([part.as_str()]), Err(Error::NotWhole));
    }

    #[test]
    fn what_is_known_has_no_gap() {
        let log = [
            entry("a", 1, ""),
            entry("a", 2, ""),
            entry("a", 4, ""),
            entry("b", 2, ""),
        ];
        let known = known(&log).known;
        let numbers: Vec<(&str, u32)> = known.iter().map(|(id, n)| (id.as_str(), *n)).collect();
        assert_eq!(numbers, [("a", 2), ("b", 0)]);
    }

    proptest! {
        #[test]
        fn every_log_comes_back(count in 0..40u32, most in 100..900usize, turn in 0..7usize) {
            let log = log(count);
            let mut parts = log.parts(most);
            prop_assert!(parts.iter().all(|part| part.len() <= most));
            let by = turn % parts.len();
            parts.rotate_left(by);
            prop_assert_eq!(join(parts.iter().map(String::as_str)).unwrap(), vec![log.clone()]);
            prop_assert_eq!(LogFile::read(log.write().as_bytes()).unwrap(), log);
        }

        #[test]
        fn no_text_is_too_much(text in "BB1[ZP]/[0-9]{1,3}/[0-9]{1,4}/[0-9A-F]{8}/.{0,40}") {
            let _ = join([text.as_str()]);
        }
    }
}
