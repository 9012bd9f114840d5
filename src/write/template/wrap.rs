//! The wrap template: the true outline of the developed wall with all that is needed to lay it right.
//!
//! Imports: base, outline, read::job, make::{cup, verify}, write::ink, write::template::{band, marks}.

use super::band::{Band, bands, letter};
use crate::base::frame::Point;
use crate::base::units::{Angle, Mm};
use crate::make::cup::trial::fingerprint;
use crate::make::cup::{Cup, WallZone, Zone};
use crate::make::verify::Verified;
use crate::outline::{BezPath, Region};
use crate::read::job::Rgb;
use crate::write::ink::drawing::{Dash, Drawing, Group, INK, QUIET, Stroke, TINT, Text, segment, size_bar};
use crate::write::ink::letters::{self, Anchor};

/// Path of the template within the kit.
pub const FILE: &str = "template/wrap.svg";
/// Id of the outline's path.
pub const OUTLINE: &str = "outline";

const EDGE: f64 = 8.0;
const LEFT: f64 = 16.0;
const FOOT: f64 = 36.0;
/// Smaller words cannot be read: common practice, no source.
const LEAST_WORDS: f64 = 1.4;
/// What stands in a handle's window.
const HANDLE: &str = "handle";
/// Blue of the front line, green of the start line: told apart by every eye, and by their dashes and words.
const FRONT: Rgb = Rgb([0x0a, 0x00, 0x5e]);
const START: Rgb = Rgb([0x26, 0x7b, 0x69]);
/// Brown of guide rings; their dashes and words tell them apart without it.
const RING: Rgb = Rgb([0x8a, 0x4b, 0x08]);

/// The template as a drawing with title and size bars: one true-size sheet.
pub fn drawing(plan: &Verified) -> Drawing {
    let lap = plan.job().cup.lap;
    let at = Point::mm(LEFT, EDGE + FOOT);
    let bands = bands(plan.cup(), lap, at);
    let mut d = body(plan, &bands);
    let top = match bands.as_slice() {
        [only] => only.bounds().max,
        _ => d.ink().max,
    };
    d.width = (top.x + EDGE).max(200.0);
    d.height = top.y + EDGE;
    d.groups.push(foot(plan, d.width));
    d
}

/// The template without foot and page: what the printed tiles show. A wall with edges has a ring piece for
/// each zone, the lowest at the foot.
pub fn body(plan: &Verified, bands: &[Band]) -> Drawing {
    let cup = plan.cup();
    let mut groups = Vec::new();
    for (i, (zone, band)) in cup.zones.iter().zip(bands).enumerate() {
        let mut own = vec![
            keep_clear(plan, zone, band),
            height_rings(band, [i > 0, i + 1 < cup.zones.len()]),
            guide_rings(plan, &zone.zone, band),
            lines(plan, &zone.zone, band),
            seam(&zone.zone, band, cup.is_cone()),
            outline(band),
        ];
        own.extend(super::marks::group(plan, i, band));
        if !cup.is_cone() {
            own.push(joins(cup, i, band));
            for g in &mut own {
                g.id = format!("{}-{}", g.id, letter(i).to_lowercase());
                let outlines = g.marks.iter_mut().filter_map(|m| m.id.as_mut());
                outlines.for_each(|id| *id = outline_id(cup, i));
            }
        }
        groups.extend(own);
    }
    let message = format!(
        "Wrap template at true size for a cup with {} round the rim, {} round the base edge and {} of wall. \
            {}",
        cup.upper(),
        cup.lower(),
        cup.wall(),
        steps(plan),
    );
    Drawing {
        title: format!("{}: wrap template {}", plan.job().title, prints(cup)),
        message,
        width: 0.0,
        height: 0.0,
        groups,
    }
}

/// Id of the outline of a zone's ring piece.
pub fn outline_id(cup: &Cup, zone: usize) -> String {
    if cup.is_cone() { OUTLINE.to_owned() } else { format!("{OUTLINE}-{}", letter(zone).to_lowercase()) }
}

/// The signs that tell the template's pieces from others.
pub fn prints(cup: &Cup) -> String {
    let all: Vec<String> = cup.zones.iter().map(|z| fingerprint(&z.surface)).collect();
    all.join("-")
}

/// What a part of a wall with edges is called, and where it lies.
pub fn part_name(cup: &Cup, zone: usize) -> String {
    let z = &cup.zones[zone];
    format!("part {}: wall from {:.1} to {:.1} up", letter(zone), z.low, z.high)
}

/// Between marks that meet over an edge: an eighth of a turn.
const EIGHTHS: u32 = 8;

/// What a ring piece is, and marks that meet those of its neighbours over the edges between them.
fn joins(cup: &Cup, zone: usize, band: &Band) -> Group {
    let mut g = Group::new("joins", "Which ring piece this is, and marks that meet those over its edges");
    let z = &cup.zones[zone];
    let height = z.high - z.low;
    let b = band.bounds();
    let words = format!(
        "{}; {:.1} round its upper edge, {:.1} round its lower ({})",
        part_name(cup, zone),
        z.surface.upper,
        z.surface.lower,
        fingerprint(&z.surface)
    );
    g.text(&Text::new(&words, 3.0).bold(), (b.min.x, b.max.y + 2.4));
    let several = cup.zones.len() > 2;
    // Edge n lies below zone n.
    for (edge, at, way) in [(zone, z.low, 1.0), (zone + 1, z.high, -1.0)] {
        if edge == 0 || edge == cup.zones.len() {
            continue;
        }
        let size = (height.0 * 0.2).min(3.0);
        for eighth in 0..EIGHTHS {
            let azimuth = band.nearest_turn(Angle::TURN * (f64::from(eighth) / f64::from(EIGHTHS)));
            if (azimuth - band.ends().0).wrapped().abs().deg() < 0.5 {
                continue;
            }
            let own = char::from(b'a' + eighth as u8);
            let name = if several { format!("{edge}{own}") } else { own.to_string() };
            let tip = at + Mm(way * (size * 1.5));
            g.stroke(band.generator(azimuth, at, tip), Stroke::solid(INK, 0.5));
            let foot = if way > 0.0 { at + Mm(0.6) } else { at - Mm(0.4 + size * letters::CAPITAL) };
            let beside = Angle::radians(0.8 / band.development().radius(at).0);
            along(&mut g, band, &Text::new(&name, size).bold(), azimuth + beside, foot);
        }
    }
    g
}

fn steps(plan: &Verified) -> String {
    let lap = plan.job().cup.lap;
    let join = if lap.0 > 0.0 {
        format!("The right end laps {lap} over the left")
    } else {
        "The ends meet without a lap".to_owned()
    };
    format!("Start on the line opposite the seam and work both ways. {join}.")
}

/// What surface the template is made for, if it is not the bare cup.
fn surface_words(plan: &Verified) -> String {
    let s = &plan.finish().surfaces;
    match s.of_layout.0 > 0.0 {
        true => format!(
            "Made for the cup with {:.2} of coats under the film: {:.2} longer round than the bare cup. ",
            s.of_layout, s.growth
        ),
        false => String::new(),
    }
}

fn outline(band: &Band) -> Group {
    let mut g = Group::new("template-outline", "Cut along this line: the whole wall from base edge to rim");
    for c in band.outline().into_contours() {
        g.stroke(c, Stroke::solid(INK, 0.3)).id = Some(OUTLINE.to_owned());
    }
    g
}

fn fill(g: &mut Group, r: Region<crate::base::frame::Page>, colour: Rgb) {
    for c in r.into_contours() {
        g.fill(c, colour);
    }
}

/// Words along a parallel, their middle at an azimuth.
pub fn along(g: &mut Group, band: &Band, t: &Text<'_>, azimuth: Angle, slant: Mm) {
    let p = band.at(azimuth, slant);
    g.text_turned(t, (p.x, p.y), band.level(azimuth));
}

fn keep_clear(plan: &Verified, wall: &WallZone, band: &Band) -> Group {
    let mut g = Group::new("keep-clear", "Keep-clear bands at rim and base, and the handle's window");
    let (left, right) = band.ends();
    let edge = Stroke { colour: INK, width: 0.2, dash: Dash::Dashed };
    for Strip { low, high, inner, what } in strips(plan, wall) {
        fill(&mut g, band.strip(low, high), TINT);
        g.stroke(band.parallel(inner, left, right), edge);
        let Some(what) = what else { continue };
        let words = format!("no film here: {:.1} at the {what}", high - low);
        // No ring goes through the words.
        let (from, to) = between_rings(low, high);
        let size = ((to - from).0 * 0.45).clamp(1.2, 3.2);
        let slant = (from + to) / 2.0 - Mm(size * letters::CAPITAL / 2.0);
        let text = Text::new(&words, size).anchor(Anchor::Middle);
        for part in [-0.375, -0.125, 0.125, 0.375] {
            along(&mut g, band, &text, band.middle + Angle::TURN * part, slant);
        }
    }
    handles(&mut g, &wall.zone, band, band.ends());
    g
}

/// A strip of a zone that film keeps off, and the height of the side where film begins.
pub struct Strip {
    /// Lowest slant.
    pub low: Mm,
    /// Highest slant.
    pub high: Mm,
    /// Where film begins.
    pub inner: Mm,
    /// The edge of the wall that it lies at, if it is a keep-clear band's.
    pub what: Option<&'static str>,
}

/// Strips that film keeps off, the lower first: bands as far as they reach onto a zone, and what is kept off
/// its edges.
pub fn strips(plan: &Verified, wall: &WallZone) -> Vec<Strip> {
    let z = &wall.zone;
    let bands = plan.job().cup.keep_clear;
    let (base, rim) = (bands.base, plan.cup().wall() - bands.rim);
    let of_edge = |edge: bool, what| if edge { None } else { Some(what) };
    let mut out = vec![
        Strip { low: wall.low, high: z.low, inner: z.low, what: of_edge(z.edges[0], "base") },
        Strip { low: z.high, high: wall.high, inner: z.high, what: of_edge(z.edges[1], "rim") },
    ];
    if z.low >= z.high {
        // Nothing of it is free: one band, or the edges' strips, take it all.
        let what = if base >= wall.high { Some("base") } else { (rim <= wall.low).then_some("rim") };
        out = vec![Strip { low: wall.low, high: wall.high, inner: wall.high, what }];
    }
    out.retain(|s| s.high.0 - s.low.0 > 0.0);
    out
}

/// The handles' windows between two azimuths of a band, each with its name: in two halves, where the seam
/// runs through one.
pub fn handles(g: &mut Group, zone: &Zone, band: &Band, (from, to): (Angle, Angle)) {
    for w in &zone.handles {
        for (there, middle) in band.window(w, from, to) {
            let wide = there.bounds().width().0;
            for c in there.into_contours() {
                g.mark(c, Some(TINT), Some(Stroke { colour: INK, width: 0.3, dash: Dash::Dashed }));
            }
            let size = (wide * 0.9 / letters::width(letters::Face::Regular, 1.0, HANDLE)).min(4.0);
            let text = Text::new(HANDLE, size).anchor(Anchor::Middle);
            along(g, band, &text, middle, (w.low + w.high) / 2.0 - Mm(size * letters::CAPITAL / 2.0));
        }
    }
}

/// Between two rings, mm up the wall.
const RINGS: f64 = 10.0;

/// The widest stretch of the wall between two heights that no ring crosses; of equal ones the upper.
fn between_rings(low: Mm, high: Mm) -> (Mm, Mm) {
    let first = (low.0 / RINGS).floor() as u32 + 1;
    let rings = (first..).map(|i| Mm(RINGS * f64::from(i))).take_while(|r| *r < high);
    let edges: Vec<Mm> = std::iter::once(low).chain(rings).chain([high]).collect();
    let widest = edges.windows(2).max_by(|a, b| (a[1] - a[0]).0.total_cmp(&(b[1] - b[0]).0));
    widest.map_or((low, high), |w| (w[0], w[1]))
}

/// Tens of millimetres strictly within a band.
pub fn ring_numbers(band: &Band) -> std::ops::Range<usize> {
    (band.low.0 / RINGS).floor() as usize + 1..(band.wall.0 / RINGS).ceil() as usize
}

fn height_rings(band: &Band, edges: [bool; 2]) -> Group {
    let mut g = Group::new("heights", "Rings every 10 mm up the wall from the base edge");
    let (left, right) = band.ends();
    for i in ring_numbers(band) {
        let slant = Mm(RINGS * i as f64);
        let width = if i % 5 == 0 { 0.2 } else { 0.1 };
        g.stroke(band.parallel(slant, left, right), Stroke::solid(QUIET, width));
        // Next to an edge stand the marks that meet over it.
        let beside = |edge: bool, at: Mm| edge && (slant - at).abs() < Mm(4.0);
        if beside(edges[0], band.low) || beside(edges[1], band.wall) {
            continue;
        }
        let label = format!("{:.0}", slant.0);
        let size = 2.4;
        let up = slant + Mm(0.5);
        let inset = |ring: f64| Angle::radians(ring / band.development().radius(slant).0);
        let text = Text::new(&label, size);
        along(&mut g, band, &text, left + inset(1.2), up);
        along(&mut g, band, &text.anchor(Anchor::End), right - inset(1.2), up);
        along(&mut g, band, &text.anchor(Anchor::End), band.middle - inset(1.2), up);
    }
    g
}

/// Edges of colour and glitter bands and of their fades, with the tape reading there: full cover solid, no
/// cover dotted.
fn guide_rings(plan: &Verified, zone: &Zone, band: &Band) -> Group {
    let mut g = Group::new("guide-rings", "Where colour and glitter bands begin, fade and end");
    let (left, right) = band.ends();
    for ring in plan.finish().bands.iter().flat_map(|b| &b.rings) {
        // An edge of the wall is an edge of the template.
        if ring.slant <= band.low || ring.slant >= band.wall {
            continue;
        }
        let dash = if ring.cover > 0.0 { Dash::Solid } else { Dash::Dotted };
        g.stroke(band.parallel(ring.slant, left, right), Stroke { colour: RING, width: 0.4, dash });
        let words = format!("{} ({:.1} up)", ring.label, ring.slant);
        // Between the quarter lines, with their words at its left; in keep-clear bands beside their words.
        let wall = ring.slant + Mm(4.0) < zone.high && ring.slant > zone.low;
        let size = if wall { 2.6 } else { 1.8 };
        let text = Text::new(&words, size).colour(RING).anchor(Anchor::Middle);
        for part in if wall { [-0.13, 0.14] } else { [-0.25, 0.25] } {
            along(&mut g, band, &text, band.middle + Angle::TURN * part, ring.slant + Mm(0.8));
        }
    }
    g
}

/// An arrow up the generator, its foot at a slant.
fn arrow(band: &Band, azimuth: Angle, from: Mm, length: f64) -> BezPath {
    let (p, (c, s)) = (band.at(azimuth, from), band.level(azimuth));
    let at = |x: f64, y: f64| (p.x + c * x - s * y, p.y + s * x + c * y);
    let mut path = BezPath::new();
    let (w, head) = (0.7, 2.4);
    let corners = [
        (-w / 2.0, 0.0),
        (w / 2.0, 0.0),
        (w / 2.0, length - head),
        (head * 0.6, length - head),
        (0.0, length),
        (-head * 0.6, length - head),
        (-w / 2.0, length - head),
    ];
    for (i, (x, y)) in corners.into_iter().enumerate() {
        if i == 0 { path.move_to(at(x, y)) } else { path.line_to(at(x, y)) }
    }
    path.close_path();
    path
}

/// A line up the wall and what it is called.
struct Named {
    azimuth: Angle,
    words: &'static str,
    colour: Rgb,
    stroke: Stroke,
}

/// Front line, quarter lines and the line opposite the seam, with their words; lines on the seam are left to
/// it.
fn named_lines(band: &Band) -> Vec<Named> {
    let quiet = Stroke { colour: INK, width: 0.2, dash: Dash::Dashed };
    let front = Stroke { colour: FRONT, width: 0.4, dash: Dash::Solid };
    let start = Stroke { colour: START, width: 0.4, dash: Dash::Chain };
    let mut all = vec![
        Named { azimuth: Angle::ZERO, words: "FRONT", colour: FRONT, stroke: front },
        Named { azimuth: Angle::degrees(90.0), words: "right, a quarter round", colour: INK, stroke: quiet },
        Named { azimuth: Angle::degrees(180.0), words: "back", colour: INK, stroke: quiet },
        Named { azimuth: Angle::degrees(-90.0), words: "left, a quarter round", colour: INK, stroke: quiet },
    ];
    all.retain(|l| (l.azimuth - band.ends().0).wrapped().abs().deg() > 0.5);
    let words = if (band.middle - Angle::ZERO).wrapped().abs().deg() <= 0.5 {
        all.retain(|l| l.azimuth != Angle::ZERO);
        "FRONT, opposite the seam: start here, work both ways"
    } else {
        all.retain(|l| (l.azimuth - band.middle).wrapped().abs().deg() > 0.5);
        "opposite the seam: start here, work both ways"
    };
    all.push(Named { azimuth: band.middle, words, colour: START, stroke: start });
    all
}

fn lines(plan: &Verified, zone: &Zone, band: &Band) -> Group {
    let mut g = Group::new(
        "lines",
        "Front line, quarter lines, the line opposite the seam, and which way is the rim",
    );
    let cone = plan.cup().is_cone();
    let height = band.wall - band.low;
    for line in named_lines(band) {
        let azimuth = band.nearest_turn(line.azimuth);
        g.stroke(band.generator(azimuth, band.low, band.wall), line.stroke);
        let (c, s) = band.level(azimuth);
        // The words climb the wall beside the line; on a part of the wall between marks, as large as they fit,
        // cut down to the first of them where they do not.
        let (from, size, words) = if cone {
            (zone.low + Mm(4.0), 3.2, line.words)
        } else {
            let room = (height.0 * 0.5).max(height.0 - 14.0);
            let fit = |words: &str| (room / letters::width(letters::Face::Bold, 1.0, words)).min(3.2);
            let first = line.words.split([',', ':']).next().unwrap_or(line.words);
            let words = if fit(line.words) < LEAST_WORDS { first } else { line.words };
            (band.low + (height - Mm(room)) * 0.5, fit(words), words)
        };
        let p = band.at(azimuth, from);
        let text = Text::new(words, size).bold().colour(line.colour);
        let off = size * 1.125;
        g.text_turned(&text, (p.x + c * off, p.y + s * off), (-s, c));
    }
    // On a short part the words of a line take the whole of its height: arrows stand off the quarter lines.
    let places = if cone { [-0.375, -0.125, 0.125, 0.375] } else { [-0.4375, -0.1875, 0.1875, 0.4375] };
    for part in places {
        let azimuth = band.middle + Angle::TURN * part;
        let part = if cone { 1.0 } else { (height.0 / 40.0).min(1.0) };
        let foot = match cone {
            true => zone.high - Mm(22.0).min((zone.high - zone.low) * 0.5),
            false => band.low + height * 0.5 - Mm(3.8 * part),
        };
        g.fill(arrow(band, azimuth, foot, 11.0 * part), INK);
        let text = Text::new("RIM", 3.2 * part).bold().anchor(Anchor::Middle);
        along(&mut g, band, &text, azimuth, foot - Mm(3.4 * part));
    }
    g
}

fn seam(zone: &Zone, band: &Band, cone: bool) -> Group {
    let mut g = Group::new("seam", "The seam, where both ends meet, and the lap");
    let (left, right) = band.ends();
    let back = (zone.seam - Angle::degrees(180.0)).wrapped().abs().deg() <= 0.5;
    let name = if back { "seam, at the back" } else { "seam" };
    for (end, inward) in [(left, 1.0), (right, -1.0)] {
        let height = band.wall - band.low;
        let wide = letters::width(letters::Face::Bold, 1.0, name);
        let size = if cone { 3.2 } else { (height.0 * 0.8 / wide).min(3.2) };
        let from = if cone { zone.low + Mm(4.0) } else { band.low + height * 0.1 };
        let (p, (c, s)) = (band.at(end, from), band.level(end));
        let off = if inward > 0.0 { 8.6 } else { -6.6 };
        let text = Text::new(name, size).bold();
        g.text_turned(&text, (p.x + c * off, p.y + s * off), (-s, c));
    }
    if band.lap.0 > 0.0 {
        g.stroke(
            band.generator(right, band.low, band.wall),
            Stroke { colour: INK, width: 0.3, dash: Dash::Dashed },
        );
        let words = format!("lap {}, goes over the left end", band.lap);
        let size = (band.lap.0 * 0.5).clamp(1.2, 3.0);
        let height = band.wall - band.low;
        let fit = height.0 * 0.8 / letters::width(letters::Face::Regular, 1.0, &words);
        let (size, up) = if cone || fit >= size { (size, 0.35) } else { (fit, 0.1) };
        let (p, (c, s)) = (band.at(right, band.low + height * up), band.level(right));
        let off = band.lap.0 / 2.0 + size * letters::CAPITAL / 2.0;
        g.text_turned(&Text::new(&words, size), (p.x + c * off, p.y + s * off), (-s, c));
    }
    g
}

/// Title, readings and the bars that show whether the print is true.
fn foot(plan: &Verified, width: f64) -> Group {
    let mut g = Group::new("foot", "Title, readings and 100 mm bars");
    let stroke = Stroke::solid(INK, 0.3);
    let corner = (EDGE, EDGE);
    g.stroke(size_bar(corner, 100.0, false, 4.0), stroke);
    g.stroke(size_bar(corner, 100.0, true, 4.0), stroke);
    let bar = "measure this bar: 100 mm in print, in both directions; \"fit to page\" spoils the size";
    g.text(&Text::new(bar, 2.4), (corner.0 + 3.0, corner.1 + 2.2));
    let c = plan.cup();
    let x = corner.0 + 8.0;
    let title = letters::broken(letters::Face::Bold, 5.6, &plan.job().title, width - x - EDGE);
    g.text(&Text::new(title.first().map_or("", String::as_str), 5.6).bold(), (x, corner.1 + 24.0));
    let date = plan.job().date.as_ref().map_or(String::new(), |d| format!(", {d}"));
    let readings = format!(
        "wrap template {} at true size{date} - round the rim {:.1} mm, round the base edge {:.1} mm, wall \
            {:.1} mm",
        prints(c),
        c.upper().0,
        c.lower().0,
        c.wall().0
    )
    .replace(" - ", " \u{2013} ");
    let mut y = corner.1 + 18.0;
    for text in [readings, surface_words(plan) + &steps(plan)] {
        for l in letters::broken(letters::Face::Regular, 3.0, &text, width - x - EDGE) {
            g.text(&Text::new(&l, 3.0), (x, y));
            y -= 4.6;
        }
    }
    g.stroke(segment((x, corner.1 + 22.0), (width - EDGE, corner.1 + 22.0)), Stroke::solid(QUIET, 0.15));
    g
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_of_a_band_lie_between_rings() {
        assert_eq!(between_rings(Mm(90.0), Mm(110.0)), (Mm(100.0), Mm(110.0)));
        assert_eq!(between_rings(Mm(145.0), Mm(165.0)), (Mm(150.0), Mm(160.0)));
        assert_eq!(between_rings(Mm(0.0), Mm(6.0)), (Mm(0.0), Mm(6.0)));
        assert_eq!(between_rings(Mm(101.0), Mm(111.5)), (Mm(101.0), Mm(110.0)));
    }
}
