//! The pieces of the song strip: sections, waveform, bars, energy and voice, and the rows that lie under them.
//!
//! What must be stretched (waveform, ticks) is a drawing inside the drawing that gives up its aspect.

use super::{Scale, section_class, section_label, section_says, song_clock, song_clocks};
use crate::draw::text_width;
use listen::Zoom;
use maud::{Markup, html};
use model::{Cut, LyricLine, PlacedTake, Project, Rating, Section, SetupId, SongMap};
use model::{Stretch, TakeId};
use std::fmt::Write as _;

/// Pixels the song surely has on a narrow page, and on a wide one (from 60 rem on) beside the names of the rows.
pub(super) const PAGE: [f64; 2] = [320.0, 760.0];
/// Height of the band of sections, pixels.
pub(super) const BAND: u32 = 24;
/// Height of the ruler of bars.
pub(super) const RULER: u32 = 16;
/// Height of energy and voice.
const ENERGY: u32 = 20;
/// Height of a row's drawing. The pages' style knows it too.
pub(super) const ROW: u32 = 22;
/// Columns of the waveform: finer can't be told apart at 1440 pixels.
const COLUMNS: usize = 720;
/// Parts of the width that ticks and steps are placed by.
const PARTS: f64 = 10_000.0;
/// A voice is likely from here on, 0 to 1.
const VOICED: f32 = 0.5;

/// One row.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Row {
    /// What it is called.
    pub name: String,
    /// What lies in it. Later ones lie over earlier ones.
    pub spans: Vec<Span>,
}

/// A part of the song that something is said of.
#[derive(Clone, Debug, PartialEq)]
pub struct Span {
    /// Its start in the song, seconds.
    pub from_s: f64,
    /// Its end, seconds.
    pub to_s: f64,
    /// How it is drawn.
    pub kind: Kind,
    /// What it says, for whoever points at it or has it read out.
    pub words: String,
    /// What is written inside, as far as there is room; empty for nothing.
    pub inside: String,
    /// Where it leads.
    pub href: Option<String>,
}

/// How a span is drawn. The kinds differ in form, not in colour alone.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// A pale block: it is there.
    Pale,
    /// Hatched: it is meant to be.
    Hatched,
    /// A full block: it is what counts.
    Solid,
    /// The same with a strong edge: it is what counts, and stays.
    Locked,
    /// An outline: it is there and does not count.
    Outline,
}

impl Kind {
    pub(super) const fn class(self) -> &'static str {
        match self {
            Self::Pale => "pale",
            Self::Hatched => "hatched",
            Self::Solid => "solid",
            Self::Locked => "solid locked",
            Self::Outline => "outline",
        }
    }
}

impl Span {
    /// A span over `at` that says `words`.
    pub fn over(at: Stretch, kind: Kind, words: impl Into<String>) -> Self {
        Self {
            from_s: at.start().seconds(),
            to_s: at.end().seconds(),
            kind,
            words: words.into(),
            inside: String::new(),
            href: None,
        }
    }

    /// The same with `text` written inside.
    pub fn with_inside(self, inside: impl Into<String>) -> Self {
        let inside = inside.into();
        Self { inside, ..self }
    }

    /// The same, leading to `href`.
    pub fn to(self, href: impl Into<String>) -> Self {
        let href = Some(href.into());
        Self { href, ..self }
    }

    fn draw(&self, scale: Scale) -> Markup {
        let hatched = (self.kind == Kind::Hatched).then_some("url(#strip-hatch)");
        let inside = by_room(scale.part(self.from_s, self.to_s), PAGE, |room| {
            // A few letters cut off say nothing, a good part of a sentence does.
            let first: String = self.inside.chars().take(8).collect();
            let fits = !first.is_empty() && text_width(&first, 11.2) + 8.0 <= room;
            fits.then(|| self.inside.clone())
        });
        html! {
            svg class=(self.kind.class()) x=(scale.at(self.from_s)) width=(scale.width(self.from_s, self.to_s)) height=(ROW) {
                title { (self.words) }
                rect x="0.5" y="2.5" width="100%" height=(ROW - 5) fill=[hatched] {}
                @for (text, class) in inside { text class=[class] x="4" y="15" { (text) } }
            }
        }
    }
}

impl Row {
    /// A row of this name with nothing in it yet.
    pub fn new(name: &str) -> Self {
        Self {
            name: name.to_owned(),
            spans: Vec::new(),
        }
    }

    /// The row without its name.
    pub fn draw(&self, scale: Scale) -> Markup {
        html! {
            svg.strip-row width="100%" height=(ROW) role="group" aria-label=[(!self.name.is_empty()).then_some(&self.name)] {
                @for span in &self.spans {
                    @if let Some(href) = &span.href { a href=(href) aria-label=(span.words) { (span.draw(scale)) } }
                    @else { (span.draw(scale)) }
                }
            }
        }
    }
}

/// The texture of what is hatched; stands once on a page.
pub const PATTERN: maud::PreEscaped<&str> = maud::PreEscaped(
    r#"<defs><pattern id="strip-hatch" width="6" height="6" patternUnits="userSpaceOnUse" patternTransform="rotate(45)"><path class="hatch" d="M0 0h2.4v6H0z"></path></pattern></defs>"#,
);

/// The texts for what fills `share` of the song, by the pixels there are, each with the class that shows it: nothing
/// is ever written in part.
fn by_room(
    share: f64,
    [narrow, wide]: [f64; 2],
    best: impl Fn(f64) -> Option<String>,
) -> Vec<(String, Option<&'static str>)> {
    match (best(share * narrow), best(share * wide)) {
        (narrow, wide) if narrow == wide => narrow.map(|text| (text, None)).into_iter().collect(),
        (narrow, wide) => {
            let wide = wide.map(|text| (text, Some("roomy")));
            let narrow = narrow.map(|text| (text, Some("tight")));
            wide.into_iter().chain(narrow).collect()
        }
    }
}

fn ends(section: &Section) -> (f64, f64) {
    (section.at.start().seconds(), section.at.end().seconds())
}

/// The band of sections: letter and name on the letter's colour.
pub fn band(map: &SongMap) -> Markup {
    band_for(map, PAGE)
}

/// The same for a song that has so many pixels, narrow and wide.
pub(super) fn band_for(map: &SongMap, pixels: [f64; 2]) -> Markup {
    let scale = Scale::of(map);
    html! {
        svg.strip-band width="100%" height=(BAND) aria-hidden="true" {
            @for (index, section) in map.sections.iter().enumerate() {
                @let (from, to) = ends(section);
                svg class=(section_class(&section.label)) x=(scale.at(from)) width=(scale.width(from, to)) height=(BAND) {
                    title { (section_says(map, index)) }
                    rect.tint width="100%" height=(BAND) {}
                    rect.edge-line width="100%" y=(BAND - 3) height="3" {}
                    @for (text, class) in by_room(scale.part(from, to), pixels, |room| section_label(map, index, room - 10.0, 13.2)) {
                        text class=[class] x="5" y="15" { (text) }
                    }
                    line x1="0" x2="0" y1="0" y2=(BAND) {}
                }
            }
        }
    }
}

/// The waveform, `height` pixels tall where the style says nothing else, over the pale colours of its sections.
pub fn wave(map: &SongMap, zoom: Option<&Zoom>, height: u32) -> Markup {
    let scale = Scale::of(map);
    let path = zoom.map_or_else(String::new, |zoom| {
        wave_path(zoom, map.length.seconds(), COLUMNS)
    });
    html! {
        svg.strip-wave width="100%" height=(height) aria-hidden="true" {
            @for section in &map.sections {
                @let (from, to) = ends(section);
                rect class={ "ground " (section_class(&section.label)) } x=(scale.at(from)) width=(scale.width(from, to)) height="100%" {}
            }
            svg viewBox=(format!("0 -128 {COLUMNS} 256")) preserveAspectRatio="none" width="100%" height="100%" {
                path d=(path) {}
            }
        }
    }
}

/// The outline of a waveform: along the highest values and back along the lowest, in whole units.
fn wave_path(zoom: &Zoom, seconds: f64, columns: usize) -> String {
    let held = zoom.low.len().min(zoom.high.len());
    if held == 0 || columns == 0 {
        return String::new();
    }
    let per_column = seconds.max(0.001) * f64::from(zoom.columns_per_s.max(1)) / columns as f64;
    let range = |column: usize| {
        let from = ((column as f64 * per_column) as usize).min(held - 1);
        let to = (((column + 1) as f64 * per_column) as usize).clamp(from + 1, held.max(from + 1));
        from..to.min(held)
    };
    let high = |column| {
        let all = zoom.high[range(column)].iter().copied();
        all.max().unwrap_or(0).max(1)
    };
    let low = |column| {
        let all = zoom.low[range(column)].iter().copied();
        all.min().unwrap_or(0).min(-1)
    };
    // Up is less in a drawing.
    let mut at = -i32::from(high(0));
    let mut path = format!("M0 {at}");
    for column in 1..columns {
        let next = -i32::from(high(column));
        let _ = write!(path, "l1 {}", next - at);
        at = next;
    }
    for column in (0..columns).rev() {
        let next = -i32::from(low(column));
        let step = if column + 1 == columns { 0 } else { -1 };
        let _ = write!(path, "l{step} {}", next - at);
        at = next;
    }
    path.push('z');
    path
}

/// How many bars from one number to the next, so that numbers of `pixels` in all don't run into each other.
fn each(bars: usize, pixels: f64) -> u32 {
    let a_bar = pixels / bars.max(1) as f64;
    [4, 8, 16, 32, 64, 128, 256]
        .into_iter()
        .find(|each| f64::from(*each) * a_bar >= 30.0)
        .unwrap_or(512)
}

/// The ruler: a tick for each bar, numbers every four, eight or more.
pub fn ruler(map: &SongMap) -> Markup {
    ruler_for(map, PAGE)
}

/// The same for a song that has so many pixels, narrow and wide.
pub(super) fn ruler_for(map: &SongMap, pixels: [f64; 2]) -> Markup {
    let scale = Scale::of(map);
    let [narrow, wide] = pixels.map(|pixels| each(map.bars.len(), pixels));
    let mut ticks = String::new();
    for bar in &map.bars {
        let long = bar.number > 0 && (bar.number - 1) % wide == 0;
        let x = scale.share(bar.at.start().seconds()) * PARTS;
        let _ = write!(ticks, "M{x:.0} 0V{}", if long { 7 } else { 4 });
    }
    let last = map.bars.len().saturating_sub(1);
    html! {
        svg.strip-ruler width="100%" height=(RULER) aria-hidden="true" {
            svg viewBox=(format!("0 0 {PARTS} {RULER}")) preserveAspectRatio="none" width="100%" height=(RULER) { path d=(ticks) {} }
            @for (index, bar) in map.bars.iter().enumerate() {
                @if bar.number > 0 && (bar.number - 1) % wide == 0 && (index < last || last == 0) {
                    text class=[((bar.number - 1) % narrow != 0).then_some("roomy")] x=(scale.at(bar.at.start().seconds())) dx="3" y="14" { (bar.number) }
                }
            }
        }
    }
}

/// Energy of each bar as a height, and under it a line where the song is sung.
pub fn energy(map: &SongMap, lyrics: &[LyricLine]) -> Markup {
    let scale = Scale::of(map);
    let height = f64::from(ENERGY) - 6.0;
    let mut steps = format!("M0 {height}");
    for bar in &map.bars {
        let x = scale.share(bar.at.end().seconds()) * PARTS;
        let y = height * (1.0 - f64::from(bar.energy.clamp(0.0, 1.0)));
        let _ = write!(steps, "V{y:.1}H{x:.0}");
    }
    let _ = write!(steps, "V{height}z");
    html! {
        svg.strip-energy width="100%" height=(ENERGY) role="img" aria-label="Energy and voice; in figures under The song in words" {
            svg viewBox=(format!("0 0 {PARTS} {ENERGY}")) preserveAspectRatio="none" width="100%" height=(ENERGY) { path d=(steps) {} }
            @for at in sung(map, lyrics) {
                @let (from, to) = (at.start().seconds(), at.end().seconds());
                rect.voice x=(scale.at(from)) width=(scale.width(from, to)) y=(ENERGY - 4) height="3" {
                    title { "Voice from " (song_clock(at.start())) " to " (song_clock(at.end())) }
                }
            }
        }
    }
}

/// Where it is sung, what touches as one: by the lyrics once they have times, before that the bars in which a voice
/// is likely.
fn sung(map: &SongMap, lyrics: &[LyricLine]) -> Vec<Stretch> {
    let mut all: Vec<Stretch> = lyrics.iter().filter_map(|line| line.at).collect();
    if all.is_empty() {
        let likely = map.bars.iter().filter(|bar| bar.voice >= VOICED);
        all = likely.map(|bar| bar.at).collect();
    }
    Stretch::joined(all)
}

/// Where each setup was shot: a row each, circled takes full, those that are no good in outline; last what has no
/// setup. `link` says where a take leads.
pub fn shot<'a>(
    project: &'a Project,
    takes: &'a [PlacedTake],
    link: &dyn Fn(&TakeId) -> Option<String>,
) -> Vec<(Option<&'a SetupId>, Row)> {
    let setups = project.setups.iter();
    let mut rows: Vec<(Option<&SetupId>, Row)> = setups
        .map(|setup| (Some(&setup.id), Row::new(setup.called())))
        .collect();
    if takes.iter().any(|take| take.setup.is_none()) {
        rows.push((None, Row::new("no setup")));
    }
    // What counts lies over what does not.
    let mut order: Vec<&PlacedTake> = takes.iter().collect();
    order.sort_by_key(|take| match take.rating {
        Rating::NoGood => 0,
        Rating::Unrated | Rating::Usable => 1,
        Rating::Circled => 2,
    });
    for take in order {
        let own = take.setup.as_ref();
        let Some((_, row)) = rows.iter_mut().find(|(setup, _)| *setup == own) else {
            continue;
        };
        let (kind, rated) = match take.rating {
            Rating::NoGood => (Kind::Outline, "no good"),
            Rating::Unrated => (Kind::Pale, "not rated"),
            Rating::Usable => (Kind::Pale, "usable"),
            Rating::Circled => (Kind::Solid, "circled"),
        };
        for at in take.placement.runs.iter().filter_map(model::Run::on_song) {
            let words = format!("{}, {rated}: {}", take.id, song_clocks(at));
            row.spans.push(Span {
                href: link(&take.id),
                ..Span::over(at, kind, words)
            });
        }
    }
    rows
}

/// A cut, each shot with the take it shows: full where it runs as it was sung, with a strong edge where it is locked,
/// in outline where it was placed freely, hatched for black.
pub fn cut<'a>(project: &Project, cut: &'a Cut) -> Vec<(Option<&'a TakeId>, Span)> {
    let mut out = Vec::with_capacity(cut.shots.len());
    for shot in &cut.shots {
        let Some(at) = cut.stretch(shot) else {
            continue;
        };
        let clocks = song_clocks(at);
        let Some(take) = &shot.take else {
            out.push((
                None,
                Span::over(at, Kind::Hatched, format!("{clocks}: black")),
            ));
            continue;
        };
        let known = project.takes.iter().find(|known| known.id == *take);
        let setup = known.and_then(|take| project.setup(take.setup.as_ref()?));
        let shows = setup.map_or_else(
            || format!("take {take}"),
            |setup| format!("{}, take {take}", setup.called()),
        );
        let (kind, free) = match (shot.in_sync, shot.locked) {
            (true, true) => (Kind::Locked, ""),
            (true, false) => (Kind::Solid, ""),
            (false, _) => (Kind::Outline, ", placed freely"),
        };
        let locked = if shot.locked { ", locked" } else { "" };
        let words = format!("{clocks}: {shows}{free}{locked}");
        out.push((Some(take), Span::over(at, kind, words)));
    }
    out
}
