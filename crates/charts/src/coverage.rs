//! The coverage grid: for every setup and every bar what is planned, shot and cut, and under them how many
//! ways to cut each bar has against how many are wanted.
//!
//! Where the song does not fit on a line it is written in systems, as music is: on a phone of at most
//! twelve bars, broken where sections begin.

use crate::draw::{Hang, fitted, line, n, patterned, picture, rect, stacked};
use crate::draw::{text, text_width};
use crate::figure::{Chart, Width};
use crate::song::{section_class, section_label, section_says};
use crate::table::Table;
use ::coverage::BarCoverage;
use maud::{Markup, html};
use model::text::span;
use model::{Project, SetupId, SongMap, SongTime, Stretch};
use std::collections::BTreeMap;
use std::ops::Range;

/// A setup in a bar.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
struct Cell {
    /// Whether it is planned over the bar.
    planned: bool,
    /// Whether a take of it holds the bar.
    shot: bool,
    /// Whether the newest cut shows it in the bar: in half of it at least, as coverage counts.
    cut: bool,
}

/// A setup over all bars.
#[derive(Clone, Debug)]
struct CoverageRow<'a> {
    /// Its id.
    setup: &'a SetupId,
    /// What it is called.
    name: &'a str,
    /// One for each bar of the song, in order.
    cells: Vec<Cell>,
}

/// Setups over the bars of the song.
#[derive(Clone, Debug)]
pub struct Coverage<'a> {
    map: &'a SongMap,
    setups: Vec<CoverageRow<'a>>,
    /// One for each bar of the song, in order; none where nothing is known of it.
    bars: Vec<Option<&'a BarCoverage>>,
}

const ROW: f64 = 24.0;
const COUNT: f64 = 20.0;
/// Height of the section heads and the line of bar numbers.
const HEAD: f64 = 40.0;

/// Where a system is drawn: its bars, as indices, and how wide each is.
#[derive(Clone)]
struct System {
    bars: Range<usize>,
    left: f64,
    cell: f64,
}

impl System {
    fn x(&self, bar: usize) -> f64 {
        self.left + (bar - self.bars.start) as f64 * self.cell
    }

    /// A block over `run`, from `y` on.
    fn block(&self, run: &Range<usize>, y: f64, tall: f64) -> [f64; 4] {
        [
            self.x(run.start),
            y,
            run.len() as f64 * self.cell - 1.0,
            tall,
        ]
    }
}

/// Bars of `range` for which `holds`, as runs of indices.
fn runs(range: Range<usize>, holds: impl Fn(usize) -> bool) -> Vec<Range<usize>> {
    let mut out: Vec<Range<usize>> = Vec::new();
    for bar in range.filter(|bar| holds(*bar)) {
        match out.last_mut() {
            Some(last) if last.end == bar => last.end = bar + 1,
            _ => out.push(bar..bar + 1),
        }
    }
    out
}

/// The stretches of the newest cut that show each setup.
fn shown(project: &Project) -> BTreeMap<&SetupId, Vec<Stretch>> {
    let mut shown: BTreeMap<&SetupId, Vec<Stretch>> = BTreeMap::new();
    if let Some(cut) = project.newest_cut() {
        for shot in &cut.shots {
            let mut takes = project.takes.iter();
            let take = takes.find(|take| Some(&take.id) == shot.take.as_ref());
            if let Some(setup) = take.and_then(|take| take.setup.as_ref())
                && let Some(at) = cut.stretch(shot)
            {
                shown.entry(setup).or_default().push(at);
            }
        }
    }
    shown
}

impl<'a> Coverage<'a> {
    /// What is planned, shot and cut in each bar of `map`, for the setups of `project`.
    pub fn new(map: &'a SongMap, project: &'a Project, counted: &'a ::coverage::Coverage) -> Self {
        let known: BTreeMap<u32, &BarCoverage> =
            counted.bars.iter().map(|bar| (bar.number, bar)).collect();
        let bars = map.bars.iter().map(|bar| known.get(&bar.number).copied());
        let bars: Vec<Option<&BarCoverage>> = bars.collect();
        let shown = shown(project);
        let cut = |id: &SetupId, nth: usize| {
            let all = shown.get(id);
            all.is_some_and(|all| map.bars[nth].is_half_held(all))
        };
        let cell = |id: &SetupId, nth: usize| {
            let known: Option<&BarCoverage> = bars[nth];
            let shot =
                |bar: &BarCoverage| bar.shot.iter().any(|one| one.setup.as_ref() == Some(id));
            Cell {
                planned: known.is_some_and(|bar| bar.planned.contains(id)),
                shot: known.is_some_and(shot),
                cut: cut(id, nth),
            }
        };
        let setups = project.setups.iter().map(|setup| CoverageRow {
            setup: &setup.id,
            name: setup.called(),
            cells: (0..bars.len()).map(|nth| cell(&setup.id, nth)).collect(),
        });
        Self {
            map,
            setups: setups.collect(),
            bars,
        }
    }

    /// Setups to cut to in a bar, as planned and as shot, and how many are wanted.
    fn options(&self, bar: usize) -> [u32; 3] {
        self.bars[bar].map_or([0; 3], |bar| {
            [bar.planned_options, bar.shot_options, bar.wanted]
        })
    }

    /// Whether anything was shot: then what was shot is counted too.
    fn is_shot(&self) -> bool {
        (0..self.bars.len()).any(|bar| self.options(bar)[1] > 0)
    }

    fn section_of(&self, bar: usize) -> usize {
        let at = self.map.bars[bar].at;
        let middle = (at.start().seconds() + at.end().seconds()) / 2.0;
        let middle = SongTime::nearest_to_seconds(middle);
        self.map.section_index_at(middle)
    }

    /// Whether a section begins with the bar.
    fn begins(&self, bar: usize) -> bool {
        let inside = bar > 0 && bar < self.map.bars.len();
        inside && self.section_of(bar) != self.section_of(bar - 1)
    }

    /// The bars of each system, as indices.
    fn systems(&self, width: Width) -> Vec<Range<usize>> {
        let bars = self.map.bars.len();
        let lines = bars.div_ceil(60).max(1);
        let mut out: Vec<Range<usize>> = Vec::new();
        let mut from = 0;
        while from < bars {
            let to = if width.is_narrow() {
                let full = (from + 12).min(bars);
                // As many whole sections as fit; one that does not fit at all is broken.
                let mut whole = (from + 1..=full).rev();
                whole
                    .find(|bar| *bar == bars || self.begins(*bar))
                    .unwrap_or(full)
            } else {
                let even = (bars * (out.len() + 1) / lines).clamp(from + 1, bars);
                // Where a section begins near an even share, the line breaks there.
                let near = (even.saturating_sub(6).max(from + 1)..=(even + 6).min(bars))
                    .filter(|bar| even < bars && self.begins(*bar));
                near.min_by_key(|bar| bar.abs_diff(even)).unwrap_or(even)
            };
            out.push(from..to);
            from = to;
        }
        out
    }

    /// `17–24`, by their numbers.
    fn numbers(&self, run: &Range<usize>) -> String {
        let bars = &self.map.bars;
        span(bars[run.start].number, bars[run.end - 1].number)
    }

    /// `bars 17–24`.
    fn says(&self, run: &Range<usize>) -> String {
        let many = if run.len() == 1 { "" } else { "s" };
        format!("bar{many} {}", self.numbers(run))
    }

    /// Every run of a kind over the whole song: `1–8, 17–24`.
    fn all_bars(&self, holds: impl Fn(usize) -> bool) -> String {
        let runs = runs(0..self.map.bars.len(), holds);
        let says: Vec<String> = runs.iter().map(|run| self.numbers(run)).collect();
        says.join(", ")
    }

    /// The row of a setup.
    fn row(&self, row: &CoverageRow, system: &System, y: f64) -> Markup {
        let inner = ROW - 4.0;
        let runs =
            |holds: fn(&Cell) -> bool| runs(system.bars.clone(), |bar| holds(&row.cells[bar]));
        let says =
            |what: &str, run: &Range<usize>| format!("{} {what} over {}", row.name, self.says(run));
        let end = system.x(system.bars.end);
        let at = format!("translate({} {})", n(system.left), n(y));
        let cell = n(system.cell);
        html! {
            g.row data-setup=(row.setup) aria-label=(row.name) {
                (line("rule", [system.left, y + ROW - 1.0], [end, y + ROW - 1.0]))
                @for run in runs(|cell| cell.planned) { (rect("planned", system.block(&run, y + 1.0, inner), &says("planned", &run))) }
                @for run in runs(|cell| cell.shot) {
                    (rect("shot", system.block(&run, y + 1.0, inner), ""))
                    (patterned("hatch", system.block(&run, y + 1.0, inner), &says("shot", &run)))
                }
                @for run in runs(|cell| cell.cut) { (rect("cut", system.block(&run, y + 8.0, inner - 7.0), &says("in the cut", &run))) }
                // Whole px from the row's corner keep the many cells short.
                g.cells transform=(at) {
                    @for (nth, bar) in system.bars.clone().enumerate() {
                        @let x = n(nth as f64 * system.cell);
                        path data-bar=(self.map.bars[bar].number) data-on=[row.cells[bar].planned.then_some("")] d={ "M" (x) " 0h" (cell) "v" (ROW) "H" (x) "z" } {}
                    }
                }
            }
        }
    }

    /// A row of how many there are in each bar (`which`: as planned, as shot), the thin ones marked by a texture and a
    /// word.
    fn counts(&self, system: &System, y: f64, which: usize) -> Markup {
        let thin = |bar: usize| self.options(bar)[which] < self.options(bar)[2];
        let says = |run: &Range<usize>| {
            let least = run.clone().map(|bar| self.options(bar)[which]).min();
            let (least, wanted) = (least.unwrap_or(0), self.options(run.start)[2]);
            format!("{} thin: {least} at least, {wanted} wanted", self.says(run))
        };
        let counts = system.bars.clone().enumerate().map(|(nth, bar)| {
            let [have, wanted] = [which, 2].map(|at| self.options(bar)[at]);
            let long = format!("{have}/{wanted}");
            let fits = text_width(&long, 12.0) < system.cell;
            let says = if fits { long } else { have.to_string() };
            ((nth as f64 + 0.5) * system.cell, says, thin(bar))
        });
        html! {
            @for run in runs(system.bars.clone(), thin) {
                (patterned("dots", system.block(&run, y, COUNT - 2.0), ""))
                (rect("thin", system.block(&run, y, COUNT - 2.0), &says(&run)))
            }
            (figures("small", [system.left, y + 13.5], "middle", counts))
        }
    }

    /// The sections of a system, its bars' numbers, and lines down to `foot`.
    fn head(&self, system: &System, y: f64, foot: f64) -> Markup {
        let mut sections: Vec<(usize, Range<usize>)> = Vec::new();
        for bar in system.bars.clone() {
            let section = self.section_of(bar);
            match sections.last_mut() {
                Some((last, run)) if *last == section => run.end = bar + 1,
                _ => sections.push((section, bar..bar + 1)),
            }
        }
        let each = [1, 2, 4, 8, 16].into_iter();
        let each = each
            .clone()
            .find(|each| f64::from(*each) * system.cell >= 24.0)
            .unwrap_or(16);
        let shown = system.bars.clone().enumerate().filter_map(|(nth, bar)| {
            let number = self.map.bars[bar].number;
            let shown = each == 1 || number % each == 1 || nth == 0;
            shown.then(|| (nth as f64 * system.cell + 2.0, number.to_string(), false))
        });
        html! {
            @for (section, run) in sections {
                @let [x, y, w, h] = system.block(&run, y, 20.0);
                @if let Some(known) = self.map.sections.get(section) {
                    (rect(&format!("section-head {}", section_class(&known.label)), [x, y, w, h], &section_says(self.map, section)))
                    (text("strong small", Hang::Start, [x + 4.0, y + h / 2.0 + 4.4], &section_label(self.map, section, w - 6.0, 12.0).unwrap_or_default()))
                }
                (line("section-edge", [x - 0.5, y], [x - 0.5, foot]))
            }
            (figures("faint fine", [system.left, y + 34.0], "start", shown))
        }
    }
}

/// Many short figures in one line, what they share said once; the strong ones stand on a pattern.
fn figures(
    class: &str,
    [left, y]: [f64; 2],
    anchor: &str,
    all: impl Iterator<Item = (f64, String, bool)>,
) -> Markup {
    html! {
        g class={ "figures " (class) } text-anchor=(anchor) transform=(format!("translate({} {})", n(left), n(y))) {
            @for (x, says, strong) in all { text class=[strong.then_some("strong halo")] x=(n(x)) { (says) } }
        }
    }
}

fn legend(size: f64) -> Markup {
    let mark = |kind: &str, x: f64| {
        let area = [x, 1.0, 18.0, 14.0];
        match kind {
            "shot" => html! { (rect("shot", area, "")) (patterned("hatch", area, "")) },
            "thin" => html! { (patterned("dots", area, "")) (rect("thin", area, "")) },
            "in the cut" => rect("cut", [x, 5.0, 18.0, 10.0], ""),
            kind => rect(kind, area, ""),
        }
    };
    let kinds = ["planned", "shot", "in the cut", "thin"];
    let at = stacked(0.0, kinds.iter().map(|kind| 35.0 + text_width(kind, size)));
    html! {
        @for (kind, x) in kinds.into_iter().zip(at) {
            (mark(kind, x))
            (text("", Hang::Start, [x + 23.0, 12.5], kind))
        }
    }
}

impl Chart for Coverage<'_> {
    fn name(&self) -> String {
        "Coverage, bar by bar".into()
    }

    fn alive(&self, width: Width) -> Markup {
        html! { coverage-grid { (self.svg(width)) } }
    }

    fn svg(&self, width: Width) -> Markup {
        let (narrow, size) = (width.is_narrow(), width.size());
        // On a phone names stand over their rows, so that the bars have the whole width.
        let (left, over) = if narrow { (0.0, 16.0) } else { (206.0, 0.0) };
        let systems = self.systems(width);
        let longest = systems.iter().map(Range::len).max().unwrap_or(1).max(1);
        let most = if narrow { 12.0 } else { longest as f64 };
        let cell = ((width.px() - left) / most).min(34.0).floor();
        let kinds = ["ways to cut, planned", "ways to cut, shot"];
        let counts = if self.is_shot() { 2 } else { 1 };
        let setups = self.setups.len() as f64;
        let body = HEAD + (ROW + over) * setups + 6.0 + (COUNT + over) * counts as f64;
        let one = body + 20.0;
        let name = |name: &str, y: f64| {
            let (foot, room) = if narrow {
                (12.0, width.px())
            } else {
                (16.0, left - 8.0)
            };
            text("", Hang::Start, [0.0, y + foot], &fitted(name, room, size))
        };
        let drawn = html! {
            (legend(size))
            g.grid {
                @for (nth, bars) in systems.iter().enumerate() {
                    @let system = System { bars: bars.clone(), left, cell };
                    @let y = 24.0 + one * nth as f64;
                    (self.head(&system, y, y + body))
                    @if !narrow { (text("faint-text small", Hang::End, [left - 8.0, y + 34.0], "bar")) }
                    @for (nth, row) in self.setups.iter().enumerate() {
                        @let y = y + HEAD + (ROW + over) * nth as f64;
                        (name(row.name, y))
                        (self.row(row, &system, y + over))
                    }
                    @for (which, says) in kinds.into_iter().take(counts).enumerate() {
                        @let y = y + HEAD + (ROW + over) * setups + 6.0 + (COUNT + over) * which as f64;
                        (name(says, y))
                        (self.counts(&system, y + over, which))
                    }
                }
            }
        };
        picture(
            width,
            24.0 + one * systems.len() as f64,
            &self.name(),
            false,
            &drawn,
        )
    }

    fn rows(&self) -> Table {
        let mut table = Table::new(&[
            "what",
            "planned over bars",
            "shot over bars",
            "cut over bars",
        ]);
        for row in &self.setups {
            let bars = |holds: fn(&Cell) -> bool| self.all_bars(|bar| holds(&row.cells[bar]));
            let (planned, shot) = (bars(|cell| cell.planned), bars(|cell| cell.shot));
            table.push(&[row.name, &planned, &shot, &bars(|cell| cell.cut)]);
        }
        let thin =
            |which: usize| self.all_bars(|bar| self.options(bar)[which] < self.options(bar)[2]);
        let if_shot = |says: String| if self.is_shot() { says } else { String::new() };
        table.push(&["thin", &thin(0), &if_shot(thin(1))]);
        for (nth, bar) in self.map.bars.iter().enumerate() {
            let [planned, shot, wanted] = self.options(nth);
            let of = |have: u32| format!("{have} of {wanted} wanted");
            let number = format!("bar {}", bar.number);
            table.push(&[&number, &of(planned), &if_shot(of(shot))]);
        }
        table
    }
}
