//! The plan as the rules look at it: places with the setups that stand there, and when.

use crate::{Caution, Given, Kind};
use model::text::listed;
use model::{
    About, Danger, Day, Effect, Finding, Hazard, KitId, KitItem, LightUse, Place, Practice,
    Project, Setup, Severity, Slot,
};

/// A place (or none yet) and what is shot there.
pub(crate) struct Stay<'a> {
    pub place: Option<&'a Place>,
    pub setups: Vec<&'a Setup>,
}

pub(crate) struct Scene<'a> {
    pub project: &'a Project,
    pub practice: &'a Practice,
    pub given: &'a Given<'a>,
    pub stays: Vec<Stay<'a>>,
}

/// What a kind of caution always says beside its own sentence.
pub(crate) struct Words {
    pub done: &'static [&'static str],
    pub ask: &'static str,
    pub source: &'static str,
    pub bring: &'static [&'static str],
}

impl<'a> Scene<'a> {
    pub fn new(project: &'a Project, given: &'a Given<'a>) -> Self {
        let mut stays: Vec<Stay> = Vec::new();
        let places = project.places.iter().map(Some).chain([None]);
        for place in places {
            let here = |setup: &&Setup| {
                let known = setup.place.as_ref().and_then(|id| project.place(id));
                known.map(|place| &place.id) == place.map(|place| &place.id)
            };
            let setups: Vec<&Setup> = project.setups.iter().filter(here).collect();
            if !setups.is_empty() {
                stays.push(Stay { place, setups });
            }
        }
        Self {
            project,
            practice: &project.practice,
            given,
            stays,
        }
    }

    /// The slots a setup has, with their days.
    pub fn slots(&self, setup: &Setup) -> impl Iterator<Item = (&'a Day, &'a Slot)> {
        let id = setup.id.clone();
        let slots = |day: &'a Day| day.order.iter().map(move |slot| (day, slot));
        self.project
            .days
            .iter()
            .flat_map(slots)
            .filter(move |(_, slot)| slot.setup == id)
    }

    /// The days on which any of `setups` stands, in the project's order.
    pub fn days(&self, setups: &[&Setup]) -> Vec<&'a Day> {
        let on = |day: &&Day| {
            let any = |slot: &Slot| setups.iter().any(|setup| setup.id == slot.setup);
            day.order.iter().any(any)
        };
        self.project.days.iter().filter(on).collect()
    }

    /// Whether a slot lies in the dark.
    pub fn is_dark(&self, day: &Day, slot: &Slot) -> bool {
        if let Some(dark) = self.given.dark {
            return dark(day, slot);
        }
        let (from, to) = (self.practice.night_from_min, self.practice.night_to_min);
        let (start, end) = (slot.start.minutes(), slot.end.minutes());
        [(0, to), (from, 1440 + to), (1440 + from, 2880)]
            .iter()
            .any(|(from, to)| start < *to && end > *from)
    }

    /// A caution about `setups` at a stay.
    pub fn caution(
        &self,
        kind: Kind,
        stay: &Stay,
        setups: &[&Setup],
        items: Vec<KitId>,
        says: String,
        words: &Words,
    ) -> Caution {
        let mut about: Vec<About> = stay.place.iter().map(|place| (&place.id).into()).collect();
        about.extend(setups.iter().map(|setup| About::from(&setup.id)));
        about.extend(self.days(setups).iter().map(|day| About::from(&day.id)));
        about.extend(items.into_iter().map(About::Item));
        caution(kind, about, says, words)
    }
}

pub(crate) fn caution(kind: Kind, about: Vec<About>, says: String, words: &Words) -> Caution {
    let owned = |texts: &[&str]| texts.iter().map(|text| (*text).to_owned()).collect();
    Caution {
        kind,
        finding: Finding {
            about,
            mends: owned(words.done),
            ..Finding::new(Severity::Warning, kind.words().replace(' ', "-"), says)
        },
        ask: words.ask.into(),
        source: words.source.into(),
        bring: owned(words.bring),
    }
}

impl<'a> Stay<'a> {
    /// What the place is called.
    pub fn name(&self) -> &'a str {
        self.place
            .map_or("a place not chosen yet", |place| &place.name)
    }

    /// Dangers of one sort at the place, at most `within_m` away or at a distance that is not written.
    pub fn near(&self, danger: Danger, within_m: f64) -> Vec<&'a Hazard> {
        let near = |hazard: &&Hazard| {
            hazard.danger == danger
                && hazard
                    .distance_m
                    .is_none_or(|distance| distance <= within_m)
        };
        let hazards = self.place.map_or(&[][..], |place| &place.hazards);
        hazards.iter().filter(near).collect()
    }

    /// Dangers of one sort, however far.
    pub fn all(&self, danger: Danger) -> Vec<&'a Hazard> {
        self.near(danger, f64::INFINITY)
    }

    /// Setups with an effect.
    pub fn with(&self, effect: Effect) -> Vec<&'a Setup> {
        let has = |setup: &&&Setup| setup.effects.contains(&effect);
        self.setups.iter().filter(has).copied().collect()
    }

    /// Out of doors, or not said.
    pub fn outdoors(&self) -> bool {
        self.place.is_none_or(|place| place.interior != Some(true))
    }
}

/// How far the nearest of some dangers is, in words.
pub(crate) fn distance(hazards: &[&Hazard]) -> String {
    let nearest = hazards
        .iter()
        .filter_map(|hazard| hazard.distance_m)
        .reduce(f64::min);
    match nearest {
        Some(metres) => format!("{} m away", number(metres)),
        None => "at a distance that is not written".into(),
    }
}

/// A number with at most two decimals, none of them idle.
pub(crate) fn number(value: f64) -> String {
    model::text::number(value, 2)
}

/// Setups by what they are called.
pub(crate) fn setups_called(setups: &[&Setup]) -> String {
    listed(setups.iter().map(|setup| setup.called()))
}

/// The lights of a setup as items, with how they are set.
pub(crate) fn lights<'a>(
    project: &'a Project,
    setup: &'a Setup,
) -> impl Iterator<Item = (&'a LightUse, &'a KitItem)> {
    setup
        .lights
        .iter()
        .filter_map(|light| Some((light, project.item(&light.light)?)))
}
