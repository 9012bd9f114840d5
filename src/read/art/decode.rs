//! Bytes to text: unpacks, decodes and bounds what entities expand to, before any XML parser sees it.
//!
//! Imports: read::art::limits.

use super::limits::{BYTES, ENTITY_BYTES};
use std::borrow::Cow;
use std::collections::{BTreeMap, BTreeSet};
use std::io::Read;

/// Why bytes are not readable text.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Unreadable {
    /// More bytes than allowed.
    TooLarge(u64),
    /// Packed, but broken.
    Gzip(String),
    /// Neither UTF-8 nor anything that its declaration names.
    Encoding(String),
    /// Entities expand to this many bytes.
    Entities(u64),
}

/// The text of an SVG file: unpacked if it is gzip, decoded from UTF-8, UTF-16 or Latin-1.
///
/// # Errors
/// [`Unreadable`].
pub fn decode(bytes: &[u8]) -> Result<String, Unreadable> {
    if bytes.len() as u64 > BYTES {
        return Err(Unreadable::TooLarge(bytes.len() as u64));
    }
    let bytes: Cow<[u8]> =
        if bytes.starts_with(&[0x1f, 0x8b]) { Cow::Owned(unpack(bytes)?) } else { Cow::Borrowed(bytes) };
    let text = to_text(&bytes)?;
    let expanded = entity_bytes(&text);
    if expanded > ENTITY_BYTES { Err(Unreadable::Entities(expanded)) } else { Ok(text) }
}

fn unpack(bytes: &[u8]) -> Result<Vec<u8>, Unreadable> {
    let mut out = Vec::new();
    let read = flate2::read::GzDecoder::new(bytes).take(BYTES + 1).read_to_end(&mut out);
    match read {
        Err(e) => Err(Unreadable::Gzip(e.to_string())),
        Ok(n) if n as u64 > BYTES => Err(Unreadable::TooLarge(n as u64)),
        Ok(_) => Ok(out),
    }
}

fn to_text(bytes: &[u8]) -> Result<String, Unreadable> {
    let wide = |unit: fn([u8; 2]) -> u16| {
        let units: Vec<u16> = bytes[2..].chunks_exact(2).map(|c| unit([c[0], c[1]])).collect();
        String::from_utf16(&units).map_err(|_| Unreadable::Encoding("UTF-16".into()))
    };
    match bytes {
        [0xff, 0xfe, ..] => wide(u16::from_le_bytes),
        [0xfe, 0xff, ..] => wide(u16::from_be_bytes),
        _ => match std::str::from_utf8(bytes) {
            Ok(s) => Ok(s.trim_start_matches('\u{feff}').to_owned()),
            Err(_) => {
                let named = declared_encoding(bytes);
                let latin = ["iso-8859-1", "latin1", "us-ascii", "windows-1252"];
                if latin.contains(&named.as_str()) {
                    Ok(bytes.iter().map(|b| char::from(*b)).collect())
                } else {
                    Err(Unreadable::Encoding(if named.is_empty() { "UTF-8".into() } else { named }))
                }
            }
        },
    }
}

/// The encoding that the XML declaration names, in lower case; empty if none.
fn declared_encoding(bytes: &[u8]) -> String {
    let head: String = bytes.iter().take(200).map(|b| char::from(*b).to_ascii_lowercase()).collect();
    let Some((_, rest)) = head.split_once("encoding") else { return String::new() };
    let rest = rest.trim_start_matches([' ', '=']);
    let quote = rest.chars().next().unwrap_or('"');
    rest.trim_start_matches(quote).split(quote).next().unwrap_or("").to_owned()
}

/// Bytes that all entity references of a text expand to, nested ones included; never less than a parser makes
/// of them.
///
/// Whatever looks like a declaration counts, in comments and within other values too, and of two with one
/// name the larger: so no comment, quote or order can hide one.
fn entity_bytes(text: &str) -> u64 {
    let mut values: BTreeMap<&str, BTreeSet<&str>> = BTreeMap::new();
    let mut closes = [true; 2];
    for (i, mark) in text.match_indices("<!ENTITY") {
        let declaration = text[i + mark.len()..].trim_start();
        let name_end = declaration.find(char::is_whitespace).unwrap_or(declaration.len());
        let after = declaration[name_end..].trim_start();
        let Some(quote) = ['"', '\''].iter().position(|q| after.starts_with(*q)).filter(|q| closes[*q])
        else {
            continue;
        };
        match after[1..].find(['"', '\''][quote]) {
            Some(end) => drop(values.entry(&declaration[..name_end]).or_default().insert(&after[1..=end])),
            None => closes[quote] = false, // nor does any later one close
        }
    }
    if values.is_empty() {
        return 0;
    }
    let mut sizes: BTreeMap<&str, u64> = BTreeMap::new();
    // Nesting deeper than the number of entities is a loop: then the sizes never settle and pass the limit.
    for _ in 0..=values.len().min(64) {
        let next: BTreeMap<&str, u64> = values
            .iter()
            .map(|(name, values)| {
                let size = |v: &&str| (v.len() as u64).saturating_add(references(v, &sizes));
                (*name, values.iter().map(size).max().unwrap_or(0))
            })
            .collect();
        if next == sizes {
            break;
        }
        sizes = next;
    }
    references(text, &sizes)
}

fn references(text: &str, sizes: &BTreeMap<&str, u64>) -> u64 {
    let mut sum: u64 = 0;
    for part in text.split('&').skip(1) {
        let name = part.split(';').next().unwrap_or("");
        sum = sum.saturating_add(sizes.get(name).copied().unwrap_or(0));
    }
    sum
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nested_entities_are_counted_as_they_expand() {
        let doc = "<!DOCTYPE svg [<!ENTITY a '1234567890'><!ENTITY b \"&a;&a;&a;\">]><svg>&b;&b;</svg>";
        // In the body b twice: each its own 9 bytes and three times 10. The declaration of b names a three
        // times more.
        assert_eq!(entity_bytes(doc), 2 * (9 + 30) + 30);
    }

    #[test]
    fn a_billion_laughs_is_refused() {
        let mut doc = String::from("<!DOCTYPE svg [<!ENTITY l0 'ha'>");
        for i in 1..10 {
            doc += &format!("<!ENTITY l{i} '{}'>", format!("&l{};", i - 1).repeat(10));
        }
        doc += "]><svg>&l9;</svg>";
        assert!(matches!(decode(doc.as_bytes()), Err(Unreadable::Entities(n)) if n > 1_000_000_000));
    }

    #[test]
    fn an_entity_that_names_itself_is_refused() {
        let doc = "<!DOCTYPE svg [<!ENTITY a '&b;&b;'><!ENTITY b '&a;&a;'>]><svg>&a;</svg>";
        assert!(entity_bytes(doc) > 0);
    }

    /// A comment, a quote or another value before it hid a declaration: 38 GB.
    #[test]
    fn case_1_no_declaration_hides_another() {
        let long = "A".repeat(1000);
        for before in [
            "<!-- <!ENTITY a ''> -->",
            "<!ENTITY % x \"<!ENTITY a ''>\">",
            "<!-- <!ENTITY b ' -->",
            "<!-- ' -->",
        ] {
            let body = "&a;".repeat(2000);
            let doc = format!(
                "<!-- <!DOCTYPE s [ ' --><!DOCTYPE svg [{before}<!ENTITY a '{long}'>]><svg>{body}</svg>"
            );
            assert!(
                matches!(decode(doc.as_bytes()), Err(Unreadable::Entities(n)) if n >= 2_000_000),
                "{before}"
            );
        }
    }

    /// Declarations that never close are looked at once.
    #[test]
    fn many_open_declarations_take_linear_time() {
        let doc = format!("<!DOCTYPE svg [{}]><svg/>", "<!ENTITY a '".repeat(1_000_000));
        assert!(decode(doc.as_bytes()).is_ok());
    }

    #[test]
    fn a_packed_bomb_stops_at_the_limit() {
        use std::io::Write;
        let mut gz = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::fast());
        gz.write_all(&vec![b' '; BYTES as usize + 10]).expect("packs");
        assert_eq!(decode(&gz.finish().expect("packs")), Err(Unreadable::TooLarge(BYTES + 1)));
    }

    #[test]
    fn other_encodings_are_read_where_they_are_named() {
        let latin = b"<?xml version='1.0' encoding='ISO-8859-1'?><svg id='\xe4'/>";
        assert!(decode(latin).expect("latin").contains('\u{e4}'));
        assert!(matches!(decode(b"<svg id='\xe4'/>"), Err(Unreadable::Encoding(_))));
        let wide: Vec<u8> =
            [0xff, 0xfe].into_iter().chain("<svg/>".encode_utf16().flat_map(u16::to_le_bytes)).collect();
        assert_eq!(decode(&wide).expect("wide"), "<svg/>");
    }
}
