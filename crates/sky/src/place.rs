//! A place on the earth, and what stands around it.

use crate::earth::Observer;
use crate::error::Error;
use std::str::FromStr;

/// Latitude and longitude, checked.
#[derive(Clone, Copy, Debug)]
pub struct Place {
    latitude_deg: f64,
    longitude_deg: f64,
    observer: Observer,
}

impl Place {
    /// Degrees on WGS 84, north and east positive; latitude −90 to 90, longitude −180 to 180.
    ///
    /// # Errors
    /// When either is outside, or no number.
    pub fn new(latitude_deg: f64, longitude_deg: f64) -> Result<Self, Error> {
        if !(-90.0..=90.0).contains(&latitude_deg) {
            return Err(Error::Latitude {
                latitude_deg,
                longitude_deg,
            });
        }
        if !(-180.0..=180.0).contains(&longitude_deg) {
            return Err(Error::Longitude { longitude_deg });
        }
        Ok(Self {
            latitude_deg,
            longitude_deg,
            observer: Observer::new(latitude_deg, longitude_deg),
        })
    }

    /// Degrees, north positive.
    pub fn latitude_deg(&self) -> f64 {
        self.latitude_deg
    }

    /// Degrees, east positive.
    pub fn longitude_deg(&self) -> f64 {
        self.longitude_deg
    }

    pub(crate) fn observer(&self) -> &Observer {
        &self.observer
    }
}

/// What hides the sky around a place: roofs, hills, trees.
///
/// A ring of (azimuth, elevation) in degrees, linear in between and on through north. Two pairs at
/// one azimuth make an edge. Without pairs the horizon is level.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Horizon {
    pairs: Vec<(f64, f64)>,
}

impl Horizon {
    /// From (azimuth, elevation) pairs in any order; azimuth 0 to 360 from north through east,
    /// elevation 0 to 90 above level.
    ///
    /// # Errors
    /// [`Error::Obstruction`] for a pair outside these.
    pub fn new(pairs: &[(f64, f64)]) -> Result<Self, Error> {
        for (azimuth_deg, elevation_deg) in pairs {
            let stands =
                (0.0..=360.0).contains(azimuth_deg) && (0.0..=90.0).contains(elevation_deg);
            if !stands {
                return Err(Error::Obstruction {
                    azimuth_deg: *azimuth_deg,
                    elevation_deg: *elevation_deg,
                });
            }
        }
        let mut pairs = pairs.to_vec();
        pairs.sort_by(|a, b| a.0.total_cmp(&b.0));
        Ok(Self { pairs })
    }

    /// True when nothing stands in the way.
    pub fn is_level(&self) -> bool {
        self.pairs.iter().all(|(_, elevation)| *elevation == 0.0)
    }

    /// How high the obstruction stands in this direction, degrees.
    pub fn elevation_deg(&self, azimuth_deg: f64) -> f64 {
        let azimuth = azimuth_deg.rem_euclid(360.0);
        let (Some(first), Some(last)) = (self.pairs.first(), self.pairs.last()) else {
            return 0.0;
        };
        let after = self.pairs.partition_point(|(at, _)| *at <= azimuth);
        let (before, next) = if after == 0 {
            ((last.0 - 360.0, last.1), *first)
        } else if after == self.pairs.len() {
            (*last, (first.0 + 360.0, first.1))
        } else {
            (self.pairs[after - 1], self.pairs[after])
        };
        let width = next.0 - before.0;
        if width <= 0.0 {
            return before.1;
        }
        before.1 + (next.1 - before.1) * (azimuth - before.0) / width
    }
}

/// `AZIMUTH:ELEVATION,AZIMUTH:ELEVATION`; nothing is a level horizon.
impl FromStr for Horizon {
    type Err = Error;

    fn from_str(text: &str) -> Result<Self, Error> {
        let mut pairs = Vec::new();
        for part in text
            .split(',')
            .map(str::trim)
            .filter(|part| !part.is_empty())
        {
            let pair = part.split_once(':').and_then(|(azimuth, elevation)| {
                Some((azimuth.trim().parse().ok()?, elevation.trim().parse().ok()?))
            });
            pairs.push(pair.ok_or_else(|| Error::NoHorizon {
                text: part.to_owned(),
            })?);
        }
        Self::new(&pairs)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn places_off_the_globe_are_refused() {
        for (latitude, longitude) in [
            (90.1, 0.0),
            (f64::NAN, 0.0),
            (0.0, 180.5),
            (0.0, f64::INFINITY),
        ] {
            assert!(Place::new(latitude, longitude).is_err());
        }
        assert!(Place::new(-90.0, 180.0).is_ok());
    }

    #[test]
    fn horizons_are_linear_and_wrap_round_north() {
        let horizon: Horizon = "350:20, 90:0,180:30".parse().unwrap();
        for (azimuth, wanted) in [
            (90.0, 0.0),
            (135.0, 15.0),
            (180.0, 30.0),
            (350.0, 20.0),
            (40.0, 10.0),
            (0.0, 18.0),
            (360.0, 18.0),
            (-10.0, 20.0),
        ] {
            let found = horizon.elevation_deg(azimuth);
            assert!((found - wanted).abs() < 1e-9, "{azimuth}: {found}");
        }
        let edge = Horizon::new(&[(0.0, 5.0), (100.0, 5.0), (100.0, 40.0), (200.0, 40.0)]).unwrap();
        assert_eq!(edge.elevation_deg(99.9), 5.0);
        assert_eq!(edge.elevation_deg(100.0), 40.0);
        assert_eq!("30:7".parse::<Horizon>().unwrap().elevation_deg(200.0), 7.0);
        assert!("".parse::<Horizon>().unwrap().is_level());
    }

    #[test]
    fn broken_horizons_are_refused() {
        for text in [
            "90",
            "a:b",
            "90:12;100:3",
            "400:10",
            "10:91",
            "10:-1",
            "NaN:3",
        ] {
            assert!(text.parse::<Horizon>().is_err(), "{text}");
        }
    }
}
