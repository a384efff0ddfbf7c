//! An invented night, to look at the charts and to test them.

use charts::*;
use model::{Bar, Length, Section, SongMap, SongTime, Stretch};

fn text(s: &str) -> String {
    s.to_owned()
}

/// A song of 64 bars at 102 beats a minute.
pub fn song() -> SongMap {
    let bar_s = 4.0 * 60.0 / 102.0;
    let bars = 64u32;
    let at = |bar: u32| SongTime::nearest_to_seconds(f64::from(bar) * bar_s);
    let stretch = |from: u32, to: u32| Stretch::new(at(from), at(to)).expect("rising");
    let section = |label: &str, name: &str, from: u32, to: u32| Section {
        label: text(label),
        name: (!name.is_empty()).then(|| text(name)),
        at: stretch(from, to),
        energy: 0.5,
        voiced: 0.5,
    };
    SongMap {
        length: Length::nearest_to_seconds(f64::from(bars) * bar_s),
        tempo_bpm: 102.0,
        beats_per_bar: 4,
        beats: (0..bars * 4)
            .map(|beat| SongTime::nearest_to_seconds(f64::from(beat) * bar_s / 4.0))
            .collect(),
        downbeats: (0..bars as usize).map(|bar| bar * 4).collect(),
        bars: (0..bars)
            .map(|bar| Bar {
                number: bar + 1,
                at: stretch(bar, bar + 1),
                energy: 0.5,
                voice: 0.5,
            })
            .collect(),
        sections: vec![
            section("A", "intro", 0, 4),
            section("B", "verse", 4, 16),
            section("C", "chorus", 16, 24),
            section("B", "verse", 24, 36),
            section("C", "chorus", 36, 44),
            section("D", "bridge", 44, 52),
            section("C", "last chorus", 52, 60),
            section("E", "out", 60, 64),
        ],
    }
}

/// Altitude of a body of this declination over 41° north, `minutes` after or before it is highest.
fn altitude(declination_deg: f64, minutes: f64) -> f64 {
    let (lat, dec) = (41.15f64.to_radians(), declination_deg.to_radians());
    let hour = (minutes / 4.0).to_radians();
    (lat.sin() * dec.sin() + lat.cos() * dec.cos() * hour.cos())
        .asin()
        .to_degrees()
}

fn bands() -> Vec<Band> {
    let band = |light, from, to| Band::new(light, Span::new(from, to));
    vec![
        band(Light::Day, 720.0, 1156.0),
        band(Light::CivilTwilight, 1156.0, 1183.0),
        band(Light::NauticalTwilight, 1183.0, 1215.0),
        band(Light::AstronomicalTwilight, 1215.0, 1247.0),
        band(Light::Night, 1247.0, 1801.0),
        band(Light::AstronomicalTwilight, 1801.0, 1833.0),
        band(Light::NauticalTwilight, 1833.0, 1865.0),
        band(Light::CivilTwilight, 1865.0, 1892.0),
        band(Light::Day, 1892.0, 2160.0),
        band(Light::GoldenHour, 1119.0, 1173.0),
        band(Light::BlueHour, 1173.0, 1183.0),
        band(Light::BlueHour, 1865.0, 1875.0),
        band(Light::GoldenHour, 1875.0, 1929.0),
    ]
}

/// A night over a stairway in Porto.
pub fn sky() -> Sky {
    let standing = |declination: f64, highest: f64| {
        (0..=144)
            .map(|nth| {
                let at_min = 720.0 + 10.0 * f64::from(nth);
                Standing {
                    at_min,
                    altitude_deg: altitude(declination, at_min - highest),
                }
            })
            .collect::<Vec<_>>()
    };
    let mut sun = standing(-4.0, 804.0);
    let next = standing(-4.2, 804.0 + 1440.0);
    sun.splice(80.., next[80..].iter().copied());
    Sky {
        place: text("Tiled stairway"),
        date: text("3 October 2026"),
        of: Span::new(720.0, 2160.0),
        sun,
        moon: standing(26.0, 1440.0 + 430.0),
        phase: Some(MoonPhase {
            lit: 0.47,
            waxing: false,
            lit_on_right: false,
        }),
        bands: bands(),
        sunlit: Some(vec![Span::new(790.0, 1015.0), Span::new(2020.0, 2160.0)]),
        access: vec![Span::new(900.0, 1590.0)],
        events: [
            (1156.0, "sunset"),
            (1247.0, "night"),
            (1431.0, "moonrise"),
            (1801.0, "first dawn"),
            (1892.0, "sunrise"),
        ]
        .map(|(at_min, what)| Event {
            at_min,
            what: text(what),
        })
        .to_vec(),
        setups: vec![
            Planned {
                setup: text("stairs-wide"),
                name: text("Stairs, wide"),
                shoot: Span::new(1160.0, 1185.0),
            },
            Planned {
                setup: text("stairs-close"),
                name: text("Stairs, close"),
                shoot: Span::new(1205.0, 1240.0),
            },
        ],
        now_min: None,
    }
}

const NIGHT: [(&str, &str, f64, f64); 6] = [
    ("Stairs, wide", "Tiled stairway", 1160.0, 1185.0),
    ("Stairs, close", "Tiled stairway", 1205.0, 1240.0),
    (
        "Quay, walking at double speed",
        "River quay",
        1290.0,
        1335.0,
    ),
    ("Quay, profile", "River quay", 1350.0, 1380.0),
    ("Drums of the machines", "Launderette", 1470.0, 1515.0),
    ("Powder", "Launderette", 1545.0, 1575.0),
];

/// Power and cards over the night.
pub fn power() -> Power {
    let mark = |at_min: f64, says: &str| Mark {
        at_min,
        says: text(says),
    };
    Power {
        day: text("the night of 3 October"),
        of: Span::new(1080.0, 1620.0),
        slots: NIGHT
            .iter()
            .map(|(name, _, from, to)| Slot {
                name: text(name),
                at: Span::new(*from, *to),
            })
            .collect(),
        batteries: vec![
            BatteryCharge {
                name: text("Block battery 1"),
                full_wh: 98.0,
                reserve_wh: 19.6,
                points: vec![
                    [1080.0, 98.0],
                    [1140.0, 98.0],
                    [1185.0, 66.0],
                    [1205.0, 64.0],
                    [1240.0, 34.0],
                    [1290.0, 34.0],
                    [1322.0, 12.0],
                    [1620.0, 12.0],
                ],
                swaps: vec![
                    mark(1140.0, "on the key light"),
                    mark(1322.0, "off the key light, battery 2 goes on"),
                ],
                shortages: vec![mark(
                    1312.0,
                    "goes below its reserve in Quay, walking at double speed",
                )],
            },
            BatteryCharge {
                name: text("Block battery 2"),
                full_wh: 98.0,
                reserve_wh: 19.6,
                points: vec![
                    [1080.0, 98.0],
                    [1322.0, 98.0],
                    [1380.0, 55.0],
                    [1440.0, 55.0],
                    [1500.0, 86.0],
                    [1575.0, 86.0],
                    [1620.0, 86.0],
                ],
                swaps: vec![mark(1322.0, "on the key light")],
                shortages: vec![],
            },
            BatteryCharge {
                name: text("Camera battery 1"),
                full_wh: 16.0,
                reserve_wh: 3.2,
                points: vec![
                    [1080.0, 16.0],
                    [1185.0, 12.4],
                    [1240.0, 9.0],
                    [1335.0, 3.9],
                    [1345.0, 3.9],
                    [1620.0, 3.9],
                ],
                swaps: vec![mark(1345.0, "off, battery 2 goes on")],
                shortages: vec![],
            },
        ],
        cards: vec![
            CardFill {
                name: text("Card 1"),
                room_gb: 116.0,
                points: vec![
                    [1080.0, 0.0],
                    [1160.0, 0.0],
                    [1185.0, 31.0],
                    [1205.0, 31.0],
                    [1240.0, 66.0],
                    [1290.0, 66.0],
                    [1335.0, 110.0],
                    [1620.0, 110.0],
                ],
            },
            CardFill {
                name: text("Card 2"),
                room_gb: 116.0,
                points: vec![
                    [1080.0, 0.0],
                    [1350.0, 0.0],
                    [1380.0, 22.0],
                    [1470.0, 22.0],
                    [1515.0, 58.0],
                    [1545.0, 58.0],
                    [1575.0, 79.0],
                ],
            },
        ],
        shortages: vec![],
        now_min: None,
    }
}

/// The night as a time line.
pub fn day_line() -> DayLine {
    let mut strips: Vec<DayStrip> = NIGHT
        .iter()
        .enumerate()
        .map(|(nth, (name, place, shoot, end))| DayStrip {
            setup: [
                "stairs-wide",
                "stairs-close",
                "quay-walk",
                "quay-profile",
                "drums",
                "powder",
            ][nth]
                .to_owned(),
            name: text(name),
            place: text(place),
            there_min: shoot - 18.0,
            start_min: shoot - 18.0,
            shoot_min: *shoot,
            end_min: *end,
            room_min: 12.0,
            access: (*place == "Tiled stairway").then_some(Span::new(1080.0, 1590.0)),
            ..DayStrip::default()
        })
        .collect();
    strips[0] = DayStrip {
        there_min: 1115.0,
        start_min: 1115.0,
        travel_min: 20.0,
        waits_min: 15.0,
        light: Some(Span::new(1119.0, 1190.0)),
        room_min: 5.0,
        pinned: true,
        ..strips[0].clone()
    };
    strips[1].relit = true;
    strips[2] = DayStrip {
        there_min: 1262.0,
        start_min: 1265.0,
        travel_min: 18.0,
        ..strips[2].clone()
    };
    strips[3] = DayStrip {
        start_min: 1338.0,
        relit: true,
        room_min: 40.0,
        ..strips[3].clone()
    };
    strips[4] = DayStrip {
        there_min: 1440.0,
        start_min: 1440.0,
        travel_min: 25.0,
        access: Some(Span::new(1410.0, 1590.0)),
        room_min: 15.0,
        ..strips[4].clone()
    };
    strips[5] = DayStrip {
        start_min: 1518.0,
        access: Some(Span::new(1410.0, 1590.0)),
        room_min: 0.0,
        breaks: vec![text(
            "cleaning up runs past the end of the launderette's hours",
        )],
        ..strips[5].clone()
    };
    DayLine {
        day: text("3 October 2026"),
        of: Span::new(1080.0, 1620.0),
        sky: bands(),
        call_min: Some(1090.0),
        latest_wrap_min: Some(1590.0),
        meal: Some(Span::new(1382.0, 1412.0)),
        strips,
        now_min: Some(1250.0),
    }
}

/// What is planned, shot and cut over `map`.
pub fn coverage(map: &SongMap) -> Coverage<'_> {
    let names = [
        "stairs-wide",
        "stairs-close",
        "quay-walk",
        "quay-profile",
        "drums",
        "powder",
    ];
    let planned: [&[[u32; 2]]; 6] = [
        &[[1, 24]],
        &[[5, 16], [25, 44]],
        &[[17, 24], [37, 44]],
        &[[25, 52]],
        &[[1, 64]],
        &[[53, 60]],
    ];
    let shot: [&[[u32; 2]]; 6] = [
        &[[1, 24]],
        &[[5, 16], [25, 40]],
        &[[17, 24]],
        &[[25, 36]],
        &[[9, 64]],
        &[[53, 60]],
    ];
    let cut: [&[[u32; 2]]; 6] = [
        &[[1, 6], [13, 16]],
        &[[7, 10], [29, 32]],
        &[[17, 22]],
        &[[25, 28]],
        &[[11, 12], [45, 52], [61, 64]],
        &[[53, 60]],
    ];
    let setups: Vec<CoverageRow> = (0..6)
        .map(|nth| {
            let holds =
                |all: &[[u32; 2]], bar: u32| all.iter().any(|[a, b]| (*a..=*b).contains(&bar));
            CoverageRow {
                setup: text(names[nth]),
                name: text(NIGHT[nth].0),
                cells: (1..=64)
                    .map(|bar| Cell {
                        planned: holds(planned[nth], bar),
                        shot: holds(shot[nth], bar),
                        cut: holds(cut[nth], bar),
                    })
                    .collect(),
            }
        })
        .collect();
    let count = |bar: usize, read: fn(&Cell) -> bool| {
        setups.iter().filter(|row| read(&row.cells[bar])).count() as u32
    };
    let options = (0..64)
        .map(|bar| Options {
            planned: count(bar, |c| c.planned),
            shot: count(bar, |c| c.shot),
            wanted: if (52..60).contains(&bar) { 2 } else { 3 },
        })
        .collect();
    Coverage {
        map,
        setups,
        options,
    }
}

/// What was heard where.
pub fn takes(map: &SongMap) -> TakesOverSong<'_> {
    let run = |from_s: f64, to_s: f64, speed: f64, drift_ppm: f64, confidence: f64| TakeRun {
        from_s,
        to_s,
        speed,
        drift_ppm,
        confidence,
    };
    let take = |take: &str, setup: &str, rating: &str, runs: Vec<TakeRun>| TakeLine {
        take: text(take),
        setup: text(setup),
        rating: text(rating),
        runs,
        ..TakeLine::default()
    };
    TakesOverSong {
        map,
        takes: vec![
            take(
                "C0001",
                "Stairs, wide",
                "circled",
                vec![run(0.0, 58.2, 1.0, 11.8, 0.98)],
            ),
            take(
                "C0002",
                "Stairs, wide",
                "usable",
                vec![
                    run(0.0, 21.0, 1.0, 12.1, 0.94),
                    run(0.0, 58.0, 1.0, 12.0, 0.97),
                ],
            ),
            take(
                "C0005",
                "Quay, walking at double speed",
                "unrated",
                vec![run(37.6, 56.5, 2.0, -34.0, 0.81)],
            ),
            TakeLine {
                alternatives: vec![
                    AlternativeRun {
                        from_s: 84.7,
                        to_s: 103.5,
                        confidence: 0.52,
                    },
                    AlternativeRun {
                        from_s: 122.4,
                        to_s: 141.2,
                        confidence: 0.41,
                    },
                ],
                ..take(
                    "C0007",
                    "Quay, profile",
                    "unrated",
                    vec![run(37.7, 56.4, 1.0, 0.2, 0.55)],
                )
            },
            take("C0009", "", "unrated", vec![]),
            TakeLine {
                by_hand: true,
                ..take(
                    "C0011",
                    "Powder",
                    "usable",
                    vec![run(122.0, 141.0, 1.0, 0.0, 1.0)],
                )
            },
        ],
    }
}

/// Stops in hand.
pub fn stops() -> Stops {
    let side = |gap: f64, range: Option<[f64; 2]>, target: f64| {
        Some(StopsSide {
            gap_stops: Some(gap),
            range_stops: range,
            target_stops: target,
        })
    };
    let setup = |nth: usize, face, background| StopsOf {
        setup: format!("setup-{nth}"),
        name: text(NIGHT[nth].0),
        face,
        background,
    };
    Stops {
        slack_stops: 0.5,
        setups: vec![
            setup(0, side(0.2, None, 0.0), side(-0.3, Some([-1.1, 0.6]), -1.0)),
            setup(
                1,
                side(-1.4, Some([-1.8, -1.0]), 0.0),
                side(1.2, Some([0.2, 2.1]), -2.0),
            ),
            setup(
                2,
                side(-5.2, None, -0.5),
                Some(StopsSide {
                    target_stops: -2.0,
                    ..StopsSide::default()
                }),
            ),
            setup(3, side(0.0, None, -1.0), side(2.7, None, -2.0)),
            setup(4, None, side(0.4, None, 0.0)),
            setup(5, None, None),
        ],
    }
}
