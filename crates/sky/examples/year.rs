//! How long a year of one place's sky takes: every event of 365 days.
//!
//! ```text
//! cargo run --package sky --example year
//! ```
//!
//! Prints a line for a reader and one of JSON for `cargo xtask bench`; see `checks/README.md`.

use std::time::Instant;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let zone = sky::Zone::named("Europe/Lisbon")?;
    let first = "2026-01-01".parse::<sky::Date>()?;
    let mut took_ms = Vec::new();
    let mut events = 0;
    for round in 0..15 {
        let place = sky::Place::new(-60.0 + f64::from(round) * 9.0, -8.61)?;
        // The best of three, since other programs run as well.
        let mut best_ms = f64::INFINITY;
        for _ in 0..3 {
            let started = Instant::now();
            let days = sky::days(&place, &zone, first, 365, &sky::Bands::default())?;
            best_ms = best_ms.min(started.elapsed().as_secs_f64() * 1e3);
            events += days.iter().map(|day| day.events.len()).sum::<usize>();
        }
        took_ms.push(best_ms);
    }
    took_ms.sort_by(f64::total_cmp);
    let median = took_ms[took_ms.len() / 2];
    println!(
        "a year of sky: {median:.1} ms (median of {} places), {} events a year",
        took_ms.len(),
        events / took_ms.len() / 3
    );
    println!(
        r#"{{"bench": "a year of one place's sky", "unit": "ms", "figure": {median:.2}, "reference": 50.0, "against": "the time it should keep to"}}"#
    );
    Ok(())
}
