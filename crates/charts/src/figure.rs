//! What every chart gives, and the HTML that holds all of it.

use crate::table::Table;
use maud::{Markup, html};

/// For which width a chart is drawn.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Width {
    /// A phone: 328 px, a page of 360 less its margins.
    Narrow,
    /// A desk: 1120 px.
    Wide,
}

impl Width {
    /// In CSS pixels.
    pub const fn px(self) -> f64 {
        match self {
            Self::Narrow => 328.0,
            Self::Wide => 1120.0,
        }
    }

    /// Of its letters, in CSS pixels.
    pub(crate) const fn size(self) -> f64 {
        match self {
            Self::Narrow => 12.0,
            Self::Wide => 13.0,
        }
    }

    pub(crate) const fn is_narrow(self) -> bool {
        matches!(self, Self::Narrow)
    }
}

/// A chart.
pub trait Chart {
    /// What it shows, as a caption.
    fn name(&self) -> String;

    /// The drawing, which needs [`crate::PATTERNS`] on its page.
    fn svg(&self, width: Width) -> Markup;

    /// The same numbers as text.
    fn rows(&self) -> Table;

    /// The drawing inside the custom element that brings it to life, when there is one.
    fn alive(&self, width: Width) -> Markup {
        self.svg(width)
    }
}

/// Both drawings and the table, the style sheet showing what fits. Of `id`, letters, digits and `-` are kept.
pub fn figure(chart: &dyn Chart, id: &str) -> Markup {
    let name = chart.name();
    let letters = |c: char| c.is_ascii_alphanumeric() || c == '-';
    let id = id.replace(|c| !letters(c), "-");
    html! {
        figure.chart id=(id) {
            figcaption { (name) }
            div.narrow { (chart.alive(Width::Narrow)) }
            div.wide { (chart.alive(Width::Wide)) }
            details {
                summary { "The same in figures" }
                div.rows role="region" aria-label={ (name) ", in figures" } tabindex="0" { (chart.rows().html(&name)) }
            }
        }
    }
}
