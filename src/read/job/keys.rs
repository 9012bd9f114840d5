//! What a key of the job is: one row of a table says its name, kind, range, default, a sentence and an
//! example. Reader messages, `explain`, the settings page and the complete example job are made from the rows
//! in `rows`.
//!
//! ```text
//! MARGIN: Mm = Key::new("margin", "Film left along every edge of a sheet.", "5")
//!     .within(Mm(0.0), Mm(200.0)).or(Mm(5.0));
//! let margin = film.key(&rows::film::MARGIN).or_default();   // range, default and unit are the row's
//! ```
//!
//! Imports: base.

use crate::base::moment::Minutes;
use crate::base::money::{Money, Share};
use crate::base::units::{Angle, Grams, LengthUnit, Ml, Mm, without_trailing_zeros};

/// A value that a key may have, as people read it.
pub trait Shown {
    /// What it is: "a length".
    const KIND: &'static str;
    /// In words, in millimetres, degrees, millilitres.
    fn shown(&self) -> String;
    /// All values, where they are words.
    fn words() -> Vec<&'static str> {
        Vec::new()
    }
}

/// One of a few words; the one list of them.
pub trait Worded: Copy + PartialEq + 'static {
    /// Each word and what it means.
    const WORDS: &'static [(&'static str, Self)];
    /// The word for a value.
    fn word(self) -> &'static str {
        Self::WORDS.iter().find(|(_, v)| *v == self).map_or("", |(w, _)| *w)
    }
}

impl<T: Worded> Shown for T {
    const KIND: &'static str = "a word";
    fn shown(&self) -> String {
        self.word().to_owned()
    }
    fn words() -> Vec<&'static str> {
        T::WORDS.iter().map(|(w, _)| *w).collect()
    }
}

impl Worded for LengthUnit {
    const WORDS: &'static [(&'static str, LengthUnit)] = &[("mm", LengthUnit::Mm), ("in", LengthUnit::In)];
}

/// A time in seconds.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub struct Seconds(pub f64);

/// A part of 1, shown in percent.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub struct Part(pub f64);

/// A key whose value is read by a function of its own.
#[derive(Clone, Copy, Debug)]
pub struct Own;

fn plain(value: f64, decimals: usize) -> String {
    let text = format!("{value:.decimals$}");
    let text = without_trailing_zeros(&text);
    if text == "-0" { "0".to_owned() } else { text.to_owned() }
}

/// Kinds and how their values are written out.
macro_rules! shown {
    ($($t:ty, $kind:literal, $v:ident => $text:expr;)*) => {
        $(impl Shown for $t {
            const KIND: &'static str = $kind;
            fn shown(&self) -> String {
                let $v = self;
                $text
            }
        })*
    };
}
shown! {
    Mm, "a length", v => format!("{} mm", plain(v.0, 3));
    Angle, "an angle", v => format!("{}\u{b0}", plain(v.deg(), 3));
    Ml, "a volume", v => format!("{} ml", plain(v.0, 2));
    Grams, "a weight", v => v.to_string();
    Minutes, "a length of time", v => v.to_string();
    Money, "an amount of money", v => v.to_string();
    Share, "a number of percent", v => v.to_string();
    f64, "a number", v => plain(*v, 4);
    u64, "a whole number", v => v.to_string();
    bool, "true or false", v => v.to_string();
    String, "text", v => v.clone();
    Seconds, "a length of time", v => if v.0 < 120.0 { format!("{} s", v.0) } else { format!("{} min", v.0 / 60.0) };
    Part, "a number of percent", v => format!("{} %", plain(v.0 * 100.0, 4));
    Own, "", _v => String::new();
}

/// A key: its row, and the range and default of its value where these are of one kind.
#[derive(Debug)]
pub struct Key<T: 'static> {
    /// What people are told.
    pub row: Row,
    /// Least and most, both allowed.
    pub range: Option<[T; 2]>,
    /// What it is where a job says nothing.
    pub default: Option<T>,
}

/// What people are told of a key.
#[derive(Clone, Copy, Debug)]
pub struct Row {
    /// As the maker writes it.
    pub name: &'static str,
    /// One sentence.
    pub about: &'static str,
    /// A value, as it stands behind `=`.
    pub example: &'static str,
    /// Kind, where the type does not say it.
    kind: &'static str,
    /// Range, where the type does not say it.
    allowed: &'static str,
    /// Default in words, where it is not one value.
    usually: &'static str,
    /// The table under its heading, for a key of the job itself.
    headed: &'static str,
    /// What lacks without it: "the job does not say ..."; empty: it need not be there.
    pub lacks: &'static str,
}

impl<T: Copy + 'static> Key<T> {
    /// Holds the value to a range, both ends allowed.
    pub(super) const fn within(self, low: T, high: T) -> Key<T> {
        Key { row: self.row, range: Some([low, high]), default: self.default }
    }
    /// Gives it a default.
    pub(super) const fn or(self, default: T) -> Key<T> {
        Key { row: self.row, range: self.range, default: Some(default) }
    }
    /// The default.
    ///
    /// # Panics
    /// If the row gives none.
    pub(super) fn usual(&self) -> T {
        self.default.unwrap_or_else(|| panic!("`{}` has no default", self.row.name))
    }
}

impl<T: 'static> Key<T> {
    /// A key by its name, with its sentence and an example of its value.
    pub(super) const fn new(name: &'static str, about: &'static str, example: &'static str) -> Key<T> {
        let row = Row { name, about, example, kind: "", allowed: "", usually: "", headed: "", lacks: "" };
        Key { row, range: None, default: None }
    }
}

macro_rules! in_words {
    ($($(#[$doc:meta])* $f:ident;)*) => {
        $($(#[$doc])*
        pub(super) const fn $f(mut self, words: &'static str) -> Row {
            self.$f = words;
            self
        })*
    };
}
impl Row {
    /// As it stands in a job.
    pub fn as_typed(&self) -> String {
        format!("{} = {}", self.name, self.example)
    }
    /// What a job that lacks it is to have added: the key with its value, or a table under its heading.
    pub fn as_added(&self) -> String {
        if self.headed.is_empty() { format!("`{}`", self.as_typed()) } else { format!("\n{}", self.headed) }
    }
    /// Its default in words, where it is not one value; empty if none is said.
    pub(super) fn in_words(&self) -> String {
        self.usually.to_owned()
    }
    in_words! {
        /// Its kind, where the type does not say it.
        kind;
        /// Its range in words.
        allowed;
        /// Its default in words.
        usually;
        /// What lacks without it.
        lacks;
        /// The table under its heading.
        headed;
    }
}

/// Changes the words of a key's row.
macro_rules! worded {
    ($($f:ident),*) => {
        impl<T: Copy + 'static> Key<T> {
            $(pub(super) const fn $f(self, words: &'static str) -> Key<T> {
                Key { row: self.row.$f(words), range: self.range, default: self.default }
            })*
        }
    };
}
worded!(kind, allowed, usually, lacks, headed);

impl Key<String> {
    /// What lacks without it.
    pub(super) const fn needed(
        name: &'static str,
        lacks: &'static str,
        about: &'static str,
        example: &'static str,
    ) -> Key<String> {
        let row = Row { name, about, example, kind: "", allowed: "", usually: "", headed: "", lacks };
        Key { row, range: None, default: None }
    }
    /// Text that stands where a job says none.
    pub(super) const fn text(
        name: &'static str,
        usually: &'static str,
        about: &'static str,
        example: &'static str,
    ) -> Key<String> {
        let row = Row { name, about, example, kind: "", allowed: "", usually, headed: "", lacks: "" };
        Key { row, range: None, default: None }
    }
}

/// A key, whatever its value.
pub trait AnyKey: Sync {
    /// What people are told.
    fn row(&self) -> &Row;
    /// What kind of value.
    fn kind(&self) -> String;
    /// What values may be; empty: any of the kind.
    fn allowed(&self) -> String;
    /// What it is where a job says nothing; empty: nothing, or it must be there.
    fn default_words(&self) -> String;
}

impl<T: Shown> Key<T> {
    /// The default in words; empty: none is said.
    pub fn in_words(&self) -> String {
        match &self.default {
            Some(v) => v.shown(),
            None => self.row.usually.to_owned(),
        }
    }
}

impl<T: Shown + Sync> AnyKey for Key<T> {
    fn row(&self) -> &Row {
        &self.row
    }
    fn kind(&self) -> String {
        let kind = if self.row.kind.is_empty() { T::KIND } else { self.row.kind };
        kind.to_owned()
    }
    fn allowed(&self) -> String {
        let words = T::words();
        match &self.range {
            _ if !self.row.allowed.is_empty() => self.row.allowed.to_owned(),
            Some([low, high]) => format!("{} to {}", low.shown(), high.shown()),
            None if words.is_empty() => String::new(),
            None => words.iter().map(|w| format!("\"{w}\"")).collect::<Vec<_>>().join(", "),
        }
    }
    fn default_words(&self) -> String {
        self.in_words()
    }
}

/// A table of the job and its keys.
pub struct Table {
    /// Where it stands, list places left out: `film.cutter`; empty: the job itself.
    pub path: &'static str,
    /// Of how many it is one: a list of tables, headed `[[film]]`.
    pub many: bool,
    /// One sentence.
    pub about: &'static str,
    /// Its keys, in the order in which they are explained.
    pub keys: &'static [&'static dyn AnyKey],
}

impl std::fmt::Debug for Table {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Table").field("path", &self.path).finish_non_exhaustive()
    }
}

/// Rows of one table: each key a static of its own, and the table of them all.
macro_rules! table {
    ($path:literal, $many:literal, $about:literal; $($name:ident: $t:ty = $key:expr;)*) => {
        $(pub static $name: Key<$t> = $key;)*
        pub static TABLE: Table = Table { path: $path, many: $many, about: $about, keys: &[$(&$name),*] };
    };
}
pub(super) use table;

/// What a key of a job is worth, said or left to its default: a row of the settings page.
#[derive(Clone, Debug, PartialEq)]
pub struct Setting {
    /// The table where it stands, as a path with places: `film[0]`.
    pub table: String,
    /// Key within that table.
    pub key: String,
    /// Its value in words.
    pub value: String,
    /// The job says it.
    pub said: bool,
}
