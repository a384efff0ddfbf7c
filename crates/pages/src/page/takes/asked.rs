//! Which takes are looked at, by setup and rating.

use model::{Rating, Take};
use serde::Deserialize;

/// Which takes are looked at.
#[derive(Clone, Debug, Default, Deserialize)]
pub struct Asked {
    /// Of this setup; `none` for those without one; empty for all.
    #[serde(default)]
    pub setup: String,
    /// Rated so; empty for all.
    #[serde(default)]
    pub rating: String,
}

/// Every rating with its word in addresses, best first.
pub const RATINGS: [(Rating, &str, &str, &str); 4] = [
    (Rating::Circled, "circled", "Circled", "1"),
    (Rating::Usable, "usable", "Usable", "2"),
    (Rating::NoGood, "no-good", "No good", "3"),
    (Rating::Unrated, "unrated", "Not rated", "0"),
];

impl Asked {
    /// Whether `take` is one of them.
    pub fn wants(&self, take: &Take) -> bool {
        let setup = match self.setup.as_str() {
            "" => true,
            "none" => take.setup.is_none(),
            id => take.setup.as_ref().is_some_and(|one| one.as_str() == id),
        };
        let rating = RATINGS
            .iter()
            .find(|one| one.1 == self.rating)
            .is_none_or(|one| one.0 == take.rating);
        setup && rating
    }

    /// Whether every take is.
    pub fn is_all(&self) -> bool {
        self.setup.is_empty() && self.rating.is_empty()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn takes_are_chosen_by_setup_and_rating() {
        let take = |setup: &str, rating: &str| -> Take {
            serde_json::from_value(serde_json::json!({
                "id": "a", "file": { "path": "a.mov", "hash": "0", "bytes": 1 },
                "setup": (!setup.is_empty()).then_some(setup), "rating": rating,
            }))
            .expect("a take")
        };
        let asked = |setup: &str, rating: &str| Asked {
            setup: setup.into(),
            rating: rating.into(),
        };
        assert!(asked("", "").wants(&take("wide", "usable")));
        assert!(asked("wide", "").wants(&take("wide", "usable")));
        assert!(!asked("wide", "").wants(&take("", "usable")));
        assert!(asked("none", "").wants(&take("", "usable")));
        assert!(!asked("none", "").wants(&take("wide", "usable")));
        assert!(asked("", "no-good").wants(&take("", "no-good")));
        assert!(!asked("", "no-good").wants(&take("", "usable")));
        // A word nobody knows filters nothing.
        assert!(asked("", "shiny").wants(&take("", "usable")));
    }
}
