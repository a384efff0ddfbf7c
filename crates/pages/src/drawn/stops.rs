//! Stops in hand of setups.

use charts::{Stops, StopsOf, StopsSide};
use exposure::setup::{Judgement, Side};
use model::Setup;
use steps::Custom;

/// How far from their target faces and backgrounds of `setups` are, as far as `judged` knows; how much of that is of
/// no account is one of the `practice`.
pub fn stops(of: &str, setups: &[&Setup], judged: &[Judgement], practice: &[Custom]) -> Stops {
    let slack = practice.iter().find(|one| one.name == "slack_stops");
    Stops {
        of: of.to_owned(),
        slack_stops: slack.map_or(0.0, |one| one.value),
        setups: setups
            .iter()
            .map(|setup| {
                let own = judged.iter().find(|one| one.setup == setup.id);
                StopsOf {
                    setup: setup.id.to_string(),
                    name: setup.called().to_owned(),
                    face: own.map(|one| side(&one.face)),
                    background: own.map(|one| side(&one.background)),
                }
            })
            .collect(),
    }
}

fn side(side: &Side) -> StopsSide {
    let range = side
        .stops_range
        .map(|range| range.map(|stops| stops - side.target_stops));
    StopsSide {
        gap_stops: side.gap_stops,
        // A range without width says nothing.
        range_stops: range.filter(|[least, most]| most - least > 0.05),
        target_stops: side.target_stops,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use model::{Project, SetupId};

    #[test]
    fn what_is_not_known_stays_unknown() {
        let mut setup = Setup::new(SetupId::new("wide").expect("an id"));
        setup.name = "Wide".into();
        let project = Project {
            setups: vec![setup.clone()],
            ..Project::default()
        };
        let judged = [exposure::setup::judge(&project, &setup)];
        let all = stops("Stairs", &[&setup], &judged, &steps::customs(&project));
        assert!((all.slack_stops - 1.0 / 3.0).abs() < 1e-9);
        assert_eq!(all.setups[0].name, "Wide");
        let face = all.setups[0].face.expect("judged");
        assert_eq!((face.gap_stops, face.range_stops), (None, None));
        assert_eq!(stops("", &[&setup], &[], &[]).setups[0].face, None);
    }

    #[test]
    fn a_range_is_from_the_target_as_the_gap_is() {
        let mut setup = Setup::new(SetupId::new("wide").expect("an id"));
        setup.name = "Wide".into();
        let mut one = exposure::setup::judge(&Project::default(), &setup).face;
        one.target_stops = -1.0;
        one.gap_stops = Some(0.5);
        one.stops_range = Some([-1.5, 0.5]);
        assert_eq!(side(&one).range_stops, Some([-0.5, 1.5]));
        one.stops_range = Some([-0.5, -0.5]);
        assert_eq!(side(&one).range_stops, None);
    }
}
