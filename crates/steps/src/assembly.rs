//! Coverage, the cut, its timelines and its preview.

use crate::files::write_text;
use crate::gather::{Gathered, TakeState};
use crate::song::Heard;
use crate::{Error, Job, Progress, Trouble, known, noted};
use assemble::{Answer, Question, Why};
use coverage::{Advice, Coverage};
use media::{PreviewJob, PreviewShot};
use model::{Cut, Edit, Finding, Project, Shot, SongMap, TakeId};
use std::path::{Path, PathBuf};
use timeline::{Listing, SongRef, TakeRef};

/// What there is to cut to, and what to plan or shoot next.
#[derive(Clone, Debug, PartialEq, serde::Serialize)]
pub struct Covered {
    /// Bar by bar.
    #[serde(flatten)]
    pub coverage: Coverage,
    /// What would help most.
    pub advice: Advice,
}

/// A cut made, with everything written from it.
#[derive(Clone, Debug)]
pub struct Made {
    /// The cut as kept in the document.
    pub cut: Cut,
    /// Whether it differs from the one before; an equal one gets no new version.
    pub fresh: bool,
    /// Its score, terms and proof.
    pub answer: Answer,
    /// Shot by shot.
    pub listing: Listing,
    /// The files written.
    pub files: MadeFiles,
    /// What a person should know.
    pub notes: Vec<Finding>,
    /// Takes that could not be used.
    pub trouble: Vec<Trouble>,
}

/// The files written from one cut.
#[derive(Clone, Debug, PartialEq, Eq, serde::Serialize)]
pub struct MadeFiles {
    /// OpenTimelineIO.
    pub otio: PathBuf,
    /// SMPTE 258M edit list.
    pub edl: PathBuf,
    /// The listing as JSON.
    pub listing: PathBuf,
    /// The song strip with what was shot and what is cut, as SVG, for a page.
    pub strip: PathBuf,
    /// The same for a phone.
    pub narrow_strip: PathBuf,
    /// WebVTT captions, when lyrics are timed.
    pub captions: Option<PathBuf>,
}

/// A preview rendered.
#[derive(Clone, Debug)]
pub struct PreviewMade {
    /// The file.
    pub path: PathBuf,
    /// Frames in it.
    pub frames: i64,
    /// What a person should know.
    pub notes: Vec<Finding>,
}

/// The longest side of a preview, in pixels: enough to judge a cut by, quick to make.
const PREVIEW_SIDE: u32 = 960;

/// The widths the strip is drawn at, in CSS pixels: a laptop's page and a phone.
const STRIP_WIDTHS: [u32; 2] = [1440, 360];

impl Job {
    /// What there is to cut to in every bar, as planned and as shot, and what would help most.
    ///
    /// # Errors
    /// When there is no song, or it was stopped.
    pub fn coverage(
        &mut self,
        wanted: Option<u32>,
        progress: &dyn Progress,
    ) -> Result<(Covered, Vec<Trouble>), Error> {
        let heard = self.heard(progress)?;
        let gathered = self.gather(false, progress)?;
        let options = wanted.map_or_else(coverage::Options::default, |wanted| coverage::Options {
            wanted,
        });
        let project = self.project();
        let coverage = coverage::coverage(
            &heard.map,
            &project.setups,
            &project.wishes,
            &gathered.placed(),
            &options,
        );
        let rate = project.brief.rate;
        let advice = coverage::advise(
            &heard.map,
            &project.setups,
            &coverage,
            rate,
            &project.practice,
        );
        Ok((Covered { coverage, advice }, gathered.trouble()))
    }

    /// Makes the best cut, keeps it as a new version, and writes its timelines into `assembly/`.
    ///
    /// # Errors
    /// When there is no song or take, a lock can't be kept, a file can't be written, or it was stopped.
    pub fn assemble(&mut self, progress: &dyn Progress) -> Result<Made, Error> {
        let heard = self.heard(progress)?;
        if self.project().takes.is_empty() {
            return Err(Error::NoTakes(self.folder.root().to_path_buf()));
        }
        let gathered = self.gather(true, progress)?;
        progress.stage("choosing what is on screen when", 0);
        let placed = assemble::bans::without(&gathered.placed(), &self.project().bans);
        let answer = assemble::assemble(&self.question(&heard.map, &placed), &|| {
            progress.keep_going()
        })?;
        Self::stop_if_asked(progress)?;
        let rate = self.project().brief.rate;
        let fresh = self
            .project()
            .newest_cut()
            .is_none_or(|last| last.shots != answer.shots || last.rate != rate);
        if fresh {
            let cut = Cut {
                version: 0,
                rate,
                shots: answer.shots.clone(),
                remark: String::new(),
                extra: Default::default(),
            };
            self.edit(&Edit::AddCut { cut })?;
        }
        let cut = self.newest_cut()?;
        let (files, listing, more) = self.write_timelines(&cut, &heard, &gathered)?;
        let said = answer.notes.iter().map(|note| &note.text);
        let notes = noted("assembly", said).chain(more).collect();
        Ok(Made {
            cut,
            fresh,
            answer,
            listing,
            files,
            notes,
            trouble: gathered.trouble(),
        })
    }

    /// Why the newest cut shows what it shows in `bar`.
    ///
    /// # Errors
    /// When there is no cut or no such bar.
    pub fn why(&mut self, bar: u32, progress: &dyn Progress) -> Result<Why, Error> {
        let cut = self.newest_cut()?;
        let heard = self.heard(progress)?;
        let placed = self.gather(true, progress)?.placed();
        let mut question = self.question(&heard.map, &placed);
        question.rate = cut.rate;
        Ok(assemble::why(&question, &cut.shots, bar)?)
    }

    /// Renders the newest cut with the song; `labelled` burns in section, bar and take.
    ///
    /// # Errors
    /// When there is no cut, no ffmpeg, no room, or it was stopped; nothing half made is left.
    pub fn preview(
        &mut self,
        labelled: bool,
        progress: &dyn Progress,
    ) -> Result<PreviewMade, Error> {
        let cut = self.newest_cut()?;
        let heard = self.heard(progress)?;
        let song = self
            .project()
            .song
            .clone()
            .ok_or_else(|| Error::NoSong(self.folder.root().to_path_buf()))?;
        let song_path = self
            .locate(&song.file, progress)?
            .ok_or_else(|| Error::SongMissing {
                path: song.file.path.clone(),
            })?;
        let gathered = self.gather(false, progress)?;
        let brief = &self.project().brief;
        let used = |id: &TakeId| cut.shots.iter().any(|shot| shot.take.as_ref() == Some(id));
        let pictures = gathered
            .takes
            .iter()
            .filter(|state| used(&state.take.id))
            .filter_map(|state| state.probe.as_ref()?.picture.as_ref());
        let largest = pictures
            .map(|picture| picture.width.max(picture.height))
            .max()
            .unwrap_or(PREVIEW_SIDE);
        let probes = gathered
            .takes
            .iter()
            .filter_map(|state| Some((state.path.clone()?, state.probe.clone()?)))
            .collect();
        let out = Self::preview_path(&self.folder, cut.version);
        std::fs::create_dir_all(self.folder.assembly()).map_err(|source| Error::Write {
            path: self.folder.assembly(),
            cause: source,
        })?;
        let shots = cut.shots.iter();
        let job = PreviewJob {
            shots: shots
                .map(|shot| {
                    let label = labelled.then(|| label(&heard.map, &cut, shot));
                    self.preview_shot(shot, &gathered, label)
                })
                .collect(),
            rate: cut.rate,
            frame: preview_frame(brief.frame, largest),
            active: brief.active,
            fit: brief.fit,
            song: song_path,
            song_length: song.length,
            out: out.clone(),
            probes,
        };
        progress.stage("rendering the preview", 0);
        let tools = match &self.tools {
            Ok(tools) => tools,
            Err(_) => media::Tools::find()
                .map(|found| self.tools = Ok(found))
                .map_err(Error::from)
                .and_then(|()| self.tools.as_ref().map_err(|_| Error::Stopped))?,
        };
        let rendered = media::render_preview(&job, tools, &|share| {
            progress.share(share);
            progress.keep_going()
        })?;
        Ok(PreviewMade {
            path: out,
            frames: rendered.frames,
            notes: noted("preview", &rendered.notes).collect(),
        })
    }

    fn preview_shot(&self, shot: &Shot, gathered: &Gathered, label: Option<String>) -> PreviewShot {
        let of = |id: &TakeId| gathered.takes.iter().find(|state| state.take.id == *id);
        let state = shot.take.as_ref().and_then(of);
        let picture = state.and_then(|state| state.probe.as_ref()?.picture.as_ref());
        // The renderer shows the frame that covers a moment; half a frame on, that is the frame that
        // starts nearest to it, which is what the timelines say.
        let half_frame_s = picture.map_or(0.0, |picture| 0.5 / picture.rate.fps());
        // One that is gone gets a card with its name. What lies in its place now is not shown: nobody
        // brought it in.
        let gone = |name: &std::ffi::OsStr| self.folder.cache().join("gone").join(name);
        let path = |id: &TakeId| match state {
            Some(state) => state.path.clone().unwrap_or_else(|| {
                let was = Path::new(&state.take.file.path).file_name();
                gone(was.unwrap_or_default())
            }),
            None => gone(id.as_str().as_ref()),
        };
        PreviewShot {
            frames: shot.to_frame - shot.from_frame,
            take: shot.take.as_ref().map(path),
            take_start_s: shot.take_start.seconds() + half_frame_s,
            speed: shot.speed,
            label,
        }
    }

    /// Writes the timelines of one version of the cut into `assembly/`, and gives where they lie with what a
    /// person should know.
    ///
    /// # Errors
    /// When there is no such version or no song, a file can't be written, or it was stopped.
    pub fn timelines(
        &mut self,
        version: u32,
        progress: &dyn Progress,
    ) -> Result<(MadeFiles, Vec<Finding>), Error> {
        let cut = known::version(self.project(), version)?.clone();
        let heard = self.heard(progress)?;
        let gathered = self.gather(false, progress)?;
        let (files, _, notes) = self.write_timelines(&cut, &heard, &gathered)?;
        Ok((files, notes))
    }

    /// Where the preview of a version lies once it is rendered.
    pub fn preview_path(folder: &store::Folder, version: u32) -> PathBuf {
        folder.assembly().join(format!("v{version:03}-preview.mp4"))
    }

    fn newest_cut(&self) -> Result<Cut, Error> {
        self.project()
            .newest_cut()
            .cloned()
            .ok_or_else(|| Error::NoCut(self.folder.root().to_path_buf()))
    }

    fn question<'a>(&'a self, map: &'a SongMap, takes: &'a [model::PlacedTake]) -> Question<'a> {
        question(self.project(), map, takes)
    }

    fn strip(
        &self,
        title: &str,
        cut: &Cut,
        heard: &Heard,
        gathered: &Gathered,
        width: u32,
    ) -> String {
        let placed = gathered.placed();
        // The middle zoom has more columns than the drawing has pixels, and no more than it needs.
        let zooms = &heard.listening.peaks.zooms;
        let strip = charts::song::StripFile {
            title,
            map: &heard.map,
            zoom: zooms.get(1).or(zooms.first()),
            project: self.project(),
            takes: &placed,
            cut: Some(cut),
        };
        strip.svg(width)
    }

    fn write_timelines(
        &self,
        cut: &Cut,
        heard: &Heard,
        gathered: &Gathered,
    ) -> Result<(MadeFiles, Listing, Vec<Finding>), Error> {
        let project = self.project();
        let song = project
            .song
            .as_ref()
            .ok_or_else(|| Error::NoSong(self.folder.root().to_path_buf()))?;
        let song_ref = SongRef {
            name: file_name(&song.file.path),
            path: song.file.path.clone(),
            length: song.length,
            rate_hz: heard.listening.sample_rate_hz,
        };
        let takes: Vec<TakeRef> = gathered.takes.iter().map(take_ref).collect();
        let title = if project.title.is_empty() {
            "Assembly"
        } else {
            &project.title
        };
        let edit = timeline::Edit {
            title,
            cut,
            map: &heard.map,
            song: &song_ref,
            takes: &takes,
            lyrics: &song.lyrics,
            to_project: "../",
            bar_markers: false,
        };
        let folder = self.folder.assembly();
        let stem = format!("v{:03}", cut.version);
        let otio = timeline::otio(&edit)?;
        let edl = timeline::edl(&edit)?;
        let listing = timeline::listing(&edit);
        let captions = song
            .lyrics
            .iter()
            .any(|line| line.at.is_some())
            .then(|| timeline::webvtt(&song.lyrics, song.length));
        let files = MadeFiles {
            otio: folder.join(format!("{stem}.otio")),
            edl: folder.join(format!("{stem}.edl")),
            listing: folder.join(format!("{stem}.json")),
            strip: folder.join(format!("{stem}-strip.svg")),
            narrow_strip: folder.join(format!("{stem}-strip-narrow.svg")),
            captions: captions.as_ref().map(|_| folder.join("captions.vtt")),
        };
        write_text(&files.otio, &otio.text)?;
        write_text(&files.edl, &edl.text)?;
        write_text(&files.listing, &listing.to_json())?;
        write_text(
            &files.strip,
            &self.strip(title, cut, heard, gathered, STRIP_WIDTHS[0]),
        )?;
        write_text(
            &files.narrow_strip,
            &self.strip(title, cut, heard, gathered, STRIP_WIDTHS[1]),
        )?;
        if let (Some(path), Some(captions)) = (&files.captions, &captions) {
            write_text(path, &captions.text)?;
        }
        let mut notes: Vec<Finding> = Vec::new();
        let written = otio
            .notes
            .iter()
            .chain(&edl.notes)
            .chain(captions.iter().flat_map(|captions| &captions.notes));
        noted("timeline", written).for_each(|note| note.once(&mut notes));
        Ok((files, listing, notes))
    }
}

/// The last part of a path of the document.
fn file_name(path: &str) -> String {
    path.rsplit('/').next().unwrap_or(path).to_owned()
}

fn take_ref(state: &TakeState) -> TakeRef {
    let probe = state.probe.as_ref();
    TakeRef {
        id: state.take.id.clone(),
        name: file_name(&state.take.file.path),
        path: state.take.file.path.clone(),
        reel: None,
        picture: probe.and_then(|probe| probe.picture.clone()),
        length: probe.map(|probe| probe.length).unwrap_or_default(),
    }
}

/// What the assembly is asked for this document.
pub fn question<'a>(
    project: &'a Project,
    map: &'a SongMap,
    takes: &'a [model::PlacedTake],
) -> Question<'a> {
    Question {
        map,
        rate: project.brief.rate,
        setups: &project.setups,
        wishes: &project.wishes,
        weights: &project.weights,
        locks: &project.locks,
        takes,
    }
}

/// The frame of the brief brought down to a preview's size, both sides even: no longer than
/// [`PREVIEW_SIDE`], and no longer than the largest take, which has nothing more to show.
fn preview_frame([width, height]: [u32; 2], largest_take: u32) -> [u32; 2] {
    let longest = width.max(height).max(1);
    let side = longest.min(PREVIEW_SIDE).min(largest_take.max(320));
    let scaled = |length: u32| {
        let exact = u64::from(length) * u64::from(side);
        let nearest = (exact + u64::from(longest)) / (2 * u64::from(longest)) * 2;
        (nearest as u32).max(16)
    };
    [scaled(width), scaled(height)]
}

fn label(map: &SongMap, cut: &Cut, shot: &Shot) -> String {
    let at = cut.at(shot.from_frame);
    let (bar, beat) = map.address(at);
    let section = map.section_call(map.section_index_at(at));
    let take = shot.take.as_ref().map_or("black", TakeId::as_str);
    format!("{section}  {bar}.{beat}  {take}")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn previews_keep_the_shape_of_the_frame() {
        assert_eq!(preview_frame([1920, 1080], 3840), [960, 540]);
        assert_eq!(preview_frame([1080, 1920], 3840), [540, 960]);
        assert_eq!(preview_frame([640, 361], 3840), [640, 362]);
        assert_eq!(preview_frame([1920, 1080], 640), [640, 360]);
        assert_eq!(preview_frame([1920, 1080], 0), [320, 180]);
    }
}
