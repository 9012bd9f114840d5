//! [`Photo`]: a photo of a sheet made a picture of known scale: by the page of eight discs, a card, or the paper that
//! the film lies on; and how sure every place of it is.
//!
//! Imports: base, outline, read::{job, picture}, make::sheet, make::sheet::{codes, marks, straighten, discs, quad}.

use super::marks::Marks;
use super::quad;
use super::straighten::{View, straightened, view};
use super::{FoundMotif, codes, discs};
use crate::base::diag::{Diagnostic, Diagnostics, ErrorGuaranteed, KeyPath};
use crate::base::units::Mm;
use crate::outline::Ring;
use crate::outline::plane::points_box;
use crate::read::job::{Known, SheetSpec};
use crate::read::picture::Picture;
use crate::read::picture::density::Density;
use std::sync::Arc;

/// Most pixels a millimetre that a photo is drawn anew with, and fewest that outlines can be made of.
const MOST: f64 = 24.0;
/// A tilt beyond which a photo is warned of, degrees.
const TILTED: f64 = 15.0;
/// An error beyond which a motif is warned of, mm.
const SURE: f64 = 0.3;
/// Fewest discs of the page.
const DISCS: usize = 7;
/// What is left at marks beyond which the page was not flat, mm.
const FLAT: f64 = 0.3;
/// What of a paper's edge is not looked at, mm.
const RIM: f64 = 3.0;
/// About a card: what is its shade, mm.
const SHADE: f64 = 2.0;
/// A card's thickness, mm (ISO/IEC 7810, ID-1: 85.60 x 53.98 x 0.76, corners of 3.18; from memory), and how far one may
/// be off its length, as a part (0.1 mm, printed-film notes).
pub const CARD: [f64; 2] = [85.60, 53.98];
const THICK: f64 = 0.76;
const CARD_OFF: f64 = 0.001;
/// How far a paper may be off its length, as a part: a millimetre in 297 (ISO 216 allows more; from memory).
const PAPER_OFF: f64 = 0.0034;
/// What a lens shows that four corners cannot see, mm over a page: a phone's own correction leaves k1 = 0.01
/// (printed-film notes).
const LENS: f64 = 0.17;

/// A straightened photo.
#[derive(Clone, Debug)]
pub struct Photo {
    /// The picture as from straight above, its density known.
    pub picture: Arc<Picture>,
    view: View,
    /// The part of the plane that it shows: left, top, right, low, mm, y downward.
    window: [f64; 4],
    /// Error that no fit sees, mm.
    lens: f64,
    /// The card, in the frame of the sheet, y upward.
    object: Option<[f64; 4]>,
    words: &'static str,
}

/// Straightens a photo.
///
/// # Errors
/// What it should show is not found, or does not lie flat.
pub fn seen(
    spec: &SheetSpec,
    known: Known,
    picture: &Picture,
    at: &KeyPath,
    diagnostics: &mut Diagnostics,
) -> Result<Photo, ErrorGuaranteed> {
    match known {
        Known::Frame(paper) => {
            let sides = paper.sides();
            by_frame(spec, Marks { page: [sides.0.0, sides.1.0] }, picture, at, diagnostics)
        }
        Known::Paper(paper) => {
            let (short, long) = paper.sides();
            let found = quad::paper(picture, [short.0, long.0]);
            let (size, corners) = found.map_err(|why| not_shown(spec, "paper", why, at, diagnostics))?;
            let mut view = four(size, picture, &corners)
                .ok_or_else(|| not_shown(spec, "paper", quad::Why::None, at, diagnostics))?;
            view.size_error = PAPER_OFF;
            let window = [RIM, RIM, size[0] - RIM, size[1] - RIM];
            Ok(Photo::new(picture, view, window, LENS, None, "the paper's four sides"))
        }
        Known::Card => {
            let found = quad::card(picture, CARD);
            let (size, corners) = found.map_err(|why| not_shown(spec, "card", why, at, diagnostics))?;
            let view = four(size, picture, &corners)
                .ok_or_else(|| not_shown(spec, "card", quad::Why::None, at, diagnostics))?;
            let mut view = view.deeper(THICK);
            view.size_error = CARD_OFF;
            let window = about(&view, picture);
            let card = [
                -SHADE - window[0],
                window[3] - size[1] - SHADE,
                size[0] + SHADE - window[0],
                window[3] + SHADE,
            ];
            Ok(Photo::new(picture, view, window, LENS, Some(card), "a card"))
        }
    }
}

fn not_shown(
    spec: &SheetSpec,
    what: &str,
    why: quad::Why,
    at: &KeyPath,
    diagnostics: &mut Diagnostics,
) -> ErrorGuaranteed {
    let message = match why {
        quad::Why::None => format!("\"{}\" shows no {what} with four straight sides", spec.picture),
        quad::Why::Several(n) => format!("\"{}\" shows {n} things that might be the {what}", spec.picture),
        quad::Why::CutOff => format!("\"{}\" does not show all of the {what}", spec.picture),
        quad::Why::Shape(off) => format!(
            "what \"{}\" shows has not the proportions of the {what}: {:.0} % off",
            spec.picture,
            off * 100.0
        ),
    };
    let d = Diagnostic::fault(&codes::NOT_SHOWN, at.key("scale"), message).file(&spec.picture);
    diagnostics.push(d.help(format!(
        "photograph the whole {what}, clear of all else, on a ground of another colour, from straight above"
    )))
}

/// The page of eight discs.
fn by_frame(
    spec: &SheetSpec,
    marks: Marks,
    picture: &Picture,
    at: &KeyPath,
    diagnostics: &mut Diagnostics,
) -> Result<Photo, ErrorGuaranteed> {
    let mut fail = |code, message: String, measured: String, help: &str| {
        let d = Diagnostic::fault(code, at.key("scale"), message).file(&spec.picture);
        Err(diagnostics.push(d.measured(measured).help(help)))
    };
    let whole = "photograph the whole page of discs, the film within them, no disc covered, no hard shadow";
    let seen = match discs::find(picture, &marks) {
        Ok(seen) => seen,
        Err(n) => {
            let message = format!("the eight discs are not found on \"{}\"", spec.picture);
            return fail(&codes::NO_MARKS, message, format!("{n} round dark spots that might be"), whole);
        }
    };
    if seen.back {
        let message = format!("the page of discs is seen from its back on \"{}\"", spec.picture);
        let help = "photograph its printed side; do not mirror the picture";
        return fail(&codes::FACE_DOWN, message, "the small disc is on the other side".into(), help);
    }
    let [w, h] = marks.page;
    let read: Vec<(usize, [f64; 2], [f64; 2])> = marks
        .places()
        .iter()
        .zip(seen.at)
        .enumerate()
        .filter_map(|(i, (p, q))| Some((i, [p[0], h - p[1]], q?)))
        .collect();
    let size = [picture.width as f64, picture.height as f64];
    let found = if read.len() < DISCS { None } else { view(marks.page, size, &read) };
    let Some(v) = found else {
        let message = format!("too few of the eight discs are seen on \"{}\"", spec.picture);
        return fail(&codes::NO_MARKS, message, format!("{} of them", read.len()), whole);
    };
    let left = v.rms / v.per_mm([w / 2.0, h / 2.0]);
    if left > FLAT {
        let message = format!("the page of discs on \"{}\" is not flat, or is another page", spec.picture);
        let help = "weigh it down, photograph from straight above, and name the paper that it was printed on";
        return fail(
            &codes::FITTED,
            message,
            format!("{left:.2} mm left at the discs (root mean square)"),
            help,
        );
    }
    if let Some((_, off)) = v.misread {
        let message =
            format!("one of the eight discs on \"{}\" does not fit the others and is left out", spec.picture);
        let d = Diagnostic::warning(&codes::MISREAD, at.key("scale"), message).file(&spec.picture);
        diagnostics.push(d.measured(format!("{off:.2} mm off")).help("look whether something covers one"));
    }
    let [x0, y0, x1, y1] = marks.window();
    Ok(Photo::new(picture, v, [x0, h - y1, x1, h - y0], 0.0, None, "eight discs"))
}

/// The view of four corners.
fn four(size: [f64; 2], picture: &Picture, corners: &[[f64; 2]; 4]) -> Option<View> {
    let [w, h] = size;
    let places = [[0.0, 0.0], [w, 0.0], [w, h], [0.0, h]];
    let read: Vec<_> = (0..4).map(|i| (i, places[i], corners[i])).collect();
    view(size, [picture.width as f64, picture.height as f64], &read)
}

/// A rectangle of the plane all of which is in the picture: from far outside, always the side is drawn in that has most
/// outside.
fn about(view: &View, picture: &Picture) -> [f64; 4] {
    /// Half a side at first, mm, and places of a side.
    const FAR: f64 = 700.0;
    const PLACES: u32 = 48;
    let (w, h) = (picture.width as f64, picture.height as f64);
    let outside = |p: [f64; 2]| {
        let q = view.pixel(p);
        !(view.ahead(p) && (0.0..=w).contains(&q[0]) && (0.0..=h).contains(&q[1]))
    };
    let c = view.middle();
    let mut out = [c[0] - FAR, c[1] - FAR, c[0] + FAR, c[1] + FAR];
    loop {
        let [x0, y0, x1, y1] = out;
        let count = |a: [f64; 2], b: [f64; 2]| {
            let at = |i: u32| {
                let t = f64::from(i) / f64::from(PLACES);
                [a[0] + (b[0] - a[0]) * t, a[1] + (b[1] - a[1]) * t]
            };
            (0..=PLACES).filter(|&i| outside(at(i))).count()
        };
        let sides = [
            count([x0, y0], [x0, y1]),
            count([x0, y0], [x1, y0]),
            count([x1, y0], [x1, y1]),
            count([x0, y1], [x1, y1]),
        ];
        // Of sides that are equally far out the longer way is drawn in.
        let way = [c[0] - x0, c[1] - y0, x1 - c[0], y1 - c[1]];
        let worst = (0..4).max_by(|&a, &b| sides[a].cmp(&sides[b]).then(way[a].total_cmp(&way[b])));
        match worst {
            Some(k) if sides[k] > 0 && way[k] > 1.0 => out[k] += if k < 2 { 1.0 } else { -1.0 },
            _ => return out,
        }
    }
}

impl Photo {
    fn new(
        picture: &Picture,
        view: View,
        window: [f64; 4],
        lens: f64,
        object: Option<[f64; 4]>,
        words: &'static str,
    ) -> Photo {
        let middle = [(window[0] + window[2]) / 2.0, (window[1] + window[3]) / 2.0];
        let per_mm = view.per_mm(middle).min(MOST);
        let mut flat = straightened(picture, |p| view.pixel(p), window, per_mm);
        flat.density = Some(Density { across: per_mm, down: per_mm });
        Photo { picture: Arc::new(flat), view, window, lens, object, words }
    }
    /// Takes out what lies under what the scale is from.
    pub fn without_object(&self, rings: &mut Vec<Ring>) {
        let Some(o) = self.object else { return };
        rings.retain(|r| {
            let b = points_box(r);
            let middle = [(b[0] + b[2]) / 2.0, (b[1] + b[3]) / 2.0];
            !(o[0] < middle[0] && middle[0] < o[2] && o[1] < middle[1] && middle[1] < o[3])
        });
    }
    /// Says how sure places are, of each motif and in words.
    pub fn tell(
        &self,
        spec: &SheetSpec,
        motifs: &mut [FoundMotif],
        at: &KeyPath,
        diagnostics: &mut Diagnostics,
    ) {
        let high = self.window[3] - self.window[1];
        for m in motifs.iter_mut() {
            let b = m.bounds();
            let error = |x: f64, y: f64| {
                let own = self.view.error_at([self.window[0] + x, self.window[1] + high - y]);
                libm::hypot(own, self.lens)
            };
            let all = [
                error(b.min.x, b.min.y),
                error(b.max.x, b.min.y),
                error(b.max.x, b.max.y),
                error(b.min.x, b.max.y),
            ];
            m.off = Some(Mm(all.into_iter().fold(0.0, f64::max)));
        }
        let worst = motifs.iter().filter_map(|m| m.off).fold(Mm::ZERO, |a, b| if b > a { b } else { a });
        let message = format!("the photo of \"{}\" is straightened by {}", spec.name, self.words);
        let d = Diagnostic::note(&codes::STRAIGHTENED, at.key("scale"), message).file(&spec.picture);
        let tilt = self.view.tilt();
        let d = d.measured(format!(
            "places within {:.2} mm (1 standard error), the camera {tilt:.0} degrees off straight above",
            worst.0
        ));
        diagnostics
            .push(d.help("lengths hold if the film lies flat: 2 mm of bulge are half a millimetre aside"));
        let unsure: Vec<String> = motifs
            .iter()
            .filter(|m| m.off.is_some_and(|o| o.0 > SURE))
            .map(|m| m.number.to_string())
            .collect();
        if !unsure.is_empty() || tilt > TILTED {
            let what = if unsure.is_empty() {
                format!("the photo of \"{}\" is taken aslant", spec.name)
            } else {
                format!(
                    "places of motif {} of \"{}\" are not sure to {SURE} mm",
                    unsure.join(", "),
                    spec.name
                )
            };
            let d = Diagnostic::warning(&codes::UNSURE, at.key("scale"), what).file(&spec.picture);
            let d = d.measured(format!("{:.2} mm, {tilt:.0} degrees", worst.0));
            let d = d.allowed(format!("{SURE} mm, {TILTED} degrees"));
            diagnostics.push(d.help("photograph from straight above, on the page of eight discs, or scan"));
        }
    }
}
