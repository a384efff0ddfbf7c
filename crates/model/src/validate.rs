//! What must hold of a document before it is saved.
//!
//! What a field alone must hold to (its range, its length, that what it names is there) stands in its
//! description and is checked from there; here stand the rules that take in several fields. Each problem
//! names the field it lies in, so that a form or a plan file can show it in its place. Limits are
//! generous: they catch mistakes and attacks, not work.

mod days;
mod log;
mod plan;
mod song;

use crate::describe::{Asked, Field, Part, Source};
use crate::noun::Extra;
use crate::project::{Document, Project};
use serde_json::Value;
use std::collections::HashSet;
use std::fmt;

pub use crate::setup::MAX_PASSES;

/// The most entries in any list of the document.
pub const MAX_ENTRIES: usize = 20_000;
/// The longest text in one field, in bytes.
pub const MAX_TEXT: usize = 100_000;

/// How deep the fields of a newer version may be nested: a document is read no deeper than 128 in all, and what
/// can't be read again is never written.
pub const MAX_KEPT_DEPTH: usize = 16;
/// The most that the fields of newer versions may come to in a whole document, in bytes.
pub const MAX_KEPT_BYTES: usize = 256 << 10;

/// One thing that is wrong with a document.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Problem {
    /// Where: `setups[2].passes`.
    pub field: String,
    /// What is wrong and what would be right; lower case, no full stop.
    pub says: String,
    /// The list and the id that the field names and that is not there, where that is what is wrong.
    pub missing: Option<(&'static str, String)>,
}

impl fmt::Display for Problem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} ({})", self.says, self.field)
    }
}

/// A place in the document, written `setups[2].passes`.
#[derive(Clone, Copy, Debug)]
pub struct At<'a> {
    around: Option<&'a At<'a>>,
    step: Step<'a>,
}

#[derive(Clone, Copy, Debug)]
enum Step<'a> {
    Field(&'a str),
    Item(usize),
}

impl<'a> At<'a> {
    /// The document itself.
    pub const ROOT: At<'static> = At {
        around: None,
        step: Step::Field(""),
    };

    /// The field `name` in it.
    pub const fn field(&'a self, name: &'a str) -> Self {
        Self {
            around: Some(self),
            step: Step::Field(name),
        }
    }

    /// The entry `index` in it.
    pub const fn item(&'a self, index: usize) -> Self {
        Self {
            around: Some(self),
            step: Step::Item(index),
        }
    }
}

impl fmt::Display for At<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Some(around) = self.around else {
            return Ok(());
        };
        around.fmt(f)?;
        match self.step {
            Step::Item(index) => write!(f, "[{index}]"),
            Step::Field(name) if around.around.is_none() => f.write_str(name),
            Step::Field(name) => write!(f, ".{name}"),
        }
    }
}

/// Whether lists and tables in `value` are nested more than `most` deep.
fn is_deeper(value: &Value, most: usize) -> bool {
    match (value, most.checked_sub(1)) {
        (Value::Array(_) | Value::Object(_), None) => true,
        (Value::Array(all), Some(most)) => all.iter().any(|inner| is_deeper(inner, most)),
        (Value::Object(all), Some(most)) => all.values().any(|inner| is_deeper(inner, most)),
        _ => false,
    }
}

/// Everything wrong with `project`; empty when it may be saved.
pub fn problems(project: &Project) -> Vec<Problem> {
    let mut check = Check::of(project, project.states.len());
    check.brief(project);
    check.song(project);
    check.places(project);
    check.people(project);
    check.kit(project);
    check.setups(project);
    check.days(project);
    check.log(project);
    check.cuts(project);
    // What is usual counts too: a value alone can come out of order with it.
    if let Some((lower, says)) = project.practice.out_of_order() {
        check.say(&format_args!("practice.{lower}"), says);
    }
    check.found
}

/// What the description of `document` finds wrong in it: ranges, words, names of what is not there.
pub fn described<D: Document + Part>(document: &D) -> Vec<Problem> {
    Check::of(document, 0).found
}

/// What was found wrong so far, and what fields can name.
#[derive(Default)]
pub struct Check {
    found: Vec<Problem>,
    ids: Vec<(&'static str, HashSet<String>)>,
    states: usize,
    kept_bytes: usize,
}

impl Check {
    fn of<D: Document + Part>(document: &D, states: usize) -> Self {
        let fields = document.noun().fields.iter();
        let ids = fields.map(|field| {
            let ids = document.ids_in(field.name).into_iter().map(str::to_owned);
            (field.name, ids.collect())
        });
        let mut check = Self {
            found: Vec::new(),
            ids: ids.collect(),
            states,
            kept_bytes: 0,
        };
        let whole = Field {
            asked: Asked::Never,
            ..Field::new::<D>("", "")
        };
        document.check(&whole, &At::ROOT, &mut check);
        check
    }

    /// Something is wrong at `field`.
    pub(crate) fn say(&mut self, field: &dyn fmt::Display, says: impl Into<String>) {
        self.add(Problem {
            field: field.to_string(),
            says: says.into(),
            missing: None,
        });
    }

    /// Something is wrong at `field`, where `says` says so.
    pub(crate) fn say_if(&mut self, field: &dyn fmt::Display, says: Option<String>) {
        if let Some(says) = says {
            self.say(field, says);
        }
    }

    fn add(&mut self, problem: Problem) {
        // One bad file must not make a million sentences, nor the same one twice.
        if self.found.len() < 100 && !self.found.contains(&problem) {
            self.found.push(problem);
        }
    }

    /// Complains about fields of a newer version that are nested too deep, or come to too much in all.
    pub fn kept(&mut self, extra: &Extra, at: &At) {
        for (name, value) in extra {
            if is_deeper(value, MAX_KEPT_DEPTH) {
                self.say(
                    &at.field(name),
                    format!(
                        "is no field that is known here, and nested deeper than {MAX_KEPT_DEPTH}"
                    ),
                );
                continue;
            }
            let before = self.kept_bytes;
            self.kept_bytes += name.len() + value.to_string().len();
            if before <= MAX_KEPT_BYTES && self.kept_bytes > MAX_KEPT_BYTES {
                self.say(
                    &at.field(name),
                    format!(
                        "is no field that is known here; together such fields may come to {} kB",
                        MAX_KEPT_BYTES >> 10
                    ),
                );
            }
        }
    }

    /// Complains about a list that is too long.
    pub(crate) fn count(&mut self, field: &dyn fmt::Display, count: usize) {
        if count > MAX_ENTRIES {
            self.say(
                field,
                format!("{count} entries are too many; at most {MAX_ENTRIES}"),
            );
        }
    }

    /// Complains when `source` has no `id`.
    pub(crate) fn named(&mut self, source: &Source, id: &str, field: &dyn fmt::Display) {
        if source.or.contains(&id) {
            return;
        }
        let Some((list, known)) = self.ids.iter().find(|(list, _)| *list == source.list) else {
            return;
        };
        if known.contains(id) {
            return;
        }
        let names: Vec<&str> = known.iter().map(String::as_str).collect();
        let meant = crate::plan_file::nearest(id, &names)
            .map_or_else(String::new, |near| format!("; did you mean `{near}`?"));
        let problem = Problem {
            field: field.to_string(),
            says: format!("there is no `{id}` in `{list}`{meant}"),
            missing: Some((list, id.to_owned())),
        };
        self.add(problem);
    }

    /// Complains when `source` has no entry at `place`.
    pub(crate) fn place_in(&mut self, _: &Source, place: usize, field: &dyn fmt::Display) {
        let known = self.states.max(1);
        if place >= known {
            self.say(
                field,
                format!("state {place} is not among the {known} performer states; count from 0 in `states`"),
            );
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_empty_project_may_be_saved() {
        assert_eq!(problems(&Project::default()), []);
    }

    #[test]
    fn each_problem_names_its_field() {
        let mut project = Project::default();
        project.brief.frame = [1919, 1080];
        project.setups = serde_json::from_str(
            r#"[{"id":"a","passes":1000000000},{"id":"a","place":"nowhere","state":4}]"#,
        )
        .unwrap();
        let fields: Vec<String> = problems(&project).into_iter().map(|p| p.field).collect();
        assert_eq!(
            fields,
            [
                "setups[0].passes",
                "setups[1].id",
                "setups[1].place",
                "setups[1].state",
                "brief.frame"
            ]
        );
    }
}
