//! The job sheet: what was measured and what it means, what is cut from what, what was found, what to do in
//! which order, and all settings needed to make the cup again; with the care card and the batch label.
//!
//! Imports: base, read::job, make::{film, finish, verify}, write::{ink, cut, papers, map, view},
//! write::sheets::measures.

pub mod pictures;
pub mod settings;
pub mod words;
mod panels;

use crate::base::diag::Severity;
use crate::base::units::Mm;
use crate::make::film::SheetLayout;
use crate::make::film::bill::{Buy, bills};
use crate::make::finish::Finish;
use crate::make::finish::amount::GlitterPlan;
use crate::make::finish::caution;
use crate::make::verify::Verified;
use crate::read::job::finish::{StepKind, VolumeUnit};
use crate::read::job::{FilmId, Stock};
use crate::write::cut::sheet;
use crate::write::ink::decimal::{table_inch, table_mm};
use crate::write::ink::film_mark;
use crate::write::ink::png::Trouble;
use crate::write::map::rows::{Row, by_zone};
use crate::write::papers::{Block, Figure, Grid, Ink, Paper, Tick};
use crate::write::sheets::measures;
use crate::write::view::View;
use pictures::Marked;
use rayon::prelude::*;
use words::both;

/// Path of the page within the kit.
pub const FILE: &str = "job-sheet.html";

/// Most film sheets of which the job sheet has a picture: a list of a thousand names has hundreds, all of them in the
/// weeding pictures.
const MOST_SHOWN: usize = 24;

/// The pictures of the sheet that are not views of the cup.
pub struct Drawn {
    sheets: Vec<Figure>,
    /// What was found, and where on the wall.
    findings: (Grid, Option<Figure>),
}

impl Drawn {
    /// Of a plan.
    ///
    /// # Errors
    /// What the PNG encoder says.
    pub fn new(plan: &Verified) -> Result<Drawn, Trouble> {
        let (sheets, findings) = rayon::join(
            || {
                let shown = &plan.sheets()[..plan.sheets().len().min(MOST_SHOWN)];
                shown.par_iter().map(|s| pictures::sheet(plan, s)).collect::<Result<Vec<_>, _>>()
            },
            || {
                let (grid, marked) = listed(plan);
                pictures::findings(plan, &marked).map(|figure| (grid, figure))
            },
        );
        Ok(Drawn { sheets: sheets?.into_iter().flatten().collect(), findings: findings? })
    }
}

/// The sheet.
pub fn paper(plan: &Verified, rows: &[Row], drawn: Drawn, views: &[View]) -> Paper {
    let mut blocks = vec![Block::Figures(
        views.par_iter().filter(|v| matches!(v.name, "front" | "back" | "above")).map(view).collect(),
    )];
    blocks.push(Block::Text(
        "All views, an animated turn (turn.png) and a page to turn the cup by hand (turn.html) lie in the \
            folder \"view\"."
            .to_owned(),
    ));
    cup(plan, &mut blocks);
    films(plan, &mut blocks);
    sheets(plan, drawn.sheets, &mut blocks);
    layers(plan, &mut blocks);
    buying(plan, &mut blocks);
    findings(plan, drawn.findings, &mut blocks);
    steps(plan, rows, &mut blocks);
    coats(plan.finish(), &mut blocks);
    blocks.push(Block::Section("care".to_owned(), "Care card and label".to_owned()));
    blocks.extend(words::blocks(plan));
    blocks.push(Block::Section("settings".to_owned(), "Settings to make it again".to_owned()));
    blocks.extend(settings::blocks(plan.job()));
    if !plan.job().written.text.is_empty() {
        let text = plan.job().written.text.clone();
        blocks.push(Block::File("The job file as it was read".to_owned(), text));
    }
    let date = plan.job().date.as_deref().unwrap_or("no date given");
    Paper {
        title: plan.job().title.clone(),
        line: format!(
            "Job sheet, {date}. {}{} pieces on {} sheets of {} films. Seed {}. Made by frusta {}.",
            if plan.cups() > 1 { format!("{} cups of ", plan.cups()) } else { String::new() },
            plan.pieces().len(),
            plan.sheets().iter().map(|s| s.repeat.times as usize).sum::<usize>(),
            plan.job().films.len(),
            plan.job().seed.0,
            env!("CARGO_PKG_VERSION")
        ),
        blocks,
    }
}

/// A view of the cup.
pub fn view(v: &View) -> Figure {
    let white = |p: &[u8]| {
        let a = u32::from(p[3]);
        [0, 1, 2].map(|k| ((u32::from(p[k]) * a + 255 * (255 - a) + 127) / 255) as u8)
    };
    Figure {
        png: v.png.clone(),
        size: (v.picture.width, v.picture.height),
        alt: v.message.to_owned(),
        caption: v.name.to_owned(),
        wide: 52.0,
        ink: Ink::pixels(&v.picture.rgba.chunks_exact(4).flat_map(white).collect::<Vec<u8>>()),
    }
}

fn cup(plan: &Verified, out: &mut Vec<Block>) {
    out.push(Block::Section("cup".to_owned(), "The cup and what its readings mean".to_owned()));
    let (cup, r) = (plan.cup(), &plan.cup().readings);
    let mut grid = Grid::new(
        "Tape readings against the straight wall through them",
        &["up the wall", ">girth read, mm", ">in", ">on the wall, mm", ">off, mm"],
    );
    for ring in &r.rings {
        grid.row([
            both(ring.slant),
            table_mm(ring.read),
            table_inch(ring.read),
            table_mm(ring.fitted),
            table_mm(ring.off),
        ]);
    }
    out.push(Block::Table(grid));
    out.push(Block::Points(words::readings(plan)));
    let spec = &plan.job().cup;
    let mut grid = Grid::new("Measures that template and layout are made for", &["what", ">mm", ">in"]);
    let mut line = |what: &str, v: Mm| grid.row([what.to_owned(), table_mm(v), table_inch(v)]);
    line("round the rim", cup.upper());
    line("round the base edge", cup.lower());
    line("wall, base edge to rim", cup.wall());
    line("height, upright", cup.height());
    line("no film below the rim for", spec.keep_clear.rim);
    line("no film above the base edge for", spec.keep_clear.base);
    if spec.lap.0 > 0.0 {
        line("lap at the seam", spec.lap);
    }
    if spec.build_up.0 > 0.0 {
        line("layers under the film", spec.build_up);
    }
    out.push(Block::Table(grid));
}

fn films(plan: &Verified, out: &mut Vec<Block>) {
    out.push(Block::Section("films".to_owned(), "Films and sheets".to_owned()));
    let mut grid =
        Grid::new("Films", &["film", "name", "comes as", ">pieces", ">sheets", ">used, cm\u{b2}", "notes"]);
    for (i, f) in plan.job().films.iter().enumerate() {
        let id = FilmId(i);
        let form = match f.stock {
            Stock::Sheet { width, height } => format!("sheets, {:.0} x {:.0} mm", width.0, height.0),
            Stock::Roll { width, .. } => format!("roll, {:.0} mm wide", width.0),
        };
        let own = plan.sheets().iter().filter(|s| s.film == id);
        let area = |s: &SheetLayout| s.placed.iter().map(|p| p.cuts.area().0).sum::<f64>();
        let used: f64 = own.clone().map(|s| area(s) * f64::from(s.repeat.times)).sum();
        grid.row([
            film_mark::letter(id),
            f.name.clone(),
            form,
            (plan.pieces().iter().filter(|p| p.film == id).count() * plan.cups() as usize).to_string(),
            own.map(|s| s.repeat.times as usize).sum::<usize>().to_string(),
            format!("{:.1}", used / 100.0),
            words::film_notes(f).join("; "),
        ]);
    }
    out.push(Block::Table(grid));
}

fn sheets(plan: &Verified, drawn: Vec<Figure>, out: &mut Vec<Block>) {
    out.push(Block::Figures(drawn));
    if plan.sheets().len() > MOST_SHOWN {
        out.push(Block::Text(format!(
            "These are the first {MOST_SHOWN} of {} sheets; the folder \"weeding\" has a picture of every one.",
            plan.sheets().len()
        )));
    }
    for s in plan.sheets() {
        let notes = words::sheet_notes(plan, s);
        if !notes.is_empty() {
            out.push(Block::Heading(format!("Weeding {}", sheet::sheet_name(plan, s))));
            out.push(Block::Points(notes));
        }
    }
}

fn layers(plan: &Verified, out: &mut Vec<Block>) {
    let list = words::layers(plan);
    if list.is_empty() {
        return;
    }
    out.push(Block::Heading("Order of layers".to_owned()));
    out.push(Block::Text(
        "Lowest first. Lay each on the one below by the marks that both carry; press down from the middle."
            .to_owned(),
    ));
    out.push(Block::Points(list));
}

fn buying(plan: &Verified, out: &mut Vec<Block>) {
    out.push(Block::Section("buying".to_owned(), "To buy".to_owned()));
    let caption = match plan.cups() {
        1 => "Film for one cup".to_owned(),
        n => format!("Film for all {n} cups, laid out together"),
    };
    let mut grid = Grid::new(
        &caption,
        &[
            "film",
            "name",
            "colour",
            "buy",
            "from stock and leftovers",
            ">pieces",
            ">spares",
            ">film taken, cm\u{b2}",
            ">of it in pieces",
        ],
    );
    for b in bills(plan.sheets(), &plan.job().films) {
        if b.sheets == 0 {
            continue;
        }
        let f = &plan.job().films[b.film.0];
        let what = match (b.buy, f.stock) {
            (Buy::Nothing, _) => "nothing".to_owned(),
            (Buy::Sheets(n), Stock::Sheet { width, height }) => {
                let word = if n == 1 { "sheet" } else { "sheets" };
                format!("{n} {word} of {:.0} x {:.0} mm", width.0, height.0)
            }
            (Buy::Sheets(n), Stock::Roll { .. }) => format!("{n} sheets"),
            (Buy::Length(l), _) => {
                let wide = match f.stock {
                    Stock::Roll { width, .. } | Stock::Sheet { width, .. } => width,
                };
                format!("{:.0} mm of a roll {:.0} mm wide", l.0.ceil(), wide.0)
            }
        };
        let had = [(b.from_stock, "from stock"), (b.from_leftovers, "leftover")];
        let had: Vec<String> = had.iter().filter(|(n, _)| *n > 0).map(|(n, w)| format!("{n} {w}")).collect();
        grid.row([
            film_mark::letter(b.film),
            f.name.clone(),
            f.colour.to_string(),
            what,
            if had.is_empty() { "\u{2013}".to_owned() } else { had.join(", ") },
            b.pieces.to_string(),
            b.spares.to_string(),
            format!("{:.0}", b.film_area.0 / 100.0),
            format!("{:.0} %", b.used_part * 100.0),
        ]);
    }
    out.push(Block::Table(grid));
    let plan = plan.finish();
    let cups = if plan.cups > 1 { format!(" for {} cups", plan.cups) } else { String::new() };
    if !plan.rates.is_empty() {
        out.push(Block::Text(format!(
            "What the coats need{cups} stands in finish/maker-sheet.html, with the packs to buy."
        )));
    }
}

fn findings(plan: &Verified, (grid, figure): (Grid, Option<Figure>), out: &mut Vec<Block>) {
    out.push(Block::Section("findings".to_owned(), "Findings".to_owned()));
    if plan.diagnostics().is_empty() {
        out.push(Block::Text("Nothing was found wanting.".to_owned()));
        return;
    }
    out.push(Block::Table(grid));
    out.extend(figure.map(|f| Block::Figures(vec![f])));
}

/// What was found, and what of it is marked on the wall.
fn listed(plan: &Verified) -> (Grid, Vec<Marked>) {
    let mut marked = Vec::new();
    let mut grid = Grid::new("What was found, worst first", &["mark", "how bad", "what", "where", "to mend"]);
    let mut list: Vec<_> = plan.diagnostics().iter().collect();
    list.sort_by_key(|d| std::cmp::Reverse(d.severity));
    for (i, d) in list.into_iter().enumerate() {
        let letter = film_mark::letter(FilmId(i));
        let place = pictures::place(plan, d);
        let at = match &place {
            Some(pictures::Place::Pieces(n)) => format!("{}: pieces {}", d.at, words::numbers(n)),
            Some(pictures::Place::Ring(s)) => format!("{}: {} up the wall", d.at, both(*s)),
            None if d.at.0.is_empty() => "the job".to_owned(),
            None => d.at.to_string(),
        };
        let mut message = d.message.clone();
        if let Some(m) = &d.measured {
            message.push_str(&format!("; found {m}"));
        }
        if let Some(a) = &d.allowed {
            message.push_str(&format!(", allowed {a}"));
        }
        grid.row([letter.clone(), d.severity.to_string(), message, at, d.help.clone()]);
        if let (Some(place), true) = (place, d.severity > Severity::Note || marked.len() < 8) {
            marked.push(Marked { letter, place });
        }
    }
    (grid, marked)
}

fn cautions(list: &[&'static caution::Caution]) -> Vec<(String, String)> {
    list.iter().map(|c| (c.title.to_owned(), c.text.to_owned())).collect()
}

/// What is done, in order: the film part of the job from its plan, the coats from the plan of finishing.
fn steps(plan: &Verified, rows: &[Row], out: &mut Vec<Block>) {
    let f = plan.finish();
    out.push(Block::Section("steps".to_owned(), "Steps in order".to_owned()));
    out.push(Block::Caution(caution::FIRST.title.to_owned(), caution::FIRST.text.to_owned()));
    let mut ticks: Vec<Tick> = words::template_steps(plan);
    let mut film = film_ticks(plan, rows);
    let mut placed = false;
    for s in f.steps.iter().filter(|s| !s.done) {
        let mut t = coat_tick(s, f.cups);
        if s.kind == StepKind::Film && !placed {
            placed = true;
            // The step's own cautions stand where the film is cut.
            film[0].cautions = std::mem::take(&mut t.cautions);
            let how = s.practice.iter().map(|p| p.text.to_owned());
            film[0].more.extend(how);
            ticks.append(&mut film);
        } else {
            ticks.push(t);
        }
    }
    if !placed {
        film[0].cautions = cautions(&caution::at_step(StepKind::Film, None));
        ticks.append(&mut film);
    }
    out.push(Block::Ticks(ticks));
}

fn film_ticks(plan: &Verified, rows: &[Row]) -> Vec<Tick> {
    let mut ticks = Vec::new();
    for s in plan.sheets() {
        let name = sheet::sheet_name(plan, s);
        let mut more = vec![format!(
            "File {}. Measure its check bar before the whole sheet is cut; the group \"{}\" is not cut.",
            sheet::file_name(plan, s),
            sheet::NOT_TO_CUT
        )];
        more.extend(sheet::repeats(s).map(|r| format!("{r}.")));
        more.extend(words::ends(plan, s));
        if s.mirrored {
            more.push("The file is mirrored: lay the film face down.".to_owned());
        }
        let times = if s.repeat.times > 1 { format!(", {} times", s.repeat.times) } else { String::new() };
        ticks.push(Tick { message: format!("Cut and weed {name}{times}"), more, cautions: Vec::new() });
    }
    ticks.extend(panels::ticks(plan));
    let singly = if plan.panels().list.is_empty() { "" } else { " laid one by one" };
    for (zone, list) in by_zone(rows) {
        let single = |r: &&Row| plan.panels().of(r.number).is_none();
        let numbers: Vec<u32> = list.iter().copied().filter(single).map(|r| r.number).collect();
        if numbers.is_empty() {
            continue;
        }
        ticks.push(Tick {
            message: format!("Place {}: {} pieces{singly}", zone.name(), numbers.len()),
            more: vec![format!("Numbers {}.{}", words::numbers(&numbers), words::on_each(plan.cups()))],
            cautions: Vec::new(),
        });
    }
    if ticks.is_empty() {
        ticks.push(Tick { message: "No film in this job".to_owned(), ..Tick::default() });
    }
    ticks
}

fn coat_tick(s: &crate::make::finish::coat::StepPlan, cups: u32) -> Tick {
    let mut more = Vec::new();
    let of = |g: &GlitterPlan| format!("{} of {}, {}", measures::weight(g.weight), g.product, g.place);
    if !s.glitters.is_empty() {
        let all: Vec<String> = s.glitters.iter().map(of).collect();
        more.push(format!("On the wet adhesive, one after the other, a cup: {}.", all.join("; ")));
    } else if s.needs.0 > 0.0 {
        let with = s.product.as_ref().map_or(String::new(), |p| format!(" of {p}"));
        more.push(format!(
            "{}{with} a cup, loss included, over {:.0} cm\u{b2}; {:.2} mm stay ({}).",
            measures::volume(s.needs, VolumeUnit::Ml),
            s.area.0 / 100.0,
            s.thickness.0,
            s.thickness_basis.words()
        ));
    }
    if let Some(t) = s.thinned {
        let (glue, water) = (measures::weight(t.glue_g), measures::weight(t.water_g));
        more.push(format!("Of that {glue} of glue and {water} of water."));
    }
    if let Some(g) = &s.stirred {
        more.push(format!("Stir in {} of {}.", measures::weight(g.weight), g.product));
    }
    if let Some(first) = s.served_by {
        more.push(format!("From the batch of step {first}, at once."));
    }
    more.extend(s.practice.iter().map(|p| p.text.to_owned()));
    if cups > 1 {
        more.push(format!("{cups} cups."));
    }
    match (s.under_lamp, s.turning) {
        (Some(t), Some(_)) => more.push(format!("Turn it under the lamp for {}.", words::minutes(t))),
        (Some(t), None) => more.push(format!("Under the lamp for {}.", words::minutes(t))),
        (None, Some(t)) => more.push(format!("Keep it turning for {}.", words::minutes(t))),
        (None, None) => {}
    }
    let next = match s.next_until {
        Some(until) if matches!(s.kind, StepKind::Adhesive | StepKind::Glitter) => {
            format!("The glitter goes on while it is wet: within {}.", words::minutes(until))
        }
        Some(until) => {
            format!(
                "Next step not before {}, not after {}.",
                words::minutes(s.next_from),
                words::minutes(until)
            )
        }
        None if s.next_from.0 > 0 => format!("Next step not before {}.", words::minutes(s.next_from)),
        None => String::new(),
    };
    more.extend(Some(next).filter(|n| !n.is_empty()));
    Tick { message: words::capital(&s.name), more, cautions: cautions(&s.cautions) }
}

fn coats(f: &Finish, out: &mut Vec<Block>) {
    if f.rates.is_empty() {
        return;
    }
    let mut grid = Grid::new("Rates used and what they stand on", &["what", ">value", "stands on"]);
    for r in &f.rates {
        grid.row([r.what.clone(), r.value.clone(), r.basis.to_owned()]);
    }
    out.push(Block::Heading("Rates".to_owned()));
    out.push(Block::Table(grid));
}
