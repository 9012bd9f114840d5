//! Where the numbers of pieces stand on a drawing: inside, as large as they can be read; else beside with a line
//! into the piece; else small inside; else a dot, and the number stands elsewhere.
//!
//! Imports: base, outline, read::job, make::{piece, verify}, write::ink::{letters, drawing, film_mark, place, inside,
//! label}.

use super::drawing::{Group, INK, Stroke, segment};
use super::film_mark::paint;
use super::inside::{Inside, inside};
use super::label::{Label, seen};
use super::letters::{self, Face};
use super::place::{Field, Quad};
use crate::base::frame::{Art, Page, Point, Rigid};
use crate::base::units::Mm;
use crate::make::piece::Piece;
use crate::make::verify::Verified;
use crate::outline::{Bounds, Flat, Region};
use crate::read::job::Rgb;
use rayon::prelude::*;

/// From a number to any outline, on the drawing.
const OFF: f64 = 0.3;
/// Between two numbers.
const BETWEEN: f64 = 0.3;
/// Farthest that a number stands from its piece, and the grid on which it is tried.
const FARTHEST: f64 = 15.0;
const GRID: f64 = 0.5;
/// Radius of the dot at the end of a line, and of one that stands for a number.
const END: f64 = 0.35;
const DOT: f64 = 0.6;
/// Width of such a line.
const LINE: f64 = 0.15;

/// Heights of capitals.
#[derive(Clone, Copy, Debug)]
pub struct Caps {
    /// No larger.
    pub most: f64,
    /// From here on a number inside its piece is as it should be; beside it, it is as large as that.
    pub wanted: f64,
    /// Inside no smaller than this, where there is no place beside.
    pub least: f64,
    /// A dot where there is no place at all? Else the number is as small as that, and overruns its piece.
    pub dots: bool,
}

/// A piece on the drawing.
#[derive(Clone, Debug)]
pub struct Item {
    /// What stands there.
    pub words: String,
    /// What is seen of it.
    pub seen: Flat<Page>,
    /// Its whole outline, which other numbers keep off.
    pub outline: Flat<Page>,
    /// Ink that is read on it.
    pub ink: Rgb,
}

impl Item {
    /// A piece where it lies on a page, its chords within a tolerance.
    pub fn of(plan: &Verified, p: &Piece, pose: &Rigid<Art, Page>, chords: Mm) -> Item {
        Item {
            words: p.number.to_string(),
            seen: seen(plan, p).moved(pose).flat(chords),
            outline: p.outline.moved(pose).flat(chords),
            ink: paint(plan.job(), p.film).ink,
        }
    }
}

/// A number with its place.
#[derive(Clone, Debug)]
pub enum Placed {
    /// Inside.
    Inside(Label),
    /// Beside, with a line to a dot in the piece.
    Beside {
        /// The number.
        label: Label,
        /// Ink of the dot.
        ink: Rgb,
        /// From the number into the piece.
        line: [(f64, f64); 2],
    },
    /// Nowhere: a dot in the piece, in its ink.
    Dot((f64, f64), Rgb),
}

impl Placed {
    /// The number, where there is one.
    pub fn label(&self) -> Option<&Label> {
        match self {
            Placed::Inside(l) | Placed::Beside { label: l, .. } => Some(l),
            Placed::Dot(..) => None,
        }
    }
    /// The box inside the piece that hatch keeps out of.
    pub fn keep_out(&self) -> Bounds<Page> {
        let round = |(x, y): (f64, f64), r: f64| Bounds {
            min: Point::mm(x - r, y - r),
            max: Point::mm(x + r, y + r),
        };
        match self {
            Placed::Inside(l) => l.keep_out(),
            Placed::Beside { line, .. } => round(line[1], END + 0.2),
            Placed::Dot(at, _) => round(*at, DOT + 0.2),
        }
    }
    /// Draws it; `rimmed` with a rim of paper.
    pub fn draw(&self, g: &mut Group, rimmed: bool) {
        let dot = |g: &mut Group, at: (f64, f64), r: f64, ink: Rgb| {
            for c in Region::<Page>::disc(Point::mm(at.0, at.1), Mm(r)).into_contours() {
                g.fill(c, ink);
            }
        };
        match self {
            Placed::Dot(at, ink) => dot(g, *at, DOT, *ink),
            Placed::Beside { line, ink, .. } => {
                g.stroke(segment(line[0], line[1]), Stroke::solid(INK, LINE));
                dot(g, line[1], END, *ink);
            }
            Placed::Inside(_) => {}
        }
        let Some(label) = self.label() else { return };
        if rimmed { label.draw_rimmed(g) } else { label.draw(g) }
    }
}

/// A number's width over the height of its capitals.
fn aspect(words: &str) -> f64 {
    letters::width(Face::Bold, 1.0, words) / letters::CAPITAL
}

/// The best place inside of each, upright if that allows the wanted height.
pub fn fits(items: &[Item], caps: Caps) -> Vec<Inside> {
    items.par_iter().map(|i| inside(&i.seen, aspect(&i.words), OFF, [caps.wanted, caps.most])).collect()
}

/// Gives every piece's number its place; `best` are those inside, `field` holds what else they keep off, and takes
/// them in.
pub fn placed(items: &[Item], best: &[Inside], caps: Caps, field: &mut Field) -> Vec<Placed> {
    field.gap = BETWEEN;
    for (n, item) in items.iter().enumerate() {
        field.keep_off_rings(&item.outline, OFF, n as u32);
    }
    let mut out: Vec<Option<Placed>> = vec![None; items.len()];
    for (n, (item, b)) in items.iter().zip(best).enumerate() {
        if b.cap >= caps.wanted {
            let label = Label::round(&item.words, b.at, b.cap.min(caps.most), b.turn).inked(item.ink);
            field.take(&[label.quad()]);
            out[n] = Some(Placed::Inside(label));
        }
    }
    let boxes: Vec<Bounds<Page>> = items.iter().map(|i| i.outline.bounds()).collect();
    let round = offsets(FARTHEST, GRID);
    for n in 0..items.len() {
        if out[n].is_some() {
            continue;
        }
        let (item, b) = (&items[n], &best[n]);
        let foot = if b.cap > 0.0 { b.at } else { pole(&item.seen) };
        out[n] =
            Some(if let Some(p) = beside(items, (&boxes, &round), (n as u32, foot), caps.wanted, field) {
                p
            } else if b.cap >= caps.least || !caps.dots {
                Placed::Inside(Label::round(&item.words, foot, b.cap.max(caps.least), b.turn).inked(item.ink))
            } else {
                Placed::Dot(foot, item.ink)
            });
        if let Some(p) = out[n].as_ref().and_then(Placed::label) {
            field.take(&[p.quad()]);
        }
    }
    out.into_iter().flatten().collect()
}

/// Where something is tried round a place on a grid, the nearest first.
pub fn offsets(farthest: f64, grid: f64) -> Vec<(f64, f64)> {
    let n = (farthest / grid) as i32;
    let mut near: Vec<(i32, i32)> = (-n..=n).flat_map(|i| (-n..=n).map(move |j| (i, j))).collect();
    near.retain(|(i, j)| i * i + j * j <= n * n);
    near.sort_by_key(|(i, j)| (i * i + j * j, *i, *j));
    near.into_iter().map(|(i, j)| (grid * f64::from(i), grid * f64::from(j))).collect()
}

/// A place beside, the nearest that is free of outlines and numbers, with a line that crosses none.
fn beside(
    items: &[Item],
    (boxes, round): (&[Bounds<Page>], &[(f64, f64)]),
    (own, foot): (u32, (f64, f64)),
    cap: f64,
    field: &Field,
) -> Option<Placed> {
    let item = &items[own as usize];
    round.iter().find_map(|(x, y)| {
        let middle = (foot.0 + x, foot.1 + y);
        let label = Label::round(&item.words, middle, cap, (1.0, 0.0));
        let quad = label.quad();
        if !field.is_free(&[quad], false, false) {
            return None;
        }
        let on = |b: &Bounds<Page>| {
            b.min.x <= middle.0 && middle.0 <= b.max.x && b.min.y <= middle.1 && middle.1 <= b.max.y
        };
        let covered = boxes.iter().zip(items).any(|(b, i)| on(b) && i.outline.contains(middle.0, middle.1));
        if covered {
            return None;
        }
        let from = edge_of(&quad, foot);
        field.leads([from.0, from.1], [foot.0, foot.1], own).then_some(Placed::Beside {
            label,
            ink: item.ink,
            line: [from, foot],
        })
    })
}

/// The point of a box, a little off it, that is nearest to a place.
fn edge_of(q: &Quad, to: (f64, f64)) -> (f64, f64) {
    let b = q.grown(0.2).bounds();
    (to.0.clamp(b.min.x, b.max.x), to.1.clamp(b.min.y, b.max.y))
}

/// The middle of the roomiest place for a dot.
fn pole(flat: &Flat<Page>) -> (f64, f64) {
    let b = inside(flat, 1.0, 0.0, [0.0, 2.0 * DOT]);
    b.at
}

#[cfg(test)]
mod tests {
    use super::*;

    const CAPS: Caps = Caps { most: 2.4, wanted: 1.8, least: 1.4, dots: true };

    fn item(n: usize, x: f64, y: f64, r: f64) -> Item {
        let flat = Region::<Page>::disc(Point::mm(x, y), Mm(r)).flat(Mm(0.01));
        Item { words: n.to_string(), seen: flat.clone(), outline: flat, ink: INK }
    }

    /// Small pieces in a close grid have dots; one alone has its number beside it; a large one inside.
    #[test]
    fn the_ladder() {
        let mut items: Vec<Item> =
            (0..36).map(|k| item(100 + k, 2.0 * (k % 6) as f64, 2.0 * (k / 6) as f64, 0.85)).collect();
        items.push(item(7, 60.0, 5.0, 0.7));
        items.push(item(127, 90.0, 5.0, 4.0));
        let out = placed(&items, &fits(&items, CAPS), CAPS, &mut Field::new(BETWEEN));
        assert!(out[14..16].iter().all(|p| matches!(p, Placed::Dot(..))), "in the middle of the grid");
        assert!(matches!(out[36], Placed::Beside { .. }) && matches!(out[37], Placed::Inside(_)));
        // None on another, none on an outline.
        let quads: Vec<Quad> = out.iter().filter_map(|p| Some(p.label()?.quad())).collect();
        for (i, q) in quads.iter().enumerate() {
            assert!(quads[i + 1..].iter().all(|o| !o.meets(q)));
            for item in &items {
                let ring = &item.outline.rings[0];
                assert!((0..ring.len()).all(|k| !q.meets_line(ring[k], ring[(k + 1) % ring.len()])));
            }
        }
    }
}
