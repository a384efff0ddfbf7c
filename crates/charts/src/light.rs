//! Bands of daylight and dark, as they stand behind a curve or a day.

use crate::clock::{Axis, Span};
use crate::draw::{Svg, text_width};

/// What the sky gives.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Light {
    /// The sun is up.
    Day,
    /// Civil twilight.
    CivilTwilight,
    /// Nautical twilight.
    NauticalTwilight,
    /// Astronomical twilight.
    AstronomicalTwilight,
    /// Full night.
    Night,
    /// Golden hour; lies over day and twilight.
    GoldenHour,
    /// Blue hour; lies over twilight.
    BlueHour,
}

impl Light {
    /// In words.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Day => "day",
            Self::CivilTwilight => "civil twilight",
            Self::NauticalTwilight => "nautical twilight",
            Self::AstronomicalTwilight => "astronomical twilight",
            Self::Night => "night",
            Self::GoldenHour => "golden hour",
            Self::BlueHour => "blue hour",
        }
    }

    /// In a word or two, where there is little room.
    pub(crate) const fn short(self) -> &'static str {
        match self {
            Self::CivilTwilight => "civil",
            Self::NauticalTwilight => "nautical",
            Self::AstronomicalTwilight => "astronomical",
            light => light.name(),
        }
    }

    /// Its class in the style sheet.
    pub(crate) const fn class(self) -> &'static str {
        match self {
            Self::Day => "band day",
            Self::CivilTwilight => "band civil",
            Self::NauticalTwilight => "band nautical",
            Self::AstronomicalTwilight => "band astronomical",
            Self::Night => "band night",
            Self::GoldenHour => "band golden",
            Self::BlueHour => "band blue",
        }
    }
}

/// A stretch of one light.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Band {
    /// Which.
    pub light: Light,
    /// When.
    pub at: Span,
}

impl Band {
    /// `light` over `at`.
    pub const fn new(light: Light, at: Span) -> Self {
        Self { light, at }
    }
}

/// Bands in the order they are laid down: golden and blue hour over the rest.
fn layered(bands: &[Band], of: Span) -> Vec<Band> {
    let mut kept: Vec<Band> = bands
        .iter()
        .filter_map(|band| Some(Band::new(band.light, band.at.within(of)?)))
        .collect();
    kept.sort_by(|a, b| (a.light.cmp(&b.light)).then(a.at.from_min.total_cmp(&b.at.from_min)));
    kept
}

/// Draws the bands, `thick` px across from `across` on.
pub(crate) fn draw(svg: &mut Svg, axis: &Axis, bands: &[Band], across: f64, thick: f64) {
    for band in layered(bands, axis.of) {
        let says = format!("{} {}", band.light.name(), band.at.says());
        svg.rect(band.light.class(), axis.rect(band.at, across, thick), &says);
        // An edge of its own, for eyes and screens that do not tell two shades apart.
        let from = band.at.from_min;
        svg.line(
            "band-edge",
            axis.point(from, across),
            axis.point(from, across + thick),
        );
    }
}

/// Their names, read upwards from the top of the drawing (time runs across): where the band is wide
/// enough for a line of text and no other lies over its middle.
pub(crate) fn names_upright(svg: &mut Svg, axis: &Axis, bands: &[Band], top: f64, tall: f64) {
    let size = 12.0;
    for band in seen(bands, axis.of) {
        let (from, to) = (axis.px(band.at.from_min), axis.px(band.at.to_min));
        let name = band.light.name();
        let middle = (from + to) / 2.0;
        if to - from >= text_width(name, size) + 10.0 {
            svg.text(
                "",
                [middle, top + 16.0],
                size,
                crate::draw::Hang::Middle,
                name,
            );
        } else if !is_slim(axis, &band) && text_width(name, size) + 10.0 <= tall {
            svg.upright("", [middle + size * 0.36, top + 6.0], size, name);
        }
    }
}

/// Whether a band is too narrow for a line of text read upwards.
pub(crate) fn is_slim(axis: &Axis, band: &Band) -> bool {
    axis.px(band.at.to_min) - axis.px(band.at.from_min) < 10.0
}

/// The parts of the bands that are seen, those covered by golden and blue hour taken out.
pub(crate) fn seen(bands: &[Band], of: Span) -> Vec<Band> {
    let layered = layered(bands, of);
    let over = |light: Light| matches!(light, Light::GoldenHour | Light::BlueHour);
    let mut out = Vec::new();
    for band in &layered {
        let mut parts = vec![band.at];
        if !over(band.light) {
            for cover in layered.iter().filter(|other| over(other.light)) {
                parts = parts
                    .into_iter()
                    .flat_map(|part| {
                        [
                            part.within(Span::new(f64::NEG_INFINITY, cover.at.from_min)),
                            part.within(Span::new(cover.at.to_min, f64::INFINITY)),
                        ]
                    })
                    .flatten()
                    .collect();
            }
        }
        out.extend(parts.into_iter().map(|at| Band::new(band.light, at)));
    }
    out.sort_by(|a, b| a.at.from_min.total_cmp(&b.at.from_min));
    out
}
