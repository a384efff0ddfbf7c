//! The day as a time line: each setup's strip under the sky, with its windows, way, rig, wait, shoot and room.
//!
//! A strip is a group that takes the keyboard and carries its times as data, so that the element `day-line`
//! can move it.

use crate::clock::{Axis, Span, lasting, minutes, sound};
use crate::draw::{Hang, circle, fitted, kept, line, n, path, patterned, picture, rect, spread};
use crate::draw::{text, text_width};
use crate::figure::{Chart, Width};
use crate::light::{self, Band};
use crate::table::Table;
use ::sky::{Curve, Daylight};
use maud::{Markup, html};
use model::clock::shown;
use model::{Finding, Project, SetupId, SkyLight};
use schedule::{DayPlan, SkyBand, Strip};
use std::borrow::Cow;

/// The day as it was found, under the sky of its curve. Where no day was found, the order that stands in the plan with
/// what breaks in it, so that it can be moved.
#[derive(Clone, Copy, Debug)]
pub struct DayLine<'a> {
    /// The project.
    pub project: &'a Project,
    /// The date, as it is shown.
    pub date: &'a str,
    /// The day found.
    pub plan: &'a DayPlan,
    /// The sky over its first place, where it is known.
    pub curve: Option<&'a Curve>,
    /// What the day itself knows of the sky.
    pub sky: &'a [SkyBand],
    /// What breaks in the order that stands in the plan; each says its setup.
    pub typed: &'a [Finding],
    /// What runs short in the day found, likewise.
    pub conflicts: &'a [Finding],
    /// Whether the day runs, and its plan starts at what the clock shows.
    pub begun: bool,
}

/// A strip as it is drawn.
#[derive(Clone, Debug)]
pub struct Drawn<'a> {
    /// The strip.
    pub strip: Cow<'a, Strip>,
    /// What breaks at this time.
    pub breaks: Vec<&'a Finding>,
}

/// Words of a strip stand beside its group and not in it: its name says them, and more.
const WORDS: &str = "words";
/// Width of the part of a strip down the page that shows rig, wait and shoot, px; words stand beside it.
const SPINE: f64 = 14.0;

fn span(from: model::ClockTime, to: model::ClockTime) -> Span {
    [from, to].into()
}

/// A dash from `from` to `to`, ended by a bar.
fn room_mark(axis: &Axis, [from, to]: [f64; 2], across: f64) -> Markup {
    let (from, to, across) = (n(axis.px(from)), n(axis.px(to)), n(across));
    let d = match axis.down {
        false => format!("M{from} {across}H{to}m0 -5v10"),
        true => format!("M{across} {from}V{to}m-5 0h10"),
    };
    path("room", &d, "")
}

/// A pin: a head and its needle, its foot at the point.
fn pin([x, y]: [f64; 2]) -> Markup {
    html! { (line("pin", [x, y], [x, y - 9.0])) (circle("pin-head", [x, y - 11.0], 4.0, "")) }
}

/// What the parts of a strip are.
fn key(places: [[f64; 2]; 6]) -> Markup {
    let names = ["rig", "wait", "shoot", "light", "place open", "room"];
    let mark = |name: &str, [x, y]: [f64; 2]| {
        let area = [x, y - 10.0, 20.0, 12.0];
        let bar = [x, y - 5.0, 20.0, 3.0];
        let outlined = |inner: Markup| html! { (inner) (rect("outline", area, "")) };
        match name {
            "rig" => outlined(patterned("hatch", area, "")),
            "wait" => outlined(patterned("dots", area, "")),
            "shoot" => outlined(rect("shoot", area, "")),
            "light" => rect("window-light", bar, ""),
            "place open" => rect("window-access", bar, ""),
            _ => path("room", &format!("M{} {}h20m0 -5v10", n(x), n(y - 4.0)), ""),
        }
    };
    html! {
        @for (place, name) in places.into_iter().zip(names) {
            (mark(name, place))
            (text("", Hang::Start, [place[0] + 26.0, place[1]], name))
        }
    }
}

impl Drawn<'_> {
    fn rig(&self) -> Span {
        let (start, shoot) = (minutes(self.strip.start), minutes(self.strip.shoot));
        let ready = shoot - self.strip.waits_minutes.max(0) as f64;
        Span::new(start, ready.max(start))
    }

    fn wait(&self) -> Span {
        Span::new(self.rig().to_min, minutes(self.strip.shoot))
    }

    fn whole(&self) -> Span {
        span(self.strip.start, self.strip.end)
    }

    fn shoot(&self) -> Span {
        span(self.strip.shoot, self.strip.end)
    }

    fn way(&self) -> Span {
        let there = minutes(self.strip.there);
        Span::new(there - self.strip.travel_minutes.max(0) as f64, there)
    }

    /// The window of the sky's light.
    fn light(&self) -> Option<Span> {
        let strip = &self.strip;
        strip.light.filter(|_| strip.asks_for_light).map(Span::from)
    }

    fn access(&self) -> Option<Span> {
        self.strip.access.map(Span::from)
    }

    /// From its end, how late it may get.
    fn late(&self) -> [f64; 2] {
        let end = minutes(self.strip.end);
        [end, end + self.strip.room_minutes.max(0) as f64]
    }

    /// What there is in hand: `25 min room`, or what breaks.
    fn room(&self) -> String {
        match self.strip.room_minutes {
            _ if !self.breaks.is_empty() => "▲ does not hold".into(),
            room if room < 1 => "no room".into(),
            room => format!("{} room", lasting(room as f64)),
        }
    }

    fn warns(&self) -> &'static str {
        if self.breaks.is_empty() {
            ""
        } else {
            "warn-text"
        }
    }

    /// All of it in one sentence, for who does not see it.
    fn says(&self) -> String {
        let strip = &self.strip;
        let mut says = vec![format!("{}, {}", strip.name, strip.place_name)];
        if strip.travel_minutes > 0 {
            let (way, there) = (lasting(strip.travel_minutes as f64), minutes(strip.there));
            says.push(format!("{way} on the way, there {}", shown(there)));
        }
        let rig = if strip.relit { "relight" } else { "rig" };
        says.push(format!("{rig} {}", shown(minutes(strip.start))));
        let wait = match strip.waits_minutes {
            wait if wait > 0 => format!(", after a wait of {}", lasting(wait as f64)),
            _ => String::new(),
        };
        says.push(format!("shoot {}{wait}", self.shoot().says()));
        says.extend(self.light().map(|at| format!("light {}", at.says())));
        says.extend(self.access().map(|at| format!("open {}", at.says())));
        if strip.pinned {
            says.push("pinned".into());
        }
        says.push(self.room());
        says.extend(self.breaks.iter().map(ToString::to_string));
        says.join("; ")
    }

    /// The group that a hand or a key can move, with what is drawn in it.
    fn group(&self, drawn: &Markup) -> Markup {
        let strip = &self.strip;
        let says = self.says();
        html! {
            g.strip.pinned[strip.pinned].broken[!self.breaks.is_empty()] tabindex="0" role="button" data-setup=(strip.setup) data-start=(strip.start.minutes()) data-shoot=(strip.shoot.minutes()) data-end=(strip.end.minutes()) aria-label=(says) {
                title { (says) }
                (drawn)
            }
        }
    }

    /// Way, rig, wait and shoot, `thick` px from `across` on.
    fn body(&self, axis: &Axis, across: f64, thick: f64) -> Markup {
        // Down the page words stand beside the way, which keeps to the strip's edge.
        let middle = across + thick / 2.0;
        let stroke = |class: &str, at: Span| {
            line(
                class,
                axis.point(at.from_min, middle),
                axis.point(at.to_min, middle),
            )
        };
        let idle = span(self.strip.there, self.strip.start);
        let area = |at: Span| axis.rect(at, across, thick);
        html! {
            @if let Some(way) = self.way().within(axis.of) { (stroke("way", way)) }
            @if let Some(idle) = idle.within(axis.of) { (stroke("idle", idle)) }
            (rect("under", area(self.whole()), ""))
            @if let Some(rig) = self.rig().within(axis.of) { (patterned("hatch", area(rig), "")) }
            @if let Some(wait) = self.wait().within(axis.of) { (patterned("dots", area(wait), "")) }
            (rect("shoot", area(self.shoot()), ""))
            (rect("outline", area(self.whole()), ""))
        }
    }

    /// The window of the light and the place's hours, each a bar beside the strip.
    fn windows(&self, axis: &Axis, [light, access]: [f64; 2], thick: f64) -> Markup {
        let window = |class: &str, at: Option<Span>, across: f64| {
            let at = at.and_then(|at| at.within(axis.of));
            at.map_or_else(Markup::default, |at| {
                rect(class, axis.rect(at, across, thick), "")
            })
        };
        html! { (window("window-light", self.light(), light)) (window("window-access", self.access(), access)) }
    }

    /// Across the page, in the row from `y` on.
    fn wide(&self, axis: &Axis, left: f64, y: f64, row: f64) -> Markup {
        let room = axis.px(self.late()[1]);
        let says = format!("{}, {}", self.shoot().says(), self.room());
        let wide = text_width(&says, 13.0);
        let before = axis.px(self.way().from_min.min(minutes(self.strip.start))) - 8.0;
        let after = room + 10.0 + wide <= axis.end_px() || before - wide < left;
        let (hang, x) = if after {
            (Hang::Start, room + 10.0)
        } else {
            (Hang::End, before)
        };
        let class = if self.breaks.is_empty() {
            ""
        } else {
            "halo warn-text"
        };
        let drawn = html! {
            (rect("hit", [0.0, y + 1.0, axis.end_px(), row - 2.0], ""))
            (self.windows(axis, [y + 5.0, y + row - 8.0], 3.0))
            (self.body(axis, y + 13.0, 24.0))
            (room_mark(axis, self.late(), y + 25.0))
            @if self.strip.pinned { (pin([axis.px(minutes(self.strip.shoot)), y + 14.0])) }
        };
        html! {
            (line("rule", [0.0, y], [axis.end_px(), y]))
            (self.group(&drawn))
            g class=(WORDS) aria-hidden="true" {
                (text("strong", Hang::Start, [0.0, y + 21.0], &fitted(&self.strip.name, left - 10.0, 13.0)))
                (text("", Hang::Start, [0.0, y + 39.0], &fitted(&self.strip.place_name, left - 10.0, 13.0)))
                (text(class, hang, [x, y + 29.5], &says))
            }
        }
    }

    /// Down the page, `left` px from its edge.
    fn narrow(&self, axis: &Axis, lanes: f64, left: f64) -> Markup {
        let width = Width::Narrow.px();
        let y0 = axis.px(self.whole().from_min);
        let tall = axis.px(self.whole().to_min) - y0;
        let whole = axis.rect(self.whole(), left, width - left - 1.0);
        let drawn = html! {
            (rect("hit", [left, y0, width - left, tall.max(24.0)], ""))
            (self.windows(axis, [lanes, lanes + 10.0], 5.0))
            (rect("under", whole, ""))
            (rect("outline", whole, ""))
            (self.body(axis, left, SPINE))
            (room_mark(axis, self.late(), width - 8.0))
            @if self.strip.pinned { (pin([width - 10.0, axis.px(minutes(self.strip.shoot)) + 16.0])) }
        };
        let way = self.way();
        let x = left + SPINE + 4.0;
        let lines = [
            ("strong", self.strip.name.clone()),
            ("", self.shoot().says()),
            (self.warns(), self.room()),
            ("", self.strip.place_name.clone()),
        ];
        let room = ((tall - 3.0) / 15.0).max(1.0) as usize;
        html! {
            (self.group(&drawn))
            g class=(WORDS) aria-hidden="true" {
                @if axis.px(way.to_min) - axis.px(way.from_min) >= 15.0 {
                    @let says = format!("{} on the way", lasting(way.minutes()));
                    (text("halo", Hang::Start, [x, axis.px(way.middle()) + 4.0], &fitted(&says, width - x, 12.0)))
                }
                @for (nth, (class, says)) in lines.iter().take(room).enumerate() {
                    (text(class, Hang::Start, [x + 2.0, y0 + 13.5 + 15.0 * nth as f64], &fitted(says, width - x - 16.0, 12.0)))
                }
            }
        }
    }
}

impl<'a> DayLine<'a> {
    /// The strips, in order.
    pub fn strips(&self) -> Vec<Drawn<'a>> {
        let plan = self.plan;
        let (strips, broken): (Vec<Cow<Strip>>, &'a [Finding]) = if plan.order.is_empty() {
            let day = self.project.days.iter().find(|day| day.id == plan.day);
            let kept = day.map(|day| schedule::kept(self.project, day));
            let kept = kept.into_iter().flatten().map(Cow::Owned);
            (kept.collect(), self.typed)
        } else {
            let found = plan.order.iter().map(Cow::Borrowed);
            (found.collect(), self.conflicts)
        };
        let drawn = |strip: Cow<'a, Strip>| {
            let is = |id: &SetupId| *id == strip.setup;
            let own = broken.iter().filter(|found| found.setups().any(is));
            let breaks = own.collect();
            Drawn { strip, breaks }
        };
        strips.into_iter().map(drawn).collect()
    }

    /// What is drawn of the day: whole half hours, and room for a word at either end.
    fn of(&self, strips: &[Drawn]) -> Span {
        let ways = strips.iter().map(|strip| strip.way().from_min);
        let from = ways.fold(minutes(self.plan.from), f64::min);
        let ends = strips.iter().map(|strip| strip.whole().to_min);
        let to = ends.fold(minutes(self.plan.latest_wrap), f64::max);
        let (from, to) = ((from - 10.0) / 30.0, (to + 10.0) / 30.0);
        Span::new(from.floor() * 30.0, to.ceil() * 30.0)
    }

    /// The light of the curve, or what the day itself knows of it.
    fn light(&self) -> Vec<(Daylight, [f64; 2])> {
        if let Some(curve) = self.curve {
            return curve.light.clone();
        }
        let bands = self.sky.iter().filter_map(|band| {
            let light = match band.light {
                SkyLight::GoldenHour => Daylight::GoldenHour,
                SkyLight::BlueHour => Daylight::BlueHour,
                SkyLight::Night => Daylight::Night,
                _ => return None,
            };
            Some((light, band.at.map(minutes)))
        });
        bands.collect()
    }

    /// Everything, with what a script needs to turn px into minutes.
    fn group(axis: &Axis, drawn: &Markup) -> Markup {
        let along = if axis.down { "y" } else { "x" };
        html! {
            g.day data-from=(axis.of.from_min.round() as i64) data-to=(axis.of.to_min.round() as i64) data-origin=(n(axis.px(axis.of.from_min))) data-scale=(format!("{:.5}", axis.px_per_min())) data-along=(along) { (drawn) }
        }
    }

    fn wide(&self) -> Markup {
        let width = Width::Wide.px();
        let strips = self.strips();
        let left = 206.0;
        let axis = Axis::new(self.of(&strips), left, width - left - 20.0, false);
        let (top, row) = (78.0, 50.0);
        let head = top - 26.0;
        let tall = row * strips.len().max(1) as f64;
        let bands = light::layered(&self.light(), axis.of);
        // Names of the light, moved apart where bands are narrow.
        let seen = light::seen(&bands);
        let named = |band: &Band| {
            let name = text_width(band.light.name(), 12.0) + 8.0;
            (axis.px(band.at.middle()), name)
        };
        let wanted: Vec<(f64, f64)> = seen.iter().map(named).collect();
        let drawn = html! {
            (light::draw(&axis, &bands, head, tall + 26.0))
            (axis.draw(head, tall + 26.0, 13.0, width))
            // More than there is room for is left out.
            @for (band, x) in seen.iter().zip(spread(&wanted, left, width - 4.0)).filter(|(_, x)| *x < width - 30.0) {
                (text("small", Hang::Middle, [x, top - 9.0], band.light.name()))
            }
            (self.meal(&axis, top, tall))
            @for (nth, strip) in strips.iter().enumerate() { (strip.wide(&axis, left, top + row * nth as f64, row)) }
            (self.ends(&axis, [head, top + tall], top + tall + 18.0))
            (axis.now(self.now(), [head, top + tall]))
        };
        let places = [0.0, 80.0, 170.0, 264.0, 352.0, 472.0].map(|x| [left + x, 14.0]);
        let all = html! { (key(places)) (Self::group(&axis, &drawn)) };
        picture(Width::Wide, top + tall + 30.0, &self.name(), true, &all)
    }

    fn narrow(&self) -> Markup {
        let width = Width::Narrow.px();
        let strips = self.strips();
        let (sky, lanes, left, top) = (30.0, 112.0, 134.0, 54.0);
        // So long that the shortest strip is two lines of text tall, or nearly.
        let lengths = strips.iter().map(|strip| strip.whole().minutes());
        let shortest = lengths.filter(|m| *m >= 1.0).fold(60.0, f64::min);
        let scale = (36.0 / shortest).clamp(1.2, 2.2);
        let of = sound(self.of(&strips));
        let axis = Axis::new(of, top, scale * of.minutes().max(60.0), true);
        let bands = light::layered(&self.light(), axis.of);
        let seen = light::seen(&bands);
        let named = |band: &Band| (axis.px(band.at.from_min) + 9.0, 14.0);
        let wanted: Vec<(f64, f64)> = seen.iter().map(named).collect();
        let drawn = html! {
            (light::draw(&axis, &bands, sky, lanes - sky - 4.0))
            (axis.draw(sky, width - sky, 12.0, width))
            @for (band, y) in seen.iter().zip(spread(&wanted, top, axis.end_px())).filter(|(_, y)| *y < axis.end_px()) {
                (text("fine halo", Hang::Start, [sky + 4.0, y + 3.0], light::short(band.light)))
            }
            (self.meal(&axis, left, width - left))
            @for strip in &strips { (strip.narrow(&axis, lanes, left)) }
            (self.ends(&axis, [lanes, width], 0.0))
            (axis.now(self.now(), [sky, width]))
        };
        let places = [(0, 0), (80, 0), (170, 0), (0, 20), (80, 20), (206, 20)];
        let places = places.map(|(x, y)| [f64::from(x), 13.0 + f64::from(y)]);
        let all = html! { (key(places)) (Self::group(&axis, &drawn)) };
        picture(
            Width::Narrow,
            axis.end_px() + 14.0,
            &self.name(),
            true,
            &all,
        )
    }

    fn now(&self) -> Option<f64> {
        self.begun.then(|| minutes(self.plan.from))
    }

    /// When work begins, where it has not.
    fn call(&self) -> Option<f64> {
        (!self.begun).then(|| minutes(self.plan.from))
    }

    fn meal(&self, axis: &Axis, across: f64, thick: f64) -> Markup {
        let meal = self.plan.meal.map(Span::from);
        let Some(meal) = meal.and_then(|meal| meal.within(axis.of)) else {
            return Markup::default();
        };
        let area = axis.rect(meal, across, thick);
        let [x, y, w, h] = area;
        html! {
            (rect("meal", area, &format!("meal {}", meal.says())))
            @if axis.down { (text("", Hang::Start, [x + 6.0, y + h / 2.0 + 4.0], &format!("meal {}", shown(meal.from_min)))) }
            @else { (text("halo", Hang::Middle, [x + w / 2.0, y + h - 6.0], "meal")) }
        }
    }

    /// Call and latest wrap.
    fn ends(&self, axis: &Axis, [from, to]: [f64; 2], words: f64) -> Markup {
        let wrap = ("wrap by", minutes(self.plan.latest_wrap));
        let ends = self.call().map(|at| ("call", at)).into_iter().chain([wrap]);
        let word = |what: &str, at: f64| {
            let says = format!("{what} {}", shown(at));
            if axis.down {
                let under = if what == "call" { -3.0 } else { 11.0 };
                return text("halo", Hang::End, [to - 2.0, axis.px(at) + under], &says);
            }
            let half = text_width(&says, 13.0) / 2.0;
            let x = kept(axis.px(at), half, axis.end_px() + 16.0 - half);
            text("", Hang::Middle, [x, words], &says)
        };
        html! {
            @for (what, at) in ends.filter(|(_, at)| axis.of.holds(*at)) {
                (line("end", axis.point(at, from), axis.point(at, to)))
                (word(what, at))
            }
        }
    }
}

impl Chart for DayLine<'_> {
    fn name(&self) -> String {
        format!("The day, {}", self.date)
    }

    fn alive(&self, width: Width) -> Markup {
        html! { day-line { (self.svg(width)) } }
    }

    fn svg(&self, width: Width) -> Markup {
        match width {
            Width::Narrow => self.narrow(),
            Width::Wide => self.wide(),
        }
    }

    fn rows(&self) -> Table {
        let mut table = Table::new(&[
            "setup", "place", "there", "rig", "shoot", "end", "light", "open", "room", "remark",
        ]);
        let pair = |at: Option<Span>| at.map(Span::says).unwrap_or_default();
        for drawn in self.strips() {
            let strip = &drawn.strip;
            let mut remarks: Vec<String> = Vec::new();
            if strip.pinned {
                remarks.push("pinned".into());
            }
            if strip.travel_minutes > 0 {
                let way = lasting(strip.travel_minutes as f64);
                remarks.push(format!("{way} on the way"));
            }
            if strip.relit {
                remarks.push("relit on the rig before".into());
            }
            if strip.waits_minutes > 0 {
                remarks.push(format!("waits {}", lasting(strip.waits_minutes as f64)));
            }
            remarks.extend(drawn.breaks.iter().map(ToString::to_string));
            let times = [strip.there, strip.start, strip.shoot, strip.end];
            let [there, rig, shoot, end] = times.map(|at| shown(minutes(at)));
            let (light, open) = (pair(drawn.light()), pair(drawn.access()));
            let room = lasting(strip.room_minutes as f64);
            let (name, place) = (&strip.name, &strip.place_name);
            let remarks = remarks.join("; ");
            table.push(&[
                name, place, &there, &rig, &shoot, &end, &light, &open, &room, &remarks,
            ]);
        }
        let mut other = |what: &str, from: Option<f64>, to: Option<f64>| {
            let [from, to] = [from, to].map(|at| at.map(shown).unwrap_or_default());
            table.push(&[what, "", "", "", &from, &to]);
        };
        if let Some(call) = self.call() {
            other("call", Some(call), None);
        }
        if let Some([from, to]) = self.plan.meal {
            other("meal", Some(minutes(from)), Some(minutes(to)));
        }
        other("wrap by", None, Some(minutes(self.plan.latest_wrap)));
        for (light, [from, to]) in self.light() {
            other(light.name(), Some(from), Some(to));
        }
        table
    }
}
