//! Draws the figures of the documentation of `outline` and writes them where it includes them:
//! `cargo run --example outline_figures`. A test holds what is checked in to what is drawn here.

use frusta::base::frame::{Art, Plane, Point};
use frusta::base::units::Mm;
use frusta::outline::{Affine, BezPath, CurvePoint, Join, Op, Region, along_arc};
use svg::Document;
use svg::node::element::{Group, Path};

/// Where the figures stand, from the package's folder.
pub const FOLDER: &str = "src/outline/figures";

fn main() {
    for (name, text) in figures() {
        let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join(FOLDER).join(name);
        std::fs::write(&path, text).expect("a figure is written");
    }
}

/// Every figure: file name and text.
pub fn figures() -> Vec<(&'static str, String)> {
    vec![("union.svg", union()), ("offset.svg", offset()), ("narrow.svg", narrow()), ("bend.svg", bend())]
}

/// Two discs and their union, each beside the other.
fn union() -> String {
    let disc = |x: f64| Region::<Art>::disc(Point::mm(x, 0.0), Mm(10.0));
    let (left, right) = (disc(0.0), disc(10.0));
    let shifted = |op, dx: f64| path_of(left.op(&right, op).contours(), dx);
    let given = [path_of(left.contours(), 0.0), path_of(right.contours(), 0.0)];
    let made = [shifted(Op::Union, 34.0), shifted(Op::Intersection, 64.0), shifted(Op::Difference, 86.0)];
    drawn(
        [-12.0, -12.0, 110.0, 12.0],
        [line(&given), area(&made)],
        "Two discs; their union, intersection, difference",
    )
}

/// A leaf with a stem, grown and shrunk.
fn offset() -> String {
    let leaf = leaf();
    let rings = [-3.0, -1.5, 1.5, 3.0].map(|by| path_of(leaf.offset(Mm(by), Join::Round).contours(), 0.0));
    let given = [path_of(leaf.contours(), 0.0)];
    drawn(
        [-6.0, -14.0, 48.0, 14.0],
        [area(&given), line(&rings)],
        "A leaf, and its offsets by 1.5 and 3 mm both ways",
    )
}

/// A dumbbell's narrow places with their contact points, and the same thickened.
fn narrow() -> String {
    let bar = Region::polygon(&[[-8.0, -0.5], [8.0, -0.5], [8.0, 0.5], [-8.0, 0.5]]);
    let disc = |x: f64| Region::<Art>::disc(Point::mm(x, 0.0), Mm(5.0));
    let dumbbell = Region::union_of(&[disc(-8.0), bar, disc(8.0)]);
    let (limit, mut marks) = (Mm(2.0), BezPath::new());
    for place in dumbbell.narrow(limit) {
        let [a, b] = place.at.map(|p| CurvePoint::new(p.x, p.y));
        let out = (b - a) * 2.0;
        marks.move_to(a - out);
        marks.line_to(a);
        marks.move_to(b);
        marks.line_to(b + out);
    }
    let (mended, _) = dumbbell.mended(frusta::outline::Mend::Thicken, limit);
    let areas = [path_of(dumbbell.contours(), 0.0), path_of(mended.contours(), 32.0)];
    drawn(
        [-15.0, -7.0, 47.0, 7.0],
        [area(&areas), line(&[marks])],
        "A narrow bar between two discs, and the same widened",
    )
}

/// A row of bars laid along an arc.
fn bend() -> String {
    let comb = Region::gathered(&[-16.0, -8.0, 0.0, 8.0, 16.0].map(|x: f64| {
        Region::<Art>::polygon(&[[x - 2.5, 0.0], [x + 2.5, 0.0], [x + 2.5, 8.0], [x - 2.5, 8.0]])
    }));
    let bent: Region<Plane> =
        comb.bent(along_arc(1.0 / 26.0), Mm(0.01)).expect("no fold: 8 mm is less than 26");
    let areas = [path_of(comb.contours(), 0.0), path_of(bent.contours(), 48.0)];
    drawn(
        [-21.0, -2.0, 69.0, 16.0],
        [area(&areas), line(&[])],
        "Five bars, and the same laid along an arc of radius 26 mm",
    )
}

fn leaf() -> Region<Art> {
    let blade = BezPath::from_svg("M0 0C8 -12 30 -12 38 0C30 12 8 12 0 0Z").expect("a path");
    let notch = BezPath::from_svg("M24 14L28 4L32 14Z").expect("a path");
    let fill = |p| Region::filled([p], frusta::outline::FillRule::NonZero);
    fill(blade).op(&fill(notch), Op::Difference)
}

/// Contours as one path, moved to the right.
fn path_of(contours: &[BezPath], dx: f64) -> BezPath {
    contours.iter().flat_map(|c| (Affine::translate((dx, 0.0)) * c).into_iter()).collect()
}

fn area(paths: &[BezPath]) -> Group {
    let look =
        Group::new().set("fill", "currentColor").set("fill-opacity", "0.2").set("fill-rule", "evenodd");
    paths.iter().fold(look, |g, p| g.add(Path::new().set("d", short(p))))
}

fn line(paths: &[BezPath]) -> Group {
    let look = Group::new().set("fill", "none").set("stroke", "currentColor").set("stroke-width", "0.3");
    paths.iter().fold(look, |g, p| g.add(Path::new().set("d", short(p))))
}

/// Path data with two decimals, y down.
fn short(path: &BezPath) -> String {
    let round = |v: f64| (v * 100.0).round() / 100.0 + 0.0;
    let flip = |p: CurvePoint| CurvePoint::new(round(p.x), round(-p.y));
    use frusta::outline::PathEl as El;
    let rounded = path.elements().iter().map(|el| match *el {
        El::MoveTo(p) => El::MoveTo(flip(p)),
        El::LineTo(p) => El::LineTo(flip(p)),
        El::QuadTo(a, p) => El::QuadTo(flip(a), flip(p)),
        El::CurveTo(a, b, p) => El::CurveTo(flip(a), flip(b), flip(p)),
        El::ClosePath => El::ClosePath,
    });
    rounded.collect::<BezPath>().to_svg()
}

/// A figure of a box (left, bottom, right, top, mm), five pixels a millimetre: rustdoc takes it as it is,
/// because no line is empty and the first is the opening tag alone.
fn drawn([x0, y0, x1, y1]: [f64; 4], groups: [Group; 2], title: &str) -> String {
    let (width, height) = (x1 - x0, y1 - y0);
    let document = Document::new()
        .set("viewBox", format!("{x0} {} {width} {height}", -y1))
        .set("width", width * 5.0)
        .set("height", height * 5.0)
        .set("role", "img")
        .set("aria-label", title);
    let document = groups.into_iter().fold(document, Document::add);
    format!("{document}\n")
}
