//! An estimate of where a voice sounds, from three cheap cues.
//!
//! A singing voice moves in pitch within its notes (vibrato, glides), sits between 300 Hz and
//! 4 kHz, and in a stereo mix usually sits in the centre. Each cue alone is easily fooled (a bent
//! guitar, a centred synthesiser); their weighted sum against the song's own range is better than
//! chance and no more: it is an estimate, never a fact. Speech, rap and choirs were not tested.

use crate::spectrum::{Frames, SLOW_HZ, VoiceCue};

/// Entries a second of the voice and level curves.
pub const CURVE_HZ: usize = 10;
const STEP: usize = SLOW_HZ / CURVE_HZ;
/// Cues are averaged over this many seconds either side: about a sung word.
const REACH_S: f64 = 0.6;

/// How likely a voice is, 0 to 1, at [`CURVE_HZ`].
pub(crate) fn voice(frames: &Frames, stereo: bool) -> Vec<f32> {
    let cues = smoothed(&frames.cues);
    cues.iter()
        .step_by(STEP)
        .map(|cue| {
            let x = features(cue, stereo);
            let z: f32 = x.iter().zip(WEIGHTS).map(|(a, w)| a * w).sum::<f32>() + BIAS;
            1.0 / (1.0 + (-z).exp())
        })
        .collect()
}

fn features(cue: &VoiceCue, stereo: bool) -> [f32; 3] {
    [
        cue.movement * 100.0,
        // One channel tells nothing: the mean over stereo songs stands in.
        if stereo { cue.centre } else { 0.93 },
        cue.share,
    ]
}

/// Fitted by logistic regression on the tuned and random songs of `checks/listen`, the weight of the
/// centre held down: in those songs the voice is more alone in the centre than in most mixes.
const WEIGHTS: [f32; 3] = [0.64, 8.0, 6.4];
const BIAS: f32 = -17.7;

fn smoothed(cues: &[VoiceCue]) -> Vec<VoiceCue> {
    let reach = (REACH_S * SLOW_HZ as f64) as usize;
    (0..cues.len())
        .map(|i| {
            let part = &cues[i.saturating_sub(reach)..(i + reach + 1).min(cues.len())];
            let n = part.len() as f32;
            VoiceCue {
                movement: part.iter().map(|c| c.movement).sum::<f32>() / n,
                centre: part.iter().map(|c| c.centre).sum::<f32>() / n,
                share: part.iter().map(|c| c.share).sum::<f32>() / n,
            }
        })
        .collect()
}
