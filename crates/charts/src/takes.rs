//! Takes over the song: where each was heard, how sure that is, how the clocks drifted, and where else it fits.

use crate::draw::{Hang, Svg, figure, fitted, signed, text_width};
use crate::figure::{Chart, Width};
use crate::song_axis::{SongAxis, song_clock};
use crate::table::Table;
use model::SongMap;

/// One start of playback, on the song.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct TakeRun {
    /// From, seconds into the song.
    pub from_s: f64,
    /// To.
    pub to_s: f64,
    /// Song seconds per second of take.
    pub speed: f64,
    /// The recorder's clock against the song's, parts per million.
    pub drift_ppm: f64,
    /// How sure, 0 to 1.
    pub confidence: f64,
}

/// Another place on the song that the take fits.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct AlternativeRun {
    /// From, seconds into the song.
    pub from_s: f64,
    /// To.
    pub to_s: f64,
    /// How sure, 0 to 1.
    pub confidence: f64,
}

/// One take.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct TakeLine {
    /// Its id.
    pub take: String,
    /// What its setup is called, where it has one.
    pub setup: String,
    /// What the maker thinks of it, in a word.
    pub rating: String,
    /// Whether it was placed by hand.
    pub by_hand: bool,
    /// Where it was heard.
    pub runs: Vec<TakeRun>,
    /// Where else it fits.
    pub alternatives: Vec<AlternativeRun>,
}

/// All takes over the song.
#[derive(Clone, Debug)]
pub struct TakesOverSong<'a> {
    /// The song as a ruler.
    pub map: &'a SongMap,
    /// The takes.
    pub takes: Vec<TakeLine>,
}

/// Height of one lane of runs, px.
const LANE: f64 = 15.0;

impl TakeRun {
    /// `96 % sure, +12 ppm, at 2.00 × speed`.
    fn says(&self) -> String {
        let drift = signed(self.drift_ppm, 0);
        let mut says = format!("{} sure, {drift} ppm", percent(self.confidence));
        if (self.speed - 1.0).abs() > 0.0005 {
            says += &format!(", {} × speed", figure(self.speed, 2));
        }
        says
    }
}

fn percent(share: f64) -> String {
    let share = if share.is_finite() {
        share.clamp(0.0, 1.0)
    } else {
        0.0
    };
    format!("{} %", figure(share * 100.0, 0))
}

/// Each stretch in the first lane in which it meets no other: the lane of each, and how many there are.
fn lanes(stretches: &[[f64; 2]]) -> (Vec<usize>, usize) {
    let mut used: Vec<Vec<[f64; 2]>> = Vec::new();
    let mut out = Vec::with_capacity(stretches.len());
    for &[from, to] in stretches {
        let free = used
            .iter()
            .position(|lane| lane.iter().all(|[a, b]| to <= *a || from >= *b));
        let lane = free.unwrap_or_else(|| {
            used.push(Vec::new());
            used.len() - 1
        });
        used[lane].push([from, to]);
        out.push(lane);
    }
    (out, used.len())
}

impl TakeLine {
    fn summary(&self) -> String {
        let main = self
            .runs
            .iter()
            .max_by(|a, b| (a.to_s - a.from_s).total_cmp(&(b.to_s - b.from_s)));
        match main {
            None => "song not heard".into(),
            Some(_) if self.by_hand => "placed by hand".into(),
            Some(run) => run.says(),
        }
    }

    fn choice(&self) -> String {
        match self.alternatives.len() {
            0 => String::new(),
            1 => "fits 1 other place: choose".into(),
            many => format!("fits {many} other places: choose"),
        }
    }
}

impl Chart for TakesOverSong<'_> {
    fn name(&self) -> String {
        "Takes over the song".into()
    }

    fn svg(&self, id: &str, width: Width) -> String {
        let narrow = width.is_narrow();
        let (left, right, size) = if narrow {
            (4.0, 4.0, 12.0)
        } else {
            (210.0, 250.0, 13.0)
        };
        let axis = SongAxis::new(self.map, left, width.px() - left - right);
        let (head, top) = (24.0, 46.0);
        struct Row {
            lanes: Vec<usize>,
            runs: f64,
            ghosts: f64,
            tall: f64,
        }
        let rows: Vec<Row> = self
            .takes
            .iter()
            .map(|take| {
                let of_runs: Vec<[f64; 2]> = take.runs.iter().map(|r| [r.from_s, r.to_s]).collect();
                let of_others: Vec<[f64; 2]> = take
                    .alternatives
                    .iter()
                    .map(|a| [a.from_s, a.to_s])
                    .collect();
                let (mut own, runs) = lanes(&of_runs);
                let (others, ghosts) = lanes(&of_others);
                own.extend(others);
                let drawn = LANE * (runs.max(1) + ghosts) as f64;
                let words = if take.alternatives.is_empty() {
                    17.0
                } else {
                    34.0
                };
                let tall = if narrow {
                    18.0 + drawn + words + 8.0
                } else {
                    drawn.max(34.0) + 10.0
                };
                Row {
                    lanes: own,
                    runs: runs.max(1) as f64,
                    ghosts: ghosts as f64,
                    tall,
                }
            })
            .collect();
        let height = top + rows.iter().map(|row| row.tall).sum::<f64>() + 4.0;
        let mut svg = Svg::new(id, width.px(), height, &self.name(), false);
        axis.head(&mut svg, self.map, 0.0, head, height);
        // Times where they find room.
        let mut free = f64::NEG_INFINITY;
        for section in &self.map.sections {
            let at = section.at.start().seconds();
            let says = song_clock(at);
            let fits = axis.px(at) + 4.0 + text_width(&says, 11.0) <= width.px() - right;
            if axis.px(at) >= free && fits {
                svg.text(
                    "faint-text",
                    [axis.px(at) + 4.0, head + 14.0],
                    11.0,
                    Hang::Start,
                    &says,
                );
                free = axis.px(at) + text_width(&says, 11.0) + 8.0;
            }
        }
        let mut y = top;
        for (take, row) in self.takes.iter().zip(&rows) {
            let about = match (take.setup.is_empty(), take.rating.is_empty()) {
                (true, true) => String::new(),
                (true, false) => take.rating.clone(),
                (false, true) => take.setup.clone(),
                (false, false) => format!("{}, {}", take.setup, take.rating),
            };
            let summary = take.summary();
            svg.line("rule", [0.0, y - 4.0], [width.px(), y - 4.0]);
            let lane_top = if narrow {
                svg.text(
                    "strong halo",
                    [left, y + 11.0],
                    size,
                    Hang::Start,
                    &fitted(&take.take, 110.0, size),
                );
                svg.text(
                    "halo",
                    [width.px() - right, y + 11.0],
                    size,
                    Hang::End,
                    &fitted(&about, 200.0, size),
                );
                y + 18.0
            } else {
                svg.text(
                    "strong",
                    [0.0, y + 14.0],
                    size,
                    Hang::Start,
                    &fitted(&take.take, left - 10.0, size),
                );
                svg.text(
                    "",
                    [0.0, y + 31.0],
                    size,
                    Hang::Start,
                    &fitted(&about, left - 10.0, size),
                );
                y + 4.0
            };
            let ruler = lane_top + LANE * row.runs / 2.0;
            svg.line("level", [axis.px(0.0), ruler], [axis.px(f64::MAX), ruler]);
            for (run, lane) in take.runs.iter().zip(&row.lanes) {
                let (x0, x1) = (axis.px(run.from_s), axis.px(run.to_s));
                // Squared, so that what is unsure looks it.
                let sure = if run.confidence.is_finite() {
                    run.confidence.clamp(0.0, 1.0)
                } else {
                    0.0
                };
                let thick = 1.5 + 10.0 * sure * sure;
                let middle = lane_top + LANE * (*lane as f64 + 0.5);
                let says = format!(
                    "{} over {} to {}: {}",
                    take.take,
                    song_clock(run.from_s),
                    song_clock(run.to_s),
                    run.says()
                );
                let class = if take.by_hand { "run by-hand" } else { "run" };
                svg.rect(
                    class,
                    [x0, middle - thick / 2.0, (x1 - x0).max(1.5), thick],
                    &says,
                );
                // Several runs have a number beside each, where it stands free.
                let end = x1 + 44.0;
                let free = take.runs.iter().zip(&row.lanes).all(|(other, beside)| {
                    let from = axis.px(other.from_s);
                    beside != lane || from < x1 || from > end
                });
                if take.runs.len() > 1 && free && end < axis.px(f64::MAX) {
                    let number = percent(run.confidence);
                    let at = [x1 + 6.0, middle + 4.0];
                    svg.text("halo", at, 11.0, Hang::Start, &number);
                }
            }
            let ghosts = lane_top + LANE * row.runs;
            for (other, lane) in take
                .alternatives
                .iter()
                .zip(row.lanes.iter().skip(take.runs.len()))
            {
                let (x0, x1) = (axis.px(other.from_s), axis.px(other.to_s));
                let says = format!(
                    "may also lie over {} to {}: {} sure",
                    song_clock(other.from_s),
                    song_clock(other.to_s),
                    percent(other.confidence)
                );
                let top = ghosts + LANE * *lane as f64;
                let wide = (x1 - x0 - 1.0).max(1.5);
                svg.rect("ghost", [x0 + 0.5, top + 1.0, wide, LANE - 2.0], &says);
                let number = fitted(&percent(other.confidence), wide, 11.0);
                let at = [(x0 + x1) / 2.0, top + 11.5];
                svg.text("", at, 11.0, Hang::Middle, &number);
            }
            if narrow {
                let words = ghosts + LANE * row.ghosts + 11.0;
                svg.text("halo", [left, words], size, Hang::Start, &summary);
                svg.text(
                    "strong halo",
                    [left, words + 17.0],
                    size,
                    Hang::Start,
                    &take.choice(),
                );
            } else {
                let x = width.px() - right + 14.0;
                svg.text("", [x, y + 14.0], size, Hang::Start, &summary);
                svg.text("strong", [x, y + 31.0], size, Hang::Start, &take.choice());
            }
            y += row.tall;
        }
        svg.end()
    }

    fn rows(&self) -> Table {
        let mut table = Table::new([
            "take",
            "setup",
            "rating",
            "song from",
            "song to",
            "how sure",
            "drift",
            "speed",
        ]);
        for take in &self.takes {
            let mut row = |from: String, to: String, sure: String, drift: String, speed: String| {
                table.push([
                    take.take.clone(),
                    take.setup.clone(),
                    take.rating.clone(),
                    from,
                    to,
                    sure,
                    drift,
                    speed,
                ]);
            };
            if take.runs.is_empty() {
                row(
                    "not heard".into(),
                    String::new(),
                    String::new(),
                    String::new(),
                    String::new(),
                );
            }
            for run in &take.runs {
                let sure = if take.by_hand {
                    "by hand".into()
                } else {
                    percent(run.confidence)
                };
                let drift = format!("{} ppm", signed(run.drift_ppm, 1));
                row(
                    song_clock(run.from_s),
                    song_clock(run.to_s),
                    sure,
                    drift,
                    figure(run.speed, 3),
                );
            }
            for other in &take.alternatives {
                let sure = format!("or here: {}", percent(other.confidence));
                row(
                    song_clock(other.from_s),
                    song_clock(other.to_s),
                    sure,
                    String::new(),
                    String::new(),
                );
            }
        }
        table
    }
}
