//! A framing drawn: how large a person stands in the frame.

use maud::{Markup, html};
use model::Framing;

/// The finished picture's frame as SVG with a person as large in it as `framing` says; `aspect` is the
/// frame's width over its height, held between 0.4 and 3. Lines are in the text's colour.
pub fn sketch(framing: Framing, aspect: f64) -> Markup {
    let aspect = match aspect.is_finite() {
        true => aspect.clamp(0.4, 3.0),
        false => 16.0 / 9.0,
    };
    let (width, height) = (180.0 * aspect, 180.0);
    // The share of the frame's height that a standing person fills, and where the crown of the head is.
    let (person, crown) = match framing {
        Framing::Wide => (0.42, 0.44),
        Framing::Full => (0.86, 0.07),
        Framing::Medium => (1.75, 0.10),
        Framing::Close => (3.4, 0.10),
        Framing::Detail => (7.5, -0.35),
    };
    let tall = person * height;
    let (x, y) = (width / 2.0, crown * height);
    // A person is 7.5 heads tall (the usual figure of drawing classes).
    let head = tall / 7.5;
    let part = |down: f64| y + head * down;
    let side = |across: f64| x + head * across;
    // Limbs as thick lines: from, to, thickness, in heads.
    let limbs = [
        ([0.0, 0.9], [0.0, 1.5], 0.42),
        ([-0.92, 1.85], [-1.12, 4.1], 0.40),
        ([0.92, 1.85], [1.12, 4.1], 0.40),
        ([-0.36, 3.9], [-0.42, 7.2], 0.58),
        ([0.36, 3.9], [0.42, 7.2], 0.58),
    ];
    let ground = part(7.5);
    html! {
        svg viewBox=(format!("0 0 {width:.0} {height:.0}")) role="img" class="sketch" aria-label=(format!("framing: {}", called(framing))) {
            @if ground < height {
                line x1="0" x2=(format!("{width:.0}")) y1=(format!("{ground:.1}")) y2=(format!("{ground:.1}")) stroke="currentColor" stroke-width="1" opacity="0.5" {}
            }
            g fill="currentColor" stroke="currentColor" stroke-linecap="round" opacity="0.62" {
                ellipse cx=(format!("{x:.1}")) cy=(format!("{:.1}", part(0.55))) rx=(format!("{:.1}", head * 0.38)) ry=(format!("{:.1}", head * 0.5)) stroke="none" {}
                rect x=(format!("{:.1}", side(-0.82))) y=(format!("{:.1}", part(1.42))) width=(format!("{:.1}", head * 1.64)) height=(format!("{:.1}", head * 2.75)) rx=(format!("{:.1}", head * 0.5)) stroke="none" {}
                @for ([x1, y1], [x2, y2], thick) in limbs {
                    line x1=(format!("{:.1}", side(x1))) y1=(format!("{:.1}", part(y1))) x2=(format!("{:.1}", side(x2))) y2=(format!("{:.1}", part(y2))) stroke-width=(format!("{:.1}", head * thick)) {}
                }
            }
            @if framing == Framing::Detail {
                @for across in [-0.15, 0.15] {
                    circle cx=(format!("{:.1}", side(across))) cy=(format!("{:.1}", part(0.5))) r=(format!("{:.1}", head * 0.05)) fill="var(--ground)" {}
                }
            }
            rect x="1" y="1" width=(format!("{:.0}", width - 2.0)) height=(format!("{:.0}", height - 2.0)) fill="none" stroke="currentColor" stroke-width="2" {}
        }
    }
}

/// A framing in the trade's words.
pub(crate) fn called(framing: Framing) -> &'static str {
    match framing {
        Framing::Wide => "wide",
        Framing::Full => "full, head to foot",
        Framing::Medium => "medium, waist up",
        Framing::Close => "close, head and shoulders",
        Framing::Detail => "detail",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_framing_is_drawn_without_a_broken_number() {
        for framing in [
            Framing::Wide,
            Framing::Full,
            Framing::Medium,
            Framing::Close,
            Framing::Detail,
        ] {
            for aspect in [16.0 / 9.0, 4.0 / 3.0, 9.0 / 16.0, f64::NAN, 0.0] {
                let drawn = sketch(framing, aspect).into_string();
                assert!(!drawn.contains("NaN") && !drawn.contains("inf"), "{drawn}");
                assert!(drawn.contains(called(framing)), "{drawn}");
            }
        }
    }
}
