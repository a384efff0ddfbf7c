//! The sky over each place through a day, as curves: how high sun and moon stand, which light that is, and when
//! the street has sun.

use crate::night::zone;
use crate::{Error, Job};
use model::{ClockTime, Date, Day, DayId, Place, PlaceId};

/// The sky over one place, drawn from midnight to midnight or from noon to noon.
#[derive(Clone, Debug)]
pub struct SkyCurve {
    /// Which place.
    pub place: PlaceId,
    /// Which day of the project; none when a date was asked for.
    pub day: Option<DayId>,
    /// The date.
    pub date: Date,
    /// What is drawn.
    pub curve: sky::Curve,
}

/// Half a day: where the day of an evening's call begins and ends.
const NOON_MIN: i64 = 12 * 60;

impl Job {
    /// The sky over every place whose position and zone are known, on `date` or else on each of the project's days.
    /// A day called in the afternoon or later is drawn from noon to noon; a date without a day as the first day is.
    ///
    /// # Errors
    /// When a zone or a position is none, or the sky of the date is not known.
    pub fn sky_curves(&self, date: Option<Date>) -> Result<Vec<SkyCurve>, Error> {
        let project = self.project();
        let bands = sky::Bands::from(&project.practice);
        let days: Vec<(Date, Option<&Day>)> = match date {
            Some(date) => vec![(date, project.days.iter().find(|day| day.date == date))],
            None => project
                .days
                .iter()
                .map(|day| (day.date, Some(day)))
                .collect(),
        };
        let mut out = Vec::new();
        for place in &project.places {
            for &(on, day) in &days {
                let (Some(position), Some(name)) = (place.position_deg, zone(project, place, day))
                else {
                    continue;
                };
                let call = day
                    .or(project.days.first())
                    .map_or(ClockTime::default(), |day| day.call);
                let from = if i64::from(call.minutes()) >= NOON_MIN {
                    NOON_MIN
                } else {
                    0
                };
                out.push(SkyCurve {
                    place: place.id.clone(),
                    day: day.filter(|_| date.is_none()).map(|day| day.id.clone()),
                    date: on,
                    curve: curve(place, position, name, on, &bands, from)?,
                });
            }
        }
        Ok(out)
    }
}

fn curve(
    place: &Place,
    [latitude, longitude]: [f64; 2],
    zone: &str,
    on: Date,
    bands: &sky::Bands,
    from: i64,
) -> Result<sky::Curve, Error> {
    let at = sky::Place::new(latitude, longitude)?;
    let zone = sky::Zone::named(zone)?;
    let pairs: Vec<(f64, f64)> = place.horizon_deg.iter().map(|[a, e]| (*a, *e)).collect();
    let known = !pairs.is_empty();
    let horizon = known.then(|| sky::Horizon::new(&pairs)).transpose()?;
    Ok(sky::curve(
        &at,
        &zone,
        on.civil(),
        bands,
        horizon.as_ref(),
        from,
    )?)
}

#[cfg(test)]
mod tests {
    use super::*;
    use model::Project;

    fn job(date: &str, call: &str) -> (tempfile::TempDir, Job) {
        let dir = tempfile::tempdir().expect("a folder");
        let mut place = Place::new(PlaceId::new("stairs").expect("an id"), "Stairs");
        place.position_deg = Some([41.1413, -8.6131]);
        let mut day = Day::new(
            DayId::new("night").expect("an id"),
            date.parse().expect("a date"),
            call.parse().expect("a clock"),
        );
        day.zone = Some("Europe/Lisbon".into());
        let project = Project {
            places: vec![place],
            days: vec![day],
            ..Project::default()
        };
        let job = Job::create(dir.path(), &project).expect("a project");
        (dir, job)
    }

    #[test]
    fn an_evening_is_drawn_from_noon_to_noon() {
        let (_dir, job) = job("2026-11-20", "16:00");
        let all = job.sky_curves(None).expect("curves");
        assert_eq!(all[0].curve.of_min, [720.0, 2160.0]);
    }

    #[test]
    fn a_morning_is_drawn_from_midnight_and_other_dates_alike() {
        let (_dir, job) = job("2026-11-20", "08:00");
        let asked = "2026-06-21".parse().expect("a date");
        let all = job.sky_curves(Some(asked)).expect("curves");
        assert_eq!(all[0].curve.of_min, [0.0, 1440.0]);
        assert_eq!((all[0].date, &all[0].day), (asked, &None));
    }
}
