//! Properties of everything written, over random cuts: frame-exact at the eight usual rates, and
//! sound whatever the names and numbers.

use crate::edit::sample::{self, World};
use crate::{Edit, Listing, TakeRef, Timecode, edl, listing, otio, placed_shots};
use model::{FrameRate, Length, LyricLine, Picture, Shot, SongTime, Stretch, TakeId};
use proptest::prelude::*;
use serde_json::Value;

/// The rates a cut may have by the brief: 23.976, 24, 25, 29.97, 30, 50, 59.94, 60.
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

/// Ratios of usual frame rates, and one of no kind.
const SPEEDS: [f64; 9] = [
    1.0,
    2.0,
    2.5,
    1.25,
    1.5,
    24.0 / 25.0,
    1000.0 / 1001.0,
    0.5,
    1.237_218,
];

fn rate() -> impl Strategy<Value = FrameRate> {
    prop::sample::select(&RATES[..]).prop_map(|(num, den)| FrameRate::new(num, den).unwrap())
}

/// A cut as `assemble` promises it: shots tile the song, takes of any usual rate at any usual speed.
fn sound_world() -> impl Strategy<Value = World> {
    let take = (rate(), prop::option::of(0..86_400_i64), any::<bool>());
    let shot = (
        1..200_i64,
        prop::option::weighted(0.9, 0..6_usize),
        0.0..100.0_f64,
        prop::sample::select(&SPEEDS[..]),
    );
    (
        rate(),
        prop::collection::vec(take, 6),
        prop::collection::vec(shot, 0..40),
        0.0..1.0_f64,
    )
        .prop_map(|(rate, takes, shots, broken)| {
            let total: i64 = shots.iter().map(|shot| shot.0).sum();
            let mut world = sample::world(rate, total);
            // The song ends somewhere in its last frame.
            let last = rate.ticks_of_frame(total - 1);
            let whole = rate.ticks_of_frame(total);
            let ticks = whole - ((whole - last - 1) as f64 * broken) as i64;
            if total > 0 {
                world.song.length = Length::from_ticks(ticks);
                world.map = sample::map(world.song.length);
            }
            world.takes = (0..)
                .zip(takes)
                .map(|(n, (rate, start_s, drop))| {
                    let start = start_s.map(|s| {
                        let counting = if drop {
                            crate::Counting::Drop
                        } else {
                            crate::Counting::NonDrop
                        };
                        let frame = s * i64::from(rate.counted());
                        Timecode::from_frame(frame, rate, counting).to_string()
                    });
                    sample::take(&format!("t{n}"), rate, start.as_deref())
                })
                .collect();
            let mut at = 0;
            world.cut.shots = shots
                .into_iter()
                .map(|(frames, take, start_s, speed)| {
                    let from = at;
                    at += frames;
                    let mut shot = sample::shot(from, at, "x", start_s, speed);
                    shot.take = take.map(|n| TakeId::new(format!("t{n}")).unwrap());
                    shot
                })
                .collect();
            world
        })
}

/// One event of an edit list, read by the form's columns.
struct ReadEvent {
    reel: String,
    source: [String; 2],
    record: [String; 2],
    speed: Option<f64>,
}

/// Reads a list strictly: header, numbered events of fixed columns, then their speed and comment
/// lines, in printable 7-bit ASCII.
fn read_list(text: &str) -> Result<Vec<ReadEvent>, String> {
    if !text
        .bytes()
        .all(|b| b == b'\n' || (b' '..=b'~').contains(&b))
        || !text.ends_with('\n')
    {
        return Err("a byte the form does not have".into());
    }
    let mut lines = text.lines();
    let title = lines.next().unwrap_or_default();
    if !title.starts_with("TITLE: ") || title.len() > 7 + 70 {
        return Err(format!("title: {title}"));
    }
    let mode = lines.next().unwrap_or_default();
    if !["FCM: DROP FRAME", "FCM: NON-DROP FRAME"].contains(&mode) {
        return Err(format!("frame code mode: {mode}"));
    }
    let mut events: Vec<ReadEvent> = Vec::new();
    for line in lines {
        if line.starts_with("* ") && !events.is_empty() {
            continue;
        }
        if let Some(rest) = line.strip_prefix("M2   ") {
            let event = events.last_mut().ok_or("speed before any event")?;
            let reel = rest.get(..8).ok_or(line)?.trim_end();
            let speed = rest.get(15..20).ok_or(line)?;
            let at = rest.get(36..).ok_or(line)?;
            if reel != event.reel || at != event.source[0] || rest[20..36] != *" ".repeat(16) {
                return Err(line.into());
            }
            event.speed = Some(speed.parse().map_err(|_| line)?);
            continue;
        }
        let (number, rest) = line.split_once("  ").ok_or(line)?;
        if number.len() < 3 || number.parse() != Ok(events.len() + 1) || rest.len() != 71 {
            return Err(format!("event: {line}"));
        }
        if &rest[8..24] != " V     C        " {
            return Err(format!("columns: {line}"));
        }
        let code = |at: usize| rest[at..at + 11].to_owned();
        events.push(ReadEvent {
            reel: rest[..8].trim_end().to_owned(),
            source: [code(24), code(36)],
            record: [code(48), code(60)],
            speed: None,
        });
    }
    Ok(events)
}

/// Frames from label to label, over midnight if need be.
fn between(labels: &[String; 2], rate: FrameRate) -> i64 {
    let [from, to] = [0, 1].map(|i| Timecode::parse(&labels[i], rate).unwrap());
    let day = Timecode::from_frame(-1, rate, from.counting()).to_frame() + 1;
    (to.to_frame() - from.to_frame()).rem_euclid(day)
}

fn whole(time: &Value, rate: FrameRate) -> i64 {
    assert_eq!(time["rate"].as_f64().unwrap(), rate.fps());
    let value = time["value"].as_f64().unwrap();
    assert_eq!(value.fract(), 0.0);
    value as i64
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    #[test]
    fn no_gap_no_overlap_and_the_song_to_the_frame(world in sound_world()) {
        let edit = world.edit();
        let rate = world.cut.rate;
        let total = rate.frames_to_hold(world.song.length);
        let (shots, notes) = placed_shots(&edit);
        prop_assert!(notes.is_empty(), "{:?}", notes);
        let mut at = 0;
        for (placed, shot) in shots.iter().zip(&world.cut.shots) {
            prop_assert_eq!(placed.from_frame, at);
            at = placed.to_frame;
            if let Some(source) = placed.source {
                let start_s = source.start_frame as f64 / source.rate.fps();
                let off = start_s - shot.take_start.seconds();
                prop_assert!(off.abs() * source.rate.fps() <= 0.5 + 1e-6, "{}", off);
                let passed_s = source.frames.value() / source.rate.fps();
                let shown_s = placed.frames() as f64 / rate.fps() / shot.speed;
                prop_assert!((passed_s - shown_s).abs() < 1e-6);
            }
        }
        prop_assert_eq!(at, total);

        let file: Value = serde_json::from_str(&otio(&edit).unwrap().text).unwrap();
        let items = file["tracks"]["children"][0]["children"].as_array().unwrap();
        prop_assert_eq!(items.len(), shots.len());
        let mut at = 0;
        for (item, placed) in items.iter().zip(&shots) {
            let range = &item["source_range"];
            let frames = whole(&range["duration"], rate);
            prop_assert_eq!((at, frames), (placed.from_frame, placed.frames()));
            at += frames;
            if let Some(source) = placed.source {
                let start = whole(&range["start_time"], source.rate);
                prop_assert_eq!(start, source.file_start.to_frame() + source.start_frame);
                let scalar = item["effects"][0]["time_scalar"].as_f64().unwrap_or(1.0);
                prop_assert_eq!(scalar, source.time_scalar.value());
            } else {
                prop_assert_eq!(&item["OTIO_SCHEMA"], "Gap.1");
            }
        }
        prop_assert_eq!(at, total);
    }

    #[test]
    fn the_edit_list_says_the_same(world in sound_world()) {
        let edit = world.edit();
        let rate = world.cut.rate;
        let (shots, _) = placed_shots(&edit);
        let events = read_list(&edl(&edit).unwrap().text).unwrap();
        prop_assert_eq!(events.len(), shots.len());
        let start = edit.record_start();
        let mut next = start.to_string();
        for (event, placed) in events.iter().zip(&shots) {
            prop_assert_eq!(&event.record[0], &next);
            next.clone_from(&event.record[1]);
            prop_assert_eq!(&next, &start.plus(placed.to_frame).to_string());
            let record = between(&event.record, rate);
            prop_assert_eq!(record, placed.frames());
            let source = between(&event.source, rate);
            let counted = f64::from(rate.counted());
            match event.speed {
                None => prop_assert_eq!(source, record),
                // The length follows the exact speed; the speed line is to a tenth of a frame.
                Some(speed) => {
                    let told = record as f64 * speed / counted;
                    let slack = 0.5 + record as f64 * 0.05 / counted + 1e-6;
                    prop_assert!((source as f64 - told).abs() <= slack || source == 1);
                }
            }
            prop_assert_eq!(event.reel == "BL", placed.source.is_none());
            if let Some(source) = placed.source
                && source.rate == rate
            {
                prop_assert_eq!(&event.source[0], &source.timecode().to_string());
            }
        }
        prop_assert_eq!(next, start.plus(rate.frames_to_hold(world.song.length)).to_string());
    }

    #[test]
    fn whatever_the_names_and_numbers_the_output_reads_back(world in hostile_world(), to_project in odd_text(), bars in any::<bool>()) {
        let edit = Edit { to_project: &to_project, bar_markers: bars, ..world.edit() };
        let (shots, notes) = placed_shots(&edit);
        let mut at = 0;
        for shot in &shots {
            prop_assert_eq!(shot.from_frame, at);
            prop_assert!(shot.to_frame > at);
            at = shot.to_frame;
        }
        for note in notes {
            prop_assert!(!note.to_string().is_empty());
        }
        match otio(&edit) {
            Ok(written) => {
                let file: Value = serde_json::from_str(&written.text).unwrap();
                prop_assert_eq!(file["name"].as_str(), Some(edit.title));
                let items = file["tracks"]["children"][0]["children"].as_array().unwrap();
                prop_assert_eq!(items.len(), shots.len());
                for (item, shot) in items.iter().zip(&shots) {
                    prop_assert_eq!(whole(&item["source_range"]["duration"], edit.cut.rate), shot.frames());
                    if let Some(source) = shot.source {
                        prop_assert_eq!(item["name"].as_str(), Some(edit.takes[source.take].name.as_str()));
                    }
                }
                prop_assert_eq!(otio(&edit).unwrap().text, written.text);
            }
            Err(error) => prop_assert!(!error.to_string().is_empty()),
        }
        match edl(&edit) {
            Ok(written) => {
                let events = read_list(&written.text);
                prop_assert_eq!(events.as_ref().map(Vec::len), Ok(shots.len()), "{:?}", written.text);
                prop_assert_eq!(edl(&edit).unwrap().text, written.text);
            }
            Err(error) => prop_assert!(!error.to_string().is_empty()),
        }
        let listed = listing(&edit);
        prop_assert_eq!(listed.to_text().lines().count(), shots.len() + 1);
        let back: Listing = serde_json::from_str(&listed.to_json()).unwrap();
        prop_assert_eq!(back.shots.len(), shots.len());
    }
}

/// Names as files may have them, and worse: control characters, quotes, line ends of every kind,
/// 255 bytes, halves of sequences, direction marks.
fn odd_text() -> impl Strategy<Value = String> {
    prop_oneof![
        "\\PC{0,30}",
        "(?s).{0,30}",
        "[\\x00-\\x1f\"'\\\\/#%?*\u{85}\u{2028}\u{feff}\u{202e}]{0,12}",
        Just("ä".repeat(127) + "x"),
        Just("\u{fffd}\u{fffd}.mov".to_owned()),
        Just("001  AX V C 00:00:00:00\nM2 AX 000.0\n\"}]".to_owned()),
        Just("a -->\r\n\r\nTITLE: b".to_owned()),
    ]
}

fn odd_number() -> impl Strategy<Value = i64> {
    prop_oneof![
        Just(i64::MIN),
        Just(i64::MAX),
        Just(0),
        -100..3000_i64,
        any::<i64>()
    ]
}

fn odd_float() -> impl Strategy<Value = f64> {
    prop_oneof![any::<f64>(), Just(f64::NAN), 0.0..4.0_f64]
}

fn odd_rate() -> impl Strategy<Value = FrameRate> {
    let any = (1..=u32::MAX, 1..=u32::MAX)
        .prop_filter_map("a rate", |(num, den)| FrameRate::new(num, den));
    prop_oneof![rate(), any]
}

fn hostile_world() -> impl Strategy<Value = World> {
    let take = (
        (odd_text(), odd_text(), prop::option::of(odd_text())),
        prop::option::of((
            odd_rate(),
            prop::option::of(prop_oneof![
                odd_text(),
                Just("23:59:59:12".to_owned()),
                Just("00:59:59;12".to_owned())
            ]),
            any::<bool>(),
        )),
        (odd_float(), prop::option::of(any::<u64>()), odd_number()),
    );
    let shot = (
        odd_number(),
        odd_number(),
        0..5_usize,
        odd_number(),
        odd_float(),
    );
    (
        (odd_text(), odd_text(), odd_text(), odd_rate()),
        prop::collection::vec(take, 0..5),
        prop::collection::vec(shot, 0..12),
        (odd_number(), any::<u32>(), any::<bool>()),
        prop::collection::vec((odd_number(), odd_number(), odd_text()), 0..3),
    )
        .prop_map(
            |((title, name, path, rate), takes, shots, (length, rate_hz, bare), marks)| {
                let mut world = sample::world(rate, 96);
                world.title = title;
                world.song.name = name;
                world.song.path = path;
                world.song.length = Length::from_ticks(length);
                world.song.rate_hz = rate_hz;
                if bare {
                    world.map.bars.clear();
                    world.map.beats.clear();
                    world.map.sections.clear();
                }
                for (from, to, text) in marks {
                    let at = Stretch::new(SongTime::from_ticks(from), SongTime::from_ticks(to));
                    if let (Some(at), Some(section)) = (at, world.map.sections.first_mut()) {
                        section.at = at;
                        section.label.clone_from(&text);
                        section.name = Some(text.clone());
                    }
                    world.lyrics.push(LyricLine {
                        at,
                        text,
                        extra: Default::default(),
                    });
                }
                world.takes = (0..)
                    .zip(takes)
                    .map(|(n, (names, picture, numbers))| odd_take(n, names, picture, numbers))
                    .collect();
                world.cut.shots = shots
                    .into_iter()
                    .map(|(from_frame, to_frame, take, ticks, speed)| Shot {
                        extra: Default::default(),
                        from_frame,
                        to_frame,
                        take: Some(TakeId::new(format!("t{take}")).unwrap()),
                        take_start: Length::from_ticks(ticks),
                        speed,
                        in_sync: true,
                        locked: true,
                    })
                    .collect();
                world
            },
        )
}

fn odd_take(
    n: usize,
    (name, path, reel): (String, String, Option<String>),
    picture: Option<(FrameRate, Option<String>, bool)>,
    (start_s, frames, length): (f64, Option<u64>, i64),
) -> TakeRef {
    let plain = sample::take(&format!("t{n}"), FrameRate::FPS_24, None);
    TakeRef {
        name,
        path,
        reel,
        length: Length::from_ticks(length),
        picture: picture.map(|(rate, start_timecode, variable_rate)| Picture {
            rate,
            start_timecode,
            variable_rate,
            frames,
            start_s,
            length: Length::from_ticks(length),
            ..plain.picture.clone().unwrap()
        }),
        ..plain
    }
}
