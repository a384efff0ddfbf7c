//! How one works: the practice of the document as each craft goes by it.

use model::describe::Field;
use model::{Practice, Project};
use serde::Serialize;
use serde_json::Value;

/// One value of the practice, as it is gone by.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PracticeValue {
    /// Its name in the document.
    pub name: &'static str,
    /// What is gone by.
    pub value: f64,
    /// What is usual.
    pub usual: f64,
    /// Whether the document changed it.
    pub changed: bool,
    /// In what; empty for a plain number.
    pub unit: &'static str,
    /// The least it can be.
    pub least: f64,
    /// The most it can be.
    pub most: f64,
    /// What it decides.
    pub means: &'static str,
    /// Who says what is usual.
    pub source: &'static str,
}

/// Every value that `project` goes by, in the order of the document.
pub fn practice_values(project: &Project) -> Vec<PracticeValue> {
    let written = serde_json::to_value(&project.practice).unwrap_or_default();
    let number = |value: &Value| value.as_f64().or(value.as_bool().map(f64::from));
    let row = |field: &Field| {
        let usual = number(&field.when_unsaid())?;
        let own = written.get(field.name).and_then(number);
        let (least, most) = field.range.unwrap_or((0.0, 1.0));
        Some(PracticeValue {
            name: field.name,
            value: own.unwrap_or(usual),
            usual,
            changed: own.is_some(),
            unit: field.range.map_or("yes or no", |_| field.unit),
            least,
            most,
            means: field.label,
            source: field.source,
        })
    };
    Practice::NOUN.fields.iter().filter_map(row).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_the_document_may_say_each_craft_takes() {
        let project = Project::default();
        for field in Practice::NOUN.fields {
            let Some((least, most)) = field.range else {
                continue;
            };
            for value in [least, most] {
                let written = serde_json::json!({ field.name: value });
                // A count has no fraction, and JSON writes one.
                let practice: Practice = serde_json::from_value(written)
                    .or_else(|_| {
                        serde_json::from_value(serde_json::json!({ field.name: value as u32 }))
                    })
                    .unwrap();
                let Ok(project) = model::Edit::put(&practice).apply(&project) else {
                    continue;
                };
                let _ = cautions::of(&project, &cautions::Given::default());
                let _ = kit::pack(&project, &kit::Given::default());
                let place = sky::Place::new(41.15, -8.61).unwrap();
                let zone = sky::Zone::named("Europe/Lisbon").unwrap();
                let date = "2026-11-20".parse().unwrap();
                sky::day(&place, &zone, date, &(&practice).into())
                    .unwrap_or_else(|error| panic!("{}: {error}", field.name));
            }
        }
    }
}
