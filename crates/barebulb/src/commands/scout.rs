//! `barebulb scout`: photographs from a walk become places; what is known of each, and what is
//! still to ask.

use crate::arguments::Scout;
use crate::screen::Screen;
use crate::{End, commands};
use model::metering::LightFrom;
use model::{Place, PlaceId, Project};
use scout::{PhotoReport, PlaceReport};
use std::fmt::Write as _;
use steps::{ByHand, Job, ScoutOptions, Scouted};

pub fn run(args: &Scout, screen: &Screen) -> anyhow::Result<End> {
    let mut job = Job::open(&args.dir)?;
    let place = match &args.place {
        Some(id) => Some(by_hand(job.project(), id)?),
        None => None,
    };
    let options = ScoutOptions {
        grouping: scout::Options {
            within_m: args.within,
            within_min: args.minutes,
        },
        place,
    };
    let scouted = job.scout(&args.photos, &options, screen)?;
    let end = commands::tell(&scouted.trouble, screen);
    for note in &scouted.notes {
        if scouted
            .trouble
            .iter()
            .all(|trouble| trouble.says != note.says)
        {
            screen.finding(note);
        }
    }
    if !args.photos.is_empty() {
        let known = match scouted.known {
            0 => String::new(),
            known => format!(", {known} already there"),
        };
        let count = match scouted.brought {
            1 => "1 photograph".to_owned(),
            count => format!("{count} photographs"),
        };
        screen.line(&format!("{count} brought in{known}"));
    }
    screen.result(&scouted, || table(&scouted));
    Ok(end)
}

/// The place called `id`, or a new one of that name.
fn by_hand(project: &Project, id: &str) -> anyhow::Result<ByHand> {
    let id = PlaceId::new(id).map_err(anyhow::Error::msg)?;
    let was = project.place(&id).cloned();
    let place = was
        .clone()
        .unwrap_or_else(|| Place::new(id.clone(), id.as_str()));
    Ok(ByHand { place, was })
}

/// The places as text.
fn table(scouted: &Scouted) -> String {
    if scouted.places.is_empty() {
        return "no places yet; bring photographs from a walk with `barebulb scout DIR PHOTO...`, or begin one with `barebulb add DIR places.NAME`\n".into();
    }
    let each: Vec<String> = scouted.places.iter().map(place).collect();
    each.join("\n")
}

fn place(place: &PlaceReport) -> String {
    let mut text = place.id.clone();
    if place.name != place.id && !place.name.is_empty() {
        let _ = write!(text, " ({})", place.name);
    }
    if let Some([latitude, longitude]) = place.position_deg {
        let _ = write!(text, ", {latitude:.5}, {longitude:.5}");
    }
    if let Some(bearing) = place.bearing_deg {
        let _ = write!(text, ", runs {bearing:.0}°");
    }
    text.push('\n');
    if let Some(light) = place.light {
        let _ = writeln!(
            text,
            "  light: about {} lux, ±{}, {}",
            rounded(light.lux),
            stops(light.stops_uncertainty),
            match light.source {
                LightFrom::Meter => "by a meter",
                LightFrom::Photographs => "by its photographs",
            }
        );
    }
    for one in &place.photos {
        photo(&mut text, one);
    }
    if !place.to_ask.is_empty() {
        let _ = writeln!(text, "  still to ask: {}", place.to_ask.join(", "));
    }
    text
}

fn photo(text: &mut String, photo: &PhotoReport) {
    let taken = photo
        .taken
        .as_deref()
        .map_or_else(|| "no time".to_owned(), |taken| taken.replace('T', " "));
    let bearing = photo.bearing_deg.map_or_else(String::new, |bearing| {
        let north = if photo.bearing_is_magnetic { "M" } else { "" };
        format!("{bearing:.0}°{north}")
    });
    let mut settings = Vec::new();
    settings.extend(photo.exposure_s.map(exposure));
    settings.extend(photo.f_number.map(|number| format!("f/{}", short(number))));
    settings.extend(photo.iso.map(|iso| format!("ISO {}", short(iso))));
    settings.extend(
        photo
            .bias_stops
            .filter(|bias| *bias != 0.0)
            .map(|bias| format!("{bias:+.1}")),
    );
    let light = match (photo.illuminance_lux, photo.uncertainty_stops) {
        (Some(lux), Some(uncertainty)) => {
            format!("{} lux ±{}", rounded(lux), stops(uncertainty))
        }
        _ => String::new(),
    };
    let name = photo.file.rsplit(['/', '\\']).next().unwrap_or_default();
    let line = format!(
        "  {taken:<22} {bearing:>5}  {:<28} {light:<22} {name}",
        settings.join(" ")
    );
    let _ = writeln!(text, "{}", line.trim_end());
    for note in &photo.notes {
        let _ = writeln!(text, "    {note}");
    }
}

/// `1/30 s`, `0.5 s`.
fn exposure(seconds: f64) -> String {
    if seconds < 0.3 {
        format!("1/{:.0} s", 1.0 / seconds)
    } else {
        format!("{} s", short(seconds))
    }
}

/// At most two decimals, none that say nothing.
fn short(number: f64) -> String {
    let text = format!("{number:.2}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

/// Two figures: more would promise more than is known.
fn rounded(lux: f64) -> String {
    if lux <= 0.0 || !lux.is_finite() {
        return "0".into();
    }
    let place = 10f64.powf(lux.log10().floor() - 1.0);
    let value = (lux / place).round() * place;
    let decimals = (1.0 - lux.log10().floor()).clamp(0.0, 6.0) as usize;
    format!("{value:.decimals$}")
}

fn stops(stops: f64) -> String {
    let text = format!("{stops:.1}");
    match text.strip_suffix(".0").unwrap_or(&text) {
        "1" => "1 stop".to_owned(),
        number => format!("{number} stops"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn light_is_told_in_two_figures() {
        for (lux, told) in [
            (26.507, "27"),
            (55_850.5, "56000"),
            (0.1234, "0.12"),
            (0.995, "1.00"),
            (1.0, "1.0"),
            (123_456.0, "120000"),
            (9.96, "10.0"),
            (0.000_123, "0.00012"),
            (0.0, "0"),
        ] {
            assert_eq!(rounded(lux), told, "{lux}");
        }
        assert_eq!(
            (exposure(1.0 / 30.0), exposure(0.5), short(1.8), stops(1.25)),
            (
                "1/30 s".into(),
                "0.5 s".into(),
                "1.8".into(),
                "1.2 stops".into()
            )
        );
    }
}
