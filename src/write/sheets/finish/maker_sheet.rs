//! `finish/maker-sheet.html`: the maker's own numbers: what to buy, each step with amounts, times and
//! cautions, the calendar, the account and what every rate stands on. Not for the customer.
//!
//! Imports: base, read::job, make::{finish, verify}, write::ink, write::sheets::measures, write::sheets::finish::page.

use super::page::{Column, Table, page};
use crate::base::diag::Diagnostic;
use crate::base::moment::Moment;
use crate::base::units::Mm;
use crate::make::finish::coat::StepPlan;
use crate::make::finish::cost::{Account, Costing};
use crate::make::finish::disc::DiscPart;
use crate::make::finish::{Calendar, Caution, Finish};
use crate::make::verify::Verified;
use crate::read::job::finish::StepKind;
use crate::write::ink::html::escaped;
use crate::write::sheets::measures;
use Column::{Number, Time, Words};

/// Path within the kit.
pub const FILE: &str = "finish/maker-sheet.html";

/// The page.
pub fn text(plan: &Verified) -> String {
    let f = plan.finish();
    let mut b = format!(
        "<h1>{}</h1>\n<p class=\"soft\">Maker's sheet: internal numbers, not for the customer</p>\n",
        escaped(&plan.job().title)
    );
    b += &key(f);
    b += &care(&f.cautions[..f.cautions.len().min(1)]);
    b += &findings(plan.diagnostics());
    b += &surfaces(f);
    b += &buy(f, plan.job().order.is_some());
    b += "<h2>Steps</h2>\n";
    for step in &f.steps {
        b += &one_step(f, step);
    }
    b += &sources(f);
    b += &f.calendar.as_ref().map_or(String::new(), calendar);
    b += &f.costing.as_ref().map_or(String::new(), costing);
    b += &rates(f);
    page(&format!("{}: maker's sheet", plan.job().title), &b)
}

fn key(f: &Finish) -> String {
    let mut items = vec![
        (f.cups.to_string(), if f.cups == 1 { "cup" } else { "cups" }),
        (measures::work(f.hands_on), "of work"),
        (format!("{:.2}", f.burial.over), "clear coats over the film"),
    ];
    if let Some(c) = &f.calendar {
        items.push((c.finished.to_string(), "all ready"));
    }
    if let Some(c) = &f.costing {
        items.push((format!("{} {}", c.currency, c.order.price_each), "price a cup, without tax"));
        items.push((format!("{} {}", c.currency, c.order.good_each), "cost of a good cup"));
    }
    let list: String = items
        .iter()
        .map(|(v, what)| format!("<li><b>{}</b><span>{}</span></li>", escaped(v), escaped(what)))
        .collect();
    format!("<ul class=\"key\">{list}</ul>\n{}<p>{}</p>\n", how_sure(f), escaped(&f.burial.words()))
}

/// How sure hours and cost are, by the bench log.
fn how_sure(f: &Finish) -> String {
    let Some((low, high)) = f.work_between else { return String::new() };
    let cost = f.costing.as_ref().and_then(|c| {
        let [low, high] = [low, high].map(|m| c.order.good_each_with(m, f.hands_on));
        Some(format!(
            "; the cost of a good cup then lies between {0} {1} and {0} {2}",
            c.currency, low?, high?
        ))
    });
    format!(
        "<p>By your bench log the work lies between {} and {} in 80 of 100 cases{}.</p>\n",
        measures::work(low),
        measures::work(high),
        cost.unwrap_or_default()
    )
}

fn care(list: &[&Caution]) -> String {
    if list.is_empty() {
        return String::new();
    }
    let each = |c: &&Caution| format!("<p><b>{}</b> {}</p>", escaped(c.title), escaped(c.text));
    format!("<div class=\"care\">{}</div>\n", list.iter().map(each).collect::<String>())
}

/// What the rules of order and the calendar found, here too, where the work is done.
fn findings(diagnostics: &[Diagnostic]) -> String {
    let own: Vec<&Diagnostic> = diagnostics.iter().filter(|d| d.code.id.starts_with("finish/")).collect();
    if own.is_empty() {
        return String::new();
    }
    let mut out = String::from("<div class=\"box\"><h2>To look at before you begin</h2>\n<ul>\n");
    for d in own {
        let allowed = d.allowed.as_ref().map_or(String::new(), |a| format!("; allowed: {a}"));
        let diagnostics = d.measured.as_ref().map_or(String::new(), |m| format!(" ({m}{allowed})"));
        out += &format!(
            "<li><b>{}</b>: {}{}. {}</li>\n",
            d.severity,
            escaped(&d.message),
            escaped(&diagnostics),
            escaped(&d.help)
        );
    }
    out + "</ul></div>\n"
}

fn cm2(v: crate::base::units::Mm2) -> String {
    format!("{:.1} cm\u{b2}", v.0 / 100.0)
}

fn surfaces(f: &Finish) -> String {
    let s = &f.surfaces;
    let mut out = String::from("<h2>Surfaces</h2>\n");
    let mut t = Table::new("", &[("Surface", Words), ("area", Number)]);
    t.row(&["wall, base edge to rim", &cm2(s.wall)]);
    t.row(&["wall below the rim's band: what a full coat covers", &cm2(s.coated)]);
    t.row(&["wall that film may cover", &cm2(s.zone)]);
    t.row(&["flat of the base", &cm2(s.base)]);
    for b in &f.bands {
        t.row(&[&format!("band {}, fades by their cover", b.name), &cm2(b.covered)]);
    }
    out += &t.done();
    if s.of_layout > Mm::ZERO {
        out += &format!(
            "<p>Coats under the film: {:.3}. Template and layout are made for that surface, {:.2} longer \
                round everywhere than the bare cup.</p>\n",
            s.under_film, s.growth
        );
    }
    if !f.bands.is_empty() {
        let mut t = Table::new(
            "Edges of bands, on the bare cup",
            &[("Line", Words), ("up the wall", Number), ("tape reads", Number)],
        );
        for r in f.bands.iter().flat_map(|b| &b.rings) {
            t.row(&[&r.label, &format!("{:.1}", r.slant), &format!("{:.1}", r.girth)]);
        }
        out += &t.done();
    }
    if let Some(d) = &f.base {
        let part = |p: &DiscPart| match p.film {
            Some(_) => format!("{} (piece {})", p.name, p.number),
            None if p.name == "mark" => "mark (printed)".to_owned(),
            None => format!("{} (not of film)", p.name),
        };
        let parts: Vec<String> = d.parts.iter().map(part).collect();
        out += &format!(
            "<p>Base: {:.1} across{}, disc {:.1} across: {}.</p>\n",
            d.across,
            if d.measured { " as measured" } else { " from the wall's girth" },
            d.disc,
            escaped(&parts.join(", "))
        );
    }
    out
}

fn buy(f: &Finish, together: bool) -> String {
    let mut t = Table::new(
        if together {
            "For the whole order, loss and smallest batches included; film as laid out for all cups together"
        } else {
            "For the whole order, loss and smallest batches included; film as laid out for one cup, times the \
                cups"
        },
        &[("To have at hand", Words), ("amount", Number), ("packs", Number)],
    );
    for l in &f.buy {
        let packs = match (&l.pack, l.packs) {
            (Some(pack), Some(n)) => format!("{n} of {pack}"),
            _ => String::new(),
        };
        t.row(&[&l.item, &measures::at_hand(l.amount, &many(l.unit, l.amount)), &packs]);
    }
    format!("<h2>Materials</h2>\n{}", t.done())
}

/// Units that are words take an s.
fn many(unit: &str, n: f64) -> String {
    if matches!(unit, "cup" | "sheet") && n > 1.0 { format!("{unit}s") } else { unit.to_owned() }
}

fn one_step(f: &Finish, s: &StepPlan) -> String {
    let with = s
        .product
        .as_ref()
        .map_or(String::new(), |p| format!(" <span class=\"soft\">with {}</span>", escaped(p)));
    let mut out = format!("<section class=\"step\">\n<h3>{}. {}{with}</h3>\n", s.number, escaped(&s.name));
    if s.done {
        out += "<p>Already on the cup when it was measured: nothing to do.</p>\n</section>\n";
        return out;
    }
    out += &care(&s.cautions);
    out += &amounts(f, s);
    out += &how(f, s);
    out += &times(f, s);
    out + "</section>\n"
}

/// How it is done.
fn how(f: &Finish, s: &StepPlan) -> String {
    if s.practice.is_empty() {
        return String::new();
    }
    let same = |o: &&StepPlan| o.number < s.number && !o.done && o.practice == s.practice;
    if let Some(first) = f.steps.iter().find(same) {
        return format!("<p class=\"small\">Done as step {}.</p>\n", first.number);
    }
    let lines: String = s.practice.iter().map(|p| format!("<li>{}</li>\n", escaped(p.text))).collect();
    format!("<ul class=\"small\">\n{lines}</ul>\n")
}

/// Several glitters on one adhesive, or one stirred in.
fn glitters(s: &StepPlan) -> String {
    let mut out = String::new();
    if !s.glitters.is_empty() {
        let heads = [
            ("Glitter, in the order in which it falls", Words),
            ("where", Words),
            ("of a full cover", Number),
            ("covers", Number),
            ("on 100 cm\u{b2}", Number),
            ("take for a cup", Number),
        ];
        let caption = format!(
            "On one wet adhesive, one after the other; a loss of {:.0} % is in it. Weigh out before the adhesive goes on",
            s.loss * 100.0
        );
        let mut t = Table::new(&caption, &heads);
        for g in &s.glitters {
            t.row(&[
                g.product.clone(),
                g.place.clone(),
                format!("{:.0} %", g.cover * 100.0),
                cm2(g.area),
                g.rate.map_or(String::new(), measures::weight),
                measures::weight(g.weight),
            ]);
        }
        out += &t.done();
    }
    if let Some(g) = &s.stirred {
        out += &format!(
            "<p>Stir in {} of {} for each cup.</p>\n",
            measures::weight(g.weight),
            escaped(&g.product)
        );
    }
    out
}

/// What else is to be measured out: water, a shared batch.
fn shared(f: &Finish, s: &StepPlan) -> String {
    let ml = |v| measures::volume(v, f.volumes);
    let mut out = String::new();
    if let Some(t) = s.thinned {
        out += &format!(
            "<p>Glue and water 1 : {} by volume, for each cup {} of glue ({}) and {} of water ({}). Stir before you \
                brush.</p>\n",
            measures::number(t.parts, if t.parts.fract() == 0.0 { 0 } else { 1 }),
            ml(t.glue_ml),
            measures::weight(t.glue_g),
            ml(t.water_ml),
            measures::weight(t.water_g)
        );
    }
    if let Some(first) = s.served_by {
        out += &format!("<p>Taken from the batch of step {first}: mix none for it, and go on at once.</p>\n");
    }
    if let Some(v) = s.shared {
        out += &format!("<p>The batch is for later steps as well: {} of it for each cup.</p>\n", ml(v));
    }
    out
}

fn amounts(f: &Finish, s: &StepPlan) -> String {
    let ml = |v| measures::volume(v, f.volumes);
    let mut out = String::new();
    if s.pieces > 0 {
        out += &format!("<p>{} pieces to weed and to place on each cup.</p>\n", s.pieces);
    }
    if s.needs.0 > 0.0 && s.glitters.is_empty() {
        let weight = match (s.needs_weight, s.rate) {
            (Some(g), Some(rate)) => {
                format!(", {} by weight ({rate:.2} on 100 cm\u{b2})", measures::weight(g))
            }
            _ => String::new(),
        };
        out += &format!(
            "<p>Each cup: {} to cover, layer {:.2}; {} stay on, {} with a loss of {:.0} \
                %{weight}.</p>\n",
            cm2(s.area),
            s.thickness,
            ml(s.stays),
            ml(s.needs),
            s.loss * 100.0
        );
    }
    out += &glitters(s);
    out += &shared(f, s);
    if !s.batches.is_empty() {
        let heads = [
            ("Load", Words),
            ("needed", Number),
            ("mix", Number),
            ("A by volume", Number),
            ("B by volume", Number),
            ("A by weight", Number),
            ("B by weight", Number),
            ("left over", Number),
        ];
        let ratio = s.batches[0].mix.b_per_100_a_by_weight;
        let caption = format!(
            "Mix by volume or by weight, not one part each way: by weight it is 100 A to {ratio:.1} B"
        );
        let mut t = Table::new(&caption, &heads);
        for b in &s.batches {
            let m = &b.mix;
            let load = format!("{} of {} cup{}", b.loads, b.cups, if b.cups == 1 { "" } else { "s" });
            let g = |v: crate::base::units::Grams| format!("{} g", measures::number(v.0, 1));
            t.row(&[
                load,
                ml(m.needed),
                ml(m.batch),
                ml(m.a),
                ml(m.b),
                g(m.a_weight),
                g(m.b_weight),
                ml(m.left),
            ]);
        }
        out += &t.done();
    }
    out
}

fn times(f: &Finish, s: &StepPlan) -> String {
    let mut out = String::from("<p>");
    if s.set_up.0 + s.each.0 > 0 {
        out += &format!("Hands-on: {} a load and {} a cup.", s.set_up, s.each);
    }
    match (s.under_lamp, s.turning) {
        (Some(t), Some(_)) => out += &format!(" Turn it under the lamp for {t}."),
        (Some(t), None) => out += &format!(" Under the lamp for {t}."),
        (None, Some(t)) => out += &format!(" Keep turning for {t}."),
        (None, None) => {}
    }
    let last = s.number == f.steps.len();
    out += &match (last, s.next_until) {
        (true, _) => format!(" In use after {}.", s.next_from),
        (false, Some(until)) if s.kind == StepKind::Adhesive || s.kind == StepKind::Glitter => {
            format!(" The glitter goes on while it is wet: within {until}.")
        }
        (false, Some(until)) => {
            format!(" Next step from {} to {until} after it; later: wash and abrade first.", s.next_from)
        }
        (false, None) if s.next_from.0 == 0 => " The next step follows at once.".into(),
        (false, None) => format!(" Next step from {} after it.", s.next_from),
    };
    out += "</p>\n";
    let when: Vec<String> = f
        .calendar
        .iter()
        .flat_map(|c| &c.entries)
        .filter(|e| e.step == s.number)
        .map(|e| {
            let load = if f.calendar.as_ref().is_some_and(|c| c.ready.len() > 1) {
                format!("load {}: ", e.load)
            } else {
                String::new()
            };
            let abrade = if e.abrade_first { ", wash and abrade first" } else { "" };
            format!("{load}{} to {}{abrade}", e.begins, e.ends)
        })
        .collect();
    if !when.is_empty() {
        out += &format!("<p class=\"small\">{}</p>\n", escaped(&when.join("; ")));
    }
    out
}

/// A source as a reader looks it up: how we know of it is a matter of ours.
pub(super) fn cited(source: &str) -> String {
    source
        .replace(", from memory)", ")")
        .replace(": from memory)", ")")
        .replace(" (from memory)", "")
        .replace(" (the 20 mm)", "")
}

/// Sources of all cautions shown, once.
fn sources(f: &Finish) -> String {
    let mut out = String::from("<h2>Where the cautions come from</h2>\n<ul class=\"small\">\n");
    for c in &f.cautions {
        out += &format!(
            "<li>{}: {}</li>\n",
            escaped(c.title),
            escaped(&c.sources.iter().map(|s| cited(s)).collect::<Vec<_>>().join("; "))
        );
    }
    out + "</ul>\n"
}

fn calendar(c: &Calendar) -> String {
    let heads = [
        ("Begins", Time),
        ("ends", Time),
        ("load", Number),
        ("step", Words),
        ("off the turner", Time),
        ("next from", Time),
        ("next until", Time),
    ];
    let mut t = Table::new("Working hours, recoat windows and seats on the turner are kept", &heads);
    let mut all: Vec<_> = c.entries.iter().collect();
    all.sort_by_key(|e| (e.begins, e.load, e.step));
    for e in all {
        let at = |m: Option<Moment>| m.map_or(String::new(), Moment::short);
        t.row(&[
            e.begins.short(),
            // The day is said once where work begins and ends on it.
            if e.begins.day() == e.ends.day() { e.ends.clock() } else { e.ends.short() },
            e.load.to_string(),
            format!("{}. {}{}", e.step, e.name, if e.abrade_first { " (abrade first)" } else { "" }),
            at(e.turner_free),
            e.next_from.short(),
            at(e.next_until),
        ]);
    }
    format!("<h2>Calendar</h2>\n{}", t.done())
}

fn costing(c: &Costing) -> String {
    let a = &c.order;
    let money = |m| format!("{} {m}", c.currency);
    let mut t = Table::new(
        &format!("Account of {} good cup{}", a.cups, if a.cups == 1 { "" } else { "s" }),
        &[("Item", Words), ("amount", Number), ("unit", Words), ("each", Number), ("total", Number)],
    );
    for l in &a.lines {
        let each = crate::base::money::amount_of(l.each, 4);
        t.row(&[l.item.clone(), l.amount.normalize().to_string(), l.unit.into(), each, money(l.total)]);
    }
    let mut sum =
        |what: &str, v| t.sum(&[what.to_owned(), String::new(), String::new(), String::new(), money(v)]);
    sum("materials and work", a.direct);
    sum("overhead", a.overhead);
    sum("cost of making them", a.made);
    sum("cost of so many good ones, rejects paid", a.good);
    sum("fees of the sale", a.fees);
    sum("earned", a.earned);
    sum("price without tax", a.price);
    sum("tax", a.tax);
    sum("the customer pays", a.pays);
    let mut out = format!("<h2>Account</h2>\n{}", t.done());
    out += &format!(
        "<p>Price = (cost + fixed fee) / (1 \u{2212} fee \u{2212} margin), margin {} of the price, rounded \
            up.</p>\n",
        percent(a.margin)
    );
    if !c.breaks.is_empty() {
        let heads = [
            ("Cups", Number),
            ("cost of a good cup", Number),
            ("price each", Number),
            ("price", Number),
            ("earned", Number),
            ("to pay", Number),
        ];
        let mut t = Table::new("For other numbers of the same cup", &heads);
        let row = |a: &Account| {
            [
                a.cups.to_string(),
                money(a.good_each),
                money(a.price_each),
                money(a.price),
                money(a.earned),
                money(a.pays),
            ]
        };
        c.breaks.iter().for_each(|a| t.row(&row(a)));
        out += &t.done();
    }
    out
}

/// A share with one decimal: a margin from a markup has many.
fn percent(s: crate::base::money::Share) -> String {
    format!("{} %", s.in_percent().round_dp(1).normalize())
}

fn rates(f: &Finish) -> String {
    let mut t = Table::new(
        "Rates that stand on common practice have no source: replace them by your data sheets and your own \
            measurements",
        &[("Rate", Words), ("value", Words), ("stands on", Words)],
    );
    for r in &f.rates {
        t.row(&[&r.what, &r.value, r.basis]);
    }
    format!("<h2>Rates and what they stand on</h2>\n{}", t.done())
}
