//! What is strange about a name: rules that speak of one row, and rules that speak of the whole list.
//!
//! What is plainly a slip of typing is mended and said; what may be meant is only said. Mixed scripts and look-alike
//! letters follow Unicode Technical Standard 39.
//!
//! Imports: none.

use std::collections::BTreeMap;
use unicode_normalization::UnicodeNormalization;
use unicode_script::{Script, UnicodeScript};
use unicode_security::MixedScript;

/// How bad.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Weight {
    /// To look at.
    Note,
    /// Likely wrong.
    Warning,
    /// Cannot be lettered as it is.
    Fault,
}

/// Something found in a row.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Finding {
    /// Line of the file.
    pub line: usize,
    /// How bad.
    pub weight: Weight,
    /// What, for the maker.
    pub message: String,
    /// What to write instead, or what to do.
    pub help: String,
}

fn found(line: usize, weight: Weight, message: impl Into<String>, help: impl Into<String>) -> Finding {
    Finding { line, weight, message: message.into(), help: help.into() }
}

/// Marks that show nothing and change nothing in a name (Default_Ignorable_Code_Point of the Unicode Character
/// Database, those that are met in text).
fn invisible(c: char) -> bool {
    matches!(c, '\u{ad}' | '\u{34f}' | '\u{180e}' | '\u{200b}'..='\u{200d}' | '\u{2060}'..='\u{2064}' | '\u{feff}'
        | '\u{fe00}'..='\u{fe0f}')
}

/// Controls of direction (Bidi_Control).
fn turns(c: char) -> bool {
    matches!(c, '\u{61c}' | '\u{200e}' | '\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
}

fn named(c: char) -> String {
    format!("U+{:04X}", u32::from(c))
}

/// Scripts in which joiners belong to the spelling.
fn joins(text: &str) -> bool {
    text.chars().any(|c| {
        !matches!(
            c.script(),
            Script::Latin | Script::Cyrillic | Script::Greek | Script::Common | Script::Inherited
        )
    })
}

fn is_right_to_left(text: &str) -> bool {
    text.chars().any(|c| {
        matches!(c.script(), Script::Arabic | Script::Hebrew | Script::Syriac | Script::Thaana | Script::Nko)
    })
}

/// A text made ready to be lettered, and what was mended on the way.
pub fn mended(line: usize, raw: &str, apostrophes: bool) -> (String, Vec<Finding>) {
    let mut out = Vec::new();
    let keep_joiners = joins(raw);
    let hidden: Vec<char> = raw
        .chars()
        .filter(|c| invisible(*c) && !(keep_joiners && matches!(c, '\u{200c}' | '\u{200d}')))
        .collect();
    let mut text: String = raw.chars().filter(|c| !hidden.contains(c)).collect();
    if let Some(c) = hidden.first() {
        let at = raw.chars().take_while(|d| d != c).count() + 1;
        let message = format!("\"{raw}\" holds an invisible mark ({}) as character {at}", named(*c));
        out.push(found(line, Weight::Warning, message, format!("taken out: \"{text}\"")));
    }
    let spaced = text.split(char::is_whitespace).filter(|w| !w.is_empty()).collect::<Vec<_>>().join(" ");
    if spaced != text {
        let message = format!("\"{text}\" has spaces at its ends, doubled, or of another kind");
        out.push(found(line, Weight::Note, message, format!("lettered as \"{spaced}\"")));
        text = spaced;
    }
    text = text.nfc().collect();
    let plain: String = text
        .chars()
        .map(|c| if matches!(c, '\u{2010}'..='\u{2013}' | '\u{2212}') { '-' } else { c })
        .collect::<String>()
        .replace(" - ", "-");
    if plain != text {
        let message = format!("\"{text}\" has a hyphen of another kind, or spaces round it");
        out.push(found(line, Weight::Note, message, format!("lettered as \"{plain}\"")));
        text = plain;
    }
    if let Some(typed) = with_apostrophes(&text) {
        if apostrophes {
            out.push(found(
                line,
                Weight::Note,
                format!("\"{text}\" has a foot mark where an apostrophe belongs"),
                format!("lettered as \"{typed}\""),
            ));
            text = typed;
        } else {
            out.push(found(
                line,
                Weight::Note,
                format!("\"{text}\" has a foot mark, or an opening quote, where an apostrophe belongs"),
                format!("write \"{typed}\", or `apostrophes = \"mend\"`"),
            ));
        }
    }
    (text, out)
}

/// With U+2019 for foot marks between letters, and at the start of a word before a letter; none if there are none.
fn with_apostrophes(text: &str) -> Option<String> {
    let chars: Vec<char> = text.chars().collect();
    let letter = |i: Option<usize>| i.and_then(|i| chars.get(i)).is_some_and(|c| c.is_alphabetic());
    let mut changed = false;
    let out: String = chars
        .iter()
        .enumerate()
        .map(|(i, c)| {
            let foot = matches!(c, '\'' | '\u{b4}' | '`' | '\u{2032}');
            let first = i == 0 || chars[i - 1] == ' ';
            let opens = first && *c == '\u{2018}';
            let before = first || letter(i.checked_sub(1));
            if (foot || opens) && before && letter(Some(i + 1)) {
                changed = true;
                '\u{2019}'
            } else {
                *c
            }
        })
        .collect();
    changed.then_some(out)
}

/// Small words within names.
const PARTICLES: &[&str] = &[
    "a", "ab", "af", "al", "am", "and", "ap", "at", "av", "bar", "bat", "ben", "bin", "bint", "d", "da",
    "dal", "das", "de", "degli", "dei", "del", "della", "den", "der", "des", "di", "do", "dos", "du", "e",
    "el", "en", "et", "ferch", "i", "ibn", "im", "in", "la", "las", "le", "lo", "los", "mac", "na", "nic",
    "of", "op", "s", "st", "t", "te", "ten", "ter", "the", "ua", "und", "van", "vom", "von", "vander", "y",
    "z", "zu", "zum", "zur", "&",
];
/// What stands before a capital within a word.
const PREFIXES: &[&str] = &[
    "Mc", "Mac", "Fitz", "De", "Del", "Della", "Di", "Da", "Du", "La", "Le", "Lo", "Van", "Von", "Vander",
    "Ten", "Ter", "Ap", "El", "Al", "San", "Santa", "St",
];

fn is_cased_capital(c: char) -> bool {
    c.is_uppercase()
}

/// What is strange about one text by itself.
fn alone(line: usize, text: &str, out: &mut Vec<Finding>) {
    if let Some(c) = text.chars().find(|c| turns(*c)).filter(|_| !is_right_to_left(text)) {
        let message = format!("\"{text}\" holds a mark that turns the direction of writing ({})", named(c));
        out.push(found(line, Weight::Fault, message, "type the name anew in the list"));
    }
    if let Some(c) = text.chars().find(|c| c.is_control()) {
        let message = format!("the text holds a control character ({})", named(c));
        out.push(found(line, Weight::Fault, message, "type the name anew in the list"));
    }
    if text.contains('\u{fffd}') || garbled(text) {
        let message = format!("\"{text}\" was saved in one encoding and read in another");
        out.push(found(
            line,
            Weight::Fault,
            message,
            "save the list as UTF-8 where the names still read right",
        ));
        return;
    }
    for word in text.split([' ', '-']).filter(|w| !w.is_empty()) {
        in_word(line, word, out);
    }
}

/// An A with tilde or circumflex before what a second byte of UTF-8 comes out as in Windows-1252.
fn garbled(text: &str) -> bool {
    let chars: Vec<char> = text.chars().collect();
    let second = |c: char| matches!(c, '\u{80}'..='\u{bf}') || "€‚ƒ„…†‡ˆ‰Š‹ŒŽ‘’“”•–—˜™š›œžŸ".contains(c);
    chars.windows(2).any(|p| matches!(p[0], 'Ã' | 'Â' | 'Å' | 'Ä') && second(p[1]))
}

fn in_word(line: usize, word: &str, out: &mut Vec<Finding>) {
    if !word.is_single_script() {
        let letters: Vec<char> = word.chars().filter(|c| c.is_alphabetic()).collect();
        let most = most_script(letters.iter().copied());
        let odd = letters.iter().enumerate().find(|(_, c)| Some(c.script()) != most);
        let message = match odd {
            Some((i, c)) => format!(
                "\"{word}\" mixes two scripts: letter {} is {} ({}), not {}",
                i + 1,
                c.script().full_name(),
                named(*c),
                most.map_or("of the same", |s| s.full_name())
            ),
            None => format!("\"{word}\" mixes two scripts"),
        };
        out.push(found(line, Weight::Warning, message, "type that letter anew"));
    }
    let chars: Vec<char> = word.chars().collect();
    let beside = |i: usize| {
        let near = |j: Option<usize>| j.and_then(|j| chars.get(j)).is_some_and(|c| c.is_alphabetic());
        chars[i].is_numeric() && (near(i.checked_sub(1)) || near(Some(i + 1)))
    };
    if (0..chars.len()).any(beside) {
        let message = format!("\"{word}\" has a digit beside a letter");
        out.push(found(line, Weight::Warning, message, "0 for O, 1 for l or I? type it anew, or leave it"));
    }
    let folded: Vec<char> = chars.iter().flat_map(|c| c.to_lowercase()).collect();
    if folded.windows(3).any(|w| w[0] == w[1] && w[1] == w[2] && w[0].is_alphabetic()) {
        let message = format!("\"{word}\" has a letter three times");
        out.push(found(line, Weight::Note, message, "look whether that is meant"));
    }
    let letters: Vec<char> = chars.iter().copied().filter(|c| c.is_alphabetic()).collect();
    let capitals = letters.iter().filter(|c| is_cased_capital(**c)).count();
    if letters.len() > 1 && capitals == letters.len() {
        return;
    }
    for i in 1..chars.len() {
        let before: String = chars[..i].iter().collect();
        let allowed = !chars[i - 1].is_alphabetic()
            || PREFIXES.contains(&before.rsplit(['\'', '\u{2019}']).next().unwrap_or(&before))
            || (before == "I" && chars[i] == 'J');
        if is_cased_capital(chars[i]) && !allowed {
            let message = format!("\"{word}\" has a capital within a word");
            out.push(found(line, Weight::Note, message, "look whether that is meant"));
            break;
        }
    }
}

fn most_script(chars: impl Iterator<Item = char>) -> Option<Script> {
    let mut counts: BTreeMap<&'static str, (usize, Script)> = BTreeMap::new();
    for c in chars.filter(|c| c.is_alphabetic()) {
        let script = c.script();
        counts.entry(script.full_name()).or_insert((0, script)).0 += 1;
    }
    counts.into_values().max_by_key(|c| c.0).map(|c| c.1)
}

/// Letters that a reader takes for the same (UTS 39, section 4).
fn skeleton(text: &str) -> String {
    unicode_security::skeleton(text).collect()
}

fn first_capital(word: &str) -> String {
    let mut chars = word.chars();
    chars
        .next()
        .map_or_else(String::new, |c| c.to_uppercase().collect::<String>() + &chars.as_str().to_lowercase())
}

fn all_capitals(text: &str) -> bool {
    let letters: Vec<char> = text.chars().filter(|c| c.is_alphabetic()).collect();
    letters.len() > 1 && letters.iter().all(|c| is_cased_capital(*c))
}

fn all_small(text: &str) -> bool {
    let mut letters = text.chars().filter(|c| c.is_alphabetic()).peekable();
    letters.peek().is_some() && letters.all(char::is_lowercase)
}

fn proposed(text: &str) -> String {
    text.split(' ')
        .map(|w| w.split('-').map(first_capital).collect::<Vec<_>>().join("-"))
        .collect::<Vec<_>>()
        .join(" ")
}

/// What is strange about the texts of a list, by line.
pub fn in_list(rows: &[(usize, &str)]) -> Vec<Finding> {
    let mut out = Vec::new();
    let script = most_script(rows.iter().flat_map(|r| r.1.chars()));
    let few = |is: fn(&str) -> bool| 2 * rows.iter().filter(|r| is(r.1)).count() < rows.len();
    let (few_capitals, few_small) = (few(all_capitals), few(all_small));
    for &(line, text) in rows {
        alone(line, text, &mut out);
        if few_capitals && all_capitals(text) {
            let message = format!("\"{text}\" is all in capitals, and most rows are not");
            out.push(found(line, Weight::Warning, message, format!("\"{}\"?", proposed(text))));
        }
        if all_small(text) {
            if few_small {
                let message = format!("\"{text}\" is all in small letters, and most rows are not");
                out.push(found(line, Weight::Warning, message, format!("\"{}\"?", proposed(text))));
            }
        } else {
            small_words(line, text, &mut out);
        }
        foreign(line, text, script, &mut out);
    }
    pairs(rows, &mut out);
    out.sort_by_key(|f| f.line);
    out
}

fn small_words(line: usize, text: &str, out: &mut Vec<Finding>) {
    let plain = |w: &str| w.trim_matches(|c: char| !c.is_alphanumeric()).to_lowercase();
    let small = text.split(' ').find(|w| {
        w.chars().next().is_some_and(char::is_lowercase)
            && !PARTICLES.contains(&plain(w).as_str())
            && !w.chars().skip(1).any(is_cased_capital)
    });
    if let Some(word) = small {
        let message = format!("\"{word}\" in \"{text}\" begins with a small letter");
        out.push(found(line, Weight::Note, message, "look whether that is meant (l for I?)"));
    }
}

/// Whole words of another script than that of most rows.
fn foreign(line: usize, text: &str, script: Option<Script>, out: &mut Vec<Finding>) {
    for word in text.split([' ', '-']) {
        let own = most_script(word.chars());
        if own.is_none() || own == script || !word.is_single_script() {
            continue;
        }
        // One writing system in several scripts is no stranger.
        let together = |a: Option<Script>, b: Option<Script>| {
            let eastern = [Script::Han, Script::Hiragana, Script::Katakana, Script::Hangul, Script::Bopomofo];
            a.is_some_and(|a| eastern.contains(&a)) && b.is_some_and(|b| eastern.contains(&b))
        };
        if together(own, script) {
            continue;
        }
        let like = skeleton(word);
        let alike = script == Some(Script::Latin)
            && like.chars().filter(|c| c.is_alphabetic()).count() > 1
            && like.chars().filter(|c| c.is_alphabetic()).all(|c| c.is_ascii_alphabetic());
        let name = own.map_or("another", |s| s.full_name());
        if alike {
            let message = format!("\"{word}\" looks like \"{like}\" but is written in {name} letters");
            out.push(found(line, Weight::Warning, message, "type it anew if that is not meant"));
        } else {
            let message = format!("\"{word}\" is written in another script ({name}) than most rows");
            out.push(found(line, Weight::Note, message, "look whether the font has its letters"));
        }
    }
}

/// Rows that are the same, or look the same.
fn pairs(rows: &[(usize, &str)], out: &mut Vec<Finding>) {
    let bare = |t: &str| -> String {
        t.nfd()
            .filter(|c| !unicode_normalization::char::is_combining_mark(*c))
            .collect::<String>()
            .to_lowercase()
    };
    let mut same: BTreeMap<&str, usize> = BTreeMap::new();
    let mut near: BTreeMap<String, (usize, &str)> = BTreeMap::new();
    let mut alike: BTreeMap<String, (usize, &str)> = BTreeMap::new();
    for &(line, text) in rows {
        if let Some(first) = same.get(text) {
            let message = format!("\"{text}\" stands in lines {first} and {line}");
            out.push(found(line, Weight::Note, message, "two people of one name, or one row too many?"));
            continue;
        }
        same.insert(text, line);
        if let Some((first, other)) = near.get(&bare(text)) {
            let message =
                format!("\"{other}\" in line {first} and \"{text}\" differ by an accent or a capital only");
            out.push(found(line, Weight::Note, message, "look whether both are meant"));
        } else if let Some((first, other)) = alike.get(&skeleton(text)) {
            let message = format!("\"{other}\" in line {first} and \"{text}\" look the same");
            out.push(found(line, Weight::Warning, message, "look whether both are meant"));
        }
        near.entry(bare(text)).or_insert((line, text));
        alike.entry(skeleton(text)).or_insert((line, text));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(rows: &[&str]) -> Vec<(usize, Weight)> {
        let numbered: Vec<(usize, &str)> = rows.iter().enumerate().map(|(i, r)| (i + 1, *r)).collect();
        in_list(&numbered).into_iter().map(|f| (f.line, f.weight)).collect()
    }

    /// Truth: the check cases of the notes on orders (scripts by UTS 39; names as people write them).
    #[test]
    fn scripts_are_told_apart() {
        assert_eq!(of(&["Дар\u{2019}я", "Анна", "Марія"]), []);
        assert_eq!(of(&["Anna", "\u{410}nna\u{301}", "Bela"]), [(2, Weight::Warning)]);
        assert_eq!(of(&["Anna", "Bela", "Владимир"]), [(3, Weight::Note)]);
        assert_eq!(of(&["Berta", "Bela", "АННА"])[0], (3, Weight::Warning));
        assert_eq!(of(&["さくら子", "桜子", "サクラ"]), []);
    }
    #[test]
    fn names_as_people_write_them_are_no_findings() {
        let sound = [
            "Éva",
            "Tuğba",
            "Anne-Marie",
            "McKay",
            "O\u{2019}Neil",
            "Dell\u{2019}Acqua",
            "IJsbrand",
            "Jan van der Berg",
            "Rhys ap Hywel",
            "Łukasz",
            "Siân",
            "DeShawn",
            "Zoë",
            "Ngọc",
            "Þóra",
        ];
        assert_eq!(of(&sound), []);
    }
    #[test]
    fn slips_are_found() {
        let slips = [
            ("B0b", Weight::Warning),
            ("ANNA", Weight::Warning),
            ("bela", Weight::Warning),
            ("Annna", Weight::Note),
            ("BeLa", Weight::Note),
            ("JÃ¼rgen", Weight::Fault),
            ("A\u{202e}da", Weight::Fault),
            ("Mo lan", Weight::Note),
        ];
        for (slip, weight) in slips {
            let got = of(&["Dora", "Emil", "Filip", slip]);
            assert!(got.contains(&(4, weight)), "{slip}: {got:?}");
        }
        assert_eq!(of(&["Dora", "Emil", "Dora"]), [(3, Weight::Note)]);
        assert_eq!(of(&["Eva", "Emil", "Éva"]), [(3, Weight::Note)]);
        assert_eq!(of(&["Ian", "Emil", "lan"])[0].0, 3);
    }
    #[test]
    fn what_is_mended_is_said() {
        let (text, said) = mended(4, "  Anna\u{a0}Lu ", true);
        assert_eq!((text.as_str(), said.len(), said[0].line), ("Anna Lu", 1, 4));
        let (text, said) = mended(1, "O'Neil", true);
        assert_eq!((text.as_str(), said.len()), ("O\u{2019}Neil", 1));
        assert_eq!(mended(1, "O'Neil", false).0, "O'Neil");
        assert_eq!(mended(1, "An\u{200b}na", true).0, "Anna");
        assert_eq!(mended(1, "E\u{301}va", true), ("\u{c9}va".into(), Vec::new()));
        assert_eq!(mended(1, "\u{2018}t Hart", true).0, "\u{2019}t Hart");
        assert_eq!(mended(1, "5' 2", true).0, "5' 2");
    }
}
