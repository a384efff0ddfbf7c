//! The pieces of the song with most gain per minute.
//!
//! Maximises a ratio, gain ÷ minutes, by Dinkelbach (1967): with a price *p* on the minute the choice of most
//! *gain − p × minutes* is found; its own ratio is the next price, until no choice comes out above zero.
//! For one price the best choice follows from left to right, as a piece costs its minutes, and a reset more
//! when the piece before it is not chosen.

/// A part of the song that is chosen as a whole.
#[derive(Clone, Copy, Debug)]
pub struct Piece {
    /// Its first bar, as an index.
    pub from: usize,
    /// Its last.
    pub to: usize,
    /// What it gains, 0 or more.
    pub gain: f64,
    /// How long it is played, minutes, above 0.
    pub minutes: f64,
}

/// Pieces chosen.
#[derive(Clone, Debug, PartialEq)]
pub struct Chosen {
    /// First and last bar of each stretch, as indices, in order; no two touch.
    pub runs: Vec<[usize; 2]>,
    /// What they gain.
    pub gain: f64,
    /// What they cost: set-up, play, and a reset for each stretch.
    pub minutes: f64,
}

impl Chosen {
    /// Gain per minute.
    pub fn rate(&self) -> f64 {
        self.gain / self.minutes
    }

    /// The bars, as indices.
    pub fn bars(&self) -> impl Iterator<Item = usize> + '_ {
        self.runs.iter().flat_map(|[from, to]| *from..=*to)
    }
}

/// The choice among `pieces`, which tile the song in order, with most gain per minute; `None` when nothing
/// gains. `set_up` is paid once, `reset` for every stretch, in minutes, both 0 or more.
pub fn best(pieces: &[Piece], set_up: f64, reset: f64) -> Option<Chosen> {
    let gains = |piece: &Piece| piece.gain > 0.0;
    let first = pieces.iter().position(gains)?;
    let last = pieces.iter().rposition(gains)?;
    let hull: Vec<bool> = (0..pieces.len())
        .map(|n| (first..=last).contains(&n))
        .collect();
    let mut best = sum(pieces, &hull, set_up, reset);
    loop {
        let next = sum(pieces, &at_price(pieces, best.rate(), reset), set_up, reset);
        // Each round betters the rate or is the last; the margin keeps rounding from going round.
        if next.gain <= 0.0 || next.rate() <= best.rate() * (1.0 + 1e-12) {
            return Some(best);
        }
        best = next;
    }
}

/// Which pieces to take so that gain − `price` × minutes is most.
fn at_price(pieces: &[Piece], price: f64, reset: f64) -> Vec<bool> {
    // Worth so far when the last piece is left out, and when it is taken; and for each piece, whether the
    // one before it was taken then.
    let (mut out, mut within) = (0.0_f64, f64::NEG_INFINITY);
    let mut before = Vec::with_capacity(pieces.len());
    for piece in pieces {
        let begun = out - price * reset;
        before.push((within > out, within >= begun));
        let taken = within.max(begun) + piece.gain - price * piece.minutes;
        (out, within) = (out.max(within), taken);
    }
    let mut taken = within > out;
    let mut all: Vec<bool> = before
        .iter()
        .rev()
        .map(|(left_out, joined)| {
            let this = taken;
            taken = if this { *joined } else { *left_out };
            this
        })
        .collect();
    all.reverse();
    all
}

/// The pieces taken, as stretches, with what they gain and cost.
fn sum(pieces: &[Piece], taken: &[bool], set_up: f64, reset: f64) -> Chosen {
    let mut chosen = Chosen {
        runs: Vec::new(),
        gain: 0.0,
        minutes: set_up,
    };
    for (piece, _) in pieces.iter().zip(taken).filter(|(_, taken)| **taken) {
        match chosen.runs.last_mut() {
            Some([_, to]) if *to + 1 == piece.from => *to = piece.to,
            _ => {
                chosen.runs.push([piece.from, piece.to]);
                chosen.minutes += reset;
            }
        }
        chosen.gain += piece.gain;
        chosen.minutes += piece.minutes;
    }
    chosen
}
