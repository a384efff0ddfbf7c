//! What a person should know of a setup: as data, and as one sentence each.

use super::pulse::{Pulse, PulseOf};
use super::view::LensThere;
use crate::closing::{Change, Closing};
use crate::colour::White;
use crate::framing;
use crate::gel::{Gel, Green};
use crate::ratio::Ratio;
use model::{FallsOn, FrameRate, Framing, KitId};
use serde::Serialize;

/// A finding with its sentence: lower case, no full stop.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Found {
    /// What was found, with its numbers.
    #[serde(flatten)]
    pub finding: Finding,
    /// The same in words.
    pub says: String,
}

/// What an exposure is of.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum On {
    /// The performer's face.
    Face,
    /// What is behind.
    Background,
}

impl On {
    /// Whether a light that falls on `falls_on` exposes it.
    pub(super) fn lit_by(self, falls_on: FallsOn) -> bool {
        match falls_on {
            FallsOn::Both => true,
            FallsOn::Face => self == Self::Face,
            FallsOn::Background => self == Self::Background,
            FallsOn::Edge => false,
        }
    }

    const fn word(self) -> &'static str {
        match self {
            Self::Face => "face",
            Self::Background => "background",
        }
    }
}

/// What sort of figure is meant.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum What {
    /// Camera figures.
    Camera,
    /// Lens figures.
    Lens,
    /// Filter figures.
    Filter,
    /// Light figures.
    Light,
    /// A sensitivity.
    Iso,
    /// A T-stop.
    TStop,
    /// A focal length.
    Focal,
}

impl What {
    const fn word(self) -> &'static str {
        match self {
            Self::Camera => "camera",
            Self::Lens => "lens",
            Self::Filter => "filter",
            Self::Light => "light",
            Self::Iso => "ISO",
            Self::TStop => "T-stop",
            Self::Focal => "focal length",
        }
    }
}

/// What was found.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(tag = "kind", rename_all = "kebab-case")]
#[allow(
    missing_docs,
    reason = "the fields are named by their unit and the sentence says the rest"
)]
pub enum Finding {
    /// The setup names no camera.
    NoCamera,
    /// Kit that is not there.
    UnknownItem { item: KitId },
    /// Kit without the figures it is used for.
    NoFigures { item: KitId, what: What },
    /// A setting nobody has said and nothing gives.
    Unsaid { what: What },
    /// Figures that can't be computed with.
    NotComputed { why: String },
    /// A photograph whose figures can't be.
    BadPhoto { file: String, why: String },
    /// More sensitivity than the maker wants of the camera.
    BeyondCamera { iso: u32, most: u32 },
    /// A setting the lens does not have.
    BeyondLens {
        what: What,
        value: f64,
        least: f64,
        most: Option<f64>,
    },
    /// Nothing is known of the light that is already there.
    AmbientUnknown { on: On },
    /// It was estimated from photographs.
    AmbientGuessed {
        lux: f64,
        plus_minus_stops: f64,
        photographs: usize,
    },
    /// No light at all.
    Dark { on: On },
    /// An exposure off its target; stops are positive when over.
    Gap {
        on: On,
        stops: f64,
        between: [f64; 2],
        ambient_unknown: bool,
        closings: Vec<Closing>,
    },
    /// A light too near for inverse square.
    InverseSquare { item: KitId, sizes: f64, stops: f64 },
    /// A light dimmed further than it dims.
    TooDim { item: KitId, level: f64, least: f64 },
    /// A gel whose loss is not said.
    GelLoss { item: KitId },
    /// A filter that lifts the shadows.
    Diffusion { item: KitId },
    /// Sources of different colours on one subject.
    Mixed {
        on: On,
        item: KitId,
        against: Option<KitId>,
        own: White,
        other: White,
        gel_there: bool,
        gel: Gel,
    },
    /// Pulsing light that is expected to be seen.
    Flicker {
        pulse: Pulse,
        shutter_deg: f64,
        rate: FrameRate,
    },
    /// A lamp follows mains of unknown frequency.
    MainsUnknown,
    /// Another rate than the brief's.
    OffSpeed {
        shot: FrameRate,
        shown: FrameRate,
        speed: Ratio,
        lost_stops: f64,
    },
    /// The frame holds something else than planned.
    OtherFraming {
        subject_m: f64,
        height_m: f64,
        framing: Framing,
        wanted: Framing,
        wanted_m: f64,
    },
    /// The camera would stand in the wall.
    NoRoom {
        wanted_m: f64,
        room_m: f64,
        focal_mm: f64,
        lens: Option<LensThere>,
    },
    /// Nearer than the lens focuses.
    TooNear {
        subject_m: f64,
        close_focus_m: f64,
        framing_there: Option<Framing>,
    },
    /// The picture is enlarged.
    Enlarged { times: f64, px: [u32; 2] },
    /// Sensor and picture have different shapes.
    SensorShape {
        sensor_mm: [f64; 2],
        frame: [u32; 2],
    },
}

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
            Self::Unsaid { what } => {
                format!("no {} is set, and no lens states one, so exposure is not computed", what.word())
            }
            Self::NotComputed { why } => why.clone(),
            Self::BadPhoto { file, why } => format!("the photograph `{file}` is left out: {why}"),
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
                on.word()
            ),
            Self::AmbientGuessed { lux, plus_minus_stops, photographs } => format!(
                "the ambient light is estimated from {} as {} lux, {} either way; a meter reading would say",
                if *photographs == 1 { "1 photograph".into() } else { format!("{photographs} photographs") },
                figures(*lux),
                stops(*plus_minus_stops)
            ),
            Self::Dark { on } => format!("no light falls on the {}: 0 lux", on.word()),
            Self::Gap { on, stops, between, ambient_unknown, closings } => {
                gap(*on, *stops, *between, *ambient_unknown, closings)
            }
            Self::InverseSquare { item, sizes, stops: less } => format!(
                "`{item}` stands {} times its size away; inverse square is trusted from 5 on, an even disc would give about {} less",
                num(*sizes, 1),
                stops(*less)
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
                "shot at {shot} and shown at {shown}: the song is played at {} times its speed, and the same angle {}",
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
                    "; from there the frame is {}",
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

fn gap(on: On, by: f64, between: [f64; 2], ambient_unknown: bool, closings: &[Closing]) -> String {
    let [low, high] = between;
    let mut text = format!("the {} is {} its target", on.word(), over(by));
    if high - low > 0.05 {
        let range = if low < 0.0 && high > 0.0 {
            format!("{} to {}", over(low), over(high))
        } else {
            format!(
                "{} to {}",
                num(low.abs().min(high.abs()), 1),
                over(if by < 0.0 { low } else { high })
            )
        };
        text.push_str(&format!(" ({range}, as the ambient light is estimated)"));
    } else if ambient_unknown && by < 0.0 {
        text.push_str(", ambient light left out");
    }
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
        text.push_str(&format!(
            "; any one of these closes it: {}",
            able.join(", ")
        ));
        return text;
    }
    // Nothing does it alone: what comes nearest, and what it leaves.
    let nearest = closings
        .iter()
        .filter_map(|closing| closing.nearest.as_ref())
        .min_by(|a, b| a.leaves_stops.abs().total_cmp(&b.leaves_stops.abs()));
    match nearest {
        Some(nearest) => text.push_str(&format!(
            "; nothing closes it alone, {} leaves {}",
            change(&nearest.change),
            over(nearest.leaves_stops)
        )),
        None => text.push_str("; nothing in the plan closes it alone"),
    }
    text
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
        "on the {} `{item}` ({} K) and {against} ({} K) differ by {} mired and {} Duv",
        on.word(),
        num(own.kelvin, 0),
        num(other.kelvin, 0),
        num(gel.mired.abs(), 0),
        num(gel.duv.abs(), 3)
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
    let shows = if pulse.bands {
        "bands or pulsing"
    } else {
        "pulsing"
    };
    let seen = format!(
        "{} degrees at {rate} sees {} pulses",
        num(shutter_deg, 2),
        num(pulse.seen, 2)
    );
    let much = format!(
        "{shows} of up to {} are to be expected",
        stops_fine(pulse.contrast_stops)
    );
    match &pulse.of {
        PulseOf::Mains { mains_hz } => {
            let angles: Vec<String> = pulse
                .safe_angles
                .iter()
                .map(|angle| num(angle.deg.value(), 2))
                .collect();
            let way = match (pulse.nearest_safe, angles.is_empty()) {
                (Some(nearest), _) => format!(
                    "the nearest safe angle is {} degrees (of {})",
                    num(nearest.deg.value(), 2),
                    angles.join(", ")
                ),
                (None, _) => {
                    let rates: Vec<String> =
                        pulse.safe_rates.iter().map(ToString::to_string).collect();
                    if rates.is_empty() {
                        "no angle is safe at this rate; use a light that does not pulse".into()
                    } else {
                        format!(
                            "no angle is safe at this rate, this angle is at {}",
                            rates.join(", ")
                        )
                    }
                }
            };
            format!("under lamps on {mains_hz} Hz mains {seen}: {much}; {way}")
        }
        PulseOf::Dimmed { light } => format!(
            "`{light}` is dimmed by {} pulses a second, and {seen}: {much}; run it full and move it away or diffuse it, or test it with this camera",
            num(pulse.pulses_hz, 0)
        ),
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
