//! The wrap template: the true outline of the developed wall with all that is needed to lay it right.
//!
//! Imports: base, outline, read::job, make::{cup, verify}, write::ink, write::template::{band, lines, marks, words,
//! wishes, later}.

use super::band::{Band, bands, letter};
use super::later;
use super::lines::{HANDLE, Join, RING, RingScale, join_marks, named_lines, rings_of, strips};
use super::wishes;
use super::words::{self, Of};
use crate::base::frame::Point;
use crate::base::units::{Angle, Mm};
use crate::make::cup::trial::fingerprint;
use crate::make::cup::{Cup, WallZone, Zone};
use crate::make::verify::Verified;
use crate::outline::Region;
use crate::read::job::Rgb;
use crate::write::ink::drawing::{Dash, Drawing, Group, INK, QUIET, Stroke, TINT, Text, segment, size_bar};
use crate::write::ink::inches::said;
use crate::write::ink::letters::{self, Anchor};
use crate::write::ink::place::{Field, Quad};

/// Path of the template within the kit.
pub const FILE: &str = "template/wrap.svg";
/// Id of the outline's path.
pub const OUTLINE: &str = "outline";

const EDGE: f64 = 8.0;
const LEFT: f64 = 16.0;
const FOOT: f64 = 36.0;

/// The template as a drawing with title and size bars: one true-size sheet.
pub fn drawing(plan: &Verified) -> Drawing {
    let lap = plan.job().cup.lap;
    let at = Point::mm(LEFT, EDGE + FOOT);
    let bands = bands(plan.cup(), lap, at);
    let mut d = body(plan, &bands);
    let top = match bands.as_slice() {
        // Words that found no place beside a small outline stand higher than it.
        [only] => {
            let (b, ink) = (only.bounds().max, d.ink().max);
            Point::mm(b.x.max(ink.x), if ink.y > b.y + EDGE / 2.0 { ink.y } else { b.y })
        }
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
        let mut own = zone_groups(plan, i, zone, band);
        if !cup.is_cone() {
            for g in &mut own {
                g.id = format!("{}-{}", g.id, letter(i).to_lowercase());
                let outlines = g.marks.iter_mut().filter_map(|m| m.id.as_mut());
                outlines.for_each(|id| {
                    *id = match *id == OUTLINE {
                        true => outline_id(cup, i),
                        false => format!("{id}-{}", letter(i).to_lowercase()),
                    }
                });
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

/// What a ring piece is, and marks that meet those of its neighbours over the edges between them.
fn joins(cup: &Cup, zone: usize, band: &Band, marks: &[Join]) -> Group {
    let mut g = Group::new("joins", "Which ring piece this is, and marks that meet those over its edges");
    let z = &cup.zones[zone];
    let b = band.bounds();
    let words = format!(
        "{}; {:.1} round its upper edge, {:.1} round its lower ({})",
        part_name(cup, zone),
        z.surface.upper,
        z.surface.lower,
        fingerprint(&z.surface)
    );
    g.text(&Text::new(&words, 3.0).bold(), (b.min.x, b.max.y + 2.4));
    for j in marks {
        g.stroke(band.generator(j.azimuth, j.at, j.tip), Stroke::solid(INK, 0.5));
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

/// The groups of one zone's ring piece: its lines first, then every word where it can be read.
fn zone_groups(plan: &Verified, i: usize, wall: &WallZone, band: &Band) -> Vec<Group> {
    let cup = plan.cup();
    let cone = cup.is_cone();
    let clear = keep_clear(plan, wall, band);
    let rings = guide_rings(plan, band);
    let mut lines = lines(band);
    let seam = seam(band);
    let outline = outline(band);
    let meeting = if cone { Vec::new() } else { join_marks(cup, i, band) };
    let marks = (!cone).then(|| joins(cup, i, band, &meeting));
    let of_panels = super::marks::group(plan, i, band);
    let of_later = later::group(plan, wall, band);
    let mut field = Field::new(words::BETWEEN);
    field.within(&band.outline());
    for g in [&clear, &rings, &lines, &seam].into_iter().chain(&marks).chain(&of_panels).chain(&of_later) {
        g.marks.iter().filter(|m| m.stroke.is_some()).for_each(|m| field.keep_off(&m.path, words::TO_LINE));
    }
    outline.marks.iter().for_each(|m| field.keep_off(&m.path, words::TO_OUTLINE));
    let (left, right) = band.ends();
    let scale = RingScale::of(plan.job().unit);
    for n in scale.within(band) {
        field.may_interrupt(&band.parallel(scale.slant(n), left, right), words::TO_LINE);
    }
    let fixed: Vec<Quad> = marks.iter().flat_map(|g| &g.words).map(Quad::of).collect();
    field.take(&fixed);
    let said = wishes::all(plan, wall, band, &meeting, &mut field, &mut lines);
    let mut heights = Group::new("heights", scale.title());
    for n in scale.within(band) {
        let width = if scale.is_strong(n) { 0.2 } else { 0.1 };
        for part in words::interrupted(band, scale.slant(n), field.taken()) {
            heights.stroke(part, Stroke::solid(QUIET, width));
        }
    }
    let mut groups: Vec<Group> = [clear, heights, rings, lines, seam, outline]
        .into_iter()
        .chain(marks)
        .chain(of_panels)
        .chain(of_later)
        .collect();
    let place = |of: Of| match of {
        Of::KeepClear => 0,
        Of::Heights => 1,
        Of::Rings => 2,
        Of::Lines => 3,
        Of::Seam => 4,
        Of::Joins => 6,
    };
    for (of, leader) in said.leaders {
        groups[place(of)].stroke(leader, Stroke::solid(INK, 0.15));
    }
    for (of, w) in said.words {
        groups[place(of)].words.push(w);
    }
    groups
}

fn keep_clear(plan: &Verified, wall: &WallZone, band: &Band) -> Group {
    let mut g = Group::new("keep-clear", "Keep-clear bands at rim and base, and the handle's window");
    let (left, right) = band.ends();
    let edge = Stroke { colour: INK, width: 0.2, dash: Dash::Dashed };
    for strip in strips(plan, wall) {
        fill(&mut g, band.strip(strip.low, strip.high), TINT);
        g.stroke(band.parallel(strip.inner, left, right), edge);
    }
    windows(&mut g, &wall.zone, band, (left, right));
    g
}

/// The handles' windows between two azimuths of a band, each with its name: in two halves, where the seam
/// runs through one.
pub fn handles(g: &mut Group, zone: &Zone, band: &Band, (from, to): (Angle, Angle)) {
    windows(g, zone, band, (from, to));
    for w in &zone.handles {
        for (there, middle) in band.window(w, from, to) {
            let wide = there.bounds().width().0;
            let size = (wide * 0.9 / letters::width(letters::Face::Regular, 1.0, HANDLE)).min(4.0);
            let text = Text::new(HANDLE, size).anchor(Anchor::Middle);
            along(g, band, &text, middle, (w.low + w.high) / 2.0 - Mm(size * letters::CAPITAL / 2.0));
        }
    }
}

/// The windows alone.
fn windows(g: &mut Group, zone: &Zone, band: &Band, (from, to): (Angle, Angle)) {
    for w in &zone.handles {
        for (there, _) in band.window(w, from, to) {
            for c in there.into_contours() {
                g.mark(c, Some(TINT), Some(Stroke { colour: INK, width: 0.3, dash: Dash::Dashed }));
            }
        }
    }
}

/// Edges of colour and glitter bands and of their fades: full cover solid, no cover dotted.
fn guide_rings(plan: &Verified, band: &Band) -> Group {
    let mut g = Group::new("guide-rings", "Where colour and glitter bands begin, fade and end");
    let (left, right) = band.ends();
    for ring in rings_of(plan, band) {
        let dash = if ring.cover > 0.0 { Dash::Solid } else { Dash::Dotted };
        g.stroke(band.parallel(ring.slant, left, right), Stroke { colour: RING, width: 0.4, dash });
    }
    g
}

fn lines(band: &Band) -> Group {
    let mut g = Group::new(
        "lines",
        "Front line, quarter lines, the line opposite the seam, and which way is the rim",
    );
    for line in named_lines(band) {
        let azimuth = band.nearest_turn(line.azimuth);
        g.stroke(band.generator(azimuth, band.low, band.wall), line.stroke);
    }
    g
}

fn seam(band: &Band) -> Group {
    let mut g = Group::new("seam", "The seam, where both ends meet, and the lap");
    if band.lap.0 > 0.0 {
        g.stroke(
            band.generator(band.ends().1, band.low, band.wall),
            Stroke { colour: INK, width: 0.3, dash: Dash::Dashed },
        );
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
    g.text(&Text::new(bar, 2.55), (corner.0 + 3.0, corner.1 + 2.2));
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
    let unit = plan.job().unit;
    let mut y = corner.1 + 18.0;
    for text in [readings, surface_words(plan) + &later::words(plan) + &steps(plan)].map(|t| said(unit, &t)) {
        for l in letters::broken(letters::Face::Regular, 3.0, &text, width - x - EDGE) {
            g.text(&Text::new(&l, 3.0), (x, y));
            y -= 4.6;
        }
    }
    g.stroke(segment((x, corner.1 + 22.0), (width - EDGE, corner.1 + 22.0)), Stroke::solid(QUIET, 0.15));
    g
}
