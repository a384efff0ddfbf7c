//! What the demo tells of its night: from the same steps as `kit`, `sky`, `scout` and `playback`.

use crate::screen::Screen;
use model::{ClockTime, SetupId};
use schedule::Status;
use serde::Serialize;
use steps::{DayOptions, Job, KitOptions, PlaybackFile, Scouted, Summary};

/// The place whose blue hour is told, and the setup that is shot in it.
const BLUE: (&str, &str) = ("stairway", "stairs-medium");

/// The day that was found.
#[derive(Serialize)]
pub struct DayFound {
    pub status: Status,
    pub from: ClockTime,
    pub wrap: ClockTime,
    pub latest_wrap: ClockTime,
    pub meal: Option<[ClockTime; 2]>,
    pub order: Vec<SetupId>,
    pub left_out: Vec<SetupId>,
}

impl DayFound {
    /// `9 of 10 setups, 16:15 to 21:44, proven best; no time for powder-burst`.
    fn row(&self) -> String {
        let chosen = self.order.len();
        let standing = match self.status {
            Status::Best => "proven best",
            Status::Feasible => "good, not proven best",
            Status::Impossible | Status::Unknown => return "no day holds every must".into(),
        };
        let names: Vec<&str> = self.left_out.iter().map(SetupId::as_str).collect();
        let left = match names.is_empty() {
            true => String::new(),
            false => format!("; no time for {}", names.join(", ")),
        };
        format!(
            "{chosen} of {} setups, {} to {}, {standing}{left}",
            chosen + names.len(),
            self.from,
            self.wrap
        )
    }
}

fn ids(ids: &mut dyn Iterator<Item = &SetupId>) -> Vec<SetupId> {
    ids.cloned().collect()
}

/// What is told of the night.
#[derive(Serialize)]
pub struct Night {
    /// The day, found best and kept in the plan.
    pub day: Option<DayFound>,
    /// As `kit --json` gives it.
    pub kit: Summary,
    /// Blue hour at the stairway, that evening; clock times there.
    pub blue_hour: Option<[String; 2]>,
    /// When the setup in it is shot, likewise.
    pub blue_shot: Option<[String; 2]>,
    pub playback_files: usize,
    /// Photographs of the walk, and places of the project.
    pub photographs: usize,
    pub places: usize,
}

impl Night {
    /// Works it out.
    pub fn of(
        job: &mut Job,
        walk: &Scouted,
        played: &[PlaybackFile],
        screen: &Screen,
    ) -> anyhow::Result<Self> {
        let found = job.day(&DayOptions::default(), screen)?;
        for one in &found.days {
            job.keep_day(&one.plan)?;
        }
        let day = found.days.first().map(|one| DayFound {
            status: one.plan.status,
            from: one.plan.from,
            wrap: one.plan.wrap,
            latest_wrap: one.plan.latest_wrap,
            order: ids(&mut one.plan.order.iter().map(|strip| &strip.setup)),
            left_out: ids(&mut one.plan.left_out.iter().map(|one| &one.setup)),
            meal: one.plan.meal,
        });
        let report = job.kit(&KitOptions::default(), screen)?;
        let blue_shot = report
            .days
            .iter()
            .flat_map(|day| &day.power.slots)
            .find(|slot| slot.setup.as_str() == BLUE.1)
            .map(|slot| [slot.shoot_min, slot.end_min].map(model::clock::shown));
        let (skies, _) = job.skies(Some(BLUE.0), None, None)?;
        let blue_hour = skies
            .first()
            .and_then(|place| place.sky.blue_hour.last())
            .map(|evening| [evening.from.clock(), evening.to.clock()]);
        Ok(Self {
            day,
            kit: report.summary,
            blue_hour,
            blue_shot,
            playback_files: played.len(),
            photographs: walk.brought,
            places: job.project().places.len(),
        })
    }

    /// What and how much, a line each.
    pub fn rows(&self, dir: &str) -> Vec<(&'static str, String)> {
        let mut rows = vec![(
            "scouting walk",
            format!(
                "{} photographs brought to {} places, with where, when and about how bright",
                self.photographs, self.places
            ),
        )];
        if let Some(day) = &self.day {
            rows.push(("the day", day.row()));
        }
        rows.push(("light on the night", self.kit.light.says.clone()));
        for day in &self.kit.days {
            rows.push(("batteries", day.batteries.says.clone()));
            rows.push(("cards", day.cards.says.clone()));
        }
        if let Some([from, to]) = &self.blue_hour {
            let shot = self.blue_shot.as_ref().map_or_else(String::new, |shot| {
                format!(", and the plan shoots there {} to {}", shot[0], shot[1])
            });
            rows.push(("blue hour at the stairway", format!("{from} to {to}{shot}")));
        }
        rows.push((
            "playback",
            format!(
                "{} sound files for the loudspeaker on set, in {dir}/playback",
                self.playback_files
            ),
        ));
        rows.push((
            "cautions",
            format!(
                "{} to read before the night: `barebulb kit {dir}`",
                self.kit.cautions
            ),
        ));
        rows
    }
}
