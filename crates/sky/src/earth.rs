//! How the earth stands: nutation, obliquity, sidereal time, and an observer on it.
//!
//! Turns a direction from the earth's centre into altitude and azimuth at a place, seen from the
//! place itself (parallax). Sea level, no polar motion (under 0.5″), no aberration by the earth's
//! turning (0.3″).

use crate::series::NUTATION;
use crate::timescale::Instant;

/// Nutation in longitude and in obliquity, degrees.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Nutation {
    pub longitude_deg: f64,
    pub obliquity_deg: f64,
}

/// IAU 1980 (Meeus, chapter 22), for Julian centuries of TT.
pub(crate) fn nutation(t: f64) -> Nutation {
    let arguments = [
        297.85036 + t * (445_267.111_480 + t * (-0.001_914_2 + t / 189_474.0)),
        357.52772 + t * (35_999.050_340 + t * (-0.000_160_3 - t / 300_000.0)),
        134.96298 + t * (477_198.867_398 + t * (0.008_697_2 + t / 56_250.0)),
        93.27191 + t * (483_202.017_538 + t * (-0.003_682_5 + t / 327_270.0)),
        125.04452 + t * (-1_934.136_261 + t * (0.002_070_8 + t / 450_000.0)),
    ];
    let (mut longitude, mut obliquity) = (0.0, 0.0);
    for (multiples, sine, sine_t, cosine, cosine_t) in &NUTATION {
        let argument: f64 = multiples
            .iter()
            .zip(&arguments)
            .map(|(n, angle)| f64::from(*n) * angle)
            .sum();
        let (sin, cos) = argument.to_radians().sin_cos();
        longitude += (sine + sine_t * t) * sin;
        obliquity += (cosine + cosine_t * t) * cos;
    }
    Nutation {
        longitude_deg: longitude / 36e6,
        obliquity_deg: obliquity / 36e6,
    }
}

/// Mean obliquity of the ecliptic in degrees (Meeus 22.2).
pub(crate) fn mean_obliquity_deg(t: f64) -> f64 {
    (84_381.448 + t * (-46.815 + t * (-0.000_59 + t * 0.001_813))) / 3600.0
}

/// Mean sidereal time at Greenwich in degrees, whole turns kept (Meeus 12.4).
pub(crate) fn mean_sidereal_deg(ut1: f64) -> f64 {
    let t = ut1 / 36_525.0;
    let turned = 280.460_618_37 + 360.985_647_366_29 * ut1;
    turned + t * t * (0.000_387_933 - t / 38_710_000.0)
}

/// Apparent sidereal time at Greenwich, degrees; `equation_deg` is Δψ cos ε.
pub(crate) fn sidereal_deg(at: Instant, equation_deg: f64) -> f64 {
    mean_sidereal_deg(at.ut1) + equation_deg
}

/// Somebody on the WGS 84 ellipsoid at sea level.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Observer {
    longitude_deg: f64,
    sin_latitude: f64,
    cos_latitude: f64,
    /// From the earth's centre, in km: away from the axis, and north along it.
    out_km: f64,
    north_km: f64,
}

/// The local sidereal time of an observer, as sine and cosine.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Turned {
    sin: f64,
    cos: f64,
}

/// Where a body stands for an observer, without air.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Seen {
    pub altitude_deg: f64,
    pub azimuth_deg: f64,
    pub distance_km: f64,
}

impl Observer {
    pub fn new(latitude_deg: f64, longitude_deg: f64) -> Self {
        const EQUATOR_KM: f64 = 6_378.137;
        const FLATTENING: f64 = 1.0 / 298.257_223_563;
        let (sin, cos) = latitude_deg.to_radians().sin_cos();
        let shrunk = (1.0 - FLATTENING).powi(2);
        let curve = EQUATOR_KM / (cos * cos + shrunk * sin * sin).sqrt();
        Self {
            longitude_deg,
            sin_latitude: sin,
            cos_latitude: cos,
            out_km: curve * cos,
            north_km: curve * shrunk * sin,
        }
    }

    /// How far the earth has turned this observer, for an apparent sidereal time at Greenwich.
    pub fn turned(&self, sidereal_deg: f64) -> Turned {
        let (sin, cos) = (sidereal_deg + self.longitude_deg).to_radians().sin_cos();
        Turned { sin, cos }
    }

    /// Of a body at `position_km` in the equator and equinox of date.
    pub fn see(&self, position_km: [f64; 3], turned: Turned) -> Seen {
        let [_, north, east] = self.local_km(position_km, turned);
        let (altitude_deg, distance_km) = self.height(position_km, turned);
        Seen {
            altitude_deg,
            azimuth_deg: east.atan2(north).to_degrees().rem_euclid(360.0),
            distance_km,
        }
    }

    /// Altitude in degrees and distance in km alone, as in [`Observer::see`].
    pub fn height(&self, position_km: [f64; 3], turned: Turned) -> (f64, f64) {
        let [up, north, east] = self.local_km(position_km, turned);
        let level = north * north + east * east;
        let altitude = up.atan2(level.sqrt()).to_degrees();
        (altitude, (level + up * up).sqrt())
    }

    /// Sine of the hour angle as seen from the earth's centre, up to a positive factor: through
    /// zero upwards as a body passes the meridian on its upper side.
    pub fn past_meridian_km(&self, [x, y, _]: [f64; 3], turned: Turned) -> f64 {
        x * turned.sin - y * turned.cos
    }

    fn local_km(&self, position_km: [f64; 3], Turned { sin, cos }: Turned) -> [f64; 3] {
        let [x, y, z] = position_km;
        let out = x * cos + y * sin - self.out_km;
        let east = y * cos - x * sin;
        let north = z - self.north_km;
        [
            out * self.cos_latitude + north * self.sin_latitude,
            north * self.cos_latitude - out * self.sin_latitude,
            east,
        ]
    }
}

/// What the air lifts a body at this airless altitude by, in degrees, at 1010 hPa and 10 °C.
///
/// Bennett's formula (Meeus 16.3), which starts from the altitude seen, turned round by repeating
/// it. Zero for what stays more than a degree below the horizon. Near the horizon real air differs
/// from this by a tenth of a degree and more.
pub fn refraction_deg(altitude_deg: f64) -> f64 {
    let lifted = |seen: f64| {
        if (-1.0..=89.9).contains(&seen) {
            let angle: f64 = seen + 7.31 / (seen + 4.4);
            // The factor for 1010 hPa and 10 °C is 0.28 × 1010 / 283.
            (0.016_667 / angle.to_radians().tan()) * (0.28 * 1010.0 / 283.0)
        } else {
            0.0
        }
    };
    let mut seen = altitude_deg;
    for _ in 0..30 {
        let next = altitude_deg + lifted(seen);
        let moved = (next - seen).abs();
        seen = next;
        if moved < 1e-6 {
            break;
        }
    }
    seen - altitude_deg
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nutation_as_meeus_22a() {
        // 1987 April 10, 0h TD: Δψ −3.788″, Δε +9.443″, ε 23°26′36.850″.
        let t = (2_446_895.5 - 2_451_545.0) / 36_525.0;
        let found = nutation(t);
        assert!((found.longitude_deg * 3600.0 + 3.788).abs() < 0.001);
        assert!((found.obliquity_deg * 3600.0 - 9.443).abs() < 0.001);
        let obliquity = mean_obliquity_deg(t) + found.obliquity_deg;
        assert!((obliquity - (23.0 + 26.0 / 60.0 + 36.850 / 3600.0)).abs() * 3600.0 < 0.001);
    }

    #[test]
    fn sidereal_time_as_meeus_12() {
        // 12.a: 1987 April 10, 0h UT: 13h10m46.3668s; 12.b: 19h21m00s: 8h34m57.0896s.
        for (jd, h, m, s) in [
            (2_446_895.5, 13.0, 10.0, 46.3668),
            (2_446_896.306_25, 8.0, 34.0, 57.0896),
        ] {
            let found = mean_sidereal_deg(jd - 2_451_545.0).rem_euclid(360.0) * 240.0;
            assert!(
                (found - (h * 3600.0 + m * 60.0 + s)).abs() < 1e-3,
                "{found}"
            );
        }
    }

    #[test]
    fn an_observer_as_meeus_11a() {
        // Palomar, 33°21′22″ N: ρ sin φ′ 0.546861, ρ cos φ′ 0.836339 at 1706 m; the example's
        // height adds 0.000268 of each direction's share.
        let observer = Observer::new(33.356_111, 0.0);
        let height = 1.706 / 6378.137;
        let sin = observer.north_km / 6378.137 + height * observer.sin_latitude;
        let cos = observer.out_km / 6378.137 + height * observer.cos_latitude;
        assert!((sin - 0.546_861).abs() < 2e-6, "{sin}");
        assert!((cos - 0.836_339).abs() < 2e-6, "{cos}");
    }

    #[test]
    fn refraction_as_meeus_16a() {
        // A true altitude of 33.246′ is lifted by 24.618′ by the formula for true altitudes (16.4,
        // at 1010 hPa and 10 °C); the two formulas agree within 0.1′.
        let found = refraction_deg(33.246 / 60.0) * 60.0;
        assert!((found - 24.618).abs() < 0.15, "{found}");
        // At the horizon, about 34′ where it is seen.
        let seen = -34.5 / 60.0;
        assert!((refraction_deg(seen) * 60.0 - 34.5).abs() < 0.2);
        assert_eq!(refraction_deg(-5.0), 0.0);
        assert!(refraction_deg(89.95).abs() < 1e-3);
    }
}
