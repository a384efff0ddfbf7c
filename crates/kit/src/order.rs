//! In which order places are gone to: days by date, setups in a day's order, neighbours at one
//! place gathered.

use model::{Day, Finding, Place, Project, Setup};
use std::collections::BTreeSet;

/// One stay at one place.
pub(crate) struct Visit<'a> {
    /// On which day, when a day's order says.
    pub day: Option<&'a Day>,
    /// Where, when it is known.
    pub place: Option<&'a Place>,
    /// What is shot there, in order, each once.
    pub setups: Vec<&'a Setup>,
}

impl Visit<'_> {
    /// Whether the day goes on past its midnight.
    pub fn past_midnight(&self) -> bool {
        let ends = |day: &Day| day.order.iter().map(|slot| slot.end.minutes()).max();
        self.day.and_then(ends).is_some_and(|end| end > 24 * 60)
    }
}

/// Every stay, in order. A setup that is in no day's order comes after all days; without any
/// order, setups are gathered by place as they are listed.
pub(crate) fn visits<'a>(project: &'a Project, findings: &mut Vec<Finding>) -> Vec<Visit<'a>> {
    let mut days: Vec<&Day> = project.days.iter().collect();
    days.sort_by(|a, b| (a.date, a.call, &a.id).cmp(&(b.date, b.call, &b.id)));
    let mut visits: Vec<Visit> = Vec::new();
    let mut met = BTreeSet::new();
    for day in days {
        let mut slots: Vec<_> = day.order.iter().collect();
        slots.sort_by_key(|slot| slot.start);
        let mut first = true;
        for slot in slots {
            let Some(setup) = project.setup(&slot.setup) else {
                let (day, id) = (&day.id, &slot.setup);
                let says =
                    format!("day `{day}` orders the setup `{id}`, which the plan does not have");
                findings.push(Finding::problem("unknown", says).about(id));
                continue;
            };
            met.insert(&setup.id);
            let new = first || visits.last().is_some_and(|last| !at(last, setup));
            add(&mut visits, new, Some(day), project, setup);
            first = false;
        }
    }
    let ordered = !visits.is_empty();
    let from = visits.len();
    for setup in &project.setups {
        if met.contains(&setup.id) {
            continue;
        }
        if ordered {
            let id = &setup.id;
            let says = format!("setup `{id}` stands in no day's order; its load comes last");
            findings.push(Finding::note("not-in-an-order", says).about(id));
        }
        match visits[from..].iter_mut().find(|visit| at(visit, setup)) {
            Some(visit) => visit.setups.push(setup),
            None => add(&mut visits, true, None, project, setup),
        }
    }
    visits
}

fn at(visit: &Visit, setup: &Setup) -> bool {
    // A place that is not in the plan is no place; both are then `None`.
    let last = visit.setups.last();
    last.is_some_and(|last| last.place == setup.place)
}

fn add<'a>(
    visits: &mut Vec<Visit<'a>>,
    new: bool,
    day: Option<&'a Day>,
    project: &'a Project,
    setup: &'a Setup,
) {
    match visits.last_mut() {
        Some(last) if !new => {
            if !last.setups.iter().any(|known| known.id == setup.id) {
                last.setups.push(setup);
            }
        }
        _ => visits.push(Visit {
            day,
            place: setup.place.as_ref().and_then(|id| project.place(id)),
            setups: vec![setup],
        }),
    }
}
