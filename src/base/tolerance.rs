//! The error budget: the only epsilons of the program. Each says what it bounds and on which side it errs.
//!
//! ```text
//! art curve --FLATTEN--> polyline --GRID--> boolean --FIT--> cut curve --WRITE--> decimals in the file
//! ```
//! A clearance that the maker asks for is kept by the curves *as written*: makers work with
//! `asked + CLEAR_GUARD`, verifiers demand `asked - MEASURE`.
//!
//! Imports: base::units.

use super::units::Mm;

/// Largest distance between a curve and the chords that stand for it when distances are measured.
/// The chords of a convex outline lie inside it, so a measured distance may be too large by up to twice this.
pub const FLATTEN: Mm = Mm(0.002);

/// Largest distance between a curve and its chords when outlines are looked at for crossings: what passes
/// more closely than twice this may be taken to cross.
pub const PASSING: Mm = Mm(0.0005);

/// Coordinates are snapped to this grid before every boolean; a point moves by at most `GRID / sqrt 2`.
pub const GRID: Mm = Mm(1e-4);

/// Largest distance between a fitted cut curve and the shape it stands for, both ways.
pub const FIT: Mm = Mm(0.01);

/// Decimals of a millimetre written to files; a written point is off by at most `WRITE`.
pub const DECIMALS: usize = 3;

/// Shortest segment of a finished outline: a cutter stutters at shorter ones (common practice, no source).
/// What makes outlines takes [`SHORTEST_MADE`], so that decimals cannot make one shorter.
pub const SHORTEST: Mm = Mm(0.02);

/// What makers take for [`SHORTEST`]: both ends of a segment move by up to [`WRITE`].
pub const SHORTEST_MADE: Mm = Mm(0.022);

/// Width of a tip or slit below which it is no film and no gap: a blade runs back in its own cut (a thin film is
/// thrice as thick; common practice, no source). Wider than [`SHORTEST_MADE`], so that what cuts it off stays.
pub const THIN_TIP: Mm = Mm(0.024);
/// Bound on a hair: so far along both sides of a corner they are looked at ...
pub const HAIR_WALK: Mm = Mm(0.05);
/// ... and nearer than this there, an angle of four degrees, a blade runs back in its own cut.
pub const HAIR_APART: Mm = Mm(0.0035);
const _: () = assert!(THIN_TIP.0 > SHORTEST_MADE.0);

/// Largest displacement of a point by writing it with [`DECIMALS`] decimals: 0.0005 mm in x and in y.
pub const WRITE: Mm = Mm(0.000_708);
const _: () = assert!(SHORTEST_MADE.0 >= SHORTEST.0 + 2.0 * WRITE.0);

/// What makers add to every distance asked for, so that it still holds on the written curves:
/// both outlines flattened (2 FLATTEN), written (2 WRITE), read back and flattened again.
pub const CLEAR_GUARD: Mm = Mm(0.006);

/// What is added to every offset between two layers of a decal, so that the curves as written keep what was
/// asked: two fitted offsets ([`FIT`] each) and [`CLEAR_GUARD`].
pub const LAYER_GUARD: Mm = Mm(0.026);

/// Largest distance between a registration key on one layer of a decal and the same key on another, mm.
pub const KEYS: Mm = Mm(0.001);

/// Floating-point slack of a distance measured between polylines of a few hundred millimetres.
pub const MEASURE: Mm = Mm(1e-6);

/// Round trip wall -> plane -> wall, mm.
pub const ROUND_TRIP: Mm = Mm(1e-9);

/// Coordinates beyond this are refused at import: nothing on a cup is a hundred metres away.
pub const LARGEST_COORDINATE: Mm = Mm(1e5);

/// Area below which a ring is a speck that no blade can cut (0.01 mm x 0.1 mm); it is listed, not cut.
pub const SPECK_MM2: f64 = 1e-3;

/// Largest distance, in x and in y, between a point of the plan and the same point read back from a written
/// file: half a unit of the last decimal, and the reader's 32-bit floats on sheets up to 3 m (1.2e-4 mm),
/// twice over.
pub const READ_BACK: Mm = Mm(0.000_9);

/// Largest distance between a curve and the chords that stand for it when film is laid out on a lattice;
/// masks are grown by it, and what comes out is checked again at [`FLATTEN`].
pub const NEST_FLATTEN: Mm = Mm(0.01);

/// How exactly what is left over of a sheet is outlined: what was cut is grown by it, so that a leftover
/// never holds film that is gone; nothing is cut along this outline.
pub const LEFTOVER: Mm = Mm(0.1);

/// Largest distance between an accent spot's curve and the chords that stand for it while the fill is made;
/// the fill adds it to every distance once for each of two spots, so that the curves keep what the chords
/// kept.
pub const ACCENT_FLATTEN: Mm = Mm(0.005);

/// Floating-point slack of a quotient that is rounded up to whole steps (measures, minutes, coats): an amount
/// that is a whole number of steps but for the last digits is not one step more.
pub const WHOLE_STEPS: f64 = 1e-9;

/// Difference of a circumference below which a surface is the one that the layout was made for: a fifth of a
/// careful tape reading.
pub const SAME_SURFACE: Mm = Mm(0.1);

/// Outlines nowhere further from each other are the same piece: files round to 0.0005 mm, and the closest two spots of
/// the demonstration that differ do so by 0.18 mm.
pub const SAME_PIECE: Mm = Mm(0.05);

/// How much more than the gap the proof of a full fill asks for: a spot that would fit with this to spare is
/// found.
pub const ACCENT_SLACK: Mm = Mm(0.02);

/// Largest distance between an outline grown for the film search and the one with fewer corners that stands
/// for it; it is added before corners are left out, so that nothing asked for is lost.
pub const THIN: Mm = Mm(0.015);

/// How far aside of its place at most an outline is asked for overlaps in the film search, in x and in y, so
/// that no edges of two pieces lie on one line; outlines are grown by it, so that two of them make up for
/// both together.
pub const ASIDE: Mm = Mm(0.004);

/// Largest distance, where the cup is turned by hand, between an outline and the chords that stand for it,
/// and between the wall and the flat triangles that lie below it. With [`SHOWN_STEP`] an edge on the page
/// lies within 0.03 mm of the piece's along the wall, and within 0.02 mm below it.
pub const SHOWN: Mm = Mm(0.02);

/// Steps of the corners of those triangles, round the widest girth and up the wall, at most; a corner moves
/// by at most `SHOWN_STEP / sqrt 2`.
pub const SHOWN_STEP: Mm = Mm(0.01);
// Guards of arithmetic: no bounds on what is made, but on what a formula can still be asked.

/// Length that is none, mm: below it a step has no direction and two places are one. A segment that short is
/// left out, which moves an outline by no more than that.
pub const NO_LENGTH: f64 = 1e-9;

/// What a divisor that should not vanish is at least taken as, or what it is refused below (a length, its
/// square, a determinant, in the caller's units): quotients stay finite and err to the smaller, so that a
/// step falls short.
pub const LEAST_DIVISOR: f64 = 1e-12;

/// Slack of a length that is compared with one summed up another way, mm: what is looked for is looked for
/// that much farther, what fits exactly still fits.
pub const HAIR: f64 = 1e-9;

/// Difference of parameters along curves (1 a segment) that is rounding: below it two parameters are one.
pub const SAME_PARAMETER: f64 = 1e-12;

/// Distance of two points of curves, mm, below which Newton's steps towards their crossing end; what is
/// nearer than [`NO_LENGTH`] counts as met, so that the last step may still be rounding.
pub const NEWTON_MET: f64 = 1e-10;
