//! The sky of a date over one place: how high sun and moon stand, which light that is, when the street
//! has sun, when one may be there, and what is planned.

use crate::clock::{Axis, Span, clock, clock_in_words, lasting, sound};
use crate::draw::{Hang, Svg, figure, fitted, kept, n, numbered, spread, text_width};
use crate::figure::{Chart, Width};
use crate::light::{self, Band};
use crate::table::Table;
use std::fmt::Write as _;

/// Where a body stands at a time.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Standing {
    /// When.
    pub at_min: f64,
    /// Its altitude, degrees above the horizon.
    pub altitude_deg: f64,
}

/// How the moon looks.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MoonPhase {
    /// Share of its disc that is lit, 0 to 1.
    pub lit: f64,
    /// Whether the lit side grows.
    pub waxing: bool,
    /// Whether the lit limb is on the right, as it is north of the tropics while it waxes.
    pub lit_on_right: bool,
}

/// Something that happens at a time: sunset, moonrise.
#[derive(Clone, Debug, PartialEq)]
pub struct Event {
    /// When.
    pub at_min: f64,
    /// What, in a word or two.
    pub what: String,
}

/// A setup planned here.
#[derive(Clone, Debug, PartialEq)]
pub struct Planned {
    /// Its id.
    pub setup: String,
    /// What it is called.
    pub name: String,
    /// When it is shot.
    pub shoot: Span,
}

/// The sky of a date; for a night, from noon to noon.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Sky {
    /// What the place is called.
    pub place: String,
    /// The date, as it is shown.
    pub date: String,
    /// What is drawn of it.
    pub of: Span,
    /// The sun, in order of time.
    pub sun: Vec<Standing>,
    /// The moon, likewise.
    pub moon: Vec<Standing>,
    /// How the moon looks, where it is known.
    pub phase: Option<MoonPhase>,
    /// Day, twilights and night; golden and blue hour lie over them.
    pub bands: Vec<Band>,
    /// When the sun reaches the street over what stands around; `None` where that is not known.
    pub sunlit: Option<Vec<Span>>,
    /// When one may be there; empty for any time.
    pub access: Vec<Span>,
    /// What happens, in order of time.
    pub events: Vec<Event>,
    /// What is planned here.
    pub setups: Vec<Planned>,
    /// What the clock shows, while the day runs.
    pub now_min: Option<f64>,
}

/// Below this no twilight is left, and nothing changes any more.
const LOWEST_DEG: f64 = -24.0;

impl Planned {
    /// `Stairs, 19:20 to 19:45`.
    fn says(&self) -> String {
        format!("{}, {}", self.name, self.shoot.says())
    }
}

impl Sky {
    /// Altitudes the drawing spans: whole tens around what comes, the deep of the night left out.
    fn altitudes(&self) -> (f64, f64) {
        let all = || self.sun.iter().chain(&self.moon);
        let finite = |s: &Standing| s.altitude_deg.is_finite().then_some(s.altitude_deg);
        let most = all().filter_map(finite).fold(10.0, f64::max).min(90.0);
        (LOWEST_DEG, ((most + 4.0) / 10.0).ceil() * 10.0)
    }

    /// What happens, each with its time.
    fn happens(&self, of: Span) -> Vec<(f64, String)> {
        let seen = |event: &&Event| (of.from_min..=of.to_min).contains(&event.at_min);
        let events = self.events.iter().filter(seen);
        let mut all: Vec<(f64, String)> = events
            .map(|event| {
                (
                    event.at_min,
                    format!("{} {}", clock(event.at_min), event.what),
                )
            })
            .collect();
        all.sort_by(|a, b| a.0.total_cmp(&b.0));
        all
    }

    fn wide(&self, id: &str) -> String {
        let width = Width::Wide.px();
        let (left, top, tall) = (132.0, 50.0, 270.0);
        let axis = Axis::new(self.of, left, width - left - 20.0, false);
        let span = axis.end_px() - left;
        let lanes = top + tall + 10.0;
        let (lane, gap) = (18.0, 8.0);
        let notes = lanes + 3.0 * (lane + gap) + 12.0;
        let place = |at: f64, says: &str| (axis.px(at), text_width(says, 13.0) + 12.0);
        let mut events = self.happens(axis.of);
        // A band too narrow for its name is named below.
        let seen = light::seen(&self.bands, axis.of).into_iter();
        let slim = seen.filter(|band| light::is_slim(&axis, band));
        events.extend(slim.map(|band| {
            let from = band.at.from_min;
            (from, format!("{} {}", clock(from), band.light.name()))
        }));
        events.sort_by(|a, b| a.0.total_cmp(&b.0));
        let wanted: Vec<(f64, f64)> = events.iter().map(|(at, says)| place(*at, says)).collect();
        let moved = spread(&wanted, left, width - 4.0);
        let far = |(x, (at, _)): (&f64, &(f64, f64))| (x - at).abs() > 30.0;
        // One line of labels, or two in turn where they crowd.
        let count = if moved.iter().zip(&wanted).any(far) {
            2
        } else {
            1
        };
        let mut rows = vec![Vec::new(); count];
        for (nth, event) in events.into_iter().enumerate() {
            rows[nth % count].push(event);
        }
        let names: Vec<String> = self.setups.iter().map(Planned::says).collect();
        let names: Vec<&str> = names.iter().map(String::as_str).collect();
        let key = numbered(&names, span, 13.0);
        let keys = notes + 19.0 * count as f64 + 18.0;
        let height = keys + 17.0 * key.len() as f64 - 8.0;
        let mut svg = Svg::new(id, width, height, &self.name(), false);
        svg.path("sun-curve", &format!("M{} 9h26", n(left)), "");
        svg.text("", [left + 34.0, 13.5], 13.0, Hang::Start, "sun");
        svg.path("moon-curve", &format!("M{} 9h26", n(left + 90.0)), "");
        let moon = match self.phase {
            Some(phase) => format!("moon, {}", percent_lit(phase)),
            None => "moon".to_owned(),
        };
        svg.text("", [left + 124.0, 13.5], 13.0, Hang::Start, &moon);
        light::draw(&mut svg, &axis, &self.bands, top, tall);
        axis.draw(
            &mut svg,
            top,
            tall + 10.0 + 3.0 * (lane + gap) - gap,
            13.0,
            width,
        );
        light::names_upright(&mut svg, &axis, &self.bands, top, tall * 0.62);
        let (low, high) = self.altitudes();
        let y = |deg: f64| top + tall * (high - deg.clamp(low, high)) / (high - low);
        for deg in [-18.0, -12.0, -6.0, 0.0, 15.0, 30.0, 45.0, 60.0, 75.0, 90.0] {
            if (low..=high).contains(&deg) {
                let class = if deg == 0.0 { "level horizon" } else { "level" };
                svg.line(class, [left, y(deg)], [left + span, y(deg)]);
                let says = match deg {
                    0.0 => "horizon 0°".to_owned(),
                    deg => format!("{}°", figure(deg, 0)),
                };
                svg.text("", [left - 8.0, y(deg) + 4.4], 13.0, Hang::End, &says);
            }
        }
        self.curves(&mut svg, &axis, (low, high), |at, deg| {
            [axis.px(at), y(deg)]
        });
        self.lanes(&mut svg, &axis, lanes, lane, gap);
        for (nth, name) in ["sun in the street", "may be there", "planned here"]
            .into_iter()
            .enumerate()
        {
            let y = lanes + nth as f64 * (lane + gap) + 13.5;
            svg.text("", [left - 8.0, y], 13.0, Hang::End, name);
        }
        for (row, own) in rows.iter().enumerate() {
            let wanted: Vec<(f64, f64)> = own.iter().map(|(at, says)| place(*at, says)).collect();
            let y = notes + 14.0 + row as f64 * 19.0;
            for ((at, says), x) in own.iter().zip(spread(&wanted, left, width - 4.0)) {
                let from = axis.px(*at);
                let d = format!("M{} {}L{} {}", n(from), n(notes - 12.0), n(x), n(y - 12.0));
                svg.path("leader", &d, "");
                svg.text("", [x, y], 13.0, Hang::Middle, says);
            }
        }
        for (nth, line) in key.iter().enumerate() {
            let y = keys + 17.0 * nth as f64;
            svg.text("", [left, y], 13.0, Hang::Start, line);
        }
        axis.mark(&mut svg, "now", self.now_min, [top, notes - 12.0], "now");
        svg.end()
    }

    fn narrow(&self, id: &str) -> String {
        let width = Width::Narrow.px();
        let of = sound(self.of);
        let minutes = (of.to_min - of.from_min).max(60.0);
        let (left, top, across) = (30.0, 40.0, 104.0);
        // Long enough for all that is said beside it.
        let words = self.events.len() + self.setups.len() + light::seen(&self.bands, of).len();
        let long = (0.58 * minutes).max(15.0 * (words + 1) as f64);
        let axis = Axis::new(of, top, long, true);
        let lanes = left + across + 6.0;
        let (lane, gap) = (14.0, 4.0);
        let notes = lanes + 3.0 * (lane + gap) + 10.0;
        let mut svg = Svg::new(id, width, axis.end_px() + 26.0, &self.name(), false);
        light::draw(&mut svg, &axis, &self.bands, left, across);
        axis.draw(
            &mut svg,
            left,
            across + 6.0 + 3.0 * (lane + gap) - gap,
            12.0,
            width,
        );
        let (low, high) = self.altitudes();
        let x = |deg: f64| left + across * (deg.clamp(low, high) - low) / (high - low);
        for deg in [0.0, 30.0, 60.0] {
            if (low..=high).contains(&deg) {
                let class = if deg == 0.0 { "level horizon" } else { "level" };
                svg.line(class, [x(deg), top], [x(deg), axis.end_px()]);
                let says = format!("{}°", figure(deg, 0));
                svg.text("", [x(deg), top - 4.0], 11.0, Hang::Middle, &says);
            }
        }
        self.curves(&mut svg, &axis, (low, high), |at, deg| {
            [x(deg), axis.px(at)]
        });
        self.lanes(&mut svg, &axis, lanes, lane, gap);
        for (nth, name) in ["sun in the street", "may be there", "planned here"]
            .into_iter()
            .enumerate()
        {
            let middle = lanes + nth as f64 * (lane + gap) + lane / 2.0;
            let y = 11.5 * (nth as f64 + 1.0);
            svg.line("leader", [middle, top - 2.0], [middle, y - 2.0]);
            svg.text("", [middle + 4.0, y], 11.0, Hang::Start, name);
        }
        let mut all: Vec<(f64, String, &str)> = Vec::new();
        all.extend(
            self.happens(axis.of)
                .into_iter()
                .map(|(at, says)| (at, says, "")),
        );
        for setup in &self.setups {
            if let Some(seen) = setup.shoot.within(axis.of) {
                let middle = (seen.from_min + seen.to_min) / 2.0;
                all.push((middle, setup.name.clone(), "strong"));
            }
        }
        // What light it is, beside its band: there is no room in it.
        for band in light::seen(&self.bands, axis.of) {
            let middle = (band.at.from_min + band.at.to_min) / 2.0;
            all.push((middle, band.light.short().to_owned(), ""));
        }
        all.sort_by(|a, b| a.0.total_cmp(&b.0));
        let wanted: Vec<(f64, f64)> = all.iter().map(|(at, ..)| (axis.px(*at), 15.0)).collect();
        let room = width - notes - 2.0;
        for ((at, says, class), y) in all.iter().zip(spread(&wanted, top, axis.end_px() + 6.0)) {
            let x = notes - 8.0;
            let d = format!("M{} {}L{} {}", n(x), n(axis.px(*at)), n(x + 6.0), n(y));
            svg.path("leader", &d, "");
            let says = fitted(says, room, 12.0);
            svg.text(class, [notes, y + 4.0], 12.0, Hang::Start, &says);
        }
        if let Some(phase) = self.phase {
            let says = format!("moon {}", percent_lit(phase));
            svg.text("", [left, axis.end_px() + 20.0], 12.0, Hang::Start, &says);
        }
        axis.mark(&mut svg, "now", self.now_min, [left, notes - 8.0], "now");
        svg.end()
    }

    /// Sun and moon, cut where they leave the drawing.
    fn curves(
        &self,
        svg: &mut Svg,
        axis: &Axis,
        (low, high): (f64, f64),
        at: impl Fn(f64, f64) -> [f64; 2],
    ) {
        for (class, name, body) in [
            ("moon-curve", "moon", &self.moon),
            ("sun-curve", "sun", &self.sun),
        ] {
            let mut d = String::new();
            let mut pen = false;
            for pair in body.windows(2) {
                let Some([from, to]) = cut(pair[0], pair[1], axis.of, (low, high)) else {
                    pen = false;
                    continue;
                };
                let ([x0, y0], [x1, y1]) = (
                    at(from.at_min, from.altitude_deg),
                    at(to.at_min, to.altitude_deg),
                );
                if !pen {
                    let _ = write!(d, "M{} {}", n(x0), n(y0));
                }
                let _ = write!(d, "L{} {}", n(x1), n(y1));
                // Where the end was cut the next one begins anew.
                pen = to == pair[1];
            }
            if d.is_empty() {
                continue;
            }
            let highest = highest(body, axis.of);
            let says = match highest {
                Some(top) => format!(
                    "{name}, highest {}° at {}",
                    figure(top.altitude_deg, 0),
                    clock(top.at_min)
                ),
                None => name.to_owned(),
            };
            svg.path(class, &d, &says);
            if let Some(top) = highest.filter(|top| top.altitude_deg > low) {
                let [x, y] = at(top.at_min, top.altitude_deg);
                // Kept off the edges of the plot.
                let inset = if axis.down { [0.0, 18.0] } else { [18.0, 0.0] };
                let first = axis.point(axis.of.from_min, 0.0);
                let last = axis.point(axis.of.to_min, 0.0);
                let x = if axis.down {
                    x
                } else {
                    kept(x, first[0] + inset[0], last[0] - inset[0])
                };
                let y = if axis.down {
                    kept(y, first[1] + inset[1], last[1] - inset[1])
                } else {
                    y
                };
                if name == "sun" {
                    svg.circle("sun-disc", [x, y], if axis.down { 5.0 } else { 7.0 }, &says);
                } else if let Some(phase) = self.phase {
                    moon_disc(svg, [x, y], if axis.down { 6.5 } else { 9.0 }, phase);
                }
            }
        }
    }

    /// Sun in the street, leave to be there, what is planned: one lane each.
    fn lanes(&self, svg: &mut Svg, axis: &Axis, from: f64, thick: f64, gap: f64) {
        let lane = |nth: usize| from + nth as f64 * (thick + gap);
        match &self.sunlit {
            None => svg.rect(
                "lane",
                axis.rect(axis.of, lane(0), thick),
                "not known: nothing is said of what stands around",
            ),
            Some(sunlit) => {
                svg.rect("lane", axis.rect(axis.of, lane(0), thick), "");
                svg.patterned(
                    "hatch",
                    axis.rect(axis.of, lane(0), thick),
                    "no sun in the street",
                );
                for span in sunlit.iter().filter_map(|span| span.within(axis.of)) {
                    svg.rect(
                        "sunlit",
                        axis.rect(span, lane(0), thick),
                        &format!("sun in the street {}", span.says()),
                    );
                }
            }
        }
        if self.access.is_empty() {
            svg.rect(
                "open",
                axis.rect(axis.of, lane(1), thick),
                "one may be there at any time",
            );
        } else {
            svg.rect("lane", axis.rect(axis.of, lane(1), thick), "");
            svg.patterned("close", axis.rect(axis.of, lane(1), thick), "closed");
            for span in self.access.iter().filter_map(|span| span.within(axis.of)) {
                svg.rect(
                    "open",
                    axis.rect(span, lane(1), thick),
                    &format!("one may be there {}", span.says()),
                );
            }
        }
        svg.rect("lane", axis.rect(axis.of, lane(2), thick), "");
        for (nth, setup) in self.setups.iter().enumerate() {
            if let Some(span) = setup.shoot.within(axis.of) {
                let area = axis.rect(span, lane(2), thick);
                svg.rect("planned-here", area, &setup.says());
                let [x, y, w, h] = area;
                if !axis.down {
                    let number = fitted(&(nth + 1).to_string(), w + 4.0, 12.0);
                    let at = [x + w / 2.0, y + h / 2.0 + 4.4];
                    svg.text("on-slot", at, 12.0, Hang::Middle, &number);
                }
            }
        }
    }
}

impl Chart for Sky {
    fn name(&self) -> String {
        format!("Sky over {}, {}", self.place, self.date)
    }

    fn svg(&self, id: &str, width: Width) -> String {
        match width {
            Width::Narrow => self.narrow(id),
            Width::Wide => self.wide(id),
        }
    }

    fn rows(&self) -> Table {
        let mut table = Table::new(["what", "from", "to", "how"]);
        let span = |table: &mut Table, what: &str, at: Span, how: String| {
            table.push([
                what.to_owned(),
                clock_in_words(at.from_min),
                clock_in_words(at.to_min),
                how,
            ]);
        };
        let mut bands = self.bands.clone();
        bands.sort_by(|a, b| a.at.from_min.total_cmp(&b.at.from_min));
        for band in &bands {
            span(
                &mut table,
                band.light.name(),
                band.at,
                lasting(band.at.to_min - band.at.from_min),
            );
        }
        match &self.sunlit {
            None => table.push([
                "sun in the street".into(),
                String::new(),
                String::new(),
                "not known".into(),
            ]),
            Some(none) if none.is_empty() => table.push([
                "sun in the street".into(),
                String::new(),
                String::new(),
                "never".into(),
            ]),
            Some(sunlit) => {
                for at in sunlit {
                    span(
                        &mut table,
                        "sun in the street",
                        *at,
                        lasting(at.to_min - at.from_min),
                    );
                }
            }
        }
        if self.access.is_empty() {
            table.push([
                "may be there".into(),
                String::new(),
                String::new(),
                "at any time".into(),
            ]);
        }
        for at in &self.access {
            span(
                &mut table,
                "may be there",
                *at,
                lasting(at.to_min - at.from_min),
            );
        }
        for setup in &self.setups {
            span(&mut table, &setup.name, setup.shoot, "planned here".into());
        }
        for event in &self.events {
            table.push([
                event.what.clone(),
                clock_in_words(event.at_min),
                String::new(),
                String::new(),
            ]);
        }
        if let Some(phase) = self.phase {
            table.push([
                "moon".into(),
                String::new(),
                String::new(),
                percent_lit(phase),
            ]);
        }
        for (name, body) in [("sun", &self.sun), ("moon", &self.moon)] {
            for standing in body
                .iter()
                .filter(|s| (s.at_min.round() as i64).rem_euclid(60) == 0)
            {
                let how = format!("{}°", figure(standing.altitude_deg, 1));
                table.push([
                    name.into(),
                    clock_in_words(standing.at_min),
                    String::new(),
                    how,
                ]);
            }
        }
        table
    }
}

/// `63 % lit, waning`.
fn percent_lit(phase: MoonPhase) -> String {
    let waxing = if phase.waxing { "waxing" } else { "waning" };
    format!(
        "{} % lit, {waxing}",
        figure(phase.lit.clamp(0.0, 1.0) * 100.0, 0)
    )
}

fn highest(body: &[Standing], of: Span) -> Option<Standing> {
    body.iter()
        .filter(|s| s.altitude_deg.is_finite() && (of.from_min..=of.to_min).contains(&s.at_min))
        .copied()
        .max_by(|a, b| a.altitude_deg.total_cmp(&b.altitude_deg))
}

/// The part of a straight piece of curve that lies in the drawing.
fn cut(from: Standing, to: Standing, of: Span, (low, high): (f64, f64)) -> Option<[Standing; 2]> {
    let (dt, da) = (to.at_min - from.at_min, to.altitude_deg - from.altitude_deg);
    if !(dt > 0.0 && da.is_finite() && dt.is_finite()) {
        return None;
    }
    let (mut first, mut last) = (0.0f64, 1.0f64);
    for (start, change, least, most) in [
        (from.at_min, dt, of.from_min, of.to_min),
        (from.altitude_deg, da, low, high),
    ] {
        if change.abs() < 1e-12 {
            if !(least..=most).contains(&start) {
                return None;
            }
            continue;
        }
        let (a, b) = ((least - start) / change, (most - start) / change);
        first = first.max(a.min(b));
        last = last.min(a.max(b));
    }
    if first >= last {
        return None;
    }
    let on = |share: f64| match share {
        s if s <= 0.0 => from,
        s if s >= 1.0 => to,
        s => Standing {
            at_min: from.at_min + dt * s,
            altitude_deg: from.altitude_deg + da * s,
        },
    };
    Some([on(first), on(last)])
}

/// The moon as it looks: half its edge, and the terminator, which is half an ellipse.
fn moon_disc(svg: &mut Svg, [x, y]: [f64; 2], r: f64, phase: MoonPhase) {
    let lit = kept(phase.lit, 0.0, 1.0);
    let says = format!("moon {}", percent_lit(phase));
    svg.circle("moon-dark", [x, y], r, &says);
    let bulge = r * (1.0 - 2.0 * lit).abs();
    // Sweeps are turned round where the lit limb is on the left.
    let limb = u8::from(phase.lit_on_right);
    let terminator = u8::from((lit >= 0.5) == phase.lit_on_right);
    let d = format!(
        "M{x} {top}A{r} {r} 0 0 {limb} {x} {foot}A{bulge} {r} 0 0 {terminator} {x} {top}Z",
        x = n(x),
        top = n(y - r),
        foot = n(y + r),
        r = n(r),
        bulge = n(bulge),
    );
    svg.path("moon-lit", &d, &says);
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_piece_of_curve_is_cut_at_the_edges() {
        let at = |at_min, altitude_deg| Standing {
            at_min,
            altitude_deg,
        };
        let of = Span::new(0.0, 100.0);
        assert_eq!(
            cut(at(0.0, -30.0), at(20.0, 10.0), of, (-20.0, 90.0)),
            Some([at(5.0, -20.0), at(20.0, 10.0)])
        );
        assert_eq!(
            cut(at(0.0, -30.0), at(20.0, -25.0), of, (-20.0, 90.0)),
            None
        );
        assert_eq!(cut(at(20.0, 0.0), at(10.0, 5.0), of, (-20.0, 90.0)), None);
        assert_eq!(
            cut(at(0.0, f64::NAN), at(20.0, 5.0), of, (-20.0, 90.0)),
            None
        );
    }
}
