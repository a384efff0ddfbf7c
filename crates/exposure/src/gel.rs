//! Which sheet before a lamp brings its colour to another's.
//!
//! A gel's shift is stated in mired (positive warms) because there it is the same before any lamp.
//! Off the locus a sheet of minus green (magenta) or plus green corrects; how strong its steps are
//! differs between makers, so only the direction and the Duv to be made up are given.

use crate::colour::White;
use serde::Serialize;

/// A sheet of colour correction.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Sheet {
    /// What the trade calls it: CTO warms (colour temperature orange), CTB cools (blue).
    pub name: &'static str,
    /// Its shift, mired; positive warms.
    pub mired: f64,
    /// What it takes, stops, where custom has a figure.
    pub loss_stops: Option<f64>,
}

const fn sheet(name: &'static str, mired: f64, loss_stops: Option<f64>) -> Sheet {
    Sheet {
        name,
        mired,
        loss_stops,
    }
}

/// The usual sheets. Common practice, from memory: makers differ by some ten mired, the swatch
/// decides. Full CTO brings daylight of 6500 K to 3200 K, full CTB brings 3200 K to 5700 K. Losses
/// are common practice too.
pub const SHEETS: [Sheet; 8] = [
    sheet("full CTO", 160.0, Some(0.67)),
    sheet("half CTO", 80.0, None),
    sheet("quarter CTO", 40.0, None),
    sheet("eighth CTO", 20.0, None),
    sheet("full CTB", -137.0, Some(1.75)),
    sheet("half CTB", -68.0, Some(1.0)),
    sheet("quarter CTB", -35.0, None),
    sheet("eighth CTB", -18.0, None),
];

/// Off the locus: which way a sheet must push.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Green {
    /// Take green away: a magenta sheet.
    Minus,
    /// Add green.
    Plus,
}

/// What brings one lamp's colour to another's.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Gel {
    /// The shift that does it, mired; positive warms.
    pub mired: f64,
    /// The shift across the locus, CIE 1960 (u, v); positive adds green.
    pub duv: f64,
    /// The nearest sheet, when one is nearer than none.
    pub sheet: Option<Sheet>,
    /// What is left to correct with that sheet (or none), mired.
    pub leaves_mired: f64,
    /// Which green sheet to add, when Duv is off by at least the threshold.
    pub green: Option<Green>,
}

/// The gel before `lamp` that brings it to `wanted`, from the `sheets` there are; green is asked for
/// from `least_duv` on.
pub fn correction(lamp: White, wanted: White, sheets: &[Sheet], least_duv: f64) -> Gel {
    let difference = lamp.to(wanted);
    let left = |sheet: &Sheet| (difference.mired - sheet.mired).abs();
    let sheet = sheets
        .iter()
        .min_by(|a, b| left(a).total_cmp(&left(b)))
        .filter(|sheet| left(sheet) < difference.mired.abs())
        .copied();
    Gel {
        mired: difference.mired,
        duv: difference.duv,
        sheet,
        leaves_mired: difference.mired - sheet.map_or(0.0, |sheet| sheet.mired),
        green: (difference.duv.abs() >= least_duv).then_some(if difference.duv > 0.0 {
            Green::Plus
        } else {
            Green::Minus
        }),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sheets_by_the_formula() {
        // Formula: 10⁶/3200 − 10⁶/6500 = 158.65; 10⁶/5700 − 10⁶/3200 = −137.06.
        let gel = correction(
            White::blackbody(6500.0),
            White::blackbody(3200.0),
            &SHEETS,
            0.006,
        );
        assert!((gel.mired - 158.654).abs() < 1e-3);
        assert_eq!(gel.sheet.unwrap().name, "full CTO");
        let gel = correction(
            White::blackbody(3200.0),
            White::blackbody(5700.0),
            &SHEETS,
            0.006,
        );
        assert!((gel.mired + 137.061).abs() < 1e-3);
        assert_eq!(gel.sheet.unwrap().name, "full CTB");
        assert!((gel.leaves_mired + 0.061).abs() < 1e-3);
    }

    #[test]
    fn nothing_is_put_before_alike_lamps() {
        let gel = correction(
            White::blackbody(3200.0),
            White::blackbody(3250.0),
            &SHEETS,
            0.006,
        );
        assert_eq!((gel.sheet, gel.green), (None, None));
    }

    #[test]
    fn a_green_lamp_asks_for_magenta() {
        let green = White {
            kelvin: 4000.0,
            duv: 0.012,
        };
        let gel = correction(green, White::blackbody(4000.0), &SHEETS, 0.006);
        assert_eq!(gel.green, Some(Green::Minus));
        let gel = correction(White::blackbody(4000.0), green, &SHEETS, 0.006);
        assert_eq!(gel.green, Some(Green::Plus));
        assert_eq!(correction(green, green, &[], 0.006).sheet, None);
    }
}
