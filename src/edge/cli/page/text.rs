//! Edits of the job's text: one value after another, comments, order and everything that was not asked for
//! kept as they stand.
//!
//! This is the home of toml_edit.
//!
//! Imports: none.

use serde::Deserialize;
use serde_json::Value as Json;
use toml_edit::{Array, ArrayOfTables, DocumentMut, InlineTable, Item, Table, TableLike, Value};

/// One step of a path into the job.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
#[serde(untagged)]
pub enum Step {
    /// A place in a list.
    Index(usize),
    /// A key of a table.
    Key(String),
}

/// One change.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(rename_all = "lowercase", deny_unknown_fields)]
pub enum Edit {
    /// Writes a value; tables on the way are made.
    Set {
        /// Where.
        at: Vec<Step>,
        /// What.
        to: Json,
    },
    /// Takes a key or a place of a list away; nothing there is right too.
    Remove {
        /// Where.
        at: Vec<Step>,
    },
    /// Adds to the end of a list, which is made if there is none.
    Add {
        /// The list.
        at: Vec<Step>,
        /// What.
        to: Json,
    },
}

/// Deepest path that an edit may have.
const DEEPEST: usize = 12;

/// The text with all edits made, one after another.
///
/// # Errors
/// In words, what could not be done; then none is.
pub fn edited(text: &str, edits: &[Edit]) -> Result<String, String> {
    let mut doc: DocumentMut = text.parse().map_err(|e: toml_edit::TomlError| {
        format!("the job file cannot be read as it stands, so nothing was changed in it: {}", e.message())
    })?;
    for edit in edits {
        let root = Node::Table(doc.as_table_mut());
        match edit {
            Edit::Set { at, to } => set(root, at, to)?,
            Edit::Remove { at } => remove(root, at)?,
            Edit::Add { at, to } => add(root, at, to)?,
        }
    }
    Ok(doc.to_string())
}

/// The text as JSON, dates as text; none if it is no TOML.
pub fn json(text: &str) -> Option<Json> {
    let doc: DocumentMut = text.parse().ok()?;
    Some(json_of_table(doc.as_table()))
}

enum Node<'a> {
    Table(&'a mut Table),
    Item(&'a mut Item),
    Value(&'a mut Value),
}

fn lost(step: &Step) -> String {
    match step {
        Step::Key(k) => format!("the job has no place called {k} to write to"),
        Step::Index(i) => format!("the job has no entry {} there", i + 1),
    }
}

impl<'a> Node<'a> {
    /// As something with keys, and whether it stands on one line.
    fn keys(self) -> Option<(&'a mut dyn TableLike, bool)> {
        match self {
            Node::Table(t) => Some((t as &mut dyn TableLike, false)),
            Node::Item(i) => {
                if i.is_none() {
                    *i = Item::Table(Table::new());
                }
                let inline = i.is_inline_table();
                i.as_table_like_mut().map(|t| (t, inline))
            }
            Node::Value(v) => v.as_inline_table_mut().map(|t| (t as &mut dyn TableLike, true)),
        }
    }
    fn down(self, step: &Step, make: bool) -> Result<Node<'a>, String> {
        match step {
            Step::Key(key) => {
                let (table, inline) = self.keys().ok_or_else(|| lost(step))?;
                if table.get(key).is_none() && make {
                    let new = match inline {
                        true => Item::Value(InlineTable::new().into()),
                        false => Item::Table(Table::new()),
                    };
                    table.insert(key, new);
                }
                table.get_mut(key).map(Node::Item).ok_or_else(|| lost(step))
            }
            Step::Index(i) => {
                let found = match self {
                    Node::Item(Item::ArrayOfTables(list)) => list.get_mut(*i).map(Node::Table),
                    Node::Item(Item::Value(Value::Array(list))) | Node::Value(Value::Array(list)) => {
                        list.get_mut(*i).map(Node::Value)
                    }
                    _ => None,
                };
                found.ok_or_else(|| lost(step))
            }
        }
    }
}

/// The node of all steps but the last, and the last.
fn parent<'a, 's>(root: Node<'a>, at: &'s [Step], make: bool) -> Result<(Node<'a>, &'s Step), String> {
    let (last, way) = at.split_last().ok_or("an edit without a place")?;
    if at.len() > DEEPEST {
        return Err("an edit too deep for a job".into());
    }
    let mut node = root;
    for step in way {
        node = node.down(step, make)?;
    }
    Ok((node, last))
}

fn set(root: Node<'_>, at: &[Step], to: &Json) -> Result<(), String> {
    let top = at.len() == 1;
    let (node, last) = parent(root, at, true)?;
    match last {
        Step::Key(key) => {
            let (table, inline) = node.keys().ok_or_else(|| lost(last))?;
            match table.get_mut(key) {
                Some(old) if json_of(old) == *to => {}
                Some(Item::Value(old)) => replace(old, value(to)?),
                Some(old) => *old = item(to, top && !inline)?,
                None => {
                    table.insert(key, item(to, top && !inline)?);
                }
            }
            Ok(())
        }
        Step::Index(_) => match node.down(last, false)? {
            Node::Value(old) if json_of_value(old) == *to => Ok(()),
            Node::Value(old) => {
                replace(old, value(to)?);
                Ok(())
            }
            Node::Table(old) => {
                let Json::Object(_) = to else { return Err(lost(last)) };
                *old = table(to)?;
                Ok(())
            }
            Node::Item(_) => Err(lost(last)),
        },
    }
}

/// Another value with the old one's spaces and comments round it.
fn replace(old: &mut Value, new: Value) {
    let decor = old.decor().clone();
    *old = new;
    *old.decor_mut() = decor;
}

fn remove(root: Node<'_>, at: &[Step]) -> Result<(), String> {
    let Ok((node, last)) = parent(root, at, false) else { return Ok(()) };
    match last {
        Step::Key(key) => {
            if let Some((table, _)) = node.keys() {
                table.remove(key);
            }
        }
        Step::Index(i) => match node {
            Node::Item(Item::ArrayOfTables(list)) if *i < list.len() => {
                list.remove(*i);
            }
            Node::Item(Item::Value(Value::Array(list))) | Node::Value(Value::Array(list))
                if *i < list.len() =>
            {
                list.remove(*i);
            }
            _ => {}
        },
    }
    Ok(())
}

fn add(root: Node<'_>, at: &[Step], to: &Json) -> Result<(), String> {
    let tables = to.is_object() && at.iter().all(|s| matches!(s, Step::Key(_)));
    let (node, last) = parent(root, at, true)?;
    let Step::Key(key) = last else {
        return match node.down(last, false)? {
            Node::Value(Value::Array(list)) => push(list, value(to)?),
            _ => Err(lost(last)),
        };
    };
    let (table_like, inline) = node.keys().ok_or_else(|| lost(last))?;
    if table_like.get(key).is_none() {
        let list = match tables && !inline {
            true => Item::ArrayOfTables(ArrayOfTables::new()),
            false => Item::Value(Array::new().into()),
        };
        table_like.insert(key, list);
    }
    match table_like.get_mut(key) {
        Some(Item::ArrayOfTables(list)) => {
            let mut new = table(to)?;
            new.decor_mut().set_prefix("\n");
            list.push(new);
            Ok(())
        }
        Some(Item::Value(Value::Array(list))) => push(list, value(to)?),
        _ => Err(format!("{key} is no list")),
    }
}

/// A new entry stands as the last one does.
fn push(list: &mut Array, mut new: Value) -> Result<(), String> {
    match list.iter().last() {
        Some(last) => {
            // A comment before the last entry is that entry's.
            let prefix = last.decor().prefix().and_then(|p| p.as_str()).unwrap_or(" ");
            let space: String =
                prefix.chars().rev().take_while(|c| c.is_whitespace() && *c != '\n').collect();
            let own_line = if prefix.contains('\n') { "\n" } else { "" };
            new.decor_mut().set_prefix(format!("{own_line}{}", if space.is_empty() { " " } else { &space }));
            list.push_formatted(new);
        }
        None => list.push(new),
    }
    Ok(())
}

/// A value as it stands in a table: on the top floor tables and lists of tables have headings.
fn item(to: &Json, top: bool) -> Result<Item, String> {
    match to {
        Json::Object(_) if top => Ok(Item::Table(table(to)?)),
        Json::Array(list) if top && !list.is_empty() && list.iter().all(Json::is_object) => {
            let mut tables = ArrayOfTables::new();
            for t in list {
                tables.push(table(t)?);
            }
            Ok(Item::ArrayOfTables(tables))
        }
        _ => Ok(Item::Value(value(to)?)),
    }
}

fn table(to: &Json) -> Result<Table, String> {
    let mut out = Table::new();
    for (k, v) in to.as_object().into_iter().flatten() {
        out.insert(k, Item::Value(value(v)?));
    }
    Ok(out)
}

fn value(to: &Json) -> Result<Value, String> {
    Ok(match to {
        Json::Null => return Err("nothing is no value".into()),
        Json::Bool(b) => (*b).into(),
        Json::Number(n) => match (n.as_i64(), n.as_f64()) {
            (Some(i), _) => i.into(),
            (None, Some(f)) if f.is_finite() => f.into(),
            _ => return Err(format!("{n} is too large")),
        },
        Json::String(s) => s.as_str().into(),
        Json::Array(list) => {
            let mut out = Array::new();
            for v in list {
                out.push(value(v)?);
            }
            out.into()
        }
        Json::Object(map) => {
            let mut out = InlineTable::new();
            for (k, v) in map {
                out.insert(k, value(v)?);
            }
            out.into()
        }
    })
}

fn json_of_table(table: &dyn TableLike) -> Json {
    Json::Object(
        table.iter().filter(|(_, i)| !i.is_none()).map(|(k, i)| (k.to_owned(), json_of(i))).collect(),
    )
}

fn json_of(item: &Item) -> Json {
    match item {
        Item::None => Json::Null,
        Item::Value(v) => json_of_value(v),
        Item::Table(t) => json_of_table(t),
        Item::ArrayOfTables(list) => list.iter().map(|t| json_of_table(t)).collect(),
    }
}

fn json_of_value(value: &Value) -> Json {
    match value {
        Value::String(s) => s.value().as_str().into(),
        Value::Integer(i) => (*i.value()).into(),
        Value::Float(f) => (*f.value()).into(),
        Value::Boolean(b) => (*b.value()).into(),
        Value::Datetime(d) => d.value().to_string().into(),
        Value::Array(list) => list.iter().map(json_of_value).collect(),
        Value::InlineTable(t) => json_of_table(t),
    }
}

#[cfg(test)]
mod tests;
