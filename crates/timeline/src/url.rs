//! Where a file lies, as a URL reference (RFC 3986).
//!
//! Everything but letters, digits, `-._~` and the `/` between folders is percent-encoded as UTF-8
//! bytes, so that spaces, quotes, `#`, `%` and emoji survive any reader. It does not look whether a
//! file is there.

/// A reference to the file at `path`.
///
/// A relative path (with `/`) becomes a relative reference that starts with `to_project`, the way
/// from the timeline's folder to the project's. An absolute one becomes a `file:` URL; drive
/// letters (`C:\` or `C:/`) and shares (`\\host\share`) count as absolute.
pub fn reference(to_project: &str, path: &str) -> String {
    if let Some(share) = path.strip_prefix("\\\\") {
        return format!("file://{}", encode(&share.replace('\\', "/")));
    }
    if path.starts_with('/') {
        return format!("file://{}", encode(path));
    }
    let bytes = path.as_bytes();
    if bytes.len() > 2
        && bytes[0].is_ascii_alphabetic()
        && bytes[1] == b':'
        && matches!(bytes[2], b'/' | b'\\')
    {
        let (drive, rest) = path.split_at(2);
        return format!("file:///{drive}{}", encode(&rest.replace('\\', "/")));
    }
    encode(&format!("{to_project}{path}"))
}

/// `text` with every byte that could mean something else written `%XX`.
fn encode(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for byte in text.bytes() {
        if byte.is_ascii_alphanumeric() || b"-._~/".contains(&byte) {
            out.push(char::from(byte));
        } else {
            out.push_str(&format!("%{byte:02X}"));
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn where_files_lie() {
        for (path, url) in [
            ("takes/a.mov", "../takes/a.mov"),
            (
                "takes/take 1 #2 100%.mov",
                "../takes/take%201%20%232%20100%25.mov",
            ),
            (
                "takes/“a”'b\"?.mov",
                "../takes/%E2%80%9Ca%E2%80%9D%27b%22%3F.mov",
            ),
            ("takes/🎬.mov", "../takes/%F0%9F%8E%AC.mov"),
            ("12:30.mov", "../12%3A30.mov"),
            ("/media/card 1/a.mov", "file:///media/card%201/a.mov"),
            ("C:\\card 1\\a.mov", "file:///C:/card%201/a.mov"),
            ("D:/a.mov", "file:///D:/a.mov"),
            ("\\\\host\\share\\a.mov", "file://host/share/a.mov"),
        ] {
            assert_eq!(reference("../", path), url);
        }
        // RFC 3986 4.2: the first segment of a relative reference may not hold a bare colon.
        assert_eq!(reference("", "a:b.mov"), "a%3Ab.mov");
    }

    proptest! {
        #[test]
        fn only_safe_bytes_and_every_one_comes_back(path in "\\PC{0,60}|[\\x00-\\x7f]{0,60}") {
            let url = encode(&path);
            prop_assert!(url.bytes().all(|b| b.is_ascii_alphanumeric() || b"-._~/%".contains(&b)));
            let mut back = Vec::new();
            let mut bytes = url.bytes();
            while let Some(byte) = bytes.next() {
                if byte == b'%' {
                    let pair = [bytes.next().unwrap(), bytes.next().unwrap()];
                    let hex = std::str::from_utf8(&pair).unwrap().to_owned();
                    back.push(u8::from_str_radix(&hex, 16).unwrap());
                } else {
                    back.push(byte);
                }
            }
            prop_assert_eq!(back, path.into_bytes());
        }
    }
}
