//! Times a day of 20 setups and 20 batteries with its fixes, and prints what it says.

use model::{Day, Project, Setup};
use power::{card_plan, day_power};
use std::time::Instant;

fn main() -> Result<(), serde_json::Error> {
    let setups: Vec<String> = (0..20)
        .map(|n| {
            let place = ["wash", "stairs", "quay"][(n / 7).min(2)];
            format!(
                r#"{{"id": "s{n}", "place": "{place}", "passes": 4, "optics": {{"camera": "cam"}},
                "lights": [{{"light": "panel", "distance_m": 2}}, {{"light": "tube", "distance_m": 2, "level": 0.8}},
                           {{"light": "bulb", "distance_m": 3, "fed_from": "inv"}}],
                "kit": [{{"item": "monitor"}}, {{"item": "speaker"}}]}}"#
            )
        })
        .collect();
    let text = format!(
        r#"{{"format": 2, "brief": {{"rate": "24", "frame": [1920, 1080]}},
        "places": [{{"id": "wash", "name": "Launderette", "interior": true, "mains": {{"volts": 230, "amperes": 10}},
                     "travel": [{{"to": "stairs", "minutes": 20}}]}},
                   {{"id": "stairs", "name": "Stairs", "travel": [{{"to": "quay", "minutes": 15}}]}},
                   {{"id": "quay", "name": "Quay"}}],
        "kit": [
          {{"id": "cam", "fed_by": ["np"], "camera": {{"sensor_mm": [36, 20], "frame": [3840, 2160], "draws_w": 12,
             "recordings": [{{"name": "normal", "rate": "24", "mbit_s": 400}}]}}}},
          {{"id": "panel", "fed_by": ["v"], "light": {{"candela": 9000, "full_w": 60, "least_w": 6}}}},
          {{"id": "tube", "fed_by": ["dc"], "light": {{"candela": 900, "full_w": 25}}}},
          {{"id": "bulb", "fed_by": ["mains"], "light": {{"candela": 2000, "full_w": 40}}}},
          {{"id": "monitor", "fed_by": ["np"], "draws_w": 8}},
          {{"id": "speaker", "fed_by": ["dc"], "draws_w": 10}},
          {{"id": "lead", "count": 4, "fed_by": ["v"], "feeds": ["dc"]}},
          {{"id": "inv", "fed_by": ["12v"], "inverter": {{"efficiency": 0.88, "idle_w": 5, "most_w": 200}}}},
          {{"id": "np", "count": 8, "feeds": ["np"], "battery": {{"wh": 47.5}}}},
          {{"id": "block", "count": 6, "feeds": ["v"], "battery": {{"wh": 98, "most_w": 140}}}},
          {{"id": "small", "count": 4, "feeds": ["v"], "battery": {{"wh": 50}}}},
          {{"id": "station", "count": 2, "feeds": ["12v"], "battery": {{"wh": 150, "chemistry": "lithium-iron-phosphate"}}}},
          {{"id": "charger", "fed_by": ["mains"], "feeds": ["v"], "charger": {{"into_w": 50, "bays": 2}}}},
          {{"id": "card", "count": 8, "card": {{"gigabytes": 256, "reads_mb_s": 250}}}}
        ], "setups": [{}]}}"#,
        setups.join(",")
    );
    let project: Project = serde_json::from_str(&text)?;
    let day: Day = serde_json::from_str(
        r#"{"id": "night", "date": "2026-10-03", "call": "14:00", "air_c": 8}"#,
    )?;
    let lengths = |_: &Setup| Some(150.0);
    let mut best = f64::INFINITY;
    let rounds = 50;
    let begun = Instant::now();
    for _ in 0..rounds {
        let one = Instant::now();
        let power = day_power(&project, &day, &lengths);
        best = best.min(one.elapsed().as_secs_f64());
        assert_eq!(power.slots.len(), 20);
    }
    let mean = begun.elapsed().as_secs_f64() / f64::from(rounds);
    println!(
        "{:.2} ms a day on the mean, {:.2} at best",
        mean * 1e3,
        best * 1e3
    );
    let power = day_power(&project, &day, &lengths);
    println!(
        "{} spans, {} swaps, {} charges",
        power.spans.len(),
        power.swaps.len(),
        power.charges.len()
    );
    for line in &power.findings {
        println!("note: {line}");
    }
    for line in power.shortages.iter().map(|short| &short.finding) {
        println!("short: {line}");
    }
    for line in &power.fixes {
        println!("fix: {line}");
    }
    let order: Vec<_> = power.slots.iter().map(|slot| slot.setup.clone()).collect();
    let cards = card_plan(&project, &order, &lengths);
    println!("{:.0} GB on {} cards", cards.needed_gb, cards.cards.len());
    Ok(())
}
