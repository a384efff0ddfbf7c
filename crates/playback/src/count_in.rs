//! The beats counted in before a stretch, on the song's own beats.

use crate::Error;
use model::{SongMap, SongTime, TICKS_PER_SECOND};

/// Bars counted in.
pub const BARS: u32 = 2;

/// Beats to count in by.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum CountIn<'a> {
    /// The song's beats; before the first and after the last they go on at the tempo of the two
    /// bars there.
    Beats {
        /// Every beat, rising.
        beats: &'a [SongTime],
        /// Which of them start a bar, rising indices.
        downbeats: &'a [usize],
        /// Beats in a bar.
        beats_per_bar: u32,
    },
    /// A tempo; the stretch starts on a downbeat.
    Tempo {
        /// Song beats a minute, 20 to 400.
        bpm: f64,
        /// Beats in a bar, 1 to 32.
        beats_per_bar: u32,
    },
    /// No count-in: the music starts with the stretch.
    Off,
}

impl<'a> From<&'a SongMap> for CountIn<'a> {
    fn from(map: &'a SongMap) -> Self {
        Self::Beats {
            beats: &map.beats,
            downbeats: &map.downbeats,
            beats_per_bar: map.beats_per_bar,
        }
    }
}

/// A beat that is clicked.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Beat {
    /// When, on the song; may lie before it.
    pub at: SongTime,
    /// Whether it starts a bar.
    pub accent: bool,
}

impl CountIn<'_> {
    /// The beats of the two bars before `start`, in order, none at `start` itself; empty when there
    /// are no beats to count by. A start between two beats is counted in from two bars before the
    /// beat that precedes it.
    ///
    /// # Errors
    /// [`Error::CountIn`] for a tempo or bar nobody can play.
    pub(crate) fn beats_before(&self, start: SongTime) -> Result<Vec<Beat>, Error> {
        match *self {
            Self::Off => Ok(Vec::new()),
            Self::Tempo { bpm, beats_per_bar } => {
                if !(20.0..=400.0).contains(&bpm) || !(1..=32).contains(&beats_per_bar) {
                    return Err(Error::CountIn { bpm, beats_per_bar });
                }
                let step = 60.0 / bpm * TICKS_PER_SECOND as f64;
                let count = BARS * beats_per_bar;
                Ok((0..count)
                    .map(|k| Beat {
                        at: SongTime::from_ticks(
                            start.ticks() - (f64::from(count - k) * step).round() as i64,
                        ),
                        accent: k % beats_per_bar == 0,
                    })
                    .collect())
            }
            Self::Beats {
                beats,
                downbeats,
                beats_per_bar,
            } => {
                if beats.len() < 2 || beats[0] >= beats[beats.len() - 1] {
                    return Ok(Vec::new());
                }
                Ok(Grid::new(beats, downbeats, beats_per_bar).before(start))
            }
        }
    }
}

/// The song's beats, going on to both sides; indices count from the first known beat.
struct Grid<'a> {
    beats: &'a [SongTime],
    downbeats: &'a [usize],
    per_bar: i64,
    /// Ticks per beat before the first and after the last.
    steps: (f64, f64),
}

impl<'a> Grid<'a> {
    fn new(beats: &'a [SongTime], downbeats: &'a [usize], beats_per_bar: u32) -> Self {
        let per_bar = i64::from(beats_per_bar.clamp(1, 32));
        let last = beats.len() - 1;
        let some = last.min(2 * per_bar as usize);
        let step = |from: usize, to: usize| {
            ((beats[to].ticks() - beats[from].ticks()) as f64 / (to - from) as f64).max(1.0)
        };
        Self {
            beats,
            downbeats,
            per_bar,
            steps: (step(0, some), step(last - some, last)),
        }
    }

    fn at(&self, index: i64) -> i64 {
        let last = self.beats.len() as i64 - 1;
        if index < 0 {
            self.beats[0].ticks() + (index as f64 * self.steps.0).round() as i64
        } else if index > last {
            self.beats[last as usize].ticks()
                + ((index - last) as f64 * self.steps.1).round() as i64
        } else {
            self.beats[index as usize].ticks()
        }
    }

    /// The last beat at or before `ticks`.
    fn holding(&self, ticks: i64) -> i64 {
        let last = self.beats.len() as i64 - 1;
        let (first_at, last_at) = (self.at(0), self.at(last));
        let mut index = if ticks < first_at {
            ((ticks - first_at) as f64 / self.steps.0).floor() as i64
        } else if ticks >= last_at {
            last + ((ticks - last_at) as f64 / self.steps.1).floor() as i64
        } else {
            self.beats.partition_point(|beat| beat.ticks() <= ticks) as i64 - 1
        };
        // The step was rounded to ticks.
        while self.at(index) > ticks {
            index -= 1;
        }
        while self.at(index + 1) <= ticks {
            index += 1;
        }
        index
    }

    fn is_downbeat(&self, index: i64) -> bool {
        match (self.downbeats.first(), self.downbeats.last()) {
            (Some(&first), _) if index < first as i64 => (first as i64 - index) % self.per_bar == 0,
            (_, Some(&last)) if index > last as i64 => (index - last as i64) % self.per_bar == 0,
            (Some(_), _) => self.downbeats.binary_search(&(index as usize)).is_ok(),
            _ => index.rem_euclid(self.per_bar) == 0,
        }
    }

    fn before(&self, start: SongTime) -> Vec<Beat> {
        let held = self.holding(start.ticks());
        let (from, to) = (self.at(held), self.at(held + 1));
        // A start this near to a beat is meant to be on it.
        let near = (to - from) / 8;
        let (on, end) = if start.ticks() - from <= near {
            (held, held)
        } else if to - start.ticks() <= near {
            (held + 1, held + 1)
        } else {
            (held, held + 1)
        };
        let two_bars = i64::from(BARS) * self.per_bar;
        let mut first = on - two_bars;
        if end == on && self.is_downbeat(on) {
            // Where the bars before are known, they may be longer or shorter than usual.
            let downbeats: Vec<i64> = (1..=2 * two_bars)
                .map(|back| on - back)
                .filter(|index| self.is_downbeat(*index))
                .collect();
            first = downbeats.get(BARS as usize - 1).copied().unwrap_or(first);
        }
        (first..end)
            .map(|index| Beat {
                at: SongTime::from_ticks(self.at(index)),
                accent: self.is_downbeat(index),
            })
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn beats(first_s: f64, step_s: f64, count: usize) -> Vec<SongTime> {
        (0..count)
            .map(|k| SongTime::nearest_to_seconds(first_s + step_s * k as f64))
            .collect()
    }

    fn seconds(found: &[Beat]) -> Vec<(f64, bool)> {
        found
            .iter()
            .map(|b| ((b.at.seconds() * 1000.0).round() / 1000.0, b.accent))
            .collect()
    }

    #[test]
    fn two_bars_are_counted_on_the_beats() {
        let beats = beats(0.25, 0.5, 40);
        let downbeats: Vec<usize> = (1..40).step_by(4).collect();
        let by = CountIn::Beats {
            beats: &beats,
            downbeats: &downbeats,
            beats_per_bar: 4,
        };
        // The fourth bar starts on beat 13, at 6.75 s.
        let found = by.beats_before(SongTime::nearest_to_seconds(6.75)).unwrap();
        let expected: Vec<(f64, bool)> = (0..8)
            .map(|k| (2.75 + 0.5 * f64::from(k), k % 4 == 0))
            .collect();
        assert_eq!(seconds(&found), expected);
        // Between two beats: the beat before the start is clicked too.
        let found = by.beats_before(SongTime::nearest_to_seconds(7.0)).unwrap();
        assert_eq!(seconds(&found).first(), Some(&(2.75, true)));
        assert_eq!(seconds(&found).last(), Some(&(6.75, true)));
    }

    #[test]
    fn before_the_song_the_first_bars_go_on_backwards() {
        let beats = beats(0.4, 0.6, 20);
        let downbeats = [0, 3, 6, 9, 12, 15, 18];
        let by = CountIn::Beats {
            beats: &beats,
            downbeats: &downbeats,
            beats_per_bar: 3,
        };
        let found = by.beats_before(SongTime::nearest_to_seconds(0.4)).unwrap();
        let expected: Vec<(f64, bool)> = (0..6)
            .map(|k| {
                (
                    ((0.4 + 0.6 * f64::from(k - 6)) * 1000.0).round() / 1000.0,
                    k % 3 == 0,
                )
            })
            .collect();
        assert_eq!(seconds(&found), expected);
    }

    #[test]
    fn an_odd_bar_is_counted_as_long_as_it_is() {
        let beats = beats(0.0, 0.5, 30);
        // A bar of two beats before the one that starts on beat 10.
        let downbeats = [0, 4, 8, 10, 14, 18];
        let by = CountIn::Beats {
            beats: &beats,
            downbeats: &downbeats,
            beats_per_bar: 4,
        };
        assert_eq!(
            by.beats_before(SongTime::nearest_to_seconds(5.0))
                .unwrap()
                .len(),
            6
        );
    }

    #[test]
    fn a_tempo_counts_to_a_downbeat() {
        let by = CountIn::Tempo {
            bpm: 120.0,
            beats_per_bar: 4,
        };
        let found = by.beats_before(SongTime::nearest_to_seconds(10.0)).unwrap();
        assert_eq!(seconds(&found)[0], (6.0, true));
        assert_eq!(found.iter().filter(|b| b.accent).count(), 2);
        for (bpm, beats_per_bar) in [
            (0.0, 4),
            (-3.0, 4),
            (f64::NAN, 4),
            (1e9, 4),
            (120.0, 0),
            (120.0, 99),
        ] {
            assert!(
                CountIn::Tempo { bpm, beats_per_bar }
                    .beats_before(SongTime::ZERO)
                    .is_err()
            );
        }
        let none = CountIn::Beats {
            beats: &beats(0.0, 1.0, 1),
            downbeats: &[],
            beats_per_bar: 4,
        };
        assert_eq!(none.beats_before(SongTime::ZERO), Ok(vec![]));
    }

    proptest! {
        #[test]
        fn clicks_rise_and_end_before_the_start(first in 0.0..5.0, step in 0.2..2.0, count in 2_usize..60, at in -10.0..200.0, per_bar in 0_u32..9, every in 1_usize..9) {
            let beats = beats(first, step, count);
            let downbeats: Vec<usize> = (0..count).step_by(every).collect();
            let start = SongTime::nearest_to_seconds(at);
            let by = CountIn::Beats { beats: &beats, downbeats: &downbeats, beats_per_bar: per_bar };
            let found = by.beats_before(start).unwrap();
            prop_assert!(!found.is_empty());
            prop_assert!(found.windows(2).all(|w| w[0].at < w[1].at));
            let last = found[found.len() - 1].at;
            prop_assert!(last < start);
            prop_assert!(start.since(last).seconds() <= step * 1.2);
        }
    }
}
