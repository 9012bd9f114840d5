//! Printed sheets: from a picture of a sheet to the motifs on it, each with an outline finer than the
//! picture's pixels, a number that stays, and a cut outline.
//!
//! [`find::find`] is the way in: [`backing`] says what the sheet lies on, [`part`] what is print, [`rim`] how much
//! of each pixel is, [`squares`] draws the line at one half, [`gather`] makes motifs of lines. [`border`]
//! draws the cut outlines.
//!
//! Imports: base, outline, read::{job, picture}.

pub mod grid;
pub mod colour;
pub mod backing;
pub mod part;
pub mod rim;
pub mod squares;
pub mod gather;
mod codes;
pub mod border;
pub mod marks;
pub mod straighten;
pub mod discs;
pub mod quad;
pub mod photo;
pub mod find;
pub mod own;
pub mod stock;
#[cfg(test)]
mod tests;

pub use codes::{CODES, FAINT, TOO_FEW, USED};

use crate::base::colour::lights;
use crate::base::frame::{Point, Sheet};
use crate::base::units::{Angle, Mm, Mm2};
use crate::outline::{Bounds, Region, Through};
use crate::read::job::Rgb;
use crate::read::picture::Picture;
use backing::Backing;
use grid::Between;
use std::sync::Arc;

/// How a print's outline is followed: within half a tenth of a millimetre, corners first.
pub const FOLLOW: Through =
    Through { within: Mm(0.05), corner: Angle::degrees(50.0), reach: Mm(0.35), smooth: Mm(0.2) };

/// A motif on a sheet.
#[derive(Clone, Debug)]
pub struct FoundMotif {
    /// From 1: rows from the top of the sheet, each from the left.
    pub number: u32,
    /// Outline of the print.
    pub print: Region<Sheet>,
    /// Its parts.
    pub parts: usize,
    /// Mean colour, seen over white.
    pub colour: Rgb,
    /// Length of the sheet's edge that cuts it off; none of it if whole.
    pub cut_off: Option<Mm>,
    /// Cut out already, the job says.
    pub gone: bool,
    /// How far off places of it may be, if its picture is a photo that was straightened: one standard error, both
    /// coordinates together.
    pub off: Option<Mm>,
}

impl FoundMotif {
    /// Area of the print.
    pub fn area(&self) -> Mm2 {
        self.print.area()
    }
    /// Its box on the sheet.
    pub fn bounds(&self) -> Bounds<Sheet> {
        self.print.bounds()
    }
}

/// A sheet and what is on it.
#[derive(Clone, Debug)]
pub struct PrintedSheet {
    /// From left to right.
    pub width: Mm,
    /// From bottom to top.
    pub height: Mm,
    /// The picture.
    pub picture: Arc<Picture>,
    /// Pixels a millimetre, across and down.
    pub per_mm: [f64; 2],
    /// What it lies on.
    pub backing: Arc<Backing>,
    /// By number: `motifs[i].number == i + 1`.
    pub motifs: Vec<FoundMotif>,
    /// Standard deviation of the picture's noise, as a difference in CIELAB.
    pub noise: f64,
}

impl PrintedSheet {
    /// Its motif of a number.
    pub fn motif(&self, number: u32) -> Option<&FoundMotif> {
        (number as usize).checked_sub(1).and_then(|i| self.motifs.get(i))
    }
    /// How much light of each channel film and print let through at a place: that of the picture over the
    /// backing's, in linear light.
    pub fn transmittance(&self, p: Point<Sheet>) -> [f32; 3] {
        let lights = lights();
        self.transmittance_by(&lights, p)
    }
    /// The same with the lights of codes at hand.
    pub fn transmittance_by(&self, lights: &[f32; 256], p: Point<Sheet>) -> [f32; 3] {
        let at = [p.x * self.per_mm[0], (self.height.0 - p.y) * self.per_mm[1]];
        let seen = self.light(lights, at);
        let b = &self.backing;
        let cell = |k: usize, n: usize| Between::of(at[k] * b.per_pixel[k], n);
        let under = b.light.between(cell(0, b.light.width), cell(1, b.light.height));
        std::array::from_fn(|k| if under[k] > 0.0 { (seen[k] / under[k]).clamp(0.0, 1.0) } else { 1.0 })
    }
    /// Light of the picture between four pixels.
    fn light(&self, lights: &[f32; 256], at: [f64; 2]) -> [f32; 3] {
        let p = &self.picture;
        let split = |v: f64, n: usize| {
            let v = (v - 0.5).clamp(0.0, (n - 1) as f64);
            (v as usize, (v as usize + 1).min(n - 1), (v - v.floor()) as f32)
        };
        let ((x0, x1, fx), (y0, y1, fy)) = (split(at[0], p.width), split(at[1], p.height));
        let one = |x: usize, y: usize, k: usize| lights[usize::from(p.rgb[3 * (y * p.width + x) + k])];
        std::array::from_fn(|k| {
            let a = one(x0, y0, k) + (one(x1, y0, k) - one(x0, y0, k)) * fx;
            let b = one(x0, y1, k) + (one(x1, y1, k) - one(x0, y1, k)) * fx;
            a + (b - a) * fy
        })
    }
}
