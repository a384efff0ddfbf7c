//! Wind on stands, cold as it is felt, heat.
//!
//! Where the air is typed by the hour, a place's cautions go by the hours in which one is there, cold with the
//! wind and heat with the moisture; else by the air of the day.

use crate::scene::{Scene, Stay, Words, number, setups_called};
use crate::{Caution, Kind};
use model::text::counted;
use model::{About, ClockTime, Danger, Day, KitId, Mount, Practice, Setup, Slot, Sort};

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
        lights => format!("sandbags, one for each of {}", counted(lights, "stand")),
    });
    cautions.push(caution);
}

/// How the air of a day is felt at a place, at one hour or over the whole day.
struct Felt<'a> {
    day: &'a Day,
    /// From when on; none when only the day is known.
    from: Option<ClockTime>,
    air_c: f64,
    wind_m_s: Option<f64>,
    /// With the wind, and with the moisture.
    cold_c: f64,
    hot_c: f64,
}

impl Felt<'_> {
    /// `, 21:00 on,` where the hour is known.
    fn hour(&self) -> String {
        self.from
            .map_or(String::new(), |from| format!(" from {from} on"))
    }
}

/// The air at a stay: at the hours of its slots where it is typed by the hour, else over its days.
fn air<'a>(scene: &Scene<'a>, stay: &Stay<'a>) -> Vec<Felt<'a>> {
    let outdoors = stay.outdoors();
    let felt = |day, from, air_c: f64, wind: Option<f64>, humidity: Option<f64>| {
        let wind_m_s = wind.or_else(|| strongest(stay)).filter(|_| outdoors);
        Felt {
            day,
            from,
            air_c,
            wind_m_s,
            cold_c: wind_m_s.map_or(air_c, |wind| wind_chill_c(air_c, wind)),
            hot_c: humidity.map_or(air_c, |humidity| heat_index_c(air_c, humidity)),
        }
    };
    let mut out = Vec::new();
    for day in scene.days(&stay.setups) {
        let here = |slot: &&Slot| stay.setups.iter().any(|setup| setup.id == slot.setup);
        let slots: Vec<&Slot> = day.order.iter().filter(here).collect();
        let before = out.len();
        for (nth, hour) in day.air.iter().enumerate() {
            let until = day.air.get(nth + 1).map(|next| next.from);
            let meets =
                |slot: &&Slot| slot.end > hour.from && until.is_none_or(|until| slot.start < until);
            if slots.iter().any(meets) {
                let (wind, humidity) = (hour.wind_m_s, hour.humidity_percent);
                out.push(felt(day, Some(hour.from), hour.air_c, wind, humidity));
            }
        }
        if out.len() == before
            && let Some(air_c) = day.air_c
        {
            out.push(felt(day, None, air_c, None, None));
        }
    }
    out
}

/// Heat index, degrees Celsius: the regression of the US National Weather Service (Rothfusz 1990) with its
/// corrections for dry and for very moist air, and its simple form below 80 °F. `humidity` is relative, percent.
pub fn heat_index_c(air_c: f64, humidity: f64) -> f64 {
    let (t, r) = (air_c * 1.8 + 32.0, humidity);
    let simple = 0.5 * (t + 61.0 + (t - 68.0) * 1.2 + r * 0.094);
    let mean = (simple + t) / 2.0;
    if mean.is_nan() || mean < 80.0 {
        return if t < 40.0 { air_c } else { (mean - 32.0) / 1.8 };
    }
    let mut index = -42.379 + 2.049_015_23 * t + 10.143_331_27 * r
        - 0.224_755_41 * t * r
        - 0.006_837_83 * t * t
        - 0.054_817_17 * r * r
        + 0.001_228_74 * t * t * r
        + 0.000_852_82 * t * r * r
        - 0.000_001_99 * t * t * r * r;
    if r < 13.0 && (80.0..=112.0).contains(&t) {
        index -= (13.0 - r) / 4.0 * ((17.0 - (t - 95.0).abs()) / 17.0).sqrt();
    } else if r > 85.0 && (80.0..=87.0).contains(&t) {
        index += (r - 85.0) / 10.0 * (87.0 - t) / 5.0;
    }
    (index - 32.0) / 1.8
}

/// One decimal, and none where it is nought.
fn tenth(value: f64) -> String {
    number((value * 10.0).round() / 10.0)
}

fn cold<'a>(scene: &Scene<'a>, stay: &Stay<'a>, cautions: &mut Vec<Caution>) {
    let mut met: Vec<Felt> = air(scene, stay);
    met.retain(|felt| stay.outdoors() && felt.cold_c <= scene.practice.cold_c);
    let coldest = met.iter().min_by(|a, b| a.cold_c.total_cmp(&b.cold_c));
    let mut says = match coldest {
        Some(felt) => {
            let mut says = format!(
                "{} °C are expected at {}{}",
                number(felt.air_c),
                stay.name(),
                felt.hour()
            );
            if let Some(wind) = felt.wind_m_s
                && felt.cold_c < felt.air_c
            {
                says += &format!(
                    ", which feels like {} °C in {} m/s of wind",
                    tenth(felt.cold_c),
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
    if coldest.is_some_and(|felt| felt.cold_c <= scene.practice.frostbite_c) {
        says += "; bare skin can freeze within half an hour";
    }
    says += &format!(" ({}).", setups_called(&stay.setups));
    let mut caution = scene.caution(Kind::Cold, stay, &stay.setups, Vec::new(), says, &COLD);
    if coldest.is_some() {
        told_of(&mut caution, &met);
    }
    cautions.push(caution);
}

/// Leaves the days alone in which it is felt.
fn told_of(caution: &mut Caution, met: &[Felt]) {
    let about = &mut caution.finding.about;
    about.retain(|noun| !matches!(noun, About::Day(_)));
    let mut days: Vec<About> = met.iter().map(|felt| About::from(&felt.day.id)).collect();
    days.dedup();
    about.append(&mut days);
}

fn heat<'a>(scene: &Scene<'a>, stay: &Stay<'a>, cautions: &mut Vec<Caution>) {
    let mut met: Vec<Felt> = air(scene, stay);
    met.retain(|felt| felt.hot_c >= scene.practice.heat_c);
    let hottest = met.iter().max_by(|a, b| a.hot_c.total_cmp(&b.hot_c));
    let says = match hottest {
        Some(felt) => {
            let feels = match felt.hot_c > felt.air_c {
                true => format!(
                    "; so moist they feel like {} °C, and full sun adds to it",
                    tenth(felt.hot_c)
                ),
                false => "; moist air and full sun feel hotter".into(),
            };
            format!(
                "{} °C are expected at {}{} ({}){feels}.",
                number(felt.air_c),
                stay.name(),
                felt.hour(),
                setups_called(&stay.setups)
            )
        }
        None if !stay.all(Danger::Heat).is_empty() => format!(
            "Heat is written down as a danger at {} ({}).",
            stay.name(),
            setups_called(&stay.setups)
        ),
        None => return,
    };
    let mut caution = scene.caution(Kind::Heat, stay, &stay.setups, Vec::new(), says, &HOT);
    if hottest.is_some() {
        told_of(&mut caution, &met);
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
    source: Practice::NOUN.source("wind_lower_m_s"),
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
    source: Practice::NOUN.source("frostbite_c"),
    bring: &["blanket", "hot drink"],
};

const HOT: Words = Words {
    done: &[
        "Shade, and water before thirst: about a cup every 15 to 20 minutes.",
        "Rest by the clock; heavy carrying in the morning or evening.",
        "Confusion, no sweat, hot skin: call for help at once, cool the person meanwhile.",
    ],
    ask: "The weather service for the heat index; a doctor where somebody is ill or with child.",
    source: Practice::NOUN.source("heat_c"),
    bring: &["drinking water", "shade"],
};
