//! [`CommonSize`]: one size and one baseline for the names of a list, so that cups that stand side by side look
//! alike.
//!
//! The common size is the largest at which at most a tenth of the rows (one of a short list) must be made smaller,
//! and none to below .85 of it. Highest and lowest letter of the whole list stay within the window; the band from baseline to the height
//! of capitals stands in its middle, or as near to it as that allows.
//!
//! Imports: base, outline, read::{job, letter, names}, make::cup, make::decal::codes.

use super::codes::{NAME_SMALL, NO_WINDOW, SIZE};
use crate::base::diag::{Diagnostic, Diagnostics, ErrorGuaranteed, KeyPath, undisturbed};
use crate::base::units::Mm;
use crate::make::cup::Cup;
use crate::read::job::decals::{DecalSpec, LetterSize, Lies, RowSpec, Shows, Up, Words};
use crate::read::letter::codes::NO_GLYPH;
use crate::read::letter::{Font, measured};
use crate::read::names::NameRow;
use serde::Serialize;

/// Part of the rows that may be made smaller.
const SHRUNK: f64 = 0.1;
/// No row is smaller than this part of the common size, as long as the program chooses it.
const FLOOR: f64 = 0.85;
/// Rows below this part are told with their names.
const TOLD: f64 = 0.9;
/// Below this part a row does not go with the others.
const LEAST: f64 = 0.6;
/// Steps of the common size, so that it can be said and asked for again.
const STEP: f64 = 0.1;
/// Letters that stand upright on a parallel reach over the bent window by the bow of their own width: room for
/// letters of up to 25 mm on cups of 50 mm and more across.
const BOW: Mm = Mm(0.2);
/// A mend thickens letters by little at their ends.
const MENDED: Mm = Mm(0.1);

/// Size and place of the names of a list.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CommonSize {
    /// Height of capitals.
    #[serde(rename = "cap_height_mm")]
    pub cap: Mm,
    /// Baseline over the middle of the window.
    #[serde(rename = "baseline_mm")]
    pub baseline: Mm,
    /// Height of capitals of each row.
    #[serde(rename = "rows_mm")]
    pub rows: Vec<Mm>,
    /// Highest and lowest ink of the list, in cap heights over the baseline.
    pub reach: [f64; 2],
}

impl CommonSize {
    /// Of a decal that takes the rows of a list; `taper` is the width of the window where it is narrowest, as a part of
    /// that in its middle.
    ///
    /// # Errors
    /// Letters that the font lacks, names that cannot be made to go with the others.
    pub fn of(
        spec: &DecalSpec,
        row: &RowSpec,
        font: &Font,
        (rows, file, taper): (&[NameRow], &str, f64),
        at: &KeyPath,
        diagnostics: &mut Diagnostics,
    ) -> Result<CommonSize, ErrorGuaranteed> {
        lacking(font, rows, file, at, diagnostics)?;
        let reach = spec.reach() * 2.0 + if spec.lies == Lies::Rigid { Mm::ZERO } else { BOW * 2.0 };
        let reach = if spec.mend { reach + MENDED * 2.0 } else { reach };
        let (wide, high) = (row.window.0 * taper - reach, row.window.1 - reach);
        if wide.min(high) < Mm(1.0) {
            let d = Diagnostic::fault(&NO_WINDOW, at.key("fits"), "the layers alone fill the window");
            let d = d.measured(format!("{} x {}", row.window.0, row.window.1));
            return Err(diagnostics.push(
                d.allowed(format!("more than {reach} either way"))
                    .help("make the window larger, or the layers' offsets smaller"),
            ));
        }
        let boxes: Vec<_> = rows
            .iter()
            .map(|r| measured(&of_row(spec, &r.text, Mm(1.0)).0, font, &at.key("text"), diagnostics))
            .collect::<Result<_, _>>()?;
        let top = boxes.iter().map(|b| b.max.y).fold(1.0, f64::max);
        let low = boxes.iter().map(|b| b.min.y).fold(0.0, f64::min);
        let limits: Vec<f64> = boxes.iter().map(|b| wide.0 / b.width().0.max(f64::MIN_POSITIVE)).collect();
        let by_height = high.0 / (top - low);
        let cap = match row.cap_height {
            Some(asked) if asked.0 > by_height => {
                return Err(diagnostics.push(too_high(asked, by_height, (rows, &boxes), at)));
            }
            Some(asked) => asked.0,
            None => {
                let cap = by_width(&limits).min(by_height);
                // Steps of a tenth, unless letters are hardly larger than that.
                if cap > STEP { libm::floor(cap / STEP) * STEP } else { cap }
            }
        };
        let baseline = {
            let middle = -cap / 2.0;
            middle.clamp(-high.0 / 2.0 - low * cap, high.0 / 2.0 - top * cap)
        };
        let sizes: Vec<f64> = limits.iter().map(|l| l.min(cap)).collect();
        told(rows, &sizes, cap, file, at, diagnostics)?;
        decides((rows, file), &boxes, (cap, by_height, by_width(&limits)), row, at, diagnostics);
        Ok(CommonSize {
            cap: Mm(cap),
            baseline: Mm(baseline),
            rows: sizes.into_iter().map(Mm).collect(),
            reach: [top, low],
        })
    }
}

/// The largest size at which at most a tenth of the rows is made smaller, and none to below the floor.
fn by_width(limits: &[f64]) -> f64 {
    let mut sorted = limits.to_vec();
    sorted.sort_by(f64::total_cmp);
    // One of a short list may be: the floor keeps it near the others.
    let few = usize::from(sorted.len() > 2);
    let may = ((SHRUNK * sorted.len() as f64) as usize).max(few);
    sorted[may.min(sorted.len() - 1)].min(sorted[0] / FLOOR)
}

/// The words of a row at a size, and the decal with them.
fn of_row(spec: &DecalSpec, text: &str, cap: Mm) -> (Words, DecalSpec) {
    let mut spec = spec.clone();
    let Shows::Words { words, .. } = &mut spec.shows else { unreachable!("a decal of a row is lettering") };
    words.lines = vec![text.to_owned()];
    words.size = LetterSize::CapHeight(cap);
    (words.clone(), spec)
}

/// The zone that it goes on: where its middle is said to be; centred, the one with most room up and down.
pub fn zone_of(spec: &DecalSpec, cup: &Cup) -> usize {
    let room = |i: usize| cup.zones[i].zone.high - cup.zones[i].zone.low;
    match spec.up {
        Up::At(slant) => cup.zone_at(slant),
        Up::Centred => (1..cup.zones.len()).fold(0, |best, i| if room(i) > room(best) { i } else { best }),
    }
}

/// The narrowest place of a window on a wall: level lines of the same width take more of a turn lower down.
pub fn narrowest(spec: &DecalSpec, row: &RowSpec, cup: &Cup) -> f64 {
    if spec.lies == Lies::Rigid {
        return 1.0;
    }
    let zone = &cup.zones[zone_of(spec, cup)];
    let middle = match spec.up {
        Up::At(slant) => slant,
        Up::Centred => (zone.zone.low + zone.zone.high) * 0.5,
    };
    let radius = |by: f64| zone.development.radius(middle + row.window.1 * by).0;
    radius(-0.5).min(radius(0.5)) / radius(0.0)
}

/// The decal of a row.
pub fn with_row(spec: &DecalSpec, text: &str, size: &CommonSize, row: usize) -> DecalSpec {
    let mut spec = of_row(spec, text, size.rows[row]).1;
    if let Some(r) = &mut spec.row {
        r.baseline = size.baseline;
    }
    spec
}

/// Letters that the font lacks, row by row, and which of the program's fonts has them.
fn lacking(
    font: &Font,
    rows: &[NameRow],
    file: &str,
    at: &KeyPath,
    diagnostics: &mut Diagnostics,
) -> Result<(), ErrorGuaranteed> {
    for r in rows {
        let lacks: Vec<char> = font.lacks(&r.text);
        let Some(c) = lacks.first() else { continue };
        let have: Vec<&str> = Font::embedded_names()
            .filter(|name| {
                Font::embedded(name, at, &mut Diagnostics::new()).is_ok_and(|f| f.lacks(&r.text).is_empty())
            })
            .collect();
        let message = format!(
            "line {}: \"{}\": \"{}\" has no {c} (U+{:04X})",
            r.line,
            undisturbed(&r.text),
            font.name(),
            u32::from(*c)
        );
        let help = match have.is_empty() {
            true => "take a font that has it".to_owned(),
            false => format!("these have it: {}", have.join(", ")),
        };
        diagnostics.push(Diagnostic::fault(&NO_GLYPH, at.key("font"), message).file(file).help(help));
    }
    diagnostics.check()
}

fn too_high(
    asked: Mm,
    by_height: f64,
    (rows, boxes): (&[NameRow], &[crate::outline::Bounds<crate::base::frame::Art>]),
    at: &KeyPath,
) -> Diagnostic {
    let high = (0..rows.len()).max_by(|a, b| boxes[*a].max.y.total_cmp(&boxes[*b].max.y)).unwrap_or(0);
    let message = "names of this size do not fit the height of the window, accents and descenders counted";
    Diagnostic::fault(&SIZE, at.key("cap-height"), message)
        .measured(asked)
        .allowed(format!("up to {:.1} mm", libm::floor(by_height * 10.0) / 10.0))
        .help(format!("make the window higher; \"{}\" reaches highest", undisturbed(&rows[high].text)))
}

/// Rows that are clearly smaller than the others.
fn told(
    rows: &[NameRow],
    sizes: &[f64],
    cap: f64,
    file: &str,
    at: &KeyPath,
    diagnostics: &mut Diagnostics,
) -> Result<(), ErrorGuaranteed> {
    for (r, size) in rows.iter().zip(sizes).filter(|(_, s)| **s < TOLD * cap) {
        let part = size / cap;
        let message =
            format!("line {}: \"{}\" is lettered smaller than the others", r.line, undisturbed(&r.text));
        let d = match part < LEAST {
            true => Diagnostic::fault(&NAME_SMALL, at.key("fits"), message),
            false => Diagnostic::warning(&NAME_SMALL, at.key("fits"), message),
        };
        diagnostics.push(
            d.file(file)
                .measured(format!("{size:.1} mm, {:.0} % of {cap:.1} mm", part * 100.0))
                .allowed(format!("{:.0} % or more", LEAST * 100.0))
                .help("make the window wider, shorten the name, or give all names a smaller `cap-height`"),
        );
    }
    diagnostics.check()
}

/// Which names keep all from being larger.
fn decides(
    (rows, file): (&[NameRow], &str),
    boxes: &[crate::outline::Bounds<crate::base::frame::Art>],
    (cap, by_height, by_width): (f64, f64, f64),
    row: &RowSpec,
    at: &KeyPath,
    diagnostics: &mut Diagnostics,
) {
    if row.cap_height.is_some() {
        return;
    }
    let names = |list: Vec<usize>| -> String {
        let mut all: Vec<String> =
            list.iter().map(|i| format!("\"{}\"", undisturbed(&rows[*i].text))).collect();
        all.dedup();
        let more = all.len().saturating_sub(3);
        all.truncate(3);
        if more > 0 { format!("{} and {more} more", all.join(", ")) } else { all.join(" and ") }
    };
    let (what, who) = if by_height < by_width {
        let top = boxes.iter().map(|b| b.max.y).fold(0.0, f64::max);
        let low = boxes.iter().map(|b| b.min.y).fold(0.0, f64::min);
        // Equal heights are of one letter: a hundredth of a cap height apart is the same.
        let at_edge = |i: &usize| boxes[*i].max.y > top - 0.01 || boxes[*i].min.y < low + 0.01;
        ("the height of the window, with", names((0..rows.len()).filter(at_edge).collect()))
    } else {
        let mut order: Vec<usize> = (0..rows.len()).collect();
        order.sort_by(|a, b| boxes[*b].width().0.total_cmp(&boxes[*a].width().0));
        ("the width of the window, with", names(order.into_iter().take(2).collect()))
    };
    let message = format!("names are lettered with capitals {cap:.1} mm high: {what} {who}, decides");
    diagnostics.push(
        Diagnostic::note(&SIZE, at.key("fits"), message)
            .file(file)
            .help(format!("`cap-height = {cap:.1}` keeps this size for cups that are ordered later")),
    );
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Closed form: of ten rows one may be smaller; the floor holds where the longest is far too long.
    #[test]
    fn the_rule_holds_on_short_lists_too() {
        let mut limits = vec![10.0; 9];
        limits.push(9.0);
        approx::assert_abs_diff_eq!(by_width(&limits), 10.0);
        limits[9] = 5.0;
        approx::assert_abs_diff_eq!(by_width(&limits), 5.0 / FLOOR);
        approx::assert_abs_diff_eq!(by_width(&[20.0, 21.0, 6.0]), 6.0 / FLOOR);
        approx::assert_abs_diff_eq!(by_width(&[20.0, 6.0]), 6.0);
    }
}
