//! The song across a drawing: its sections by letter and shade, and where a second of it stands.

use crate::draw::{Hang, Svg, text_width};
use model::SongMap;

/// Song time across a drawing.
pub(crate) struct SongAxis {
    left: f64,
    span: f64,
    length_s: f64,
}

impl SongAxis {
    pub(crate) fn new(map: &SongMap, left: f64, span: f64) -> Self {
        Self {
            left,
            span,
            length_s: map.length.seconds().max(0.001),
        }
    }

    /// Where `at_s` stands, never outside the song.
    pub(crate) fn px(&self, at_s: f64) -> f64 {
        let at_s = if at_s.is_finite() { at_s } else { 0.0 };
        self.left + self.span * (at_s / self.length_s).clamp(0.0, 1.0)
    }

    /// The head of the drawing: each section's letter and name over its shade, and a line down from its start.
    pub(crate) fn head(&self, svg: &mut Svg, map: &SongMap, top: f64, tall: f64, down: f64) {
        for (index, section) in map.sections.iter().enumerate() {
            let (x0, x1) = (
                self.px(section.at.start().seconds()),
                self.px(section.at.end().seconds()),
            );
            section_head(svg, map, index, [x0, top, x1 - x0, tall]);
            svg.line("section-edge", [x0, top], [x0, top + down]);
        }
    }
}

/// A section's head in the given rectangle.
pub(crate) fn section_head(svg: &mut Svg, map: &SongMap, index: usize, [x, y, w, h]: [f64; 4]) {
    let Some(section) = map.sections.get(index) else {
        return;
    };
    let says = format!(
        "section {} from {} to {}",
        called(map, index),
        section.at.start(),
        section.at.end()
    );
    let class = format!("section-head section-{}", class_letter(map, index));
    svg.rect(&class, [x, y, w, h], &says);
    svg.text(
        "strong",
        [x + 4.0, y + h / 2.0 + 4.4],
        12.0,
        Hang::Start,
        &label(map, index, w - 6.0),
    );
}

/// The section's call with its name, its call alone, or nothing: a clipped name says less than none.
fn label(map: &SongMap, index: usize, room: f64) -> String {
    [called(map, index), map.section_call(index)]
        .into_iter()
        .find(|text| text_width(text, 12.0) <= room)
        .unwrap_or_default()
}

/// `B2 chorus`.
pub(crate) fn called(map: &SongMap, index: usize) -> String {
    match &map.sections[index].name {
        Some(name) => format!("{} {name}", map.section_call(index)),
        None => map.section_call(index),
    }
}

/// The style sheet's letter for a section: one for each music, in the order they come.
pub(crate) fn class_letter(map: &SongMap, index: usize) -> char {
    let mut labels: Vec<&str> = Vec::new();
    for section in &map.sections[..=index] {
        if !labels.contains(&section.label.as_str()) {
            labels.push(&section.label);
        }
    }
    let own = map.sections[index].label.as_str();
    let nth = labels.iter().position(|label| *label == own).unwrap_or(0);
    char::from(b'a' + (nth % 7) as u8)
}

/// `1:02`, minutes and seconds of the song.
pub(crate) fn song_clock(at_s: f64) -> String {
    let whole = if at_s.is_finite() {
        at_s.clamp(-1e6, 1e6).round() as i64
    } else {
        0
    };
    let sign = if whole < 0 { "−" } else { "" };
    let whole = whole.abs();
    format!("{sign}{}:{:02}", whole / 60, whole % 60)
}
