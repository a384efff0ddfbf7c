//! Bands of daylight and dark, as they stand behind a curve or a day.

use crate::clock::{Axis, Span};
use crate::draw::{Hang, joined, rect, text, text_width, upright};
use maud::{Markup, html};
use sky::Daylight;

/// A stretch of one light.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Band {
    pub(crate) light: Daylight,
    pub(crate) at: Span,
}

/// A light in a word or two, where there is little room.
pub(crate) const fn short(light: Daylight) -> &'static str {
    match light {
        Daylight::CivilTwilight => "civil",
        Daylight::NauticalTwilight => "nautical",
        Daylight::AstronomicalTwilight => "astronomical",
        light => light.name(),
    }
}

const fn class(light: Daylight) -> &'static str {
    match light {
        Daylight::Day => "band day",
        Daylight::CivilTwilight => "band civil",
        Daylight::NauticalTwilight => "band nautical",
        Daylight::AstronomicalTwilight => "band astronomical",
        Daylight::Night => "band night",
        Daylight::GoldenHour => "band golden",
        Daylight::BlueHour => "band blue",
    }
}

/// What of `light` lies in `of`, in the order it is laid down: golden and blue hour over the rest.
pub(crate) fn layered(light: &[(Daylight, [f64; 2])], of: Span) -> Vec<Band> {
    let mut kept: Vec<Band> = light
        .iter()
        .filter_map(|(light, at)| {
            let at = Span::from(*at).within(of)?;
            Some(Band { light: *light, at })
        })
        .collect();
    kept.sort_by(|a, b| (a.light.cmp(&b.light)).then(a.at.from_min.total_cmp(&b.at.from_min)));
    kept
}

/// Draws the bands of [`layered`], `thick` px across from `across` on.
pub(crate) fn draw(axis: &Axis, bands: &[Band], across: f64, thick: f64) -> Markup {
    let edge = |band: &Band| {
        let at = band.at.from_min;
        [axis.point(at, across), axis.point(at, across + thick)]
    };
    html! {
        @for band in bands {
            (rect(class(band.light), axis.rect(band.at, across, thick), &format!("{} {}", band.light.name(), band.at.says())))
        }
        // Edges of their own, for eyes and screens that do not tell two shades apart.
        (joined("band-edge", bands.iter().map(edge)))
    }
}

/// The names of what is [`seen`], read upwards from the top of the drawing (time runs across): where the band is wide
/// enough for a line of text and no other lies over its middle.
pub(crate) fn names_upright(axis: &Axis, seen: &[Band], top: f64, tall: f64) -> Markup {
    let name = |band: &Band| {
        let (middle, name) = (axis.px(band.at.middle()), band.light.name());
        let room = text_width(name, 12.0) + 10.0;
        if wide(axis, band) >= room {
            text("small", Hang::Middle, [middle, top + 16.0], name)
        } else if !is_slim(axis, band) && room <= tall {
            upright("small", [middle + 4.3, top + 6.0], name)
        } else {
            Markup::default()
        }
    };
    html! { @for band in seen { (name(band)) } }
}

fn wide(axis: &Axis, band: &Band) -> f64 {
    axis.px(band.at.to_min) - axis.px(band.at.from_min)
}

/// Whether a band is too narrow for a line of text read upwards.
pub(crate) fn is_slim(axis: &Axis, band: &Band) -> bool {
    wide(axis, band) < 10.0
}

/// The parts of the bands of [`layered`] that are seen, those covered by golden and blue hour taken out, in order of
/// time.
pub(crate) fn seen(layered: &[Band]) -> Vec<Band> {
    let mut out: Vec<Band> = Vec::new();
    for (nth, band) in layered.iter().enumerate() {
        let over = layered[nth..].iter();
        let over = over.filter(|other| other.light >= Daylight::GoldenHour);
        let mut parts = vec![band.at];
        for cover in over.filter(|other| other.light > band.light) {
            let before = Span::new(f64::NEG_INFINITY, cover.at.from_min);
            let after = Span::new(cover.at.to_min, f64::INFINITY);
            let left = parts
                .iter()
                .flat_map(|part| [part.within(before), part.within(after)]);
            parts = left.flatten().collect();
        }
        let light = band.light;
        out.extend(parts.into_iter().map(|at| Band { light, at }));
    }
    out.sort_by(|a, b| a.at.from_min.total_cmp(&b.at.from_min));
    out
}
