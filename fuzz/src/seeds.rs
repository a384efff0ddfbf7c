//! Files that are right, small, and made here.

use std::path::Path;
use std::process::Command;

/// A second of a tone, in every kind of sound file that is read in this program: WAV by ourselves, the others by
/// ffmpeg where it is.
pub fn sounds() -> anyhow::Result<Vec<Vec<u8>>> {
    let dir = tempfile::tempdir()?;
    let wave: Vec<f32> = (0..4000).map(|n| (n as f32 * 0.3).sin() * 0.5).collect();
    let path = dir.path().join("a.wav");
    media::write_wav(&path, 8000, &[&wave, &wave], media::WavFormat::Int16)?;
    let mut all = vec![std::fs::read(&path)?];
    for name in ["a.flac", "a.mp3", "a.ogg", "a.aiff", "u8.wav", "float.wav"] {
        let codec = match name {
            "a.ogg" => "libvorbis",
            "u8.wav" => "pcm_u8",
            "float.wav" => "pcm_f32le",
            _ => "copy",
        };
        all.extend(converted(&path, &dir.path().join(name), codec));
    }
    Ok(all)
}

fn converted(from: &Path, to: &Path, codec: &str) -> Option<Vec<u8>> {
    let mut ffmpeg =
        Command::new(std::env::var_os("BAREBULB_FFMPEG").unwrap_or_else(|| "ffmpeg".into()));
    ffmpeg
        .args(["-nostdin", "-v", "quiet", "-y", "-i"])
        .arg(from);
    if codec != "copy" {
        ffmpeg.args(["-c:a", codec]);
    }
    let made = ffmpeg.arg(to).status().is_ok_and(|status| status.success());
    made.then(|| std::fs::read(to).ok()).flatten()
}

/// EXIF as cameras write it, of either byte order, bare (a TIFF) and in a JPEG.
pub fn photographs() -> anyhow::Result<Vec<Vec<u8>>> {
    let dir = tempfile::tempdir()?;
    let mut all = Vec::new();
    for little in [true, false] {
        let exif = tiff(little);
        let path = dir.path().join("a.jpg");
        media::write_jpeg(&path, &[90; 16 * 16 * 3], (16, 16), &exif)?;
        all.push(std::fs::read(&path)?);
        all.push(exif);
    }
    Ok(all)
}

/// A TIFF structure (TIFF 6.0) with a time, an exposure and a position (EXIF 2.32).
fn tiff(little: bool) -> Vec<u8> {
    let two = |n: u16| {
        if little {
            n.to_le_bytes()
        } else {
            n.to_be_bytes()
        }
    };
    let four = |n: u32| {
        if little {
            n.to_le_bytes()
        } else {
            n.to_be_bytes()
        }
    };
    let mut out = if little {
        b"II".to_vec()
    } else {
        b"MM".to_vec()
    };
    out.extend(two(42));
    out.extend(four(8));
    // Three tables, each entry a tag, a type, a count and a value or where it lies.
    let (exif_at, gps_at, data_at) = (8 + 2 + 3 * 12 + 4, 8 + 2 + 3 * 12 + 4 + 2 + 4 * 12 + 4, 210);
    let tables: [&[(u16, u16, u32, u32)]; 3] = [
        &[
            (0x0132, 2, 20, data_at),
            (0x8769, 4, 1, exif_at),
            (0x8825, 4, 1, gps_at),
        ],
        &[
            (0x829a, 5, 1, data_at + 20),
            (0x829d, 5, 1, data_at + 28),
            (0x8827, 3, 1, 0),
            (0x9003, 2, 20, data_at),
        ],
        &[
            (1, 2, 2, 0),
            (2, 5, 3, data_at + 36),
            (3, 2, 2, 0),
            (4, 5, 3, data_at + 36),
        ],
    ];
    for table in tables {
        out.extend(two(table.len() as u16));
        for (tag, kind, count, value) in table {
            out.extend(two(*tag));
            out.extend(two(*kind));
            out.extend(four(*count));
            match (tag, kind) {
                (0x8827, _) => out.extend([two(800), two(0)].concat()),
                (1, 2) => out.extend(b"N\0\0\0"),
                (3, 2) => out.extend(b"E\0\0\0"),
                _ => out.extend(four(*value)),
            }
        }
        out.extend(four(0));
    }
    out.resize(data_at as usize, 0);
    out.extend(b"2026:10:03 18:41:07\0");
    for (over, under) in [(1, 50), (28, 10), (52, 1), (30, 1), (0, 1)] {
        out.extend(four(over));
        out.extend(four(under));
    }
    out
}

/// A plan with something of every kind in it.
pub fn plan() -> Vec<u8> {
    include_bytes!("plan.toml").to_vec()
}
