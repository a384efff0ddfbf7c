//! Stops in hand: for each setup, how far face and background are from where they are wanted.

use crate::draw::text;
use crate::draw::{
    Hang, circle, figure, fitted, kept, line, n, path, picture, rect, signed, stacked,
};
use crate::figure::{Chart, Width};
use crate::table::Table;
use exposure::setup::{Judgement, Side};
use maud::{Markup, html};
use model::Setup;

/// Stops in hand of setups.
#[derive(Clone, Debug)]
pub struct Stops<'a> {
    /// Whose they are, as it is shown: a place, a day; empty for all.
    pub of: &'a str,
    /// The setups.
    pub setups: Vec<&'a Setup>,
    /// How they were judged, as far as they were.
    pub judged: &'a [Judgement],
    /// How far off is of no account, stops.
    pub slack_stops: f64,
}

/// Stops to either side of the target that the gauge shows.
const REACH: f64 = 4.0;

fn stops(value: f64) -> String {
    signed(value, 1)
}

/// The gap, where it is known.
fn gap(side: &Side) -> Option<f64> {
    side.gap_stops.filter(|gap| gap.is_finite())
}

/// From and to how far off it may be; a range without width says nothing.
fn range(side: &Side) -> Option<[f64; 2]> {
    let range = side.stops_range?.map(|stops| stops - side.target_stops);
    let [least, most] = range;
    (most - least > 0.05 && most.is_finite() && least.is_finite()).then_some(range)
}

impl Stops<'_> {
    /// Face and background of a setup that was judged.
    fn sides(&self, setup: &Setup) -> impl Iterator<Item = (&'static str, &Side)> {
        let own = self.judged.iter().find(|one| one.setup == setup.id);
        own.into_iter()
            .flat_map(|own| [("face", &own.face), ("background", &own.background)])
    }

    fn says(&self, side: &Side) -> String {
        match gap(side) {
            None => "not known".into(),
            Some(gap) if gap.abs() <= self.slack_stops => format!("{} as wanted", stops(gap)),
            Some(gap) if gap > 0.0 => format!("{} over", stops(gap)),
            Some(gap) => format!("{} under", stops(gap)),
        }
    }

    fn gauge(&self, [left, y]: [f64; 2], span: f64, name: &str, side: &Side) -> Markup {
        let x = |stops: f64| left + span * (stops.clamp(-REACH, REACH) + REACH) / (2.0 * REACH);
        let slack = kept(self.slack_stops, 0.0, REACH);
        let mark = |gap: f64| {
            let wanted = stops(side.target_stops);
            let says = format!("{name} {}, wanted at {wanted}", self.says(side));
            let class = if gap.abs() <= slack {
                "good-mark"
            } else {
                "off-mark"
            };
            if gap.abs() > REACH {
                // Beyond the gauge: an arrow on its edge.
                let way = 10.0 * gap.signum();
                let (from, way, back) = (n(x(gap) - way), n(way), n(-way));
                path(
                    class,
                    &format!("M{from} {}l{way} 6l{back} 6z", n(y - 6.0)),
                    &says,
                )
            } else if name == "face" {
                circle(class, [x(gap), y], 5.5, &says)
            } else {
                rect(class, [x(gap) - 5.0, y - 5.0, 10.0, 10.0], &says)
            }
        };
        html! {
            (line("level", [left, y], [left + span, y]))
            @for stop in -4..=4 {
                @let (class, tall) = if stop == 0 { ("target", 9.0) } else { ("tick", 4.0) };
                (line(class, [x(f64::from(stop)), y - tall], [x(f64::from(stop)), y + tall]))
            }
            @if slack > 0.0 { (rect("slack", [x(-slack), y - 3.0, x(slack) - x(-slack), 6.0], &format!("as wanted within {} stops", figure(slack, 1)))) }
            @if let Some([least, most]) = range(side) {
                (rect("range", [x(least), y - 2.0, (x(most) - x(least)).max(1.0), 4.0], &format!("{} to {}", stops(least), stops(most))))
            }
            @if let Some(gap) = gap(side) { (mark(gap)) }
        }
    }

    /// A side's row: its name, its gauge, and the same in words.
    fn row(&self, width: Width, at: &Places, y: f64, name: &str, side: &Side) -> Markup {
        let off = gap(side).is_some_and(|gap| gap.abs() > self.slack_stops);
        let mut says = self.says(side);
        if !width.is_narrow()
            && let Some([least, most]) = range(side)
        {
            says = format!("{says} (between {} and {})", stops(least), stops(most));
        }
        let says = fitted(&says, width.px() - at.words, width.size());
        html! {
            (text("", Hang::Start, [at.label, y + 4.5], name))
            (self.gauge([at.left, y], at.span, name, side))
            (text(if off { "strong" } else { "" }, Hang::Start, [at.words, y + 4.5], &says))
        }
    }
}

/// Where things stand across the drawing: names of sides, gauges and how wide they are, words.
struct Places {
    label: f64,
    left: f64,
    span: f64,
    words: f64,
}

impl Chart for Stops<'_> {
    fn name(&self) -> String {
        match self.of {
            "" => "Stops in hand".into(),
            of => format!("Stops in hand, {of}"),
        }
    }

    fn svg(&self, width: Width) -> Markup {
        let narrow = width.is_narrow();
        let place = |label, left, span, beside| Places {
            label,
            left,
            span,
            words: left + span + beside,
        };
        let at = match width {
            Width::Narrow => place(0.0, 88.0, 128.0, 12.0),
            Width::Wide => place(250.0, 350.0, 420.0, 40.0),
        };
        let room = if narrow { width.px() } else { at.label - 10.0 };
        let (row, head, gap) = if narrow {
            (24.0, 20.0, 12.0)
        } else {
            (24.0, 0.0, 14.0)
        };
        let marks = [
            (-REACH, "−4"),
            (-2.0, "−2"),
            (0.0, "wanted"),
            (2.0, "+2"),
            (REACH, "+4"),
        ];
        let marks = marks
            .into_iter()
            .filter(|(stops, _)| !narrow || stops.abs() != 2.0);
        let tall = |setup: &&Setup| head + row * self.sides(setup).count().max(1) as f64 + gap;
        let tops = stacked(34.0, self.setups.iter().map(tall));
        let drawn = html! {
            @for (stops, says) in marks {
                (text("", Hang::Middle, [at.left + at.span * (stops + REACH) / (2.0 * REACH), 14.0], says))
            }
            @if !narrow { (text("", Hang::Start, [at.words, 14.0], "stops from wanted")) }
            @for (setup, ends) in self.setups.iter().zip(tops.windows(2)) {
                @let (from, foot) = (ends[0] + head, ends[1] - gap / 2.0 - 10.0);
                (text("strong", Hang::Start, [0.0, ends[0] + 4.0], &fitted(setup.called(), room, width.size())))
                @for (nth, (name, side)) in self.sides(setup).enumerate() { (self.row(width, &at, from + row * nth as f64, name, side)) }
                @if self.sides(setup).next().is_none() { (text("", Hang::Start, [at.label, from + 4.5], "nothing known of its light")) }
                (line("rule", [0.0, foot], [width.px(), foot]))
            }
        };
        picture(width, tops[tops.len() - 1], &self.name(), false, &drawn)
    }

    fn rows(&self) -> Table {
        let mut table = Table::new(&[
            "setup",
            "what",
            "stops from wanted",
            "least",
            "most",
            "wanted at",
        ]);
        for setup in &self.setups {
            for (name, side) in self.sides(setup) {
                let [least, most] = range(side).map(|ends| ends.map(stops)).unwrap_or_default();
                let (says, target) = (self.says(side), stops(side.target_stops));
                table.push(&[setup.called(), name, &says, &least, &most, &target]);
            }
        }
        table
    }
}
