//! Files that are nearly right: a seed with a few bytes changed, taken out, doubled, or mixed with another.

/// A small generator of numbers (SplitMix64), so that a run can be repeated from its first number.
pub struct Dice(pub u64);

impl Dice {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// A number below `n`; 0 where there is none.
    pub fn below(&mut self, n: usize) -> usize {
        if n == 0 {
            0
        } else {
            (self.next() % n as u64) as usize
        }
    }
}

/// Numbers at which readers go wrong.
const EDGES: [u64; 12] = [
    0,
    1,
    0x7f,
    0x80,
    0xff,
    0x7fff,
    0xffff,
    0x7fff_ffff,
    0xffff_ffff,
    0x7fff_ffff_ffff_ffff,
    0x8000_0000_0000_0000,
    u64::MAX,
];

/// Words at which readers of text go wrong.
const WORDS: [&str; 14] = [
    "-9223372036854775808",
    "1e308",
    "-1e308",
    "nan",
    "1e-400",
    "9007199254740993",
    "\u{202e}",
    "[[[[[[[[[[[[[[[[",
    "{\"a\":{\"a\":{\"a\":{\"a\":",
    "\0",
    "25:61",
    "2026-02-30",
    "0:00.0000000000000000001",
    "--b\r\n",
];

/// The most bytes a changed file grows to.
const LARGEST: usize = 1 << 20;

/// `seed` with one to eight changes; `other` may lend a piece.
pub fn changed(seed: &[u8], other: &[u8], dice: &mut Dice) -> Vec<u8> {
    let mut out = seed.to_vec();
    for _ in 0..1 + dice.below(8) {
        let at = dice.below(out.len() + 1);
        let most = if dice.below(4) == 0 { 4096 } else { 16 };
        let long = dice.below(most).min(out.len() - at);
        match dice.below(9) {
            0 if at < out.len() => out[at] ^= 1 << dice.below(8),
            1 if at < out.len() => out[at] = dice.below(256) as u8,
            2 => {
                // An edge as a whole number of one to eight bytes, either way round.
                let edge = EDGES[dice.below(EDGES.len())];
                let width = 1 << dice.below(4);
                let bytes = match dice.below(2) {
                    0 => edge.to_le_bytes()[..width].to_vec(),
                    _ => edge.to_be_bytes()[8 - width..].to_vec(),
                };
                let end = (at + width).min(out.len());
                out.splice(at..end, bytes);
            }
            3 => drop(out.drain(at..at + long)),
            4 => {
                let piece = out[at..at + long].to_vec();
                for _ in 0..1 + dice.below(8) {
                    out.splice(at..at, piece.iter().copied());
                }
            }
            5 => {
                let from = dice.below(other.len() + 1);
                let end = from + dice.below(64).min(other.len() - from);
                out.splice(at..at + long, other[from..end].iter().copied());
            }
            6 => out.truncate(at),
            7 => {
                let word = WORDS[dice.below(WORDS.len())];
                out.splice(at..at + long, word.bytes());
            }
            _ => {
                let random: Vec<u8> = (0..long).map(|_| dice.below(256) as u8).collect();
                out.splice(at..at + long, random);
            }
        }
    }
    out.truncate(LARGEST);
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_same_number_gives_the_same_files_and_none_is_too_large() {
        let files = |seed| {
            let mut dice = Dice(seed);
            (0..200)
                .map(|_| changed(&[7; 5000], b"another", &mut dice))
                .collect::<Vec<_>>()
        };
        assert_eq!(files(1), files(1));
        assert_ne!(files(1), files(2));
        assert!(files(3).iter().all(|file| file.len() <= LARGEST));
        assert!(changed(b"", b"", &mut Dice(5)).len() <= LARGEST);
    }
}
