//! `finish/quote.html`: what the customer gets, for how much, by when, and a place to approve the spelling.
//!
//! It holds nothing of what the maker pays or earns: of the costing only prices, tax and sums are asked for.
//!
//! Imports: base, outline, read::job, make::{finish, verify}, write::{ink, template}, write::sheets::finish::page.

use super::page::{Column, Table, page_in};
use crate::base::frame::{Page, Point};
use crate::base::moment::Day;
use crate::base::money::Share;
use crate::base::tolerance::FLATTEN;
use crate::base::units::Mm;
use crate::make::finish::Costing;
use crate::make::finish::cost::Account;
use crate::make::verify::Verified;
use crate::outline::{BezPath, Bounds, Flat, Op, Region};
use crate::read::job::finish::{QuoteSpec, StepKind, quote_word};
use crate::write::ink::drawing::{Drawing, Group, INK, Stroke, TINT};
use crate::write::ink::html::{data_uri, escaped};
use crate::write::ink::svg;
use crate::write::template::band::{Band, bands};
use std::collections::BTreeSet;

/// Path within the kit.
pub const FILE: &str = "finish/quote.html";

/// The page; each picture is what it shows and a PNG of the finished cup.
pub fn text(plan: &Verified, costing: &Costing, pictures: &[(&str, &[u8])]) -> String {
    let mut b = String::new();
    let w = Say::of(plan);
    b += &head(&w);
    b += &format!(
        "<h1>{}</h1>\n<p class=\"soft\">{}{}</p>\n",
        escaped(&plan.job().title),
        w.word("quote"),
        dates(plan, &w)
    );
    b += &figure(plan, pictures);
    b += &what(plan, &w);
    b += &prices(costing, &w);
    b += &approval(plan, &w);
    page_in(w.language(), &format!("{}: quote", plan.job().title), &b)
}

/// Words of the quote, in the job's own language where it says them.
struct Say<'a> {
    quote: Option<&'a QuoteSpec>,
}

impl<'a> Say<'a> {
    fn of(plan: &'a Verified) -> Say<'a> {
        Say { quote: plan.job().finish.as_ref().and_then(|f| f.quote.as_ref()) }
    }
    fn word(&self, key: &str) -> String {
        let own = self.quote.and_then(|q| q.words.get(key));
        escaped(own.map_or(quote_word(key), String::as_str)).to_string()
    }
    /// As it is, for what escapes it itself.
    fn plain(&self, key: &str) -> String {
        self.quote.and_then(|q| q.words.get(key)).map_or(quote_word(key), String::as_str).to_owned()
    }
    fn language(&self) -> &str {
        self.quote.and_then(|q| q.language.as_deref()).unwrap_or("en")
    }
}

/// Who offers to whom, with the logo.
fn head(w: &Say<'_>) -> String {
    let Some(q) = w.quote else { return String::new() };
    let mut out = String::new();
    if let Some(svg) = &q.logo_svg {
        let alt = q.maker.as_deref().unwrap_or("logo");
        out += &format!(
            "<p><img height=\"64\" alt=\"{}\" src=\"{}\"></p>\n",
            escaped(alt),
            data_uri("image/svg+xml", svg)
        );
    }
    let lines = |key: &str, all: &[String]| {
        let all: Vec<String> = all.iter().map(|l| escaped(l)).collect();
        if all.is_empty() {
            return String::new();
        }
        format!("<li><span>{}</span><b>{}</b></li>", w.word(key), all.join("<br>"))
    };
    let own: Vec<String> = q.maker.iter().chain(&q.address).cloned().collect();
    let both = lines("from-whom", &own) + &lines("for-whom", &q.customer);
    if !both.is_empty() {
        out += &format!("<ul class=\"key\">{both}</ul>\n");
    }
    out
}

fn dates(plan: &Verified, w: &Say<'_>) -> String {
    let Some(day) = plan.job().date.as_deref().and_then(Day::parse) else { return String::new() };
    let valid = plan.job().finish.as_ref().and_then(|f| f.price.as_ref()).map_or(30, |p| p.valid_days);
    let until = day.plus_days(i64::from(valid)).long();
    format!(" {} {}, {} {until}", w.word("of"), day.long(), w.word("valid-until"))
}

fn figure(plan: &Verified, pictures: &[(&str, &[u8])]) -> String {
    let colours = "Colours on a screen or in print are not those of the film.";
    let img = |(message, png): &(&str, &[u8])| {
        format!("<img alt=\"{}\" src=\"{}\">\n", escaped(message), data_uri("image/png", png))
    };
    let (inner, caption) = match pictures {
        [] => (
            rolled_out(plan),
            "The wall of the cup rolled out flat: front in the middle, both ends meet at the back. ",
        ),
        some => (some.iter().map(img).collect(), "The finished cup as planned, turned by quarters. "),
    };
    format!("<figure>\n{inner}\n<figcaption>{caption}{colours}</figcaption>\n</figure>\n")
}

/// The wall with its pieces in the films' colours, as SVG within the page.
pub fn rolled_out(plan: &Verified) -> String {
    let edge = 2.0;
    let bands = bands(plan.cup(), Mm::ZERO, Point::mm(edge, edge));
    let top = bands.iter().map(Band::bounds).fold(Bounds::EMPTY, |a, b| a.joined(&b)).max;
    let mut wall = Group::new("quote-wall", "The wall rolled out");
    for c in bands.iter().flat_map(|b| b.outline().into_contours()) {
        wall.mark(c, Some(TINT), Some(Stroke::solid(INK, 0.3)));
    }
    let mut pieces = Group::new("quote-pieces", "Pieces in the colours of their films");
    let walls: Vec<(Region<Page>, Flat<Page>)> = bands
        .iter()
        .map(|b| {
            let outline = b.outline();
            let flat = outline.flat(FLATTEN);
            (outline, flat)
        })
        .collect();
    for p in plan.on_wall() {
        let (band, (wall_region, inside)) = (&bands[p.zone], &walls[p.zone]);
        let home = p.outline.moved(&band.place(&p.pose));
        let colour = plan.job().films[p.film.0].colour;
        let whole = |r: &Region<Page>| -> BezPath {
            r.contours().iter().flat_map(|c| c.elements().iter().copied()).collect()
        };
        if home.flat(FLATTEN).rings.iter().flatten().all(|q| inside.contains(q[0], q[1])) {
            pieces.fill(whole(&home), colour);
            continue;
        }
        // Over the seam: what shows at either end.
        let mut both = BezPath::new();
        for n in [0, band.other_end(&p.pose)] {
            let part = p.outline.moved(&band.place_turned(&p.pose, n)).op(wall_region, Op::Intersection);
            both.extend(whole(&part));
        }
        pieces.fill(both, colour);
    }
    let drawing = Drawing {
        title: format!("{}: the wall rolled out", plan.job().title),
        message: format!("{} pieces of film on the wall", plan.on_wall().count()),
        width: top.x + edge,
        height: top.y + edge,
        groups: vec![wall, pieces],
    };
    let bytes = svg::drawing(&drawing);
    let file = String::from_utf8_lossy(&bytes);
    // Within a page there is no XML declaration, and a screen reader is told that it is a picture.
    let element = file.find("<svg").map_or("", |i| &file[i..]);
    element.trim_end().replacen("<svg", "<svg role=\"img\"", 1)
}

fn films(plan: &Verified) -> Vec<String> {
    let used: BTreeSet<_> = plan.on_wall().map(|p| p.film).collect();
    used.iter().map(|f| plan.job().films[f.0].name.replace('-', " ")).collect()
}

fn listed(words: &[String]) -> String {
    match words {
        [] => "no film".into(),
        [one] => one.clone(),
        [all @ .., last] => format!("{} and {last}", all.join(", ")),
    }
}

fn what(plan: &Verified, w: &Say<'_>) -> String {
    let cup = plan.cup();
    let heights = cup.zones.iter().map(|z| z.measured.height());
    let high = heights.reduce(|a, b| a + b).unwrap_or(Mm::ZERO);
    let f = plan.finish();
    let heads = [w.plain("what-you-get"), w.plain("details")];
    let mut t = Table::new("", &[(&heads[0], Column::Words), (&heads[1], Column::Words)]);
    let across = |girth: Mm| girth / std::f64::consts::PI;
    let holds = plan.job().cup.capacity.map_or(String::new(), |c| format!(", holds {c:.0}"));
    t.row(&[
        &w.plain("cup"),
        &format!("{:.0} high, {:.0} across the rim{holds}", high, across(cup.highest().measured.upper)),
    ]);
    t.row(&[
        &w.plain("decoration"),
        &format!("{} pieces of film, each placed by hand: {}", plan.on_wall().count(), listed(&films(plan))),
    ]);
    if !f.bands.is_empty() {
        let names: Vec<String> = f.bands.iter().map(|b| b.name.clone()).collect();
        t.row(&[&w.plain("colour-bands"), &listed(&names)]);
    }
    let clear = f.steps.iter().filter(|s| s.kind.is_clear() && !s.on_base).count();
    let sprinkled: BTreeSet<&str> = f
        .steps
        .iter()
        .filter(|s| s.kind == StepKind::Glitter && !s.on_base)
        .flat_map(|s| s.product.iter().chain(s.glitters.iter().map(|g| &g.product)))
        .map(String::as_str)
        .collect();
    if !sprinkled.is_empty() {
        let names: Vec<String> = sprinkled.into_iter().map(str::to_owned).collect();
        t.row(&[&w.plain("glitter"), &listed(&names)]);
    }
    if clear > 0 {
        let coats = if clear == 1 { "one clear coat".into() } else { format!("{clear} clear coats") };
        t.row(&[&w.plain("finish"), &format!("{coats}, cured before it leaves the workshop")]);
    }
    if let Some(base) = &f.base {
        let mark = if base.parts.iter().any(|p| p.name == "mark") { " with the maker's mark" } else { "" };
        let film = base.parts.iter().any(|p| p.name != "mark" && p.film.is_some());
        let glitter = f.steps.iter().any(|s| s.kind == StepKind::Glitter && s.on_base);
        let what = match (film, glitter) {
            (true, _) => "a disc of film",
            (false, true) => "glitter under a clear coat",
            (false, false) => "coated",
        };
        t.row(&[&w.plain("base"), &format!("{what}{mark}")]);
    }
    let rim = plan.job().cup.keep_clear.rim;
    if rim > Mm::ZERO {
        let coated =
            f.steps.iter().any(|s| matches!(s.kind, StepKind::Seal | StepKind::Clear | StepKind::Level));
        let what = if coated { "no film and no coat" } else { "no film" };
        t.row(&[
            &w.plain("rim"),
            &format!("{what} on the upper {rim:.0} of the wall, nothing inside the cup"),
        ]);
    }
    if let Some(c) = &f.calendar {
        t.row(&[&w.plain("ready"), &format!("{}, if ordered in time", c.finished.day().long())]);
    }
    t.done()
}

fn prices(costing: &Costing, w: &Say<'_>) -> String {
    let order = &costing.order;
    let money = |m| format!("{} {m}", costing.currency);
    let taxed = order.tax > crate::base::money::Money::ZERO;
    let names = ["cups", "each", "together", "tax", "to-pay"].map(|k| w.plain(k));
    let heads: Vec<(&str, Column)> =
        names.iter().take(if taxed { 5 } else { 3 }).map(|n| (n.as_str(), Column::Number)).collect();
    let row = |a: &Account| {
        let mut cells = vec![a.cups.to_string(), money(a.price_each), money(a.price)];
        if taxed {
            cells.extend([money(a.tax), money(a.pays)]);
        }
        cells
    };
    let mut out = format!("<section class=\"keep\">\n<h2>{}</h2>\n", w.word("price"));
    out += &format!(
        "<p><b>{}</b> for {}{}.</p>\n",
        escaped(&money(order.pays)),
        if order.cups == 1 { "one cup".into() } else { format!("{} cups", order.cups) },
        if taxed { ", tax included" } else { "" }
    );
    let mut t = Table::new("", &heads);
    t.row(&row(order));
    out += &t.done();
    let others: Vec<&Account> = costing.breaks.iter().filter(|a| a.cups != order.cups).collect();
    if !others.is_empty() {
        let mut t = Table::new("For other numbers of the same cup", &heads);
        others.iter().for_each(|a| t.row(&row(a)));
        out += &t.done();
    }
    let share = w.quote.map_or(Share::ZERO, |q| q.deposit);
    if share > Share::ZERO {
        let deposit = (order.pays * share).to_cents();
        out += &format!(
            "<p>{} ({share}): <b>{}</b>; {}: {}</p>\n",
            w.word("deposit"),
            escaped(&money(deposit)),
            w.word("the-rest"),
            escaped(&money(order.pays - deposit))
        );
    }
    out + "</section>\n"
}

/// Words letter by letter, and the line to sign.
fn approval(plan: &Verified, w: &Say<'_>) -> String {
    let words = &plan.finish().spelling;
    let mut out = format!("<section class=\"keep\">\n<h2>{}</h2>\n", w.word("approval"));
    if words.is_empty() {
        out += "<p>Are there words or names on the cup? Please write them here exactly as they are to \
            stand: <span class=\"line\"></span></p>\n";
    } else {
        out += &format!(
            "<p>{}</p>\n\
                <div class=\"wide\" role=\"group\" aria-label=\"Words to approve\" tabindex=\"0\">\n\
                <table>\n<thead><tr><th scope=\"col\">On the cup</th><th scope=\"col\">{}</th>\
                <th scope=\"col\">{}</th></tr></thead>\n<tbody>\n",
            w.word("check"),
            w.word("as-it-stands"),
            w.word("change-to")
        );
        for word in words {
            out += &format!(
                "<tr><th scope=\"row\" class=\"word\">{}</th><td><span class=\"tick\" role=\"img\" \
                    aria-label=\"box to tick\"></span></td><td><span class=\"line\"></span></td></tr>\n",
                escaped(word)
            );
        }
        out += "</tbody>\n</table>\n</div>\n";
    }
    out + &format!(
        "<p>{}</p>\n<p>{} <span class=\"line\"></span> {} <span class=\"line\"></span></p>\n\
            <p>{} <span class=\"line\"></span></p>\n</section>\n",
        w.word("approved"),
        w.word("name"),
        w.word("date"),
        w.word("signature")
    )
}
