//! What a person should know of power, cards and carriage: each finding typed, and as one sentence.
//!
//! A finding never stands in the way: what could be computed is computed beside it.

use model::clock::shown;
use model::{KitId, PlaceId, SetupId};
use serde::{Serialize, Serializer};
use std::fmt;

/// Which limit was met.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Limit {
    /// What a battery gives at once.
    BatteryOutput,
    /// What an inverter gives.
    InverterOutput,
    /// The share of a mains circuit that is loaded for long.
    MainsCircuit,
}

/// Something to know, by cause.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(tag = "finding", rename_all = "kebab-case")]
#[allow(
    missing_docs,
    reason = "each sentence in `Display` says what its fields are"
)]
pub enum Finding {
    // How it is computed.
    HabitOutOfRange {
        name: String,
        value: String,
        least: f64,
        most: f64,
        used: f64,
    },
    UnknownSetup {
        setup: SetupId,
    },
    LengthUnknown {
        setup: SetupId,
        used_s: f64,
    },
    TravelUnknown {
        from: PlaceId,
        to: PlaceId,
        used_min: f64,
    },
    AirUnknown {
        used_c: f64,
    },
    SlotTooShort {
        setup: SetupId,
        needs_min: f64,
        has_min: f64,
    },
    PastWrap {
        end_min: f64,
        wrap_min: f64,
    },
    StillMissing {
        item: KitId,
    },
    // Who is fed by what.
    DrawUnknown {
        setup: SetupId,
        item: KitId,
    },
    FeedUnknown {
        setup: SetupId,
        item: KitId,
    },
    NothingFeeds {
        setup: SetupId,
        item: KitId,
        takes: Vec<String>,
    },
    NoConnector {
        setup: SetupId,
        item: KitId,
        source: String,
    },
    CannotFeed {
        setup: SetupId,
        item: KitId,
        source: KitId,
    },
    InverterTaken {
        setup: SetupId,
        item: KitId,
        inverter: KitId,
        wanted: String,
        used: String,
    },
    AdapterShort {
        setup: SetupId,
        adapter: KitId,
        needed: u32,
        there: u32,
    },
    NoMains {
        setup: SetupId,
        item: KitId,
    },
    GivesNothing {
        item: KitId,
        what: String,
    },
    Overload {
        setup: SetupId,
        source: String,
        limit: Limit,
        load_w: f64,
        most_w: f64,
        dark: KitId,
    },
    // What happens in the day.
    BelowReserve {
        setup: SetupId,
        battery: KitId,
        piece: u32,
        at_min: f64,
    },
    ColdBelowReserve {
        battery: KitId,
        piece: u32,
        air_c: f64,
    },
    Dark {
        setup: SetupId,
        items: Vec<KitId>,
        source: String,
        taken: bool,
        at_min: f64,
    },
    SwapInPass {
        setup: SetupId,
        items: Vec<KitId>,
        at_min: f64,
    },
    TooColdToCharge {
        battery: KitId,
        air_c: f64,
        least_c: f64,
    },
    ChargerUnsaid {
        battery: KitId,
    },
    ChargingPowerUnsaid {
        battery: KitId,
    },
    NoSingleFix {
        setup: SetupId,
        source: String,
    },
    // Cards.
    NoCamera {
        setup: SetupId,
    },
    NoRecording {
        setup: SetupId,
        camera: KitId,
    },
    RecordingNearest {
        setup: SetupId,
        camera: KitId,
        wanted_fps: f64,
        used_fps: f64,
    },
    NoCards,
    CardsFull {
        setup: SetupId,
        pass: u32,
        short_gb: f64,
    },
    CardsTight {
        needed_gb: f64,
        wanted_gb: f64,
        there_gb: f64,
        times: f64,
    },
    PassOverCard {
        setup: SetupId,
        pass_gb: f64,
        card_gb: f64,
    },
    CardTooSlow {
        setup: SetupId,
        card: KitId,
        writes_mb_s: f64,
        needs_mb_s: f64,
    },
    ReadSpeedUnsaid {
        card: KitId,
    },
    CopiesMissing {
        wanted: u32,
        there: u32,
    },
    CopyFull {
        drive: KitId,
        needed_gb: f64,
        there_gb: f64,
    },
    // Carriage by air.
    AirlineApproval {
        battery: KitId,
        wh: f64,
    },
    TooManySpares {
        spares: u32,
        allowed: u32,
        people: u32,
    },
    NotByAir {
        battery: KitId,
        wh: f64,
    },
    OtherChemistry {
        battery: KitId,
    },
    EnergyUnsaid {
        battery: KitId,
    },
    CheckWithTheAirline,
}

impl Finding {
    /// The setup that it is about, where it is about one.
    pub fn setup(&self) -> Option<&SetupId> {
        match self {
            Self::UnknownSetup { setup }
            | Self::LengthUnknown { setup, .. }
            | Self::SlotTooShort { setup, .. }
            | Self::DrawUnknown { setup, .. }
            | Self::FeedUnknown { setup, .. }
            | Self::NothingFeeds { setup, .. }
            | Self::NoConnector { setup, .. }
            | Self::CannotFeed { setup, .. }
            | Self::InverterTaken { setup, .. }
            | Self::AdapterShort { setup, .. }
            | Self::NoMains { setup, .. }
            | Self::Overload { setup, .. }
            | Self::BelowReserve { setup, .. }
            | Self::Dark { setup, .. }
            | Self::SwapInPass { setup, .. }
            | Self::NoSingleFix { setup, .. }
            | Self::NoCamera { setup }
            | Self::NoRecording { setup, .. }
            | Self::RecordingNearest { setup, .. }
            | Self::CardsFull { setup, .. }
            | Self::PassOverCard { setup, .. }
            | Self::CardTooSlow { setup, .. } => Some(setup),
            _ => None,
        }
    }
}

/// Ids in backticks, joined by commas and `and`.
pub(crate) fn listed(items: &[KitId]) -> String {
    let names: Vec<String> = items.iter().map(|item| format!("`{item}`")).collect();
    match names.as_slice() {
        [] => "nothing".into(),
        [one] => one.clone(),
        [most @ .., last] => format!("{} and {last}", most.join(", ")),
    }
}

impl fmt::Display for Finding {
    /// One sentence, lower case, no full stop: what, where, what to do.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::HabitOutOfRange {
                name,
                value,
                least,
                most,
                used,
            } => write!(
                f,
                "the habit `{name}` is {value}; {used} is used, give a number from {least} to {most}"
            ),
            Self::UnknownSetup { setup } => write!(
                f,
                "the day names the setup `{setup}`, which the plan does not have; it is left out"
            ),
            Self::LengthUnknown { setup, used_s } => write!(
                f,
                "how long the song sounds in `{setup}` is not known; {used_s:.0} s a pass are counted with, listen to the song to know"
            ),
            Self::TravelUnknown { from, to, used_min } => write!(
                f,
                "the way from `{from}` to `{to}` is not said; {used_min:.0} minutes are counted with, write it at the place"
            ),
            Self::AirUnknown { used_c } => write!(
                f,
                "the day does not say how cold it gets; batteries are counted at {used_c:.0} degrees, write `air_c` as cold takes a quarter or more"
            ),
            Self::SlotTooShort {
                setup,
                needs_min,
                has_min,
            } => write!(
                f,
                "`{setup}` has {has_min:.0} minutes to shoot and its passes take {needs_min:.0}; give it more time or fewer passes"
            ),
            Self::PastWrap { end_min, wrap_min } => write!(
                f,
                "the setups one after the other end at {}, after the latest wrap at {}; drop one or start earlier",
                shown(*end_min),
                shown(*wrap_min)
            ),
            Self::StillMissing { item } => write!(
                f,
                "the day counts on `{item}`, which is still missing; find it or take it out of the kit"
            ),
            Self::DrawUnknown { setup, item } => write!(
                f,
                "what `{item}` draws in `{setup}` is not said; it is counted as nothing, write its watts"
            ),
            Self::FeedUnknown { setup, item } => write!(
                f,
                "what feeds `{item}` in `{setup}` is not said; it is not counted, write its connectors or what it is fed from"
            ),
            Self::NothingFeeds { setup, item, takes } => write!(
                f,
                "nothing in the kit feeds `{item}` in `{setup}`, which takes {}; add a battery, an adapter or mains with that connector",
                takes.join(" or ")
            ),
            Self::NoConnector {
                setup,
                item,
                source,
            } => write!(
                f,
                "`{item}` is to be fed from `{source}` in `{setup}`, and no connectors or adapters of the kit join the two; it is counted as if they did, pack the adapter"
            ),
            Self::CannotFeed {
                setup,
                item,
                source,
            } => write!(
                f,
                "`{item}` is to be fed from `{source}` in `{setup}`, which is no battery, inverter or adapter; it is fed as if that were not said"
            ),
            Self::InverterTaken {
                setup,
                item,
                inverter,
                wanted,
                used,
            } => write!(
                f,
                "`{item}` is to be fed from `{wanted}` through `{inverter}` in `{setup}`, which hangs on `{used}` there; it is counted on `{used}`, bring another inverter if that is not meant"
            ),
            Self::AdapterShort {
                setup,
                adapter,
                needed,
                there,
            } => write!(
                f,
                "`{setup}` needs {needed} of the adapter `{adapter}` and the kit has {there}; get more or feed otherwise"
            ),
            Self::NoMains { setup, item } => write!(
                f,
                "`{item}` is to be fed from mains in `{setup}`, and its place has none; feed it from a battery or ask for a socket"
            ),
            Self::GivesNothing { item, what } => {
                write!(f, "`{item}` gives nothing, as {what}; correct the figure")
            }
            Self::Overload {
                setup,
                source,
                limit,
                load_w,
                most_w,
                dark,
            } => {
                let what = match limit {
                    Limit::BatteryOutput => "the battery gives at most",
                    Limit::InverterOutput => "the inverter gives at most",
                    Limit::MainsCircuit => "the circuit bears for long",
                };
                write!(
                    f,
                    "`{source}` would have to give {load_w:.0} W in `{setup}` and {what} {most_w:.0} W; `{dark}` stays dark, dim it or feed it from something else"
                )
            }
            Self::BelowReserve {
                setup,
                battery,
                piece,
                at_min,
            } => write!(
                f,
                "`{battery}` number {piece} goes below its reserve at {} in `{setup}`, as no other is left; see the fixes, or keep a spare",
                shown(*at_min)
            ),
            Self::ColdBelowReserve {
                battery,
                piece,
                air_c,
            } => write!(
                f,
                "`{battery}` number {piece} counts as spent at {air_c:.0} degrees, as cold holds back what is left in it; keep it warm or charge it before"
            ),
            Self::Dark {
                setup,
                items,
                source,
                taken,
                at_min,
            } => {
                let why = if *taken {
                    "feeds something else and can't bear it as well"
                } else {
                    "is empty"
                };
                write!(
                    f,
                    "at {} in `{setup}` {} {} dark, as `{source}` {why}; see the fixes",
                    shown(*at_min),
                    listed(items),
                    if items.len() == 1 { "goes" } else { "go" }
                )
            }
            Self::SwapInPass {
                setup,
                items,
                at_min,
            } => write!(
                f,
                "the battery of {} comes to its reserve at {} in the middle of a pass of `{setup}`; shorten the pass, feed it from a larger one, or count a pass more",
                listed(items),
                shown(*at_min)
            ),
            Self::TooColdToCharge {
                battery,
                air_c,
                least_c,
            } => write!(
                f,
                "`{battery}` is not charged at {air_c:.0} degrees, as lithium is not charged below {least_c:.0}; charge indoors"
            ),
            Self::ChargerUnsaid { battery } => write!(
                f,
                "which charger takes `{battery}` is not said; the first that may is counted with, write the connectors of both"
            ),
            Self::ChargingPowerUnsaid { battery } => write!(
                f,
                "`{battery}` charges from a socket by itself, and how fast is not said; it is not counted, write `charge_w`"
            ),
            Self::NoSingleFix { setup, source } => write!(
                f,
                "no single change mends the shortage of `{source}` in `{setup}`; join several, or move a setup to another day"
            ),
            Self::NoCamera { setup } => write!(
                f,
                "`{setup}` does not say which camera shoots it; its cards are not counted, write its optics"
            ),
            Self::NoRecording { setup, camera } => write!(
                f,
                "what `{camera}` records is not said; the cards of `{setup}` are not counted, write its recordings"
            ),
            Self::RecordingNearest {
                setup,
                camera,
                wanted_fps,
                used_fps,
            } => write!(
                f,
                "`{camera}` names no recording at {wanted_fps:.3} frames a second for `{setup}`; the one at {used_fps:.3} is counted with, write the right one"
            ),
            Self::NoCards => write!(
                f,
                "the kit holds no card to record to; write how many and how large"
            ),
            Self::CardsFull {
                setup,
                pass,
                short_gb,
            } => write!(
                f,
                "the cards are full before pass {pass} of `{setup}`, and {short_gb:.0} GB are still to come; bring more, nothing is wiped before two checked copies exist"
            ),
            Self::CardsTight {
                needed_gb,
                wanted_gb,
                there_gb,
                times,
            } => write!(
                f,
                "the cards hold {there_gb:.0} GB and the plan records {needed_gb:.0} GB; {times:.1} times that, {wanted_gb:.0} GB, is common practice"
            ),
            Self::PassOverCard {
                setup,
                pass_gb,
                card_gb,
            } => write!(
                f,
                "one pass of `{setup}` takes {pass_gb:.1} GB and the largest card holds {card_gb:.1} GB; bring a larger card or record less a second"
            ),
            Self::CardTooSlow {
                setup,
                card,
                writes_mb_s,
                needs_mb_s,
            } => write!(
                f,
                "`{card}` writes {writes_mb_s:.0} MB/s and `{setup}` needs {needs_mb_s:.0} MB/s; use a faster card there"
            ),
            Self::ReadSpeedUnsaid { card } => write!(
                f,
                "how fast `{card}` reads is not said; its copying time is not known, write `reads_mb_s`"
            ),
            Self::CopiesMissing { wanted, there } => write!(
                f,
                "{wanted} copies are wanted and the kit has {there} drives for copies; copies on one drive are lost together, bring another"
            ),
            Self::CopyFull {
                drive,
                needed_gb,
                there_gb,
            } => write!(
                f,
                "`{drive}` holds {there_gb:.0} GB and the day brings {needed_gb:.0} GB; bring a larger one"
            ),
            Self::AirlineApproval { battery, wh } => write!(
                f,
                "`{battery}` of {wh:.2} Wh flies only in the cabin and with the airline's approval, as it holds more than 100 Wh; ask before booking"
            ),
            Self::TooManySpares {
                spares,
                allowed,
                people,
            } => write!(
                f,
                "{spares} spare batteries of more than 100 Wh are more than the {allowed} that {people} {} may carry; leave some, or hire there",
                if *people == 1 { "person" } else { "people" }
            ),
            Self::NotByAir { battery, wh } => write!(
                f,
                "`{battery}` of {wh:.2} Wh does not fly with passengers, as it holds more than 160 Wh; hire one there or send it as declared cargo"
            ),
            Self::OtherChemistry { battery } => write!(
                f,
                "`{battery}` is not lithium, and other rules hold for it by air; ask the airline"
            ),
            Self::EnergyUnsaid { battery } => write!(
                f,
                "`{battery}` of unknown energy is likely to be kept back by the airline; its watt-hours must be printed on it"
            ),
            Self::CheckWithTheAirline => write!(
                f,
                "spares fly in the cabin only, terminals covered, none in checked baggage; airlines may be stricter and rules change: check with the airline"
            ),
        }
    }
}

/// Writes each finding with its sentence beside its fields, as `says`.
pub(crate) fn with_sentences<S: Serializer>(
    findings: &[Finding],
    to: S,
) -> Result<S::Ok, S::Error> {
    #[derive(Serialize)]
    struct Said<'a> {
        #[serde(flatten)]
        finding: &'a Finding,
        says: String,
    }
    to.collect_seq(findings.iter().map(|finding| Said {
        finding,
        says: finding.to_string(),
    }))
}

/// Keeps the first of findings that say the same.
pub(crate) fn without_repeats(findings: Vec<Finding>) -> Vec<Finding> {
    let mut kept: Vec<Finding> = Vec::with_capacity(findings.len());
    for finding in findings {
        if !kept.contains(&finding) {
            kept.push(finding);
        }
    }
    kept
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sentences_follow_the_house() {
        let setup = SetupId::new("stairs").unwrap();
        let item = KitId::new("panel").unwrap();
        let said = [
            Finding::Dark {
                setup: setup.clone(),
                items: vec![item.clone(), item.clone()],
                source: "block".into(),
                taken: false,
                at_min: 1590.2,
            },
            Finding::NoCards,
            Finding::CheckWithTheAirline,
            Finding::NotByAir {
                battery: item,
                wh: 160.01,
            },
        ]
        .map(|finding| finding.to_string());
        assert_eq!(
            said[0],
            "at 02:30 (+1) in `stairs` `panel` and `panel` go dark, as `block` is empty; see the fixes"
        );
        for text in said {
            assert!(!text.ends_with('.') && !text.starts_with(char::is_uppercase));
        }
        let _ = setup;
    }
}
