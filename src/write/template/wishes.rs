//! What a wrap template says, where each of its words is wanted, and where else it may stand.
//!
//! Imports: base, make::{cup, finish, verify}, write::ink, write::template::{band, lines, words}.

use super::band::Band;
use super::lines::{self, HANDLE, RING, RingScale};
use super::words::{self, CAPS, Of, Said, Spot, Wish, beside, wish};
use crate::base::units::{Angle, LengthUnit, Mm};
use crate::make::cup::{WallZone, Zone};
use crate::make::verify::Verified;
use crate::write::ink::drawing::{Group, INK};
use crate::write::ink::inches::length;
use crate::write::ink::letters::{Anchor, Face};
use crate::write::ink::place::Field;

/// Words start this far up a part that film covers.
const UP: Mm = Mm(4.0);
/// The seam's words leave room for the heights at its ends.
const BY_SEAM: f64 = 8.0;
/// Quarters of the wall, between the lines.
const QUARTERS: [f64; 4] = [-0.375, -0.125, 0.125, 0.375];

/// All words of a zone's ring piece, in the order in which they are worth a place; arrows go to the lines.
pub(super) fn all(
    plan: &Verified,
    wall: &WallZone,
    band: &Band,
    joins: &[lines::Join],
    field: &mut Field,
    lines: &mut Group,
) -> Said {
    let zone = &wall.zone;
    let mut named = line_wishes(zone, band);
    let quarters = named.split_off(1);
    let mut first: Vec<Wish> = joins.iter().map(join).collect();
    first.extend(named);
    first.extend(seam(zone, band));
    let mut out = words::said(band, field, &first);
    for part in QUARTERS {
        if let Some((path, under)) = words::arrow(band, field, &feet(wall, band, part)) {
            lines.fill(path, INK);
            out.words.extend(under.map(|w| (Of::Lines, w)));
        }
    }
    let mut rest = quarters;
    rest.extend(keep_clear(plan, wall, band));
    rest.extend(lap(band));
    rest.extend(handle(zone, band));
    rest.extend(rings(plan, zone, band));
    rest.extend(heights(RingScale::of(plan.job().unit), band));
    let more = words::said(band, field, &rest);
    out.words.extend(more.words);
    out.leaders.extend(more.leaders);
    out
}

/// The letter of a mark that meets another over an edge: right of it or left, as near to the edge as is free.
fn join(j: &lines::Join) -> Wish {
    let inwards = (j.tip - j.at).0.signum();
    let at = |i: u32, anchor, off| {
        let up = 0.5 * f64::from(i) * inwards - if inwards < 0.0 { CAPS[2] } else { 0.0 };
        Spot::Along { azimuth: j.azimuth, low: j.at + Mm(up), anchor, off }
    };
    let spots = (1..24).flat_map(|i| [at(i, Anchor::Start, 0.7), at(i, Anchor::End, -0.7)]).collect();
    let mut w = wish(Of::Joins, &[&j.name], (j.azimuth, j.tip), vec![spots]);
    (w.face, w.caps) = (Face::Bold, vec![CAPS[2]]);
    w
}

fn turn(band: &Band, part: f64) -> Angle {
    band.middle + Angle::TURN * part
}

/// The line to start on, then the others.
fn line_wishes(zone: &Zone, band: &Band) -> Vec<Wish> {
    let from = zone.low.max(band.low) + UP;
    let all = lines::named_lines(band);
    let there: Vec<Angle> =
        all.iter().map(|l| band.nearest_turn(l.azimuth)).chain([band.ends().0, band.ends().1]).collect();
    let one = |line: &lines::Named| {
        let azimuth = band.nearest_turn(line.azimuth);
        let at = (azimuth, (band.low + band.wall) / 2.0);
        let mut w = wish(Of::Lines, line.forms, at, vec![beside(band, azimuth, from, true)]);
        (w.face, w.colour) = (Face::Bold, line.colour);
        let others = there.iter().filter(|a| **a != azimuth);
        w.away = others.map(|a| band.generator(*a, band.low, band.wall)).collect();
        w
    };
    all.iter().map(one).collect()
}

fn seam(zone: &Zone, band: &Band) -> Vec<Wish> {
    let back = (zone.seam - Angle::degrees(180.0)).wrapped().abs().deg() <= 0.5;
    let forms: &[&str] = if back { &["seam, at the back", "seam", "S"] } else { &["seam", "S"] };
    let (left, right) = band.ends();
    let one = |(end, off, is_right): (Angle, f64, bool)| {
        let from = zone.low.max(band.low) + UP;
        let mut spots = vec![Spot::On { azimuth: end, from, off }];
        spots.extend(beside(band, end, from, is_right));
        let mut w = wish(Of::Seam, forms, (end, band.wall), vec![spots]);
        w.face = Face::Bold;
        w
    };
    [(left, BY_SEAM, true), (right, -BY_SEAM, false)].into_iter().map(one).collect()
}

/// Where the arrow of a quarter may stand: below the rim where it is expected, then anywhere.
fn feet(wall: &WallZone, band: &Band, part: f64) -> Vec<(Angle, Mm)> {
    let z = &wall.zone;
    let height = band.wall - band.low;
    let best =
        if z.high > z.low { z.high - Mm(22.0).min((z.high - z.low) * 0.5) } else { band.low + height * 0.5 };
    let n = (height.0 / 2.0) as u32;
    let mut slants: Vec<Mm> = (1..=n).map(|i| band.low + Mm(2.0 * f64::from(i))).collect();
    slants.sort_by(|a, b| (*a - best).abs().0.total_cmp(&(*b - best).abs().0));
    let sides = [0.0, 0.02, -0.02, 0.04, -0.04, 0.06, -0.06, 0.08, -0.08, 0.1, -0.1];
    let feet = std::iter::once(best).chain(slants);
    feet.flat_map(|foot| sides.map(|s| (turn(band, part + s), foot))).collect()
}

/// Words of the bands that film keeps off: in their middle between rings, then anywhere in them, then beside
/// them.
fn keep_clear(plan: &Verified, wall: &WallZone, band: &Band) -> Vec<Wish> {
    let unit = plan.job().unit;
    let one = |strip: lines::Strip| {
        let what = strip.what?;
        let width = strip.high - strip.low;
        let (from, to) = lines::between_rings(RingScale::of(plan.job().unit), strip.low, strip.high);
        let steps = (width.0 / 0.5) as u32;
        let mut slants = vec![(from + to) / 2.0, (strip.low + strip.high) / 2.0];
        slants.extend((1..=steps).map(|i| strip.low + Mm(0.5 * f64::from(i))));
        let at = |part: f64| {
            let off = [0.0, 0.03, -0.03, 0.06, -0.06, 0.09, -0.09];
            let places = slants.iter().flat_map(move |s| off.map(|o| (part + o, *s)));
            places.map(|(p, slant)| Spot::Middle { azimuth: turn(band, p), slant }).collect::<Vec<_>>()
        };
        let above = strip.inner > strip.low;
        let low = if above { strip.inner + Mm(0.6) } else { strip.inner - Mm(0.6 + CAPS[0] * 1.4) };
        let beside = (0..40).map(|i| Spot::Along {
            azimuth: turn(band, -0.475 + 0.024 * f64::from(i)),
            low,
            anchor: Anchor::Middle,
            off: 0.0,
        });
        let forms = [
            format!("no film here: {} at the {what}", length(unit, width)),
            format!("no film: {}", length(unit, width)),
            "no film".to_owned(),
            match unit {
                LengthUnit::Mm => format!("{:.1}", width.0),
                LengthUnit::In => length(unit, width),
            },
        ];
        let forms: Vec<&str> = forms.iter().map(String::as_str).collect();
        let spots = QUARTERS.iter().map(|p| at(*p)).collect();
        let mut w = wish(Of::KeepClear, &forms, (band.ends().1, (strip.low + strip.high) / 2.0), spots);
        w.spare = beside.collect();
        Some(w)
    };
    // The rim's first: it is looked at first.
    lines::strips(plan, wall).into_iter().rev().filter_map(one).collect()
}

fn lap(band: &Band) -> Option<Wish> {
    let lap = band.lap;
    if lap.0 <= 0.0 {
        return None;
    }
    let right = band.ends().1;
    let height = band.wall - band.low;
    let n = (height.0 / 1.5) as u32;
    let on = |from: Mm| Spot::On { azimuth: right, from, off: lap.0 / 2.0 };
    let mut spots = vec![on(band.low + height * 0.35)];
    spots.extend((0..=n).map(|i| on(band.low + Mm(1.0 + 1.5 * f64::from(i)))));
    spots.extend(beside(band, right, band.low + height * 0.35, false));
    let forms =
        [format!("lap {lap}, goes over the left end"), format!("lap {lap}, on top"), "lap".to_owned()];
    let forms: Vec<&str> = forms.iter().map(String::as_str).collect();
    Some(wish(Of::Seam, &forms, (right, band.low + height * 0.5), vec![spots]))
}

fn handle(zone: &Zone, band: &Band) -> Vec<Wish> {
    let (from, to) = band.ends();
    let parts = zone.handles.iter().flat_map(|w| band.window(w, from, to).into_iter().map(move |p| (w, p.1)));
    let one = |(w, middle): (&crate::make::cup::Window, Angle)| {
        let n = ((w.high - w.low).0 / 1.0) as u32;
        let centre = (w.low + w.high) / 2.0;
        let mut slants: Vec<Mm> = (1..n).map(|i| w.low + Mm(f64::from(i))).collect();
        slants.sort_by(|a, b| (*a - centre).abs().0.total_cmp(&(*b - centre).abs().0));
        let level = std::iter::once(centre).chain(slants.iter().copied());
        let mut spots: Vec<Spot> = level.map(|slant| Spot::Middle { azimuth: middle, slant }).collect();
        spots.extend(slants.iter().map(|from| Spot::On { azimuth: middle, from: *from, off: 0.0 }));
        wish(Of::KeepClear, &[HANDLE], (middle, centre), vec![spots])
    };
    parts.map(one).collect()
}

fn rings(plan: &Verified, zone: &Zone, band: &Band) -> Vec<Wish> {
    let around: Vec<f64> = (0..24).map(|i| -0.46 + 0.04 * f64::from(i)).collect();
    let unit = plan.job().unit;
    let one = |ring: &crate::make::finish::GuideRing| {
        let on = |part: f64| {
            let along =
                |low: Mm| Spot::Along { azimuth: turn(band, part), low, anchor: Anchor::Middle, off: 0.0 };
            [along(ring.slant + Mm(0.6)), along(ring.slant - Mm(0.6 + CAPS[0] * 1.35))]
        };
        let list = |first: f64, least: f64, most: f64| {
            let others = around.iter().copied().filter(move |p| (least..most).contains(p));
            std::iter::once(first).chain(others).flat_map(on).collect::<Vec<Spot>>()
        };
        let on_wall = ring.slant + UP < zone.high && ring.slant > zone.low;
        let first = if on_wall { [-0.13, 0.14] } else { [-0.25, 0.25] };
        let forms = [
            format!("{} ({} up)", ring.label, length(unit, ring.slant)),
            ring.label.clone(),
            format!("{} up", length(unit, ring.slant)),
        ];
        let forms: Vec<&str> = forms.iter().map(String::as_str).collect();
        let spots = vec![list(first[0], -0.5, 0.0), list(first[1], 0.0, 0.5)];
        let mut w = wish(Of::Rings, &forms, (band.ends().1, ring.slant), spots);
        w.colour = RING;
        w
    };
    lines::rings_of(plan, band).map(one).collect()
}

fn heights(scale: RingScale, band: &Band) -> Vec<Wish> {
    let (left, right) = band.ends();
    let one = |n: usize| {
        let slant = scale.slant(n);
        let low = slant + Mm(0.5);
        let at = |azimuth, anchor, off| Spot::Along { azimuth, low, anchor, off };
        let spots = vec![
            vec![at(left, Anchor::Start, 1.2)],
            vec![at(band.middle, Anchor::End, -1.2), at(band.middle, Anchor::Start, 1.2)],
            vec![at(right, Anchor::End, -1.2)],
        ];
        let name = scale.name(n);
        let mut w = wish(Of::Heights, &[&name], (right, slant), spots);
        w.caps = vec![CAPS[2]];
        let around = (0..26).map(|i| turn(band, -0.48 + 0.0384 * f64::from(i)));
        let under = slant - Mm(0.5 + CAPS[2]);
        let below = |azimuth, anchor, off| Spot::Along { azimuth, low: under, anchor, off };
        w.spare = around.map(|azimuth| at(azimuth, Anchor::Middle, 0.0)).collect();
        w.spare.extend([below(left, Anchor::Start, 1.2), below(right, Anchor::End, -1.2)]);
        w
    };
    scale.within(band).map(one).collect()
}
