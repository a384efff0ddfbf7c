//! `barebulb listen`: what the song does, and a person's corrections of it.

use crate::End;
use crate::arguments::{Correct, Listen};
use crate::screen::Screen;
use anyhow::bail;
use listen::correct::{self, Snap};
use model::{Correction, Corrections, Edit, SongMap, SongTime};
use std::fmt::Write as _;
use steps::{Heard, Job};

pub fn run(args: &Listen, screen: &Screen) -> anyhow::Result<End> {
    let corrects = !args.correct.is_nothing();
    let heard = if args.target.is_dir() {
        let mut job = Job::open(&args.target)?;
        let mut heard = match &args.song {
            Some(song) => job.set_song(song, screen)?,
            None => job.heard(screen)?,
        };
        if corrects {
            apply(&args.correct, &mut job, &heard)?;
            heard = job.corrected(heard.listening);
        }
        heard
    } else {
        if args.song.is_some() || corrects {
            bail!(
                "`{}` is no project folder; --song and corrections are kept in a project (make one with `barebulb new DIR --song FILE`)",
                args.target.display()
            );
        }
        steps::listen_file(&args.target, screen)?
    };
    heard.notes.iter().for_each(|note| screen.finding(note));
    screen.result(&heard.report(), || text(&heard));
    Ok(End::Done)
}

impl Correct {
    fn is_nothing(&self) -> bool {
        !(self.halve || self.double || self.as_heard)
            && self.tempo.is_none()
            && self.beats_per_bar.is_none()
            && self.first_downbeat.is_none()
            && [
                self.tap.len(),
                self.split.len(),
                self.join.len(),
                self.shift.len(),
                self.letter.len(),
                self.call.len(),
            ]
            .iter()
            .all(|count| *count == 0)
    }
}

fn apply(typed: &Correct, job: &mut Job, heard: &Heard) -> anyhow::Result<()> {
    let mut corrections: Vec<Correction> = Vec::new();
    if typed.as_heard {
        corrections.push(Correction::ForgetAll);
    }
    if let Some(bpm) = typed.tempo {
        corrections.push(Correction::Tempo { bpm: Some(bpm) });
    }
    if typed.halve {
        corrections.push(Correction::Halve);
    }
    if typed.double {
        corrections.push(Correction::Double);
    }
    if let Some(beats) = typed.beats_per_bar {
        corrections.push(Correction::BeatsPerBar { beats: Some(beats) });
    }
    if let Some(at) = typed.first_downbeat {
        corrections.push(Correction::FirstDownbeat { at: Some(at) });
    }
    corrections.extend(typed.tap.iter().map(|at| Correction::Tap { at: *at }));
    for correction in corrections {
        job.edit(&Edit::Correct { correction })?;
    }
    for at in &typed.split {
        sections(job, heard, |map, held| {
            correct::split(map, held, *at, Snap::ToBar)
        })?;
    }
    for at in &typed.join {
        sections(job, heard, |map, held| {
            correct::merge(map, held, boundary_near(map, *at))
        })?;
    }
    for (from, to) in &typed.shift {
        sections(job, heard, |map, held| {
            correct::drag_boundary(map, held, boundary_near(map, *from), *to, Snap::Free)
        })?;
    }
    for (at, letter) in &typed.letter {
        sections(job, heard, |map, held| {
            correct::relabel(map, held, map.section_index_at(*at), letter)
        })?;
    }
    for (at, name) in &typed.call {
        sections(job, heard, |map, held| {
            correct::name(map, held, map.section_index_at(*at), Some(name))
        })?;
    }
    Ok(())
}

/// One change of the sections, made on what the one before left.
fn sections(
    job: &mut Job,
    heard: &Heard,
    edit: impl Fn(&SongMap, &Corrections) -> Result<Corrections, listen::Error>,
) -> anyhow::Result<()> {
    let map = job.corrected(heard.listening.clone()).map;
    let held = job
        .project()
        .song
        .as_ref()
        .map(|song| song.corrections.clone())
        .unwrap_or_default();
    let sections = edit(&map, &held)?.sections;
    job.edit(&Edit::Correct {
        correction: Correction::Sections {
            sections,
            was: held.sections,
        },
    })?;
    Ok(())
}

/// The boundary nearest to `at`: the index of the section before it.
fn boundary_near(map: &SongMap, at: SongTime) -> usize {
    let apart = |index: &usize| map.sections[*index].at.end().since(at).abs();
    (0..map.sections.len().saturating_sub(1))
        .min_by_key(apart)
        .unwrap_or(0)
}

fn text(heard: &Heard) -> String {
    let map = &heard.map;
    let report = heard.report();
    let mut text = String::new();
    let mut row = |what: &str, found: String| {
        let _ = writeln!(text, "{what:<10} {found}");
    };
    row(
        "length",
        format!(
            "{}, {} Hz, {} channels",
            map.length, report.sample_rate_hz, report.channels
        ),
    );
    row(
        "tempo",
        format!(
            "{:.2} beats a minute, {} in a bar, {} bars",
            map.tempo_bpm,
            map.beats_per_bar,
            map.downbeats.len()
        ),
    );
    let loudness = |value: Option<f64>, unit: &str| {
        value.map_or("none".to_owned(), |value| format!("{value:.1} {unit}"))
    };
    row(
        "loudness",
        format!(
            "{}, range {}, true peak {}",
            loudness(report.loudness.integrated_lufs, "LUFS"),
            loudness(report.loudness.range_lu, "LU"),
            loudness(report.loudness.true_peak_dbtp, "dBTP")
        ),
    );
    text.push('\n');
    let _ = writeln!(
        text,
        "{:<4} {:<16} {:>9} {:>9} {:>11}  {:<12} voice",
        "", "", "from", "to", "bars", "energy"
    );
    for (index, section) in map.sections.iter().enumerate() {
        let first = map.bars[map.bar_index_at(section.at.start())].number;
        let last =
            map.bars[map.bar_index_at(SongTime::from_ticks(section.at.end().ticks() - 1))].number;
        let _ = writeln!(
            text,
            "{:<4} {:<16} {:>9} {:>9} {:>11}  {:<12} {:.0}%",
            map.section_call(index),
            section.name.as_deref().unwrap_or(""),
            section.at.start().to_string(),
            section.at.end().to_string(),
            format!("{first}–{last}"),
            "#".repeat((section.energy * 10.0).round() as usize),
            section.voiced * 100.0
        );
    }
    text
}
