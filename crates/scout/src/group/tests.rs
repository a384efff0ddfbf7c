//! What holds of grouping, over drawn walks.

use super::*;
use crate::distance_m;
use model::MediaFile;
use proptest::prelude::*;
use std::collections::BTreeMap;

fn photo(n: usize, position_deg: Option<[f64; 2]>, taken: Option<String>) -> Walked {
    Walked {
        photo: Photo {
            position_deg,
            taken,
            ..Photo::new(MediaFile {
                path: format!("{n}.jpg"),
                hash: format!("{n:032x}"),
                bytes: 1,
                extra: Default::default(),
            })
        },
        folder: None,
    }
}

fn place(id: &str, position_deg: Option<[f64; 2]>) -> Place {
    Place {
        position_deg,
        ..Place::new(PlaceId::new(id).unwrap(), id)
    }
}

fn clock(minutes: u32) -> String {
    format!("2026-10-03T{:02}:{:02}:00", minutes / 60, minutes % 60)
}

/// The partition as sets of hashes by label, whatever the order of input.
fn sets(walked: &[Walked], grouping: &Grouping) -> Vec<(Option<String>, Vec<String>)> {
    let hash = |n: &usize| walked[*n].photo.file.hash.clone();
    let mut sets: Vec<_> = grouping
        .groups
        .iter()
        .map(|group| {
            let mut hashes: Vec<String> = group.photos.iter().map(hash).collect();
            hashes.sort();
            (group.place.as_ref().map(ToString::to_string), hashes)
        })
        .collect();
    let mut loose: Vec<String> = grouping.loose.iter().map(hash).collect();
    loose.sort();
    sets.push((Some("loose".into()), loose));
    sets
}

/// Walks around one of a few corners of the earth, the antimeridian and the poles among them.
fn walk() -> impl Strategy<Value = (Vec<Walked>, Vec<Place>)> {
    let corners = prop::sample::select(vec![
        [41.14, -8.61],
        [0.0, 179.9995],
        [89.9995, 30.0],
        [-90.0, 0.0],
        [-33.9, -179.9998],
    ]);
    let near = |corner: [f64; 2], north: f64, east: f64| {
        let latitude = (corner[0] + north / 111_195.0).clamp(-90.0, 90.0);
        let cosine = latitude.to_radians().cos().max(1e-6);
        let longitude = corner[1] + (east / 111_195.0 / cosine).clamp(-180.0, 180.0);
        [latitude, (longitude + 540.0).rem_euclid(360.0) - 180.0]
    };
    let spot = (-300.0..300.0f64, -300.0..300.0f64);
    let one = (
        prop::option::weighted(0.7, spot.clone()),
        prop::option::weighted(0.8, 0..600u32),
    );
    (
        corners,
        prop::collection::vec(one, 0..40),
        prop::collection::vec(spot, 0..4),
    )
        .prop_map(move |(corner, photos, places)| {
            let photos = photos
                .iter()
                .enumerate()
                .map(|(n, (spot, at))| {
                    let position = spot.map(|(north, east)| near(corner, north, east));
                    photo(n, position, at.map(clock))
                })
                .collect();
            let places = places
                .iter()
                .enumerate()
                .map(|(n, (north, east))| {
                    place(&format!("known-{n}"), Some(near(corner, *north, *east)))
                })
                .collect();
            (photos, places)
        })
}

proptest! {
    #[test]
    fn order_changes_nothing((walked, places) in walk(), seed: u64) {
        let options = Options::default();
        let first = group(&walked, &places, &options).unwrap();
        let mut shuffled = walked.clone();
        shuffled.sort_by_key(|one| {
            let n = u64::from_str_radix(&one.photo.file.hash[16..], 16).unwrap();
            (n ^ seed).wrapping_mul(0x9E37_79B9_7F4A_7C15).rotate_left(17)
        });
        let second = group(&shuffled, &places, &options).unwrap();
        prop_assert_eq!(sets(&walked, &first), sets(&shuffled, &second));
        let middles = |grouping: &Grouping| -> Vec<Option<[f64; 2]>> {
            grouping.groups.iter().map(|group| group.position_deg).collect()
        };
        prop_assert_eq!(middles(&first), middles(&second));
    }

    #[test]
    fn each_photograph_ends_in_one_group_or_is_loose((walked, places) in walk()) {
        let grouping = group(&walked, &places, &Options::default()).unwrap();
        let mut seen: Vec<usize> = grouping
            .groups
            .iter()
            .flat_map(|group| group.photos.clone())
            .chain(grouping.loose.clone())
            .collect();
        seen.sort_unstable();
        prop_assert_eq!(seen, (0..walked.len()).collect::<Vec<_>>());
        for n in &grouping.loose {
            prop_assert!(walked[*n].photo.position_deg.is_none() && walked[*n].photo.taken.is_none());
        }
    }

    /// Within a group every photograph is reached from every other by steps within the limits, and
    /// what belongs to no place of the document lies beyond the limit of all other groups.
    #[test]
    fn groups_are_linked_and_apart((walked, places) in walk()) {
        let options = Options::default();
        let grouping = group(&walked, &places, &options).unwrap();
        let at = |n: usize| walked[n].photo.position_deg;
        let placed = |group: &Group| -> Vec<usize> {
            group.photos.iter().copied().filter(|n| at(*n).is_some()).collect()
        };
        let slack = 1e-6;
        for group in &grouping.groups {
            let placed = placed(group);
            let anchor = group.place.as_ref().and_then(|id| {
                places.iter().find(|place| place.id == *id).and_then(|place| place.position_deg)
            });
            let mut spots: Vec<[f64; 2]> = anchor.into_iter().collect();
            spots.extend(placed.iter().filter_map(|n| at(*n)));
            // Everything reached from the first.
            let mut reached: Vec<usize> = (0..spots.len().min(1)).collect();
            let mut next = 0;
            while next < reached.len() {
                for other in 0..spots.len() {
                    let step = distance_m(spots[reached[next]], spots[other]);
                    if step <= options.within_m + slack && !reached.contains(&other) {
                        reached.push(other);
                    }
                }
                next += 1;
            }
            prop_assert!(reached.len() == spots.len(), "{:?}", group);
            for (n, minutes) in &group.by_time {
                prop_assert!(at(*n).is_none() && *minutes <= options.within_min);
            }
        }
        for (nth, group) in grouping.groups.iter().enumerate() {
            if group.place.is_some() {
                continue;
            }
            for (other_nth, other) in grouping.groups.iter().enumerate() {
                if nth == other_nth {
                    continue;
                }
                for a in placed(group) {
                    for b in placed(other) {
                        let step = distance_m(at(a).unwrap(), at(b).unwrap());
                        prop_assert!(step > options.within_m - slack, "{step}");
                    }
                }
            }
        }
    }

    /// What half a walk puts together, the whole one does too.
    #[test]
    fn more_photographs_part_nothing((walked, _) in walk(), cut in 0..40usize) {
        let options = Options::default();
        let placed: Vec<Walked> = walked
            .into_iter()
            .filter(|one| one.photo.position_deg.is_some())
            .collect();
        let cut = cut.min(placed.len());
        let whole = group(&placed, &[], &options).unwrap();
        let mut of: BTreeMap<String, usize> = BTreeMap::new();
        for (nth, group) in whole.groups.iter().enumerate() {
            for n in &group.photos {
                of.insert(placed[*n].photo.file.hash.clone(), nth);
            }
        }
        let part = group(&placed[..cut], &[], &options).unwrap();
        for one in &part.groups {
            let labels: Vec<usize> = one.photos.iter().map(|n| of[&placed[*n].photo.file.hash]).collect();
            prop_assert!(labels.windows(2).all(|pair| pair[0] == pair[1]));
        }
    }
}

#[test]
fn a_walk_that_comes_back_comes_back_to_the_same_place() {
    let stair = [41.1405, -8.6115];
    let quay = [41.1385, -8.6130];
    let walked = [
        photo(0, Some(stair), Some(clock(600))),
        photo(1, Some(quay), Some(clock(620))),
        photo(2, Some([41.14052, -8.61152]), Some(clock(900))),
        // Without position: 3 minutes after the quay, and an hour after anything.
        photo(3, None, Some(clock(623))),
        photo(4, None, Some(clock(960))),
        photo(5, None, None),
    ];
    let grouping = group(
        &walked,
        &[place("old", Some([0.0, 0.0]))],
        &Options::default(),
    )
    .unwrap();
    let photos: Vec<&[usize]> = grouping.groups.iter().map(|g| &g.photos[..]).collect();
    assert_eq!(photos, [&[0, 2][..], &[1, 3], &[4]]);
    assert_eq!(grouping.groups[1].by_time, [(3, 3.0)]);
    assert_eq!(grouping.groups[2].position_deg, None);
    assert_eq!(grouping.loose, [5]);
}

#[test]
fn places_that_are_there_draw_in_and_never_merge() {
    // On a meridian: known at 0 m and 90 m, photographs at 20, 40 and 62 m.
    let at = |metres: f64| Some([41.0 + metres / 111_195.0, -8.0]);
    let places = [place("a", at(0.0)), place("b", at(90.0))];
    let walked = [
        photo(0, at(40.0), None),
        photo(1, at(20.0), None),
        photo(2, at(62.0), None),
        photo(3, at(131.0), None),
    ];
    let grouping = group(&walked, &places, &Options::default()).unwrap();
    let found: Vec<(Option<&str>, &[usize])> = grouping
        .groups
        .iter()
        .map(|g| (g.place.as_ref().map(PlaceId::as_str), &g.photos[..]))
        .collect();
    // The middle one is 20 m from `a`'s photograph and 22 m from the one that may be `b`'s, which
    // itself is nearer to it (22 m) than to `b` (28 m).
    assert_eq!(found, [(Some("a"), &[0, 1, 2][..]), (None, &[3])]);
}

#[test]
fn clocks_in_two_zones_are_compared_by_utc() {
    let mut there = photo(0, Some([41.0, -8.0]), Some(clock(600)));
    there.photo.utc_offset_minutes = Some(0);
    let mut here = photo(1, None, Some(clock(663)));
    here.photo.utc_offset_minutes = Some(60);
    let joined = group(&[there.clone(), here.clone()], &[], &Options::default()).unwrap();
    assert_eq!(joined.groups.len(), 1);
    assert_eq!(joined.groups[0].by_time, [(1, 3.0)]);
    here.photo.utc_offset_minutes = None;
    let apart = group(&[there, here], &[], &Options::default()).unwrap();
    assert_eq!(apart.groups.len(), 2);
}

#[test]
fn options_out_of_range_are_refused() {
    let say = |within_m, within_min| {
        let options = Options {
            within_m,
            within_min,
        };
        group(&[], &[], &options).unwrap_err().to_string()
    };
    assert_eq!(
        say(0.0, 10.0),
        "a distance of 0 can't be grouped by; write 1 to 10000 metres"
    );
    assert_eq!(
        say(f64::NAN, 10.0),
        "a distance of NaN can't be grouped by; write 1 to 10000 metres"
    );
    assert_eq!(
        say(40.0, -1.0),
        "a time of -1 can't be grouped by; write 0 to 1440 minutes"
    );
}
