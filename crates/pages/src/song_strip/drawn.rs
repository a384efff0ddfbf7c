//! What a page adds to the song strip: bounds that can be taken hold of, and the sections as a table.

use charts::song::{Scale, section_says, section_words, song_clock};
use maud::{Markup, html};
use model::{SongMap, SongTime};

/// The bounds between sections as things that can be taken hold of. Without script they are not shown,
/// and the table of sections does the same.
pub fn bounds(map: &SongMap) -> Markup {
    let inner = map.sections.len().saturating_sub(1);
    html! {
        svg.strip-bounds.needs-script width="100%" height="100%" {
            @for (index, section) in map.sections.iter().take(inner).enumerate() {
                @let at = section.at.end();
                svg.bound role="slider" tabindex="0" aria-valuemin="0" aria-valuemax=(format!("{:.1}", map.length.seconds())) aria-valuenow=(format!("{:.2}", at.seconds())) aria-valuetext=(bar_and_time(map, at)) id=(format!("bound-{index}")) data-bound=(index) x=(Scale::of(map).at(at.seconds())) width="1" height="100%" overflow="visible"
                    aria-label=(format!("Bound between {} and {}", section_words(map, index), section_words(map, index + 1))) {
                    rect.hold x="-12" y="0" width="24" height="100%" {}
                    line x1="0" x2="0" y1="0" y2="100%" {}
                    svg y="100%" width="1" height="1" overflow="visible" { path d="M0 -38l7 7v14h-14v-14z" {} }
                }
            }
        }
    }
}

/// `bar 12 beat 1, 0:41.2`
fn bar_and_time(map: &SongMap, at: SongTime) -> String {
    let (bar, beat) = map.address(at);
    format!("bar {bar} beat {beat}, {}", song_clock(at))
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
                        td { (section_says(map, index).split_once(": ").map_or(String::new(), |(_, rest)| rest.to_owned())) }
                        td.num { (format!("{:.0} %", section.energy * 100.0)) }
                        td.num { (format!("{:.0} %", section.voiced * 100.0)) }
                    }
                }
            }
        }
    }
}
