//! Part of the night: what is told when somebody asks for single setups, places or days.
//!
//! Everything is computed of the whole night first, as a battery that runs short in one setup was
//! emptied in another; then what does not belong is left out.

use super::DayReport;
use crate::{Error, known};
use cautions::Caution;
use kit::Packing;
use model::{DayId, Finding, PlaceId, Project, SetupId};
use std::collections::BTreeSet;

/// Which setups, places and days are asked for, by id. An empty list means all of them; what is told
/// of is in one of each list.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Only {
    /// Setups.
    pub setups: Vec<String>,
    /// Places.
    pub places: Vec<String>,
    /// Days.
    pub days: Vec<String>,
}

/// What was asked for, found.
pub(super) struct Part {
    whole: bool,
    setups: BTreeSet<SetupId>,
    places: BTreeSet<PlaceId>,
    days: BTreeSet<DayId>,
}

impl Only {
    /// Finds what is meant. `days` are the days as computed: a setup is of a day in whose order it stands.
    pub(super) fn part(&self, project: &Project, days: &[DayReport]) -> Result<Part, Error> {
        let in_list = |list: &[String], id: &str| list.is_empty() || list.iter().any(|l| l == id);
        for id in &self.setups {
            known::setup(project, id)?;
        }
        for id in &self.places {
            known::place(project, id)?;
        }
        for id in &self.days {
            known::day(project, id)?;
        }
        let asked_days = || {
            days.iter()
                .filter(|day| in_list(&self.days, day.day.as_str()))
        };
        let on_a_day = |id: &SetupId| {
            self.days.is_empty()
                || asked_days().any(|day| day.power.slots.iter().any(|slot| slot.setup == *id))
        };
        let setups: BTreeSet<SetupId> = project
            .setups
            .iter()
            .filter(|setup| {
                let place = setup.place.as_ref().map_or("", |id| id.as_str());
                in_list(&self.setups, setup.id.as_str())
                    && (self.places.is_empty() || in_list(&self.places, place))
                    && on_a_day(&setup.id)
            })
            .map(|setup| setup.id.clone())
            .collect();
        let whole = self.setups.is_empty() && self.places.is_empty() && self.days.is_empty();
        if setups.is_empty() && !whole {
            return Err(Error::NothingThere(self.in_words()));
        }
        let places = project
            .setups
            .iter()
            .filter(|setup| setups.contains(&setup.id))
            .filter_map(|setup| setup.place.clone())
            .collect();
        let days = asked_days()
            .filter(|day| {
                let mut slots = day.power.slots.iter();
                whole || slots.any(|slot| setups.contains(&slot.setup))
            })
            .map(|day| day.day.clone())
            .collect();
        Ok(Part {
            whole,
            setups,
            places,
            days,
        })
    }

    /// `setup a, place b and day c`.
    fn in_words(&self) -> String {
        let lists = [
            ("setup", &self.setups),
            ("place", &self.places),
            ("day", &self.days),
        ];
        let words: Vec<String> = lists
            .iter()
            .filter(|(_, ids)| !ids.is_empty())
            .map(|(what, ids)| {
                let ids: Vec<String> = ids.iter().map(|id| format!("`{id}`")).collect();
                format!("{what} {}", ids.join(" or "))
            })
            .collect();
        words.join(" and ")
    }
}

impl Part {
    /// The project with nothing but this part to be packed for.
    pub(super) fn project(&self, project: &Project) -> Project {
        let mut out = project.clone();
        if self.whole {
            return out;
        }
        out.setups.retain(|setup| self.setups.contains(&setup.id));
        out.days.retain(|day| self.days.contains(&day.id));
        for day in &mut out.days {
            day.order.retain(|slot| self.setups.contains(&slot.setup));
        }
        out
    }

    /// Leaves what this part does not pack out of a project that [`Part::project`] made, so that it is
    /// neither counted nor paid for.
    pub(super) fn kit(&self, project: &mut Project, packing: &Packing) -> bool {
        if !self.whole {
            project.kit.retain(|item| !packing.left.contains(&item.id));
        }
        !self.whole
    }

    /// Whether a day is of this part.
    pub(super) fn has_day(&self, day: &DayId) -> bool {
        self.whole || self.days.contains(day)
    }

    /// Leaves out what a day holds for other setups. Sums of the day, and what batteries and cards hold
    /// at its end, stay the whole day's.
    pub(super) fn days(&self, days: &mut [DayReport]) {
        if self.whole {
            return;
        }
        for DayReport { power, cards, .. } in days {
            let ours = |id: &SetupId| self.setups.contains(id);
            let told = |finding: &Finding| finding.setups().all(ours);
            // Fixes are for the day's first shortage.
            if !power
                .shortages
                .first()
                .is_some_and(|first| ours(&first.setup))
            {
                power.fixes.clear();
            }
            power.slots.retain(|slot| ours(&slot.setup));
            power.draws.retain(|draw| ours(&draw.setup));
            power.spans.retain(|span| ours(&span.setup));
            power.swaps.retain(|swap| ours(&swap.setup));
            power.shortages.retain(|shortage| ours(&shortage.setup));
            power.findings.retain(told);
            let used: BTreeSet<_> = power.spans.iter().filter_map(|s| s.piece.clone()).collect();
            power.ledger.retain(|one| used.contains(&one.piece));
            power.charges.retain(|charge| used.contains(&charge.piece));
            cards.setups.retain(|media| ours(&media.setup));
            for card in &mut cards.cards {
                card.holds.retain(|(setup, _, _)| ours(setup));
            }
            cards.cards.retain(|card| !card.holds.is_empty());
            cards.findings.retain(told);
        }
    }

    /// Whether a caution is about something in this part.
    pub(super) fn cautions(&self, caution: &Caution) -> bool {
        let found = &caution.finding;
        if self.whole {
            return true;
        }
        if found.setups().next().is_some() {
            return found.setups().any(|id| self.setups.contains(id));
        }
        match found.places().next() {
            Some(place) => self.places.contains(place),
            None => found.days().next().is_none() || found.days().any(|id| self.days.contains(id)),
        }
    }

    /// Whether a setup is of this part.
    pub(super) fn has(&self, setup: &SetupId) -> bool {
        self.whole || self.setups.contains(setup)
    }
}
