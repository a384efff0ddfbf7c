//! Reads what is nearly right, by the thousand: every reader of foreign bytes, each for some seconds.
//!
//! ```text
//! cargo run --package fuzz -- [SECONDS] [TARGET…] [--from NUMBER]
//! ```
//!
//! A target that panics, takes more than ten seconds for one input or comes over 600 MB fails, and says the number
//! to start from to see it again. What readers of others panic at is caught where they are called, and counts as a
//! refusal. Prints how much was tried and closes with counts, as the other checks do.

mod mutate;
mod seeds;
mod targets;

use anyhow::{Context as _, bail};
use mutate::{Dice, changed};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::process::ExitCode;
use std::time::{Duration, Instant};
use targets::Target;

/// The longest that one input may take.
const LONGEST: Duration = Duration::from_secs(10);
/// The most memory this may ever have had, kilobytes.
const MOST_KB: u64 = 600 << 10;

fn main() -> anyhow::Result<ExitCode> {
    let mut words: Vec<String> = std::env::args().skip(1).collect();
    let mut from = 1;
    if let Some(at) = words.iter().position(|word| word == "--from") {
        from = words
            .get(at + 1)
            .context("--from needs a number")?
            .parse()?;
        words.drain(at..at + 2);
    }
    let seconds = match words.first().and_then(|word| word.parse().ok()) {
        Some(seconds) => {
            words.remove(0);
            seconds
        }
        None => 60,
    };
    let all = targets::all()?;
    if let Some(unknown) = words
        .iter()
        .find(|word| all.iter().all(|one| one.name != **word))
    {
        let names: Vec<&str> = all.iter().map(|one| one.name).collect();
        bail!(
            "there is no target `{unknown}`; there are {}",
            names.join(", ")
        );
    }
    // A panic that is caught is told once, by its target.
    std::panic::set_hook(Box::new(|_| {}));
    let (mut passed, mut failed) = (0, 0);
    for target in all
        .iter()
        .filter(|one| words.is_empty() || words.iter().any(|word| word == one.name))
    {
        match run(target, from, Duration::from_secs(seconds)) {
            Ok(said) => {
                println!("{:<12} {said}", target.name);
                passed += 1;
            }
            Err(error) => {
                println!("{:<12} FAILED: {error:#}", target.name);
                failed += 1;
            }
        }
    }
    println!("{passed} passed, {failed} failed");
    Ok(match failed {
        0 => ExitCode::SUCCESS,
        _ => ExitCode::FAILURE,
    })
}

fn run(target: &Target, from: u64, time: Duration) -> anyhow::Result<String> {
    let until = Instant::now() + time;
    let (mut tried, mut taken, mut slowest) = (0u64, 0u64, Duration::ZERO);
    for (nth, seed) in target.seeds.iter().enumerate() {
        let good = catch_unwind(AssertUnwindSafe(|| (target.reads)(seed)));
        let good =
            good.map_err(|panic| anyhow::anyhow!("its seed {nth} panics: {}", said(&*panic)))?;
        if !good {
            bail!("its seed {nth} is not read");
        }
    }
    for number in from.. {
        if Instant::now() > until {
            break;
        }
        let mut dice = Dice(number);
        let seed = &target.seeds[dice.below(target.seeds.len())];
        let other = &target.seeds[dice.below(target.seeds.len())];
        let input = changed(seed, other, &mut dice);
        let began = Instant::now();
        let read = catch_unwind(AssertUnwindSafe(|| (target.reads)(&input)));
        let took = began.elapsed();
        slowest = slowest.max(took);
        tried += 1;
        match read {
            Ok(good) => taken += u64::from(good),
            Err(panic) => bail!(
                "input {number} panics: {}; see it with --from {number}",
                said(&*panic)
            ),
        }
        if took > LONGEST {
            bail!("input {number} took {took:.1?}; see it with --from {number}");
        }
        let most_kb = peak_kb();
        if most_kb > MOST_KB {
            bail!(
                "at input {number} it had {} MB; see it with --from {number}",
                most_kb >> 10
            );
        }
    }
    Ok(format!(
        "{tried} inputs, {taken} of them taken, the slowest {} ms, at most {} MB so far",
        slowest.as_millis(),
        peak_kb() >> 10
    ))
}

fn said(panic: &(dyn std::any::Any + Send)) -> String {
    let text = panic.downcast_ref::<&str>().copied();
    let text = text.or_else(|| panic.downcast_ref::<String>().map(String::as_str));
    text.unwrap_or("of no name").to_owned()
}

/// The most memory this program has had, kilobytes; 0 where the system does not say.
fn peak_kb() -> u64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find_map(|line| line.strip_prefix("VmHWM:"));
    line.and_then(|line| line.split_whitespace().next()?.parse().ok())
        .unwrap_or(0)
}
