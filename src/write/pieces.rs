//! `pieces.json`: pieces and sheets to the last digit, from which the next kit keeps what need not change.
//!
//! Imports: read::{job, kept}, make::{cup, piece, film, plan, verify}.

use crate::make::film::stock::Source;
use crate::make::film::{Placed, SheetLayout};
use crate::make::piece::{Kind, Piece};
use crate::make::plan::keep::{bounds, surface, wishes};
use crate::make::verify::Verified;
use crate::read::job::Stock;
use crate::read::kept::{
    KeptFilm, KeptKind, KeptKit, KeptPiece, KeptPlaced, KeptSheet, KeptZone, LAYOUT, motion, text,
};

use serde::{Serialize, Serializer};

pub use crate::read::kept::FILE;

/// The record of a plan.
pub fn record(plan: &Verified) -> KeptKit {
    with_sheets(plan, plain_sheets(plan).map(|s| sheet(plan, s)).collect())
}

/// Its sheets, each made when it is written: the outlines of a long list are never there twice.
struct OneByOne<'a>(&'a Verified);

impl Serialize for OneByOne<'_> {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        to.collect_seq(plain_sheets(self.0).map(|s| sheet(self.0, s)))
    }
}

fn plain_sheets(plan: &Verified) -> impl Iterator<Item = &SheetLayout> {
    plan.sheets().iter().filter(|s| plan.job().sheet_of(s.film).is_none())
}

fn with_sheets<S>(plan: &Verified, sheets: S) -> KeptKit<S> {
    let kept = plan.kept();
    let piece = |p: &Piece| piece(p, kept.applied.contains(&p.number));
    let zone = |z: &crate::make::cup::WallZone| {
        let [upper, lower, slant] = surface(&z.surface);
        KeptZone { upper, lower, slant, free: bounds(&z.zone) }
    };
    let last = plan.pieces().iter().map(|p| p.number).max().unwrap_or(0);
    KeptKit {
        layout: LAYOUT,
        cups: plan.cups(),
        named: plan.named().is_some(),
        panels: plan.job().films.iter().any(|f| f.cut.lay.how.in_panels()),
        zones: plan.cup().zones.iter().map(zone).collect(),
        films: (0..plan.job().films.len()).map(|i| film(plan, i)).collect(),
        accents: wishes(plan.job()),
        next: kept.next.max(last + 1),
        pieces: plan.pieces().iter().map(piece).collect(),
        gone: kept.gone.iter().map(piece).collect(),
        changed: kept.changed.clone(),
        sheets,
        stages: plan
            .stages()
            .iter()
            .map(|s| (s.stage.to_owned(), s.counts.iter().map(|(w, n)| ((*w).to_owned(), *n)).collect()))
            .collect(),
    }
}

/// The file.
///
/// # Errors
/// A number that JSON has no word for.
pub fn file(plan: &Verified) -> Result<Vec<u8>, serde_json::Error> {
    let mut bytes = serde_json::to_vec(&with_sheets(plan, OneByOne(plan)))?;
    bytes.push(b'\n');
    Ok(bytes)
}

fn film(plan: &Verified, place: usize) -> KeptFilm {
    let f = &plan.job().films[place];
    let last = plan.sheets().iter().filter(|s| s.film.0 == place).map(|s| s.index).max().unwrap_or(0);
    KeptFilm {
        name: f.name.clone(),
        mirrored: f.mirrored,
        roll: matches!(f.stock, Stock::Roll { .. }),
        margin: f.margin.0,
        spacing: f.spacing.0,
        next_sheet: plan.kept().next_sheet.get(place).copied().unwrap_or(1).max(last + 1),
    }
}

fn piece(p: &Piece, applied: bool) -> KeptPiece {
    KeptPiece {
        number: p.number,
        kind: match p.kind {
            Kind::Motif { motif, copy } => KeptKind::Motif { motif, copy },
            Kind::Spot { accent } => KeptKind::Spot { accent },
            Kind::Tint { accent, of } => KeptKind::Tint { accent, of },
            Kind::Layer { decal, layer } => KeptKind::Layer { decal, layer },
            // A panel is none of a plan's pieces.
            Kind::Base | Kind::Lot { .. } => KeptKind::Base,
        },
        name: p.name.clone(),
        film: p.film.0,
        outline: text(&p.outline),
        keys: text(&p.keys),
        zone: p.zone,
        wall: [p.wall.azimuth.rad(), p.wall.slant.0, p.wall.turn.rad()],
        clearance: p.clearance.0,
        applied,
    }
}

fn sheet(plan: &Verified, s: &SheetLayout) -> KeptSheet {
    let placed = |p: &Placed| KeptPlaced {
        number: p.number,
        cup: p.cup,
        spare: p.spare,
        pose: motion(&p.pose),
        cuts: text(&p.cuts),
    };
    KeptSheet {
        film: s.film.0,
        index: s.index,
        width: s.width.0,
        height: s.height.0,
        mirrored: s.mirrored,
        times: s.repeat.times,
        cups: s.repeat.cups,
        taken_from: match &s.stock.source {
            Source::Bought => "bought".to_owned(),
            Source::InStock => "stock".to_owned(),
            Source::Offcut(file) => file.clone(),
        },
        shape: s.stock.shape.as_ref().map(text),
        placed: s.placed.iter().map(placed).collect(),
        lines: s.aids.lines.clone(),
        frame: s.aids.frame.map(|f| [f.min.x, f.min.y, f.max.x, f.max.y]),
        cut: plan.kept().cut.contains(&(s.film.0, s.index)),
    }
}
