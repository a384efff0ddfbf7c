//! Setups changed over the bars of the song: bars planned or left out, advice taken.

use crate::{Error, Job, Progress, known};
use coverage::Suggestion;
use model::{Edit, Project, Setup, SetupId, SongMap};

/// Bars of a setup to be planned, or not any more.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct BarsPlanned {
    /// Which setup.
    pub setup: String,
    /// First and last bar of each stretch.
    pub bars: Vec<[u32; 2]>,
    /// Whether they are planned from now on, or left out.
    pub on: bool,
}

/// The edit that plans bars, or leaves them out, one after the other: all of it or nothing; `None` where the
/// plan says so already.
///
/// # Errors
/// When there is no such setup, the song does not have these bars, or a setup would be left without any.
pub fn plan_bars(
    project: &Project,
    map: &SongMap,
    changes: &[BarsPlanned],
) -> Result<Option<Edit>, Error> {
    let mut next = project.clone();
    for change in changes {
        let id = known::setup(project, &change.setup)?.id.clone();
        for setup in next.setups.iter_mut().filter(|setup| setup.id == id) {
            *setup = coverage::with_bars(map, setup, &change.bars, change.on)?;
        }
    }
    let both = project.setups.iter().zip(next.setups);
    let mut edits: Vec<Edit> = both
        .filter(|(was, setup)| *was != setup)
        .map(|(was, setup)| Edit::change_of(was, &setup))
        .collect();
    Ok(match edits.len() {
        0 | 1 => edits.pop(),
        _ => Some(Edit::Together {
            what: "bars of setups".into(),
            edits,
        }),
    })
}

/// The edit that puts `advice` into the plan, and the setup it is about: bars of one that is there, or a new one.
///
/// # Errors
/// When it advises shooting, which no plan holds, or as [`plan_bars`].
pub fn take_advice(
    project: &Project,
    map: &SongMap,
    advice: &Suggestion,
) -> Result<(Edit, SetupId), Error> {
    if !advice.is_planning() {
        return Err(Error::OnlyShooting);
    }
    if let Some(id) = &advice.setup {
        let change = BarsPlanned {
            setup: id.to_string(),
            bars: advice.bars.clone(),
            on: true,
        };
        let edit = plan_bars(project, map, &[change])?.ok_or(Error::OnlyShooting)?;
        return Ok((edit, id.clone()));
    }
    let id = (1..)
        .filter_map(|n| SetupId::new(format!("setup-{n}")).ok())
        .find(|id| project.setup(id).is_none())
        .ok_or(Error::OnlyShooting)?;
    let mut setup = Setup::new(id.clone());
    setup.name = "New setup".into();
    setup.bars.clone_from(&advice.bars);
    Ok((Edit::put(&setup), id))
}

impl Job {
    /// Plans bars of setups, or leaves them out; see [`plan_bars`].
    ///
    /// # Errors
    /// As [`plan_bars`], when there is no song, it was stopped, or it can't be saved.
    pub fn plan_bars(
        &mut self,
        changes: &[BarsPlanned],
        progress: &dyn Progress,
    ) -> Result<(), Error> {
        let map = self.heard(progress)?.map;
        match plan_bars(self.project(), &map, changes)? {
            Some(edit) => self.edit(&edit).map(drop),
            None => Ok(()),
        }
    }

    /// Puts the advice of this number, counted from 1, into the plan; gives the setup it is about.
    ///
    /// # Errors
    /// When there is no such advice, or as [`take_advice`].
    pub fn take_advice(&mut self, nth: usize, progress: &dyn Progress) -> Result<SetupId, Error> {
        let map = self.heard(progress)?.map;
        let (covered, _) = self.coverage(None, progress)?;
        let all = covered.advice.suggestions;
        let advice = nth.checked_sub(1).and_then(|nth| all.get(nth));
        let advice = advice.ok_or(Error::NoAdvice {
            nth,
            there: all.len(),
        })?;
        let (edit, setup) = take_advice(self.project(), &map, advice)?;
        self.edit(&edit)?;
        Ok(setup)
    }
}
