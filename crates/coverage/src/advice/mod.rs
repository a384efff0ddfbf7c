//! What to plan or shoot next that helps most per minute of shooting.
//!
//! # Gain
//! An option is what counts in [`crate::coverage`]: once anything was shot what was shot, before that what is
//! planned. A bar with fewer options than wanted that gets one more gains
//! *its seconds × (wanted ÷ 3) × option value × (1 + voice)*. The option value is that of the option it
//! gets, [`OPTION_VALUES`]: the first thing to cut to counts 1, the third 0.4. *Voice*, 0 to 1, is how
//! likely somebody sings in the bar, and counts for setups in which somebody performs. A bar that has as
//! many options as wanted gains nothing. The same values weigh the bars when a day is planned; a choice of
//! our own.
//!
//! # Minutes
//! Each stretch that is played costs *stretch ÷ playback speed + reset*; one pass of it is reckoned. What
//! stands needs no set-up: before the shoot every setup that is planned anywhere in the song, after it those
//! that the advice has already come to. Where another of its rig group at its place stands, a setup is relit;
//! else it is rigged. What a setup does not say, and all of a new one, is what is usual ([`model::Practice`]); a new
//! one is played at the song's own speed, and counts as performance.
//!
//! # What is considered
//! For every setup, and for a new one, every choice of pieces of the song, joined or apart: a piece is as
//! much of a section as is short, or is not, in one go. So whole sections, runs of short bars and the whole
//! song are among them. The choice of most gain per minute is found exactly (see `best`).

mod best;
mod says;

use crate::{BarCoverage, Coverage, Options};
use best::{Chosen, Piece};
use model::{Bar, FrameRate, Minutes, Practice, Purpose, Setup, SetupId, SongMap};
use says::Words;
use serde::Serialize;

/// What the first, second, third … thing to cut to in a bar is worth; the last holds for all after it.
pub const OPTION_VALUES: [f64; 10] = [1.0, 0.6, 0.4, 0.27, 0.18, 0.12, 0.08, 0.05, 0.04, 0.03];
/// The most suggestions made.
pub const MOST: usize = 5;

/// What to plan or shoot next.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Advice {
    /// Whether anything was shot: if so, options are counted as shot, else as planned.
    pub as_shot: bool,
    /// Up to [`MOST`], best first; each is reckoned as if those before it had been followed.
    pub suggestions: Vec<Suggestion>,
    /// Why there are none, as a sentence.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub none_because: Option<String>,
}

/// What sort of work is suggested.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Work {
    /// Shoot a setup where it is planned and there is nothing usable of it, and perhaps beyond.
    Shoot,
    /// Shoot a setup where it is not planned.
    Extend,
    /// Plan one more setup.
    Add,
}

/// One thing to plan or shoot.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Suggestion {
    /// What sort of work.
    pub work: Work,
    /// Which setup; `None` for a new one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub setup: Option<SetupId>,
    /// The bars it is played over, first and last of each stretch.
    pub bars: Vec<[u32; 2]>,
    /// The sections in which it fills bars, by name, in order.
    pub sections: Vec<String>,
    /// The bars that gain an option they lacked.
    pub fills: Vec<u32>,
    /// How long these are, seconds.
    pub fills_s: f64,
    /// What that is worth, in seconds weighted as the [module](self) says.
    pub gain: f64,
    /// What it costs, minutes of shooting.
    pub minutes: f64,
    /// Gain per minute.
    pub gain_per_minute: f64,
    /// Whether a voice is likely over at least half of what it fills.
    pub sung: bool,
    /// The sentence.
    pub says: String,
}

impl Suggestion {
    /// Whether it changes the plan; otherwise it is to shoot what is planned.
    pub fn is_planning(&self) -> bool {
        self.work != Work::Shoot
    }
}

/// What to plan or shoot next, given what there is to cut to: `covered` is [`crate::coverage`] of `map` and
/// `setups`, `rate` the picture rate of the finished video, by which off-speed setups are timed, and `practice` what
/// is reckoned with where a setup doesn't say.
pub fn advise(
    map: &SongMap,
    setups: &[Setup],
    covered: &Coverage,
    rate: FrameRate,
    practice: &Practice,
) -> Advice {
    let mut board = Board::new(map, setups, covered, rate, practice);
    let mut suggestions: Vec<Suggestion> = Vec::new();
    let none_because = board.nothing_to_say();
    while none_because.is_none() && suggestions.len() < MOST {
        let Some((candidate, chosen)) = board.best() else {
            break;
        };
        suggestions.push(board.suggestion(candidate, &chosen));
        board.follow(candidate, &chosen);
    }
    let full = || "Every bar has as many setups as wanted; nothing needs to be added.".to_owned();
    Advice {
        as_shot: board.as_shot,
        none_because: none_because.or_else(|| suggestions.is_empty().then(full)),
        suggestions,
    }
}

/// The setup that could be worked with, as an index; `None` for a new one.
type Candidate = Option<usize>;

/// What there is in one bar, and what would be if advice were followed.
#[derive(Clone, Debug)]
struct Square {
    seconds: f64,
    voice: f64,
    wanted: u32,
    options: u32,
}

/// What there is of one setup.
struct Known<'a> {
    setup: &'a Setup,
    /// Bar by bar, whether it is an option.
    option: Vec<bool>,
    /// Whether its rig stands.
    stands: bool,
    /// Whether it can be cut anywhere, so that it fills no bar.
    anywhere: bool,
}

struct Board<'a> {
    covered: &'a Coverage,
    squares: Vec<Square>,
    setups: Vec<Known<'a>>,
    as_shot: bool,
    rate: FrameRate,
    practice: &'a Practice,
}

impl<'a> Board<'a> {
    fn new(
        map: &SongMap,
        setups: &'a [Setup],
        covered: &'a Coverage,
        rate: FrameRate,
        practice: &'a Practice,
    ) -> Board<'a> {
        let as_shot = covered.shot_at_all();
        let known = |setup: &'a Setup| {
            let is = |other: &Option<SetupId>| other.as_ref() == Some(&setup.id);
            let option = |bar: &BarCoverage| match as_shot {
                true => bar.shot.iter().any(|shot| is(&shot.setup)),
                false => bar.planned.contains(&setup.id),
            };
            let option: Vec<bool> = covered.bars.iter().map(option).collect();
            Known {
                setup,
                stands: !as_shot && option.contains(&true),
                option,
                anywhere: covered.anywhere.iter().any(|any| is(&any.setup)),
            }
        };
        let square = |(bar, heard): (&BarCoverage, &Bar)| Square {
            seconds: bar.end_s - bar.start_s,
            // What is no number counts as no voice: `max` takes the 0.
            voice: f64::from(heard.voice).max(0.0).clamp(0.0, 1.0),
            wanted: bar.wanted,
            options: match as_shot {
                true => bar.shot_options,
                false => bar.planned_options,
            },
        };
        Board {
            covered,
            squares: covered.bars.iter().zip(&map.bars).map(square).collect(),
            setups: setups.iter().map(known).collect(),
            as_shot,
            rate,
            practice,
        }
    }

    /// The sentence for a song without bars, or a plan without setups.
    fn nothing_to_say(&self) -> Option<String> {
        if self.squares.is_empty() {
            Some(
                "The song has no bars, so nothing can be advised; let it be listened to first."
                    .into(),
            )
        } else if self.setups.is_empty() && !self.as_shot {
            let whole: f64 = self.squares.iter().map(|bar| bar.seconds).sum();
            let minutes = self.practice.rig_minutes + self.practice.reset_minutes + whole / 60.0;
            Some(format!(
                "No setup is planned yet; begin with one over the whole song, about {} min.",
                says::whole(minutes)
            ))
        } else {
            None
        }
    }

    /// Everything that could be worked with. Of equals the earlier is taken: a setup of the plan before one that
    /// must be thought of.
    fn candidates(&self) -> impl Iterator<Item = Candidate> {
        let usable = (0..self.setups.len()).filter(|at| !self.setups[*at].anywhere);
        usable.map(Some).chain([None])
    }

    fn best(&self) -> Option<(Candidate, Chosen)> {
        let mut best: Option<(Candidate, Chosen)> = None;
        for candidate in self.candidates() {
            let pieces = self.pieces(candidate);
            let (set_up, reset) = self.set_up_and_reset(candidate);
            let Some(chosen) = best::best(&pieces, set_up, reset) else {
                continue;
            };
            let ahead = |(_, best): &(_, Chosen)| chosen.rate() > best.rate() * (1.0 + 1e-9);
            if best.as_ref().is_none_or(ahead) {
                best = Some((candidate, chosen));
            }
        }
        best
    }

    /// What bar `at` gains by `candidate`.
    fn gain(&self, candidate: Candidate, at: usize) -> f64 {
        let bar = &self.squares[at];
        let known = candidate.map(|setup| &self.setups[setup]);
        if bar.options >= bar.wanted || known.is_some_and(|known| known.option[at]) {
            return 0.0;
        }
        let performs = known.is_none_or(|known| known.setup.purpose == Purpose::Performance);
        let voice = if performs { bar.voice } else { 0.0 };
        let value = OPTION_VALUES[(bar.options as usize).min(OPTION_VALUES.len() - 1)];
        let share = f64::from(bar.wanted) / f64::from(Options::default().wanted);
        bar.seconds * share * value * (1.0 + voice)
    }

    fn pieces(&self, candidate: Candidate) -> Vec<Piece> {
        let speed = candidate.map_or(1.0, |setup| {
            self.setups[setup].setup.speed(self.rate).value()
        });
        let mut pieces: Vec<Piece> = Vec::new();
        for (at, bar) in self.squares.iter().enumerate() {
            let gain = self.gain(candidate, at);
            let minutes = bar.seconds / 60.0 / speed;
            let same =
                |at: usize| self.covered.bars[at - 1].section == self.covered.bars[at].section;
            match pieces.last_mut() {
                Some(last) if same(at) && (last.gain > 0.0) == (gain > 0.0) => {
                    last.to = at;
                    last.gain += gain;
                    last.minutes += minutes;
                }
                _ => pieces.push(Piece {
                    from: at,
                    to: at,
                    gain,
                    minutes,
                }),
            }
        }
        pieces
    }

    /// Minutes before the first stretch, and after each.
    fn set_up_and_reset(&self, candidate: Candidate) -> (f64, f64) {
        let Some(known) = candidate.map(|at| &self.setups[at]) else {
            return (self.practice.rig_minutes, self.practice.reset_minutes);
        };
        let setup = known.setup;
        let same_rig = |other: &Known| {
            setup.rig_group.is_some()
                && other.setup.rig_group == setup.rig_group
                && other.setup.place == setup.place
        };
        let minutes = Minutes::of(setup, self.rate, None, self.practice);
        let set_up = if known.stands {
            0.0
        } else if self.setups.iter().any(|s| s.stands && same_rig(s)) {
            minutes.relight
        } else {
            minutes.rig
        };
        (set_up, minutes.reset)
    }

    /// Reckons from here on as if it had been done.
    fn follow(&mut self, candidate: Candidate, chosen: &Chosen) {
        for at in chosen.bars() {
            let had =
                candidate.map(|setup| std::mem::replace(&mut self.setups[setup].option[at], true));
            self.squares[at].options += u32::from(had != Some(true));
        }
        if let Some(setup) = candidate {
            self.setups[setup].stands = true;
        }
    }

    fn suggestion(&self, candidate: Candidate, chosen: &Chosen) -> Suggestion {
        let fills: Vec<usize> = chosen
            .bars()
            .filter(|at| self.gain(candidate, *at) > 0.0)
            .collect();
        let setup = candidate.map(|at| self.setups[at].setup.id.clone());
        let planned = |at: &&usize| {
            let planned = &self.covered.bars[**at].planned;
            setup.as_ref().is_some_and(|setup| planned.contains(setup))
        };
        let planned = fills.iter().filter(planned).count();
        let words = Words {
            covered: self.covered,
            as_shot: self.as_shot,
            chosen,
            fills: &fills,
            had: fills.iter().map(|at| self.squares[*at].options).collect(),
            all_planned: planned == fills.len(),
        };
        let sum = |read: &dyn Fn(&Square) -> f64| {
            fills.iter().map(|at| read(&self.squares[*at])).sum::<f64>()
        };
        let fills_s = sum(&|bar| bar.seconds);
        let number = |at: usize| self.covered.bars[at].number;
        let mut made = Suggestion {
            work: match setup {
                None => Work::Add,
                Some(_) if planned > 0 => Work::Shoot,
                Some(_) => Work::Extend,
            },
            setup: setup.clone(),
            bars: chosen
                .runs
                .iter()
                .map(|[a, b]| [number(*a), number(*b)])
                .collect(),
            sections: words.sections().into_iter().map(|(name, _)| name).collect(),
            fills: fills.iter().map(|at| number(*at)).collect(),
            fills_s,
            gain: chosen.gain,
            minutes: chosen.minutes,
            gain_per_minute: chosen.rate(),
            sung: 2.0 * sum(&|bar| bar.seconds * bar.voice) >= fills_s,
            says: String::new(),
        };
        made.says = words.sentence(&made);
        made
    }
}

#[cfg(test)]
mod tests;
