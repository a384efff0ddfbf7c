//! What a load weighs and how often one person walks for it.

use crate::Load;
use model::text::counted;
use model::{Finding, Project};

/// Above this many trips their number is the weight divided by what is carried at once.
const MOST_PACKED: f64 = 1000.0;
/// Slack for sums of kilograms: a gram.
const SLACK_KG: f64 = 0.001;

/// Fills in weights and trips.
pub(crate) fn weigh(project: &Project, load: &mut Load) {
    let practice = &project.practice;
    let mut things: Vec<(f64, u64)> = Vec::new();
    let mut unweighed = Vec::new();
    let mut heavy = Vec::new();
    for packed in load.items() {
        match project.item(&packed.item).and_then(|item| item.weight_kg) {
            Some(kg) if kg.is_finite() && kg >= 0.0 => {
                things.push((kg, u64::from(packed.count)));
                if kg > practice.heavy_kg {
                    heavy.push(packed.item.clone());
                }
            }
            _ => unweighed.push(packed.item.clone()),
        }
    }
    load.weight_kg = model::total(things.iter().map(|(kg, count)| kg * *count as f64));
    load.trips = trips(things, practice.trip_kg);
    load.unweighed = unweighed;
    load.heavy = heavy;
}

/// How often one walks with at most `most_kg` at once: heaviest first, each thing into the first
/// trip that still holds it. Never more than 11/9 of the fewest and one (the published bound of
/// first-fit decreasing). A thing above the limit is a trip of its own.
fn trips(mut things: Vec<(f64, u64)>, most_kg: f64) -> u64 {
    things.sort_by(|a, b| b.0.total_cmp(&a.0));
    let (over, rest): (Vec<_>, Vec<_>) = things
        .into_iter()
        .filter(|(_, count)| *count > 0)
        .partition(|(kg, _)| *kg > most_kg + SLACK_KG);
    let alone: u64 = over.iter().map(|(_, count)| count).sum();
    let all: f64 = rest.iter().map(|(kg, count)| kg * *count as f64).sum();
    if all / most_kg > MOST_PACKED {
        return alone.saturating_add((all / most_kg).ceil() as u64);
    }
    let mut free: Vec<f64> = Vec::new();
    for (kg, mut count) in rest {
        if kg < SLACK_KG {
            // A feather goes into any trip.
            if free.is_empty() && alone == 0 {
                free.push(most_kg);
            }
            continue;
        }
        for room in &mut free {
            let fits = (((*room + SLACK_KG) / kg).floor() as u64).min(count);
            *room -= kg * fits as f64;
            count -= fits;
        }
        while count > 0 {
            let fits = (((most_kg + SLACK_KG) / kg).floor() as u64).clamp(1, count);
            free.push(most_kg - kg * fits as f64);
            count -= fits;
        }
    }
    alone.saturating_add(free.len() as u64)
}

/// Loads that take more trips than planned, and things that two should lift.
pub(crate) fn findings(project: &Project, loads: &[Load], findings: &mut Vec<Finding>) {
    let practice = &project.practice;
    for load in loads {
        let heavy = |text: String| Finding::warning("too-heavy", text).about_all(&load.setups);
        if load.trips > u64::from(practice.trips) {
            findings.push(
                heavy(format!(
                    "the load for {} weighs {:.1} kg and takes {} of at most {} kg, {} more than planned",
                    load.name,
                    load.weight_kg,
                    counted(load.trips, "trip"),
                    practice.trip_kg,
                    load.trips - u64::from(practice.trips)
                )),
            );
        }
        for id in &load.heavy {
            let kg = project.item(id).and_then(|item| item.weight_kg);
            // Said once, though it goes to several places.
            heavy(format!(
                "`{}` weighs {:.1} kg, more than the {} kg one person lifts under ideal conditions",
                project.item_name(id),
                kg.unwrap_or(0.0),
                practice.heavy_kg
            ))
            .about(id)
            .mended_by("lift it by two")
            .mended_by("take it apart")
            .once(findings);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::trips;
    use proptest::prelude::*;

    #[test]
    fn trips_are_counted_by_hand() {
        for (things, most, want) in [
            (vec![], 15.0, 0),
            (vec![(15.0, 1)], 15.0, 1),
            (vec![(5.0, 3)], 15.0, 1),
            (vec![(5.0, 4)], 15.0, 2),
            // 20 kg in two parts of 10 do not share a trip of 15.
            (vec![(10.0, 2)], 15.0, 2),
            (vec![(10.0, 2), (5.0, 2)], 15.0, 2),
            (vec![(0.1, 3)], 0.3, 1),
            (vec![(40.0, 2), (1.0, 1)], 15.0, 3),
            (vec![(0.0, 7)], 15.0, 1),
            (vec![(2000.0, 10_000)], 200.0, 10_000),
            (vec![(0.05, 10_000)], 0.1, 5000),
        ] {
            assert_eq!(trips(things.clone(), most), want, "{things:?} {most}");
        }
    }

    proptest! {
        #[test]
        fn trips_hold_the_weight_and_no_more_than_the_bound(
            things in prop::collection::vec((0.1f64..15.0, 1u64..6), 1..12),
        ) {
            let all: f64 = things.iter().map(|(kg, count)| kg * *count as f64).sum();
            let trips = trips(things, 15.0) as f64;
            let least = ((all - 0.1) / 15.0).ceil();
            prop_assert!(trips >= least);
            // Any two neighbouring trips of first fit hold more than one full trip together.
            prop_assert!(trips <= (2.0 * all / 15.0).floor() + 1.0);
        }
    }
}
