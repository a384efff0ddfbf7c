//! What a camera writes into a photograph, as bytes: a TIFF structure (TIFF 6.0) with the fields of
//! EXIF 2.32, big endian. It writes what the demo's phone knows, and nothing else.

/// A field's value.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Value {
    /// A text; its closing zero is added.
    Text(&'static str),
    /// A text made up as we go.
    Own(String),
    /// 16 bits.
    Short(u16),
    /// Fractions.
    Ratios(Vec<(u32, u32)>),
    /// A signed fraction.
    Signed(i32, i32),
    /// Bytes of no kind.
    Bytes(&'static [u8]),
    /// Where another directory begins.
    Pointer(u32),
}

/// The fields of one directory, by number.
pub(crate) type Fields = Vec<(u16, Value)>;

/// In the main directory: where those of the exposure and of the satellites begin.
const EXPOSURE_AT: u16 = 0x8769;
const SATELLITES_AT: u16 = 0x8825;

/// The main directory, that of the exposure and that of the satellites (left out when it is empty) as
/// one structure.
pub(crate) fn structure(main: Fields, exposure: &Fields, satellites: &Fields) -> Vec<u8> {
    let pointed = |exposure_at: u32, satellites_at: u32| {
        let mut main = main.clone();
        main.push((EXPOSURE_AT, Value::Pointer(exposure_at)));
        if !satellites.is_empty() {
            main.push((SATELLITES_AT, Value::Pointer(satellites_at)));
        }
        main
    };
    // Where a pointer leads does not change how long the directory is.
    let exposure_at = 8 + directory(8, &pointed(0, 0)).len() as u32;
    let exposure = directory(exposure_at, exposure);
    let satellites_at = exposure_at + exposure.len() as u32;
    let mut out = b"MM\0\x2A\0\0\0\x08".to_vec();
    out.extend(directory(8, &pointed(exposure_at, satellites_at)));
    out.extend(exposure);
    if !satellites.is_empty() {
        out.extend(directory(satellites_at, satellites));
    }
    out
}

/// A directory that begins at `at`, fields in rising order, with the values too long for their field
/// behind it.
fn directory(at: u32, fields: &Fields) -> Vec<u8> {
    let mut fields = fields.clone();
    fields.sort_by_key(|(number, _)| *number);
    let behind_at = at + 2 + 12 * fields.len() as u32 + 4;
    let mut behind = Vec::new();
    let mut out = (fields.len() as u16).to_be_bytes().to_vec();
    for (number, value) in &fields {
        let (kind, count, mut bytes) = written(value);
        out.extend(number.to_be_bytes());
        out.extend(kind.to_be_bytes());
        out.extend(count.to_be_bytes());
        if bytes.len() <= 4 {
            bytes.resize(4, 0);
            out.extend(bytes);
        } else {
            out.extend((behind_at + behind.len() as u32).to_be_bytes());
            behind.extend(bytes);
            // Values begin at even bytes.
            behind.resize(behind.len().next_multiple_of(2), 0);
        }
    }
    // No further directory in this chain.
    out.extend([0; 4]);
    out.extend(behind);
    out
}

/// Kind, count and bytes of a value (TIFF 6.0, page 15).
fn written(value: &Value) -> (u16, u32, Vec<u8>) {
    let text = |text: &str| {
        let bytes = [text.as_bytes(), b"\0"].concat();
        (2, bytes.len() as u32, bytes)
    };
    match value {
        Value::Text(words) => text(words),
        Value::Own(words) => text(words),
        Value::Short(number) => (3, 1, number.to_be_bytes().to_vec()),
        Value::Ratios(list) => {
            let pair = |(over, under): &(u32, u32)| [over.to_be_bytes(), under.to_be_bytes()];
            let bytes = list.iter().flat_map(pair).flatten().collect();
            (5, list.len() as u32, bytes)
        }
        Value::Signed(over, under) => (10, 1, [over.to_be_bytes(), under.to_be_bytes()].concat()),
        Value::Bytes(bytes) => (7, bytes.len() as u32, bytes.to_vec()),
        Value::Pointer(at) => (4, 1, at.to_be_bytes().to_vec()),
    }
}
