//! The words of a wrap template, each where it can be read: on no line, on no other word, none smaller than
//! 1.8 mm.
//!
//! Every word has forms from long to short, sizes from large to small, and places from the best down. The first
//! that is free is taken: form by form, size by size, before any ring is interrupted those where none has to
//! be. What finds no place within the outline stands beside it with a line to where it belongs.
//!
//! Imports: base, outline, read::job, write::ink, write::template::band.

use super::band::Band;
use crate::base::units::{Angle, Mm};
use crate::outline::BezPath;
use crate::read::job::Rgb;
use crate::write::ink::drawing::{INK, Words, segment};
use crate::write::ink::letters::{self, Anchor, Face};
use crate::write::ink::place::{Field, Quad};

/// Between two words.
pub const BETWEEN: f64 = 0.5;
/// From words to the outline, and to any other line.
pub const TO_OUTLINE: f64 = 0.4;
/// From words to lines within the outline.
pub const TO_LINE: f64 = 0.25;
/// Nearest that words about a line stand to it.
const BESIDE: f64 = 0.6;
/// Heights of capitals: what is read at the bench is no smaller than 1.8 mm (ISO 3098's least nominal height; 15
/// minutes of arc at 450 mm, NUREG-0700).
pub const CAPS: [f64; 3] = [2.3, 2.0, 1.8];

/// Which marks words belong to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Of {
    /// Marks that meet over an edge.
    Joins,
    /// Bands that film keeps off, and the handle's window.
    KeepClear,
    /// Heights.
    Heights,
    /// Guide rings.
    Rings,
    /// Front line, quarters, arrows.
    Lines,
    /// Seam and lap.
    Seam,
}

/// Where words are tried.
#[derive(Clone, Copy, Debug)]
pub enum Spot {
    /// Climbing beside a generator, from a slant on; right of it or left.
    Climbing {
        /// The generator.
        azimuth: Angle,
        /// Where they begin.
        from: Mm,
        /// Right of it?
        right: bool,
    },
    /// Climbing, the middle of its letters on a line beside a generator, so far off to the right.
    On {
        /// The generator.
        azimuth: Angle,
        /// Where they begin.
        from: Mm,
        /// Millimetres to the right.
        off: f64,
    },
    /// Along a parallel, the lowest of the ink on it; off the generator by some millimetres.
    Along {
        /// The generator.
        azimuth: Angle,
        /// The parallel.
        low: Mm,
        /// Which point of the words is there.
        anchor: Anchor,
        /// Millimetres to the right.
        off: f64,
    },
    /// Along a parallel, the middle of the letters on it.
    Middle {
        /// The generator.
        azimuth: Angle,
        /// The parallel.
        slant: Mm,
    },
}

/// Words that are wanted.
#[derive(Clone, Debug)]
pub struct Wish {
    /// Whose they are.
    pub of: Of,
    /// From long to short.
    pub forms: Vec<String>,
    /// Heights of capitals, from large to small.
    pub caps: Vec<f64>,
    /// Their face.
    pub face: Face,
    /// Their colour.
    pub colour: Rgb,
    /// One list of places for each time they are wanted, the most wanted first.
    pub spots: Vec<Vec<Spot>>,
    /// Tried once more where none found a place.
    pub spare: Vec<Spot>,
    /// Must there be one? Then it stands outside if there is no place within.
    pub must: bool,
    /// Lines of the same kind, which they keep farther off than from their own.
    pub away: Vec<BezPath>,
    /// Where a line from outside leads to.
    pub at: (Angle, Mm),
}

/// Words that have their places.
#[derive(Clone, Debug, Default)]
pub struct Said {
    /// Words, word by word where they bend along a parallel.
    pub words: Vec<(Of, Words)>,
    /// Lines from words outside to where they belong.
    pub leaders: Vec<(Of, BezPath)>,
}

/// One text at one size: its words with their places along the line, and its ink.
struct Set {
    words: Vec<(String, f64)>,
    size: f64,
    width: f64,
    low: f64,
    face: Face,
    colour: Rgb,
}

impl Set {
    fn new(text: &str, cap: f64, face: Face, colour: Rgb) -> Set {
        let size = cap / letters::CAPITAL;
        let wide = |t: &str| letters::width(face, size, t);
        let mut words = Vec::new();
        let mut done = String::new();
        for word in text.split(' ') {
            let from = wide(&done);
            words.push((word.to_owned(), from + wide(word) / 2.0));
            done.push_str(word);
            done.push(' ');
        }
        let [_, low, ..] = letters::ink(face, size, text);
        Set { words, size, width: wide(text), low, face, colour }
    }
    fn word(&self, message: &str, anchor: Anchor, at: (f64, f64), turn: (f64, f64)) -> Words {
        let (size, face, colour) = (self.size, self.face, self.colour);
        Words { message: message.to_owned(), size, face, anchor, colour, at, turn }
    }
    fn whole(&self) -> String {
        let words: Vec<&str> = self.words.iter().map(|w| w.0.as_str()).collect();
        words.join(" ")
    }
    /// The words at a place of a band.
    fn at(&self, band: &Band, spot: Spot) -> Vec<Words> {
        let cap = self.size * letters::CAPITAL;
        match spot {
            Spot::Climbing { azimuth, from, right } => {
                // Letters climb with their heads to the left: right of the line the heads are near it.
                let off = if right { BESIDE + cap * 1.08 } else { -BESIDE + self.low };
                self.climbing(band, azimuth, from, off)
            }
            Spot::On { azimuth, from, off } => self.climbing(band, azimuth, from, off + cap / 2.0),
            Spot::Along { azimuth, low, anchor, off } => {
                let base = low - Mm(self.low.min(0.0));
                let back = match anchor {
                    Anchor::Start => 0.0,
                    Anchor::Middle => self.width / 2.0,
                    Anchor::End => self.width,
                };
                self.along(band, azimuth, base, off - back)
            }
            Spot::Middle { azimuth, slant } => {
                self.along(band, azimuth, slant - Mm(cap / 2.0), -self.width / 2.0)
            }
        }
    }
    fn climbing(&self, band: &Band, azimuth: Angle, from: Mm, off: f64) -> Vec<Words> {
        let (p, (c, s)) = (band.at(azimuth, from), band.level(azimuth));
        vec![self.word(&self.whole(), Anchor::Start, (p.x + c * off, p.y + s * off), (-s, c))]
    }
    /// Each word turned to the level of its own azimuth.
    fn along(&self, band: &Band, azimuth: Angle, base: Mm, from: f64) -> Vec<Words> {
        let radius = band.development().radius(base).0;
        let one = |(word, middle): &(String, f64)| {
            let there = azimuth + Angle::radians((from + middle) / radius);
            let p = band.at(there, base);
            self.word(word, Anchor::Middle, (p.x, p.y), band.level(there))
        };
        self.words.iter().map(one).collect()
    }
}

/// The boxes of words that follow each other along a line: from each to the next there is no gap.
fn boxes(words: &[Words]) -> Vec<Quad> {
    let mut out: Vec<Quad> = words.iter().map(Quad::of).collect();
    for i in 1..out.len() {
        // What lies between their near sides, on the turn of the first.
        let (a, b) = (out[i - 1].corners(), out[i].corners());
        let (from, to) = (a[1], b[0]);
        let (x, y) = (to[0] - from[0], to[1] - from[1]);
        let len = libm::hypot(x, y);
        let high = out[i - 1].size.1.max(out[i].size.1);
        if len > 0.0 {
            let turn = (x / len, y / len);
            out.push(Quad { at: (from[0], from[1]), turn, size: (len, high) });
        }
    }
    out
}

/// Gives every wish its places, in their order.
pub fn said(band: &Band, field: &mut Field, wishes: &[Wish]) -> Said {
    let mut out = Said::default();
    for wish in wishes {
        let mut had = false;
        for (i, spots) in wish.spots.iter().chain([&wish.spare]).enumerate() {
            if i == wish.spots.len() && had {
                continue;
            }
            if let Some(words) = placed(band, field, wish, spots) {
                field.take(&boxes(&words));
                out.words.extend(words.into_iter().map(|w| (wish.of, w)));
                had = true;
            }
        }
        if !had && !wish.away.is_empty() {
            // Better too near to another line than outside.
            let anywhere = Wish { away: Vec::new(), ..wish.clone() };
            if let Some(words) = wish.spots.iter().find_map(|spots| placed(band, field, &anywhere, spots)) {
                field.take(&boxes(&words));
                out.words.extend(words.into_iter().map(|w| (wish.of, w)));
                had = true;
            }
        }
        if wish.must && !had {
            let (words, leader) = outside(band, field, wish);
            field.take(&[Quad::of(&words)]);
            out.words.push((wish.of, words));
            out.leaders.push((wish.of, leader));
        }
    }
    out
}

/// Words about a line keep this much farther off others of its kind.
const FROM_OTHERS: f64 = 3.0;

fn placed(band: &Band, field: &Field, wish: &Wish, spots: &[Spot]) -> Option<Vec<Words>> {
    let mut others = Field::new(0.0);
    wish.away.iter().for_each(|l| others.keep_off(l, BESIDE + FROM_OTHERS));
    for form in &wish.forms {
        for cap in &wish.caps {
            let set = Set::new(form, *cap, wish.face, wish.colour);
            for interrupt in [false, true] {
                for spot in spots {
                    let words = set.at(band, *spot);
                    let boxes = boxes(&words);
                    if field.is_free(&boxes, interrupt, false) && others.is_free(&boxes, false, false) {
                        return Some(words);
                    }
                }
            }
        }
    }
    None
}

/// Farthest that words outside stand from the outline, and the steps in which they are tried.
const FARTHEST: f64 = 60.0;
const STEP: f64 = 1.0;

/// Words beside the outline, right of it, as high as where they belong or as near to that as is free, and the line
/// there: else higher than the outline; else wherever they are free, and their line passes over others.
fn outside(band: &Band, field: &Field, wish: &Wish) -> (Words, BezPath) {
    let set = Set::new(&wish.forms[0], CAPS[2], wish.face, wish.colour);
    let text = set.whole();
    let to = band.at(wish.at.0, wish.at.1);
    let b = band.bounds();
    let steps = (FARTHEST / STEP) as u32;
    let set_at = |at: (f64, f64)| set.word(&text, Anchor::Start, at, (1.0, 0.0));
    let foot = |at: (f64, f64)| (at.0 - 0.6, at.1 + CAPS[2] / 2.0);
    let right = |across: u32| b.max.x + 3.0 + f64::from(across) * STEP;
    let beside = (0..steps).flat_map(|across| {
        (0..2 * steps).map(move |up| {
            let off = f64::from(up.div_ceil(2)) * if up.is_multiple_of(2) { STEP } else { -STEP };
            (right(across), to.y + off)
        })
    });
    // Below the outline stands the template's foot.
    let beside = beside.filter(|at| at.1 >= b.min.y && at.1 + 1.1 * CAPS[2] <= b.max.y);
    let over = (0..2 * steps).flat_map(|up| {
        (0..steps).map(move |across| (right(across), b.max.y - 1.1 * CAPS[2] + f64::from(up) * STEP))
    });
    let all: Vec<(f64, f64)> = beside.chain(over).collect();
    let clear = |at: &(f64, f64)| field.is_free(&[Quad::of(&set_at(*at))], false, true);
    let led = |at: &(f64, f64)| {
        let end = foot(*at);
        !field.taken().iter().any(|q| q.meets_line([to.x, to.y], [end.0, end.1]))
    };
    let at = all.iter().find(|at| led(at) && clear(at)).or_else(|| all.iter().find(|at| clear(at)));
    let at = at.copied().unwrap_or((right(0), to.y));
    (set_at(at), segment((to.x, to.y), foot(at)))
}

/// A wish in dark ink, in the regular face, at the sizes of the template.
pub fn wish(of: Of, forms: &[&str], at: (Angle, Mm), spots: Vec<Vec<Spot>>) -> Wish {
    let forms = forms.iter().map(|s| (*s).to_owned()).collect();
    let (face, caps) = (Face::Regular, CAPS.to_vec());
    Wish { of, forms, caps, face, colour: INK, must: true, spots, spare: Vec::new(), away: Vec::new(), at }
}

/// An arrow up the wall and what stands under it: length, words and the height of their capitals.
const ARROWS: [(f64, &str, f64); 5] =
    [(11.0, "RIM", 2.3), (11.0, "RIM", 1.8), (7.0, "RIM", 1.8), (4.5, "R", 1.8), (3.0, "", 1.8)];
/// Between an arrow and its words.
const UNDER: f64 = 1.0;

/// An arrow where it is free: its outline, and its words.
pub fn arrow(band: &Band, field: &mut Field, feet: &[(Angle, Mm)]) -> Option<(BezPath, Option<Words>)> {
    for (length, text, cap) in ARROWS {
        let set = Set::new(text, cap, Face::Bold, INK);
        for interrupt in [false, true] {
            for &(azimuth, foot) in feet {
                let (p, turn) = (band.at(azimuth, foot), band.level(azimuth));
                let wide = 2.88 * (length / 7.0).min(1.0);
                let corner = (p.x - turn.0 * wide / 2.0, p.y - turn.1 * wide / 2.0);
                let mut all = vec![Quad { at: corner, turn, size: (wide, length) }];
                let low = foot - Mm(UNDER + cap);
                let spot = Spot::Along { azimuth, low, anchor: Anchor::Middle, off: 0.0 };
                let words = (!text.is_empty()).then(|| set.at(band, spot).remove(0));
                all.extend(words.iter().map(Quad::of));
                if field.is_free(&all, interrupt, false) {
                    field.take(&all);
                    return Some((arrow_path((p.x, p.y), turn, length), words));
                }
            }
        }
    }
    None
}

/// An arrow from its foot, up across the level.
fn arrow_path(foot: (f64, f64), (c, s): (f64, f64), length: f64) -> BezPath {
    let k = (length / 7.0).min(1.0);
    let (w, head) = (0.7 * k, 2.4 * k);
    let corners = [
        (-w / 2.0, 0.0),
        (w / 2.0, 0.0),
        (w / 2.0, length - head),
        (head * 0.6, length - head),
        (0.0, length),
        (-head * 0.6, length - head),
        (-w / 2.0, length - head),
    ];
    let at = |(x, y): (f64, f64)| [foot.0 + c * x - s * y, foot.1 + s * x + c * y];
    crate::outline::polyline_path(&corners.map(at))
}

/// All places beside a generator: climbing on both sides, from a slant up and then from there down, then level
/// beside it.
pub fn beside(band: &Band, azimuth: Angle, first: Mm, right_first: bool) -> Vec<Spot> {
    let mut out = Vec::new();
    let steps = |step: f64| {
        let n = ((band.wall - band.low).0 / step) as u32;
        let mut all: Vec<Mm> = (0..=n).map(|i| band.low + Mm(0.5 + step * f64::from(i))).collect();
        // From the first up, then what is lower.
        all.sort_by(|a, b| (*a < first).cmp(&(*b < first)).then(a.0.total_cmp(&b.0)));
        all
    };
    for from in std::iter::once(first).chain(steps(1.5)) {
        for right in [right_first, !right_first] {
            out.push(Spot::Climbing { azimuth, from, right });
        }
    }
    for low in steps(1.0) {
        for (anchor, off) in [(Anchor::Start, 1.0), (Anchor::End, -1.0)] {
            out.push(Spot::Along { azimuth, low, anchor, off });
        }
    }
    out
}

/// A parallel without the parts that words stand on.
pub fn interrupted(band: &Band, slant: Mm, boxes: &[Quad]) -> Vec<BezPath> {
    let (left, right) = band.ends();
    let grown: Vec<Quad> = boxes.iter().map(|q| q.grown(TO_OUTLINE)).collect();
    let radius = band.development().radius(slant).0;
    let n = ((right - left).rad() * radius / 0.2).ceil().max(1.0) as u32;
    let azimuth = |i: u32| left + (right - left) * (f64::from(i) / f64::from(n));
    let covered = |i: u32| {
        let p = band.at(azimuth(i), slant);
        grown.iter().any(|q| q.holds([p.x, p.y]))
    };
    let mut out = Vec::new();
    let mut from = None;
    for i in 0..=n {
        match (covered(i), from) {
            (false, None) => from = Some(i),
            (true, Some(start)) => {
                if i > start + 1 {
                    out.push(band.parallel(slant, azimuth(start), azimuth(i - 1)));
                }
                from = None;
            }
            _ => {}
        }
    }
    if let Some(start) = from.filter(|s| *s < n) {
        out.push(band.parallel(slant, azimuth(start), right));
    }
    out
}
