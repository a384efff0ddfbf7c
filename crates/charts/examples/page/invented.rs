//! An invented night, to look at the charts and to test them.

use charts::{Chart, Coverage, DayLine, Power, Sky, Stops};
use coverage::{BarCoverage, ShotOption};
use exposure::setup::{Judgement, Side, judge};
use model::{Bar, ClockTime, DayId, Finding, KitId, Length, Place, PlaceId, Project, Section};
use model::{SetupId, SongMap, SongTime, Stretch, TakeId};
use power::{CardLoad, CardPlan, Charge, DayPower, Ledger, Piece, Reason, SetupMedia, Shortage};
use power::{SlotTimes, Source, Swap, Totals};
use schedule::{DayPlan, Status, Strip};
use sky::{Curve, Daylight, What};

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

/// The date of the night, as it is shown.
pub const DATE: &str = "3 October 2026";

/// Id, name, place, when its shoot begins and ends.
const NIGHT: [(&str, &str, &str, u32, u32); 6] = [
    ("stairs-wide", "Stairs, wide", "stairs", 1160, 1185),
    ("stairs-close", "Stairs, close", "stairs", 1205, 1240),
    (
        "quay-walk",
        "Quay, walking at double speed",
        "quay",
        1290,
        1335,
    ),
    ("quay-profile", "Quay, profile", "quay", 1350, 1380),
    ("drums", "Drums of the machines", "launderette", 1470, 1515),
    ("powder", "Powder", "launderette", 1545, 1575),
];

fn setup(id: &str) -> SetupId {
    SetupId::new(id).expect("an id")
}

fn kit(id: &str) -> KitId {
    KitId::new(id).expect("an id")
}

fn clock(minutes: u32) -> ClockTime {
    ClockTime::from_minutes(minutes).expect("a clock")
}

/// The stairway, open from 15:00 to half past two.
pub fn place() -> Place {
    let mut place = Place::new(PlaceId::new("stairs").expect("an id"), "Tiled stairway");
    place.access = vec![[clock(900), clock(1590)]];
    place
}

/// What is planned, with a take of each setup, a cut of some, and the kit.
pub fn project() -> Project {
    let setups = NIGHT
        .map(|(id, name, place, ..)| serde_json::json!({"id": id, "name": name, "place": place}));
    let takes = NIGHT.map(|(id, ..)| {
        serde_json::json!({"id": format!("T-{id}"), "setup": id, "file": {"path": format!("{id}.mp4"), "hash": "0".repeat(64), "bytes": 1}})
    });
    // Frames at 25 a second; a bar lasts 58.8 of them.
    let shots = [
        (0, 353, "stairs-wide"),
        (353, 588, "stairs-close"),
        (588, 941, "drums"),
        (941, 1294, "quay-walk"),
        (1294, 1765, "quay-profile"),
        (1765, 3764, "powder"),
    ];
    let shots = shots.map(|(from, to, id)| serde_json::json!({"from_frame": from, "to_frame": to, "take": format!("T-{id}"), "in_sync": true}));
    serde_json::from_value(serde_json::json!({
        "format": 1,
        "setups": setups,
        "takes": takes,
        "cuts": [{"version": 1, "rate": "25", "shots": shots}],
        "kit": [
            {"id": "block", "name": "Block battery", "sort": "power", "count": 2, "battery": {"wh": 98.0}},
            {"id": "small", "name": "Camera battery", "sort": "power", "count": 2, "battery": {"wh": 16.0}},
            {"id": "key", "name": "Key light", "sort": "light"},
            {"id": "cam", "name": "Camera", "sort": "camera"},
            {"id": "card", "name": "Card", "sort": "card", "count": 2}
        ]
    }))
    .expect("a project")
}

/// The sky of an autumn night at 41° north.
pub fn curve() -> Curve {
    let standing = |declination: f64, highest: f64| -> Vec<[f64; 2]> {
        let times = (0..=144).map(|nth| 720.0 + 10.0 * f64::from(nth));
        times
            .map(|at| [at, altitude(declination, at - highest)])
            .collect()
    };
    let mut sun = standing(-4.0, 804.0);
    let next = standing(-4.2, 804.0 + 1440.0);
    sun.splice(80.., next[80..].iter().copied());
    Curve {
        of_min: [720.0, 2160.0],
        sun,
        moon: standing(26.0, 1440.0 + 430.0),
        moon_lit: 0.47,
        moon_waxing: false,
        northern: true,
        light: vec![
            (Daylight::Day, [720.0, 1156.0]),
            (Daylight::CivilTwilight, [1156.0, 1183.0]),
            (Daylight::NauticalTwilight, [1183.0, 1215.0]),
            (Daylight::AstronomicalTwilight, [1215.0, 1247.0]),
            (Daylight::Night, [1247.0, 1801.0]),
            (Daylight::AstronomicalTwilight, [1801.0, 1833.0]),
            (Daylight::NauticalTwilight, [1833.0, 1865.0]),
            (Daylight::CivilTwilight, [1865.0, 1892.0]),
            (Daylight::Day, [1892.0, 2160.0]),
            (Daylight::GoldenHour, [1119.0, 1173.0]),
            (Daylight::GoldenHour, [1875.0, 1929.0]),
            (Daylight::BlueHour, [1173.0, 1183.0]),
            (Daylight::BlueHour, [1865.0, 1875.0]),
        ],
        direct_sun: Some(vec![[790.0, 1015.0], [2020.0, 2160.0]]),
        events: vec![
            (1156.0, What::Sunset),
            (1247.0, What::AstronomicalDusk),
            (1431.0, What::Moonrise),
            (1801.0, What::AstronomicalDawn),
            (1892.0, What::Sunrise),
        ],
    }
}

/// A strip of the night that starts 18 minutes before its shoot.
fn strip((id, name, place, shoot, end): (&str, &str, &str, u32, u32)) -> Strip {
    let place_name = match place {
        "stairs" => "Tiled stairway",
        "quay" => "River quay",
        _ => "Launderette",
    };
    Strip {
        setup: setup(id),
        name: text(name),
        place: text(place),
        place_name: text(place_name),
        address: String::new(),
        travel_minutes: 0,
        there: clock(shoot - 18),
        start: clock(shoot - 18),
        shoot: clock(shoot),
        end: clock(end),
        relit: false,
        pinned: false,
        must: false,
        state: 0,
        passes: 2,
        waits_minutes: 0,
        light: None,
        access: (place == "stairs").then(|| [clock(1080), clock(1590)]),
        asks_for_light: false,
        light_slack_minutes: None,
        access_slack_minutes: None,
        room_minutes: 12,
    }
}

/// The night as it was found.
pub fn plan() -> DayPlan {
    let mut order: Vec<Strip> = NIGHT.into_iter().map(strip).collect();
    let arrive = |strip: &mut Strip, there: u32, start: u32, travel: i64, room: i64| {
        (strip.there, strip.start) = (clock(there), clock(start));
        (strip.travel_minutes, strip.room_minutes) = (travel, room);
    };
    arrive(&mut order[0], 1115, 1115, 20, 5);
    order[0].waits_minutes = 15;
    order[0].light = Some([clock(1119), clock(1190)]);
    order[0].asks_for_light = true;
    order[0].pinned = true;
    order[1].relit = true;
    arrive(&mut order[2], 1262, 1265, 18, 12);
    arrive(&mut order[3], 1332, 1338, 0, 40);
    order[3].relit = true;
    arrive(&mut order[4], 1440, 1440, 25, 15);
    arrive(&mut order[5], 1527, 1518, 0, 0);
    for strip in &mut order[4..] {
        strip.access = Some([clock(1410), clock(1590)]);
    }
    DayPlan {
        day: DayId::new("night").expect("an id"),
        date: "2026-10-03".parse().unwrap(),
        from: clock(1090),
        latest_wrap: clock(1590),
        status: Status::Best,
        value: 1,
        bound: 1,
        whole_value: 1,
        wrap: clock(1575),
        moves: 2,
        meal: Some([clock(1382), clock(1412)]),
        order,
        left_out: Vec::new(),
        reasons: Vec::new(),
        late: None,
        notes: Vec::new(),
    }
}

/// What runs short in it.
pub fn conflicts() -> Vec<Finding> {
    let says = "`powder` runs past the end of the launderette's hours";
    vec![Finding::problem("place-closed", says).about(&setup("powder"))]
}

fn piece(battery: &str, piece: u32) -> Piece {
    Piece {
        battery: kit(battery),
        piece,
    }
}

/// Power over the night: two block batteries for the key light, one for the camera.
pub fn power() -> DayPower {
    let slots = NIGHT.map(|(id, _, _, shoot, end)| {
        let (shoot, end) = (f64::from(shoot), f64::from(end));
        SlotTimes {
            setup: setup(id),
            there_min: shoot - 18.0,
            start_min: shoot - 18.0,
            lights_min: shoot - 10.0,
            shoot_min: shoot,
            end_min: end,
            leave_min: end,
            passes_min: vec![[shoot, (shoot + end) / 2.0], [(shoot + end) / 2.0, end]],
        }
    });
    let given = [
        (0, "block", 1, 1140.0, 1185.0, 42.7),
        (1, "block", 1, 1185.0, 1240.0, 34.9),
        (2, "block", 1, 1290.0, 1322.0, 41.3),
        (2, "block", 2, 1322.0, 1335.0, 44.5),
        (3, "block", 2, 1335.0, 1380.0, 44.5),
        (0, "small", 1, 1160.0, 1185.0, 8.6),
        (1, "small", 1, 1205.0, 1240.0, 5.8),
        (2, "small", 1, 1290.0, 1335.0, 6.8),
    ];
    let spans = given.map(|(nth, battery, nr, from_min, to_min, watts)| power::Span {
        setup: setup(NIGHT[nth].0),
        items: vec![kit(if battery == "block" { "key" } else { "cam" })],
        piece: Some(piece(battery, nr)),
        from_min,
        to_min,
        watts,
    });
    let swap = |nth: usize, item: &str, at_min, off: Option<Piece>, on| Swap {
        setup: setup(NIGHT[nth].0),
        items: vec![kit(item)],
        at_min,
        off,
        on,
        in_pass: false,
        bridged: false,
    };
    let ledger = |battery: &str, nr, start_wh: f64, drawn_wh, charged_wh| Ledger {
        piece: piece(battery, nr),
        start_wh,
        drawn_wh,
        charged_wh,
        left_wh: start_wh - drawn_wh + charged_wh,
        reserve_line_wh: start_wh / 5.0,
        floor_wh: 0.0,
    };
    let short = |nth: usize, at_min, source: Source, reason, dark: &[&str]| {
        let setup = setup(NIGHT[nth].0);
        let says = format!("`{source}` runs short in `{setup}`");
        Shortage {
            at_min,
            finding: Finding::problem("short", says).about(&setup).at(at_min),
            setup,
            source,
            reason,
            dark: dark.iter().map(|id| kit(id)).collect(),
        }
    };
    DayPower {
        day: DayId::new("night").expect("an id"),
        typed: false,
        slots: slots.to_vec(),
        draws: Vec::new(),
        spans: spans.to_vec(),
        swaps: vec![
            swap(0, "key", 1140.0, None, piece("block", 1)),
            swap(2, "key", 1322.0, Some(piece("block", 1)), piece("block", 2)),
        ],
        charges: vec![Charge {
            piece: piece("block", 2),
            from_min: 1440.0,
            to_min: 1500.0,
            wh: 31.0,
        }],
        ledger: vec![
            ledger("block", 1, 98.0, 86.0, 0.0),
            ledger("block", 2, 98.0, 43.0, 31.0),
            ledger("small", 1, 16.0, 12.1, 0.0),
            ledger("small", 2, 16.0, 0.0, 0.0),
        ],
        totals: Totals::default(),
        shortages: vec![
            short(
                2,
                1312.0,
                Source::Battery(kit("block")),
                Reason::BelowReserve,
                &[],
            ),
            short(4, 1470.0, Source::Mains, Reason::NoMains, &["key"]),
        ],
        fixes: Vec::new(),
        findings: Vec::new(),
    }
}

/// Cards over the night.
pub fn cards() -> CardPlan {
    let load = |nr, holds: &[usize], gigabytes| CardLoad {
        card: kit("card"),
        piece: nr,
        holds: holds
            .iter()
            .map(|nth| (setup(NIGHT[*nth].0), 1, 2))
            .collect(),
        gigabytes,
        free_gb: 116.0 - gigabytes,
        changed_before: None,
        copying: None,
    };
    let sizes = [31.0, 35.0, 44.0, 22.0, 36.0, 21.0];
    let media = NIGHT
        .iter()
        .zip(sizes)
        .map(|((id, ..), gigabytes)| SetupMedia {
            setup: setup(id),
            recording: text("fine"),
            mbit_s: 200.0,
            passes: 2,
            pass_s: 600.0,
            gigabytes,
        });
    CardPlan {
        setups: media.collect(),
        cards: vec![load(1, &[0, 1, 2], 110.0), load(2, &[3, 4, 5], 79.0)],
        needed_gb: 189.0,
        wanted_gb: 189.0,
        there_gb: 232.0,
        short_gb: 0.0,
        copying_min: None,
        findings: Vec::new(),
    }
}

/// What is planned and shot in each bar of `map`.
pub fn counted(map: &SongMap) -> coverage::Coverage {
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
    let over = |all: &[&[[u32; 2]]; 6], bar: u32| -> Vec<SetupId> {
        let holds = |nth: &usize| all[*nth].iter().any(|[a, b]| (*a..=*b).contains(&bar));
        (0..6)
            .filter(holds)
            .map(|nth| setup(NIGHT[nth].0))
            .collect()
    };
    let bars = map.bars.iter().map(|bar| {
        let (planned, shot) = (over(&planned, bar.number), over(&shot, bar.number));
        let wanted = if (53..=60).contains(&bar.number) {
            2
        } else {
            3
        };
        let (planned_options, shot_options) = (planned.len() as u32, shot.len() as u32);
        let take = |setup: SetupId| ShotOption {
            take: TakeId::new(format!("T-{setup}")).expect("an id"),
            setup: Some(setup),
        };
        BarCoverage {
            number: bar.number,
            start_s: bar.at.start().seconds(),
            end_s: bar.at.end().seconds(),
            section: String::new(),
            planned,
            shot: shot.into_iter().map(take).collect(),
            planned_options,
            shot_options,
            wanted,
            short_planned: planned_options < wanted,
            short_shot: shot_options < wanted,
        }
    });
    coverage::Coverage {
        bars: bars.collect(),
        sections: Vec::new(),
        planned_choice: 0.0,
        shot_choice: 0.0,
        anywhere: Vec::new(),
        notes: Vec::new(),
    }
}

/// Every setup but the last as it was judged.
pub fn judged(project: &Project) -> Vec<Judgement> {
    let side = |side: &mut Side, gap: Option<f64>, range: Option<[f64; 2]>, target: f64| {
        side.gap_stops = gap;
        side.stops_range = range.map(|ends| ends.map(|stops| stops + target));
        side.target_stops = target;
    };
    type Known = (Option<f64>, Option<[f64; 2]>, f64);
    let known: [[Known; 2]; 5] = [
        [
            (Some(0.2), None, 0.0),
            (Some(-0.3), Some([-1.1, 0.6]), -1.0),
        ],
        [
            (Some(-1.4), Some([-1.8, -1.0]), 0.0),
            (Some(1.2), Some([0.2, 2.1]), -2.0),
        ],
        [(Some(-5.2), None, -0.5), (None, None, -2.0)],
        [(Some(0.0), None, -1.0), (Some(2.7), None, -2.0)],
        [(None, None, 0.0), (Some(0.4), Some([0.4, 0.4]), 0.0)],
    ];
    let judged = project
        .setups
        .iter()
        .zip(known)
        .map(|(setup, [face, background])| {
            let mut one = judge(project, setup);
            side(&mut one.face, face.0, face.1, face.2);
            side(
                &mut one.background,
                background.0,
                background.1,
                background.2,
            );
            one
        });
    judged.collect()
}

/// All that is drawn of the night.
pub struct Night {
    pub map: SongMap,
    pub project: Project,
    pub place: Place,
    pub curve: Curve,
    pub plan: DayPlan,
    pub conflicts: Vec<Finding>,
    pub power: DayPower,
    pub cards: CardPlan,
    pub counted: coverage::Coverage,
    pub judged: Vec<Judgement>,
}

impl Night {
    pub fn new() -> Self {
        let (map, project) = (song(), project());
        Self {
            place: place(),
            curve: curve(),
            plan: plan(),
            conflicts: conflicts(),
            power: power(),
            cards: cards(),
            counted: counted(&map),
            judged: judged(&project),
            map,
            project,
        }
    }

    pub fn sky(&self) -> Sky<'_> {
        Sky {
            place: &self.place,
            date: DATE,
            curve: &self.curve,
            plan: Some(&self.plan),
        }
    }

    pub fn day(&self) -> DayLine<'_> {
        DayLine {
            project: &self.project,
            date: DATE,
            plan: &self.plan,
            curve: Some(&self.curve),
            sky: &[],
            typed: &[],
            conflicts: &self.conflicts,
            begun: false,
        }
    }

    pub fn power(&self) -> Power<'_> {
        Power {
            project: &self.project,
            date: DATE,
            power: &self.power,
            cards: &self.cards,
        }
    }

    pub fn stops(&self) -> Stops<'_> {
        Stops {
            of: "",
            setups: self.project.setups.iter().collect(),
            judged: &self.judged,
            slack_stops: 0.5,
        }
    }

    pub fn coverage(&self) -> Coverage<'_> {
        Coverage::new(&self.map, &self.project, &self.counted)
    }

    /// Every chart, by name.
    pub fn charts(&self) -> Vec<(&'static str, Box<dyn Chart + '_>)> {
        vec![
            ("sky", Box::new(self.sky())),
            ("day", Box::new(self.day())),
            ("power", Box::new(self.power())),
            ("stops", Box::new(self.stops())),
            ("coverage", Box::new(self.coverage())),
        ]
    }
}
