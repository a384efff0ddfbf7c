//! The plan of the demo's video: one evening and night in Porto, at invented addresses.

use crate::compose::Composed;
use model::{
    Brief, Danger, FrameRate, Framing, Hazard, Idea, Leave, Mains, NoteId, Permission, Person,
    PersonId, Place, PlaceId, Project, Purpose, Reading, Reference, Setup, SetupId, Stretch,
    Travel, Wish, WishId,
};
use model::{Fit, LyricLine};

/// The plan: brief, places, people, setups, wishes and ideas. `song` is left empty, as the
/// caller knows where the song file lies; its words are in [`lyric_lines`].
pub fn plan(composed: &Composed) -> Project {
    let section = |name: &str| {
        composed
            .truth
            .sections
            .iter()
            .find(|section| section.name == name)
            .and_then(|section| Stretch::between_seconds(section.start_s, section.end_s))
    };
    Project {
        title: composed.truth.title.clone(),
        brief: Brief {
            artist: composed.truth.artist.clone(),
            agreed: "One video of the whole song, shot in one evening and night. Two rounds of changes. \
                     The fee pays for everything that has to be hired."
                .to_string(),
            fee_minor: Some(190_000),
            currency: Some("EUR".to_string()),
            due: Some("2026-12-18".to_string()),
            rate: FrameRate::FPS_25,
            frame: [1280, 720],
            active: Some([4, 3]),
            fit: Fit::Crop,
            extra: Default::default(),
        },
        ideas: ideas(section("intro"), section("bridge"), section("last chorus")),
        references: vec![
            reference("paper-boats", "A folded newspaper boat, wet at the keel: the colour of her coat and the grain of the picture."),
            reference("one-bulb", "Kitchens at night seen from the street: one bulb, everything else ink."),
        ],
        places: places(),
        people: vec![
            person("Ilse Quarry", "singer"),
            person("Tomé Valadas", "lends his launderette after closing, and its socket"),
            person("Noor Abelin", "throws powder, holds the second light, watches the quay's edge"),
        ],
        states: vec!["clean".to_string(), "powdered".to_string()],
        setups: setups()
            .into_iter()
            .map(crate::kit::equipped)
            .map(crate::kit::timed)
            .collect(),
        kit: crate::kit::kit(),
        days: crate::kit::days(),
        wishes: wishes(),
        ..Project::default()
    }
}

/// The words of the song as lines of the document, with their times when `timed`.
pub fn lyric_lines(composed: &Composed, timed: bool) -> Vec<LyricLine> {
    composed
        .truth
        .lyrics
        .iter()
        .map(|(start_s, end_s, text)| LyricLine {
            at: timed
                .then(|| Stretch::between_seconds(*start_s, *end_s))
                .flatten(),
            text: text.clone(),
            extra: Default::default(),
        })
        .collect()
}

fn ideas(intro: Option<Stretch>, bridge: Option<Stretch>, last: Option<Stretch>) -> Vec<Idea> {
    [
        (
            "one-bulb-first",
            intro,
            "Begin on the bare bulb and nothing else; she comes in with the first word.",
        ),
        (
            "drums-turn",
            None,
            "The drums of the machines turn at the song's tempo, near enough to hurt.",
        ),
        (
            "slow-on-the-quay",
            bridge,
            "On the quay she moves at half speed and the water with her, but her lips fit.",
        ),
        (
            "colour-at-last",
            last,
            "No strong colour anywhere until the last chorus; then all of it at once.",
        ),
    ]
    .into_iter()
    .filter_map(|(id, at, text)| {
        Some(Idea {
            id: NoteId::new(id).ok()?,
            at,
            text: text.to_string(),
            extra: Default::default(),
        })
    })
    .collect()
}

fn reference(id: &str, text: &str) -> Reference {
    Reference {
        id: note(id),
        source: String::new(),
        text: text.to_string(),
        extra: Default::default(),
    }
}

fn person(name: &str, role: &str) -> Person {
    Person {
        role: role.to_string(),
        ..Person::new(person_id(name), name)
    }
}

fn person_id(name: &str) -> PersonId {
    PersonId::new(model::upgrade::slug(name, "person")).expect("made of small letters and dashes")
}

/// Who is seen.
pub(crate) fn cast() -> Vec<PersonId> {
    ["Ilse Quarry", "Noor Abelin"].map(person_id).to_vec()
}

const POWER: &str = "Electricity near water and wet floors: keep stands, batteries, inverter and every connector off the floor \
     and away from splashes; run mains only through a residual-current device; have the venue or a qualified electrician say what its circuit bears.";
const CABLES: &str =
    "Cables: along walls, taped down or matted where people walk, never across the door.";
const STAIRS: &str = "Stairs, damp and steep: nobody walks backwards with the camera, a second person spots, a way through stays free for residents.";
const TRAFFIC: &str = "Public way: ask the city what permission and insurance a small crew needs; nothing stands where people or cars must pass.";
const QUAY: &str = "Water at night: two metres from the edge unless somebody holds on, nobody works here alone, a throw line and a light at hand; \
     cold water takes the breath within a minute. Call 112 first.";
const POWDER: &str = "Powder: only what is sold for throwing at people, with its data sheet read; eyes and lungs covered for those who throw, \
     eyewash at hand, none near flames, hot lamps or open electrics (fine dust can ignite), not on water or into drains without leave; ask first about asthma.";
const NIGHT: &str = "Hours: agree the end before the start, eat, and let nobody drive home tired.";

fn places() -> Vec<Place> {
    vec![
        Place {
            interior: Some(false),
            public: Some(true),
            bearing_deg: Some(215.0),
            // Houses on both sides; open down the steps to the river in the south-west.
            horizon_deg: vec![
                [0.0, 38.0],
                [60.0, 42.0],
                [120.0, 40.0],
                [180.0, 22.0],
                [215.0, 6.0],
                [250.0, 20.0],
                [300.0, 40.0],
            ],
            hazards: vec![
                hazard(Danger::Stairs, None, None),
                hazard(Danger::Lonely, None, None),
            ],
            permission: permission(Leave::Asked, "the city's film office"),
            noise: "A tram bell twice an hour.".to_string(),
            readings: vec![metered(9.0, "17:35", "A face in the middle of the steps.")],
            travel: vec![travel("launderette", 20), travel("quay", 15)],
            ..place(
                "stairway",
                "Escadas do Avesso",
                "Escadas do Avesso 3 (invented), Porto",
                [41.1432, -8.6151],
                &[STAIRS, TRAFFIC],
                "Blue hour only; the tiles go grey within half an hour.",
            )
        },
        Place {
            interior: Some(true),
            public: Some(false),
            mains: Some(Mains {
                volts: 230.0,
                amperes: 10.0,
                residual_current_device: Some(true),
                remark: "The socket by the soap machine; Tomé says so.".to_string(),
                extra: Default::default(),
            }),
            access: "19:30"
                .parse()
                .ok()
                .zip("22:30".parse().ok())
                .map(|(open, close)| [open, close])
                .into_iter()
                .collect(),
            hazards: vec![hazard(Danger::Water, Some(1.0), None)],
            permission: permission(Leave::Promised, "Tomé Valadas"),
            noise: "The machines, if they run.".to_string(),
            travel: vec![travel("stairway", 20), travel("quay", 25)],
            ..place(
                "launderette",
                "Lavandaria Meia-Luz",
                "Rua do Papel Molhado 41 (invented), Porto",
                [41.1489, -8.6063],
                &[POWER, CABLES, NIGHT],
                "Lent by a friend after closing. Five machines may run.",
            )
        },
        Place {
            interior: Some(false),
            public: Some(true),
            hazards: vec![
                hazard(Danger::Edge, Some(2.0), None),
                hazard(Danger::Water, Some(2.0), Some(14.0)),
                hazard(Danger::Cold, None, None),
            ],
            permission: permission(Leave::Unasked, "the harbour office"),
            readings: vec![metered(3.0, "21:45", "A face below the third lamp.")],
            travel: vec![travel("stairway", 15), travel("launderette", 25)],
            ..place(
                "quay",
                "Cais da Tinta",
                "Cais da Tinta, below the third lamp (invented), Porto",
                [41.1402, -8.6186],
                &[QUAY, POWER, TRAFFIC],
                "Powder last: the coat does not come clean.",
            )
        },
    ]
}

fn hazard(danger: Danger, distance_m: Option<f64>, water_c: Option<f64>) -> Hazard {
    Hazard {
        danger,
        distance_m,
        water_c,
        wind_m_s: None,
        remark: String::new(),
        extra: Default::default(),
    }
}

fn metered(lux: f64, at: &str, remark: &str) -> Reading {
    Reading {
        lux,
        at: at.parse().ok(),
        kelvin: None,
        remark: remark.to_string(),
        extra: Default::default(),
    }
}

fn permission(leave: Leave, who: &str) -> Option<Permission> {
    Some(Permission {
        leave,
        who: who.to_string(),
        cost_minor: None,
        paper: String::new(),
        extra: Default::default(),
    })
}

fn travel(to: &str, minutes: u32) -> Travel {
    Travel {
        to: place_id(to),
        minutes,
        extra: Default::default(),
    }
}

fn place(
    id: &str,
    name: &str,
    address: &str,
    position_deg: [f64; 2],
    cautions: &[&str],
    remark: &str,
) -> Place {
    Place {
        address: address.to_string(),
        position_deg: Some(position_deg),
        zone: Some("Europe/Lisbon".to_string()),
        mains_hz: Some(50),
        hospital: "Call 112; the hospital's name and way are to be written here.".to_string(),
        cautions: owned(cautions),
        remark: remark.to_string(),
        ..Place::new(place_id(id), name)
    }
}

fn setups() -> Vec<Setup> {
    use Framing::{Close, Detail, Full, Medium, Wide};
    let all = |id, name, at, framing, passes, action: &str, cautions: &[&str]| Setup {
        framing,
        passes,
        ..setup(id, name, at, action, cautions)
    };
    let extra = |id, name, at, framing, action: &str, cautions: &[&str]| Setup {
        purpose: Purpose::BRoll,
        framing,
        passes: 2,
        ..setup(id, name, at, action, cautions)
    };
    vec![
        Setup {
            must: true,
            ..all(
                "stairs-medium",
                "Stairs, waist up",
                "stairway",
                Medium,
                3,
                "She sings to the lens, the stairway climbing behind her into the last of the sky.",
                &[STAIRS],
            )
        },
        Setup {
            must: true,
            ..all(
                "launderette-wide",
                "Launderette, all of it",
                "launderette",
                Wide,
                3,
                "She stands before the running machines under the one bulb.",
                &[POWER, CABLES],
            )
        },
        Setup {
            must: true,
            ..all(
                "launderette-close",
                "Before the drum",
                "launderette",
                Close,
                3,
                "Head and shoulders, the turning drum a halo behind her.",
                &[POWER],
            )
        },
        Setup {
            shot_rate: FrameRate::new(50, 1),
            ..all(
                "quay-full",
                "Quay, head to foot",
                "quay",
                Full,
                3,
                "Head to foot under a bulb over the quay; playback at double speed, shown at half.",
                &[QUAY, POWER],
            )
        },
        Setup {
            state: 1,
            must: true,
            sections: names(&["bridge", "last chorus", "outro"]),
            ..all(
                "quay-powder",
                "Quay, powder",
                "quay",
                Medium,
                3,
                "Powder from below the frame, one colour at a time; she does not stop singing.",
                &[POWDER, QUAY],
            )
        },
        extra(
            "drum",
            "A drum turning",
            "launderette",
            Detail,
            "One round window fills the frame.",
            &[POWER],
        ),
        extra(
            "bulb",
            "The bulb",
            "launderette",
            Detail,
            "The bare bulb swings on its cord before the tiles.",
            &[
                "A bare bulb is hot: let it cool before touching, nothing that burns near it; its cord and holder whole.",
            ],
        ),
        extra(
            "lamps",
            "Street lamps",
            "stairway",
            Wide,
            "Lamps down the street, out of focus.",
            &[TRAFFIC],
        ),
        extra(
            "water",
            "Light on the water",
            "quay",
            Wide,
            "Lamplight drawn out on the river.",
            &[QUAY],
        ),
        Setup {
            state: 1,
            shot_rate: FrameRate::new(50, 1),
            sections: names(&["bridge", "last chorus", "outro"]),
            ..extra(
                "powder-burst",
                "Powder alone",
                "quay",
                Detail,
                "Handfuls of powder against the dark.",
                &[POWDER, QUAY],
            )
        },
    ]
}

fn setup(id: &str, name: &str, at: &str, action: &str, cautions: &[&str]) -> Setup {
    Setup {
        name: name.to_string(),
        place: Some(place_id(at)),
        action: action.to_string(),
        cautions: owned(cautions),
        ..Setup::new(setup_id(id))
    }
}

fn wishes() -> Vec<Wish> {
    let wish = |section: &str, setups: &[&str], purpose, shot_beats| Wish {
        id: WishId::new(model::upgrade::slug(section, "wish"))
            .expect("made of small letters and dashes"),
        section: section.to_string(),
        setups: setups.iter().map(|id| setup_id(id)).collect(),
        purpose,
        shot_beats,
        options: Some(3),
        extra: Default::default(),
    };
    vec![
        wish("intro", &["bulb", "lamps"], Some(Purpose::BRoll), Some(8.0)),
        wish(
            "verse 1",
            &["launderette-wide", "launderette-close"],
            None,
            None,
        ),
        wish(
            "chorus 1",
            &["stairs-medium"],
            Some(Purpose::Performance),
            None,
        ),
        wish("verse 2", &["stairs-medium"], None, None),
        wish("bridge", &["quay-full", "water"], None, Some(8.0)),
        wish(
            "last chorus",
            &["quay-powder", "powder-burst"],
            None,
            Some(3.0),
        ),
        wish("outro", &["quay-powder"], None, Some(8.0)),
    ]
}

fn names(names: &[&str]) -> Vec<String> {
    owned(names)
}

fn owned(texts: &[&str]) -> Vec<String> {
    texts.iter().map(|text| (*text).to_string()).collect()
}

// The ids below are written in this file and tested: each is a fit id.
fn note(id: &str) -> NoteId {
    NoteId::new(id).unwrap_or_else(|why| unreachable!("{why}"))
}

fn place_id(id: &str) -> PlaceId {
    PlaceId::new(id).unwrap_or_else(|why| unreachable!("{why}"))
}

fn setup_id(id: &str) -> SetupId {
    SetupId::new(id).unwrap_or_else(|why| unreachable!("{why}"))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::compose::sample;

    #[test]
    fn the_plan_holds_together_and_can_be_written() {
        let composed = sample();
        let plan = plan(composed);
        assert_eq!(plan.brief.fee_minor, Some(190_000));
        for setup in &plan.setups {
            assert!(
                plan.places
                    .iter()
                    .any(|place| Some(&place.id) == setup.place.as_ref())
            );
            assert!((setup.state as usize) < plan.states.len());
            assert!(!setup.cautions.is_empty(), "{}", setup.id);
            for name in &setup.sections {
                assert!(
                    composed
                        .truth
                        .sections
                        .iter()
                        .any(|section| section.name == *name),
                    "{name}"
                );
            }
        }
        for wish in &plan.wishes {
            assert!(
                composed
                    .truth
                    .sections
                    .iter()
                    .any(|section| section.name == wish.section)
            );
            for id in &wish.setups {
                assert!(plan.setup(id).is_some(), "{id}");
            }
        }
        assert_eq!(plan.ideas.len(), 4);
        assert_eq!(model::validate::problems(&plan), []);
        for setup in &plan.setups {
            assert!(setup.optics.is_some(), "{}", setup.id);
        }
        let text = serde_json::to_string(&plan).unwrap();
        assert_eq!(serde_json::from_str::<Project>(&text).unwrap(), plan);
        let lines = lyric_lines(composed, true);
        assert!(lines.iter().all(|line| line.at.is_some()));
        assert!(
            lyric_lines(composed, false)
                .iter()
                .all(|line| line.at.is_none())
        );
    }
}
