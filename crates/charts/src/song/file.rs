//! The song strip as an SVG file, for whoever has no page: under the song a row per setup with what was shot (pale)
//! and what the cut shows (solid, in ink where it was placed freely).

use super::strip::{BAND, Kind, PATTERN, ROW, RULER, Row, band_for, cut, ruler_for, shot, wave};
use super::{Scale, section_class};
use crate::draw::{fitted, n};
use crate::style as sheet;
use listen::Zoom;
use maud::{Markup, PreEscaped, html};
use model::{Cut, PlacedTake, Project, SongMap};

/// What is drawn.
#[derive(Clone, Copy, Debug)]
pub struct StripFile<'a> {
    /// What it is called.
    pub title: &'a str,
    /// The song as a ruler.
    pub map: &'a SongMap,
    /// The waveform.
    pub zoom: Option<&'a Zoom>,
    /// The setups: one row each.
    pub project: &'a Project,
    /// The takes, placed.
    pub takes: &'a [PlacedTake],
    /// The cut, when there is one.
    pub cut: Option<&'a Cut>,
}

/// Height of the waveform.
const WAVE: u32 = 88;
/// Room around everything.
const EDGE: f64 = 16.0;
/// The narrowest strip that can be read, the width of a small phone.
pub const LEAST_WIDTH: u32 = 320;

impl StripFile<'_> {
    /// The file, `width` CSS pixels wide (at least [`LEAST_WIDTH`]).
    pub fn svg(&self, width: u32) -> String {
        let width = f64::from(width.max(LEAST_WIDTH));
        // On a phone the names stand above their rows instead of beside them.
        let narrow = width < 700.0;
        let (names, over) = if narrow { (0.0, 16.0) } else { (128.0, 0.0) };
        let (left, top) = (EDGE + names, EDGE + 24.0);
        let span = width - left - EDGE;
        let rows = self.rows();
        let head = f64::from(BAND + WAVE + RULER);
        let row = f64::from(ROW) + over + 2.0;
        let below = head + 4.0 + row * rows.len() as f64;
        let foot = if self.cut.is_some() { 28.0 } else { 0.0 };
        let height = top + below + foot + EDGE;
        let scale = Scale::of(self.map);
        let text = html! {
            svg.strip xmlns="http://www.w3.org/2000/svg" width=(width) height=(n(height)) viewBox=(format!("0 0 {width} {}", n(height))) role="img" {
                title { (self.title) }
                style { (PreEscaped(style(narrow))) }
                (PATTERN)
                rect.paper width="100%" height="100%" {}
                text.name x=(EDGE) y=(EDGE + 10.0) { (fitted(self.title, width - 2.0 * EDGE, 15.0)) }
                svg x=(n(left)) y=(n(top)) width=(n(span)) height=(n(below)) {
                    @for section in &self.map.sections {
                        @let x = scale.at(section.at.start().seconds());
                        line.edge x1=(x) x2=(x) y1="0" y2="100%" {}
                    }
                    (band_for(self.map, [span; 2]))
                    g transform=(format!("translate(0 {BAND})")) { (wave(self.map, self.zoom, WAVE)) }
                    g transform=(format!("translate(0 {})", BAND + WAVE)) { (ruler_for(self.map, [span; 2])) }
                }
                @for (nth, one) in rows.iter().enumerate() {
                    @let y = top + head + 4.0 + row * nth as f64;
                    text x=(EDGE) y=(n(y + if narrow { 12.0 } else { 15.0 })) { (fitted(&one.name, if narrow { span } else { names - 8.0 }, 12.0)) }
                    svg x=(n(left)) y=(n(y + over)) width=(n(span)) height=(ROW) { (one.draw(scale)) }
                }
                @if self.cut.is_some() { (legend(narrow, left, top + below + 8.0)) }
            }
        };
        // What XML 1.0 has no place for (section 2.2).
        let odd = |c: char| c.is_control() || matches!(c, '\u{FFFE}' | '\u{FFFF}');
        text.into_string().replace(odd, " ") + "\n"
    }

    fn rows(&self) -> Vec<Row> {
        let mut rows = shot(self.project, self.takes, &|_| None);
        for span in rows.iter_mut().flat_map(|(_, row)| &mut row.spans) {
            span.kind = Kind::Pale;
        }
        let mut black = Row::new("black");
        let shots = self.cut.map(|one| cut(self.project, one));
        for (take, span) in shots.into_iter().flatten() {
            let known = take.and_then(|id| self.takes.iter().find(|known| known.id == *id));
            let own = known.map(|take| take.setup.as_ref());
            match own.and_then(|own| rows.iter_mut().find(|(setup, _)| *setup == own)) {
                Some((_, row)) => row.spans.push(span),
                None => black.spans.push(span),
            }
        }
        let black = Some(black).filter(|row| !row.spans.is_empty());
        rows.into_iter().map(|(_, row)| row).chain(black).collect()
    }
}

/// What the kinds of blocks mean.
fn legend(narrow: bool, left: f64, y: f64) -> Markup {
    let words = if narrow {
        [("shot", 0.0), ("cut, in sync", 62.0), ("cut, free", 170.0)]
    } else {
        [
            ("shot", 0.0),
            ("in the cut, where it was heard", 70.0),
            ("in the cut, placed freely", 290.0),
        ]
    };
    html! {
        g.strip-row {
            @for ((says, x), kind) in words.into_iter().zip([Kind::Pale, Kind::Solid, Kind::Outline]) {
                g class=(kind.class()) { rect x=(n(left + x)) y=(n(y)) width="12" height="12" {} }
                text x=(n(left + x + 18.0)) y=(n(y + 10.5)) { (says) }
            }
        }
    }
}

/// What the file wears: the strip's own style by day, every property put in its place, since not every program that
/// opens an SVG file knows custom properties.
fn style(narrow: bool) -> String {
    let hidden = if narrow { ".roomy" } else { ".tight" };
    let mut css = format!(
        "svg{{font-family:system-ui,sans-serif;font-size:12px}}{hidden}{{display:none}}.paper{{fill:var(--paper)}}.edge{{stroke:var(--line)}}"
    );
    for letter in 'A'..='G' {
        let class = section_class(&letter.to_string());
        css += &format!(".{class}{{color:var(--{class})}}");
    }
    css += &sheet::STRIP.replace("var(--hue)", "currentColor");
    // Beside what is pale, what was placed freely is told best by ink.
    css += ".strip>text{font-size:12px}.strip>.name{font-size:15px;font-weight:600}.strip-row .pale rect{stroke:none}.strip-row .outline rect{fill:var(--ink)}";
    sheet::by_day(&css)
}
