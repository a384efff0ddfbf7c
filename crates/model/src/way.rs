//! The way between two places, and what holds where nobody said how long it takes.

use crate::project::Project;

/// How long one takes from one place to another, loaded and parked.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Way {
    /// What is reckoned with, minutes.
    pub minutes: f64,
    /// Whether either place says so. If not, the minutes are what is usual, and whoever reckons with them
    /// says that.
    pub said: bool,
}

impl Project {
    /// The way between the places called `from` and `to`, 0 minutes within one: as the first says it, or
    /// the second back, or else `usual_minutes`.
    ///
    /// A setup that names no place stands where the one before it does, so it has no way of its own.
    pub fn way(&self, from: &str, to: &str, usual_minutes: f64) -> Way {
        let said = |from: &str, to: &str| {
            let mut places = self.places.iter();
            let place = places.find(|place| place.id.as_str() == from)?;
            let way = place.travel.iter().find(|way| way.to.as_str() == to)?;
            Some(f64::from(way.minutes))
        };
        let known = match from == to {
            true => Some(0.0),
            false => said(from, to).or_else(|| said(to, from)),
        };
        Way {
            minutes: known.unwrap_or(usual_minutes),
            said: known.is_some(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_way_is_said_at_either_end_or_is_the_usual_one() {
        let project: Project = serde_json::from_str(
            r#"{"places": [
                {"id": "a", "name": "a", "travel": [{"to": "b", "minutes": 20}, {"to": "c", "minutes": 5}]},
                {"id": "b", "name": "b", "travel": [{"to": "a", "minutes": 25}]},
                {"id": "c", "name": "c"}]}"#,
        )
        .unwrap();
        let way = |from, to| {
            let way = project.way(from, to, 60.0);
            (way.minutes, way.said)
        };
        assert_eq!(way("a", "b"), (20.0, true));
        assert_eq!(way("b", "a"), (25.0, true));
        assert_eq!(way("c", "a"), (5.0, true));
        assert_eq!(way("b", "c"), (60.0, false));
        assert_eq!(way("b", "b"), (0.0, true));
        assert_eq!(way("elsewhere", "a"), (60.0, false));
    }
}
