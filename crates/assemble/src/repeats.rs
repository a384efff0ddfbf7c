//! No piece of a take twice: the exact search made to respect it, and proven.
//!
//! Showing a piece once is a rule over the whole cut, which the dynamic programme can't see. Two old
//! means bring it in. Prices: every quarter second of a b-roll take costs what makes it be shown about
//! once (Lagrangian relaxation by subgradient steps; M. L. Fisher, "The Lagrangian Relaxation Method for
//! Solving Integer Programming Problems", Management Science 27, 1981); the priced optimum plus all
//! prices can't be exceeded by any cut. Branching: where two shots still show the same point of a take,
//! that point is shown either not before the later shot or not from it on (A. H. Land, A. G. Doig, "An
//! Automatic Method of Solving Discrete Programming Problems", Econometrica 28, 1960); both cases are
//! searched, best bound first, until none can better the best cut in hand.

use crate::exchange;
use crate::objective::{Objective, Seg, TOUCH_S, repeats};
use crate::search::{Ban, Kept, Limits, Search, Way};

/// How many numbers all searches together go through before the best cut so far is given with what it
/// could still be bettered by: some twenty-five searches of a song of four minutes with sixty takes, some
/// 0.4 s of processor time. Four times as much changed the worth of five such cuts by at most 0.3 %, and
/// not always for the better.
pub const WORK: usize = 200_000_000;
/// Searches done at most, however small.
const MOST_SEARCHES: usize = 4000;
/// Subgradient steps at the root, and at every branch.
const ROOT_STEPS: usize = 30;
const BRANCH_STEPS: usize = 4;
/// Searches to settle what is repeated at the root.
const SETTLE_STEPS: usize = 10;
/// Searches to better the cut in hand after that.
const POLISH_STEPS: usize = 6;
/// What two cuts may differ by and count as equally good.
const EQUAL: f64 = 1e-7;

/// The best cut found, and what is known of better ones.
#[derive(Clone, Debug)]
pub struct Found {
    /// The shots.
    pub segs: Vec<Seg>,
    /// Their worth.
    pub score: f64,
    /// No cut is worth more.
    pub bound: f64,
    /// Whether `score` is the most there can be.
    pub proven: bool,
}

struct Branch {
    bound: f64,
    bans: Vec<Ban>,
    prices: Vec<Vec<f64>>,
}

/// The best cut of `search`'s objective without repetition. `None` when stopped before a first one.
pub fn best(search: &Search, work: usize, keep_going: &dyn Fn() -> bool) -> Option<Found> {
    let mut hunt = Hunt {
        search,
        keep_going,
        left: (work / search.size().max(1)).clamp(4, MOST_SEARCHES),
        best: None,
    };
    let mut open = vec![Branch {
        bound: f64::INFINITY,
        bans: Vec::new(),
        prices: search.no_prices(),
    }];
    let mut root = true;
    while let Some(index) = widest(&open) {
        if open[index].bound <= hunt.in_hand() + EQUAL {
            open.clear();
            break;
        }
        if !hunt.may_go_on() {
            break;
        }
        let branch = open.swap_remove(index);
        let children = hunt.look_into(branch, root);
        root = false;
        for child in children {
            if child.bound > hunt.in_hand() + EQUAL {
                open.push(child);
            }
        }
    }
    let (score, segs) = hunt.best?;
    let bound = open.iter().map(|b| b.bound).fold(score, f64::max);
    Some(Found {
        segs,
        score,
        bound,
        proven: bound <= score + EQUAL,
    })
}

fn widest(open: &[Branch]) -> Option<usize> {
    (0..open.len()).max_by(|a, b| open[*a].bound.total_cmp(&open[*b].bound))
}

struct Hunt<'h, 's, 'a> {
    search: &'h Search<'s, 'a>,
    keep_going: &'h dyn Fn() -> bool,
    left: usize,
    best: Option<(f64, Vec<Seg>)>,
}

impl Hunt<'_, '_, '_> {
    fn in_hand(&self) -> f64 {
        self.best.as_ref().map_or(f64::NEG_INFINITY, |best| best.0)
    }

    fn may_go_on(&self) -> bool {
        self.left > 0 && (self.keep_going)()
    }

    fn objective(&self) -> &Objective<'_> {
        self.search.objective()
    }

    fn search(&mut self, limits: &Limits) -> Way {
        self.left = self.left.saturating_sub(1);
        self.search.best(limits)
    }

    /// Takes `segs` for the best so far when they are.
    fn offer(&mut self, segs: &[Seg]) {
        let score: f64 = self.objective().terms(segs).iter().map(|t| t.total()).sum();
        if score > self.in_hand() {
            self.best = Some((score, segs.to_vec()));
        }
    }

    /// Bounds a branch by prices and splits it.
    fn look_into(&mut self, branch: Branch, root: bool) -> Vec<Branch> {
        let (branch, mut split_at) = self.priced(branch, root);
        if root && branch.bound > self.in_hand() + EQUAL && self.may_go_on() {
            self.settle(branch.prices.clone(), SETTLE_STEPS);
            self.polish(POLISH_STEPS);
        }
        if branch.bound <= self.in_hand() + EQUAL {
            return Vec::new();
        }
        if split_at.is_none() && self.left > 0 {
            // The prices are right but not tight; without any, a way that repeats nothing is the best.
            let free = Limits {
                prices: self.search.no_prices(),
                bans: branch.bans.clone(),
                kept: Vec::new(),
            };
            let way = self.search(&free);
            split_at = clash(self.objective(), &way.segs);
            if split_at.is_none() {
                self.offer(&way.segs);
                return Vec::new();
            }
        }
        let Some((take, at_s, from)) = split_at else {
            // Out of work: the branch stays open as it is.
            return vec![branch];
        };
        let end = self.objective().grid.end();
        [(0, from), (from, end)]
            .into_iter()
            .map(|(from, to)| {
                let mut bans = branch.bans.clone();
                bans.push(Ban {
                    take,
                    at_s,
                    from,
                    to,
                });
                Branch {
                    bound: branch.bound,
                    bans,
                    prices: branch.prices.clone(),
                }
            })
            .collect()
    }

    /// `branch` with its bound lowered by prices, and where its best way repeats itself.
    fn priced(&mut self, branch: Branch, root: bool) -> (Branch, Option<(usize, f64, usize)>) {
        let mut limits = Limits {
            prices: branch.prices,
            bans: branch.bans,
            kept: Vec::new(),
        };
        let mut bound = branch.bound;
        let mut prices = limits.prices.clone();
        let mut split_at = None;
        let mut scale = 1.0;
        let mut since = 0;
        // What is left after the prices must do to settle and to polish.
        let steps = if root {
            ROOT_STEPS.min(self.left * 3 / 5).max(1)
        } else {
            BRANCH_STEPS
        };
        for step in 0..steps {
            let way = self.search(&limits);
            let owed: f64 = limits.prices.iter().flatten().sum();
            let here = way.value + owed;
            let clash = clash(self.objective(), &way.segs);
            if here < bound || step == 0 {
                since = 0;
                if here <= bound {
                    bound = here;
                    prices.clone_from(&limits.prices);
                    split_at = clash;
                }
            } else {
                since += 1;
                if since >= 3 {
                    scale *= 0.6;
                    since = 0;
                }
            }
            match clash {
                None => self.offer(&way.segs),
                Some(_) => {
                    let mended = self.mended(&way.segs);
                    self.offer(&mended);
                }
            }
            if bound <= self.in_hand() + EQUAL || !self.may_go_on() {
                break;
            }
            if !self.step_prices(&mut limits.prices, &way.segs, here, scale) {
                break;
            }
        }
        let branch = Branch {
            bound,
            bans: limits.bans,
            prices,
        };
        (branch, split_at)
    }

    /// One subgradient step: points shown more than once become dearer, points not shown cheaper.
    /// Whether there was anything to change.
    fn step_prices(&self, prices: &mut [Vec<f64>], segs: &[Seg], here: f64, scale: f64) -> bool {
        let objective = self.objective();
        let mut shown: Vec<Vec<f64>> = prices.iter().map(|p| vec![-1.0; p.len()]).collect();
        for seg in segs.iter().filter(|seg| !locked(objective, seg)) {
            if let Some((take, from, to)) = objective.piece(seg) {
                for point in self.search.points(take, from, to) {
                    shown[take][point] += 1.0;
                }
            }
        }
        let mut norm = 0.0;
        for (prices, shown) in prices.iter().zip(&mut shown) {
            for (price, over) in prices.iter().zip(shown.iter_mut()) {
                if *over < 0.0 && *price <= 0.0 {
                    *over = 0.0;
                }
                norm += *over * *over;
            }
        }
        if norm == 0.0 {
            return false;
        }
        // Polyak's step towards the cut in hand, or towards a little less than here.
        let goal = if self.best.is_some() {
            self.in_hand()
        } else {
            here - 0.02 * here.abs() - 1.0
        };
        let step = scale * (here - goal).max(1e-6) / norm;
        for (prices, shown) in prices.iter_mut().zip(&shown) {
            for (price, over) in prices.iter_mut().zip(shown) {
                *price = (*price + step * over).max(0.0);
            }
        }
        true
    }

    /// `segs` mended until nothing repeats: free shots get the best start in their take that is still
    /// to be had, and where there is none, the best other shot over the same stretch.
    fn mended(&self, segs: &[Seg]) -> Vec<Seg> {
        let objective = self.objective();
        let mut mended = segs.to_vec();
        let mut used: Vec<(usize, f64, f64)> = segs
            .iter()
            .filter(|seg| !self.search.movable(seg))
            .filter_map(|seg| objective.piece(seg))
            .collect();
        // Longest first: they are the hardest to place. Those that find no place are left black until
        // all that do have theirs.
        let mut order: Vec<usize> = (0..segs.len())
            .filter(|n| self.search.movable(&segs[*n]))
            .collect();
        order.sort_by_key(|n| std::cmp::Reverse(segs[*n].to - segs[*n].from));
        let mut without = Vec::new();
        for n in order {
            let placed = self
                .search
                .starts_by_worth(&segs[n])
                .into_iter()
                .find_map(|start| {
                    let seg = Seg { start, ..segs[n] };
                    let piece = objective.piece(&seg)?;
                    used.iter()
                        .all(|other| !repeats(&piece, other))
                        .then_some((seg, piece))
                });
            match placed {
                Some((seg, piece)) => {
                    mended[n] = seg;
                    used.push(piece);
                }
                None => {
                    mended[n] = black(segs[n].from, segs[n].to);
                    without.push(n);
                }
            }
        }
        // Synced shots of a take with two runs can repeat each other as well.
        while let Some((_, _, from)) = clash(objective, &mended) {
            let later = mended
                .iter()
                .position(|seg| seg.from == from && !locked(objective, seg));
            let Some(n) = later else { break };
            mended[n] = black(mended[n].from, mended[n].to);
            without.push(n);
        }
        for n in without {
            if let Some((seg, _)) = exchange::best(objective, &mended, n, &|_| true) {
                mended[n] = seg;
            }
        }
        joined(&mended)
    }

    /// Settles what is repeated, all at once: of the shots that repeat each other the longest keep
    /// their pieces, the rest is searched again, until nothing repeats.
    fn settle(&mut self, prices: Vec<Vec<f64>>, most: usize) {
        let mut limits = Limits {
            prices,
            ..Limits::default()
        };
        for _ in 0..most {
            let way = self.search(&limits);
            let Some(_) = clash(self.objective(), &way.segs) else {
                self.offer(&way.segs);
                return;
            };
            let mended = self.mended(&way.segs);
            self.offer(&mended);
            self.keep(&mut limits, &way.segs);
            if !self.may_go_on() {
                return;
            }
        }
    }

    /// Betters the cut in hand: every piece of its free shots is kept for them, and all is searched again
    /// with what is left over, as long as that helps.
    fn polish(&mut self, most: usize) {
        for _ in 0..most {
            let Some((before, segs)) = self.best.clone() else {
                return;
            };
            let objective = self.objective();
            let kept = segs
                .iter()
                .filter(|seg| self.search.movable(seg))
                .filter_map(|seg| {
                    let (take, from_s, to_s) = objective.piece(seg)?;
                    Some(Kept {
                        take,
                        from_s,
                        to_s,
                        from: seg.from,
                        to: seg.to,
                    })
                })
                .collect();
            let limits = Limits {
                prices: self.search.no_prices(),
                bans: Vec::new(),
                kept,
            };
            let way = self.search(&limits);
            let mended = self.mended(&way.segs);
            self.offer(&mended);
            if self.in_hand() <= before + EQUAL || !self.may_go_on() {
                return;
            }
        }
    }

    /// Of the shots that repeat each other keeps the pieces of the longest.
    fn keep(&self, limits: &mut Limits, segs: &[Seg]) {
        let objective = self.objective();
        let mut pieces: Vec<(&Seg, (usize, f64, f64))> = segs
            .iter()
            .filter(|seg| !locked(objective, seg))
            .filter_map(|seg| Some((seg, objective.piece(seg)?)))
            .collect();
        pieces.sort_by_key(|(seg, _)| std::cmp::Reverse(seg.to - seg.from));
        let mut placed: Vec<(usize, f64, f64)> = Vec::new();
        for (seg, piece) in &pieces {
            if placed.iter().any(|other| repeats(piece, other)) {
                continue;
            }
            let contested = pieces
                .iter()
                .any(|(other, theirs)| other.from != seg.from && repeats(piece, theirs));
            if contested {
                limits.kept.push(Kept {
                    take: piece.0,
                    from_s: piece.1,
                    to_s: piece.2,
                    from: seg.from,
                    to: seg.to,
                });
            }
            placed.push(*piece);
        }
    }
}

/// Stretches of black that touch, made one.
fn joined(segs: &[Seg]) -> Vec<Seg> {
    let mut joined: Vec<Seg> = Vec::new();
    for seg in segs {
        match joined.last_mut() {
            Some(last) if last.source.is_none() && seg.source.is_none() => last.to = seg.to,
            _ => joined.push(*seg),
        }
    }
    joined
}

fn black(from: usize, to: usize) -> Seg {
    Seg {
        from,
        to,
        source: None,
        start: 0.0,
    }
}

fn locked(objective: &Objective, seg: &Seg) -> bool {
    seg.source.is_some_and(|source| objective.locked(source))
}

/// Where a take is shown twice over the longest: the take, the middle of what is repeated, and the
/// point the later of the two shots starts at. Locks may repeat each other.
pub fn clash(objective: &Objective, segs: &[Seg]) -> Option<(usize, f64, usize)> {
    let mut pieces: Vec<(usize, f64, f64, usize, bool)> = segs
        .iter()
        .filter_map(|seg| {
            let (take, from, to) = objective.piece(seg)?;
            Some((take, from, to, seg.from, locked(objective, seg)))
        })
        .collect();
    pieces.sort_by(|a, b| a.0.cmp(&b.0).then(a.1.total_cmp(&b.1)));
    let mut worst: Option<(f64, (usize, f64, usize))> = None;
    for (n, a) in pieces.iter().enumerate() {
        for b in &pieces[n + 1..] {
            if b.0 != a.0 || b.1 >= a.2 {
                break;
            }
            let shared = a.2.min(b.2) - b.1;
            if shared > TOUCH_S && !(a.4 && b.4) && worst.is_none_or(|(most, _)| shared > most) {
                worst = Some((shared, (a.0, b.1 + shared / 2.0, a.3.max(b.3))));
            }
        }
    }
    worst.map(|(_, found)| found)
}
