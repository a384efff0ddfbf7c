//! Takes over the song.

use super::called;
use charts::{AlternativeRun, TakeLine, TakeRun, TakesOverSong};
use model::{Project, Rating, SongMap};
use steps::TakeState;

/// Where each of `takes` was heard in the song of `map`, or was placed by hand.
pub fn takes<'a>(map: &'a SongMap, project: &Project, takes: &[TakeState]) -> TakesOverSong<'a> {
    TakesOverSong {
        map,
        takes: takes.iter().map(|take| line(project, take)).collect(),
    }
}

fn line(project: &Project, state: &TakeState) -> TakeLine {
    let take = &state.take;
    let placement = state.placed.as_ref().map(|placed| &placed.placement);
    let main = placement.and_then(|placement| placement.main_run());
    TakeLine {
        take: take.id.to_string(),
        setup: take
            .setup
            .as_ref()
            .map(|id| called(project, id))
            .unwrap_or_default(),
        rating: match take.rating {
            Rating::NoGood => "no good",
            Rating::Unrated => "not looked at",
            Rating::Usable => "usable",
            Rating::Circled => "circled",
        }
        .to_owned(),
        by_hand: take.placed_by_hand.is_some(),
        runs: placement
            .iter()
            .flat_map(|placement| &placement.runs)
            .map(|run| TakeRun {
                from_s: run.song_s_at(run.take_start.seconds()),
                to_s: run.song_s_at(run.take_end.seconds()),
                speed: run.speed,
                drift_ppm: run.drift_ppm,
                confidence: run.confidence,
            })
            .collect(),
        // Another place is where the longest run would lie if the take began there.
        alternatives: placement
            .iter()
            .flat_map(|placement| &placement.alternatives)
            .filter_map(|other| {
                let run = main?;
                let at = |take_s: f64| other.song_offset_s + take_s * run.true_speed();
                Some(AlternativeRun {
                    from_s: at(run.take_start.seconds()),
                    to_s: at(run.take_end.seconds()),
                    confidence: other.confidence,
                })
            })
            .collect(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use model::{Alternative, Length, PlacedTake, Placement, Run, SetupId, SongTime, Take, TakeId};

    #[test]
    fn runs_and_other_places_are_where_they_are_heard() {
        let length = Length::nearest_to_seconds;
        let placement = Placement {
            runs: vec![Run {
                take_start: length(3.0),
                take_end: length(13.0),
                song_start: SongTime::nearest_to_seconds(20.0),
                speed: 2.0,
                drift_ppm: 0.0,
                confidence: 0.6,
            }],
            alternatives: vec![Alternative {
                song_offset_s: 54.0,
                confidence: 0.5,
            }],
        };
        let take: Take = serde_json::from_value(serde_json::json!({
            "id": "C1", "file": {"path": "takes/C1.mp4", "hash": "0".repeat(64), "bytes": 1}, "setup": "wide", "rating": "circled"
        }))
        .expect("a take");
        let state = TakeState {
            take,
            path: None,
            probe: None,
            placed: Some(PlacedTake {
                id: TakeId::new("C1").expect("an id"),
                setup: Some(SetupId::new("wide").expect("an id")),
                rating: Rating::Circled,
                state: 0,
                length: length(20.0),
                picture: None,
                placement,
                track: None,
            }),
            heard: None,
            notes: Vec::new(),
            trouble: None,
        };
        let line = line(&Project::default(), &state);
        assert_eq!(
            (line.setup.as_str(), line.rating.as_str()),
            ("wide", "circled")
        );
        assert!(
            (line.runs[0].from_s - 20.0).abs() < 1e-6 && (line.runs[0].to_s - 40.0).abs() < 1e-6
        );
        // The song at the take's start would be at 54 s, so 3 s of take in, at double speed, it is at 60 s.
        assert!((line.alternatives[0].from_s - 60.0).abs() < 1e-6);
        assert!((line.alternatives[0].to_s - 80.0).abs() < 1e-6);
        let nowhere = TakeState {
            placed: None,
            ..state
        };
        assert!(super::line(&Project::default(), &nowhere).runs.is_empty());
    }
}
