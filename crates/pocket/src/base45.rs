//! Base45 (RFC 9285): bytes as the 45 characters that a QR code holds at 5.5 bits each.

/// The characters, in order of their value; those of the alphanumeric mode of ISO/IEC 18004.
const CHARACTERS: &[u8; 45] = b"0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ $%*+-./:";

/// `bytes` as text: three characters for each two bytes, two for a last single one.
pub fn encode(bytes: &[u8]) -> String {
    let mut text = String::with_capacity(bytes.len() * 3 / 2 + 2);
    for pair in bytes.chunks(2) {
        let (mut value, digits) = match pair {
            [first, second] => (usize::from(*first) * 256 + usize::from(*second), 3),
            _ => (usize::from(pair[0]), 2),
        };
        for _ in 0..digits {
            text.push(char::from(CHARACTERS[value % 45]));
            value /= 45;
        }
    }
    text
}

/// The bytes that `text` stands for; `None` where it is no Base45.
pub fn decode(text: &str) -> Option<Vec<u8>> {
    let value = |character: &u8| CHARACTERS.iter().position(|known| known == character);
    let mut bytes = Vec::with_capacity(text.len() * 2 / 3 + 1);
    for group in text.as_bytes().chunks(3) {
        let digits: Vec<usize> = group.iter().map(value).collect::<Option<_>>()?;
        let sum = |digits: &[usize]| digits.iter().rev().fold(0, |sum, digit| sum * 45 + digit);
        match digits.len() {
            3 => bytes.extend(u16::try_from(sum(&digits)).ok()?.to_be_bytes()),
            2 => bytes.push(u8::try_from(sum(&digits)).ok()?),
            _ => return None,
        }
    }
    Some(bytes)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn the_examples_of_rfc_9285() {
        // Source: RFC 9285, sections 4.3 and 4.4.
        for (plain, coded) in [
            ("AB", "BB8"),
            ("Hello!!", "%69 VD92EX0"),
            ("base-45", "UJCLQE7W581"),
            ("ietf!", "QED8WEX0"),
        ] {
            assert_eq!(encode(plain.as_bytes()), coded);
            assert_eq!(decode(coded).unwrap(), plain.as_bytes());
        }
        for bad in ["GGW", "::", "A", "AB8a", "é45"] {
            assert_eq!(decode(bad), None, "{bad}");
        }
    }

    proptest! {
        #[test]
        fn every_bytes_come_back(bytes in prop::collection::vec(any::<u8>(), 0..400)) {
            prop_assert_eq!(decode(&encode(&bytes)), Some(bytes));
        }
    }
}
