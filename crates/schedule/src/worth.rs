//! What a set of setups is worth: bars that can be cut to, a second option adding less than the first.

/// A set of setups, one bit each.
pub(crate) type Set = u64;

/// The setups of a set, lowest first.
pub(crate) fn each(mut set: Set) -> impl Iterator<Item = usize> {
    std::iter::from_fn(move || {
        let next = (set != 0).then(|| set.trailing_zeros() as usize);
        set &= set.wrapping_sub(1);
        next
    })
}

/// The value of sets. Bars that the same setups hold are one group: what is summed is then no longer than
/// the ways in which bars differ.
#[derive(Clone, Debug)]
pub(crate) struct Worth {
    /// Who holds these bars, and their values' sum.
    pub groups: Vec<(Set, u64)>,
    /// What none, one, two … options of a bar are worth.
    pub options: Vec<u64>,
    /// The least concave function over `options`: what the bounds reckon with.
    pub hull: Vec<f64>,
}

impl Worth {
    /// From each bar's value and holders, and what each further option adds.
    pub fn new(bars: impl IntoIterator<Item = (Set, u64)>, option_values: &[u64]) -> Self {
        let mut groups: Vec<(Set, u64)> = Vec::new();
        for (held_by, value) in bars {
            if held_by == 0 || value == 0 {
                continue;
            }
            match groups.iter_mut().find(|(set, _)| *set == held_by) {
                Some((_, sum)) => *sum += value,
                None => groups.push((held_by, value)),
            }
        }
        let most = groups.iter().map(|(set, _)| set.count_ones()).max();
        let mut options = vec![0];
        let mut sum = 0;
        for nth in 0..most.unwrap_or(0) as usize {
            sum += option_values.get(nth).copied().unwrap_or(0);
            options.push(sum);
        }
        let hull = hull(&options);
        Self {
            groups,
            options,
            hull,
        }
    }

    /// What `set` is worth.
    pub fn of(&self, set: Set) -> u64 {
        self.groups
            .iter()
            .map(|(held_by, value)| value * self.options[(set & held_by).count_ones() as usize])
            .sum()
    }

    /// At most what each setup of `more` adds to `set`, by the concave hull, into `gains` by setup.
    pub fn gains(&self, set: Set, more: Set, gains: &mut [f64; 64]) {
        for one in each(more) {
            gains[one] = 0.0;
        }
        for (held_by, value) in &self.groups {
            let k = (set & held_by).count_ones() as usize;
            if k + 1 >= self.hull.len() {
                continue;
            }
            let adds = *value as f64 * (self.hull[k + 1] - self.hull[k]);
            for one in each(more & held_by) {
                gains[one] += adds;
            }
        }
    }

    /// What `set` is worth by the concave hull: never less than [`Worth::of`].
    pub fn hull_of(&self, set: Set) -> f64 {
        let groups = self.groups.iter();
        groups
            .map(|(held_by, value)| {
                *value as f64 * self.hull[(set & held_by).count_ones() as usize]
            })
            .sum()
    }
}

/// The least concave function not below `values`, at the same points.
fn hull(values: &[u64]) -> Vec<f64> {
    let mut corners: Vec<usize> = Vec::new();
    for at in 0..values.len() {
        while let [.., before, last] = corners[..] {
            let rise = |from: usize, to: usize| {
                (values[to] as f64 - values[from] as f64) / (to - from) as f64
            };
            if rise(before, last) <= rise(last, at) {
                corners.pop();
            } else {
                break;
            }
        }
        corners.push(at);
    }
    let mut out = vec![0.0; values.len()];
    for pair in corners.windows(2) {
        let (from, to) = (pair[0], pair[1]);
        for (nth, value) in out[from..=to].iter_mut().enumerate() {
            let share = nth as f64 / (to - from) as f64;
            *value = values[from] as f64 * (1.0 - share) + values[to] as f64 * share;
        }
    }
    if let [only] = corners[..] {
        out[only] = values[only] as f64;
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_second_option_adds_its_own_share() {
        // Bars: one held by setup 0, one by 0 and 1, worth 5 and 3.
        let worth = Worth::new([(0b01, 5), (0b11, 3)], &[10, 4]);
        assert_eq!(worth.of(0), 0);
        assert_eq!(worth.of(0b01), 80);
        assert_eq!(worth.of(0b10), 30);
        assert_eq!(worth.of(0b11), 92);
    }

    #[test]
    fn the_hull_lies_above_and_is_concave() {
        assert_eq!(hull(&[0, 10, 14, 16]), [0.0, 10.0, 14.0, 16.0]);
        assert_eq!(hull(&[0, 1, 10, 11]), [0.0, 5.0, 10.0, 11.0]);
        assert_eq!(hull(&[0]), [0.0]);
    }

    #[test]
    fn options_beyond_the_listed_add_nothing() {
        let worth = Worth::new([(0b111, 1)], &[2]);
        assert_eq!(worth.of(0b111), 2);
    }
}
