//! How many pixels a millimetre a file claims to have, and how hard a JPEG was packed: read by hand, since
//! decoders do not tell.
//!
//! Sources: PNG third edition 11.3.4.3 (`pHYs`), JFIF 1.02 (APP0), TIFF 6.0 (tags 282, 283, 296), EXIF 2.3
//! (the same tags), ITU T.81 (DQT; table K.1).
//!
//! Imports: none.

/// Millimetres of an inch.
const INCH: f64 = 25.4;
/// Pixels an inch, within half of one, that programs write which do not know.
const UNKNOWN: [f64; 2] = [72.0, 96.0];
/// Least and most pixels an inch that can be meant.
const MEANT: [f64; 2] = [50.0, 10_000.0];

/// Pixels a millimetre.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Density {
    /// From left to right.
    pub across: f64,
    /// From top to bottom.
    pub down: f64,
}

impl Eq for Density {}

impl Density {
    /// From pixels an inch.
    pub fn per_inch(across: f64, down: f64) -> Density {
        Density { across: across / INCH, down: down / INCH }
    }
    /// Pixels an inch, across.
    pub fn dpi(&self) -> f64 {
        self.across * INCH
    }
}

/// What a file claims, if it is more than a habit of the program that wrote it.
pub fn of(bytes: &[u8], tiff: bool, exif: Option<&[u8]>) -> Option<Density> {
    let claims = if tiff {
        of_tiff(bytes)
    } else {
        of_png(bytes).or_else(|| of_jfif(bytes)).or_else(|| exif.and_then(of_tiff))
    };
    claims.filter(|d| {
        [d.across, d.down].iter().all(|p| {
            let dpi = p * INCH;
            (MEANT[0]..=MEANT[1]).contains(&dpi) && UNKNOWN.iter().all(|u| (dpi - u).abs() > 0.5)
        })
    })
}

fn be32(b: &[u8]) -> Option<u32> {
    Some(u32::from_be_bytes(b.get(..4)?.try_into().ok()?))
}
fn be16(b: &[u8]) -> Option<u16> {
    Some(u16::from_be_bytes(b.get(..2)?.try_into().ok()?))
}

/// The chunk `pHYs` of a PNG, before the first of its pixels.
fn of_png(bytes: &[u8]) -> Option<Density> {
    let mut rest = bytes.strip_prefix(b"\x89PNG\r\n\x1a\n")?;
    loop {
        let (length, kind) = (be32(rest)? as usize, rest.get(4..8)?);
        if kind == b"IDAT" || kind == b"IEND" {
            return None;
        }
        let data = rest.get(8..8usize.checked_add(length)?)?;
        if kind == b"pHYs" && data.len() == 9 && data[8] == 1 {
            // Pixels a metre.
            let per_mm = |b: &[u8]| be32(b).map(|v| f64::from(v) / 1000.0);
            return Some(Density { across: per_mm(data)?, down: per_mm(&data[4..])? });
        }
        rest = rest.get(length.checked_add(12)?..)?;
    }
}

/// The segments of a JPEG before its scan: marker and content.
fn segments(bytes: &[u8]) -> impl Iterator<Item = (u8, &[u8])> {
    let mut rest = bytes.strip_prefix(b"\xff\xd8").unwrap_or_default();
    std::iter::from_fn(move || {
        while rest.first() == Some(&0xff) && rest.get(1) == Some(&0xff) {
            rest = &rest[1..];
        }
        let (&0xff, &marker) = (rest.first()?, rest.get(1)?) else { return None };
        if marker == 0xda || marker == 0xd9 {
            return None;
        }
        let length = usize::from(be16(rest.get(2..)?)?);
        let data = rest.get(4..2 + length)?;
        rest = rest.get(2 + length..)?;
        Some((marker, data))
    })
}

/// APP0 of a JPEG.
fn of_jfif(bytes: &[u8]) -> Option<Density> {
    let (_, data) = segments(bytes).find(|(m, d)| *m == 0xe0 && d.starts_with(b"JFIF\0"))?;
    let (x, y) = (f64::from(be16(data.get(8..)?)?), f64::from(be16(data.get(10..)?)?));
    match data.get(7)? {
        1 => Some(Density::per_inch(x, y)),
        // Dots a centimetre.
        2 => Some(Density { across: x / 10.0, down: y / 10.0 }),
        _ => None,
    }
}

/// The first directory of a TIFF file, or of EXIF data, which has the same form.
fn of_tiff(bytes: &[u8]) -> Option<Density> {
    let bytes = bytes.strip_prefix(b"Exif\0\0").unwrap_or(bytes);
    let little = match bytes.get(..2)? {
        b"II" => true,
        b"MM" => false,
        _ => return None,
    };
    let u16_at = |at: usize| -> Option<u16> {
        let b: [u8; 2] = bytes.get(at..at.checked_add(2)?)?.try_into().ok()?;
        Some(if little { u16::from_le_bytes(b) } else { u16::from_be_bytes(b) })
    };
    let u32_at = |at: usize| -> Option<u32> {
        let b: [u8; 4] = bytes.get(at..at.checked_add(4)?)?.try_into().ok()?;
        Some(if little { u32::from_le_bytes(b) } else { u32::from_be_bytes(b) })
    };
    let directory = u32_at(4)? as usize;
    let (mut x, mut y, mut unit) = (None, None, 2);
    for i in 0..usize::from(u16_at(directory)?) {
        let entry = directory.checked_add(2 + 12 * i)?;
        let ratio = || -> Option<f64> {
            let at = u32_at(entry + 8)? as usize;
            let (n, d) = (u32_at(at)?, u32_at(at.checked_add(4)?)?);
            (d > 0).then(|| f64::from(n) / f64::from(d))
        };
        match u16_at(entry)? {
            282 => x = ratio(),
            283 => y = ratio(),
            296 => unit = u16_at(entry + 8)?,
            _ => {}
        }
    }
    match unit {
        2 => Some(Density::per_inch(x?, y?)),
        3 => Some(Density { across: x? / 10.0, down: y? / 10.0 }),
        _ => None,
    }
}

/// Sum of the luminance table K.1 of ITU T.81: what quality 50 divides by.
const K1: f64 = 3688.0;

/// Quality that a JPEG was packed at, 1 to 100, by the scale of the Independent JPEG Group (50 is table K.1,
/// others are multiples of it): from the sum of its first table.
pub fn jpeg_quality(bytes: &[u8]) -> Option<u8> {
    let (_, data) = segments(bytes).find(|(m, _)| *m == 0xdb)?;
    let wide = data.first()? >> 4 != 0;
    let sum: f64 = if wide {
        data.get(1..129)?.chunks_exact(2).map(|c| f64::from(c[0]) * 256.0 + f64::from(c[1])).sum()
    } else {
        data.get(1..65)?.iter().map(|v| f64::from(*v)).sum()
    };
    let scale = sum / K1;
    let quality = if scale <= 1.0 { 100.0 - 50.0 * scale } else { 50.0 / scale };
    Some(quality.round().clamp(1.0, 100.0) as u8)
}
