//! The packing as lines for a terminal: a box before each thing, then what is to get and to mend.

use crate::{Costs, Load, Packing, Tick, counted};
use model::text::wrapped;
use model::{Holding, KitId, Sort};

/// Narrower than this nothing is wrapped.
const LEAST_WIDTH: usize = 40;

impl Packing {
    /// Lines for a terminal `width` characters wide (taken as 40 when less): the loads with boxes
    /// to tick, safety things, what is to be got, costs, and what does not work out.
    pub fn to_text(&self, width: usize) -> String {
        let width = width.max(LEAST_WIDTH);
        let mut text = String::new();
        for (n, load) in self.loads.iter().enumerate() {
            text += &self.load(n + 1, load, width);
        }
        if self.loads.is_empty() {
            text += &wrapped("no setups yet, so there is nothing to pack", "", "", width);
        }
        if !self.bring.is_empty() {
            text += "\nalso bring\n";
            for tick in &self.bring {
                text += &self.tick(tick, width);
            }
        }
        text += &self.spares_in_text(width);
        text += &self.getting_in_text(width);
        if !self.left.is_empty() {
            let names: Vec<&str> = self.left.iter().map(|id| self.called(id)).collect();
            text += "\nnot packed\n";
            text += &wrapped(&names.join(", "), "  ", "  ", width);
        }
        if !self.findings.is_empty() {
            text += "\nto look at\n";
            for finding in &self.findings {
                text += &wrapped(&finding.text, "  ", "    ", width);
            }
        }
        text
    }

    fn called<'a>(&'a self, id: &'a KitId) -> &'a str {
        self.getting
            .iter()
            .find(|row| row.item == *id)
            .map_or(id.as_str(), |row| row.name.as_str())
    }

    fn names(&self, ids: &[KitId]) -> String {
        let names: Vec<&str> = ids.iter().map(|id| self.called(id)).collect();
        names.join(", ")
    }

    fn load(&self, number: usize, load: &Load, width: usize) -> String {
        let mut text = if number > 1 {
            "\n".into()
        } else {
            String::new()
        };
        let date = load.date.map_or_else(String::new, |d| format!(", {d}"));
        text += &wrapped(
            &format!("load {number}: {}{date}", load.name),
            "",
            "  ",
            width,
        );
        let setups: Vec<&str> = load.setups.iter().map(|id| id.as_str()).collect();
        text += &wrapped(&format!("for {}", setups.join(", ")), "  ", "    ", width);
        for group in &load.groups {
            text += &format!("  {}\n", sort(group.sort));
            for packed in &group.items {
                let mut line = format!("{} {}", packed.count, packed.name);
                if !packed.why.is_empty() {
                    line += &format!(" ({})", packed.why.join("; "));
                }
                text += &wrapped(&line, "    [ ] ", "        ", width);
            }
        }
        for feed in &load.feeds {
            let mut line = format!(
                "{} from {}",
                self.called(&feed.item),
                self.called(&feed.from)
            );
            if let Some(connector) = &feed.connector {
                line += &format!(" by {connector}");
            }
            if !feed.through.is_empty() {
                line += &format!(" through {}", self.names(&feed.through));
            }
            text += &wrapped(&line, "  feed ", "       ", width);
        }
        let mut weight = format!("{:.1} kg", load.weight_kg);
        if load.trips > 0 {
            weight += &format!(", {} for one person", counted(load.trips, "trip"));
        }
        if !load.unweighed.is_empty() {
            weight += &format!("; without a weight: {}", self.names(&load.unweighed));
        }
        if !load.heavy.is_empty() {
            weight += &format!("; lifted by two: {}", self.names(&load.heavy));
        }
        text + &wrapped(&weight, "  ", "    ", width)
    }

    fn tick(&self, tick: &Tick, width: usize) -> String {
        let mut line = tick.name.clone();
        if !tick.why.is_empty() {
            line += &format!(": {}", tick.why.join("; "));
        }
        if !tick.places.is_empty() {
            let places: Vec<&str> = tick.places.iter().map(|id| id.as_str()).collect();
            line += &format!(" (at {})", places.join(", "));
        }
        if let Some(held) = &tick.held {
            line += &format!(" - the kit has {}", self.called(held));
        }
        wrapped(&line, "  [ ] ", "      ", width)
    }

    fn spares_in_text(&self, width: usize) -> String {
        let mut text = String::new();
        for spare in &self.spares {
            if text.is_empty() {
                text += "\nmore than one\n";
            }
            let wanted = spare.used.saturating_add(spare.spare);
            let line = format!(
                "{} wants {wanted}, has {}: {}",
                self.called(&spare.item),
                spare.has,
                spare.because
            );
            text += &wrapped(&line, "  ", "    ", width);
        }
        text
    }

    fn getting_in_text(&self, width: usize) -> String {
        let mut text = String::new();
        for holding in [
            Holding::Missing,
            Holding::Rented,
            Holding::Borrowed,
            Holding::Bought,
            Holding::Own,
        ] {
            let rows: Vec<_> = self
                .getting
                .iter()
                .filter(|row| row.holding == holding)
                .collect();
            if rows.is_empty() {
                continue;
            }
            text += &format!("\n{}\n", holding.label());
            for row in rows {
                let mut line = format!("{} {}", row.count, row.name);
                if !row.from.is_empty() {
                    line += &format!(", from {}", row.from);
                }
                if let Some(cost) = row.cost_minor {
                    line += &format!(", {}", money(cost, &self.costs));
                }
                if let Some(back) = &row.back_by {
                    line += &format!(", back by {back}");
                }
                text += &wrapped(&line, "  ", "    ", width);
            }
        }
        if self.getting.is_empty() {
            return text;
        }
        let mut costs = format!("costs {}", money(self.costs.total_minor, &self.costs));
        let parts: Vec<String> = [
            (Holding::Own, self.costs.own_minor),
            (Holding::Borrowed, self.costs.borrowed_minor),
            (Holding::Rented, self.costs.rented_minor),
            (Holding::Bought, self.costs.bought_minor),
            (Holding::Missing, self.costs.missing_minor),
        ]
        .into_iter()
        .filter(|(_, sum)| *sum != 0)
        .map(|(holding, sum)| format!("{} {}", holding.label(), money(sum, &self.costs)))
        .collect();
        if !parts.is_empty() {
            costs += &format!(": {}", parts.join(", "));
        }
        text.push('\n');
        text += &wrapped(&costs, "", "  ", width);
        if !self.costs.unpriced.is_empty() {
            let names = self.names(&self.costs.unpriced);
            text += &wrapped(&format!("without a price: {names}"), "  ", "    ", width);
        }
        text
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
