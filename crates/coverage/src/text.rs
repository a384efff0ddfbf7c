//! Coverage as a table for a terminal: setups down, bars across, sections by letter above, thin bars
//! marked by sign.

use crate::{BarCoverage, Coverage, SectionCoverage};
use std::collections::BTreeSet;

/// Narrower than this the table is not drawn.
pub(crate) const LEAST_WIDTH: usize = 40;
/// The longest name shown in full.
const LONGEST_NAME: usize = 18;

impl Coverage {
    /// A table for a terminal `width` characters wide (taken as 40 when less).
    ///
    /// A row for every setup, a column for every bar. `·` is planned and not shot, a digit says how many
    /// takes hold the bar (`+` for more than nine). Under them stand how many different setups there are,
    /// and `!` where that is fewer than wanted. Then each section in short, what can be cut anywhere, and
    /// the notes. The table is never wider than `width`; the lines around it may be.
    pub fn to_text(&self, width: usize) -> String {
        let width = width.max(LEAST_WIDTH);
        let mut text = self.headline();
        let rows = rows(self);
        let longest = rows.iter().map(|row| row.name.chars().count()).max();
        let label = longest.unwrap_or(0).clamp(8, LONGEST_NAME) + 2;
        for chunk in chunks(&self.bars, width - label) {
            text.push('\n');
            text += &self.block(&rows, chunk, label, width);
        }
        if !self.sections.is_empty() {
            text += &self.in_short(width);
        }
        if !self.anywhere.is_empty() {
            text += "\ncan be cut anywhere\n";
            for any in &self.anywhere {
                let setup = any.setup.as_ref().map_or("no setup", |s| s.as_str());
                text += &format!("  {} ({setup}), {:.1} s\n", any.take, any.length_s);
            }
        }
        if !self.notes.is_empty() {
            text += "\nto look at\n";
            for note in &self.notes {
                text += &format!("  {note}\n");
            }
        }
        text
    }

    /// Whether any take holds a bar.
    pub(crate) fn shot_at_all(&self) -> bool {
        self.bars.iter().any(|bar| !bar.shot.is_empty())
    }

    fn headline(&self) -> String {
        let bars = counted(self.bars.len(), "bar");
        let short = |read: fn(&BarCoverage) -> bool| self.bars.iter().filter(|b| read(b)).count();
        let told = |what: &str, short: usize| match short {
            0 => format!("{what}: every bar has as many setups as wanted\n"),
            n => format!("{what}: {} of {bars} with fewer setups than wanted\n", n),
        };
        let mut text = told("as planned", short(|b| b.short_planned));
        if self.shot_at_all() {
            text += &told("as shot", short(|b| b.short_shot));
        } else {
            text += "as shot: nothing yet\n";
        }
        text += &format!(
            "choice: {:.1} minutes per minute of song as planned",
            self.planned_choice
        );
        if self.shot_at_all() {
            text += &format!(", {:.1} as shot", self.shot_choice);
        }
        text.push('\n');
        text += "`·` planned, `1` `2` … takes that hold the bar, `!` fewer than wanted\n";
        text
    }

    /// The table over some bars.
    fn block(&self, rows: &[Row], chunk: Chunk, label: usize, width: usize) -> String {
        let bars = &self.bars[chunk.from..chunk.to];
        let columns = columns(bars);
        let mut text = heads(bars, &columns, label, width);
        for row in rows {
            text += &line(bars, label, &row.name, &|bar| row.cell(bar));
        }
        text += &"-".repeat(label + columns.last().map_or(0, |column| column + 1));
        text.push('\n');
        let thin = |thin: bool| if thin { '!' } else { ' ' };
        text += &line(bars, label, "planned", &|bar| {
            digit(bar.planned_options as usize)
        });
        text += &line(bars, label, "", &|bar| thin(bar.short_planned));
        if self.shot_at_all() {
            text += &line(bars, label, "shot", &|bar| digit(bar.shot_options as usize));
            text += &line(bars, label, "", &|bar| thin(bar.short_shot));
        }
        text
    }

    fn in_short(&self, width: usize) -> String {
        let shot = self.shot_at_all();
        let mut text = format!(
            "\n{:<8}{:<9}{:>6}  {:>13}",
            "section", "bars", "wanted", "planned"
        );
        if shot {
            text += &format!("  {:>13}", "shot");
        }
        text += "  fewer than wanted\n";
        let margin = if shot { 55 } else { 40 };
        for section in &self.sections {
            let bars = section.bars.map_or_else(|| "-".into(), |[a, b]| span(a, b));
            let least = |least: u32, mean: f64| format!("{least} (mean {mean:.1})");
            let mut line = format!(
                "{:<8}{bars:<9}{:>6}  {:>13}",
                cut(&section.section, 7),
                section.wanted,
                least(section.least_planned, section.mean_planned)
            );
            if shot {
                line += &format!("  {:>13}", least(section.least_shot, section.mean_shot));
            }
            let thin = thin(section, shot);
            if thin.is_empty() {
                text += line.trim_end();
                text.push('\n');
            } else if margin + 12 <= width {
                // The bars that are thin, as many lines as they take.
                let mut lead = format!("{line}  ");
                for part in wrapped(&thin, width - margin) {
                    text += &format!("{lead}{part}\n");
                    lead = " ".repeat(margin);
                }
            } else {
                text += line.trim_end();
                text.push('\n');
                for part in wrapped(&thin, width - 4) {
                    text += &format!("    {part}\n");
                }
            }
        }
        text
    }
}

/// What is thin in a section, as a sentence: as shot once anything is shot, otherwise as planned.
fn thin(section: &SectionCoverage, shot: bool) -> String {
    let bars = if shot {
        &section.short_shot
    } else {
        &section.short_planned
    };
    if bars.is_empty() {
        String::new()
    } else {
        format!("! {}", spans(bars))
    }
}

/// `1–4, 7`: numbers that follow each other drawn together.
fn spans(numbers: &[u32]) -> String {
    let mut spans: Vec<(u32, u32)> = Vec::new();
    for number in numbers {
        match spans.last_mut() {
            Some((_, last)) if *last + 1 == *number => *last = *number,
            _ => spans.push((*number, *number)),
        }
    }
    let spans: Vec<String> = spans.into_iter().map(|(a, b)| span(a, b)).collect();
    spans.join(", ")
}

pub(crate) fn span(first: u32, last: u32) -> String {
    if first == last {
        first.to_string()
    } else {
        format!("{first}–{last}")
    }
}

/// A list broken at its commas into lines of at most `width`.
fn wrapped(list: &str, width: usize) -> Vec<String> {
    let mut lines: Vec<String> = vec![String::new()];
    for part in list.split_inclusive(", ") {
        let last = lines.len() - 1;
        let fits = lines[last].chars().count() + part.trim_end().chars().count() <= width;
        if fits || lines[last].is_empty() {
            lines[last].push_str(part);
        } else {
            lines.push(part.into());
        }
    }
    lines
        .iter()
        .map(|line| line.trim_end().to_string())
        .collect()
}

/// One line of the table: a name, and a sign for each bar.
fn line(
    bars: &[BarCoverage],
    label: usize,
    name: &str,
    cell: &dyn Fn(&BarCoverage) -> char,
) -> String {
    let mut line = named(name, label);
    for (n, bar) in bars.iter().enumerate() {
        if n > 0 && bars[n - 1].section != bar.section {
            line.push('|');
        }
        line.push(cell(bar));
    }
    format!("{}\n", line.trim_end())
}

/// One row of the table: a setup, or a take without one.
struct Row {
    name: String,
    setup: bool,
}

impl Row {
    fn cell(&self, bar: &BarCoverage) -> char {
        let takes = bar
            .shot
            .iter()
            .filter(|option| match &option.setup {
                Some(setup) => self.setup && setup.as_str() == self.name,
                None => !self.setup && option.take.as_str() == self.name,
            })
            .count();
        if takes > 0 {
            digit(takes)
        } else if self.setup && bar.planned.iter().any(|setup| setup.as_str() == self.name) {
            '·'
        } else {
            ' '
        }
    }
}

/// Setups in the order they are met along the song, planned ones first, then takes without one.
fn rows(coverage: &Coverage) -> Vec<Row> {
    let mut rows = Vec::new();
    let mut met = BTreeSet::new();
    let bars = &coverage.bars;
    let planned = bars.iter().flat_map(|bar| &bar.planned);
    let shot = bars.iter().flat_map(|bar| bar.shot.iter());
    let setups = planned.chain(shot.clone().filter_map(|option| option.setup.as_ref()));
    let named = setups.map(|setup| (true, setup.as_str())).chain(
        shot.filter(|option| option.setup.is_none())
            .map(|option| (false, option.take.as_str())),
    );
    for (setup, name) in named {
        if met.insert((setup, name)) {
            rows.push(Row {
                name: name.into(),
                setup,
            });
        }
    }
    rows
}

#[derive(Clone, Copy)]
struct Chunk {
    from: usize,
    to: usize,
}

/// Bars that fit side by side, broken where a section starts when that leaves at least half a line.
fn chunks(bars: &[BarCoverage], width: usize) -> Vec<Chunk> {
    let mut chunks = Vec::new();
    let mut from = 0;
    while from < bars.len() {
        let mut to = from;
        let mut used = 0;
        let mut last_start = None;
        while to < bars.len() {
            let starts = to > from && bars[to].section != bars[to - 1].section;
            let needs = 1 + usize::from(starts);
            if used + needs > width {
                break;
            }
            if starts && used >= width / 2 {
                last_start = Some(to);
            }
            used += needs;
            to += 1;
        }
        if to < bars.len()
            && bars[to].section == bars[to - 1].section
            && let Some(start) = last_start
        {
            to = start;
        }
        chunks.push(Chunk { from, to });
        from = to;
    }
    chunks
}

/// The column of each bar, separators counted.
fn columns(bars: &[BarCoverage]) -> Vec<usize> {
    let mut column = 0;
    bars.iter()
        .enumerate()
        .map(|(n, bar)| {
            if n > 0 {
                column += 1 + usize::from(bar.section != bars[n - 1].section);
            }
            column
        })
        .collect()
}

/// Two lines above the table: what sections there are and where bars lie. Neither is longer than `width`.
fn heads(bars: &[BarCoverage], columns: &[usize], label: usize, width: usize) -> String {
    let (mut sections, mut numbers) = (named("section", label), named("bar", label));
    let pad = |line: &mut String, to: usize| {
        let blanks = to.saturating_sub(line.chars().count());
        line.extend(std::iter::repeat_n(' ', blanks));
    };
    for (n, bar) in bars.iter().enumerate() {
        let at = label + columns[n];
        let starts = n == 0 || bar.section != bars[n - 1].section;
        if starts {
            // As much of the call as there is room for before the next section.
            let next = (n + 1..bars.len())
                .find(|m| bars[*m].section != bar.section)
                .map_or(width, |m| label + columns[m] - 1);
            pad(&mut sections, at);
            sections.extend(bar.section.chars().take(next - at));
        }
        let number = bar.number.to_string();
        let clear = n == 0 || numbers.chars().count() < at;
        if (starts || bar.number % 4 == 1) && clear && at + number.len() <= width {
            pad(&mut numbers, at);
            numbers += &number;
        }
    }
    format!("{}\n{}\n", sections.trim_end(), numbers.trim_end())
}

fn named(name: &str, width: usize) -> String {
    format!("{:<width$}", cut(name, width - 2))
}

fn cut(name: &str, most: usize) -> String {
    if name.chars().count() <= most {
        name.into()
    } else {
        let mut short: String = name.chars().take(most - 1).collect();
        short.push('…');
        short
    }
}

fn digit(n: usize) -> char {
    u32::try_from(n)
        .ok()
        .and_then(|n| char::from_digit(n, 10))
        .unwrap_or('+')
}

pub(crate) fn counted(n: usize, noun: &str) -> String {
    format!("{n} {noun}{}", if n == 1 { "" } else { "s" })
}
