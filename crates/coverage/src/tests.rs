//! Tables of cases, and what a person sees.

use super::*;
use model::{Bar, FrameRate, Framing, Length, Picture, Placement, Run, Section, SongTime};
use proptest::prelude::*;

fn length(s: f64) -> Length {
    Length::nearest_to_seconds(s)
}

/// Bars of two seconds; sections as label and number of bars.
pub(crate) fn song(sections: &[(&str, usize)]) -> SongMap {
    let total: usize = sections.iter().map(|(_, bars)| bars).sum();
    let at = |from: usize, to: usize| {
        Stretch::between_seconds(from as f64 * 2.0, to as f64 * 2.0).unwrap()
    };
    let mut from = 0;
    SongMap {
        length: length(total as f64 * 2.0),
        tempo_bpm: 120.0,
        beats_per_bar: 4,
        beats: (0..total * 4)
            .map(|n| SongTime::nearest_to_seconds(n as f64 * 0.5))
            .collect(),
        downbeats: (0..total).map(|n| n * 4).collect(),
        bars: (0..total)
            .map(|n| Bar {
                number: n as u32 + 1,
                at: at(n, n + 1),
                energy: 0.5,
                voice: 0.5,
            })
            .collect(),
        sections: sections
            .iter()
            .map(|(label, bars)| {
                from += bars;
                Section {
                    label: (*label).into(),
                    name: (*label == "C").then(|| "last chorus".into()),
                    at: at(from - bars, from),
                    energy: 0.5,
                    voiced: 0.5,
                }
            })
            .collect(),
    }
}

pub(crate) fn setup(id: &str, purpose: Purpose, sections: &[&str]) -> Setup {
    Setup {
        purpose,
        framing: Framing::Medium,
        sections: sections.iter().map(|s| (*s).into()).collect(),
        ..Setup::new(SetupId::new(id).unwrap())
    }
}

pub(crate) fn wish(section: &str, options: u32) -> Wish {
    let id = model::WishId::new(format!("wish-{section}")).unwrap();
    Wish {
        options: Some(options),
        ..Wish::new(id, section)
    }
}

/// A take heard from bar `from` up to bar `to`, bars counted from 1; none for b-roll.
pub(crate) fn take(id: &str, setup: Option<&str>, heard: Option<(u32, u32)>) -> PlacedTake {
    let seconds = heard.map_or(12.0, |(from, to)| f64::from(to - from + 1) * 2.0);
    PlacedTake {
        id: TakeId::new(id).unwrap(),
        setup: setup.map(|id| SetupId::new(id).unwrap()),
        rating: Rating::Unrated,
        state: 0,
        length: length(seconds + 1.0),
        picture: Some(Picture {
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
            length: length(seconds + 1.0),
        }),
        placement: Placement {
            runs: heard
                .map(|(from, _)| Run {
                    take_start: length(1.0),
                    take_end: length(1.0 + seconds),
                    song_start: SongTime::nearest_to_seconds(f64::from(from - 1) * 2.0),
                    speed: 1.0,
                    drift_ppm: 0.0,
                    confidence: 0.9,
                })
                .into_iter()
                .collect(),
            alternatives: Vec::new(),
        },
        track: None,
    }
}

/// A night's work: five setups, one of them never shot.
fn night() -> Coverage {
    night_planned().2
}

pub(crate) fn night_planned() -> (SongMap, [Setup; 5], Coverage) {
    let map = song(&[("A", 4), ("B", 8), ("A", 4), ("B", 8), ("C", 6)]);
    let mut river = setup("river-wide", Purpose::Performance, &[]);
    river.bars = vec![[1, 12]];
    let setups = [
        setup("launderette", Purpose::Performance, &["A", "B"]),
        setup("stairs", Purpose::Performance, &["B2", "last chorus"]),
        river,
        setup("rooftop-at-blue-hour-long", Purpose::Performance, &["B"]),
        setup("drums-turning", Purpose::BRoll, &["D"]),
    ];
    let mut bad = take("C009", Some("stairs"), Some((1, 30)));
    bad.rating = Rating::NoGood;
    let mut blind = take("R001", Some("stairs"), Some((1, 30)));
    blind.picture = None;
    let takes = [
        take("C001", Some("launderette"), Some((1, 24))),
        take("C002", Some("launderette"), Some((5, 12))),
        take("C003", Some("stairs"), Some((15, 30))),
        take("C004", Some("river-wide"), Some((1, 6))),
        take("C005", None, Some((9, 10))),
        take("C006", Some("drums-turning"), None),
        take("C007", None, None),
        take("C008", Some("launderette"), None),
        take("C010", Some("lift"), Some((25, 26))),
        bad,
        blind,
    ];
    let wishes = [wish("C", 2), wish("Z", 1)];
    let covered = coverage(&map, &setups, &wishes, &takes, &Options::default());
    (map, setups, covered)
}

#[test]
fn a_plan_before_anything_is_shot() {
    let map = song(&[("A", 8), ("B", 16)]);
    let setups = [
        setup("one", Purpose::Performance, &[]),
        setup("two", Purpose::Performance, &["B"]),
    ];
    let planned = coverage(&map, &setups, &[], &[], &Options { wanted: 2 });
    assert_eq!(planned.sections[0].short_planned, [1, 2, 3, 4, 5, 6, 7, 8]);
    // One setup over all 24 bars and one over 16 of them; nothing shot.
    assert_eq!(planned.planned_choice, 40.0 / 24.0);
    assert_eq!(planned.shot_choice, 0.0);
    assert!(planned.sections[1].short_planned.is_empty());
}

#[test]
fn what_counts_in_a_bar() {
    let night = night();
    let shot = |number: usize| -> Vec<&str> {
        night.bars[number - 1]
            .shot
            .iter()
            .map(|o| o.take.as_str())
            .collect()
    };
    // No good and blind takes don't count, b-roll without the song lies nowhere.
    assert_eq!(shot(1), ["C001", "C004"]);
    assert_eq!(shot(7), ["C001", "C002"]);
    assert_eq!(night.bars[6].shot_options, 1, "two passes of one setup");
    assert_eq!(shot(9), ["C001", "C002", "C005"]);
    assert_eq!(
        night.bars[8].shot_options, 2,
        "a take without a setup counts by itself"
    );
    assert_eq!(night.bars[26].wanted, 2);
    assert!(!night.bars[24].short_shot && night.bars[26].short_shot);
    let anywhere: Vec<&str> = night.anywhere.iter().map(|a| a.take.as_str()).collect();
    assert_eq!(anywhere, ["C006", "C007"]);
}

#[test]
fn a_bar_must_be_held_wholly() {
    let map = song(&[("A", 3)]);
    let cases = [
        // Late by a hundredth: no cut shows it. Late by a tenth: it is missing.
        (0.01, 6.0, vec![1, 2, 3]),
        (0.1, 6.0, vec![2, 3]),
        (0.0, 5.9, vec![1, 2]),
        (-3.0, 20.0, vec![1, 2, 3]),
    ];
    for (from, to, bars) in cases {
        let mut take = take("T", None, Some((1, 3)));
        take.length = length(60.0);
        take.placement.runs[0].song_start = SongTime::nearest_to_seconds(from);
        take.placement.runs[0].take_end = length(1.0 + to - from);
        let got = coverage(&map, &[], &[], &[take], &Options::default());
        let held: Vec<u32> = got
            .bars
            .iter()
            .filter(|bar| bar.shot_options == 1)
            .map(|bar| bar.number)
            .collect();
        assert_eq!(held, bars, "{from} to {to}");
    }
    // Played at double speed, three seconds of take hold all six of the song.
    let mut fast = take("T", None, Some((1, 3)));
    fast.placement.runs[0].speed = 2.0;
    fast.placement.runs[0].take_end = length(4.0);
    let got = coverage(&map, &[], &[], &[fast], &Options::default());
    assert!(got.bars.iter().all(|bar| bar.shot_options == 1));
}

#[test]
fn it_serialises_with_the_names_documented() {
    let json = serde_json::to_value(night()).unwrap();
    let bar = &json["bars"][0];
    for key in [
        "number",
        "start_s",
        "end_s",
        "section",
        "planned",
        "shot",
        "planned_options",
        "shot_options",
        "wanted",
        "short_planned",
        "short_shot",
    ] {
        assert!(!bar[key].is_null(), "{key}");
    }
    assert_eq!(bar["shot"][0]["take"], "C001");
    assert_eq!(json["sections"][1]["section"], "B1");
    assert_eq!(json["anywhere"][0]["length_s"], 13.0);
    // Counted in the snapshot's rows: 8 + 24 + 4 + 24 + 6 options planned and 8 + 12 + 6 + 16 + 8 shot, of 30 bars.
    assert_eq!(json["planned_choice"], 66.0 / 30.0);
    assert_eq!(json["shot_choice"], 50.0 / 30.0);
}

#[test]
fn unsound_numbers_are_no_option_and_no_panic() {
    let map = song(&[("A", 2)]);
    let mut takes = vec![take("T", None, Some((1, 2)))];
    for (speed, drift) in [
        (f64::NAN, 0.0),
        (-1.0, 0.0),
        (0.0, 0.0),
        (1.0, f64::NAN),
        (f64::INFINITY, 0.0),
    ] {
        takes[0].placement.runs[0].speed = speed;
        takes[0].placement.runs[0].drift_ppm = drift;
        let got = coverage(&map, &[], &[], &takes, &Options::default());
        assert!(got.bars.iter().all(|bar| bar.shot_options == 0));
    }
    let empty = SongMap {
        bars: Vec::new(),
        sections: Vec::new(),
        ..map
    };
    let got = coverage(
        &empty,
        &[setup("one", Purpose::BRoll, &["A"])],
        &[wish("A", 1)],
        &takes,
        &Options::default(),
    );
    assert!(got.bars.is_empty() && got.notes.len() == 2);
    assert_eq!((got.planned_choice, got.shot_choice), (0.0, 0.0));
}

proptest! {
    #[test]
    fn bars_and_sections_agree(
        sections in prop::collection::vec(1usize..20, 1..8),
        heard in prop::collection::vec((1u32..40, 0u32..40), 0..30),
    ) {
        let named: Vec<(&str, usize)> = sections
            .iter()
            .enumerate()
            .map(|(n, bars)| (["A", "B", "C", "A"][n % 4], *bars))
            .collect();
        let map = song(&named);
        let takes: Vec<PlacedTake> = heard
            .iter()
            .enumerate()
            .map(|(n, (from, more))| take(&format!("take-{n}"), (n % 3 == 0).then_some("one"), Some((*from, from + more))))
            .collect();
        let setups = [setup("one", Purpose::Performance, &["B"])];
        let got = coverage(&map, &setups, &[], &takes, &Options::default());
        for bar in &got.bars {
            prop_assert!(bar.shot_options as usize <= bar.shot.len());
            prop_assert_eq!(bar.short_shot, bar.shot_options < bar.wanted);
        }
        let of_sections: u32 = got.sections.iter().filter_map(|s| s.bars).map(|[a, b]| b - a + 1).sum();
        prop_assert_eq!(of_sections as usize, got.bars.len());
    }
}
