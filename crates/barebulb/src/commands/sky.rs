//! `barebulb sky`: sun, moon and twilight over a place on a date.

use crate::End;
use crate::arguments::Sky;
use crate::screen::Screen;
use model::Date;
use sky::{Bands, Interval, Question, Report, Side, Stays, What, When};
use std::fmt::Write as _;
use std::path::Path;
use std::time::{SystemTime, UNIX_EPOCH};
use steps::Job;

/// The time of day for which positions are given when none is asked for.
const NOON: &str = "12:00";

pub fn run(args: &Sky, screen: &Screen) -> anyhow::Result<End> {
    if let Some(dir) = &args.dir {
        return of_project(dir, args, screen);
    }
    let (Some(lat), Some(lon), Some(tz)) = (args.lat, args.lon, &args.tz) else {
        anyhow::bail!("the sky needs a project, or --lat, --lon and --tz");
    };
    let place = sky::Place::new(lat, lon)?;
    let zone = sky::Zone::named(tz)?;
    let date = match date(args)? {
        Some(date) => date.civil(),
        None => {
            let since = SystemTime::now().duration_since(UNIX_EPOCH);
            zone.date_at_unix(since.map_or(0, |since| since.as_secs()))
        }
    };
    let report = sky::report(&Question {
        place,
        zone,
        date,
        at: sky::clock(args.at.as_deref().unwrap_or(NOON))?,
        horizon: args.horizon.as_deref().unwrap_or_default().parse()?,
        bearing_deg: args.bearing,
        bands: Bands::default(),
    })?;
    report.notes.iter().for_each(|note| screen.finding(note));
    screen.result(&report, || text(&report, args));
    Ok(End::Done)
}

/// The date that was typed.
fn date(args: &Sky) -> anyhow::Result<Option<Date>> {
    let read = args.date.as_deref().map(str::parse).transpose();
    read.map_err(anyhow::Error::msg)
}

/// The sky over the places of a project.
fn of_project(dir: &Path, args: &Sky, screen: &Screen) -> anyhow::Result<End> {
    let job = Job::open(dir)?;
    let (skies, notes) = job.skies(args.place.as_deref(), date(args)?, args.at.as_deref())?;
    let own = skies.iter().flat_map(|one| &one.sky.notes);
    notes
        .iter()
        .chain(own)
        .for_each(|note| screen.finding(note));
    if skies.is_empty() {
        anyhow::bail!(
            "no place of this project has a position and a time zone; scout it, or write both into the plan"
        );
    }
    let result = serde_json::json!({ "places": skies, "notes": notes });
    screen.result(&result, || {
        let each = skies.iter().map(|one| {
            let day = one
                .day
                .as_ref()
                .map_or(String::new(), |day| format!(", day `{day}`"));
            format!(
                "{} (`{}`){day}\n{}",
                one.name,
                one.place,
                text(&one.sky, args)
            )
        });
        each.collect::<Vec<_>>().join("\n")
    });
    Ok(End::Done)
}

fn text(report: &Report, args: &Sky) -> String {
    let mut text = String::new();
    let _ = writeln!(
        text,
        "{}, {}, {}\n",
        report.date,
        coordinates(report),
        report.zone
    );
    day(&mut text, report);
    sky_at(&mut text, report, args);
    text
}

fn coordinates(report: &Report) -> String {
    let side = |value: f64, plus: char, minus: char| {
        let side = if value < 0.0 { minus } else { plus };
        format!("{:.4}° {side}", value.abs())
    };
    format!(
        "{} {}",
        side(report.latitude_deg, 'N', 'S'),
        side(report.longitude_deg, 'E', 'W')
    )
}

fn row(text: &mut String, what: &str, found: &str) {
    let _ = writeln!(text, "{what:<18} {found}");
}

/// The events of the day, then its stretches of light.
fn day(text: &mut String, report: &Report) {
    for event in &report.events {
        let what = words(event.what);
        let direction = compass(event.azimuth_deg);
        let extra = match event.what {
            What::Sunrise | What::Sunset | What::Moonrise | What::Moonset => {
                format!("   {:>3.0}° {direction}", event.azimuth_deg)
            }
            What::SolarNoon => report
                .sun
                .day
                .noon_altitude_deg
                .map_or(String::new(), |up| format!("   {up:>3.0}° up")),
            _ => String::new(),
        };
        row(text, what, &format!("{}{extra}", event.at.clock()));
    }
    for (body, stays) in [
        ("sun", report.sun.day.stays),
        ("moon", report.moon.day.stays),
    ] {
        match stays {
            Stays::Crosses => {}
            Stays::Up => row(text, body, "up all day"),
            Stays::Down => row(text, body, "down all day"),
        }
    }
    text.push('\n');
    row(text, "golden hour", &stretches(&report.golden_hour, report));
    row(text, "blue hour", &stretches(&report.blue_hour, report));
    row(text, "direct sun", &stretches(&report.direct_sun, report));
    if let Some(along) = &report.bearing {
        for passing in &along.passings {
            let what = match passing.light_from {
                Side::Ahead => "sun ahead",
                Side::Behind => "sun behind",
                Side::Right => "sun from right",
                Side::Left => "sun from left",
            };
            row(
                text,
                what,
                &format!(
                    "{}   along {:.0}°",
                    passing.at.clock(),
                    along.now.bearing_deg
                ),
            );
        }
    }
    text.push('\n');
}

/// Where things stand at the time asked for, and the moon's phases.
fn sky_at(text: &mut String, report: &Report, args: &Sky) {
    if args.at.is_some() {
        at_the_time(text, report);
    }
    let moon = &report.moon.at;
    let course = if moon.waxing { "waxing" } else { "waning" };
    row(
        text,
        "moon lit",
        &format!("{:.0}%, {course}", moon.illuminated_fraction * 100.0),
    );
    for next in &report.moon.next_phases {
        let what = match next.phase {
            sky::Phase::NewMoon => "next new moon",
            sky::Phase::FirstQuarter => "next first quarter",
            sky::Phase::FullMoon => "next full moon",
            sky::Phase::LastQuarter => "next last quarter",
        };
        row(
            text,
            what,
            &format!("{} {}", next.at.date(), next.at.clock()),
        );
    }
}

fn at_the_time(text: &mut String, report: &Report) {
    let (sun, moon) = (&report.sun.at, &report.moon.at);
    let _ = writeln!(text, "at {}", report.at.clock());
    let stand = |altitude: f64, azimuth: f64| {
        let height = if altitude < 0.0 { "below" } else { "up" };
        format!(
            "{:.1}° {height}, {:.1}° {}",
            altitude.abs(),
            azimuth,
            compass(azimuth)
        )
    };
    row(
        text,
        "sun",
        &stand(sun.altitude_refracted_deg, sun.azimuth_deg),
    );
    row(
        text,
        "moon",
        &stand(moon.altitude_refracted_deg, moon.azimuth_deg),
    );
    if let Some(shadow) = &report.shadow {
        row(
            text,
            "shadows",
            &format!(
                "fall to {:.0}° {}, {:.1} times the height",
                shadow.azimuth_deg,
                compass(shadow.azimuth_deg),
                shadow.length_factor
            ),
        );
    }
    if let Some(along) = &report.bearing {
        let from = match along.now.light_from {
            Side::Ahead => "ahead",
            Side::Behind => "behind",
            Side::Right => "the right",
            Side::Left => "the left",
        };
        row(
            text,
            "street",
            &format!(
                "{:.0}°, light from {from}, {:.0}° off its line",
                along.now.bearing_deg, along.now.sun_from_line_deg
            ),
        );
    }
    row(
        text,
        "light, open sky",
        &format!(
            "{} lx, of it {} lx moonlight (clear sky, no lamps)",
            lux(report.light.total_lux),
            lux(report.light.moonlight_lux)
        ),
    );
    text.push('\n');
}

fn stretches(found: &[Interval], report: &Report) -> String {
    let whole = |one: &Interval| one.from == report.day_starts && one.to == report.day_ends;
    match found {
        [] => "none".to_owned(),
        [one] if whole(one) => "all day".to_owned(),
        many => many
            .iter()
            .map(|one| format!("{}–{}", one.from.clock(), end(one.to, report)))
            .collect::<Vec<_>>()
            .join("  "),
    }
}

/// The end of the day is 24:00, not the next day's 00:00.
fn end(at: When, report: &Report) -> String {
    if at == report.day_ends {
        "24:00".to_owned()
    } else {
        at.clock()
    }
}

fn words(what: What) -> &'static str {
    match what {
        What::AstronomicalDawn => "astronomical dawn",
        What::NauticalDawn => "nautical dawn",
        What::CivilDawn => "civil dawn",
        What::Sunrise => "sunrise",
        What::SolarNoon => "solar noon",
        What::Sunset => "sunset",
        What::CivilDusk => "civil dusk",
        What::NauticalDusk => "nautical dusk",
        What::AstronomicalDusk => "astronomical dusk",
        What::Moonrise => "moonrise",
        What::Moonset => "moonset",
        What::NewMoon => "new moon",
        What::FirstQuarter => "first quarter",
        What::FullMoon => "full moon",
        What::LastQuarter => "last quarter",
    }
}

fn compass(azimuth_deg: f64) -> &'static str {
    const POINTS: [&str; 8] = ["N", "NE", "E", "SE", "S", "SW", "W", "NW"];
    POINTS[(azimuth_deg / 45.0).round() as usize % 8]
}

/// Two figures, which is more than the sky keeps to.
fn lux(value: f64) -> String {
    if value == 0.0 {
        return "0".to_owned();
    }
    let places = 1 - value.log10().floor() as i32;
    let scale = 10_f64.powi(-places);
    let rounded = (value / scale).round() * scale;
    format!("{rounded:.*}", usize::try_from(places).unwrap_or(0))
}
