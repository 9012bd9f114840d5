//! [`OwnPrint`]: a sheet that the maker prints herself: pictures of her motifs at their sizes, laid out within the
//! marks, bled beyond their rims; and what the printer made of the marks.
//!
//! Imports: base, outline, read::{job, picture}, make::sheet, make::sheet::{grid, colour, backing, part, rim, squares,
//! gather, codes, marks, discs, find}.

use super::backing::Backing;
use super::codes;
use super::colour::Lab;
use super::find::mean;
use super::gather::gather;
use super::grid::{Grid, NOWHERE, nearest, steps};
use super::marks::{self, Affine, Fit, Marks, Refused};
use super::{FOLLOW, FoundMotif, PrintedSheet, discs, part, rim, squares};
use crate::base::colour::{encoded, lights};
use crate::base::diag::{Diagnostic, Diagnostics, ErrorGuaranteed, KeyPath};
use crate::base::units::Mm;
use crate::outline::plane::points_box;
use crate::outline::{Region, Ring};
use crate::read::job::{OwnMotif, OwnSpec, Printed, SheetSpec};
use crate::read::picture::Picture;
use crate::read::picture::density::Density;
use std::sync::Arc;

/// Colours that are bled are taken from so far inside the rim, mm: the rim itself mixes with the paper.
const INSIDE: f64 = 0.2;
/// Bled further than asked for by this, mm: a pixel at 150 dpi.
const MORE: f64 = 0.15;
/// White between two motifs with their bleed, mm.
const BETWEEN: f64 = 1.0;
/// Fewest pixels an inch of a source at the size that it is printed at.
const FINE: f64 = 150.0;
/// Coverage from which a pixel is all print.
const FULL: f32 = 0.999;

/// A sheet that the maker prints herself.
#[derive(Clone, Debug)]
pub struct OwnPrint {
    /// Its marks.
    pub marks: Marks,
    /// Turned over as a whole.
    pub mirrored: bool,
    /// Where each motif's picture lies on the page as drawn: left, low, width, height, mm, and which it is.
    pub placed: Vec<([f64; 4], usize)>,
    /// Pictures with their bleed: width and height in pixels, rows from the top.
    pub pictures: Vec<Bled>,
    /// What was made of the marks, and where they were drawn as printed and read; none before it is printed.
    pub fit: Option<Fit>,
}

/// A picture with its bleed.
#[derive(Clone, Debug)]
pub struct Bled {
    /// Width and height.
    pub pixels: (usize, usize),
    /// Red, green, blue.
    pub rgb: Vec<u8>,
}

impl OwnPrint {
    /// From the sheet as drawn, seen from the front, to the printed side as it lies under the blade.
    pub fn as_printed(&self) -> Affine {
        let turned = if self.mirrored {
            Affine { m: [-1.0, 0.0, 0.0, 1.0], t: [self.marks.page[0], 0.0] }
        } else {
            Affine::SAME
        };
        self.fit.as_ref().map_or(turned, |f| turned.then(&f.map))
    }
    /// The marks on the printed side, before what the printer made of them.
    pub fn drawn_marks(&self) -> [[f64; 2]; 8] {
        drawn(&self.marks, self.mirrored)
    }
}

fn drawn(marks: &Marks, mirrored: bool) -> [[f64; 2]; 8] {
    marks.places().map(|p| if mirrored { [marks.page[0] - p[0], p[1]] } else { p })
}

/// A motif of the maker's own: its picture, how much of each pixel is print, and its rings in pixels of the page.
struct Source {
    bled: Bled,
    /// mm from the lower left corner of the bled picture, y upward.
    rings: Vec<Ring>,
    parts: usize,
}

/// Lays out a sheet.
///
/// # Errors
/// A picture shows no print, or the motifs do not fit on the page.
pub fn laid(
    spec: &SheetSpec,
    own: &OwnSpec,
    pictures: &[Arc<Picture>],
    gone: &[u32],
    at: &KeyPath,
    diagnostics: &mut Diagnostics,
) -> Result<(PrintedSheet, OwnPrint), ErrorGuaranteed> {
    let sides = own.paper.sides();
    let page = [sides.0.0, sides.1.0];
    let pixels = page.map(|s| (s * own.dpi / Mm::INCH.0).round() as usize);
    let per_mm = [pixels[0] as f64 / page[0], pixels[1] as f64 / page[1]];
    let marks = Marks { page };
    let (mut sources, mut failed) = (Vec::new(), None);
    for (i, (motif, picture)) in own.motifs.iter().zip(pictures).enumerate() {
        let at = at.key("own").key("motifs").index(i);
        match source((spec, own), motif, picture, per_mm, &at, diagnostics) {
            Ok(s) => sources.push(s),
            Err(e) => failed = Some(e),
        }
    }
    if let Some(e) = failed {
        return Err(e);
    }
    let copies: Vec<usize> =
        own.motifs.iter().enumerate().flat_map(|(i, m)| std::iter::repeat_n(i, m.count)).collect();
    let window = marks.window();
    let corners = rows(&sources, &copies, &window, per_mm, page).map_err(|fits| {
        let message = format!("{fits} of {} motifs fit on the page of \"{}\"", copies.len(), spec.name);
        let d = Diagnostic::fault(&codes::OWN_FULL, at.key("own").key("motifs"), message);
        let (w, h) = (window[2] - window[0], window[3] - window[1]);
        let d = d.measured(format!("{w:.0} x {h:.0} mm within the marks, {} bleed", own.bleed));
        diagnostics.push(d.help("make two sheets of it, print fewer, or on larger film"))
    })?;
    let picture = page_of(&sources, &copies, &corners, pixels, per_mm);
    let mut sheet = PrintedSheet {
        width: Mm(page[0]),
        height: Mm(page[1]),
        picture: Arc::new(picture),
        per_mm,
        backing: Arc::new(Backing::white(page)),
        motifs: Vec::new(),
        noise: 0.0,
    };
    let lights = lights();
    let mut placed = Vec::new();
    for (k, (&(x, y), &i)) in corners.iter().zip(&copies).enumerate() {
        let s = &sources[i];
        let (w, h) = (s.bled.pixels.0 as f64 / per_mm[0], s.bled.pixels.1 as f64 / per_mm[1]);
        let low = [x as f64 / per_mm[0], page[1] - y as f64 / per_mm[1] - h];
        let moved = |r: &Ring| -> Ring { r.iter().map(|p| [p[0] + low[0], p[1] + low[1]]).collect() };
        let rings: Vec<Ring> = s.rings.iter().map(moved).collect();
        let number = k as u32 + 1;
        sheet.motifs.push(FoundMotif {
            number,
            colour: mean(&sheet, &lights, &rings),
            print: Region::through(&rings, &FOLLOW),
            parts: s.parts,
            cut_off: None,
            gone: gone.contains(&number),
            off: None,
        });
        placed.push(([low[0], low[1], w, h], i));
    }
    let pictures = sources.into_iter().map(|s| s.bled).collect();
    Ok((sheet, OwnPrint { marks, mirrored: own.mirrored, placed, pictures, fit: None }))
}

/// The page as it is printed.
fn page_of(
    sources: &[Source],
    copies: &[usize],
    corners: &[(usize, usize)],
    pixels: [usize; 2],
    per_mm: [f64; 2],
) -> Picture {
    let mut rgb = vec![255u8; 3 * pixels[0] * pixels[1]];
    for (&(x, y), &i) in corners.iter().zip(copies) {
        let b = &sources[i].bled;
        for row in 0..b.pixels.1 {
            let from = &b.rgb[3 * row * b.pixels.0..][..3 * b.pixels.0];
            rgb[3 * ((y + row) * pixels[0] + x)..][..from.len()].copy_from_slice(from);
        }
    }
    let density = Some(Density { across: per_mm[0], down: per_mm[1] });
    Picture { density, ..Picture::opaque(pixels[0], pixels[1], rgb) }
}

/// Left and upper corners, in pixels of the page, in rows from the top, tall ones first.
fn rows(
    sources: &[Source],
    copies: &[usize],
    window: &[f64; 4],
    per_mm: [f64; 2],
    page: [f64; 2],
) -> Result<Vec<(usize, usize)>, usize> {
    let px = |v: f64, k: usize| (v * per_mm[k]).ceil() as usize;
    let (left, top) = (px(window[0], 0), px(page[1] - window[3], 1));
    let (right, low) = (px(window[2], 0) - 1, px(page[1] - window[1], 1) - 1);
    let gap = [px(BETWEEN, 0), px(BETWEEN, 1)];
    let mut order: Vec<usize> = (0..copies.len()).collect();
    order.sort_by_key(|&k| (std::cmp::Reverse(sources[copies[k]].bled.pixels.1), k));
    let mut out = vec![(0, 0); copies.len()];
    let (mut x, mut y, mut tall) = (left, top, 0);
    for (n, &k) in order.iter().enumerate() {
        let (w, h) = sources[copies[k]].bled.pixels;
        if x + w > right && x > left {
            (x, y, tall) = (left, y + tall + gap[1], 0);
        }
        if x + w > right || y + h > low {
            return Err(n);
        }
        out[k] = (x, y);
        x += w + gap[0];
        tall = tall.max(h);
    }
    Ok(out)
}

/// Finds a motif in its picture and makes it ready to print.
fn source(
    (spec, own): (&SheetSpec, &OwnSpec),
    motif: &OwnMotif,
    picture: &Arc<Picture>,
    per_mm: [f64; 2],
    at: &KeyPath,
    diagnostics: &mut Diagnostics,
) -> Result<Source, ErrorGuaranteed> {
    let cover = covered(picture, motif);
    let width = picture.width as f64;
    // All parts of a picture are one motif; at first a pixel of it is a unit.
    let guess = motif.width.0 / width;
    let lone = SheetSpec { together: Mm(1e4), ..spec.clone() };
    let up = |ring: Ring| -> Ring {
        ring.iter().rev().map(|p| [p[0] * guess, (picture.height as f64 - p[1]) * guess]).collect()
    };
    let all = squares::rings(&cover).into_iter().map(up).collect();
    let harvest = gather(all, &lone, (f64::INFINITY, f64::INFINITY));
    let Some(found) = harvest.motifs.into_iter().next() else {
        let message = format!("nothing is found on \"{}\"", motif.picture);
        let d = Diagnostic::fault(&codes::NO_MOTIF, at.key("picture"), message).file(&motif.picture);
        return Err(diagnostics.push(d.help("save it with a transparent ground, or on plain white")));
    };
    let [x0, y0, x1, y1] = points_box(found.rings.iter().flatten());
    let scale = motif.width.0 / (x1 - x0);
    let dpi = Mm::INCH.0 / (guess * scale);
    if dpi < FINE {
        let message = format!("\"{}\" is coarse at {}", motif.picture, motif.width);
        let d = Diagnostic::warning(&codes::OWN_COARSE, at.key("width"), message).file(&motif.picture);
        let d = d.measured(format!("{dpi:.0} dpi")).allowed(format!("{FINE} dpi or more"));
        diagnostics.push(d.help("print it smaller, or take a larger picture"));
    }
    let edge = own.bleed.0 + MORE + 2.0 / per_mm[0];
    let size = [(x1 - x0) * scale + 2.0 * edge, (y1 - y0) * scale + 2.0 * edge];
    let pixels = ((size[0] * per_mm[0]).ceil() as usize, (size[1] * per_mm[1]).ceil() as usize);
    let high = pixels.1 as f64 / per_mm[1];
    let shift = |p: &[f64; 2]| [(p[0] - x0) * scale + edge, (p[1] - y0) * scale + high - size[1] + edge];
    let rings = found.rings.iter().map(|r| r.iter().map(shift).collect()).collect();
    // Pixels of the source a pixel of the page, and where the page's first begins in it.
    let unit = guess * scale;
    let step = [1.0 / (per_mm[0] * unit), 1.0 / (per_mm[1] * unit)];
    let from = [x0 / guess - edge / unit, picture.height as f64 - y1 / guess - edge / unit];
    let (light, cover) = resampled(picture, &cover, pixels, from, step);
    let bled = Bled { pixels, rgb: bled(light, &cover, own.bleed.0, per_mm) };
    Ok(Source { bled, rings, parts: found.parts })
}

/// How much of each pixel of a motif's picture is print: its own transparency, or found against its ground.
fn covered(picture: &Picture, motif: &OwnMotif) -> Grid<f32> {
    if let Some(alpha) = &picture.alpha {
        let at = alpha.iter().map(|a| f32::from(*a) / 255.0).collect();
        return Grid { width: picture.width, height: picture.height, at };
    }
    let per_mm = [picture.width as f64 / motif.width.0; 2];
    let lab = Lab::default();
    let backing = Backing::of(picture, per_mm, &lab);
    let print = part::part(picture, per_mm, &backing, &lab);
    rim::coverage(picture, per_mm, &backing, &print.is)
}

/// Weights of the source's pixels for each of the page's, along one axis: the mean of what it covers where it is
/// larger, a cubic (Keys 1981) where it is smaller.
fn weights(count: usize, from: f64, step: f64) -> Vec<(i64, Vec<f32>)> {
    let wide = step.max(1.0);
    let cubic = |t: f64| {
        let t = t.abs();
        match t {
            _ if t < 1.0 => 1.5 * t * t * t - 2.5 * t * t + 1.0,
            _ if t < 2.0 => -0.5 * t * t * t + 2.5 * t * t - 4.0 * t + 2.0,
            _ => 0.0,
        }
    };
    let one = |i: usize| {
        let middle = from + (i as f64 + 0.5) * step - 0.5;
        let reach = if step > 1.0 { wide / 2.0 + 0.5 } else { 2.0 };
        let (a, b) = ((middle - reach).ceil() as i64, (middle + reach).floor() as i64);
        let weight = |j: i64| {
            let off = j as f64 - middle;
            if step > 1.0 {
                // How much of the pixel lies within.
                ((wide / 2.0 + 0.5 - off.abs()) as f32).clamp(0.0, 1.0)
            } else {
                cubic(off) as f32
            }
        };
        let all: Vec<f32> = (a..=b).map(weight).collect();
        let sum: f32 = all.iter().sum();
        (a, all.into_iter().map(|w| w / sum).collect())
    };
    (0..count).map(one).collect()
}

/// Light times coverage, and coverage, at the pixels of the page; nothing lies beyond the picture.
fn resampled(
    picture: &Picture,
    cover: &Grid<f32>,
    (w, h): (usize, usize),
    from: [f64; 2],
    step: [f64; 2],
) -> (Grid<[f32; 3]>, Grid<f32>) {
    let lights = lights();
    let (columns, rows) = (weights(w, from[0], step[0]), weights(h, from[1], step[1]));
    let mut light = Grid::of(w, h, [0.0f32; 3]);
    let mut out = Grid::of(w, h, 0.0f32);
    let line = |y: i64| -> Vec<[f32; 4]> {
        let Some(y) = usize::try_from(y).ok().filter(|y| *y < picture.height) else {
            return vec![[0.0; 4]; w];
        };
        let one = |(a, all): &(i64, Vec<f32>)| {
            let mut sum = [0.0f32; 4];
            for (k, weight) in all.iter().enumerate() {
                let Some(x) = usize::try_from(a + k as i64).ok().filter(|x| *x < picture.width) else {
                    continue;
                };
                let i = y * picture.width + x;
                let c = cover.at[i] * weight;
                (0..3).for_each(|k| sum[k] += c * lights[usize::from(picture.rgb[3 * i + k])]);
                sum[3] += c;
            }
            sum
        };
        columns.iter().map(one).collect()
    };
    let mut lines: std::collections::BTreeMap<i64, Vec<[f32; 4]>> = Default::default();
    for (y, (a, all)) in rows.iter().enumerate() {
        lines = lines.split_off(a);
        for (k, weight) in all.iter().enumerate() {
            let at = a + k as i64;
            let line = lines.entry(at).or_insert_with(|| line(at));
            for (x, s) in line.iter().enumerate() {
                let i = y * w + x;
                (0..3).for_each(|k| light.at[i][k] += weight * s[k]);
                out.at[i] += weight * s[3];
            }
        }
    }
    (light, out)
}

/// Colours beyond the rim are those of the nearest print well inside it; nothing is mixed with the ground.
fn bled(light: Grid<[f32; 3]>, cover: &Grid<f32>, bleed: f64, per_mm: [f64; 2]) -> Vec<u8> {
    let (w, h) = (cover.width, cover.height);
    let code = |i: usize| {
        let c = cover.at[i].max(1e-3);
        light.at[i].map(|v| encoded((v / c).clamp(0.0, 1.0)))
    };
    if bleed <= 0.0 {
        let over = |i: usize| {
            let white = 1.0 - cover.at[i].clamp(0.0, 1.0);
            light.at[i].map(|v| encoded((v + white).clamp(0.0, 1.0)))
        };
        return (0..w * h).flat_map(over).collect();
    }
    let is = Grid { width: w, height: h, at: cover.at.iter().map(|c| *c > 0.5).collect() };
    let inside = INSIDE * per_mm[0];
    let core = rim::core(&is, inside, inside.ceil() as usize);
    let (from, print) = (nearest(w, h, |i| core.at[i]), nearest(w, h, |i| is.at[i]));
    let reach = ((bleed + MORE) * per_mm[0]) as f32;
    let one = |i: usize| {
        if core.at[i] || (is.at[i] && cover.at[i] >= FULL) {
            return code(i);
        }
        let near = print.at[i] != NOWHERE && steps(w, i, print.at[i] as usize) <= reach;
        if near && from.at[i] != NOWHERE { code(from.at[i] as usize) } else { [255; 3] }
    };
    (0..w * h).flat_map(one).collect()
}

/// What the printer made of the marks, told; nothing before the sheet is printed.
///
/// # Errors
/// The marks are not found, or are not this page's.
pub fn printed(
    (spec, own): (&SheetSpec, &OwnSpec),
    marks: &Marks,
    scan: Option<&Picture>,
    at: &KeyPath,
    diagnostics: &mut Diagnostics,
) -> Result<Option<Fit>, ErrorGuaranteed> {
    let at = at.key("own").key("printed");
    let drawn = drawn(marks, own.mirrored);
    let fit = match (&own.printed, scan) {
        (Some(Printed::Rule(sides, diagonals)), _) => {
            // The first disc is on the right where the page is turned over.
            let [top, right, low, left] = sides.map(|s| s.0);
            let sides = if own.mirrored { [top, left, low, right] } else { [top, right, low, left] };
            marks::of_rule(&marks.places(), sides, diagonals.map(|s| s.0))
                .map(|f| if own.mirrored { f.mirrored(marks.page[0]) } else { f })
        }
        (Some(Printed::Scan(file, dpi)), Some(picture)) => {
            let density = dpi.map(|d| Density::per_inch(d, d)).or(picture.density);
            let Some(per) = density else {
                let message = format!("\"{file}\" does not say how many pixels are an inch");
                let d = Diagnostic::fault(&codes::NO_SCALE, at.key("dpi"), message).file(file);
                return Err(diagnostics.push(d.help("write the `dpi` that it was scanned at")));
            };
            read_marks(picture, marks, own.mirrored, per).and_then(|read| marks::of_scan(&drawn, &read))
        }
        _ => return Ok(None),
    };
    match fit {
        Ok(fit) => {
            told(spec, own, &fit, &at, diagnostics);
            Ok(Some(fit))
        }
        Err(why) => Err(refused(spec, why, &at, diagnostics)),
    }
}

/// The marks in a scan of the printed side, mm, y upward.
fn read_marks(
    picture: &Picture,
    marks: &Marks,
    mirrored: bool,
    per: Density,
) -> Result<[Option<[f64; 2]>; 8], Refused> {
    let seen = discs::find(picture, marks).map_err(Refused::Few)?;
    if seen.back != mirrored {
        return Err(Refused::FaceDown);
    }
    Ok(seen.at.map(|p| p.map(|p| [p[0] / per.across, (picture.height as f64 - p[1]) / per.down])))
}

fn told(spec: &SheetSpec, own: &OwnSpec, fit: &Fit, at: &KeyPath, diagnostics: &mut Diagnostics) {
    let per_cent = |s: f64| format!("{:+.3} %", (s - 1.0) * 100.0);
    let window = Marks { page: [own.paper.sides().0.0, own.paper.sides().1.0] }.window();
    let worst = [[0, 1], [2, 1], [2, 3], [0, 3]].map(|[i, j]| fit.error_at([window[i], window[j]]).0);
    let worst = worst.into_iter().fold(0.0, f64::max);
    let message = format!(
        "the printer made \"{}\" {} across and {} up, leaning {:+.3} %; the cut file is corrected",
        spec.name,
        per_cent(fit.scales[0]),
        per_cent(fit.scales[1]),
        fit.shear * 100.0
    );
    let d = Diagnostic::note(&codes::CORRECTED, at.clone(), message);
    let d = d.measured(format!("{:.3} mm left at the marks (root mean square)", fit.rms));
    diagnostics.push(d.help(format!("cuts lie within {worst:.2} mm at the worst corner (1 standard error)")));
    if let Some((i, off)) = fit.misread {
        let message =
            format!("the mark {} of \"{}\" does not fit the others and is left out", PLACES[i], spec.name);
        let d = Diagnostic::warning(&codes::MISREAD, at.clone(), message);
        let d = d.measured(format!("{off:.2} mm off"));
        diagnostics.push(d.help("look whether dirt or a fold lies there, and scan again"));
    }
    let need = 2.0 * worst;
    if own.bleed.0 < need {
        let message = format!("the bleed of \"{}\" is too narrow for what the marks tell", spec.name);
        let d = Diagnostic::warning(&codes::BLEED, at.clone(), message);
        let d = d.measured(own.bleed).allowed(format!("{need:.2} mm and what the machine is off"));
        diagnostics.push(d.help("print with a larger `bleed`, or read the marks in a scan"));
    }
}

/// Where marks are, by [`Marks::places`].
const PLACES: [&str; 8] = [
    "beside the small disc",
    "in the middle above",
    "across from the small disc above",
    "in the middle of the side away from the small disc",
    "in the corner across from the small disc",
    "in the middle below",
    "below the small disc",
    "in the middle of the side of the small disc",
];

fn refused(spec: &SheetSpec, why: Refused, at: &KeyPath, diagnostics: &mut Diagnostics) -> ErrorGuaranteed {
    let name = &spec.name;
    let (code, message, measured, help) = match why {
        Refused::Fitted(s) => (
            &codes::FITTED,
            format!("\"{name}\" was printed at another size than its own"),
            format!("{:.1} % across, {:.1} % up", s[0] * 100.0, s[1] * 100.0),
            "print again at 100 %, \"fit to page\" off; if the reading is a scan, check its dpi",
        ),
        Refused::Strays(rms) => (
            &codes::FITTED,
            format!("the readings of \"{name}\" contradict each other"),
            format!("{rms:.2} mm (root mean square)"),
            "read the lengths again, each between the middles of two corner discs; scan the sheet flat",
        ),
        Refused::FaceDown => (
            &codes::FACE_DOWN,
            format!("\"{name}\" lies face down in the scan"),
            "the small disc is on the other side".to_owned(),
            "scan the printed side, or correct `mirrored`",
        ),
        Refused::Few(n) => (
            &codes::NO_MARKS,
            format!("the marks of \"{name}\" are not all found in the scan"),
            format!("{n} round dark spots that might be"),
            "scan the whole printed sheet, before it is cut, on a white ground",
        ),
    };
    diagnostics.push(Diagnostic::fault(code, at.clone(), message).measured(measured).help(help))
}
