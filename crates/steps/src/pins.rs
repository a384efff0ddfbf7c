//! The day changed by hand: a setup's shoot pinned to a time, or let go again.

use crate::{DaysReport, Error, Job, Progress, known};
use model::{ClockTime, Day, DayId, Edit, Minutes, Project, Setup, Slot, SongMap};

/// What becomes of a setup's time in a day.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Pin {
    /// Which setup.
    pub setup: String,
    /// When its shoot begins, whatever is found; `None` lets it go.
    pub shoot: Option<ClockTime>,
    /// When it ends, where that is said.
    pub end: Option<ClockTime>,
}

/// The edit that pins setups in a day, or lets them go, and the day it is: the one called `day`; without one the
/// first whose order holds the first of `pins`, or the first of all.
///
/// A small hour after an evening's call is past midnight. What stood at that time in the order that was kept, and is
/// not pinned, leaves it. A setup that stands in the day's order keeps its
/// minutes to rig and to shoot; another gets those of its plan, with all passes and resets.
///
/// # Errors
/// When there is no such day or setup, one ends before it begins, another is pinned there, or one to be let go is not
/// pinned.
pub fn pin(
    project: &Project,
    map: Option<&SongMap>,
    day: Option<&str>,
    pins: &[Pin],
) -> Result<(Edit, DayId), Error> {
    let was = match day {
        Some(id) => known::day(project, id)?,
        None => {
            let holds = |day: &&&Day| {
                let mut order = day.order.iter();
                order.any(|slot| {
                    pins.first()
                        .is_some_and(|pin| slot.setup.as_str() == pin.setup)
                })
            };
            let days = project.days_in_order();
            let first = days.iter().find(holds).or(days.first());
            first.copied().ok_or(Error::NoDays)?
        }
    };
    let mut day = was.clone();
    for pin in pins {
        let setup = known::setup(project, &pin.setup)?;
        match pin.shoot {
            Some(shoot) => {
                let slot = pinned(project, map, &day, setup, shoot, pin.end)?;
                put_in(&mut day, slot)?;
            }
            None => {
                let mut order = day.order.iter_mut();
                let slot = order.find(|slot| slot.setup == setup.id && slot.pinned);
                let slot = slot.ok_or_else(|| Error::NotPinned {
                    setup: setup.id.clone(),
                    day: was.id.clone(),
                })?;
                slot.pinned = false;
            }
        }
    }
    Ok((Edit::change_of(was, &day), day.id))
}

/// Puts `slot` into the order. What stood there without being pinned leaves it: it is planned anew anyway.
fn put_in(day: &mut Day, slot: Slot) -> Result<(), Error> {
    let meets = |other: &Slot| other.start < slot.end && slot.start < other.end;
    day.order.retain(|other| other.setup != slot.setup);
    if let Some(other) = day.order.iter().find(|other| other.pinned && meets(other)) {
        return Err(Error::PinInTheWay {
            setup: slot.setup,
            other: other.setup.clone(),
            from: other.start,
            to: other.end,
        });
    }
    day.order.retain(|other| !meets(other));
    day.order.push(slot);
    day.order.sort_by_key(|slot| slot.start);
    Ok(())
}

fn pinned(
    project: &Project,
    map: Option<&SongMap>,
    day: &Day,
    setup: &Setup,
    shoot: ClockTime,
    end: Option<ClockTime>,
) -> Result<Slot, Error> {
    let shoot = day.after_call(shoot);
    let stands = day.order.iter().find(|slot| slot.setup == setup.id);
    let stood = stands.and_then(|slot| {
        let begins = slot.shoot?.minutes();
        let rig = begins.checked_sub(slot.start.minutes())?;
        let shooting = slot.end.minutes().checked_sub(begins)?;
        let start = ClockTime::default().later(shoot.minutes().saturating_sub(rig));
        Some([start, shoot.later(shooting)])
    });
    let [start, usual_end] = stood.unwrap_or_else(|| {
        let usual = &project.practice;
        let heard_s = project.heard_s(map)(setup);
        Minutes::of(setup, project.brief.rate, heard_s, usual).around(shoot)
    });
    let end = match end.map(|end| day.after_call(end)) {
        Some(end) if end <= shoot => {
            return Err(Error::EndsBefore {
                setup: setup.id.clone(),
                shoot,
                end,
            });
        }
        Some(end) => end,
        None => usual_end,
    };
    Ok(Slot {
        shoot: Some(shoot),
        pinned: true,
        // Nothing is rigged before the call.
        ..Slot::new(setup.id.clone(), start.max(day.call), end)
    })
}

impl DaysReport {
    /// What a pin did to `day`, in a sentence, where both this report and the one `before` know it.
    pub fn pinned(&self, before: &Self, day: &DayId) -> Option<String> {
        let says = schedule::text::change(before.plan(day)?, self.plan(day)?);
        Some(match says.is_empty() {
            true => "pinned so, the day loses nothing".into(),
            false => format!("pinned so: {}", says.join("; ")),
        })
    }

    fn plan(&self, day: &DayId) -> Option<&schedule::DayPlan> {
        let mut days = self.days.iter();
        days.find(|one| one.plan.day == *day).map(|one| &one.plan)
    }
}

impl Job {
    /// Pins setups in a day, or lets them go; see [`pin`]. Gives the day.
    ///
    /// # Errors
    /// As [`pin`], when it was stopped, or it can't be saved.
    pub fn pin(
        &mut self,
        day: Option<&str>,
        pins: &[Pin],
        progress: &dyn Progress,
    ) -> Result<DayId, Error> {
        let map = self.song_map_if_any(&mut Vec::new(), progress)?;
        let (edit, day) = pin(self.project(), map.as_ref(), day, pins)?;
        self.edit(&edit)?;
        Ok(day)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn project() -> Project {
        serde_json::from_value(serde_json::json!({
            "format": 2,
            "brief": {"rate": "25", "frame": [1920, 1080]},
            "song": {"file": {"path": "s", "hash": "0".repeat(32), "bytes": 1}, "length": "3:00"},
            "setups": [
                {"id": "wide", "rig_minutes": 20, "reset_minutes": 2, "passes": 4},
                {"id": "slow", "shot_rate": "50", "rig_minutes": 5, "reset_minutes": 1, "passes": 2},
                {"id": "kept"}
            ],
            "days": [
                {"id": "second", "date": "2026-11-21", "call": "16:00"},
                {"id": "first", "date": "2026-11-20", "call": "18:00", "order": [
                    {"setup": "kept", "start": "19:00", "shoot": "19:10", "end": "19:45"}]}
            ]
        }))
        .unwrap()
    }

    fn at(setup: &str, shoot: &str, end: Option<&str>) -> Pin {
        Pin {
            setup: setup.into(),
            shoot: Some(shoot.parse().unwrap()),
            end: end.map(|end| end.parse().unwrap()),
        }
    }

    fn free(setup: &str) -> Pin {
        Pin {
            setup: setup.into(),
            shoot: None,
            end: None,
        }
    }

    fn order(day: Option<&str>, pins: &[Pin]) -> Vec<String> {
        let (edit, _) = pin(&project(), None, day, pins).unwrap();
        let after = edit.apply(&project()).unwrap();
        let day = after.days.iter().find(|day| day.id.as_str() == "first");
        let slot = |slot: &Slot| {
            let shoot = slot.shoot.unwrap();
            let pin = if slot.pinned { " pinned" } else { "" };
            format!("{} {} {shoot} {}{pin}", slot.setup, slot.start, slot.end)
        };
        day.unwrap().order.iter().map(slot).collect()
    }

    // By hand: four passes of 3 min with 2 min after each are 20 min; two passes at double speed of 1.5 min
    // with 1 min after each are 5 min.
    #[test]
    fn an_unplanned_setup_gets_its_rig_and_all_its_passes() {
        assert_eq!(
            order(
                Some("first"),
                &[at("wide", "21:30", None), at("slow", "20:00", None)]
            ),
            [
                "kept 19:00 19:10 19:45",
                "slow 19:55 20:00 20:05 pinned",
                "wide 21:10 21:30 21:50 pinned"
            ]
        );
    }

    #[test]
    fn one_that_stands_keeps_its_minutes_and_a_small_hour_is_past_midnight() {
        assert_eq!(
            order(None, &[at("kept", "01:00", None)]),
            ["kept 00:50 (+1) 01:00 (+1) 01:35 (+1) pinned"]
        );
        assert_eq!(
            order(Some("first"), &[at("kept", "23:50", Some("00:20"))]),
            ["kept 23:40 23:50 00:20 (+1) pinned"]
        );
    }

    #[test]
    fn what_stood_there_makes_room_unless_it_is_pinned() {
        assert_eq!(
            order(
                None,
                &[at("kept", "19:10", None), at("slow", "19:50", None)]
            ),
            [
                "kept 19:00 19:10 19:45 pinned",
                "slow 19:45 19:50 19:55 pinned"
            ]
        );
        assert_eq!(
            order(Some("first"), &[at("wide", "19:30", None)]),
            ["wide 19:10 19:30 19:50 pinned"]
        );
        let both = [at("kept", "19:10", None), at("wide", "19:30", None)];
        assert_eq!(
            pin(&project(), None, None, &both).unwrap_err().to_string(),
            "`wide` can't be pinned there: `kept` is, from 19:00 to 19:45; let it go first, or choose another time"
        );
        // Nothing is rigged before the call.
        assert_eq!(
            order(Some("first"), &[at("wide", "18:05", None)])[0],
            "wide 18:00 18:05 18:25 pinned"
        );
    }

    #[test]
    fn a_pin_goes_as_it_came() {
        let (edit, day) = pin(&project(), None, None, &[at("kept", "20:00", None)]).unwrap();
        assert_eq!(day.as_str(), "first", "its order holds the setup");
        let pinned = edit.apply(&project()).unwrap();
        let (edit, _) = pin(&pinned, None, None, &[free("kept")]).unwrap();
        let freed = edit.apply(&pinned).unwrap();
        assert!(
            freed
                .days
                .iter()
                .all(|day| day.order.iter().all(|slot| !slot.pinned))
        );
    }

    #[test]
    fn what_cannot_be_pinned_is_one_sentence() {
        let says = |day, wrong: Pin| {
            pin(&project(), None, day, &[wrong])
                .unwrap_err()
                .to_string()
        };
        assert_eq!(
            says(None, free("wide")),
            "`wide` is not pinned on the day `first`, so there is nothing to let go"
        );
        assert_eq!(
            says(None, at("kept", "20:00", Some("19:30"))),
            "`kept` can't end at 19:30 when its shoot begins at 20:00; write a later end, or leave it out"
        );
        assert!(says(None, at("kep", "20:00", None)).contains("did you mean `kept`?"));
        assert!(says(Some("frist"), free("kept")).contains("did you mean `first`?"));
    }
}
