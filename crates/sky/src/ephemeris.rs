//! Sun and moon in the equator of date: computed at one instant, or laid down over a stretch of
//! time and read off in between.
//!
//! The sun comes from the library `solar-positioning` (NREL's SPA), the moon from `moon`. Reading
//! off costs a hundredth of computing: nodes stand a day apart, and through eight of them goes a
//! polynomial. What that loses is measured in the test below (under 0.1″).

use crate::earth::{self, Observer, Seen, Turned};
use crate::moon;
use crate::timescale::{Instant, J2000_JD};
use solar_positioning::{SolarPositions, time::JulianDate};

/// Kilometres in an astronomical unit.
const AU_KM: f64 = 149_597_870.7;

/// Days between nodes, and how many a reading takes.
const STEP_DAYS: f64 = 1.0;
const POINTS: usize = 8;

/// Both bodies at an instant, from the centre of the earth, equator and equinox of date, in km.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Bodies {
    pub sun_km: [f64; 3],
    pub moon_km: [f64; 3],
    /// Δψ cos ε: apparent less mean sidereal time, in degrees.
    pub equation_deg: f64,
}

/// Longitudes in the true ecliptic of date, degrees.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Longitudes {
    pub sun_deg: f64,
    pub moon_deg: f64,
}

impl Bodies {
    /// Computed from the theories.
    pub fn compute(at: Instant) -> Self {
        let t = at.centuries();
        let nutation = earth::nutation(t);
        let obliquity = (earth::mean_obliquity_deg(t) + nutation.obliquity_deg).to_radians();
        let moon = moon::moon(t);
        let longitude = (moon.longitude_deg + nutation.longitude_deg).to_radians();
        let latitude = moon.latitude_deg.to_radians();
        let flat = moon.distance_km * latitude.cos();
        let (x, y) = (flat * longitude.cos(), flat * longitude.sin());
        let z = moon.distance_km * latitude.sin();
        let (sin, cos) = obliquity.sin_cos();
        Self {
            sun_km: sun_km(at),
            moon_km: [x, y * cos - z * sin, y * sin + z * cos],
            equation_deg: nutation.longitude_deg * cos,
        }
    }

    /// Angle between sun and moon from the centre of the earth, degrees.
    pub fn elongation_deg(&self) -> f64 {
        let cross = [
            self.sun_km[1] * self.moon_km[2] - self.sun_km[2] * self.moon_km[1],
            self.sun_km[2] * self.moon_km[0] - self.sun_km[0] * self.moon_km[2],
            self.sun_km[0] * self.moon_km[1] - self.sun_km[1] * self.moon_km[0],
        ];
        length(cross)
            .atan2(dot(self.sun_km, self.moon_km))
            .to_degrees()
    }

    /// Angle between sun and earth from the moon, degrees (Meeus 48.3).
    pub fn phase_angle_deg(&self) -> f64 {
        let elongation = self.elongation_deg().to_radians();
        let (sun, moon) = (length(self.sun_km), length(self.moon_km));
        (sun * elongation.sin())
            .atan2(moon - sun * elongation.cos())
            .to_degrees()
    }

    /// Ecliptic longitudes, for the phases.
    pub fn longitudes(&self, at: Instant) -> Longitudes {
        let t = at.centuries();
        let obliquity = earth::mean_obliquity_deg(t) + earth::nutation(t).obliquity_deg;
        let (sin, cos) = obliquity.to_radians().sin_cos();
        let of = |[x, y, z]: [f64; 3]| (y * cos + z * sin).atan2(x).to_degrees();
        Longitudes {
            sun_deg: of(self.sun_km),
            moon_deg: of(self.moon_km),
        }
    }

    /// How far the earth has turned an observer.
    pub fn turned(&self, observer: &Observer, at: Instant) -> Turned {
        observer.turned(earth::sidereal_deg(at, self.equation_deg))
    }

    /// The sun as an observer sees it.
    pub fn sun_from(&self, observer: &Observer, at: Instant) -> Seen {
        observer.see(self.sun_km, self.turned(observer, at))
    }

    /// The moon as an observer sees it.
    pub fn moon_from(&self, observer: &Observer, at: Instant) -> Seen {
        observer.see(self.moon_km, self.turned(observer, at))
    }
}

/// The apparent sun, from the library.
fn sun_km(at: Instant) -> [f64; 3] {
    // The library wants UT1 and ΔT; it uses UT1 only for sidereal time, which is not asked of it.
    let found = JulianDate::new(J2000_JD + at.tt, 0.0)
        .and_then(|date| SolarPositions::new().for_time_from_julian(date));
    // Years are held between 1900 and 2100 before this; the library takes -2000 to 6000.
    let Ok(sun) = found else {
        return [AU_KM, 0.0, 0.0];
    };
    let distance = AU_KM * sun.earth_radius_vector().unwrap_or(1.0);
    let (sin_ra, cos_ra) = sun.right_ascension().to_radians().sin_cos();
    let (sin_dec, cos_dec) = sun.declination().to_radians().sin_cos();
    [
        distance * cos_dec * cos_ra,
        distance * cos_dec * sin_ra,
        distance * sin_dec,
    ]
}

/// Sun and moon over a stretch of time.
#[derive(Clone, Debug)]
pub(crate) struct Ephemeris {
    first_tt: f64,
    nodes: Vec<[f64; 7]>,
}

impl Ephemeris {
    /// Over UTC days `from` to `to`.
    pub fn over(from: f64, to: f64) -> Self {
        let reach = STEP_DAYS * (POINTS / 2) as f64;
        let first_tt = Instant::from_utc(from).tt - reach;
        let last_tt = Instant::from_utc(to).tt + reach;
        let count = ((last_tt - first_tt) / STEP_DAYS).ceil() as usize + 2;
        let node = |index| {
            let tt = first_tt + index as f64 * STEP_DAYS;
            let Bodies {
                sun_km: [a, b, c],
                moon_km: [d, e, f],
                equation_deg,
            } = Bodies::compute(Instant { tt, ut1: tt });
            [a, b, c, d, e, f, equation_deg]
        };
        Self {
            first_tt,
            nodes: (0..count).map(node).collect(),
        }
    }

    /// Read off at an instant inside the stretch.
    pub fn at(&self, at: Instant) -> Bodies {
        let place = (at.tt - self.first_tt) / STEP_DAYS;
        let most = self.nodes.len() - POINTS;
        // Never negative, so cutting off is rounding down.
        let start = (place as usize).saturating_sub(POINTS / 2 - 1).min(most);
        let weights = lagrange(place - start as f64);
        let mut sum = [0.0; 7];
        for (weight, node) in weights.iter().zip(&self.nodes[start..]) {
            for (sum, value) in sum.iter_mut().zip(node) {
                *sum += weight * value;
            }
        }
        let [a, b, c, d, e, f, equation_deg] = sum;
        Bodies {
            sun_km: [a, b, c],
            moon_km: [d, e, f],
            equation_deg,
        }
    }
}

/// Weights of the points 0 to 7 for a value at `x`.
fn lagrange(x: f64) -> [f64; POINTS] {
    // 1 / the product of i − j over j ≠ i.
    const SCALE: [f64; POINTS] = [
        -1.0 / 5040.0,
        1.0 / 720.0,
        -1.0 / 240.0,
        1.0 / 144.0,
        -1.0 / 144.0,
        1.0 / 240.0,
        -1.0 / 720.0,
        1.0 / 5040.0,
    ];
    let mut before = [1.0; POINTS];
    let mut after = [1.0; POINTS];
    for i in 1..POINTS {
        before[i] = before[i - 1] * (x - (i - 1) as f64);
        after[POINTS - 1 - i] = after[POINTS - i] * (x - (POINTS - i) as f64);
    }
    std::array::from_fn(|i| before[i] * after[i] * SCALE[i])
}

fn dot(a: [f64; 3], b: [f64; 3]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

fn length(a: [f64; 3]) -> f64 {
    dot(a, a).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at_tt(jde: f64) -> Instant {
        let tt = jde - J2000_JD;
        Instant { tt, ut1: tt }
    }

    fn equatorial([x, y, z]: [f64; 3]) -> (f64, f64) {
        let ascension = y.atan2(x).to_degrees().rem_euclid(360.0);
        (ascension, z.atan2(x.hypot(y)).to_degrees())
    }

    #[test]
    fn moon_as_meeus_47a() {
        // 1992 April 12, 0h TD: apparent 134.688470, +13.768368.
        let (ascension, declination) = equatorial(Bodies::compute(at_tt(2_448_724.5)).moon_km);
        assert!((ascension - 134.688_470).abs() < 5e-6, "{ascension}");
        assert!((declination - 13.768_368).abs() < 5e-6, "{declination}");
    }

    #[test]
    fn sun_as_meeus_25b() {
        // 1992 October 13, 0h TD: 13h13m30.748s, −7°47′01.74″, 0.99760852 AU, longitude
        // 199°54′21.56″ (full VSOP87).
        let at = at_tt(2_448_908.5);
        let bodies = Bodies::compute(at);
        let (ascension, declination) = equatorial(bodies.sun_km);
        let wanted = (13.0 + 13.0 / 60.0 + 30.748 / 3600.0) * 15.0;
        assert!((ascension - wanted).abs() * 3600.0 < 0.5, "{ascension}");
        let wanted = -(7.0 + 47.0 / 60.0 + 1.74 / 3600.0);
        assert!((declination - wanted).abs() * 3600.0 < 0.5, "{declination}");
        assert!((length(bodies.sun_km) / AU_KM - 0.997_608_52).abs() < 1e-6);
        let longitude = bodies.longitudes(at).sun_deg.rem_euclid(360.0);
        let wanted = 199.0 + 54.0 / 60.0 + 21.56 / 3600.0;
        assert!((longitude - wanted).abs() * 3600.0 < 0.5, "{longitude}");
    }

    #[test]
    fn phase_as_meeus_48a() {
        // 1992 April 12, 0h TD: phase angle 69.0756°.
        let found = Bodies::compute(at_tt(2_448_724.5)).phase_angle_deg();
        assert!((found - 69.0756).abs() < 5e-3, "{found}");
    }

    #[test]
    fn reading_off_loses_nothing_that_counts() {
        let span = Ephemeris::over(9_000.0, 9_060.0);
        let mut worst: f64 = 0.0;
        for step in 0..2_000 {
            let at = Instant::from_utc(9_000.0 + f64::from(step) * 0.03);
            let (read, computed) = (span.at(at), Bodies::compute(at));
            for (a, b) in [
                (read.sun_km, computed.sun_km),
                (read.moon_km, computed.moon_km),
            ] {
                let apart = [a[0] - b[0], a[1] - b[1], a[2] - b[2]];
                worst = worst.max((length(apart) / length(b)).to_degrees() * 3600.0);
            }
        }
        assert!(worst < 0.1, "{worst}″");
    }
}
