//! `[sheet.own]`: a sheet that the maker prints herself: what is on it, and what the printer made of its marks.
//!
//! Imports: base, read::job::{codes, sheet_spec, rows, section, path}.

use super::codes;
use super::path::art;
use super::rows::sheet::{own as rows, own_motif, own_printed};
use super::section::{Item, Section};
use super::sheet_spec::{OwnMotif, OwnSpec, Printed};
use crate::base::diag::{Diagnostic, ErrorGuaranteed};

/// Lengths that a rule can have read between marks, mm.
const READ: [f64; 2] = [50.0, 600.0];

/// Reads the table.
pub(super) fn read(s: &Section<'_>) -> Result<OwnSpec, ErrorGuaranteed> {
    let motifs = s.own(&rows::MOTIFS, |item| item.list(motif)).required();
    let paper = s.key(&rows::PAPER).or_usual();
    let dpi = s.key(&rows::DPI).or_usual();
    let mirrored = s.key(&rows::MIRRORED).or_usual();
    let bleed = s.key(&rows::BLEED).or_usual();
    let printed = s.inner(&rows::PRINTED, printed);
    let motifs = motifs.and_then(|m| if m.is_empty() { Err(s.missing(&rows::MOTIFS)) } else { Ok(m) });
    Ok(OwnSpec {
        motifs: motifs?,
        paper: paper?,
        dpi: dpi?,
        mirrored: mirrored?,
        bleed: bleed?,
        printed: printed?,
    })
}

fn motif(item: &Item<'_>) -> Result<OwnMotif, ErrorGuaranteed> {
    let s = item.section()?;
    let picture = s.own(&own_motif::PICTURE, art).required();
    let width = s.key(&own_motif::WIDTH).required();
    let count = s.key(&own_motif::COUNT).or_usual();
    s.done();
    Ok(OwnMotif { picture: picture?, width: width?, count: count? as usize })
}

fn printed(s: &Section<'_>) -> Result<Printed, ErrorGuaranteed> {
    let scan = s.own(&own_printed::SCAN, art).optional();
    let dpi = s.key(&own_printed::DPI).optional();
    let length = |item: &Item<'_>| {
        let v = item.length()?;
        if (READ[0]..=READ[1]).contains(&v.0) {
            return Ok(v);
        }
        let d = Diagnostic::fault(&codes::OUT_OF_RANGE, item.at().clone(), "no two marks are so far apart");
        let d = d.measured(v).allowed(format!("{} to {} mm", READ[0], READ[1]));
        Err(item.reader().push(d.help("read it again, between the middles of the discs")))
    };
    let sides = s
        .own(&own_printed::SIDES, |item| item.list(length))
        .counting(4..=4, "lengths: top, right, bottom, left")
        .optional();
    let diagonals =
        s.own(&own_printed::DIAGONALS, |item| item.list(length)).counting(2..=2, "lengths").optional();
    match (scan?, sides?, diagonals?) {
        (Some(file), None, None) => Ok(Printed::Scan(file, dpi?)),
        (None, Some(s), Some(d)) => Ok(Printed::Rule([s[0], s[1], s[2], s[3]], [d[0], d[1]])),
        (None, None, None) => Err(s.missing(&own_printed::SCAN)),
        _ => Err(s.reader().push(
            s.fault(&codes::ONE_OF, own_printed::SCAN.row.name, "the marks are said by halves, or twice")
                .help("write `scan` alone, or `sides` and `diagonals`"),
        )),
    }
}
