//! A list as spreadsheets write it: records of fields, by lines of the file.
//!
//! RFC 4180 with two things more that spreadsheets do: a semicolon or a tab as separator, and UTF-16. A field may
//! not run over the end of a line: a quote that nobody closes would swallow every row after it.
//!
//! Imports: none.

/// Fields of one line.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Record {
    /// Line of the file, from 1.
    pub line: usize,
    /// Its fields.
    pub fields: Vec<String>,
}

/// What is wrong with a line.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Torn {
    /// Line of the file, from 1.
    pub line: usize,
    /// What, for the maker.
    pub message: String,
    /// What helps.
    pub help: &'static str,
}

/// How the bytes were read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Encoding {
    /// UTF-8, with its mark or without.
    Utf8,
    /// UTF-16, by its mark.
    Utf16,
    /// Neither: taken for Windows-1252.
    Windows1252,
}

/// Bytes 0x80 to 0x9f of Windows-1252 (WHATWG Encoding Standard, index windows-1252).
const HIGH: [char; 32] = [
    '\u{20ac}', '\u{81}', '\u{201a}', '\u{192}', '\u{201e}', '\u{2026}', '\u{2020}', '\u{2021}', '\u{2c6}',
    '\u{2030}', '\u{160}', '\u{2039}', '\u{152}', '\u{8d}', '\u{17d}', '\u{8f}', '\u{90}', '\u{2018}',
    '\u{2019}', '\u{201c}', '\u{201d}', '\u{2022}', '\u{2013}', '\u{2014}', '\u{2dc}', '\u{2122}', '\u{161}',
    '\u{203a}', '\u{153}', '\u{9d}', '\u{17e}', '\u{178}',
];

/// Bytes as text, without the mark at their start; none if UTF-16 is broken.
pub fn decoded(bytes: &[u8]) -> Option<(String, Encoding)> {
    let wide = |rest: &[u8], unit: fn([u8; 2]) -> u16| {
        if !rest.len().is_multiple_of(2) {
            return None;
        }
        let units: Vec<u16> = rest.chunks_exact(2).map(|c| unit([c[0], c[1]])).collect();
        String::from_utf16(&units).ok().map(|t| (t, Encoding::Utf16))
    };
    match bytes {
        [0xff, 0xfe, rest @ ..] => wide(rest, u16::from_le_bytes),
        [0xfe, 0xff, rest @ ..] => wide(rest, u16::from_be_bytes),
        _ => match std::str::from_utf8(bytes) {
            Ok(text) => Some((text.strip_prefix('\u{feff}').unwrap_or(text).to_owned(), Encoding::Utf8)),
            Err(_) => {
                let one = |b: &u8| match b {
                    0x80..=0x9f => HIGH[usize::from(*b) - 0x80],
                    _ => char::from(*b),
                };
                Some((bytes.iter().map(one).collect(), Encoding::Windows1252))
            }
        },
    }
}

/// Lines of a text: ended by LF, CR LF or a lone CR.
fn lines(text: &str) -> Vec<&str> {
    let mut out = Vec::new();
    let mut rest = text;
    while !rest.is_empty() {
        let end = rest.find(['\n', '\r']).unwrap_or(rest.len());
        out.push(&rest[..end]);
        let after = &rest[end..];
        rest = after.strip_prefix("\r\n").or_else(|| after.get(1..)).unwrap_or("");
    }
    out
}

/// The separator: of semicolon, comma and tab the one that stands equally often in each of the first ten lines;
/// else the one that stands most often in the first; none where there is none.
fn separator(lines: &[&str]) -> Option<char> {
    let outside = |line: &str, wanted: char| {
        let mut quoted = false;
        line.chars()
            .filter(|c| {
                quoted ^= *c == '"';
                !quoted && *c == wanted
            })
            .count()
    };
    let head: Vec<&str> = lines.iter().filter(|l| !l.trim().is_empty()).take(10).copied().collect();
    let counts = |c: char| head.iter().map(|l| outside(l, c)).collect::<Vec<usize>>();
    let all = [';', ',', '\t'];
    let even = all.into_iter().find(|c| {
        let n = counts(*c);
        n.first().is_some_and(|f| *f > 0 && n.iter().all(|k| k == f))
    });
    let most = || {
        let first = |c: &char| counts(*c).first().copied().unwrap_or(0);
        all.into_iter().max_by_key(first).filter(|c| first(c) > 0)
    };
    even.or_else(most)
}

/// The records, and everything that is wrong with lines; lines without any text are left out.
pub fn records(text: &str) -> (Vec<Record>, Vec<Torn>) {
    let lines = lines(text);
    let separator = separator(&lines);
    let (mut out, mut torn) = (Vec::new(), Vec::new());
    for (i, line) in lines.iter().enumerate() {
        match fields(line, separator) {
            // Spreadsheets end with rows of separators, whichever they are.
            Ok(fields) if fields.iter().all(|f| f.trim_matches([';', ',', '\t', ' ']).is_empty()) => {}
            Ok(fields) => out.push(Record { line: i + 1, fields }),
            Err((message, help)) => torn.push(Torn { line: i + 1, message, help }),
        }
    }
    (out, torn)
}

fn fields(line: &str, separator: Option<char>) -> Result<Vec<String>, (String, &'static str)> {
    let mut out = Vec::new();
    let mut rest = line;
    loop {
        if let Some(quoted) = rest.strip_prefix('"') {
            let mut field = String::new();
            let mut at = quoted;
            loop {
                let Some(end) = at.find('"') else {
                    return Err((
                        "a quote that is opened here is not closed on this line".into(),
                        "close it, or double a quote that is meant: \"O\"\"Neil\"",
                    ));
                };
                field.push_str(&at[..end]);
                at = &at[end + 1..];
                match at.strip_prefix('"') {
                    Some(more) => {
                        field.push('"');
                        at = more;
                    }
                    None => break,
                }
            }
            out.push(field);
            match at.chars().next() {
                None => return Ok(out),
                Some(c) if Some(c) == separator => rest = &at[c.len_utf8()..],
                Some(_) => {
                    return Err((
                        "there is text after a closing quote".into(),
                        "double a quote that is meant, or take it out",
                    ));
                }
            }
        } else {
            let Some((field, more)) = separator.and_then(|s| rest.split_once(s)) else {
                out.push(rest.to_owned());
                return Ok(out);
            };
            out.push(field.to_owned());
            rest = more;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rows(text: &str) -> Vec<(usize, Vec<String>)> {
        records(text).0.into_iter().map(|r| (r.line, r.fields)).collect()
    }
    fn row(line: usize, fields: &[&str]) -> (usize, Vec<String>) {
        (line, fields.iter().map(|f| (*f).to_owned()).collect())
    }

    /// RFC 4180, section 2: rules 1 to 7 but for line breaks in quotes, which are refused here.
    #[test]
    fn the_rules_of_the_standard() {
        assert_eq!(rows("a,b\r\nc,d\r\n"), [row(1, &["a", "b"]), row(2, &["c", "d"])]);
        assert_eq!(rows("\"a\",\"b;c\"\n\"x\"\"y\",\n"), [row(1, &["a", "b;c"]), row(2, &["x\"y", ""])]);
        assert_eq!(rows("a;b\rc;d"), [row(1, &["a", "b"]), row(2, &["c", "d"])]);
        assert_eq!(rows("name\nAnna\n\n;;;\nBo"), [row(1, &["name"]), row(2, &["Anna"]), row(5, &["Bo"])]);
    }
    #[test]
    fn an_open_quote_is_told_with_its_line_and_swallows_nothing() {
        let (records, torn) = records("name;copies\nAnna;1\n\"Bo;2\nCy;3\n\"Di\"x;1\n");
        assert_eq!(records.iter().map(|r| r.line).collect::<Vec<_>>(), [1, 2, 4]);
        assert_eq!(torn.iter().map(|t| t.line).collect::<Vec<_>>(), [3, 5]);
    }
    #[test]
    fn encodings_are_told_apart() {
        let utf16: Vec<u8> =
            [0xff, 0xfe].into_iter().chain("é,x".encode_utf16().flat_map(u16::to_le_bytes)).collect();
        assert_eq!(decoded(&utf16), Some(("é,x".into(), Encoding::Utf16)));
        assert_eq!(decoded("\u{feff}é".as_bytes()), Some(("é".into(), Encoding::Utf8)));
        assert_eq!(decoded(&[b'J', 0xe9, 0x92]), Some(("Jé\u{2019}".into(), Encoding::Windows1252)));
        assert_eq!(decoded(&[0xff, 0xfe, 0x41]), None);
    }
}
