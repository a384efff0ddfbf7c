//! Cautions as lines for a terminal or a call sheet.

use crate::Caution;
use model::text::wrapped;

/// Narrower than this nothing is wrapped.
const LEAST_WIDTH: usize = 40;

/// Cautions as paragraphs, `width` characters wide (taken as 40 when less): what the plan calls
/// for, what is usually done, whom to ask, where it is from.
pub fn to_text(cautions: &[Caution], width: usize) -> String {
    let width = width.max(LEAST_WIDTH);
    let mut text = String::new();
    // What differs by its place alone is told of together, with what is done about it once.
    let alike = |a: &Caution, b: &Caution| {
        (a.kind, &a.usually_done, &a.bring, &a.ask) == (b.kind, &b.usually_done, &b.bring, &b.ask)
    };
    for together in cautions.chunk_by(alike) {
        let caution = &together[0];
        if !text.is_empty() {
            text.push('\n');
        }
        for one in together {
            text += &wrapped(&one.says, "", "  ", width);
        }
        for done in &caution.usually_done {
            text += &wrapped(done, "  - ", "    ", width);
        }
        if !caution.bring.is_empty() {
            let bring = caution.bring.join(", ");
            text += &wrapped(&bring, "  bring: ", "    ", width);
        }
        text += &wrapped(&caution.ask, "  ask: ", "    ", width);
        text += &wrapped(&caution.source, "  source: ", "    ", width);
    }
    if text.is_empty() {
        let none = "nothing in the plan, as it is written, calls for a caution; look at the place all the same";
        text += &wrapped(none, "", "", width);
    } else {
        text.push('\n');
        let above = "local codes, venues and qualified people stand above all of this";
        text += &wrapped(above, "", "", width);
    }
    text
}
