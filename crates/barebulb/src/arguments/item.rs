//! What can be said of a thing of the kit.

use super::{pair, word};
use clap::Args;
use model::{Chemistry, Holding, Sort};

/// What a person says of a thing of the kit; the rest goes through `barebulb plan`.
#[derive(Debug, Default, Args)]
#[command(next_help_heading = "What is known of a thing of the kit (with --item)")]
pub struct Item {
    /// What it is called; makes it where there is none.
    #[arg(long, value_name = "TEXT", requires = "item")]
    pub name: Option<String>,
    /// What it is: camera, lens, filter, support, light, power, adapter, card, sound, safety, wardrobe, make-up, prop, vehicle, other.
    #[arg(long, value_name = "SORT", requires = "item", value_parser = word::<Sort>)]
    pub sort: Option<Sort>,
    /// How many there are.
    #[arg(long, value_name = "N", requires = "item")]
    pub count: Option<u32>,
    /// Whose: own, borrowed, rented, bought, missing.
    #[arg(long, value_name = "WHOSE", requires = "item", value_parser = word::<Holding>)]
    pub holding: Option<Holding>,
    /// From whom it is borrowed, hired or bought.
    #[arg(long, value_name = "TEXT", requires = "item")]
    pub from: Option<String>,
    /// What all of them cost this video: `45` or `45.50`.
    #[arg(long, value_name = "MONEY", requires = "item", allow_hyphen_values = true, value_parser = money)]
    pub cost: Option<i64>,
    /// When it must be back, year-month-day.
    #[arg(long, value_name = "DATE", requires = "item")]
    pub back_by: Option<String>,
    /// What one weighs.
    #[arg(long, value_name = "KG", requires = "item", allow_negative_numbers = true, value_parser = number)]
    pub weight: Option<f64>,
    /// It goes along wherever one shoots.
    #[arg(long, requires = "item")]
    pub always: bool,
    /// Connector it is fed through, such as usb-c, d-tap, mains; may be given again and again, and takes the place of what was said before.
    #[arg(long, value_name = "CONNECTOR", requires = "item")]
    pub fed_by: Vec<String>,
    /// Connector it gives power at, likewise.
    #[arg(long, value_name = "CONNECTOR", requires = "item")]
    pub feeds: Vec<String>,
    /// What it draws: a light at full, a camera recording, anything else that is on.
    #[arg(long, value_name = "W", requires = "item", allow_negative_numbers = true, value_parser = number)]
    pub watts: Option<f64>,
    /// A light: on its axis at full.
    #[arg(long, value_name = "CD", requires = "item", conflicts_with = "lux", allow_negative_numbers = true, value_parser = number)]
    pub candela: Option<f64>,
    /// A light: what a meter reads on its axis at full, and from how far: `2300@1`.
    #[arg(long, value_name = "LUX@METRES", requires = "item", allow_hyphen_values = true, value_parser = lux_at)]
    pub lux: Option<f64>,
    /// A light: its colour temperature.
    #[arg(long, value_name = "K", requires = "item", allow_negative_numbers = true, value_parser = number)]
    pub kelvin: Option<f64>,
    /// A light: pulses a second when dimmed.
    #[arg(long, value_name = "HZ", requires = "item", allow_negative_numbers = true, value_parser = number)]
    pub pulses: Option<f64>,
    /// A battery: as printed on it.
    #[arg(long, value_name = "WH", requires = "item", allow_negative_numbers = true, value_parser = number)]
    pub wh: Option<f64>,
    /// A battery: lithium-ion, lithium-iron-phosphate, nickel-metal-hydride, lead-acid.
    #[arg(long, value_name = "WHAT", requires = "item", value_parser = word::<Chemistry>)]
    pub chemistry: Option<Chemistry>,
    /// A battery: what can be drawn of it, `0.9` or `90%`.
    #[arg(long, value_name = "SHARE", requires = "item", allow_hyphen_values = true, value_parser = share)]
    pub usable: Option<f64>,
    /// A battery: how full it is at the call, likewise.
    #[arg(long, value_name = "SHARE", requires = "item", allow_hyphen_values = true, value_parser = share)]
    pub charged: Option<f64>,
    /// A battery: most it takes when charged.
    #[arg(long, value_name = "W", requires = "item", allow_negative_numbers = true, value_parser = number)]
    pub charge_watts: Option<f64>,
    /// A battery or an inverter: most it gives.
    #[arg(long, value_name = "W", requires = "item", allow_negative_numbers = true, value_parser = number)]
    pub output: Option<f64>,
    /// An inverter or a charger: what comes out of what goes in, `0.88` or `88%`.
    #[arg(long, value_name = "SHARE", requires = "item", allow_hyphen_values = true, value_parser = share)]
    pub efficiency: Option<f64>,
    /// An inverter: what it draws with nothing plugged in.
    #[arg(long, value_name = "W", requires = "item", allow_negative_numbers = true, value_parser = number)]
    pub idle: Option<f64>,
    /// A charger: what it puts into one battery.
    #[arg(long, value_name = "W", requires = "item", allow_negative_numbers = true, value_parser = number)]
    pub into: Option<f64>,
    /// A charger: how many batteries at once.
    #[arg(long, value_name = "N", requires = "item")]
    pub bays: Option<u32>,
    /// A card or drive: as printed on it, 10⁹ bytes.
    #[arg(long, value_name = "GB", requires = "item", allow_negative_numbers = true, value_parser = number)]
    pub gb: Option<f64>,
    /// A drive: copies go here.
    #[arg(long, requires = "item")]
    pub for_copies: bool,
    /// A lens: its focal length, or shortest and longest: `35` or `24-70`.
    #[arg(long, value_name = "MM", requires = "item", allow_hyphen_values = true, value_parser = focal)]
    pub focal: Option<[f64; 2]>,
    /// A lens: its widest T-stop.
    #[arg(long, value_name = "T", requires = "item", allow_negative_numbers = true, value_parser = number)]
    pub t_stop: Option<f64>,
    /// A lens: the nearest it focuses.
    #[arg(long, value_name = "METRES", requires = "item", allow_negative_numbers = true, value_parser = number)]
    pub close_focus: Option<f64>,
    /// A filter: the light it takes.
    #[arg(long, value_name = "STOPS", requires = "item", allow_negative_numbers = true, value_parser = number)]
    pub stops: Option<f64>,
    /// A filter: it spreads light into the shadows.
    #[arg(long, requires = "item")]
    pub diffusion: bool,
    /// A camera: the part of the sensor that records, millimetres: `24.9x14`.
    #[arg(long, value_name = "WxH", requires = "item", allow_hyphen_values = true, value_parser = millimetres)]
    pub sensor: Option<[f64; 2]>,
    /// A camera: the picture it records, pixels: `3840x2160`.
    #[arg(long, value_name = "WxH", requires = "item", value_parser = pixels)]
    pub frame: Option<[u32; 2]>,
    /// A camera: a sensitivity it is cleanest at; may be given again and again, and takes the place of what was said before.
    #[arg(long, value_name = "ISO", requires = "item")]
    pub base_iso: Vec<u32>,
    /// A camera: a rate it records and the megabits a second it writes then, `25:100`; likewise.
    #[arg(long, value_name = "FPS:MBIT", requires = "item", value_parser = recording)]
    pub records: Vec<(String, f64)>,
    /// A remark.
    #[arg(long, value_name = "TEXT", requires = "item")]
    pub remark: Option<String>,
}

fn number(text: &str) -> Result<f64, String> {
    let number: f64 = text
        .parse()
        .map_err(|_| "write a number, such as 12.5".to_owned())?;
    if number.is_finite() {
        Ok(number)
    } else {
        Err("write a number that ends, such as 12.5".into())
    }
}

fn share(text: &str) -> Result<f64, String> {
    match text.strip_suffix('%') {
        Some(percent) => Ok(number(percent.trim_end())? / 100.0),
        None => number(text),
    }
}

/// Minor units from major ones with at most two decimals.
fn money(text: &str) -> Result<i64, String> {
    let wrong = || "write an amount such as 45 or 45.50".to_owned();
    let (whole, cents) = text.split_once('.').unwrap_or((text, "0"));
    let digits = |text: &str| !text.is_empty() && text.bytes().all(|b| b.is_ascii_digit());
    if !digits(whole) || !digits(cents) || cents.len() > 2 {
        return Err(wrong());
    }
    let minor = format!("{whole}{cents:0<2}");
    minor.parse().map_err(|_| wrong())
}

/// Candela from lux and distance: lux × metres².
fn lux_at(text: &str) -> Result<f64, String> {
    let [lux, metres] =
        pair(text, '@').ok_or("write lux and metres with an at sign between, such as `2300@1`")?;
    if metres > 0.0 {
        Ok(lux * metres * metres)
    } else {
        Err("a light is measured from more than 0 metres".into())
    }
}

fn focal(text: &str) -> Result<[f64; 2], String> {
    if let Ok(one) = number(text) {
        return Ok([one, one]);
    }
    pair(text, '-').ok_or_else(|| "write millimetres, such as 35 or 24-70".into())
}

fn millimetres(text: &str) -> Result<[f64; 2], String> {
    pair(text, 'x').ok_or_else(|| "write width and height, such as `24.9x14`".into())
}

fn pixels(text: &str) -> Result<[u32; 2], String> {
    let sides = text.split_once('x');
    sides
        .and_then(|(width, height)| Some([width.parse().ok()?, height.parse().ok()?]))
        .ok_or_else(|| "write width and height, such as `3840x2160`".into())
}

fn recording(text: &str) -> Result<(String, f64), String> {
    let (rate, mbit) = text
        .split_once(':')
        .ok_or("write rate and megabits a second with a colon between, such as `25:100`")?;
    rate.parse::<model::FrameRate>()?;
    Ok((rate.to_owned(), number(mbit)?))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn figures_are_read() {
        assert_eq!(money("45"), Ok(4500));
        assert_eq!(money("45.5"), Ok(4550));
        assert_eq!(money("0.05"), Ok(5));
        for wrong in [
            "",
            "-3",
            "4,5",
            "1.234",
            "x",
            "1.",
            ".5",
            "1e3",
            "99999999999999999999",
        ] {
            assert!(money(wrong).is_err(), "{wrong}");
        }
        assert_eq!(share("88%"), Ok(0.88));
        assert_eq!(share("0.88"), Ok(0.88));
        assert!(number("nan").is_err() && number("inf").is_err());
        // 575 lux at 2 m are 2300 cd.
        assert_eq!(lux_at("575@2"), Ok(2300.0));
        assert!(lux_at("575@0").is_err() && lux_at("575").is_err());
        assert_eq!(focal("24-70"), Ok([24.0, 70.0]));
        assert_eq!(focal("-35"), Ok([-35.0, -35.0]));
        assert_eq!(pixels("3840x2160"), Ok([3840, 2160]));
        assert!(pixels("-1x2").is_err() && millimetres("36").is_err());
        assert_eq!(recording("23.976:100"), Ok(("23.976".into(), 100.0)));
        assert!(recording("0:100").is_err());
    }
}
