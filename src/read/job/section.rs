//! A strict reader over the job's tables, for every section of the job: typed fields with ranges, unknown
//! keys as faults with a suggestion, everything reported at once.
//!
//! A section is read like this; each read reports its own fault, so nothing stops at the first:
//! ```text
//! let wall = cup.key(&rows::WALL).required();           // kind, range, default and words are the row's
//! let tape = cup.key(&rows::TAPE).or_usual();
//! let sheet = cup.own(&rows::SHEET, |item| item.list(Item::length)).counting(2..=2, "lengths").optional();
//! cup.done();                                   // keys that nobody asked for are faults
//! Ok(Cup { wall: wall?, tape: tape?, .. })      // only now give up on what could not be read
//! ```
//!
//! Imports: base, read::job::{codes, quantity, keys, suggest, reader}.

use super::codes;
use super::keys::{Key, Row, Setting, Shown, Worded};
use super::quantity;
use super::reader::{Ranged, Reader};
use super::suggest::suggestion;
use crate::base::diag::{Code, Diagnostic, ErrorGuaranteed, KeyPath, disturbing, undisturbed};
use crate::base::units::{Angle, LengthUnit, Ml, Mm};
use std::cell::RefCell;
use std::ops::RangeInclusive;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// One table of the job, read strictly.
#[derive(Debug)]
pub struct Section<'r> {
    reader: &'r Reader<'r>,
    at: KeyPath,
    table: &'r DeTable<'r>,
    asked: RefCell<Vec<&'static str>>,
    /// Its keys are told by the list that it stands in.
    quiet: bool,
}

impl<'r> Section<'r> {
    pub(super) fn new(reader: &'r Reader<'r>, at: KeyPath, table: &'r DeTable<'r>) -> Section<'r> {
        Section { reader, at, table, asked: RefCell::default(), quiet: false }
    }
    /// What all sections share.
    pub fn reader(&self) -> &'r Reader<'r> {
        self.reader
    }
    /// One of many small tables: the list that holds them is told as it stands in the job.
    #[must_use]
    pub fn quiet(self) -> Section<'r> {
        Section { quiet: true, ..self }
    }
    /// Where this section stands.
    pub fn at(&self) -> &KeyPath {
        &self.at
    }
    /// Where a key of this section stands.
    pub fn path(&self, key: &str) -> KeyPath {
        self.at.key(key)
    }
    /// Has the maker written this key? Counts as asking for it.
    pub fn has(&self, key: &'static str) -> bool {
        self.item(key).is_some()
    }
    /// The keys that the maker wrote, for tables whose keys are the maker's own names.
    pub fn own_keys(&self) -> Vec<(String, Item<'r>)> {
        let item = |(k, v): (&Spanned<_>, &'r Spanned<DeValue<'r>>)| -> (String, Item<'r>) {
            let k: &std::borrow::Cow<'_, str> = k.get_ref();
            (k.to_string(), Item { reader: self.reader, at: self.at.key(k), value: v })
        };
        self.table.iter().map(item).collect()
    }
    /// The value of a key, unread.
    pub fn item(&self, key: &'static str) -> Option<Item<'r>> {
        self.asked.borrow_mut().push(key);
        self.table.get(key).map(|value| Item { reader: self.reader, at: self.path(key), value })
    }
    /// A key of one kind, held to its range.
    pub fn key<T: Value>(&self, key: &'static Key<T>) -> Field<'_, 'r, T> {
        let got = self.item(key.row.name).map(|item| T::read(&item)).transpose();
        let shown = got.as_ref().ok().and_then(Option::as_ref).map(Shown::shown);
        T::held(
            Field {
                section: self,
                row: &key.row,
                usual: key.default.clone(),
                got,
                shown,
                usually: key.in_words(),
            },
            key.range.clone(),
        )
    }
    /// A key whose value is read by a function of its own.
    pub fn own<K: Shown, T>(
        &self,
        key: &'static Key<K>,
        read: impl FnOnce(&Item<'r>) -> Result<T, ErrorGuaranteed>,
    ) -> Field<'_, 'r, T> {
        let item = self.item(key.row.name);
        let shown = item.as_ref().map(Item::flowing);
        let got = item.map(|item| read(&item)).transpose();
        Field { section: self, row: &key.row, usual: None, got, shown, usually: key.row.in_words() }
    }
    /// A table of its own.
    pub fn table<K: Shown>(&self, key: &'static Key<K>) -> Field<'_, 'r, Section<'r>> {
        let got = self.item(key.row.name).map(|item| item.section()).transpose();
        Field { section: self, row: &key.row, usual: None, got, shown: None, usually: key.row.in_words() }
    }
    /// A table read by a function that asks for its keys; those that nobody asked for are reported. `None`
    /// without one.
    pub fn inner<K: Shown, T>(
        &self,
        key: &'static Key<K>,
        read: impl FnOnce(&Section<'r>) -> Result<T, ErrorGuaranteed>,
    ) -> Result<Option<T>, ErrorGuaranteed> {
        let Some(section) = self.table(key).optional()? else { return Ok(None) };
        let read = read(&section);
        section.done();
        read.map(Some)
    }
    /// Puts a value on the settings page.
    fn told(&self, row: &Row, value: String, said: bool) {
        if !self.quiet {
            let (table, key) = (self.at.to_string(), row.name.to_owned());
            self.reader.settings.borrow_mut().push(Setting { table, key, value, said });
        }
    }
    /// A list of tables (`[[key]]`), at most so many; those that are no tables are reported and left out. Of too
    /// many none is read: what is wrong with each would bury what is wrong with all.
    pub fn tables<K: Shown>(
        &self,
        key: &'static Key<K>,
        most: usize,
    ) -> Vec<Result<Section<'r>, ErrorGuaranteed>> {
        let key = key.row.name;
        let Some(item) = self.item(key) else { return Vec::new() };
        match item.value.get_ref() {
            DeValue::Array(list) if list.len() > most => {
                let message =
                    format!("there are {} tables `[[{key}]]`, more than one cup can be asked", list.len());
                let d = Diagnostic::fault(&codes::OUT_OF_RANGE, item.at.index(most), message)
                    .measured(list.len().to_string())
                    .allowed(format!("up to {most}"))
                    .help("leave those out that stand there twice, or make several jobs of it");
                vec![Err(self.reader.push(d))]
            }
            DeValue::Array(list) => list
                .iter()
                .enumerate()
                .map(|(i, value)| Item { reader: self.reader, at: item.at.index(i), value }.section())
                .collect(),
            _ => vec![Err(item.wrong_kind(&format!("a list of tables, each headed `[[{key}]]`")))],
        }
    }
    /// A fault at a key of this section.
    pub fn fault(&self, code: &'static Code, key: &str, message: impl Into<String>) -> Diagnostic {
        Diagnostic::fault(code, self.path(key), message)
    }
    /// A warning at a key of this section.
    pub fn warning(&self, code: &'static Code, key: &str, message: impl Into<String>) -> Diagnostic {
        Diagnostic::warning(code, self.path(key), message)
    }
    /// Reports a key that must be there and is not.
    pub fn missing<K: Shown>(&self, key: &'static Key<K>) -> ErrorGuaranteed {
        self.lacks(&key.row)
    }
    fn lacks(&self, row: &Row) -> ErrorGuaranteed {
        let Row { name: key, lacks: what, .. } = row;
        let example = row.as_added();
        // The sentence may have named it already.
        let named = if what.contains(&format!("`{key}`")) { String::new() } else { format!(" (`{key}`)") };
        let place = if self.at.0.is_empty() { "the job".into() } else { format!("`{}`", self.at) };
        let d = self
            .fault(&codes::MISSING_KEY, key, format!("{place} does not say {what}{named}"))
            .help(format!("add {example}"));
        if self.reader.torn {
            // Syntax faults are reported already; what seems missing may only have been swallowed by them.
            return self.reader.diagnostics.borrow().check().expect_err("torn text has a fault");
        }
        self.reader.push(d)
    }
    /// Reports keys that nobody asked for, each with the nearest known one.
    pub fn done(self) {
        let mut known = self.asked.into_inner();
        known.sort_unstable();
        known.dedup();
        for (key, _) in self.table.iter() {
            let name: &str = key.get_ref();
            if known.contains(&name) {
                continue;
            }
            let place = if self.at.0.is_empty() { "a job".into() } else { format!("`{}`", self.at) };
            let mend = match suggestion(name, &known) {
                Some(near) => format!("write `{near}` if that is meant"),
                None => format!("known here: {}", known.join(", ")),
            };
            self.reader.push(
                Diagnostic::fault(&codes::UNKNOWN_KEY, self.at.key(name), format!("{place} has no `{name}`"))
                    .help(mend)
                    .bytes(key.span()),
            );
        }
    }
}

/// A field of a section on its way to a value.
#[derive(Debug)]
#[must_use = "end with required, or_usual, or, optional"]
pub struct Field<'s, 'r, T> {
    section: &'s Section<'r>,
    row: &'static Row,
    usual: Option<T>,
    got: Result<Option<T>, ErrorGuaranteed>,
    shown: Option<String>,
    usually: String,
}

impl<T> Field<'_, '_, T> {
    /// Holds the value to a range, both ends allowed.
    pub fn within(self, range: RangeInclusive<T>) -> Self
    where
        T: Ranged,
    {
        let reader = self.section.reader;
        self.held(|value, at| {
            if range.contains(value) {
                return None;
            }
            let side = if value < range.start() { "small" } else { "large" };
            let (low, high) = (range.start().show(reader), range.end().show(reader));
            Some(
                Diagnostic::fault(&codes::OUT_OF_RANGE, at.clone(), format!("`{at}` is too {side}"))
                    .measured(value.show(reader))
                    .allowed(format!("{low} to {high}"))
                    .help(value.hint(&range, reader).unwrap_or_else(|| "correct the value".into())),
            )
        })
    }
    /// Holds the value to a rule of the caller's own, which gives the fault of a value that breaks it.
    pub fn held(mut self, rule: impl FnOnce(&T, &KeyPath) -> Option<Diagnostic>) -> Self {
        if let Ok(Some(value)) = &self.got
            && let Some(d) = rule(value, &self.section.path(self.row.name))
        {
            self.got = Err(self.section.reader.push(d));
        }
        self
    }
    /// Puts what the job says on the settings page, or what holds where it says nothing.
    fn tell(&self) {
        match &self.shown {
            Some(text) => self.section.told(self.row, text.clone(), true),
            None if self.usually.is_empty() => {}
            None => self.section.told(self.row, self.usually.clone(), false),
        }
    }
    /// The value; a missing one is a fault that says what it is and how it may be written.
    pub fn required(self) -> Result<T, ErrorGuaranteed> {
        self.tell();
        self.got?.ok_or_else(|| self.section.lacks(self.row))
    }
    /// The value, or this if the maker wrote none.
    pub fn or(self, default: T) -> Result<T, ErrorGuaranteed> {
        self.tell();
        Ok(self.got?.unwrap_or(default))
    }
    /// The value, if the maker wrote one.
    pub fn optional(self) -> Result<Option<T>, ErrorGuaranteed> {
        self.tell();
        self.got
    }
}

impl<T: Shown> Field<'_, '_, T> {
    /// The value, or the row's default if the maker wrote none.
    ///
    /// # Panics
    /// If the row has no default.
    pub fn or_usual(self) -> Result<T, ErrorGuaranteed> {
        self.tell();
        let usual = || self.usual.unwrap_or_else(|| panic!("`{}` has no default", self.row.name));
        self.got.map(|got| got.unwrap_or_else(usual))
    }
}

impl<T> Field<'_, '_, Vec<T>> {
    /// Holds a list to a number of items.
    pub fn counting(self, allowed: RangeInclusive<usize>, of: &str) -> Self {
        self.held(|list, at| {
            if allowed.contains(&list.len()) {
                return None;
            }
            let (low, high) = (allowed.start(), allowed.end());
            let range = if low == high { low.to_string() } else { format!("{low} to {high}") };
            Some(
                Diagnostic::fault(&codes::OUT_OF_RANGE, at.clone(), format!("`{at}` needs {range} {of}"))
                    .measured(list.len())
                    .allowed(range)
                    .help(if list.len() < *low { "add the lacking ones" } else { "take some out" }),
            )
        })
    }
}

/// A value of one kind that a key may have.
pub trait Value: Shown + Clone {
    /// Reads it.
    ///
    /// # Errors
    /// The fault is reported.
    fn read(item: &Item<'_>) -> Result<Self, ErrorGuaranteed>;
    /// Holds it to the key's range, if the kind has ranges.
    fn held<'s, 'r>(field: Field<'s, 'r, Self>, _range: Option<[Self; 2]>) -> Field<'s, 'r, Self> {
        field
    }
}

impl<T: Worded> Value for T {
    fn read(item: &Item<'_>) -> Result<T, ErrorGuaranteed> {
        item.choice(T::WORDS)
    }
}
impl Value for bool {
    fn read(item: &Item<'_>) -> Result<bool, ErrorGuaranteed> {
        item.flag()
    }
}
impl Value for String {
    fn read(item: &Item<'_>) -> Result<String, ErrorGuaranteed> {
        item.text()
    }
}

/// Kinds that can be held to a range, and how each is read.
macro_rules! ranged {
    ($($t:ty, $read:expr;)*) => {
        $(impl $crate::read::job::section::Value for $t {
            fn read(item: &$crate::read::job::section::Item<'_>) -> Result<$t, $crate::base::diag::ErrorGuaranteed> {
                $read(item)
            }
            fn held<'s, 'r>(
                field: $crate::read::job::section::Field<'s, 'r, $t>,
                range: Option<[$t; 2]>,
            ) -> $crate::read::job::section::Field<'s, 'r, $t> {
                match range {
                    Some([low, high]) => field.within(low..=high),
                    None => field,
                }
            }
        })*
    };
}
pub(super) use ranged;
ranged! {
    Mm, Item::length;
    Angle, Item::angle;
    Ml, Item::volume;
    f64, Item::number;
    u64, Item::integer;
}

/// A value of the job, unread.
#[derive(Clone, Debug)]
pub struct Item<'r> {
    reader: &'r Reader<'r>,
    at: KeyPath,
    value: &'r Spanned<DeValue<'r>>,
}

impl<'r> Item<'r> {
    /// Where it stands.
    pub fn at(&self) -> &KeyPath {
        &self.at
    }
    /// What all sections share.
    pub fn reader(&self) -> &'r Reader<'r> {
        self.reader
    }
    /// As the maker wrote it.
    pub fn written(&self) -> &'r str {
        self.reader.text.get(self.value.span()).unwrap_or_default()
    }
    /// As the maker wrote it, on one line.
    fn flowing(&self) -> String {
        let text = self.as_text().unwrap_or_else(|| self.written());
        text.split_whitespace().collect::<Vec<_>>().join(" ")
    }
    /// The text as it stands, if it is text.
    pub fn as_text(&self) -> Option<&'r str> {
        self.value.get_ref().as_str()
    }
    /// Is it text?
    pub fn is_text(&self) -> bool {
        matches!(self.value.get_ref(), DeValue::String(_))
    }
    /// `true` or `false`, if it is that.
    pub fn as_flag(&self) -> Option<bool> {
        self.value.get_ref().as_bool()
    }
    /// Is it a list?
    pub fn is_list(&self) -> bool {
        matches!(self.value.get_ref(), DeValue::Array(_))
    }
    /// Is it a table?
    pub fn is_table(&self) -> bool {
        matches!(self.value.get_ref(), DeValue::Table(_))
    }
    /// Reports that it should be something else.
    pub fn wrong_kind(&self, wanted: &str) -> ErrorGuaranteed {
        let is = match self.value.get_ref() {
            DeValue::String(_) => "text",
            DeValue::Integer(_) | DeValue::Float(_) => "a number",
            DeValue::Boolean(_) => "true or false",
            DeValue::Datetime(_) => "a date",
            DeValue::Array(_) => "a list",
            DeValue::Table(_) => "a table",
        };
        let at = &self.at;
        self.reader.push(
            Diagnostic::fault(&codes::WRONG_KIND, at.clone(), format!("`{at}` is {is}, not {wanted}"))
                .measured(shortened(self.written()))
                .allowed(wanted)
                .help(format!("write {wanted}")),
        )
    }
    /// Reports text that cannot be read as what it should be.
    pub(super) fn unreadable(&self, wanted: &str, why: &str, example: &str) -> ErrorGuaranteed {
        let at = &self.at;
        self.reader.push(
            Diagnostic::fault(&codes::UNREADABLE, at.clone(), format!("`{at}` is no {wanted}: {why}"))
                .measured(shortened(self.written()))
                .help(format!("write it like {example}")),
        )
    }
    fn finite(&self) -> Option<f64> {
        let number = match self.value.get_ref() {
            DeValue::Integer(i) => i64::from_str_radix(i.as_str(), i.radix()).ok().map(|i| i as f64),
            DeValue::Float(f) => f.as_str().parse().ok(),
            _ => None,
        };
        number.filter(|n: &f64| n.is_finite())
    }
    fn is_number(&self) -> bool {
        matches!(self.value.get_ref(), DeValue::Integer(_) | DeValue::Float(_))
    }
    fn quantity<T>(
        &self,
        wanted: &str,
        example: &str,
        number: impl FnOnce(f64) -> T,
        text: impl FnOnce(&str) -> Result<T, String>,
    ) -> Result<T, ErrorGuaranteed> {
        match self.value.get_ref() {
            DeValue::String(t) => text(t).map_err(|why| self.unreadable(wanted, &why, example)),
            _ => match self.finite() {
                Some(n) => Ok(number(n)),
                None if self.is_number() => Err(self.unreadable(wanted, "it is no finite number", example)),
                None => Err(self.wrong_kind(&format!("a {wanted} such as {example}"))),
            },
        }
    }
    /// A length: a number in the job's unit, or text with a unit and fractions.
    pub fn length(&self) -> Result<Mm, ErrorGuaranteed> {
        let unit = self.reader.unit.get();
        let example = match unit {
            LengthUnit::Mm => "165, \"16.5 cm\" or \"6 1/2 in\"",
            LengthUnit::In => "6.5, \"6 1/2 in\" or \"165 mm\"",
        };
        self.quantity("length", example, |n| Mm(n * unit.in_mm()), |t| quantity::length(t, unit))
    }
    /// An angle: a number of degrees, or text.
    pub fn angle(&self) -> Result<Angle, ErrorGuaranteed> {
        self.quantity("angle", "45, \"45 deg\" or \"1/8 turn\"", Angle::degrees, quantity::angle)
    }
    /// A volume: a number of ml, or text.
    pub fn volume(&self) -> Result<Ml, ErrorGuaranteed> {
        self.quantity("volume", "\"600 ml\", \"20 fl oz\" or \"20 imp fl oz\"", Ml, quantity::volume)
    }
    /// A plain number.
    pub fn number(&self) -> Result<f64, ErrorGuaranteed> {
        self.quantity("number", "1.5", |n| n, |_| Err("it is in quotes".into()))
    }
    /// A whole number, 0 or more.
    pub fn integer(&self) -> Result<u64, ErrorGuaranteed> {
        match self.value.get_ref() {
            DeValue::Integer(i) => u64::from_str_radix(i.as_str(), i.radix())
                .map_err(|_| self.unreadable("whole number from 0", "it is negative or too large", "3")),
            _ => Err(self.wrong_kind("a whole number such as 3")),
        }
    }
    /// `true` or `false`.
    pub fn flag(&self) -> Result<bool, ErrorGuaranteed> {
        match self.value.get_ref() {
            DeValue::Boolean(b) => Ok(*b),
            _ => Err(self.wrong_kind("true or false, without quotes")),
        }
    }
    /// Text that is not empty, on one line, without control characters.
    pub fn text(&self) -> Result<String, ErrorGuaranteed> {
        let DeValue::String(t) = self.value.get_ref() else {
            return Err(self.wrong_kind("text in quotes"));
        };
        if t.trim().is_empty() {
            return Err(self.unreadable("text", "it is empty", "\"pea-pod.svg\""));
        }
        if let Some(why) = t.chars().find_map(disturbing) {
            let kept: String = t.chars().map(|c| if disturbing(c).is_some() { ' ' } else { c }).collect();
            let kept = kept.split_whitespace().collect::<Vec<_>>().join(" ");
            let why = if t.contains('\n') { "it has an end of line".into() } else { format!("it has {why}") };
            return Err(self.unreadable("text on one line", &why, &format!("\"{kept}\"")));
        }
        Ok(t.trim().to_owned())
    }
    /// A calendar date, as `2026-09-12` with or without quotes; given back as ISO text.
    pub fn date(&self) -> Result<String, ErrorGuaranteed> {
        let example = "2026-09-12";
        let read = match self.value.get_ref() {
            DeValue::Datetime(d) => Ok(*d),
            DeValue::String(t) => t.trim().parse::<toml::value::Datetime>().map_err(|e| e.to_string()),
            _ => return Err(self.wrong_kind("a date such as 2026-09-12")),
        };
        match read {
            Ok(d) if d.time.is_none() && d.offset.is_none() => match d.date {
                Some(date) => Ok(date.to_string()),
                None => Err(self.unreadable("date", "it has no day", example)),
            },
            Ok(_) => Err(self.unreadable("date", "it has a time of day", example)),
            Err(why) => Err(self.unreadable("date", &why, example)),
        }
    }
    /// One of some words.
    pub fn choice<T: Clone>(&self, words: &[(&str, T)]) -> Result<T, ErrorGuaranteed> {
        let all: Vec<&str> = words.iter().map(|(w, _)| *w).collect();
        let listed = || all.iter().map(|w| format!("\"{w}\"")).collect::<Vec<_>>().join(", ");
        let DeValue::String(t) = self.value.get_ref() else {
            return Err(self.wrong_kind(&format!("one of {}", listed())));
        };
        if let Some((_, value)) = words.iter().find(|(w, _)| w == t) {
            return Ok(value.clone());
        }
        let mend = match suggestion(t, &all) {
            Some(near) => format!("write \"{near}\" if that is meant"),
            None => "write one of those".into(),
        };
        let at = &self.at;
        Err(self.reader.push(
            Diagnostic::fault(
                &codes::UNKNOWN_CHOICE,
                at.clone(),
                format!("`{at}` knows no \"{}\"", shortened(t)),
            )
            .measured(shortened(self.written()))
            .allowed(listed())
            .help(mend),
        ))
    }
    /// A list, each item read by the same function; all faulty items are reported.
    pub fn list<T>(
        &self,
        mut read: impl FnMut(&Item<'r>) -> Result<T, ErrorGuaranteed>,
    ) -> Result<Vec<T>, ErrorGuaranteed> {
        let DeValue::Array(list) = self.value.get_ref() else {
            return Err(self.wrong_kind("a list in square brackets"));
        };
        // Read them all before giving up, so that every faulty one is reported.
        let read: Vec<Result<T, ErrorGuaranteed>> = list
            .iter()
            .enumerate()
            .map(|(i, value)| read(&Item { reader: self.reader, at: self.at.index(i), value }))
            .collect();
        read.into_iter().collect()
    }
    /// A table, if it is one; nothing is told of another.
    pub fn section_quietly(&self) -> Option<Section<'r>> {
        match self.value.get_ref() {
            DeValue::Table(table) => Some(Section::new(self.reader, self.at.clone(), table)),
            _ => None,
        }
    }
    /// A table.
    pub fn section(&self) -> Result<Section<'r>, ErrorGuaranteed> {
        match self.value.get_ref() {
            DeValue::Table(table) => Ok(Section::new(self.reader, self.at.clone(), table)),
            _ => Err(self.wrong_kind("a table")),
        }
    }
}

/// What was written, cut to a length that fits in a message.
fn shortened(text: &str) -> String {
    let line: String = undisturbed(text.lines().next().unwrap_or_default());
    match line.char_indices().nth(60) {
        Some((end, _)) => format!("{}...", &line[..end]),
        None if line.len() < text.len() => format!("{line}..."),
        None => line,
    }
}
