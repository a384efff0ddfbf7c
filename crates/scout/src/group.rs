//! Which photographs belong to one place.
//!
//! Single linkage: what lies within the distance of any photograph of a place belongs to it, so a
//! walk that comes back later comes back to the same place. Places already in the document draw
//! photographs in but never merge: a photograph between two goes to the one it is linked to by the
//! shorter steps. What has no position is linked by time instead, to whatever was photographed
//! nearest, and among itself where nothing was.
//!
//! The order of the photographs changes nothing.

use crate::Error;
use crate::distance::{between, middle, point};
use jiff::civil::DateTime;
use model::{Photo, Place, PlaceId};

/// The most photographs in one go: their pairs are compared.
const MOST: usize = 10_000;

/// How photographs are grouped.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Options {
    /// How near to one another photographs of one place lie, metres, 1 to 10 000. A phone's position
    /// is off by 5 to 20 m under open sky and more between walls (common practice): less than that
    /// breaks a place in two, much more joins neighbours.
    pub within_m: f64,
    /// How near in time a photograph without position lies to one of its place, minutes, 0 to 1440.
    /// More forgives a phone that finds its position late; less keeps a walk's stops apart.
    pub within_min: f64,
}

impl Default for Options {
    fn default() -> Self {
        Self {
            within_m: 40.0,
            within_min: 10.0,
        }
    }
}

impl Options {
    fn check(&self) -> Result<(), Error> {
        for (what, met, range, allowed) in [
            (
                "a distance",
                self.within_m,
                1.0..=10_000.0,
                "1 to 10000 metres",
            ),
            ("a time", self.within_min, 0.0..=1440.0, "0 to 1440 minutes"),
        ] {
            if !range.contains(&met) {
                return Err(Error::OutOfRange { what, met, allowed });
            }
        }
        Ok(())
    }
}

/// A photograph to be grouped.
#[derive(Clone, Debug, PartialEq)]
pub struct Walked {
    /// The photograph; its content's hash tells it from others.
    pub photo: Photo,
    /// The name of the folder it lay in, where somebody sorted them.
    pub folder: Option<String>,
}

/// Photographs of one place.
#[derive(Clone, Debug, PartialEq)]
pub struct Group {
    /// The place of the document they belong to; `None` for a new one.
    pub place: Option<PlaceId>,
    /// Which, as rising indices into what was given.
    pub photos: Vec<usize>,
    /// Those that belong by time alone, with the minutes to the nearest photograph of the place (or,
    /// for a place made of such, of one another), rising.
    pub by_time: Vec<(usize, f64)>,
    /// The middle of those that have a position.
    pub position_deg: Option<[f64; 2]>,
    /// How far the farthest lies from that middle, metres.
    pub reach_m: f64,
}

/// All photographs, grouped.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Grouping {
    /// Groups with at least one photograph: those of places that are there in the document's order,
    /// then new ones in the order of their first photograph.
    pub groups: Vec<Group>,
    /// Photographs with neither position nor time, as rising indices.
    pub loose: Vec<usize>,
}

/// Groups `walked` into `places` and new ones.
///
/// # Errors
/// Options out of range, or more than 10 000 photographs.
pub fn group(walked: &[Walked], places: &[Place], options: &Options) -> Result<Grouping, Error> {
    options.check()?;
    if walked.len() > MOST {
        return Err(Error::TooMany {
            met: walked.len(),
            most: MOST,
        });
    }
    // One order for all, whatever order they came in.
    let mut order: Vec<usize> = (0..walked.len()).collect();
    let key = |n: usize| (&walked[n].photo.file.hash, &walked[n].photo.file.path);
    order.sort_by(|a, b| key(*a).cmp(&key(*b)));

    let mut labels: Vec<Option<usize>> = vec![None; walked.len()];
    let mut fresh = places.len();
    by_position(walked, places, &order, options, &mut labels, &mut fresh);
    let apart = by_time(walked, places, &order, options, &mut labels, &mut fresh);

    let mut groups: Vec<Group> = (0..fresh)
        .map(|label| {
            let photos = order
                .iter()
                .copied()
                .filter(|n| labels[*n] == Some(label))
                .collect();
            one(walked, places.get(label), photos, &apart)
        })
        .filter(|group| !group.photos.is_empty())
        .collect();
    // Stable: places of the document stay in its order, before the new ones.
    groups.sort_by_key(|group| match group.place {
        Some(_) => (false, None, None),
        None => {
            let first = |n: &usize| (local(&walked[*n].photo).is_none(), local(&walked[*n].photo));
            (
                true,
                group.photos.iter().map(first).min(),
                group.photos.iter().map(|n| key(*n)).min(),
            )
        }
    });
    let loose = (0..walked.len()).filter(|n| labels[*n].is_none()).collect();
    Ok(Grouping { groups, loose })
}

fn one(
    walked: &[Walked],
    place: Option<&Place>,
    mut photos: Vec<usize>,
    apart: &[Option<f64>],
) -> Group {
    // In the common order, so that the middle is the same to the bit.
    let positions: Vec<[f64; 2]> = photos
        .iter()
        .filter_map(|n| walked[*n].photo.position_deg)
        .collect();
    let position_deg = middle(&positions);
    let reach_m = position_deg.map_or(0.0, |middle| {
        let middle = point(middle);
        positions
            .iter()
            .map(|at| between(&point(*at), &middle))
            .fold(0.0, f64::max)
    });
    photos.sort_unstable();
    let by_time = photos
        .iter()
        .filter_map(|n| apart[*n].map(|minutes| (*n, minutes)))
        .collect();
    Group {
        place: place.map(|place| place.id.clone()),
        photos,
        by_time,
        position_deg,
        reach_m,
    }
}

/// Labels every photograph that has a position.
fn by_position(
    walked: &[Walked],
    places: &[Place],
    order: &[usize],
    options: &Options,
    labels: &mut [Option<usize>],
    fresh: &mut usize,
) {
    let mut points = Vec::new();
    let mut held = Vec::new();
    for (label, place) in places.iter().enumerate() {
        let photos = place.photos.iter().filter_map(|photo| photo.position_deg);
        for position in place.position_deg.into_iter().chain(photos) {
            points.push(point(position));
            held.push(Some(label));
        }
    }
    let known = points.len();
    let with: Vec<usize> = order
        .iter()
        .copied()
        .filter(|n| walked[*n].photo.position_deg.is_some())
        .collect();
    points.extend(
        with.iter()
            .filter_map(|n| walked[*n].photo.position_deg.map(point)),
    );
    held.resize(points.len(), None);
    grow(
        &mut held,
        options.within_m,
        |a, b| between(&points[a], &points[b]),
        fresh,
    );
    for (n, label) in with.iter().zip(&held[known..]) {
        labels[*n] = *label;
    }
}

/// Labels every photograph that has a time and no position yet, and says how far in time it lies
/// from what it was linked to, minutes.
fn by_time(
    walked: &[Walked],
    places: &[Place],
    order: &[usize],
    options: &Options,
    labels: &mut [Option<usize>],
    fresh: &mut usize,
) -> Vec<Option<f64>> {
    let mut times = Vec::new();
    let mut held = Vec::new();
    for (label, place) in places.iter().enumerate() {
        for time in place.photos.iter().filter_map(time) {
            times.push(time);
            held.push(Some(label));
        }
    }
    // Labelled ones first, so that a tie goes to a photograph with a position.
    let mut with: Vec<usize> = order
        .iter()
        .copied()
        .filter(|n| time(&walked[*n].photo).is_some())
        .collect();
    with.sort_by_key(|n| labels[*n].is_none());
    let known = times.len();
    for n in &with {
        times.extend(time(&walked[*n].photo));
        held.push(labels[*n]);
    }
    let minutes = |a: usize, b: usize| apart_s(&times[a], &times[b]) / 60.0;
    let open: Vec<bool> = held.iter().map(Option::is_none).collect();
    grow(&mut held, options.within_min, minutes, fresh);
    let mut apart = vec![None; walked.len()];
    for (nth, n) in with.iter().enumerate() {
        let me = known + nth;
        if !open[me] {
            continue;
        }
        labels[*n] = held[me];
        let nearest = (0..times.len())
            .filter(|other| *other != me && held[*other] == held[me])
            .map(|other| minutes(me, other))
            .fold(f64::INFINITY, f64::min);
        apart[*n] = Some(if nearest.is_finite() { nearest } else { 0.0 });
    }
    apart
}

/// Gives every unlabelled node a label: that of the labelled node it is linked to by the shortest
/// steps, each at most `limit`, or a fresh one.
///
/// Grows a minimum spanning forest from all labelled nodes at once (Prim's algorithm), so that two
/// labels never merge. Quadratic in time, linear in memory. Ties go to the lower index.
fn grow(
    labels: &mut [Option<usize>],
    limit: f64,
    weight: impl Fn(usize, usize) -> f64,
    fresh: &mut usize,
) {
    let mut open: Vec<usize> = (0..labels.len()).filter(|n| labels[*n].is_none()).collect();
    // For each open node the nearest labelled one.
    let mut best: Vec<(f64, usize)> = vec![(f64::INFINITY, usize::MAX); labels.len()];
    let nearer = |best: &mut Vec<(f64, usize)>, n: usize, from: usize| {
        let step = (weight(n, from), from);
        if step.0 < best[n].0 || (step.0 == best[n].0 && step.1 < best[n].1) {
            best[n] = step;
        }
    };
    for n in &open {
        for (from, label) in labels.iter().enumerate() {
            if label.is_some() {
                nearer(&mut best, *n, from);
            }
        }
    }
    while !open.is_empty() {
        let (at, _) = open
            .iter()
            .enumerate()
            .min_by(|(_, a), (_, b)| best[**a].0.total_cmp(&best[**b].0).then(a.cmp(b)))
            .unwrap_or((0, &0));
        let within = best[open[at]].0 <= limit;
        // Beyond the limit all are; the first of them begins a place of its own.
        let next = open.remove(if within { at } else { 0 });
        labels[next] = if within {
            labels[best[next].1]
        } else {
            *fresh += 1;
            Some(*fresh - 1)
        };
        for n in &open {
            nearer(&mut best, *n, next);
        }
    }
}

/// A photograph's clock time as written.
fn local(photo: &Photo) -> Option<DateTime> {
    photo.taken.as_deref()?.parse().ok()
}

/// A clock time, and how far it was ahead of UTC.
type Time = (DateTime, Option<i32>);

fn time(photo: &Photo) -> Option<Time> {
    Some((local(photo)?, photo.utc_offset_minutes))
}

/// Seconds between two photographs: by UTC where both clocks say their zone, otherwise by the clocks
/// as they stood, which are one phone's on one walk.
fn apart_s(a: &Time, b: &Time) -> f64 {
    let clocks = a.0.duration_since(b.0).as_secs_f64();
    match (a.1, b.1) {
        (Some(a), Some(b)) => (clocks - f64::from(a - b) * 60.0).abs(),
        _ => clocks.abs(),
    }
}

#[cfg(test)]
mod tests;
