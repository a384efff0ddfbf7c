//! Power and cards over a day: one small drawing for each battery and each card on a common clock.

use crate::clock::{Axis, Span, clock, clock_in_words};
use crate::draw::{Hang, Svg, figure, fitted, lines, n, numbered, text_width};
use crate::figure::{Chart, Width};
use crate::table::Table;
use std::fmt::Write as _;

/// Something at a time, in words.
#[derive(Clone, Debug, PartialEq)]
pub struct Mark {
    /// When.
    pub at_min: f64,
    /// What.
    pub says: String,
}

/// The charge of one battery.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct BatteryCharge {
    /// What it is called, which of several too.
    pub name: String,
    /// What it holds when full, watt-hours.
    pub full_wh: f64,
    /// Where its reserve begins.
    pub reserve_wh: f64,
    /// Minutes and watt-hours in it, in order of time.
    pub points: Vec<[f64; 2]>,
    /// When it is put on or taken off.
    pub swaps: Vec<Mark>,
    /// When it runs short, and what goes dark.
    pub shortages: Vec<Mark>,
}

/// What lies on one card.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct CardFill {
    /// What it is called, which of several too.
    pub name: String,
    /// What may be put on it, gigabytes.
    pub room_gb: f64,
    /// Minutes and gigabytes on it, in order of time.
    pub points: Vec<[f64; 2]>,
}

/// When a setup is shot.
#[derive(Clone, Debug, PartialEq)]
pub struct Slot {
    /// What the setup is called.
    pub name: String,
    /// When.
    pub at: Span,
}

/// Power and cards of a day.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Power {
    /// Which day, as it is shown.
    pub day: String,
    /// The day's hours.
    pub of: Span,
    /// When each setup is shot.
    pub slots: Vec<Slot>,
    /// The batteries.
    pub batteries: Vec<BatteryCharge>,
    /// The cards.
    pub cards: Vec<CardFill>,
    /// What runs short that no battery can be named for: no mains, too much asked.
    pub shortages: Vec<Mark>,
    /// What the clock shows, while the day runs.
    pub now_min: Option<f64>,
}

/// What the drawing needs of a battery or a card.
struct Lane<'a> {
    name: &'a str,
    full: f64,
    reserve: Option<f64>,
    points: &'a [[f64; 2]],
    unit: &'static str,
    class: &'static str,
    what: &'static str,
    swaps: &'a [Mark],
    shortages: &'a [Mark],
}

impl Lane<'_> {
    fn last(&self) -> Option<f64> {
        self.points
            .last()
            .map(|[_, value]| *value)
            .filter(|v| v.is_finite())
    }

    /// `62 of 98 Wh left`.
    fn sum(&self) -> String {
        match self.last() {
            None => format!("{} {}", figure(self.full, 0), self.unit),
            Some(last) => {
                let (last, full) = (figure(last, 0), figure(self.full, 0));
                format!("{last} of {full} {} {}", self.unit, self.what)
            }
        }
    }
}

impl Power {
    fn lanes(&self) -> Vec<Lane<'_>> {
        let batteries = self.batteries.iter().map(|b| Lane {
            name: &b.name,
            full: b.full_wh,
            reserve: Some(b.reserve_wh),
            points: &b.points,
            unit: "Wh",
            class: "charge",
            what: "left",
            swaps: &b.swaps,
            shortages: &b.shortages,
        });
        let cards = self.cards.iter().map(|c| Lane {
            name: &c.name,
            full: c.room_gb,
            reserve: None,
            points: &c.points,
            unit: "GB",
            class: "fill",
            what: "full",
            swaps: &[],
            shortages: &[],
        });
        batteries.chain(cards).collect()
    }

    fn draw(&self, id: &str, width: Width) -> String {
        let narrow = width.is_narrow();
        let (left, size) = if narrow { (4.0, 12.0) } else { (190.0, 13.0) };
        let right = if narrow { 4.0 } else { 20.0 };
        let axis = Axis::new(self.of, left, width.px() - left - right, false);
        let span = axis.end_px() - left;
        let lanes = self.lanes();
        let words = |marks: &[Mark]| said(marks, span, size);
        let (head, plot, gap) = if narrow {
            (19.0, 44.0, 14.0)
        } else {
            (0.0, 58.0, 14.0)
        };
        let names: Vec<&str> = self.slots.iter().map(|slot| slot.name.as_str()).collect();
        let key = numbered(&names, span, size);
        let top = 54.0 + LINE * key.len() as f64;
        let loose = words(&self.shortages);
        let below = LINE * loose.len() as f64;
        let one = |lane: &Lane| head + plot + gap + LINE * words(lane.shortages).len() as f64;
        let height = top + lanes.iter().map(one).sum::<f64>() + below + 4.0;
        let mut svg = Svg::new(id, width.px(), height, &self.name(), false);
        axis.draw(&mut svg, 22.0, 24.0, size, width.px());
        axis.lines(&mut svg, top - 4.0, height - below - top);
        for (nth, slot) in self.slots.iter().enumerate() {
            let Some(at) = slot.at.within(axis.of) else {
                continue;
            };
            let [x, y, w, h] = axis.rect(at, 24.0, 20.0);
            let says = format!("{} {}, {}", nth + 1, slot.name, slot.at.says());
            svg.rect("slot", [x, y, w, h], &says);
            let number = fitted(&(nth + 1).to_string(), w + 4.0, 12.0);
            svg.text(
                "on-slot",
                [x + w / 2.0, y + 14.5],
                12.0,
                Hang::Middle,
                &number,
            );
        }
        if !narrow {
            svg.text("", [left - 10.0, 39.0], size, Hang::End, "shot");
        }
        for (nth, line) in key.iter().enumerate() {
            let y = 44.0 + 14.0 + LINE * nth as f64;
            svg.text("", [left, y], size, Hang::Start, line);
        }
        let warn = |svg: &mut Svg, lines: &[String], y: &mut f64| {
            for line in lines {
                *y += LINE;
                svg.text("warn-text halo", [left, *y - 3.0], size, Hang::Start, line);
            }
        };
        let mut y = top;
        for lane in &lanes {
            let sum = lane.sum();
            if narrow {
                let room = width.px() - 16.0 - text_width(&sum, size);
                let name = fitted(lane.name, room, size);
                svg.text("strong halo", [left, y + 13.0], size, Hang::Start, &name);
                svg.text(
                    "halo",
                    [width.px() - right, y + 13.0],
                    size,
                    Hang::End,
                    &sum,
                );
                y += head;
            } else {
                let name = fitted(lane.name, left - 14.0, size);
                svg.text("strong", [left - 10.0, y + 24.0], size, Hang::End, &name);
                svg.text("", [left - 10.0, y + 42.0], size, Hang::End, &sum);
            }
            lane.draw(&mut svg, &axis, y, plot, span);
            y += plot;
            warn(&mut svg, &words(lane.shortages), &mut y);
            y += gap;
        }
        warn(&mut svg, &loose, &mut y);
        axis.mark(
            &mut svg,
            "now",
            self.now_min,
            [22.0, height - 4.0 - below],
            "now",
        );
        svg.end()
    }
}

/// Height of a line of words, px.
const LINE: f64 = 17.0;

/// Shortages in words, broken into lines, each led by a mark that is no colour.
fn said(marks: &[Mark], width: f64, size: f64) -> Vec<String> {
    marks
        .iter()
        .flat_map(|mark| {
            lines(
                &format!("▲ {} {}", clock(mark.at_min), mark.says),
                width,
                size,
            )
        })
        .collect()
}

impl Lane<'_> {
    fn draw(&self, svg: &mut Svg, axis: &Axis, top: f64, tall: f64, span: f64) {
        let full = if self.full.is_finite() && self.full > 0.0 {
            self.full
        } else {
            1.0
        };
        let y = |value: f64| top + tall - tall * (value / full).clamp(0.0, 1.0);
        let left = axis.end_px() - span;
        svg.rect("well", [left, top, span, tall], "");
        let points: Vec<[f64; 2]> = self
            .points
            .iter()
            .filter(|[at, value]| at.is_finite() && value.is_finite())
            .copied()
            .collect();
        if let (Some(first), Some(last)) = (points.first(), points.last()) {
            let mut line = String::new();
            let mut reached = f64::NEG_INFINITY;
            for [at, value] in &points {
                // Never back in time, whatever is given.
                let x = axis.px(*at).max(reached);
                reached = x;
                let pen = if line.is_empty() { 'M' } else { 'L' };
                let _ = write!(line, "{pen}{} {}", n(x), n(y(*value)));
            }
            let area = format!(
                "{line}L{} {foot}L{} {foot}Z",
                n(reached),
                n(axis.px(first[0])),
                foot = n(top + tall)
            );
            svg.path(&format!("area {}", self.class), &area, "");
            let says = format!(
                "{}: {} {unit} at {}, {} {unit} at {}",
                self.name,
                figure(first[1], 0),
                clock(first[0]),
                figure(last[1], 0),
                clock(last[0]),
                unit = self.unit
            );
            svg.path(&format!("curve {}", self.class), &line, &says);
        }
        if let Some(reserve) = self.reserve.filter(|r| r.is_finite() && *r > 0.0) {
            let at = y(reserve);
            svg.patterned(
                "hatch",
                [left, at, span, top + tall - at],
                &format!("reserve, below {} {}", figure(reserve, 0), self.unit),
            );
            svg.line("reserve", [left, at], [left + span, at]);
            // Over the line where there is room under the top.
            let label = format!("reserve {}", figure(reserve, 0));
            let foot = if at - top > 16.0 { at - 3.0 } else { at + 12.0 };
            svg.text("halo", [left + 4.0, foot], 11.0, Hang::Start, &label);
        }
        for swap in self.swaps {
            let x = axis.px(swap.at_min);
            let d = format!("M{} {}v{}m-4 -5l4 5l4 -5", n(x), n(top - 1.0), n(9.0));
            svg.path("swap", &d, &format!("{} {}", clock(swap.at_min), swap.says));
        }
        for short in self.shortages {
            let x = axis.px(short.at_min);
            let d = format!("M{} {}l5 9h-10z", n(x), n(top + tall - 10.0));
            svg.path(
                "warn-mark",
                &d,
                &format!("{} {}", clock(short.at_min), short.says),
            );
        }
    }
}

impl Chart for Power {
    fn name(&self) -> String {
        match self.cards.is_empty() {
            true => format!("Power over {}", self.day),
            false => format!("Power and cards over {}", self.day),
        }
    }

    fn svg(&self, id: &str, width: Width) -> String {
        self.draw(id, width)
    }

    fn rows(&self) -> Table {
        let mut table = Table::new(["what", "when", "holds", "what happens"]);
        for slot in &self.slots {
            let when = format!(
                "{} to {}",
                clock_in_words(slot.at.from_min),
                clock_in_words(slot.at.to_min)
            );
            table.push([slot.name.clone(), when, String::new(), "shot".into()]);
        }
        for lane in self.lanes() {
            let mut all: Vec<(f64, String, String)> = lane
                .points
                .iter()
                .map(|[at, value]| {
                    (
                        *at,
                        format!("{} {}", figure(*value, 1), lane.unit),
                        String::new(),
                    )
                })
                .chain(
                    lane.swaps
                        .iter()
                        .map(|m| (m.at_min, String::new(), m.says.clone())),
                )
                .chain(
                    lane.shortages
                        .iter()
                        .map(|m| (m.at_min, String::new(), format!("short: {}", m.says))),
                )
                .collect();
            all.sort_by(|a, b| a.0.total_cmp(&b.0));
            let size = match lane.reserve {
                Some(reserve) => format!(
                    "holds {} {}, reserve below {}",
                    figure(lane.full, 0),
                    lane.unit,
                    figure(reserve, 0)
                ),
                None => format!("room for {} {}", figure(lane.full, 0), lane.unit),
            };
            table.push([lane.name.to_owned(), String::new(), size, lane.sum()]);
            for (at, holds, what) in all {
                table.push([lane.name.to_owned(), clock_in_words(at), holds, what]);
            }
        }
        for short in &self.shortages {
            table.push([
                "short".into(),
                clock_in_words(short.at_min),
                String::new(),
                short.says.clone(),
            ]);
        }
        table
    }
}
