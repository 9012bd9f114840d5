//! [`chosen`]: which motifs of printed sheets a job's picks take: as unlike each other as can be, from as few
//! sheets as can be, those first that are begun.
//!
//! Imports: base, read::job, make::sheet.

use crate::base::colour::linear;
use crate::base::diag::{Diagnostic, Diagnostics, ErrorGuaranteed, KeyPath};
use crate::base::units::{Mm, Mm2};
use crate::make::sheet::colour::{Lab, apart};
use crate::make::sheet::stock::{Stocked, named};
use crate::make::sheet::{FoundMotif, TOO_FEW, USED};
use crate::read::job::{ArtSize, Even, Job, MotifArt, MotifSpec, Much, OnSheet, PickSpec, Placing};
use std::collections::BTreeSet;
use std::sync::Arc;

/// Difference of colours (CIE76), and of sizes in mm, at which two motifs are no longer alike.
const UNLIKE: [f64; 2] = [25.0, 8.0];
/// Weight of likeness in size beside that in colour.
const BY_SIZE: f64 = 0.6;

/// How a motif looks: what evenness round the cup is measured by.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Look {
    /// Mean colour, CIELAB.
    pub lab: [f32; 3],
    /// Longest extent of the print.
    pub size: Mm,
    /// Area of the print.
    pub area: Mm2,
    /// What is to be evened out.
    pub even: Even,
}

impl Look {
    /// Of a motif.
    pub fn of(motif: &FoundMotif, even: Even, lab: &Lab) -> Look {
        let b = motif.bounds();
        let size = b.width().max(b.height());
        Look { lab: lab.of(motif.colour.0.map(linear)), size, area: motif.area(), even }
    }
    /// How like another it is, by what both are evened out by.
    pub fn like(&self, o: &Look) -> f64 {
        let colour = libm::exp(-f64::from(apart(self.lab, o.lab)) / UNLIKE[0]);
        let size = libm::exp(-(self.size.0 - o.size.0).abs() / UNLIKE[1]);
        let part = |on: bool, weight: f64, v: f64| if on { weight * v } else { 0.0 };
        part(self.even.colour && o.even.colour, 1.0, colour)
            + part(self.even.size && o.even.size, BY_SIZE, size)
    }
}

/// The motifs that the picks take, after the job's own. `wall` is the area of the free wall.
///
/// # Errors
/// There are not enough, or one that must be used is gone or used already.
pub fn chosen(
    job: &Job,
    stock: &[Arc<Stocked>],
    wall: Option<Mm2>,
    diagnostics: &mut Diagnostics,
) -> Result<Vec<MotifSpec>, ErrorGuaranteed> {
    let mut used = by_hand(job, stock, diagnostics)?;
    let lab = Lab::default();
    let mut out = Vec::new();
    for (i, pick) in job.picks.iter().enumerate() {
        let at = KeyPath::root().key("pick").index(i);
        let taken = one(job, stock, &Ask { pick, at: &at, wall, used: &used, lab: &lab }, diagnostics)?;
        used.extend(&taken);
        out.extend(taken.into_iter().map(|on| MotifSpec {
            art: MotifArt::Printed { on, pick: Some(i) },
            size: ArtSize::Own,
            film: job.film_of_sheet(on.sheet),
            placing: Placing::Spread { copies: 1, turning: pick.turning },
            clearance: pick.clearance,
            border: Mm::ZERO,
            mend: false,
            pass: pick.pass.clone(),
        }));
    }
    Ok(out)
}

/// The motifs that `[[motif]]`s name: each is there, and named once.
fn by_hand(
    job: &Job,
    stock: &[Arc<Stocked>],
    diagnostics: &mut Diagnostics,
) -> Result<BTreeSet<OnSheet>, ErrorGuaranteed> {
    let mut used = BTreeSet::new();
    let mut failed = None;
    for (i, motif) in job.motifs.iter().enumerate() {
        let Some(on) = motif.art.printed() else { continue };
        let at = KeyPath::root().key("motif").index(i).key("number");
        failed = named(job, stock, on, &at, diagnostics).err().or(failed);
        if !used.insert(on) {
            let message = format!("motif {} of \"{}\" is used twice", on.number, job.sheets[on.sheet].name);
            let d = Diagnostic::fault(&USED, at, message);
            failed = Some(diagnostics.push(d.help("each is there once: name another one")));
        }
    }
    failed.map_or(Ok(used), Err)
}

/// What one pick asks for.
struct Ask<'a> {
    pick: &'a PickSpec,
    at: &'a KeyPath,
    wall: Option<Mm2>,
    used: &'a BTreeSet<OnSheet>,
    lab: &'a Lab,
}

fn one(
    job: &Job,
    stock: &[Arc<Stocked>],
    ask: &Ask<'_>,
    diagnostics: &mut Diagnostics,
) -> Result<Vec<OnSheet>, ErrorGuaranteed> {
    let pick = ask.pick;
    let mut taken: Vec<OnSheet> = Vec::new();
    let mut failed = None;
    for (k, &on) in pick.with.iter().enumerate() {
        let at = ask.at.key("with").index(k);
        failed = named(job, stock, on, &at, diagnostics).err().or(failed);
        if ask.used.contains(&on) || taken.contains(&on) || pick.without.contains(&on) {
            let message = format!(
                "motif {} of \"{}\" is used already, or excepted",
                on.number, job.sheets[on.sheet].name
            );
            let d = Diagnostic::fault(&USED, at, message);
            failed = Some(diagnostics.push(d.help("take it out here or there")));
        } else {
            taken.push(on);
        }
    }
    if let Some(failed) = failed {
        return Err(failed);
    }
    let print = |on: OnSheet| &stock[on.sheet].sheet.motifs[on.number as usize - 1];
    let look = |on: OnSheet| Look::of(print(on), pick.even, ask.lab);
    let offered = offered(stock, ask, &taken);
    let area = |list: &[OnSheet]| list.iter().map(|&on| print(on).area().0).sum::<f64>();
    let enough = |list: &[OnSheet]| match (pick.much, ask.wall) {
        (Much::Count(n), _) => list.len() >= n,
        (Much::Cover(part), Some(wall)) => area(list) >= wall.0 * part / 100.0,
        (Much::Cover(_), None) => true,
    };
    let pool = few_sheets(&offered, &taken, &enough);
    let looks: Vec<(OnSheet, Look)> = pool.iter().map(|&on| (on, look(on))).collect();
    let mut worn: Vec<Look> = taken.iter().map(|&on| look(on)).collect();
    while !enough(&taken) {
        let like = |l: &Look| worn.iter().map(|w| w.like(l)).sum::<f64>();
        let free = looks.iter().filter(|(on, _)| !taken.contains(on));
        // Of those least like what is there the largest, then that of the least number.
        let next = free.min_by(|a, b| {
            like(&a.1).total_cmp(&like(&b.1)).then(b.1.area.0.total_cmp(&a.1.area.0)).then(a.0.cmp(&b.0))
        });
        let Some(&(on, l)) = next else {
            return Err(diagnostics.push(too_few(ask, taken.len(), area(&taken))));
        };
        taken.push(on);
        worn.push(l);
    }
    taken.sort_unstable();
    Ok(taken)
}

/// What a pick may take beside what it must: sheet by sheet, those first that are begun.
fn offered(stock: &[Arc<Stocked>], ask: &Ask<'_>, taken: &[OnSheet]) -> Vec<Vec<OnSheet>> {
    let pick = ask.pick;
    let mut order = pick.from.clone();
    order.sort_by_key(|&s| !stock[s].sheet.motifs.iter().any(|m| m.gone));
    let of = |&sheet: &usize| {
        let free = |m: &&FoundMotif| {
            let b = m.bounds();
            let size = b.width().max(b.height());
            let on = OnSheet { sheet, number: m.number };
            !m.gone
                && m.cut_off.is_none()
                && (pick.sizes[0]..=pick.sizes[1]).contains(&size)
                && !pick.without.contains(&on)
                && !ask.used.contains(&on)
                && !taken.contains(&on)
        };
        let motifs = stock[sheet].sheet.motifs.iter().filter(free);
        motifs.map(|m| OnSheet { sheet, number: m.number }).collect()
    };
    order.iter().map(of).collect()
}

/// As few sheets as have enough, in their order.
fn few_sheets(
    offered: &[Vec<OnSheet>],
    taken: &[OnSheet],
    enough: &dyn Fn(&[OnSheet]) -> bool,
) -> Vec<OnSheet> {
    let (mut all, mut pool) = (taken.to_vec(), Vec::new());
    for sheet in offered {
        if enough(&all) {
            break;
        }
        all.extend(sheet);
        pool.extend(sheet);
    }
    pool
}

fn too_few(ask: &Ask<'_>, count: usize, area: f64) -> Diagnostic {
    let (key, measured, allowed) = match ask.pick.much {
        Much::Count(n) => ("count", format!("{count} motifs"), format!("{n} asked for")),
        Much::Cover(part) => {
            let of = ask.wall.map_or(0.0, |w| area / w.0 * 100.0);
            ("cover", format!("{of:.1} per cent with all of them"), format!("{part} per cent asked for"))
        }
    };
    let d = Diagnostic::fault(&TOO_FEW, ask.at.key(key), "the sheets have not enough motifs for this pick");
    d.measured(measured).allowed(allowed).help("ask for less, allow other sizes, or add a sheet")
}
