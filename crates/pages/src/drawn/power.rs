//! Power and cards over a day, as curves.

use super::{called, date};
use ::power::{CardLoad, DayPower, Ledger, Piece, Shortage, Source};
use charts::{BatteryCharge, CardFill, Mark, Power, Slot, Span};
use model::{KitId, Project};
use steps::DayReport;

/// The charge of every battery that is used on a day and what lies on every card, over its hours.
pub fn power(project: &Project, report: &DayReport) -> Power {
    let power = &report.power;
    let of = hours(power);
    let mut batteries: Vec<BatteryCharge> = power
        .ledger
        .iter()
        .filter(|one| {
            let moved = one.drawn_wh > 0.0 || one.charged_wh > 0.0;
            moved || power.swaps.iter().any(|swap| swap.on == one.piece)
        })
        .map(|one| battery(project, power, one, of))
        .collect();
    let mut loose = Vec::new();
    for shortage in &power.shortages {
        let mark = Mark {
            at_min: shortage.at_min,
            says: says(project, shortage),
        };
        let piece = short_piece(power, shortage).map(|piece| name(project, piece));
        match piece.and_then(|name| batteries.iter_mut().find(|one| one.name == name)) {
            Some(battery) => battery.shortages.push(mark),
            None => loose.push(mark),
        }
    }
    Power {
        day: date(&report.date),
        of,
        slots: power
            .slots
            .iter()
            .map(|slot| Slot {
                name: called(project, &slot.setup),
                at: Span::new(slot.shoot_min, slot.end_min),
            })
            .collect(),
        batteries,
        cards: report
            .cards
            .cards
            .iter()
            .map(|card| fill(project, report, card, of))
            .collect(),
        shortages: loose,
        now_min: None,
    }
}

/// From the first thing that happens to the last, in whole half hours.
fn hours(power: &DayPower) -> Span {
    let slots = power
        .slots
        .iter()
        .map(|slot| [slot.there_min, slot.leave_min]);
    let spans = power.spans.iter().map(|span| [span.from_min, span.to_min]);
    let charges = power.charges.iter().map(|one| [one.from_min, one.to_min]);
    let all = slots.chain(spans).chain(charges);
    let [from, to] = all.fold([f64::INFINITY, f64::NEG_INFINITY], |[from, to], [a, b]| {
        [from.min(a), to.max(b)]
    });
    if from > to {
        return Span::default();
    }
    Span::new((from / 30.0).floor() * 30.0, (to / 30.0).ceil() * 30.0)
}

fn item(project: &Project, id: &KitId) -> String {
    project
        .item(id)
        .map_or_else(|| id.to_string(), |item| item.called().to_owned())
}

fn items(project: &Project, ids: &[KitId]) -> String {
    let names: Vec<String> = ids.iter().map(|id| item(project, id)).collect();
    names.join(", ")
}

/// What one of several alike is called.
fn name(project: &Project, piece: &Piece) -> String {
    format!("{} {}", item(project, &piece.battery), piece.piece)
}

fn battery(project: &Project, power: &DayPower, one: &Ledger, of: Span) -> BatteryCharge {
    let printed = project
        .item(&one.piece.battery)
        .and_then(|item| item.battery.as_ref())
        .map_or(one.start_wh, |battery| battery.wh);
    let mut swaps: Vec<Mark> = Vec::new();
    for swap in &power.swaps {
        let whose = items(project, &swap.items);
        if swap.off.as_ref() == Some(&one.piece) {
            swaps.push(Mark {
                at_min: swap.at_min,
                says: format!("off {whose}, {} goes on", name(project, &swap.on)),
            });
        }
        if swap.on == one.piece {
            swaps.push(Mark {
                at_min: swap.at_min,
                says: format!("on {whose}"),
            });
        }
    }
    BatteryCharge {
        name: name(project, &one.piece),
        full_wh: printed.max(one.start_wh),
        reserve_wh: one.reserve_line_wh,
        points: charge(power, one, of),
        swaps,
        shortages: Vec::new(),
    }
}

/// What is in a battery over the day: what it gives and takes, summed from the ledger's start.
fn charge(power: &DayPower, one: &Ledger, of: Span) -> Vec<[f64; 2]> {
    // From when to when, watt-hours a minute; what it gives is negative.
    let given = power
        .spans
        .iter()
        .filter(|span| span.piece.as_ref() == Some(&one.piece))
        .map(|span| [span.from_min, span.to_min, -span.watts / 60.0]);
    let taken = power
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
        .collect();
    times.extend([of.from_min, of.to_min]);
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

/// The battery that a shortage is of: the one of its kind that fed the same setup last before it.
fn short_piece<'a>(power: &'a DayPower, shortage: &Shortage) -> Option<&'a Piece> {
    let Source::Battery(kind) = &shortage.source else {
        return None;
    };
    power
        .spans
        .iter()
        .filter(|span| span.setup == shortage.setup && span.from_min <= shortage.at_min + 1e-6)
        .filter_map(|span| Some((span.to_min.min(shortage.at_min), span.piece.as_ref()?)))
        .filter(|(_, piece)| piece.battery == *kind)
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, piece)| piece)
}

/// A shortage as its battery's drawing says it.
fn says(project: &Project, shortage: &Shortage) -> String {
    use ::power::Reason;
    let setup = called(project, &shortage.setup);
    let dark = items(project, &shortage.dark);
    let source = match &shortage.source {
        Source::Mains => "the mains".to_owned(),
        Source::Battery(id) => item(project, id),
    };
    match shortage.reason {
        Reason::Empty => format!("empty in “{setup}”: {dark} without power"),
        Reason::Taken => {
            format!("every {source} feeds something else in “{setup}”: {dark} without power")
        }
        Reason::TooMuch => {
            format!("{source} can't give as much as is asked in “{setup}”: {dark} without power")
        }
        Reason::NoMains => format!("no mains in “{setup}”: {dark} without power"),
        Reason::BelowReserve => format!("goes below its reserve in “{setup}”"),
    }
}

/// What lies on a card over the day: it fills while its passes run.
fn fill(project: &Project, report: &DayReport, card: &CardLoad, of: Span) -> CardFill {
    let mut points = vec![[of.from_min, 0.0]];
    let mut now = 0.0;
    for (setup, first, last) in &card.holds {
        let media = report.cards.setups.iter().find(|one| one.setup == *setup);
        let slot = report.power.slots.iter().find(|one| one.setup == *setup);
        let (Some(media), Some(slot)) = (media, slot) else {
            continue;
        };
        let pass_gb = media.gigabytes / f64::from(media.passes.max(1));
        for pass in *first..=*last {
            // A pass whose time is not known is written by the end of its setup.
            let index = (pass as usize).saturating_sub(1);
            let [from, to] = *slot
                .passes_min
                .get(index)
                .unwrap_or(&[slot.end_min, slot.end_min]);
            points.push([from, now]);
            now += pass_gb;
            points.push([to, now]);
        }
    }
    points.push([of.to_min, now]);
    CardFill {
        name: format!("{} {}", item(project, &card.card), card.piece),
        room_gb: card.gigabytes + card.free_gb,
        points,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use ::power::Habits;

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
        .expect("a project")
    }

    fn report(project: &Project) -> DayReport {
        let lengths = |_: &model::Setup| Some(180.0);
        let habits = Habits::default();
        let power = ::power::day_power(project, &project.days[0], &lengths, &habits);
        let order: Vec<_> = power.slots.iter().map(|slot| slot.setup.clone()).collect();
        let cards = ::power::card_plan(project, &order, &lengths, &habits);
        DayReport {
            day: project.days[0].id.clone(),
            date: "2026-11-20".into(),
            power,
            cards,
        }
    }

    #[test]
    fn curves_end_where_the_ledger_does() {
        let project = project();
        let report = report(&project);
        let view = power(&project, &report);
        assert!(!view.batteries.is_empty(), "{:?}", report.power.findings);
        for battery in &view.batteries {
            let ledger = report
                .power
                .ledger
                .iter()
                .find(|one| name(&project, &one.piece) == battery.name)
                .expect("a row");
            let last = battery.points.last().expect("points");
            assert!(
                (last[1] - ledger.left_wh).abs() < 1e-6,
                "{battery:?} {ledger:?}"
            );
            assert!(
                battery
                    .points
                    .windows(2)
                    .all(|pair| pair[0][0] <= pair[1][0])
            );
        }
        let drawn: f64 = report.power.ledger.iter().map(|one| one.drawn_wh).sum();
        assert!(drawn > 16.0, "the first battery is changed");
        assert!(view.batteries.iter().any(|one| !one.swaps.is_empty()));
        let all: usize = view.batteries.iter().map(|one| one.shortages.len()).sum();
        assert_eq!(all + view.shortages.len(), report.power.shortages.len());
    }

    #[test]
    fn cards_fill_up_to_what_lies_on_them() {
        let project = project();
        let report = report(&project);
        let view = power(&project, &report);
        assert_eq!(view.cards.len(), report.cards.cards.len());
        for (fill, load) in view.cards.iter().zip(&report.cards.cards) {
            let last = fill.points.last().expect("points");
            assert!((last[1] - load.gigabytes).abs() < 1e-6);
            assert!(fill.points.windows(2).all(|pair| pair[0][0] <= pair[1][0]));
        }
    }

    #[test]
    fn a_day_without_setups_draws_nothing() {
        let mut project = project();
        project.setups.clear();
        let view = power(&project, &report(&project));
        assert!(view.batteries.is_empty() && view.cards.is_empty() && view.slots.is_empty());
    }
}
