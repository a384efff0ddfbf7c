//! Sources of different colours on one subject, and the gel that brings them together.

use super::Notes;
use super::finding::{Finding, On};
use super::side::{Part, Side};
use crate::gel;
use crate::practice::Practice;
use model::Setup;

/// Tells of lamps that differ from what they share a subject with: from the ambient light where it
/// counts, which no gel can be put before, else from the strongest lamp.
pub(super) fn tell(setup: &Setup, sides: [&Side; 2], practice: &Practice, notes: &mut Notes) {
    for (side, on) in sides.into_iter().zip([On::Face, On::Background]) {
        let counting: Vec<&Part> = side
            .parts
            .iter()
            .filter(|part| part.share >= practice.least_share && part.white.is_some())
            .collect();
        let ambient = counting.iter().find(|part| part.light.is_none());
        let strongest = counting.iter().max_by(|a, b| a.lux.total_cmp(&b.lux));
        let Some(base) = ambient.or(strongest) else {
            continue;
        };
        for part in &counting {
            let (Some(item), Some(nth), Some(own), Some(wanted)) =
                (&part.light, part.nth, part.white, base.white)
            else {
                continue;
            };
            if part.nth == base.nth {
                continue;
            }
            let gel = gel::correction(own, wanted, practice.sheets, practice.mixed_duv);
            if gel.mired.abs() >= practice.mixed_mired || gel.green.is_some() {
                notes.say(Finding::Mixed {
                    on,
                    item: item.clone(),
                    against: base.light.clone(),
                    own,
                    other: wanted,
                    gel_there: setup
                        .lights
                        .get(nth)
                        .is_some_and(|used| used.gel_mired.is_some()),
                    gel,
                });
            }
        }
    }
}
