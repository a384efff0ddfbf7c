//! The song strip as SVG: the waveform, its sections and bars, and under it a row per setup with
//! what was shot (pale) and what the cut shows (solid).
//!
//! It draws numbers that others computed and computes none itself. Everything drawn also stands as
//! text in the picture (`title` elements), and nothing is said by colour alone: sections carry
//! their letter, rows their name, black its word. It knows no files, no fonts of its own, no pages.
//!
//! # Conventions
//! Left to right is song time, scaled to the whole width but for the names at the left. Sizes are
//! in CSS pixels. Colours of sections are the qualitative set of Okabe and Ito (Color Universal
//! Design, 2008), safe for colour-blind readers.

use model::{Cut, PlacedTake, Setup, SetupId, SongMap, SongTime, Stretch};
use std::fmt::Write as _;

/// What is drawn.
#[derive(Clone, Copy, Debug)]
pub struct Strip<'a> {
    /// What it is called.
    pub title: &'a str,
    /// The song as a ruler.
    pub map: &'a SongMap,
    /// The waveform.
    pub wave: Wave<'a>,
    /// The setups in their order: one row each.
    pub setups: &'a [Setup],
    /// The takes, placed.
    pub takes: &'a [PlacedTake],
    /// The cut, when there is one.
    pub cut: Option<&'a Cut>,
}

/// The waveform: lowest and highest value per column, −127 to 127.
#[derive(Clone, Copy, Debug)]
pub struct Wave<'a> {
    /// Columns a second.
    pub columns_per_s: u32,
    /// Lowest value per column.
    pub low: &'a [i8],
    /// Highest value per column.
    pub high: &'a [i8],
}

/// Okabe and Ito's set without black, darkest uses last.
const SECTION_COLOURS: [&str; 7] = [
    "#E69F00", "#56B4E9", "#009E73", "#F0E442", "#0072B2", "#D55E00", "#CC79A7",
];
const PAPER: &str = "#FBF7EF";
const INK: &str = "#241F1A";
const FAINT: &str = "#D9D0C1";
const TUNGSTEN: &str = "#C2621B";
const SHOT: &str = "#F0DDC6";

/// Height of the waveform.
const WAVE: f64 = 88.0;
/// Height of the line of section letters.
const LETTERS: f64 = 26.0;
/// Height of one setup's row.
const ROW: f64 = 24.0;
/// Room around everything.
const EDGE: f64 = 16.0;
/// The narrowest strip that can be read, the width of a small phone.
pub const LEAST_WIDTH: u32 = 320;

/// The strip as an SVG file, `width` CSS pixels wide (at least [`LEAST_WIDTH`]).
pub fn svg(strip: &Strip, width: u32) -> String {
    let width = f64::from(width.max(LEAST_WIDTH));
    // On a phone the names stand above their rows instead of beside them.
    let narrow = width < 700.0;
    let names = if narrow { 0.0 } else { 128.0 };
    let frame = Frame {
        left: EDGE + names,
        span: width - 2.0 * EDGE - names,
        seconds: strip.map.length.seconds().max(0.001),
        narrow,
    };
    let rows = rows(strip);
    let mut out = String::new();
    let row_height = if narrow { ROW + 16.0 } else { ROW };
    let top = EDGE + 24.0;
    let foot = if strip.cut.is_some() { 28.0 } else { 8.0 };
    let height = top + LETTERS + WAVE + 10.0 + row_height * rows.len() as f64 + foot + EDGE;
    let _ = write!(
        out,
        r#"<svg xmlns="http://www.w3.org/2000/svg" width="{width:.0}" height="{height:.0}" viewBox="0 0 {width:.0} {height:.0}" role="img" font-family="system-ui, sans-serif" font-size="12" fill="{INK}"><title>{}</title><rect width="100%" height="100%" fill="{PAPER}"/>"#,
        escaped(strip.title)
    );
    let _ = write!(
        out,
        r#"<text x="{EDGE}" y="{:.1}" font-size="15" font-weight="600">{}</text>"#,
        EDGE + 10.0,
        escaped(&clipped(strip.title, (width / 9.0) as usize))
    );
    sections(
        &mut out,
        strip,
        &frame,
        top,
        LETTERS + WAVE + 10.0 + row_height * rows.len() as f64,
    );
    wave(&mut out, strip, &frame, top + LETTERS);
    bars(&mut out, strip, &frame, top + LETTERS + WAVE);
    let mut y = top + LETTERS + WAVE + 10.0;
    for row in &rows {
        draw_row(&mut out, row, &frame, y, row_height);
        y += row_height;
    }
    if strip.cut.is_some() {
        legend(&mut out, &frame, y + 8.0);
    }
    out.push_str("</svg>\n");
    out
}

/// What the three kinds of blocks mean.
fn legend(out: &mut String, frame: &Frame, y: f64) {
    let words: [(&str, &str, f64); 3] = if frame.narrow {
        [
            (SHOT, "shot", 62.0),
            (TUNGSTEN, "cut, in sync", 108.0),
            (INK, "cut, free", 0.0),
        ]
    } else {
        [
            (SHOT, "shot", 70.0),
            (TUNGSTEN, "in the cut, where it was heard", 220.0),
            (INK, "in the cut, placed freely", 0.0),
        ]
    };
    let mut x = frame.left;
    for (colour, says, step) in words {
        let _ = write!(
            out,
            r#"<rect x="{x:.1}" y="{y:.1}" width="12" height="12" fill="{colour}"/><text x="{:.1}" y="{:.1}">{says}</text>"#,
            x + 18.0,
            y + 10.5
        );
        x += step;
    }
}

struct Frame {
    left: f64,
    span: f64,
    seconds: f64,
    narrow: bool,
}

impl Frame {
    fn x(&self, at: SongTime) -> f64 {
        self.left + self.span * (at.seconds() / self.seconds).clamp(0.0, 1.0)
    }
}

/// One row: a setup, or everything that has none.
struct Row {
    name: String,
    shot: Vec<(Stretch, String)>,
    cut: Vec<CutPiece>,
}

struct CutPiece {
    at: Stretch,
    says: String,
    in_sync: bool,
    locked: bool,
}

fn rows(strip: &Strip) -> Vec<Row> {
    let empty = |name: String| Row {
        name,
        shot: Vec::new(),
        cut: Vec::new(),
    };
    let mut rows: Vec<(Option<SetupId>, Row)> = strip
        .setups
        .iter()
        .map(|setup| {
            let name = if setup.name.is_empty() {
                setup.id.to_string()
            } else {
                setup.name.clone()
            };
            (Some(setup.id.clone()), empty(name))
        })
        .collect();
    if strip.takes.iter().any(|take| take.setup.is_none()) {
        rows.push((None, empty("no setup".into())));
    }
    for take in strip.takes {
        let Some((_, row)) = rows.iter_mut().find(|(setup, _)| *setup == take.setup) else {
            continue;
        };
        let heard = take.placement.runs.iter().filter_map(model::Run::on_song);
        row.shot
            .extend(heard.map(|at| (at, format!("{} shot over {at}", take.id))));
    }
    let mut black = Vec::new();
    if let Some(cut) = strip.cut {
        for shot in &cut.shots {
            let at = |frame: i64| SongTime::from_ticks(cut.rate.ticks_of_frame(frame));
            let Some(at) = Stretch::new(at(shot.from_frame), at(shot.to_frame)) else {
                continue;
            };
            let take = shot.take.as_ref();
            let setup = take
                .and_then(|id| strip.takes.iter().find(|known| known.id == *id))
                .map(|known| known.setup.clone());
            let says = format!(
                "{at} shows {}{}",
                take.map_or("black", |id| id.as_str()),
                if shot.locked { ", locked" } else { "" }
            );
            let piece = CutPiece {
                at,
                says,
                in_sync: shot.in_sync,
                locked: shot.locked,
            };
            match setup.and_then(|setup| rows.iter_mut().find(|(id, _)| *id == setup)) {
                Some((_, row)) => row.cut.push(piece),
                None => black.push(piece),
            }
        }
    }
    let mut rows: Vec<Row> = rows.into_iter().map(|(_, row)| row).collect();
    if !black.is_empty() {
        rows.push(Row {
            name: "black".into(),
            shot: Vec::new(),
            cut: black,
        });
    }
    rows
}

fn sections(out: &mut String, strip: &Strip, frame: &Frame, top: f64, height: f64) {
    let mut letters: Vec<&str> = Vec::new();
    for (index, section) in strip.map.sections.iter().enumerate() {
        let nth = letters
            .iter()
            .position(|letter| *letter == section.label)
            .unwrap_or_else(|| {
                letters.push(&section.label);
                letters.len() - 1
            });
        let colour = SECTION_COLOURS[nth % SECTION_COLOURS.len()];
        let (x0, x1) = (frame.x(section.at.start()), frame.x(section.at.end()));
        let call = strip.map.section_call(index);
        let name = section
            .name
            .as_deref()
            .map(|name| format!(" {name}"))
            .unwrap_or_default();
        // The whole call, or the letter alone, or nothing: a clipped name says less than none.
        // 7.6 px is a generous mean width of a semibold 12 px letter.
        let room = ((x1 - x0 - 7.0) / 7.6).max(0.0) as usize;
        let whole = format!("{call}{name}");
        let label = [whole.as_str(), call.as_str()]
            .into_iter()
            .find(|text| text.chars().count() <= room)
            .unwrap_or("");
        let _ = write!(
            out,
            r#"<g><title>{} from {} to {}</title><rect x="{x0:.1}" y="{top:.1}" width="{:.1}" height="{LETTERS}" fill="{colour}" opacity="0.38"/><rect x="{x0:.1}" y="{:.1}" width="{:.1}" height="3" fill="{colour}"/><text x="{:.1}" y="{:.1}" font-weight="600">{}</text></g><path d="M{x0:.1} {top:.1}v{height:.1}" stroke="{FAINT}"/>"#,
            escaped(&format!("section {call}{name}")),
            section.at.start(),
            section.at.end(),
            (x1 - x0).max(0.0),
            top + LETTERS - 3.0,
            (x1 - x0).max(0.0),
            x0 + 5.0,
            top + 17.0,
            escaped(label),
        );
    }
}

fn wave(out: &mut String, strip: &Strip, frame: &Frame, top: f64) {
    let columns = strip.wave.low.len().min(strip.wave.high.len());
    if columns == 0 {
        return;
    }
    let middle = top + WAVE / 2.0;
    let scale = (WAVE / 2.0 - 4.0) / 127.0;
    // One column of the drawing per pixel and a half: finer can't be seen.
    let pixels = (frame.span / 1.5).ceil().max(1.0) as usize;
    let mut path = String::new();
    for pixel in 0..pixels {
        let per_s = f64::from(strip.wave.columns_per_s.max(1));
        let at = |p: usize| ((p as f64 / pixels as f64) * frame.seconds * per_s) as usize;
        let from = at(pixel).min(columns - 1);
        let to = at(pixel + 1).clamp(from + 1, columns.max(from + 1));
        let high = strip.wave.high[from..to.min(columns)]
            .iter()
            .copied()
            .max()
            .unwrap_or(0);
        let low = strip.wave.low[from..to.min(columns)]
            .iter()
            .copied()
            .min()
            .unwrap_or(0);
        let x = frame.left + (pixel as f64 + 0.5) * frame.span / pixels as f64;
        let _ = write!(
            path,
            "M{x:.1} {:.1}V{:.1}",
            middle - f64::from(high) * scale - 0.4,
            middle - f64::from(low) * scale + 0.4
        );
    }
    let _ = write!(
        out,
        r#"<path d="{path}" stroke="{INK}" stroke-width="1" fill="none" opacity="0.8"><title>waveform</title></path>"#
    );
}

fn bars(out: &mut String, strip: &Strip, frame: &Frame, y: f64) {
    let pixels_a_bar = frame.span / strip.map.bars.len().max(1) as f64;
    // Every bar has its tick; numbers only where they find room.
    let each = [1, 2, 4, 8, 16, 32, 64]
        .into_iter()
        .find(|each| f64::from(*each) * pixels_a_bar >= 26.0)
        .unwrap_or(128);
    let mut path = String::new();
    for bar in &strip.map.bars {
        let x = frame.x(bar.at.start());
        let long = bar.number % each == 1 || each == 1;
        let _ = write!(path, "M{x:.1} {y:.1}v{}", if long { 6 } else { 3 });
        if long && bar.number > 0 {
            let _ = write!(
                out,
                r#"<text x="{:.1}" y="{:.1}" font-size="9" opacity="0.7" style="font-variant-numeric:tabular-nums">{}</text>"#,
                x + 2.0,
                y - 1.0,
                bar.number
            );
        }
    }
    let _ = write!(
        out,
        r#"<path d="{path}" stroke="{INK}" stroke-width="0.8" fill="none" opacity="0.6"/>"#
    );
}

fn draw_row(out: &mut String, row: &Row, frame: &Frame, y: f64, height: f64) {
    let bar_y = if frame.narrow { y + 17.0 } else { y + 4.0 };
    let bar_height = ROW - 8.0;
    let (x, text_y, room) = if frame.narrow {
        (frame.left, y + 12.0, (frame.span / 6.5) as usize)
    } else {
        (EDGE, y + 16.0, 18)
    };
    let _ = write!(
        out,
        r#"<text x="{x:.1}" y="{text_y:.1}">{}</text><path d="M{:.1} {:.1}h{:.1}" stroke="{FAINT}" stroke-width="0.7"/>"#,
        escaped(&clipped(&row.name, room)),
        frame.left,
        y + height - 0.5,
        frame.span
    );
    for (at, says) in &row.shot {
        let _ = write!(
            out,
            r#"<rect x="{:.1}" y="{bar_y:.1}" width="{:.1}" height="{bar_height}" fill="{SHOT}"><title>{}</title></rect>"#,
            frame.x(at.start()),
            (frame.x(at.end()) - frame.x(at.start())).max(1.0),
            escaped(says)
        );
    }
    for piece in &row.cut {
        let (x0, x1) = (frame.x(piece.at.start()), frame.x(piece.at.end()));
        let fill = if piece.in_sync { TUNGSTEN } else { INK };
        let edge = if piece.locked {
            format!(r#" stroke="{INK}" stroke-width="2""#)
        } else {
            String::new()
        };
        let _ = write!(
            out,
            r#"<rect x="{x0:.1}" y="{bar_y:.1}" width="{:.1}" height="{bar_height}" fill="{fill}"{edge}><title>{}</title></rect>"#,
            (x1 - x0 - 0.7).max(0.7),
            escaped(&piece.says)
        );
    }
}

/// Text that stands in an SVG as it is meant; control characters become spaces.
fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            // Characters XML 1.0 has no place for (section 2.2).
            '\u{FFFE}' | '\u{FFFF}' => out.push('\u{FFFD}'),
            c if c.is_control() => out.push(' '),
            c => out.push(c),
        }
    }
    out
}

/// At most `room` characters, the last an ellipsis when some had to go.
fn clipped(text: &str, room: usize) -> String {
    if text.chars().count() <= room {
        return text.to_owned();
    }
    match room {
        0 => String::new(),
        room => text.chars().take(room - 1).chain(['…']).collect(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use model::{Bar, Length, Section};
    use proptest::prelude::*;

    fn map(bars: u32) -> SongMap {
        let at = |bar: u32| SongTime::nearest_to_seconds(f64::from(bar) * 2.0);
        let stretch = |from: u32, to: u32| Stretch::new(at(from), at(to)).unwrap();
        SongMap {
            length: Length::nearest_to_seconds(f64::from(bars) * 2.0),
            tempo_bpm: 120.0,
            beats_per_bar: 4,
            beats: (0..bars * 4)
                .map(|beat| SongTime::nearest_to_seconds(f64::from(beat) * 0.5))
                .collect(),
            downbeats: (0..bars as usize).map(|bar| bar * 4).collect(),
            bars: (0..bars)
                .map(|bar| Bar {
                    number: bar + 1,
                    at: stretch(bar, bar + 1),
                    energy: 0.5,
                    voice: 0.5,
                })
                .collect(),
            sections: vec![
                Section {
                    label: "A".into(),
                    name: Some("verse <1> & \"x\"".into()),
                    at: stretch(0, bars / 2),
                    energy: 0.2,
                    voiced: 0.5,
                },
                Section {
                    label: "B".into(),
                    name: None,
                    at: stretch(bars / 2, bars),
                    energy: 0.9,
                    voiced: 0.5,
                },
            ],
        }
    }

    #[test]
    fn what_is_said_is_escaped_and_there_as_text() {
        let map = map(16);
        let setups: Vec<Setup> = Vec::new();
        let wave: Vec<i8> = vec![10; 640];
        let strip = Strip {
            title: "<b>",
            map: &map,
            wave: Wave {
                columns_per_s: 20,
                low: &wave,
                high: &wave,
            },
            setups: &setups,
            takes: &[],
            cut: None,
        };
        let text = svg(&strip, 1440);
        assert!(text.contains("<title>&lt;b&gt;</title>"));
        assert!(
            text.contains(
                "section A verse &lt;1&gt; &amp; &quot;x&quot; from 0:00.000 to 0:16.000"
            )
        );
        assert!(!text.contains("NaN") && !text.contains("inf"));
    }

    proptest! {
        #[test]
        fn any_numbers_give_a_whole_picture(width in 0u32..5000, bars in 2u32..300, columns in 0usize..2000, title in "\\PC{0,40}", per_s in 0u32..200) {
            let map = map(bars);
            let wave: Vec<i8> = vec![-5; columns];
            let strip = Strip { title: &title, map: &map, wave: Wave { columns_per_s: per_s, low: &wave, high: &wave }, setups: &[], takes: &[], cut: None };
            let text = svg(&strip, width);
            prop_assert!(text.starts_with("<svg") && text.ends_with("</svg>\n"));
            prop_assert_eq!(text.matches("<g>").count(), text.matches("</g>").count());
            let bad = text.contains("NaN") || text.contains("=\"-") || text.contains("inf\"");
            prop_assert!(!bad, "{}", text);
        }
    }
}
