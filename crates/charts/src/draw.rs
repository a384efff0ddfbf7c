//! Writing SVG: numbers, text and shapes that are well formed whatever they are given. Nothing here
//! knows what is drawn.

use crate::figure::Width;
use maud::{Markup, PreEscaped, html};

/// A number as SVG takes it: to a tenth of a pixel, and 0 for what is none.
pub(crate) fn n(value: f64) -> String {
    let mut out = String::with_capacity(8);
    put(&mut out, value);
    out
}

/// As [`n`], behind what stands in `out`: digit by digit, since a page of curves has thousands of numbers, and to
/// format one takes several times as long.
fn put(out: &mut String, value: f64) {
    let value = if value.is_finite() { value } else { 0.0 };
    let tenths = (value.clamp(-1e6, 1e6) * 10.0).round_ties_even() as i32;
    if tenths < 0 {
        out.push('-');
    }
    let (whole, rest) = (tenths.unsigned_abs() / 10, tenths.unsigned_abs() % 10);
    let digit = |of: u32| char::from(b'0' + (of % 10) as u8);
    let places = [1_000_000, 100_000, 10_000, 1000, 100, 10, 1];
    let shown = places
        .into_iter()
        .filter(|place| *place == 1 || whole >= *place);
    out.extend(shown.map(|place| digit(whole / place)));
    if rest > 0 {
        out.push('.');
        out.push(digit(rest));
    }
}

/// Goes on to a point in a path: by `M` or `L`.
pub(crate) fn to(out: &mut String, by: char, [x, y]: [f64; 2]) {
    out.push(by);
    put(out, x);
    out.push(' ');
    put(out, y);
}

/// A figure for a person: so many decimals, a true minus, and `?` for what is none.
pub(crate) fn figure(value: f64, decimals: usize) -> String {
    if !value.is_finite() {
        return "?".into();
    }
    let text = format!("{:.decimals$}", value.clamp(-1e9, 1e9));
    match text.strip_prefix('-') {
        Some(rest) if rest.chars().all(|c| matches!(c, '0' | '.')) => rest.into(),
        Some(rest) => format!("−{rest}"),
        None => text,
    }
}

/// The same with its sign: `+0.7`, `−1.2`, `0.0`.
pub(crate) fn signed(value: f64, decimals: usize) -> String {
    let text = figure(value, decimals);
    match value > 0.0 && text.chars().any(|c| ('1'..='9').contains(&c)) {
        true => format!("+{text}"),
        false => text,
    }
}

/// `value` no less than `least` and no more than `most`; `least` where the two cross, or it is none.
pub(crate) fn kept(value: f64, least: f64, most: f64) -> f64 {
    value.min(most).max(least)
}

/// How wide `text` may come out at `size` px, by a generous mean letter.
pub(crate) fn text_width(text: &str, size: f64) -> f64 {
    text.chars().count() as f64 * size * 0.59
}

/// As much of `text` as `width` px hold at `size`, ended by an ellipsis when some had to go.
pub(crate) fn fitted(text: &str, width: f64, size: f64) -> String {
    if text_width(text, size) <= width {
        return text.to_owned();
    }
    match (width / (size * 0.59)).max(0.0) as usize {
        0 | 1 => String::new(),
        room => {
            let kept: String = text.chars().take(room - 1).collect();
            format!("{}…", kept.trim_end())
        }
    }
}

/// `text` broken at blanks into lines that `width` px hold at `size`.
pub(crate) fn lines(text: &str, width: f64, size: f64) -> Vec<String> {
    let room = (width / (size * 0.59)).max(1.0) as usize;
    let wrapped = model::text::wrapped(text, "", "", room);
    let lines = wrapped.lines().map(|line| fitted(line, width, size));
    lines.filter(|line| !line.is_empty()).collect()
}

/// `1 Stairs   2 Quay`: names with the numbers they go by in a drawing, in lines of `width` px.
pub(crate) fn numbered(names: &[&str], width: f64, size: f64) -> Vec<String> {
    let mut out: Vec<String> = Vec::new();
    for (nth, name) in names.iter().enumerate() {
        let says = fitted(&format!("{} {name}", nth + 1), width, size);
        match out.last_mut() {
            Some(line) if text_width(&format!("{line}\u{2003}{says}"), size) <= width => {
                line.push('\u{2003}');
                line.push_str(&says);
            }
            _ => out.push(says),
        }
    }
    out
}

/// Where things of the given heights stand that follow each other from `from` on, and where the last one ends.
pub(crate) fn stacked(from: f64, heights: impl Iterator<Item = f64>) -> Vec<f64> {
    let mut at = vec![from];
    for height in heights {
        at.push(at[at.len() - 1] + height);
    }
    at
}

/// Places for labels of the given extents that want to stand at `wanted` (rising), moved apart so that
/// none overlap and, as far as there is room, all lie within `least` and `most`.
pub(crate) fn spread(wanted: &[(f64, f64)], least: f64, most: f64) -> Vec<f64> {
    let mut at: Vec<f64> = Vec::with_capacity(wanted.len());
    let mut edge = least;
    for (middle, extent) in wanted {
        let place = middle.max(edge + extent / 2.0);
        at.push(place);
        edge = place + extent / 2.0;
    }
    let mut edge = most;
    for (place, (_, extent)) in at.iter_mut().zip(wanted).rev() {
        *place = place.min(edge - extent / 2.0);
        edge = *place - extent / 2.0;
    }
    // More than there is room for: those at the front give way no further than the edge.
    let mut edge = least;
    for (place, (_, extent)) in at.iter_mut().zip(wanted) {
        *place = place.max(edge + extent / 2.0);
        edge = *place + extent / 2.0;
    }
    at
}

/// Where a text hangs.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Hang {
    Start,
    Middle,
    End,
}

/// The textures that say what colour alone must not; they stand once on a page.
pub const PATTERNS: PreEscaped<&str> = PreEscaped(concat!(
    r#"<svg class="patterns" width="0" height="0" aria-hidden="true"><defs>"#,
    r#"<pattern id="hatch" width="5" height="5" patternUnits="userSpaceOnUse" patternTransform="rotate(45)"><path d="M0 0v5"/></pattern>"#,
    r#"<pattern id="close" width="3.4" height="3.4" patternUnits="userSpaceOnUse" patternTransform="rotate(-45)"><path d="M0 0v3.4"/></pattern>"#,
    r#"<pattern id="dots" width="5" height="5" patternUnits="userSpaceOnUse"><circle cx="1.5" cy="1.5" r="0.9"/></pattern>"#,
    "</defs></svg>"
));

/// A picture `high` px tall for `width`. `live` ones hold things that take the keyboard, and are a group to a screen
/// reader; the others are an image with a name, their table beside them.
pub(crate) fn picture(width: Width, high: f64, name: &str, live: bool, drawn: &Markup) -> Markup {
    let (w, h) = (n(width.px()), n(high));
    html! {
        svg width=(w) height=(h) viewBox=(format!("0 0 {w} {h}")) font-size=(width.size()) role=(if live { "group" } else { "img" }) aria-label=(name) { (drawn) }
    }
}

fn title(says: &str) -> Markup {
    html! { @if !says.is_empty() { title { (says) } } }
}

pub(crate) fn rect(class: &str, [x, y, w, h]: [f64; 4], says: &str) -> Markup {
    html! { rect class=(class) x=(n(x)) y=(n(y)) width=(n(w.max(0.0))) height=(n(h.max(0.0))) { (title(says)) } }
}

/// A rectangle filled with one of the [`PATTERNS`].
pub(crate) fn patterned(pattern: &str, [x, y, w, h]: [f64; 4], says: &str) -> Markup {
    html! { rect fill={ "url(#" (pattern) ")" } x=(n(x)) y=(n(y)) width=(n(w.max(0.0))) height=(n(h.max(0.0))) { (title(says)) } }
}

pub(crate) fn line(class: &str, from: [f64; 2], end: [f64; 2]) -> Markup {
    joined(class, [[from, end]])
}

/// Lines of one class, as one path.
pub(crate) fn joined(class: &str, all: impl IntoIterator<Item = [[f64; 2]; 2]>) -> Markup {
    let mut d = String::new();
    for [from, end] in all {
        to(&mut d, 'M', from);
        to(&mut d, 'L', end);
    }
    html! { @if !d.is_empty() { (path(class, &d, "")) } }
}

pub(crate) fn path(class: &str, d: &str, says: &str) -> Markup {
    html! { path class=(class) d=(d) { (title(says)) } }
}

pub(crate) fn circle(class: &str, [x, y]: [f64; 2], r: f64, says: &str) -> Markup {
    html! { circle class=(class) cx=(n(x)) cy=(n(y)) r=(n(r)) { (title(says)) } }
}

/// A text in the drawing's own size; the style sheet makes those of some classes smaller.
pub(crate) fn text(class: &str, hang: Hang, [x, y]: [f64; 2], says: &str) -> Markup {
    let class = Some(class).filter(|class| !class.is_empty());
    let anchor = match hang {
        Hang::Start => None,
        Hang::Middle => Some("middle"),
        Hang::End => Some("end"),
    };
    html! { @if !says.is_empty() { text class=[class] x=(n(x)) y=(n(y)) text-anchor=[anchor] { (says) } } }
}

/// A text read upwards, its foot at the point.
pub(crate) fn upright(class: &str, [x, y]: [f64; 2], says: &str) -> Markup {
    let turn = format!("rotate(-90 {} {})", n(x), n(y));
    html! { text class=(class) x=(n(x)) y=(n(y)) text-anchor="end" transform=(turn) { (says) } }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn labels_stand_apart_and_inside(mut wanted in prop::collection::vec((0.0f64..300.0, 5.0f64..20.0), 0..12)) {
            wanted.sort_by(|a, b| a.0.total_cmp(&b.0));
            let at = spread(&wanted, 0.0, 300.0);
            let edges: Vec<[f64; 2]> = at.iter().zip(&wanted).map(|(at, (_, e))| [at - e / 2.0, at + e / 2.0]).collect();
            for pair in edges.windows(2) {
                prop_assert!(pair[0][1] <= pair[1][0] + 1e-6);
            }
            for [from, to] in edges {
                prop_assert!(from >= -1e-6 && to <= 300.0 + 1e-6);
            }
        }

        #[test]
        fn text_fits_what_it_is_fitted_to(text in "\\PC{0,60}", width in 0.0f64..400.0) {
            prop_assert!(text_width(&fitted(&text, width, 12.0), 12.0) <= width.max(0.0) + 1e-9 || text_width(&text, 12.0) <= width);
        }
    }

    #[test]
    fn figures_have_a_true_minus_and_no_negative_nothing() {
        assert_eq!(figure(-1.25, 1), "−1.2");
        assert_eq!(figure(-0.04, 1), "0.0");
        assert_eq!(figure(f64::NAN, 1), "?");
        assert_eq!(signed(0.71, 1), "+0.7");
        assert_eq!(signed(0.04, 1), "0.0");
        assert_eq!(signed(-3.0, 0), "−3");
    }

    #[test]
    fn numbers_are_short_and_never_odd() {
        for (value, text) in [
            (1.0, "1"),
            (1.25, "1.2"),
            (-0.01, "0"),
            (f64::NAN, "0"),
            (f64::INFINITY, "0"),
        ] {
            assert_eq!(n(value), text);
        }
    }
}
