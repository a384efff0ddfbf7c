//! What must hold of the log.
//!
//! A setup or a battery that the plan no longer has is no mistake here: it was shot all the same.

use super::{Check, MAX_PASSES};
use crate::log::{AT_MS, LogWhat, MAX_NOTE, MAX_NUMBER};
use crate::project::Project;
use std::collections::HashSet;

impl Check {
    pub(super) fn log(&mut self, project: &Project) {
        self.count("log", project.log.len());
        let mut seen = HashSet::new();
        for (index, entry) in project.log.iter().enumerate() {
            let field = |name: &str| format!("log[{index}].{name}");
            if !seen.insert((&entry.device, entry.number)) {
                self.say(
                    field("number"),
                    format!(
                        "the device `{}` has two entries with the number {}",
                        entry.device, entry.number
                    ),
                );
            }
            if !(1..=MAX_NUMBER).contains(&entry.number) {
                self.say(
                    field("number"),
                    format!(
                        "an entry with the number {} is out of range; 1 to {MAX_NUMBER}",
                        entry.number
                    ),
                );
            }
            if !AT_MS.contains(&entry.at_ms) {
                self.say(
                    field("at_ms"),
                    format!(
                        "{} is no time of this century or the next; it counts milliseconds from 1970 on",
                        entry.at_ms
                    ),
                );
            }
            if let Some(pass) = entry.what.pass()
                && !(1..=MAX_PASSES).contains(&pass)
            {
                self.say(
                    field("what.pass"),
                    format!("a pass number of {pass} is out of range; 1 to {MAX_PASSES}"),
                );
            }
            match &entry.what {
                LogWhat::Note { text, .. } => {
                    self.text(&field("what.text"), text);
                    if text.len() > MAX_NOTE {
                        self.say(
                            field("what.text"),
                            format!(
                                "a note of {} bytes is too long; at most {MAX_NOTE}",
                                text.len()
                            ),
                        );
                    }
                }
                LogWhat::Withdraw { number } if !(1..=MAX_NUMBER).contains(number) => self.say(
                    field("what.number"),
                    format!("there can be no entry with the number {number}; 1 to {MAX_NUMBER}"),
                ),
                _ => {}
            }
        }
    }
}
