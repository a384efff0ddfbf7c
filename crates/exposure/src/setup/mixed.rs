//! Sources of different colours on one subject, and the gel that brings them together.

use super::Notes;
use super::says;
use super::side::{On, Part, Side};
use crate::gel;
use model::{Project, Setup};

/// A source that gives less than this share of the light on a subject is not told of (common practice).
const LEAST_SHARE: f64 = 0.1;

/// Tells of lamps that differ from what they share a subject with: from the ambient light where it
/// counts, which no gel can be put before, else from the strongest lamp.
pub(super) fn tell(project: &Project, setup: &Setup, sides: [&mut Side; 2], notes: &mut Notes) {
    let practice = &project.practice;
    for (side, on) in sides.into_iter().zip([On::Face, On::Background]) {
        let counting: Vec<&Part> = side
            .parts
            .iter()
            .filter(|part| part.share >= LEAST_SHARE && part.white.is_some())
            .collect();
        let ambient = counting.iter().find(|part| part.light.is_none());
        let strongest = counting.iter().max_by(|a, b| a.lux.total_cmp(&b.lux));
        let Some(base) = ambient.or(strongest).map(|base| (*base).clone()) else {
            continue;
        };
        let counts = |part: &&mut Part| part.share >= LEAST_SHARE && part.nth != base.nth;
        for part in side.parts.iter_mut().filter(counts) {
            let (Some(nth), Some(own), Some(wanted)) = (part.nth, part.white, base.white) else {
                continue;
            };
            let gel = gel::correction(own, wanted, &gel::SHEETS, practice.mixed_duv);
            if gel.mired.abs() >= practice.mixed_mired || gel.green.is_some() {
                let used = setup.lights.get(nth);
                let gel_there = used.is_some_and(|used| used.gel_mired.is_some());
                says::mixed(on, part, &base, gel_there, &gel)
                    .into_iter()
                    .for_each(|found| notes.say(found));
                part.gel = Some(gel);
            }
        }
    }
}
