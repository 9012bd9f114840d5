//! [`find()`]: a picture to the motifs on it.
//!
//! Imports: base, outline, read::{job, picture}, make::sheet, make::sheet::{colour, backing, part, rim, squares,
//! gather, codes, photo}.

use super::backing::Backing;
use super::colour::Lab;
use super::gather::{Gathered, Harvest, gather};
use super::{FOLLOW, FoundMotif, PrintedSheet, codes, part, photo, rim, squares};
use crate::base::colour::{encoded, lights};
use crate::base::diag::{Diagnostic, Diagnostics, ErrorGuaranteed, KeyPath};
use crate::base::frame::Point;
use crate::base::units::Mm;
use crate::outline::plane::points_box;
use crate::outline::{Region, Ring};
use crate::read::job::{Rgb, Scale, SheetSpec};
use crate::read::picture::density::Density;
use crate::read::picture::{PACKED, Picture};
use rayon::prelude::*;
use std::sync::Arc;

/// Fewest pixels an inch that outlines are made from, and those below which a packed picture is warned of.
const LEAST_DPI: f64 = 100.0;
const FINE_DPI: f64 = 250.0;
/// Sides that a sheet may have, mm.
const SIDES: [f64; 2] = [20.0, 1300.0];
/// Rings, and points of them, that a sheet may have.
const MOST_RINGS: usize = 20_000;
const MOST_POINTS: usize = 4_000_000;
/// Part of the sheet that must be backing.
const LEAST_BACKING: f64 = 0.1;
/// Steps at which a motif's colour is looked at, mm.
const LOOK: f64 = 0.4;

/// Finds the motifs of a sheet.
///
/// # Errors
/// The scale is not known, the picture is too coarse or too noisy, or nothing is on it.
pub fn find(
    spec: &SheetSpec,
    picture: &Arc<Picture>,
    gone: &[u32],
    at: &KeyPath,
    diagnostics: &mut Diagnostics,
) -> Result<PrintedSheet, ErrorGuaranteed> {
    let photo = match spec.scale {
        Scale::Photo(known) => Some(photo::seen(spec, known, picture, at, diagnostics)?),
        Scale::File | Scale::Dpi(_) => None,
    };
    let picture = photo.as_ref().map_or(picture, |p| &p.picture);
    let per_mm = scale(spec, picture, at, diagnostics)?;
    let size = (picture.width as f64 / per_mm[0], picture.height as f64 / per_mm[1]);
    let lab = Lab::default();
    let backing = Backing::of(picture, per_mm, &lab);
    if backing.share < LEAST_BACKING {
        let message = format!("the picture of \"{}\" shows no backing round its motifs", spec.name);
        let d = Diagnostic::fault(&codes::NO_BACKING, at.key("picture"), message).file(&spec.picture);
        let d = d.measured(format!("{:.0} % of it is of one colour", backing.share * 100.0));
        return Err(diagnostics.push(d.help("scan the film on plain white paper, flat, the lid closed")));
    }
    let print = part::part(picture, per_mm, &backing, &lab);
    let noise = f64::from(print.noise);
    let cover = rim::coverage(picture, per_mm, &backing, &print.is);
    let up = |ring: Ring| -> Ring {
        let point = |p: &[f64; 2]| [p[0] / per_mm[0], size.1 - p[1] / per_mm[1]];
        ring.iter().rev().map(point).collect()
    };
    let mut rings: Vec<Ring> = squares::rings(&cover);
    drop(cover);
    if rings.len() > MOST_RINGS || rings.iter().map(Vec::len).sum::<usize>() > MOST_POINTS {
        let message = format!("the picture of \"{}\" is too noisy: specks all over", spec.name);
        let d = Diagnostic::fault(&codes::NOISY, at.key("picture"), message).file(&spec.picture);
        let d = d.measured(format!("{} outlines", rings.len())).allowed(format!("at most {MOST_RINGS}"));
        return Err(diagnostics.push(d.help("scan on plain white paper; clean the glass")));
    }
    rings.retain(|r| !print.is_spill(r, picture, per_mm, &backing));
    let mut rings: Vec<Ring> = rings.into_iter().map(up).collect();
    if let Some(photo) = &photo {
        photo.without_object(&mut rings);
    }
    let harvest = gather(rings, spec, size);
    told(spec, &harvest, at, diagnostics);
    if harvest.motifs.is_empty() {
        let message = format!("nothing is found on \"{}\"", spec.name);
        let d = Diagnostic::fault(&codes::NO_MOTIF, at.key("picture"), message).file(&spec.picture);
        return Err(diagnostics.push(d.help(
            "what is as pale as the backing cannot be seen on it: scan pale prints on dark paper, dark ones on white",
        )));
    }
    let mut sheet = PrintedSheet {
        width: Mm(size.0),
        height: Mm(size.1),
        picture: picture.clone(),
        per_mm,
        backing: Arc::new(backing),
        motifs: Vec::new(),
        noise,
    };
    sheet.motifs = motifs(&sheet, gone, harvest.motifs);
    if let Some(photo) = &photo {
        photo.tell(spec, &mut sheet.motifs, at, diagnostics);
    }
    gone_are_there((spec, gone), &sheet, at, diagnostics)?;
    Ok(sheet)
}

/// Curves through the rings, and what the maker is told of each.
fn motifs(sheet: &PrintedSheet, gone: &[u32], gathered: Vec<Gathered>) -> Vec<FoundMotif> {
    let lights = lights();
    let one = |(i, g): (usize, Gathered)| {
        let number = i as u32 + 1;
        FoundMotif {
            number,
            print: Region::through(&g.rings, &FOLLOW),
            parts: g.parts,
            colour: mean(sheet, &lights, &g.rings),
            cut_off: (g.cut_off > 0.0).then_some(Mm(g.cut_off)),
            gone: gone.contains(&number),
            off: None,
        }
    };
    gathered.into_par_iter().enumerate().map(one).collect()
}

/// Mean colour over white of what lies in rings.
pub(super) fn mean(sheet: &PrintedSheet, lights: &[f32; 256], rings: &[Ring]) -> Rgb {
    let [x0, y0, x1, y1] = points_box(rings.iter().flatten());
    let (mut sum, mut n) = ([0.0f64; 3], 0.0);
    let steps = |a: f64, b: f64| ((b - a) / LOOK).ceil().max(1.0) as usize;
    for j in 0..steps(y0, y1) {
        let y = y0 + (j as f64 + 0.5) * LOOK;
        let ends = crossings(rings, y);
        for i in 0..steps(x0, x1) {
            let x = x0 + (i as f64 + 0.5) * LOOK;
            if ends.partition_point(|e| *e <= x) % 2 == 1 {
                let t = sheet.transmittance_by(lights, Point::mm(x, y));
                (0..3).for_each(|k| sum[k] += f64::from(t[k]));
                n += 1.0;
            }
        }
    }
    Rgb(sum.map(|v| encoded((v / f64::max(n, 1.0)) as f32)))
}

/// Where rings cross a height, from the left.
fn crossings(rings: &[Ring], y: f64) -> Vec<f64> {
    let mut out = Vec::new();
    for ring in rings {
        let mut a = ring[ring.len() - 1];
        for &b in ring {
            if (a[1] <= y) != (b[1] <= y) {
                out.push(a[0] + (b[0] - a[0]) * (y - a[1]) / (b[1] - a[1]));
            }
            a = b;
        }
    }
    out.sort_by(f64::total_cmp);
    out
}

/// Pixels a millimetre, across and down.
fn scale(
    spec: &SheetSpec,
    picture: &Picture,
    at: &KeyPath,
    diagnostics: &mut Diagnostics,
) -> Result<[f64; 2], ErrorGuaranteed> {
    let mut fail = |d: Diagnostic| Err(diagnostics.push(d.file(&spec.picture)));
    let density = match (spec.scale, picture.density) {
        (Scale::Dpi(dpi), _) => Density::per_inch(dpi, dpi),
        (Scale::File | Scale::Photo(_), Some(d)) => d,
        (Scale::File | Scale::Photo(_), None) => {
            let message = format!("\"{}\" does not say how many pixels are an inch", spec.picture);
            let d = Diagnostic::fault(&codes::NO_SCALE, at.key("scale"), message);
            let d = d.measured(format!("{} x {} pixels", picture.width, picture.height));
            return fail(d.help("write the dpi that it was scanned at, such as `scale = 300`"));
        }
    };
    // A bar of 100 mm that seems shorter has too many pixels a millimetre said of it.
    let seems = spec.bar.map_or(1.0, |bar| bar.0 / 100.0);
    let per_mm = [density.across * seems, density.down * seems];
    let dpi = per_mm.map(|p| p * Mm::INCH.0);
    if dpi.iter().any(|d| *d < LEAST_DPI) {
        let message = format!("\"{}\" is too coarse to cut by", spec.picture);
        let d = Diagnostic::fault(&codes::COARSE, at.key("picture"), message);
        let d =
            d.measured(format!("{:.0} dpi", dpi[0].min(dpi[1]))).allowed(format!("{LEAST_DPI} dpi or more"));
        return fail(d.help("scan it at 300 dpi"));
    }
    let size = [picture.width as f64 / per_mm[0], picture.height as f64 / per_mm[1]];
    if size.iter().any(|s| !(SIDES[0]..=SIDES[1]).contains(s)) {
        let message = format!("at that scale \"{}\" is no sheet of film", spec.name);
        let d = Diagnostic::fault(&codes::NO_SCALE, at.key("scale"), message);
        let d = d.measured(format!("{:.0} x {:.0} mm", size[0], size[1]));
        return fail(
            d.allowed(format!("sides of {} to {} mm", SIDES[0], SIDES[1])).help("correct the scale"),
        );
    }
    if let Some(q) = picture.jpeg_quality
        && (q < part::POOR || dpi[0] < FINE_DPI)
    {
        let message = format!("\"{}\" is a JPEG of quality {q} at {:.0} dpi", spec.picture, dpi[0]);
        let d = Diagnostic::warning(&PACKED, at.key("picture"), message);
        let d = d.file(&spec.picture).allowed(format!("quality {} at {FINE_DPI} dpi or more", part::POOR));
        diagnostics.push(d.help("scan to PNG or TIFF if you can; look at pale fringes and thin tips"));
    }
    Ok(per_mm)
}

/// What was left out, what is cut off, what is nearly one.
fn told(spec: &SheetSpec, harvest: &Harvest, at: &KeyPath, diagnostics: &mut Diagnostics) {
    if harvest.specks > 0 {
        let message = format!("{} specks on \"{}\" are taken for dirt", harvest.specks, spec.name);
        let d = Diagnostic::note(&codes::SPECKS, at.key("speck"), message);
        diagnostics.push(
            d.measured(format!("less than {} mm2 each", spec.speck))
                .help("write a smaller `speck` if one of them is a motif"),
        );
    }
    if harvest.lines > 0 {
        let message = format!("{} long straight lines on \"{}\" are no motifs", harvest.lines, spec.name);
        let d = Diagnostic::note(&codes::LINES, at.key("picture"), message);
        diagnostics.push(d.help("crop frames, the film's edge and the lid's shade off the picture"));
    }
    let list = |numbers: Vec<String>| numbers.join(", ");
    let halves = harvest.motifs.iter().enumerate().filter(|(_, m)| m.cut_off > 0.0);
    let halves: Vec<String> = halves.map(|(i, _)| (i + 1).to_string()).collect();
    if !halves.is_empty() {
        let message = format!("the edge of \"{}\" cuts off motif {}", spec.name, list(halves));
        let d = Diagnostic::note(&codes::HALF, at.key("picture"), message);
        diagnostics.push(d.help("they are chosen only where a motif or a pick names them"));
    }
    if !harvest.near.is_empty() {
        let near = harvest.near.iter().map(|(a, b, d)| format!("{a} and {b} ({d:.1} mm)")).collect();
        let message = format!("motifs of \"{}\" are almost near enough to be one: {}", spec.name, list(near));
        let d = Diagnostic::note(&codes::NEARLY_ONE, at.key("together"), message);
        diagnostics.push(
            d.allowed(format!("nearer than {} are one", spec.together))
                .help("write a larger `together` if they belong together"),
        );
    }
}

/// Numbers that the job says are gone must be there.
fn gone_are_there(
    (spec, gone): (&SheetSpec, &[u32]),
    sheet: &PrintedSheet,
    at: &KeyPath,
    diagnostics: &mut Diagnostics,
) -> Result<(), ErrorGuaranteed> {
    let strange: Vec<String> =
        gone.iter().filter(|n| sheet.motif(**n).is_none()).map(u32::to_string).collect();
    if strange.is_empty() {
        return Ok(());
    }
    let message = format!("\"{}\" has no motif {}", spec.name, strange.join(", "));
    let d = Diagnostic::fault(&codes::NO_NUMBER, at.key("gone"), message);
    let d = d.allowed(format!("1 to {}", sheet.motifs.len()));
    Err(diagnostics.push(d.help("`frusta sheet` shows the numbers")))
}
