//! What every chart gives, and the HTML that holds all of it.

use crate::draw::escaped;
use crate::table::Table;

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

    pub(crate) const fn is_narrow(self) -> bool {
        matches!(self, Self::Narrow)
    }
}

/// A chart.
pub trait Chart {
    /// What it shows, as a caption.
    fn name(&self) -> String;

    /// The drawing. `id` begins every id in it, so that two on a page do not meet; letters, digits and `-`.
    fn svg(&self, id: &str, width: Width) -> String;

    /// The same numbers as text.
    fn rows(&self) -> Table;

    /// The custom element that brings it to life, when there is one.
    fn element(&self) -> Option<&'static str> {
        None
    }
}

/// Both drawings and the table, the style sheet showing what fits: `<figure class="chart" id="…">`.
pub fn figure(chart: &dyn Chart, id: &str) -> String {
    let name = chart.name();
    let (open, close) = match chart.element() {
        Some(element) => (format!("<{element}>"), format!("</{element}>")),
        None => (String::new(), String::new()),
    };
    format!(
        concat!(
            r#"<figure class="chart" id="{id}"><figcaption>{name}</figcaption>"#,
            r#"<div class="narrow">{open}{narrow}{close}</div><div class="wide">{open}{wide}{close}</div>"#,
            r#"<details><summary>The same in figures</summary><div class="rows" role="region" aria-label="{name}, in figures" tabindex="0">{table}</div></details></figure>"#
        ),
        id = escaped(id),
        name = escaped(&name),
        open = open,
        close = close,
        narrow = chart.svg(&format!("{id}-n"), Width::Narrow),
        wide = chart.svg(&format!("{id}-w"), Width::Wide),
        table = chart.rows().html(&name),
    )
}
