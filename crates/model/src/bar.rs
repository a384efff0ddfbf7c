//! When a bar of the song counts as covered, and what that is worth.

use crate::ids::SetupId;
use crate::song::Bar;
use crate::time::Stretch;

/// One bar of the song as a day is planned by it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct BarWorth {
    /// Its number.
    pub number: u32,
    /// What having something to cut to in it is worth, against the other bars.
    pub value: u32,
    /// The setups planned over it.
    pub setups: Vec<SetupId>,
}

impl Bar {
    /// Whether `stretches`, of which none overlap, hold at least half of it: then it counts as theirs.
    pub fn is_half_held(&self, stretches: &[Stretch]) -> bool {
        let both = stretches.iter().filter_map(|one| one.overlap(self.at));
        let held: i64 = both.map(|both| both.length().ticks()).sum();
        held >= self.at.length().ticks() - held
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn half_of_a_bar_is_enough() {
        let at = |from, to| Stretch::between_seconds(from, to).unwrap();
        let bar = Bar {
            number: 1,
            at: at(2.0, 4.0),
            energy: 0.5,
            voice: 0.5,
        };
        assert!(bar.is_half_held(&[at(1.0, 3.0)]));
        assert!(bar.is_half_held(&[at(0.0, 2.5), at(3.5, 9.0)]));
        assert!(!bar.is_half_held(&[at(0.0, 2.5), at(3.6, 9.0)]));
        assert!(!bar.is_half_held(&[at(4.0, 9.0)]));
        assert!(!bar.is_half_held(&[]));
    }
}
