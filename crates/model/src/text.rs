//! How sentences for a person are laid out in lines; every list that is printed uses it.

use crate::time::Length;

/// `words` broken at blanks into lines of at most `width` characters, the first led by `first`, the
/// others by `rest`. A word longer than a line stands alone. Ends with a line feed.
pub fn wrapped(words: &str, first: &str, rest: &str, width: usize) -> String {
    let mut out = String::new();
    let mut line = String::from(first);
    let mut bare = true;
    for word in words.split_whitespace() {
        let needs = line.chars().count() + word.chars().count() + usize::from(!bare);
        if !bare && needs > width {
            out += line.trim_end();
            out.push('\n');
            line = rest.into();
            bare = true;
        }
        if !bare {
            line.push(' ');
        }
        line += word;
        bare = false;
    }
    out += line.trim_end();
    out.push('\n');
    out
}

/// `text` as a sentence: capital first, full stop last. A name in backticks stays as it is written.
pub fn sentence(text: &str) -> String {
    let mut letters = text.chars();
    let Some(first) = letters.next() else {
        return String::new();
    };
    let mut out: String = first.to_uppercase().collect();
    out.push_str(letters.as_str());
    if !out.ends_with(['.', '!', '?', ':']) {
        out.push('.');
    }
    out
}

/// `1 bar`, `2 bars`.
pub fn counted(count: impl TryInto<u64>, noun: &str) -> String {
    let count = count.try_into().unwrap_or(u64::MAX);
    format!("{count} {noun}{}", if count == 1 { "" } else { "s" })
}

/// Ids in backticks, joined by commas and `and`; `nothing` where there are none.
pub fn listed<T: std::fmt::Display>(ids: impl IntoIterator<Item = T>) -> String {
    let mut names: Vec<String> = ids.into_iter().map(|id| format!("`{id}`")).collect();
    match names.pop() {
        None => "nothing".into(),
        Some(only) if names.is_empty() => only,
        Some(last) => format!("{} and {last}", names.join(", ")),
    }
}

/// `3`, `3–7`: numbers that follow each other.
pub fn span(first: u32, last: u32) -> String {
    match first == last {
        true => first.to_string(),
        false => format!("{first}–{last}"),
    }
}

/// `value` with at most `decimals`, without zeros that say nothing.
pub fn number(value: f64, decimals: usize) -> String {
    let text = format!("{value:.decimals$}");
    let text = match text.contains('.') {
        true => text.trim_end_matches('0').trim_end_matches('.'),
        false => &text,
    };
    if text == "-0" { "0" } else { text }.to_owned()
}

/// A length in minutes and whole seconds: `2:33`.
pub fn minutes(length: Length) -> String {
    let seconds = length.seconds().round() as i64;
    format!("{}:{:02}", seconds / 60, seconds % 60)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn figures_and_sentences_read_as_people_write_them() {
        assert_eq!(sentence("`wide` is dark"), "`wide` is dark.");
        assert_eq!(sentence("ask first!"), "Ask first!");
        assert_eq!(minutes(Length::nearest_to_seconds(59.6)), "1:00");
        assert_eq!(minutes(Length::nearest_to_seconds(153.2)), "2:33");
    }

    #[test]
    fn lines_keep_to_their_width_and_a_long_word_stands_alone() {
        assert_eq!(
            wrapped("one two  three\nunbreakable-word four", "- ", "  ", 12),
            "- one two\n  three\n  unbreakable-word\n  four\n"
        );
        assert_eq!(wrapped("", "- ", "  ", 12), "-\n");
    }

    #[test]
    fn counts_lists_and_numbers_as_they_are_read() {
        assert_eq!(
            (counted(1, "bar"), counted(0, "bar")),
            ("1 bar".into(), "0 bars".into())
        );
        assert_eq!(listed(["a", "b", "c"]), "`a`, `b` and `c`");
        assert_eq!(listed(["a"]), "`a`");
        assert_eq!(listed::<&str>([]), "nothing");
        assert_eq!(
            (number(1.50, 3), number(100.0, 0), number(-0.001, 2)),
            ("1.5".into(), "100".into(), "0".into())
        );
    }
}
