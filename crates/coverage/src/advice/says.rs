//! Advice in words.

use super::best::Chosen;
use super::{Suggestion, Work};
use crate::{Coverage, SectionCoverage};
use model::text::{counted, span};

/// Minutes for a person: rounded up, but for what is whole save for the rounding of a float.
pub fn whole(minutes: f64) -> u64 {
    (minutes - 1e-6).ceil().max(0.0) as u64
}

/// What a sentence is made of.
pub struct Words<'a> {
    pub covered: &'a Coverage,
    /// Whether options are counted as shot.
    pub as_shot: bool,
    pub chosen: &'a Chosen,
    /// The bars that gain, as indices.
    pub fills: &'a [usize],
    /// How many options each of them has.
    pub had: Vec<u32>,
    /// Whether the setup is planned over all of them.
    pub all_planned: bool,
}

impl Words<'_> {
    /// The sections in which bars are filled, in order, by name, and whether all of each is played.
    pub fn sections(&self) -> Vec<(String, bool)> {
        let bars = &self.covered.bars;
        let in_it = |section: &SectionCoverage, at: usize| bars[at].section == section.section;
        let told = |section: &SectionCoverage| {
            if !self.fills.iter().any(|at| in_it(section, *at)) {
                return None;
            }
            let played = self.chosen.bars().filter(|at| in_it(section, *at)).count();
            let all = (0..bars.len()).filter(|at| in_it(section, *at)).count();
            Some((self.named(section), played == all))
        };
        self.covered.sections.iter().filter_map(told).collect()
    }

    /// Its name, with its letter where several are called so; its letter when it has none.
    fn named(&self, section: &SectionCoverage) -> String {
        let sections = self.covered.sections.iter();
        let same = sections.filter(|other| other.name == section.name);
        match (&section.name, same.count()) {
            (None, _) => section.section.clone(),
            (Some(name), 1) => name.clone(),
            (Some(name), _) => format!("{name} ({})", section.section),
        }
    }

    /// The sentence: what, where, how long, and what it fills.
    pub fn sentence(&self, made: &Suggestion) -> String {
        let place = self.place();
        let setup = made.setup.as_ref().map_or("", |setup| setup.as_str());
        let what = match made.work {
            Work::Shoot if self.all_planned => format!("Shoot `{setup}`, as planned, {place}"),
            Work::Shoot => format!("Shoot `{setup}`, as planned and beyond, {place}"),
            Work::Extend => format!("Shoot `{setup}` {place} too"),
            Work::Add if made.sung => format!("Plan one more setup, somebody singing, {place}"),
            Work::Add => format!("Plan one more setup {place}"),
        };
        let bars: Vec<String> = made.bars.iter().map(|[a, b]| span(*a, *b)).collect();
        let noun = match made.bars.as_slice() {
            [[first, last]] if first == last => "bar",
            _ => "bars",
        };
        let through = if self.plays_through() {
            " in one go"
        } else {
            ""
        };
        format!(
            "{what} ({noun} {}{through}): {} min, fills {}.",
            bars.join(", "),
            whole(made.minutes),
            self.filled()
        )
    }

    /// Whether it is played in one go through sections in which it fills nothing.
    fn plays_through(&self) -> bool {
        let section = |at: usize| &self.covered.bars[at].section;
        let filled = |at: usize| self.fills.iter().any(|bar| section(*bar) == section(at));
        self.chosen.runs.len() == 1 && !self.chosen.bars().all(filled)
    }

    /// `over A1 and part of B2`.
    fn place(&self) -> String {
        if self.chosen.bars().count() == self.covered.bars.len() {
            return "over the whole song".into();
        }
        let sections = self.sections().into_iter();
        let mut said: Vec<String> = sections
            .map(|(name, all)| if all { name } else { format!("part of {name}") })
            .collect();
        let last = said.pop();
        match (said.len(), last) {
            // A song without sections.
            (_, None) => "over part of the song".into(),
            (0, Some(last)) => format!("over {last}"),
            (_, Some(last)) => format!("over {} and {last}", said.join(", ")),
        }
    }

    /// `12 bars that have one setup`, or `12 bars: 4 have nothing to cut to, 8 have one setup`.
    fn filled(&self) -> String {
        let shot = if self.as_shot { " shot" } else { "" };
        let have = |bars: usize, options: u32| {
            let have = if bars == 1 { "has" } else { "have" };
            match options {
                0 => format!("{have} nothing to cut to"),
                1 => format!("{have} one setup{shot}"),
                n => format!("{have} {n} setups{shot}"),
            }
        };
        let mut levels = self.had.clone();
        levels.sort_unstable();
        levels.dedup();
        let bars = counted(self.had.len(), "bar");
        if let [only] = levels.as_slice() {
            return format!("{bars} that {}", have(self.had.len(), *only));
        }
        let each: Vec<String> = levels
            .iter()
            .map(|level| {
                let count = self.had.iter().filter(|one| *one == level).count();
                format!("{count} {}", have(count, *level))
            })
            .collect();
        format!("{bars}: {}", each.join(", "))
    }
}
