//! What can be typed.

use clap::{Args, Parser, Subcommand};
use model::{ClockTime, Rating, SongTime};
use std::path::PathBuf;
use steps::Pin;

/// Make a music video from a finished song and a small fixed sum, alone.
#[derive(Debug, Parser)]
#[command(
    name = "barebulb",
    version,
    max_term_width = 100,
    disable_help_subcommand = true
)]
pub struct Arguments {
    /// Print one JSON object on standard output and nothing else there.
    #[arg(long, global = true)]
    pub json: bool,
    /// What to do.
    #[command(subcommand)]
    pub command: Command,
}

/// What to do.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Begin a video: make its folder.
    New(New),
    /// Say what a field of the document holds, or all of a noun: `kit.panel`, `brief.rate`, `practice`.
    Get(Get),
    /// Put values into fields of the document, all of them as one change: `kit.panel.light.kelvin=5600`.
    Set(Set),
    /// Add a thing to a list of the document: `kit.lamp`, `places.quay`, with what is known of it.
    Add(Add),
    /// Take a thing out of the document, or empty a field.
    Remove(Remove),
    /// Where the video stands, and the next things to do.
    Next(Next),
    /// Write the plan as one text file, read it back, go back and forward.
    Plan(Plan),
    /// Hear what the song does: beats, bars, sections, voice, loudness; correct it.
    Listen(Listen),
    /// Turn photographs from a walk into places, and say what is known of each.
    Scout(Box<Scout>),
    /// Is there light enough, does the battery last, what must be in the bag, what to mind.
    Kit(Box<Kit>),
    /// Make the sound files for the loudspeaker, counted in, at each setup's speed.
    Playback(Playback),
    /// Which setups, in which order, so that the song is covered best; what to drop when it gets late.
    Day(Day),
    /// Write the page for the phone: day, setups, playback, slate, ticks; take its log back in.
    Pocket(Pocket),
    /// Bring in takes and find where each lies on the song.
    Sync(Sync),
    /// For every bar: what there is to cut to, as planned and as shot.
    Coverage(Coverage),
    /// Make the first assembly, its timelines and a preview.
    Assemble(Assemble),
    /// Sun, moon and twilight over a place on a date, and when its street has sun.
    Sky(Sky),
    /// Open the whole job in a browser.
    Open(Open),
    /// Make an invented video from nothing, to see how it all works.
    Demo(Demo),
}

/// `barebulb get`
#[derive(Debug, Args)]
pub struct Get {
    /// The project.
    pub dir: PathBuf,
    /// Which field or noun; without it, what the document holds.
    pub path: Option<String>,
}

/// `barebulb set`
#[derive(Debug, Args)]
pub struct Set {
    /// The project.
    pub dir: PathBuf,
    /// Where, and what: as in a form, with its unit or without; docs/fields.md lists all. Nothing after
    /// the equals sign empties the field.
    #[arg(value_name = "PATH=VALUE", required = true, value_parser = path_and_value)]
    pub sets: Vec<(String, String)>,
}

/// `barebulb add`
#[derive(Debug, Args)]
pub struct Add {
    /// The project.
    pub dir: PathBuf,
    /// The list and a new id: `kit.lamp`.
    #[arg(value_name = "LIST.ID")]
    pub path: String,
    /// What is known of it: `light.kelvin=5600`.
    #[arg(value_name = "PATH=VALUE", value_parser = path_and_value)]
    pub sets: Vec<(String, String)>,
}

/// `barebulb remove`
#[derive(Debug, Args)]
pub struct Remove {
    /// The project.
    pub dir: PathBuf,
    /// Which: `kit.lamp`, `kit.panel.light`, `places.quay.hazards.2`.
    pub path: String,
}

/// `barebulb open`
#[derive(Debug, Args)]
pub struct Open {
    /// The project's folder; an empty or absent one is made a project.
    pub dir: PathBuf,
    /// The port to listen on; 0 for any that is free.
    #[arg(long)]
    pub port: Option<u16>,
    /// Let devices of the local network in, each by a pairing code.
    #[arg(long)]
    pub share: bool,
    /// Print the address and leave the browser alone.
    #[arg(long)]
    pub no_browser: bool,
}

/// `barebulb new`
#[derive(Debug, Args)]
pub struct New {
    /// The folder to make.
    pub dir: PathBuf,
    /// The finished song.
    #[arg(long, value_name = "FILE")]
    pub song: Option<PathBuf>,
    /// A plan typed before.
    #[arg(long, value_name = "FILE")]
    pub plan: Option<PathBuf>,
    /// What the video is called.
    #[arg(long)]
    pub title: Option<String>,
}

/// `barebulb next`
#[derive(Debug, Args)]
pub struct Next {
    /// The project.
    pub dir: PathBuf,
}

/// `barebulb plan`
#[derive(Debug, Args)]
pub struct Plan {
    /// What to do with it.
    #[command(subcommand)]
    pub what: PlanWhat,
}

/// What to do with the plan.
#[derive(Debug, Subcommand)]
pub enum PlanWhat {
    /// Write the plan file's schema (JSON Schema 2020-12), by which an editor completes and checks a plan.
    Schema,
    /// Write the whole document as TOML.
    Export {
        /// The project.
        dir: PathBuf,
        /// Where to; standard output when left out.
        #[arg(long, value_name = "FILE")]
        out: Option<PathBuf>,
    },
    /// Read a plan file into the project; fields it does not mention stay.
    Import {
        /// The project.
        dir: PathBuf,
        /// The plan file.
        file: PathBuf,
    },
    /// Take the last change back.
    Undo {
        /// The project.
        dir: PathBuf,
    },
    /// Make the change taken back again.
    Redo {
        /// The project.
        dir: PathBuf,
    },
    /// Go on with the newest change that can be read, when the project file is damaged; the damaged file is
    /// kept beside it.
    Rescue {
        /// The project.
        dir: PathBuf,
    },
    /// Show the latest changes.
    History {
        /// The project.
        dir: PathBuf,
        /// How many.
        #[arg(long, default_value_t = 20)]
        last: usize,
    },
}

/// `barebulb listen`
#[derive(Debug, Args)]
pub struct Listen {
    /// A song file, or a project folder.
    pub target: PathBuf,
    /// Take this song into the project (with a project folder).
    #[arg(long, value_name = "FILE")]
    pub song: Option<PathBuf>,
    #[command(flatten)]
    pub correct: Correct,
}

/// Corrections of the listening, kept in the project.
#[derive(Debug, Default, Args)]
#[command(next_help_heading = "Corrections (project folder only)")]
pub struct Correct {
    /// Set the tempo, beats a minute.
    #[arg(long, value_name = "BPM")]
    pub tempo: Option<f64>,
    /// Take every second beat.
    #[arg(long, conflicts_with = "double")]
    pub halve: bool,
    /// Put a beat between each two.
    #[arg(long)]
    pub double: bool,
    /// Set how many beats a bar has.
    #[arg(long, value_name = "N")]
    pub beats_per_bar: Option<u32>,
    /// Say where a bar starts; the beat nearest to it becomes the first downbeat.
    #[arg(long, value_name = "TIME")]
    pub first_downbeat: Option<SongTime>,
    /// A beat tapped here; may be given again and again.
    #[arg(long, value_name = "TIME")]
    pub tap: Vec<SongTime>,
    /// Start a new section here (at the nearest downbeat).
    #[arg(long, value_name = "TIME")]
    pub split: Vec<SongTime>,
    /// Join the two sections that meet nearest to here.
    #[arg(long, value_name = "TIME")]
    pub join: Vec<SongTime>,
    /// Move the boundary nearest to the first time to the second.
    #[arg(long, value_name = "TIME=TIME", value_parser = two_times)]
    pub shift: Vec<(SongTime, SongTime)>,
    /// Give the section at this time another letter.
    #[arg(long, value_name = "TIME=LETTER", value_parser = time_and_text)]
    pub letter: Vec<(SongTime, String)>,
    /// Give the section at this time a name: `1:10=last chorus`.
    #[arg(long, value_name = "TIME=NAME", value_parser = time_and_text)]
    pub call: Vec<(SongTime, String)>,
    /// Forget every correction.
    #[arg(long)]
    pub as_heard: bool,
}

/// `barebulb scout`
#[derive(Debug, Args)]
pub struct Scout {
    /// The project.
    pub dir: PathBuf,
    /// Photographs, or folders of them, to bring in first.
    #[arg(value_name = "PHOTO")]
    pub photos: Vec<PathBuf>,
    /// How near to one another photographs of one place lie.
    #[arg(
        long,
        value_name = "METRES",
        default_value_t = 40.0,
        allow_negative_numbers = true,
        conflicts_with = "place"
    )]
    pub within: f64,
    /// How near in time a photograph without position lies to one of its place.
    #[arg(
        long,
        value_name = "MINUTES",
        default_value_t = 10.0,
        allow_negative_numbers = true,
        conflicts_with = "place"
    )]
    pub minutes: f64,
    /// The place that all these photographs show; made where there is none.
    #[arg(long, value_name = "PLACE", requires = "photos")]
    pub place: Option<String>,
}

/// `barebulb kit`
#[derive(Debug, Args)]
pub struct Kit {
    /// The project.
    pub dir: PathBuf,
    /// The kit flies, shared by so many people: how its batteries may.
    #[arg(long, value_name = "PEOPLE")]
    pub by_air: Option<u32>,
    /// What one person carries in one go, kilograms.
    #[arg(long, value_name = "KG")]
    pub trip_kg: Option<f64>,
    /// How often one is ready to walk.
    #[arg(long, value_name = "N")]
    pub trips: Option<u32>,
    #[command(flatten)]
    pub only: Only,
}

/// Part of the night.
#[derive(Debug, Default, Args)]
#[command(next_help_heading = "Part of the night (each may be given again; all of it without)")]
pub struct Only {
    /// Tell of this setup alone.
    #[arg(long, value_name = "ID")]
    pub setup: Vec<String>,
    /// Tell of what is shot at this place alone.
    #[arg(long, value_name = "ID")]
    pub place: Vec<String>,
    /// Tell of this day alone.
    #[arg(long, value_name = "ID")]
    pub day: Vec<String>,
}

/// `barebulb playback`
#[derive(Debug, Args)]
pub struct Playback {
    /// The project.
    pub dir: PathBuf,
    /// For this setup alone; may be given again. Without it, for every setup that is performed.
    #[arg(long, value_name = "ID")]
    pub setup: Vec<String>,
    /// How loud, LUFS.
    #[arg(
        long,
        value_name = "LUFS",
        allow_negative_numbers = true,
        conflicts_with = "as_mastered"
    )]
    pub loudness: Option<f64>,
    /// Leave the loudness as the song was mastered.
    #[arg(long)]
    pub as_mastered: bool,
}

/// `barebulb day`
#[derive(Debug, Args)]
pub struct Day {
    /// The project.
    #[arg(required_unless_present = "instance")]
    pub dir: Option<PathBuf>,
    /// Solve the bare problem in this JSON file instead, without a project.
    #[arg(long, value_name = "FILE", conflicts_with_all = ["dir", "day", "now", "done", "at", "eaten", "pin", "unpin", "why", "ics", "keep"])]
    pub instance: Option<PathBuf>,
    /// Which day, when the plan has several; the first one otherwise.
    #[arg(long, value_name = "ID")]
    pub day: Option<String>,
    /// The day has begun and the clock says this: what is best from here on? `01:30` after an evening call is past midnight.
    #[arg(long, value_name = "HH:MM")]
    pub now: Option<ClockTime>,
    /// What has been shot, in order: `a,b`.
    #[arg(
        long,
        value_name = "SETUP,...",
        value_delimiter = ',',
        requires = "now"
    )]
    pub done: Vec<String>,
    /// Where one is; where the last setup done was when left out.
    #[arg(long, value_name = "PLACE", requires = "now")]
    pub at: Option<String>,
    /// The meal has been taken.
    #[arg(long, requires = "now")]
    pub eaten: bool,
    /// Hold a setup's shoot at this time from now on, whatever is found, with its end where that matters:
    /// `wide=21:30`, `wide=21:30-22:10`; may be given again.
    #[arg(long, value_name = "SETUP=HH:MM[-HH:MM]", value_parser = pin)]
    pub pin: Vec<Pin>,
    /// Let a setup go that was pinned; may be given again.
    #[arg(long, value_name = "SETUP")]
    pub unpin: Vec<String>,
    /// Explain where a setup stands, or why it does not.
    #[arg(long, value_name = "SETUP")]
    pub why: Option<String>,
    /// Write the day as a calendar file.
    #[arg(long, value_name = "FILE")]
    pub ics: Option<PathBuf>,
    /// Write the day found into the plan, times and all.
    #[arg(long)]
    pub keep: bool,
    /// How long to search at most; 60 seconds, or 3 with more setups than can be looked at in every set.
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u64).range(1..=3600))]
    pub seconds: Option<u64>,
}

/// `barebulb pocket`
#[derive(Debug, Args)]
pub struct Pocket {
    /// The project.
    pub dir: PathBuf,
    /// Which day, when the plan has several; the first one otherwise.
    #[arg(long, value_name = "ID")]
    pub day: Option<String>,
    /// Where the page is written; `papers/pocket-DAY.html` in the project when left out.
    #[arg(long, value_name = "FILE")]
    pub out: Option<PathBuf>,
    /// Leave playback out: a much smaller file.
    #[arg(long)]
    pub without_sound: bool,
    /// Take a log in instead: the file that the page saved, or pictures of its QR codes.
    #[arg(long, value_name = "FILE", num_args = 1.., conflicts_with_all = ["day", "out", "without_sound"])]
    pub log: Vec<PathBuf>,
    /// Give the log's ratings and notes to takes of the same setup and pass of which nothing was said yet.
    #[arg(long, conflicts_with_all = ["day", "out", "without_sound"])]
    pub to_takes: bool,
}

/// `barebulb sync`
#[derive(Debug, Args)]
pub struct Sync {
    /// Place the takes on this song, without a project.
    #[arg(long, value_name = "SONG")]
    pub song: Option<PathBuf>,
    /// A project folder, then takes or folders of takes to bring in; with --song takes only.
    #[arg(required = true)]
    pub paths: Vec<PathBuf>,
    /// Rate a take: `wide-1=circled` (circled, usable, unrated, no-good).
    #[arg(long, value_name = "TAKE=RATING", value_parser = take_and_rating, conflicts_with = "song")]
    pub rate: Vec<(String, Rating)>,
    /// Say which setup a take is from: `C0001=wide`, or with its pass `C0001=wide:2`.
    #[arg(long, value_name = "TAKE=SETUP", value_parser = two_texts, conflicts_with = "song")]
    pub from: Vec<(String, String)>,
    /// Place a take by hand: song time at its first frame, and its speed when it is not 1: `C0001=0:12.5`, `C0001=0:12.5@2`.
    #[arg(long, value_name = "TAKE=TIME", value_parser = two_texts, conflicts_with = "song")]
    pub at: Vec<(String, String)>,
    /// Place a take again by what was heard.
    #[arg(long, value_name = "TAKE", conflicts_with = "song")]
    pub by_ear: Vec<String>,
}

/// `barebulb coverage`
#[derive(Debug, Args)]
pub struct Coverage {
    /// The project.
    pub dir: PathBuf,
    /// How many different setups each bar should have where the plan does not say.
    #[arg(long, value_name = "N")]
    pub wanted: Option<u32>,
    /// Plan a setup over these bars as well: `wide=9-16,25`; may be given again.
    #[arg(long, value_name = "SETUP=BARS", value_parser = setup_and_bars)]
    pub plan: Vec<(String, Bars)>,
    /// Plan a setup over these bars no more; may be given again.
    #[arg(long, value_name = "SETUP=BARS", value_parser = setup_and_bars)]
    pub unplan: Vec<(String, Bars)>,
    /// Put the advice of this number into the plan; the first is 1.
    #[arg(long, value_name = "N", conflicts_with_all = ["plan", "unplan"])]
    pub follow: Option<usize>,
}

/// Stretches of bars, first and last of each.
pub type Bars = std::sync::Arc<[[u32; 2]]>;

/// `barebulb assemble`
#[derive(Debug, Args)]
pub struct Assemble {
    /// The project; made when it is not there and --song is given.
    pub dir: PathBuf,
    /// The finished song, when the project has none yet.
    #[arg(long, value_name = "FILE")]
    pub song: Option<PathBuf>,
    /// Takes, or folders of takes, to bring in first.
    #[arg(long, value_name = "PATH", num_args = 1..)]
    pub takes: Vec<PathBuf>,
    /// Render the cut with the song.
    #[arg(long)]
    pub preview: bool,
    /// Burn section, bar and take into the preview.
    #[arg(long, requires = "preview")]
    pub labels: bool,
    /// Explain the newest cut's choice in this bar instead of making a cut.
    #[arg(long, value_name = "BAR", conflicts_with_all = ["song", "takes", "preview", "lock", "free", "lock_shot", "free_shot", "not_here", "show", "weight"])]
    pub why: Option<u32>,
    /// Lock bars to a take: `17-20=close-2`, or from a moment of the take: `17-20=close-2@0:03`.
    #[arg(long, value_name = "BARS=TAKE", value_parser = bars_and_take)]
    pub lock: Vec<([u32; 2], String)>,
    /// Lock this shot of the newest cut as it is, counted from 1; may be given again.
    #[arg(long, value_name = "SHOT")]
    pub lock_shot: Vec<usize>,
    /// Free the lock on this shot of the newest cut; may be given again.
    #[arg(long, value_name = "SHOT")]
    pub free_shot: Vec<usize>,
    /// Keep the take of this shot of the newest cut out of this part of the song; may be given again.
    #[arg(long, value_name = "SHOT")]
    pub not_here: Vec<usize>,
    /// Show another take over this shot of the newest cut, and lock it there: `12=close-2`; may be given again.
    #[arg(long, value_name = "SHOT=TAKE", value_parser = shot_and_take)]
    pub show: Vec<(usize, String)>,
    /// Free the lock at this song time.
    #[arg(long, value_name = "TIME")]
    pub free: Vec<SongTime>,
    /// Change what is weighed: `voice=2`; see docs/assembly.md.
    #[arg(long, value_name = "NAME=NUMBER", value_parser = two_texts)]
    pub weight: Vec<(String, String)>,
}

/// `barebulb sky`
#[derive(Debug, Args)]
pub struct Sky {
    /// A project: the sky over its places on its days.
    #[arg(conflicts_with_all = ["lat", "lon", "tz", "horizon", "bearing"])]
    pub dir: Option<PathBuf>,
    /// Of the project, this place alone.
    #[arg(long, value_name = "ID", requires = "dir")]
    pub place: Option<String>,
    /// Latitude in degrees, north positive.
    #[arg(
        long,
        value_name = "DEG",
        allow_negative_numbers = true,
        required_unless_present = "dir"
    )]
    pub lat: Option<f64>,
    /// Longitude in degrees, east positive.
    #[arg(
        long,
        value_name = "DEG",
        allow_negative_numbers = true,
        required_unless_present = "dir"
    )]
    pub lon: Option<f64>,
    /// The date, such as 2026-06-21; today when left out, or the days of the project.
    #[arg(long)]
    pub date: Option<String>,
    /// The time zone, such as Europe/Lisbon.
    #[arg(long, value_name = "ZONE", required_unless_present = "dir")]
    pub tz: Option<String>,
    /// The time of day for positions and light, such as 18:10; noon when left out.
    #[arg(long, value_name = "HH:MM")]
    pub at: Option<String>,
    /// What hides the sky, azimuth:elevation in degrees, linear in between: `90:12,180:30`.
    #[arg(long, value_name = "AZ:EL,...")]
    pub horizon: Option<String>,
    /// Bearing of the street or stair, degrees from north through east.
    #[arg(long, value_name = "DEG", allow_negative_numbers = true)]
    pub bearing: Option<f64>,
}

/// `barebulb demo`
#[derive(Debug, Args)]
pub struct Demo {
    /// The folder to make; one made by the demo before is made anew.
    pub dir: PathBuf,
    /// Another seed gives another song and another night.
    #[arg(long, default_value_t = 1)]
    pub seed: u64,
    /// Leave the preview out.
    #[arg(long)]
    pub no_preview: bool,
}

fn path_and_value(text: &str) -> Result<(String, String), String> {
    match text.split_once('=') {
        Some((path, value)) if !path.trim().is_empty() => {
            Ok((path.trim().to_owned(), value.to_owned()))
        }
        _ => Err("write it with an equals sign, such as `kit.panel.light.kelvin=5600`".into()),
    }
}

fn two_texts(text: &str) -> Result<(String, String), String> {
    match text.split_once('=') {
        Some((left, right)) if !left.is_empty() && !right.is_empty() => {
            Ok((left.to_owned(), right.to_owned()))
        }
        _ => Err("write it with an equals sign, such as `a=b`".into()),
    }
}

/// `17` or `17-20`.
fn bars(text: &str) -> Result<[u32; 2], String> {
    let (first, last) = text.split_once('-').unwrap_or((text, text));
    match (first.trim().parse(), last.trim().parse()) {
        (Ok(first), Ok(last)) => Ok([first, last]),
        _ => Err(format!("`{text}` are no bars; write 17 or 17-20")),
    }
}

fn bars_and_take(text: &str) -> Result<([u32; 2], String), String> {
    let (all, take) = two_texts(text)?;
    Ok((bars(&all)?, take))
}

fn shot_and_take(text: &str) -> Result<(usize, String), String> {
    let (shot, take) = two_texts(text)?;
    let number = shot.parse();
    Ok((
        number.map_err(|_| format!("`{shot}` is no shot; count from 1"))?,
        take,
    ))
}

fn setup_and_bars(text: &str) -> Result<(String, Bars), String> {
    let (setup, all) = two_texts(text)?;
    Ok((setup, all.split(',').map(bars).collect::<Result<_, _>>()?))
}

fn pin(text: &str) -> Result<Pin, String> {
    let (setup, time) = two_texts(text)?;
    let (shoot, end) = match time.split_once('-') {
        Some((shoot, end)) => (shoot, Some(end.parse()?)),
        None => (time.as_str(), None),
    };
    Ok(Pin {
        setup,
        shoot: Some(shoot.parse()?),
        end,
    })
}

fn time_and_text(text: &str) -> Result<(SongTime, String), String> {
    let (time, text) = two_texts(text)?;
    Ok((time.parse()?, text))
}

fn two_times(text: &str) -> Result<(SongTime, SongTime), String> {
    let (from, to) = two_texts(text)?;
    Ok((from.parse()?, to.parse()?))
}

fn take_and_rating(text: &str) -> Result<(String, Rating), String> {
    let (take, rating) = two_texts(text)?;
    let rating = match rating.as_str() {
        "circled" => Rating::Circled,
        "usable" => Rating::Usable,
        "unrated" => Rating::Unrated,
        "no-good" => Rating::NoGood,
        _ => {
            return Err(format!(
                "`{rating}` is no rating; write circled, usable, unrated or no-good"
            ));
        }
    };
    Ok((take, rating))
}

#[cfg(test)]
mod tests {
    use super::*;
    use clap::CommandFactory as _;

    #[test]
    fn the_arguments_hold_together() {
        Arguments::command().debug_assert();
    }

    #[test]
    fn pairs_are_read() {
        assert_eq!(
            take_and_rating("a=circled"),
            Ok(("a".into(), Rating::Circled))
        );
        assert!(take_and_rating("a=great").is_err());
        assert!(two_texts("a=").is_err());
        assert_eq!(
            setup_and_bars("wide=9-16,25").unwrap().1[..],
            [[9, 16], [25, 25]]
        );
        assert!(setup_and_bars("wide=9-").is_err() && setup_and_bars("wide=a").is_err());
        assert_eq!(
            pin("wide=21:30-22:10").unwrap().end,
            Some("22:10".parse().unwrap())
        );
        assert!(pin("wide=soon").is_err() && pin("wide").is_err());
        assert_eq!(time_and_text("1:10=last chorus").unwrap().1, "last chorus");
    }
}
