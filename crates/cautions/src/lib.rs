//! What in a plan calls for care, what is usually done about it, and whom to ask.
//!
//! [`of`] reads places, setups, days and kit, and returns a [`Caution`] for each place and kind.
//! A caution never forbids and never allows: it says what in *this* plan it is about, with the
//! figures met, and defers to local codes and to people who are qualified. No caution does not
//! mean no danger: only what the document says can be seen here.
//!
//! # Conventions
//! - Sentences are whole ones, with a capital and a full stop, as they are read on a call sheet.
//! - Thresholds stand in [`model::Practice`], each with its source; all can be changed by the caller.
//! - A distance that is not written counts as near, and the sentence says so.
//! - Only places at which a setup stands are looked at.
//!
//! # What it does not do
//! It does not repeat the cautions the maker wrote, and knows nothing of allergies, public liability or the
//! law of any place, that on minors' work included: the document has no words for them.

mod day;
mod effects;
mod falls;
mod people;
mod power;
mod scene;
mod vehicles;
mod water;
mod weather;

pub use vehicles::{Forces, forces};
pub use weather::{heat_index_c, wind_chill_c};

use model::{Day, Finding, Project, Slot};
use scene::Scene;
use serde::Serialize;

/// What a caution is about, the gravest first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Kind {
    /// Mains voltage, from the wall or an inverter, near water.
    ElectricityAndWater,
    /// Powder in the air.
    Powder,
    /// An open flame.
    Flame,
    /// A person in the water.
    InWater,
    /// Water cold enough to take the breath.
    ColdWater,
    /// Work beside water.
    Water,
    /// Work beside a drop.
    Edge,
    /// Camera on or in a vehicle.
    VehicleMount,
    /// A vehicle that is part of the picture.
    Driving,
    /// Traffic where one works.
    Traffic,
    /// Camera held out over a drop or water.
    Overhead,
    /// Camera fixed where no person stands.
    Rigged,
    /// Stairs.
    Stairs,
    /// Stands in the wind.
    Wind,
    /// A mains socket that is not known to be protected.
    Mains,
    /// A bare hot lamp.
    HotLight,
    /// A place where something burns easily.
    Fire,
    /// Smoke or haze.
    Smoke,
    /// Glass or anything that breaks.
    Breakage,
    /// Bad air.
    Air,
    /// Batteries, and how they are charged.
    Batteries,
    /// Batteries carried by air.
    BatteriesByAir,
    /// Water on the performer.
    Wet,
    /// Cold.
    Cold,
    /// Heat.
    Heat,
    /// Night work alone, or a place to judge beforehand.
    Alone,
    /// A public way without leave in writing.
    PublicWay,
    /// A place with a danger and no hospital written down.
    NoHospital,
    /// A long day.
    LongDay,
    /// Too long without a break.
    NoBreak,
    /// Too little rest between two days.
    ShortRest,
    /// Too long since the maker woke.
    Awake,
    /// The way home after midnight, or driven tired.
    LateEnd,
    /// A minor is there.
    Minor,
}

/// Something in the plan that calls for care.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Caution {
    /// What it is about; in JSON it stands with the finding.
    #[serde(skip)]
    pub kind: Kind,
    /// What in this plan calls for it, with the figures met, and what is usually done. Its sentences are whole
    /// ones, as they are read on a call sheet.
    #[serde(flatten)]
    pub finding: Finding,
    /// Whom to ask.
    pub ask: String,
    /// Where the threshold or the advice was published, or `common practice`.
    pub source: String,
    /// Safety things to bring.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub bring: Vec<String>,
}

impl Kind {
    /// In words: `electricity and water`.
    pub fn words(self) -> String {
        let mut words = String::new();
        for letter in format!("{self:?}").chars() {
            if letter.is_uppercase() && !words.is_empty() {
                words.push(' ');
            }
            words.extend(letter.to_lowercase());
        }
        words
    }

    /// Whether it is about a day's hours, weather or company rather than about a place or a thing.
    pub fn is_of_the_day(self) -> bool {
        matches!(
            self,
            Self::Cold
                | Self::Heat
                | Self::Alone
                | Self::LongDay
                | Self::NoBreak
                | Self::ShortRest
                | Self::LateEnd
                | Self::Awake
                | Self::Minor
        )
    }
}

/// Where a fact of the trade without a source comes from.
pub(crate) const COMMON: &str = "common practice";

/// Whether a slot of a day lies in the dark, as whoever knows the sun says.
pub type Darkness<'a> = &'a dyn Fn(&Day, &Slot) -> bool;

/// What the document does not say.
#[derive(Clone, Copy, Default)]
pub struct Given<'a> {
    /// Whether a slot of a day lies in the dark, when the sun has been asked. Without it the
    /// hours from [`model::Practice::night_from_min`] to [`model::Practice::night_to_min`] do.
    pub dark: Option<Darkness<'a>>,
    /// Whether the kit travels by air. Not known: cautions of it come only for batteries that
    /// would need the airline's approval.
    pub by_air: Option<bool>,
}

/// What in `project` calls for care: one caution for each kind and place, the gravest kind first,
/// places as the project lists them.
pub fn of(project: &Project, given: &Given) -> Vec<Caution> {
    let scene = Scene::new(project, given);
    let mut cautions = Vec::new();
    for stay in &scene.stays {
        power::at_place(&scene, stay, &mut cautions);
        effects::at_place(&scene, stay, &mut cautions);
        water::at_place(&scene, stay, &mut cautions);
        falls::at_place(&scene, stay, &mut cautions);
        vehicles::at_place(&scene, stay, &mut cautions);
        weather::at_place(&scene, stay, &mut cautions);
        people::at_place(&scene, stay, &mut cautions);
    }
    power::of_kit(&scene, &mut cautions);
    day::of_days(&scene, &mut cautions);
    cautions.sort_by_key(|caution| caution.kind);
    cautions
}

#[cfg(test)]
mod tests;
