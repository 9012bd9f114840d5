//! The job's text and where everything in it stands: key path to bytes, bytes to line and column.
//!
//! Imports: base.

use crate::base::diag::{KeyPath, Step};
use std::collections::BTreeMap;
use std::ops::Range;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// Where a key path stands in the text, as bytes.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TextRange {
    /// The key itself, if the path ends in one.
    pub key: Option<Range<usize>>,
    /// Its value.
    pub value: Range<usize>,
}

/// Every place of a job's text.
#[derive(Clone, Debug, Default)]
pub struct Places {
    known: BTreeMap<KeyPath, TextRange>,
}

/// Line and column, both from 1; columns count characters.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct LineColumn {
    /// Line, from 1.
    pub line: usize,
    /// Character of the line, from 1.
    pub column: usize,
}

impl Places {
    pub(super) fn of(root: &Spanned<DeTable<'_>>) -> Places {
        let mut places = Places::default();
        places.table(&KeyPath::root(), root.get_ref());
        places
    }

    fn table(&mut self, at: &KeyPath, table: &DeTable<'_>) {
        for (key, value) in table {
            let path = at.key(key.get_ref());
            self.known.insert(path.clone(), TextRange { key: Some(key.span()), value: value.span() });
            self.value(&path, value.get_ref());
        }
    }

    fn value(&mut self, at: &KeyPath, value: &DeValue<'_>) {
        match value {
            DeValue::Table(table) => self.table(at, table),
            DeValue::Array(list) => {
                for (i, item) in list.iter().enumerate() {
                    let path = at.index(i);
                    self.known.insert(path.clone(), TextRange { key: None, value: item.span() });
                    self.value(&path, item.get_ref());
                }
            }
            _ => {}
        }
    }

    /// Where exactly this path stands, if the text has it.
    pub fn exact(&self, path: &KeyPath) -> Option<&TextRange> {
        self.known.get(path)
    }

    /// The bytes to point at for a path: its value, or of the nearest part of the path that the text has
    /// its heading; the start of the text for what stands nowhere.
    pub fn locate(&self, path: &KeyPath) -> Range<usize> {
        if let Some(place) = self.known.get(path) {
            return place.value.clone();
        }
        let mut steps = path.0.clone();
        while steps.pop().is_some() {
            if let Some(place) = self.known.get(&KeyPath(steps.clone())) {
                let of_list = matches!(steps.last(), Some(Step::Index(_)));
                return match &place.key {
                    Some(key) if !of_list => key.clone(),
                    _ => place.value.clone(),
                };
            }
        }
        0..0
    }
}

/// Line and column of a byte; past the end is the end.
pub fn line_column(text: &str, byte: usize) -> LineColumn {
    let mut byte = byte.min(text.len());
    while !text.is_char_boundary(byte) {
        byte -= 1;
    }
    let before = &text[..byte];
    let start = before.rfind('\n').map_or(0, |n| n + 1);
    LineColumn { line: before.matches('\n').count() + 1, column: before[start..].chars().count() + 1 }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn paths_lead_to_their_bytes() {
        let text =
            "title = 'é'\n[cup]\nwall = 165\nrings = [{ up = 0, girth = 207.3 }]\n[[motif]]\nart = 'a.svg'\n";
        let (root, errors) = DeTable::parse_recoverable(text);
        assert!(errors.is_empty());
        let places = Places::of(&root);
        let at = |p: &KeyPath| &text[places.locate(p)];
        assert_eq!(at(&KeyPath::of("cup.wall")), "165");
        assert_eq!(at(&KeyPath::of("cup.rings").index(0).key("girth")), "207.3");
        assert_eq!(at(&KeyPath::of("motif").index(0).key("art")), "'a.svg'");
        // What is missing points at the heading of the table that lacks it.
        assert_eq!(at(&KeyPath::of("cup.tape")), "cup");
        assert!(at(&KeyPath::of("motif").index(0).key("width")).starts_with("[[motif]]"));
        assert_eq!(places.locate(&KeyPath::of("nowhere")), 0..0);
        let byte = text.find("165").unwrap();
        assert_eq!(line_column(text, byte), LineColumn { line: 3, column: 8 });
        assert_eq!(line_column(text, 11).column, 11, "columns count characters, not bytes");
    }
}
