//! What cannot be kept, and what is said of what was.
//!
//! Imports: base, read::{job, materials, kept}, make::{cup, piece, accent, plan}, make::plan::keep,
//! make::plan::keep::old.

use super::old::{Old, OldPiece, here};
use crate::base::diag::{Code, Diagnostic, Diagnostics, ErrorGuaranteed, KeyPath};
use crate::base::tolerance::MEASURE;
use crate::base::units::Mm;
use crate::make::accent::shares;
use crate::make::cup::Cup;
use crate::make::cup::Frustum;
use crate::make::piece::{Kind, Piece};
use crate::make::plan::Kept;
use crate::make::plan::StageReport;
use crate::read::job::{Job, Placing};
use crate::read::kept::{Changed, KeptKind, KeptKit};
use crate::read::materials::Materials;

/// Another cup.
pub const OTHER_CUP: Code = Code {
    id: "keep/other-cup",
    title: "The cup is another one than that of the kit to keep",
    explain: "Pieces keep their places only on the same wall. Girths and heights of the surface that film lies on \
        may differ by 0.2 mm; beyond that gaps come out otherwise than they were measured. Make a kit without \
        keeping, or put the readings back.",
};
/// More is asked than the kept pieces have.
pub const ASKS_MORE: Code = Code {
    id: "keep/asks-more",
    title: "More distance is asked for than the pieces to keep have from each other",
    explain: "Spots that stay keep the gap that they were made with, and sheets that stay their film's spacing and \
        margin. A job that asks for more of them cannot keep them. Ask for what the kit was made with, or make a \
        kit without keeping.",
};
/// What is not kept yet.
pub const NOT_OF_THIS: Code = Code {
    id: "keep/not-of-this-kind",
    title: "A kit of this kind cannot be kept",
    explain: "Motifs of which as many as fit are placed are searched for as a whole: with their number written down they \
        stay. Kits of a list of names, of films laid in panels, and orders whose number of cups changed are made \
        from scratch: their pieces hang together more than one by one.",
};
/// A piece on the cup would have to move.
pub const APPLIED: Code = Code {
    id: "keep/on-the-cup",
    title: "A piece that is on the cup can neither move nor go",
    explain: "The piece was marked as applied. The change puts something where it is too near to it, or drops or \
        moves it. Put the change elsewhere, or peel the piece off and mark it as not applied.",
};
/// What changed.
pub const CHANGED: Code = Code {
    id: "keep/changed",
    title: "What changed since the last kit",
    explain: "Pieces keep their number for the life of the order, and sheets that are there stay as they are. Gone \
        pieces are left on their sheet; new ones have numbers that no piece ever had, on sheets of their own; a \
        moved one is the same piece at another place.",
};

/// All codes of this module.
pub const CODES: &[&Code] = &[&OTHER_CUP, &ASKS_MORE, &NOT_OF_THIS, &APPLIED, &CHANGED];

/// How far the girth of the surface may differ from that of the kit to keep.
const SAME_CUP: Mm = Mm(0.2);

/// Girths and slant of a zone's surface.
pub(crate) fn surface(f: &Frustum) -> [f64; 3] {
    [f.upper.0, f.lower.0, f.slant.0]
}

/// Refuses what cannot be kept.
pub(super) fn refuse(
    job: &Job,
    materials: &Materials,
    cup: Option<&Cup>,
    record: &KeptKit,
    diagnostics: &mut Diagnostics,
) -> Result<(), ErrorGuaranteed> {
    let not = |at: KeyPath, message: String| {
        Diagnostic::fault(&NOT_OF_THIS, at, message).help("make the kit without keeping the last one")
    };
    if record.named || materials.names().is_some() {
        let message = "kits of a list of names cannot be kept".to_owned();
        diagnostics.push(not(KeyPath::of("order.names"), message));
    }
    let panels = job.films.iter().position(|f| f.cut.lay.how.in_panels());
    if record.panels || panels.is_some() {
        let at = panels.map_or(KeyPath::root(), |i| KeyPath::root().key("film").index(i).key("lay"));
        diagnostics.push(not(at, "films laid in panels cannot be kept".to_owned()));
    }
    let cups = super::orders::cups(job);
    if record.cups != cups {
        let message = "the order has another number of cups than the kit to keep".to_owned();
        let d = not(KeyPath::of("order.cups"), message).measured(cups).allowed(record.cups);
        diagnostics.push(d);
    }
    for (i, _) in job.motifs.iter().enumerate().filter(|(_, m)| matches!(m.placing, Placing::Many { .. })) {
        let had =
            record.pieces.iter().filter(|p| matches!(p.kind, KeptKind::Motif { motif, .. } if motif == i));
        let at = KeyPath::root().key("motif").index(i).key("copies");
        let message = "how many copies of this motif fit would be searched for anew".to_owned();
        let d = Diagnostic::fault(&NOT_OF_THIS, at, message);
        diagnostics.push(d.help(format!("write `copies = {}`, as many as the kit to keep has", had.count())));
    }
    other_cup(cup, record, diagnostics);
    for (i, a) in job.accents.iter().enumerate() {
        let of = |k: KeptKind| k == KeptKind::Spot { accent: i };
        let least = record.pieces.iter().filter(|p| of(p.kind)).map(|p| p.clearance);
        let least = least.fold(f64::INFINITY, f64::min);
        if a.gap.0 > least + MEASURE.0 {
            let at = KeyPath::root().key("accent").index(i).key("gap");
            let d =
                Diagnostic::fault(&ASKS_MORE, at, "spots that stay keep the gap that they were made with");
            diagnostics.push(
                d.measured(a.gap)
                    .allowed(format!("up to {}", Mm(least)))
                    .help("ask for the gap of the kit to keep, or make the kit without keeping it"),
            );
        }
    }
    for (i, f) in job.films.iter().enumerate() {
        let Some(was) = record.films.iter().find(|k| k.name == f.name) else { continue };
        for (key, now, was) in [("margin", f.margin.0, was.margin), ("spacing", f.spacing.0, was.spacing)] {
            if now > was + MEASURE.0 {
                let at = KeyPath::root().key("film").index(i).key(key);
                let message = format!("sheets that stay keep the {key} that they were made with");
                let d = Diagnostic::fault(&ASKS_MORE, at, message).measured(Mm(now));
                diagnostics.push(
                    d.allowed(format!("up to {}", Mm(was))).help(
                        "ask for what the kit to keep was made with, or make the kit without keeping it",
                    ),
                );
            }
        }
    }
    diagnostics.check()
}

fn other_cup(cup: Option<&Cup>, record: &KeptKit, diagnostics: &mut Diagnostics) {
    let Some(cup) = cup else { return };
    let now: Vec<[f64; 3]> = cup.zones.iter().map(|z| surface(&z.surface)).collect();
    let was: Vec<[f64; 3]> = record.zones.iter().map(|z| [z.upper, z.lower, z.slant]).collect();
    let off = now.iter().flatten().zip(was.iter().flatten()).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max);
    if now.len() != was.len() || off > SAME_CUP.0 {
        let d =
            Diagnostic::fault(&OTHER_CUP, KeyPath::of("cup"), "the surface that film lies on is another one");
        let d = match now.len() == was.len() {
            true => d.measured(format!("up to {} off", Mm(off))).allowed(format!("up to {SAME_CUP}")),
            false => d.measured(format!("{} parts", now.len())).allowed(format!("{} parts", was.len())),
        };
        let help =
            "girths, wall and the coats under the film as in the kit to keep, or a kit without keeping it";
        diagnostics.push(d.help(help));
    }
}

/// What is said of all pieces together: shares of fills, and what lies on the cup already.
pub(super) fn of_all(job: &Job, old: &Old, pieces: &[Piece], diagnostics: &mut Diagnostics) {
    shares::tell(job, pieces, diagnostics);
    applied(old, pieces, diagnostics);
}

/// Pieces on the cup that would have to go or to move.
fn applied(old: &Old, pieces: &[Piece], diagnostics: &mut Diagnostics) {
    for o in old.pieces.iter().filter(|o| o.applied) {
        let p = &o.piece;
        let now = if o.taken { pieces.iter().find(|n| n.number == p.number) } else { None };
        if now.is_some_and(|n| here(n, p)) {
            continue;
        }
        let what = if now.is_some() { "move" } else { "go" };
        let place = format!(
            "{:.1} degrees from the front, {:.1} mm up",
            p.wall.azimuth.wrapped().deg(),
            p.wall.slant.0
        );
        let message = format!("piece {} ({}) is on the cup and would have to {what}", p.number, p.name);
        let d = Diagnostic::fault(&APPLIED, KeyPath::root(), message).measured(place);
        diagnostics
            .push(d.help("put the change elsewhere, or peel it off and say `frusta cut KIT --peeled N`"));
    }
}

/// What changed; where nothing did, what had changed before.
pub(super) fn changed(old: &Old, pieces: &[Piece], record: &KeptKit) -> Changed {
    let was = |n: u32| old.pieces.iter().find(|o| o.piece.number == n);
    let mut changed = Changed::default();
    for p in pieces {
        match was(p.number) {
            None => changed.new.push(p.number),
            Some(o) if p.kind != Kind::Base && !here(p, &o.piece) => changed.moved.push(p.number),
            Some(_) => {}
        }
    }
    let gone = |o: &&OldPiece| !o.taken;
    changed.gone = old.pieces.iter().filter(gone).map(|o| o.piece.number).collect();
    [&mut changed.new, &mut changed.gone, &mut changed.moved].into_iter().for_each(|l| l.sort_unstable());
    if changed.is_empty() { record.changed.clone() } else { changed }
}

/// Says what changed.
pub(super) fn tell(kept: &Kept, diagnostics: &mut Diagnostics) {
    let Changed { new, gone, moved } = &kept.changed;
    let mut parts = Vec::new();
    for (list, what) in [(gone, "gone, left on their sheet"), (new, "new"), (moved, "moved")] {
        if !list.is_empty() {
            parts.push(format!("{what}: {}", runs(list)));
        }
    }
    if !parts.is_empty() {
        let d =
            Diagnostic::note(&CHANGED, KeyPath::root(), format!("since the last kit: {}", parts.join("; ")));
        let count = format!("{} new, {} gone, {} moved", new.len(), gone.len(), moved.len());
        diagnostics.push(d.measured(count).help("all other pieces have their number, place and sheet"));
    }
}

/// Rising numbers, runs drawn together.
pub fn runs(list: &[u32]) -> String {
    let mut runs: Vec<(u32, u32)> = Vec::new();
    for &n in list {
        match runs.last_mut() {
            Some(r) if r.1 + 1 == n => r.1 = n,
            _ => runs.push((n, n)),
        }
    }
    let run = |&(a, b): &(u32, u32)| match b - a {
        0 => a.to_string(),
        1 => format!("{a}, {b}"),
        _ => format!("{a} to {b}"),
    };
    runs.iter().map(run).collect::<Vec<_>>().join(", ")
}

/// The counts of the stages; where no piece changed, those of the kit that all of them come from.
pub(super) fn stages(
    made: Vec<StageReport>,
    old: &Old,
    pieces: &[Piece],
    record: &KeptKit,
) -> Vec<StageReport> {
    let all = old.pieces.len() == pieces.len() && old.pieces.iter().all(|o| o.taken);
    let still = |p: &Piece| old.pieces.iter().any(|o| o.piece.number == p.number && here(p, &o.piece));
    if !all || !pieces.iter().all(|p| p.kind == Kind::Base || still(p)) {
        return made;
    }
    let counted = |stage: &str, what: &str| {
        let of = record.stages.iter().find(|s| s.0 == stage)?;
        of.1.iter().find(|c| c.0 == what).map(|c| c.1)
    };
    let one = |r: StageReport| StageReport {
        stage: r.stage,
        counts: r.counts.iter().map(|(w, n)| (*w, counted(r.stage, w).unwrap_or(*n))).collect(),
    };
    made.into_iter().map(one).collect()
}
