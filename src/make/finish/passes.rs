//! Film in several passes: what each film step places, what is sealed before the next, and how high the film rises
//! over the last coat.
//!
//! Imports: base, outline, read::job, make::{cup, piece, film}, make::finish::{stack, coat}.

use super::coat::{FilmUse, StepPlan, film_use, step_path};
use super::stack::{self, FilmStack};
use crate::base::diag::{Code, Diagnostic, Diagnostics};
use crate::base::frame::Plane;
use crate::base::tolerance::{FLATTEN, MEASURE};
use crate::base::units::Mm;
use crate::make::cup::Development;
use crate::make::film::SheetLayout;
use crate::make::film::cups::CupPieces;
use crate::make::film::order::starts;
use crate::make::piece::{Kind, Piece};
use crate::outline::{Clearance, Flat};
use crate::read::job::finish::{FinishSpec, Over};
use crate::read::job::{FilmId, Job};
use std::collections::BTreeMap;

/// Film of a later pass on film that nothing seals.
pub const NOT_SEALED: Code = Code {
    id: "finish/film-on-film",
    title: "film of one pass lies on bare film of another",
    explain: "Film that goes on over other film needs a clear coat between: without one its edges bridge those \
        below, air stays under it and it lifts. Films that belong on each other without a coat are layers of one \
        decal. Put a seal or a clear coat between the two film steps, or let both go on in one.",
};

/// What each film step uses of each film, in order; nothing where the job has one pass. A sheet counts where its
/// first piece goes on.
pub(super) fn used(
    job: &Job,
    spec: &FinishSpec,
    pieces: &CupPieces<'_>,
    sheets: &[SheetLayout],
) -> Vec<BTreeMap<FilmId, FilmUse>> {
    if spec.steps.iter().all(|s| s.name.is_none()) {
        return Vec::new();
    }
    let passes = spec.film_steps().count();
    let pass_of: BTreeMap<u32, usize> = pieces.all().map(|(p, _)| (p.number, p.pass(job))).collect();
    let of = |number: u32| pass_of.get(&number).copied().unwrap_or(0);
    let one = |pass: usize| {
        let of_pass =
            |list: &[Piece]| -> Vec<Piece> { list.iter().filter(|p| p.pass(job) == pass).cloned().collect() };
        let (shared, own) =
            (of_pass(pieces.shared), pieces.own.iter().map(|o| of_pass(o)).collect::<Vec<_>>());
        let mut used = film_use(&CupPieces { shared: &shared, own: &own, ..*pieces }, &[]);
        for s in sheets {
            let cut = s.placed.iter().filter(|p| of(p.number) == pass).count();
            if cut == 0 {
                continue;
            }
            let first = s.placed.iter().map(|p| of(p.number)).min() == Some(pass);
            let u = used.entry(s.film).or_default();
            u.cups = pieces.cups;
            u.cut += cut * s.repeat.times as usize;
            let own: Vec<_> = s.placed.iter().filter(|p| of(p.number) == pass).cloned().collect();
            u.openings += starts(&own).len().saturating_sub(own.len()) * s.repeat.times as usize;
            u.sheets += usize::from(first) * s.repeat.times as usize;
        }
        used
    };
    (0..passes).map(one).collect()
}

/// The highest step of film over the last coat that lies under film, from the real overlaps over all passes.
///
/// At a place with film of thickness t\[i\] from pass i, and a coat b\[i\] after it that levels, the film stands
/// r\[i\] = max(0, r\[i-1\] + t\[i\] - b\[i\]) over the surface. Written out (Lindley's recursion) the last step is
/// the greatest over j of t\[j\] + ... + t\[n\] - b\[j\] - ... - b\[n-1\]; so the highest anywhere is that of the
/// highest stacks of all film from pass j on, less the coats between.
pub(super) fn highest(
    job: &Job,
    spec: &FinishSpec,
    plan: &[StepPlan],
    pieces: &[Piece],
    developments: &[&Development],
    diagnostics: &mut Diagnostics,
) -> FilmStack {
    let thickness = |f: FilmId| job.films[f.0].thickness;
    if pieces.iter().all(|p| p.pass(job) == 0) {
        return stack::highest(pieces, thickness, developments);
    }
    let steps: Vec<usize> = spec.film_steps().map(|s| s.0).collect();
    let (mut of_pass, mut coats): (Vec<FilmStack>, Vec<Mm>) = (Vec::new(), Vec::new());
    let mut bare: Vec<&Piece> = Vec::new();
    for (pass, &step) in steps.iter().enumerate() {
        let own: Vec<&Piece> =
            pieces.iter().filter(|p| p.kind != Kind::Base && p.pass(job) == pass).collect();
        not_sealed(&bare, &own, (step, spec), developments, diagnostics);
        let cloned: Vec<Piece> = own.iter().map(|p| (*p).clone()).collect();
        of_pass.push(stack::highest(&cloned, thickness, developments));
        let Some(&next) = steps.get(pass + 1) else { break };
        let clear = (step..next).filter(|i| plan[*i].kind.is_clear() && spec.steps[*i].over == Over::Wall);
        let between: Mm = clear.map(|i| plan[i].thickness).sum();
        coats.push(between);
        if between > Mm::ZERO {
            bare.clear();
        } else {
            bare.extend(own);
        }
    }
    let of = |from: usize, best: FilmStack| {
        let there = |p: &&Piece| !matches!(p.kind, Kind::Base | Kind::Lot { .. }) && p.pass(job) >= from;
        stack::overlaid(&pieces.iter().filter(there).collect::<Vec<_>>(), &thickness, developments, best)
    };
    stack::standing(&of_pass, &coats, &of)
}

/// Says which piece of a pass lies on bare film.
fn not_sealed(
    bare: &[&Piece],
    own: &[&Piece],
    (step, spec): (usize, &FinishSpec),
    developments: &[&Development],
    diagnostics: &mut Diagnostics,
) {
    if bare.is_empty() || own.is_empty() {
        return;
    }
    let under: Vec<(&Piece, Flat<Plane>)> = bare.iter().map(|b| (*b, b.on_plane().flat(FLATTEN))).collect();
    for p in own {
        let me = Clearance::<Plane>::new(p.on_plane().flat(FLATTEN));
        let d = developments[p.zone];
        let meets = |(b, under): &&(&Piece, Flat<Plane>)| {
            (-1..=1).filter(|n| d.can_meet(p.wall.azimuth, b.wall.azimuth, *n)).any(|n| {
                let there = Clearance::new(under.moved(&d.turned(n)));
                me.distance(&there, MEASURE) == Some(Mm::ZERO)
            })
        };
        let Some((under, _)) = under.iter().filter(|(b, _)| b.zone == p.zone).find(meets) else { continue };
        let name = spec.steps[step].name.as_deref().unwrap_or("this step");
        let message = format!(
            "piece {} goes on in \"{name}\" over piece {}, which nothing seals",
            p.number, under.number
        );
        diagnostics.push(
            Diagnostic::fault(&NOT_SEALED, step_path(step), message)
                .allowed("a clear coat between them")
                .help("add a step with do = \"seal film\" before it, or let both go on in one pass"),
        );
        return;
    }
}
