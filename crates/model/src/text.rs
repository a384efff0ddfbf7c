//! How sentences for a person are laid out in lines; every list that is printed uses it.

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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_keep_to_their_width_and_a_long_word_stands_alone() {
        assert_eq!(
            wrapped("one two  three\nunbreakable-word four", "- ", "  ", 12),
            "- one two\n  three\n  unbreakable-word\n  four\n"
        );
        assert_eq!(wrapped("", "- ", "  ", 12), "-\n");
    }
}
