//! What must hold of files, the song, its sections, and of what was made of them, beyond their fields alone.

use super::Check;
use crate::project::Project;
use crate::song::{MarkedSection, MediaFile};

impl Check {
    pub(super) fn file(&mut self, field: &str, file: &MediaFile) {
        if file.path.is_empty() || file.path.len() > 4096 {
            self.say(
                &format_args!("{field}.path"),
                "a file needs a path of 1 to 4096 bytes",
            );
        }
        let digit = |b: u8| b.is_ascii_digit() || (b'a'..=b'f').contains(&b);
        if file.hash.len() != 32 || !file.hash.bytes().all(digit) {
            self.say(
                &format_args!("{field}.hash"),
                "a hash is 32 lower-case hexadecimal digits",
            );
        }
    }

    pub(super) fn song(&mut self, project: &Project) {
        for (index, take) in project.takes.iter().enumerate() {
            self.file(&format!("takes[{index}].file"), &take.file);
        }
        let Some(song) = &project.song else { return };
        self.file("song.file", &song.file);
        for (index, line) in song.lyrics.iter().enumerate() {
            if line.at.is_some_and(|at| at.start().ticks() < 0) {
                self.say(
                    &format_args!("song.lyrics[{index}].at"),
                    "a lyric line can't be sung before the song starts",
                );
            }
        }
        let taps = &song.corrections.taps;
        if taps.windows(2).any(|pair| pair[0] >= pair[1]) {
            self.say(&"song.corrections.taps", "tapped beats must rise");
        }
        if let Some(sections) = &song.corrections.sections {
            self.sections(sections);
        }
    }

    fn sections(&mut self, sections: &[MarkedSection]) {
        let field = "song.corrections.sections";
        if sections.is_empty() {
            self.say(
                &field,
                "a song has at least one section; leave the list out to use what was heard",
            );
        }
        for (index, section) in sections.iter().enumerate() {
            if section.at.start().ticks() < 0 {
                self.say(
                    &format_args!("{field}[{index}].at"),
                    "a section can't start before the song",
                );
            }
        }
        for (index, pair) in sections.windows(2).enumerate() {
            if pair[1].at.start() < pair[0].at.end() {
                self.say(
                    &format_args!("{field}[{}].at", index + 1),
                    format!("section {} starts at {} before section {} ends at {}; sections can't overlap", pair[1].label, pair[1].at.start(), pair[0].label, pair[0].at.end()),
                );
            }
        }
    }

    pub(super) fn cuts(&mut self, project: &Project) {
        for (index, lock) in project.locks.iter().enumerate() {
            let mut before = project.locks[..index].iter();
            if let Some(other) = before.find(|other| other.at.overlap(lock.at).is_some()) {
                self.say(
                    &format_args!("locks[{index}].at"),
                    format!(
                        "locks {} and {} overlap; free one of them first",
                        other.at, lock.at
                    ),
                );
            }
        }
        for (index, cut) in project.cuts.iter().enumerate() {
            if index > 0 && cut.version <= project.cuts[index - 1].version {
                self.say(
                    &format_args!("cuts[{index}].version"),
                    "versions of the cut must rise",
                );
            }
            let mut expected = 0;
            for (nth, shot) in cut.shots.iter().enumerate() {
                if shot.from_frame != expected || shot.to_frame <= shot.from_frame {
                    self.say(
                        &format_args!("cuts[{index}].shots[{nth}]"),
                        format!("shots must follow each other without gap or overlap; this one runs from frame {} to {} and should start at {expected}", shot.from_frame, shot.to_frame),
                    );
                    break;
                }
                expected = shot.to_frame;
            }
        }
    }
}
