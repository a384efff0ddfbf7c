//! Writes sample cuts for `checks/timeline/check_timeline.py` to read back: three per usual rate and
//! one of 1200 shots, each as OpenTimelineIO, edit list, captions and listing, beside the plain
//! truth they were made from. Seeded: the same files each time.
//!
//! `cargo run -p timeline --example sample_timelines -- FOLDER`

use model::{
    Bar, Cut, FrameRate, Length, LyricLine, Picture, Section, Shot, SongMap, SongTime, Stretch,
    TakeId,
};
use serde_json::{Value, json};
use std::path::Path;
use std::process::ExitCode;
use timeline::{Edit, SongRef, TakeRef, edl, listing, otio, webvtt};

/// 23.976, 24, 25, 29.97, 30, 50, 59.94, 60.
const RATES: [(u32, u32); 8] = [
    (24_000, 1001),
    (24, 1),
    (25, 1),
    (30_000, 1001),
    (30, 1),
    (50, 1),
    (60_000, 1001),
    (60, 1),
];

/// Take seconds per record second: normal, the off-speed passes, the film ratios, fast motion.
const SCALARS: [(i64, i64); 9] = [
    (1, 1),
    (1, 1),
    (1, 1),
    (1, 2),
    (2, 5),
    (4, 5),
    (1001, 1000),
    (25, 24),
    (2, 1),
];

const NAMES: [&str; 10] = [
    "A001.mov",
    "setup2_pass03.mp4",
    "take 01 #2 100% \"final\".mov",
    "l'été à Porto.mov",
    "🎬🌧️ night.mp4",
    "control\u{7}and\nline.mov",
    "semi;colon&amp=1+2?.mov",
    "bl.mov",
    "[0001-0100].mov",
    "",
];

fn main() -> ExitCode {
    let Some(folder) = std::env::args_os().nth(1) else {
        eprintln!("usage: sample_timelines FOLDER");
        return ExitCode::from(2);
    };
    match write_all(Path::new(&folder)) {
        Ok(count) => {
            println!("{count} cuts written");
            ExitCode::SUCCESS
        }
        Err(error) => {
            eprintln!("{error}");
            ExitCode::FAILURE
        }
    }
}

fn write_all(folder: &Path) -> Result<usize, Box<dyn std::error::Error>> {
    std::fs::create_dir_all(folder)?;
    let mut count = 0;
    for (num, den) in RATES {
        let rate = FrameRate::new(num, den).ok_or("a rate")?;
        for seed in 0..3 {
            let name = format!("cut-{num}-{den}-{seed}");
            write_one(folder, &name, rate, u64::from(num) + seed, 40)?;
            count += 1;
        }
    }
    write_one(folder, "cut-long", FrameRate::FPS_25, 7, 1200)?;
    Ok(count + 1)
}

fn write_one(
    folder: &Path,
    name: &str,
    rate: FrameRate,
    seed: u64,
    shots: usize,
) -> Result<(), Box<dyn std::error::Error>> {
    let mut dice = Dice(seed);
    let takes: Vec<TakeRef> = (0..NAMES.len() + 1).map(|n| take(n, &mut dice)).collect();
    let (shots, scalars) = cut_shots(rate, &takes, shots, &mut dice);
    let total = shots.last().map_or(0, |shot| shot.to_frame);
    // The song ends somewhere in the last frame, at a whole sample.
    let rate_hz = [44_100, 48_000, 96_000][dice.below(3) as usize];
    let last = rate.ticks_of_frame(total - 1);
    let ticks = last + 1 + dice.below((rate.ticks_of_frame(total) - last) as u64) as i64;
    let samples = ticks * i64::from(rate_hz) / model::TICKS_PER_SECOND;
    let mut length = Length::of_samples(samples as u64, rate_hz);
    if length.ticks() <= last {
        length = Length::from_ticks(rate.ticks_of_frame(total));
    }
    let song = SongRef {
        name: "Paper Weather.wav".into(),
        path: "song/Paper Weather.wav".into(),
        length,
        rate_hz,
    };
    let map = song_map(length);
    let lyrics = lyrics();
    let cut = Cut {
        version: 1,
        rate,
        shots,
        remark: String::new(),
        extra: Default::default(),
    };
    let edit = Edit {
        title: "Paper Weather: “first” cut",
        cut: &cut,
        map: &map,
        song: &song,
        takes: &takes,
        lyrics: &lyrics,
        to_project: "../",
        bar_markers: seed.is_multiple_of(2),
    };
    let put =
        |ending: &str, text: String| std::fs::write(folder.join(format!("{name}.{ending}")), text);
    put("otio", otio(&edit)?.text)?;
    put("edl", edl(&edit)?.text)?;
    put("vtt", webvtt(&lyrics, length).text)?;
    put("json", listing(&edit).to_json())?;
    put("truth.json", format!("{:#}\n", truth(&edit, &scalars)))?;
    Ok(())
}

fn take(n: usize, dice: &mut Dice) -> TakeRef {
    // The last one has a name of 255 bytes.
    let name = match NAMES.get(n) {
        Some(name) => (*name).to_owned(),
        None => format!("{}x.mov", "ä".repeat(125)),
    };
    // One take is of a rate no cut here has.
    let (num, den) = if n == 1 {
        (120, 1)
    } else {
        RATES[dice.below(8) as usize]
    };
    let rate = FrameRate::new(num, den).unwrap_or(FrameRate::FPS_24);
    let has_drop = matches!((num, den), (30_000 | 60_000, 1001));
    let start_timecode = match dice.below(4) {
        0 => None,
        kind => {
            let mark = if has_drop && kind > 1 { ';' } else { ':' };
            let (h, m, s) = (dice.below(20), dice.below(60), dice.below(60));
            let frame = 4 + dice.below(20);
            Some(format!("{h:02}:{m:02}:{s:02}{mark}{frame:02}"))
        }
    };
    let length = Length::nearest_to_seconds(240.0);
    let path = match n {
        0 => "/media/card 1/A001.mov".to_owned(),
        _ => format!("takes/{name}"),
    };
    TakeRef {
        id: TakeId::new(format!("t{n}")).expect("letters and digits"),
        name,
        path,
        reel: (n == 6).then(|| "card07".to_owned()),
        picture: Some(Picture {
            width: 1920,
            height: 1080,
            rotation_deg: 0,
            pixel_aspect: (1, 1),
            rate,
            variable_rate: false,
            codec: "h264".into(),
            pixel_format: "yuv420p".into(),
            colour: [None, None, None, None],
            start_timecode,
            frames: Some(rate.frame_holding_ticks(length.ticks()) as u64),
            start_s: if n == 3 { 0.125 } else { 0.0 },
            length,
        }),
        length,
    }
}

type Scalars = Vec<(i64, i64)>;

fn cut_shots(
    rate: FrameRate,
    takes: &[TakeRef],
    count: usize,
    dice: &mut Dice,
) -> (Vec<Shot>, Scalars) {
    let mut at = 0;
    let mut scalars = Vec::new();
    let mut shots = Vec::new();
    for _ in 0..count {
        let most = if count > 100 {
            12
        } else {
            4 * u64::from(rate.counted())
        };
        let frames = 1 + dice.below(most) as i64;
        let (num, den) = SCALARS[dice.below(SCALARS.len() as u64) as usize];
        let take = &takes[dice.below(takes.len() as u64) as usize];
        let black = dice.below(12) == 0;
        // To the tick: nothing falls on a frame of the take by itself.
        let start = dice.below(200 * model::TICKS_PER_SECOND as u64) as i64;
        shots.push(Shot {
            extra: Default::default(),
            from_frame: at,
            to_frame: at + frames,
            take: (!black).then(|| take.id.clone()),
            take_start: Length::from_ticks(start),
            speed: den as f64 / num as f64,
            in_sync: dice.below(3) > 0,
            locked: dice.below(8) == 0,
        });
        scalars.push((num, den));
        at += frames;
    }
    (shots, scalars)
}

/// Bars of 2.1 s, four sections of which two have the same letter.
fn song_map(length: Length) -> SongMap {
    let end = SongTime::ZERO + length;
    let tiles = |step: f64| {
        let mut tiles = Vec::new();
        let mut at = SongTime::ZERO;
        while at < end {
            let next = (at + Length::nearest_to_seconds(step)).min(end);
            tiles.extend(Stretch::new(at, next));
            at = next;
        }
        tiles
    };
    let beats: Vec<SongTime> = tiles(0.525).into_iter().map(Stretch::start).collect();
    let bars = (1..).zip(tiles(2.1)).map(|(number, at)| Bar {
        number,
        at,
        energy: 0.5,
        voice: 0.5,
    });
    let sections = tiles(length.seconds() / 4.0 + 0.01);
    let labels = [
        ("A", None),
        ("B", None),
        ("A", None),
        ("C", Some("last chorus")),
    ];
    let sections = sections
        .into_iter()
        .zip(labels)
        .map(|(at, (label, name))| Section {
            label: label.into(),
            name: name.map(str::to_owned),
            at,
            energy: 0.5,
            voiced: 0.5,
        });
    SongMap {
        length,
        tempo_bpm: 60.0 / 0.525,
        beats_per_bar: 4,
        downbeats: (0..beats.len()).step_by(4).collect(),
        bars: bars.collect(),
        sections: sections.collect(),
        beats,
    }
}

fn lyrics() -> Vec<LyricLine> {
    [
        (Some((5.2, 7.0)), "Paper weather, <folded> twice"),
        (Some((1.0, 3.4)), "Rain & ink --> the river"),
        (Some((3.0, 5.0)), "a second voice\n\nover two lines"),
        (Some((3.0, 4.0)), "begins with it"),
        (None, "not timed yet"),
        (Some((7.0005, 7.0006)), "short"),
        (Some((9.0, 10.0)), "  \n "),
        (Some((3599.0, 3600.0)), "long after the end"),
        (Some((-2.0, -1.0)), "before it"),
        (Some((-1.0, 0.5)), "já era tempo 🌧️"),
    ]
    .into_iter()
    .map(|(at, text)| LyricLine {
        at: at.and_then(|(from, to)| Stretch::between_seconds(from, to)),
        text: text.to_owned(),
        extra: Default::default(),
    })
    .collect()
}

/// What went in, in numbers that were not worked on by the crate.
fn truth(edit: &Edit<'_>, scalars: &[(i64, i64)]) -> Value {
    let rate = |rate: FrameRate| json!([rate.num(), rate.den()]);
    let takes = edit.takes.iter().map(|take| {
        let picture = take
            .picture
            .as_ref()
            .expect("every sample take has a picture");
        json!({
            "id": take.id.as_str(),
            "name": take.name,
            "path": take.path,
            "rate": rate(picture.rate),
            "start_timecode": picture.start_timecode,
            "first_shown_s": picture.start_s,
            "frames": picture.frames,
        })
    });
    let shots = edit
        .cut
        .shots
        .iter()
        .zip(scalars)
        .map(|(shot, (num, den))| {
            json!({
                "from_frame": shot.from_frame,
                "to_frame": shot.to_frame,
                "take": shot.take.as_ref().map(TakeId::as_str),
                "take_start_ticks": shot.take_start.ticks(),
                "time_scalar": [num, den],
                "in_sync": shot.in_sync,
                "locked": shot.locked,
            })
        });
    let stretch = |at: Stretch| json!([at.start().ticks(), at.end().ticks()]);
    let sections = edit
        .map
        .sections
        .iter()
        .enumerate()
        .map(|(index, section)| {
            let call = edit.map.section_call(index);
            json!({"call": section.name.clone().unwrap_or(call), "at": stretch(section.at)})
        });
    let bars = edit
        .map
        .bars
        .iter()
        .map(|bar| json!({"number": bar.number, "at": stretch(bar.at)}));
    let lyrics = edit
        .lyrics
        .iter()
        .map(|line| json!({"at": line.at.map(stretch), "text": line.text}));
    json!({
        "title": edit.title,
        "ticks_per_second": model::TICKS_PER_SECOND,
        "rate": rate(edit.cut.rate),
        "to_project": edit.to_project,
        "song": {
            "name": edit.song.name,
            "path": edit.song.path,
            "length_ticks": edit.song.length.ticks(),
            "rate_hz": edit.song.rate_hz,
        },
        "takes": takes.collect::<Vec<_>>(),
        "shots": shots.collect::<Vec<_>>(),
        "sections": sections.collect::<Vec<_>>(),
        "bars": if edit.bar_markers { bars.collect::<Vec<_>>() } else { Vec::new() },
        "lyrics": lyrics.collect::<Vec<_>>(),
    })
}

/// Seeded numbers (SplitMix64; Steele, Lea and Flood 2014).
struct Dice(u64);

impl Dice {
    /// A number from 0 up to but not including `end`.
    fn below(&mut self, end: u64) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        (z ^ (z >> 31)) % end.max(1)
    }
}
