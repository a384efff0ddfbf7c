//! Takes as a browser can show them: which it may not play, copies for those, and a still of each.
//!
//! Copies and stills lie in the cache by the content of their take and the version of the method, whole or
//! not at all.

use crate::error::because;
use crate::gather::probed;
use crate::job::keep;
use crate::{Error, Job, Progress};
use media::Probe;
use model::{Picture, Take, TakeId};
use std::path::PathBuf;
use store::Folder;

/// Raised when copies are made otherwise.
const VIEW_VERSION: u32 = 1;
/// Raised when stills are made otherwise.
const STILL_VERSION: u32 = 1;
/// Raised when key frames are looked for otherwise.
const GAP_VERSION: u32 = 1;

/// Key frames further apart make a jump slow, seconds.
const LONG_GAP_S: f64 = 2.0;
/// A larger picture makes a jump slow: pixels of a frame, those of 1920 × 1088.
const MANY_PIXELS: u64 = 1920 * 1088;
/// A fuller file makes a jump slow, bits a second.
const FULL_BITS_S: f64 = 30e6;
/// A picture that begins this much later than the file is out of step in a browser, which counts from the
/// file's beginning: seconds, a third of a frame. What a coder of sound puts before its first sample is less.
const LATE_S: f64 = 0.012;
/// How wide a still is, pixels.
const STILL_WIDTH: u32 = 400;

/// One take as a browser may show it.
#[derive(Clone, Debug, PartialEq)]
pub struct TakeView {
    /// Which.
    pub take: TakeId,
    /// Its picture; `None` when it has none, or its file is gone or can't be read.
    pub picture: Option<Picture>,
    /// What to ask a browser whether it plays it: a type with its codecs. `None`: hardly any browser does.
    pub plays_as: Option<&'static str>,
    /// Why it should be watched as a copy whatever the browser plays, a few words.
    pub heavy: Option<String>,
}

/// Where the viewing copy of `take` lies once it is made.
pub fn view_path(folder: &Folder, take: &Take) -> Option<PathBuf> {
    kept(folder, take, &format!("view-{VIEW_VERSION}"), "mp4")
}

/// Where the still of `take` lies once it is made.
pub fn still_path(folder: &Folder, take: &Take) -> Option<PathBuf> {
    kept(folder, take, &format!("still-{STILL_VERSION}"), "png")
}

fn kept(folder: &Folder, take: &Take, kind: &str, ending: &str) -> Option<PathBuf> {
    let hash = &take.file.hash;
    // A document written by hand may hold anything there; a hash alone becomes a name.
    let plain = !hash.is_empty() && hash.chars().all(|c| c.is_ascii_alphanumeric());
    plain.then(|| folder.cache().join(kind).join(format!("{hash}.{ending}")))
}

/// The type to ask a browser about (RFC 6381), by what ffmpeg calls the codec. The container is left to the
/// browser, which looks into the file itself.
fn plays_as(picture: &Picture) -> Option<&'static str> {
    let deep = picture.pixel_format.contains("10") || picture.pixel_format.contains("12");
    let half = picture.pixel_format.contains("420");
    match (picture.codec.as_str(), half, deep) {
        ("h264", true, false) => Some("video/mp4; codecs=\"avc1.640029\""),
        ("hevc", true, false) => Some("video/mp4; codecs=\"hvc1.1.6.L123.B0\""),
        ("hevc", true, true) => Some("video/mp4; codecs=\"hvc1.2.4.L123.B0\""),
        ("av1", true, false) => Some("video/mp4; codecs=\"av01.0.09M.08\""),
        ("av1", true, true) => Some("video/mp4; codecs=\"av01.0.09M.10\""),
        ("vp9", true, false) => Some("video/webm; codecs=\"vp09.00.41.08\""),
        ("vp8", true, false) => Some("video/webm; codecs=\"vp8\""),
        _ => None,
    }
}

fn heavy(probe: &Probe, bytes: u64, gap_s: Option<f64>) -> Option<String> {
    let picture = probe.picture.as_ref()?;
    let first_s = probe
        .sound
        .iter()
        .map(|track| track.start_s)
        .fold(picture.start_s, f64::min);
    let pixels = u64::from(picture.width) * u64::from(picture.height);
    let bits_s = bytes as f64 * 8.0 / picture.length.seconds().max(1e-3);
    if pixels > MANY_PIXELS {
        Some(format!("{} × {} pixels", picture.width, picture.height))
    } else if bits_s > FULL_BITS_S {
        Some(format!("{:.0} Mbit/s", bits_s / 1e6))
    } else if picture.start_s.abs().max((picture.start_s - first_s).abs()) > LATE_S {
        // Browsers count from whatever begins first; a copy begins with the picture.
        Some("its picture begins after its sound".into())
    } else {
        gap_s
            .filter(|gap| *gap > LONG_GAP_S)
            .map(|gap| format!("key frames {gap:.1} s apart"))
    }
}

impl Job {
    /// Every take as a browser may show it, in the order of the document.
    ///
    /// # Errors
    /// When it was stopped. A take that can't be read has no picture.
    pub fn viewing(&mut self, progress: &dyn Progress) -> Result<Vec<TakeView>, Error> {
        let takes = self.project().takes.clone();
        progress.stage("looking at the takes", takes.len());
        let mut all = Vec::with_capacity(takes.len());
        for take in takes {
            Self::stop_if_asked(progress)?;
            let mut view = TakeView {
                take: take.id.clone(),
                picture: None,
                plays_as: None,
                heavy: None,
            };
            match self.seen(&take, progress) {
                Ok(Some((path, probe))) => {
                    view.plays_as = probe.picture.as_ref().and_then(plays_as);
                    // What is not played at all needs no second reason.
                    let gap = (view.plays_as.is_some())
                        .then(|| self.gap(&take, &path, progress))
                        .flatten();
                    view.heavy = heavy(&probe, take.file.bytes, gap);
                    view.picture = probe.picture;
                }
                Err(error) if error.is_stop() => return Err(Error::Stopped),
                Ok(None) | Err(_) => {}
            }
            all.push(view);
            progress.part(take.id.as_str());
        }
        Ok(all)
    }

    fn seen(
        &mut self,
        take: &Take,
        progress: &dyn Progress,
    ) -> Result<Option<(PathBuf, Probe)>, Error> {
        let Some(path) = self.locate(&take.file, progress)? else {
            return Ok(None);
        };
        let probe = probed(&self.cache, &self.tools, &take.file.hash, &path, progress)?;
        Ok(Some((path, probe)))
    }

    fn gap(&self, take: &Take, path: &std::path::Path, progress: &dyn Progress) -> Option<f64> {
        const KIND: &str = "key-frames";
        if let Some(gap) = self.cache.get_json(KIND, GAP_VERSION, &take.file.hash) {
            return Some(gap);
        }
        let tools = self.tools.as_ref().ok()?;
        let gap = media::key_frame_gap_s(path, tools, &|| progress.keep_going()).ok()?;
        let kept = (KIND, GAP_VERSION, take.file.hash.as_str());
        keep(&self.cache, kept, &gap, progress);
        Some(gap)
    }

    /// Makes the viewing copy of a take, unless it is there.
    ///
    /// # Errors
    /// When there is no such take, its file is gone or can't be read, there is no ffmpeg or no room, or it
    /// was stopped; nothing half made is left.
    pub fn make_view(&mut self, id: &TakeId, progress: &dyn Progress) -> Result<PathBuf, Error> {
        let (take, path, probe) = self.one(id, progress)?;
        let out = self.place(view_path(&self.folder, &take), &path)?;
        if out.is_file() {
            return Ok(out);
        }
        progress.stage(&format!("making a copy of {id} to watch"), 0);
        let tools = self.tools_or_why(&path)?;
        media::viewing_copy(&path, &probe, tools, &out, &|share| {
            progress.share(share);
            progress.keep_going()
        })?;
        self.cache.made(&out);
        Ok(out)
    }

    /// Makes the still of every take that has none yet; gives how many were made. `at` says where in a take
    /// the best moment is, in seconds; otherwise it is its middle.
    ///
    /// # Errors
    /// When there is no ffmpeg or no room, or it was stopped. A take that can't be read has no still.
    pub fn make_stills(
        &mut self,
        at: &dyn Fn(&TakeId) -> Option<f64>,
        progress: &dyn Progress,
    ) -> Result<usize, Error> {
        let missing: Vec<Take> = self
            .project()
            .takes
            .iter()
            .filter(|take| still_path(&self.folder, take).is_some_and(|path| !path.is_file()))
            .cloned()
            .collect();
        progress.stage("taking a still of each take", missing.len());
        let mut made = 0;
        for take in missing {
            Self::stop_if_asked(progress)?;
            if let Ok(Some((path, probe))) = self.seen(&take, progress)
                && let Some(picture) = &probe.picture
            {
                let out = self.place(still_path(&self.folder, &take), &path)?;
                let tools = self.tools_or_why(&path)?;
                let middle_s = picture.length.seconds() / 2.0;
                let at_s = at(&take.id).unwrap_or(middle_s);
                let still =
                    |at_s| media::extract_still(&path, &probe, tools, at_s, STILL_WIDTH, &out);
                // The best moment may lie behind the last frame; a file may end early.
                match still(at_s).or_else(|_| still(0.0)) {
                    Ok(()) => {
                        self.cache.made(&out);
                        made += 1;
                    }
                    Err(error @ (media::Error::DiskFull { .. } | media::Error::Io { .. })) => {
                        return Err(error.into());
                    }
                    Err(_) => {}
                }
            }
            progress.part(take.id.as_str());
        }
        Ok(made)
    }

    fn one(
        &mut self,
        id: &TakeId,
        progress: &dyn Progress,
    ) -> Result<(Take, PathBuf, Probe), Error> {
        let take = self
            .project()
            .take(id)
            .cloned()
            .ok_or_else(|| Error::NoTake(id.to_string()))?;
        let (path, probe) = self
            .seen(&take, progress)?
            .ok_or_else(|| Error::TakeMissing {
                path: take.file.path.clone(),
            })?;
        Ok((take, path, probe))
    }

    fn place(&self, out: Option<PathBuf>, path: &std::path::Path) -> Result<PathBuf, Error> {
        let out = out.ok_or_else(|| Error::TakeMissing {
            path: path.display().to_string(),
        })?;
        if let Some(folder) = out.parent() {
            std::fs::create_dir_all(folder).map_err(|source| Error::Write {
                path: folder.to_path_buf(),
                cause: source,
            })?;
        }
        Ok(out)
    }

    fn tools_or_why(&self, path: &std::path::Path) -> Result<&media::Tools, Error> {
        self.tools.as_ref().map_err(|_| {
            because(
                &self.tools,
                media::Error::NeedsTools {
                    path: path.display().to_string(),
                },
            )
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use media::SoundTrack;
    use model::{FrameRate, Length};

    fn probe(change: impl FnOnce(&mut Picture)) -> Probe {
        let mut picture = Picture {
            width: 1920,
            height: 1080,
            rotation_deg: 0,
            pixel_aspect: (1, 1),
            rate: FrameRate::FPS_25,
            variable_rate: false,
            codec: "h264".into(),
            pixel_format: "yuv420p".into(),
            colour: Default::default(),
            start_timecode: None,
            frames: None,
            start_s: 0.0,
            length: Length::nearest_to_seconds(10.0),
        };
        change(&mut picture);
        Probe {
            length: picture.length,
            picture: Some(picture),
            sound: vec![SoundTrack {
                index: 0,
                channels: 1,
                rate_hz: 48_000,
                codec: "aac".into(),
                start_s: 0.0,
                length_s: 10.0,
            }],
            notes: Vec::new(),
        }
    }

    #[test]
    fn copies_are_asked_for_where_jumping_would_be_slow_and_nowhere_else() {
        let quick = probe(|_| {});
        let mb = 1 << 20;
        assert_eq!(heavy(&quick, 10 * mb, Some(0.5)), None);
        assert_eq!(heavy(&quick, 10 * mb, None), None);
        for (probe, bytes, gap, why) in [
            (
                quick.clone(),
                10 * mb,
                Some(10.0),
                "key frames 10.0 s apart",
            ),
            (quick, 100 * mb, Some(0.5), "84 Mbit/s"),
            (
                probe(|p| p.width = 3840),
                10 * mb,
                Some(0.5),
                "3840 × 1080 pixels",
            ),
            (
                probe(|p| p.start_s = 0.08),
                10 * mb,
                Some(0.5),
                "its picture begins after its sound",
            ),
        ] {
            assert_eq!(heavy(&probe, bytes, gap).as_deref(), Some(why));
        }
    }

    #[test]
    fn what_no_browser_plays_is_known() {
        let asked = |codec: &str, format: &str| {
            let mut seen = None;
            probe(|p| {
                p.codec = codec.into();
                p.pixel_format = format.into();
                seen = plays_as(p);
            });
            seen
        };
        assert!(asked("h264", "yuv420p").is_some());
        assert_eq!(asked("h264", "yuv422p10le"), None);
        assert_eq!(asked("mjpeg", "yuvj420p"), None);
        assert_eq!(asked("prores", "yuv422p10le"), None);
        assert!(asked("hevc", "yuv420p10le").is_some_and(|t| t.contains("hvc1.2")));
    }

    #[test]
    fn only_a_hash_becomes_a_name() {
        let folder = Folder::new("/p");
        let mut take: Take = serde_json::from_str(
            r#"{"id":"a","file":{"path":"takes/a.mov","hash":"00ff","bytes":1}}"#,
        )
        .expect("a take");
        assert!(view_path(&folder, &take).is_some_and(|path| path.ends_with("00ff.mp4")));
        take.file.hash = "../../etc".into();
        assert_eq!(view_path(&folder, &take), None);
        take.file.hash = String::new();
        assert_eq!(still_path(&folder, &take), None);
    }
}
