//! Handles of the cup: one window, or several, none over another.
//!
//! Imports: base, read::job::{codes, model, rows, section}.

use super::codes;
use super::model::Handle;
use super::rows::cup as rows;
use super::section::Section;
use crate::base::diag::{Diagnostic, ErrorGuaranteed, KeyPath};
use crate::base::units::Mm;
use std::f64::consts::TAU;

/// Handles: a table, or a list of tables.
pub(super) fn read(cup: &Section<'_>) -> Result<Vec<Handle>, ErrorGuaranteed> {
    if !cup.item("handle").is_some_and(|i| i.is_list()) {
        return cup.inner(&rows::HANDLE, handle).map(|h| h.into_iter().collect());
    }
    let each = |section: Result<Section<'_>, ErrorGuaranteed>| {
        let section = section?;
        let read = handle(&section);
        section.done();
        read
    };
    // Read them all before giving up, so that every faulty one is reported.
    let read: Vec<_> = cup.tables(&rows::HANDLE, 6).into_iter().map(each).collect();
    read.into_iter().collect()
}

fn handle(section: &Section<'_>) -> Result<Handle, ErrorGuaranteed> {
    let at = section.key(&rows::handle::AT).required();
    let width = section.key(&rows::handle::WIDTH).required();
    let from = section.key(&rows::handle::FROM).required();
    let to = section.key(&rows::handle::TO).required();
    Ok(Handle { azimuth: at?.wrapped(), width: width?, from: from?, to: to? })
}

/// The handles as they stand on the wall, none over another.
pub(super) fn on_wall(
    cup: &Section<'_>,
    handles: &[Handle],
    least: Mm,
    wall: Mm,
) -> Result<Vec<Handle>, ErrorGuaranteed> {
    let list = cup.item("handle").is_some_and(|i| i.is_list());
    let at = |i: usize| if list { cup.path("handle").index(i) } else { cup.path("handle") };
    let all: Vec<_> =
        handles.iter().enumerate().map(|(i, h)| handle_on(cup, &at(i), *h, least, wall)).collect();
    let all: Vec<Handle> = all.into_iter().collect::<Result<_, _>>()?;
    let mut ok = Ok(());
    for (i, a) in all.iter().enumerate() {
        for (j, b) in all.iter().enumerate().take(i) {
            // As angles they are widest where the wall is narrowest.
            let apart = (a.azimuth - b.azimuth).wrapped().abs().rad() * least.0 / TAU;
            let reach = (a.width + b.width).0 / 2.0;
            if a.from < b.to && b.from < a.to && apart < reach {
                let show = |mm| cup.reader().show(mm);
                let d = Diagnostic::fault(&codes::HANDLE, at(i), "two handles' windows overlap");
                ok = Err(cup.reader().push(
                    d.measured(format!("{} of overlap with handle {}", show(Mm(reach - apart)), j + 1))
                        .allowed("windows beside or above each other")
                        .help("say one window that holds both, or make them narrower"),
                ));
            }
        }
    }
    ok.map(|()| all)
}

/// The handle as it stands on the wall: what reaches less than 2 mm over the rim ends at the rim.
fn handle_on(
    cup: &Section<'_>,
    at: &KeyPath,
    handle: Handle,
    least: Mm,
    wall: Mm,
) -> Result<Handle, ErrorGuaranteed> {
    let show = |mm| cup.reader().show(mm);
    let mut ok = Ok(());
    if handle.from >= handle.to.min(wall) {
        ok = Err(cup.reader().push(
            Diagnostic::fault(&codes::HANDLE, at.key("to"), "the handle ends below where it starts")
                .measured(format!("from {} to {}", show(handle.from), show(handle.to)))
                .help("`from` is the lower end, `to` the upper one, both up from the base edge"),
        ));
    }
    if handle.to.0 > wall.0 + 2.0 {
        ok = Err(cup.reader().push(
            Diagnostic::fault(&codes::HANDLE, at.key("to"), "the handle ends above the rim")
                .measured(show(handle.to))
                .allowed(format!("up to the wall's length, {}", show(wall)))
                .help("measure it along the wall from the base edge"),
        ));
    }
    if handle.width > least * 0.5 {
        ok = Err(cup.reader().push(
            Diagnostic::fault(&codes::HANDLE, at.key("width"), "the handle takes more than half the wall")
                .measured(show(handle.width))
                .allowed(format!("up to {}", show(least * 0.5)))
                .help("measure only what film must not touch"),
        ));
    }
    ok.map(|()| Handle { to: handle.to.min(wall), ..handle })
}
