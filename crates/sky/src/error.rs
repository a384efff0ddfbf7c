//! What can be wrong with what was asked, and what is worth knowing about the answer.

use jiff::civil::Date;

/// The years the sky is computed for, first and last.
pub const YEARS: (i16, i16) = (1900, 2100);

/// Why there is no answer.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum Error {
    /// A latitude beyond the poles, or no number.
    #[error(
        "the latitude {latitude_deg} is outside -90 to 90; give degrees, north positive{}",
        swap_hint(*latitude_deg, *longitude_deg)
    )]
    Latitude {
        /// What was given.
        latitude_deg: f64,
        /// What was given beside it.
        longitude_deg: f64,
    },
    /// A longitude beyond ±180, or no number.
    #[error("the longitude {longitude_deg} is outside -180 to 180; give degrees, east positive")]
    Longitude {
        /// What was given.
        longitude_deg: f64,
    },
    /// A date outside [`YEARS`].
    #[error(
        "the sky is computed for the years {} to {}, and {date} is outside; choose a date between",
        YEARS.0, YEARS.1
    )]
    Year {
        /// What was given.
        date: Date,
    },
    /// No time of day.
    #[error("`{text}` is no time of day; write it as hours and minutes, such as 18:10")]
    NoClock {
        /// What was given.
        text: String,
    },
    /// No zone of the IANA database.
    #[error("there is no time zone `{name}`{}", nearest_hint(nearest.as_deref()))]
    NoZone {
        /// What was given.
        name: String,
        /// The name nearest to it.
        nearest: Option<String>,
    },
    /// A date that a zone left out.
    #[error("there was no {date} in {zone}, where the calendar left it out; choose another date")]
    NoSuchDay {
        /// The date.
        date: Date,
        /// The zone.
        zone: String,
    },
    /// No pairs of azimuth and elevation.
    #[error(
        "`{text}` is no horizon; write azimuth:elevation pairs in degrees, such as 90:12,180:30"
    )]
    NoHorizon {
        /// The part that could not be read.
        text: String,
    },
    /// An obstruction that can't stand anywhere.
    #[error(
        "an obstruction at azimuth {azimuth_deg} with elevation {elevation_deg} can't be; azimuths run from 0 to 360 and elevations from 0 to 90 degrees"
    )]
    Obstruction {
        /// Degrees from north through east.
        azimuth_deg: f64,
        /// Degrees above level.
        elevation_deg: f64,
    },
    /// A bearing that is no direction.
    #[error("the bearing {bearing_deg} is outside 0 to 360; give degrees from north through east")]
    Bearing {
        /// What was given.
        bearing_deg: f64,
    },
    /// A band of sun altitudes that holds nothing.
    #[error(
        "a band from {low_deg} to {high_deg} degrees holds no sun altitudes; give the lower one first, both between -90 and 90"
    )]
    Band {
        /// Lower edge.
        low_deg: f64,
        /// Upper edge.
        high_deg: f64,
    },
}

fn swap_hint(latitude_deg: f64, longitude_deg: f64) -> &'static str {
    if latitude_deg.abs() <= 180.0 && longitude_deg.abs() <= 90.0 {
        " (are latitude and longitude swapped?)"
    } else {
        ""
    }
}

fn nearest_hint(nearest: Option<&str>) -> String {
    nearest.map_or_else(
        || "; give a name of the IANA database, such as Europe/Lisbon".to_owned(),
        |name| format!("; did you mean {name}?"),
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sentences_say_what_to_do() {
        let swapped = Error::Latitude {
            latitude_deg: -118.2437,
            longitude_deg: 34.0522,
        };
        assert!(swapped.to_string().contains("swapped"));
        let far = Error::Latitude {
            latitude_deg: 400.0,
            longitude_deg: 120.0,
        };
        assert!(!far.to_string().contains("swapped"));
    }
}
