//! The cut rendered with the song, to look at.
//!
//! One encoder process is fed raw frames, exactly as many as the cut has. For each shot one
//! decoder process gives the take's frames in the frame's size; the next ones are started ahead, so
//! that the encoder never waits for a process to start. What is missing is made here: black, held
//! frames, cards, labels.

use crate::confine;
use crate::lettering::{Canvas, black, card, frame_bytes};
use crate::output::Output;
use crate::probe::probe_while;
use crate::process::{self, Job, Out};
use crate::reading::{self, Moments};
use crate::tools::input;
use crate::{Error, Note, Probe, Tools, probe};
use model::{Fit, FrameRate, Length};
use std::cell::Cell;
use std::collections::{BTreeMap, VecDeque};
use std::ffi::OsString;
use std::path::{Path, PathBuf};
use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::{Duration, Instant};

/// How many shots are decoded ahead of the one on screen.
const SHOTS_AHEAD: usize = 2;

/// How much memory the frames waiting of one shot may take, in bytes.
const WAITING_BYTES: usize = 24 << 20;

/// How often progress is told.
const TOLD_EVERY: Duration = Duration::from_millis(100);

/// A cut to render.
#[derive(Clone, Debug)]
pub struct PreviewJob {
    /// The shots, in order, without gaps.
    pub shots: Vec<PreviewShot>,
    /// Frames per second.
    pub rate: FrameRate,
    /// Width and height of the frame in pixels; odd numbers are made even.
    pub frame: [u32; 2],
    /// Shape of the active picture, width to height, when it differs from the frame.
    pub active: Option<[u32; 2]>,
    /// How a take of another shape is brought into the active picture.
    pub fit: Fit,
    /// The song's file.
    pub song: PathBuf,
    /// How long the song sounds; after it there is silence, to the cut's end.
    pub song_length: Length,
    /// Where the preview goes (an MP4).
    pub out: PathBuf,
    /// Probes made already; takes not in it are probed.
    pub probes: BTreeMap<PathBuf, Probe>,
}

/// One shot to render.
#[derive(Clone, Debug, PartialEq)]
pub struct PreviewShot {
    /// How many frames of the cut it fills.
    pub frames: i64,
    /// The take's file; `None` is black.
    pub take: Option<PathBuf>,
    /// How far into the take its first frame lies, in seconds.
    pub take_start_s: f64,
    /// Song seconds per take second: one second of the cut uses `1 / speed` seconds of the take.
    pub speed: f64,
    /// Burnt in at the lower left, when given. Capitals, digits and common signs; small letters
    /// are drawn as capitals, others as `?`.
    pub label: Option<String>,
}

/// What was rendered.
#[derive(Clone, Debug, PartialEq)]
pub struct Rendered {
    /// Frames in the file: those of the cut.
    pub frames: i64,
    /// What is worth telling: held frames, cards.
    pub notes: Vec<Note>,
}

/// Renders the cut. Frame `n` of a shot shows the take's frame that covers
/// `take_start_s + n / rate / speed`.
///
/// `progress` is told the share done, 0 to 1, several times a second; once it answers `false`
/// the work stops within a second and leaves nothing behind.
///
/// # Errors
/// [`Error::Cancelled`], [`Error::DiskFull`], [`Error::OutOfRange`] for a job that cannot be, and
/// what ffmpeg or the system refuses. A take that cannot be shown is no error: a card with its
/// name stands for it, and a note says why.
pub fn render_preview(
    job: &PreviewJob,
    tools: &Tools,
    progress: &dyn Fn(f32) -> bool,
) -> Result<Rendered, Error> {
    let frame = job.frame.map(|size| size.next_multiple_of(2));
    let total = check(job, frame)?;
    let teller = Teller::new(progress);
    let song = probe(&job.song, Some(tools))?;
    let Some(song_track) = song.sound.first() else {
        return Err(Error::NoSound {
            path: job.song.display().to_string(),
        });
    };
    let mut notes = Vec::new();
    let probes = probe_takes(job, tools, &|| teller.go_on())?;
    let output = Output::beside(&job.out)?;
    let x264 = tools.has_encoder("libx264");
    if !x264 {
        notes.push(Note::OtherEncoder {
            wanted: "libx264",
            used: "mpeg4",
        });
    }
    let arguments = encoder_arguments(job, frame, total, song_track.rate_hz, x264, output.path())?;
    let waiting = (WAITING_BYTES / frame_bytes(frame[0], frame[1])).clamp(2, 16);
    let mut encoder = tools.ffmpeg(&arguments, "write", &job.out, Out::Nothing, Some(waiting))?;
    let started = |index: usize| Source::start(job, index, &probes, tools, frame, waiting);
    let mut sources: VecDeque<Source> = VecDeque::new();
    let mut next_to_start = 0;
    let mut done = 0i64;
    for (index, shot) in job.shots.iter().enumerate() {
        while next_to_start < job.shots.len() && next_to_start <= index + SHOTS_AHEAD {
            sources.push_back(started(next_to_start));
            next_to_start += 1;
        }
        let Some(mut source) = sources.pop_front() else {
            break;
        };
        for _ in 0..shot.frames {
            let mut picture = source.next(&|| teller.go_on())?;
            if let (Some(label), Some(mut canvas)) =
                (&shot.label, Canvas::of(&mut picture, frame[0], frame[1]))
            {
                canvas.label(label);
            }
            encoder.feed(picture, &|| teller.go_on())?;
            done += 1;
            teller.done.set(done as f32 / total as f32);
        }
        notes.extend(source.note(index + 1));
    }
    encoder.finish(&|| teller.go_on())?;
    let written = probe(output.path(), Some(tools))?;
    let frames_written = written.picture.and_then(|picture| picture.frames);
    if frames_written != Some(total as u64) {
        return Err(Error::Refused {
            program: "ffmpeg",
            doing: "write",
            path: job.out.display().to_string(),
            said: format!("{frames_written:?} frames of {total} are in it"),
        });
    }
    output.persist(&job.out)?;
    progress(1.0);
    Ok(Rendered {
        frames: total,
        notes,
    })
}

/// Refuses what cannot be rendered; gives the number of frames.
fn check(job: &PreviewJob, frame: [u32; 2]) -> Result<i64, Error> {
    let refuse = |what: String, met: String, allowed: &str| {
        Err(Error::OutOfRange {
            what,
            met,
            allowed: allowed.to_owned(),
        })
    };
    if frame.iter().any(|size| !(16..=8192).contains(size)) {
        let met = format!("{}×{}", frame[0], frame[1]);
        return refuse(
            "the preview's frame".into(),
            met,
            "16 to 8192 pixels each way",
        );
    }
    let mut total = 0i64;
    for (index, shot) in job.shots.iter().enumerate() {
        let shot_name = |what: &str| format!("the {what} of shot {}", index + 1);
        // A day at 1000 frames a second.
        if !(0..=86_400_000).contains(&shot.frames) {
            return refuse(
                shot_name("length"),
                format!("{} frames", shot.frames),
                "0 to 86400000",
            );
        }
        if !(0.01..=100.0).contains(&shot.speed) {
            return refuse(shot_name("speed"), shot.speed.to_string(), "0.01 to 100");
        }
        if !(-model::time::MAX_SECONDS..=model::time::MAX_SECONDS).contains(&shot.take_start_s) {
            return refuse(
                shot_name("start"),
                format!("{} s", shot.take_start_s),
                "within a week",
            );
        }
        total += shot.frames;
    }
    if !(1..=86_400_000).contains(&total) {
        return refuse(
            "the length of the cut".into(),
            format!("{total} frames"),
            "1 to 86400000",
        );
    }
    Ok(total)
}

/// Tells progress now and then and remembers a refusal.
struct Teller<'a> {
    progress: &'a dyn Fn(f32) -> bool,
    done: Cell<f32>,
    told: Cell<Instant>,
    stopped: Cell<bool>,
}

impl<'a> Teller<'a> {
    fn new(progress: &'a dyn Fn(f32) -> bool) -> Self {
        Self {
            progress,
            done: Cell::new(0.0),
            told: Cell::new(Instant::now()),
            stopped: Cell::new(!progress(0.0)),
        }
    }

    fn go_on(&self) -> bool {
        if self.told.get().elapsed() >= TOLD_EVERY {
            self.told.set(Instant::now());
            if !(self.progress)(self.done.get()) {
                self.stopped.set(true);
            }
        }
        !self.stopped.get()
    }
}

/// What each take is like, or why that cannot be said.
type Probes = BTreeMap<PathBuf, Result<Probe, String>>;

/// Probes every take that is not known yet, two at a time.
fn probe_takes(job: &PreviewJob, tools: &Tools, go_on: &dyn Fn() -> bool) -> Result<Probes, Error> {
    let mut takes: Vec<&PathBuf> = job
        .shots
        .iter()
        .filter_map(|shot| shot.take.as_ref())
        .collect();
    takes.sort();
    takes.dedup();
    let (known, unknown): (Vec<_>, Vec<_>) = takes
        .into_iter()
        .partition(|take| job.probes.contains_key(*take));
    let found: Mutex<Probes> = Mutex::new(
        known
            .into_iter()
            .filter_map(|take| Some((take.clone(), Ok(job.probes.get(take)?.clone()))))
            .collect(),
    );
    let next = AtomicUsize::new(0);
    let stop = AtomicUsize::new(0);
    std::thread::scope(|scope| {
        let work = || {
            while stop.load(Ordering::Relaxed) == 0
                && let Some(take) = unknown.get(next.fetch_add(1, Ordering::Relaxed))
            {
                let going = || stop.load(Ordering::Relaxed) == 0;
                let probed =
                    probe_while(take, Some(tools), &going).map_err(|error| error.to_string());
                if let Ok(mut found) = found.lock() {
                    found.insert((*take).clone(), probed);
                }
            }
        };
        let workers = [scope.spawn(work), scope.spawn(work)];
        while workers.iter().any(|worker| !worker.is_finished()) {
            if !go_on() {
                stop.store(1, Ordering::Relaxed);
            }
            std::thread::sleep(Duration::from_millis(5));
        }
    });
    if !go_on() {
        return Err(Error::Cancelled);
    }
    Ok(found.into_inner().unwrap_or_default())
}

/// Where the frames of one shot come from.
struct Source {
    decoder: Option<Job>,
    /// The frame shown when the decoder has none: black, a card, or the last one shown.
    standing: Vec<u8>,
    take: Option<PathBuf>,
    frame_bytes: usize,
    frame: [u32; 2],
    shown: i64,
    held: i64,
    /// Why there is a card.
    card: Option<String>,
    /// Why reading broke off, when it was not the take's end.
    broke_off: Option<Error>,
}

impl Source {
    fn start(
        job: &PreviewJob,
        index: usize,
        probes: &Probes,
        tools: &Tools,
        frame: [u32; 2],
        waiting: usize,
    ) -> Self {
        let shot = &job.shots[index];
        let mut source = Self {
            decoder: None,
            standing: black(frame[0], frame[1]),
            take: shot.take.clone(),
            frame_bytes: frame_bytes(frame[0], frame[1]),
            frame,
            shown: 0,
            held: 0,
            card: None,
            broke_off: None,
        };
        let Some(take) = &shot.take else {
            return source;
        };
        if shot.frames == 0 {
            return source;
        }
        let probed = match probes.get(take) {
            Some(Ok(probed)) => probed,
            Some(Err(why)) => {
                source.stand_in(why.clone());
                return source;
            }
            None => return source,
        };
        let Some(picture) = &probed.picture else {
            source.stand_in("it has no picture".into());
            return source;
        };
        // Beyond the last frame there is the last frame.
        let last_s = (picture.length.seconds() - 0.5 / picture.rate.fps()).max(0.0);
        let from_s = shot.take_start_s.min(last_s);
        let moments = Moments {
            from_s,
            stretched: shot.speed,
            rate: job.rate,
            count: Some(shot.frames),
        };
        let area = reading::active_area(frame, job.active);
        let shape = reading::shape(picture, frame, area, job.fit);
        let out = Out::Pieces {
            bytes: source.frame_bytes,
            ahead: waiting,
        };
        // The probe may be older than the file's disappearance.
        let started = crate::inprocess::check_file(take)
            .and_then(|_| reading::arguments(take, picture, &moments, &shape, 2, reading::RAW))
            .and_then(|arguments| tools.ffmpeg(&arguments, "read", take, out, None));
        match started {
            Ok(decoder) => source.decoder = Some(decoder),
            Err(error) => source.stand_in(error.to_string()),
        }
        source
    }

    /// The next frame of the shot, whatever happens to the take.
    fn next(&mut self, go_on: &dyn Fn() -> bool) -> Result<Vec<u8>, Error> {
        if let Some(decoder) = &mut self.decoder {
            match decoder.next(go_on) {
                Ok(Some(piece)) if piece.len() == self.frame_bytes => {
                    self.shown += 1;
                    self.standing.clone_from(&piece);
                    return Ok(piece);
                }
                Err(Error::Cancelled) => return Err(Error::Cancelled),
                Ok(_) if self.shown == 0 => self.stand_in("no frame could be read there".into()),
                Err(error) if self.shown == 0 => self.stand_in(error.to_string()),
                Ok(_) => {}
                Err(error) => self.broke_off = Some(error),
            }
            self.decoder = None;
        } else if !go_on() {
            return Err(Error::Cancelled);
        }
        self.held += 1;
        Ok(self.standing.clone())
    }

    fn stand_in(&mut self, why: String) {
        let name = self
            .take
            .as_deref()
            .and_then(Path::file_name)
            .map_or_else(String::new, |name| name.to_string_lossy().into_owned());
        self.standing = card(
            self.frame[0],
            self.frame[1],
            &["CANNOT BE SHOWN".to_owned(), name],
        );
        self.card = Some(why);
    }

    fn note(self, shot: usize) -> Option<Note> {
        let path = self.take?;
        match (self.card, self.broke_off, self.held) {
            (Some(why), _, _) => Some(Note::Card { shot, path, why }),
            (None, Some(error), frames) => Some(Note::Other {
                path: path.display().to_string(),
                what: format!(
                    "shot {shot} could not be read to its end, and a frame was held for {frames}: {error}"
                ),
            }),
            (None, None, 0) => None,
            (None, None, frames) => Some(Note::HeldLast { shot, path, frames }),
        }
    }
}

fn encoder_arguments(
    job: &PreviewJob,
    frame: [u32; 2],
    total: i64,
    song_rate_hz: u32,
    x264: bool,
    out: &Path,
) -> Result<Vec<OsString>, Error> {
    let length_s = total as f64 / job.rate.fps();
    let song_s = job.song_length.seconds().min(length_s);
    let mut list = process::raw_frames(frame, job.rate);
    list.extend(input(&job.song)?);
    // Counted from the song's first sample, whatever the file's clock says; cut at its end, then
    // silent to the last frame.
    let sound = format!("asetpts=N/SR/TB,atrim=end={song_s:.9},apad,atrim=end={length_s:.9}");
    // AAC has no rates above 96 kHz, and players prefer these two.
    let rate_hz = if song_rate_hz == 44_100 {
        "44100"
    } else {
        "48000"
    };
    list.extend(process::words(&format!(
        "-map 0:v:0 -map 1:a:0 -af {sound} -c:a aac -b:a 192k -ac 2 -ar {rate_hz}"
    )));
    let encoder = match x264 {
        true => "libx264 -preset ultrafast -crf 23",
        false => "mpeg4 -q:v 4",
    };
    let key_every = (2.0 * job.rate.fps()).round();
    list.extend(process::words(&format!("-c:v {encoder} -g {key_every}")));
    list.extend(process::words("-pix_fmt yuv420p -color_primaries bt709 -color_trc bt709 -colorspace bt709 -color_range tv -map_metadata -1 -movflags +faststart -f mp4"));
    list.push(confine::url(out));
    Ok(list)
}
