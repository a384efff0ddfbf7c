//! Where a smooth function passes through zero: every time, also when it only dips across.
//!
//! It knows nothing of the sky. Times are days.

/// A passage through zero.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Crossing {
    pub at: f64,
    pub rising: bool,
}

/// A function looked at in even steps.
#[derive(Clone, Debug)]
pub(crate) struct Samples {
    pub first: f64,
    pub step: f64,
    pub values: Vec<f64>,
}

impl Samples {
    /// From `from` to beyond `to`, and one step before and after, so that a dip at the edge is
    /// seen from both of its sides.
    pub fn over(from: f64, to: f64, step: f64, f: impl Fn(f64) -> f64) -> Self {
        Self::pair(from, to, step, |t| (f(t), 0.0)).0
    }

    /// The same for two functions that are had together.
    pub fn pair(from: f64, to: f64, step: f64, f: impl Fn(f64) -> (f64, f64)) -> (Self, Self) {
        let first = from - step;
        let count = ((to - first) / step).ceil() as usize + 2;
        let values = (0..count).map(|i| f(first + i as f64 * step)).unzip();
        let with = |values| Self {
            first,
            step,
            values,
        };
        (with(values.0), with(values.1))
    }

    fn time(&self, index: usize) -> f64 {
        self.first + index as f64 * self.step
    }

    /// Every passage of `f` through `level` between the first and the last sample, in order.
    ///
    /// `near` is how close to the level a turning point may be believed to come, by the parabola
    /// through three samples, before it is looked at closely; in units of `f`.
    pub fn crossings(&self, level: f64, near: f64, f: impl Fn(f64) -> f64) -> Vec<Crossing> {
        let g = |t: f64| f(t) - level;
        let mut found = Vec::new();
        for i in 1..self.values.len() {
            let (left, right) = (self.values[i - 1] - level, self.values[i] - level);
            let (from, to) = (self.time(i - 1), self.time(i));
            if (left >= 0.0) != (right >= 0.0) {
                let quick = self.by_parabola(i, level, &g);
                found.push(Crossing {
                    at: quick.unwrap_or_else(|| root(&g, (from, left), (to, right))),
                    rising: right >= 0.0,
                });
                continue;
            }
            // A turn towards the level within this step or at its end: the sample before it and
            // the one after tell.
            let Some(next) = self.values.get(i + 1).map(|value| value - level) else {
                continue;
            };
            let side = if right >= 0.0 { -1.0 } else { 1.0 };
            let [a, b, c] = [left * side, right * side, next * side];
            let same_side = (next >= 0.0) == (right >= 0.0);
            if !(same_side && b >= a && b > c) {
                continue;
            }
            let bend = a - 2.0 * b + c;
            let top = b - (c - a).powi(2) / (8.0 * bend);
            if top < -near {
                continue;
            }
            let end = self.time(i + 1);
            let turn = highest(|t| g(t) * side, from, end);
            let value = g(turn);
            if (value >= 0.0) == (right >= 0.0) {
                continue;
            }
            found.push(Crossing {
                at: root(&g, (from, left), (turn, value)),
                rising: value >= 0.0,
            });
            found.push(Crossing {
                at: root(&g, (turn, value), (end, next)),
                rising: next >= 0.0,
            });
        }
        found.sort_by(|a, b| a.at.total_cmp(&b.at));
        found
    }
}

impl Samples {
    /// The zero between samples `i - 1` and `i` by the parabola through them and the next, and two
    /// looks at `g`; none where that does not settle to 10 ms.
    ///
    /// An hour of the sun is within seconds of a parabola, so this nearly always does.
    fn by_parabola(&self, i: usize, level: f64, g: &impl Fn(f64) -> f64) -> Option<f64> {
        const SECOND: f64 = 1.0 / 86_400.0;
        let (a, b) = (self.values[i - 1] - level, self.values[i] - level);
        let c = self.values.get(i + 1)? - level;
        // a + p x + q x², in steps from the first.
        let q = 0.5 * (c - 2.0 * b + a);
        let p = b - a - q;
        let x = -2.0 * a / (p + (p * p - 4.0 * q * a).sqrt().copysign(p));
        if !(0.0..=1.0).contains(&x) {
            return None;
        }
        let rate = (2.0 * q * x + p) / self.step;
        let first = self.time(i - 1) + x * self.step;
        let at_first = g(first);
        let second = first - at_first / rate;
        let at_second = g(second);
        let moved = if at_first == at_second {
            0.0
        } else {
            at_second * (second - first) / (at_second - at_first)
        };
        let inside = (self.time(i - 1)..=self.time(i)).contains(&(second - moved));
        (inside && (second - first).abs() < 60.0 * SECOND && moved.abs() < 0.01 * SECOND)
            .then_some(second - moved)
    }
}

/// The zero between two points of different sign, to 5 ms (regula falsi, Illinois).
fn root(f: &impl Fn(f64) -> f64, left: (f64, f64), right: (f64, f64)) -> f64 {
    const CLOSE: f64 = 0.005 / 86_400.0;
    let ((mut a, mut fa), (mut b, mut fb)) = (left, right);
    let mut kept = 0;
    for round in 0..80 {
        if (b - a).abs() <= CLOSE || fa == fb {
            break;
        }
        // Every fourth step halves, so that the worst case ends too.
        let middle = if round % 4 == 3 {
            0.5 * (a + b)
        } else {
            (a * fb - b * fa) / (fb - fa)
        };
        let fm = f(middle);
        if fm == 0.0 {
            return middle;
        }
        if (fm >= 0.0) == (fb >= 0.0) {
            if (middle - b).abs() < 0.2 * CLOSE {
                return middle;
            }
            (b, fb) = (middle, fm);
            if kept == 1 {
                fa *= 0.5;
            }
            kept = 1;
        } else {
            if (middle - a).abs() < 0.2 * CLOSE {
                return middle;
            }
            (a, fa) = (middle, fm);
            if kept == 2 {
                fb *= 0.5;
            }
            kept = 2;
        }
    }
    0.5 * (a + b)
}

/// The highest point of a function with one between `from` and `to` (golden section).
fn highest(f: impl Fn(f64) -> f64, from: f64, to: f64) -> f64 {
    const GOLDEN: f64 = 0.618_033_988_749_894_9;
    let (mut a, mut b) = (from, to);
    let (mut c, mut d) = (b - GOLDEN * (b - a), a + GOLDEN * (b - a));
    let (mut fc, mut fd) = (f(c), f(d));
    while b - a > 1e-6 {
        if fc > fd {
            (b, d, fd) = (d, c, fc);
            c = b - GOLDEN * (b - a);
            fc = f(c);
        } else {
            (a, c, fc) = (c, d, fd);
            d = a + GOLDEN * (b - a);
            fd = f(d);
        }
    }
    0.5 * (a + b)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use std::f64::consts::TAU;

    fn wave(mean: f64, phase: f64) -> impl Fn(f64) -> f64 {
        move |t| mean + 10.0 * (TAU * (t - phase)).cos()
    }

    proptest! {
        /// A wave once a day meets every level at the hours that its inverse says.
        #[test]
        fn every_passage_is_found(mean in -10.5..10.5_f64, phase in 0.0..1.0_f64) {
            let f = wave(mean, phase);
            let samples = Samples::over(0.0, 3.0, 1.0 / 96.0, &f);
            let found: Vec<_> = samples
                .crossings(0.0, 0.1, &f)
                .into_iter()
                .filter(|one| (0.0..3.0).contains(&one.at))
                .collect();
            let cosine = -mean / 10.0;
            let mut wanted = Vec::new();
            if cosine.abs() < 1.0 {
                let half = cosine.acos() / TAU;
                for day in -1..4 {
                    let noon = phase + f64::from(day);
                    wanted.push((noon - half, true));
                    wanted.push((noon + half, false));
                }
            }
            wanted.retain(|(at, _)| (0.0..3.0).contains(at));
            wanted.sort_by(|a, b| a.0.total_cmp(&b.0));
            // Within a second of touching, either answer stands.
            prop_assume!((cosine.abs() - 1.0).abs() > 1e-9);
            prop_assume!(wanted.iter().all(|(at, _)| *at > 1e-6 && *at < 3.0 - 1e-6));
            prop_assert_eq!(found.len(), wanted.len());
            for (one, (at, rising)) in found.iter().zip(wanted) {
                prop_assert_eq!(one.rising, rising);
                let slope = 10.0 * TAU * (1.0 - cosine * cosine).sqrt();
                let slack = 0.01 / 86_400.0 + 1e-9 / slope.max(1e-3);
                prop_assert!((one.at - at).abs() < slack, "{} against {at}", one.at);
            }
        }
    }
}
