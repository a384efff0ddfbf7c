//! What each consumer of a setup draws: lights by the level they are dimmed to, cameras, everything else.

use crate::battery::positive;
use model::{KitItem, Light};

/// What `light` draws at `level` (share of full), watts.
///
/// A straight line from what it draws at its lowest ([`Light::least_w`] at [`Light::least_level`],
/// both 0 where they are left out) to what it draws at full. Below its lowest level it draws no less:
/// electronics and fan go on, and a light at level 0 is not unplugged. Real lights bend a little from the
/// line; a reading of its plug goes first.
pub fn light_w(light: &Light, level: f64) -> f64 {
    let full = positive(light.full_w);
    let least = positive(light.least_w.unwrap_or(0.0)).min(full);
    let lowest = positive(light.least_level.unwrap_or(0.0)).min(1.0);
    let level = if level.is_finite() {
        level.clamp(0.0, 1.0)
    } else {
        1.0
    };
    if level >= 1.0 || lowest >= 1.0 {
        return full;
    }
    let share = ((level - lowest) / (1.0 - lowest)).max(0.0);
    least + (full - least) * share
}

/// What `item` draws when it is on and no dimming is asked for, watts: a camera recording, a light at
/// full, else its `draws_w`. `None` where nothing is said.
pub fn item_w(item: &KitItem) -> Option<f64> {
    let camera = item.camera.as_ref().and_then(|camera| camera.draws_w);
    let light = item.light.as_ref().map(|light| light.full_w);
    camera.or(light).or(item.draws_w).map(positive)
}

/// What goes into an inverter for `load_w` out of it, watts: its idle draw, and the load ÷ efficiency.
/// `None` where it gives nothing (an efficiency of 0, or no number).
pub fn inverter_input_w(inverter: &model::Inverter, load_w: f64) -> Option<f64> {
    let efficiency = positive(inverter.efficiency).min(1.0);
    let input = positive(inverter.idle_w.unwrap_or(0.0)) + positive(load_w) / efficiency;
    (efficiency > 0.0 && input.is_finite()).then_some(input)
}

/// Watts that a mains circuit bears for long: volts × amperes × `share` ([`model::Practice::mains_share`]).
pub fn mains_w(mains: &model::Mains, share: f64) -> f64 {
    positive(positive(mains.volts) * positive(mains.amperes) * positive(share))
}

#[cfg(test)]
mod tests {
    use super::*;
    use model::{Inverter, Mains};

    #[test]
    fn lights_draw_along_a_line() {
        let mut light: Light = serde_json::from_str(r#"{"candela": 9000, "full_w": 60}"#).unwrap();
        assert_eq!(light_w(&light, 1.0), 60.0);
        assert_eq!(light_w(&light, 0.5), 30.0);
        assert_eq!(light_w(&light, 0.0), 0.0);
        light.least_w = Some(10.0);
        light.least_level = Some(0.1);
        assert!((light_w(&light, 0.55) - 35.0).abs() < 1e-12);
        assert_eq!(light_w(&light, 0.1), 10.0);
        assert_eq!(light_w(&light, 0.0), 10.0);
        light.least_level = Some(1.0);
        assert_eq!(light_w(&light, 0.3), 60.0);
        light.full_w = f64::NAN;
        assert_eq!(light_w(&light, 0.3), 0.0);
    }

    #[test]
    fn inverters_and_circuits() {
        let mut inverter = Inverter {
            efficiency: 0.9,
            idle_w: Some(6.0),
            most_w: 300.0,
            extra: Default::default(),
        };
        assert!((inverter_input_w(&inverter, 90.0).unwrap() - 106.0).abs() < 1e-12);
        inverter.efficiency = 0.0;
        assert_eq!(inverter_input_w(&inverter, 90.0), None);
        assert_eq!(inverter_input_w(&inverter, 0.0), None);
        // Common practice: 15 A × 120 V = 1800 W, for long 80 %, 1440 W; 13 A × 230 V = 2990 W.
        let circuit = |volts, amperes| Mains {
            volts,
            amperes,
            residual_current_device: None,
            remark: String::new(),
            extra: Default::default(),
        };
        assert_eq!(mains_w(&circuit(120.0, 15.0), 1.0), 1800.0);
        assert_eq!(mains_w(&circuit(120.0, 15.0), 0.8), 1440.0);
        assert_eq!(mains_w(&circuit(230.0, 13.0), 1.0), 2990.0);
    }
}
