//! Which batteries fly with their owner, by the published limits for lithium batteries.
//!
//! The limits for lithium-ion batteries and power banks of passengers are those that the US FAA and TSA publish
//! (the ICAO and IATA figures are the same): to 100 Wh without approval; over 100 and to 160 Wh with the
//! airline's approval, at most two spares a person; over 160 Wh not at all. Spares and power banks go in the
//! cabin only, their terminals protected. Airlines may be stricter and rules change, so the last word here is
//! always to ask the airline. Lithium iron phosphate is lithium-ion to these rules.

use crate::battery::positive;
use model::kit::{AIR_SPARES, Allowance, allowance};
use model::{Finding, KitId, KitItem};
use serde::Serialize;

/// One sort of battery on a flight.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Carried {
    /// Which.
    pub battery: KitId,
    /// How many.
    pub count: u32,
    /// Energy of one, watt-hours.
    pub wh: f64,
    /// Whether it is a spare; otherwise it is built into something.
    pub spare: bool,
    /// How it flies.
    pub allowance: Allowance,
}

/// The batteries on a flight.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Carriage {
    /// Each sort.
    pub batteries: Vec<Carried>,
    /// What to know; the last is always to check with the airline.
    pub findings: Vec<Finding>,
}

/// How the batteries of `kit` fly with `people` who share them.
pub fn carriage(kit: &[KitItem], people: u32) -> Carriage {
    let mut batteries = Vec::new();
    let mut findings = Vec::new();
    let mut spares: u32 = 0;
    for item in kit {
        let Some(battery) = &item.battery else {
            continue;
        };
        let id = || item.id.clone();
        let lithium = battery.chemistry.is_lithium();
        let allowance = if lithium {
            allowance(battery.wh)
        } else {
            Allowance::Unknown
        };
        let wh = positive(battery.wh);
        match allowance {
            Allowance::Carried => {}
            Allowance::WithApproval => {
                findings.push(Finding::warning(
                    "airline-approval",
                    format!("`{}` of {wh:.2} Wh flies only in the cabin and with the airline's approval, as it holds more than 100 Wh", item.id),
                ).about(&item.id).mended_by("ask before booking"));
                if !battery.built_in {
                    spares = spares.saturating_add(item.count);
                }
            }
            Allowance::Refused => findings.push(Finding::problem(
                "not-by-air",
                format!("`{}` of {wh:.2} Wh does not fly with passengers, as it holds more than 160 Wh", item.id),
            ).about(&item.id).mended_by("hire one there").mended_by("send it as declared cargo")),
            Allowance::Unknown if lithium => findings.push(Finding::unknown(
                "energy-unsaid",
                format!("`{}` of unknown energy is likely to be kept back by the airline; its watt-hours must be printed on it", item.id),
            ).about(&item.id)),
            Allowance::Unknown => findings.push(Finding::unknown(
                "other-chemistry",
                format!("`{}` is not lithium, and other rules hold for it by air", item.id),
            ).about(&item.id).mended_by("ask the airline")),
        }
        batteries.push(Carried {
            battery: id(),
            count: item.count,
            wh,
            spare: !battery.built_in,
            allowance,
        });
    }
    let allowed = people.saturating_mul(AIR_SPARES);
    if spares > allowed {
        let who = if people == 1 {
            "1 person"
        } else {
            &format!("{people} people")
        };
        findings.push(Finding::problem(
            "too-many-spares",
            format!("{spares} spare batteries of more than 100 Wh are more than the {allowed} that {who} may carry"),
        ).mended_by("leave some").mended_by("hire there"));
    }
    if !batteries.is_empty() {
        findings.push(Finding::warning(
            "check-with-the-airline",
            "spares fly in the cabin only, terminals covered, none in checked baggage; airlines may be stricter and rules change",
        ).mended_by("check with the airline"));
    }
    Carriage {
        batteries,
        findings,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use model::Chemistry;

    #[test]
    fn thresholds_as_published() {
        // US FAA/TSA: 100 Wh, 100 to 160 Wh with approval, above not; the edges belong below.
        use Allowance::{Carried, Refused, Unknown, WithApproval};
        for (wh, want) in [
            (99.9999, Carried),
            (100.0, Carried),
            (100.01, WithApproval),
            (159.84, WithApproval),
            (160.0, WithApproval),
            (160.01, Refused),
            (0.0, Unknown),
            (f64::NAN, Unknown),
            (-5.0, Unknown),
        ] {
            assert_eq!(allowance(wh), want, "{wh}");
        }
    }

    fn kit(count: u32, wh: f64, built_in: bool) -> Vec<KitItem> {
        let text = format!(
            r#"[{{"id": "block", "count": {count}, "battery": {{"wh": {wh}, "built_in": {built_in}}}}}]"#
        );
        serde_json::from_str(&text).unwrap()
    }

    #[test]
    fn two_larger_spares_a_person() {
        let many = |count, people| {
            let findings = carriage(&kit(count, 148.0, false), people).findings;
            assert_eq!(findings.last().unwrap().kind, "check-with-the-airline");
            findings.iter().any(|f| f.kind == "too-many-spares")
        };
        assert!(!many(2, 1));
        assert!(many(3, 1));
        assert!(!many(4, 2));
        let built_in = carriage(&kit(3, 148.0, true), 1);
        assert!(!built_in.batteries[0].spare);
        assert_eq!(built_in.findings.len(), 2);
        assert!(carriage(&[], 1).findings.is_empty());
        let small = carriage(&kit(9, 98.0, false), 1);
        assert_eq!(small.findings.len(), 1);
        assert_eq!(small.findings[0].kind, "check-with-the-airline");
    }

    #[test]
    fn other_chemistry_is_asked_about() {
        let mut kit = kit(1, 148.0, false);
        kit[0].battery.as_mut().unwrap().chemistry = Chemistry::LeadAcid;
        let carriage = carriage(&kit, 1);
        assert_eq!(carriage.findings[0].kind, "other-chemistry");
    }
}
