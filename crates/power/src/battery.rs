//! What a battery gives: usable energy by chemistry, what cold takes, what is kept back, and how long it lasts.
//!
//! # Convention
//! A battery's state is the energy stored in it, from 0 to what is printed on it, watt-hours. Depth of
//! discharge and cold raise the *floor* under which nothing comes out any more; they take no energy away, so
//! what cold held back is there again in the warm. The *reserve line* stands above the floor.
//! Ageing, heat, and high currents (which take more from lead-acid) are left out.

use model::{Battery, Chemistry, Practice};

/// Volts × milliampere-hours as watt-hours.
pub fn watt_hours(volts: f64, milliampere_hours: f64) -> f64 {
    volts * milliampere_hours / 1000.0
}

/// What is printed on it, watt-hours; 0 where that is no energy.
pub fn full_wh(battery: &Battery) -> f64 {
    positive(battery.wh)
}

/// Share of it that can be drawn in the warm: its own figure, else its chemistry's (common
/// practice), 0 to 1.
pub fn usable_share(battery: &Battery) -> f64 {
    let usual = match battery.chemistry {
        Chemistry::LithiumIon | Chemistry::NickelMetalHydride => 0.9,
        // 0.8 to 0.9.
        Chemistry::LithiumIronPhosphate => 0.85,
        Chemistry::LeadAcid => 0.5,
    };
    positive(battery.usable.unwrap_or(usual)).min(1.0)
}

/// What is stored in it at the call, watt-hours: by its own share, else by how full one usually comes.
pub fn at_call_wh(battery: &Battery, practice: &Practice) -> f64 {
    full_wh(battery) * positive(battery.charged.unwrap_or(practice.battery_charged)).min(1.0)
}

/// What cold leaves of a lithium battery: degrees Celsius and share, joined by straight lines. At 0 degrees 20 to
/// 30 % are lost (common practice); the lower points are from memory and on the careful side.
const LITHIUM_ION: [[f64; 2]; 4] = [[-20.0, 0.5], [-10.0, 0.65], [0.0, 0.75], [20.0, 1.0]];
/// The same of lithium iron phosphate.
const PHOSPHATE: [[f64; 2]; 4] = [[-20.0, 0.4], [-10.0, 0.55], [0.0, 0.7], [20.0, 1.0]];
/// The same of nickel metal hydride and of lead-acid.
const OTHERS: [[f64; 2]; 3] = [[-20.0, 0.5], [0.0, 0.8], [20.0, 1.0]];

/// Share of the usable energy that `air_c` degrees Celsius leave, 0 to 1.
pub fn cold_share(chemistry: Chemistry, air_c: f64) -> f64 {
    let table: &[[f64; 2]] = match chemistry {
        Chemistry::LithiumIon => &LITHIUM_ION,
        Chemistry::LithiumIronPhosphate => &PHOSPHATE,
        Chemistry::NickelMetalHydride | Chemistry::LeadAcid => &OTHERS,
    };
    let (first, last) = (table[0], table[table.len() - 1]);
    // No temperature counts as the warm end.
    if air_c.is_nan() || air_c >= last[0] {
        last[1]
    } else if air_c <= first[0] {
        first[1]
    } else {
        let above = table.partition_point(|point| point[0] <= air_c);
        let ([c0, s0], [c1, s1]) = (table[above - 1], table[above]);
        s0 + (s1 - s0) * (air_c - c0) / (c1 - c0)
    }
}

/// What it gives from full to empty at `air_c`, watt-hours: printed × usable × cold.
pub fn usable_wh(battery: &Battery, air_c: f64) -> f64 {
    full_wh(battery) * usable_share(battery) * cold_share(battery.chemistry, air_c)
}

/// The stored energy at which it stops at `air_c`, watt-hours.
pub fn floor_wh(battery: &Battery, air_c: f64) -> f64 {
    full_wh(battery) - usable_wh(battery, air_c)
}

/// The stored energy at which its reserve begins at `air_c`, watt-hours: above the floor by
/// [`Practice::battery_reserve`] of the usable energy.
pub fn reserve_line_wh(battery: &Battery, air_c: f64, practice: &Practice) -> f64 {
    full_wh(battery) - usable_wh(battery, air_c) * (1.0 - practice.battery_reserve)
}

/// Minutes that `wh` last at a draw of `watts`: Wh × usable × efficiency / W. `None` where nothing is
/// drawn, or a figure is no number: no time can be said then.
pub fn runtime_min(wh: f64, usable: f64, efficiency: f64, watts: f64) -> Option<f64> {
    let minutes = positive(wh) * positive(usable) * positive(efficiency) / watts * 60.0;
    (watts > 0.0 && minutes.is_finite()).then_some(minutes)
}

/// `value` where it is a number above 0, else 0: what bad input is worth. A thousand million is more
/// watts or watt-hours than anybody carries, and little enough to reckon with.
pub(crate) fn positive(value: f64) -> f64 {
    if value.is_finite() {
        value.clamp(0.0, 1e9)
    } else {
        0.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn battery(wh: f64, chemistry: Chemistry) -> Battery {
        Battery {
            wh,
            chemistry,
            usable: None,
            charged: None,
            most_w: None,
            charge_w: None,
            built_in: false,
            extra: Default::default(),
        }
    }

    #[test]
    fn watt_hours_are_volts_times_ampere_hours() {
        // Worked by hand: Wh = V × mAh / 1000.
        for (volts, mah, wh) in [
            (14.4, 6800.0, 97.92),
            (7.2, 6600.0, 47.52),
            (3.7, 20_000.0, 74.0),
            (3.7, 26_800.0, 99.16),
            (3.7, 27_027.0, 99.9999),
            (14.8, 10_000.0, 148.0),
            (11.1, 14_400.0, 159.84),
            (12.0, 8300.0, 99.6),
        ] {
            assert!((watt_hours(volts, mah) - wh).abs() < 1e-9, "{volts} {mah}");
        }
    }

    #[test]
    fn runtimes_follow_the_handbook_formula() {
        // Worked by hand: h = Wh × usable × efficiency / W; a reserve of 20 % is of the usable energy.
        for (wh, usable, efficiency, watts, minutes, with_reserve) in [
            (500.0, 0.85, 1.0, 60.0, 425.0, 340.0),
            (98.0, 0.90, 1.0, 30.0, 176.4, 141.12),
            (1000.0, 0.88, 1.0, 200.0, 264.0, 211.2),
            (500.0, 0.85, 0.9, 60.0, 382.5, 306.0),
        ] {
            let all = runtime_min(wh, usable, efficiency, watts).unwrap();
            assert!((all - minutes).abs() < 1e-9);
            let kept = runtime_min(wh, usable * 0.8, efficiency, watts).unwrap();
            assert!((kept - with_reserve).abs() < 1e-9);
        }
        assert_eq!(runtime_min(100.0, 0.9, 1.0, 0.0), None);
        assert_eq!(runtime_min(100.0, 0.9, 1.0, f64::NAN), None);
        assert_eq!(runtime_min(f64::NAN, 0.9, 1.0, 10.0), Some(0.0));
        assert_eq!(runtime_min(100.0, 0.9, 0.0, 10.0), Some(0.0));
    }

    #[test]
    fn chemistry_and_cold_take_what_common_practice_says() {
        // Common practice: lithium iron phosphate 0.8 to 0.9, lead-acid 0.5; 0 °C costs 20 to 30 %.
        let phosphate = usable_share(&battery(1.0, Chemistry::LithiumIronPhosphate));
        assert!((0.8..=0.9).contains(&phosphate));
        assert_eq!(usable_share(&battery(1.0, Chemistry::LeadAcid)), 0.5);
        for chemistry in [
            Chemistry::LithiumIon,
            Chemistry::LithiumIronPhosphate,
            Chemistry::NickelMetalHydride,
            Chemistry::LeadAcid,
        ] {
            let share = |c| cold_share(chemistry, c);
            assert!((0.7..=0.8).contains(&share(0.0)), "{chemistry:?}");
            assert_eq!(share(20.0), 1.0);
            assert_eq!(share(40.0), 1.0);
            assert_eq!(share(f64::NAN), 1.0);
            assert_eq!(share(-50.0), share(-20.0));
            let rising = (-60..60).map(|c| share(f64::from(c)));
            assert!(rising.clone().zip(rising.skip(1)).all(|(a, b)| a <= b));
        }
        // Half way between 0 and 20 degrees, half of the loss.
        assert!((cold_share(Chemistry::LithiumIon, 10.0) - 0.875).abs() < 1e-12);
    }

    #[test]
    fn floor_and_reserve_follow() {
        let practice = Practice::default();
        let b = battery(100.0, Chemistry::LithiumIon);
        assert!((usable_wh(&b, 0.0) - 67.5).abs() < 1e-12);
        assert!((floor_wh(&b, 0.0) - 32.5).abs() < 1e-12);
        assert!((reserve_line_wh(&b, 0.0, &practice) - 46.0).abs() < 1e-12);
        let nothing = battery(0.0, Chemistry::LeadAcid);
        assert_eq!(reserve_line_wh(&nothing, 20.0, &practice), 0.0);
    }
}
