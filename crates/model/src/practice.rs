//! How one works: the numbers of the trade that are no facts of song, place or kit, as far as the
//! maker changed them.
//!
//! A value left out is the usual one. What is usual stands with the craft that goes by it, and
//! nowhere here, so there is one place for each; `docs/practice.md` lists all, with their sources.

use crate::noun::noun;

/// A value of [`Practice`]: its name in files, its unit, and what it may be.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Figure {
    /// The field's name.
    pub name: &'static str,
    /// In what; empty for a plain number. `yes or no` is 1 or 0.
    pub unit: &'static str,
    /// The least it can be.
    pub least: f64,
    /// The most it can be.
    pub most: f64,
    /// Whether it counts something, so that it has no fraction.
    pub whole: bool,
    /// What it decides, a few words.
    pub means: &'static str,
}

/// How a number stands in the document.
trait Number: Copy {
    const WHOLE: bool;
    fn read(self) -> f64;
    /// `None` where it has no such form.
    fn write(value: f64) -> Option<Self>;
}

impl Number for f64 {
    const WHOLE: bool = false;
    fn read(self) -> f64 {
        self
    }
    fn write(value: f64) -> Option<Self> {
        Some(value)
    }
}

impl Number for u32 {
    const WHOLE: bool = true;
    fn read(self) -> f64 {
        f64::from(self)
    }
    fn write(value: f64) -> Option<Self> {
        let fits = value.fract() == 0.0 && (0.0..=f64::from(u32::MAX)).contains(&value);
        fits.then_some(value as u32)
    }
}

/// The noun, its table and the way to a field by its name, from one list.
macro_rules! practice {
    ($($name:ident: $type:ty, $unit:literal, $least:literal to $most:literal, $means:literal;)*) => {
        noun! {
            /// How one works, as far as it was changed. See [`FIGURES`] for units and ranges.
            pub struct Practice {
                $(
                    #[doc = $means]
                    #[serde(default, skip_serializing_if = "Option::is_none")]
                    pub $name: Option<$type>,
                )*
            }
        }

        impl Default for Practice {
            fn default() -> Self {
                Self { $($name: None,)* extra: Default::default() }
            }
        }

        /// Every value, in the order of the document.
        pub const FIGURES: &[Figure] = &[$(Figure {
            name: stringify!($name),
            unit: $unit,
            least: $least,
            most: $most,
            whole: <$type as Number>::WHOLE,
            means: $means,
        },)*];

        impl Practice {
            /// The value called `name`, when it was changed.
            pub fn get(&self, name: &str) -> Option<f64> {
                match name {
                    $(stringify!($name) => self.$name.map(Number::read),)*
                    _ => None,
                }
            }

            fn put(&mut self, name: &str, value: Option<f64>) -> bool {
                match name {
                    $(stringify!($name) => match value {
                        Some(value) => match Number::write(value) {
                            Some(value) => self.$name = Some(value),
                            None => return false,
                        },
                        None => self.$name = None,
                    },)*
                    _ => return false,
                }
                true
            }
        }
    };
}

practice! {
    golden_from_deg: f64, "degrees", -18.0 to 30.0, "Lowest sun of the golden hour.";
    golden_to_deg: f64, "degrees", -18.0 to 30.0, "Highest sun of the golden hour.";
    blue_from_deg: f64, "degrees", -18.0 to 30.0, "Lowest sun of the blue hour.";
    blue_to_deg: f64, "degrees", -18.0 to 30.0, "Highest sun of the blue hour.";
    dark_below_deg: f64, "degrees", -18.0 to 0.0, "A street counts as dark with the sun below this.";

    meter_c: f64, "lux s", 240.0 to 540.0, "Constant C of an incident meter: what a correct exposure is.";
    face_stops: f64, "stops", -10.0 to 10.0, "Where the face is wanted, from correct, where the setup does not say.";
    background_stops: f64, "stops", -10.0 to 10.0, "Where the background is wanted, from correct, where the setup does not say.";
    slack_stops: f64, "stops", 0.0 to 5.0, "How far off an exposure may lie before it is told of.";
    shutter_deg: f64, "degrees", 1.0 to 360.0, "Shutter angle where the setup does not say.";
    least_shutter_deg: f64, "degrees", 1.0 to 360.0, "Narrowest shutter angle that is proposed.";
    least_iso: u32, "", 1.0 to 10_000.0, "Least sensitivity a camera is expected to have.";
    least_light_m: f64, "m", 0.01 to 50.0, "Nearest a light is proposed to stand.";
    daylight_lux: f64, "lux", 1.0 to 200_000.0, "From here on ambient light counts as daylight, which does not pulse.";
    led_pulses_hz: f64, "Hz", 0.0 to 10_000_000.0, "Pulses assumed of a dimmed light that states none; 0 assumes none.";
    seen_contrast: f64, "share", 0.0 to 1.0, "Pulsing below this contrast is taken to be unseen.";
    mixed_mired: f64, "mired", 0.0 to 500.0, "Sources that differ more along the locus are told of as mixed.";
    mixed_duv: f64, "Duv", 0.0 to 0.1, "The same across the locus.";
    wide_m: f64, "m", 0.05 to 1000.0, "What a wide framing holds from top to bottom.";
    full_m: f64, "m", 0.05 to 1000.0, "The same of a full one.";
    medium_m: f64, "m", 0.05 to 1000.0, "The same of a medium one.";
    close_m: f64, "m", 0.05 to 1000.0, "The same of a close one.";
    detail_m: f64, "m", 0.05 to 1000.0, "The same of a detail.";

    battery_reserve: f64, "share", 0.0 to 0.95, "Of a battery's usable energy this is kept back.";
    battery_charged: f64, "share", 0.0 to 1.0, "How full a battery is at the call where it does not say.";
    indoor_c: f64, "°C", -60.0 to 60.0, "Air indoors, and outdoors where the day does not say.";
    charge_above_c: f64, "°C", -60.0 to 60.0, "Colder than this no lithium battery is charged.";
    swap_minutes: f64, "minutes", 0.0 to 60.0, "A battery is changed in this time.";
    rig_minutes: f64, "minutes", 0.0 to 1440.0, "To rig, where the setup does not say.";
    reset_minutes: f64, "minutes", 0.0 to 1440.0, "Between passes, where the setup does not say.";
    travel_minutes: f64, "minutes", 0.0 to 1440.0, "From place to place, where neither says.";
    usual_stretch_s: f64, "s", 1.0 to 86_400.0, "Song performed in a pass, where nothing is known of it.";
    relight_minutes: u32, "minutes", 0.0 to 1440.0, "To relight on the rig that stands, where the setup does not say.";
    meal_minutes: u32, "minutes", 0.0 to 360.0, "The meal, where the day does not say; 0 for none.";
    meal_by_minutes: u32, "minutes", 0.0 to 1440.0, "After the call the meal begins within this.";
    longest_minutes: u32, "minutes", 0.0 to 2880.0, "The longest day from call to wrap, where the day does not say.";
    turnaround_minutes: u32, "minutes", 0.0 to 1440.0, "From a wrap to the next call at the least, when a day is planned.";
    lights_rig_share: f64, "share", 0.0 to 1.0, "Lights are on for this last part of rigging.";
    lights_between_passes: u32, "yes or no", 0.0 to 1.0, "Whether lights stay on between passes.";
    mains_first: u32, "yes or no", 0.0 to 1.0, "Whether mains go before batteries where nothing is typed.";
    mains_share: f64, "share", 0.0 to 1.0, "Of a circuit's volts × amperes this is loaded for long.";
    charger_efficiency: f64, "share", 0.01 to 1.0, "What of a charger's draw reaches the battery where it does not say.";
    most_more_batteries: u32, "", 0.0 to 50.0, "How many more batteries a fix may ask for.";
    spare_pieces: u32, "", 0.0 to 100.0, "Batteries and cards packed beyond those used up.";

    card_filled: f64, "share", 0.01 to 1.0, "A card is filled to this.";
    card_reserve: f64, "times", 1.0 to 10.0, "Cards hold the computed need this often.";
    head_s: f64, "s", 0.0 to 3600.0, "Recorded before a pass.";
    tail_s: f64, "s", 0.0 to 3600.0, "Recorded after a pass.";
    copies: u32, "", 0.0 to 10.0, "Copies made of each card, itself not counted.";

    trip_kg: f64, "kg", 0.1 to 200.0, "Carried by one person in one go.";
    trips: u32, "", 1.0 to 100.0, "How often one is ready to walk.";
    heavy_kg: f64, "kg", 0.1 to 200.0, "From this weight on a thing is lifted by two.";
    garment_spares: u32, "", 0.0 to 100.0, "Spares of each garment that powder or water marks.";

    electric_water_m: f64, "m", 0.0 to 1000.0, "Mains voltage this near to water calls for care.";
    edge_m: f64, "m", 0.0 to 1000.0, "Work this near to an edge, water or stairs does.";
    traffic_m: f64, "m", 0.0 to 1000.0, "Work this near to traffic does.";
    cold_water_c: f64, "°C", -10.0 to 40.0, "Colder water is cold water.";
    wind_weigh_m_s: f64, "m/s", 0.0 to 100.0, "Stands are weighted from this wind on.";
    wind_lower_m_s: f64, "m/s", 0.0 to 100.0, "Stands are lowered from this wind on.";
    wind_strike_m_s: f64, "m/s", 0.0 to 100.0, "Stands are taken down from this wind on.";
    cold_c: f64, "°C", -60.0 to 60.0, "Air, as felt, at or below which cold is minded.";
    frostbite_c: f64, "°C", -90.0 to 60.0, "Wind chill from which bare skin freezes.";
    heat_c: f64, "°C", -60.0 to 60.0, "Air from which heat is minded.";
    mount_forward_g: f64, "g", 0.0 to 100.0, "What holds a camera on a vehicle bears when it brakes.";
    mount_rearward_g: f64, "g", 0.0 to 100.0, "The same when it starts.";
    mount_sideways_g: f64, "g", 0.0 to 100.0, "The same in a bend.";
    mount_down_share: f64, "of the weight", 0.0 to 100.0, "How hard it is held down.";
    day_min: u32, "minutes", 0.0 to 2880.0, "A longer day is long.";
    rest_min: u32, "minutes", 0.0 to 2880.0, "Less rest between two days is short.";
    work_min: u32, "minutes", 0.0 to 2880.0, "Longer work without a break is told of.";
    break_min: u32, "minutes", 0.0 to 2880.0, "A gap this long is a break, the way between places not counted.";
    awake_min: u32, "minutes", 0.0 to 2880.0, "Awake longer at the wrap or at home is told of.";
    late_min: u32, "minutes", 0.0 to 2880.0, "A day that ends later after its midnight is late.";
    night_from_min: u32, "minutes", 0.0 to 1440.0, "The dark begins, after midnight, where the sun is not known.";
    night_to_min: u32, "minutes", 0.0 to 1440.0, "The dark ends, likewise.";
}

/// Values of which the first lies below the second, or is equal to it where the third says so.
const IN_ORDER: &[(&str, &str, bool)] = &[
    ("golden_from_deg", "golden_to_deg", false),
    ("blue_from_deg", "blue_to_deg", false),
    ("wind_weigh_m_s", "wind_lower_m_s", true),
    ("wind_lower_m_s", "wind_strike_m_s", true),
    ("night_to_min", "night_from_min", true),
];

/// The first value that does not lie below another as it should, with a sentence. `of` gives the
/// values that are looked at.
pub fn out_of_order(mut of: impl FnMut(&str) -> Option<f64>) -> Option<(&'static str, String)> {
    IN_ORDER.iter().find_map(|(lower, upper, or_equal)| {
        let (low, high) = (of(lower)?, of(upper)?);
        let good = low < high || (*or_equal && low == high);
        (!good).then(|| {
            (
                *lower,
                format!("`{lower}` ({low}) should lie below `{upper}` ({high})"),
            )
        })
    })
}

impl Figure {
    /// The figure called `name`.
    pub fn of(name: &str) -> Option<&'static Self> {
        FIGURES.iter().find(|figure| figure.name == name)
    }

    /// What is wrong with `value`; `None` when it will do.
    pub fn problem(&self, value: f64) -> Option<String> {
        let Self {
            name, least, most, ..
        } = self;
        let unit = self.unit_after();
        if !(*least..=*most).contains(&value) {
            Some(format!(
                "{value} is out of range for `{name}`; {least} to {most}{unit}"
            ))
        } else if self.whole && value.fract() != 0.0 {
            Some(format!(
                "{value} is no whole number, and `{name}` counts; {least} to {most}{unit}"
            ))
        } else {
            None
        }
    }

    /// The unit as it follows a number, with what stands between.
    pub fn unit_after(&self) -> String {
        match self.unit {
            "" => String::new(),
            "share" => ", as a share".into(),
            "yes or no" => ", no or yes".into(),
            unit => format!(" {unit}"),
        }
    }
}

impl Practice {
    /// Whether nothing was changed.
    pub fn is_usual(&self) -> bool {
        *self == Self::default()
    }

    /// The same with `name` at `value`, or, without one, at what is usual.
    ///
    /// # Errors
    /// One sentence, when there is no such value, or it can't be that.
    pub fn with(&self, name: &str, value: Option<f64>) -> Result<Self, String> {
        let Some(figure) = Figure::of(name) else {
            let meant = crate::plan_file::nearest(name, Self::FIELDS)
                .map_or_else(String::new, |near| format!("did you mean `{near}`? "));
            return Err(format!(
                "there is no practice `{name}`; {meant}there are {}",
                Self::FIELDS.join(", ")
            ));
        };
        if let Some(says) = value.and_then(|value| figure.problem(value)) {
            return Err(says);
        }
        let mut next = self.clone();
        next.put(name, value);
        Ok(next)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_value_is_set_and_set_back_by_its_name() {
        assert_eq!(FIGURES.len(), Practice::FIELDS.len());
        for figure in FIGURES {
            let usual = Practice::default();
            for value in [figure.least, figure.most] {
                let changed = usual.with(figure.name, Some(value)).unwrap();
                assert_eq!(changed.get(figure.name), Some(value), "{}", figure.name);
                let written = serde_json::to_string(&changed).unwrap();
                assert_eq!(serde_json::from_str::<Practice>(&written).unwrap(), changed);
                assert_eq!(changed.with(figure.name, None).unwrap(), usual);
            }
            for value in [figure.least - 1.0, figure.most + 1.0, f64::NAN] {
                assert!(usual.with(figure.name, Some(value)).is_err());
            }
            assert!(figure.means.ends_with('.'), "{}", figure.name);
        }
    }

    #[test]
    fn mistakes_are_one_sentence_each() {
        let said = |name: &str, value: f64| {
            let usual = Practice::default();
            usual.with(name, Some(value)).unwrap_err()
        };
        assert_eq!(
            said("battery_reserve", 20.0),
            "20 is out of range for `battery_reserve`; 0 to 0.95, as a share"
        );
        assert_eq!(
            said("trips", 2.5),
            "2.5 is no whole number, and `trips` counts; 1 to 100"
        );
        assert!(said("batery_reserve", 0.1).starts_with(
            "there is no practice `batery_reserve`; did you mean `battery_reserve`? there are golden_from_deg, "
        ));
        assert!(
            said("x", 0.1).starts_with("there is no practice `x`; there are golden_from_deg, ")
        );
    }
}
