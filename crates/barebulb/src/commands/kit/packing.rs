//! The packing in words: a box before each thing, then what is to get and to mend.

use crate::text::Lines;
use kit::{Costs, Load, Packing, Tick};
use model::text::counted;
use model::{Holding, KitId, Sort};

/// The loads with boxes to tick, safety things, what is to be got, costs, and what does not work out.
pub fn told(out: &mut Lines, packing: &Packing) {
    for (n, one) in packing.loads.iter().enumerate() {
        if n > 0 {
            out.gap();
        }
        load(out, packing, n + 1, one);
    }
    if packing.loads.is_empty() {
        out.wrapped("no setups yet, so there is nothing to pack", "", "");
    }
    if !packing.bring.is_empty() {
        out.heading("also bring");
        packing.bring.iter().for_each(|one| tick(out, packing, one));
    }
    if !packing.spares.is_empty() {
        out.heading("more than one");
    }
    for spare in &packing.spares {
        let wanted = spare.used.saturating_add(spare.spare);
        let name = called(packing, &spare.item);
        out.line(&format!(
            "{name} wants {wanted}, has {}: {}",
            spare.has, spare.because
        ));
    }
    getting(out, packing);
    if !packing.left.is_empty() {
        out.heading("not packed");
        out.wrapped(&names(packing, &packing.left), "  ", "  ");
    }
    out.findings("to look at", &packing.findings);
}

fn called<'a>(packing: &'a Packing, id: &'a KitId) -> &'a str {
    let row = packing.getting.iter().find(|row| row.item == *id);
    row.map_or(id.as_str(), |row| row.name.as_str())
}

fn names(packing: &Packing, ids: &[KitId]) -> String {
    let names: Vec<&str> = ids.iter().map(|id| called(packing, id)).collect();
    names.join(", ")
}

fn load(out: &mut Lines, packing: &Packing, number: usize, load: &Load) {
    let date = load.date.as_ref();
    let date = date.map_or_else(String::new, |date| format!(", {date}"));
    out.wrapped(&format!("load {number}: {}{date}", load.name), "", "  ");
    let setups: Vec<&str> = load.setups.iter().map(|id| id.as_str()).collect();
    out.line(&format!("for {}", setups.join(", ")));
    for group in &load.groups {
        out.text += &format!("  {}\n", sort(group.sort));
        for packed in &group.items {
            let mut line = format!("{} {}", packed.count, packed.name);
            if !packed.why.is_empty() {
                line += &format!(" ({})", packed.why.join("; "));
            }
            out.wrapped(&line, "    [ ] ", "        ");
        }
    }
    for feed in &load.feeds {
        let mut line = format!(
            "{} from {}",
            called(packing, &feed.item),
            called(packing, &feed.from)
        );
        if let Some(connector) = &feed.connector {
            line += &format!(" by {connector}");
        }
        if !feed.through.is_empty() {
            line += &format!(" through {}", names(packing, &feed.through));
        }
        out.wrapped(&line, "  feed ", "       ");
    }
    let mut weight = format!("{:.1} kg", load.weight_kg);
    if load.trips > 0 {
        weight += &format!(", {} for one person", counted(load.trips, "trip"));
    }
    if !load.unweighed.is_empty() {
        weight += &format!("; without a weight: {}", names(packing, &load.unweighed));
    }
    if !load.heavy.is_empty() {
        weight += &format!("; lifted by two: {}", names(packing, &load.heavy));
    }
    out.line(&weight);
}

fn tick(out: &mut Lines, packing: &Packing, tick: &Tick) {
    let mut line = tick.name.clone();
    if !tick.why.is_empty() {
        line += &format!(": {}", tick.why.join("; "));
    }
    if !tick.places.is_empty() {
        let places: Vec<&str> = tick.places.iter().map(|id| id.as_str()).collect();
        line += &format!(" (at {})", places.join(", "));
    }
    if let Some(held) = &tick.held {
        line += &format!(" - the kit has {}", called(packing, held));
    }
    out.wrapped(&line, "  [ ] ", "      ");
}

fn getting(out: &mut Lines, packing: &Packing) {
    let costs = &packing.costs;
    let sums = [
        (Holding::Missing, "missing", costs.missing_minor),
        (Holding::Rented, "rented", costs.rented_minor),
        (Holding::Borrowed, "borrowed", costs.borrowed_minor),
        (Holding::Bought, "bought", costs.bought_minor),
        (Holding::Own, "own", costs.own_minor),
    ];
    for (holding, whose, _) in sums {
        let rows = packing.getting.iter().filter(|row| row.holding == holding);
        for (nth, row) in rows.enumerate() {
            if nth == 0 {
                out.heading(whose);
            }
            let mut line = format!("{} {}", row.count, row.name);
            if !row.from.is_empty() {
                line += &format!(", from {}", row.from);
            }
            if let Some(cost) = row.cost_minor {
                line += &format!(", {}", money(cost, costs));
            }
            if let Some(back) = &row.back_by {
                line += &format!(", back by {back}");
            }
            out.line(&line);
        }
    }
    if packing.getting.is_empty() {
        return;
    }
    let parts = sums.iter().filter(|(.., sum)| *sum != 0);
    let parts: Vec<String> = parts
        .map(|(_, whose, sum)| format!("{whose} {}", money(*sum, costs)))
        .collect();
    let mut line = format!("costs {}", money(costs.total_minor, costs));
    if !parts.is_empty() {
        line += &format!(": {}", parts.join(", "));
    }
    out.gap();
    out.wrapped(&line, "", "  ");
    if !costs.unpriced.is_empty() {
        out.line(&format!(
            "without a price: {}",
            names(packing, &costs.unpriced)
        ));
    }
}

/// `EUR 12.50`. Minor units are hundredths, as everywhere in the document.
fn money(minor: i64, costs: &Costs) -> String {
    let sign = if minor < 0 { "-" } else { "" };
    let minor = minor.unsigned_abs();
    let amount = format!("{sign}{}.{:02}", minor / 100, minor % 100);
    match &costs.currency {
        Some(currency) => format!("{currency} {amount}"),
        None => amount,
    }
}

fn sort(sort: Sort) -> &'static str {
    match sort {
        Sort::Camera => "camera",
        Sort::Lens => "lenses",
        Sort::Filter => "filters",
        Sort::Support => "stands and support",
        Sort::Light => "lights",
        Sort::Power => "power",
        Sort::Adapter => "adapters and cables",
        Sort::Card => "cards and drives",
        Sort::Sound => "sound",
        Sort::Safety => "safety",
        Sort::Wardrobe => "wardrobe",
        Sort::MakeUp => "make-up and hair",
        Sort::Prop => "props",
        Sort::Vehicle => "vehicles",
        Sort::Other => "other things",
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    #[test]
    fn the_packing_as_text() {
        let project = serde_json::from_value(json!({
            "format": 2,
            "brief": {"rate": "25", "frame": [1280, 720], "currency": "EUR"},
            "places": [{"id": "stairs", "name": "Stairs"}, {"id": "quay", "name": "Quay"}],
            "setups": [
                {"id": "dusk", "place": "stairs", "optics": {"camera": "cam"}, "kit": [{"item": "speaker"}]},
                {"id": "powder", "place": "quay", "optics": {"camera": "cam"}, "kit": [{"item": "speaker"}, {"item": "powder-red", "count": 4}]}
            ],
            "kit": [
                {"id": "cam", "name": "Camera", "sort": "camera", "weight_kg": 2.0, "fed_by": ["D-Tap"]},
                {"id": "brick", "name": "Brick", "sort": "power", "count": 3, "weight_kg": 1.0, "feeds": ["barrel"], "battery": {"wh": 98.0}},
                {"id": "lead", "name": "Lead", "sort": "adapter", "fed_by": ["barrel"], "feeds": ["d-tap"]},
                {"id": "speaker", "name": "Speaker", "sort": "sound", "weight_kg": 0.8, "holding": "missing", "from": "Noor"},
                {"id": "tank", "name": "Tank", "sort": "power", "weight_kg": 24.0, "always": true, "holding": "rented", "cost_minor": 4000, "back_by": "2026-10-04"},
                {"id": "powder-red", "name": "Red powder", "sort": "prop", "count": 4, "holding": "bought", "cost_minor": 1200},
                {"id": "tripod", "name": "Old tripod", "sort": "support"}
            ],
            "days": [{"id": "night", "date": "2026-10-03", "call": "17:00", "order": [
                {"setup": "dusk", "start": "18:00", "end": "19:30"},
                {"setup": "powder", "start": "22:00", "end": "23:30"}
            ]}]
        }))
        .expect("a project");
        let given = kit::Given {
            bring: vec![kit::Bring {
                name: "eyewash".into(),
                why: "powder".into(),
                place: model::PlaceId::new("quay").ok(),
            }],
            ..kit::Given::default()
        };
        let packing = kit::pack(&project, &given);
        for width in [40, 72] {
            let mut out = Lines::new(width);
            told(&mut out, &packing);
            assert!(
                out.text.lines().all(|line| line.chars().count() <= width),
                "{}",
                out.text
            );
            insta::assert_snapshot!(format!("packing_{width}"), out.text);
        }
    }
}
