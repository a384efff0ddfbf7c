//! A document of the size a finished job has, for the torture run and the store's tests.

use model::Project;
use serde_json::{Value, json};

/// Seeded numbers (SplitMix64: Steele, Lea and Flood, "Fast splittable pseudorandom number
/// generators", 2014).
pub struct Dice(pub u64);

impl Dice {
    /// A number below `limit`.
    pub fn below(&mut self, limit: u64) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        (z ^ (z >> 31)) % limit.max(1)
    }
}

/// Four setups, 24 takes, 60 lyric lines, 40 ideas and six cuts of 60 shots: some 60 kB of JSON.
pub fn project() -> Project {
    let words = "steam climbs the launderette glass while the street outside turns blue";
    let setups: Value = (1..=4)
        .map(|n| {
            json!({
                "id": format!("setup-{n}"),
                "name": format!("window side {n}"),
                "place": format!("place-{n}"),
                "purpose": if n == 4 { "b-roll" } else { "performance" },
                "framing": (["wide", "medium", "close", "detail"][n - 1]),
                "sections": ["A", "B2"],
                "passes": 5,
                "action": words,
                "cautions": ["wet floor: mats down, cables off the ground"],
            })
        })
        .collect();
    let takes: Value = (1..=24)
        .map(|n| {
            json!({
                "id": format!("A001_C{n:03}"),
                "file": { "path": format!("takes/A001_C{n:03}.mov"), "hash": format!("{n:032x}"), "bytes": 80_000_000 + n },
                "setup": format!("setup-{}", n % 4 + 1),
                "pass": n / 4 + 1,
                "rating": (["unrated", "usable", "circled", "no-good"][n % 4]),
                "remark": format!("pass {n}: {words}"),
            })
        })
        .collect();
    let places: Value = (1..=4)
        .map(|n| {
            json!({
                "id": format!("place-{n}"),
                "name": format!("place {n}"),
                "address": words,
                "position_deg": [41.14 + n as f64 * 0.001, -8.61],
            })
        })
        .collect();
    let lyrics: Value = (0..60)
        .map(|n| json!({ "at": [format!("{}.5", n * 2), format!("{}.25", n * 2 + 2)], "text": format!("{words} ({n})") }))
        .collect();
    let cuts: Value = (1..=6)
        .map(|version| {
            json!({ "version": version, "rate": "25", "shots": shots(version), "remark": words })
        })
        .collect();
    let ideas: Value = (0..KEPT_IDEAS)
        .map(|n| json!({ "id": format!("first-{n}"), "at": [format!("{n}"), format!("{}", n + 4)], "text": format!("{words} ({n})") }))
        .collect();
    serde_json::from_value(json!({
        "format": model::FORMAT,
        "title": "Paper Weather",
        "brief": { "artist": "Ilse Quarry", "agreed": words, "fee_minor": 190_000, "currency": "EUR", "rate": "25", "frame": [1920, 1080], "active": [4, 3] },
        "song": { "file": { "path": "song/paper weather.wav", "hash": format!("{:032x}", 77), "bytes": 26_000_000 }, "length": "150", "lyrics": lyrics },
        "ideas": ideas,
        "places": places,
        "states": ["clean", "powdered"],
        "setups": setups,
        "takes": takes,
        "cuts": cuts,
    }))
    .expect("the document above is written in the form the model reads")
}

/// How many ideas the document holds.
pub const KEPT_IDEAS: usize = 40;

/// The sixty shots of cut `version`.
pub fn shots(version: u64) -> Value {
    let mut dice = Dice(version);
    (0..60)
        .map(|n| {
            json!({
                "from_frame": n * 62,
                "to_frame": (n + 1) * 62,
                "take": format!("A001_C{:03}", dice.below(24) + 1),
                "take_start": 28_224_000 * dice.below(900) + 1,
                "speed": 1.0,
                "in_sync": true,
            })
        })
        .collect()
}
