//! The coverage grid: for every setup and every bar what is planned, shot and cut, and under them how many
//! ways to cut each bar has against how many are wanted.
//!
//! Where the song does not fit on a line it is written in systems, as music is: on a phone of at most
//! twelve bars, broken where sections begin.

use crate::draw::{Hang, Svg, escaped, fitted, n, text_width};
use crate::figure::{Chart, Width};
use crate::song_axis::section_head;
use crate::table::Table;
use model::SongMap;
use std::ops::Range;

/// A setup in a bar.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Cell {
    /// Whether it is planned over the bar.
    pub planned: bool,
    /// Whether a take of it holds the bar.
    pub shot: bool,
    /// Whether the cut shows it in the bar.
    pub cut: bool,
}

/// A setup over all bars.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct CoverageRow {
    /// Its id.
    pub setup: String,
    /// What it is called.
    pub name: String,
    /// One for each bar of the song, in order; what is missing is empty.
    pub cells: Vec<Cell>,
}

/// How many different setups there are to cut to in a bar.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Options {
    /// As planned.
    pub planned: u32,
    /// As shot.
    pub shot: u32,
    /// As wanted.
    pub wanted: u32,
}

/// Setups over the bars of the song.
#[derive(Clone, Debug)]
pub struct Coverage<'a> {
    /// The song as a ruler.
    pub map: &'a SongMap,
    /// The setups.
    pub setups: Vec<CoverageRow>,
    /// One for each bar of the song, in order.
    pub options: Vec<Options>,
}

const ROW: f64 = 24.0;
const COUNT: f64 = 20.0;

impl Coverage<'_> {
    /// Whether anything was shot: then what was shot is counted too.
    fn is_shot(&self) -> bool {
        self.options.iter().any(|bar| bar.shot > 0)
    }

    fn section_of(&self, bar: usize) -> usize {
        let at = self.map.bars[bar].at;
        let middle =
            model::SongTime::nearest_to_seconds((at.start().seconds() + at.end().seconds()) / 2.0);
        self.map.section_index_at(middle)
    }

    /// The bars of each system, as indices.
    fn systems(&self, width: Width) -> Vec<Range<usize>> {
        let bars = self.map.bars.len();
        let begins =
            |bar: usize| bar > 0 && bar < bars && self.section_of(bar) != self.section_of(bar - 1);
        let mut out = Vec::new();
        if width.is_narrow() {
            let mut from = 0;
            while from < bars {
                let full = (from + 12).min(bars);
                // As many whole sections as fit; one that does not fit at all is broken.
                let whole = (from + 1..=full)
                    .rev()
                    .find(|bar| *bar == bars || begins(*bar));
                let to = whole.unwrap_or(full);
                out.push(from..to);
                from = to;
            }
            return out;
        }
        let lines = bars.div_ceil(60).max(1);
        let mut from = 0;
        for line in 1..=lines {
            let even = bars * line / lines;
            // Where a section begins near an even share, the line breaks there.
            let near = (even.saturating_sub(6).max(from + 1)..=(even + 6).min(bars))
                .filter(|bar| begins(*bar))
                .min_by_key(|bar| bar.abs_diff(even));
            let to = if line == lines {
                bars
            } else {
                near.unwrap_or(even)
            };
            if to > from {
                out.push(from..to);
                from = to;
            }
        }
        out
    }

    fn cell(&self, row: &CoverageRow, bar: usize) -> Cell {
        row.cells.get(bar).copied().unwrap_or_default()
    }

    /// Bars of `range` for which `holds`, as runs of indices.
    fn runs(range: &Range<usize>, holds: impl Fn(usize) -> bool) -> Vec<Range<usize>> {
        let mut out: Vec<Range<usize>> = Vec::new();
        for bar in range.clone().filter(|bar| holds(*bar)) {
            match out.last_mut() {
                Some(last) if last.end == bar => last.end = bar + 1,
                _ => out.push(bar..bar + 1),
            }
        }
        out
    }

    /// `bars 17–24`, by their numbers.
    fn bars(&self, run: &Range<usize>) -> String {
        let number = |index: usize| self.map.bars[index].number;
        match run.len() {
            1 => format!("bar {}", number(run.start)),
            _ => format!("bars {}–{}", number(run.start), number(run.end - 1)),
        }
    }

    /// Every run of a kind over the whole song, in words: `1–8, 17–24`.
    fn all_bars(&self, holds: impl Fn(usize) -> bool) -> String {
        let number = |index: usize| self.map.bars[index].number;
        let runs = Self::runs(&(0..self.map.bars.len()), holds);
        let says: Vec<String> = runs
            .iter()
            .map(|run| match run.len() {
                1 => number(run.start).to_string(),
                _ => format!("{}–{}", number(run.start), number(run.end - 1)),
            })
            .collect();
        says.join(", ")
    }

    fn row(
        &self,
        svg: &mut Svg,
        row: &CoverageRow,
        system: &Range<usize>,
        [left, y]: [f64; 2],
        cell: f64,
    ) {
        let inner = ROW - 4.0;
        let x = |bar: usize| left + (bar - system.start) as f64 * cell;
        let wide = |run: &Range<usize>| run.len() as f64 * cell - 1.0;
        svg.open(&format!(
            r#"class="row" data-setup="{}" aria-label="{}""#,
            escaped(&row.setup),
            escaped(&row.name)
        ));
        let all = system.len() as f64 * cell;
        svg.line("rule", [left, y + ROW - 1.0], [left + all, y + ROW - 1.0]);
        for run in Self::runs(system, |bar| self.cell(row, bar).planned) {
            let says = format!("{} planned over {}", row.name, self.bars(&run));
            svg.rect("planned", [x(run.start), y + 1.0, wide(&run), inner], &says);
        }
        for run in Self::runs(system, |bar| self.cell(row, bar).shot) {
            let says = format!("{} shot over {}", row.name, self.bars(&run));
            svg.rect("shot", [x(run.start), y + 1.0, wide(&run), inner], "");
            svg.patterned("hatch", [x(run.start), y + 1.0, wide(&run), inner], &says);
        }
        for run in Self::runs(system, |bar| self.cell(row, bar).cut) {
            let says = format!("{} in the cut over {}", row.name, self.bars(&run));
            svg.rect(
                "cut",
                [x(run.start), y + 8.0, wide(&run), inner - 7.0],
                &says,
            );
        }
        // Whole px from the row's corner keep the many cells short.
        svg.open(&format!(
            r#"class="cells" transform="translate({} {})""#,
            n(left),
            n(y)
        ));
        for (nth, bar) in system.clone().enumerate() {
            let on = if self.cell(row, bar).planned {
                r#" data-on="""#
            } else {
                ""
            };
            let at = nth as f64 * cell;
            svg.raw(&format!(
                r#"<path data-bar="{}"{on} d="M{at} 0h{cell}v{ROW}H{at}z"/>"#,
                self.map.bars[bar].number
            ));
        }
        svg.close();
        svg.close();
    }

    /// A row of how many there are in each bar, the thin ones marked by a texture and a word.
    fn counts(
        &self,
        svg: &mut Svg,
        system: &Range<usize>,
        [left, y]: [f64; 2],
        cell: f64,
        read: fn(&Options) -> u32,
    ) {
        let x = |bar: usize| left + (bar - system.start) as f64 * cell;
        let at = |bar: usize| self.options.get(bar).copied().unwrap_or_default();
        for run in Self::runs(system, |bar| read(&at(bar)) < at(bar).wanted) {
            let least = run.clone().map(|bar| read(&at(bar))).min().unwrap_or(0);
            let says = format!(
                "{} thin: {least} at least, {} wanted",
                self.bars(&run),
                at(run.start).wanted
            );
            let area = [x(run.start), y, run.len() as f64 * cell - 1.0, COUNT - 2.0];
            svg.patterned("dots", area, "");
            svg.rect("thin", area, &says);
        }
        let counts = system.clone().enumerate().map(|(nth, bar)| {
            let options = at(bar);
            let have = read(&options);
            let long = format!("{have}/{}", options.wanted);
            let says = if text_width(&long, 12.0) < cell {
                long
            } else {
                have.to_string()
            };
            let thin = have < options.wanted;
            ((nth as f64 + 0.5) * cell, says, thin)
        });
        figures(svg, [left, y + 13.5], "", 12.0, "middle", counts);
    }
}

/// Many short figures in one line, what they share said once; the strong ones stand on a pattern.
fn figures(
    svg: &mut Svg,
    [left, y]: [f64; 2],
    class: &str,
    size: f64,
    anchor: &str,
    all: impl Iterator<Item = (f64, String, bool)>,
) {
    svg.open(&format!(
        r#"class="figures {class}" font-size="{}" text-anchor="{anchor}" transform="translate({} {})""#,
        n(size),
        n(left),
        n(y)
    ));
    for (x, says, strong) in all {
        let strong = if strong {
            r#" class="strong halo""#
        } else {
            ""
        };
        svg.raw(&format!(
            r#"<text{strong} x="{}">{}</text>"#,
            n(x),
            escaped(&says)
        ));
    }
    svg.close();
}

impl Chart for Coverage<'_> {
    fn name(&self) -> String {
        "Coverage, bar by bar".into()
    }

    fn element(&self) -> Option<&'static str> {
        Some("coverage-grid")
    }

    fn svg(&self, id: &str, width: Width) -> String {
        let narrow = width.is_narrow();
        // On a phone names stand over their rows, so that the bars have the whole width.
        let (left, size, over) = if narrow {
            (0.0, 12.0, 16.0)
        } else {
            (206.0, 13.0, 0.0)
        };
        let systems = self.systems(width);
        let longest = systems.iter().map(Range::len).max().unwrap_or(1).max(1);
        let most = if narrow { 12.0 } else { longest as f64 };
        let cell = ((width.px() - left) / most).min(34.0).floor();
        let counts = if self.is_shot() { 2.0 } else { 1.0 };
        let head = 40.0;
        let setups = self.setups.len() as f64;
        let one = head + (ROW + over) * setups + 6.0 + (COUNT + over) * counts + 20.0;
        let legend = 24.0;
        let height = legend + one * systems.len() as f64;
        let mut svg = Svg::new(id, width.px(), height, &self.name(), false);
        let mut x = 0.0;
        for (kind, says) in [
            ("planned", "planned"),
            ("shot", "shot"),
            ("cut", "in the cut"),
            ("thin", "thin"),
        ] {
            let area = [x, 1.0, 18.0, 14.0];
            match kind {
                "thin" => svg.patterned("dots", area, ""),
                "cut" => svg.rect("cut", [x, 5.0, 18.0, 10.0], ""),
                kind => svg.rect(kind, area, ""),
            }
            match kind {
                "shot" => svg.patterned("hatch", area, ""),
                "thin" => svg.rect("thin", area, ""),
                _ => {}
            }
            svg.text("", [x + 23.0, 12.5], size, Hang::Start, says);
            x += 23.0 + text_width(says, size) + 12.0;
        }
        let mut y = legend;
        svg.open(r#"class="grid""#);
        for system in &systems {
            let at = |bar: usize| left + (bar - system.start) as f64 * cell;
            let foot = y + one - 20.0;
            let sections = {
                let mut out: Vec<(usize, Range<usize>)> = Vec::new();
                for bar in system.clone() {
                    let section = self.section_of(bar);
                    match out.last_mut() {
                        Some((last, run)) if *last == section => run.end = bar + 1,
                        _ => out.push((section, bar..bar + 1)),
                    }
                }
                out
            };
            for (section, run) in &sections {
                section_head(
                    &mut svg,
                    self.map,
                    *section,
                    [at(run.start), y, run.len() as f64 * cell - 1.0, 20.0],
                );
                svg.line(
                    "section-edge",
                    [at(run.start) - 0.5, y],
                    [at(run.start) - 0.5, foot],
                );
            }
            let each = [1, 2, 4, 8, 16]
                .into_iter()
                .find(|each| f64::from(*each) * cell >= 24.0)
                .unwrap_or(16);
            let shown = system.clone().enumerate().filter_map(|(nth, bar)| {
                let number = self.map.bars[bar].number;
                let shown = each == 1 || number % (each as u32) == 1 || nth == 0;
                shown.then(|| (nth as f64 * cell + 2.0, number.to_string(), false))
            });
            figures(&mut svg, [left, y + 34.0], "faint", 11.0, "start", shown);
            if !narrow {
                svg.text("faint-text", [left - 8.0, y + 34.0], 12.0, Hang::End, "bar");
            }
            y += head;
            let name = |svg: &mut Svg, name: &str, y: f64| {
                let (foot, room) = if narrow {
                    (12.0, width.px())
                } else {
                    (16.0, left - 8.0)
                };
                svg.text(
                    "",
                    [0.0, y + foot],
                    size,
                    Hang::Start,
                    &fitted(name, room, size),
                );
            };
            for row in &self.setups {
                name(&mut svg, &row.name, y);
                y += over;
                self.row(&mut svg, row, system, [left, y], cell);
                y += ROW;
            }
            y += 6.0;
            name(&mut svg, "ways to cut, planned", y);
            y += over;
            self.counts(&mut svg, system, [left, y], cell, |o| o.planned);
            y += COUNT;
            if self.is_shot() {
                name(&mut svg, "ways to cut, shot", y);
                y += over;
                self.counts(&mut svg, system, [left, y], cell, |o| o.shot);
                y += COUNT;
            }
            y += 20.0;
        }
        svg.close();
        svg.end()
    }

    fn rows(&self) -> Table {
        let mut table = Table::new([
            "what",
            "planned over bars",
            "shot over bars",
            "cut over bars",
        ]);
        for row in &self.setups {
            table.push([
                row.name.clone(),
                self.all_bars(|bar| self.cell(row, bar).planned),
                self.all_bars(|bar| self.cell(row, bar).shot),
                self.all_bars(|bar| self.cell(row, bar).cut),
            ]);
        }
        let at = |bar: usize| self.options.get(bar).copied().unwrap_or_default();
        table.push([
            "thin".into(),
            self.all_bars(|bar| at(bar).planned < at(bar).wanted),
            if self.is_shot() {
                self.all_bars(|bar| at(bar).shot < at(bar).wanted)
            } else {
                String::new()
            },
            String::new(),
        ]);
        let bars = self.map.bars.iter().zip(&self.options);
        for (bar, options) in bars {
            table.push([
                format!("bar {}", bar.number),
                format!("{} of {} wanted", options.planned, options.wanted),
                if self.is_shot() {
                    format!("{} of {} wanted", options.shot, options.wanted)
                } else {
                    String::new()
                },
                String::new(),
            ]);
        }
        table
    }
}
