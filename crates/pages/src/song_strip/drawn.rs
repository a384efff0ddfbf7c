//! The song itself: sections, waveform, bars, energy and voice, each a drawing as wide as the page gives it.
//!
//! Positions are percentages, so that one drawing fits every width without script. What must be stretched
//! (waveform, ticks) is a drawing inside the drawing that gives up its aspect.

use super::layer::section_in_words;
use super::scale::{Scale, clock, words};
use maud::{Markup, html};
use model::{LyricLine, Section, SongMap, SongTime, Stretch};
use std::fmt::Write as _;

/// Pixels the song surely has on a narrow page.
pub const NARROW: f64 = 320.0;
/// Pixels it surely has on a wide one (from 60 rem on), beside the names of the rows.
pub const WIDE: f64 = 760.0;
/// Height of the band of sections, pixels.
const BAND: u32 = 24;
/// Height of the ruler of bars.
const RULER: u32 = 16;
/// Height of energy and voice.
const ENERGY: u32 = 20;
/// Columns of the waveform: finer can't be told apart at 1440 pixels.
const COLUMNS: usize = 720;
/// A voice is likely from here on, 0 to 1.
const VOICED: f32 = 0.5;

/// The class that gives a section the colour of its letter.
pub fn hue(label: &str) -> &'static str {
    const HUES: [&str; 7] = [
        "section-a",
        "section-b",
        "section-c",
        "section-d",
        "section-e",
        "section-f",
        "section-g",
    ];
    let last = label
        .chars()
        .next_back()
        .unwrap_or('A')
        .to_ascii_uppercase();
    let nth = if last.is_ascii_alphabetic() {
        u32::from(last) - u32::from('A')
    } else {
        u32::from(last)
    };
    HUES[nth as usize % HUES.len()]
}

/// What is written on a section, and whether only where there is room: nothing is ever written in part.
struct Label {
    text: String,
    roomy: bool,
}

fn labels(call: &str, name: Option<&str>, share: f64) -> Vec<Label> {
    // 7.8 px is a generous mean width of a semibold 13 px letter; 10 px go to the edges.
    let fits = |text: &str, pixels: f64| text.chars().count() as f64 * 7.8 + 10.0 <= share * pixels;
    let whole = name.map(|name| format!("{call} {name}"));
    let best = |pixels: f64| {
        whole
            .iter()
            .map(String::as_str)
            .chain([call])
            .find(|text| fits(text, pixels))
            .map(str::to_owned)
    };
    let (narrow, wide) = (best(NARROW), best(WIDE));
    let mut out = Vec::new();
    if let Some(text) = &wide
        && wide != narrow
    {
        out.push(Label {
            text: text.clone(),
            roomy: true,
        });
    }
    if let Some(text) = narrow {
        out.push(Label { text, roomy: false });
    }
    out
}

/// The band of sections: letter and name on the letter's colour.
pub fn band(map: &SongMap, scale: Scale) -> Markup {
    html! {
        svg.strip-band width="100%" height=(BAND) aria-hidden="true" {
            @for (index, section) in map.sections.iter().enumerate() {
                @let (from, to) = ends(section);
                @let all = labels(&map.section_call(index), section.name.as_deref(), scale.share(to) - scale.share(from));
                @let both = all.len() > 1;
                svg class=(hue(&section.label)) x=(scale.at(from)) width=(scale.width(from, to)) height=(BAND) {
                    title { (section_in_words(map, index)) }
                    rect.tint width="100%" height=(BAND) {}
                    rect.edge-line width="100%" y=(BAND - 3) height="3" {}
                    @for label in all {
                        text class=[label.roomy.then_some("roomy").or(both.then_some("tight"))] x="5" y="15" { (label.text) }
                    }
                    line x1="0" x2="0" y1="0" y2=(BAND) {}
                }
            }
        }
    }
}

fn ends(section: &Section) -> (f64, f64) {
    (section.at.start().seconds(), section.at.end().seconds())
}

/// The waveform over the pale colours of its sections.
pub fn wave(map: &SongMap, zoom: Option<&listen::Zoom>, scale: Scale) -> Markup {
    let path = zoom.map_or_else(String::new, |zoom| {
        wave_path(zoom, map.length.seconds(), COLUMNS)
    });
    html! {
        svg.strip-wave width="100%" aria-hidden="true" {
            @for section in &map.sections {
                @let (from, to) = ends(section);
                rect class={ "ground " (hue(&section.label)) } x=(scale.at(from)) width=(scale.width(from, to)) height="100%" {}
            }
            svg viewBox=(format!("0 -128 {COLUMNS} 256")) preserveAspectRatio="none" width="100%" height="100%" {
                path d=(path) {}
            }
        }
    }
}

/// The outline of a waveform: along the highest values and back along the lowest, in whole units.
fn wave_path(zoom: &listen::Zoom, seconds: f64, columns: usize) -> String {
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
        zoom.high[range(column)]
            .iter()
            .copied()
            .max()
            .unwrap_or(0)
            .max(1)
    };
    let low = |column| {
        zoom.low[range(column)]
            .iter()
            .copied()
            .min()
            .unwrap_or(0)
            .min(-1)
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
pub fn ruler(map: &SongMap, scale: Scale) -> Markup {
    let (narrow, wide) = (each(map.bars.len(), NARROW), each(map.bars.len(), WIDE));
    let mut ticks = String::new();
    for bar in &map.bars {
        let long = bar.number > 0 && (bar.number - 1) % wide == 0;
        let x = scale.share(bar.at.start().seconds()) * 10_000.0;
        let _ = write!(ticks, "M{x:.0} 0V{}", if long { 7 } else { 4 });
    }
    let last = map.bars.len().saturating_sub(1);
    html! {
        svg.strip-ruler width="100%" height=(RULER) aria-hidden="true" {
            svg viewBox=(format!("0 0 10000 {RULER}")) preserveAspectRatio="none" width="100%" height=(RULER) { path d=(ticks) {} }
            @for (index, bar) in map.bars.iter().enumerate() {
                @if bar.number > 0 && (bar.number - 1) % wide == 0 && (index < last || last == 0) {
                    text class=[((bar.number - 1) % narrow != 0).then_some("roomy")] x=(scale.at(bar.at.start().seconds())) dx="3" y="14" { (bar.number) }
                }
            }
        }
    }
}

/// Energy of each bar as a height, and under it a line where the song is sung.
pub fn energy(map: &SongMap, lyrics: &[LyricLine], scale: Scale) -> Markup {
    let height = f64::from(ENERGY) - 6.0;
    let mut steps = format!("M0 {height}");
    for bar in &map.bars {
        let x = scale.share(bar.at.end().seconds()) * 10_000.0;
        let y = height * (1.0 - f64::from(bar.energy.clamp(0.0, 1.0)));
        let _ = write!(steps, "V{y:.1}H{x:.0}");
    }
    let _ = write!(steps, "V{height}z");
    html! {
        div.strip-name.energy-name { span.is-energy { "Energy" } " " span.is-voice { "Voice" } }
        svg.strip-energy width="100%" height=(ENERGY) role="img" aria-label="Energy and voice; in figures under The song in words" {
            svg viewBox=(format!("0 0 10000 {ENERGY}")) preserveAspectRatio="none" width="100%" height=(ENERGY) { path d=(steps) {} }
            @for (from, to) in sung(map, lyrics) {
                rect.voice x=(scale.at(from)) width=(scale.width(from, to)) y=(ENERGY - 4) height="3" {
                    title { "Voice from " (clock_s(from)) " to " (clock_s(to)) }
                }
            }
        }
    }
}

fn clock_s(seconds: f64) -> String {
    clock(SongTime::nearest_to_seconds(seconds))
}

/// Where it is sung, in seconds, what touches as one: by the lyrics once they have times, before that
/// the bars in which a voice is likely.
fn sung(map: &SongMap, lyrics: &[LyricLine]) -> Vec<(f64, f64)> {
    let mut all: Vec<Stretch> = lyrics.iter().filter_map(|line| line.at).collect();
    if all.is_empty() {
        let likely = map.bars.iter().filter(|bar| bar.voice >= VOICED);
        all = likely.map(|bar| bar.at).collect();
    }
    Stretch::joined(all)
        .into_iter()
        .map(|at| (at.start().seconds(), at.end().seconds()))
        .collect()
}

/// The bounds between sections as things that can be taken hold of. Without script they are not shown,
/// and the table of sections does the same.
pub fn bounds(map: &SongMap, scale: Scale) -> Markup {
    let inner = map.sections.len().saturating_sub(1);
    html! {
        svg.strip-bounds.needs-script width="100%" height="100%" {
            @for (index, section) in map.sections.iter().take(inner).enumerate() {
                @let at = section.at.end();
                svg.bound role="slider" tabindex="0" aria-valuemin="0" aria-valuemax=(format!("{:.1}", map.length.seconds())) aria-valuenow=(format!("{:.2}", at.seconds())) aria-valuetext=(bar_and_time(map, at)) id=(format!("bound-{index}")) data-bound=(index) x=(scale.at(section.at.end().seconds())) width="1" height="100%" overflow="visible"
                    aria-label=(format!("Bound between {} and {}", words(map, index), words(map, index + 1))) {
                    rect.hold x="-12" y="0" width="24" height="100%" {}
                    line x1="0" x2="0" y1="0" y2="100%" {}
                    svg y="100%" width="1" height="1" overflow="visible" { path d=(format!("M0 -{}l7 7v14h-14v-14z", RULER + 22)) {} }
                }
            }
        }
    }
}

/// `bar 12 beat 1, 0:41.2`
fn bar_and_time(map: &SongMap, at: SongTime) -> String {
    let (bar, beat) = map.address(at);
    format!("bar {bar} beat {beat}, {}", clock(at))
}

/// The sections as a table.
pub fn in_words(map: &SongMap) -> Markup {
    html! {
        table {
            caption.unseen { "Sections" }
            thead { tr { th scope="col" { "Section" } th scope="col" { "Where" } th.num scope="col" { "Energy" } th.num scope="col" { "Voice" } } }
            tbody {
                @for (index, section) in map.sections.iter().enumerate() {
                    tr {
                        th scope="row" { (map.section_call(index)) @if let Some(name) = &section.name { " " (name) } }
                        td { (section_in_words(map, index).split_once(": ").map_or(String::new(), |(_, rest)| rest.to_owned())) }
                        td.num { (format!("{:.0} %", section.energy * 100.0)) }
                        td.num { (format!("{:.0} %", section.voiced * 100.0)) }
                    }
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::scale::tests::map;
    use super::*;
    use listen::Zoom;
    use proptest::prelude::*;

    fn scale_of(map: &SongMap) -> Scale {
        Scale::over(map.length.seconds())
    }

    #[test]
    fn nothing_is_written_in_part() {
        let texts = |share: f64| -> Vec<(String, bool)> {
            labels("B2", Some("last chorus"), share)
                .into_iter()
                .map(|label| (label.text, label.roomy))
                .collect()
        };
        assert_eq!(texts(0.5), [("B2 last chorus".into(), false)]);
        assert_eq!(
            texts(0.2),
            [("B2 last chorus".into(), true), ("B2".into(), false)]
        );
        assert_eq!(texts(0.05), [("B2".into(), true)]);
        assert!(texts(0.001).is_empty());
    }

    #[test]
    fn the_same_letter_has_the_same_colour() {
        assert_eq!(hue("A"), "section-a");
        assert_eq!(hue("B"), hue("b"));
        assert_eq!(hue("H"), hue("A"));
        assert_ne!(hue("AA"), "");
        assert_ne!(hue(""), "");
    }

    #[test]
    fn voice_in_bars_that_touch_is_one() {
        let mut map = map(6);
        map.bars[3].voice = 1.0;
        assert_eq!(sung(&map, &[]), [(0.0, 2.0), (4.0, 10.0)]);
        let line = LyricLine {
            at: Stretch::between_seconds(3.0, 4.5),
            text: "a line".into(),
            extra: Default::default(),
        };
        assert_eq!(sung(&map, &[line]), [(3.0, 4.5)], "lyrics know better");
    }

    #[test]
    fn numbers_find_room() {
        assert_eq!(each(60, NARROW), 8);
        assert_eq!(each(60, WIDE), 4);
        assert_eq!(each(0, NARROW), 4);
        let text = ruler(&map(60), scale_of(&map(60))).into_string();
        assert!(
            text.contains(r#"<text x="0%" dx="3" y="14">1</text>"#),
            "{text}"
        );
        assert!(
            text.contains(r#"<text class="roomy" x="6.667%" dx="3" y="14">5</text>"#),
            "{text}"
        );
    }

    proptest! {
        #[test]
        fn any_peaks_give_a_closed_outline(columns_per_s in 0u32..200, low in proptest::collection::vec(-127i8..=0, 0..500), high in proptest::collection::vec(0i8..=127, 0..500), seconds in 0.0f64..600.0, columns in 0usize..300) {
            let zoom = Zoom { columns_per_s, low, high };
            let path = wave_path(&zoom, seconds, columns);
            let held = zoom.low.len().min(zoom.high.len());
            if held == 0 || columns == 0 {
                prop_assert!(path.is_empty());
            } else {
                prop_assert!(path.starts_with('M') && path.ends_with('z'));
                prop_assert_eq!(path.matches('l').count(), 2 * columns - 1);
            }
        }
    }
}
