//! The pieces as the cup wears them: outlines as fine polylines of wall points, in painting order, and the
//! whole wall as a grid of film numbers.
//!
//! Imports: base, outline, read::job, make::{cup, piece, verify}, write::view::camera.

use super::camera::{Body, sections};
use crate::base::frame::{Art, Plane, Point, Rigid};
use crate::base::units::{Angle, Mm};
use crate::make::cup::{Development, Window};
use crate::make::piece::{Kind, Piece};
use crate::make::verify::Verified;
use crate::outline::Region;
use crate::read::job::{FilmId, Job, WallPose};
use rayon::prelude::*;
use std::borrow::Cow;
use std::f64::consts::{PI, TAU};

/// Chords of outlines in pictures. A tenth of a pixel would do for the eye, but chords of 0.03 mm take more
/// than a hundredth of the area of a spot of 4 mm: 2/3 of the chord's height all along its edge.
const CHORD: Mm = Mm(0.01);
/// Columns of grids of the wall, round the cup: about eleven a millimetre of a usual one.
pub const COLUMNS: usize = 3072;
/// Longest edge: a chord of it lies within 0.03 mm of a wall of 40 mm radius.
const EDGE: f64 = 3.0;

/// A point of an outline on the wall.
#[derive(Clone, Copy, Debug)]
pub struct SurfacePoint {
    /// Azimuth, not wrapped: a piece over the seam is one piece.
    pub azimuth: f64,
    /// Its sine.
    pub sin: f64,
    /// Its cosine.
    pub cos: f64,
    /// Radius there.
    pub r: f64,
    /// Height over the base, vertical.
    pub y: f64,
}

/// A piece on the wall.
#[derive(Clone, Debug)]
pub struct Patch {
    /// Place of its film in the job.
    pub film: usize,
    /// Closed outlines.
    pub rings: Vec<Vec<SurfacePoint>>,
}

/// The pieces of the wall, lowest first: what lies on another piece is painted after it. Under all of them
/// the windows of handles, as pieces of a film of their own beyond those of the job.
pub fn order(plan: &Verified) -> Vec<Cow<'_, Piece>> {
    let mut order: Vec<Cow<'_, Piece>> =
        plan.pieces().iter().filter(|p| p.kind != Kind::Base).map(Cow::Borrowed).collect();
    order.sort_by_key(|p| painted(p, plan.job()));
    order.splice(0..0, windows(plan).into_iter().map(Cow::Owned));
    order
}

/// What pieces are painted in the order of: pass, layer, number.
pub fn painted(p: &Piece, job: &Job) -> (usize, usize, u32) {
    match p.kind {
        Kind::Layer { layer, .. } => (p.pass(job), 1 + layer, p.number),
        _ => (p.pass(job), 0, p.number),
    }
}

/// Handles' windows in the form of pieces; what is not asked of a picture is empty.
pub fn windows(plan: &Verified) -> Vec<Piece> {
    let film = FilmId(plan.job().films.len());
    let window = |(zone, w): (usize, &Window)| {
        let pose: Rigid<Art, Plane> = Rigid::new(Angle::ZERO, Point::ORIGIN);
        let wall = WallPose { azimuth: (w.left + w.right) / 2.0, slant: w.low, turn: Angle::ZERO };
        Piece {
            number: 0,
            kind: Kind::Motif { motif: 0, copy: 0 },
            name: "handle".to_owned(),
            film,
            outline: w.region.moved(&pose.inverse()),
            zone,
            wall,
            pose,
            clearance: Mm::ZERO,
            keys: Region::empty(),
        }
    };
    let zones = plan.cup().zones.iter().enumerate();
    zones.flat_map(|(i, z)| z.zone.handles.iter().map(move |w| (i, w))).map(window).collect()
}

/// A piece as it is seen: of a piece of a printed sheet its print, for the clear film round it vanishes under the
/// resin.
pub fn worn<'a>(plan: &Verified, p: &'a Piece) -> Cow<'a, Piece> {
    let Some(on) = plan.printed(p.number) else { return Cow::Borrowed(p) };
    let stock = &plan.stock()[on.sheet];
    match stock.sheet.motif(on.number) {
        Some(motif) => {
            let outline = motif.print.moved(&stock.pose(on.number).inverse());
            Cow::Owned(Piece { outline, ..p.clone() })
        }
        None => Cow::Borrowed(p),
    }
}

/// All pieces, lowest first.
pub fn patches(plan: &Verified) -> Vec<Patch> {
    let sections = sections(plan.cup());
    let cone = plan.cup().is_cone();
    let one = |p: &Cow<'_, Piece>| {
        let development = &plan.cup().zones[p.zone].development;
        let s = &sections[p.zone];
        let (rise, k) = (s.body.height / s.body.slant, (s.body.rim - s.body.base) / s.body.slant);
        match cone {
            true => patch(&worn(plan, p), development, |slant| (s.body.base + k * slant, slant * rise)),
            false => patch(&worn(plan, p), development, |slant| s.at(slant)),
        }
    };
    order(plan).par_iter().map(one).collect()
}

fn patch(p: &Piece, development: &Development, place: impl Fn(f64) -> (f64, f64)) -> Patch {
    let flat = p.outline.flat(CHORD);
    let rings = flat.rings.iter().map(|ring| {
        let mut out: Vec<SurfacePoint> = Vec::with_capacity(ring.len());
        let mut last = ring[ring.len() - 1];
        for &q in ring {
            let parts = (libm::hypot(q[0] - last[0], q[1] - last[1]) / EDGE).ceil().max(1.0);
            for i in 1..=parts as usize {
                let t = i as f64 / parts;
                let at = Point::mm(last[0] + (q[0] - last[0]) * t, last[1] + (q[1] - last[1]) * t);
                let w = development.wrap(p.pose.apply(at));
                let (azimuth, slant) = (w.azimuth.rad(), w.slant.0);
                let (sin, cos) = libm::sincos(azimuth);
                let (r, y) = place(slant);
                out.push(SurfacePoint { azimuth, sin, cos, r, y });
            }
            last = q;
        }
        out
    });
    Patch { film: p.film.0, rings: rings.collect() }
}

/// The wall as a grid: columns round from the back, rows up from the base, each cell the number of the film
/// that covers its middle, from 1; 0 is the bare cup.
#[derive(Clone, Debug)]
pub struct UnwrappedTexture {
    /// Columns round.
    pub width: usize,
    /// Rows from base edge to rim.
    pub height: usize,
    /// Row by row, the rim's first, each from azimuth -180 degrees rightwards.
    pub cells: Vec<u8>,
}

impl UnwrappedTexture {
    /// With so many columns round; rows as high as columns are wide at half height.
    pub fn new(patches: &[Patch], body: &Body, width: usize) -> UnwrappedTexture {
        let girth = PI * (body.base + body.rim);
        let height = ((body.slant / girth * width as f64).round() as usize).max(8);
        let mut cells = vec![0u8; width * height];
        let mut rows: Vec<Vec<(f64, bool)>> = vec![Vec::new(); height];
        for p in patches {
            let (mut low, mut high) = (height, 0);
            for ring in &p.rings {
                let at = |w: &SurfacePoint| {
                    (
                        (w.azimuth / TAU + 0.5) * width as f64 - 0.5,
                        (1.0 - w.y / body.height) * height as f64 - 0.5,
                    )
                };
                let Some(last) = ring.last() else { continue };
                let mut a = at(last);
                for w in ring {
                    let b = at(w);
                    let (top, foot, down) = if a.1 < b.1 { (a, b, true) } else { (b, a, false) };
                    let from = top.1.ceil().max(0.0) as usize;
                    let to = (foot.1.ceil().max(0.0) as usize).min(height);
                    for (row, cuts) in rows.iter_mut().enumerate().take(to).skip(from) {
                        let t = (row as f64 - top.1) / (foot.1 - top.1);
                        cuts.push((top.0 + (foot.0 - top.0) * t, down));
                    }
                    if from < to {
                        (low, high) = (low.min(from), high.max(to));
                    }
                    a = b;
                }
            }
            for (row, cuts) in rows.iter_mut().enumerate().take(high).skip(low) {
                cuts.sort_unstable_by(|a, b| a.0.total_cmp(&b.0));
                let line = &mut cells[row * width..(row + 1) * width];
                let (mut wound, mut from) = (0, 0.0);
                for &(x, down) in cuts.iter() {
                    if wound == 0 {
                        from = x;
                    }
                    wound += if down { 1 } else { -1 };
                    if wound == 0 {
                        paint(line, from, x, p.film as u8 + 1);
                    }
                }
                cuts.clear();
            }
        }
        UnwrappedTexture { width, height, cells }
    }
}

/// Cells whose middles lie between two places, round the seam.
fn paint(line: &mut [u8], from: f64, to: f64, film: u8) {
    let width = line.len() as i64;
    let (a, b) = (from.ceil() as i64, to.ceil() as i64);
    for x in a..b.min(a + width) {
        line[x.rem_euclid(width) as usize] = film;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Truth: area of film over area of wall, cell by cell weighed with the girth at its height.
    #[test]
    fn the_grid_covers_what_the_pieces_cover() {
        let plan = crate::write::sample::plan(180.0, 0.0);
        let body = Body::of(&plan.cup().zones[0].surface);
        let texture = UnwrappedTexture::new(&patches(&plan), &body, 2048);
        for film in 0..3 {
            let want: f64 =
                plan.pieces().iter().filter(|p| p.film.0 == film).map(|p| p.outline.area().0).sum();
            let mut got = 0.0;
            for row in 0..texture.height {
                let t = 1.0 - (row as f64 + 0.5) / texture.height as f64;
                let cell = TAU * (body.base + (body.rim - body.base) * t) / texture.width as f64 * body.slant
                    / texture.height as f64;
                let line = &texture.cells[row * texture.width..(row + 1) * texture.width];
                got += cell * line.iter().filter(|&&c| usize::from(c) == film + 1).count() as f64;
            }
            assert!((got / want - 1.0).abs() < 0.004, "{film}: {got} {want}");
        }
    }

    /// A job moved round by half a turn gives the same grid moved by half its width: the seam leaves no
    /// trace.
    #[test]
    fn the_seam_leaves_no_trace() {
        let at = |azimuths: [f64; 2]| {
            let at = [(azimuths[0], 60.0), (azimuths[1], 90.0)];
            let mut plan = crate::make::plan::sample::plan(&at);
            // A handle's window does not move with the pieces.
            plan.cup.zones[0].zone.handles.clear();
            let plan = Verified::unchecked(plan);
            let body = Body::of(&plan.cup().zones[0].surface);
            UnwrappedTexture::new(&patches(&plan), &body, 1440)
        };
        let (front, back) = (at([0.0, 8.0]), at([180.0, -172.0]));
        for row in 0..front.height {
            for x in 0..front.width {
                let there = (x + front.width / 2) % front.width;
                assert_eq!(
                    front.cells[row * front.width + x],
                    back.cells[row * front.width + there],
                    "{row} {x}"
                );
            }
        }
    }
}
