//! The bars a setup is planned over: read off its plan, and changed bar by bar.

use model::text::span;
use model::{Setup, SetupId, SongMap};
use std::collections::BTreeSet;

/// Why the bars of a setup can't be changed so.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum BarsError {
    /// Bars that the song does not have, or the wrong way round.
    #[error("the song has no bars {first} to {last}; {there}")]
    NotInTheSong {
        /// The first.
        first: u32,
        /// The last.
        last: u32,
        /// Which it has, in words.
        there: String,
    },
    /// No bar would be left.
    #[error(
        "`{0}` would have no bar left, and a setup without any counts as one over the whole song; remove the setup instead"
    )]
    NoneLeft(SetupId),
}

/// The bars that count as planned for `setup`, by number: those of which it holds half at least.
pub fn bars_of(map: &SongMap, setup: &Setup) -> BTreeSet<u32> {
    let planned = map.planned(setup);
    map.bars
        .iter()
        .filter(|bar| bar.is_half_held(&planned))
        .map(|bar| bar.number)
        .collect()
}

/// `setup` with `bars`, first and last of each stretch, planned (`on`) or not planned any more.
///
/// Sections and stretches stay as long as they say the same; where a bar of theirs is left out, the bars that
/// remain are written one by one.
///
/// # Errors
/// [`BarsError`]: bars that are not in the song, or none that would be left.
pub fn with_bars(
    map: &SongMap,
    setup: &Setup,
    bars: &[[u32; 2]],
    on: bool,
) -> Result<Setup, BarsError> {
    let before = bars_of(map, setup);
    let mut after = before.clone();
    for [first, last] in bars {
        if map.bars_stretch(*first, *last).is_none() {
            return Err(BarsError::NotInTheSong {
                first: *first,
                last: *last,
                there: crate::plan::bar_range(map),
            });
        }
        match on {
            true => after.extend(*first..=*last),
            false => after.retain(|bar| !(*first..=*last).contains(bar)),
        }
    }
    if after.is_empty() {
        return Err(BarsError::NoneLeft(setup.id.clone()));
    }
    let mut next = setup.clone();
    if after == before {
        return Ok(next);
    }
    if after.is_superset(&before) {
        // What sections and stretches already say need not be said again.
        let mut bare = setup.clone();
        bare.bars.clear();
        let said = match bare.is_over_all() {
            true => BTreeSet::new(),
            false => bars_of(map, &bare),
        };
        next.bars = ranges(after.difference(&said).copied());
    } else {
        next.sections.clear();
        next.stretches.clear();
        next.bars = ranges(after.into_iter());
    }
    Ok(next)
}

/// Rising numbers as first and last of each run of them: 3, 4, 5, 9 are 3 to 5 and 9 to 9.
pub fn ranges(numbers: impl Iterator<Item = u32>) -> Vec<[u32; 2]> {
    let mut out: Vec<[u32; 2]> = Vec::new();
    for number in numbers {
        match out.last_mut() {
            Some([_, last]) if *last + 1 == number => *last = number,
            _ => out.push([number, number]),
        }
    }
    out
}

/// `1–4, 7`: rising numbers, those that follow each other drawn together.
pub fn spans(numbers: &[u32]) -> String {
    let spans = ranges(numbers.iter().copied());
    let spans: Vec<String> = spans.into_iter().map(|[a, b]| span(a, b)).collect();
    spans.join(", ")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Options, coverage};
    use model::{Bar, Length, Section, SongTime, Stretch};

    /// Eight bars of two seconds; A is 1 to 4, B is 5 to 8.
    fn song() -> SongMap {
        let at = |from: f64, to: f64| Stretch::between_seconds(from, to).unwrap();
        let section = |label: &str, from, to| Section {
            label: label.into(),
            name: None,
            at: at(from, to),
            energy: 0.0,
            voiced: 0.0,
        };
        SongMap {
            length: Length::nearest_to_seconds(16.0),
            tempo_bpm: 120.0,
            beats_per_bar: 4,
            beats: (0..32)
                .map(|n| SongTime::nearest_to_seconds(f64::from(n) * 0.5))
                .collect(),
            downbeats: (0..8).map(|n| n * 4).collect(),
            bars: (0..8)
                .map(|n| Bar {
                    number: n + 1,
                    at: at(f64::from(n) * 2.0, f64::from(n + 1) * 2.0),
                    energy: 0.0,
                    voice: 0.0,
                })
                .collect(),
            sections: vec![section("A", 0.0, 8.0), section("B", 8.0, 16.0)],
        }
    }

    fn over_a() -> Setup {
        let mut setup = Setup::new(SetupId::new("wide").unwrap());
        setup.sections = vec!["A".into()];
        setup
    }

    #[test]
    fn bars_beyond_the_sections_are_added_to_them() {
        let made = with_bars(&song(), &over_a(), &[[4, 6], [8, 8]], true).unwrap();
        assert_eq!(made.sections, ["A"]);
        assert_eq!(made.bars, [[5, 6], [8, 8]]);
    }

    #[test]
    fn a_bar_taken_out_of_a_section_leaves_the_others() {
        let made = with_bars(&song(), &over_a(), &[[2, 2]], false).unwrap();
        assert!(made.sections.is_empty());
        assert_eq!(made.bars, [[1, 1], [3, 4]]);
    }

    #[test]
    fn a_setup_over_the_whole_song_stays_so_until_a_bar_is_left_out() {
        let whole = Setup::new(SetupId::new("wide").unwrap());
        assert_eq!(with_bars(&song(), &whole, &[[3, 4]], true).unwrap(), whole);
        let made = with_bars(&song(), &whole, &[[3, 4]], false).unwrap();
        assert_eq!(made.bars, [[1, 2], [5, 8]]);
    }

    #[test]
    fn what_is_planned_is_what_coverage_counts() {
        let song = song();
        let mut now = over_a();
        let mut wanted: BTreeSet<u32> = (1..=4).collect();
        for (bars, on) in [
            ([3, 5], false),
            ([7, 8], true),
            ([1, 1], false),
            ([5, 6], true),
            ([8, 8], false),
        ] {
            for bar in bars[0]..=bars[1] {
                match on {
                    true => wanted.insert(bar),
                    false => wanted.remove(&bar),
                };
            }
            now = with_bars(&song, &now, &[bars], on).unwrap();
            let setups = [now.clone()];
            let counted = coverage(&song, &setups, &[], &[], &Options::default());
            let planned = counted
                .bars
                .iter()
                .filter(|bar| bar.planned.contains(&now.id));
            assert_eq!(
                planned.map(|bar| bar.number).collect::<BTreeSet<_>>(),
                wanted
            );
        }
    }

    #[test]
    fn what_cannot_be_planned_is_one_sentence() {
        let said = |bars, on| {
            with_bars(&song(), &over_a(), &[bars], on)
                .unwrap_err()
                .to_string()
        };
        assert_eq!(
            said([7, 9], true),
            "the song has no bars 7 to 9; its bars go from 1 to 8"
        );
        assert_eq!(
            said([4, 2], true),
            "the song has no bars 4 to 2; its bars go from 1 to 8"
        );
        assert!(said([1, 8], false).starts_with("`wide` would have no bar left"));
    }
}
