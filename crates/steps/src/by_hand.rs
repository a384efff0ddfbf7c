//! The cut changed by hand, shot by shot. Each change is one edit of the document as it stands.

use crate::{Error, Job, known, question};
use assemble::Question;
use assemble::by_hand::{self, By};
use model::{Ban, Cut, Edit, Lock, PlacedTake, Project, Rating, Shot, SongMap, Stretch, TakeId};

/// One shot of one version of the cut.
#[derive(Clone, Copy, Debug)]
pub struct ShotAt<'a> {
    project: &'a Project,
    cut: &'a Cut,
    /// Counted from 0.
    nth: usize,
}

/// The lock that holds most of a shot's frames with its take.
pub fn lock_over<'a>(locks: &'a [Lock], cut: &Cut, shot: &Shot) -> Option<&'a Lock> {
    let at = cut.stretch(shot)?;
    locks.iter().find(|lock| {
        Some(&lock.take) == shot.take.as_ref()
            && lock
                .at
                .overlap(at)
                .is_some_and(|both| both.length().ticks() * 2 > at.length().ticks())
    })
}

/// The edit that makes an earlier version the newest again.
///
/// # Errors
/// When there is no such version.
pub fn back_to(project: &Project, number: u32) -> Result<Edit, Error> {
    let cut = Cut {
        remark: format!("as version {number}"),
        ..known::version(project, number)?.clone()
    };
    Ok(Edit::AddCut { cut })
}

impl<'a> ShotAt<'a> {
    /// The shot `number` of a version, counted from 1.
    ///
    /// # Errors
    /// When there is no such version or shot.
    pub fn find(project: &'a Project, of: u32, number: usize) -> Result<Self, Error> {
        let cut = known::version(project, of)?;
        let nth = number
            .checked_sub(1)
            .filter(|nth| *nth < cut.shots.len())
            .ok_or(by_hand::Refused::NoShot(number))?;
        Ok(Self { project, cut, nth })
    }

    /// Its number, counted from 1.
    pub fn number(self) -> usize {
        self.nth + 1
    }

    fn shot(self) -> &'a Shot {
        &self.cut.shots[self.nth]
    }

    /// What it shows, and where.
    fn seen(self, shot: &Shot) -> Result<(TakeId, Stretch), Error> {
        match (&shot.take, self.cut.stretch(shot)) {
            (Some(take), Some(at)) => Ok((take.clone(), at)),
            _ => Err(Error::Black(self.number())),
        }
    }

    /// Locks it as it is.
    ///
    /// # Errors
    /// When it is black.
    pub fn lock(self) -> Result<Edit, Error> {
        Ok(Edit::Together {
            what: format!("lock shot {}", self.number()),
            edits: self.locked(self.shot())?,
        })
    }

    /// The edits that lock `shot`, in the place of whatever held its frames.
    fn locked(self, shot: &Shot) -> Result<Vec<Edit>, Error> {
        let (take, at) = self.seen(shot)?;
        let held = self.project.locks.iter();
        let mut edits: Vec<Edit> = held
            .filter(|lock| lock.at.overlap(at).is_some())
            .map(|lock| Edit::RemoveLock {
                at: lock.at.start(),
            })
            .collect();
        edits.push(Edit::PutLock {
            lock: Lock {
                at,
                take,
                // In sync, it goes on following where the take was heard.
                take_start: (!shot.in_sync).then_some(shot.take_start),
                extra: Default::default(),
            },
        });
        Ok(edits)
    }

    /// Frees it.
    ///
    /// # Errors
    /// When no lock holds it.
    pub fn free(self) -> Result<Edit, Error> {
        let lock = lock_over(&self.project.locks, self.cut, self.shot());
        let lock = lock.ok_or(Error::NotLocked(self.number()))?;
        Ok(Edit::RemoveLock {
            at: lock.at.start(),
        })
    }

    /// Keeps its take out of this part of the song, from the next cut on.
    ///
    /// # Errors
    /// When it is black.
    pub fn not_here(self) -> Result<Edit, Error> {
        let (take, at) = self.seen(self.shot())?;
        let extra = Default::default();
        Ok(Edit::PutBan {
            ban: Ban { at, take, extra },
        })
    }

    /// Marks its take no good, so that it is never cut to again.
    ///
    /// # Errors
    /// When it is black.
    pub fn never(self) -> Result<Edit, Error> {
        let (id, _) = self.seen(self.shot())?;
        let rating = Rating::NoGood;
        Ok(Edit::RateTake { id, rating })
    }

    /// Shows `take` over its frames instead, and locks it there; `takes` are placed on the song of `map`.
    ///
    /// # Errors
    /// When the take is not there or holds nothing to show over all of it.
    pub fn show(self, take: &TakeId, map: &SongMap, takes: &[PlacedTake]) -> Result<Edit, Error> {
        let question = self.question(map, takes);
        let mut shots = by_hand::show_instead(&question, &self.marked(), self.nth, take)?;
        shots[self.nth].locked = true;
        let mut edits = self.locked(&shots[self.nth])?;
        let what = format!("shot {} shows {take}", self.number());
        edits.push(self.anew(shots, what.clone()));
        Ok(Edit::Together { what, edits })
    }

    /// Moves the cut into it, or, `after`, the cut out of it.
    ///
    /// # Errors
    /// When there is no beat to move to, a lock holds it, or a take has no more picture or sound there.
    pub fn move_cut(
        self,
        after: bool,
        by: By,
        map: &SongMap,
        takes: &[PlacedTake],
    ) -> Result<Edit, Error> {
        let cut = self.nth + usize::from(after);
        let from = self.cut.shots.get(cut).map_or(0, |shot| shot.from_frame);
        let to = by_hand::moved(map, self.cut.rate, from, by).ok_or(Error::NoBeat)?;
        let question = self.question(map, takes);
        let shots = by_hand::move_cut(&question, &self.marked(), cut, to)?;
        let by = to - from;
        let frames = if by.abs() == 1 { "frame" } else { "frames" };
        let remark = format!("cut into shot {} moved by {by:+} {frames}", cut + 1);
        Ok(self.anew(shots, remark))
    }

    /// The question of the document, at the rate of the cut.
    fn question<'b>(self, map: &'b SongMap, takes: &'b [PlacedTake]) -> Question<'b>
    where
        'a: 'b,
    {
        Question {
            rate: self.cut.rate,
            ..question(self.project, map, takes)
        }
    }

    /// The shots with what is locked by now marked.
    fn marked(self) -> Vec<Shot> {
        let locked = |shot: &Shot| lock_over(&self.project.locks, self.cut, shot).is_some();
        let shots = self.cut.shots.iter();
        shots
            .map(|shot| Shot {
                locked: locked(shot),
                ..shot.clone()
            })
            .collect()
    }

    fn anew(self, shots: Vec<Shot>, remark: String) -> Edit {
        let cut = Cut {
            shots,
            remark,
            ..self.cut.clone()
        };
        Edit::AddCut { cut }
    }
}

impl Job {
    /// A shot of the newest cut, counted from 1.
    ///
    /// # Errors
    /// When there is no cut or no such shot.
    pub fn shot(&self, number: usize) -> Result<ShotAt<'_>, Error> {
        let project = self.project();
        let cut = project.newest_cut();
        let cut = cut.ok_or_else(|| Error::NoCut(self.folder.root().to_path_buf()))?;
        ShotAt::find(project, cut.version, number)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Two seconds of one take in sync, one of black, one of a take that is free.
    fn project() -> Project {
        let take = |id: &str| serde_json::json!({"id": id, "file": {"path": id, "hash": "0".repeat(32), "bytes": 1}});
        serde_json::from_value(serde_json::json!({
            "format": 2,
            "takes": [take("a1"), take("b1")],
            "cuts": [{"version": 1, "rate": "25", "shots": [
                {"from_frame": 0, "to_frame": 50, "take": "a1", "in_sync": true},
                {"from_frame": 50, "to_frame": 75},
                {"from_frame": 75, "to_frame": 100, "take": "b1", "take_start": 705_600_000}
            ]}],
        }))
        .unwrap()
    }

    fn done(project: &Project, edit: Result<Edit, Error>) -> Project {
        edit.unwrap().apply(project).unwrap()
    }

    fn at(project: &Project, number: usize) -> ShotAt<'_> {
        ShotAt::find(project, 1, number).unwrap()
    }

    #[test]
    fn a_lock_holds_the_frames_and_what_is_free_its_beginning_too() {
        let before = project();
        let locked = done(&before, at(&before, 1).lock());
        let locked = done(&locked, at(&locked, 3).lock());
        let told: Vec<_> = locked
            .locks
            .iter()
            .map(|lock| {
                let start = lock.take_start.map(|start| start.seconds());
                (
                    lock.take.as_str(),
                    lock.at.start().seconds(),
                    lock.at.end().seconds(),
                    start,
                )
            })
            .collect();
        assert_eq!(told, [("a1", 0.0, 2.0, None), ("b1", 3.0, 4.0, Some(1.0))]);
        // Once more is the same; free, it is gone.
        let again = done(&locked, at(&locked, 1).lock());
        assert_eq!(again.locks.len(), 2);
        let freed = done(&again, at(&again, 1).free());
        assert_eq!(freed.locks.len(), 1);
        assert!(lock_over(&freed.locks, &freed.cuts[0], &freed.cuts[0].shots[0]).is_none());
    }

    #[test]
    fn a_take_is_kept_out_here_or_everywhere() {
        let before = project();
        let out = done(&before, at(&before, 1).not_here());
        assert_eq!(out.bans[0].at.end().seconds(), 2.0);
        let never = done(&out, at(&out, 1).never());
        assert_eq!(never.takes[0].rating, Rating::NoGood);
        let back = done(&never, back_to(&never, 1));
        assert_eq!(
            (back.cuts.len(), back.cuts[1].remark.as_str()),
            (2, "as version 1")
        );
    }

    #[test]
    fn what_cannot_be_done_is_one_sentence() {
        let project = project();
        let says = |edit: Result<Edit, Error>| edit.unwrap_err().to_string();
        let black = "shot 2 is black; show a take there first";
        assert_eq!(says(at(&project, 2).lock()), black);
        assert_eq!(says(at(&project, 2).not_here()), black);
        assert_eq!(says(at(&project, 2).never()), black);
        assert_eq!(says(at(&project, 1).free()), "shot 1 is not locked");
        for (version, number) in [(1, 0), (1, 4), (2, 1)] {
            assert!(ShotAt::find(&project, version, number).is_err());
        }
    }
}
