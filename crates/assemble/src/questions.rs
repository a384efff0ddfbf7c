//! Questions made from a seed, for the tests: small ones that can be tried exhaustively and larger
//! ones that can't.

use crate::answer::Question;
use model::{
    Alternative, Bar, FrameRate, Framing, Length, Lock, Picture, PictureTrack, PlaceId, PlacedTake,
    Placement, Purpose, Rating, Run, Section, Setup, SetupId, SongMap, SongTime, Stretch, TakeId,
    Weights, Wish,
};

/// Numbers from a seed: a 64-bit linear congruential generator (D. E. Knuth's constants, MMIX).
pub struct Dice(u64);

impl Dice {
    pub fn new(seed: u64) -> Self {
        let mut dice = Self(seed.wrapping_mul(0x9e37_79b9_7f4a_7c15) ^ 0x5851);
        for _ in 0..4 {
            dice.next();
        }
        dice
    }
    fn next(&mut self) -> u32 {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) as u32
    }
    /// From 0 to 1.
    pub fn unit(&mut self) -> f64 {
        f64::from(self.next()) / f64::from(1u32 << 31)
    }
    pub fn within(&mut self, from: f64, to: f64) -> f64 {
        from + (to - from) * self.unit()
    }
    pub fn below(&mut self, n: usize) -> usize {
        self.next() as usize % n
    }
    pub fn chance(&mut self, p: f64) -> bool {
        self.unit() < p
    }
}

/// All that a question borrows from.
#[derive(Clone, Debug)]
pub struct Case {
    pub map: SongMap,
    pub rate: FrameRate,
    pub setups: Vec<Setup>,
    pub wishes: Vec<Wish>,
    pub weights: Weights,
    pub locks: Vec<Lock>,
    pub takes: Vec<PlacedTake>,
}

impl Case {
    pub fn question(&self) -> Question<'_> {
        Question {
            map: &self.map,
            rate: self.rate,
            setups: &self.setups,
            wishes: &self.wishes,
            weights: &self.weights,
            locks: &self.locks,
            takes: &self.takes,
        }
    }
}

pub fn time(s: f64) -> SongTime {
    SongTime::nearest_to_seconds(s)
}

pub fn length(s: f64) -> Length {
    Length::nearest_to_seconds(s)
}

/// A song whose bars start at `bars_s` (the last number is its end), with `beats` beats a bar, or
/// none heard; energy and voice by bar; a section from each of the bars named.
pub fn song(bars_s: &[f64], beats: usize, feel: &[(f32, f32)], sections: &[usize]) -> SongMap {
    let end = bars_s.len() - 1;
    let mut beat_times = Vec::new();
    let mut downbeats = Vec::new();
    for pair in bars_s.windows(2) {
        downbeats.push(beat_times.len());
        for beat in 0..beats {
            beat_times.push(time(
                pair[0] + (pair[1] - pair[0]) * beat as f64 / beats as f64,
            ));
        }
    }
    if beats == 0 {
        downbeats.clear();
    }
    let bar_at =
        |from: usize, to: usize| Stretch::between_seconds(bars_s[from], bars_s[to]).unwrap();
    let bars = (0..end)
        .map(|n| Bar {
            number: n as u32 + 1,
            at: bar_at(n, n + 1),
            energy: feel[n % feel.len()].0,
            voice: feel[n % feel.len()].1,
        })
        .collect();
    let sections = sections
        .iter()
        .enumerate()
        .map(|(n, from)| Section {
            label: ["A", "B", "A", "C"][n % 4].into(),
            name: None,
            at: bar_at(*from, sections.get(n + 1).copied().unwrap_or(end)),
            energy: 0.5,
            voiced: 0.5,
        })
        .collect();
    SongMap {
        length: length(bars_s[end]),
        tempo_bpm: 120.0,
        beats_per_bar: beats.max(1) as u32,
        beats: beat_times,
        downbeats,
        bars,
        sections,
    }
}

pub fn setup(id: &str, purpose: Purpose, framing: Framing) -> Setup {
    Setup {
        purpose,
        framing,
        ..Setup::new(SetupId::new(id).unwrap())
    }
}

pub fn wish(section: &str) -> Wish {
    Wish::new(
        model::WishId::new(format!("wish-{section}")).unwrap(),
        section,
    )
}

pub fn picture(length_s: f64) -> Picture {
    Picture {
        width: 1920,
        height: 1080,
        rotation_deg: 0,
        pixel_aspect: (1, 1),
        rate: FrameRate::FPS_25,
        variable_rate: false,
        codec: "h264".into(),
        pixel_format: "yuv420p".into(),
        colour: Default::default(),
        start_timecode: None,
        frames: None,
        start_s: 0.0,
        length: length(length_s),
    }
}

pub fn take(id: &str, setup: Option<&str>, length_s: f64, runs: Vec<Run>) -> PlacedTake {
    PlacedTake {
        id: TakeId::new(id).unwrap(),
        setup: setup.map(|id| SetupId::new(id).unwrap()),
        rating: Rating::Unrated,
        state: 0,
        length: length(length_s),
        picture: Some(picture(length_s)),
        placement: Placement {
            runs,
            alternatives: Vec::new(),
        },
        track: None,
    }
}

/// A run heard from `take_s` for `heard_s` of take, from `song_s` on the song.
pub fn run(take_s: f64, heard_s: f64, song_s: f64, speed: f64) -> Run {
    Run {
        take_start: length(take_s),
        take_end: length(take_s + heard_s),
        song_start: time(song_s),
        speed,
        drift_ppm: 0.0,
        confidence: 1.0,
    }
}

fn track(dice: &mut Dice, length_s: f64) -> PictureTrack {
    let n = (length_s / 0.5).ceil().max(1.0) as usize;
    let mut values =
        |from: f64, to: f64| -> Vec<f32> { (0..n).map(|_| dice.within(from, to) as f32).collect() };
    PictureTrack {
        step: length(0.5),
        sharpness: values(0.0, 1.0),
        brightness: values(0.0, 1.0),
        clipped: values(0.0, 0.7),
        movement: values(0.0, 1.0),
    }
}

const RATINGS: [Rating; 5] = [
    Rating::Circled,
    Rating::Usable,
    Rating::Unrated,
    Rating::Unrated,
    Rating::NoGood,
];
const FRAMINGS: [Framing; 3] = [Framing::Wide, Framing::Medium, Framing::Close];

/// A question small enough to try every cut: at most seven points, three or four takes.
pub fn small(seed: u64) -> Case {
    let dice = &mut Dice::new(seed);
    // Without beats the bars are the points, and shots can come to be longer than a shot may be.
    let beatless = dice.chance(0.2);
    let bars = if beatless {
        3 + dice.below(3)
    } else {
        2 + dice.below(2)
    };
    let pace = if beatless {
        dice.within(2.5, 5.0)
    } else {
        dice.within(0.6, 2.4)
    };
    let mut at = 0.0;
    let mut bars_s = vec![0.0];
    for _ in 0..bars {
        at += pace * dice.within(0.9, 1.1);
        bars_s.push(at);
    }
    let beats = if beatless { 0 } else { 2 };
    let feel: Vec<(f32, f32)> = (0..bars)
        .map(|_| (dice.unit() as f32, dice.unit() as f32))
        .collect();
    let sections = if dice.chance(0.5) {
        vec![0]
    } else {
        vec![0, bars / 2]
    };
    let map = song(&bars_s, beats, &feel, &sections);
    let end = at;

    let place = |dice: &mut Dice| dice.chance(0.5).then(|| PlaceId::new("quay").unwrap());
    let mut setups: Vec<Setup> = ["one", "two"]
        .iter()
        .map(|id| setup(id, Purpose::Performance, FRAMINGS[dice.below(3)]))
        .collect();
    setups.push(setup("broll", Purpose::BRoll, FRAMINGS[dice.below(3)]));
    for setup in &mut setups {
        setup.place = place(dice);
        if dice.chance(0.3) {
            setup.sections = vec![["A", "B"][dice.below(2)].into()];
        }
        if dice.chance(0.2) {
            setup.bars = vec![[1, 1 + dice.below(2) as u32]];
        }
    }
    let states = dice.chance(0.5);
    let mut takes = Vec::new();
    for n in 0..1 + dice.below(2) {
        let speed = [1.0, 1.0, 1.25, 2.0][dice.below(4)];
        let lead = dice.within(0.0, 1.0);
        let (from, to) = if dice.chance(0.6) {
            (0.0, end)
        } else {
            let from = dice.within(0.0, end * 0.5);
            (from, dice.within(end * 0.5, end))
        };
        let mut runs = vec![run(lead, (to - from) / speed, from, speed)];
        let mut takes_s = lead + (to - from) / speed + dice.within(0.0, 1.0);
        if dice.chance(0.25) {
            // A second start of playback in the same take.
            let heard = dice.within(0.3, 1.0) * end;
            runs.push(run(takes_s + 0.5, heard / speed, 0.0, speed));
            takes_s += 0.5 + heard / speed + dice.within(0.0, 1.0);
        }
        for run in &mut runs {
            run.confidence = dice.unit();
            run.drift_ppm = dice.within(-100.0, 100.0);
        }
        let setup = [Some("one"), Some("two"), None][dice.below(3)];
        let mut take = take(&format!("t{n}"), setup, takes_s, runs);
        if dice.chance(0.2) {
            take.placement.alternatives = vec![Alternative {
                song_offset_s: 1.0,
                confidence: 0.5,
            }];
        }
        takes.push(take);
    }
    for n in 0..1 + dice.below(2) {
        let setup = [Some("broll"), Some("broll"), None][dice.below(3)];
        let seconds = dice.within(0.4, if beatless { 6.0 } else { 2.4 });
        takes.push(take(&format!("b{n}"), setup, seconds, Vec::new()));
    }
    if dice.chance(0.2) {
        // B-roll that heard the song: it can be shown both ways.
        let last = takes.len() - 1;
        let heard = dice.within(0.3, 0.9) * takes[last].length.seconds();
        if takes[last].setup.is_some() {
            takes[last].placement.runs = vec![run(0.1, heard, dice.within(0.0, end / 2.0), 1.0)];
        }
    }
    for take in &mut takes {
        take.rating = RATINGS[dice.below(5)];
        if states {
            take.state = dice.below(2) as u32;
        }
        if dice.chance(0.8) {
            let seconds = take.length.seconds();
            take.track = Some(track(dice, seconds));
        }
    }
    let mut wishes = Vec::new();
    if dice.chance(0.5) {
        let mut wish = wish(["A", "B"][dice.below(2)]);
        if dice.chance(0.5) {
            wish.setups = vec![SetupId::new(["one", "broll"][dice.below(2)]).unwrap()];
        }
        if dice.chance(0.5) {
            wish.purpose = Some([Purpose::Performance, Purpose::BRoll][dice.below(2)]);
        }
        if dice.chance(0.5) {
            wish.shot_beats = Some([1.0, 4.0][dice.below(2)]);
        }
        wishes.push(wish);
    }
    let mut locks = Vec::new();
    if dice.chance(0.4) {
        let which = dice.below(takes.len());
        let from = dice.within(0.0, end * 0.7);
        let to = from + dice.within(0.1, end * 0.3);
        let heard = takes[which].placement.runs.first().is_some_and(|run| {
            let on = run.on_song().unwrap();
            on.start() <= time(from) && on.end() >= time(to)
        });
        let fits = takes[which].length.seconds() > to - from + 0.2;
        let take_start = if heard && dice.chance(0.5) {
            None
        } else {
            Some(length(dice.within(0.0, 0.2)))
        };
        // A synced take shown out of sync keeps its pace, which the oracle does not model.
        if heard && take_start.is_none() || takes[which].placement.runs.is_empty() && fits {
            locks.push(Lock {
                extra: Default::default(),
                at: Stretch::between_seconds(from, to).unwrap(),
                take: takes[which].id.clone(),
                take_start,
            });
        }
    }
    let mut weights = Weights::default();
    if dice.chance(0.5) {
        for weight in [
            &mut weights.voice,
            &mut weights.length,
            &mut weights.same_setup,
            &mut weights.recent,
            &mut weights.near_framing,
            &mut weights.handles,
            &mut weights.on_the_bar,
        ] {
            *weight *= dice.within(0.0, 2.0);
        }
    }
    Case {
        map,
        rate: [FrameRate::FPS_25, FrameRate::FPS_24, FrameRate::FPS_29_97][dice.below(3)],
        setups,
        wishes,
        weights,
        locks,
        takes,
    }
}

/// A whole song: `bars` bars of four beats, `performances` full and partial passes, `brolls` takes
/// of b-roll, with everything that can be about them.
pub fn large(seed: u64, bars: usize, performances: usize, brolls: usize) -> Case {
    let dice = &mut Dice::new(seed);
    let bars_s: Vec<f64> = (0..=bars).map(|n| n as f64 * 2.0).collect();
    let feel: Vec<(f32, f32)> = (0..bars)
        .map(|n| {
            let part = n / 8;
            let voice = if part % 3 == 0 { 0.1 } else { 0.9 };
            ((part % 4) as f32 / 3.0, voice)
        })
        .collect();
    let sections: Vec<usize> = (0..bars).step_by(8).collect();
    let map = song(&bars_s, 4, &feel, &sections);
    let end = bars as f64 * 2.0;
    let mut setups = Vec::new();
    for n in 0..6 {
        let mut made = setup(&format!("p{n}"), Purpose::Performance, FRAMINGS[n % 3]);
        made.place = Some(PlaceId::new(["quay", "stairs"][n / 3]).unwrap());
        setups.push(made);
    }
    for n in 0..3 {
        setups.push(setup(&format!("b{n}"), Purpose::BRoll, FRAMINGS[n % 3]));
    }
    let mut takes = Vec::new();
    for n in 0..performances {
        let speed = if n % 6 == 5 { 2.0 } else { 1.0 };
        let (from, to) = if n % 2 == 0 {
            (0.0, end)
        } else {
            let from = dice.within(0.0, end * 0.6);
            (from, from + end * dice.within(0.2, 0.4))
        };
        let lead = dice.within(1.0, 8.0);
        let heard = (to - from) / speed;
        let mut made = take(
            &format!("t{n:03}"),
            Some(&format!("p{}", n % 6)),
            lead + heard + dice.within(0.0, 3.0),
            vec![run(lead, heard, from, speed)],
        );
        made.placement.runs[0].confidence = dice.within(0.6, 1.0);
        made.placement.runs[0].drift_ppm = dice.within(-80.0, 80.0);
        made.state = u32::from(n % 6 == 4 && from > end / 3.0);
        takes.push(made);
    }
    for n in 0..brolls {
        let seconds = dice.within(6.0, 25.0);
        takes.push(take(
            &format!("r{n:03}"),
            Some(&format!("b{}", n % 3)),
            seconds,
            Vec::new(),
        ));
    }
    for take in &mut takes {
        take.rating = RATINGS[dice.below(5)];
        let seconds = take.length.seconds();
        take.track = Some(track(dice, seconds));
    }
    let mut wishes = vec![wish("B")];
    wishes[0].setups = vec![SetupId::new("p1").unwrap()];
    Case {
        map,
        rate: FrameRate::FPS_25,
        setups,
        wishes,
        weights: Weights::default(),
        locks: Vec::new(),
        takes,
    }
}

/// Up to `most` locks here and there on takes that can show what they ask for.
pub fn lock_some(case: &mut Case, seed: u64, most: usize) {
    let dice = &mut Dice::new(seed ^ 0x10c5);
    let end = case.map.length.seconds();
    for n in 0..most {
        if case.takes.is_empty() {
            return;
        }
        let part = end / most as f64;
        let from = part * (n as f64 + dice.within(0.0, 0.5));
        let to = from + part * dice.within(0.05, 0.5);
        let take = &case.takes[dice.below(case.takes.len())];
        let take_start = match take.placement.runs.first() {
            Some(run) => {
                let heard = run.on_song().unwrap();
                if heard.start() > time(from) || heard.end() < time(to) {
                    continue;
                }
                None
            }
            None if take.length.seconds() > to - from + 0.5 => Some(length(0.25)),
            None => continue,
        };
        case.locks.push(Lock {
            extra: Default::default(),
            at: Stretch::between_seconds(from, to).unwrap(),
            take: take.id.clone(),
            take_start,
        });
    }
}
