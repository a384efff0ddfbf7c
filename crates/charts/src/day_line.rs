//! The day as a time line: each setup's strip under the sky, with its windows, way, rig, wait, shoot and room.
//!
//! A strip is a group that takes the keyboard and carries its times as data, so that the element `day-line`
//! can move it.

use crate::clock::{Axis, Span, clock, clock_in_words, lasting, sound};
use crate::draw::{Hang, Svg, escaped, fitted, kept, n, spread, text_width};
use crate::figure::{Chart, Width};
use crate::light::{self, Band};
use crate::table::Table;

/// One setup in the day.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct DayStrip {
    /// Its id.
    pub setup: String,
    /// What it is called.
    pub name: String,
    /// What its place is called.
    pub place: String,
    /// Minutes on the way there.
    pub travel_min: f64,
    /// When one is there.
    pub there_min: f64,
    /// When its rig, or relight, begins.
    pub start_min: f64,
    /// When its shoot begins.
    pub shoot_min: f64,
    /// When it ends.
    pub end_min: f64,
    /// Whether it stands on the rig of the one before.
    pub relit: bool,
    /// Whether its time was pinned by hand.
    pub pinned: bool,
    /// Minutes between being ready and the light; the last before the shoot.
    pub waits_min: f64,
    /// The window of its light.
    pub light: Option<Span>,
    /// The place's hours it lies in.
    pub access: Option<Span>,
    /// How late one may set out for it, it and all that follows still fitting.
    pub room_min: f64,
    /// What breaks at this time, one sentence each.
    pub breaks: Vec<String>,
}

/// A day.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct DayLine {
    /// Which day, as it is shown.
    pub day: String,
    /// What is drawn of it.
    pub of: Span,
    /// The sky over it.
    pub sky: Vec<Band>,
    /// When work begins.
    pub call_min: Option<f64>,
    /// When it must have ended.
    pub latest_wrap_min: Option<f64>,
    /// The meal.
    pub meal: Option<Span>,
    /// The setups in order.
    pub strips: Vec<DayStrip>,
    /// What the clock shows, while the day runs.
    pub now_min: Option<f64>,
}

impl DayStrip {
    fn rig(&self) -> Span {
        Span::new(
            self.start_min,
            (self.shoot_min - self.waits_min.max(0.0)).max(self.start_min),
        )
    }

    fn wait(&self) -> Span {
        Span::new(self.rig().to_min, self.shoot_min)
    }

    fn shoot(&self) -> Span {
        Span::new(self.shoot_min, self.end_min)
    }

    fn way(&self) -> Span {
        Span::new(self.there_min - self.travel_min.max(0.0), self.there_min)
    }

    const fn rig_word(&self) -> &'static str {
        if self.relit { "relight" } else { "rig" }
    }

    /// What there is in hand: `25 min room`, or what breaks.
    fn room(&self) -> String {
        if !self.breaks.is_empty() {
            return "▲ does not fit".into();
        }
        match self.room_min {
            room if room < 0.5 => "no room".into(),
            room => format!("{} room", lasting(room)),
        }
    }

    /// All of it in one sentence, for who does not see it.
    fn says(&self) -> String {
        let mut says = format!("{}, {}", self.name, self.place);
        if self.travel_min >= 0.5 {
            says += &format!(
                "; {} on the way, there {}",
                lasting(self.travel_min),
                clock(self.there_min)
            );
        }
        says += &format!(
            "; {} {}; shoot {}",
            self.rig_word(),
            clock(self.start_min),
            self.shoot().says()
        );
        if self.waits_min >= 0.5 {
            says += &format!(", after a wait of {}", lasting(self.waits_min));
        }
        if let Some(light) = self.light {
            says += &format!("; light {}", light.says());
        }
        if let Some(access) = self.access {
            says += &format!("; open {}", access.says());
        }
        if self.pinned {
            says += "; pinned";
        }
        says += &format!("; {}", self.room());
        for broken in &self.breaks {
            says += &format!("; {broken}");
        }
        says
    }

    /// Opens the group that a hand or a key can move.
    fn open(&self, svg: &mut Svg) {
        let mut class = String::from("strip");
        if self.pinned {
            class += " pinned";
        }
        if !self.breaks.is_empty() {
            class += " broken";
        }
        let whole = |minutes: f64| {
            if minutes.is_finite() {
                minutes.round() as i64
            } else {
                0
            }
        };
        svg.open(&format!(
            r#"class="{class}" tabindex="0" role="button" data-setup="{}" data-start="{}" data-shoot="{}" data-end="{}" aria-label="{}""#,
            escaped(&self.setup),
            whole(self.start_min),
            whole(self.shoot_min),
            whole(self.end_min),
            escaped(&self.says())
        ));
        svg.title(&self.says());
    }

    /// Way, rig, wait and shoot, `thick` px from `across` on.
    fn body(&self, svg: &mut Svg, axis: &Axis, across: f64, thick: f64) {
        // Down the page words stand beside the way, which keeps to the strip's edge.
        let middle = across + thick / 2.0;
        if let Some(way) = self.way().within(axis.of) {
            let ([x0, y0], [x1, y1]) = (
                axis.point(way.from_min, middle),
                axis.point(way.to_min, middle),
            );
            svg.path(
                "way",
                &format!("M{} {}L{} {}", n(x0), n(y0), n(x1), n(y1)),
                "",
            );
        }
        if let Some(idle) = Span::new(self.there_min, self.start_min).within(axis.of) {
            svg.line(
                "idle",
                axis.point(idle.from_min, middle),
                axis.point(idle.to_min, middle),
            );
        }
        svg.rect(
            "under",
            axis.rect(Span::new(self.start_min, self.end_min), across, thick),
            "",
        );
        if let Some(rig) = self.rig().within(axis.of) {
            svg.patterned("hatch", axis.rect(rig, across, thick), "");
        }
        if let Some(wait) = self.wait().within(axis.of) {
            svg.patterned("dots", axis.rect(wait, across, thick), "");
        }
        svg.rect("shoot", axis.rect(self.shoot(), across, thick), "");
        svg.rect(
            "outline",
            axis.rect(Span::new(self.start_min, self.end_min), across, thick),
            "",
        );
    }
}

/// Words of a strip stand beside its group and not in it: its name says them, and more.
const WORDS: &str = r#"class="words" aria-hidden="true""#;

/// Width of the part of a strip down the page that shows rig, wait and shoot, px; words stand beside it.
const SPINE: f64 = 14.0;

/// What the parts of a strip are.
fn key(svg: &mut Svg, places: [[f64; 2]; 6], size: f64) {
    let names = ["rig", "wait", "shoot", "light", "place open", "room"];
    for ([x, y], name) in places.into_iter().zip(names) {
        let area = [x, y - 10.0, 20.0, 12.0];
        match name {
            "rig" => svg.patterned("hatch", area, ""),
            "wait" => svg.patterned("dots", area, ""),
            "shoot" => svg.rect("shoot", area, ""),
            "light" => svg.rect("window-light", [x, y - 5.0, 20.0, 3.0], ""),
            "place open" => svg.rect("window-access", [x, y - 5.0, 20.0, 3.0], ""),
            _ => svg.path("room", &format!("M{} {}h20m0 -5v10", n(x), n(y - 4.0)), ""),
        }
        if matches!(name, "rig" | "wait" | "shoot") {
            svg.rect("outline", area, "");
        }
        svg.text("", [x + 26.0, y], size, Hang::Start, name);
    }
}

/// A pin: a head and its needle, its foot at the point.
fn pin(svg: &mut Svg, [x, y]: [f64; 2]) {
    svg.line("pin", [x, y], [x, y - 9.0]);
    svg.circle("pin-head", [x, y - 11.0], 4.0, "");
}

impl DayLine {
    /// What a script needs to turn px into minutes.
    fn open(&self, svg: &mut Svg, axis: &Axis) {
        svg.open(&format!(
            r#"class="day" data-from="{}" data-to="{}" data-origin="{}" data-scale="{:.5}" data-along="{}""#,
            axis.of.from_min.round() as i64,
            axis.of.to_min.round() as i64,
            n(axis.px(axis.of.from_min)),
            axis.px_per_min(),
            if axis.down { "y" } else { "x" }
        ));
    }

    fn wide(&self, id: &str) -> String {
        let width = Width::Wide.px();
        let (left, size) = (206.0, 13.0);
        let axis = Axis::new(self.of, left, width - left - 20.0, false);
        let (top, row) = (78.0, 50.0);
        let tall = row * self.strips.len().max(1) as f64;
        let mut svg = Svg::new(id, width, top + tall + 30.0, &self.name(), true);
        key(
            &mut svg,
            [0.0, 80.0, 170.0, 264.0, 352.0, 472.0].map(|x| [left + x, 14.0]),
            size,
        );
        self.open(&mut svg, &axis);
        light::draw(&mut svg, &axis, &self.sky, top - 26.0, tall + 26.0);
        axis.draw(&mut svg, top - 26.0, tall + 26.0, size, width);
        // Names of the light, moved apart where bands are narrow.
        let seen = light::seen(&self.sky, axis.of);
        let wanted: Vec<(f64, f64)> = seen
            .iter()
            .map(|band| {
                (
                    (axis.px(band.at.from_min) + axis.px(band.at.to_min)) / 2.0,
                    text_width(band.light.name(), 12.0) + 8.0,
                )
            })
            .collect();
        for (band, x) in seen.iter().zip(spread(&wanted, left, width - 4.0)) {
            svg.text("", [x, top - 9.0], 12.0, Hang::Middle, band.light.name());
        }
        self.meal(&mut svg, &axis, top, tall);
        for (nth, strip) in self.strips.iter().enumerate() {
            let y = top + row * nth as f64;
            svg.line("rule", [0.0, y], [axis.end_px(), y]);
            strip.open(&mut svg);
            svg.rect("hit", [0.0, y + 1.0, axis.end_px(), row - 2.0], "");
            windows(&mut svg, &axis, strip, [y + 5.0, y + row - 8.0], 3.0);
            strip.body(&mut svg, &axis, y + 13.0, 24.0);
            let end = axis.px(strip.end_min);
            let room = axis.px(strip.end_min + strip.room_min.max(0.0));
            svg.path(
                "room",
                &format!("M{} {}H{}m0 -5v10", n(end), n(y + 25.0), n(room)),
                "",
            );
            if strip.pinned {
                pin(&mut svg, [axis.px(strip.shoot_min), y + 14.0]);
            }
            svg.close();
            svg.open(WORDS);
            svg.text(
                "strong",
                [0.0, y + 21.0],
                size,
                Hang::Start,
                &fitted(&strip.name, left - 10.0, size),
            );
            svg.text(
                "",
                [0.0, y + 39.0],
                size,
                Hang::Start,
                &fitted(&strip.place, left - 10.0, size),
            );
            let says = format!("{}, {}", strip.shoot().says(), strip.room());
            let wide = text_width(&says, size);
            let before = axis.px(strip.way().from_min.min(strip.start_min)) - 8.0;
            let class = if strip.breaks.is_empty() {
                ""
            } else {
                "halo warn-text"
            };
            if room + 10.0 + wide <= axis.end_px() || before - wide < left {
                svg.text(class, [room + 10.0, y + 29.5], size, Hang::Start, &says);
            } else {
                svg.text(class, [before, y + 29.5], size, Hang::End, &says);
            }
            svg.close();
        }
        self.ends(&mut svg, &axis, [top - 26.0, top + tall], top + tall + 18.0);
        axis.mark(
            &mut svg,
            "now",
            self.now_min,
            [top - 26.0, top + tall],
            "now",
        );
        svg.close();
        svg.end()
    }

    fn narrow(&self, id: &str) -> String {
        let width = Width::Narrow.px();
        let (sky, lanes, left) = (30.0, 112.0, 134.0);
        // So long that the shortest strip is two lines of text tall, or nearly.
        let shortest = self
            .strips
            .iter()
            .map(|strip| strip.end_min - strip.start_min)
            .filter(|m| m.is_finite() && *m >= 1.0)
            .fold(60.0, f64::min);
        let scale = (36.0 / shortest).clamp(1.2, 2.2);
        let top = 54.0;
        let of = sound(self.of);
        let minutes = (of.to_min - of.from_min).max(60.0);
        let axis = Axis::new(self.of, top, scale * minutes, true);
        let mut svg = Svg::new(id, width, axis.end_px() + 14.0, &self.name(), true);
        let places = [
            [0.0, 13.0],
            [80.0, 13.0],
            [170.0, 13.0],
            [0.0, 33.0],
            [80.0, 33.0],
            [206.0, 33.0],
        ];
        key(&mut svg, places, 12.0);
        self.open(&mut svg, &axis);
        light::draw(&mut svg, &axis, &self.sky, sky, lanes - sky - 4.0);
        axis.draw(&mut svg, sky, width - sky, 12.0, width);
        let seen = light::seen(&self.sky, axis.of);
        let wanted: Vec<(f64, f64)> = seen
            .iter()
            .map(|band| (axis.px(band.at.from_min) + 9.0, 14.0))
            .collect();
        for (band, y) in seen.iter().zip(spread(&wanted, top, axis.end_px())) {
            svg.text(
                "halo",
                [sky + 4.0, y + 3.0],
                11.0,
                Hang::Start,
                band.light.short(),
            );
        }
        self.meal(&mut svg, &axis, left, width - left);
        for strip in &self.strips {
            strip.open(&mut svg);
            let y0 = axis.px(strip.start_min);
            let tall = axis.px(strip.end_min) - y0;
            svg.rect("hit", [left, y0, width - left, tall.max(24.0)], "");
            windows(&mut svg, &axis, strip, [lanes, lanes + 10.0], 5.0);
            let whole = axis.rect(
                Span::new(strip.start_min, strip.end_min),
                left,
                width - left - 1.0,
            );
            svg.rect("under", whole, "");
            svg.rect("outline", whole, "");
            strip.body(&mut svg, &axis, left, SPINE);
            let end = axis.px(strip.end_min);
            let room = axis.px(strip.end_min + strip.room_min.max(0.0));
            svg.path(
                "room",
                &format!("M{} {}V{}m-5 0h10", n(width - 8.0), n(end), n(room)),
                "",
            );
            if strip.pinned {
                pin(&mut svg, [width - 10.0, axis.px(strip.shoot_min) + 16.0]);
            }
            svg.close();
            svg.open(WORDS);
            let way = strip.way();
            if axis.px(way.to_min) - axis.px(way.from_min) >= 15.0 {
                let says = format!("{} on the way", lasting(strip.travel_min));
                let middle = axis.px((way.from_min + way.to_min) / 2.0);
                let x = left + SPINE + 4.0;
                svg.text(
                    "halo",
                    [x, middle + 4.0],
                    12.0,
                    Hang::Start,
                    &fitted(&says, width - x, 12.0),
                );
            }
            let inner = width - left - SPINE - 20.0;
            let mut lines = vec![
                ("strong", strip.name.clone()),
                ("", strip.shoot().says()),
                (
                    if strip.breaks.is_empty() {
                        ""
                    } else {
                        "warn-text"
                    },
                    strip.room(),
                ),
                ("", strip.place.clone()),
            ];
            lines.truncate(((tall - 3.0) / 15.0).max(1.0) as usize);
            for (nth, (class, says)) in lines.iter().enumerate() {
                let y = y0 + 13.5 + 15.0 * nth as f64;
                svg.text(
                    class,
                    [left + SPINE + 6.0, y],
                    12.0,
                    Hang::Start,
                    &fitted(says, inner, 12.0),
                );
            }
            svg.close();
        }
        self.ends(&mut svg, &axis, [lanes, width], 0.0);
        axis.mark(&mut svg, "now", self.now_min, [sky, width], "now");
        svg.close();
        svg.end()
    }

    fn meal(&self, svg: &mut Svg, axis: &Axis, across: f64, thick: f64) {
        let Some(meal) = self.meal.and_then(|meal| meal.within(axis.of)) else {
            return;
        };
        let area = axis.rect(meal, across, thick);
        svg.rect("meal", area, &format!("meal {}", meal.says()));
        let [x, y, w, h] = area;
        if axis.down {
            svg.text(
                "",
                [x + 6.0, y + h / 2.0 + 4.0],
                12.0,
                Hang::Start,
                &format!("meal {}", clock(meal.from_min)),
            );
        } else {
            svg.text(
                "halo",
                [x + w / 2.0, y + h - 6.0],
                13.0,
                Hang::Middle,
                "meal",
            );
        }
    }

    /// Call and latest wrap.
    fn ends(&self, svg: &mut Svg, axis: &Axis, [from, to]: [f64; 2], words: f64) {
        let called = self.call_min.map(|at| ("call", at));
        let wrap = self.latest_wrap_min.map(|at| ("wrap by", at));
        for (what, at) in [called, wrap].into_iter().flatten() {
            if !(axis.of.from_min..=axis.of.to_min).contains(&at) {
                continue;
            }
            svg.line("end", axis.point(at, from), axis.point(at, to));
            let says = format!("{what} {}", clock(at));
            if axis.down {
                let under = if what == "call" { -3.0 } else { 11.0 };
                svg.text(
                    "halo",
                    [to - 2.0, axis.px(at) + under],
                    12.0,
                    Hang::End,
                    &says,
                );
            } else {
                let half = text_width(&says, 13.0) / 2.0;
                let x = kept(axis.px(at), half, axis.end_px() + 16.0 - half);
                svg.text("", [x, words], 13.0, Hang::Middle, &says);
            }
        }
    }
}

/// The window of the light and the place's hours, each a bar beside the strip.
fn windows(svg: &mut Svg, axis: &Axis, strip: &DayStrip, [light, access]: [f64; 2], thick: f64) {
    if let Some(at) = strip.light.and_then(|at| at.within(axis.of)) {
        svg.rect("window-light", axis.rect(at, light, thick), "");
    }
    if let Some(at) = strip.access.and_then(|at| at.within(axis.of)) {
        svg.rect("window-access", axis.rect(at, access, thick), "");
    }
}

impl Chart for DayLine {
    fn name(&self) -> String {
        format!("The day, {}", self.day)
    }

    fn element(&self) -> Option<&'static str> {
        Some("day-line")
    }

    fn svg(&self, id: &str, width: Width) -> String {
        match width {
            Width::Narrow => self.narrow(id),
            Width::Wide => self.wide(id),
        }
    }

    fn rows(&self) -> Table {
        let mut table = Table::new([
            "setup", "place", "there", "rig", "shoot", "end", "light", "open", "room", "remark",
        ]);
        let pair = |at: Option<Span>| at.map(Span::says).unwrap_or_default();
        for strip in &self.strips {
            let mut remarks = Vec::new();
            if strip.pinned {
                remarks.push("pinned".to_owned());
            }
            if strip.travel_min >= 0.5 {
                remarks.push(format!("{} on the way", lasting(strip.travel_min)));
            }
            if strip.relit {
                remarks.push("relit on the rig before".into());
            }
            if strip.waits_min >= 0.5 {
                remarks.push(format!("waits {}", lasting(strip.waits_min)));
            }
            remarks.extend(strip.breaks.iter().cloned());
            table.push([
                strip.name.clone(),
                strip.place.clone(),
                clock_in_words(strip.there_min),
                clock_in_words(strip.start_min),
                clock_in_words(strip.shoot_min),
                clock_in_words(strip.end_min),
                pair(strip.light),
                pair(strip.access),
                lasting(strip.room_min),
                remarks.join("; "),
            ]);
        }
        let mut other = |what: &str, from: Option<f64>, to: Option<f64>| {
            let time = |at: Option<f64>| at.map(clock_in_words).unwrap_or_default();
            let mut row = vec![String::new(); 10];
            row[0] = what.to_owned();
            row[4] = time(from);
            row[5] = time(to);
            table.rows.push(row);
        };
        other("call", self.call_min, None);
        if let Some(meal) = self.meal {
            other("meal", Some(meal.from_min), Some(meal.to_min));
        }
        other("wrap by", None, self.latest_wrap_min);
        for band in &self.sky {
            other(
                band.light.name(),
                Some(band.at.from_min),
                Some(band.at.to_min),
            );
        }
        table
    }
}
