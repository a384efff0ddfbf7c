//! Grouped photographs as what the document takes in: additions to its places, and new places with
//! a name.

use crate::Error;
use crate::group::{Group, Options, Walked, group};
use model::{Finding, PhotosAt, Place, PlaceId};
use std::collections::{BTreeMap, BTreeSet};

/// What bringing in comes to.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct BroughtIn {
    /// For places that are there.
    pub at: Vec<PhotosAt>,
    /// New places.
    pub new: Vec<Place>,
    /// Photographs with neither position nor time, as indices into what was given.
    pub loose: Vec<usize>,
    /// What a person should know.
    pub notes: Vec<Finding>,
}

/// Groups `walked`, leaving out whatever is at one of `places` already, and names new places: after
/// the folder that holds all of a place's photographs and no other's, otherwise `place-1` and on.
///
/// # Errors
/// As [`group()`].
pub fn bring_in(
    walked: &[Walked],
    places: &[Place],
    options: &Options,
) -> Result<BroughtIn, Error> {
    let grouping = group(walked, places, options)?;
    let mut out = BroughtIn {
        loose: grouping.loose,
        ..BroughtIn::default()
    };
    let mut shared: BTreeMap<&str, usize> = BTreeMap::new();
    for group in &grouping.groups {
        let folders: BTreeSet<&str> = folders(walked, group).flatten().collect();
        for folder in folders {
            *shared.entry(folder).or_default() += 1;
        }
    }
    let mut taken: BTreeSet<String> = places.iter().map(|p| p.id.to_string()).collect();
    for group in &grouping.groups {
        let mut photos: Vec<_> = group
            .photos
            .iter()
            .map(|n| walked[*n].photo.clone())
            .collect();
        photos.sort_by(|a, b| (&a.taken, &a.file.path).cmp(&(&b.taken, &b.file.path)));
        let id = match &group.place {
            Some(id) => {
                out.at.push(PhotosAt {
                    place: id.clone(),
                    photos,
                    position_deg: group.position_deg,
                });
                id.clone()
            }
            None => {
                let own = own_folder(walked, group).filter(|folder| shared[folder] == 1);
                let (id, name) = named(own, &mut taken);
                out.new.push(Place {
                    position_deg: group.position_deg,
                    photos,
                    ..Place::new(id.clone(), name)
                });
                id
            }
        };
        out.notes.extend(notes(walked, group, &id, options));
    }
    out.notes.extend(out.loose.iter().map(|n| {
        let file = &walked[*n].photo.file.path;
        Finding::problem("loose", format!("`{file}` has neither position nor time"))
            .mended_by("bring it in with --place and the place it shows")
    }));
    Ok(out)
}

fn notes(walked: &[Walked], group: &Group, id: &PlaceId, options: &Options) -> Vec<Finding> {
    let mut notes = Vec::new();
    if group.place.is_none() && group.by_time.len() == group.photos.len() {
        notes.push(Finding::unknown("no-position", match group.photos.len() {
            1 => format!("`{id}` has no position, as its photograph has none"),
            count => format!(
                "`{id}` has no position; only their time (within {:.0} min of one another) holds its {count} photographs together",
                options.within_min
            ),
        }));
    } else {
        notes.extend(group.by_time.iter().map(|(n, minutes)| {
            let file = &walked[*n].photo.file.path;
            Finding::note("by-time", format!(
                "`{file}` has no position; it went to `{id}`, photographed {minutes:.0} min from it"
            ))
        }));
    }
    if group.reach_m > 2.0 * options.within_m {
        let says = format!(
            "photographs of `{id}` lie up to {:.0} m from its middle, each near to the next",
            group.reach_m
        );
        notes.push(Finding::warning("chain", says).mended_by("part them with a smaller --within"));
    }
    notes.into_iter().map(|note| note.about(id)).collect()
}

fn folders<'a>(walked: &'a [Walked], group: &'a Group) -> impl Iterator<Item = Option<&'a str>> {
    group.photos.iter().map(|n| walked[*n].folder.as_deref())
}

/// The one folder of all of a group's photographs.
fn own_folder<'a>(walked: &'a [Walked], group: &'a Group) -> Option<&'a str> {
    let mut all = folders(walked, group);
    let first = all.next()??;
    all.all(|folder| folder == Some(first)).then_some(first)
}

/// An id that is free, and a name.
fn named(folder: Option<&str>, taken: &mut BTreeSet<String>) -> (PlaceId, String) {
    let cleaned = folder.map(clean).filter(|id| !id.is_empty());
    let mut number = 1u32;
    loop {
        let (id, name) = match (&cleaned, folder) {
            (Some(id), Some(folder)) if number == 1 => (id.clone(), folder.to_owned()),
            (Some(id), Some(folder)) => (format!("{id}-{number}"), format!("{folder} {number}")),
            _ => (format!("place-{number}"), format!("place {number}")),
        };
        number += 1;
        if taken.contains(&id) {
            continue;
        }
        if let Ok(made) = PlaceId::new(id.clone()) {
            taken.insert(id);
            return (made, name);
        }
    }
}

/// A folder's name as an id: lower-case, whatever an id can't hold a dash.
fn clean(folder: &str) -> String {
    let dashed: String = folder
        .to_lowercase()
        .chars()
        .map(|c| if c.is_alphanumeric() { c } else { '-' })
        .collect();
    let parts: Vec<&str> = dashed.split('-').filter(|part| !part.is_empty()).collect();
    let joined: String = parts.join("-").chars().take(40).collect();
    joined.trim_end_matches('-').to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;
    use model::{MediaFile, Photo};

    fn walked(name: &str, position: Option<[f64; 2]>, taken: Option<&str>, folder: &str) -> Walked {
        Walked {
            photo: Photo {
                position_deg: position,
                taken: taken.map(str::to_owned),
                ..Photo::new(MediaFile {
                    path: format!("{name}.jpg"),
                    hash: format!("{name:0>32}"),
                    bytes: 1,
                    extra: Default::default(),
                })
            },
            folder: (!folder.is_empty()).then(|| folder.to_owned()),
        }
    }

    #[test]
    fn new_places_are_named_by_their_folder_or_counted() {
        let all = [
            walked(
                "a",
                Some([41.0, -8.0]),
                Some("2026-10-03T18:00:00"),
                "Tiled Stair",
            ),
            walked(
                "b",
                Some([41.0, -8.0]),
                Some("2026-10-03T18:01:00"),
                "Tiled Stair",
            ),
            walked("c", Some([42.0, -8.0]), Some("2026-10-03T19:00:00"), "walk"),
            walked("d", Some([43.0, -8.0]), Some("2026-10-03T17:00:00"), "walk"),
            walked("e", Some([44.0, -8.0]), None, ""),
            walked("f", None, None, "walk"),
            walked("g", None, Some("2026-10-05T09:00:00"), "walk"),
            walked("h", None, Some("2026-10-03T18:04:00"), "walk"),
        ];
        let known = [Place::new(PlaceId::new("place-1").unwrap(), "there")];
        let brought = bring_in(&all, &known, &Options::default()).unwrap();
        let made: Vec<(String, String, usize)> = brought
            .new
            .iter()
            .map(|place| (place.id.to_string(), place.name.clone(), place.photos.len()))
            .collect();
        let made: Vec<(&str, &str, usize)> = made
            .iter()
            .map(|(a, b, c)| (a.as_str(), b.as_str(), *c))
            .collect();
        // `h` joined the stair by time, so that not all of the stair's lie in its folder.
        assert_eq!(
            made,
            [
                ("place-2", "place 2", 1),
                ("place-3", "place 3", 3),
                ("place-4", "place 4", 1),
                ("place-5", "place 5", 1),
                ("place-6", "place 6", 1),
            ]
        );
        assert_eq!(brought.loose, [5]);
        let said: Vec<String> = brought.notes.iter().map(Finding::to_string).collect();
        assert_eq!(
            said,
            [
                "`h.jpg` has no position; it went to `place-3`, photographed 3 min from it",
                "`place-5` has no position, as its photograph has none",
                "`f.jpg` has neither position nor time; bring it in with --place and the place it shows",
            ]
        );
        let sorted = bring_in(&all[..5], &known, &Options::default()).unwrap();
        assert_eq!(
            (sorted.new[1].id.as_str(), sorted.new[1].name.as_str()),
            ("tiled-stair", "Tiled Stair")
        );
        // The same folder again at another place.
        let again = bring_in(
            &[walked("z", Some([10.0, 0.0]), None, "Tiled Stair")],
            &sorted.new,
            &Options::default(),
        )
        .unwrap();
        assert_eq!(again.new[0].id.as_str(), "tiled-stair-2");
    }

    #[test]
    fn any_folder_gives_an_id() {
        for folder in [
            "--",
            "",
            "…",
            "a b",
            "Rua de São João",
            "🎬",
            &"x".repeat(300),
            "日本 通り",
        ] {
            let (id, _) = named(Some(folder), &mut BTreeSet::new());
            assert!(model::ids::is_id(id.as_str()), "{folder}");
        }
        assert_eq!(clean("  Tiled  Stair! "), "tiled-stair");
    }

    #[test]
    fn a_chain_is_told() {
        let all: Vec<Walked> = (0..10)
            .map(|n| {
                let name = format!("p{n}");
                // 30 m apart along a meridian.
                walked(
                    &name,
                    Some([41.0 + f64::from(n) * 30.0 / 111_195.0, -8.0]),
                    None,
                    "",
                )
            })
            .collect();
        let brought = bring_in(&all, &[], &Options::default()).unwrap();
        assert_eq!(brought.new.len(), 1);
        assert_eq!(
            brought.notes[0].to_string(),
            "photographs of `place-1` lie up to 135 m from its middle, each near to the next; part them with a smaller --within"
        );
    }
}
