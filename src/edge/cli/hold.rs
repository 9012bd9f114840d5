//! What a kit takes of a shelf is held for it, just before the kit gets its name.
//!
//! Imports: base, read::shelf, make::verify, write, edge::{shelf, cli}, edge::cli::{shelf, cut}.

use super::{Exit, cut, shelf};
use crate::base::diag::{Diagnostic, KeyPath};
use crate::edge::shelf::{NotWritten, ShelfFolder};
use crate::make::verify::Verified;
use crate::read::shelf::{Item, NOT_THERE, Thing, items_text};
use crate::write;
use std::collections::BTreeMap;
use std::path::Path;

/// The line that holds film, and what is to be said of it.
pub(super) type Booked = (Option<u64>, Vec<Diagnostic>);

/// Holds what a kit takes of a shelf, in one line; says what is not there. `film` is the fingerprint of its film.
///
/// # Errors
/// What the shelf's file says; a leftover that another order took meanwhile.
pub(super) fn held(
    folder: &Path,
    plan: &Verified,
    film: &str,
    out: &Path,
) -> Result<Booked, (Exit, Vec<Diagnostic>)> {
    let record = write::pieces::record(plan);
    let mut asked: BTreeMap<Thing, u64> = BTreeMap::new();
    for item in record.sheets.iter().filter(|s| !s.cut).filter_map(|s| cut::items(&record, s)) {
        *asked.entry(item.thing).or_default() += item.amount;
    }
    let order = cut::order_of(out);
    let mut lacking = Vec::new();
    let held = ShelfFolder::new(folder).add_if("", |there| {
        let own = there.held.get(&order);
        let mut items = Vec::new();
        for (thing, want) in &asked {
            let had = own.and_then(|h| h.items.get(thing)).copied().unwrap_or(0);
            let have = (there.free.get(thing).copied().unwrap_or(0) + had).min(*want);
            let left = matches!(thing, Thing::Left { .. });
            // Part of a roll is no use for a longer piece; a leftover that went meanwhile stops the kit.
            let take = if have == *want || left || matches!(thing, Thing::Sheet { .. }) { have } else { 0 };
            if left && have < *want {
                let item = Item { thing: thing.clone(), amount: 1 };
                return Err(format!(
                    "{} was taken by another order meanwhile: make the kit again",
                    item.words()
                ));
            }
            items.extend((take > 0).then(|| Item { thing: thing.clone(), amount: take }));
            lacking.extend((want > &take).then(|| Item { thing: thing.clone(), amount: want - take }));
        }
        let verb = if items.is_empty() { "free" } else { "hold" };
        let path = std::path::absolute(out).unwrap_or_else(|_| out.to_owned()).display().to_string();
        let fields = [
            ("order", order.clone()),
            ("kit", film.to_owned()),
            ("path", path),
            ("items", items_text(&items)),
        ];
        let fields = fields.into_iter().filter(|f| !f.1.is_empty() && (verb == "hold" || f.0 == "order"));
        let fields: Vec<(String, String)> = fields.map(|(k, v)| (k.to_owned(), v)).collect();
        // Nothing on the shelf and nothing held before: there is nothing to write.
        if items.is_empty() && own.is_none() { Err(String::new()) } else { Ok((verb.to_owned(), fields)) }
    });
    let line = match held {
        Ok((line, _)) => Some(line.number),
        Err(NotWritten::Refused(all)) if all.iter().all(|d| d.message.is_empty()) => None,
        Err(e) => return Err(shelf::not_written(folder, e)),
    };
    let told = |item: Item| {
        let message = format!("not on the shelf: {}", item.words());
        Diagnostic::note(&NOT_THERE, KeyPath::root(), message)
            .help("buy it, and `frusta shelf FOLDER bring` it")
    };
    Ok((line, lacking.into_iter().map(told).collect()))
}
