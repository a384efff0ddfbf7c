//! What is worth telling of a photograph although it was read.

/// What is worth telling of a photograph, one sentence each; the file is named beside it.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum PhotoNote {
    /// No EXIF.
    #[error("holds nothing that a camera wrote (no EXIF)")]
    NoExif,
    /// EXIF that can't be read at all.
    #[error("what its camera wrote can't be read ({said})")]
    Unreadable {
        /// What the reader said.
        said: String,
    },
    /// EXIF that can be read in part.
    #[error("what its camera wrote is damaged ({said}); the rest of it is used")]
    Damaged {
        /// What the reader said.
        said: String,
    },
    /// A number over zero, of the wrong kind, or out of range.
    #[error("its {name} ({met}) is no {name}, so it is left out")]
    Number {
        /// Of what.
        name: &'static str,
        /// What stands there.
        met: String,
    },
    /// Half a position, or one without its hemispheres.
    #[error("its position lacks {lacks}, so it is left out")]
    HalfPosition {
        /// What is missing.
        lacks: &'static str,
    },
    /// Latitude or longitude beyond its range.
    #[error("its position ({latitude:.5}, {longitude:.5}) is nowhere on earth, so it is left out")]
    Nowhere {
        /// As far as it could be read, degrees.
        latitude: f64,
        /// As far as it could be read, degrees.
        longitude: f64,
    },
    /// Latitude and longitude zero.
    #[error("its position is 0, 0, which is what a camera writes that has none; it is left out")]
    NoFix,
    /// The receiver had lost its fix.
    #[error("its camera had lost the satellites, so its position may be old")]
    OldFix,
    /// A position good to some tens of metres.
    #[error("its position is good to {metres:.0} m only")]
    Coarse {
        /// How good, as written.
        metres: f64,
    },
    /// Magnetic north.
    #[error("its bearing counts from magnetic north")]
    Magnetic,
    /// No word on which north.
    #[error("its bearing does not say from which north; true north is assumed")]
    WhichNorth,
    /// A time that is none.
    #[error("its time (`{text}`) is no time, so it is left out")]
    Time {
        /// What stands there.
        text: String,
    },
    /// A zone that is none.
    #[error("the zone of its clock (`{text}`) is no zone, so it is left out")]
    Zone {
        /// What stands there.
        text: String,
    },
    /// Only the time of the file's last change is written.
    #[error("when it was taken is not written; its time is when it was last changed")]
    ChangeTime,
    /// A clock that was never set.
    #[error("its clock looks wrong: it says {taken}, before photographs had such notes")]
    ClockEarly {
        /// What the clock said.
        taken: String,
    },
    /// A clock ahead of the file.
    #[error(
        "its clock looks wrong: it says {taken}, but the file was last changed at {modified} UTC"
    )]
    ClockLate {
        /// What the clock said.
        taken: String,
        /// When the file was changed, UTC.
        modified: String,
    },
    /// A clock that contradicts the satellites in the zone it states.
    #[error(
        "its clock looks wrong: it says {taken} at {offset} from UTC, but the satellites said {gps} UTC"
    )]
    ClockAgainstSatellites {
        /// What the clock said.
        taken: String,
        /// The zone it stated.
        offset: String,
        /// What the satellites said.
        gps: String,
    },
    /// A clock that contradicts the satellites in every zone.
    #[error(
        "its clock looks wrong: it says {taken}, which is the satellites' time, {gps} UTC, in no zone"
    )]
    ClockInNoZone {
        /// What the clock said.
        taken: String,
        /// What the satellites said.
        gps: String,
    },
    /// A zone far from where the position lies.
    #[error(
        "its clock's zone ({offset} from UTC) is not used at longitude {longitude:.1}; one of the two is wrong"
    )]
    ZoneAgainstPosition {
        /// The zone, stated or told by the satellites.
        offset: String,
        /// Degrees east.
        longitude: f64,
    },
}
