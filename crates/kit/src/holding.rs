//! Whose each item is, what it costs and until when; and the safety things to tick.

use crate::order::Visit;
use crate::{Costs, Getting, Given, Load, Tick};
use model::{Finding, Holding, KitItem, Project, SetupId};
use std::collections::BTreeSet;

/// Every item of the kit, and what is wrong with how it is come by.
pub(crate) fn getting(
    project: &Project,
    visits: &[Visit],
    loads: &[Load],
    findings: &mut Vec<Finding>,
) -> Vec<Getting> {
    let mut getting = Vec::new();
    for item in &project.kit {
        let stays: Vec<(&Visit, &Load)> = visits
            .iter()
            .zip(loads)
            .filter(|(_, load)| load.count(&item.id) > 0)
            .collect();
        let mut setups: Vec<SetupId> = Vec::new();
        let mut met: BTreeSet<&SetupId> = BTreeSet::new();
        for (visit, load) in &stays {
            for setup in &visit.setups {
                let fed = || {
                    load.feeds.iter().any(|feed| {
                        (feed.from == item.id || feed.through.contains(&item.id))
                            && setup.uses(&feed.item)
                    })
                };
                let worn = || crate::dressing::is_worn(item, setup);
                if (setup.uses(&item.id) || fed() || worn()) && met.insert(&setup.id) {
                    setups.push(setup.id.clone());
                }
            }
        }
        if item.holding == Holding::Missing && !stays.is_empty() {
            let says = format!("`{}` is missing, and {}", item.called(), wanted_by(&setups));
            findings.push(
                Finding::problem("missing", says)
                    .about(&item.id)
                    .about_all(&setups)
                    .mended_by("borrow, hire or buy it")
                    .mended_by("plan without"),
            );
        }
        back(item, &stays, findings);
        getting.push(Getting {
            item: item.id.clone(),
            name: item.called().into(),
            count: item.count,
            holding: item.holding,
            from: item.from.clone(),
            cost_minor: item.cost_minor,
            back_by: item.back_by,
            setups,
        });
    }
    getting
}

fn wanted_by(setups: &[SetupId]) -> String {
    let names: Vec<String> = setups.iter().map(|id| format!("`{id}`")).collect();
    match names.len() {
        0 => "it is to be packed".into(),
        1 => format!("{} uses it", names[0]),
        _ => format!("{} use it", names.join(", ")),
    }
}

/// What must be back before its last day is over.
fn back(item: &KitItem, stays: &[(&Visit, &Load)], findings: &mut Vec<Finding>) {
    let Some(back_by) = item.back_by else { return };
    for (visit, load) in stays {
        let Some(day) = visit.day else { continue };
        let but = if back_by < day.date {
            format!("is used on {}", day.date)
        } else if back_by == day.date && visit.past_midnight() {
            "that day's work ends after midnight".into()
        } else {
            continue;
        };
        let says = format!("`{}` must be back by {back_by}, and {but}", item.called());
        let found = Finding::problem("back-too-early", says).about(&item.id);
        findings.push(found.about_all(&load.setups));
    }
}

/// What the kit costs. Sums stop at the largest number there is.
pub(crate) fn costs(project: &Project) -> Costs {
    let mut costs = Costs {
        currency: project.brief.currency.clone(),
        ..Costs::default()
    };
    for item in &project.kit {
        let sum = match item.holding {
            Holding::Own => &mut costs.own_minor,
            Holding::Borrowed => &mut costs.borrowed_minor,
            Holding::Rented => &mut costs.rented_minor,
            Holding::Bought => &mut costs.bought_minor,
            Holding::Missing => &mut costs.missing_minor,
        };
        match item.cost_minor {
            Some(cost) => {
                *sum = sum.saturating_add(cost);
                costs.total_minor = costs.total_minor.saturating_add(cost);
            }
            None if !matches!(item.holding, Holding::Own | Holding::Borrowed) => {
                costs.unpriced.push(item.id.clone());
            }
            None => {}
        }
    }
    costs
}

/// Safety things, each name once.
pub(crate) fn ticks(project: &Project, given: &Given, findings: &mut Vec<Finding>) -> Vec<Tick> {
    let mut ticks: Vec<Tick> = Vec::new();
    for bring in &given.bring {
        let at = ticks.iter().position(|tick| tick.name == bring.name);
        let at = at.unwrap_or_else(|| {
            let (name, mut held) = (bring.name.clone(), given.held.get(&bring.name));
            if let Some(id) = held.take_if(|id| project.item(id).is_none()) {
                let says = format!("`{name}` is said to be `{id}`, which is not in the kit");
                findings.push(Finding::problem("unknown", says).about(id));
            }
            ticks.push(Tick {
                name,
                why: Vec::new(),
                places: Vec::new(),
                held: held.cloned(),
            });
            ticks.len() - 1
        });
        let tick = &mut ticks[at];
        if !bring.why.is_empty() && !tick.why.contains(&bring.why) {
            tick.why.push(bring.why.clone());
        }
        if let Some(place) = &bring.place
            && !tick.places.contains(place)
        {
            tick.places.push(place.clone());
        }
    }
    // Wanted everywhere once is wanted everywhere.
    for tick in &mut ticks {
        let everywhere = |bring: &crate::Bring| bring.name == tick.name && bring.place.is_none();
        if given.bring.iter().any(everywhere) {
            tick.places.clear();
        }
    }
    ticks
}
