//! Coverage, bar by bar.

use charts::{Cell, Coverage, CoverageRow, Options};
use model::{Project, SetupId, SongMap, Stretch};
use std::collections::{BTreeMap, BTreeSet};
use steps::Covered;

/// What is planned, shot and cut in each bar of `map`, for the setups of `project` and what was shot of others.
pub fn coverage<'a>(map: &'a SongMap, project: &Project, covered: &Covered) -> Coverage<'a> {
    let cut = cut(map, project);
    let bars: BTreeMap<u32, &::coverage::BarCoverage> = covered
        .coverage
        .bars
        .iter()
        .map(|bar| (bar.number, bar))
        .collect();
    let row = |id: &SetupId, name: &str| CoverageRow {
        setup: id.to_string(),
        name: name.to_owned(),
        cells: map
            .bars
            .iter()
            .map(|bar| {
                let known = bars.get(&bar.number);
                Cell {
                    planned: known.is_some_and(|known| known.planned.contains(id)),
                    shot: known.is_some_and(|known| {
                        known.shot.iter().any(|one| one.setup.as_ref() == Some(id))
                    }),
                    cut: cut.contains(&(id.clone(), bar.number)),
                }
            })
            .collect(),
    };
    Coverage {
        map,
        setups: project
            .setups
            .iter()
            .map(|setup| row(&setup.id, setup.called()))
            .collect(),
        options: map
            .bars
            .iter()
            .map(|bar| {
                let known = bars.get(&bar.number);
                known.map_or_else(Options::default, |known| Options {
                    planned: known.planned_options,
                    shot: known.shot_options,
                    wanted: known.wanted,
                })
            })
            .collect(),
    }
}

/// Setups with the bars that the newest cut shows them in: half of the bar at least, as coverage counts.
fn cut(map: &SongMap, project: &Project) -> BTreeSet<(SetupId, u32)> {
    let mut shown: BTreeMap<SetupId, Vec<Stretch>> = BTreeMap::new();
    if let Some(cut) = project.newest_cut() {
        for shot in &cut.shots {
            let take = shot
                .take
                .as_ref()
                .and_then(|id| project.takes.iter().find(|take| take.id == *id));
            let at = |frame: i64| model::SongTime::from_ticks(cut.rate.ticks_of_frame(frame));
            if let Some(setup) = take.and_then(|take| take.setup.clone())
                && let Some(at) = Stretch::new(at(shot.from_frame), at(shot.to_frame))
            {
                shown.entry(setup).or_default().push(at);
            }
        }
    }
    let mut out = BTreeSet::new();
    for (setup, stretches) in shown {
        for bar in &map.bars {
            let shared: f64 = stretches
                .iter()
                .filter_map(|one| one.overlap(bar.at))
                .map(|both| both.length().seconds())
                .sum();
            if shared > 0.0 && shared * 2.0 >= bar.at.length().seconds() {
                out.insert((setup.clone(), bar.number));
            }
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use model::{Bar, Length, Section, SongTime};

    fn song() -> SongMap {
        let at = |from: f64, to: f64| Stretch::between_seconds(from, to).expect("a stretch");
        SongMap {
            length: Length::nearest_to_seconds(8.0),
            tempo_bpm: 120.0,
            beats_per_bar: 4,
            beats: (0..16)
                .map(|n| SongTime::nearest_to_seconds(f64::from(n) * 0.5))
                .collect(),
            downbeats: (0..4).map(|n| n * 4).collect(),
            bars: (0..4)
                .map(|n| Bar {
                    number: n + 1,
                    at: at(f64::from(n) * 2.0, f64::from(n + 1) * 2.0),
                    energy: 0.0,
                    voice: 0.0,
                })
                .collect(),
            sections: vec![Section {
                label: "A".into(),
                name: None,
                at: at(0.0, 8.0),
                energy: 0.0,
                voiced: 0.0,
            }],
        }
    }

    #[test]
    fn cells_say_what_is_planned_and_what_the_cut_shows() {
        let project: Project = serde_json::from_value(serde_json::json!({
            "format": 1,
            "setups": [{"id": "wide", "bars": [[1, 3]], "passes": 1}, {"id": "close"}],
            "takes": [{"id": "C1", "file": {"path": "C1.mp4", "hash": "0".repeat(64), "bytes": 1}, "setup": "wide"}],
            "cuts": [{"version": 1, "rate": "25", "shots": [
                {"from_frame": 0, "to_frame": 60, "take": "C1"},
                {"from_frame": 60, "to_frame": 200}
            ]}]
        }))
        .expect("a project");
        let map = song();
        let usual = ::coverage::Options::default();
        let counted = ::coverage::coverage(&map, &project.setups, &project.wishes, &[], &usual);
        let advice = ::coverage::advise(&map, &project.setups, &counted, project.brief.rate);
        let covered = Covered {
            coverage: counted,
            advice,
        };
        let view = coverage(&map, &project, &covered);
        let cells = |row: usize, read: fn(&Cell) -> bool| -> Vec<bool> {
            view.setups[row].cells.iter().map(read).collect()
        };
        assert_eq!(cells(0, |cell| cell.planned), [true, true, true, false]);
        // 60 frames at 25 are 2.4 s: the first bar, and too little of the second.
        assert_eq!(cells(0, |cell| cell.cut), [true, false, false, false]);
        assert_eq!(cells(1, |cell| cell.planned), [true; 4]);
        assert_eq!(cells(1, |cell| cell.shot), [false; 4]);
        let options: Vec<[u32; 2]> = view.options.iter().map(|o| [o.planned, o.wanted]).collect();
        assert_eq!(options[0], [2, usual.wanted]);
        assert_eq!(options[3][0], 1);
    }
}
