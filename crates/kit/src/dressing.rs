//! What the performer wears, handles and is made up with, state by state; and how many of it a
//! state that can't be undone uses up.
//!
//! # The rule
//! States never run backwards on a performer, a garment or a face. An item is *marked* once a
//! setup of a later state, or one that throws powder or wets, was shot with it. In the order as
//! shot, every time a setup asks for an earlier state than its mark, a fresh one is used. Where
//! each pass begins afresh ([`crate::Given::fresh_each_pass`]) every pass uses one. A garment that
//! is marked by powder or water has spares besides; a prop in a setup in which things break is
//! counted once for each pass.

use crate::order::Visit;
use crate::{Dressing, Given, Spare, there_are};
use model::{Effect, Finding, KitItem, Practice, Project, Purpose, Setup, Sort};
use std::collections::BTreeSet;

/// Whether an item is wardrobe, make-up, prop or vehicle that the setup names, or that belongs to
/// its state when the performer is seen.
pub(crate) fn is_worn(item: &KitItem, setup: &Setup) -> bool {
    // B-roll of the first state need not show the performer; so the assembly takes it too.
    let seen = setup.purpose == Purpose::Performance || setup.state > 0;
    let dress = matches!(
        item.sort,
        Sort::Wardrobe | Sort::MakeUp | Sort::Prop | Sort::Vehicle
    );
    dress && ((seen && item.states.contains(&setup.state)) || setup.uses(&item.id))
}

/// All that is worn in a setup.
pub(crate) fn worn<'a>(project: &'a Project, setup: &Setup) -> Vec<&'a KitItem> {
    let worn = |item: &&KitItem| is_worn(item, setup);
    project.kit.iter().filter(worn).collect()
}

/// What a setup is dressed with, and garments that belong to another state.
pub(crate) fn of(project: &Project, setup: &Setup, findings: &mut Vec<Finding>) -> Dressing {
    let worn = worn(project, setup);
    for item in &worn {
        if !item.states.is_empty() && !item.states.contains(&setup.state) {
            let states: Vec<String> = item.states.iter().map(|s| state(project, *s)).collect();
            let says = format!(
                "setup `{}` is {}, and its `{}` belongs to {}",
                setup.id,
                state(project, setup.state),
                item.called(),
                states.join(", ")
            );
            let found = Finding::warning("other-state", says);
            findings.push(found.about(&item.id).about(&setup.id));
        }
    }
    Dressing {
        setup: setup.id.clone(),
        state: state(project, setup.state),
        items: worn.into_iter().map(|item| item.id.clone()).collect(),
    }
}

/// What a state is called.
fn state(project: &Project, index: u32) -> String {
    project
        .states
        .get(index as usize)
        .filter(|name| !name.is_empty())
        .map_or_else(|| format!("state {index}"), Clone::clone)
}

/// Setups of an earlier state that come after one of a later state on the same day.
pub(crate) fn backwards(project: &Project, visits: &[Visit], findings: &mut Vec<Finding>) {
    let mut day = None;
    let mut latest: Option<&Setup> = None;
    for visit in visits {
        let Some(this) = visit.day else { continue };
        if day != Some(&this.id) {
            (day, latest) = (Some(&this.id), None);
        }
        for setup in &visit.setups {
            if setup.purpose == Purpose::BRoll && setup.state == 0 {
                continue;
            }
            match latest {
                Some(before) if before.state > setup.state => findings.push(Finding::problem("state-backwards", format!(
                        "`{}` ({}) is ordered after `{}` ({}) on day `{}`; skin and hair don't go back",
                        setup.id,
                        state(project, setup.state),
                        before.id,
                        state(project, before.state),
                        this.id
                    )).about(&before.id).about(&setup.id).mended_by("shoot it before")),
                _ => latest = Some(setup),
            }
        }
    }
}

/// How many of each garment and prop the order uses up, and where there are fewer.
pub(crate) fn spares(
    project: &Project,
    visits: &[Visit],
    given: &Given,
    findings: &mut Vec<Finding>,
) -> Vec<Spare> {
    let order: Vec<&Setup> = visits
        .iter()
        .flat_map(|visit| visit.setups.clone())
        .collect();
    let mut spares = Vec::new();
    for item in &project.kit {
        let spare = match item.sort {
            Sort::Wardrobe => garment(item, &order, given, &project.practice),
            Sort::Prop => prop(item, &order),
            _ => None,
        };
        let Some(spare) = spare else { continue };
        let wanted = spare.used.saturating_add(spare.spare);
        if wanted > spare.has {
            let says = format!(
                "{wanted} of `{}` are wanted and {}: {}",
                project.item_name(&item.id),
                there_are(spare.has),
                spare.because
            );
            findings.push(Finding::warning("no-spare", says).about(&item.id));
        }
        spares.push(spare);
    }
    spares
}

fn garment(item: &KitItem, order: &[&Setup], given: &Given, practice: &Practice) -> Option<Spare> {
    let mut used = 1u32;
    let mut mark: Option<u32> = None;
    let mut marked_by: BTreeSet<&str> = BTreeSet::new();
    let mut fresh_for: Vec<&str> = Vec::new();
    for setup in order {
        if !is_worn(item, setup) {
            continue;
        }
        let each = given.fresh_each_pass.contains(&setup.id);
        let stale = mark.is_some_and(|mark| mark > setup.state || (each && mark == setup.state));
        let mut more = u32::from(stale);
        if each {
            more = more.saturating_add(setup.passes.saturating_sub(1));
        }
        if more > 0 {
            fresh_for.push(setup.id.as_str());
            used = used.saturating_add(more);
        }
        if stale {
            mark = None;
        }
        let marks = setup.effects.iter().any(marks_cloth);
        if marks {
            marked_by.insert(setup.id.as_str());
        }
        if marks || setup.state > 0 || each {
            mark = Some(mark.map_or(setup.state, |mark| mark.max(setup.state)));
        }
    }
    let spare = match marked_by.is_empty() {
        true => 0,
        false => practice.garment_spares,
    };
    if used == 1 && spare == 0 {
        return None;
    }
    let mut because = Vec::new();
    if !fresh_for.is_empty() {
        because.push(format!("a fresh one for {}", fresh_for.join(", ")));
    }
    if spare > 0 {
        let by: Vec<&str> = marked_by.into_iter().collect();
        because.push(format!(
            "{spare} spare, as powder or water marks it in {}",
            by.join(", ")
        ));
    }
    Some(Spare {
        item: item.id.clone(),
        used,
        spare,
        has: item.count,
        because: because.join("; "),
    })
}

fn marks_cloth(effect: &Effect) -> bool {
    matches!(effect, Effect::Powder | Effect::Wet | Effect::InWater)
}

/// A prop where things break, once for each pass. Which of a setup's props breaks is not written.
fn prop(item: &KitItem, order: &[&Setup]) -> Option<Spare> {
    let mut used = 0u32;
    let mut by = Vec::new();
    for setup in order {
        let breaks = setup.effects.contains(&Effect::Breakage);
        if breaks && is_worn(item, setup) {
            let listed = setup.kit.iter().find(|used| used.item == item.id);
            let each = listed.map_or(1, |used| used.count);
            used = used.saturating_add(setup.passes.saturating_mul(each));
            by.push(setup.id.as_str());
        }
    }
    (used > 1).then(|| Spare {
        item: item.id.clone(),
        used,
        spare: 0,
        has: item.count,
        because: format!(
            "if it is what breaks, each pass of {} takes its own",
            by.join(", ")
        ),
    })
}
