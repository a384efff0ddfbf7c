//! How long an assembly takes: a song of four minutes with sixty takes, made from a seed.
//!
//! `cargo run -p assemble --example bench [SEEDS [WORK]]`, where WORK multiplies the usual bound on work.

#[path = "../src/questions.rs"]
#[allow(dead_code, missing_docs)]
mod questions;
mod answer {
    pub use assemble::Question;
}

use std::time::Instant;

fn main() {
    let seeds = std::env::args()
        .nth(1)
        .and_then(|n| n.parse().ok())
        .unwrap_or(5);
    let work = std::env::args()
        .nth(2)
        .and_then(|n| n.parse::<f64>().ok())
        .unwrap_or(1.0);
    let work = (assemble::repeats::WORK as f64 * work) as usize;
    println!("seed  takes  beats  shots  black    score    bound     gap  proven  seconds");
    let mut slowest = 0.0f64;
    for seed in 0..seeds {
        // 120 bars of two seconds; 48 passes and 12 takes of b-roll.
        let case = questions::large(seed, 120, 48, 12);
        let q = case.question();
        let began = Instant::now();
        match assemble::assemble_within(&q, work, &|| true) {
            Ok(answer) => println!(
                "{seed:>4}  {:>5}  {:>5}  {:>5}  {:>5}  {:>7.2}  {:>7.2}  {:>6.3}%  {:>6}  {:>7.3}",
                case.takes.len(),
                case.map.beats.len(),
                answer.shots.len(),
                answer.shots.iter().filter(|s| s.take.is_none()).count(),
                answer.score,
                answer.bound,
                (answer.bound / answer.score - 1.0) * 100.0,
                answer.proven,
                began.elapsed().as_secs_f64()
            ),
            Err(error) => println!("{seed:>4}  {error}"),
        }
        slowest = slowest.max(began.elapsed().as_secs_f64());
    }
    println!(
        "{{\"bench\": \"assembly, 4 minutes, 60 takes, slowest of {seeds}\", \"unit\": \"s\", \"figure\": {slowest:.3}}}"
    );
}
