//! Where a plan lies on the song: setups on stretches, wishes on sections.

use model::{Finding, Setup, SongMap, SongTime, Stretch, Wish};

/// The stretches each setup is planned over, merged and in order; `None` for the whole song. What a
/// setup names and the song does not have goes to `notes`.
pub fn planned(
    map: &SongMap,
    setups: &[Setup],
    notes: &mut Vec<Finding>,
) -> Vec<Option<Vec<Stretch>>> {
    setups
        .iter()
        .map(|setup| {
            if setup.is_over_all() {
                return None;
            }
            for call in &setup.sections {
                let found = map.sections_called(call);
                if found.is_empty() {
                    let says = format!(
                        "setup `{}` is planned over the section `{call}`, which the song does not have; it has {}",
                        setup.id,
                        calls(map)
                    );
                    notes.push(Finding::problem("unknown-section", says).about(&setup.id));
                }
            }
            for [first, last] in &setup.bars {
                if map.bars_stretch(*first, *last).is_none() {
                    let says = format!(
                        "setup `{}` is planned over bars {first} to {last}, which the song does not have; {}",
                        setup.id,
                        bar_range(map)
                    );
                    notes.push(Finding::problem("unknown-bars", says).about(&setup.id));
                }
            }
            let whole = Stretch::new(SongTime::ZERO, SongTime::ZERO + map.length);
            for stretch in &setup.stretches {
                if whole.is_none_or(|whole| whole.overlap(*stretch).is_none()) {
                    let says = format!("setup `{}` is planned over {stretch}, which lies outside the song", setup.id);
                    notes.push(Finding::problem("outside-song", says).about(&setup.id));
                }
            }
            Some(map.planned(setup))
        })
        .collect()
}

/// How many options each section wants. The last wish that says so holds.
pub fn wanted(map: &SongMap, wishes: &[Wish], default: u32, notes: &mut Vec<Finding>) -> Vec<u32> {
    let mut wanted = vec![default; map.sections.len()];
    for wish in wishes {
        let found = map.sections_called(&wish.section);
        if found.is_empty() {
            let says = format!(
                "a wish names the section `{}`, which the song does not have; it has {}",
                wish.section,
                calls(map)
            );
            notes.push(Finding::problem("unknown-section", says));
        }
        let Some(options) = wish.options else {
            continue;
        };
        for (section, wanted) in map.sections.iter().zip(&mut wanted) {
            if found.contains(&section.at) {
                *wanted = options;
            }
        }
    }
    wanted
}

/// The section the middle of `at` lies in; `None` in a song without sections.
pub fn section_of(map: &SongMap, at: Stretch) -> Option<usize> {
    let middle = SongTime::from_ticks(at.start().ticks() / 2 + at.end().ticks() / 2);
    let index = map.section_index_at(middle);
    (index < map.sections.len()).then_some(index)
}

fn calls(map: &SongMap) -> String {
    let calls: Vec<String> = (0..map.sections.len())
        .map(|index| map.section_called(index))
        .collect();
    if calls.is_empty() {
        "none".into()
    } else {
        calls.join(", ")
    }
}

/// Which bars the song has, in words.
pub fn bar_range(map: &SongMap) -> String {
    match (map.bars.first(), map.bars.last()) {
        (Some(first), Some(last)) if first.number < last.number => {
            format!("its bars go from {} to {}", first.number, last.number)
        }
        (Some(only), _) => format!("its only bar is {}", only.number),
        _ => "it has no bars".into(),
    }
}
