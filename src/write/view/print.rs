//! [`WallPrint`]: what the pieces of printed sheets show on the cup: the cup's own colour as film and print let it
//! through, on the wall rolled out.
//!
//! Imports: base, outline, read::job, make::{cup, piece, verify}, write::view::{camera, texture}.

use super::camera::{Section, sections};
use super::texture::Patch;
use crate::base::colour::{decoded, encoded, lights};
use crate::base::frame::{Point, Sheet};
use crate::base::units::{Angle, Mm};
use crate::make::cup::WallPoint;
use crate::make::piece::Piece;
use crate::make::verify::Verified;
use crate::outline::{Bounds, PathEl, Region};
use crate::read::job::OnSheet;
use rayon::prelude::*;
use resvg::tiny_skia::{FillRule, Mask, PathBuilder, Transform};
use std::f64::consts::{PI, TAU};

/// Dots a millimetre of the masks that keep the backing's noise out of the clear film.
const FINE: f64 = 10.0;

/// Colours over the whole wall, where printed pieces lie and where none does: the cup's there.
#[derive(Clone, Debug)]
pub struct WallPrint {
    /// Columns round, the first at the back.
    pub width: usize,
    /// Rows, the rim's first.
    pub height: usize,
    /// Red, green, blue, unshaded.
    pub seen: Vec<[u8; 3]>,
}

/// Where a print covers, on its sheet.
struct Cover {
    bounds: Bounds<Sheet>,
    mask: Mask,
}

impl Cover {
    fn of(print: &Region<Sheet>) -> Option<Cover> {
        let bounds = print.bounds().grown(Mm(1.0));
        let size = |mm: Mm| (mm.0 * FINE).ceil().max(1.0) as u32;
        let mut mask = Mask::new(size(bounds.width()), size(bounds.height()))?;
        let mut path = PathBuilder::new();
        let at = |p: crate::outline::CurvePoint| {
            (((p.x - bounds.min.x) * FINE) as f32, ((p.y - bounds.min.y) * FINE) as f32)
        };
        for el in print.contours().iter().flat_map(|c| c.elements()) {
            match *el {
                PathEl::MoveTo(p) => path.move_to(at(p).0, at(p).1),
                PathEl::LineTo(p) => path.line_to(at(p).0, at(p).1),
                PathEl::QuadTo(a, p) => path.quad_to(at(a).0, at(a).1, at(p).0, at(p).1),
                PathEl::CurveTo(a, b, p) => {
                    path.cubic_to(at(a).0, at(a).1, at(b).0, at(b).1, at(p).0, at(p).1)
                }
                PathEl::ClosePath => path.close(),
            }
        }
        mask.fill_path(&path.finish()?, FillRule::Winding, true, Transform::identity());
        Some(Cover { bounds, mask })
    }
    /// How much of a place is print, 0 to 1.
    fn at(&self, p: Point<Sheet>) -> f32 {
        let (x, y) = ((p.x - self.bounds.min.x) * FINE, (p.y - self.bounds.min.y) * FINE);
        let (w, h) = (f64::from(self.mask.width()), f64::from(self.mask.height()));
        if x < 0.0 || y < 0.0 || x >= w || y >= h {
            return 0.0;
        }
        f32::from(self.mask.data()[y as usize * self.mask.width() as usize + x as usize]) / 255.0
    }
}

impl WallPrint {
    /// Of a plan, with so many columns round; none if nothing printed lies on the wall. `patches` are its pieces
    /// in painting order, `wall` the wall's colours from base edge to rim.
    pub fn new(plan: &Verified, patches: &[Patch], wall: &[[f32; 3]], width: usize) -> Option<WallPrint> {
        let pieces = super::texture::order(plan);
        let printed: Vec<(&Piece, &Patch, OnSheet)> = pieces
            .iter()
            .zip(patches)
            .filter_map(|(p, patch)| Some((p.as_ref(), patch, plan.printed(p.number)?)))
            .collect();
        if printed.is_empty() {
            return None;
        }
        let sections = sections(plan.cup());
        let (Some(first), Some(last)) = (sections.first(), sections.last()) else { return None };
        let girth = PI * (first.body.base + last.body.rim);
        let slant: f64 = sections.iter().map(|s| s.body.slant).sum();
        let height = ((slant / girth * width as f64).round() as usize).max(8);
        let ring = |row: usize| {
            let up = 1.0 - (row as f64 + 0.5) / height as f64;
            wall[((up * wall.len() as f64) as usize).min(wall.len() - 1)]
        };
        let plain = |row: usize| ring(row).map(|v| (v + 0.5).clamp(0.0, 255.0) as u8);
        let mut out =
            WallPrint { width, height, seen: (0..height).flat_map(|row| vec![plain(row); width]).collect() };
        let painted: Vec<Vec<(usize, [u8; 3])>> = printed
            .par_iter()
            .map(|(piece, patch, on)| out.painted(plan, (piece, patch, *on), &sections, &ring))
            .collect();
        for (at, colour) in painted.into_iter().flatten() {
            out.seen[at] = colour;
        }
        Some(out)
    }

    /// The cells about a piece and what they show.
    fn painted(
        &self,
        plan: &Verified,
        (piece, patch, on): (&Piece, &Patch, OnSheet),
        sections: &[Section],
        ring: &(dyn Fn(usize) -> [f32; 3] + Sync),
    ) -> Vec<(usize, [u8; 3])> {
        let stock = &plan.stock()[on.sheet];
        let Some(motif) = stock.sheet.motif(on.number) else { return Vec::new() };
        let Some(cover) = Cover::of(&motif.print) else { return Vec::new() };
        let (development, lights) = (&plan.cup().zones[piece.zone].development, lights());
        let whole: f64 = sections.iter().map(|s| s.body.height).sum();
        let to_sheet = piece.pose.inverse().then(&stock.pose(on.number));
        let points = || patch.rings.iter().flatten();
        let least =
            |of: fn(&super::texture::SurfacePoint) -> f64| points().map(of).fold(f64::INFINITY, f64::min);
        let most =
            |of: fn(&super::texture::SurfacePoint) -> f64| points().map(of).fold(f64::NEG_INFINITY, f64::max);
        let column = |a: f64| (a / TAU + 0.5) * self.width as f64;
        let row = |y: f64| (1.0 - y / whole) * self.height as f64;
        let rows = row(most(|p| p.y)).floor().max(0.0) as usize
            ..(row(least(|p| p.y)).ceil().max(0.0) as usize).min(self.height);
        let columns = column(least(|p| p.azimuth)).floor() as i64..column(most(|p| p.azimuth)).ceil() as i64;
        let mut out = Vec::new();
        for row in rows {
            let slant =
                Mm(sections[piece.zone].slant(whole * (1.0 - (row as f64 + 0.5) / self.height as f64)));
            let under = ring(row).map(|v| decoded(v / 255.0));
            for column in columns.clone() {
                let azimuth = Angle::radians(((column as f64 + 0.5) / self.width as f64 - 0.5) * TAU);
                let on_sheet = to_sheet.apply(development.develop(WallPoint { azimuth, slant }));
                let part = cover.at(on_sheet);
                if part > 0.0 {
                    let t = stock.sheet.transmittance_by(&lights, on_sheet);
                    let seen = [0, 1, 2].map(|k| encoded(under[k] * (1.0 + part * (t[k] - 1.0))));
                    out.push((row * self.width + column.rem_euclid(self.width as i64) as usize, seen));
                }
            }
        }
        out
    }

    /// The colour at an azimuth (radians) and a part of the height (0 at the base edge), between four cells.
    pub fn at(&self, azimuth: f64, up: f64) -> [f32; 3] {
        let x = ((azimuth / TAU + 0.5) * self.width as f64 - 0.5).rem_euclid(self.width as f64);
        let y = ((1.0 - up) * self.height as f64 - 0.5).clamp(0.0, (self.height - 1) as f64);
        let (left, top) = ((x as usize).min(self.width - 1), y as usize);
        let (right, foot) = ((left + 1) % self.width, (top + 1).min(self.height - 1));
        let (tx, ty) = ((x - left as f64) as f32, (y - top as f64) as f32);
        let cell = |x: usize, y: usize, k: usize| f32::from(self.seen[y * self.width + x][k]);
        [0, 1, 2].map(|k| {
            let a = cell(left, top, k) * (1.0 - tx) + cell(right, top, k) * tx;
            let b = cell(left, foot, k) * (1.0 - tx) + cell(right, foot, k) * tx;
            a * (1.0 - ty) + b * ty
        })
    }
    /// At most so many columns round, cells taken together.
    pub fn coarser(&self, most: usize) -> WallPrint {
        let by = self.width.div_ceil(most).max(1);
        let (width, height) = (self.width / by, (self.height / by).max(1));
        let mean = |x: usize, y: usize| {
            [0, 1, 2].map(|k| {
                let sum: usize = (0..by * by)
                    .map(|i| {
                        usize::from(
                            self.seen[(y * by + i / by).min(self.height - 1) * self.width + x * by + i % by]
                                [k],
                        )
                    })
                    .sum();
                (sum / (by * by)) as u8
            })
        };
        let seen = (0..width * height).map(|i| mean(i % width, i / width)).collect();
        WallPrint { width, height, seen }
    }
}
