//! A day as curves: what is in each battery and what lies on each card over its hours, straight between points.

use crate::cards::{CardLoad, CardPlan};
use crate::day::{DayPower, Ledger, Piece, Shortage};
use crate::feed::Source;
use crate::times::SlotTimes;

impl DayPower {
    /// From the first thing that happens to the last, in whole half hours; `None` where nothing happens.
    pub fn hours(&self) -> Option<[f64; 2]> {
        let slots = self
            .slots
            .iter()
            .map(|slot| [slot.there_min, slot.leave_min]);
        let spans = self.spans.iter().map(|span| [span.from_min, span.to_min]);
        let charges = self.charges.iter().map(|one| [one.from_min, one.to_min]);
        let [from, to] = slots
            .chain(spans)
            .chain(charges)
            .reduce(|[from, to], [a, b]| [from.min(a), to.max(b)])?;
        Some([(from / 30.0).floor() * 30.0, (to / 30.0).ceil() * 30.0])
    }

    /// The batteries that something happens to: that give, take, or are put on.
    pub fn moved(&self) -> impl Iterator<Item = &Ledger> {
        self.ledger.iter().filter(|one| {
            let moved = one.drawn_wh > 0.0 || one.charged_wh > 0.0;
            moved || self.swaps.iter().any(|swap| swap.on == one.piece)
        })
    }

    /// What is in a battery from minute `from` to `to`: minute and watt-hours of each point, summed from what
    /// its ledger starts with.
    pub fn charge(&self, one: &Ledger, [from, to]: [f64; 2]) -> Vec<[f64; 2]> {
        // From when to when, watt-hours a minute; what it gives is negative.
        let given = self
            .spans
            .iter()
            .filter(|span| span.piece.as_ref() == Some(&one.piece))
            .map(|span| [span.from_min, span.to_min, -span.watts / 60.0]);
        let taken = self
            .charges
            .iter()
            .filter(|charge| charge.piece == one.piece && charge.to_min > charge.from_min)
            .map(|charge| {
                let minutes = charge.to_min - charge.from_min;
                [charge.from_min, charge.to_min, charge.wh / minutes]
            });
        let flows: Vec<[f64; 3]> = given.chain(taken).collect();
        let mut times: Vec<f64> = flows
            .iter()
            .flat_map(|[from, to, _]| [*from, *to])
            .chain([from, to])
            .collect();
        times.sort_by(f64::total_cmp);
        times.dedup();
        let mut now = one.start_wh;
        let mut out = vec![[times[0], now]];
        for pair in times.windows(2) {
            let flow: f64 = flows
                .iter()
                .filter(|[from, to, _]| *from <= pair[0] && *to >= pair[1])
                .map(|[.., flow]| flow)
                .sum();
            now += flow * (pair[1] - pair[0]);
            out.push([pair[1], now]);
        }
        out
    }

    /// The battery that a shortage is of: the one of its sort that fed the same setup last before it.
    pub fn short_piece(&self, shortage: &Shortage) -> Option<&Piece> {
        let Source::Battery(sort) = &shortage.source else {
            return None;
        };
        self.spans
            .iter()
            .filter(|span| span.setup == shortage.setup && span.from_min <= shortage.at_min + 1e-6)
            .filter_map(|span| Some((span.to_min.min(shortage.at_min), span.piece.as_ref()?)))
            .filter(|(_, piece)| piece.battery == *sort)
            .max_by(|a, b| a.0.total_cmp(&b.0))
            .map(|(_, piece)| piece)
    }
}

impl CardPlan {
    /// What lies on `card` from minute `from` to `to`: minute and gigabytes of each point. It fills while its
    /// passes run, as `slots` time them.
    pub fn filling(
        &self,
        card: &CardLoad,
        slots: &[SlotTimes],
        [from, to]: [f64; 2],
    ) -> Vec<[f64; 2]> {
        let mut points = vec![[from, 0.0]];
        let mut now = 0.0;
        for (setup, first, last) in &card.holds {
            let media = self.setups.iter().find(|one| one.setup == *setup);
            let slot = slots.iter().find(|one| one.setup == *setup);
            let (Some(media), Some(slot)) = (media, slot) else {
                continue;
            };
            let pass_gb = media.gigabytes / f64::from(media.passes.max(1));
            for pass in *first..=*last {
                // A pass whose time is not known is written by the end of its setup.
                let index = (pass as usize).saturating_sub(1);
                let [begins, ends] = *slot
                    .passes_min
                    .get(index)
                    .unwrap_or(&[slot.end_min, slot.end_min]);
                points.push([begins, now]);
                now += pass_gb;
                points.push([ends, now]);
            }
        }
        points.push([to, now]);
        points
    }
}

#[cfg(test)]
mod tests {
    use crate::{card_plan, day_power};
    use model::{Project, Setup, SetupId};

    /// A camera on two small batteries and one card, through three setups.
    fn project() -> Project {
        serde_json::from_value(serde_json::json!({
            "format": 2,
            "brief": {"rate": "25", "frame": [1920, 1080]},
            "kit": [
                {"id": "cam", "name": "Camera", "sort": "camera", "fed_by": ["small"], "camera": {
                    "sensor_mm": [36.0, 20.25], "frame": [1920, 1080], "draws_w": 20.0,
                    "recordings": [{"name": "fine", "rate": "25", "mbit_s": 200.0}]
                }},
                {"id": "np", "name": "Small battery", "sort": "power", "count": 2, "feeds": ["small"], "battery": {"wh": 16.0}},
                {"id": "card", "name": "Card", "sort": "card", "card": {"gigabytes": 128.0}}
            ],
            "setups": [
                {"id": "a", "passes": 3, "optics": {"camera": "cam"}},
                {"id": "b", "passes": 3, "optics": {"camera": "cam"}},
                {"id": "c", "passes": 3, "optics": {"camera": "cam"}}
            ],
            "days": [{"id": "night", "date": "2026-11-20", "call": "17:00"}]
        }))
        .unwrap()
    }

    const LENGTHS: fn(&Setup) -> Option<f64> = |_| Some(180.0);

    fn rises(points: &[[f64; 2]]) -> bool {
        points.windows(2).all(|pair| pair[0][0] <= pair[1][0])
    }

    // What the ledger sums (start − drawn + charged = left) is where the curve ends: the same energy, counted
    // another way.
    #[test]
    fn charge_ends_where_the_ledger_does() {
        let project = project();
        let power = day_power(&project, &project.days[0], &LENGTHS);
        let hours = power.hours().unwrap();
        assert!(power.moved().count() > 1, "the first battery is changed");
        for one in power.moved() {
            let points = power.charge(one, hours);
            assert!(rises(&points) && points[0] == [hours[0], one.start_wh]);
            let [at, left] = *points.last().unwrap();
            assert!(
                (left - one.left_wh).abs() < 1e-6 && at == hours[1],
                "{one:?}"
            );
        }
        assert!(!power.shortages.is_empty());
        let known = |piece: &crate::Piece| power.ledger.iter().any(|one| one.piece == *piece);
        for shortage in &power.shortages {
            assert!(
                power.short_piece(shortage).is_some_and(known),
                "{shortage:?}"
            );
        }
    }

    #[test]
    fn cards_fill_up_to_what_lies_on_them() {
        let project = project();
        let power = day_power(&project, &project.days[0], &LENGTHS);
        let order: Vec<SetupId> = power.slots.iter().map(|slot| slot.setup.clone()).collect();
        let cards = card_plan(&project, &order, &LENGTHS);
        assert!(!cards.cards.is_empty());
        for card in &cards.cards {
            let points = cards.filling(card, &power.slots, power.hours().unwrap());
            assert!(rises(&points));
            assert!((points.last().unwrap()[1] - card.gigabytes).abs() < 1e-6);
        }
    }

    #[test]
    fn a_day_without_setups_has_no_hours() {
        let mut project = project();
        project.setups.clear();
        let power = day_power(&project, &project.days[0], &LENGTHS);
        assert_eq!(power.hours(), None);
        assert_eq!(power.moved().count(), 0);
    }
}
