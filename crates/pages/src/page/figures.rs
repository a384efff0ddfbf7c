//! Figures of light as pages write them.

/// Two significant figures above ten, one decimal below.
pub fn lux(value: f64) -> String {
    if value >= 100.0 {
        format!("{:.0}", value)
    } else {
        format!("{value:.1}")
    }
}

/// Stops over or under a target, with its sign.
pub fn in_hand(stops: f64) -> String {
    if stops.abs() < 0.05 {
        "0".into()
    } else {
        format!("{stops:+.1}").replace('-', "\u{2212}")
    }
}
