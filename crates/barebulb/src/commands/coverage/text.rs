//! Coverage as a table for a terminal: setups down, bars across, sections by letter above, thin bars
//! marked by sign; and what would help most.

use crate::text::Lines;
use coverage::{Advice, BarCoverage, Coverage, SectionCoverage, spans};
use model::text::{counted, span};
use std::collections::BTreeSet;

/// The longest name shown in full.
const LONGEST_NAME: usize = 18;

/// A table for a terminal.
///
/// A row for every setup, a column for every bar. `·` is planned and not shot, a digit says how many
/// takes hold the bar (`+` for more than nine). Under them stand how many different setups there are,
/// and `!` where that is fewer than wanted. Then each section in short, what can be cut anywhere, and
/// the notes. The table is never wider than the lines; what stands around it may be.
pub fn table(out: &mut Lines, covered: &Coverage) {
    headline(out, covered);
    let rows = rows(covered);
    let longest = rows.iter().map(|row| row.name.chars().count()).max();
    let label = longest.unwrap_or(0).clamp(8, LONGEST_NAME) + 2;
    for chunk in chunks(&covered.bars, out.width - label) {
        out.gap();
        out.text += &block(covered, &rows, chunk, label, out.width);
    }
    if !covered.sections.is_empty() {
        in_short(out, covered);
    }
    if !covered.anywhere.is_empty() {
        out.heading("can be cut anywhere");
        for any in &covered.anywhere {
            let setup = any.setup.as_ref().map_or("no setup", |s| s.as_str());
            out.text += &format!("  {} ({setup}), {:.1} s\n", any.take, any.length_s);
        }
    }
    out.findings("to look at", &covered.notes);
}

/// The advice as a list: a sentence each, with its gain and its gain per minute; or the sentence that says why
/// there is none.
pub fn advice(out: &mut Lines, advice: &Advice) {
    out.gap();
    if let Some(why) = &advice.none_because {
        return out.wrapped(why, "", "");
    }
    let head = "what would help most per minute of shooting, each after those above it";
    out.wrapped(head, "", "");
    for (nth, one) in advice.suggestions.iter().enumerate() {
        let words = format!(
            "{} Gain {:.1}, {:.1} a minute.",
            one.says, one.gain, one.gain_per_minute
        );
        out.wrapped(&words, &format!("  {}. ", nth + 1), "     ");
    }
}

fn headline(out: &mut Lines, covered: &Coverage) {
    let bars = counted(covered.bars.len(), "bar");
    let told = |what: &str, short: usize| match short {
        _ if covered.bars.is_empty() => format!("{what}: no bar of the song is known\n"),
        0 => format!("{what}: every bar has as many setups as wanted\n"),
        n => format!("{what}: {n} of {bars} with fewer setups than wanted\n"),
    };
    let shot = covered.shot_at_all();
    out.text += &told("as planned", covered.thin(false).len());
    out.text += &match shot {
        true => told("as shot", covered.thin(true).len()),
        false => "as shot: nothing yet\n".into(),
    };
    out.text += &format!(
        "choice: {:.1} minutes per minute of song as planned",
        covered.planned_choice
    );
    if shot {
        out.text += &format!(", {:.1} as shot", covered.shot_choice);
    }
    out.text += "\n`·` planned, `1` `2` … takes that hold the bar, `!` fewer than wanted\n";
}

/// The table over some bars.
fn block(covered: &Coverage, rows: &[Row], chunk: Chunk, label: usize, width: usize) -> String {
    let bars = &covered.bars[chunk.from..chunk.to];
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
    if covered.shot_at_all() {
        text += &line(bars, label, "shot", &|bar| digit(bar.shot_options as usize));
        text += &line(bars, label, "", &|bar| thin(bar.short_shot));
    }
    text
}

fn in_short(out: &mut Lines, covered: &Coverage) {
    let shot = covered.shot_at_all();
    out.text += &format!(
        "\n{:<8}{:<9}{:>6}  {:>13}",
        "section", "bars", "wanted", "planned"
    );
    if shot {
        out.text += &format!("  {:>13}", "shot");
    }
    out.text += "  fewer than wanted\n";
    let margin = if shot { 55 } else { 40 };
    for section in &covered.sections {
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
        if !thin.is_empty() && margin + 12 <= out.width {
            // The bars that are thin, as many lines as they take.
            out.wrapped(&thin, &format!("{line}  "), &" ".repeat(margin));
            continue;
        }
        out.text += line.trim_end();
        out.text.push('\n');
        if !thin.is_empty() {
            out.wrapped(&thin, "    ", "    ");
        }
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

#[cfg(test)]
mod tests {
    use super::*;
    use coverage::{Anywhere, ShotOption};
    use model::{Finding, SetupId, TakeId};

    fn setup(id: &str) -> SetupId {
        SetupId::new(id).unwrap()
    }

    /// Sections as letter and number of bars; over all of them what is planned and what was shot.
    fn covered(
        sections: &[(&str, u32)],
        planned: &[&str],
        shot: &[(Option<&str>, u32)],
    ) -> Coverage {
        let mut bars: Vec<BarCoverage> = Vec::new();
        let mut told: Vec<SectionCoverage> = Vec::new();
        for (nth, (letter, count)) in sections.iter().enumerate() {
            let section = format!("{letter}{}", nth + 1);
            let from = bars.len() as u32 + 1;
            for number in from..from + count {
                let takes = shot
                    .iter()
                    .enumerate()
                    .filter(|(_, (_, until))| number <= *until);
                let shot: Vec<ShotOption> = takes
                    .map(|(nth, (id, _))| ShotOption {
                        setup: id.map(setup),
                        take: TakeId::new(format!("C{nth:03}")).unwrap(),
                    })
                    .collect();
                bars.push(BarCoverage {
                    number,
                    start_s: f64::from(number),
                    end_s: f64::from(number + 1),
                    section: section.clone(),
                    planned: planned.iter().map(|id| setup(id)).collect(),
                    planned_options: planned.len() as u32,
                    shot_options: shot.len() as u32,
                    wanted: 3,
                    short_planned: planned.len() < 3,
                    short_shot: shot.len() < 3,
                    shot,
                });
            }
            let short = |read: fn(&BarCoverage) -> bool| {
                let ours = bars
                    .iter()
                    .filter(|bar| bar.section == section && read(bar));
                ours.map(|bar| bar.number).collect()
            };
            told.push(SectionCoverage {
                name: None,
                bars: Some([from, from + count - 1]),
                wanted: 3,
                least_planned: planned.len() as u32,
                mean_planned: planned.len() as f64,
                least_shot: 1,
                mean_shot: 1.5,
                short_planned: short(|bar| bar.short_planned),
                short_shot: short(|bar| bar.short_shot),
                section,
            });
        }
        Coverage {
            bars,
            sections: told,
            planned_choice: 2.2,
            shot_choice: 1.7,
            anywhere: vec![Anywhere {
                setup: None,
                take: TakeId::new("C900").unwrap(),
                length_s: 13.0,
            }],
            notes: vec![Finding::problem(
                "unknown-section",
                "setup `drums` is planned over the section `D`, which the song does not have",
            )],
        }
    }

    fn told(covered: &Coverage, width: usize) -> String {
        let mut out = Lines::new(width);
        table(&mut out, covered);
        out.text
    }

    #[test]
    fn a_night_at_a_glance() {
        let sections = [("A", 4), ("B", 8), ("A", 4), ("B", 8), ("C", 6)];
        let planned = ["launderette", "rooftop-at-blue-hour-long"];
        let shot = [
            (Some("launderette"), 24),
            (Some("launderette"), 12),
            (None, 9),
        ];
        let night = covered(&sections, &planned, &shot);
        insta::assert_snapshot!("night_80", told(&night, 80));
        insta::assert_snapshot!("night_40", told(&night, 40));
        insta::assert_snapshot!(
            "planned_72",
            told(&covered(&sections[..2], &planned, &[]), 72)
        );
    }

    #[test]
    fn the_table_keeps_to_its_width() {
        let sections = [("A", 19), ("B", 7), ("C", 1), ("A", 13), ("D", 40)];
        let shot = [
            (Some("one"), 70),
            (None, 31),
            (Some("long-name-of-a-setup"), 5),
        ];
        let all = covered(&sections, &["one", "two"], &shot);
        for width in (0..200).step_by(3) {
            let text = told(&all, width);
            // The table comes between the first blank line and the summary of the sections.
            let table = text.lines().skip_while(|line| !line.is_empty());
            for line in table.take_while(|line| !line.starts_with("section bars")) {
                assert!(line.chars().count() <= width.max(40), "{width}: {line}");
            }
            assert!(text.lines().all(|line| line == line.trim_end()));
        }
        // Of no bars nothing calms.
        let none = told(&covered(&[], &[], &[]), 0);
        assert!(
            none.starts_with("as planned: no bar of the song is known"),
            "{none}"
        );
    }

    #[test]
    fn advice_is_a_list_or_a_sentence() {
        let mut out = Lines::new(40);
        let mut all = Advice {
            as_shot: false,
            suggestions: vec![coverage::Suggestion {
                work: coverage::Work::Add,
                setup: None,
                bars: vec![[1, 8]],
                sections: vec!["A1".into()],
                fills: vec![1],
                fills_s: 2.0,
                gain: 37.2,
                minutes: 18.0,
                gain_per_minute: 2.07,
                sung: false,
                says: "Plan one more setup over A1 (bars 1–8): 18 min, fills 1 bar that has one setup.".into(),
            }],
            none_because: None,
        };
        advice(&mut out, &all);
        assert!(out.text.lines().all(|line| line.chars().count() <= 40));
        assert!(
            out.text.ends_with("Gain 37.2, 2.1 a minute.\n"),
            "{}",
            out.text
        );
        all.none_because = Some("No setup is planned yet.".into());
        out.text.clear();
        advice(&mut out, &all);
        assert_eq!(out.text, "No setup is planned yet.\n");
    }
}
