//! What the page Assembly is asked for and drawn from.

use crate::app::Head;
use crate::door::Session;
use model::{Cut, Lock, PlacedTake, Shot, SongMap, SongTime, TakeId};
use serde::Deserialize;

/// What is looked at.
#[derive(Clone, Debug, Default, Deserialize)]
pub struct Asked {
    /// The version; the newest otherwise.
    pub version: Option<u32>,
    /// The shot that is chosen, counted from 1.
    pub shot: Option<usize>,
    /// The version it is compared with.
    pub with: Option<u32>,
    /// Whether it is asked why the chosen shot stands there.
    pub why: Option<String>,
    /// What a change of the chosen shot was refused with.
    #[serde(skip)]
    pub said: Option<String>,
}

/// All there is to show of one version.
pub struct Board<'a> {
    pub head: &'a Head,
    pub session: &'a Session,
    pub asked: &'a Asked,
    pub cut: &'a Cut,
    pub newest: bool,
    pub map: &'a SongMap,
    /// The takes placed, once that is done.
    pub placed: Option<&'a [PlacedTake]>,
}

impl Board<'_> {
    /// Where a cut lies, for saying it in bars and beats: a cut on a beat begins up to half a frame before it.
    pub fn near(&self, frame: i64) -> SongTime {
        let begins = self.cut.rate.ticks_of_frame(frame);
        let next = self.cut.rate.ticks_of_frame(frame + 1);
        SongTime::from_ticks(begins + (next - begins) / 2)
    }

    /// The chosen shot, counted from 0.
    pub fn chosen(&self) -> Option<(usize, &Shot)> {
        let nth = self.asked.shot?.checked_sub(1)?;
        Some((nth, self.cut.shots.get(nth)?))
    }

    pub fn lock_of(&self, shot: &Shot) -> Option<&Lock> {
        steps::lock_over(&self.head.project.locks, self.cut, shot)
    }
}

/// Bar and beat as a musician says them: `12.3`; bar 0 is what sounds before the first downbeat.
pub fn address(map: &SongMap, at: SongTime) -> String {
    let (bar, beat) = map.address(at);
    format!("{bar}.{beat}")
}

pub fn take_name(take: Option<&TakeId>) -> &str {
    take.map_or("black", TakeId::as_str)
}
