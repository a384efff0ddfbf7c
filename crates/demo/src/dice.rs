//! Seeded chance: the only randomness in the demo. SplitMix64 (Steele, Lea and Flood 2014).

/// A stream of numbers that follows from its seed alone.
#[derive(Clone, Debug)]
pub struct Dice(u64);

impl Dice {
    /// The stream of `seed` for the use called `what`, so that one use does not shift another.
    pub fn new(seed: u64, what: &str) -> Self {
        // FNV-1a over the name.
        let name = what.bytes().fold(0xcbf2_9ce4_8422_2325_u64, |hash, byte| {
            (hash ^ u64::from(byte)).wrapping_mul(0x0000_0100_0000_01b3)
        });
        let mut dice = Self(seed ^ name);
        dice.bits();
        dice
    }

    /// 64 even bits.
    pub fn bits(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// Even in 0..1.
    pub fn unit(&mut self) -> f32 {
        (self.bits() >> 40) as f32 / (1u64 << 24) as f32
    }

    /// Even in -1..1: white noise.
    pub fn noise(&mut self) -> f32 {
        self.unit() * 2.0 - 1.0
    }

    /// Even in `low..high`.
    pub fn between(&mut self, low: f32, high: f32) -> f32 {
        low + (high - low) * self.unit()
    }

    /// About normal with mean 0 and deviation 1, never beyond ±3.5 (sum of twelve, cut off).
    pub fn normal(&mut self) -> f32 {
        let sum: f32 = (0..12).map(|_| self.unit()).sum();
        (sum - 6.0).clamp(-3.5, 3.5)
    }
}
