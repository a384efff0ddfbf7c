//! The search over one channel at one speed: windows, lines, traces, runs.

use crate::Error;
use crate::correlation::{Slider, WINDOW};
use crate::follow::{FRAME, FREEDOM, Trace, refine, trace, trace_within};
use crate::lines::{Line, Vote, lines};
use crate::runs::{Piece, Strength, course, expected, said, strength, typical, working};
use crate::sound::RATE;
use crate::whiten::Whitened;

/// Windows that vote together: four and a half minutes, so that an hour stays in bounded memory.
const TOGETHER: usize = 66;
/// Lines followed closely per round.
const FOLLOWED: usize = 24;
/// Rounds: after the first, windows already explained no longer vote, so that a false start is heard
/// beside a full pass.
const ROUNDS: usize = 3;
/// Share of the best line's votes under which a line waits for the next round.
const WORTH: f64 = 0.3;
/// How far short reality falls of independent noise when two places are weighed against each other.
const RIVAL_CAUTION: f64 = 0.1;
/// Two lines this close over a piece, in nats, may be one place.
const SAME_PLACE: f64 = 30.0;
/// Votes under this are what noise gives over millions of lags and drifts.
const LEAST_VOTES: f64 = 20.0;

/// A song as the search needs it.
#[derive(Debug)]
pub(crate) struct SongSide {
    pub(crate) white: Whitened,
    pub(crate) slider: Slider,
}

/// One stretch found, in samples of the (speed-corrected) take.
#[derive(Clone, Debug)]
pub(crate) struct Found {
    pub(crate) line: Line,
    pub(crate) from: usize,
    pub(crate) to: usize,
    pub(crate) strength: Strength,
    /// Sum of what the frames say, in nats.
    pub(crate) said: f64,
    /// Other lags at which the song would be heard about as well, with their share of belief; the
    /// shares and `own_share` add up to 1.
    pub(crate) others: Vec<(f64, f64)>,
    pub(crate) own_share: f64,
}

struct Candidate {
    taps: Vec<(i32, f32)>,
    trace: Trace,
    typical: f64,
}

/// Where the song is heard in `take` (whitened, at the working rate, one song second per second but
/// for drift).
pub(crate) fn search(
    song: &SongSide,
    take: &[f32],
    least_s: f64,
    keep_going: &dyn Fn() -> bool,
) -> Result<Vec<Found>, Error> {
    let votes = votes(song, take, keep_going)?;
    let mut candidates: Vec<Candidate> = Vec::new();
    let mut pieces: Vec<Piece> = Vec::new();
    for _ in 0..ROUNDS {
        let open = unexplained(&votes, &pieces);
        let before = candidates.len();
        let found = all_lines(&open);
        let least = found
            .first()
            .map_or(0.0, |best| LEAST_VOTES.max(WORTH * best.votes));
        for line in found {
            if candidates.len() >= before + FOLLOWED || line.votes < least {
                break;
            }
            if !keep_going() {
                return Err(Error::Stopped);
            }
            let middle = take.len() as f64 / 2.0;
            let known = |line: &Line, within: f64| {
                candidates
                    .iter()
                    .any(|o| (o.trace.line.song_at(middle) - line.song_at(middle)).abs() < within)
            };
            if known(&line, 64.0) {
                continue;
            }
            if let Some(c) = follow(song, take, &line, &open) {
                let known = known(&c.trace.line, 40.0);
                if !known {
                    candidates.push(c);
                }
            }
        }
        if candidates.len() == before {
            break;
        }
        // One loudness of playback, unless a line is clearly fainter: else the line with the greater
        // luck in its estimate would win.
        let most = candidates.iter().map(|c| c.typical).fold(0.0, f64::max);
        let traces: Vec<(&Trace, f64)> = candidates
            .iter()
            .map(|c| {
                (
                    &c.trace,
                    working(if c.typical > 0.6 * most {
                        most
                    } else {
                        c.typical
                    }),
                )
            })
            .collect();
        pieces = course(&traces);
    }
    settle(&mut pieces, &candidates);
    Ok(heard(song, take, &pieces, &candidates, least_s))
}

/// The votes that `pieces` explain less than half of.
fn unexplained<'a>(votes: &'a [Vote], pieces: &[Piece]) -> Vec<&'a Vote> {
    let open = |v: &&Vote| {
        let (from, to) = (v.start / FRAME, (v.start + WINDOW) / FRAME);
        let covered: usize = pieces
            .iter()
            .map(|p| p.to.min(to).saturating_sub(p.from.max(from)))
            .sum();
        2 * covered < to - from
    };
    votes.iter().filter(open).collect()
}

/// What of `pieces` is believed, with its ends and its rivals.
fn heard(
    song: &SongSide,
    take: &[f32],
    pieces: &[Piece],
    candidates: &[Candidate],
    least_s: f64,
) -> Vec<Found> {
    let mut found = Vec::new();
    for (index, piece) in pieces.iter().enumerate() {
        let (piece, others, own_share) = rivals(piece, candidates, song, take);
        let own = &candidates[piece.line];
        let strength = strength(&own.trace, &piece);
        let length_s = ((piece.to - piece.from) * FRAME) as f64 / RATE;
        if !believed(&strength, length_s, least_s, own_share) {
            continue;
        }
        let mean = strength.mean.max(0.02);
        let room = (
            index.checked_sub(1).map_or(0, |i| pieces[i].to),
            pieces.get(index + 1).map_or(own.trace.r.len(), |p| p.from),
        );
        let piece = trimmed(&own.trace, mean, &piece, room);
        let (from, to) = ends(
            &own.trace,
            mean,
            &piece,
            song.white.samples.len(),
            take.len(),
        );
        let total = (piece.from..piece.to)
            .map(|k| said(&own.trace, mean, k))
            .sum();
        found.push(Found {
            line: own.trace.line,
            from,
            to,
            strength,
            said: total,
            others,
            own_share,
        });
    }
    found
}

/// Fewest lines: pieces go to the line that explains the most of them nearly as well as their own. In a
/// loop-based song the likeliest course hops between repeats that differ by noise alone, while one
/// playback explains the whole.
fn settle(pieces: &mut Vec<Piece>, candidates: &[Candidate]) {
    let explains = |line: usize, p: &Piece| {
        let own = &candidates[p.line];
        p.line == line || behind(&own.trace, &candidates[line].trace, own.typical, p) < SAME_PLACE
    };
    let mut open: Vec<usize> = (0..pieces.len()).collect();
    while !open.is_empty() {
        let best = (0..candidates.len())
            .map(|line| {
                let covered: Vec<usize> = open
                    .iter()
                    .copied()
                    .filter(|&i| explains(line, &pieces[i]))
                    .collect();
                let length: usize = covered.iter().map(|&i| pieces[i].to - pieces[i].from).sum();
                (length, line, covered)
            })
            .max_by_key(|(length, line, _)| (*length, std::cmp::Reverse(*line)));
        let Some((length, line, covered)) = best else {
            break;
        };
        if length == 0 {
            break;
        }
        for i in covered {
            pieces[i].line = line;
            open.retain(|&o| o != i);
        }
    }
    pieces.dedup_by(|later, earlier| {
        let same = later.line == earlier.line;
        if same {
            earlier.to = later.to;
        }
        same
    });
}

/// Whether a stretch heard by its waveform is the song and not something like it.
///
/// A coin gives a share of one half; six standard deviations of a coin leave fewer than one in a hundred
/// million to chance, for the millions of lags tried. Music with the song's own drum samples at its own
/// tempo is the hard case: it agrees strongly at every hit and not at all between, so that its share of
/// agreeing frames is low and the lower quartile of their correlation lies near zero, while the song itself
/// agrees all the time. The more a stretch correlates, the evener it has to be.
///
/// The two lines were drawn on `checks/sync` seeds 1 to 4: of 133 takes of such music, shares over 0.8 had
/// a mean over 0.19 and a quartile of at most 0.21 of it; of some 300 true stretches those with a mean over
/// 0.19 had shares over 0.96 and quartiles over 0.55 of the mean, the faintest (0.08) 0.27 of it.
///
/// A hum is periodic and fits many places faintly; a loop fits many places as well as one. So a stretch that
/// would be heard about as well elsewhere (`own_share` under a half) has to agree nearly all the time: parts
/// of loops had shares over 0.97, a mains hum on seed 6 had 0.88.
pub(crate) fn believed(strength: &Strength, length_s: f64, least_s: f64, own_share: f64) -> bool {
    let least_share = (0.7 + 1.2 * strength.mean).clamp(0.8, 0.93);
    let least_quartile = (0.05 + 2.0 * strength.mean).clamp(0.2, 0.45) * strength.mean;
    length_s >= least_s
        && strength.sign_z >= 6.0
        && strength.share >= least_share
        && strength.quartile >= least_quartile
        && (own_share >= 0.5 || strength.share >= 0.95)
}

/// The same for a stretch heard by its fine flux, where the pitch was kept.
///
/// Music of one tempo shares flux far more than waveforms, and here speeds are tried besides: a stretch has
/// to be twice as long, and the shorter it is the more of it must agree. Drawn on seeds 1 to 4 of
/// `checks/sync`: other music reached a share of 0.80 at nine standard deviations and 0.77 at 18, with a
/// quartile of at most 0.06 of its mean; the faintest true passes had 0.80 at over 20, and 0.12.
pub(crate) fn believed_by_flux(strength: &Strength, length_s: f64, least_s: f64) -> bool {
    let least_share = 0.785 + 0.0125 * (18.0 - strength.sign_z).max(0.0);
    length_s >= 2.0 * least_s
        && strength.sign_z >= 9.0
        && strength.share >= least_share
        && strength.quartile >= 0.08 * strength.mean
}

fn votes(song: &SongSide, take: &[f32], keep_going: &dyn Fn() -> bool) -> Result<Vec<Vote>, Error> {
    // Under a minute windows overlap by half, so that a short run is whole in one of them.
    let hop = if take.len() < 60 * RATE as usize {
        WINDOW / 2
    } else {
        WINDOW
    };
    let mut out = Vec::new();
    for start in (0..take.len()).step_by(hop) {
        let end = (start + WINDOW).min(take.len());
        if start > 0 && end - start < WINDOW / 4 {
            break;
        }
        if !keep_going() {
            return Err(Error::Stopped);
        }
        out.push(Vote {
            start,
            fit: song.slider.slide(&take[start..end]),
        });
    }
    Ok(out)
}

fn all_lines(votes: &[&Vote]) -> Vec<Line> {
    let mut out: Vec<Line> = votes.chunks(TOGETHER).flat_map(lines).collect();
    out.sort_by(|a, b| b.votes.total_cmp(&a.votes));
    out
}

fn follow(song: &SongSide, take: &[f32], line: &Line, votes: &[&Vote]) -> Option<Candidate> {
    // The windows that speak for the line, each with its surroundings.
    let spans: Vec<(usize, usize)> = votes
        .iter()
        .filter(|v| v.near(line, 3).is_some_and(|(z, _)| z > 4.5))
        .map(|v| (v.start, v.start + WINDOW))
        .collect();
    let spans = joined(spans);
    if spans.is_empty() {
        return None;
    }
    let (line, taps) = refine(*line, take, &song.white.samples, &spans);
    let trace = trace(line, &taps, take, &song.white);
    let typical = typical(&trace);
    Some(Candidate {
        taps,
        trace,
        typical,
    })
}

fn joined(mut spans: Vec<(usize, usize)>) -> Vec<(usize, usize)> {
    spans.sort_unstable();
    let mut out: Vec<(usize, usize)> = Vec::new();
    for (from, to) in spans {
        match out.last_mut() {
            Some(last) if from <= last.1 => last.1 = last.1.max(to),
            _ => out.push((from, to)),
        }
    }
    out
}

/// The stretch with its ends where the frames' words add up to the most, at the correlation it showed
/// itself: the first course only knew the line as a whole. `room` is what the neighbours leave free.
fn trimmed(trace: &Trace, mean: f64, piece: &Piece, room: (usize, usize)) -> Piece {
    // Three seconds of look-around, never past the middle.
    let around = 3 * RATE as usize / FRAME;
    let middle = (piece.from + piece.to) / 2;
    let rho = working(mean);
    let best = |order: &mut dyn Iterator<Item = usize>| {
        let (mut sum, mut most, mut at) = (0.0, f64::MIN, None);
        for k in order {
            sum += if trace.expected[k] > 0.0 {
                said(trace, rho, k)
            } else {
                -0.1
            };
            if sum > most {
                most = sum;
                at = Some(k);
            }
        }
        at
    };
    let first = piece.from.saturating_sub(around).max(room.0);
    let last = (piece.to + around).min(room.1).min(trace.r.len());
    let from_inner = (piece.from + around).min(middle);
    let to_inner = piece.to.saturating_sub(around).max(middle);
    Piece {
        from: best(&mut (first..=from_inner).rev()).unwrap_or(piece.from),
        to: best(&mut (to_inner..last)).map_or(piece.to, |k| k + 1),
        ..*piece
    }
}

/// The exact ends of a stretch, in take samples: carried on to the song's or the take's own end where
/// nothing speaks against it.
pub(crate) fn ends(
    trace: &Trace,
    typical: f64,
    piece: &Piece,
    song_len: usize,
    take_len: usize,
) -> (usize, usize) {
    // A frame that could say less than this either way says nothing.
    let mute = |k: usize| {
        let rho = expected(typical, f64::from(trace.expected[k]));
        0.33 * FREEDOM * rho * rho / 2.0 < 0.02
    };
    // Ends closer than this to a natural one are that: the detection is good to about 100 ms.
    let near = 0.16 * RATE;
    let line = &trace.line;
    let at_song = |song: f64| (song - line.lag) / (1.0 + line.slope);
    let natural_start = at_song(0.0).max(0.0);
    let natural_end = at_song(song_len as f64).min(take_len as f64);
    let within = |k: usize| {
        let at = line.song_at((k * FRAME + FRAME / 2) as f64);
        at >= 0.0 && at < song_len as f64
    };
    let mut k = piece.from;
    while k > 0 && within(k - 1) && mute(k - 1) {
        k -= 1;
    }
    let from = if (k * FRAME) as f64 - natural_start <= near {
        natural_start
    } else {
        (piece.from * FRAME) as f64
    };
    let mut k = piece.to;
    while k < trace.r.len() && within(k) && mute(k) {
        k += 1;
    }
    let to = if natural_end - (k * FRAME) as f64 <= near {
        natural_end
    } else {
        (piece.to * FRAME) as f64
    };
    (from.round() as usize, to.round() as usize)
}

/// Other lines that explain the stretch about as well, and belief shared among them: the piece on the
/// best line, the others' lags and shares, the best line's share.
fn rivals(
    piece: &Piece,
    candidates: &[Candidate],
    song: &SongSide,
    take: &[f32],
) -> (Piece, Vec<(f64, f64)>, f64) {
    let own = &candidates[piece.line];
    let middle = ((piece.from + piece.to) * FRAME / 2) as f64;
    // The same room for all: read through the same reflections at the same drift, each at its best
    // fraction of a sample, or noise in their estimates would decide.
    let fine = |candidate: &Candidate| {
        let mut line = candidate.trace.line;
        line.lag += (line.slope - own.trace.line.slope) * middle;
        line.slope = own.trace.line.slope;
        let at = |shift: f64| {
            let moved = Line {
                lag: line.lag + shift,
                ..line
            };
            trace_within(moved, &own.taps, take, &song.white, piece.from, piece.to)
        };
        let sum = |t: &Trace| t.r.iter().map(|v| f64::from(*v)).sum::<f64>();
        let tried = [at(-0.4), at(0.0), at(0.4)];
        let (a, b, c) = (sum(&tried[0]), sum(&tried[1]), sum(&tried[2]));
        let bend = a - 2.0 * b + c;
        let shift = if bend < 0.0 {
            (0.2 * (a - c) / bend).clamp(-0.8, 0.8)
        } else {
            0.0
        };
        let best = at(shift);
        if sum(&best) > b { best } else { at(0.0) }
    };
    let mut close: Vec<(usize, Trace)> = Vec::new();
    for (index, other) in candidates.iter().enumerate() {
        // Far behind already as followed by itself: no need to look closer.
        if index != piece.line
            && behind(&own.trace, &other.trace, own.typical, piece) < 2.0 * SAME_PLACE
        {
            close.push((index, fine(other)));
        }
    }
    if close.is_empty() {
        return (*piece, Vec::new(), 1.0);
    }
    close.push((piece.line, fine(own)));
    let sums: Vec<f64> = close
        .iter()
        .map(|(_, t)| t.r.iter().map(|v| f64::from(*v)).sum())
        .collect();
    let best = (0..close.len())
        .max_by(|&a, &b| sums[a].total_cmp(&sums[b]))
        .unwrap_or(0);
    let weights: Vec<f64> = close
        .iter()
        .map(|(index, t)| {
            let gap = advantage(&close[best].1, t, own.typical, piece);
            (natural(&candidates[*index].trace.line, piece, song, take) - gap).exp()
        })
        .collect();
    let total: f64 = weights.iter().sum();
    let winner = (0..close.len())
        .max_by(|&a, &b| weights[a].total_cmp(&weights[b]))
        .unwrap_or(0);
    let others = close
        .iter()
        .zip(&weights)
        .enumerate()
        .filter(|(i, (_, w))| *i != winner && **w / total >= 0.02)
        .map(|(_, ((index, _), w))| (candidates[*index].trace.line.lag, w / total))
        .collect();
    (
        Piece {
            line: close[winner].0,
            ..*piece
        },
        others,
        weights[winner] / total,
    )
}

/// What speaks for a line before listening, in nats: playback usually starts at the song's start and
/// runs to its end.
fn natural(line: &Line, piece: &Piece, song: &SongSide, take: &[f32]) -> f64 {
    let near = 0.2 * RATE;
    let (from, to) = ((piece.from * FRAME) as f64, (piece.to * FRAME) as f64);
    let mut nats = 0.0;
    if from > near && line.song_at(from).abs() < near {
        nats += 1.5;
    }
    if to + near < take.len() as f64
        && (line.song_at(to) - song.white.samples.len() as f64).abs() < near
    {
        nats += 1.5;
    }
    nats
}

/// How much better `best` explains the stretch than `other`, in nats: no more than the scatter of the
/// gap from second to second allows (t²/2), and nothing for what interpolation and framing explain.
fn advantage(best: &Trace, other: &Trace, typical: f64, piece: &Piece) -> f64 {
    let second = RATE as usize / FRAME;
    let weight = RIVAL_CAUTION * FREEDOM * typical / (1.0 - typical * typical);
    let frames: Vec<usize> = (piece.from..piece.to.min(best.r.len())).collect();
    let gaps: Vec<f64> = frames
        .chunks(second)
        .map(|c| {
            c.iter()
                .map(|&k| f64::from(best.r[k] - other.r[k]))
                .sum::<f64>()
        })
        .collect();
    let total: f64 = gaps.iter().sum();
    let matched: f64 = frames.iter().map(|&k| f64::from(best.r[k].abs())).sum();
    let n = gaps.len() as f64;
    let mean = total / n.max(1.0);
    let spread = gaps.iter().map(|g| (g - mean).powi(2)).sum::<f64>() / (n - 1.0).max(1.0);
    let t2 = if spread > 0.0 {
        n * mean * mean / spread
    } else {
        f64::MAX
    };
    let beyond = (total - 0.03 * matched).max(0.0);
    (weight * beyond).min(t2 / 2.0).min(700.0)
}

/// How far `other` falls behind `own` over the stretch, in nats, beyond the sixth of the match that
/// framing and fractions of a sample may cost it.
fn behind(own: &Trace, other: &Trace, typical: f64, piece: &Piece) -> f64 {
    let weight = 0.2 * FREEDOM * typical / (1.0 - typical * typical);
    let (mut gap, mut matched) = (0.0, 0.0);
    for k in piece.from..piece.to.min(own.r.len()) {
        let r = other.r.get(k).copied().unwrap_or(0.0);
        gap += f64::from(own.r[k] - r);
        matched += f64::from(own.r[k].abs());
    }
    weight * (gap - 0.15 * matched)
}
