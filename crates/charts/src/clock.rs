//! Clock time on a drawing: an axis in minutes after a day's midnight, and how times are said.

use crate::draw::{Hang, joined, kept, n, path, text, text_width};
use maud::{Markup, html};
use model::ClockTime;
use model::clock::shown;

/// From and to, minutes after the day's midnight as a clock shows them, counted on past midnight.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) struct Span {
    pub(crate) from_min: f64,
    pub(crate) to_min: f64,
}

/// Minutes after the day's midnight.
pub(crate) fn minutes(at: ClockTime) -> f64 {
    f64::from(at.minutes())
}

impl From<[f64; 2]> for Span {
    fn from([from_min, to_min]: [f64; 2]) -> Self {
        Self { from_min, to_min }
    }
}

impl From<[ClockTime; 2]> for Span {
    fn from(at: [ClockTime; 2]) -> Self {
        at.map(minutes).into()
    }
}

impl Span {
    pub(crate) const fn new(from_min: f64, to_min: f64) -> Self {
        Self { from_min, to_min }
    }

    /// `18:05 to 19:00`.
    pub(crate) fn says(self) -> String {
        format!("{} to {}", shown(self.from_min), shown(self.to_min))
    }

    pub(crate) fn middle(self) -> f64 {
        (self.from_min + self.to_min) / 2.0
    }

    pub(crate) fn minutes(self) -> f64 {
        self.to_min - self.from_min
    }

    pub(crate) fn holds(self, at_min: f64) -> bool {
        (self.from_min..=self.to_min).contains(&at_min)
    }

    /// How much of it lies in `other`; none when nothing does.
    pub(crate) fn within(self, other: Self) -> Option<Self> {
        let cut = Self::new(
            self.from_min.max(other.from_min),
            self.to_min.min(other.to_min),
        );
        (cut.to_min > cut.from_min).then_some(cut)
    }
}

/// `5 min`, `1 h 20`.
pub(crate) fn lasting(minutes: f64) -> String {
    let whole = if minutes.is_finite() {
        minutes.clamp(-1e6, 1e6).round() as i64
    } else {
        0
    };
    let (sign, whole) = (if whole < 0 { "−" } else { "" }, whole.abs());
    match (whole / 60, whole % 60) {
        (0, m) => format!("{sign}{m} min"),
        (h, 0) => format!("{sign}{h} h"),
        (h, m) => format!("{sign}{h} h {m:02}"),
    }
}

/// Clock time along a drawing, across the page or down it.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Axis {
    pub(crate) of: Span,
    start_px: f64,
    span_px: f64,
    /// Whether time runs down the page.
    pub(crate) down: bool,
}

impl Axis {
    /// `of` over `span_px` from `start_px` on. A span that is none is an hour.
    pub(crate) fn new(of: Span, start_px: f64, span_px: f64, down: bool) -> Self {
        Self {
            of: sound(of),
            start_px,
            span_px,
            down,
        }
    }

    /// Where `minutes` stands, never outside the axis.
    pub(crate) fn px(&self, minutes: f64) -> f64 {
        let minutes = if minutes.is_finite() {
            minutes
        } else {
            self.of.from_min
        };
        let share = (minutes - self.of.from_min) / (self.of.to_min - self.of.from_min);
        self.start_px + self.span_px * share.clamp(0.0, 1.0)
    }

    pub(crate) fn px_per_min(&self) -> f64 {
        self.span_px / (self.of.to_min - self.of.from_min)
    }

    pub(crate) fn end_px(&self) -> f64 {
        self.start_px + self.span_px
    }

    /// A rectangle over `span`, from `across` on and `thick` wide.
    pub(crate) fn rect(&self, span: Span, across: f64, thick: f64) -> [f64; 4] {
        let (from, to) = (self.px(span.from_min), self.px(span.to_min));
        match self.down {
            false => [from, across, (to - from).max(0.0), thick],
            true => [across, from, thick, (to - from).max(0.0)],
        }
    }

    pub(crate) fn point(&self, minutes: f64, across: f64) -> [f64; 2] {
        match self.down {
            false => [self.px(minutes), across],
            true => [across, self.px(minutes)],
        }
    }

    /// Whole hours on the axis, as many apart as leaves `room_px` between them.
    pub(crate) fn hours(&self, room_px: f64) -> Vec<f64> {
        let each = [1.0, 2.0, 3.0, 4.0, 6.0, 12.0]
            .into_iter()
            .find(|hours| hours * 60.0 * self.px_per_min() >= room_px)
            .unwrap_or(24.0)
            * 60.0;
        let first = (self.of.from_min / each - 1e-9).ceil() * each;
        (0..200)
            .map(|nth| first + f64::from(nth) * each)
            .take_while(|at| *at <= self.of.to_min + 1e-6)
            .collect()
    }

    fn named_hours(&self) -> Vec<f64> {
        self.hours(if self.down { 26.0 } else { 52.0 })
    }

    /// Lines and names of the hours in letters of `size` px: lines from `across` on, `long`; names before them, none
    /// beyond `most`.
    pub(crate) fn draw(&self, across: f64, long: f64, size: f64, most: f64) -> Markup {
        let name = |at: f64| {
            // The line of midnight shows where the next day begins.
            let name = &format!("{:02}", (at / 60.0).rem_euclid(24.0));
            if self.down {
                // The last name would stand on the edge of the drawing.
                let y = kept(self.px(at), self.start_px + size * 0.4, self.end_px() - 1.0);
                return text("", Hang::End, [across - 6.0, y + size * 0.36], name);
            }
            let half = text_width(name, size) / 2.0;
            let x = kept(self.px(at), half, most - half);
            text("", Hang::Middle, [x, across - 6.0], name)
        };
        html! {
            (self.lines(across, long))
            @for at in self.named_hours() { (name(at)) }
        }
    }

    /// Lines of the hours alone.
    pub(crate) fn lines(&self, across: f64, long: f64) -> Markup {
        let hours = self.named_hours();
        let (midnights, others): (Vec<f64>, Vec<f64>) =
            hours.into_iter().partition(|at| is_midnight(*at));
        let line = |at: f64| [self.point(at, across), self.point(at, across + long)];
        html! {
            (joined("hour", others.into_iter().map(line)))
            (joined("hour midnight", midnights.into_iter().map(line)))
        }
    }

    /// A mark across everything at `minutes`, when it lies on the axis.
    pub(crate) fn now(&self, minutes: Option<f64>, [from, to]: [f64; 2]) -> Markup {
        let Some(at) = minutes.filter(|at| self.of.holds(*at)) else {
            return Markup::default();
        };
        let ([x0, y0], [x1, y1]) = (self.point(at, from), self.point(at, to));
        let d = format!("M{} {}L{} {}", n(x0), n(y0), n(x1), n(y1));
        path("now", &d, &format!("now {}", shown(at)))
    }
}

fn is_midnight(at: f64) -> bool {
    (at / 1440.0).fract().abs() < 1e-9
}

/// A span that can be drawn: finite, rising, of two days at most.
pub(crate) fn sound(of: Span) -> Span {
    let from = if of.from_min.is_finite() {
        of.from_min.clamp(-2880.0, 5760.0)
    } else {
        0.0
    };
    let to = if of.to_min.is_finite() && of.to_min > from {
        of.to_min.min(from + 2880.0)
    } else {
        from + 60.0
    };
    Span::new(from, to)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lengths_are_said_in_hours_and_minutes() {
        assert_eq!(lasting(80.0), "1 h 20");
        assert_eq!(lasting(-5.0), "−5 min");
        assert_eq!(lasting(120.0), "2 h");
    }

    #[test]
    fn hours_stand_on_the_axis_and_apart() {
        let axis = Axis::new(Span::new(1065.0, 1700.0), 10.0, 300.0, false);
        let hours = axis.hours(40.0);
        assert_eq!(hours.first(), Some(&1080.0));
        for pair in hours.windows(2) {
            assert!(axis.px(pair[1]) - axis.px(pair[0]) >= 40.0);
        }
        for odd in [
            Span::new(f64::NAN, 3.0),
            Span::new(5.0, 5.0),
            Span::new(9.0, 1.0),
            Span::new(0.0, f64::INFINITY),
        ] {
            let axis = Axis::new(odd, 0.0, 100.0, true);
            assert!(axis.px(f64::NAN).is_finite() && axis.px(1e9) <= 100.0);
        }
    }
}
