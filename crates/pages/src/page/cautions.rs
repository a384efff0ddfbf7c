//! Cautions, where the plan calls for them.

use crate::shell;
use cautions::Caution;
use maud::{Markup, html};

/// Cautions as a list, each with what is usually done and whom to ask.
pub fn list<'a>(cautions: impl Iterator<Item = &'a Caution>) -> Markup {
    let all: Vec<&Caution> = cautions.collect();
    html! {
        @if !all.is_empty() {
            div.cautions role="group" aria-label="To mind" {
                h3 { "To mind" }
                ul {
                    @for one in all {
                        li {
                            strong { (shell::said(&one.finding.says)) }
                            details data-fold=(format!("{}{:?}", one.finding.kind, one.finding.about)) {
                                summary { "What is usually done" }
                                ul { @for step in &one.finding.mends { li { (shell::said(step)) } } }
                                p { "Ask: " (shell::said(&one.ask)) }
                                p.faint { (shell::said(&one.source)) }
                            }
                        }
                    }
                }
                p.faint { "This warns and does not rule: local codes, the venue, and licensed or qualified people decide." }
            }
        }
    }
}
