//! What was found, measured against what was composed.

use demo::{RunTruth, TakeTruth, Truth};
use model::{Project, SongMap, TakeId};
use serde::Serialize;
use steps::{Gathered, Made};

/// Everything measured.
#[derive(Debug, Serialize)]
pub struct Measured {
    pub listening: Listening,
    pub sync: Sync,
    pub cut: Cut,
}

/// F-measures of the listening (mir_eval's definitions: 70 ms for beats, 3 s for boundaries, the
/// first 5 s of beats and the song's ends not counted).
#[derive(Debug, Serialize)]
pub struct Listening {
    pub beat_f: f64,
    pub downbeat_f: f64,
    pub boundary_f: f64,
    pub tempo_bpm: f64,
    pub true_tempo_bpm: f64,
}

/// How the takes were placed.
#[derive(Debug, Serialize)]
pub struct Sync {
    /// Takes that hold the song.
    pub with_song: usize,
    /// Of these, how many have every run placed within 100 ms at both ends.
    pub right: usize,
    /// Takes without the song.
    pub without_song: usize,
    /// Of these, how many were not matched.
    pub left_alone: usize,
    /// The greatest error of a run that was placed right, at either end.
    pub worst_ms: f64,
    /// Each take whose placement is wrong, with why.
    pub wrong: Vec<String>,
}

/// How the cut lies on the song.
#[derive(Debug, Serialize)]
pub struct Cut {
    pub shots: usize,
    pub frames: i64,
    /// Frames of the cut's rate that hold the song.
    pub song_frames: i64,
    /// Shots that show a take where it was heard.
    pub in_sync_shots: usize,
    /// The greatest difference, over first and last frames of these shots, between the moment of
    /// the song and the moment of the song that the shown frame of the take was made at.
    pub worst_shot_ms: f64,
    /// The same against half a frame of the take or of the cut, whichever lasts longer on the song:
    /// a take can't be shown nearer than that. 1 is the most there may be.
    pub worst_shot_of_half_frame: f64,
}

impl Measured {
    /// Whether the demo kept what it promises: nothing matched that holds no song, the cut as long
    /// as the song to the frame, every shot in sync within half a frame.
    pub fn all_well(&self) -> bool {
        self.sync.left_alone == self.sync.without_song
            && self.sync.right == self.sync.with_song
            && self.cut.frames == self.cut.song_frames
            && self.cut.worst_shot_of_half_frame <= 1.0
    }
}

/// Measures what was found against `truth`.
pub fn measure(
    truth: &Truth,
    map: &SongMap,
    gathered: &Gathered,
    made: &Made,
    project: &Project,
) -> Measured {
    Measured {
        listening: listening(truth, map),
        sync: sync(truth, gathered),
        cut: cut(truth, made, project),
    }
}

fn listening(truth: &Truth, map: &SongMap) -> Listening {
    let late =
        |times: &[f64]| -> Vec<f64> { times.iter().copied().filter(|at| *at >= 5.0).collect() };
    let beats: Vec<f64> = map.beats.iter().map(|beat| beat.seconds()).collect();
    let downbeats: Vec<f64> = map.downbeats.iter().map(|index| beats[*index]).collect();
    let inner = |starts: Vec<f64>| -> Vec<f64> { starts.into_iter().skip(1).collect() };
    Listening {
        beat_f: f_measure(&late(&truth.song.beats_s), &late(&beats), 0.07),
        downbeat_f: f_measure(&late(&truth.song.downbeats_s), &late(&downbeats), 0.07),
        boundary_f: f_measure(
            &inner(
                truth
                    .song
                    .sections
                    .iter()
                    .map(|section| section.start_s)
                    .collect(),
            ),
            &inner(
                map.sections
                    .iter()
                    .map(|section| section.at.start().seconds())
                    .collect(),
            ),
            3.0,
        ),
        tempo_bpm: map.tempo_bpm,
        true_tempo_bpm: truth.song.tempo_bpm,
    }
}

/// F-measure of two rising lists, each entry matched at most once within `window_s`.
fn f_measure(truth: &[f64], found: &[f64], window_s: f64) -> f64 {
    if truth.is_empty() || found.is_empty() {
        return 0.0;
    }
    let (mut i, mut j, mut hits) = (0, 0, 0);
    while i < truth.len() && j < found.len() {
        let apart = found[j] - truth[i];
        if apart.abs() <= window_s {
            hits += 1;
            i += 1;
            j += 1;
        } else if apart < 0.0 {
            j += 1;
        } else {
            i += 1;
        }
    }
    2.0 * hits as f64 / (truth.len() + found.len()) as f64
}

fn stem(name: &str) -> &str {
    name.rsplit_once('.').map_or(name, |(stem, _)| stem)
}

fn truth_of<'a>(truth: &'a Truth, id: &TakeId) -> Option<&'a TakeTruth> {
    truth
        .takes
        .iter()
        .find(|take| stem(&take.file) == id.as_str())
}

fn sync(truth: &Truth, gathered: &Gathered) -> Sync {
    let mut out = Sync {
        with_song: 0,
        right: 0,
        without_song: 0,
        left_alone: 0,
        worst_ms: 0.0,
        wrong: Vec::new(),
    };
    for known in &truth.takes {
        let state = gathered
            .takes
            .iter()
            .find(|state| state.take.id.as_str() == stem(&known.file));
        let runs = state
            .and_then(|state| state.placed.as_ref())
            .map(|placed| placed.placement.runs.as_slice())
            .unwrap_or_default();
        if known.runs.is_empty() {
            out.without_song += 1;
            if runs.is_empty() {
                out.left_alone += 1;
            } else {
                out.wrong.push(format!(
                    "{}: matched, and the song is not in it",
                    known.file
                ));
            }
            continue;
        }
        out.with_song += 1;
        let worst = known
            .runs
            .iter()
            .map(|run| run_error_ms(run, runs))
            .fold(0.0, f64::max);
        if worst <= 100.0 {
            out.right += 1;
            out.worst_ms = out.worst_ms.max(worst);
        } else {
            out.wrong.push(format!(
                "{}: {}",
                known.file,
                if worst.is_finite() {
                    format!("{worst:.0} ms off")
                } else {
                    "a run was not found".into()
                }
            ));
        }
    }
    out
}

/// The error of the found run that overlaps `run` most, at both ends of what they share, in song milliseconds.
fn run_error_ms(run: &RunTruth, found: &[model::Run]) -> f64 {
    let shared = |other: &model::Run| {
        other.take_end.seconds().min(run.take_end_s)
            - other.take_start.seconds().max(run.take_start_s)
    };
    let Some(best) = found
        .iter()
        .filter(|other| shared(other) > 0.0)
        .max_by(|a, b| shared(a).total_cmp(&shared(b)))
    else {
        return f64::INFINITY;
    };
    let ends = [
        best.take_start.seconds().max(run.take_start_s),
        best.take_end.seconds().min(run.take_end_s),
    ];
    ends.iter()
        .map(|at| (best.song_s_at(*at) - run.song_s_at(*at)).abs() * 1000.0)
        .fold(0.0, f64::max)
}

fn cut(truth: &Truth, made: &Made, project: &Project) -> Cut {
    let rate = made.cut.rate;
    let song = project
        .song
        .as_ref()
        .map(|song| song.length)
        .unwrap_or_default();
    let mut out = Cut {
        shots: made.cut.shots.len(),
        frames: made.cut.frames(),
        song_frames: rate.frames_to_hold(song),
        in_sync_shots: 0,
        worst_shot_ms: 0.0,
        worst_shot_of_half_frame: 0.0,
    };
    for (shot, listed) in made.cut.shots.iter().zip(&made.listing.shots) {
        let Some(known) = shot
            .take
            .as_ref()
            .filter(|_| shot.in_sync)
            .and_then(|id| truth_of(truth, id))
        else {
            continue;
        };
        let Some(source) = &listed.source else {
            continue;
        };
        let source_rate = source.rate.parse().unwrap_or(rate);
        out.in_sync_shots += 1;
        for frame in [shot.from_frame, shot.to_frame - 1] {
            // What the timeline says is shown: the take's frame on screen `frame - from` frames into the shot.
            let passed_s = (frame - shot.from_frame) as f64 / rate.fps() / shot.speed;
            let take_s = source.start_frame as f64 / source_rate.fps() + passed_s;
            let song_s = frame as f64 / rate.fps();
            let worst = known
                .runs
                .iter()
                .filter(|run| run.take_start_s - 0.1 <= take_s && take_s <= run.take_end_s + 0.1)
                .map(|run| (run.song_s_at(take_s) - song_s).abs() * 1000.0)
                .fold(f64::INFINITY, f64::min);
            // A frame of the take lasts `speed` times as long on the song.
            let half_frame_ms = 500.0 * (1.0 / rate.fps()).max(shot.speed / source_rate.fps());
            out.worst_shot_ms = out.worst_shot_ms.max(worst);
            out.worst_shot_of_half_frame = out.worst_shot_of_half_frame.max(worst / half_frame_ms);
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn f_measures_are_those_of_mir_eval() {
        // mir_eval 0.8.2: beats 4 and 8 of 20 missing, the rest 10 ms late: 0.947368.
        let truth: Vec<f64> = (0..20).map(|n| 5.0 + f64::from(n) * 0.5).collect();
        let found: Vec<f64> = truth
            .iter()
            .enumerate()
            .filter(|(n, _)| *n != 3 && *n != 7)
            .map(|(_, at)| at + 0.01)
            .collect();
        assert!((f_measure(&truth, &found, 0.07) - 0.947_368).abs() < 1e-6);
        let slow: Vec<f64> = (0..21).map(|n| 5.0 + f64::from(n) * 0.48).collect();
        assert!((f_measure(&truth, &slow, 0.07) - 0.195_122).abs() < 1e-6);
    }
}
