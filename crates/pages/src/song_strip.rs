//! The song strip on every page: waveform, sections, bars and voice, and under it the layer of the page.

use crate::app::{App, Head};
use maud::{Markup, html};
use std::sync::Arc;

/// What lies under the song on a page.
#[derive(Clone, Debug, Default, PartialEq)]
pub enum Layer {
    /// Nothing.
    #[default]
    None,
}

/// The strip, or, without a song, nothing.
pub async fn draw(_app: &Arc<App>, _head: &Head, _layer: Layer) -> Markup {
    html! {}
}
