//! Wind on stands, cold as it is felt, heat.
//!
//! Humidity is not in the document, so no heat index is computed; the air's own temperature is
//! held against the band in which the index begins.

use crate::practice::{CHILL, HEAT, TOWERS};
use crate::scene::{Scene, Stay, Words, ids, number, setups_called};
use crate::{Caution, Kind};
use model::{Danger, Day, KitId, Mount, Setup, Sort};

/// Wind chill, degrees Celsius: 13.12 + 0.6215 T − 11.37 V^0.16 + 0.3965 T V^0.16 with T in °C and V
/// in km/h (US NWS and Environment Canada, 2001). It holds up to 10 °C and from 4.8 km/h; elsewhere
/// the air's own temperature is what is felt.
pub fn wind_chill_c(air_c: f64, wind_m_s: f64) -> f64 {
    let km_h = wind_m_s * 3.6;
    // NaN falls out here too.
    if !(air_c <= 10.0 && km_h >= 4.8) {
        return air_c;
    }
    let v = km_h.powf(0.16);
    13.12 + 0.6215 * air_c - 11.37 * v + 0.3965 * air_c * v
}

pub(crate) fn at_place<'a>(scene: &Scene<'a>, stay: &Stay<'a>, cautions: &mut Vec<Caution>) {
    wind(scene, stay, cautions);
    cold(scene, stay, cautions);
    heat(scene, stay, cautions);
}

/// The strongest wind written for a place.
fn strongest(stay: &Stay) -> Option<f64> {
    let all = stay.all(Danger::Wind);
    all.iter()
        .filter_map(|hazard| hazard.wind_m_s)
        .reduce(f64::max)
}

fn wind<'a>(scene: &Scene<'a>, stay: &Stay<'a>, cautions: &mut Vec<Caution>) {
    if !stay.outdoors() || stay.all(Danger::Wind).is_empty() {
        return;
    }
    let practice = scene.practice;
    let advice = match strongest(stay) {
        None => "how strong it blows is not written".into(),
        Some(wind) if wind >= practice.wind_strike_m_s => {
            format!(
                "{} m/s are expected: stands are usually taken down",
                number(wind)
            )
        }
        Some(wind) if wind >= practice.wind_lower_m_s => {
            format!(
                "{} m/s are expected: stands are usually lowered and held",
                number(wind)
            )
        }
        Some(wind) if wind >= practice.wind_weigh_m_s => {
            format!(
                "{} m/s are expected: stands are usually weighted",
                number(wind)
            )
        }
        Some(_) => return,
    };
    let mut setups: Vec<&Setup> = Vec::new();
    let mut items: Vec<KitId> = Vec::new();
    let mut most = 0usize;
    for setup in stay.setups.iter().copied() {
        let supports = setup.kit.iter().map(|used| &used.item).filter(|id| {
            let item = scene.project.item(id);
            item.is_some_and(|item| item.sort == Sort::Support)
        });
        let standing: Vec<&KitId> = setup
            .lights
            .iter()
            .map(|l| &l.light)
            .chain(supports)
            .collect();
        if standing.is_empty() && setup.mount != Some(Mount::Tripod) {
            continue;
        }
        setups.push(setup);
        most = most.max(setup.lights.len());
        for id in standing {
            if !items.contains(id) {
                items.push(id.clone());
            }
        }
    }
    if setups.is_empty() {
        return;
    }
    let says = format!(
        "Wind at {} and things on stands in {}; {advice}.",
        stay.name(),
        setups_called(&setups)
    );
    let mut caution = scene.caution(Kind::Wind, stay, &setups, items, says, &WIND);
    caution.bring.push(match most {
        0 => "sandbags".into(),
        lights => format!(
            "sandbags, one for each of {lights} stand{}",
            if lights == 1 { "" } else { "s" }
        ),
    });
    cautions.push(caution);
}

/// The days of a stay with a temperature.
fn air<'a>(scene: &Scene<'a>, stay: &Stay<'a>) -> Vec<(&'a Day, f64)> {
    let days = scene.days(&stay.setups).into_iter();
    days.filter_map(|day| Some((day, day.air_c?))).collect()
}

fn cold<'a>(scene: &Scene<'a>, stay: &Stay<'a>, cautions: &mut Vec<Caution>) {
    let wind = if stay.outdoors() {
        strongest(stay)
    } else {
        None
    };
    let felt = |air_c: f64| wind.map_or(air_c, |wind| wind_chill_c(air_c, wind));
    let days: Vec<(&Day, f64)> = air(scene, stay)
        .into_iter()
        .filter(|(_, air_c)| stay.outdoors() && felt(*air_c) <= scene.practice.cold_c)
        .collect();
    let coldest = days.iter().map(|(_, air_c)| *air_c).reduce(f64::min);
    let mut says = match coldest {
        Some(air_c) => {
            let mut says = format!("{} °C are expected at {}", number(air_c), stay.name());
            if let Some(wind) = wind
                && felt(air_c) < air_c
            {
                says += &format!(
                    ", which feels like {} °C in {} m/s of wind",
                    number((felt(air_c) * 10.0).round() / 10.0),
                    number(wind)
                );
            }
            says
        }
        None if !stay.all(Danger::Cold).is_empty() => {
            format!("Cold is written down as a danger at {}", stay.name())
        }
        None => return,
    };
    if coldest.is_some_and(|air_c| felt(air_c) <= scene.practice.frostbite_c) {
        says += "; bare skin can freeze within half an hour";
    }
    says += &format!(" ({}).", setups_called(&stay.setups));
    let mut caution = scene.caution(Kind::Cold, stay, &stay.setups, Vec::new(), says, &COLD);
    if coldest.is_some() {
        caution.at.days = ids(&days.iter().map(|(day, _)| *day).collect::<Vec<_>>());
    }
    cautions.push(caution);
}

fn heat<'a>(scene: &Scene<'a>, stay: &Stay<'a>, cautions: &mut Vec<Caution>) {
    let days: Vec<(&Day, f64)> = air(scene, stay)
        .into_iter()
        .filter(|(_, air_c)| *air_c >= scene.practice.heat_c)
        .collect();
    let hottest = days.iter().map(|(_, air_c)| *air_c).reduce(f64::max);
    let says = match hottest {
        Some(air_c) => format!(
            "{} °C are expected at {} ({}); moist air and full sun feel hotter.",
            number(air_c),
            stay.name(),
            setups_called(&stay.setups)
        ),
        None if !stay.all(Danger::Heat).is_empty() => format!(
            "Heat is written down as a danger at {} ({}).",
            stay.name(),
            setups_called(&stay.setups)
        ),
        None => return,
    };
    let mut caution = scene.caution(Kind::Heat, stay, &stay.setups, Vec::new(), says, &HOT);
    if hottest.is_some() {
        caution.at.days = ids(&days.iter().map(|(day, _)| *day).collect::<Vec<_>>());
    }
    cautions.push(caution);
}

const WIND: Words = Words {
    done: &[
        "A weight on every stand, on the leg under the load, low and off its fittings; legs wide, one leg into the wind.",
        "Lower what catches wind first: frames, umbrellas, soft boxes.",
        "A person's hand on anything above head height; nothing tall beside a road or an edge.",
        "Gusts go well beyond the forecast's mean: look at both.",
    ],
    ask: "The maker's sheet of stand and modifier; the weather service for gusts.",
    source: TOWERS,
    bring: &["line and pegs"],
};

const COLD: Words = Words {
    done: &[
        "Layers, hat and gloves for those who wait; coat over the performer until the pass begins.",
        "A warm room or car, something hot to drink, breaks by the clock.",
        "Shivering, clumsy hands, slurred speech: inside, dry and warm, and a doctor's advice.",
        "Batteries inside a coat until they are used.",
    ],
    ask: "The weather service; a doctor where somebody's circulation is weak.",
    source: CHILL,
    bring: &["blanket", "hot drink"],
};

const HOT: Words = Words {
    done: &[
        "Shade, and water before thirst: about a cup every 15 to 20 minutes.",
        "Rest by the clock; heavy carrying in the morning or evening.",
        "Confusion, no sweat, hot skin: call for help at once, cool the person meanwhile.",
    ],
    ask: "The weather service for the heat index; a doctor where somebody is ill or with child.",
    source: HEAT,
    bring: &["drinking water", "shade"],
};
