//! The sky of a date over one place: how high sun and moon stand, which light that is, when the street
//! has sun, when one may be there, and what is planned.

use crate::clock::{Axis, Span, lasting, sound};
use crate::draw::{
    Hang, circle, figure, fitted, kept, line, n, numbered, path, patterned, picture,
};
use crate::draw::{rect, spread, text, text_width, to};
use crate::figure::{Chart, Width};
use crate::light::{self, Band};
use crate::table::Table;
use ::sky::{Curve, What};
use maud::{Markup, html};
use model::Place;
use model::clock::shown;
use schedule::{DayPlan, Strip};

/// The sky of a date over a place; for a night, from noon to noon.
#[derive(Clone, Copy, Debug)]
pub struct Sky<'a> {
    /// The place.
    pub place: &'a Place,
    /// The date, as it is shown.
    pub date: &'a str,
    /// The curves over it.
    pub curve: &'a Curve,
    /// What is planned on that day.
    pub plan: Option<&'a DayPlan>,
}

/// Below this no twilight is left, and nothing changes any more.
const LOWEST_DEG: f64 = -24.0;
/// The lanes under the curves.
const LANES: [&str; 3] = ["sun in the street", "may be there", "planned here"];

/// Where the lanes lie: from where on, how thick each, how far apart.
#[derive(Clone, Copy)]
struct Lanes {
    from: f64,
    thick: f64,
    gap: f64,
}

impl Lanes {
    fn at(self, nth: usize) -> f64 {
        self.from + nth as f64 * (self.thick + self.gap)
    }
}

fn shoot(strip: &Strip) -> Span {
    [strip.shoot, strip.end].into()
}

/// What happens, in a word; the twilights say theirs by their bands.
const fn word(what: What) -> Option<&'static str> {
    match what {
        What::Sunrise => Some("sunrise"),
        What::Sunset => Some("sunset"),
        What::Moonrise => Some("moonrise"),
        What::Moonset => Some("moonset"),
        What::AstronomicalDusk => Some("full dark"),
        What::AstronomicalDawn => Some("first dawn"),
        _ => None,
    }
}

impl Sky<'_> {
    fn of(&self) -> Span {
        self.curve.of_min.into()
    }

    /// The strips planned here.
    fn here(&self) -> impl Iterator<Item = &Strip> {
        let all = self.plan.iter().flat_map(|plan| &plan.order);
        all.filter(|strip| strip.place == self.place.id.as_str())
    }

    /// What happens, each with its time.
    fn events(&self) -> impl Iterator<Item = (f64, &'static str)> {
        let events = self.curve.events.iter();
        events.filter_map(|(at, what)| Some((*at, word(*what)?)))
    }

    /// Altitudes the drawing spans: whole tens around what comes, the deep of the night left out.
    fn altitudes(&self) -> (f64, f64) {
        let all = self.curve.sun.iter().chain(&self.curve.moon);
        let known = all.map(|[_, deg]| *deg).filter(|deg| deg.is_finite());
        let most = known.fold(10.0, f64::max).min(90.0);
        (LOWEST_DEG, ((most + 4.0) / 10.0).ceil() * 10.0)
    }

    /// What happens within the drawing, `18:05 sunset`, in order.
    fn happens(&self, of: Span) -> Vec<(f64, String)> {
        let seen = self.events().filter(|(at, _)| of.holds(*at));
        let mut all: Vec<(f64, String)> = seen
            .map(|(at, what)| (at, format!("{} {what}", shown(at))))
            .collect();
        all.sort_by(|a, b| a.0.total_cmp(&b.0));
        all
    }

    /// `63 % lit, waning`.
    fn percent_lit(&self) -> String {
        let waxing = if self.curve.moon_waxing {
            "waxing"
        } else {
            "waning"
        };
        let lit = self.curve.moon_lit.clamp(0.0, 1.0) * 100.0;
        format!("{} % lit, {waxing}", figure(lit, 0))
    }

    fn wide(&self) -> Markup {
        let width = Width::Wide.px();
        let (left, top, tall) = (132.0, 50.0, 270.0);
        let axis = Axis::new(self.of(), left, width - left - 20.0, false);
        let span = axis.end_px() - left;
        let lanes = Lanes {
            from: top + tall + 10.0,
            thick: 18.0,
            gap: 8.0,
        };
        let foot = lanes.at(3);
        let notes = foot + 12.0;
        let bands = light::layered(&self.curve.light, axis.of);
        let seen = light::seen(&bands);
        let (words, count) = self.words_under(&axis, &seen, notes);
        let here = self.here();
        let names: Vec<String> = here
            .map(|strip| format!("{}, {}", strip.name, shoot(strip).says()))
            .collect();
        let names: Vec<&str> = names.iter().map(String::as_str).collect();
        let key = numbered(&names, span, 13.0);
        let keys = notes + 19.0 * count as f64 + 18.0;
        let (low, high) = self.altitudes();
        let y = |deg: f64| top + tall * (high - deg.clamp(low, high)) / (high - low);
        let levels = [-18.0, -12.0, -6.0, 0.0, 15.0, 30.0, 45.0, 60.0, 75.0, 90.0];
        let drawn = html! {
            (path("sun-curve", &format!("M{} 9h26", n(left)), ""))
            (text("", Hang::Start, [left + 34.0, 13.5], "sun"))
            (path("moon-curve", &format!("M{} 9h26", n(left + 90.0)), ""))
            (text("", Hang::Start, [left + 124.0, 13.5], &format!("moon, {}", self.percent_lit())))
            (light::draw(&axis, &bands, top, tall))
            (axis.draw(top, foot - lanes.gap - top, 13.0, width))
            (light::names_upright(&axis, &seen, top, tall * 0.62))
            @for deg in levels.into_iter().filter(|deg| (low..=high).contains(deg)) {
                @let horizon = deg == 0.0;
                (line(if horizon { "level horizon" } else { "level" }, [left, y(deg)], [left + span, y(deg)]))
                (text("", Hang::End, [left - 8.0, y(deg) + 4.4], &format!("{}{}°", if horizon { "horizon " } else { "" }, figure(deg, 0))))
            }
            (self.curves(&axis, (low, high), |at, deg| [axis.px(at), y(deg)]))
            (self.lanes(&axis, lanes))
            @for (nth, name) in LANES.into_iter().enumerate() { (text("", Hang::End, [left - 8.0, lanes.at(nth) + 13.5], name)) }
            (words)
            @for (nth, line) in key.iter().enumerate() { (text("", Hang::Start, [left, keys + 17.0 * nth as f64], line)) }
        };
        let height = keys + 17.0 * key.len() as f64 - 8.0;
        picture(Width::Wide, height, &self.name(), false, &drawn)
    }

    /// What happens, and bands too narrow for their name, each with a line to its time: in one line of labels, or in
    /// two in turn where they crowd; and how many.
    fn words_under(&self, axis: &Axis, seen: &[Band], notes: f64) -> (Markup, usize) {
        let mut events = self.happens(axis.of);
        let slim = seen.iter().filter(|band| light::is_slim(axis, band));
        events.extend(slim.map(|band| {
            let from = band.at.from_min;
            (from, format!("{} {}", shown(from), band.light.name()))
        }));
        events.sort_by(|a, b| a.0.total_cmp(&b.0));
        let placed = |own: &[&(f64, String)]| {
            let place = |(at, says): &&(f64, String)| (axis.px(*at), text_width(says, 13.0) + 12.0);
            let wanted: Vec<(f64, f64)> = own.iter().map(place).collect();
            spread(&wanted, axis.px(axis.of.from_min), Width::Wide.px() - 4.0)
        };
        let all: Vec<&(f64, String)> = events.iter().collect();
        let moved = placed(&all);
        let crowd = moved.iter().zip(&all);
        let crowd = crowd
            .into_iter()
            .any(|(x, (at, _))| (x - axis.px(*at)).abs() > 30.0);
        let count = if crowd { 2 } else { 1 };
        let drawn = html! {
            @for row in 0..count {
                @let own: Vec<&(f64, String)> = events.iter().skip(row).step_by(count).collect();
                @let y = notes + 14.0 + row as f64 * 19.0;
                @for ((at, says), x) in own.iter().zip(placed(&own)) {
                    (line("leader", [axis.px(*at), notes - 12.0], [x, y - 12.0]))
                    (text("", Hang::Middle, [x, y], says))
                }
            }
        };
        (drawn, count)
    }

    fn narrow(&self) -> Markup {
        let width = Width::Narrow.px();
        let of = sound(self.of());
        let (left, top, across) = (30.0, 40.0, 104.0);
        let bands = light::layered(&self.curve.light, of);
        let seen = light::seen(&bands);
        // Long enough for all that is said beside it.
        let words = self.events().count() + self.here().count() + seen.len();
        let long = (0.58 * of.minutes().max(60.0)).max(15.0 * (words + 1) as f64);
        let axis = Axis::new(of, top, long, true);
        let end = axis.end_px();
        let lanes = Lanes {
            from: left + across + 6.0,
            thick: 14.0,
            gap: 4.0,
        };
        let notes = lanes.at(3) + 10.0;
        let (low, high) = self.altitudes();
        let x = |deg: f64| left + across * (deg.clamp(low, high) - low) / (high - low);
        let levels = [0.0, 30.0, 60.0];
        let drawn = html! {
            (light::draw(&axis, &bands, left, across))
            (axis.draw(left, lanes.at(3) - lanes.gap - left, 12.0, width))
            @for deg in levels.into_iter().filter(|deg| (low..=high).contains(deg)) {
                (line(if deg == 0.0 { "level horizon" } else { "level" }, [x(deg), top], [x(deg), end]))
                (text("fine", Hang::Middle, [x(deg), top - 4.0], &format!("{}°", figure(deg, 0))))
            }
            (self.curves(&axis, (low, high), |at, deg| [x(deg), axis.px(at)]))
            (self.lanes(&axis, lanes))
            @for (nth, name) in LANES.into_iter().enumerate() {
                @let (middle, y) = (lanes.at(nth) + lanes.thick / 2.0, 11.5 * (nth as f64 + 1.0));
                (line("leader", [middle, top - 2.0], [middle, y - 2.0]))
                (text("fine", Hang::Start, [middle + 4.0, y], name))
            }
            (self.words_beside(&axis, &seen, notes))
            (text("", Hang::Start, [left, end + 20.0], &format!("moon {}", self.percent_lit())))
        };
        picture(Width::Narrow, end + 26.0, &self.name(), false, &drawn)
    }

    /// What happens, what is planned, and what light it is (there is no room for it in its band), beside the drawing.
    fn words_beside(&self, axis: &Axis, seen: &[Band], notes: f64) -> Markup {
        let happens = self.happens(axis.of).into_iter();
        let mut all: Vec<(f64, String, &str)> = happens.map(|(at, says)| (at, says, "")).collect();
        all.extend(self.here().filter_map(|strip| {
            let seen = shoot(strip).within(axis.of)?;
            Some((seen.middle(), strip.name.clone(), "strong"))
        }));
        let lights = seen.iter();
        all.extend(lights.map(|band| (band.at.middle(), light::short(band.light).into(), "")));
        all.sort_by(|a, b| a.0.total_cmp(&b.0));
        let wanted: Vec<(f64, f64)> = all.iter().map(|(at, ..)| (axis.px(*at), 15.0)).collect();
        let at = spread(&wanted, axis.px(axis.of.from_min), axis.end_px() + 6.0);
        let room = Width::Narrow.px() - notes - 2.0;
        html! {
            @for ((at, says, class), y) in all.iter().zip(at) {
                (line("leader", [notes - 8.0, axis.px(*at)], [notes - 2.0, y]))
                (text(class, Hang::Start, [notes, y + 4.0], &fitted(says, room, 12.0)))
            }
        }
    }

    /// Sun and moon, cut where they leave the drawing.
    fn curves(
        &self,
        axis: &Axis,
        (low, high): (f64, f64),
        at: impl Fn(f64, f64) -> [f64; 2],
    ) -> Markup {
        let body = |class: &str, name: &str, body: &[[f64; 2]]| {
            let d = outline(body, axis.of, (low, high), &at);
            let highest = highest(body, axis.of);
            let says = highest.map_or(name.to_owned(), |[at, deg]| {
                format!("{name}, highest {}° at {}", figure(deg, 0), shown(at))
            });
            let disc = highest.filter(|[_, deg]| *deg > low).map(|[min, deg]| {
                // Kept off the edges of the plot.
                let [mut x, mut y] = at(min, deg);
                let (first, last) = (axis.px(axis.of.from_min), axis.px(axis.of.to_min));
                let along = if axis.down { &mut y } else { &mut x };
                *along = kept(*along, first + 18.0, last - 18.0);
                match (name, axis.down) {
                    ("sun", down) => {
                        circle("sun-disc", [x, y], if down { 5.0 } else { 7.0 }, &says)
                    }
                    (_, down) => self.moon_disc([x, y], if down { 6.5 } else { 9.0 }),
                }
            });
            html! { @if !d.is_empty() { (path(class, &d, &says)) @if let Some(disc) = disc { (disc) } } }
        };
        html! {
            (body("moon-curve", "moon", &self.curve.moon))
            (body("sun-curve", "sun", &self.curve.sun))
        }
    }

    /// Sun in the street, leave to be there, what is planned: one lane each.
    fn lanes(&self, axis: &Axis, lanes: Lanes) -> Markup {
        let over = |span: Span, nth: usize| axis.rect(span, lanes.at(nth), lanes.thick);
        let within = |spans: Vec<Span>| spans.into_iter().filter_map(|span| span.within(axis.of));
        let all = axis.of;
        html! {
            @if let Some(sunlit) = &self.curve.direct_sun {
                (rect("lane", over(all, 0), "")) (patterned("hatch", over(all, 0), "no sun in the street"))
                @for span in within(sunlit.iter().copied().map(Span::from).collect()) {
                    (rect("sunlit", over(span, 0), &format!("sun in the street {}", span.says())))
                }
            } @else {
                (rect("lane", over(all, 0), "not known: nothing is said of what stands around"))
            }
            @if self.place.access.is_empty() {
                (rect("open", over(all, 1), "one may be there at any time"))
            } @else {
                (rect("lane", over(all, 1), "")) (patterned("close", over(all, 1), "closed"))
                @for span in within(self.place.access.iter().copied().map(Span::from).collect()) {
                    (rect("open", over(span, 1), &format!("one may be there {}", span.says())))
                }
            }
            (rect("lane", over(all, 2), ""))
            @for (nth, strip) in self.here().enumerate() {
                @if let Some(span) = shoot(strip).within(all) {
                    @let [x, y, w, h] = over(span, 2);
                    (rect("planned-here", [x, y, w, h], &format!("{}, {}", strip.name, shoot(strip).says())))
                    @if !axis.down { (text("on-slot", Hang::Middle, [x + w / 2.0, y + h / 2.0 + 4.4], &fitted(&(nth + 1).to_string(), w + 4.0, 12.0))) }
                }
            }
        }
    }

    /// The moon as it looks: half its edge, and the terminator, which is half an ellipse.
    fn moon_disc(&self, [x, y]: [f64; 2], r: f64) -> Markup {
        let lit = kept(self.curve.moon_lit, 0.0, 1.0);
        let on_right = self.curve.moon_waxing == self.curve.northern;
        let says = format!("moon {}", self.percent_lit());
        let bulge = r * (1.0 - 2.0 * lit).abs();
        // Sweeps are turned round where the lit limb is on the left.
        let limb = u8::from(on_right);
        let terminator = u8::from((lit >= 0.5) == on_right);
        let d = format!(
            "M{x} {top}A{r} {r} 0 0 {limb} {x} {foot}A{bulge} {r} 0 0 {terminator} {x} {top}Z",
            x = n(x),
            top = n(y - r),
            foot = n(y + r),
            r = n(r),
            bulge = n(bulge),
        );
        html! { (circle("moon-dark", [x, y], r, &says)) (path("moon-lit", &d, &says)) }
    }
}

impl Chart for Sky<'_> {
    fn name(&self) -> String {
        format!("Sky over {}, {}", self.place.name, self.date)
    }

    fn svg(&self, width: Width) -> Markup {
        match width {
            Width::Narrow => self.narrow(),
            Width::Wide => self.wide(),
        }
    }

    fn rows(&self) -> Table {
        let mut table = Table::new(&["what", "from", "to", "how"]);
        let mut span = |what: &str, at: Span, how: &str| {
            let ends = [at.from_min, at.to_min].map(shown);
            table.push(&[what, &ends[0], &ends[1], how]);
        };
        let mut light = self.curve.light.clone();
        light.sort_by(|a, b| a.1[0].total_cmp(&b.1[0]));
        for (light, at) in light {
            span(light.name(), at.into(), &lasting(at[1] - at[0]));
        }
        for at in self.curve.direct_sun.iter().flatten() {
            span(LANES[0], (*at).into(), &lasting(at[1] - at[0]));
        }
        for at in &self.place.access {
            let at = Span::from(*at);
            span(LANES[1], at, &lasting(at.minutes()));
        }
        for strip in self.here() {
            span(&strip.name, shoot(strip), LANES[2]);
        }
        match &self.curve.direct_sun {
            None => table.push(&[LANES[0], "", "", "not known"]),
            Some(none) if none.is_empty() => table.push(&[LANES[0], "", "", "never"]),
            Some(_) => {}
        }
        if self.place.access.is_empty() {
            table.push(&[LANES[1], "", "", "at any time"]);
        }
        for (at, what) in self.events() {
            table.push(&[what, &shown(at)]);
        }
        table.push(&["moon", "", "", &self.percent_lit()]);
        for (name, body) in [("sun", &self.curve.sun), ("moon", &self.curve.moon)] {
            let hourly = |at: &&[f64; 2]| (at[0].round() as i64).rem_euclid(60) == 0;
            for [at, deg] in body.iter().filter(hourly) {
                table.push(&[name, &shown(*at), "", &format!("{}°", figure(*deg, 1))]);
            }
        }
        table
    }
}

fn highest(body: &[[f64; 2]], of: Span) -> Option<[f64; 2]> {
    let seen = body
        .iter()
        .filter(|[at, deg]| deg.is_finite() && of.holds(*at));
    seen.copied().max_by(|a, b| a[1].total_cmp(&b[1]))
}

/// The path of a curve, by where a time and an altitude stand.
fn outline(
    body: &[[f64; 2]],
    of: Span,
    bounds: (f64, f64),
    at: impl Fn(f64, f64) -> [f64; 2],
) -> String {
    let mut d = String::new();
    let mut pen = false;
    for pair in body.windows(2) {
        let Some([from, end]) = cut(pair[0], pair[1], of, bounds) else {
            pen = false;
            continue;
        };
        if !pen {
            to(&mut d, 'M', at(from[0], from[1]));
        }
        to(&mut d, 'L', at(end[0], end[1]));
        // Where the end was cut the next one begins anew.
        pen = end == pair[1];
    }
    d
}

/// The part of a straight piece of curve, minutes and degrees, that lies in the drawing.
fn cut(from: [f64; 2], to: [f64; 2], of: Span, (low, high): (f64, f64)) -> Option<[[f64; 2]; 2]> {
    let (dt, da) = (to[0] - from[0], to[1] - from[1]);
    if !(dt > 0.0 && da.is_finite() && dt.is_finite()) {
        return None;
    }
    let (mut first, mut last) = (0.0f64, 1.0f64);
    for (start, change, least, most) in [
        (from[0], dt, of.from_min, of.to_min),
        (from[1], da, low, high),
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
    let on = |share: f64| match share {
        s if s <= 0.0 => from,
        s if s >= 1.0 => to,
        s => [from[0] + dt * s, from[1] + da * s],
    };
    (first < last).then(|| [on(first), on(last)])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_piece_of_curve_is_cut_at_the_edges() {
        let of = Span::new(0.0, 100.0);
        let cut = |from, to| cut(from, to, of, (-20.0, 90.0));
        assert_eq!(
            cut([0.0, -30.0], [20.0, 10.0]),
            Some([[5.0, -20.0], [20.0, 10.0]])
        );
        assert_eq!(cut([0.0, -30.0], [20.0, -25.0]), None);
        assert_eq!(cut([20.0, 0.0], [10.0, 5.0]), None);
        assert_eq!(cut([0.0, f64::NAN], [20.0, 5.0]), None);
    }
}
