//! What a section of the song is called: its letter, its call (`B2`), its name.

use crate::song::{MAX_SECTION_NAME, SongMap};

/// A section's letter as it was typed.
///
/// # Errors
/// A sentence when there is none, or it is longer than [`MAX_SECTION_NAME`].
pub fn letter(typed: &str) -> Result<String, String> {
    let typed = typed.trim();
    match typed.chars().count() {
        1..=MAX_SECTION_NAME => Ok(typed.to_owned()),
        _ => Err(format!(
            "a section's letter is one letter or a short word, of 1 to {MAX_SECTION_NAME} characters, and `{}` is not one",
            typed.chars().take(MAX_SECTION_NAME + 1).collect::<String>()
        )),
    }
}

/// The letter of the `nth` music of a song, counted from 0: `A` to `Z`, then `AA`.
pub fn nth_letter(nth: usize) -> String {
    let last = char::from(b'A' + (nth % 26) as u8);
    match nth / 26 {
        0 => last.to_string(),
        before => format!("{}{last}", nth_letter(before - 1)),
    }
}

impl SongMap {
    /// Which music section `index` is, counted from 0 in the order in which they come: sections of one letter
    /// are one. Colours go by it.
    pub fn music(&self, index: usize) -> usize {
        let mut letters: Vec<&str> = Vec::new();
        for section in &self.sections[..=index] {
            if !letters.contains(&section.label.as_str()) {
                letters.push(&section.label);
            }
        }
        let own = &self.sections[index].label;
        letters.iter().position(|one| one == own).unwrap_or(0)
    }

    /// A section's call, with its name where it has one: `B2 last chorus`.
    pub fn section_called(&self, index: usize) -> String {
        let call = self.section_call(index);
        match &self.sections[index].name {
            Some(name) => format!("{call} {name}"),
            None => call,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_letter_is_counted_in_characters() {
        assert_eq!(letter(" B ").unwrap(), "B");
        assert_eq!(letter(&"é".repeat(40)).unwrap(), "é".repeat(40));
        for bad in ["", "  ", &"é".repeat(41)] {
            let says = letter(bad).unwrap_err();
            assert!(says.contains("1 to 40 characters"), "{says}");
        }
    }

    #[test]
    fn letters_go_on_after_z() {
        let all: Vec<String> = [0, 25, 26, 51, 52, 701, 702].map(nth_letter).into();
        assert_eq!(all, ["A", "Z", "AA", "AZ", "BA", "ZZ", "AAA"]);
    }
}
