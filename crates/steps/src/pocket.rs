//! The page in the pocket: everything a day needs, gathered from the document, the crafts and the files.

mod small;
mod words;

use crate::day::zone_of;
use crate::{DayOptions, Error, Job, KitOptions, OneDay, Progress, known};
use cautions::Caution;
use exposure::setup::Judgement;
use model::{ClockTime, Day, DayId, Finding, PlaceId, Project, Setup, SetupId, Slot, SongMap};
use pocket::{BatteryView, Clock, Link, Moment, Page, Pocket, SetupView};
use schedule::DayPlan;
use serde::Serialize;

/// A file larger than this is slow on a phone, bytes.
const LARGE_BYTES: usize = 25_000_000;
/// Minutes before the call and after the latest wrap for which the sky is told.
const SKY_BEFORE_MIN: i64 = 60;
const SKY_AFTER_MIN: i64 = 180;

/// What a person may ask of the page.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct PocketOptions {
    /// Which day; the first when none.
    pub day: Option<String>,
    /// Whether playback is left out.
    pub without_sound: bool,
    /// How the page reaches the laptop, when that serves it.
    pub link: Option<Link>,
}

/// A page made.
#[derive(Clone, Debug)]
pub struct PocketMade {
    /// The page.
    pub page: Page,
    /// What is in it.
    pub report: PocketReport,
}

/// What is in a page.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct PocketReport {
    /// Which day; none when the plan has none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub day: Option<DayId>,
    /// How large the file is.
    pub bytes: usize,
    /// Its setups, in order.
    pub setups: Vec<SetupId>,
    /// How many sounds it holds, each once however many setups play it.
    pub sounds: usize,
    /// Their bytes.
    pub sound_bytes: usize,
    /// How many photographs it holds.
    pub pictures: usize,
    /// What a person should know.
    pub notes: Vec<Finding>,
}

/// The day as the page tells it.
struct Told {
    /// None when the plan has none.
    day: Option<Day>,
    found: Option<OneDay>,
    /// Whether the order is the one that was found rather than one that stands in the plan.
    as_found: bool,
    slots: Vec<Slot>,
}

impl Told {
    fn is_of(&self, id: &DayId) -> bool {
        self.day.as_ref().is_some_and(|day| day.id == *id)
    }
}

/// What the page tells of setups and times is taken from.
struct Telling<'a> {
    project: &'a Project,
    slots: &'a [Slot],
    strips: Option<&'a DayPlan>,
    judged: &'a [Judgement],
    /// The instant of what a clock of the day shows, where its zone is known.
    instants: Option<&'a dyn Fn(ClockTime) -> i64>,
}

impl Telling<'_> {
    fn clock(&self, at: ClockTime) -> Clock {
        Clock {
            text: at.to_string(),
            at_s: self.instants.map(|instants| instants(at)),
        }
    }

    fn setup(&self, setup: &Setup) -> SetupView {
        let project = self.project;
        let slot = self.slots.iter().find(|slot| slot.setup == setup.id);
        let strip = self
            .strips
            .and_then(|plan| plan.order.iter().find(|strip| strip.setup == setup.id));
        let judged = self.judged.iter().find(|judged| judged.setup == setup.id);
        SetupView {
            id: setup.id.clone(),
            name: setup.called().to_owned(),
            place: words::place_of(project, setup),
            start: slot.map(|slot| self.clock(slot.start)),
            shoot: slot.and_then(|slot| slot.shoot).map(|at| self.clock(at)),
            end: slot.map(|slot| self.clock(slot.end)),
            travel_minutes: strip.map_or(0, |strip| strip.travel_minutes),
            room_minutes: strip.map(|strip| strip.room_minutes),
            must: setup.must,
            state: project
                .states
                .get(setup.state as usize)
                .cloned()
                .unwrap_or_default(),
            framing: setup.framing,
            action: setup.action.clone(),
            part: words::part(setup),
            passes: setup.passes,
            settings: words::settings(project, setup, judged.map(|judged| &judged.camera)),
            lights: words::lights(project, setup),
            cautions: setup.cautions.clone(),
            people: setup
                .people
                .iter()
                .map(|id| {
                    project
                        .person(id)
                        .map_or(id.as_str(), |person| &person.name)
                        .to_owned()
                })
                .collect(),
            picture: None,
            sounds: Vec::new(),
        }
    }

    /// From when to when the meal is: as it was found, else as the day has it.
    fn meal(&self, day: &Day) -> Option<[Clock; 2]> {
        let at = match self.strips {
            Some(plan) => plan.meal,
            None => day
                .meal
                .map(|from| [from, from.later(day.meal_minutes.unwrap_or(30))]),
        };
        at.map(|at| at.map(|at| self.clock(at)))
    }
}

impl Job {
    /// The page for a day, whole and in memory; [`crate::write_text`] writes it.
    ///
    /// Without a day in the plan the setups come in the plan's order, without times. What can't be had (no
    /// song, no ffmpeg, a lost photograph) is left out with a note.
    ///
    /// # Errors
    /// When there are no setups, a day is asked for that there is not, the day contradicts itself, or
    /// it was stopped.
    pub fn pocket(
        &mut self,
        options: &PocketOptions,
        progress: &dyn Progress,
    ) -> Result<PocketMade, Error> {
        if self.project().setups.is_empty() {
            return Err(Error::NoSetups);
        }
        let mut notes = Vec::new();
        let map = self.song_map_if_any(&mut Vec::new(), progress)?;
        let told = self.told(options.day.as_deref(), &mut notes, progress)?;
        let mut view = self.plain(&told, map.as_ref(), progress)?;
        if !options.without_sound {
            self.sounds(&mut view, map.as_ref(), &mut notes, progress)?;
        }
        let pictures = self.pictures(&mut view, &mut notes, progress)?;
        view.link.clone_from(&options.link);
        view.notes = match &told.found {
            Some(found) if told.as_found => found.conflicts.clone(),
            _ => Vec::new(),
        };
        Self::stop_if_asked(progress)?;
        let [width, height] = self
            .project()
            .brief
            .active
            .unwrap_or(self.project().brief.frame);
        let page = pocket::page(&view, f64::from(width) / f64::from(height.max(1)));
        if page.html.len() > LARGE_BYTES {
            let says = format!(
                "the page has {:.0} MB, and beyond 25 MB phones open it slowly or not at all",
                page.html.len() as f64 / 1e6
            );
            notes.push(Finding::warning("large-page", says).mended_by(
                "leave the sound out with --without-sound, and play it from `playback/` instead",
            ));
        }
        let report = PocketReport {
            day: view.day.clone(),
            bytes: page.html.len(),
            setups: view.setups.iter().map(|setup| setup.id.clone()).collect(),
            sounds: view.sounds.len(),
            sound_bytes: view.sounds.iter().map(|sound| sound.m4a.len()).sum(),
            pictures,
            notes,
        };
        Ok(PocketMade { page, report })
    }

    /// Which day, and its setups with their times.
    fn told(
        &mut self,
        id: Option<&str>,
        notes: &mut Vec<Finding>,
        progress: &dyn Progress,
    ) -> Result<Told, Error> {
        let project = self.project();
        let asked = match id {
            Some(id) => Some(known::day(project, id)?),
            None => project.days_in_order().first().copied(),
        };
        let Some(day) = asked.cloned() else {
            let found = Finding::unknown(
                "no-day",
                "the plan has no day yet, so the page tells no times",
            );
            notes.push(found.mended_by("write one under `days` with its date and its call"));
            return Ok(Told {
                day: None,
                found: None,
                as_found: false,
                slots: Vec::new(),
            });
        };
        let wanted = DayOptions {
            day: Some(day.id.to_string()),
            ..DayOptions::default()
        };
        let report = self.day(&wanted, progress)?;
        notes.extend(report.notes);
        let found = report.days.into_iter().next();
        let best: Vec<Slot> = found
            .as_ref()
            .map(|found| crate::day::slots(&found.plan))
            .unwrap_or_default();
        let same = |a: &Slot, b: &Slot| a.setup == b.setup && a.start == b.start && a.end == b.end;
        let as_found = day.order.is_empty()
            || (day.order.len() == best.len()
                && day.order.iter().zip(&best).all(|(a, b)| same(a, b)));
        if !as_found {
            notes.push(Finding::note("other-order", "the page goes by the order that stands in the plan; the best day found is another, so what to drop when late is left out (`barebulb day DIR --keep` writes the best day into the plan)"));
        }
        let slots = match as_found {
            true => best,
            false => day.order.clone(),
        };
        Ok(Told {
            day: Some(day),
            found,
            as_found,
            slots,
        })
    }

    /// Everything but sound and pictures.
    fn plain(
        &mut self,
        told: &Told,
        map: Option<&SongMap>,
        progress: &dyn Progress,
    ) -> Result<Pocket, Error> {
        let Told { found, slots, .. } = told;
        let day = told.day.as_ref();
        let kit = self.kit(&KitOptions::default(), progress)?;
        let project = self.project();
        let zone = day.and_then(|day| zone_of(project, day)).map(str::to_owned);
        let instants = match (&zone, day) {
            (Some(_), Some(day)) => Some(self.instants(&day.id)?),
            _ => None,
        };
        let plan = found.as_ref().map(|found| &found.plan);
        let strips = plan.filter(|_| told.as_found);
        let telling = Telling {
            project,
            slots,
            strips,
            judged: &kit.setups,
            instants: instants.as_ref().map(|at| at as _),
        };
        let clock = |at: ClockTime| telling.clock(at);
        let in_order: Vec<&Setup> = match day.is_some() {
            true => slots
                .iter()
                .filter_map(|slot| project.setup(&slot.setup))
                .collect(),
            false => project.setups.iter().collect(),
        };
        let setups = in_order.iter().map(|setup| telling.setup(setup)).collect();
        let places: Vec<PlaceId> = in_order
            .iter()
            .filter_map(|setup| setup.place.clone())
            .collect();
        let (sky, sky_over) = self.sky_of(told, &places, telling.instants);
        let batteries = self.batteries(told, map, &clock)?;
        let (first_bar, bars_s) = map.map(words::bars).unwrap_or((1, Vec::new()));
        Ok(Pocket {
            title: project.title.clone(),
            artist: project.brief.artist.clone(),
            project: pocket::log::mark(project),
            day: day.map(|day| day.id.clone()),
            date: day.map(|day| day.date),
            zone,
            call: day.map(|day| clock(day.call)),
            wrap: slots.last().map(|slot| clock(slot.end)),
            latest_wrap: plan.map(|plan| clock(plan.latest_wrap)),
            meal: day.and_then(|day| telling.meal(day)),
            setups,
            left_out: strips.map(words::left_out).unwrap_or_default(),
            sky,
            sky_over,
            late: strips
                .map(|plan| words::late(project, plan, &clock))
                .unwrap_or_default(),
            batteries,
            places: words::places(project, &places),
            contacts: words::contacts(project),
            care: words::care(project, &cautions_of(told, kit.cautions)),
            first_bar,
            bars_s,
            log: project.log.clone(),
            ..Pocket::default()
        })
    }

    /// What happens in the sky over the first of `places` whose sky is known, around the day's hours.
    fn sky_of(
        &self,
        told: &Told,
        places: &[PlaceId],
        instants: Option<&dyn Fn(ClockTime) -> i64>,
    ) -> (Vec<Moment>, String) {
        let (Some(instants), Some(first), Some(day)) = (instants, told.slots.first(), &told.day)
        else {
            return Default::default();
        };
        let latest = told.found.as_ref().map(|found| found.plan.latest_wrap);
        let last = told.slots.iter().map(|slot| slot.end).chain(latest).max();
        let from_s = instants(day.call.min(first.start)) - 60 * SKY_BEFORE_MIN;
        let to_s = instants(last.unwrap_or(first.end)) + 60 * SKY_AFTER_MIN;
        let date = day.date.civil();
        let dates = [Some(date), date.tomorrow().ok()];
        for place in places {
            let mut days = Vec::new();
            for date in dates.into_iter().flatten() {
                if let Ok((skies, _)) = self.skies(Some(place.as_str()), Some(date.into()), None) {
                    days.extend(skies);
                }
            }
            let Some(name) = days.first().map(|sky| sky.name.clone()) else {
                continue;
            };
            return (words::moments(&days, date, from_s, to_s), name);
        }
        Default::default()
    }

    /// The batteries of the kit that something runs on, and when changes are planned.
    fn batteries(
        &self,
        told: &Told,
        map: Option<&SongMap>,
        clock: &dyn Fn(ClockTime) -> Clock,
    ) -> Result<Vec<BatteryView>, Error> {
        let project = self.project();
        let lengths = project.heard_s(map);
        let mut timed = project.clone();
        for known in &mut timed.days {
            if told.is_of(&known.id) {
                known.order.clone_from(&told.slots);
            }
        }
        let swaps = timed
            .days
            .iter()
            .find(|known| told.is_of(&known.id))
            .map(|day| power::day_power(&timed, day, &lengths).swaps)
            .unwrap_or_default();
        let planned = |id: &model::KitId| -> Vec<(Clock, String)> {
            let of = swaps.iter().filter(|swap| {
                swap.on.battery == *id || swap.off.as_ref().is_some_and(|off| off.battery == *id)
            });
            of.filter_map(|swap| {
                let at = ClockTime::from_minutes(swap.at_min.round().max(0.0) as u32)?;
                let what: Vec<&str> = swap
                    .items
                    .iter()
                    .map(|item| project.item_name(item))
                    .collect();
                let setup = project.setup(&swap.setup).map_or("", Setup::called);
                Some((clock(at), format!("for {}, in {setup}", what.join(" and "))))
            })
            .collect()
        };
        Ok(project
            .kit
            .iter()
            .filter(|item| item.battery.is_some())
            .map(|item| BatteryView {
                id: item.id.clone(),
                name: item.called().to_owned(),
                count: item.count,
                changes: planned(&item.id),
            })
            .collect())
    }
}

/// The cautions of the places and things of a day, and of its hours as they are told.
fn cautions_of(told: &Told, all: Vec<Caution>) -> Vec<Caution> {
    let setups: Vec<&SetupId> = told.slots.iter().map(|slot| &slot.setup).collect();
    let here = |caution: &Caution| {
        let found = &caution.finding;
        (found.setups().next().is_none() || found.setups().any(|id| setups.contains(&id)))
            && (found.days().next().is_none() || found.days().any(|id| told.is_of(id)))
    };
    let found = told.found.as_ref().filter(|_| told.as_found);
    let mut out: Vec<Caution> = all
        .into_iter()
        .filter(|caution| told.slots.is_empty() || here(caution))
        .filter(|caution| found.is_none() || !caution.kind.is_of_the_day())
        .collect();
    out.extend(found.into_iter().flat_map(|found| found.cautions.clone()));
    out.sort_by_key(|caution| caution.kind);
    out
}

/// What the plan calls a project in a file's name: the day, or `day`.
pub fn pocket_file(report: &PocketReport) -> String {
    match &report.day {
        Some(day) => format!("pocket-{day}.html"),
        None => "pocket.html".into(),
    }
}
