//! Files dropped into a page: limited in size, known by their first bytes, written whole or not at all.

use crate::app::App;
use crate::door::Session;
use crate::posted::{is_meant, token_of};
use crate::refusal::Refused;
use axum::body::Bytes;
use axum::extract::multipart::{Field, Multipart, MultipartError};
use axum::extract::{DefaultBodyLimit, FromRequest, FromRequestParts as _, Request};
use axum::http::StatusCode;
use axum::http::header::CONTENT_LENGTH;
use axum::response::{IntoResponse, Response};
use model::MediaFile;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use steps::Job;
use tokio::io::AsyncWriteExt as _;
use whole::Passing;

/// What may come in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// A finished song.
    Song,
    /// A take, sound or picture.
    Take,
    /// A photograph.
    Photo,
    /// A log of the pocket page, or a picture of one.
    Log,
}

impl Kind {
    /// The most one file may hold, bytes.
    pub const fn most_bytes(self) -> u64 {
        match self {
            Self::Song => 400 << 20,
            Self::Take => 900 << 20,
            Self::Photo => 60 << 20,
            Self::Log => 30 << 20,
        }
    }

    /// The most that may come in at once, all files and fields together, bytes.
    pub const fn most_at_once(self) -> u64 {
        match self {
            // One song, with what the form puts around it.
            Self::Song => (400 << 20) + (1 << 20),
            Self::Take => 4000 << 20,
            Self::Photo => 2000 << 20,
            Self::Log => 100 << 20,
        }
    }

    /// In words, for a sentence.
    const fn words(self) -> &'static str {
        match self {
            Self::Song => "a song (WAV, FLAC, MP3, AIFF, Ogg or M4A)",
            Self::Take => "a take (MP4, MOV, Matroska, MXF or a sound file)",
            Self::Photo => "a photograph (JPEG, HEIF, PNG, WebP or TIFF)",
            Self::Log => "a log of the pocket page (its file, or a picture of its QR codes)",
        }
    }

    /// What to do with a larger one.
    const fn larger(self) -> &'static str {
        match self {
            Self::Take => "name the folder it lies in instead, so that it need not be copied",
            Self::Song => "save it as FLAC, which holds the same in half the room",
            Self::Photo | Self::Log => "save it smaller",
        }
    }

    /// Whether a file that begins with `head` can be one.
    pub fn holds(self, head: &[u8]) -> bool {
        let is = media::Kind::of(head);
        match self {
            Self::Song => is.is_some_and(media::Kind::may_be_sound),
            Self::Take => is.is_some_and(|kind| !kind.is_still()),
            Self::Photo => is.is_some_and(media::Kind::is_still),
            Self::Log => {
                Self::Photo.holds(head)
                    || head.iter().find(|b| !b.is_ascii_whitespace()) == Some(&b'{')
            }
        }
    }
}

/// Files that came in, in a folder that goes when this does, and the fields beside them.
pub struct Upload {
    /// Whose they are.
    pub session: Session,
    /// The files, named as they were.
    pub files: Vec<PathBuf>,
    /// The fields beside them.
    pub fields: BTreeMap<String, String>,
    /// Where they lie until they are taken in.
    pub folder: Passing,
}

/// Files at once.
const MOST_FILES: usize = 200;
/// The most that the fields beside them may hold, names included, bytes.
const MOST_FIELDS: usize = 64 << 10;

impl Upload {
    /// Reads a form with files of `kind`. Nothing is kept of one that is refused.
    ///
    /// # Errors
    /// The answer to give: when it was not meant, is too large, or is not what it should be.
    pub async fn read(app: &Arc<App>, kind: Kind, request: Request) -> Result<Self, Response> {
        let (mut parts, body) = request.into_parts();
        let session = Session::from_request_parts(&mut parts, app).await?;
        let mut meant = token_of(&parts.headers).is_some_and(|token| is_meant(&session, token));
        let said = |refused: Refused| refused.into_response();
        // What says how long it is is refused before it is read; the others as soon as they are too long.
        let length = parts.headers.get(CONTENT_LENGTH);
        let length = length.and_then(|value| value.to_str().ok()?.parse::<u64>().ok());
        if length.is_some_and(|length| length > kind.most_at_once()) {
            return Err(said(too_much(kind)));
        }
        let mut request = Request::from_parts(parts, body);
        let most = usize::try_from(kind.most_at_once()).unwrap_or(usize::MAX);
        DefaultBodyLimit::max(most).apply(&mut request);
        let mut form = Multipart::from_request(request, app).await.map_err(|_| {
            said(Refused::Unreadable(
                "the form holds no files; choose some and send it again".into(),
            ))
        })?;
        let folder = Passing::inside(app.folder().root()).map_err(|error| {
            said(Refused::Unreadable(format!(
                "the project's folder can't be written: {error}"
            )))
        })?;
        let mut upload = Self {
            session,
            files: Vec::new(),
            fields: BTreeMap::new(),
            folder,
        };
        let mut left = MOST_FIELDS;
        let broken = |error| said(broken(&error, kind));
        while let Some(field) = form.next_field().await.map_err(broken)? {
            let name = field.name().unwrap_or_default().to_owned();
            match field.file_name().map(plain_name) {
                Some(file) => {
                    if !meant {
                        return Err(said(Refused::WrongToken));
                    }
                    // A form sent without a choice holds one nameless, empty file.
                    if let Some(file) = file {
                        if upload.files.len() >= MOST_FILES {
                            return Err(said(Refused::TooLarge(format!(
                                "more than {MOST_FILES} files came at once; send them in parts"
                            ))));
                        }
                        let path = free(upload.folder.path(), &file);
                        write(field, &path, &file, kind).await.map_err(said)?;
                        upload.files.push(path);
                    }
                }
                None => {
                    // Nothing is kept of what was not meant: the token stands before all else.
                    if !meant && name != "token" {
                        return Err(said(Refused::WrongToken));
                    }
                    let text = small(field, kind, &mut left).await.map_err(said)?;
                    if name == "token" {
                        meant = meant || is_meant(&upload.session, text.trim());
                    } else {
                        upload.fields.insert(name, text);
                    }
                }
            }
        }
        if !meant {
            return Err(said(Refused::WrongToken));
        }
        Ok(upload)
    }
}

fn too_large(what: &str, kind: Kind) -> Refused {
    Refused::TooLarge(format!(
        "{what} is larger than the {} MB a page takes in; {}",
        kind.most_bytes() >> 20,
        kind.larger()
    ))
}

fn too_much(kind: Kind) -> Refused {
    if kind == Kind::Song {
        return too_large("what was sent", kind);
    }
    Refused::TooLarge(format!(
        "what was sent is larger than the {} MB a page takes in at once; send it in parts",
        kind.most_at_once() >> 20
    ))
}

fn broken(error: &MultipartError, kind: Kind) -> Refused {
    if error.status() == StatusCode::PAYLOAD_TOO_LARGE {
        too_much(kind)
    } else {
        Refused::Unreadable("what was sent broke off or can't be read; send it again".into())
    }
}

/// The text of a field, which takes its size from the bytes that are `left` for all of them.
async fn small(mut field: Field<'_>, kind: Kind, left: &mut usize) -> Result<String, Refused> {
    let mut take = |count: usize| -> Result<(), Refused> {
        let taken = left.checked_sub(count);
        *left =
            taken.ok_or_else(|| Refused::TooLarge("the fields of the form are too long".into()))?;
        Ok(())
    };
    take(1 + field.name().map_or(0, str::len))?;
    let mut bytes = Vec::new();
    while let Some(chunk) = next(&mut field, kind).await? {
        take(chunk.len())?;
        bytes.extend_from_slice(&chunk);
    }
    String::from_utf8(bytes)
        .map_err(|_| Refused::Unreadable("a field of the form is not text".into()))
}

async fn next(field: &mut Field<'_>, kind: Kind) -> Result<Option<Bytes>, Refused> {
    field.chunk().await.map_err(|error| broken(&error, kind))
}

/// The first bytes a file is known by: five packets of a transport stream.
const HEAD: usize = 1024;

async fn write(mut field: Field<'_>, path: &Path, name: &str, kind: Kind) -> Result<(), Refused> {
    let full =
        |error: std::io::Error| Refused::Unreadable(format!("`{name}` can't be written: {error}"));
    let mut file = tokio::fs::File::create(path).await.map_err(full)?;
    let mut head: Vec<u8> = Vec::new();
    let (mut bytes, mut known) = (0_u64, false);
    loop {
        let chunk = next(&mut field, kind).await?;
        if let Some(chunk) = &chunk {
            bytes += chunk.len() as u64;
            if bytes > kind.most_bytes() {
                return Err(too_large(&format!("`{name}`"), kind));
            }
            if !known {
                head.extend_from_slice(&chunk[..chunk.len().min(HEAD)]);
            }
        }
        if !known && (head.len() >= HEAD || chunk.is_none()) {
            if !kind.holds(&head) {
                return Err(Refused::Unreadable(format!(
                    "`{name}` does not begin as {} does",
                    kind.words()
                )));
            }
            known = true;
        }
        match chunk {
            Some(chunk) => file.write_all(&chunk).await.map_err(full)?,
            None => break,
        }
    }
    file.flush().await.map_err(full)?;
    file.sync_all().await.map_err(full)
}

/// The last part of a file's name, without what could lead elsewhere or hide it; `None` when nothing is left.
fn plain_name(name: &str) -> Option<String> {
    let last = name.rsplit(['/', '\\']).next().unwrap_or_default();
    let plain: String = last
        .chars()
        .filter(|letter| {
            !letter.is_control() && !matches!(letter, ':' | '*' | '?' | '"' | '<' | '>' | '|')
        })
        .take(120)
        .collect();
    let plain = plain.trim_start_matches('.').trim();
    (!plain.is_empty()).then(|| plain.to_owned())
}

/// A path in `folder` for `name` that nothing has yet.
pub fn free(folder: &Path, name: &str) -> PathBuf {
    let first = folder.join(name);
    if !first.exists() {
        return first;
    }
    let (stem, end) = name
        .rsplit_once('.')
        .map_or((name, String::new()), |(stem, end)| {
            (stem, format!(".{end}"))
        });
    (2..)
        .map(|number| folder.join(format!("{stem}-{number}{end}")))
        .find(|path| !path.exists())
        .unwrap_or(first)
}

/// Takes away what came in and is none of the files that the document `knows`: what is not what it should be, or was
/// there already, is not left lying about.
pub fn forget_unknown<'a>(job: &Job, came: &[PathBuf], knows: impl Iterator<Item = &'a MediaFile>) {
    let known: Vec<PathBuf> = knows.map(|file| job.folder().resolve(file)).collect();
    for path in came.iter().filter(|path| !known.contains(path)) {
        let _ = std::fs::remove_file(path);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_lead_nowhere() {
        for (given, kept) in [
            ("song.wav", Some("song.wav")),
            ("../../etc/passwd", Some("passwd")),
            ("C:\\songs\\a.wav", Some("a.wav")),
            ("..", None),
            (".hidden.wav", Some("hidden.wav")),
            ("a\0b\n.wav", Some("ab.wav")),
            ("", None),
            ("/", None),
        ] {
            assert_eq!(plain_name(given).as_deref(), kept, "{given:?}");
        }
    }

    #[test]
    fn files_are_known_by_their_first_bytes() {
        let wave = b"RIFF\x24\0\0\0WAVEfmt ";
        assert!(Kind::Song.holds(wave));
        assert!(Kind::Take.holds(wave));
        assert!(!Kind::Photo.holds(wave));
        let page = b"<!doctype html>";
        for kind in [Kind::Song, Kind::Take, Kind::Photo, Kind::Log] {
            assert!(!kind.holds(page), "{kind:?}");
            assert!(!kind.holds(b""), "{kind:?}");
        }
        assert!(Kind::Log.holds(b"  {\"device\":"));
        assert!(Kind::Photo.holds(&[0xFF, 0xD8, 0xFF, 0xE0]));
        assert!(!Kind::Song.holds(&[0xFF, 0x18]));
    }

    #[test]
    fn two_files_of_one_name_both_stay() {
        let folder = tempfile::tempdir().expect("a folder");
        std::fs::write(folder.path().join("a.wav"), "x").expect("written");
        assert_eq!(free(folder.path(), "a.wav"), folder.path().join("a-2.wav"));
        assert_eq!(free(folder.path(), "b"), folder.path().join("b"));
    }
}
