//! How anything is laid out for a terminal: lines that keep to a width, findings, cautions. What a command tells in
//! words stands beside the command.

use cautions::Caution;
use model::text::wrapped;
use model::{Finding, Severity};

/// Narrower than this nothing is wrapped.
const LEAST_WIDTH: usize = 40;

/// The width of the terminal; where there is none, what `COLUMNS` says (as POSIX has it), or 100.
pub fn width() -> usize {
    let told = || std::env::var("COLUMNS").ok()?.trim().parse().ok();
    console::Term::stdout()
        .size_checked()
        .map(|(_, columns)| usize::from(columns))
        .or_else(told)
        .map_or(100, |columns| columns.clamp(LEAST_WIDTH, 400))
}

/// Lines that keep to a width.
pub struct Lines {
    pub text: String,
    pub width: usize,
}

impl Lines {
    /// None yet, for a terminal `width` characters wide (taken as 40 when less).
    pub fn new(width: usize) -> Self {
        Self {
            text: String::new(),
            width: width.max(LEAST_WIDTH),
        }
    }

    /// A heading, set off from what stands above it.
    pub fn heading(&mut self, words: &str) {
        self.gap();
        self.text += words;
        self.text.push('\n');
    }

    /// An empty line, unless nothing stands above it.
    pub fn gap(&mut self) {
        if !self.text.is_empty() {
            self.text.push('\n');
        }
    }

    /// `words` broken at blanks, the first line after `first`, the others after `rest`.
    pub fn wrapped(&mut self, words: &str, first: &str, rest: &str) {
        self.text += &wrapped(words, first, rest, self.width);
    }

    /// A sentence.
    pub fn line(&mut self, words: &str) {
        self.wrapped(words, "  ", "    ");
    }

    /// Columns as they are, where they fit; otherwise broken like a sentence.
    pub fn columns(&mut self, row: &str) {
        if row.chars().count() + 2 <= self.width {
            self.text += &format!("  {row}\n");
        } else {
            self.line(row);
        }
    }

    /// A finding: a mark for how grave it is, its sentence, and what helps. One thing that helps stands with the
    /// sentence, several stand below it.
    pub fn finding(&mut self, finding: &Finding) {
        self.marked(finding, "");
    }

    /// The same, with what it is of before its sentence.
    pub fn finding_of(&mut self, what: &str, finding: &Finding) {
        self.marked(finding, &format!("{what}: "));
    }

    fn marked(&mut self, finding: &Finding, lead: &str) {
        let mark = match finding.severity {
            Severity::Problem => "  ! ",
            Severity::Unknown => "  ? ",
            Severity::Warning => "  * ",
            Severity::Note => "  - ",
        };
        match finding.mends.as_slice() {
            [] | [_] => self.wrapped(&format!("{lead}{finding}"), mark, "    "),
            several => {
                self.wrapped(&format!("{lead}{}", finding.says), mark, "    ");
                for how in several {
                    self.wrapped(how, "      - ", "        ");
                }
            }
        }
    }

    /// Findings, each with its mark; under `title` where there are any.
    pub fn findings<'a>(&mut self, title: &str, findings: impl IntoIterator<Item = &'a Finding>) {
        for (nth, finding) in findings.into_iter().enumerate() {
            if nth == 0 && !title.is_empty() {
                self.heading(title);
            }
            self.finding(finding);
        }
    }

    /// Cautions: what the plan calls for, what is usually done, whom to ask, where it is from.
    pub fn cautions(&mut self, cautions: &[Caution]) {
        // What differs by its place alone is told of together, with what is done about it once.
        let key = |one: &Caution| (one.kind, one.finding.mends.clone(), one.bring.clone());
        for together in cautions.chunk_by(|a, b| key(a) == key(b) && a.ask == b.ask) {
            let caution = &together[0];
            for one in together {
                self.wrapped(&one.finding.says, "", "  ");
            }
            for done in &caution.finding.mends {
                self.wrapped(done, "  - ", "    ");
            }
            if !caution.bring.is_empty() {
                self.wrapped(&caution.bring.join(", "), "  bring: ", "    ");
            }
            self.wrapped(&caution.ask, "  ask: ", "    ");
            self.wrapped(&caution.source, "  source: ", "    ");
            self.gap();
        }
        self.wrapped(
            match cautions {
                [] => "nothing in the plan, as it is written, calls for a caution; look at the place all the same",
                _ => "local codes, venues and qualified people stand above all of this",
            },
            "",
            "",
        );
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_keep_to_their_width() {
        let mut out = Lines::new(40);
        out.finding(&Finding::problem(
            "gap",
            "the background is 0.7 stops under its target; nothing closes it alone",
        ));
        out.columns("21:20 rig, 21:45 shoot, 21:58 done   quay-full             148 W");
        out.columns("short   one");
        assert!(out.text.lines().all(|line| line.chars().count() <= 40));
        assert_eq!(
            out.text,
            "  ! the background is 0.7 stops under\n    its target; nothing closes it alone\n  21:20 rig, 21:45 shoot, 21:58 done\n    quay-full 148 W\n  short   one\n"
        );
    }

    #[test]
    fn what_helps_stands_with_the_sentence_or_below_it() {
        let mut out = Lines::new(60);
        let found =
            Finding::unknown("draw", "what `lamp` draws is not said").mended_by("write its watts");
        out.finding(&found);
        out.finding_of("batteries", &found.mended_by("leave it at home"));
        assert_eq!(
            out.text,
            "  ? what `lamp` draws is not said; write its watts\n  ? batteries: what `lamp` draws is not said\n      - write its watts\n      - leave it at home\n"
        );
    }

    #[test]
    fn no_caution_is_not_said_to_be_no_danger() {
        let mut out = Lines::new(100);
        out.cautions(&[]);
        assert!(out.text.ends_with("look at the place all the same\n"));
    }
}
