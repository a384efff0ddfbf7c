//! What must hold of the log beyond its fields alone.
//!
//! A setup or a battery that the plan no longer has is no mistake here: it was shot all the same.

use super::Check;
use crate::log::{LogWhat, MAX_NOTE, MAX_NUMBER};
use crate::project::Project;
use crate::setup::MAX_PASSES;
use std::collections::HashSet;

impl Check {
    pub(super) fn log(&mut self, project: &Project) {
        let mut seen = HashSet::new();
        for (index, entry) in project.log.iter().enumerate() {
            let field = |name: &str| format!("log[{index}].{name}");
            if !seen.insert((&entry.device, entry.number)) {
                self.say(
                    &field("number"),
                    format!(
                        "the device `{}` has two entries with the number {}",
                        entry.device, entry.number
                    ),
                );
            }
            if let Some(pass) = entry.what.pass()
                && !(1..=MAX_PASSES).contains(&pass)
            {
                self.say(
                    &field("what.pass"),
                    format!("a pass number of {pass} is out of range; 1 to {MAX_PASSES}"),
                );
            }
            match &entry.what {
                LogWhat::Note { text, .. } if text.len() > MAX_NOTE || text.contains('\0') => self
                    .say(
                        &field("what.text"),
                        format!(
                            "a note of {} bytes is too long, or holds a null character; at most {MAX_NOTE} bytes of text",
                            text.len()
                        ),
                    ),
                LogWhat::Withdraw { number } if !(1..=MAX_NUMBER).contains(number) => self.say(
                    &field("what.number"),
                    format!("there can be no entry with the number {number}; 1 to {MAX_NUMBER}"),
                ),
                _ => {}
            }
        }
    }
}
