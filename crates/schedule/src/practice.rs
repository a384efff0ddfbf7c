//! What a day is planned with where the plan does not say.

use model::Usual;
use serde::{Deserialize, Serialize};

/// Figures of the trade; each can be changed.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Practice {
    /// What setups and ways take where the plan doesn't say.
    #[serde(flatten)]
    pub usual: Usual,
    /// Minutes of the meal, where the day doesn't say (30 at the least, common practice).
    pub meal_minutes: u32,
    /// The meal begins so many minutes after the call at the latest (360, common practice; EU Directive 2003/88/EC,
    /// article 4, asks for a break when work exceeds six hours).
    pub meal_by_minutes: u32,
    /// The longest day from call to wrap, minutes, where the day says neither (720, common practice).
    pub longest_minutes: u32,
    /// Minutes between a wrap and the next call (600, common practice; EU Directive 2003/88/EC, article 3, asks for 660).
    pub rest_minutes: u32,
    /// What a bar's first, second, third … setup to cut to is worth, against each other: a choice of our own,
    /// with less for each one more.
    pub option_values: Vec<u32>,
    /// The delays of the late table, minutes.
    pub delays: Vec<u32>,
}

impl Default for Practice {
    fn default() -> Self {
        Self::from(&model::Practice::default())
    }
}

impl From<&model::Practice> for Practice {
    fn from(practice: &model::Practice) -> Self {
        Self {
            usual: Usual::of(practice),
            meal_minutes: practice.meal_minutes,
            meal_by_minutes: practice.meal_by_minutes,
            longest_minutes: practice.longest_minutes,
            rest_minutes: practice.turnaround_minutes,
            option_values: vec![100, 60, 40, 27, 18, 12, 8, 5, 4, 3],
            delays: vec![15, 30, 45, 60, 90],
        }
    }
}
