//! Notes in words for a person.

use crate::Note;
use std::fmt;

impl fmt::Display for Note {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::SilentChannel { channel } => {
                write!(f, "sound channel {} is silent", channel + 1)
            }
            Self::NotANumber { channel, samples } => write!(
                f,
                "sound channel {} holds {samples} samples that are not numbers; they were taken as silence",
                channel + 1
            ),
            Self::TooShort { channel, length_s } => write!(
                f,
                "sound channel {} lasts {length_s:.1} s, too short to hear the song in it",
                channel + 1
            ),
            Self::SameChannel {
                channel,
                as_channel,
            } => write!(
                f,
                "sound channel {} holds the same as channel {}",
                channel + 1,
                as_channel + 1
            ),
            Self::NotHeard => f.write_str("the song was not heard in it"),
            Self::PitchKept => f.write_str(
                "the song was played at another speed with its pitch kept; the place is exact to some milliseconds",
            ),
            Self::SeveralPlaces { places } => write!(
                f,
                "it fits {places} places of the song about equally well; choose one by hand"
            ),
        }
    }
}
