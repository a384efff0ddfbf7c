//! Cautions as lines for a terminal or a call sheet.

use crate::Caution;

/// Narrower than this nothing is wrapped.
const LEAST_WIDTH: usize = 40;

/// Cautions as paragraphs, `width` characters wide (taken as 40 when less): what the plan calls
/// for, what is usually done, whom to ask, where it is from.
pub fn to_text(cautions: &[Caution], width: usize) -> String {
    let width = width.max(LEAST_WIDTH);
    let mut text = String::new();
    for caution in cautions {
        if !text.is_empty() {
            text.push('\n');
        }
        wrap(&mut text, &caution.says, "", "  ", width);
        for done in &caution.usually_done {
            wrap(&mut text, done, "  - ", "    ", width);
        }
        if !caution.bring.is_empty() {
            let bring = caution.bring.join(", ");
            wrap(&mut text, &bring, "  bring: ", "    ", width);
        }
        wrap(&mut text, &caution.ask, "  ask: ", "    ", width);
        wrap(&mut text, &caution.source, "  source: ", "    ", width);
    }
    if text.is_empty() {
        let none = "nothing in the plan, as it is written, calls for a caution; look at the place all the same";
        wrap(&mut text, none, "", "", width);
    } else {
        text.push('\n');
        let above = "local codes, venues and qualified people stand above all of this";
        wrap(&mut text, above, "", "", width);
    }
    text
}

/// `words` broken at blanks into lines of at most `width` characters, the first led by `first`,
/// the others by `rest`. A word longer than a line stands alone.
fn wrap(out: &mut String, words: &str, first: &str, rest: &str, width: usize) {
    let mut line = String::from(first);
    let mut bare = true;
    for word in words.split_whitespace() {
        let needs = line.chars().count() + word.chars().count() + usize::from(!bare);
        if !bare && needs > width {
            out.push_str(line.trim_end());
            out.push('\n');
            line = rest.into();
            bare = true;
        }
        if !bare {
            line.push(' ');
        }
        line += word;
        bare = false;
    }
    out.push_str(line.trim_end());
    out.push('\n');
}
