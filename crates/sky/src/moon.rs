//! The moon from the earth's centre: direction, distance, parallax, phase.
//!
//! Meeus' truncation of ELP-2000/82 (chapter 47): 10″ in longitude, 4″ in latitude and 20 km at
//! worst, by the book.

use crate::series::{LATITUDE, LONGITUDE_DISTANCE};

/// Radius of the moon in km (IAU mean radius).
pub(crate) const RADIUS_KM: f64 = 1_737.4;

/// Geocentric, in the mean ecliptic and equinox of date.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Ecliptic {
    pub longitude_deg: f64,
    pub latitude_deg: f64,
    pub distance_km: f64,
}

/// Where the moon is, for Julian centuries of TT (Meeus, chapter 47; the time that its light takes
/// is in the series).
pub(crate) fn moon(t: f64) -> Ecliptic {
    let longitude = 218.316_447_7
        + t * (481_267.881_234_21 + t * (-0.001_578_6 + t * (1.0 / 538_841.0 - t / 65_194_000.0)));
    let elongation = 297.850_192_1
        + t * (445_267.111_403_4 + t * (-0.001_881_9 + t * (1.0 / 545_868.0 - t / 113_065_000.0)));
    let sun_anomaly =
        357.529_109_2 + t * (35_999.050_290_9 + t * (-0.000_153_6 + t / 24_490_000.0));
    let anomaly = 134.963_396_4
        + t * (477_198.867_505_5 + t * (0.008_741_4 + t * (1.0 / 69_699.0 - t / 14_712_000.0)));
    let node_distance = 93.272_095
        + t * (483_202.017_523_3
            + t * (-0.003_653_9 + t * (-1.0 / 3_526_000.0 + t / 863_310_000.0)));
    let arguments = [elongation, sun_anomaly, anomaly, node_distance]
        .map(|angle| angle.rem_euclid(360.0).to_radians());
    // The earth's orbit grows rounder, which weakens what depends on the sun's anomaly.
    let e = 1.0 + t * (-0.002_516 - t * 0.000_007_4);
    let weight = |multiple: i8| [1.0, e, e * e][usize::from(multiple.unsigned_abs()).min(2)];
    let angle = |multiples: &[i8; 4]| -> f64 {
        multiples
            .iter()
            .zip(&arguments)
            .map(|(n, angle)| f64::from(*n) * angle)
            .sum()
    };
    let (mut sum_l, mut sum_r, mut sum_b) = (0.0, 0.0, 0.0);
    for (multiples, sine, cosine) in &LONGITUDE_DISTANCE {
        let (sin, cos) = angle(multiples).sin_cos();
        let weight = weight(multiples[1]);
        sum_l += weight * f64::from(*sine) * sin;
        sum_r += weight * f64::from(*cosine) * cos;
    }
    for (multiples, sine) in &LATITUDE {
        sum_b += weight(multiples[1]) * f64::from(*sine) * angle(multiples).sin();
    }
    // Venus, Jupiter and the flattening of the earth.
    let venus = (119.75 + 131.849 * t).to_radians();
    let jupiter = (53.09 + 479_264.290 * t).to_radians();
    let flattening = (313.45 + 481_266.484 * t).to_radians();
    let mean = longitude.rem_euclid(360.0).to_radians();
    let [_, _, anomaly, node_distance] = arguments;
    sum_l += 3958.0 * venus.sin() + 1962.0 * (mean - node_distance).sin() + 318.0 * jupiter.sin();
    sum_b += -2235.0 * mean.sin()
        + 382.0 * flattening.sin()
        + 175.0 * (venus - node_distance).sin()
        + 175.0 * (venus + node_distance).sin()
        + 127.0 * (mean - anomaly).sin()
        - 115.0 * (mean + anomaly).sin();
    Ecliptic {
        longitude_deg: (longitude + sum_l * 1e-6).rem_euclid(360.0),
        latitude_deg: sum_b * 1e-6,
        distance_km: 385_000.56 + sum_r * 1e-3,
    }
}

/// Horizontal parallax in degrees: half the earth as seen from the moon.
pub fn parallax_deg(distance_km: f64) -> f64 {
    (6_378.14 / distance_km).asin().to_degrees()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn as_meeus_47a() {
        // 1992 April 12, 0h TD.
        let t = -0.077_221_081_451;
        let found = moon(t);
        assert!((found.longitude_deg - 133.162_655).abs() < 1e-6);
        assert!((found.latitude_deg + 3.229_126).abs() < 1e-6);
        assert!((found.distance_km - 368_409.7).abs() < 0.06);
        assert!((parallax_deg(found.distance_km) - 0.991_990).abs() < 1e-6);
        let apparent = found.longitude_deg + crate::earth::nutation(t).longitude_deg;
        assert!((apparent - 133.167_26).abs() < 1e-5);
    }
}
