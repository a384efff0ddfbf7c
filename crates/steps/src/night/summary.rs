//! The night in a few figures: what is short, what is missing, what is gravest.

use super::DayReport;
use cautions::{Caution, Kind};
use exposure::Judgement;
use exposure::setup::On;
use kit::{Cause, Packing};
use model::{Date, DayId, Holding, PlaceId, Project, SetupId};
use power::Tightest;
use serde::Serialize;

/// How many kinds of caution are told of.
const GRAVEST: usize = 3;

/// The night in a few figures, taken from everything below it.
#[derive(Clone, Debug, Serialize)]
pub struct Summary {
    /// The setup with the least light for what it is exposed for.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub darkest: Option<Darkest>,
    /// How many setups have a face or background off its target.
    pub off_target: usize,
    /// Batteries and cards of each day.
    pub days: Vec<DaySummary>,
    /// What the plan uses and nobody has yet, and what there is too little of, one sentence each.
    pub missing: Vec<String>,
    /// The gravest cautions, the gravest first.
    pub gravest: Vec<Gravest>,
    /// How many cautions there are in all.
    pub cautions: usize,
}

/// The darkest setup.
#[derive(Clone, Debug, Serialize)]
pub struct Darkest {
    /// Which.
    pub setup: SetupId,
    /// Its face where it has one, otherwise its background.
    pub on: On,
    /// Stops over (positive) or under its target.
    pub stops_in_hand: f64,
}

/// A day's batteries and cards.
#[derive(Clone, Debug, Serialize)]
pub struct DaySummary {
    /// Which day.
    pub day: DayId,
    /// Its date.
    pub date: Date,
    /// Where power falls short first, as a sentence, the dark before a mere reserve; none when it lasts.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub short: Option<String>,
    /// Whether something goes dark; otherwise no more than reserves are used.
    pub dark: bool,
    /// When batteries are nearest to their end.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub tightest: Option<Tightest>,
    /// Gigabytes to record.
    pub needed_gb: f64,
    /// Gigabytes on cards.
    pub there_gb: f64,
    /// Gigabytes that go on no card.
    pub short_gb: f64,
}

/// Cautions of one kind.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Gravest {
    /// What they are about.
    pub kind: Kind,
    /// The same in words: `electricity and water`.
    pub name: String,
    /// At which places.
    pub places: Vec<PlaceId>,
}

/// The summary of a report's parts.
pub(super) fn summary(
    project: &Project,
    setups: &[Judgement],
    days: &[DayReport],
    tightest: &[Option<Tightest>],
    packing: &Packing,
    cautions: &[Caution],
) -> Summary {
    let off =
        |one: &&Judgement| !one.face.closings.is_empty() || !one.background.closings.is_empty();
    Summary {
        darkest: setups
            .iter()
            .filter_map(in_hand)
            .min_by(|a, b| a.stops_in_hand.total_cmp(&b.stops_in_hand)),
        off_target: setups.iter().filter(off).count(),
        days: days
            .iter()
            .zip(tightest)
            .map(|(day, tightest)| {
                let shortages = &day.power.shortages;
                let dark = shortages.iter().find(|shortage| !shortage.dark.is_empty());
                DaySummary {
                    day: day.day.clone(),
                    date: day.date,
                    short: dark.or(shortages.first()).map(ToString::to_string),
                    dark: dark.is_some(),
                    tightest: tightest.clone(),
                    needed_gb: day.cards.needed_gb,
                    there_gb: day.cards.there_gb,
                    short_gb: day.cards.short_gb,
                }
            })
            .collect(),
        missing: missing(project, packing),
        gravest: gravest(cautions),
        cautions: cautions.len(),
    }
}

/// What a setup is exposed for, against where it is wanted.
fn in_hand(one: &Judgement) -> Option<Darkest> {
    let sides = [(On::Face, &one.face), (On::Background, &one.background)];
    sides.into_iter().find_map(|(on, side)| {
        Some(Darkest {
            setup: one.setup.clone(),
            on,
            stops_in_hand: side.gap_stops?,
        })
    })
}

fn missing(project: &Project, packing: &Packing) -> Vec<String> {
    let nobody = packing
        .getting
        .iter()
        .filter(|row| row.holding == Holding::Missing)
        .map(|row| row.name.clone());
    let few = packing
        .findings
        .iter()
        .filter(|finding| {
            matches!(
                finding.cause,
                Cause::Missing | Cause::TooFew | Cause::NotFed | Cause::NoSpare
            )
        })
        // What is missing altogether has been named.
        .filter(|finding| {
            finding.cause != Cause::Missing
                || !finding.items.iter().all(|id| {
                    project
                        .item(id)
                        .is_some_and(|item| item.holding == Holding::Missing)
                })
        })
        .map(|finding| finding.text.clone());
    nobody.chain(few).collect()
}

fn gravest(cautions: &[Caution]) -> Vec<Gravest> {
    let mut out: Vec<Gravest> = Vec::new();
    for caution in cautions {
        let at = match out.iter().position(|known| known.kind == caution.kind) {
            Some(at) => at,
            None if out.len() == GRAVEST => break,
            None => {
                out.push(Gravest {
                    kind: caution.kind,
                    name: super::in_words(caution),
                    places: Vec::new(),
                });
                out.len() - 1
            }
        };
        if let Some(place) = &caution.at.place
            && !out[at].places.contains(place)
        {
            out[at].places.push(place.clone());
        }
    }
    out
}
