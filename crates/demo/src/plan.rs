//! The plan of the demo's video: one evening and night in Porto, at invented addresses.

use crate::compose::Composed;
use model::{Project, Stretch};

/// The plan as one types it. Cautions that several places and setups share stand in it by name.
const PLAN: &str = include_str!("plan.toml");

/// The cautions that are shared, by name.
const CAUTIONS: [(&str, &str); 7] = [
    (
        "power",
        "Electricity near water and wet floors: keep stands, batteries, inverter and every connector off the \
         floor and away from splashes; run mains only through a residual-current device; have the venue or a \
         qualified electrician say what its circuit bears.",
    ),
    (
        "cables",
        "Cables: along walls, taped down or matted where people walk, never across the door.",
    ),
    (
        "stairs",
        "Stairs, damp and steep: nobody walks backwards with the camera, a second person spots, a way through \
         stays free for residents.",
    ),
    (
        "traffic",
        "Public way: ask the city what permission and insurance a small crew needs; nothing stands where \
         people or cars must pass.",
    ),
    (
        "quay",
        "Water at night: two metres from the edge unless somebody holds on, nobody works here alone, a throw \
         line and a light at hand; cold water takes the breath within a minute. Call 112 first.",
    ),
    (
        "powder",
        "Powder: only what is sold for throwing at people, with its data sheet read; eyes and lungs covered \
         for those who throw, eyewash at hand, none near flames, hot lamps or open electrics (fine dust can \
         ignite), not on water or into drains without leave; ask first about asthma.",
    ),
    (
        "night",
        "Hours: agree the end before the start, eat, and let nobody drive home tired.",
    ),
];

/// The ideas that belong to a section of the song.
const IDEAS_AT: [(&str, &str); 3] = [
    ("one-bulb-first", "intro"),
    ("slow-on-the-quay", "bridge"),
    ("colour-at-last", "last chorus"),
];

/// The plan: brief, places, people, setups, kit, the day, wishes and ideas. `song` is left empty, as the
/// caller knows where the song file lies; its words come from the caller as well.
pub fn plan(composed: &Composed) -> Project {
    let song = &composed.truth;
    // The file is a part of the program, and tested.
    let read = model::plan_file::import(PLAN).unwrap_or_else(|fault| unreachable!("{fault}"));
    let mut plan = read.project;
    plan.title.clone_from(&song.title);
    plan.brief.artist.clone_from(&song.artist);
    let of_places = plan.places.iter_mut().map(|place| &mut place.cautions);
    let of_setups = plan.setups.iter_mut().map(|setup| &mut setup.cautions);
    for caution in of_places.chain(of_setups).flatten() {
        if let Some((_, text)) = CAUTIONS.iter().find(|(name, _)| name == caution) {
            *caution = (*text).to_owned();
        }
    }
    for idea in &mut plan.ideas {
        let section = IDEAS_AT.iter().find(|(id, _)| *id == idea.id.as_str());
        idea.at = section
            .and_then(|(_, name)| song.sections.iter().find(|section| section.name == *name))
            .and_then(|section| Stretch::between_seconds(section.start_s, section.end_s));
    }
    plan
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::compose::sample;

    #[test]
    fn the_plan_holds_together_and_can_be_written() {
        let composed = sample();
        let plan = plan(composed);
        let sections = &composed.truth.sections;
        let sung = |name: &str| sections.iter().any(|section| section.name == name);
        let cautions = plan.setups.iter().flat_map(|setup| &setup.cautions);
        assert!(cautions.into_iter().all(|text| text.contains(' ')));
        assert_eq!(
            plan.ideas.iter().filter(|idea| idea.at.is_some()).count(),
            3
        );
        assert_eq!(plan.brief.fee_minor, Some(190_000));
        for setup in &plan.setups {
            assert!(
                plan.places
                    .iter()
                    .any(|place| Some(&place.id) == setup.place.as_ref())
            );
            assert!((setup.state as usize) < plan.states.len());
            assert!(!setup.cautions.is_empty(), "{}", setup.id);
            assert!(setup.sections.iter().all(|name| sung(name)));
        }
        for wish in &plan.wishes {
            assert!(sung(&wish.section));
            for id in &wish.setups {
                assert!(plan.setup(id).is_some(), "{id}");
            }
        }
        assert_eq!(plan.ideas.len(), 4);
        assert_eq!(model::validate::problems(&plan), []);
        for setup in &plan.setups {
            assert!(setup.optics.is_some(), "{}", setup.id);
        }
        let text = serde_json::to_string(&plan).unwrap();
        assert_eq!(serde_json::from_str::<Project>(&text).unwrap(), plan);
    }
}
