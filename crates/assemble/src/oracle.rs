//! The same objective written a second time, slowly and from the formulas, and a search that tries
//! every cut. Shares nothing with the programme but the question: no grid, no sums, no sources.

use crate::answer::Question;
use model::{Length, PlacedTake, Purpose, Rating, Run, Setup, Shot, SongTime, TICKS_PER_SECOND};

const LEAST_WORTH: f64 = f64::NEG_INFINITY;

/// Evaluates whole lists of shots.
pub struct Oracle<'a> {
    q: &'a Question<'a>,
    /// Frames that may be cut at.
    pub points: Vec<i64>,
    frame_s: f64,
    song_s: f64,
    /// Locks as frames.
    locks: Vec<(i64, i64, usize)>,
}

impl<'a> Oracle<'a> {
    pub fn new(q: &'a Question<'a>) -> Self {
        let song_s = q.map.length.seconds();
        let fps = q.rate.fps();
        let total = (song_s * fps - 1e-6).ceil() as i64;
        let near = |s: f64| (s * fps + 0.5).floor() as i64;
        let mut points = vec![0, total];
        if q.map.beats.len() >= 2 {
            points.extend(q.map.beats.iter().map(|b| near(b.seconds())));
        } else {
            points.extend(q.map.bars.iter().map(|b| near(b.at.start().seconds())));
            points.extend(q.map.beats.iter().map(|b| near(b.seconds())));
        }
        let mut locks = Vec::new();
        for (index, lock) in q.locks.iter().enumerate() {
            let from = near(lock.at.start().seconds()).clamp(0, total);
            let mut to = near(lock.at.end().seconds()).clamp(0, total);
            if lock.at.end().seconds() >= song_s {
                to = total;
            }
            if from < to {
                locks.push((from, to, index));
                points.extend([from, to]);
            }
        }
        points.retain(|p| (0..=total).contains(p));
        points.sort();
        points.dedup();
        locks.sort();
        Self {
            q,
            points,
            frame_s: 1.0 / fps,
            song_s,
            locks,
        }
    }

    fn at(&self, frame: i64) -> f64 {
        self.q.rate.ticks_of_frame(frame) as f64 / TICKS_PER_SECOND as f64
    }

    fn period(&self) -> f64 {
        let beats = &self.q.map.beats;
        let mut gaps: Vec<f64> = Vec::new();
        for i in 1..beats.len() {
            gaps.push(beats[i].seconds() - beats[i - 1].seconds());
        }
        gaps.sort_by(|a, b| a.partial_cmp(b).unwrap());
        if gaps.is_empty() {
            60.0 / self.q.map.tempo_bpm
        } else {
            gaps[gaps.len() / 2]
        }
    }

    /// Position in beats.
    fn beat(&self, at: f64) -> f64 {
        let b: Vec<f64> = self.q.map.beats.iter().map(|b| b.seconds()).collect();
        let p = self.period();
        if b.is_empty() {
            return at / p;
        }
        if at < b[0] {
            return (at - b[0]) / p;
        }
        for i in 0..b.len() - 1 {
            if at < b[i + 1] {
                return i as f64 + (at - b[i]) / (b[i + 1] - b[i]);
            }
        }
        (b.len() - 1) as f64 + (at - b[b.len() - 1]) / p
    }

    fn take(&self, shot: &Shot) -> &PlacedTake {
        let id = shot.take.as_ref().unwrap();
        self.q.takes.iter().find(|t| t.id == *id).unwrap()
    }

    fn setup(&self, take: &PlacedTake) -> Option<&Setup> {
        self.q
            .setups
            .iter()
            .find(|s| take.setup.as_ref() == Some(&s.id))
    }

    fn purpose(&self, take: &PlacedTake) -> Purpose {
        match self.setup(take) {
            Some(setup) => setup.purpose,
            None if take.placement.runs.is_empty() => Purpose::BRoll,
            None => Purpose::Performance,
        }
    }

    fn state(&self, take: &PlacedTake) -> Option<u32> {
        (take.state > 0 || self.purpose(take) == Purpose::Performance).then_some(take.state)
    }

    /// The run a synced shot comes from.
    fn run(&self, shot: &Shot) -> Option<Run> {
        let at = self.at(shot.from_frame);
        self.take(shot).placement.runs.iter().copied().find(|run| {
            shot.in_sync
                && run.speed == shot.speed
                && (run.take_s_at(at).max(0.0) - shot.take_start.seconds()).abs() < 1e-6
        })
    }

    /// The piece of the take shown up to `frame`.
    fn take_s(&self, shot: &Shot, frame: i64) -> f64 {
        let (from, to) = (self.at(shot.from_frame), self.at(frame));
        match self.run(shot) {
            Some(run) if !shot.locked => run.take_s_at(to),
            Some(run) => shot.take_start.seconds() + (to - from) / run.true_speed(),
            None => shot.take_start.seconds() + (to - from) / shot.speed,
        }
    }

    fn piece(&self, shot: &Shot) -> (f64, f64) {
        (
            self.take_s(shot, shot.from_frame),
            self.take_s(shot, shot.to_frame),
        )
    }

    /// Mean of a measure over a piece, entry by entry.
    fn mean(&self, take: &PlacedTake, from: f64, to: f64, read: &dyn Fn(usize) -> f64) -> f64 {
        let Some(track) = &take.track else { return 0.5 };
        let n = track.sharpness.len();
        let step = track.step.seconds();
        let mut sum = 0.0;
        for i in 0..n {
            let a = if i == 0 {
                f64::NEG_INFINITY
            } else {
                i as f64 * step
            };
            let b = if i == n - 1 {
                f64::INFINITY
            } else {
                (i + 1) as f64 * step
            };
            let shared = to.min(b) - from.max(a);
            if shared > 0.0 {
                sum += shared * read(i);
            }
        }
        sum / (to - from)
    }

    fn measures(&self, take: &PlacedTake, from: f64, to: f64) -> (f64, f64, f64) {
        let track = take.track.as_ref();
        let sharp = self.mean(take, from, to, &|i| f64::from(track.unwrap().sharpness[i]));
        let exposed = self.mean(take, from, to, &|i| {
            let b = f64::from(track.unwrap().brightness[i]);
            let c = f64::from(track.unwrap().clipped[i]);
            let up = ((b - 0.02) / 0.08).clamp(0.0, 1.0);
            let down = ((0.95 - b) / 0.15).clamp(0.0, 1.0);
            up.min(down) * ((0.6 - c) / 0.5).clamp(0.0, 1.0)
        });
        let mut all = Vec::new();
        for take in self.q.takes {
            if let Some(track) = &take.track {
                all.extend(track.movement.iter().map(|m| f64::from(*m)));
            }
        }
        let moved = self.mean(take, from, to, &|i| {
            let m = f64::from(track.unwrap().movement[i]);
            let below = all.iter().filter(|o| **o < m).count() as f64;
            let equal = all.iter().filter(|o| **o == m).count() as f64;
            (below + equal / 2.0) / all.len() as f64
        });
        (sharp, exposed, moved)
    }

    fn intent(&self, take: &PlacedTake, section: usize, at: SongTime) -> f64 {
        let here = self.q.map.sections[section].at;
        let wishes: Vec<_> = self
            .q
            .wishes
            .iter()
            .filter(|w| self.q.map.sections_called(&w.section).contains(&here))
            .collect();
        let mut parts = Vec::new();
        if wishes.iter().any(|w| !w.setups.is_empty()) {
            let hit = wishes
                .iter()
                .any(|w| w.setups.iter().any(|s| Some(s) == take.setup.as_ref()));
            parts.push(if hit { 1.0 } else { 0.0 });
        } else {
            parts.push(match self.setup(take) {
                None => 0.5,
                Some(s) if s.sections.is_empty() && s.bars.is_empty() && s.stretches.is_empty() => {
                    0.5
                }
                Some(s) => {
                    let named = s
                        .sections
                        .iter()
                        .any(|c| self.q.map.sections_called(c).iter().any(|x| x.holds(at)));
                    let barred = s
                        .bars
                        .iter()
                        .any(|[a, b]| self.q.map.bars_stretch(*a, *b).is_some_and(|x| x.holds(at)));
                    let timed = s.stretches.iter().any(|x| x.holds(at));
                    if named || barred || timed { 1.0 } else { 0.0 }
                }
            });
        }
        for wish in wishes {
            if let Some(purpose) = wish.purpose {
                parts.push(if purpose == self.purpose(take) {
                    1.0
                } else {
                    0.0
                });
            }
        }
        parts.iter().sum::<f64>() / parts.len() as f64
    }

    fn wished_beats(&self, section: usize) -> Option<f64> {
        let here = self.q.map.sections[section].at;
        let mut found = None;
        for wish in self.q.wishes {
            if self.q.map.sections_called(&wish.section).contains(&here)
                && wish.shot_beats.is_some()
            {
                found = wish.shot_beats.map(|b| b.clamp(0.5, 32.0));
            }
        }
        found
    }

    /// The last frame a shot from `frame` may end at without paying for its length.
    fn longest_to(&self, frame: i64) -> i64 {
        let at = self.at(frame);
        let mut to = frame;
        for point in self.points.iter().filter(|p| **p > frame) {
            let allowed = self.beat(self.at(*point)) - self.beat(at) <= 16.25
                || self.at(*point) - at <= 8.0 + self.frame_s;
            if to == frame || allowed {
                to = *point;
            }
            if !allowed {
                break;
            }
        }
        to
    }

    /// What a shot adds by itself, or why it must not be.
    pub fn alone(&self, shot: &Shot) -> Result<f64, String> {
        let w = self.q.weights;
        let end = shot.to_frame;
        let inside: Vec<i64> = self
            .points
            .iter()
            .copied()
            .filter(|p| (shot.from_frame..=end).contains(p))
            .collect();
        let lock = self
            .locks
            .iter()
            .find(|l| l.0 < end && l.1 > shot.from_frame);
        match lock {
            Some(l) if !shot.locked || (l.0, l.1) != (shot.from_frame, end) => {
                return Err("it crosses a lock".into());
            }
            None if shot.locked => return Err("nothing is locked there".into()),
            _ => {}
        }
        if shot.take.is_none() {
            let beats = self.beat(self.at(end)) - self.beat(self.at(shot.from_frame));
            return Ok(-w.black * beats - 60.0);
        }
        let take = self.take(shot);
        let purpose = self.purpose(take);
        let (u, v) = self.piece(shot);
        let (first, last) = (0.0, take.length.seconds());
        if !shot.locked {
            if take.rating == Rating::NoGood {
                return Err("no good".into());
            }
            let half = self.frame_s / 2.0 + 1e-6;
            if shot.in_sync {
                let run = self.run(shot).ok_or("not where it was heard")?;
                let a = run.take_start.seconds().max(first);
                let b = run.take_end.seconds().min(last);
                let heard = (run.song_s_at(a), run.song_s_at(b));
                if self.at(shot.from_frame) < heard.0 - half
                    || self.at(end).min(self.song_s) > heard.1 + half
                {
                    return Err("the run does not cover it".into());
                }
            } else {
                if purpose != Purpose::BRoll {
                    return Err("performance out of sync".into());
                }
                if u < first - 1e-6 || v > last + 2e-6 {
                    return Err("beyond the take".into());
                }
                if end > self.longest_to(shot.from_frame) {
                    return Err("b-roll too long".into());
                }
            }
            for other in &self.locks {
                let held = self.lock_shot(other.2);
                let (a, b) = self.piece(&held);
                if held.take == shot.take && v.min(b) - u.max(a) > 1e-3 {
                    return Err("a lock shows that".into());
                }
            }
        }
        let mut sum = 0.0;
        let (mut beats, mut logs) = (0.0, 0.0);
        let longest = self.longest_to(shot.from_frame);
        for pair in inside.windows(2) {
            let (t0, t1) = (self.at(pair[0]), self.at(pair[1]));
            let b = self.beat(t1) - self.beat(t0);
            let middle = SongTime::nearest_to_seconds((t0 + t1) / 2.0);
            let bar = self.q.map.bars.iter().find(|b| b.at.holds(middle)).or(self
                .q
                .map
                .bars
                .last());
            let bar = bar.unwrap();
            let section = self
                .q
                .map
                .sections
                .iter()
                .position(|s| s.at.holds(middle))
                .unwrap_or(self.q.map.sections.len() - 1);
            let energy = f64::from(bar.energy);
            let (sharp, exposed, moved) =
                self.measures(take, self.take_s(shot, pair[0]), self.take_s(shot, pair[1]));
            sum += w.wish * b * self.intent(take, section, middle);
            sum += w.rating
                * b
                * match take.rating {
                    Rating::Circled => 1.0,
                    Rating::Usable => 0.6,
                    Rating::Unrated => 0.3,
                    Rating::NoGood => 0.0,
                };
            sum += w.sharpness * b * sharp + w.exposure * b * exposed;
            sum += w.movement * b * (1.0 - (moved - energy).abs());
            sum += w.voice
                * b
                * match (purpose, shot.in_sync) {
                    (Purpose::BRoll, _) => 1.0 - f64::from(bar.voice),
                    (_, true) => f64::from(bar.voice),
                    _ => 0.0,
                };
            let trust = match self.run(shot) {
                Some(run) if !shot.locked && !take.placement.alternatives.is_empty() => {
                    run.confidence / 2.0
                }
                Some(run) => run.confidence,
                None => 1.0,
            };
            sum += w.confidence * b * trust;
            if !shot.locked
                && let Some(state) = self.state(take)
            {
                let of = |l: &(i64, i64, usize)| self.state(self.take(&self.lock_shot(l.2)));
                let before = self
                    .locks
                    .iter()
                    .rev()
                    .filter(|l| l.1 <= pair[0])
                    .find_map(of);
                let after = self.locks.iter().filter(|l| l.0 >= pair[1]).find_map(of);
                if before.is_some_and(|s| state < s) || after.is_some_and(|s| state > s) {
                    sum -= 8.0 * b;
                }
            }
            if pair[1] <= longest {
                beats += b;
                let expected = self
                    .wished_beats(section)
                    .unwrap_or(8.0 * f64::powf(0.375, energy));
                logs += b * expected.log2();
            }
        }
        if !shot.locked {
            sum -= w.length * (beats.log2() - logs / beats).powi(2);
            if self.at(end) - self.at(shot.from_frame) < 0.4 - self.frame_s / 2.0 {
                sum -= 12.0;
            }
            if end > longest {
                sum -= 4.0 * (self.beat(self.at(end)) - self.beat(self.at(longest)));
            }
            for room in [u - first, last - v] {
                if room < 0.5 - 1e-6 {
                    sum -= w.handles / 2.0;
                }
            }
        }
        Ok(sum)
    }

    /// What the cuts of a list of shots add, or why the list must not be.
    pub fn together(&self, shots: &[Shot]) -> Result<f64, String> {
        let w = self.q.weights;
        let mut sum = 0.0;
        let mut state = 0;
        let group = |shot: &Shot| {
            shot.take.as_ref().map(|id| match &self.take(shot).setup {
                Some(setup) => format!("setup {setup}"),
                None => format!("take {id}"),
            })
        };
        for (n, shot) in shots.iter().enumerate() {
            if n > 0 {
                sum -= w.on_the_bar * self.off_bar(shot.from_frame);
            }
            if shot.take.is_none() {
                if n > 0 && shots[n - 1].take.is_none() {
                    return Err("black twice".into());
                }
                continue;
            }
            if !shot.locked
                && let Some(here) = self.state(self.take(shot))
            {
                if here < state {
                    return Err("the state runs backwards".into());
                }
                state = here;
            }
            if n > 0 && shots[n - 1].take.is_some() {
                let before = &shots[n - 1];
                if group(before) == group(shot) {
                    sum -= w.same_setup;
                    if before.in_sync
                        && shot.in_sync
                        && !before.locked
                        && !shot.locked
                        && before.take == shot.take
                        && self.run(before) == self.run(shot)
                    {
                        return Err("no cut".into());
                    }
                } else if let (Some(a), Some(b)) =
                    (self.setup(self.take(before)), self.setup(self.take(shot)))
                    && a.framing == b.framing
                    && a.place == b.place
                    && a.purpose == b.purpose
                {
                    sum -= w.near_framing;
                }
            }
            if n > 1 && shots[n - 2].take.is_some() && group(&shots[n - 2]) == group(shot) {
                sum -= w.recent;
            }
            for earlier in &shots[..n] {
                if earlier.take == shot.take && !(earlier.locked && shot.locked) {
                    let ((a, b), (c, d)) = (self.piece(earlier), self.piece(shot));
                    if b.min(d) - a.max(c) > 1e-3 {
                        return Err("shown twice".into());
                    }
                }
            }
        }
        Ok(sum)
    }

    /// Worth of a whole cut, or the first rule it breaks.
    pub fn worth(&self, shots: &[Shot]) -> Result<f64, String> {
        let mut at = 0;
        for shot in shots {
            if shot.from_frame != at || shot.to_frame <= at {
                return Err(format!("a gap or overlap at frame {at}"));
            }
            at = shot.to_frame;
        }
        if at != *self.points.last().unwrap() {
            return Err(format!("it ends at {at}"));
        }
        let alone: f64 = shots
            .iter()
            .map(|s| self.alone(s))
            .sum::<Result<f64, _>>()?;
        Ok(alone + self.together(shots)?)
    }

    fn off_bar(&self, frame: i64) -> f64 {
        let nearest = |s: f64| {
            let target = (s * self.q.rate.fps() + 0.5).floor() as i64;
            *self
                .points
                .iter()
                .min_by_key(|p| (**p - target).abs())
                .unwrap()
        };
        let at = |s: f64| nearest(s) == frame && (self.at(frame) - s).abs() <= self.period() / 2.0;
        let map = self.q.map;
        if map.sections.iter().any(|s| at(s.at.start().seconds())) {
            0.0
        } else if map.downbeats.iter().any(|i| at(map.beats[*i].seconds())) {
            0.25
        } else {
            1.0
        }
    }

    fn lock_shot(&self, index: usize) -> Shot {
        let lock = &self.q.locks[index];
        let &(from_frame, to_frame, _) = self.locks.iter().find(|l| l.2 == index).unwrap();
        let take = self.q.takes.iter().find(|t| t.id == lock.take).unwrap();
        let at = self.at(from_frame);
        // The run that holds most of the lock, the more trusted of two that hold as much; in sync
        // when the lock leaves the start open or asks for where it was heard. In the questions made
        // here a lock on a synced take leaves it open.
        let to = self.at(to_frame);
        let held = |run: &Run| {
            let last = run.take_end.seconds().min(take.length.seconds());
            run.song_s_at(last).min(to) - run.song_start.seconds().max(at)
        };
        let run = if lock.take_start.is_none() {
            let most = take.placement.runs.iter().map(held).fold(0.0, f64::max);
            take.placement
                .runs
                .iter()
                .filter(|run| held(run) == most)
                .max_by(|a, b| a.confidence.partial_cmp(&b.confidence).unwrap())
        } else {
            None
        };
        Shot {
            extra: Default::default(),
            from_frame,
            to_frame,
            take: Some(lock.take.clone()),
            take_start: lock
                .take_start
                .or(run.map(|run| Length::nearest_to_seconds(run.take_s_at(at))))
                .unwrap(),
            speed: run.map_or(1.0, |run| run.speed),
            in_sync: run.is_some(),
            locked: true,
        }
    }

    /// Every shot that could be from one point to another.
    fn options(&self, from_frame: i64, to_frame: i64) -> Vec<(Shot, f64)> {
        let mut shots = Vec::new();
        let shot = |take: Option<&PlacedTake>, start: f64, speed: f64, in_sync| Shot {
            extra: Default::default(),
            from_frame,
            to_frame,
            take: take.map(|t| t.id.clone()),
            take_start: Length::nearest_to_seconds(start),
            speed,
            in_sync,
            locked: false,
        };
        shots.push(shot(None, 0.0, 1.0, false));
        for take in self.q.takes {
            for run in &take.placement.runs {
                let start = run.take_s_at(self.at(from_frame));
                if start > -1.0 {
                    shots.push(shot(Some(take), start, run.speed, true));
                }
            }
            if self.purpose(take) == Purpose::BRoll {
                let length = take.length.seconds();
                let step = f64::max(1.0, length / 60.0);
                let mut start = 0.5;
                shots.push(shot(Some(take), 0.0, 1.0, false));
                while start < length {
                    shots.push(shot(Some(take), start, 1.0, false));
                    start += step;
                }
            }
        }
        if let Some(lock) = self
            .locks
            .iter()
            .find(|l| l.0 == from_frame && l.1 == to_frame)
        {
            shots.push(self.lock_shot(lock.2));
        }
        shots
            .into_iter()
            .filter_map(|shot| {
                let worth = self.alone(&shot).ok()?;
                Some((shot, worth))
            })
            .collect()
    }

    /// The best cut, by trying all.
    pub fn exhaust(&self) -> (f64, Vec<Shot>) {
        let n = self.points.len();
        let options: Vec<Vec<Vec<(Shot, f64)>>> = (0..n)
            .map(|i| {
                (0..n)
                    .map(|j| {
                        if j > i {
                            self.options(self.points[i], self.points[j])
                        } else {
                            Vec::new()
                        }
                    })
                    .collect()
            })
            .collect();
        let mut best = (LEAST_WORTH, Vec::new());
        self.extend(&options, 0, 0.0, &mut Vec::new(), &mut best);
        best
    }

    fn extend(
        &self,
        options: &[Vec<Vec<(Shot, f64)>>],
        i: usize,
        worth: f64,
        shots: &mut Vec<Shot>,
        best: &mut (f64, Vec<Shot>),
    ) {
        if i + 1 == self.points.len() {
            if let Ok(cuts) = self.together(shots)
                && worth + cuts > best.0
            {
                *best = (worth + cuts, shots.clone());
            }
            return;
        }
        for j in i + 1..self.points.len() {
            for (shot, alone) in &options[i][j] {
                shots.push(shot.clone());
                // What breaks a rule early breaks it for good.
                if self.together(shots).is_ok() {
                    self.extend(options, j, worth + alone, shots, best);
                }
                shots.pop();
            }
        }
    }
}
