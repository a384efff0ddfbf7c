//! What to pack and what to get: for each place the load that is carried there, whose each thing
//! is, what it weighs, and what the performer's states ask of wardrobe.
//!
//! [`pack`] reads the document's setups, kit and days; [`Packing`] serialises to JSON.
//!
//! # Conventions
//! - A *load* is what one person carries from the car, or from the last place, to a place: what
//!   the setups shot there use, what feeds that, and what always goes along.
//! - Money is in minor units (cents) of the brief's currency; nothing is converted.
//! - Weights are kilograms; a thing without a weight is named, never guessed.
//! - Connectors are equal when they are written alike, capitals aside. [`MAINS`] is a socket in
//!   the wall.
//!
//! # What it does not do
//! It does not compute how long a battery lasts or how many cards a day fills (that is handed in
//! as [`Given::needed`]), and it does not judge what is dangerous ([`Given::bring`]).

mod carry;
mod dressing;
mod feeding;
mod holding;
mod load;
mod order;

pub use model::kit::MAINS;
use model::{Date, DayId, Finding, Holding, KitId, PlaceId, Project, SetupId, Sort};
use serde::Serialize;
use std::collections::{BTreeMap, BTreeSet};

/// What other crafts and the maker know beyond the document. All of it may be left empty.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Given {
    /// How many of a battery or card the day needs, reserve included. Of one that is not named
    /// all are packed.
    pub needed: BTreeMap<KitId, u32>,
    /// What the cautions ask for.
    pub bring: Vec<Bring>,
    /// Which of these the kit holds already: the thing's name in `bring`, and the item.
    pub held: BTreeMap<String, KitId>,
    /// Setups each pass of which begins in the state before: the powder flies within the pass.
    /// The document does not say it; without it a later pass goes on from where the last ended.
    pub fresh_each_pass: BTreeSet<SetupId>,
}

/// A thing that somebody's safety asks for.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Bring {
    /// What.
    pub name: String,
    /// Why, in a few words.
    pub why: String,
    /// Where it is wanted; none for everywhere.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub place: Option<PlaceId>,
}

/// What to pack and what to get.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Packing {
    /// What is carried to each place, in the order of the days; setups in no day's order come last.
    pub loads: Vec<Load>,
    /// Every item: whose, from whom, for how much, until when.
    pub getting: Vec<Getting>,
    /// What a setup is dressed with, setup by setup in the same order.
    pub dressing: Vec<Dressing>,
    /// Garments and props that are needed more than once.
    pub spares: Vec<Spare>,
    /// Safety things, each once.
    pub bring: Vec<Tick>,
    /// What the kit costs.
    pub costs: Costs,
    /// Items that no load holds.
    pub left: Vec<KitId>,
    /// What does not work out as planned, one sentence each.
    pub findings: Vec<Finding>,
}

/// What is carried to one place.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Load {
    /// On which day, when a day's order says.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub day: Option<DayId>,
    /// Its date.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub date: Option<Date>,
    /// Where to; none for setups without a place.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub place: Option<PlaceId>,
    /// What the place is called.
    pub name: String,
    /// What is shot there.
    pub setups: Vec<SetupId>,
    /// What is carried, by sort.
    pub groups: Vec<Group>,
    /// What is fed from what.
    pub feeds: Vec<Feed>,
    /// What is known to be carried, kilograms.
    pub weight_kg: f64,
    /// Items without a weight.
    pub unweighed: Vec<KitId>,
    /// Things that two should lift, one for each item.
    pub heavy: Vec<KitId>,
    /// How often one person walks; a thing over the limit takes a trip (and a second person) of its own.
    pub trips: u64,
}

/// Things of one sort in a load.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Group {
    /// The sort.
    pub sort: Sort,
    /// The things.
    pub items: Vec<Packed>,
}

/// An item in a load.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Packed {
    /// Which.
    pub item: KitId,
    /// What it is called.
    pub name: String,
    /// How many.
    pub count: u32,
    /// What for, where that is not plain: `feeds Panel`, `always`.
    pub why: Vec<String>,
}

/// What an item is fed from.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
pub struct Feed {
    /// What is fed.
    pub item: KitId,
    /// What feeds it: a battery, an inverter, or [`MAINS`].
    pub from: KitId,
    /// The connector at the item's side, where both sides are written and fit.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub connector: Option<String>,
    /// What stands between them, from the source on: adapters, and an inverter where the plan
    /// names a battery that feeds no other way.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub through: Vec<KitId>,
}

/// Whose an item is.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Getting {
    /// Which.
    pub item: KitId,
    /// What it is called.
    pub name: String,
    /// How many there are.
    pub count: u32,
    /// Whose.
    pub holding: Holding,
    /// From whom.
    pub from: String,
    /// What all of them cost, in minor units.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub cost_minor: Option<i64>,
    /// When it must be back.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub back_by: Option<Date>,
    /// The setups that it is packed for; empty when none is, or when it only goes along.
    pub setups: Vec<SetupId>,
}

/// What a setup is dressed with.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Dressing {
    /// Which setup.
    pub setup: SetupId,
    /// The performer's state there, by name where it has one.
    pub state: String,
    /// Wardrobe, make-up, props and vehicles.
    pub items: Vec<KitId>,
}

/// Something that is needed more than once.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Spare {
    /// Which.
    pub item: KitId,
    /// How many are used up in the order as planned.
    pub used: u32,
    /// How many more to have at hand.
    pub spare: u32,
    /// How many there are.
    pub has: u32,
    /// Why, as a sentence.
    pub because: String,
}

/// A safety thing to tick.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Tick {
    /// What.
    pub name: String,
    /// Why.
    pub why: Vec<String>,
    /// Where; empty for everywhere.
    pub places: Vec<PlaceId>,
    /// The item of the kit that it is, when that was said.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub held: Option<KitId>,
}

/// What the kit costs, by whose it is, in minor units.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Costs {
    /// Three letters (ISO 4217), as the brief has it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub currency: Option<String>,
    /// The maker's own.
    pub own_minor: i64,
    /// Lent.
    pub borrowed_minor: i64,
    /// Hired.
    pub rented_minor: i64,
    /// Bought for this video.
    pub bought_minor: i64,
    /// Not found yet, as far as a price is written.
    pub missing_minor: i64,
    /// All of it.
    pub total_minor: i64,
    /// Hired, bought and missing items without a price.
    pub unpriced: Vec<KitId>,
}

/// What to pack for each place of `project`, and what to get.
///
/// Places come in the order of the days (by date) and of their setups. Without any day's order the
/// setups are taken as they are listed, gathered by place.
/// What is wrong with the plan is a [`Finding`].
pub fn pack(project: &Project, given: &Given) -> Packing {
    let mut findings = Vec::new();
    unknown(project, given, &mut findings);
    let visits = order::visits(project, &mut findings);
    dressing::backwards(project, &visits, &mut findings);
    let spares = dressing::spares(project, &visits, given, &mut findings);
    let wiring = feeding::Wiring::new(&project.kit);
    let mut loads = Vec::new();
    let mut dressing = Vec::new();
    for visit in &visits {
        let load = load::load(project, &wiring, visit, given, &spares, &mut findings);
        loads.push(load);
        for setup in &visit.setups {
            dressing.push(dressing::of(project, setup, &mut findings));
        }
    }
    carry::findings(project, &loads, &mut findings);
    let getting = holding::getting(project, &visits, &loads, &mut findings);
    let bring = holding::ticks(project, given, &mut findings);
    let packed: BTreeSet<&KitId> = loads.iter().flat_map(Load::ids).collect();
    let ids = project.kit.iter().map(|item| &item.id);
    let left = ids.filter(|id| !packed.contains(id)).cloned().collect();
    model::finding::gravest_first(&mut findings);
    Packing {
        getting,
        dressing,
        spares,
        bring,
        costs: holding::costs(project),
        left,
        findings,
        loads,
    }
}

/// What was handed in and names nothing of the document.
fn unknown(project: &Project, given: &Given, findings: &mut Vec<Finding>) {
    for id in given.needed.keys() {
        if project.item(id).is_none() {
            let text = format!("the day needs `{id}`, which is not in the kit");
            findings.push(Finding::problem("unknown", text).about(id));
        }
    }
    for id in &given.fresh_each_pass {
        if project.setup(id).is_none() {
            let text = format!(
                "the passes of `{id}` are said to begin afresh, and the plan has no such setup"
            );
            findings.push(Finding::problem("unknown", text).about(id));
        }
    }
}

impl Load {
    /// The ids of all that is in it.
    pub fn ids(&self) -> impl Iterator<Item = &KitId> {
        self.items().map(|packed| &packed.item)
    }

    /// All that is in it.
    pub fn items(&self) -> impl Iterator<Item = &Packed> {
        self.groups.iter().flat_map(|group| &group.items)
    }

    /// How many of `id` are in it.
    pub fn count(&self, id: &KitId) -> u32 {
        self.items()
            .find(|packed| packed.item == *id)
            .map_or(0, |packed| packed.count)
    }
}

fn there_are(count: u32) -> String {
    let verb = if count == 1 { "is" } else { "are" };
    format!("there {verb} {count}")
}

#[cfg(test)]
mod tests;
