//! The sky over a place, with what is planned there.

use super::{date, lights, minutes, span};
use charts::{Event, MoonPhase, Planned, Sky, Span, Standing};
use model::Place;
use schedule::DayPlan;
use steps::SkyCurve;

/// The sky of `curve` over `place`, with the setups that `plan` puts there.
pub fn sky(place: &Place, curve: &SkyCurve, plan: Option<&DayPlan>) -> Sky {
    let standing = |all: &[[f64; 2]]| {
        let one = |[at_min, altitude_deg]: &[f64; 2]| Standing {
            at_min: *at_min,
            altitude_deg: *altitude_deg,
        };
        all.iter().map(one).collect()
    };
    let here = plan
        .iter()
        .flat_map(|plan| &plan.order)
        .filter(|strip| strip.place == place.id.as_str());
    Sky {
        place: place.name.clone(),
        date: date(&curve.date),
        of: Span::new(curve.of_min[0], curve.of_min[1]),
        sun: standing(&curve.sun),
        moon: standing(&curve.moon),
        phase: Some(MoonPhase {
            lit: curve.moon_lit,
            waxing: curve.moon_waxing,
            lit_on_right: curve.moon_waxing == curve.northern,
        }),
        bands: lights(curve),
        sunlit: curve
            .direct_sun
            .as_ref()
            .map(|all| all.iter().map(|[from, to]| Span::new(*from, *to)).collect()),
        access: place.access.iter().copied().map(span).collect(),
        events: curve
            .events
            .iter()
            .filter_map(|(at_min, what)| {
                Some(Event {
                    at_min: *at_min,
                    what: word(*what)?.to_owned(),
                })
            })
            .collect(),
        setups: here
            .map(|strip| Planned {
                setup: strip.setup.to_string(),
                name: strip.name.clone(),
                shoot: Span::new(minutes(strip.shoot), minutes(strip.end)),
            })
            .collect(),
        now_min: None,
    }
}

/// What happens, in a word; the twilights say theirs by their bands.
fn word(what: sky::What) -> Option<&'static str> {
    use sky::What;
    match what {
        What::Sunrise => Some("sunrise"),
        What::Sunset => Some("sunset"),
        What::Moonrise => Some("moonrise"),
        What::Moonset => Some("moonset"),
        What::AstronomicalDusk => Some("full dark"),
        What::AstronomicalDawn => Some("first dawn"),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::super::day::tests::{curve, plan};
    use super::*;
    use charts::{Chart as _, Light, Width};
    use model::PlaceId;

    fn place(id: &str) -> Place {
        let mut place = Place::new(PlaceId::new(id).expect("an id"), "Tiled <stairs>");
        place.access = vec![[
            "15:00".parse().expect("a clock"),
            "26:30".parse().expect("a clock"),
        ]];
        place
    }

    #[test]
    fn what_is_planned_there_is_marked() {
        let view = sky(&place("stairs"), &curve(), Some(&plan()));
        assert_eq!(view.setups.len(), 1);
        assert_eq!(view.setups[0].shoot, Span::new(1080.0, 1110.0));
        assert_eq!(view.access, [Span::new(900.0, 1590.0)]);
        assert!(view.bands.iter().any(|band| band.light == Light::Night));
        let elsewhere = sky(&place("quay"), &curve(), Some(&plan()));
        assert!(elsewhere.setups.is_empty());
        for width in [Width::Narrow, Width::Wide] {
            assert!(!view.svg("sky", width).contains("<stairs>"));
        }
    }

    #[test]
    fn a_waxing_moon_is_lit_on_the_right_in_the_north_alone() {
        let mut curve = curve();
        let lit = |curve: &SkyCurve| {
            let phase = sky(&place("stairs"), curve, None).phase.expect("a phase");
            phase.lit_on_right
        };
        assert!(lit(&curve));
        curve.northern = false;
        assert!(!lit(&curve));
    }
}
