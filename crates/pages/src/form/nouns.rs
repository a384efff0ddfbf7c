//! How each noun of the document is asked for. Words are the trade's (`docs/terms.md`); units stand in the labels.

use super::Source::{Cameras, Filters, Kit, Lenses, Lights, People, Places, Power, Setups, States};
use super::{Ask, Field, field};

type Words = &'static [(&'static str, &'static str)];

const FRAMINGS: Words = &[
    ("wide", "wide"),
    ("full", "full"),
    ("medium", "medium"),
    ("close", "close"),
    ("detail", "detail"),
];
const PURPOSES: Words = &[
    ("performance", "performance to playback"),
    ("b-roll", "b-roll"),
];
const SKY_LIGHTS: Words = &[
    ("day", "day"),
    ("direct-sun", "direct sun"),
    ("shade", "shade"),
    ("golden-hour", "golden hour"),
    ("blue-hour", "blue hour"),
    ("night", "night"),
    ("full-dark", "full dark"),
];
const MOUNTS: Words = &[
    ("", "not said"),
    ("hand", "in the hand"),
    ("tripod", "tripod"),
    ("stabiliser", "stabiliser"),
    ("rigged", "rigged to something"),
    ("vehicle", "on a vehicle"),
    ("overhead", "overhead"),
];
const EFFECTS: Words = &[
    ("powder", "powder"),
    ("flame", "flame"),
    ("smoke", "smoke"),
    ("wet", "wet"),
    ("in-water", "in water"),
    ("breakage", "something breaks"),
];
const FALLS_ON: Words = &[
    ("face", "the face"),
    ("background", "the background"),
    ("both", "both"),
    ("edge", "an edge"),
];
const LEAVES: Words = &[
    ("unasked", "not asked yet"),
    ("asked", "asked"),
    ("promised", "promised"),
    ("granted", "granted"),
    ("refused", "refused"),
    ("not-needed", "not needed"),
];
const DANGERS: Words = &[
    ("water", "water"),
    ("edge", "an edge"),
    ("stairs", "stairs"),
    ("traffic", "traffic"),
    ("wind", "wind"),
    ("fire", "fire"),
    ("air", "bad air"),
    ("lonely", "lonely at night"),
    ("heat", "heat"),
    ("cold", "cold"),
];
const SORTS: Words = &[
    ("other", "other"),
    ("camera", "camera"),
    ("lens", "lens"),
    ("filter", "filter"),
    ("support", "support"),
    ("light", "light"),
    ("power", "power"),
    ("adapter", "adapter"),
    ("card", "card"),
    ("sound", "sound"),
    ("safety", "safety"),
    ("wardrobe", "wardrobe"),
    ("make-up", "make-up"),
    ("prop", "prop"),
    ("vehicle", "vehicle"),
];
const HOLDINGS: Words = &[
    ("own", "own"),
    ("borrowed", "borrowed"),
    ("rented", "rented"),
    ("bought", "to be bought"),
    ("missing", "missing: nobody has it yet"),
];
const CHEMISTRIES: Words = &[
    ("lithium-ion", "lithium-ion"),
    ("lithium-iron-phosphate", "lithium iron phosphate"),
    ("nickel-metal-hydride", "nickel–metal hydride"),
    ("lead-acid", "lead-acid"),
];
const RATINGS: Words = &[
    ("unrated", "not rated"),
    ("circled", "circled"),
    ("usable", "usable"),
    ("no-good", "no good"),
];
const READOUTS: Words = &[("rolling", "rolling shutter"), ("global", "global shutter")];
const FITS: Words = &[
    ("crop", "crop to fill it"),
    ("inside", "all of it inside, bars at the edges"),
];
const RATES: Words = &[
    ("25", "25"),
    ("24", "24"),
    ("24000/1001", "23.976"),
    ("30000/1001", "29.97"),
    ("30", "30"),
    ("50", "50"),
    ("60000/1001", "59.94"),
    ("60", "60"),
];

/// The brief.
pub const BRIEF: &[Field] = &[
    field("artist", "Artist", Ask::Line),
    field("agreed", "What was agreed", Ask::Text),
    field("fee_minor", "Fee", Ask::Money).hint("It pays for everything that has to be hired."),
    field("currency", "Currency", Ask::Line).hint("Three letters (ISO 4217), such as EUR."),
    field("due", "Due", Ask::Date),
    field("rate", "Frames a second", Ask::OneOf(RATES)),
    field("frame", "Frame, pixels", Ask::Two).hint("Width and height, such as 1920 × 1080."),
    field("active", "Aspect inside the frame", Ask::Two)
        .hint("Such as 4, 3. Empty: the whole frame."),
    field("fit", "A take of another shape is shown", Ask::OneOf(FITS)).later(),
];

/// An idea.
pub const IDEA: &[Field] = &[
    field("text", "Idea", Ask::Text),
    field("at", "Where in the song", Ask::Stretch).hint("Such as 0:12.5–0:20. Empty: anywhere."),
];

/// A reference.
pub const REFERENCE: &[Field] = &[
    field("text", "What it shows", Ask::Text),
    field("source", "Where it is from", Ask::Line),
];

/// A person.
pub const PERSON: &[Field] = &[
    field("name", "Name", Ask::Line),
    field("role", "What they do", Ask::Line),
    field("contact", "How to reach them", Ask::Line),
    field("hours", "Hours they can be there", Ask::Hours)
        .hint("Such as 18:00–26:00. Empty: always."),
    field(
        "minor",
        "Under age: local law sets the hours and who must be there",
        Ask::Tick,
    ),
];

/// What a section wants.
pub const WISH: &[Field] = &[
    field("section", "Section", Ask::Line)
        .hint("Its letter, its letter and number (B2), or what you call it."),
    field(
        "options",
        "Different setups each bar should have",
        Ask::Whole,
    ),
    field(
        "setups",
        "Setups it should be cut with",
        Ask::AnyOfThe(Setups),
    ),
    field(
        "purpose",
        "Cut with",
        Ask::OneOf(&[
            ("", "anything"),
            ("performance", "performance"),
            ("b-roll", "b-roll"),
        ]),
    ),
    field("shot_beats", "Length of a shot, beats", Ask::Number),
];

/// A place.
pub const PLACE: &[Field] = &[
    field("name", "Name", Ask::Line),
    field("address", "Address", Ask::Line),
    field("position_deg", "Position, degrees", Ask::Two).hint(
        "Latitude and longitude, such as 41.1432, -8.6151. Photographs that hold one fill it in.",
    ),
    field("zone", "Time zone", Ask::Line).hint("Its IANA name, such as Europe/Lisbon."),
    field("interior", "Indoors", Ask::Maybe),
    field("access", "Hours one may be there", Ask::Hours)
        .hint("Such as 21:00–26:00. Empty: always."),
    field(
        "permission",
        "Leave to be there",
        Ask::Inside(&[
            field("leave", "Stands at", Ask::OneOf(LEAVES)),
            field("who", "Who gives it", Ask::Line),
            field("cost_minor", "What it costs", Ask::Money),
            field("paper", "Where it is written", Ask::Line),
        ]),
    ),
    field(
        "travel",
        "Ways from here",
        Ask::Many(
            &[
                field("to", "To", Ask::Of(Places)),
                field("minutes", "Minutes", Ask::Whole),
            ],
            "way",
        ),
    ),
    field(
        "hazards",
        "What can hurt here",
        Ask::Many(
            &[
                field("danger", "Danger", Ask::OneOf(DANGERS)),
                field("distance_m", "Metres from the set", Ask::Number),
                field("water_c", "Water, °C", Ask::Number),
                field("wind_m_s", "Wind, m/s", Ask::Number),
                field("remark", "Remark", Ask::Line),
            ],
            "danger",
        ),
    ),
    field("hospital", "Nearest hospital, and the way there", Ask::Line),
    field(
        "readings",
        "Light measured",
        Ask::Many(
            &[
                field("lux", "Lux", Ask::Number),
                field("at", "At", Ask::Clock),
                field("kelvin", "Kelvin", Ask::Number),
                field("remark", "Where", Ask::Line),
            ],
            "reading",
        ),
    ),
    field("horizon_deg", "What stands around it", Ask::Pairs)
        .hint("Azimuth and elevation in degrees, such as 90 12, 180 5.")
        .later(),
    field(
        "bearing_deg",
        "The street looks towards, degrees from north",
        Ask::Number,
    )
    .later(),
    field("public", "Public", Ask::Maybe).later(),
    field(
        "mains",
        "Mains",
        Ask::Inside(&[
            field("volts", "Volts", Ask::Number),
            field("amperes", "Amperes at one socket", Ask::Number),
            field(
                "residual_current_device",
                "Residual-current device",
                Ask::Maybe,
            ),
            field("remark", "Remark", Ask::Line),
        ]),
    )
    .later(),
    field("mains_hz", "Mains frequency, Hz", Ask::Whole).later(),
    field("noise", "Noise", Ask::Line).later(),
    field("cautions", "Cautions of your own", Ask::Lines)
        .hint("One a line.")
        .later(),
    field("remark", "Remark", Ask::Text).later(),
];

/// A thing of the kit.
pub const KIT: &[Field] = &[
    field("name", "Name", Ask::Line),
    field("sort", "Sort", Ask::OneOf(SORTS)),
    field("count", "How many", Ask::Count),
    field("holding", "Whose", Ask::OneOf(HOLDINGS)),
    field("from", "From whom", Ask::Line),
    field("cost_minor", "What it costs", Ask::Money),
    field("back_by", "Back by", Ask::Date),
    field("weight_kg", "Weight of one, kg", Ask::Number),
    field("always", "Always comes along", Ask::Tick),
    field(
        "light",
        "As a light",
        Ask::Inside(&[
            field("candela", "Candela in its middle", Ask::Number).hint("Lux at one metre."),
            field("full_w", "Watts at full", Ask::Number),
            field("least_level", "Lowest level, 0 to 1", Ask::Number),
            field("least_w", "Watts at lowest", Ask::Number),
            field("kelvin", "Kelvin", Ask::Number),
            field("duv", "Duv", Ask::Number),
            field("pulses_hz", "Pulses, Hz", Ask::Number),
            field("follows_mains", "Flickers with the mains", Ask::Tick),
            field("size_m", "Size, m", Ask::Number),
            field("hot", "Gets hot", Ask::Tick),
        ]),
    )
    .later(),
    field(
        "battery",
        "As a battery",
        Ask::Inside(&[
            field("wh", "Watt-hours", Ask::Number),
            field("chemistry", "Chemistry", Ask::OneOf(CHEMISTRIES)),
            field("usable", "Usable share, 0 to 1", Ask::Number),
            field("charged", "Charged at the call, 0 to 1", Ask::Number),
            field("most_w", "Watts it gives at most", Ask::Number),
            field("charge_w", "Watts it charges at", Ask::Number),
            field("built_in", "Built in", Ask::Tick),
        ]),
    )
    .later(),
    field(
        "camera",
        "As a camera",
        Ask::Inside(&[
            field("sensor_mm", "Sensor, mm", Ask::Two)
                .hint("Width and height, such as 23.5 × 15.6."),
            field("frame", "Frame, pixels", Ask::Two),
            field("readout", "Shutter", Ask::OneOf(READOUTS)),
            field("base_iso", "Base ISO", Ask::Numbers),
            field("most_iso", "Highest ISO you would use", Ask::Whole),
            field("draws_w", "Watts it draws", Ask::Number),
            field("circle_mm", "Circle of confusion, mm", Ask::Number),
            field(
                "recordings",
                "What it records",
                Ask::Many(
                    &[
                        field("name", "Name", Ask::Line),
                        field("rate", "Frames a second", Ask::Line),
                        field("mbit_s", "Mbit/s", Ask::Number),
                    ],
                    "recording",
                ),
            ),
        ]),
    )
    .later(),
    field(
        "lens",
        "As a lens",
        Ask::Inside(&[
            field("focal_mm", "Focal length from, to, mm", Ask::Two)
                .hint("A prime: the same twice."),
            field("t_stop", "Widest T-stop", Ask::Number),
            field("narrowest_t", "Narrowest T-stop", Ask::Number),
            field("f_number", "f-number", Ask::Number),
            field("close_focus_m", "Close focus, m", Ask::Number),
        ]),
    )
    .later(),
    field(
        "filter",
        "As a filter",
        Ask::Inside(&[
            field("stops", "Stops it takes", Ask::Number),
            field("mired", "Mired shift", Ask::Number),
            field("diffusion", "Diffusion", Ask::Tick),
        ]),
    )
    .later(),
    field(
        "inverter",
        "As an inverter",
        Ask::Inside(&[
            field("efficiency", "Efficiency, 0 to 1", Ask::Number),
            field("idle_w", "Watts idle", Ask::Number),
            field("most_w", "Watts at most", Ask::Number),
        ]),
    )
    .later(),
    field(
        "charger",
        "As a charger",
        Ask::Inside(&[
            field("into_w", "Watts into one battery", Ask::Number),
            field("bays", "Bays", Ask::Whole),
            field("efficiency", "Efficiency, 0 to 1", Ask::Number),
        ]),
    )
    .later(),
    field(
        "card",
        "As a card",
        Ask::Inside(&[
            field("gigabytes", "Gigabytes", Ask::Number),
            field("reads_mb_s", "Reads, MB/s", Ask::Number),
            field("writes_mb_s", "Writes, MB/s", Ask::Number),
            field("for_copies", "For copies", Ask::Tick),
        ]),
    )
    .later(),
    field("fed_by", "Fed by", Ask::Words)
        .hint("Connectors, such as V-mount, mains.")
        .later(),
    field("feeds", "Feeds", Ask::Words).later(),
    field("draws_w", "Watts it draws", Ask::Number).later(),
    field(
        "states",
        "For these states of the performer",
        Ask::AnyOfThe(States),
    )
    .later(),
    field("remark", "Remark", Ask::Text).later(),
];

/// A setup.
pub const SETUP: &[Field] = &[
    field("name", "Name", Ask::Line),
    field("place", "Place", Ask::Of(Places)),
    field("purpose", "For", Ask::OneOf(PURPOSES)),
    field("framing", "Framing", Ask::OneOf(FRAMINGS)),
    field("sections", "Sections", Ask::Words).hint("Letters or names, such as B, chorus 1. With no sections, bars or stretches: the whole song."),
    field("bars", "Bars", Ask::Bars).hint("Such as 9–16, 25."),
    field("passes", "Passes", Ask::Count),
    field("must", "The day can't do without it", Ask::Tick),
    field("state", "State of the performer", Ask::FirstOf(States)),
    field("action", "What happens", Ask::Text),
    field("optics", "Camera", Ask::Inside(&[
        field("camera", "Camera", Ask::Of(Cameras)),
        field("lens", "Lens", Ask::Of(Lenses)),
        field("focal_mm", "Focal length, mm", Ask::Number),
        field("t_stop", "T-stop", Ask::Number),
        field("iso", "ISO", Ask::Whole),
        field("shutter_deg", "Shutter, degrees", Ask::Number),
        field("subject_m", "Metres to the subject", Ask::Number),
        field("room_m", "Metres of room", Ask::Number),
        field("fed_from", "Fed from", Ask::Of(Power)),
    ])).later(),
    field("filters", "Filters", Ask::AnyOfThe(Filters)).later(),
    field("lights", "Lights", Ask::Many(&[
        field("light", "Light", Ask::Of(Lights)),
        field("falls_on", "Falls on", Ask::OneOf(FALLS_ON)),
        field("distance_m", "Metres away", Ask::Number),
        field("level", "Level, 0 to 1", Ask::Number),
        field("loss_stops", "Stops lost in front of it", Ask::Number),
        field("gel_mired", "Gel, mired", Ask::Number),
        field("fed_from", "Fed from", Ask::Of(Power)),
    ], "light")).later(),
    field("ambient", "Light that is there", Ask::Inside(&[
        field("face_lux", "On the face, lux", Ask::Number),
        field("background_lux", "On the background, lux", Ask::Number),
        field("kelvin", "Kelvin", Ask::Number),
        field("duv", "Duv", Ask::Number),
    ])).hint("Empty: from the place's readings and photographs.").later(),
    field("face_stops", "Face, stops from middle grey", Ask::Number).later(),
    field("background_stops", "Background, stops from middle grey", Ask::Number).later(),
    field("light_of", "Light of the sky it needs", Ask::AnyOf(SKY_LIGHTS)).later(),
    field("moon", "The moon must be up", Ask::Tick).later(),
    field("hours", "Hours it can be shot in", Ask::Hours).later(),
    field("after", "Only after", Ask::AnyOfThe(Setups)).later(),
    field("people", "Who is needed", Ask::AnyOfThe(People)).later(),
    field("shot_rate", "Camera, frames a second", Ask::Line).hint("When it differs from the video's: the song is played faster or slower.").later(),
    field("pitch_kept", "Playback keeps its pitch", Ask::TickedUnlessSaid).later(),
    field("timecode", "Timecode on the playback's right side", Ask::Tick).later(),
    field("stretches", "Stretches of the song", Ask::Stretches).hint("Such as 0:12.5–0:20.").later(),
    field("rig_minutes", "Minutes to rig", Ask::Whole).later(),
    field("rig_group", "Shares a rig with setups of the group", Ask::Line).later(),
    field("relight_minutes", "Minutes to relight within the group", Ask::Whole).later(),
    field("reset_minutes", "Minutes between passes", Ask::Whole).later(),
    field("mount", "Camera is", Ask::OneOf(MOUNTS)).later(),
    field("effects", "Effects", Ask::AnyOf(EFFECTS)).later(),
    field("kit", "Other kit", Ask::Many(&[
        field("item", "What", Ask::Of(Kit)),
        field("count", "How many", Ask::Count),
        field("fed_from", "Fed from", Ask::Of(Power)),
    ], "thing")).later(),
    field("cautions", "Cautions of your own", Ask::Lines).hint("One a line.").later(),
];

/// A day.
pub const DAY: &[Field] = &[
    field("date", "Date", Ask::Date),
    field("call", "Call", Ask::Clock)
        .hint("Hours and minutes. 26:30 is half past two in the following morning."),
    field("latest_wrap", "Wrap at the latest", Ask::Clock),
    field("zone", "Time zone", Ask::Line)
        .hint("Its IANA name, such as Europe/Lisbon. Empty: the places' own."),
    field("start_place", "Begins at", Ask::Of(Places)),
    field("setups", "Setups of this day", Ask::AnyOfThe(Setups)).hint("None chosen: all."),
    field("longest_minutes", "Longest day, minutes", Ask::Whole).later(),
    field("meal_minutes", "Meal, minutes", Ask::Whole).later(),
    field("meal", "Meal at", Ask::Clock).later(),
    field("awake_since", "Awake since", Ask::Clock).later(),
    field("drive_home_minutes", "Drive home, minutes", Ask::Whole).later(),
    field(
        "air",
        "Air",
        Ask::Many(
            &[
                field("from", "From", Ask::Clock),
                field("air_c", "°C", Ask::Number),
                field("humidity_percent", "Humidity, %", Ask::Number),
                field("wind_m_s", "Wind, m/s", Ask::Number),
            ],
            "reading",
        ),
    )
    .later(),
    field("remark", "Remark", Ask::Text).later(),
];

/// A take, as far as it is typed.
pub const TAKE: &[Field] = &[
    field("setup", "Setup", Ask::Of(Setups)),
    field("pass", "Pass", Ask::Whole),
    field("rating", "Rating", Ask::OneOf(RATINGS)),
    field(
        "state",
        "State of the performer, when it is not its setup's",
        Ask::Of(States),
    ),
    field(
        "placed_by_hand",
        "Placed by hand",
        Ask::Inside(&[
            field("song_start", "Song time at its first frame", Ask::Line)
                .hint("Such as 0:12.345; -0:03 when it began before the song."),
            field("speed", "Speed", Ask::Number)
                .hint("Song seconds per second of take; 1 as a rule."),
        ]),
    ),
    field("remark", "Remark", Ask::Text),
];
