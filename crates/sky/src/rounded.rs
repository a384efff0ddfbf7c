//! How figures are written: as fine as they are known, and no finer.

use serde::Serializer;

/// To 10⁻⁵: a degree's hundred-thousandth is what a hand's breadth is at 600 m.
pub(crate) fn degrees<S: Serializer>(value: &f64, serializer: S) -> Result<S::Ok, S::Error> {
    serializer.serialize_f64((value * 1e5).round() / 1e5)
}

/// To 10⁻⁵.
pub(crate) fn share<S: Serializer>(value: &f64, serializer: S) -> Result<S::Ok, S::Error> {
    degrees(value, serializer)
}

/// To three figures.
pub(crate) fn lux<S: Serializer>(value: &f64, serializer: S) -> Result<S::Ok, S::Error> {
    if *value == 0.0 || !value.is_finite() {
        return serializer.serialize_f64(*value);
    }
    let places = 2 - value.abs().log10().floor() as i32;
    let rounded = format!("{value:.*}", usize::try_from(places).unwrap_or(0));
    let scale = 10_f64.powi(places.min(0));
    let rounded = if places < 0 {
        (value * scale).round() / scale
    } else {
        rounded.parse().unwrap_or(*value)
    };
    serializer.serialize_f64(rounded)
}

/// To 10⁻⁵, or null.
pub(crate) fn maybe_degrees<S: Serializer>(
    value: &Option<f64>,
    serializer: S,
) -> Result<S::Ok, S::Error> {
    match value {
        Some(value) => degrees(value, serializer),
        None => serializer.serialize_none(),
    }
}

#[cfg(test)]
mod tests {
    #[test]
    fn lux_keep_three_figures() {
        let write = |value: f64| {
            let mut bytes = Vec::new();
            super::lux(&value, &mut serde_json::Serializer::new(&mut bytes)).unwrap();
            String::from_utf8(bytes).unwrap()
        };
        assert_eq!(write(0.0), "0.0");
        assert_eq!(write(123_456.0), "123000.0");
        assert_eq!(write(3.416_78), "3.42");
        assert_eq!(write(0.000_512_345), "0.000512");
    }
}
