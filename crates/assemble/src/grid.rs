//! Where the cut may cut, and what the song is like between those points.
//!
//! Points are whole frames of the cut: its first and last, every beat, and the edges of every lock.
//! Between two neighbouring points lies an *interval*; energy, voice and section are read at its
//! middle. Lengths in beats are counted on the beat grid, continued at its median pace before the
//! first beat and after the last.

use model::{FrameRate, SongMap, SongTime, Wish};

/// Expected length of a shot where the song is quietest, in beats: two bars of four (common practice).
pub const CALM_BEATS: f64 = 8.0;
/// Expected length of a shot where the song is loudest, in beats: between half a bar and a bar. At two,
/// a loud song came out as a minute of half bars, which tires.
pub const BUSY_BEATS: f64 = 3.0;
/// A shot holds at most this many beats, or [`MOST_S`] where that is longer, unless nothing else can be shown.
pub const MOST_BEATS: f64 = 16.0;
/// See [`MOST_BEATS`].
pub const MOST_S: f64 = 8.0;
/// A shot lasts at least this long, in seconds, unless nothing else can be shown: ten frames at 25 fps.
pub const LEAST_S: f64 = 0.4;
/// How far off the bar a cut on a downbeat counts, where a section's start counts 0 and any other place 1.
pub const DOWNBEAT_OFF: f64 = 0.25;

/// What the song is like between two neighbouring points.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Interval {
    /// How long, in beats.
    pub beats: f64,
    /// Energy of the bar, 0 to 1.
    pub energy: f64,
    /// How likely a voice is, 0 to 1.
    pub voice: f64,
    /// Index of the section.
    pub section: usize,
    /// Binary logarithm of the expected length of a shot, in beats.
    pub log_expected: f64,
}

/// The points and intervals of one song at one rate.
#[derive(Clone, Debug)]
pub struct Grid {
    /// Cut points, frames, rising; the first is 0 and the last the number of frames.
    pub frames: Vec<i64>,
    /// Song seconds at each point: when that frame starts.
    pub at_s: Vec<f64>,
    /// Beat position of each point.
    pub beat: Vec<f64>,
    /// How far off the bar a cut at each point is, 0 to 1.
    pub off_bar: Vec<f64>,
    /// What lies between; one fewer than points.
    pub intervals: Vec<Interval>,
    /// For each point the last point a shot starting there may end at by [`MOST_BEATS`] and [`MOST_S`].
    pub reach: Vec<usize>,
    /// One frame, in seconds.
    pub frame_s: f64,
    /// The song's length, seconds.
    pub song_s: f64,
}

/// `x` held in 0 to 1; what is no number becomes a half.
pub(crate) fn unit(x: f64) -> f64 {
    if x.is_nan() { 0.5 } else { x.clamp(0.0, 1.0) }
}

/// Beat positions along the song: beat `i` of the map lies at `i`.
struct Pulse {
    beats_s: Vec<f64>,
    period_s: f64,
}

impl Pulse {
    fn of(map: &SongMap) -> Self {
        // Rising by the map's promise; a map that breaks it must still not make lengths negative.
        let mut beats_s: Vec<f64> = map.beats.iter().map(|b| b.seconds()).collect();
        beats_s.sort_by(f64::total_cmp);
        beats_s.dedup();
        let mut gaps: Vec<f64> = beats_s
            .windows(2)
            .map(|w| w[1] - w[0])
            .filter(|gap| *gap > 1e-3)
            .collect();
        gaps.sort_by(f64::total_cmp);
        let period_s = match gaps.get(gaps.len() / 2) {
            Some(gap) => *gap,
            None if map.tempo_bpm.is_finite() && map.tempo_bpm > 0.0 => {
                (60.0 / map.tempo_bpm).clamp(0.05, 10.0)
            }
            None => 0.5,
        };
        Self { beats_s, period_s }
    }

    fn position(&self, at_s: f64) -> f64 {
        let (Some(first), Some(last)) = (self.beats_s.first(), self.beats_s.last()) else {
            return at_s / self.period_s;
        };
        let next = self.beats_s.partition_point(|b| *b <= at_s);
        if next == 0 {
            (at_s - first) / self.period_s
        } else if next == self.beats_s.len() {
            (next - 1) as f64 + (at_s - last) / self.period_s
        } else {
            let (before, after) = (self.beats_s[next - 1], self.beats_s[next]);
            (next - 1) as f64 + (at_s - before) / (after - before)
        }
    }
}

/// The frames at which shots may meet: beats (bars without them), `extra`, and both ends of the song.
fn points(map: &SongMap, rate: FrameRate, extra: &[i64], thin: usize) -> Vec<i64> {
    let total = rate.frames_to_hold(map.length).max(0);
    let nearest = |at: SongTime| rate.nearest_frame_to_ticks(at.ticks());
    let phase = map.downbeats.first().copied().unwrap_or(0);
    let mut frames: Vec<i64> = map
        .beats
        .iter()
        .enumerate()
        .filter(|(index, _)| (index + thin - phase % thin).is_multiple_of(thin))
        .map(|(_, beat)| nearest(*beat))
        .collect();
    if map.beats.len() < 2 {
        frames.extend(map.bars.iter().map(|bar| nearest(bar.at.start())));
    }
    frames.extend_from_slice(extra);
    frames.push(0);
    frames.push(total);
    frames.retain(|frame| (0..=total).contains(frame));
    frames.sort_unstable();
    frames.dedup();
    frames
}

/// How far off the bar each of `frames` counts: 0 where a section starts, 1 between downbeats.
fn off_bar(
    map: &SongMap,
    rate: FrameRate,
    frames: &[i64],
    at_s: &[f64],
    period_s: f64,
) -> Vec<f64> {
    let nearest = |at: SongTime| rate.nearest_frame_to_ticks(at.ticks());
    let mut off_bar = vec![1.0; frames.len()];
    let mut mark = |at: SongTime, off: f64| {
        let frame = nearest(at);
        let after = frames.partition_point(|f| *f < frame);
        let near = [after.checked_sub(1), Some(after)]
            .into_iter()
            .flatten()
            .filter(|index| *index < frames.len())
            .min_by_key(|index| (frames[*index] - frame).abs());
        if let Some(index) = near
            && (at_s[index] - at.seconds()).abs() <= period_s / 2.0
        {
            off_bar[index] = f64::min(off_bar[index], off);
        }
    };
    for downbeat in map.downbeats.iter().filter_map(|i| map.beats.get(*i)) {
        mark(*downbeat, DOWNBEAT_OFF);
    }
    for section in &map.sections {
        mark(section.at.start(), 0.0);
    }
    off_bar
}

impl Grid {
    /// The grid of `map` at `rate`, with `extra` frames as further points. With `thin` above 1
    /// only every so-manieth beat is a point, counted so that downbeats stay where they can.
    pub fn new(
        map: &SongMap,
        rate: FrameRate,
        wishes: &[Wish],
        extra: &[i64],
        thin: usize,
    ) -> Self {
        let frames = points(map, rate, extra, thin);
        let second = |frame: i64| SongTime::from_ticks(rate.ticks_of_frame(frame)).seconds();
        let at_s: Vec<f64> = frames.iter().map(|frame| second(*frame)).collect();
        let pulse = Pulse::of(map);
        let beat: Vec<f64> = at_s.iter().map(|at| pulse.position(*at)).collect();

        let off_bar = off_bar(map, rate, &frames, &at_s, pulse.period_s);
        let lengths = wished_lengths(map, wishes);
        let intervals: Vec<Interval> = (1..frames.len())
            .map(|k| {
                let middle = SongTime::nearest_to_seconds((at_s[k - 1] + at_s[k]) / 2.0);
                let bar = map.bars.get(map.bar_index_at(middle));
                let section = map.section_index_at(middle);
                let energy = bar.map_or(0.5, |bar| unit(f64::from(bar.energy)));
                let expected = lengths
                    .get(section)
                    .copied()
                    .flatten()
                    .unwrap_or_else(|| CALM_BEATS * (BUSY_BEATS / CALM_BEATS).powf(energy));
                Interval {
                    beats: beat[k] - beat[k - 1],
                    energy,
                    voice: bar.map_or(0.5, |bar| unit(f64::from(bar.voice))),
                    section,
                    log_expected: expected.log2(),
                }
            })
            .collect();

        let frame_s = 1.0 / rate.fps();
        let reach = (0..frames.len())
            .map(|i| {
                let mut j = i + 1;
                while j + 1 < frames.len()
                    && (beat[j + 1] - beat[i] <= MOST_BEATS + 0.25
                        || at_s[j + 1] - at_s[i] <= MOST_S + frame_s)
                {
                    j += 1;
                }
                j.min(frames.len() - 1)
            })
            .collect();
        Self {
            frames,
            at_s,
            beat,
            off_bar,
            intervals,
            reach,
            frame_s,
            song_s: map.length.seconds(),
        }
    }

    /// The index of the last point: how many intervals there are.
    pub fn end(&self) -> usize {
        self.frames.len() - 1
    }

    /// The index of the point at `frame`, which must be one.
    pub fn point(&self, frame: i64) -> Option<usize> {
        self.frames.binary_search(&frame).ok()
    }

    /// The interval that holds `at_s`; the ends hold what lies outside.
    pub fn interval_at(&self, at_s: f64) -> usize {
        self.at_s
            .partition_point(|t| *t <= at_s)
            .saturating_sub(1)
            .min(self.intervals.len().saturating_sub(1))
    }
}

/// For each section the shot length a wish asks for, in beats; the last wish that says so holds.
fn wished_lengths(map: &SongMap, wishes: &[Wish]) -> Vec<Option<f64>> {
    let mut lengths = vec![None; map.sections.len()];
    for wish in wishes {
        let Some(beats) = wish.shot_beats.filter(|b| b.is_finite() && *b > 0.0) else {
            continue;
        };
        for (index, section) in map.sections.iter().enumerate() {
            if map.sections_called(&wish.section).contains(&section.at) {
                // Half a beat to eight bars: beyond that the limits on a shot's length rule.
                lengths[index] = Some(beats.clamp(0.5, 32.0));
            }
        }
    }
    lengths
}
