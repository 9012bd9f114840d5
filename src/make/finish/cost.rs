//! What an order costs and what it is sold for, in exact decimals.
//!
//! Measured amounts enter rounded to the decimals that are printed, so the account can be redone on paper:
//!
//! ```text
//! cost of a good cup = (materials + labour) (1 + overhead) / cups / (1 - reject)
//! price              = (cost + fixed fee) / (1 - fee - margin), margin = markup / (1 + markup)
//! ```
//!
//! Imports: base, read::job, make::finish::{schedule, coat, buy}.

use super::buy::all_poured;
pub use super::coat::Inputs;
use super::coat::{FilmUse, StepPlan};
use super::schedule::loads;
use crate::base::diag::{Code, Diagnostic, Diagnostics, KeyPath};
use crate::base::moment::Minutes;
use crate::base::money::{Decimal, Money, Share, amount};
use crate::base::units::{Grams, Ml};
use crate::read::job::finish::codes::NOTHING_LEFT;
use crate::read::job::finish::{Content, FilmCharge, FilmPrice, FinishSpec, PriceSpec, Product, StepKind};
use serde::Serialize;
use std::collections::BTreeMap;

/// A price is missing.
pub const NO_PRICE: Code = Code {
    id: "finish/no-price",
    title: "something that is used has no price",
    explain: "A cost that leaves something out is worse than none. Give each film its price under \
        finish.price.films and each product its price and pack size, 0 if it costs nothing.",
};

/// One line of the account.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Line {
    /// What.
    pub item: String,
    /// How much.
    #[serde(serialize_with = "as_text")]
    pub amount: Decimal,
    /// Of what unit.
    pub unit: &'static str,
    /// Price of one unit.
    pub each: Money,
    /// Amount times price.
    pub total: Money,
}

#[allow(clippy::trivially_copy_pass_by_ref, reason = "serde asks for a reference")]
fn as_text<S: serde::Serializer>(d: &Decimal, s: S) -> Result<S::Ok, S::Error> {
    s.collect_str(&d.normalize())
}

/// The account of an order of so many good cups.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Account {
    /// Good cups.
    pub cups: u32,
    /// Materials and labour.
    pub lines: Vec<Line>,
    /// Their sum.
    pub direct: Money,
    /// Overhead on it.
    pub overhead: Money,
    /// Cost of making so many cups.
    pub made: Money,
    /// Cost of so many good cups: what fails is paid by what does not.
    pub good: Money,
    /// Cost of one good cup.
    pub good_each: Money,
    /// Margin asked for, as a share of the price.
    pub margin: Share,
    /// Price of one cup without tax, rounded up.
    pub price_each: Money,
    /// Price of the order without tax.
    pub price: Money,
    /// Fees taken from it.
    pub fees: Money,
    /// What is left of the price after cost and fees: at least the margin asked for, by rounding up.
    pub earned: Money,
    /// Tax added.
    pub tax: Money,
    /// What the customer pays.
    pub pays: Money,
}

impl Account {
    /// Cost of one good cup if the work took so long instead: its line of work is that much more or less.
    pub fn good_each_with(&self, work: Minutes, planned: Minutes) -> Option<Money> {
        let line = self.lines.iter().find(|l| l.item == "work")?;
        if self.direct == Money::ZERO || planned.0 == 0 {
            return None;
        }
        let other = self.direct - line.total;
        let own = line.total * Decimal::from(work.0) / Decimal::from(planned.0);
        // Overhead and rejects are shares of what is spent directly.
        Some((self.good_each * ((other + own).0 / self.direct.0)).to_cents())
    }
}

/// Accounts of the order itself and of each quantity asked for.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Costing {
    /// ISO 4217.
    pub currency: String,
    /// The order.
    pub order: Account,
    /// Quantity breaks, rising.
    pub breaks: Vec<Account>,
}

/// What a line is made of before it is multiplied out.
fn line(item: impl Into<String>, amount: Decimal, unit: &'static str, each: Money) -> Line {
    Line { item: item.into(), amount, unit, each, total: each * amount }
}

/// Decimals of a cup's part of a film before it is multiplied out.
const EXACT: u32 = 12;

/// Film by what it is charged: bought in whole, or the pieces and a share for waste, in the unit that its
/// price is for.
fn film_line(name: &str, u: &FilmUse, price: FilmPrice, spec: &PriceSpec, cups: Decimal) -> Line {
    let item = format!("film {name}");
    let bought = spec.charge == FilmCharge::Bought;
    // The part of what is bought that the pieces are; nothing bought, nothing charged.
    let part = if u.bought.0 > 0.0 { u.pieces.0 / u.bought.0 } else { 0.0 };
    // Parts are rounded once, when they are multiplied out: a cup may take a hundredth of a sheet.
    let of = |whole: f64, decimals: u32| match bought {
        true => amount(whole, decimals) * cups,
        false => {
            let exact = amount(whole * part, EXACT) * (Decimal::ONE + spec.waste.0) * cups;
            exact.round_dp(decimals + 4)
        }
    };
    match price {
        FilmPrice::PerSquareMetre(each) => line(item, of(u.bought.0 / 1e6, 4), "m2", each),
        FilmPrice::PerMetre(each) => line(item, of(u.length.0 / 1e3, 3), "m", each),
        FilmPrice::PerSheet(each) => line(item, of(u.sheets as f64, 0), "sheet", each),
    }
}

fn product_line(product: &Product, poured: Ml, pack: (Money, Content)) -> Line {
    let item = product.name.clone();
    match pack.1 {
        Content::Volume(v) => line(item, amount(poured.0, 1), "ml", pack.0 / amount(v.0, 3)),
        Content::Weight(w) => {
            let grams = Grams(poured.0 * product.mixed_density());
            line(item, amount(grams.0, 1), "g", pack.0 / amount(w.0, 3))
        }
    }
}

/// Minutes of work for so many cups.
pub fn minutes(spec: &FinishSpec, plan: &[StepPlan], cups: u32) -> u32 {
    let loads = loads(cups, spec.times.seats.value).len() as u32;
    let steps: u32 = plan.iter().filter(|s| !s.done).map(|s| s.set_up.0 * loads + s.each.0 * cups).sum();
    spec.times.order.value.0 + steps
}

/// Minutes of work by the kind of step, without what an order takes once.
pub fn by_kind(spec: &FinishSpec, plan: &[StepPlan], cups: u32) -> BTreeMap<StepKind, u32> {
    let loads = loads(cups, spec.times.seats.value).len() as u32;
    let mut out = BTreeMap::new();
    for s in plan.iter().filter(|s| !s.done) {
        *out.entry(s.kind).or_default() += s.set_up.0 * loads + s.each.0 * cups;
    }
    out
}

fn lines(input: &Inputs, price: &PriceSpec, cups: u32) -> Vec<Line> {
    let n = Decimal::from(cups);
    let mut lines = vec![line("blank", n, "cup", price.blank)];
    let (films, times) = input.film(cups);
    for (f, u) in films {
        if let Some(p) = price.films.get(f) {
            lines.push(film_line(&input.job.films[f.0].name, u, *p, price, Decimal::from(times)));
        }
    }
    for (j, product) in input.spec.products.iter().enumerate() {
        let Some(pack) = product.pack else { continue };
        let all = all_poured(input.spec, input.plan, j, cups);
        if all > Ml::ZERO {
            lines.push(product_line(product, all, pack));
        }
    }
    lines.push(line("consumables", n, "cup", price.consumables));
    lines.push(line("packing", n, "cup", price.packing));
    let minutes = Decimal::from(minutes(input.spec, input.plan, cups));
    lines.push(line("work", minutes, "min", price.hour / Decimal::from(60)));
    lines
}

/// The account of so many good cups; `None` if fees and margin leave nothing (a fault of the job, said when
/// it is read).
pub fn account(input: &Inputs, price: &PriceSpec, cups: u32) -> Option<Account> {
    let n = Decimal::from(cups);
    let mut lines = lines(input, price, cups);
    // A price an hour over 60 has no end in decimals: multiply first, so that the total is exact.
    if let Some(work) = lines.last_mut() {
        work.total = price.hour * work.amount / Decimal::from(60);
    }
    let direct: Money = lines.iter().map(|l| l.total).sum();
    let overhead = direct * price.overhead;
    let made = direct + overhead;
    let margin = price.margin();
    let keeps = (price.fee + margin).rest();
    // Film of an order is known for the numbers that were laid out.
    let unknown = !input.by_cups.is_empty() && !input.by_cups.contains_key(&cups);
    if unknown || cups == 0 || keeps <= Share::ZERO || price.reject >= Share::ONE {
        return None;
    }
    let good = made / price.reject.rest();
    let wanted = (good + price.fee_fixed) / keeps;
    let price_each = (wanted / n).rounded_up_to(price.round_to);
    let total = price_each * n;
    let fees = price.fee_fixed + total * price.fee;
    let tax = (total * price.tax).to_cents();
    Some(Account {
        cups,
        lines,
        direct,
        overhead,
        made,
        good,
        good_each: good / n,
        margin,
        price_each,
        price: total,
        fees,
        earned: total - fees - good,
        tax,
        pays: total + tax,
    })
}

/// The order and its quantity breaks; faults for everything that is used and has no price.
pub fn costing(input: &Inputs, price: &PriceSpec, diagnostics: &mut Diagnostics) -> Option<Costing> {
    let mut whole = true;
    let mut missing = |at: KeyPath, what: String, mend: String| {
        whole = false;
        diagnostics.push(Diagnostic::fault(&NO_PRICE, at, what).help(mend));
    };
    for f in input.films.keys().filter(|f| !price.films.contains_key(f)) {
        let name = &input.job.films[f.0].name;
        missing(
            KeyPath::of("finish.price.films").key(name),
            format!("film {name} is used and has no price"),
            format!(
                "under [finish.price] write `films = {{ {name} = {{ per-square-metre = 14.50 }} }}`, or its \
                    price by the sheet (`per-sheet`) or the metre of a roll (`per-metre`)"
            ),
        );
    }
    for (j, p) in input.spec.products.iter().enumerate() {
        let used = all_poured(input.spec, input.plan, j, 1) > Ml::ZERO;
        if used && p.pack.is_none() {
            missing(
                KeyPath::of("finish.product").index(j),
                format!("{} is used and has no price", p.name),
                format!(
                    "under [[finish.product]] name = \"{}\" write `price = 24.90` and `pack = \"1 l\"`",
                    p.name
                ),
            );
        }
    }
    if (price.fee + price.margin()).rest() <= Share::ZERO || price.reject >= Share::ONE {
        whole = false;
        diagnostics.push(
            Diagnostic::fault(
                &NOTHING_LEFT,
                KeyPath::of("finish.price.margin"),
                "fee, margin and rejects leave nothing for the cost",
            )
            .measured(format!("fee {}, margin {}, rejects {}", price.fee, price.margin(), price.reject))
            .allowed("fee and margin together less than 100 %, rejects less than 100 %")
            .help("bring them down"),
        );
    }
    if !whole {
        return None;
    }
    let order = account(input, price, input.spec.cups)?;
    let breaks = price.breaks.iter().filter_map(|&n| account(input, price, n)).collect();
    Some(Costing { currency: price.currency.clone(), order, breaks })
}
