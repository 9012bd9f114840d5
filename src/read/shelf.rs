//! The shelf: what film, leftovers and blanks there are, as its ledger says, read from the start every time.
//!
//! `bring` puts something there, `hold` sets it aside for an order (all of it in one line), `take` uses what was held,
//! `leave` brings back what a sheet left over, `drop` throws away, `undo` names a line that counts as never written.
//! A hold lapses when the order is held for again. What a line may say is decided by replaying all lines before it, so
//! an undo whose line was built upon since is refused, with the lines that stand on it.
//!
//! Items: `straw:roll:233000` (length in micrometres), `damson:sheet:300000x200000:2`, `damson:left:damson-1a.svg`,
//! `:blank:tumbler 20 oz:3`.
//!
//! Imports: base, read::ledger.

use super::ledger::{Ledger, Line};
use crate::base::diag::{Code, Diagnostic, KeyPath};
use std::collections::{BTreeMap, BTreeSet};
use std::fmt;

/// What the shelf does not allow.
pub const REFUSED: Code = Code {
    id: "shelf/refused",
    title: "The shelf does not have it so",
    explain: "What is held or taken must be there and not be held by another order; what is undone must not have been \
        built upon. `frusta shelf FOLDER` says what is there.",
};
/// A file on the shelf.
pub const FILE_MISSING: Code = Code {
    id: "shelf/file-missing",
    title: "A leftover's file is not where the shelf says, or was changed",
    explain: "The shelf keeps the outline of each leftover as a file of its own. Without it nothing can be laid out on \
        that leftover: put the file back, or drop the leftover.",
};
/// A hold without its kit.
pub const NO_KIT: Code = Code {
    id: "shelf/hold-without-kit",
    title: "Film is held for a kit that is not there",
    explain: "A kit's film is held just before the kit gets its name; something stopped in between. No film is lost: \
        make the kit again, and the hold gives way to the new one, or undo the line.",
};

/// Film that a kit takes and that is not on the shelf.
pub const NOT_THERE: Code = Code {
    id: "shelf/to-buy",
    title: "The kit takes film that is not on the shelf",
    explain: "What is on the shelf is held for the kit; this is not there, or not enough of it. Buy it and put it on the \
        shelf, and make the kit again to have it held.",
};

/// All codes of this module.
pub const CODES: &[&Code] = &[&REFUSED, &FILE_MISSING, &NO_KIT, &NOT_THERE];

/// One kind of thing on the shelf.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Thing {
    /// Film from a roll, counted in micrometres of length.
    Roll {
        /// The film.
        film: String,
    },
    /// Sheets of a size in micrometres.
    Sheet {
        /// The film.
        film: String,
        /// Left to right.
        width: u64,
        /// Along the feed.
        height: u64,
    },
    /// A leftover, by its file on the shelf.
    Left {
        /// The film.
        film: String,
        /// The file.
        file: String,
    },
    /// Cups.
    Blank {
        /// What the maker calls them.
        name: String,
    },
}

/// So much of it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Item {
    /// What.
    pub thing: Thing,
    /// Micrometres of a roll, pieces of all else.
    pub amount: u64,
}

impl fmt::Display for Item {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let n = self.amount;
        match &self.thing {
            Thing::Roll { film } => write!(f, "{}:roll:{n}", plain(film)),
            Thing::Sheet { film, width, height } => write!(f, "{}:sheet:{width}x{height}:{n}", plain(film)),
            Thing::Left { film, file } => write!(f, "{}:left:{}", plain(film), plain(file)),
            Thing::Blank { name } => write!(f, ":blank:{}:{n}", plain(name)),
        }
    }
}

/// Names hold no mark that parts items.
fn plain(name: &str) -> String {
    name.replace([':', ','], " ")
}

impl Item {
    /// In the maker's words.
    pub fn words(&self) -> String {
        let mm = |v: u64| {
            crate::base::units::without_trailing_zeros(&format!("{:.3}", v as f64 / 1000.0)).to_owned()
        };
        match &self.thing {
            Thing::Roll { film } => format!("{} mm of the roll of {film}", mm(self.amount)),
            Thing::Sheet { film, width, height } => {
                format!("{} of {film}, {} x {} mm", count(self.amount, "sheet"), mm(*width), mm(*height))
            }
            Thing::Left { film, file } => format!("the leftover {file} of {film}"),
            Thing::Blank { name } => format!("{} ({name})", count(self.amount, "blank")),
        }
    }
    /// From its text in a line.
    pub fn read(text: &str) -> Option<Item> {
        let parts: Vec<&str> = text.split(':').collect();
        let item =
            |thing, amount: &str| Some(Item { thing, amount: amount.parse().ok().filter(|n| *n > 0)? });
        match parts.as_slice() {
            [film, "roll", n] => item(Thing::Roll { film: (*film).to_owned() }, n),
            [film, "sheet", size, n] => {
                let (w, h) = size.split_once('x')?;
                let (width, height) = (w.parse().ok()?, h.parse().ok()?);
                item(Thing::Sheet { film: (*film).to_owned(), width, height }, n)
            }
            [film, "left", file] => {
                item(Thing::Left { film: (*film).to_owned(), file: (*file).to_owned() }, "1")
            }
            ["", "blank", name, n] => item(Thing::Blank { name: (*name).to_owned() }, n),
            _ => None,
        }
    }
}

fn count(n: u64, what: &str) -> String {
    if n == 1 { format!("1 {what}") } else { format!("{n} {what}s") }
}

/// Items as they stand in a line.
pub fn items_text(items: &[Item]) -> String {
    items.iter().map(Item::to_string).collect::<Vec<_>>().join(",")
}

/// What an order holds.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Held {
    /// The kit that it is held for, by the sum of its film.
    pub kit: String,
    /// The kit's folder.
    pub path: String,
    /// What is still held.
    pub items: BTreeMap<Thing, u64>,
    /// The line.
    pub line: u64,
}

/// What is on the shelf.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Shelf {
    /// What is free.
    pub free: BTreeMap<Thing, u64>,
    /// What is held, by order.
    pub held: BTreeMap<String, Held>,
    /// Sums of leftovers' files.
    pub sums: BTreeMap<String, String>,
    /// Lines that count as never written.
    pub undone: BTreeSet<u64>,
}

impl Shelf {
    /// Replays a ledger.
    ///
    /// # Errors
    /// The first line that what stands before it does not allow, and why.
    pub fn of(ledger: &Ledger) -> Result<Shelf, (u64, String)> {
        Shelf::without(ledger, &undone(&ledger.lines))
    }

    fn without(ledger: &Ledger, undone: &BTreeSet<u64>) -> Result<Shelf, (u64, String)> {
        let mut shelf = Shelf { undone: undone.clone(), ..Shelf::default() };
        for line in ledger.lines.iter().filter(|l| !undone.contains(&l.number)) {
            shelf.apply(line).map_err(|why| (line.number, why))?;
        }
        Ok(shelf)
    }

    /// May this line follow?
    ///
    /// # Errors
    /// Why not.
    pub fn allows(ledger: &Ledger, line: &Line) -> Result<Shelf, String> {
        let mut next = ledger.clone();
        next.lines.push(line.clone());
        if line.verb == "undo" {
            let target: u64 = line.get("line").parse().map_err(|_| "an undo names a line".to_owned())?;
            if target >= line.number || !ledger.lines.iter().any(|l| l.number == target) {
                return Err(format!("there is no line {target}"));
            }
            if undone(&ledger.lines).contains(&target) {
                return Err(format!("line {target} is undone already"));
            }
        }
        Shelf::of(&next).map_err(|(at, why)| match at == line.number {
            true => why,
            false => format!("line {at} stands on it: {why}; undo that first"),
        })
    }

    fn apply(&mut self, line: &Line) -> Result<(), String> {
        let items = || -> Result<Vec<Item>, String> {
            let text = line.get("items");
            let all: Option<Vec<Item>> = text.split(',').filter(|t| !t.is_empty()).map(Item::read).collect();
            all.filter(|a| !a.is_empty()).ok_or_else(|| format!("\"{text}\" are no items"))
        };
        let order = line.get("order").to_owned();
        match line.verb.as_str() {
            "bring" | "leave" => {
                for item in items()? {
                    let left = matches!(item.thing, Thing::Left { .. });
                    if left && self.has(&item.thing) {
                        return Err(format!("{} is there already", item.words()));
                    }
                    if let Thing::Left { file, .. } = &item.thing {
                        self.sums.insert(file.clone(), line.get("sum").to_owned());
                    }
                    *self.free.entry(item.thing).or_default() += item.amount;
                }
            }
            "hold" => {
                // What was held for the order before gives way to what is held now.
                if let Some(before) = self.held.remove(&order) {
                    before.items.into_iter().for_each(|(t, n)| *self.free.entry(t).or_default() += n);
                }
                let mut held = Held {
                    kit: line.get("kit").to_owned(),
                    path: line.get("path").to_owned(),
                    items: BTreeMap::new(),
                    line: line.number,
                };
                for item in items()? {
                    self.out(&item)?;
                    *held.items.entry(item.thing).or_default() += item.amount;
                }
                self.held.insert(order, held);
            }
            "free" => {
                let held = self.held.remove(&order).ok_or_else(|| format!("nothing is held for {order}"))?;
                held.items.into_iter().for_each(|(t, n)| *self.free.entry(t).or_default() += n);
            }
            "take" => self.take(line, &items()?, &order)?,
            "drop" => {
                for item in items()? {
                    self.out(&item)?;
                }
            }
            "undo" => {}
            other => return Err(format!("\"{other}\" is no verb of a shelf")),
        }
        self.free.retain(|_, n| *n > 0);
        Ok(())
    }

    /// Uses what is held for an order; what the sheet left over comes in the same line.
    fn take(&mut self, line: &Line, items: &[Item], order: &str) -> Result<(), String> {
        let held = self.held.get_mut(order).ok_or_else(|| format!("nothing is held for {order}"))?;
        if held.kit != line.get("kit") {
            return Err(format!("the film of {order} is held for another kit, made since"));
        }
        for item in items {
            let there = held.items.get(&item.thing).copied().unwrap_or(0);
            if there < item.amount {
                return Err(format!("{} is not held for {order}", item.words()));
            }
            held.items.insert(item.thing.clone(), there - item.amount);
            held.items.retain(|_, n| *n > 0);
        }
        if held.items.is_empty() {
            self.held.remove(order);
        }
        // What the sheet left over comes in the same line: neither is there without the other.
        let left = line.get("left").split(',').zip(line.get("sums").split(','));
        for (text, sum) in left.filter(|(t, _)| !t.is_empty()) {
            let item = Item::read(text).ok_or_else(|| format!("\"{text}\" is no item"))?;
            if self.has(&item.thing) {
                return Err(format!("{} is there already", item.words()));
            }
            if let Thing::Left { file, .. } = &item.thing {
                self.sums.insert(file.clone(), sum.to_owned());
            }
            *self.free.entry(item.thing).or_default() += item.amount;
        }
        Ok(())
    }

    fn has(&self, thing: &Thing) -> bool {
        self.free.contains_key(thing) || self.held.values().any(|h| h.items.contains_key(thing))
    }

    /// Takes something from what is free.
    fn out(&mut self, item: &Item) -> Result<(), String> {
        let there = self.free.get(&item.thing).copied().unwrap_or(0);
        if there >= item.amount {
            self.free.insert(item.thing.clone(), there - item.amount);
            return Ok(());
        }
        let by: Vec<&str> = self
            .held
            .iter()
            .filter(|(_, h)| h.items.contains_key(&item.thing))
            .map(|(o, _)| o.as_str())
            .collect();
        let there = Item { thing: item.thing.clone(), amount: there };
        Err(match by.as_slice() {
            [] => format!("{} is asked for, {} free", item.words(), there.words()),
            by => format!("{} is asked for; it is held for {}", item.words(), by.join(", ")),
        })
    }

    /// Everything that was ever brought and not dropped or taken, free or held: what a campaign counts.
    pub fn all(&self) -> BTreeMap<Thing, u64> {
        let mut all = self.free.clone();
        for (t, n) in self.held.values().flat_map(|h| &h.items) {
            *all.entry(t.clone()).or_default() += n;
        }
        all
    }
}

/// Lines that count as never written: those that an undo names which is not undone itself.
fn undone(lines: &[Line]) -> BTreeSet<u64> {
    let mut out = BTreeSet::new();
    for line in lines.iter().rev().filter(|l| l.verb == "undo") {
        if !out.contains(&line.number)
            && let Ok(target) = line.get("line").parse()
        {
            out.insert(target);
        }
    }
    out
}

/// A fault of the shelf.
pub fn refused(file: &str, why: impl Into<String>) -> Diagnostic {
    Diagnostic::fault(&REFUSED, KeyPath::root(), why)
        .file(file)
        .help("`frusta shelf FOLDER` says what is there, and for whom it is held; nothing was written")
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn add(ledger: &mut Ledger, verb: &str, fields: &[(&str, &str)]) -> Result<Shelf, String> {
        let fields: Vec<(&str, String)> = fields.iter().map(|(k, v)| (*k, (*v).to_owned())).collect();
        let line = ledger.next("2026-09-14T18:02:11Z", verb, &fields);
        let shelf = Shelf::allows(ledger, &line)?;
        ledger.lines.push(line);
        Ok(shelf)
    }

    fn roll(shelf: &Shelf) -> u64 {
        shelf.free.get(&Thing::Roll { film: "straw".into() }).copied().unwrap_or(0)
    }

    #[test]
    fn case_1_two_orders_want_the_same_leftover() {
        let mut l = Ledger::default();
        add(&mut l, "bring", &[("items", "damson:left:damson-1a.svg"), ("sum", "00")]).expect("brought");
        add(&mut l, "hold", &[("order", "fair"), ("kit", "a"), ("items", "damson:left:damson-1a.svg")])
            .expect("the first has it");
        let second =
            add(&mut l, "hold", &[("order", "club"), ("kit", "b"), ("items", "damson:left:damson-1a.svg")]);
        assert!(second.expect_err("the other does not").contains("held for fair"));
    }

    #[test]
    fn case_2_a_hold_gives_way_to_the_next_of_its_order() {
        let mut l = Ledger::default();
        add(&mut l, "bring", &[("items", "straw:roll:1000")]).expect("brought");
        add(&mut l, "hold", &[("order", "fair"), ("kit", "a"), ("items", "straw:roll:700")]).expect("held");
        let s = add(&mut l, "hold", &[("order", "fair"), ("kit", "b"), ("items", "straw:roll:900")]);
        assert_eq!(roll(&s.expect("the same film again")), 100);
        let old = add(&mut l, "take", &[("order", "fair"), ("kit", "a"), ("items", "straw:roll:100")]);
        assert!(old.expect_err("of the kit before").contains("another kit"));
    }

    #[test]
    fn case_3_undo_of_what_was_built_upon_is_refused_with_the_chain() {
        let mut l = Ledger::default();
        add(&mut l, "bring", &[("items", "straw:roll:1000")]).expect("brought");
        add(&mut l, "hold", &[("order", "fair"), ("kit", "a"), ("items", "straw:roll:700")]).expect("held");
        add(&mut l, "take", &[("order", "fair"), ("kit", "a"), ("items", "straw:roll:700")]).expect("taken");
        let why = add(&mut l, "undo", &[("line", "1")]).expect_err("it was used");
        assert!(why.contains("line 2 stands on it"), "{why}");
        // An undo of an undo brings the line back.
        assert_eq!(roll(&add(&mut l, "undo", &[("line", "3")]).expect("the take never was")), 300);
        add(&mut l, "undo", &[("line", "4")]).expect("but it was");
        assert!(add(&mut l, "undo", &[("line", "4")]).is_err(), "undone already");
        assert!(add(&mut l, "undo", &[("line", "99")]).is_err(), "no such line");
    }

    #[test]
    fn case_4_what_is_not_there_cannot_be_dropped() {
        let mut l = Ledger::default();
        add(&mut l, "bring", &[("items", ":blank:tumbler 20 oz:3")]).expect("brought");
        assert!(add(&mut l, "drop", &[("items", ":blank:tumbler 20 oz:4")]).is_err());
        assert!(
            add(&mut l, "drop", &[("items", ":blank:tumbler 20 oz:3")]).expect("all of them").free.is_empty()
        );
    }

    proptest! {
        /// Whatever is done, what is free and what is held is what was brought less what was taken and dropped.
        #[test]
        fn nothing_is_lost_or_doubled(acts in prop::collection::vec((0u8..6, 1u64..500, 0u8..3), 1..40)) {
            let mut l = Ledger::default();
            let mut books: Vec<(u64, i64)> = Vec::new();
            for (act, n, order) in acts {
                let (n_text, order) = (format!("straw:roll:{n}"), format!("o{order}"));
                let shelf = Shelf::of(&l).expect("sound");
                let kit = shelf.held.get(&order).map_or(String::new(), |h| h.kit.clone());
                let line = l.lines.len().to_string();
                let done = match act {
                    0 => add(&mut l, "bring", &[("items", &n_text)]).map(|s| (s, n as i64)),
                    1 => add(&mut l, "hold", &[("order", &order), ("kit", &line), ("items", &n_text)]).map(|s| (s, 0)),
                    2 => add(&mut l, "take", &[("order", &order), ("kit", &kit), ("items", &n_text)]).map(|s| (s, -(n as i64))),
                    3 => add(&mut l, "drop", &[("items", &n_text)]).map(|s| (s, -(n as i64))),
                    4 => add(&mut l, "free", &[("order", &order)]).map(|s| (s, 0)),
                    _ => {
                        let target = n % (l.lines.len() as u64 + 1);
                        add(&mut l, "undo", &[("line", &target.to_string())]).map(|s| (s, 0))
                    }
                };
                if let Ok((shelf, change)) = done {
                    books.push((l.lines.len() as u64, change));
                    let sum: i64 = books.iter().filter(|b| !shelf.undone.contains(&b.0)).map(|b| b.1).sum();
                    let there = shelf.all().values().sum::<u64>() as i64;
                    prop_assert_eq!(there, sum);
                }
            }
        }
    }
}
