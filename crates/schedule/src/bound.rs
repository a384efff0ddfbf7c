//! What a day can at most be worth, where not every set can be seen.
//!
//! The rules are loosened to two: the minutes of all chosen setups fit between now and the latest wrap, and
//! a bar has at most as many options as chosen setups hold it. Both are priced (Lagrange): with a price per
//! minute and one per option of a bar the problem falls into single setups and single bars, and every
//! choice of prices gives a bound. Prices are bettered along the subgradient (Held, Wolfe and Crowder 1974).

use crate::problem::Problem;
use crate::search::whole;
use crate::worth::{Set, Worth, each};

/// How often prices are bettered.
const STEPS: usize = 400;

/// No day of `problem` is worth more. `known` is what one is worth, for the size of the steps.
pub(crate) fn bound(problem: &Problem, known: u64) -> u64 {
    let worth = &problem.worth;
    let possible = problem.done
        | each(problem.open())
            .filter(|at| {
                let ways = [&problem.rigged[*at], &problem.relit[*at]];
                ways.iter().any(|doing| !doing.starts.is_empty())
            })
            .fold(0, |set, at| set | 1 << at);
    // Minutes are counted in usual setups, so that both kinds of price are of one size.
    let open: Vec<f64> = each(possible & problem.open())
        .map(|at| f64::from(problem.least[at]))
        .collect();
    let usual = (open.iter().sum::<f64>() / open.len().max(1) as f64).max(1.0);
    let minutes = f64::from(problem.latest_wrap.saturating_sub(problem.from)) / usual;
    let lasts = |at: usize| match problem.done >> at & 1 {
        1 => 0.0,
        _ => f64::from(problem.least[at]) / usual,
    };
    let forced = problem.done | problem.musts;
    let mut prices = Prices {
        per_minute: 0.0,
        // A first price: what the next option of the bars adds when half of their setups are there.
        per_option: worth
            .groups
            .iter()
            .map(|(set, value)| {
                let half = set.count_ones() as usize / 2;
                *value as f64 * (worth.options[half + 1] - worth.options[half]) as f64
            })
            .collect(),
    };
    let mut least = worth.of(possible) as f64;
    let mut eager = 1.0;
    let mut since = 0;
    for _ in 0..STEPS {
        let mut dual = prices.per_minute * minutes;
        let (used, held) = prices.choose(worth, possible, forced, &lasts, &mut dual);
        let taken = prices.take(worth, possible, &mut dual);
        if dual < least - 1e-9 {
            least = dual;
            since = 0;
        } else {
            since += 1;
            if since == 15 {
                eager /= 2.0;
                since = 0;
            }
        }
        // The dual's slope in each price; prices go against it.
        let slope_minutes = minutes - used;
        let slopes: Vec<f64> = held
            .iter()
            .zip(&taken)
            .map(|(held, taken)| held - taken)
            .collect();
        let square: f64 = slope_minutes * slope_minutes + slopes.iter().map(|s| s * s).sum::<f64>();
        if square == 0.0 {
            break;
        }
        let step = eager * (dual - known as f64).max(0.0) / square;
        prices.per_minute = (prices.per_minute - step * slope_minutes).max(0.0);
        for (price, slope) in prices.per_option.iter_mut().zip(&slopes) {
            *price = (*price - step * slope).max(0.0);
        }
    }
    whole(least)
}

/// The prices.
struct Prices {
    per_minute: f64,
    /// Of an option, by group of bars.
    per_option: Vec<f64>,
}

impl Prices {
    /// Chooses the setups that are worth their minutes at these prices, and those that are `forced`; adds their gain
    /// to `dual`. The minutes used, and how many of the chosen hold each group of bars.
    fn choose(
        &self,
        worth: &Worth,
        possible: Set,
        forced: Set,
        lasts: &dyn Fn(usize) -> f64,
        dual: &mut f64,
    ) -> (f64, Vec<f64>) {
        let mut used = 0.0;
        let mut held: Vec<f64> = vec![0.0; worth.groups.len()];
        for at in each(possible) {
            let of = || {
                let groups = worth.groups.iter().enumerate();
                groups.filter(move |(_, (set, _))| set >> at & 1 == 1)
            };
            let options = of().map(|(group, _)| self.per_option[group]).sum::<f64>();
            let gain = options - self.per_minute * lasts(at);
            if gain > 0.0 || forced >> at & 1 == 1 {
                *dual += gain;
                used += lasts(at);
                of().for_each(|(group, _)| held[group] += 1.0);
            }
        }
        (used, held)
    }

    /// Takes as many options of each group of bars as are worth their price; adds the gain to `dual`.
    fn take(&self, worth: &Worth, possible: Set, dual: &mut f64) -> Vec<f64> {
        let groups = worth.groups.iter().zip(&self.per_option);
        let best = |((set, value), price): (&(Set, u64), &f64)| {
            let most = (set & possible).count_ones() as usize;
            let gain = |k: usize| *value as f64 * worth.options[k] as f64 - price * k as f64;
            let best = (0..=most)
                .max_by(|a, b| gain(*a).total_cmp(&gain(*b)))
                .unwrap_or(0);
            *dual += gain(best);
            best as f64
        };
        groups.map(best).collect()
    }
}
