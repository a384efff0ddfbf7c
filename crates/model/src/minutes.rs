//! How long a setup takes: over how much of the song, how fast it is played, and the minutes to rig, relight
//! and reset.

use crate::clock::ClockTime;
use crate::practice::Practice;
use crate::project::Project;
use crate::ratio::Ratio;
use crate::setup::Setup;
use crate::song::SongMap;
use crate::time::{FrameRate, Stretch};

/// What a setup takes, minutes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Minutes {
    /// To rig it where nothing stands.
    pub rig: f64,
    /// To relight it where another of its rig group stands.
    pub relight: f64,
    /// After each pass.
    pub reset: f64,
    /// One pass: the song over its stretch, at the speed it is played.
    pub pass: f64,
    /// How many there are.
    pub passes: u32,
    /// Whether the length of a pass is known; if not it is what is practice, and whoever reckons with it says that.
    pub known: bool,
}

impl Minutes {
    /// Of `setup` in a video of `rate`, where the song runs for `heard_s` seconds under one pass of it
    /// ([`Setup::heard_s`]).
    pub fn of(setup: &Setup, rate: FrameRate, heard_s: Option<f64>, practice: &Practice) -> Self {
        let known = heard_s.filter(|s| s.is_finite() && *s > 0.0);
        let or = |said: Option<u32>, usual: f64| said.map_or(usual, f64::from);
        Self {
            rig: or(setup.rig_minutes, practice.rig_minutes),
            relight: or(setup.relight_minutes, f64::from(practice.relight_minutes)),
            reset: or(setup.reset_minutes, practice.reset_minutes),
            pass: known.unwrap_or(practice.usual_stretch_s) / 60.0 / setup.speed(rate).value(),
            passes: setup.passes,
            known: known.is_some(),
        }
    }

    /// All passes, each with its reset.
    pub fn shoot(&self) -> f64 {
        f64::from(self.passes) * (self.pass + self.reset)
    }

    /// When its rig begins and its last reset ends where its shoot begins at `shoot`: whole minutes, rounded
    /// up, within what a day can show.
    pub fn around(&self, shoot: ClockTime) -> [ClockTime; 2] {
        // A hair below, so that what is whole but for the rounding of a float stays whole.
        let [rig, shooting] =
            [self.rig, self.shoot()].map(|minutes| (minutes - 1e-6).ceil() as u32);
        let start = ClockTime::default().later(shoot.minutes().saturating_sub(rig));
        [start, shoot.later(shooting)]
    }
}

impl Setup {
    /// How much faster than in a video of `rate` its camera runs and the song is played for it: 48 frames a
    /// second for a video of 24 are 2.
    pub fn speed(&self, rate: FrameRate) -> Ratio {
        self.camera_rate(rate).over(rate)
    }

    /// Frames a second of its camera in a video of `rate`.
    pub fn camera_rate(&self, rate: FrameRate) -> FrameRate {
        self.shot_rate.unwrap_or(rate)
    }

    /// For how many seconds the song sounds over what it is planned for, stretches that overlap counted once.
    ///
    /// One that names nothing is planned over the whole song: the length of `map`, else `whole_s`. `None`
    /// where that isn't known, or where sections and bars are named and there is no map, or nothing is left.
    pub fn heard_s(&self, map: Option<&SongMap>, whole_s: Option<f64>) -> Option<f64> {
        let heard = match map {
            Some(map) => map.planned(self),
            None if self.is_over_all() => return whole_s,
            None if !self.sections.is_empty() || !self.bars.is_empty() => return None,
            None => Stretch::joined(self.stretches.clone()),
        };
        let heard_s: f64 = heard.iter().map(|at| at.length().seconds()).sum();
        (heard_s > 0.0).then_some(heard_s)
    }
}

impl Project {
    /// For how many seconds the song sounds in one pass of a setup, by `map` where the song has been heard.
    pub fn heard_s<'a>(
        &self,
        map: Option<&'a SongMap>,
    ) -> impl Fn(&Setup) -> Option<f64> + use<'a> {
        let whole_s = self.song.as_ref().map(|song| song.length.seconds());
        move |setup| setup.heard_s(map, whole_s)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Bar, Length, Section, SetupId};

    fn map() -> SongMap {
        let s = |from: f64, to: f64| Stretch::between_seconds(from, to).unwrap();
        let section = |label: &str, at| Section {
            label: label.into(),
            name: None,
            at,
            energy: 0.5,
            voiced: 0.5,
        };
        SongMap {
            length: Length::nearest_to_seconds(100.0),
            tempo_bpm: 120.0,
            beats_per_bar: 4,
            beats: Vec::new(),
            downbeats: Vec::new(),
            bars: (0..50)
                .map(|n| Bar {
                    number: n + 1,
                    at: s(f64::from(n) * 2.0, f64::from(n) * 2.0 + 2.0),
                    energy: 0.5,
                    voice: 0.5,
                })
                .collect(),
            sections: vec![
                section("A", s(0.0, 40.0)),
                section("B", s(40.0, 70.0)),
                section("A", s(70.0, 100.0)),
            ],
        }
    }

    #[test]
    fn what_is_planned_is_heard_once() {
        let mut setup = Setup::new(SetupId::new("x").unwrap());
        assert_eq!(setup.heard_s(None, None), None);
        assert_eq!(setup.heard_s(None, Some(150.0)), Some(150.0));
        assert_eq!(setup.heard_s(Some(&map()), Some(150.0)), Some(100.0));
        setup.sections = vec!["B".into()];
        assert_eq!(setup.heard_s(None, Some(150.0)), None);
        assert_eq!(setup.heard_s(Some(&map()), None), Some(30.0));
        // Bars 16 to 25 are 30 to 50 s: 10 of them lie in B.
        setup.bars = vec![[16, 25]];
        assert_eq!(setup.heard_s(Some(&map()), None), Some(40.0));
        setup.stretches = vec![Stretch::between_seconds(90.0, 500.0).unwrap()];
        assert_eq!(setup.heard_s(Some(&map()), None), Some(50.0));
        setup.bars.clear();
        setup.sections = vec!["Z".into()];
        setup.stretches.clear();
        assert_eq!(setup.heard_s(Some(&map()), None), None);
    }

    #[test]
    fn a_setup_takes_what_it_says_and_else_what_is_usual() {
        let mut setup = Setup::new(SetupId::new("x").unwrap());
        setup.passes = 3;
        setup.shot_rate = FrameRate::new(48, 1);
        let practice = Practice::default();
        let of = |setup: &Setup, heard_s| Minutes::of(setup, FrameRate::FPS_24, heard_s, &practice);
        // By hand: 180 s at double speed are 1.5 min, and 2 min of reset after each of three.
        let plain = of(&setup, Some(180.0));
        assert_eq!((plain.rig, plain.relight, plain.pass), (15.0, 5.0, 1.5));
        assert_eq!((plain.shoot(), plain.known), (10.5, true));
        // Pinned where it stands nowhere yet: rigged before, and done after all its passes.
        let clock = |text: &str| text.parse::<ClockTime>().unwrap();
        assert_eq!(
            plain.around(clock("20:00")),
            [clock("19:45"), clock("20:11")]
        );
        assert_eq!(
            plain.around(clock("00:05")),
            [clock("00:00"), clock("00:16")]
        );
        setup.rig_minutes = Some(40);
        setup.relight_minutes = Some(0);
        setup.reset_minutes = Some(1);
        let said = of(&setup, None);
        assert_eq!((said.rig, said.relight, said.reset), (40.0, 0.0, 1.0));
        assert_eq!((said.shoot(), said.known), (7.5, false));
        assert!(!of(&setup, Some(f64::NAN)).known);
        // 24 frames a second in a video of 24000/1001 are 1001/1000, and nothing rounds it.
        setup.shot_rate = Some(FrameRate::FPS_24);
        let rate = FrameRate::new(24_000, 1001).unwrap();
        assert_eq!(setup.speed(rate), Ratio::new(1001, 1000).unwrap());
        setup.shot_rate = None;
        assert_eq!(setup.speed(rate), Ratio::ONE);
    }
}
