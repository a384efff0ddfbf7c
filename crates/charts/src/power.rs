//! Power and cards over a day: one small drawing for each battery and each card on a common clock.

use crate::clock::{Axis, Span};
use crate::draw::{Hang, figure, fitted, kept, line, lines, n, numbered, path, patterned, picture};
use crate::draw::{rect, stacked, text, text_width};
use crate::figure::{Chart, Width};
use crate::table::Table;
use ::power::{CardLoad, CardPlan, DayPower, Ledger, Piece, Reason, Shortage, Source};
use maud::{Markup, html};
use model::clock::shown;
use model::{KitId, Project, SetupId};
use std::fmt::Write as _;

/// The charge of every battery that is used on a day and what lies on every card, over its hours.
#[derive(Clone, Copy, Debug)]
pub struct Power<'a> {
    /// The project.
    pub project: &'a Project,
    /// The date, as it is shown.
    pub date: &'a str,
    /// Its batteries.
    pub power: &'a DayPower,
    /// Its cards.
    pub cards: &'a CardPlan,
}

/// Something at a time, in words.
struct Mark {
    at_min: f64,
    says: String,
}

/// A battery or a card.
struct Lane {
    name: String,
    full: f64,
    reserve: Option<f64>,
    /// Minutes and what it holds, in order of time.
    points: Vec<[f64; 2]>,
    unit: &'static str,
    class: &'static str,
    /// What the last point says: left, full.
    what: &'static str,
    swaps: Vec<Mark>,
    shortages: Vec<Mark>,
}

/// Height of a line of words, px.
const LINE: f64 = 17.0;

/// Shortages in words, broken into lines, each led by a mark that is no colour.
fn said(marks: &[Mark], width: f64, size: f64) -> Vec<String> {
    let say = |mark: &Mark| format!("▲ {} {}", shown(mark.at_min), mark.says);
    let all = marks.iter().flat_map(|mark| lines(&say(mark), width, size));
    all.collect()
}

fn warnings(lines: &[String], left: f64, top: f64) -> Markup {
    html! {
        @for (nth, line) in lines.iter().enumerate() {
            (text("warn-text halo", Hang::Start, [left, top + LINE * (nth as f64 + 1.0) - 3.0], line))
        }
    }
}

impl Lane {
    fn figure(&self, value: f64) -> String {
        format!("{} {}", figure(value, 0), self.unit)
    }

    /// `62 of 98 Wh left`.
    fn sum(&self) -> String {
        let full = self.figure(self.full);
        match self.points.last() {
            None => full,
            Some([_, last]) => format!("{} of {full} {}", figure(*last, 0), self.what),
        }
    }

    fn draw(&self, axis: &Axis, top: f64, tall: f64) -> Markup {
        let full = if self.full > 0.0 { self.full } else { 1.0 };
        let y = |value: f64| top + tall - tall * kept(value / full, 0.0, 1.0);
        let left = axis.px(axis.of.from_min);
        let span = axis.end_px() - left;
        let mark = |class: &str, mark: &Mark, d: &str| {
            path(class, d, &format!("{} {}", shown(mark.at_min), mark.says))
        };
        let x = |mark: &Mark| n(axis.px(mark.at_min));
        let (over, foot) = (n(top - 1.0), n(top + tall - 10.0));
        html! {
            (rect("well", [left, top, span, tall], ""))
            (self.curve(axis, y, top + tall))
            @if let Some(reserve) = self.reserve.filter(|reserve| *reserve > 0.0) {
                @let at = y(reserve);
                (patterned("hatch", [left, at, span, top + tall - at], &format!("reserve, below {}", self.figure(reserve))))
                (line("reserve", [left, at], [left + span, at]))
                // Over the line where there is room under the top.
                (text("fine halo", Hang::Start, [left + 4.0, if at - top > 16.0 { at - 3.0 } else { at + 12.0 }], &format!("reserve {}", figure(reserve, 0))))
            }
            @for swap in &self.swaps { (mark("swap", swap, &format!("M{} {over}v9m-4 -5l4 5l4 -5", x(swap)))) }
            @for short in &self.shortages { (mark("warn-mark", short, &format!("M{} {foot}l5 9h-10z", x(short)))) }
        }
    }

    /// What it holds, as a line and the area down to `foot`.
    fn curve(&self, axis: &Axis, y: impl Fn(f64) -> f64, foot: f64) -> Markup {
        let (Some(first), Some(last)) = (self.points.first(), self.points.last()) else {
            return Markup::default();
        };
        let mut d = String::new();
        let mut reached = f64::NEG_INFINITY;
        for [at, value] in &self.points {
            // Never back in time, whatever is given.
            reached = axis.px(*at).max(reached);
            let pen = if d.is_empty() { 'M' } else { 'L' };
            let _ = write!(d, "{pen}{} {}", n(reached), n(y(*value)));
        }
        let (from, to, foot) = (n(axis.px(first[0])), n(reached), n(foot));
        let area = format!("{d}L{to} {foot}L{from} {foot}Z");
        let ends =
            [first, last].map(|[at, value]| format!("{} at {}", self.figure(*value), shown(*at)));
        let says = format!("{}: {}", self.name, ends.join(", "));
        html! {
            (path(&format!("area {}", self.class), &area, ""))
            (path(&format!("curve {}", self.class), &d, &says))
        }
    }
}

impl Power<'_> {
    fn item(&self, id: &KitId) -> String {
        let item = self.project.item(id);
        item.map_or_else(|| id.to_string(), |item| item.called().to_owned())
    }

    fn items(&self, ids: &[KitId]) -> String {
        let names: Vec<String> = ids.iter().map(|id| self.item(id)).collect();
        names.join(", ")
    }

    fn setup(&self, id: &SetupId) -> String {
        let setup = self.project.setup(id);
        setup.map_or_else(|| id.to_string(), |setup| setup.called().to_owned())
    }

    /// What one of several alike is called.
    fn piece(&self, piece: &Piece) -> String {
        format!("{} {}", self.item(&piece.battery), piece.piece)
    }

    fn battery(&self, one: &Ledger, hours: [f64; 2]) -> Lane {
        let item = self.project.item(&one.piece.battery);
        let printed = item.and_then(|item| item.battery.as_ref());
        let printed = printed.map_or(one.start_wh, |battery| battery.wh);
        let mut swaps = Vec::new();
        for swap in &self.power.swaps {
            let (whose, at_min) = (self.items(&swap.items), swap.at_min);
            if swap.off.as_ref() == Some(&one.piece) {
                let says = format!("off {whose}, {} goes on", self.piece(&swap.on));
                swaps.push(Mark { at_min, says });
            }
            if swap.on == one.piece {
                let says = format!("on {whose}");
                swaps.push(Mark { at_min, says });
            }
        }
        let own = |short: &&Shortage| self.power.short_piece(short) == Some(&one.piece);
        let shortages = self.power.shortages.iter().filter(own);
        Lane {
            name: self.piece(&one.piece),
            full: printed.max(one.start_wh),
            reserve: Some(one.reserve_line_wh),
            points: self.power.charge(one, hours),
            unit: "Wh",
            class: "charge",
            what: "left",
            swaps,
            shortages: shortages.map(|short| self.short(short)).collect(),
        }
    }

    fn card(&self, card: &CardLoad, hours: [f64; 2]) -> Lane {
        Lane {
            name: format!("{} {}", self.item(&card.card), card.piece),
            full: card.gigabytes + card.free_gb,
            reserve: None,
            points: self.cards.filling(card, &self.power.slots, hours),
            unit: "GB",
            class: "fill",
            what: "full",
            swaps: Vec::new(),
            shortages: Vec::new(),
        }
    }

    /// A shortage as its battery's drawing says it.
    fn short(&self, short: &Shortage) -> Mark {
        let (setup, dark) = (self.setup(&short.setup), self.items(&short.dark));
        let source = match &short.source {
            Source::Mains => "the mains".to_owned(),
            Source::Battery(id) => self.item(id),
        };
        let what = match short.reason {
            Reason::Empty => "empty".to_owned(),
            Reason::Taken => format!("every {source} feeds something else"),
            Reason::TooMuch => format!("{source} can't give as much as is asked"),
            Reason::NoMains => "no mains".to_owned(),
            Reason::BelowReserve => "goes below its reserve".to_owned(),
        };
        let dark = match short.reason {
            Reason::BelowReserve => String::new(),
            _ => format!(": {dark} without power"),
        };
        Mark {
            at_min: short.at_min,
            says: format!("{what} in “{setup}”{dark}"),
        }
    }

    fn lanes(&self) -> Vec<Lane> {
        let hours = self.power.hours().unwrap_or_default();
        let batteries = self.power.moved().map(|one| self.battery(one, hours));
        let cards = self.cards.cards.iter().map(|card| self.card(card, hours));
        batteries.chain(cards).collect()
    }

    /// What runs short that no battery drawn can be named for: no mains, too much asked.
    fn loose(&self) -> Vec<Mark> {
        let own = |short: &Shortage| {
            let piece = self.power.short_piece(short);
            self.power.moved().any(|one| Some(&one.piece) == piece)
        };
        let loose = self.power.shortages.iter().filter(|short| !own(short));
        loose.map(|short| self.short(short)).collect()
    }

    /// When each setup is shot: its name and from when to when.
    fn slots(&self) -> Vec<(String, Span)> {
        let slots = self.power.slots.iter();
        slots
            .map(|slot| {
                (
                    self.setup(&slot.setup),
                    Span::new(slot.shoot_min, slot.end_min),
                )
            })
            .collect()
    }

    /// The setups on the clock by number, and what the numbers mean.
    fn shot(&self, axis: &Axis, left: f64, size: f64, key: &[String]) -> Markup {
        html! {
            @for (nth, (name, at)) in self.slots().iter().enumerate() {
                @if let Some(seen) = at.within(axis.of) {
                    @let [x, y, w, h] = axis.rect(seen, 24.0, 20.0);
                    (rect("slot", [x, y, w, h], &format!("{} {name}, {}", nth + 1, at.says())))
                    (text("on-slot", Hang::Middle, [x + w / 2.0, y + 14.5], &fitted(&(nth + 1).to_string(), w + 4.0, 12.0)))
                }
            }
            @if size > 12.0 { (text("", Hang::End, [left - 10.0, 39.0], "shot")) }
            @for (nth, line) in key.iter().enumerate() { (text("", Hang::Start, [left, 58.0 + LINE * nth as f64], line)) }
        }
    }
}

impl Chart for Power<'_> {
    fn name(&self) -> String {
        let cards = if self.cards.cards.is_empty() {
            ""
        } else {
            " and cards"
        };
        format!("Power{cards} over {}", self.date)
    }

    fn svg(&self, width: Width) -> Markup {
        let (narrow, size) = (width.is_narrow(), width.size());
        let (left, right) = if narrow { (4.0, 4.0) } else { (190.0, 20.0) };
        let (head, plot, gap) = if narrow {
            (19.0, 44.0, 14.0)
        } else {
            (0.0, 58.0, 14.0)
        };
        let of = self.power.hours().unwrap_or_default().into();
        let axis = Axis::new(of, left, width.px() - left - right, false);
        let span = axis.end_px() - left;
        let lanes: Vec<(Lane, Vec<String>)> = self
            .lanes()
            .into_iter()
            .map(|lane| {
                let words = said(&lane.shortages, span, size);
                (lane, words)
            })
            .collect();
        let slots = self.slots();
        let names: Vec<&str> = slots.iter().map(|(name, _)| name.as_str()).collect();
        let key = numbered(&names, span, size);
        let top = 54.0 + LINE * key.len() as f64;
        let tall = lanes
            .iter()
            .map(|(_, words)| head + plot + gap + LINE * words.len() as f64);
        let tops = stacked(top, tall);
        let end = tops[tops.len() - 1];
        let loose = said(&self.loose(), span, size);
        let titles = |lane: &Lane, y: f64| {
            let sum = lane.sum();
            if narrow {
                let name = fitted(&lane.name, width.px() - 16.0 - text_width(&sum, size), size);
                html! {
                    (text("strong halo", Hang::Start, [left, y + 13.0], &name))
                    (text("halo", Hang::End, [width.px() - right, y + 13.0], &sum))
                }
            } else {
                let name = fitted(&lane.name, left - 14.0, size);
                html! {
                    (text("strong", Hang::End, [left - 10.0, y + 24.0], &name))
                    (text("", Hang::End, [left - 10.0, y + 42.0], &sum))
                }
            }
        };
        let drawn = html! {
            (axis.draw(22.0, 24.0, size, width.px()))
            (axis.lines(top - 4.0, end + 4.0 - top))
            (self.shot(&axis, left, size, &key))
            @for ((lane, words), y) in lanes.iter().zip(&tops) {
                (titles(lane, *y))
                (lane.draw(&axis, y + head, plot))
                (warnings(words, left, y + head + plot))
            }
            (warnings(&loose, left, end))
        };
        let high = end + LINE * loose.len() as f64 + 4.0;
        picture(width, high, &self.name(), false, &drawn)
    }

    fn rows(&self) -> Table {
        let mut table = Table::new(&["what", "when", "holds", "what happens"]);
        for (name, at) in self.slots() {
            let [from, to] = [at.from_min, at.to_min].map(shown);
            table.push(&[&name, &format!("{from} to {to}"), "", "shot"]);
        }
        for lane in self.lanes() {
            let full = lane.figure(lane.full);
            let size = match lane.reserve {
                Some(reserve) => format!("holds {full}, reserve below {}", figure(reserve, 0)),
                None => format!("room for {full}"),
            };
            table.push(&[&lane.name, "", &size, &lane.sum()]);
            let points = lane.points.iter();
            let points = points.map(|[at, value]| (*at, figure(*value, 1), String::new()));
            let mut all: Vec<(f64, String, String)> = points.collect();
            for (marks, short) in [(&lane.swaps, ""), (&lane.shortages, "short: ")] {
                let says =
                    |mark: &Mark| (mark.at_min, String::new(), format!("{short}{}", mark.says));
                all.extend(marks.iter().map(says));
            }
            all.sort_by(|a, b| a.0.total_cmp(&b.0));
            all.dedup();
            for (at, holds, what) in all {
                let unit = if holds.is_empty() { "" } else { lane.unit };
                let holds = format!("{holds} {unit}");
                table.push(&[&lane.name, &shown(at), holds.trim(), &what]);
            }
        }
        for short in self.loose() {
            table.push(&["short", &shown(short.at_min), "", &short.says]);
        }
        table
    }
}
