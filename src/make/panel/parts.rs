//! A split made into panels: parts, marks, carriers.
//!
//! Imports: base, outline, read::job, make::{cup, panel}, make::panel::{near, split, mark, off, web, moves, lots}.

use super::lots::grown_hull;
use super::mark::{Mark, Pockets};
use super::moves::Moves;
use super::near::{Lying, Near};
use super::off::off;
use super::split::Split;
use super::web::{HOLDS, Web};
use super::{Member, Panel, Part};
use crate::base::frame::{Art, Point, Rigid};
use crate::base::tolerance::FLATTEN;
use crate::base::units::{Angle, Mm};
use crate::make::cup::Development;
use crate::outline::plane::{convex_hull, ring_area};
use crate::outline::{Region, Ring};
use crate::read::job::{FilmId, PanelSpec, WallPose};
use std::f64::consts::TAU;

/// Two marks to lay a panel by are at least this part of its diagonal apart, if there are such.
const APART: f64 = 0.7;

/// What panels are made from: pieces of one film, or of those that are gathered.
pub(super) struct Bench<'a> {
    pub(super) own: &'a [Lying],
    pub(super) near: &'a [Near],
    pub(super) d: &'a Development,
    pub(super) pockets: &'a Pockets<'a>,
    pub(super) spec: PanelSpec,
    /// The films, in the order in which a carrier takes them up.
    pub(super) films: &'a [FilmId],
}

impl Bench<'_> {
    /// The panels of a split, in the order of their first pieces; marks found before are used again. Of several
    /// films a panel is a part for each, all of one number.
    pub(super) fn built(
        &self,
        split: &Split,
        (zone, first, gathered): (usize, usize, bool),
        known: &mut Vec<Mark>,
    ) -> Vec<Panel> {
        let mut lists: Vec<&Vec<(usize, i32)>> = split.panels.iter().collect();
        lists.sort_by_key(|l| self.own[l[0].0].number);
        let borders = self.borders(&lists);
        let mut out = Vec::new();
        for (k, list) in lists.into_iter().enumerate() {
            let border = borders[k].is_finite().then_some(Mm(borders[k]));
            let (middle, size) = self.extent(list);
            let whole = Panel {
                film: self.films[0],
                number: first + k,
                zone,
                members: Vec::new(),
                middle,
                pose: self.d.pose(middle),
                size,
                border,
                marks: Vec::new(),
                carrier: Region::empty(),
                off: None,
                web: Web::default(),
                part: None,
            };
            let whole = self.finished(whole, list, known);
            let parts = self.films.iter().filter_map(|f| self.part(&whole, *f, list)).collect::<Vec<_>>();
            let of = parts.len();
            out.extend(parts.into_iter().enumerate().map(|(i, mut p)| {
                p.part = gathered.then_some(Part { nth: i + 1, of });
                p.off = self.off(&p);
                p.web = self.web(&p);
                p
            }));
        }
        out
    }
    /// What of a panel is of a film; none if nothing is.
    fn part(&self, whole: &Panel, film: FilmId, list: &[(usize, i32)]) -> Option<Panel> {
        let own = list.iter().filter(|m| self.own[m.0].film == film);
        let members: Vec<Member> =
            own.map(|(i, n)| Member { number: self.own[*i].number, turns: *n }).collect();
        (!members.is_empty()).then(|| Panel { film, members, ..whole.clone() })
    }
    /// What is weeded off a panel, or off a film's part of one.
    fn web(&self, panel: &Panel) -> Web {
        let home: Rigid<_, Art> = panel.pose.inverse();
        let own = |m: &Member| {
            let lying = self.own.iter().find(|l| l.number == m.number)?;
            Some(lying.outline.flat().moved(&self.d.turned(m.turns)).moved::<Art>(&home).rings)
        };
        let pieces = panel.members.iter().filter_map(own).flatten().filter(|r| ring_area(r) > 0.0);
        let marks = panel
            .marks
            .iter()
            .flat_map(|(m, n)| m.outline(self.d, *n).moved::<Art>(&home).flat(FLATTEN).rings);
        let outlines: Vec<Ring> = pieces.chain(marks).collect();
        let mut web = Web::of(&grown_hull(outlines.concat(), self.spec.carrier.0), &outlines);
        let held = |k: usize| panel.members.iter().any(|m| m.number == self.own[k].number);
        web.narrow = self.near.iter().filter(|n| n.gap < HOLDS && n.pair.iter().all(|k| held(*k))).count();
        web
    }
    /// Farthest that a point of a panel, or of a film's part of one, can be off on the wall.
    fn off(&self, panel: &Panel) -> Option<Mm> {
        let moves = Moves::new(panel, self.d, &self.spec)?;
        let outline = |m: &Member| {
            let own = self.own.iter().find(|l| l.number == m.number)?;
            Some(moves.most(&own.outline, m.turns))
        };
        let all = panel.members.iter().filter_map(outline).map(|[wall, _]| wall);
        Some(Mm(all.fold(0.0, f64::max)))
    }
    /// Least distance of each panel to another one.
    fn borders(&self, lists: &[&Vec<(usize, i32)>]) -> Vec<f64> {
        let panel_of = |i: usize| lists.iter().position(|l| l.iter().any(|m| m.0 == i));
        let mut borders = vec![f64::INFINITY; lists.len()];
        for n in self.near {
            if let (Some(a), Some(b)) = (panel_of(n.pair[0]), panel_of(n.pair[1]))
                && a != b
            {
                borders[a] = borders[a].min(n.gap);
                borders[b] = borders[b].min(n.gap);
            }
        }
        borders
    }
    /// Middle of some pieces, and their size along the ring and up the wall.
    fn extent(&self, list: &[(usize, i32)]) -> (WallPose, [Mm; 2]) {
        let (mut round, mut up) = ([f64::INFINITY, f64::NEG_INFINITY], [f64::INFINITY, f64::NEG_INFINITY]);
        for (i, n) in list {
            let (lift, l) = (TAU * f64::from(*n), &self.own[*i]);
            round = [round[0].min(l.round[0] + lift), round[1].max(l.round[1] + lift)];
            up = [up[0].min(l.up[0]), up[1].max(l.up[1])];
        }
        let azimuth = Angle::radians(f64::midpoint(round[0], round[1]));
        let middle = WallPose { azimuth, slant: Mm(f64::midpoint(up[0], up[1])), turn: Angle::ZERO };
        let widest = self.d.radius(Mm(up[0])).max(self.d.radius(Mm(up[1])));
        (middle, [widest * (round[1] - round[0]), Mm(up[1] - up[0])])
    }
    /// With its marks and carrier.
    fn finished(&self, mut panel: Panel, list: &[(usize, i32)], known: &mut Vec<Mark>) -> Panel {
        let (d, asked) = (self.d, self.spec);
        let home = panel.pose.inverse();
        let piece = |(i, n): &(usize, i32)| {
            self.own[*i].outline.flat().moved(&d.turned(*n)).moved::<Art>(&home).rings
        };
        let points: Vec<[f64; 2]> = list.iter().flat_map(piece).flatten().collect();
        marked(&mut panel, &points, asked.read, d, self.pockets, known);
        let marks =
            panel.marks.iter().flat_map(|(m, n)| m.outline(d, *n).moved::<Art>(&home).flat(FLATTEN).rings);
        let all: Vec<[f64; 2]> = points.iter().copied().chain(marks.flatten()).collect();
        panel.carrier = Region::polygon(&grown_hull(all, asked.carrier.0));
        panel
    }
}

/// Gives a panel its marks, the two to lay it by first.
fn marked(
    panel: &mut Panel,
    points: &[[f64; 2]],
    read: Mm,
    d: &Development,
    pockets: &Pockets<'_>,
    known: &mut Vec<Mark>,
) {
    let [x0, y0, x1, y1] = crate::outline::plane::points_box(points);
    let corners = [[x0, y0], [x1, y0], [x1, y1], [x0, y1]];
    let mut found: Vec<(Mark, i32, [f64; 2])> = Vec::new();
    for c in corners {
        let corner = panel.pose.apply(Point::mm(c[0], c[1]));
        let Some(mark) = pockets.at(corner, known) else { continue };
        if !known.contains(&mark) {
            known.push(mark);
        }
        let lift = [-2, -1, 0, 1, 2].into_iter();
        let lift = lift.min_by(|a, b| {
            mark.middle(d, *a).distance(corner).0.total_cmp(&mark.middle(d, *b).distance(corner).0)
        });
        let turns = lift.unwrap_or(0);
        let at = panel.pose.inverse().apply(mark.middle(d, turns));
        if found.iter().all(|f| f.0 != mark) {
            found.push((mark, turns, [at.x, at.y]));
        }
    }
    let hull = convex_hull(points.to_vec());
    let worst = |a: usize, b: usize| {
        let marks = [found[a].2, found[b].2];
        hull.iter().map(|p| off(*p, marks, read.0)).fold(0.0, f64::max)
    };
    let far = |a: usize, b: usize| libm::hypot(found[a].2[0] - found[b].2[0], found[a].2[1] - found[b].2[1]);
    let diagonal = libm::hypot(x1 - x0, y1 - y0);
    let pairs = (0..found.len()).flat_map(|a| (a + 1..found.len()).map(move |b| (a, b)));
    let key = |p: &(usize, usize)| (far(p.0, p.1) < APART * diagonal, worst(p.0, p.1));
    let best = pairs.min_by(|p, q| {
        let (p, q) = (key(p), key(q));
        p.0.cmp(&q.0).then(p.1.total_cmp(&q.1))
    });
    let Some((a, b)) = best else { return };
    let rest = (0..found.len()).filter(|k| *k != a && *k != b);
    panel.marks = [a, b].into_iter().chain(rest).map(|k| (found[k].0, found[k].1)).collect();
}
