//! [`Mesh`]: the pieces as triangles on the wall, for the turning page: true outlines at any zoom.
//!
//! A corner is two whole numbers: steps of a [`Lattice`] round (not wrapped: a piece over the seam is one
//! piece) and steps up along the wall. Outlines are cut by generators into strips so narrow that a flat
//! triangle between any three points of one lies within [`SHOWN`] below the wall: r (1 - cos(width / 2)) at
//! the widest radius r, for the part of the cone beyond the plane through a strip's two generators is convex
//! and holds the triangle. lyon's sweep makes each strip's triangles, on the strip rolled out: there, and not
//! in steps, lines are as straight as they are in space (on a steep cone the two differ by a tenth of a
//! millimetre in the middle of a long line). What triangles cover is held to the area that the outline bounds
//! there before anybody sees them.
//!
//! Imports: base, outline, read::job, make::{cup, piece, plan, verify}, write, write::view, write::view::texture.

use super::texture::{order, worn};
use crate::base::frame::{Plane, Point};
use crate::base::tolerance::{SHOWN, SHOWN_STEP};
use crate::base::units::{Angle, Mm};
use crate::make::cup::{Cup, Development, Frustum, WallPoint};
use crate::make::piece::Piece;
use crate::make::verify::Verified;
use crate::outline::Ring;
use lyon::math::point;
use lyon::path::Path;
use lyon::tessellation::{
    BuffersBuilder, FillOptions, FillTessellator, FillVertex, Orientation, VertexBuffers,
};
use rayon::prelude::*;
use std::borrow::Cow;
use std::collections::BTreeMap;
use std::f64::consts::{PI, TAU};

/// A corner: steps round and up.
pub type Corner = [i32; 2];

/// The steps of a wall.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Lattice {
    /// Steps round the cup: a whole number of strips.
    pub columns: i32,
    /// Steps of a strip.
    pub strip: i32,
    /// Steps from base edge to rim.
    pub rows: i32,
    /// Length of the wall.
    pub wall: Mm,
}

impl Lattice {
    /// Of a wall.
    pub fn of(f: &Frustum) -> Lattice {
        Lattice::on(f.upper.max(f.lower), f.slant)
    }
    /// Of a cup.
    pub fn of_cup(cup: &Cup) -> Lattice {
        Lattice::on(cup.widest(), cup.wall())
    }
    /// Of the widest girth and the length of a wall.
    fn on(widest: Mm, wall: Mm) -> Lattice {
        let r = widest.0 / TAU;
        let strips = (PI / libm::acos(1.0 - SHOWN.0 / r)).ceil();
        let strip = (TAU * r / strips / SHOWN_STEP.0).ceil();
        Lattice {
            columns: (strips * strip) as i32,
            strip: strip as i32,
            rows: (wall.0 / SHOWN_STEP.0).ceil() as i32,
            wall,
        }
    }
    /// A wall point in whole steps.
    fn steps(&self, w: WallPoint) -> Corner {
        let (u, v) =
            (w.azimuth.rad() / TAU * f64::from(self.columns), w.slant / self.wall * f64::from(self.rows));
        [u.round() as i32, v.round() as i32]
    }
    /// So many steps round.
    fn azimuth(&self, u: f64) -> Angle {
        Angle::radians(TAU * u / f64::from(self.columns))
    }
}

/// One piece in triangles.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Mesh {
    /// Place of its film in the job.
    pub film: usize,
    /// Its corners, none twice.
    pub corners: Vec<Corner>,
    /// Places of three corners each, counter-clockwise with u to the right and v up.
    pub triangles: Vec<[u32; 3]>,
}

/// What lyon could not do: no outline that booleans have made leads there.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Untiled(pub String);

impl std::fmt::Display for Untiled {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&self.0)
    }
}

/// All pieces of the wall in painting order.
///
/// # Errors
/// A piece whose triangles do not cover it.
pub fn meshes(plan: &Verified) -> Result<Vec<Mesh>, Untiled> {
    let lattice = Lattice::of_cup(plan.cup());
    let one = |p: &Cow<'_, Piece>| mesh(&worn(plan, p), &plan.cup().zones[p.zone].development, lattice);
    order(plan).par_iter().map(one).collect()
}

/// A piece in triangles.
///
/// # Errors
/// When they do not cover it.
pub fn mesh(piece: &Piece, development: &Development, lattice: Lattice) -> Result<Mesh, Untiled> {
    let rings = rings(piece, development, lattice);
    let mut build = Build {
        mesh: Mesh { film: piece.film.0, ..Mesh::default() },
        known: BTreeMap::new(),
        sweep: FillTessellator::new(),
    };
    let all = || rings.iter().flatten().map(|c| c[0]);
    let (Some(low), Some(high)) = (all().min(), all().max()) else { return Ok(build.mesh) };
    let strip = lattice.strip;
    for s in low.div_euclid(strip)..=(high - 1).div_euclid(strip) {
        let part = Part::of(&rings, s * strip, (s + 1) * strip);
        let rolled = Rolled { development, lattice, middle: (f64::from(s) + 0.5) * f64::from(strip) };
        part.tile(&rolled, &mut build).map_err(|why| {
            Untiled(format!("piece {}, {}: its triangles do not cover it: {why}", piece.number, piece.name))
        })?;
    }
    Ok(build.mesh)
}

/// Outlines in whole steps, a corner wherever they cross from strip to strip.
pub fn rings(piece: &Piece, development: &Development, lattice: Lattice) -> Vec<Vec<Corner>> {
    let flat = piece.outline.flat(SHOWN);
    let ring = |ring: &Ring| {
        let on = |q: &[f64; 2]| piece.pose.apply(Point::mm(q[0], q[1]));
        let mut out: Vec<Corner> = Vec::with_capacity(ring.len() * 2);
        let mut a = ring.last().map_or(Point::ORIGIN, on);
        for b in ring.iter().map(on) {
            crossed(a, b, development, lattice, &mut out);
            a = b;
        }
        out.dedup();
        if out.len() > 1 && out.first() == out.last() {
            out.pop();
        }
        out
    };
    flat.rings.iter().map(ring).filter(|r| r.len() > 2).collect()
}

/// Where a straight line of the plane crosses generators between strips, and its end. A line of the plane is
/// a geodesic of the wall: a chord of it in space lies below it, not beside it.
fn crossed(a: Point<Plane>, b: Point<Plane>, d: &Development, lattice: Lattice, out: &mut Vec<Corner>) {
    let span = d.span();
    let steps = |p: Point<Plane>| lattice.steps(d.wrap(p));
    let (from, to, strip) = (steps(a), steps(b), lattice.strip);
    // An end that lies on a generator already is the corner there.
    let (low, high) = (from[0].min(to[0]), from[0].max(to[0]));
    let between = low.div_euclid(strip) + 1..=(high - 1).div_euclid(strip);
    let mut at = |s: i32| {
        let azimuth = lattice.azimuth(f64::from(s * strip));
        let foot = d.develop(WallPoint { azimuth, slant: span.0 });
        let head = d.develop(WallPoint { azimuth, slant: span.1 });
        // The generator is a straight line: how far beside it a point lies grows evenly along another.
        let side = |p: Point<Plane>| (head.x - foot.x) * (p.y - foot.y) - (head.y - foot.y) * (p.x - foot.x);
        let (f, t) = (side(a), side(b));
        let part = if f == t { 0.5 } else { (f / (f - t)).clamp(0.0, 1.0) };
        let p = Point::mm(a.x + (b.x - a.x) * part, a.y + (b.y - a.y) * part);
        out.push([s * strip, steps(p)[1]]);
    };
    if from[0] < to[0] {
        between.for_each(&mut at)
    } else {
        between.rev().for_each(&mut at)
    }
    out.push(to);
}

/// lyon's own slack, in parts of a step; 32-bit numbers of a few thousand steps are finer.
const NEAR: f32 = 0.01;

/// A strip rolled out, its middle generator upright: straight lines are the plane's, and the unit is
/// [`SHOWN_STEP`], for lyon takes a corner that is nearer to a line than a part of one to lie on it
/// ([`NEAR`]).
struct Rolled<'a> {
    development: &'a Development,
    lattice: Lattice,
    /// Steps round to its middle.
    middle: f64,
}

impl Rolled<'_> {
    fn out(&self, c: Corner) -> [f64; 2] {
        let azimuth = self.lattice.azimuth(f64::from(c[0]) - self.middle);
        let slant = self.lattice.wall * (f64::from(c[1]) / f64::from(self.lattice.rows));
        let p = self.development.develop(WallPoint { azimuth, slant });
        [p.x / SHOWN_STEP.0, p.y / SHOWN_STEP.0]
    }
    fn back(&self, p: [f64; 2]) -> Corner {
        let mut w = self.development.wrap(Point::mm(p[0] * SHOWN_STEP.0, p[1] * SHOWN_STEP.0));
        w.azimuth = w.azimuth + self.lattice.azimuth(self.middle);
        self.lattice.steps(w)
    }
}

/// What of the outlines lies in one strip: closed lines that wind about its points as often as the outlines
/// do.
struct Part {
    lines: Vec<Vec<Corner>>,
}

impl Part {
    /// Lines lie in one strip each, so what lies beside the strip is left out; where an outline leaves and
    /// comes back, it does so at one generator, and the straight way along it winds about nothing within.
    fn of(rings: &[Vec<Corner>], low: i32, high: i32) -> Part {
        let mut lines = Vec::new();
        for ring in rings {
            let mut line: Vec<Corner> = Vec::new();
            let mut a = ring[ring.len() - 1];
            for &b in ring {
                if a[0].max(b[0]) > low && a[0].min(b[0]) < high {
                    if line.last() != Some(&a) {
                        line.push(a);
                    }
                    line.push(b);
                }
                a = b;
            }
            if line.first() == line.last() {
                line.pop();
            }
            if line.len() > 2 {
                lines.push(line);
            }
        }
        Part { lines }
    }
    fn tile(&self, rolled: &Rolled, build: &mut Build) -> Result<(), String> {
        let lines: Vec<Ring> =
            self.lines.iter().map(|l| l.iter().map(|c| rolled.out(*c)).collect()).collect();
        let want: f64 = lines.iter().map(|l| twice(l)).sum();
        // A corner that lyon adds where lines cross is moved to a whole step: by that much of its sides.
        let allowed = lines.iter().map(|l| length(l)).sum::<f64>();
        let known = self.lines.iter().flatten().zip(lines.iter().flatten());
        let known: BTreeMap<[u32; 2], Corner> = known.map(|(c, p)| (bits(p.map(|v| v as f32)), *c)).collect();
        let corner =
            |p: [f32; 2]| known.get(&bits(p)).copied().unwrap_or_else(|| rolled.back(p.map(f64::from)));
        let mut said = String::new();
        // The sweep goes from side to side if from top to bottom it fails.
        for way in [Orientation::Vertical, Orientation::Horizontal] {
            match swept(&lines, way, &mut build.sweep) {
                Ok(triangles) => {
                    let (triangles, covered) = turned(triangles.into_iter().map(|t| t.map(corner)), rolled);
                    if (covered - want).abs() <= 2.0 * allowed {
                        triangles.into_iter().for_each(|t| build.push(t));
                        return Ok(());
                    }
                    said = format!("{covered} of {want} half square steps in one strip");
                }
                Err(e) => said = e,
            }
        }
        Err(said)
    }
}

/// Triangles counter-clockwise, and twice the area of all. A sweep turns all of them one way; which, a
/// needle's own area cannot tell.
fn turned(triangles: impl Iterator<Item = [Corner; 3]>, rolled: &Rolled) -> (Vec<[Corner; 3]>, f64) {
    let mut all: Vec<[Corner; 3]> = triangles.filter(|[a, b, c]| a != b && b != c && c != a).collect();
    let areas = || all.iter().map(|t| twice(&t.map(|c| rolled.out(c))));
    let (sum, covered) = areas().fold((0.0, 0.0), |(sum, covered), a| (sum + a, covered + a.abs()));
    if sum < 0.0 {
        all.iter_mut().for_each(|t| t.swap(1, 2));
    }
    (all, covered)
}

/// The triangles of a sweep. A corner that it is given comes back bit by bit.
fn swept(
    lines: &[Ring],
    way: Orientation,
    sweep: &mut FillTessellator,
) -> Result<Vec<[[f32; 2]; 3]>, String> {
    let mut path = Path::builder();
    for line in lines {
        let at = |p: &[f64; 2]| point(p[0] as f32, p[1] as f32);
        path.begin(at(&line[0]));
        line[1..].iter().for_each(|p| {
            path.line_to(at(p));
        });
        path.end(true);
    }
    let mut out: VertexBuffers<[f32; 2], u32> = VertexBuffers::new();
    let corner = |v: FillVertex<'_>| v.position().to_array();
    let options = FillOptions::non_zero().with_tolerance(NEAR).with_sweep_orientation(way);
    sweep
        .tessellate_path(&path.build(), &options, &mut BuffersBuilder::new(&mut out, corner))
        .map_err(|e| e.to_string())?;
    let triangle = |t: &[u32]| [0, 1, 2].map(|k| out.vertices[t[k] as usize]);
    Ok(out.indices.chunks_exact(3).map(triangle).collect())
}

/// As a key: nought has one sign.
fn bits(p: [f32; 2]) -> [u32; 2] {
    p.map(|v| (v + 0.0).to_bits())
}

/// Twice the area of a ring, positive counter-clockwise.
fn twice(ring: &[[f64; 2]]) -> f64 {
    let n = ring.len();
    (0..n).map(|i| ring[i][0] * ring[(i + 1) % n][1] - ring[(i + 1) % n][0] * ring[i][1]).sum()
}

/// Length of a ring.
fn length(ring: &[[f64; 2]]) -> f64 {
    let n = ring.len();
    (0..n).map(|i| libm::hypot(ring[i][0] - ring[(i + 1) % n][0], ring[i][1] - ring[(i + 1) % n][1])).sum()
}

/// A mesh in the making: strips share the corners between them.
struct Build {
    mesh: Mesh,
    known: BTreeMap<Corner, u32>,
    /// lyon's, kept for its memory.
    sweep: FillTessellator,
}

impl Build {
    fn push(&mut self, t: [Corner; 3]) {
        let ids = t.map(|c| {
            *self.known.entry(c).or_insert_with(|| {
                self.mesh.corners.push(c);
                self.mesh.corners.len() as u32 - 1
            })
        });
        self.mesh.triangles.push(ids);
    }
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;
    use crate::base::frame::Art;
    use crate::base::tolerance::FLATTEN;
    use crate::make::piece::Kind;
    use crate::outline::{BezPath, Op, Region};
    use crate::read::job::{FilmId, WallPose};
    use proptest::prelude::*;

    pub(crate) fn piece(outline: Region<Art>, wall: WallPose, d: &Development) -> Piece {
        let (pose, kind) = (d.pose(wall), Kind::Motif { motif: 0, copy: 0 });
        let (name, keys) = (String::from("piece"), Region::empty());
        Piece {
            number: 1,
            kind,
            name,
            film: FilmId(0),
            outline,
            zone: 0,
            wall,
            pose,
            clearance: Mm(1.0),
            keys,
        }
    }

    fn in_plane(c: Corner, d: &Development, l: Lattice) -> Point<Plane> {
        let azimuth = Angle::radians(f64::from(c[0]) / f64::from(l.columns) * TAU);
        d.develop(WallPoint { azimuth, slant: l.wall * (f64::from(c[1]) / f64::from(l.rows)) })
    }

    fn turn(t: [Point<Plane>; 3]) -> f64 {
        let [a, b, c] = t;
        (b.x - a.x) * (c.y - a.y) - (b.y - a.y) * (c.x - a.x)
    }

    /// Twice the area in square steps: whole numbers, whatever the shape of triangles between the same
    /// corners.
    fn ring2(ring: &[Corner]) -> i64 {
        let n = ring.len();
        let cross =
            |a: Corner, b: Corner| i64::from(a[0]) * i64::from(b[1]) - i64::from(b[0]) * i64::from(a[1]);
        (0..n).map(|i| cross(ring[i], ring[(i + 1) % n])).sum()
    }

    /// How far aside an edge of the page may lie, along the wall.
    fn aside() -> f64 {
        SHOWN.0 + SHOWN_STEP.0 * std::f64::consts::FRAC_1_SQRT_2
    }

    /// All that is promised of one piece. Truths: the outline's own area (Green's theorem on its curves),
    /// even-odd crossing of its fine polylines, the cone's equation in space. In whole steps the areas are
    /// the same number, but for so many half square steps: where chords of a tip or a bridge cross, or
    /// corners that are rounded do, what is folded counts in one of the two.
    pub(crate) fn held(piece: &Piece, d: &Development, folded: i64) {
        let (f, l) = (d.frustum(), Lattice::of(d.frustum()));
        let m = mesh(piece, d, l).expect("triangles");
        let rings = rings(piece, d, l);
        let area2 = |t: &[u32; 3]| ring2(&t.map(|i| m.corners[i as usize]));
        let all: i64 = m.triangles.iter().map(area2).sum();
        let bound: i64 = rings.iter().map(|r| ring2(r)).sum();
        assert!((all - bound).abs() <= folded, "{all} of {bound} half square steps");
        let plane: Vec<[Point<Plane>; 3]> =
            m.triangles.iter().map(|t| t.map(|i| in_plane(m.corners[i as usize], d, l))).collect();
        let flat = piece.outline.moved(&piece.pose).flat(FLATTEN);
        let round: f64 = flat.rings.iter().map(|r| length(r)).sum();
        let area: f64 = plane.iter().map(|t| turn(*t) / 2.0).sum();
        assert!(
            (area - piece.outline.area().0).abs() <= round * aside(),
            "{area} {}",
            piece.outline.area().0
        );
        // Needles are narrower than the numbers of a sweep are fine.
        assert!(plane.iter().all(|t| turn(*t) > -1e-3), "a triangle is turned the other way");
        // A lattice of points, none of them on an edge: one triangle about each that is inside, none about
        // the others.
        let (b, n) = (flat.bounds(), 23);
        for i in 0..n * n {
            let part = |k: usize| (k as f64 + 0.5377) / n as f64;
            let p = Point::mm(b.min.x + b.width().0 * part(i % n), b.min.y + b.height().0 * part(i / n));
            if flat.rings.iter().any(|r| beside(r, p) < aside() + FLATTEN.0) {
                continue;
            }
            let holds = |t: &&[Point<Plane>; 3]| (0..3).all(|k| turn([t[k], t[(k + 1) % 3], p]) > 0.0);
            let about = plane.iter().filter(holds).count();
            let want = usize::from(flat.contains(p.x, p.y));
            assert_eq!(about, want, "triangles about {p:?}");
        }
        // In space: flat triangles lie below the wall, and not far.
        let space = |c: Corner| {
            let (a, t) = (f64::from(c[0]) / f64::from(l.columns) * TAU, f64::from(c[1]) / f64::from(l.rows));
            let r = f.radius(f.slant * t).0;
            [r * libm::sin(a), f.height().0 * t, r * libm::cos(a)]
        };
        let (cos, foot) = (f.half_angle().cos(), f.radius(Mm::ZERO).0);
        for t in &m.triangles {
            let t = t.map(|i| space(m.corners[i as usize]));
            for w in [[0.5, 0.5, 0.0], [0.0, 0.5, 0.5], [0.5, 0.0, 0.5], [0.4, 0.3, 0.3]] {
                let p = [0, 1, 2].map(|k| t[0][k] * w[0] + t[1][k] * w[1] + t[2][k] * w[2]);
                let r = foot + (f.upper.0 / TAU - foot) * p[1] / f.height().0;
                let below = (r - libm::hypot(p[0], p[2])) * cos;
                assert!(below > -f64::from(f32::EPSILON) && below <= SHOWN.0, "{below} mm below the wall");
            }
        }
    }

    fn off(a: Point<Plane>, b: Point<Plane>, p: Point<Plane>) -> f64 {
        let (dx, dy) = (b.x - a.x, b.y - a.y);
        let t = ((p.x - a.x) * dx + (p.y - a.y) * dy) / (dx * dx + dy * dy).max(f64::MIN_POSITIVE);
        p.distance(Point::mm(a.x + dx * t.clamp(0.0, 1.0), a.y + dy * t.clamp(0.0, 1.0))).0
    }

    fn beside(r: &Ring, p: Point<Plane>) -> f64 {
        let at = |i: usize| Point::mm(r[i % r.len()][0], r[i % r.len()][1]);
        (0..r.len()).map(|i| off(at(i), at(i + 1), p)).fold(f64::INFINITY, f64::min)
    }

    /// A blob of curves about the origin, with round holes.
    pub(crate) fn blob(radii: &[f64], holes: &[(f64, f64)]) -> Region<Art> {
        let n = radii.len();
        let at = |i: usize, by: f64| {
            let a = TAU * (i as f64 + by) / n as f64;
            let r = radii[i % n] * (1.0 - by) + radii[(i + 1) % n] * by;
            (r * libm::cos(a), r * libm::sin(a))
        };
        let mut path = BezPath::new();
        path.move_to(at(0, 0.0));
        for i in 0..n {
            if i % 3 == 2 {
                path.line_to(at(i + 1, 0.0))
            } else {
                path.curve_to(at(i, 0.4), at(i, 0.7), at(i + 1, 0.0))
            }
        }
        path.close_path();
        let least = radii.iter().fold(f64::INFINITY, |l, r| l.min(*r));
        holes.iter().fold(Region::trusted([path]), |whole, &(a, r)| {
            let out = least * 0.45;
            let hole = Region::disc(Point::mm(out * libm::cos(a), out * libm::sin(a)), Mm(r * least));
            whole.op(&hole, Op::Difference)
        })
    }

    /// Cups that a tape may read, and a piece somewhere on them: `PROPTEST_CASES` asks for more.
    pub(crate) fn asked() -> impl Strategy<Value = (Development, Piece)> {
        let cup = (22.0..75.0f64, 60.0..240.0f64, prop_oneof![-0.3..0.5f64, Just(0.0)]);
        // Parts of the way to the nearer edge of the wall: a piece lies on it.
        let radii = (3..14usize, 0.02..1.0f64).prop_flat_map(|(n, r)| prop::collection::vec(r * 0.5..r, n));
        let holes = prop::collection::vec((0.0..TAU, 0.02..0.5f64), 0..4);
        (cup, radii, holes, (-3.2..3.2f64, 0.2..0.8f64, -3.2..3.2f64)).prop_map(
            |((base, slant, flare), radii, holes, (azimuth, up, turn))| {
                let rim = (base + flare * slant).max(15.0);
                let f = Frustum { upper: Mm(TAU * rim), lower: Mm(TAU * base), slant: Mm(slant) };
                let d = Development::new(f);
                let free = slant * up.min(1.0 - up);
                let radii: Vec<f64> = radii.iter().map(|r| (r * free).max(0.4)).collect();
                let (azimuth, turn) = (Angle::radians(azimuth), Angle::radians(turn));
                let piece =
                    piece(blob(&radii, &holes), WallPose { azimuth, slant: Mm(slant * up), turn }, &d);
                (d, piece)
            },
        )
    }

    proptest! {
        #[test]
        fn any_piece_is_covered_once_and_follows_the_wall((d, piece) in asked()) {
            held(&piece, &d, 400);
        }
    }

    /// Found by 12000 random pieces: in steps a long line on a steep cone bends, and a triangle lay over an
    /// opening's edge.
    #[test]
    fn case_1_long_lines_on_a_steep_cone_are_straight_on_the_wall() {
        let d = Development::new(Frustum { upper: Mm(547.3637), lower: Mm(283.0953), slant: Mm(143.3232) });
        let mut path = BezPath::new();
        path.move_to((-12.1111, -20.9771));
        path.line_to((39.1291, 0.0));
        path.curve_to((22.17, 24.6223), (2.9932, 28.4782), (-12.0688, 20.9038));
        path.curve_to((-23.6433, 5.0255), (-22.1049, -9.8417), (-12.1111, -20.9771));
        path.close_path();
        let hole = Region::disc(Point::mm(10.3696, -3.2332), Mm(0.9181));
        let outline = Region::trusted([path]).op(&hole, Op::Difference);
        let (azimuth, turn) = (Angle::radians(-0.776_551), Angle::radians(-2.960_478));
        held(&piece(outline, WallPose { azimuth, slant: Mm(64.945), turn }, &d), &d, 0);
    }

    /// Truth: pi r^2, less what chords and whole steps take off at most; on the seam as at the front.
    #[test]
    fn a_disc_has_the_area_of_a_disc() {
        for azimuth in [0.0, 180.0, -179.0] {
            let plan = Verified::unchecked(crate::make::plan::sample::plan(&[(azimuth, 60.0)]));
            let (l, d) = (Lattice::of_cup(plan.cup()), plan.cup().zones[0].development);
            let all = meshes(&plan).expect("triangles");
            let m = all.iter().find(|m| m.film == 0).expect("the disc, beside the handle's window");
            let area = |t: &[u32; 3]| turn(t.map(|i| in_plane(m.corners[i as usize], &d, l))) / 2.0;
            let (got, want) = (m.triangles.iter().map(area).sum::<f64>(), PI * 36.0);
            assert!(got < want && got > want - TAU * 6.0 * aside(), "{got} {want}");
        }
    }

    /// Slits, holes, letters' counters, a piece over the seam: what the writers' own sample wears.
    #[test]
    fn pieces_of_a_plan_are_covered() {
        for seam in [180.0, 20.0] {
            let plan = crate::write::sample::plan(seam, 0.0);
            let all = super::super::texture::order(&plan);
            assert!(all.len() > 5);
            all.iter().for_each(|p| held(p, &plan.cup().zones[0].development, 0));
        }
    }
}
