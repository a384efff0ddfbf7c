//! The moment at which a day's batteries are nearest to their end.

use crate::day::DayPower;
use model::{KitId, SetupId};
use serde::Serialize;

/// The lowest that the batteries of one sort come to.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Tightest {
    /// Which battery, all of its pieces together: one is changed for another while there are any.
    pub battery: KitId,
    /// When, minutes after midnight.
    pub at_min: f64,
    /// In which setup.
    pub setup: SetupId,
    /// What is left then, as a share of what they could give at the call, cold counted: 0 to 1.
    pub left_share: f64,
}

impl DayPower {
    /// The sort of battery that comes nearest to its end, and when that is; the earliest moment of several
    /// alike. None when no battery gives anything.
    pub fn tightest(&self) -> Option<Tightest> {
        let mut sorts: Vec<&KitId> = Vec::new();
        for one in self.ledger.iter().filter(|one| one.drawn_wh > 0.0) {
            if !sorts.contains(&&one.piece.battery) {
                sorts.push(&one.piece.battery);
            }
        }
        sorts
            .into_iter()
            .filter_map(|battery| self.lowest(battery))
            .reduce(|a, b| if b.left_share < a.left_share { b } else { a })
    }

    /// The lowest that all pieces of `battery` together come to: at the end of giving, as what they
    /// hold rises and falls in straight lines between.
    fn lowest(&self, battery: &KitId) -> Option<Tightest> {
        let pieces = || {
            self.ledger
                .iter()
                .filter(|one| one.piece.battery == *battery)
        };
        let spans = || {
            self.spans
                .iter()
                .filter(|span| span.piece.as_ref().is_some_and(|p| p.battery == *battery))
        };
        let full_wh: f64 = pieces().map(|one| one.start_wh - one.floor_wh).sum();
        if full_wh <= 0.0 {
            return None;
        }
        // Hours that lie before a moment.
        let before = |at: f64, from: f64, to: f64| (at.min(to) - from).max(0.0) / 60.0;
        let left_at = |at: f64| {
            let given: f64 = spans()
                .map(|span| span.watts * before(at, span.from_min, span.to_min))
                .sum();
            let taken: f64 = self
                .charges
                .iter()
                .filter(|charge| {
                    charge.piece.battery == *battery && charge.to_min > charge.from_min
                })
                .map(|charge| {
                    let hours = (charge.to_min - charge.from_min) / 60.0;
                    charge.wh / hours * before(at, charge.from_min, charge.to_min)
                })
                .sum();
            full_wh - given + taken
        };
        spans()
            .map(|span| Tightest {
                battery: battery.clone(),
                at_min: span.to_min,
                setup: span.setup.clone(),
                left_share: (left_at(span.to_min) / full_wh).clamp(0.0, 1.0),
            })
            .reduce(|a, b| {
                // The sums come in another order at each moment: what differs by rounding is alike.
                let lower = b.left_share < a.left_share - 1e-9;
                let sooner = (b.left_share - a.left_share).abs() <= 1e-9 && b.at_min < a.at_min;
                if lower || sooner { b } else { a }
            })
    }
}
