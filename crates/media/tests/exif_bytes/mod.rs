//! EXIF written byte by byte (TIFF 6.0, EXIF 2.32) and put into small files of each kind, so that
//! tests know every field exactly. Not a general writer: it writes what it is given, right or wrong.
#![allow(dead_code, reason = "each test file uses its own part")]

/// A field's value.
#[derive(Clone, Debug)]
pub enum Value {
    /// Bytes.
    Byte(Vec<u8>),
    /// A text; its closing zero is added.
    Ascii(String),
    /// 16 bits each.
    Short(Vec<u16>),
    /// 32 bits each.
    Long(Vec<u32>),
    /// Fractions.
    Rational(Vec<(u32, u32)>),
    /// Signed fractions.
    SRational(Vec<(i32, i32)>),
}

/// The fields of one photograph, by their EXIF numbers.
#[derive(Clone, Debug, Default)]
pub struct Exif {
    /// Little endian (`II`) instead of big endian (`MM`).
    pub little: bool,
    /// Of the picture itself (IFD0).
    pub main: Vec<(u16, Value)>,
    /// Of the exposure (EXIF IFD).
    pub exif: Vec<(u16, Value)>,
    /// Of the satellites (GPS IFD).
    pub gps: Vec<(u16, Value)>,
}

/// A text.
pub fn text(text: &str) -> Value {
    Value::Ascii(text.into())
}

/// One fraction.
pub fn ratio(over: u32, under: u32) -> Value {
    Value::Rational(vec![(over, under)])
}

impl Exif {
    /// Empty, in this byte order.
    pub fn new(little: bool) -> Self {
        Self {
            little,
            ..Self::default()
        }
    }

    /// When it was taken, `2026:10:03 18:41:07`.
    pub fn taken(mut self, at: &str) -> Self {
        self.exif.push((0x9003, text(at)));
        self
    }

    /// The zone of that, `+01:00`.
    pub fn zone(mut self, zone: &str) -> Self {
        self.exif.push((0x9011, text(zone)));
        self
    }

    /// Exposure time and f-number as fractions, sensitivity.
    pub fn exposed(mut self, time: (u32, u32), number: (u32, u32), iso: u16) -> Self {
        self.exif.push((0x829A, ratio(time.0, time.1)));
        self.exif.push((0x829D, ratio(number.0, number.1)));
        self.exif.push((0x8827, Value::Short(vec![iso])));
        self
    }

    /// Position in thousandths of a second of arc; negative is south or west.
    pub fn at(mut self, latitude: i64, longitude: i64) -> Self {
        let parts = |mas: i64| {
            let mas = mas.unsigned_abs() as u32;
            let (degrees, rest) = (mas / 3_600_000, mas % 3_600_000);
            Value::Rational(vec![
                (degrees, 1),
                (rest / 60_000, 1),
                (rest % 60_000, 1000),
            ])
        };
        self.gps
            .push((1, text(if latitude < 0 { "S" } else { "N" })));
        self.gps.push((2, parts(latitude)));
        self.gps
            .push((3, text(if longitude < 0 { "W" } else { "E" })));
        self.gps.push((4, parts(longitude)));
        self
    }

    /// Position in degrees, to the nearest thousandth of a second of arc.
    pub fn near(self, latitude: f64, longitude: f64) -> Self {
        let mas = |degrees: f64| (degrees * 3.6e6).round() as i64;
        self.at(mas(latitude), mas(longitude))
    }

    /// Bearing in hundredths of a degree from true (`T`) or magnetic (`M`) north.
    pub fn towards(mut self, hundredths: u32, north: &str) -> Self {
        self.gps.push((0x10, text(north)));
        self.gps.push((0x11, ratio(hundredths, 100)));
        self
    }

    /// The satellites' date (`2026:10:03`) and time, UTC.
    pub fn satellites(mut self, date: &str, h: u32, m: u32, s: u32) -> Self {
        self.gps
            .push((7, Value::Rational(vec![(h, 1), (m, 1), (s, 1)])));
        self.gps.push((0x1D, text(date)));
        self
    }

    fn two(&self, n: u16) -> [u8; 2] {
        if self.little {
            n.to_le_bytes()
        } else {
            n.to_be_bytes()
        }
    }

    fn four(&self, n: u32) -> [u8; 4] {
        if self.little {
            n.to_le_bytes()
        } else {
            n.to_be_bytes()
        }
    }

    /// Type, count and bytes of a value.
    fn bytes(&self, value: &Value) -> (u16, u32, Vec<u8>) {
        let pair = |over: [u8; 4], under: [u8; 4]| [over, under].concat();
        match value {
            Value::Byte(list) => (1, list.len() as u32, list.clone()),
            Value::Ascii(text) => {
                let bytes = [text.as_bytes(), b"\0"].concat();
                (2, bytes.len() as u32, bytes)
            }
            Value::Short(list) => (
                3,
                list.len() as u32,
                list.iter().flat_map(|n| self.two(*n)).collect(),
            ),
            Value::Long(list) => (
                4,
                list.len() as u32,
                list.iter().flat_map(|n| self.four(*n)).collect(),
            ),
            Value::Rational(list) => (
                5,
                list.len() as u32,
                list.iter()
                    .flat_map(|(a, b)| pair(self.four(*a), self.four(*b)))
                    .collect(),
            ),
            Value::SRational(list) => (
                10,
                list.len() as u32,
                list.iter()
                    .flat_map(|(a, b)| pair(self.four(*a as u32), self.four(*b as u32)))
                    .collect(),
            ),
        }
    }

    /// One IFD at `at`, its longer values right behind it.
    fn ifd(&self, at: usize, fields: &[(u16, Value)]) -> Vec<u8> {
        let mut fields = fields.to_vec();
        fields.sort_by_key(|(tag, _)| *tag);
        let mut values = Vec::new();
        let values_at = at + 2 + 12 * fields.len() + 4;
        let mut out = self.two(fields.len() as u16).to_vec();
        for (tag, value) in &fields {
            let (kind, count, mut bytes) = self.bytes(value);
            out.extend(self.two(*tag));
            out.extend(self.two(kind));
            out.extend(self.four(count));
            if bytes.len() <= 4 {
                bytes.resize(4, 0);
                out.extend(bytes);
            } else {
                out.extend(self.four((values_at + values.len()) as u32));
                values.extend(bytes);
                if values.len() % 2 == 1 {
                    values.push(0);
                }
            }
        }
        out.extend(self.four(0));
        out.extend(values);
        out
    }

    /// As a TIFF structure: what stands in every kind of file.
    pub fn tiff(&self) -> Vec<u8> {
        let exif_at = |main: &[(u16, Value)]| 8 + self.ifd(8, main).len();
        let mut main = self.main.clone();
        main.push((0x8769, Value::Long(vec![0])));
        if !self.gps.is_empty() {
            main.push((0x8825, Value::Long(vec![0])));
        }
        let exif_at = exif_at(&main);
        let exif = self.ifd(exif_at, &self.exif);
        let gps_at = exif_at + exif.len();
        for (tag, value) in &mut main {
            match tag {
                0x8769 => *value = Value::Long(vec![exif_at as u32]),
                0x8825 => *value = Value::Long(vec![gps_at as u32]),
                _ => {}
            }
        }
        let mut out = if self.little {
            b"II".to_vec()
        } else {
            b"MM".to_vec()
        };
        out.extend(self.two(42));
        out.extend(self.four(8));
        out.extend(self.ifd(8, &main));
        out.extend(exif);
        if !self.gps.is_empty() {
            out.extend(self.ifd(gps_at, &self.gps));
        }
        out
    }

    /// In a JPEG.
    pub fn jpeg(&self) -> Vec<u8> {
        jpeg(Some(&self.tiff()))
    }
}

/// A JPEG of one grey block, with these bytes as its EXIF.
pub fn jpeg(tiff: Option<&[u8]>) -> Vec<u8> {
    let mut out = vec![0xFF, 0xD8];
    if let Some(tiff) = tiff {
        out.extend([0xFF, 0xE1]);
        out.extend((tiff.len() as u16 + 8).to_be_bytes());
        out.extend(b"Exif\0\0");
        out.extend(tiff);
    }
    let segment = |code: u8, body: &[u8]| {
        let mut bytes = vec![0xFF, code];
        bytes.extend((body.len() as u16 + 2).to_be_bytes());
        bytes.extend(body);
        bytes
    };
    // A quantisation table, a grey 8 by 8 frame, two Huffman tables of one code, one scan.
    out.extend(segment(0xDB, &[[0u8].as_slice(), &[1; 64]].concat()));
    out.extend(segment(0xC0, &[8, 0, 8, 0, 8, 1, 1, 0x11, 0]));
    for class in [0x00, 0x10] {
        let mut table = vec![class, 1];
        table.extend([0; 15]);
        table.push(0);
        out.extend(segment(0xC4, &table));
    }
    out.extend(segment(0xDA, &[1, 1, 0, 0, 63, 0]));
    out.extend([0x3F, 0xFF, 0xD9]);
    out
}

/// A PNG that holds nothing but EXIF.
pub fn png(tiff: &[u8]) -> Vec<u8> {
    let mut out = b"\x89PNG\r\n\x1a\n".to_vec();
    for (kind, body) in [
        (b"IHDR", [0, 0, 0, 1, 0, 0, 0, 1, 8, 0, 0, 0, 0].as_slice()),
        (b"eXIf", tiff),
        (b"IEND", &[]),
    ] {
        out.extend((body.len() as u32).to_be_bytes());
        out.extend(kind);
        out.extend(body);
        // Readers of EXIF do not look at the check sum.
        out.extend([0; 4]);
    }
    out
}

/// A WebP that holds nothing but EXIF.
pub fn webp(tiff: &[u8]) -> Vec<u8> {
    let mut chunk = b"EXIF".to_vec();
    chunk.extend((tiff.len() as u32).to_le_bytes());
    chunk.extend(tiff);
    if tiff.len() % 2 == 1 {
        chunk.push(0);
    }
    let mut out = b"RIFF".to_vec();
    out.extend((chunk.len() as u32 + 4).to_le_bytes());
    out.extend(b"WEBP");
    out.extend(chunk);
    out
}

/// An HEIF that holds nothing but EXIF (ISO/IEC 14496-12 boxes, ISO/IEC 23008-12 Exif item).
pub fn heif(tiff: &[u8]) -> Vec<u8> {
    let boxed = |kind: &[u8; 4], body: &[u8]| {
        let mut out = (body.len() as u32 + 8).to_be_bytes().to_vec();
        out.extend(kind);
        out.extend(body);
        out
    };
    let infe = boxed(b"infe", b"\x02\0\0\0\0\x01\0\0Exif\0");
    let iinf = boxed(b"iinf", &[b"\0\0\0\0\0\x01".as_slice(), &infe].concat());
    let item = [&0u32.to_be_bytes(), tiff].concat();
    let idat = boxed(b"idat", &item);
    let mut iloc = b"\x01\0\0\0\x44\x00\0\x01\0\x01\0\x01\0\0\0\x01".to_vec();
    iloc.extend(0u32.to_be_bytes());
    iloc.extend((item.len() as u32).to_be_bytes());
    let iloc = boxed(b"iloc", &iloc);
    let meta = boxed(
        b"meta",
        &[b"\0\0\0\0".as_slice(), &iinf, &idat, &iloc].concat(),
    );
    [boxed(b"ftyp", b"heic\0\0\0\0mif1heic"), meta].concat()
}
