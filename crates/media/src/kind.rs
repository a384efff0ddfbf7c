//! What kind of file it is, by its first bytes: never by its name, and never by asking a reader that tries
//! everything it knows.
//!
//! A reader that guesses can be led: a list of other files that begins like a sound file is read as the
//! list. So a file is handed to ffmpeg as the one kind that stands here, and to a browser with its type.
//! No list of files, manifest or script is among them.

use crate::Error;
use crate::inprocess::check_file;
use std::fs::File;
use std::io::{Read, Seek, SeekFrom};
use std::path::Path;

/// A kind of file that holds sound or picture.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Kind {
    /// What ffmpeg calls its reader.
    pub(crate) demuxer: &'static str,
    /// Its type on the wire (the IANA's, or what browsers call it).
    pub mime: &'static str,
    /// Whether it is a sound file that is read in this process.
    pub(crate) in_process: bool,
}

const fn kind(demuxer: &'static str, mime: &'static str) -> Kind {
    Kind {
        demuxer,
        mime,
        in_process: false,
    }
}

const fn sound(demuxer: &'static str, mime: &'static str) -> Kind {
    Kind {
        demuxer,
        mime,
        in_process: true,
    }
}

/// Bytes that stand at a place, each kind's own; `?` is any byte.
const MARKS: [(usize, &[u8], Kind); 47] = [
    (0, b"RIFF????WAVE", sound("wav", "audio/wav")),
    (0, b"RF64????WAVE", kind("wav", "audio/wav")),
    (0, b"BW64????WAVE", kind("wav", "audio/wav")),
    (0, b"riff\x2e\x91\xcf\x11", kind("w64", "audio/x-w64")),
    (0, b"FORM????AIFF", sound("aiff", "audio/aiff")),
    (0, b"FORM????AIFC", sound("aiff", "audio/aiff")),
    (0, b"fLaC", sound("flac", "audio/flac")),
    (0, b"OggS", sound("ogg", "application/ogg")),
    (0, b"caff", kind("caf", "audio/x-caf")),
    (0, b".snd", kind("au", "audio/basic")),
    (0, b"#!AMR", kind("amr", "audio/amr")),
    (0, b"wvpk", kind("wv", "audio/x-wavpack")),
    (0, b"MAC ", kind("ape", "audio/x-ape")),
    (0, b"TTA1", kind("tta", "audio/x-tta")),
    (0, b"\x7f\xfe\x80\x01", kind("dts", "audio/vnd.dts")),
    (0, b"\x0b\x77", kind("ac3", "audio/ac3")),
    (4, b"ftypqt  ", kind("mov", "video/quicktime")),
    (4, b"ftypheic", kind("mov", "image/heic")),
    (4, b"ftypheix", kind("mov", "image/heic")),
    (4, b"ftypmif1", kind("mov", "image/heif")),
    (4, b"ftypavif", kind("mov", "image/avif")),
    (4, b"ftypM4A ", kind("mov", "audio/mp4")),
    (4, b"ftyp", kind("mov", "video/mp4")),
    (4, b"styp", kind("mov", "video/mp4")),
    // QuickTime before there was a first box that says so.
    (4, b"moov", kind("mov", "video/quicktime")),
    (4, b"mdat", kind("mov", "video/quicktime")),
    (4, b"wide", kind("mov", "video/quicktime")),
    (4, b"free", kind("mov", "video/quicktime")),
    (4, b"skip", kind("mov", "video/quicktime")),
    (4, b"pnot", kind("mov", "video/quicktime")),
    (0, b"\x1a\x45\xdf\xa3", kind("matroska", "video/x-matroska")),
    (0, b"RIFF????AVI ", kind("avi", "video/x-msvideo")),
    (0, b"RIFF????AVIX", kind("avi", "video/x-msvideo")),
    (
        0,
        b"\x06\x0e\x2b\x34\x02\x05\x01\x01",
        kind("mxf", "application/mxf"),
    ),
    (
        0,
        b"\x30\x26\xb2\x75\x8e\x66\xcf\x11",
        kind("asf", "video/x-ms-asf"),
    ),
    (0, b"\0\0\0\0\x01\xbc", kind("gxf", "application/gxf")),
    (0, b"nut/multimedia", kind("nut", "video/x-nut")),
    (0, b"YUV4MPEG2", kind("yuv4mpegpipe", "video/x-yuv4mpeg")),
    (0, b"FLV\x01", kind("flv", "video/x-flv")),
    (0, b"\0\0\x01\xba", kind("mpeg", "video/mpeg")),
    (0, b"\0\0\x01\xb3", kind("mpegvideo", "video/mpeg")),
    (0, b"\x1f\x07\0", kind("dv", "video/dv")),
    (0, b"\xff\xd8\xff", kind("jpeg_pipe", "image/jpeg")),
    (0, b"\x89PNG\r\n\x1a\n", kind("png_pipe", "image/png")),
    (0, b"RIFF????WEBP", kind("webp_pipe", "image/webp")),
    (0, b"II*\0", kind("tiff_pipe", "image/tiff")),
    (0, b"MM\0*", kind("tiff_pipe", "image/tiff")),
];

const WEBM: Kind = kind("matroska", "video/webm");
const LAYER_II: Kind = kind("mp3", "audio/mpeg");
const MP3: Kind = sound("mp3", "audio/mpeg");
const ADTS: Kind = kind("aac", "audio/aac");
const TRANSPORT: Kind = kind("mpegts", "video/mp2t");

/// How much is looked at: enough for five packets of a transport stream.
const HEAD: usize = 4096;

/// What `path` is; `None` when it is none of the kinds that are read here.
///
/// # Errors
/// [`Error::NoFile`], [`Error::Folder`], [`Error::Empty`], [`Error::NotMedia`] for a pipe or a device, and what
/// the system refuses.
pub fn kind_of(path: &Path) -> Result<Option<Kind>, Error> {
    check_file(path)?;
    let begins = head(path, 0)?;
    if let Some(behind) = behind_tag(&begins) {
        // What the tag stands before: a tag alone is the mark of nothing.
        return Ok(Some(match head(path, behind)?.as_slice() {
            [b'f', b'L', b'a', b'C', ..] => Kind {
                in_process: true,
                ..kind("flac", "audio/flac")
            },
            [0xff, second, ..] if is_adts(*second) => ADTS,
            _ => MP3,
        }));
    }
    Ok(Kind::of(&begins))
}

/// The first bytes of a file from a place on.
fn head(path: &Path, from: u64) -> Result<Vec<u8>, Error> {
    let mut head = Vec::with_capacity(HEAD);
    let mut file = File::open(path).map_err(Error::io(path, "opened"))?;
    file.seek(SeekFrom::Start(from))
        .and_then(|_| file.take(HEAD as u64).read_to_end(&mut head))
        .map_err(Error::io(path, "read"))?;
    Ok(head)
}

/// As [`kind_of`]; a file of no kind that is read here is an error.
///
/// # Errors
/// [`Error::NotMedia`], and what the system refuses.
pub(crate) fn known(path: &Path) -> Result<Kind, Error> {
    if let Some(kind) = kind_of(path)? {
        return Ok(kind);
    }
    let said = match is_text(&head(path, 0)?) {
        true => "it holds text",
        false => "it begins like no kind of file that is read here",
    };
    Err(Error::NotMedia {
        path: path.display().to_string(),
        said: said.into(),
    })
}

impl Kind {
    /// What a file is that begins with `head`, of which a few hundred bytes tell all but a transport stream.
    pub fn of(head: &[u8]) -> Option<Self> {
        match behind_tag(head) {
            Some(_) => Some(MP3),
            None => judge(head),
        }
    }

    /// Whether it is a picture that stands still.
    pub fn is_still(self) -> bool {
        self.mime.starts_with("image/")
    }

    /// Whether it may be a sound alone: a sound file, or a container that holds either.
    pub fn may_be_sound(self) -> bool {
        self.mime.starts_with("audio/") || matches!(self.demuxer, "ogg" | "mov") && !self.is_still()
    }
}

/// Where an ID3v2 tag at the beginning ends: its ten bytes of head say how long it is, seven bits a byte.
fn behind_tag(head: &[u8]) -> Option<u64> {
    let [b'I', b'D', b'3', _, _, flags, a, b, c, d, ..] = head else {
        return None;
    };
    let long = [a, b, c, d]
        .into_iter()
        .fold(0, |long, byte| long << 7 | u64::from(byte & 0x7f));
    Some(long + if flags & 0x10 == 0 { 10 } else { 20 })
}

/// AAC in ADTS: twelve set bits, a version, layer 00.
const fn is_adts(second: u8) -> bool {
    second & 0xf6 == 0xf0
}

fn judge(head: &[u8]) -> Option<Kind> {
    let stands = |(at, mark, _): &&(usize, &[u8], Kind)| {
        head.get(*at..*at + mark.len())
            .is_some_and(|found| found.iter().zip(*mark).all(|(a, b)| a == b || *b == b'?'))
    };
    if let Some((.., kind)) = MARKS.iter().find(stands) {
        let is_webm =
            kind.demuxer == "matroska" && head.windows(4).take(64).any(|word| word == b"webm");
        return Some(if is_webm { WEBM } else { *kind });
    }
    // Packets of 188 bytes, of 192 with a time before each (AVCHD), or of 204 with a check behind each.
    let packets = |long: usize, first: usize| {
        let all = head.iter().skip(first).step_by(long);
        head.len() >= first + 3 * long && all.take(5).all(|byte| *byte == 0x47)
    };
    let begins = |long: usize| (0..long).any(|first| packets(long, first));
    if [188, 192, 204].into_iter().any(begins) {
        return Some(TRANSPORT);
    }
    // Some writers fill up with zeros before the first frame.
    let filled = head.iter().take_while(|byte| **byte == 0).count();
    match &head[filled..] {
        [0xff, second, ..] if is_adts(*second) => Some(ADTS),
        // MPEG audio (ISO 11172-3): eleven set bits, a version, a layer, a rate.
        [0xff, second, third, ..] if second & 0xe0 == 0xe0 && third & 0xf0 != 0xf0 => {
            match second & 6 {
                2 => Some(MP3),
                4 => Some(LAYER_II),
                _ => None,
            }
        }
        _ => None,
    }
}

/// Whether the file begins with written words alone.
fn is_text(head: &[u8]) -> bool {
    // A cut in the middle of a letter is no reason to take words for something else.
    let text = match std::str::from_utf8(head) {
        Ok(text) => text,
        Err(error) if error.error_len().is_none() => {
            std::str::from_utf8(&head[..error.valid_up_to()]).unwrap_or_default()
        }
        Err(_) => return false,
    };
    text.chars()
        .all(|c| !c.is_control() || matches!(c, '\n' | '\r' | '\t'))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn first_bytes_tell() {
        let demuxer = |head: &[u8]| judge(head).map(|kind| (kind.demuxer, kind.in_process));
        for (head, is) in [
            (&b"RIFF\0\0\0\0WAVEfmt "[..], Some(("wav", true))),
            (b"RIFF\0\0\0\0AVI LIST", Some(("avi", false))),
            (b"FORM\0\0\0\0AIFC", Some(("aiff", true))),
            (b"fLaC\0", Some(("flac", true))),
            (b"OggS\0", Some(("ogg", true))),
            (b"\xff\xfb\x90\x64", Some(("mp3", true))),
            (b"\0\0\0\xff\xfb\x90\x64", Some(("mp3", true))),
            (b"\xff\xfd\x90\x64", Some(("mp3", false))),
            (b"\xff\xf1\x50\x80", Some(("aac", false))),
            (b"\0\0\0\x20ftypisom", Some(("mov", false))),
            (b"#EXTM3U\n#EXT-X-VERSION:3\n", None),
            (b"\x01#EXTM3U\n#EXT-X-VERSION:3\n", None),
            (b"ffconcat version 1.0\nfile 'a.mov'\n", None),
            (b"<?xml version=\"1.0\"?><MPD>", None),
            (b"\xff\xfe\0\0", None),
            (b"", None),
        ] {
            assert_eq!(demuxer(head), is, "{head:?}");
        }
        for (stride, first) in [(188, 0), (188, 77), (192, 4), (204, 0)] {
            let mut head = vec![0u8; HEAD];
            head[0] = 9;
            for at in (first..HEAD).step_by(stride) {
                head[at] = 0x47;
            }
            assert_eq!(demuxer(&head), Some(("mpegts", false)), "{stride} {first}");
        }
        assert!(is_text(b"not a song\n"));
        assert!(is_text("não é música".as_bytes()));
        assert!(is_text(&"não".as_bytes()[..2]));
        assert!(!is_text(b"\0\0\0\x20ftypisom"));
    }

    #[test]
    fn a_tag_alone_says_nothing() {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("a");
        let tag = |behind: &[u8]| {
            let mut bytes = b"ID3\x04\0\0\0\0\x01\0".to_vec();
            bytes.resize(10 + 128, 0);
            bytes.extend_from_slice(behind);
            std::fs::write(&path, bytes).unwrap();
            kind_of(&path).unwrap().map(|kind| kind.demuxer)
        };
        assert_eq!(tag(b"fLaC"), Some("flac"));
        assert_eq!(tag(b"\xff\xf1\x50\x80"), Some("aac"));
        assert_eq!(tag(b"\xff\xfb\x90\x64"), Some("mp3"));
        // Handed over as the sound that it says it is, it is no list.
        assert_eq!(tag(b"#EXTM3U\n"), Some("mp3"));
    }
}
