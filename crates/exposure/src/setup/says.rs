//! Findings that take more than a line to say.

use super::pulse::{Pulse, PulseOf};
use super::side::{On, Part};
use crate::closing::{Change, Closing};
use crate::gel::{Gel, Green};
use model::text::number as num;
use model::{Finding, FrameRate};

/// `value` to two or three figures, as light is known.
pub(super) fn figures(value: f64) -> String {
    let digits = match value {
        100.0.. => 0,
        1.0.. => 1,
        _ => 3,
    };
    num(value, digits)
}

/// The size of an exposure difference: `1 stop`, `0.3 stops`.
pub(super) fn stops(value: f64) -> String {
    match num(value.abs(), 1).as_str() {
        "1" => "1 stop".into(),
        other => format!("{other} stops"),
    }
}

/// `1.3 stops under`.
fn over(value: f64) -> String {
    let way = if value < 0.0 { "under" } else { "over" };
    format!("{} {way}", stops(value))
}

/// An exposure off its target by `by` stops, at the least and the most that ambient light may be `between`.
/// `with_face_right`: how far the background is off once the camera has brought the face to its target.
pub(super) fn gap(
    on: On,
    by: f64,
    [low, high]: [f64; 2],
    ambient_unknown: bool,
    with_face_right: Option<f64>,
    closings: &[Closing],
) -> Finding {
    let mut text = format!("the {} is {} its target", on.word(), over(by));
    // A range that shows at one decimal.
    if high - low > 0.05 {
        let range = if low < 0.0 && high > 0.0 {
            format!("{} to {}", over(low), over(high))
        } else {
            let (less, more) = if by < 0.0 { (high, low) } else { (low, high) };
            format!("{} to {}", num(less.abs(), 1), over(more))
        };
        text += &format!(" ({range}, as far as the ambient light is known)");
    } else if ambient_unknown {
        text += ", ambient light left out";
    }
    if let Some(left) = with_face_right {
        let left = match left.abs() < 0.05 {
            true => "right too".into(),
            false => over(left),
        };
        text += &format!(
            "; what the camera changes moves the face as well: with that on its target the background is {left}"
        );
    }
    let mut mends: Vec<String> = closings
        .iter()
        .filter(|closing| closing.within)
        .map(|closing| match closing.flicker_safe {
            Some(false) => format!("{} (not flicker-safe)", change(&closing.change)),
            _ => change(&closing.change),
        })
        .collect();
    if mends.is_empty() {
        text += "; nothing in the plan closes it alone";
        // What comes nearest, and what it leaves.
        let nearest = closings
            .iter()
            .filter_map(|closing| closing.nearest.as_ref())
            .min_by(|a, b| a.leaves_stops.abs().total_cmp(&b.leaves_stops.abs()));
        mends.extend(nearest.map(|nearest| {
            format!(
                "{}, which leaves it {}",
                change(&nearest.change),
                over(nearest.leaves_stops)
            )
        }));
    }
    let mut found = Finding::problem("gap", text);
    found.mends = mends;
    found
}

fn change(change: &Change) -> String {
    match change {
        Change::Iso { iso } => format!("set ISO {}", num(*iso, 0)),
        Change::TStop { t_stop } => format!("set T{}", num(*t_stop, 1)),
        Change::Shutter { deg } => format!("set a shutter of {} degrees", num(*deg, 1)),
        Change::Rate { fps } => format!("shoot at {} frames a second", num(*fps, 1)),
        Change::Filters {
            stops: taken,
            density,
        } => format!(
            "put filters of {} in all (density {}) before the lens",
            stops(*taken),
            num(*density, 2)
        ),
        Change::Distance {
            light, distance_m, ..
        } => format!("put `{light}` at {} m", num(*distance_m, 2)),
        Change::Level { light, level, .. } => {
            format!("set `{light}` to {} %", num(level * 100.0, 1))
        }
    }
}

/// A lamp that differs by `gel` from another, or from ambient light, on one subject.
pub(super) fn mixed(
    on: On,
    part: &Part,
    base: &Part,
    gel_there: bool,
    gel: &Gel,
) -> Option<Finding> {
    let (item, own, other) = (part.light.as_ref()?, part.white?, base.white?);
    let against = base
        .light
        .as_ref()
        .map_or_else(|| "the ambient light".into(), |id| format!("`{id}`"));
    let text = format!(
        "on the {} `{item}` ({} K) and {against} ({} K) differ by {} mired{}",
        on.word(),
        num(own.kelvin, 0),
        num(other.kelvin, 0),
        num(gel.mired.abs(), 0),
        gel.green.map_or_else(String::new, |_| format!(
            " and {} Duv",
            num(gel.duv.abs(), 3)
        ))
    );
    let mut sheets: Vec<String> = Vec::new();
    if let Some(sheet) = gel.sheet {
        sheets.push(format!(
            "{} ({} mired left)",
            sheet.name,
            num(gel.leaves_mired, 0)
        ));
    }
    match gel.green {
        Some(Green::Minus) => sheets.push("minus green".into()),
        Some(Green::Plus) => sheets.push("plus green".into()),
        None => {}
    }
    let found = Finding::warning("mixed", text)
        .about(item)
        .about_all(&base.light);
    if sheets.is_empty() {
        return Some(found);
    }
    let beside = match gel_there {
        true => " beside the gel that is there",
        false => "",
    };
    let put = format!("put {} before `{item}`{beside}", sheets.join(" and "));
    Some(
        found
            .mended_by(put)
            .mended_by("leave them apart on purpose"),
    )
}

/// Pulsing light that is expected to be seen.
pub(super) fn flicker(pulse: &Pulse, shutter_deg: f64, rate: FrameRate) -> Finding {
    let shows = match (pulse.bands, pulse.frames_repeat) {
        (true, true) => "bands that stand still",
        (true, false) => "bands or pulsing",
        (false, _) => "pulsing",
    };
    let seen = format!(
        "{} degrees at {} frames a second sees {} pulses: {shows} of up to {} are to be expected",
        num(shutter_deg, 2),
        num(rate.fps(), 3),
        num(pulse.seen, 2),
        stops_fine(pulse.contrast_stops)
    );
    let nearest = pulse.nearest_safe.map(|angle| num(angle.deg.value(), 2));
    match &pulse.of {
        PulseOf::Mains { mains_hz } => {
            let lamps = match pulse.ambient {
                true => " (ambient light taken for such)",
                false => "",
            };
            let mut text = format!("under lamps on {mains_hz} Hz mains{lamps} {seen}");
            let mend = if let Some(deg) = nearest {
                let of = of_angles(pulse);
                format!("set {deg} degrees, the nearest safe angle{of}")
            } else {
                text += "; no angle is safe at this rate";
                let rates = pulse.safe_rates.iter().map(|rate| num(rate.fps(), 3));
                let rates: Vec<String> = rates.collect();
                if rates.is_empty() {
                    "use a light that does not pulse".into()
                } else {
                    format!(
                        "shoot this angle at {} frames a second, where it is safe",
                        rates.join(", ")
                    )
                }
            };
            Finding::problem("flicker", text).mended_by(mend)
        }
        PulseOf::Dimmed { light, assumed } => {
            let stated = match assumed {
                true => " (assumed; it states none)",
                false => "",
            };
            let text = format!(
                "`{light}` is dimmed by {} pulses a second{stated}, and {seen}; only a test with this camera tells",
                num(pulse.pulses_hz, 0)
            );
            let found = Finding::problem("flicker", text)
                .about(light)
                .mended_by("run it full and move it away or diffuse it");
            match nearest {
                Some(deg) => found.mended_by(format!("set {deg} degrees")),
                None => found,
            }
        }
    }
}

/// The safe angles there are, when they are few enough to read.
fn of_angles(pulse: &Pulse) -> String {
    let angles = pulse.safe_angles.iter();
    let angles: Vec<String> = angles.map(|angle| num(angle.deg.value(), 2)).collect();
    match angles.len() {
        2..=8 => format!(" (of {})", angles.join(", ")),
        _ => String::new(),
    }
}

/// Small differences in hundredths of a stop.
pub(super) fn stops_fine(value: f64) -> String {
    if value >= 1.0 {
        stops(value)
    } else {
        format!("{} stop", num(value, 2))
    }
}
