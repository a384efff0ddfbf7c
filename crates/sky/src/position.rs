//! Where sun and moon stand at one instant, and the light they give there.

use crate::earth::refraction_deg;
use crate::ephemeris::Bodies;
use crate::error::Error;
use crate::light::{moonlight_lux, skylight_lux};
use crate::moon::parallax_deg;
use crate::place::Place;
use crate::rounded::{degrees, lux, share};
use crate::timescale::{Instant, utc_days};
use jiff::Timestamp;
use jiff::tz::Offset;
use serde::Serialize;

/// The sun at an instant.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct SunAt {
    /// Of its centre above the level horizon, as if there were no air, degrees.
    #[serde(serialize_with = "degrees")]
    pub altitude_deg: f64,
    /// The same as seen, lifted by [`crate::refraction_deg`].
    #[serde(serialize_with = "degrees")]
    pub altitude_refracted_deg: f64,
    /// From north through east, 0 to 360.
    #[serde(serialize_with = "degrees")]
    pub azimuth_deg: f64,
}

/// The moon at an instant.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct MoonAt {
    /// Of its centre above the level horizon, seen from the place, as if there were no air, degrees.
    #[serde(serialize_with = "degrees")]
    pub altitude_deg: f64,
    /// The same as seen, lifted by [`crate::refraction_deg`].
    #[serde(serialize_with = "degrees")]
    pub altitude_refracted_deg: f64,
    /// From north through east, 0 to 360.
    #[serde(serialize_with = "degrees")]
    pub azimuth_deg: f64,
    /// How much of the disc is lit, 0 to 1, seen from the earth's centre.
    #[serde(serialize_with = "share")]
    pub illuminated_fraction: f64,
    /// True from new moon to full moon.
    pub waxing: bool,
    /// Angle from the sun, seen from the earth's centre: 0 new, 180 full.
    #[serde(serialize_with = "degrees")]
    pub elongation_deg: f64,
    /// From the place, km.
    #[serde(serialize_with = "degrees")]
    pub distance_km: f64,
}

/// Light on open level ground under a clear sky, lux.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Light {
    /// Sun and sky, and at night the stars: [`crate::skylight_lux`].
    #[serde(serialize_with = "lux")]
    pub sky_lux: f64,
    /// The moon, 0 when it is down: [`crate::moonlight_lux`].
    #[serde(serialize_with = "lux")]
    pub moonlight_lux: f64,
    /// Both.
    #[serde(serialize_with = "lux")]
    pub total_lux: f64,
}

/// Sun, moon and light at an instant.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Look {
    /// The sun.
    pub sun: SunAt,
    /// The moon.
    pub moon: MoonAt,
    /// The light.
    pub light: Light,
}

/// How the sky stands over a place at an instant.
///
/// # Errors
/// [`Error::Year`] outside [`crate::YEARS`].
pub fn look(place: &Place, at: Timestamp) -> Result<Look, Error> {
    within_years(at)?;
    let at = Instant::from_utc(utc_days(at));
    Ok(look_with(place, at, &Bodies::compute(at)))
}

pub(crate) fn within_years(at: Timestamp) -> Result<(), Error> {
    let date = Offset::UTC.to_datetime(at).date();
    // A day of a zone begins or ends up to a day from the year's edge.
    let (first, last) = crate::YEARS;
    let near = |days: i64| date.saturating_add(jiff::Span::new().days(days)).year();
    if near(1) < first || near(-1) > last {
        return Err(Error::Year { date });
    }
    Ok(())
}

pub(crate) fn look_with(place: &Place, at: Instant, bodies: &Bodies) -> Look {
    let observer = place.observer();
    let (sun, moon) = (
        bodies.sun_from(observer, at),
        bodies.moon_from(observer, at),
    );
    let phase_angle = bodies.phase_angle_deg();
    let longitudes = bodies.longitudes(at);
    let ahead = (longitudes.moon_deg - longitudes.sun_deg).rem_euclid(360.0);
    let parallax = parallax_deg(length(bodies.moon_km));
    let sky_lux = skylight_lux(sun.altitude_deg);
    let moonlight_lux = moonlight_lux(moon.altitude_deg, phase_angle, parallax);
    Look {
        sun: SunAt {
            altitude_deg: sun.altitude_deg,
            altitude_refracted_deg: sun.altitude_deg + refraction_deg(sun.altitude_deg),
            azimuth_deg: sun.azimuth_deg,
        },
        moon: MoonAt {
            altitude_deg: moon.altitude_deg,
            altitude_refracted_deg: moon.altitude_deg + refraction_deg(moon.altitude_deg),
            azimuth_deg: moon.azimuth_deg,
            illuminated_fraction: 0.5 * (1.0 + phase_angle.to_radians().cos()),
            waxing: ahead < 180.0,
            elongation_deg: bodies.elongation_deg(),
            distance_km: moon.distance_km,
        },
        light: Light {
            sky_lux,
            moonlight_lux,
            total_lux: sky_lux + moonlight_lux,
        },
    }
}

fn length([x, y, z]: [f64; 3]) -> f64 {
    (x * x + y * y + z * z).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// UTC, sun altitude and azimuth, moon altitude and azimuth, sun as seen.
    type Case = (f64, f64, &'static str, [f64; 4], f64);

    #[test]
    fn cities_of_2026() {
        // skyfield 1.55 with DE421; astropy 8.0.2 agrees to 0.001° (sun) and 0.002° (moon). The
        // last is with air of 10 °C and 1010 hPa.
        let cases: [Case; 7] = [
            (
                51.5074,
                -0.1278,
                "2026-06-21T18:00:00Z",
                [18.494, 284.666, 36.235, 182.699],
                18.543,
            ),
            (
                34.0522,
                -118.2437,
                "2026-10-15T17:30:00Z",
                [37.471, 138.451, -16.469, 113.308],
                37.493,
            ),
            (
                -33.8688,
                151.2093,
                "2026-12-21T01:00:00Z",
                [74.404, 51.464, -59.094, 104.057],
                74.409,
            ),
            (
                64.1466,
                -21.9426,
                "2026-06-21T23:30:00Z",
                [0.637, 332.761, 8.861, 241.865],
                1.038,
            ),
            (
                -0.1807,
                -78.4678,
                "2026-03-20T17:00:00Z",
                [84.684, 87.659, 62.807, 62.499],
                84.685,
            ),
            (
                59.9139,
                10.7522,
                "2026-09-23T05:30:00Z",
                [2.494, 94.491, -35.957, 302.388],
                2.746,
            ),
            (
                52.5200,
                13.4050,
                "2026-07-15T12:00:00Z",
                [57.624, 201.004, 56.817, 172.198],
                57.635,
            ),
        ];
        for (latitude, longitude, at, [sun_alt, sun_az, moon_alt, moon_az], seen) in cases {
            let place = Place::new(latitude, longitude).unwrap();
            let look = look(&place, at.parse().unwrap()).unwrap();
            for (found, wanted, slack) in [
                (look.sun.altitude_deg, sun_alt, 0.002),
                (look.sun.azimuth_deg, sun_az, 0.006),
                (look.sun.altitude_refracted_deg, seen, 0.003),
                (look.moon.altitude_deg, moon_alt, 0.005),
                (look.moon.azimuth_deg, moon_az, 0.01),
            ] {
                assert!((found - wanted).abs() < slack, "{at}: {found} and {wanted}");
            }
        }
    }

    #[test]
    fn the_nrel_worked_example() {
        // NREL/TP-560-34302, appendix: zenith 50.127954 without air and azimuth 194.340241 at
        // 1830 m with ΔT 67 s, UT1 = UTC; here ΔT is 64.55 s (0.00003° of the sun's way), UT1 is
        // 0.37 s behind UTC (0.0016° of the earth's turning), and the height moves the sun by
        // 0.000001°.
        let place = Place::new(39.742476, -105.1786).unwrap();
        let look = look(&place, "2003-10-17T19:30:30Z".parse().unwrap()).unwrap();
        assert!((90.0 - look.sun.altitude_deg - 50.127954).abs() < 0.001);
        assert!((look.sun.azimuth_deg - 194.340241).abs() < 0.003);
    }

    #[test]
    fn fractions_of_august_2026() {
        // skyfield 1.55: fraction lit and how far the moon is ahead of the sun, at 0h UTC.
        for (day, fraction, ahead) in [
            (1, 0.9443, 207.38),
            (4, 0.7246, 243.39),
            (7, 0.3991, 281.83),
            (10, 0.1045, 322.55),
            (13, 0.0010, 3.58),
            (16, 0.1307, 42.21),
            (19, 0.3936, 77.52),
            (22, 0.6770, 110.68),
            (25, 0.9023, 143.60),
            (28, 0.9997, 177.88),
            (31, 0.9130, 214.25),
        ] {
            let place = Place::new(0.0, 0.0).unwrap();
            let at = format!("2026-08-{day:02}T00:00:00Z").parse().unwrap();
            let moon = look(&place, at).unwrap().moon;
            let found = moon.illuminated_fraction;
            assert!((found - fraction).abs() < 2e-4, "{day}: {found}");
            assert_eq!(moon.waxing, ahead < 180.0, "{day}");
        }
    }

    #[test]
    fn years_far_off_are_refused() {
        let place = Place::new(0.0, 0.0).unwrap();
        for at in ["1899-12-01T00:00:00Z", "2101-02-01T00:00:00Z"] {
            assert!(look(&place, at.parse().unwrap()).is_err());
        }
    }
}
