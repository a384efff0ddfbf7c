//! What a craft found that a person should know: one kind for all of them, drawn in one way by each medium.

use crate::ids::{DayId, KitId, PlaceId, SetupId, TakeId};
use serde::{Deserialize, Serialize};
use std::borrow::Cow;
use std::fmt;

/// How much a finding weighs, the least first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Severity {
    /// Worth knowing; everything holds.
    Note,
    /// Something is not said: what is computed leaves it out or goes by what is usual, and may be wrong.
    Unknown,
    /// It holds, with less to spare than is usual, or calls for care.
    Warning,
    /// It does not work out as planned.
    Problem,
}

impl Severity {
    /// As it stands before a sentence on a screen.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Note => "to know",
            Self::Unknown => "not known",
            Self::Warning => "to mind",
            Self::Problem => "does not work out",
        }
    }
}

/// A noun of the document that a finding is about.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
#[allow(missing_docs, reason = "each is named after its noun")]
pub enum About {
    Setup(SetupId),
    Place(PlaceId),
    Day(DayId),
    Item(KitId),
    Take(TakeId),
}

macro_rules! about {
    ($($noun:ident($id:ty)),*) => {$(
        impl From<&$id> for About {
            fn from(id: &$id) -> Self {
                Self::$noun(id.clone())
            }
        }
    )*};
}
about!(
    Setup(SetupId),
    Place(PlaceId),
    Day(DayId),
    Item(KitId),
    Take(TakeId)
);

/// Something a person should know. It never stands in the way: what could be computed is computed beside it.
///
/// In JSON: `{"severity": "problem", "kind": "overload", "about": [{"setup": "stair"}], "says": "…",
/// "mends": ["…"]}`, and `at_min` where it has a time.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Finding {
    /// How much it weighs.
    pub severity: Severity,
    /// A word for programs, kebab-case; it stays the same when the sentence is reworded.
    pub kind: Cow<'static, str>,
    /// What it is about.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub about: Vec<About>,
    /// When it happens, minutes after the day's midnight, counted on past the next.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub at_min: Option<f64>,
    /// One sentence: lower case, no full stop, ids in backticks.
    pub says: String,
    /// What helps, each by itself.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub mends: Vec<String>,
}

impl Finding {
    /// A finding about nothing in particular yet.
    pub fn new(
        severity: Severity,
        kind: impl Into<Cow<'static, str>>,
        says: impl Into<String>,
    ) -> Self {
        Self {
            severity,
            kind: kind.into(),
            about: Vec::new(),
            at_min: None,
            says: says.into(),
            mends: Vec::new(),
        }
    }

    /// [`Severity::Note`].
    pub fn note(kind: &'static str, says: impl Into<String>) -> Self {
        Self::new(Severity::Note, kind, says)
    }

    /// [`Severity::Unknown`].
    pub fn unknown(kind: &'static str, says: impl Into<String>) -> Self {
        Self::new(Severity::Unknown, kind, says)
    }

    /// [`Severity::Warning`].
    pub fn warning(kind: &'static str, says: impl Into<String>) -> Self {
        Self::new(Severity::Warning, kind, says)
    }

    /// [`Severity::Problem`].
    pub fn problem(kind: &'static str, says: impl Into<String>) -> Self {
        Self::new(Severity::Problem, kind, says)
    }

    /// About this noun too.
    #[must_use]
    pub fn about(mut self, noun: impl Into<About>) -> Self {
        self.about.push(noun.into());
        self
    }

    /// About these nouns too.
    #[must_use]
    pub fn about_all<'a, T: 'a>(mut self, nouns: impl IntoIterator<Item = &'a T>) -> Self
    where
        About: From<&'a T>,
    {
        self.about.extend(nouns.into_iter().map(About::from));
        self
    }

    /// At this time, minutes after the day's midnight.
    #[must_use]
    pub fn at(mut self, at_min: f64) -> Self {
        self.at_min = Some(at_min);
        self
    }

    /// Helped by this too.
    #[must_use]
    pub fn mended_by(mut self, how: impl Into<String>) -> Self {
        self.mends.push(how.into());
        self
    }

    /// The setups it is about.
    pub fn setups(&self) -> impl Iterator<Item = &SetupId> {
        self.about.iter().filter_map(|one| match one {
            About::Setup(id) => Some(id),
            _ => None,
        })
    }

    /// The places it is about.
    pub fn places(&self) -> impl Iterator<Item = &PlaceId> {
        self.about.iter().filter_map(|one| match one {
            About::Place(id) => Some(id),
            _ => None,
        })
    }

    /// The days it is about.
    pub fn days(&self) -> impl Iterator<Item = &DayId> {
        self.about.iter().filter_map(|one| match one {
            About::Day(id) => Some(id),
            _ => None,
        })
    }

    /// The things of the kit it is about.
    pub fn items(&self) -> impl Iterator<Item = &KitId> {
        self.about.iter().filter_map(|one| match one {
            About::Item(id) => Some(id),
            _ => None,
        })
    }

    /// Adds it to `findings`, unless it stands there.
    pub fn once(self, findings: &mut Vec<Self>) {
        if !findings.contains(&self) {
            findings.push(self);
        }
    }
}

impl fmt::Display for Finding {
    /// In one line: the sentence, and after a semicolon what helps.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.says)?;
        for (nth, how) in self.mends.iter().enumerate() {
            write!(f, "{} {how}", if nth == 0 { ";" } else { ", or" })?;
        }
        Ok(())
    }
}

/// Puts the gravest first, otherwise in the order they came, each once.
pub fn gravest_first(findings: &mut Vec<Finding>) {
    let mut once = Vec::with_capacity(findings.len());
    findings.drain(..).for_each(|one| one.once(&mut once));
    once.sort_by_key(|one| std::cmp::Reverse(one.severity));
    *findings = once;
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_finding_in_a_line_and_in_json() {
        let item = KitId::new("panel").unwrap();
        let found = Finding::problem("dark", "`panel` goes dark")
            .about(&SetupId::new("stair").unwrap())
            .about_all([&item])
            .at(1085.5)
            .mended_by("dim it")
            .mended_by("bring a battery more");
        assert_eq!(
            found.to_string(),
            "`panel` goes dark; dim it, or bring a battery more"
        );
        assert_eq!(
            serde_json::to_value(&found).unwrap(),
            serde_json::json!({
                "severity": "problem", "kind": "dark",
                "about": [{"setup": "stair"}, {"item": "panel"}],
                "at_min": 1085.5, "says": "`panel` goes dark",
                "mends": ["dim it", "bring a battery more"]
            })
        );
        assert_eq!(found.items().collect::<Vec<_>>(), [&item]);
        assert!(Severity::Problem > Severity::Unknown);
    }

    #[test]
    fn the_gravest_comes_first_and_nothing_twice() {
        let mut all = Vec::new();
        Finding::note("a", "so").once(&mut all);
        all.push(Finding::problem("b", "not so"));
        all.push(Finding::note("a", "so"));
        gravest_first(&mut all);
        let kinds: Vec<_> = all.iter().map(|one| one.kind.as_ref()).collect();
        assert_eq!(kinds, ["b", "a"]);
    }
}
