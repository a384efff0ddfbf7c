//! A person's corrections of the sections, as pure functions: from the map they stand on to new ones; and
//! what the figures set by hand must lie between.
//!
//! Sections are kept whole from the first touch on: where they lie is then the person's, and a later listening
//! does not move them.

use crate::Error;
use model::section::nth_letter;
use model::{Corrections, MarkedSection, Section, SongMap, SongTime, Stretch};
use std::ops::RangeInclusive;

/// Tempi that can be set by hand, beats a minute.
pub const TEMPI_BPM: RangeInclusive<f64> = 20.0..=400.0;
/// Beats in a bar that can be set by hand.
pub const BEATS_PER_BAR: RangeInclusive<u32> = 1..=16;

/// Whether a boundary set by hand goes where it was put, or to the bar line nearest to it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Snap {
    /// Exactly where it was put.
    Free,
    /// To the nearest bar line.
    ToBar,
}

/// Moves the boundary between sections `boundary` and `boundary + 1` (counted from 0) to `to`.
///
/// # Errors
/// No such boundary, or one of the two sections would be empty.
pub fn drag_boundary(
    map: &SongMap,
    corrections: &Corrections,
    boundary: usize,
    to: SongTime,
    snap: Snap,
) -> Result<Corrections, Error> {
    let inner = map.sections.len().saturating_sub(1);
    if boundary >= inner {
        return Err(Error::NoBoundary(boundary, inner));
    }
    let to = snapped(map, to, snap);
    let mut marked = as_marked(map);
    let (start, end) = (marked[boundary].at.start(), marked[boundary + 1].at.end());
    let empty = Error::EmptySection(to, start, end);
    marked[boundary].at = Stretch::new(start, to).ok_or_else(|| empty.clone())?;
    marked[boundary + 1].at = Stretch::new(to, end).ok_or(empty)?;
    Ok(with_sections(corrections, marked))
}

/// Splits the section holding `at` there; the second part takes the first letter not in use.
///
/// # Errors
/// One of the two parts would be empty.
pub fn split(
    map: &SongMap,
    corrections: &Corrections,
    at: SongTime,
    snap: Snap,
) -> Result<Corrections, Error> {
    let at = snapped(map, at, snap);
    let mut marked = as_marked(map);
    let index = map.section_index_at(at);
    let Some(old) = marked.get(index).cloned() else {
        return Err(Error::NoSection(index, marked.len()));
    };
    let empty = Error::EmptySection(at, old.at.start(), old.at.end());
    let first = Stretch::new(old.at.start(), at).ok_or_else(|| empty.clone())?;
    let second = Stretch::new(at, old.at.end()).ok_or(empty)?;
    let label = (0..)
        .map(nth_letter)
        .find(|l| marked.iter().all(|m| m.label != *l))
        .unwrap_or_else(|| old.label.clone());
    marked[index].at = first;
    marked.insert(
        index + 1,
        MarkedSection {
            extra: Default::default(),
            label,
            name: None,
            at: second,
        },
    );
    Ok(with_sections(corrections, marked))
}

/// Joins section `index` and the one after it; label and name are those of the first.
///
/// # Errors
/// No such section, or none after it.
pub fn merge(map: &SongMap, corrections: &Corrections, index: usize) -> Result<Corrections, Error> {
    let mut marked = as_marked(map);
    let inner = marked.len().saturating_sub(1);
    if index >= inner {
        return Err(Error::NoBoundary(index, inner));
    }
    let next = marked.remove(index + 1);
    // The two tile, so the join cannot be empty.
    if let Some(at) = Stretch::new(marked[index].at.start(), next.at.end()) {
        marked[index].at = at;
    }
    Ok(with_sections(corrections, marked))
}

/// Gives section `index` another letter: the same letter marks the same music.
///
/// # Errors
/// No such section, or no letter ([`model::section::letter`]).
pub fn relabel(
    map: &SongMap,
    corrections: &Corrections,
    index: usize,
    label: &str,
) -> Result<Corrections, Error> {
    let label = model::section::letter(label).map_err(Error::Letter)?;
    let mut marked = as_marked(map);
    section(&mut marked, index)?.label = label;
    Ok(with_sections(corrections, marked))
}

/// Names section `index`, or takes its name away.
///
/// # Errors
/// No such section.
pub fn name(
    map: &SongMap,
    corrections: &Corrections,
    index: usize,
    name: Option<&str>,
) -> Result<Corrections, Error> {
    let mut marked = as_marked(map);
    section(&mut marked, index)?.name = name
        .map(str::trim)
        .filter(|n| !n.is_empty())
        .map(str::to_owned);
    Ok(with_sections(corrections, marked))
}

fn section(marked: &mut [MarkedSection], index: usize) -> Result<&mut MarkedSection, Error> {
    let count = marked.len();
    marked.get_mut(index).ok_or(Error::NoSection(index, count))
}

fn as_marked(map: &SongMap) -> Vec<MarkedSection> {
    let mark = |s: &Section| MarkedSection {
        extra: Default::default(),
        label: s.label.clone(),
        name: s.name.clone(),
        at: s.at,
    };
    map.sections.iter().map(mark).collect()
}

fn with_sections(corrections: &Corrections, marked: Vec<MarkedSection>) -> Corrections {
    Corrections {
        sections: Some(marked),
        ..corrections.clone()
    }
}

fn snapped(map: &SongMap, at: SongTime, snap: Snap) -> SongTime {
    match snap {
        Snap::Free => at,
        Snap::ToBar => map
            .bars
            .iter()
            .map(|b| b.at.start())
            .min_by_key(|line| at.since(*line).abs())
            .unwrap_or(at),
    }
}
