//! Stops in hand: for each setup, how far face and background are from where they are wanted.

use crate::draw::{Hang, Svg, figure, fitted, kept, n, signed};
use crate::figure::{Chart, Width};
use crate::table::Table;

/// Face or background of a setup.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct StopsSide {
    /// Stops over (positive) or under the target; `None` where the light is not known.
    pub gap_stops: Option<f64>,
    /// The same at the least and the most that is likely, where that differs.
    pub range_stops: Option<[f64; 2]>,
    /// Where it is wanted, stops from correct exposure.
    pub target_stops: f64,
}

/// One setup.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct StopsOf {
    /// Its id.
    pub setup: String,
    /// What it is called.
    pub name: String,
    /// The face; `None` where there is none.
    pub face: Option<StopsSide>,
    /// The background.
    pub background: Option<StopsSide>,
}

/// Stops in hand of all setups.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Stops {
    /// The setups.
    pub setups: Vec<StopsOf>,
    /// How far off is of no account, stops.
    pub slack_stops: f64,
}

/// Stops to either side of the target that the gauge shows.
const REACH: f64 = 4.0;

fn stops(value: f64) -> String {
    signed(value, 1)
}

impl Stops {
    fn says(&self, side: &StopsSide) -> String {
        match side.gap_stops.filter(|gap| gap.is_finite()) {
            None => "not known".into(),
            Some(gap) if gap.abs() <= self.slack_stops => format!("{} as wanted", stops(gap)),
            Some(gap) if gap > 0.0 => format!("{} over", stops(gap)),
            Some(gap) => format!("{} under", stops(gap)),
        }
    }

    fn gauge(&self, svg: &mut Svg, [left, y]: [f64; 2], span: f64, name: &str, side: &StopsSide) {
        let x = |stops: f64| left + span * (stops.clamp(-REACH, REACH) + REACH) / (2.0 * REACH);
        svg.line("level", [left, y], [left + span, y]);
        for stop in -4..=4 {
            let tall = if stop == 0 { 9.0 } else { 4.0 };
            let class = if stop == 0 { "target" } else { "tick" };
            svg.line(
                class,
                [x(f64::from(stop)), y - tall],
                [x(f64::from(stop)), y + tall],
            );
        }
        let slack = kept(self.slack_stops, 0.0, REACH);
        if slack > 0.0 {
            svg.rect(
                "slack",
                [x(-slack), y - 3.0, x(slack) - x(-slack), 6.0],
                &format!("as wanted within {} stops", figure(slack, 1)),
            );
        }
        if let Some([least, most]) = side.range_stops.filter(|r| r.iter().all(|v| v.is_finite())) {
            let says = format!("{} to {}", stops(least), stops(most));
            svg.rect(
                "range",
                [x(least), y - 2.0, (x(most) - x(least)).max(1.0), 4.0],
                &says,
            );
        }
        let Some(gap) = side.gap_stops.filter(|gap| gap.is_finite()) else {
            return;
        };
        let says = format!(
            "{name} {}, wanted at {}",
            self.says(side),
            stops(side.target_stops)
        );
        let class = if gap.abs() <= slack {
            "good-mark"
        } else {
            "off-mark"
        };
        let at = x(gap);
        if gap.abs() > REACH {
            // Beyond the gauge: an arrow on its edge.
            let way = gap.signum();
            let d = format!(
                "M{} {}l{} 6l{} 6z",
                n(at - 10.0 * way),
                n(y - 6.0),
                n(10.0 * way),
                n(-10.0 * way)
            );
            svg.path(class, &d, &says);
        } else if name == "face" {
            svg.circle(class, [at, y], 5.5, &says);
        } else {
            svg.rect(class, [at - 5.0, y - 5.0, 10.0, 10.0], &says);
        }
    }
}

impl Chart for Stops {
    fn name(&self) -> String {
        "Stops in hand".into()
    }

    fn svg(&self, id: &str, width: Width) -> String {
        let narrow = width.is_narrow();
        let size = if narrow { 12.0 } else { 13.0 };
        let sides = |setup: &StopsOf| {
            [("face", setup.face), ("background", setup.background)]
                .into_iter()
                .filter(|(_, side)| side.is_some())
                .count()
                .max(1) as f64
        };
        let row = 24.0;
        let (head, gap) = if narrow { (20.0, 12.0) } else { (0.0, 14.0) };
        let top = 34.0;
        let height = top
            + self
                .setups
                .iter()
                .map(|s| head + row * sides(s) + gap)
                .sum::<f64>();
        let mut svg = Svg::new(id, width.px(), height, &self.name(), false);
        let (label, left, span) = if narrow {
            (0.0, 88.0, 128.0)
        } else {
            (250.0, 350.0, 420.0)
        };
        let marks: &[(f64, &str)] = match narrow {
            true => &[(-REACH, "−4"), (0.0, "wanted"), (REACH, "+4")],
            false => &[
                (-REACH, "−4"),
                (-2.0, "−2"),
                (0.0, "wanted"),
                (2.0, "+2"),
                (REACH, "+4"),
            ],
        };
        for (stops, says) in marks {
            let x = left + span * (stops + REACH) / (2.0 * REACH);
            svg.text("", [x, 14.0], size, Hang::Middle, says);
        }
        if !narrow {
            svg.text(
                "",
                [left + span + 40.0, 14.0],
                size,
                Hang::Start,
                "stops from wanted",
            );
        }
        let mut y = top;
        for setup in &self.setups {
            if narrow {
                svg.text(
                    "strong",
                    [0.0, y + 4.0],
                    size,
                    Hang::Start,
                    &fitted(&setup.name, width.px(), size),
                );
                y += head;
            } else {
                svg.text(
                    "strong",
                    [0.0, y + 4.5],
                    size,
                    Hang::Start,
                    &fitted(&setup.name, label - 10.0, size),
                );
            }
            let before = y;
            for (name, side) in [("face", setup.face), ("background", setup.background)] {
                let Some(side) = side else { continue };
                svg.text("", [label, y + 4.5], size, Hang::Start, name);
                self.gauge(&mut svg, [left, y], span, name, &side);
                let class = match side.gap_stops {
                    Some(gap) if gap.abs() > self.slack_stops => "strong",
                    _ => "",
                };
                let mut says = self.says(&side);
                if !narrow && let Some([least, most]) = side.range_stops {
                    says = format!("{says} (between {} and {})", stops(least), stops(most));
                }
                let x = left + span + if narrow { 12.0 } else { 40.0 };
                svg.text(
                    class,
                    [x, y + 4.5],
                    size,
                    Hang::Start,
                    &fitted(&says, width.px() - x, size),
                );
                y += row;
            }
            if y == before {
                svg.text(
                    "",
                    [label, y + 4.5],
                    size,
                    Hang::Start,
                    "nothing known of its light",
                );
                y += row;
            }
            svg.line(
                "rule",
                [0.0, y - 6.0 + gap / 2.0 - 4.0],
                [width.px(), y - 6.0 + gap / 2.0 - 4.0],
            );
            y += gap;
        }
        svg.end()
    }

    fn rows(&self) -> Table {
        let mut table = Table::new([
            "setup",
            "what",
            "stops from wanted",
            "least",
            "most",
            "wanted at",
        ]);
        for setup in &self.setups {
            for (name, side) in [("face", setup.face), ("background", setup.background)] {
                let Some(side) = side else { continue };
                let [least, most] = side
                    .range_stops
                    .map_or([String::new(), String::new()], |[a, b]| {
                        [stops(a), stops(b)]
                    });
                table.push([
                    setup.name.clone(),
                    name.into(),
                    self.says(&side),
                    least,
                    most,
                    stops(side.target_stops),
                ]);
            }
        }
        table
    }
}
