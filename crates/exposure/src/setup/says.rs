//! Findings in words: lower case, no full stop.

use super::ambient::AmbientFrom;
use super::finding::{Finding, Gap, On, What};
use super::pulse::{Pulse, PulseOf};
use crate::closing::{Change, Closing};
use crate::colour::White;
use crate::framing;
use crate::gel::{Gel, Green};
use model::{FrameRate, KitId};

impl Finding {
    /// In words: lower case, no full stop.
    pub fn sentence(&self) -> String {
        match self {
            Self::NoCamera => "the setup names no camera, so only its light is computed".into(),
            Self::UnknownItem { item } => format!("`{item}` is not in the kit"),
            Self::NoFigures { item, what } => {
                format!("the kit item `{item}` has no {} figures", what.word())
            }
            Self::Unsaid { what: What::Iso } => {
                "no ISO is set, and the camera states no base ISO, so exposure is not computed".into()
            }
            Self::Unsaid { what: What::Focal } => {
                "no focal length is set, and no lens states one, so the view is not computed".into()
            }
            Self::NoSuchRate { item, rate } => format!(
                "`{item}` lists no recording at {} frames a second",
                num(rate.fps(), 3)
            ),
            Self::Unsaid { what } => {
                format!("no {} is set, and no lens states one, so exposure is not computed", what.word())
            }
            Self::NotComputed { why } => why.clone(),
            Self::BeyondCamera { iso, most } => {
                format!("ISO {iso} is more than the {most} wanted of the camera at most")
            }
            Self::BeyondLens { what, value, least, most } => {
                let range = most.map_or_else(
                    || format!("starts at {}", num(*least, 2)),
                    |most| format!("goes from {} to {}", num(*least, 2), num(most, 2)),
                );
                format!("a {} of {} is set, and the lens {range}", what.word(), num(*value, 2))
            }
            Self::AmbientUnknown { on } => format!(
                "the ambient light on the {} is not known and counts as none; meter it, or photograph the place",
                on.iter().map(|on| on.word()).collect::<Vec<_>>().join(" and ")
            ),
            Self::AmbientGuessed { lux, plus_minus_stops, from, told_by } => {
                let (of, would_say) = match from {
                    AmbientFrom::Reading => ("meter reading", "the setup's own ambient light"),
                    _ => ("photograph", "a meter reading"),
                };
                format!(
                    "the ambient light is estimated from {told_by} {of}{} as {} lux, {} either way; {would_say} would say",
                    if *told_by == 1 { "" } else { "s" },
                    figures(*lux),
                    stops(*plus_minus_stops)
                )
            }
            Self::Dark { on } => format!("no light falls on the {}: 0 lux", on.word()),
            Self::Gap(gap) => gap_says(gap),
            Self::InverseSquare { item, sizes, trusted, stops: less } => format!(
                "`{item}` stands {} times its size away; inverse square is trusted from {} on, an even disc would give about {} less there",
                num(*sizes, 1),
                num(*trusted, 1),
                stops_fine(*less)
            ),
            Self::TooDim { item, level, least } => format!(
                "`{item}` is dimmed to {} %, and goes down to {} %; move it away or diffuse it",
                num(level * 100.0, 1),
                num(least * 100.0, 1)
            ),
            Self::GelLoss { item } => format!(
                "the gel before `{item}` takes light that is not said, so none is counted; full CTO takes about 2/3 stop, full CTB 1.5 to 2"
            ),
            Self::Diffusion { item } => format!(
                "`{item}` spreads light into the shadows, so the background reads lighter than computed"
            ),
            Self::Mixed { on, item, against, own, other, gel_there, gel } => {
                mixed(*on, item, against.as_ref(), [*own, *other], *gel_there, gel)
            }
            Self::Flicker { pulse, shutter_deg, rate } => flicker(pulse, *shutter_deg, *rate),
            Self::MainsUnknown => "a lamp follows the mains, and the place does not say whether they have 50 or 60 Hz; both are computed".into(),
            Self::OffSpeed { shot, shown, speed, lost_stops } => format!(
                "shot at {} and shown at {} frames a second: the song is played at {} times its speed, and the same angle {}",
                num(shot.fps(), 3),
                num(shown.fps(), 3),
                num(speed.value(), 4),
                if *lost_stops >= 0.0 {
                    format!("loses {}", stops(*lost_stops))
                } else {
                    format!("gains {}", stops(*lost_stops))
                }
            ),
            Self::OtherFraming { subject_m, height_m, framing, wanted, wanted_m } => format!(
                "at {} m the frame holds {} m, which is {}; {} is had from {} m",
                num(*subject_m, 2),
                num(*height_m, 2),
                framing::word(*framing),
                framing::word(*wanted),
                num(*wanted_m, 2)
            ),
            Self::NoRoom { wanted_m, room_m, focal_mm, lens } => format!(
                "the camera would stand {} m away and has {} m; {} mm or shorter does it, {}",
                num(*wanted_m, 2),
                num(*room_m, 2),
                num(*focal_mm, 1),
                lens.as_ref().map_or_else(
                    || "and no lens of the kit is that short".into(),
                    |lens| format!("such as `{}` at {} mm", lens.item, num(lens.focal_mm, 1))
                )
            ),
            Self::TooNear { subject_m, close_focus_m, framing_there } => format!(
                "the subject is {} m away, nearer than the {} m the lens focuses from{}",
                num(*subject_m, 2),
                num(*close_focus_m, 2),
                framing_there.map_or_else(String::new, |framing| format!(
                    "; from there the framing is {}",
                    framing::word(framing)
                ))
            ),
            Self::Enlarged { times, px: [across, up] } => format!(
                "only {across} x {up} recorded pixels are delivered, so the picture is enlarged {} times",
                num(*times, 2)
            ),
            Self::SensorShape { sensor_mm: [w, h], frame: [across, up] } => format!(
                "{} x {} mm of sensor and {across} x {up} pixels have different shapes; check them, or expect a squeezed picture",
                num(*w, 2),
                num(*h, 2)
            ),
        }
    }
}

/// `value` with at most `digits` decimals, no needless zeros.
fn num(value: f64, digits: usize) -> String {
    let text = format!("{value:.digits$}");
    let text = if text.contains('.') {
        text.trim_end_matches('0').trim_end_matches('.')
    } else {
        &text
    };
    if text == "-0" {
        "0".into()
    } else {
        text.into()
    }
}

/// `value` to two or three figures, as light is known.
fn figures(value: f64) -> String {
    let digits = if value >= 100.0 {
        0
    } else if value >= 1.0 {
        1
    } else {
        3
    };
    num(value, digits)
}

/// The size of an exposure difference: `1 stop`, `0.3 stops`.
fn stops(value: f64) -> String {
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

fn gap_says(gap: &Gap) -> String {
    let (by, [low, high]) = (gap.stops, gap.between);
    let mut text = format!("the {} is {} its target", gap.on.word(), over(by));
    // A range that shows at one decimal.
    if high - low > 0.05 {
        let range = if low < 0.0 && high > 0.0 {
            format!("{} to {}", over(low), over(high))
        } else {
            let (less, more) = if by < 0.0 { (high, low) } else { (low, high) };
            format!("{} to {}", num(less.abs(), 1), over(more))
        };
        text.push_str(&format!(" ({range}, as the ambient light is estimated)"));
    } else if gap.ambient_unknown {
        text.push_str(", ambient light left out");
    }
    text.push_str(&closed_by(&gap.closings));
    if let Some(left) = gap.with_face_right {
        let left = if left.abs() < 0.05 {
            "right too".into()
        } else {
            over(left)
        };
        text.push_str(&format!(
            "; what the camera changes moves the face as well: with that on its target the background is {left}"
        ));
    }
    text
}

fn closed_by(closings: &[Closing]) -> String {
    let able: Vec<String> = closings
        .iter()
        .filter(|closing| closing.within)
        .map(|closing| {
            let unsafe_angle = closing.flicker_safe == Some(false);
            let change = change(&closing.change);
            if unsafe_angle {
                format!("{change} (not flicker-safe)")
            } else {
                change
            }
        })
        .collect();
    if !able.is_empty() {
        return format!("; any one of these closes it: {}", able.join(", "));
    }
    // Nothing does it alone: what comes nearest, and what it leaves.
    let nearest = closings
        .iter()
        .filter_map(|closing| closing.nearest.as_ref())
        .min_by(|a, b| a.leaves_stops.abs().total_cmp(&b.leaves_stops.abs()));
    match nearest {
        Some(nearest) => format!(
            "; nothing closes it alone, {} leaves it {}",
            change(&nearest.change),
            over(nearest.leaves_stops)
        ),
        None => "; nothing in the plan closes it alone".into(),
    }
}

fn change(change: &Change) -> String {
    match change {
        Change::Iso { iso } => format!("ISO {}", num(*iso, 0)),
        Change::TStop { t_stop } => format!("T{}", num(*t_stop, 1)),
        Change::Shutter { deg } => format!("a shutter of {} degrees", num(*deg, 1)),
        Change::Rate { fps } => format!("{} frames a second", num(*fps, 1)),
        Change::Filters {
            stops: taken,
            density,
        } => format!(
            "filters of {} in all (density {})",
            stops(*taken),
            num(*density, 2)
        ),
        Change::Distance {
            light, distance_m, ..
        } => {
            format!("`{light}` at {} m", num(*distance_m, 2))
        }
        Change::Level { light, level, .. } => {
            format!("`{light}` at {} %", num(level * 100.0, 1))
        }
    }
}

fn mixed(
    on: On,
    item: &KitId,
    against: Option<&KitId>,
    [own, other]: [White; 2],
    gel_there: bool,
    gel: &Gel,
) -> String {
    let against = against.map_or_else(|| "the ambient light".into(), |id| format!("`{id}`"));
    let mut text = format!(
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
    if !sheets.is_empty() {
        let beside = if gel_there {
            " beside the gel that is there"
        } else {
            ""
        };
        text.push_str(&format!(
            "; {} before `{item}`{beside} brings it there, or leave them apart on purpose",
            sheets.join(" and ")
        ));
    }
    text
}

fn flicker(pulse: &Pulse, shutter_deg: f64, rate: FrameRate) -> String {
    let shows = match (pulse.bands, pulse.frames_repeat) {
        (true, true) => "bands that stand still",
        (true, false) => "bands or pulsing",
        (false, _) => "pulsing",
    };
    let seen = format!(
        "{} degrees at {} frames a second sees {} pulses",
        num(shutter_deg, 2),
        num(rate.fps(), 3),
        num(pulse.seen, 2)
    );
    let much = format!(
        "{shows} of up to {} are to be expected",
        stops_fine(pulse.contrast_stops)
    );
    match &pulse.of {
        PulseOf::Mains { mains_hz } => {
            let way = match pulse.nearest_safe {
                Some(nearest) => format!(
                    "the nearest safe angle is {} degrees{}",
                    num(nearest.deg.value(), 2),
                    of_angles(pulse)
                ),
                None => {
                    let rates: Vec<String> = pulse
                        .safe_rates
                        .iter()
                        .map(|rate| num(rate.fps(), 3))
                        .collect();
                    if rates.is_empty() {
                        "no angle is safe at this rate; use a light that does not pulse".into()
                    } else {
                        format!(
                            "no angle is safe at this rate, this angle is at {} frames a second",
                            rates.join(", ")
                        )
                    }
                }
            };
            let lamps = if pulse.ambient {
                " (ambient light taken for such)"
            } else {
                ""
            };
            format!("under lamps on {mains_hz} Hz mains{lamps} {seen}: {much}; {way}")
        }
        PulseOf::Dimmed { light, assumed } => format!(
            "`{light}` is dimmed by {} pulses a second{}, and {seen}: {much}; run it full and move it away or diffuse it{}; test it with this camera",
            num(pulse.pulses_hz, 0),
            if *assumed {
                " (assumed; it states none)"
            } else {
                ""
            },
            pulse.nearest_safe.map_or_else(String::new, |angle| format!(
                ", or set {} degrees",
                num(angle.deg.value(), 2)
            ))
        ),
    }
}

/// The safe angles there are, when they are few enough to read.
fn of_angles(pulse: &Pulse) -> String {
    let angles: Vec<String> = pulse
        .safe_angles
        .iter()
        .map(|angle| num(angle.deg.value(), 2))
        .collect();
    if (2..=8).contains(&angles.len()) {
        format!(" (of {})", angles.join(", "))
    } else {
        String::new()
    }
}

/// Small differences in hundredths of a stop.
fn stops_fine(value: f64) -> String {
    if value >= 1.0 {
        stops(value)
    } else {
        format!("{} stop", num(value, 2))
    }
}
