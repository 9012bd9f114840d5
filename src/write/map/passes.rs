//! The map pass by pass: what goes on in one film step is drawn full, what lies there already as faint outlines.
//!
//! Imports: base, outline, read::job, make::{piece, verify}, write::{ink, template}, write::map::rows.

use super::rows::{self, MapZone, Row};
use crate::base::frame::Page;
use crate::make::piece::{Kind, Piece};
use crate::make::verify::Verified;
use crate::outline::Region;
use crate::read::job::Rgb;
use crate::write::ink::drawing::{Group, PAPER, Stroke, gathered};
use crate::write::template::later;

/// Outlines of what lies there already: seen beside what goes on, and not taken for it.
const FAINT: Stroke = Stroke::solid(Rgb([0xc2, 0xbc, 0xb4]), 0.15);

/// A film step of a job that has several with pieces.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Pass {
    /// What the maker calls it.
    pub name: String,
    /// Its place among the film steps, from 0.
    pub order: usize,
    /// How many film steps the job has.
    pub of: usize,
    /// Film of earlier steps lies there already.
    pub later: bool,
    /// How much longer round the wall is by then, in words; empty where a tape would not tell.
    pub longer: String,
}

/// The passes of a job that has several, in order; none if all film goes on in one, whose map is the whole map.
pub fn all(plan: &Verified) -> Vec<Pass> {
    let mut out: Vec<Pass> = Vec::new();
    let steps = later::steps(plan);
    for p in plan.pieces() {
        let (Some(name), order) = (plan.pass_name(p), p.pass(plan.job())) else { continue };
        if out.iter().all(|o| o.order != order) {
            let of = plan.job().finish.as_ref().map_or(1, |f| f.film_steps().count());
            let longer = steps.iter().find(|s| s.order == order);
            let longer =
                longer.map_or(String::new(), |s| format!(", on a wall {:.2} longer round", s.longer));
            out.push(Pass { name, order, of, later: true, longer });
        }
    }
    out.sort_by_key(|p| p.order);
    if let Some(first) = out.first_mut() {
        first.later = false;
    }
    if out.len() > 1 { out } else { Vec::new() }
}

impl Pass {
    /// For headings: its name, and when it is its turn.
    pub fn heading(&self) -> String {
        let step = format!("film step {}", self.order + 1);
        match self.name == step {
            true => format!("{step} of {}", self.of),
            false => format!("\"{}\", {step} of {}", self.name, self.of),
        }
    }
    /// The heading of its whole map, which says what the faint lines are.
    pub fn title(&self) -> String {
        let faint = if self.later { " (faint: what lies there before)" } else { "" };
        format!("{}{}{faint}", self.heading(), self.longer)
    }
    /// The name of a zone of the map with that of the pass.
    pub fn zone_name(this: Option<&Pass>, zone: MapZone) -> String {
        match this {
            Some(p) => format!("\"{}\": {}", p.name, zone.name()),
            None => zone.name(),
        }
    }
    /// Is a piece drawn full in a map of this pass, or of all?
    pub fn shows(this: Option<&Pass>, plan: &Verified, p: &Piece) -> bool {
        p.kind != Kind::Base && this.is_none_or(|pass| p.pass(plan.job()) == pass.order)
    }
    /// Does a piece lie there before this pass?
    pub fn is_under(this: Option<&Pass>, plan: &Verified, p: &Piece) -> bool {
        p.kind != Kind::Base && this.is_some_and(|pass| p.pass(plan.job()) < pass.order)
    }
    /// What a piece is filled with: film covers what lies under it.
    pub fn fill(this: Option<&Pass>, own: Option<Rgb>) -> Option<Rgb> {
        own.or(this.map(|_| PAPER))
    }
}

/// The rows of a pass, or of all, zone by zone.
pub fn by_zone<'a>(plan: &Verified, rows: &'a [Row], pass: Option<&Pass>) -> Vec<(MapZone, Vec<&'a Row>)> {
    let mut all = rows::by_zone(rows);
    for (_, list) in &mut all {
        list.retain(|r| Pass::shows(pass, plan, plan.piece(r.number)));
    }
    all.retain(|(_, list)| !list.is_empty());
    all
}

/// What lies there already, as faint outlines.
pub fn faint(outlines: &[Region<Page>]) -> Group {
    let mut g = Group::new("before", "What lies there already, from earlier film steps");
    outlines.iter().for_each(|r| {
        g.stroke(gathered(r), FAINT);
    });
    g
}
