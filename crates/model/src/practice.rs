//! How one works: the numbers of the trade that are no facts of song, place or kit.
//!
//! Each stands here once, with what is usual, its unit, its range, what it decides and who says so; the
//! crafts take it as it is, and only what the maker changed is written into the document.

use crate::noun;
use crate::noun::made;

noun! {
    /// How one works. A place, a setup or a thing of the kit that says its own goes first.
    pub struct Practice(list: "practice", called: "practice", sparse: true) {
        // The sky
        pub golden_from_deg: f64 = -4.0 => "Lowest sun of the golden hour".unit("degrees").range(-18.0, 30.0).source("common practice"),
        pub golden_to_deg: f64 = 6.0 => "Highest sun of the golden hour".unit("degrees").range(-18.0, 30.0).source("common practice"),
        pub blue_from_deg: f64 = -6.0 => "Lowest sun of the blue hour".unit("degrees").range(-18.0, 30.0).source("common practice"),
        pub blue_to_deg: f64 = -4.0 => "Highest sun of the blue hour".unit("degrees").range(-18.0, 30.0).source("common practice"),
        pub dark_below_deg: f64 = -6.0 => "A street counts as dark with the sun below this".unit("degrees").range(-18.0, 0.0).source("end of civil twilight (almanacs)"),

        // Light and lens
        pub meter_c: f64 = 250.0 => "Constant C of an incident meter: what a correct exposure is".unit("lux s").range(240.0, 540.0).source("ISO 2720: 240 to 400 for a flat receptor, to 540 for a dome"),
        pub face_stops: f64 = 0.0 => "Where the face is wanted, from correct, where the setup does not say".unit("stops").range(-10.0, 10.0).source("common practice"),
        pub background_stops: f64 = -2.0 => "Where the background is wanted, from correct, where the setup does not say".unit("stops").range(-10.0, 10.0).source("common practice"),
        pub slack_stops: f64 = 1.0 / 3.0 => "How far off an exposure may lie before it is told of".unit("stops").range(0.0, 5.0).source("ours: no figure here is worth more than a third of a stop"),
        pub shutter_deg: f64 = 180.0 => "Shutter angle where the setup does not say".unit("degrees").range(1.0, 360.0).source("common practice"),
        pub least_shutter_deg: f64 = 45.0 => "Narrowest shutter angle that is proposed".unit("degrees").range(1.0, 360.0).source("common practice"),
        pub least_iso: u32 = 100 => "Least sensitivity a camera is expected to have".range(1.0, 10_000.0).source("common practice"),
        pub least_light_m: f64 = 0.5 => "Nearest a light is proposed to stand".unit("m").range(0.01, 50.0).source("ours"),
        pub daylight_lux: f64 = 5000.0 => "From here on ambient light counts as daylight, which does not pulse".unit("lux").range(1.0, 200_000.0).source("common practice"),
        pub led_pulses_hz: f64 = 0.0 => "Pulses assumed of a dimmed light that states none; 0 assumes none".unit("Hz").range(0.0, 10_000_000.0).source("ours: a guess would be no better"),
        pub seen_contrast: f64 = 0.02 => "Pulsing below this contrast is taken to be unseen".unit("share").range(0.0, 1.0).source("common practice"),
        pub mixed_mired: f64 = 20.0 => "Sources that differ more along the locus are told of as mixed".unit("mired").range(0.0, 500.0).source("common practice"),
        pub mixed_duv: f64 = 0.006 => "Sources that differ more across the locus are told of as mixed".unit("Duv").range(0.0, 0.1).source("common practice"),
        pub wide_m: f64 = 4.0 => "What a wide framing holds from top to bottom".unit("m").range(0.05, 1000.0).source("common practice"),
        pub full_m: f64 = 1.9 => "What a full framing holds from top to bottom".unit("m").range(0.05, 1000.0).source("common practice"),
        pub medium_m: f64 = 0.9 => "What a medium framing holds from top to bottom".unit("m").range(0.05, 1000.0).source("common practice"),
        pub close_m: f64 = 0.5 => "What a close framing holds from top to bottom".unit("m").range(0.05, 1000.0).source("common practice"),
        pub detail_m: f64 = 0.15 => "What a detail holds from top to bottom".unit("m").range(0.05, 1000.0).source("common practice"),

        // Power and time
        pub battery_reserve: f64 = 0.2 => "Of a battery's usable energy this is kept back".unit("share").range(0.0, 0.95).source("common practice"),
        pub battery_charged: f64 = 1.0 => "How full a battery is at the call where it does not say".unit("share").range(0.0, 1.0).source("ours"),
        pub indoor_c: f64 = 20.0 => "Air indoors, and outdoors where the day does not say".unit("°C").range(-60.0, 60.0).source("ours"),
        pub charge_above_c: f64 = 0.0 => "Colder than this no lithium battery is charged".unit("°C").range(-60.0, 60.0).source("what makers usually print; from memory"),
        pub swap_minutes: f64 = 1.0 => "A battery is changed in this time".unit("minutes").range(0.0, 60.0).source("ours"),
        pub rig_minutes: f64 = 15.0 => "To rig, where the setup does not say".unit("minutes").range(0.0, 1440.0).source("common practice"),
        pub reset_minutes: f64 = 2.0 => "Between passes, where the setup does not say".unit("minutes").range(0.0, 1440.0).source("common practice"),
        pub travel_minutes: f64 = 60.0 => "From place to place, where neither says".unit("minutes").range(0.0, 1440.0).source("common practice"),
        pub usual_stretch_s: f64 = 180.0 => "Song performed in a pass, where nothing is known of it".unit("s").range(1.0, 86_400.0).source("ours"),
        pub relight_minutes: u32 = 5 => "To relight on the rig that stands, where the setup does not say".unit("minutes").range(0.0, 1440.0).source("common practice"),
        pub meal_minutes: u32 = 30 => "The meal, where the day does not say; 0 for none".unit("minutes").range(0.0, 360.0).source("common practice"),
        pub meal_by_minutes: u32 = 360 => "After the call the meal begins within this".unit("minutes").range(0.0, 1440.0).source("common practice; EU Directive 2003/88/EC, article 4 (reprinted), asks for a break when work exceeds six hours"),
        pub longest_minutes: u32 = 720 => "The longest day from call to wrap, where the day does not say".unit("minutes").range(0.0, 2880.0).source("common practice"),
        pub turnaround_minutes: u32 = 600 => "From a wrap to the next call at the least, when a day is planned".unit("minutes").range(0.0, 1440.0).source("common practice; EU Directive 2003/88/EC, article 3 (reprinted), asks for 660"),
        pub lights_rig_share: f64 = 0.5 => "Lights are on for this last part of rigging".unit("share").range(0.0, 1.0).source("ours: there is light to set light by"),
        pub lights_between_passes: bool = true => "Whether lights stay on between passes"
            .source("ours"),
        pub mains_first: bool = true => "Whether mains go before batteries where nothing is typed"
            .source("ours"),
        pub mains_share: f64 = 0.8 => "Of a circuit's volts × amperes this is loaded for long".unit("share").range(0.0, 1.0).source("common practice"),
        pub charger_efficiency: f64 = 0.85 => "What of a charger's draw reaches the battery where it does not say".unit("share").range(0.01, 1.0).source("from memory"),
        pub most_more_batteries: u32 = 8 => "How many more batteries a fix may ask for".range(0.0, 50.0).source("ours"),
        pub spare_pieces: u32 = 1 => "Batteries and cards packed beyond those used up".range(0.0, 100.0).source("common practice"),

        // Cards
        pub card_filled: f64 = 0.95 => "A card is filled to this".unit("share").range(0.01, 1.0).source("common practice"),
        pub card_reserve: f64 = 1.5 => "Cards hold the computed need this often".unit("times").range(1.0, 10.0).source("common practice"),
        pub head_s: f64 = 15.0 => "Recorded before a pass".unit("s").range(0.0, 3600.0).source("ours"),
        pub tail_s: f64 = 5.0 => "Recorded after a pass".unit("s").range(0.0, 3600.0).source("ours"),
        pub copies: u32 = 2 => "Copies made of each card, itself not counted".range(0.0, 10.0).source("common practice"),

        // What is carried
        pub trip_kg: f64 = 15.0 => "Carried by one person in one go".unit("kg").range(0.1, 200.0).source("common practice, below the next weight since a load is carried far and over steps"),
        pub trips: u32 = 3 => "How often one is ready to walk".range(1.0, 100.0).source("common practice"),
        pub heavy_kg: f64 = 23.0 => "From this weight on a thing is lifted by two".unit("kg").range(0.1, 200.0).source("load constant of the revised NIOSH lifting equation, a lift under ideal conditions"),
        pub garment_spares: u32 = 1 => "Spares of each garment that powder or water marks".range(0.0, 100.0).source("common practice"),

        // Care
        pub electric_water_m: f64 = 3.5 => "Mains voltage this near to water calls for care".unit("m").range(0.0, 1000.0).source("IEC 60364-7-702: zones 1 and 2 around a basin end 2.0 m + 1.5 m from its rim (reprinted)"),
        pub edge_m: f64 = 2.0 => "Work this near to an edge, water or stairs calls for care".unit("m").range(0.0, 1000.0).source("UK HSE guidance on edge protection: nearer than 2 m to an open edge (reprinted)"),
        pub traffic_m: f64 = 5.0 => "Work this near to traffic calls for care".unit("m").range(0.0, 1000.0).source("common practice"),
        pub cold_water_c: f64 = 15.0 => "Colder water is cold water".unit("°C").range(-10.0, 40.0).source("RNLI: below 15 °C is cold water (reprinted)"),
        pub wind_weigh_m_s: f64 = 5.5 => "Stands are weighted from this wind on".unit("m/s").range(0.0, 100.0).source("common practice: Beaufort 4 begins at 5.5 m/s"),
        pub wind_lower_m_s: f64 = 7.6 => "Stands are lowered from this wind on".unit("m/s").range(0.0, 100.0).source("PASMA on access towers: work ceases at a mean of 17 mph (7.6 m/s); for stands common practice"),
        pub wind_strike_m_s: f64 = 10.8 => "Stands are taken down from this wind on".unit("m/s").range(0.0, 100.0).source("common practice: Beaufort 6 begins at 10.8 m/s"),
        pub cold_c: f64 = 5.0 => "Air, as felt, at or below which cold is minded".unit("°C").range(-60.0, 60.0).source("common practice"),
        pub frostbite_c: f64 = -28.0 => "Wind chill from which bare skin freezes".unit("°C").range(-90.0, 60.0).source("US NWS / Environment Canada 2001: frostbite within 30 minutes from about −28 °C (reprinted)"),
        pub heat_c: f64 = 26.7 => "Air from which heat is minded".unit("°C").range(-60.0, 60.0).source("US NWS heat index: caution from 80 °F (26.7 °C)"),
        pub mount_forward_g: f64 = 0.8 => "What holds a camera on a vehicle bears when it brakes".unit("g").range(0.0, 100.0).source("49 CFR 393.102, breaking strength and downward force"),
        pub mount_rearward_g: f64 = 0.5 => "What holds a camera on a vehicle bears when it starts".unit("g").range(0.0, 100.0).source("49 CFR 393.102, breaking strength and downward force"),
        pub mount_sideways_g: f64 = 0.5 => "What holds a camera on a vehicle bears in a bend".unit("g").range(0.0, 100.0).source("49 CFR 393.102, breaking strength and downward force"),
        pub mount_down_share: f64 = 0.2 => "How hard a camera on a vehicle is held down".unit("of the weight").range(0.0, 100.0).source("49 CFR 393.102, breaking strength and downward force"),
        pub day_min: u32 = 720 => "A longer day is long".unit("minutes").range(0.0, 2880.0).source("common practice"),
        pub rest_min: u32 = 660 => "Less rest between two days is short".unit("minutes").range(0.0, 2880.0).source("EU Directive 2003/88/EC, article 3: 11 hours (reprinted)"),
        pub work_min: u32 = 360 => "Longer work without a break is told of".unit("minutes").range(0.0, 2880.0).source("EU Directive 2003/88/EC, article 4: a break when work exceeds 6 hours (reprinted)"),
        pub break_min: u32 = 30 => "A gap this long is a break, the way between places not counted".unit("minutes").range(0.0, 2880.0).source("common practice"),
        pub awake_min: u32 = 960 => "Awake longer at the wrap or at home is told of".unit("minutes").range(0.0, 2880.0).source("common practice: 16 hours; Dawson and Reid 1997 (from memory): after 17 hours awake as with 0.05 % blood alcohol"),
        pub late_min: u32 = 1440 => "A day that ends later after its midnight is late".unit("minutes").range(0.0, 2880.0).source("common practice"),
        pub night_from_min: u32 = 1260 => "The dark begins, after midnight, where the sun is not known".unit("minutes").range(0.0, 1440.0).source("common practice"),
        pub night_to_min: u32 = 360 => "The dark ends, after midnight, where the sun is not known".unit("minutes").range(0.0, 1440.0).source("common practice"),

        // What is computed
        pub cache_gb: f64 = 20.0 => "The cache holds at most this; what was not used for longest goes first".unit("GB").range(0.1, 10_000.0).source("ours"),
    }
}

impl Default for Practice {
    fn default() -> Self {
        made(serde_json::json!({}))
    }
}

/// Values of which the first lies below the second, or is equal to it where the third says so.
const IN_ORDER: &[(&str, &str, bool)] = &[
    ("golden_from_deg", "golden_to_deg", false),
    ("blue_from_deg", "blue_to_deg", false),
    ("wind_weigh_m_s", "wind_lower_m_s", true),
    ("wind_lower_m_s", "wind_strike_m_s", true),
    ("night_to_min", "night_from_min", true),
];

impl Practice {
    /// The value called `name` as a number; yes is 1.
    pub fn number(&self, name: &str) -> Option<f64> {
        let field = Self::NOUN.field(name)?;
        let written = serde_json::to_value(self).unwrap_or_default();
        let value = written
            .get(name)
            .cloned()
            .unwrap_or_else(|| field.when_unsaid());
        value.as_f64().or_else(|| value.as_bool().map(f64::from))
    }

    /// The first value that does not lie below another as it should, with a sentence.
    pub(crate) fn out_of_order(&self) -> Option<(&'static str, String)> {
        IN_ORDER.iter().find_map(|(lower, upper, or_equal)| {
            let (low, high) = (self.number(lower)?, self.number(upper)?);
            let good = low < high || (*or_equal && low == high);
            (!good).then(|| {
                (
                    *lower,
                    format!("`{lower}` ({low}) should lie below `{upper}` ({high})"),
                )
            })
        })
    }
}
