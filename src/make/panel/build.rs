//! [`lay`]: the panels of all films that ask for them.
//!
//! Imports: base, outline, read::job, make::{cup, piece, panel}, make::panel::{near, split, mark, off}.

use super::mark::{Mark, Pockets};
use super::near::{Lying, Near, near};
use super::off::off;
use super::split::{Split, Terms, split};
use super::{Member, Narrowest, Panel, Panels};
use crate::base::diag::{Code, Diagnostic, Diagnostics, KeyPath};
use crate::base::frame::{Art, Point, Rigid};
use crate::base::random::Random;
use crate::base::tolerance::FLATTEN;
use crate::base::units::{Angle, Mm};
use crate::make::cup::{Cup, Development};
use crate::make::piece::{Kind, Piece};
use crate::outline::Region;
use crate::outline::plane::convex_hull;
use crate::read::job::finish::Times;
use crate::read::job::{FilmId, FilmSpec, Job, Lay, WallPose};
use std::f64::consts::{FRAC_PI_2, TAU};
use std::sync::Arc;

/// Least gap that may be left where panels are laid by marks.
const LEAST_GAP: Mm = Mm(0.4);
/// How far pairs of pieces are measured.
const REACH: Mm = Mm(10.0);
/// Two marks to lay a panel by are at least this part of its diagonal apart, if there are such.
const APART: f64 = 0.7;
/// Corners of the carrier in a quarter turn.
const CORNERS: usize = 4;

const GAP: Code = Code {
    id: "panel/gap-too-narrow",
    title: "Gaps between panels could close",
    explain: "A panel that is laid by two marks, each missed by up to `read`, lies off by a little, and its \
        neighbour too. What is left of a gap must be 0.4 mm at least, or pieces could touch. Wider gaps, \
        smaller panels or marks read more truly help.",
};
const NO_MARK: Code = Code {
    id: "panel/mark-without-room",
    title: "A panel has no room for two marks",
    explain: "Marks are small triangles in places that no film covers, near the corners of a panel. Where gaps \
        are narrow everywhere there is none. Such a panel is laid by eye, and nothing is promised of its gaps.",
};
const NONE: Code = Code {
    id: "panel/does-not-pay",
    title: "No panel of a film pays",
    explain: "A panel takes longer to lay than a piece; it pays where it holds enough pieces. At the sizes and \
        rates of this job no panel of the film does: its pieces are laid one by one.",
};

/// All codes of this stage.
pub const CODES: &[&Code] = &[&GAP, &NO_MARK, &NONE];

/// Does a piece go in a panel, if its film is laid so?
fn in_panels(p: &Piece) -> bool {
    matches!(p.kind, Kind::Motif { .. } | Kind::Spot { .. } | Kind::Tint { .. })
}

/// The panels of all films that ask for them. The first piece of each gets the panel's marks as keys: they are cut
/// with it.
pub fn lay(job: &Job, cup: &Cup, pieces: &mut [Piece], diagnostics: &mut Diagnostics) -> Panels {
    let mut panels = Panels::default();
    if job.films.iter().all(|f| f.cut.lay.how != Lay::Panels) {
        return panels;
    }
    let times = job.finish.as_ref().map_or_else(Times::default, |f| f.times.clone());
    let seconds = [times.panel_s.value, times.place_s.value];
    for (i, zone) in cup.zones.iter().enumerate() {
        let d = &zone.development;
        let wall: Vec<&Piece> = pieces.iter().filter(|p| p.kind != Kind::Base && p.zone == i).collect();
        let all: Vec<Lying> = wall.iter().map(|p| Lying::new(p, d)).collect();
        let pockets = Pockets::new(d, &zone.zone, &all);
        let mut known: Vec<Mark> = Vec::new();
        let passes = wall.iter().map(|p| p.pass(job)).max().unwrap_or(0);
        for (film, pass) in (0..job.films.len()).flat_map(|f| (0..=passes).map(move |p| (f, p))) {
            let spec = &job.films[film];
            let own =
                |k: &usize| wall[*k].film.0 == film && in_panels(wall[*k]) && wall[*k].pass(job) == pass;
            let own: Vec<Lying> = (0..wall.len()).filter(own).map(|k| all[k].clone()).collect();
            if spec.cut.lay.how != Lay::Panels || own.is_empty() {
                continue;
            }
            let near = near(&own, d, REACH);
            let terms =
                Terms { size: spec.cut.lay.panel.largest, border: spec.cut.lay.panel.border, seconds };
            let mut random = Random::new(job.seed, "panels", (film * (passes + 1) + pass) as u64);
            let split = split(&own, &near, d, &terms, &mut random);
            let first = panels.of_film(FilmId(film)).count() + 1;
            let bench = Bench { own: &own, near: &near, d, pockets: &pockets, spec };
            let made = bench.built(&split, (FilmId(film), i, first), &mut known);
            panels.list.extend(made);
        }
        panels.narrowest = least(panels.narrowest, narrowest(job, d, &wall, &all, &panels));
    }
    panels.list.sort_by_key(|p| (p.film, p.number));
    told(job, &panels, diagnostics);
    for panel in &panels.list {
        let d = &cup.zones[panel.zone].development;
        let first = panel.members[0];
        let piece = &mut pieces[first.number as usize - 1];
        let lifted = piece.pose.then(&d.turned(first.turns)).inverse();
        let marks: Vec<Region<Art>> =
            panel.marks.iter().map(|(m, n)| m.outline(d, *n).moved(&lifted)).collect();
        piece.keys = Region::gathered(&marks);
    }
    panels
}

fn least(a: Option<Narrowest>, b: Option<Narrowest>) -> Option<Narrowest> {
    match (a, b) {
        (Some(a), Some(b)) => Some(if b.left < a.left { b } else { a }),
        (a, b) => a.or(b),
    }
}

/// What the panels of one film are made from.
struct Bench<'a> {
    own: &'a [Lying],
    near: &'a [Near],
    d: &'a Development,
    pockets: &'a Pockets<'a>,
    spec: &'a FilmSpec,
}

impl Bench<'_> {
    /// The panels of a split, in the order of their first pieces; marks found before are used again.
    fn built(
        &self,
        split: &Split,
        (film, zone, first): (FilmId, usize, usize),
        known: &mut Vec<Mark>,
    ) -> Vec<Panel> {
        let mut lists: Vec<&Vec<(usize, i32)>> = split.panels.iter().collect();
        lists.sort_by_key(|l| self.own[l[0].0].number);
        let borders = self.borders(&lists);
        let mut out = Vec::new();
        for (k, list) in lists.into_iter().enumerate() {
            let border = borders[k].is_finite().then_some(Mm(borders[k]));
            let members =
                list.iter().map(|(i, n)| Member { number: self.own[*i].number, turns: *n }).collect();
            let (middle, size) = self.extent(list);
            let mut panel = Panel {
                film,
                number: first + k,
                zone,
                members,
                middle,
                pose: self.d.pose(middle),
                size,
                border,
                marks: Vec::new(),
                carrier: Region::empty(),
                off: None,
            };
            self.finished(&mut panel, list, known);
            out.push(panel);
        }
        out
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
    /// Marks and carrier.
    fn finished(&self, panel: &mut Panel, list: &[(usize, i32)], known: &mut Vec<Mark>) {
        let (d, asked) = (self.d, self.spec.cut.lay.panel);
        let home = panel.pose.inverse();
        let piece = |(i, n): &(usize, i32)| {
            self.own[*i].outline.flat().moved(&d.turned(*n)).moved::<Art>(&home).rings
        };
        let points: Vec<[f64; 2]> = list.iter().flat_map(piece).flatten().collect();
        marked(panel, &points, asked.read, d, self.pockets, known);
        let marks =
            panel.marks.iter().flat_map(|(m, n)| m.outline(d, *n).moved::<Art>(&home).flat(FLATTEN).rings);
        let all: Vec<[f64; 2]> = points.iter().copied().chain(marks.flatten()).collect();
        panel.carrier = Region::polygon(&grown_hull(all, asked.carrier.0));
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
    panel.off = Some(Mm(worst(a, b)));
    let rest = (0..found.len()).filter(|k| *k != a && *k != b);
    panel.marks = [a, b].into_iter().chain(rest).map(|k| (found[k].0, found[k].1)).collect();
}

/// The narrowest gap that may come of panels that lie off, over all films of a pass.
fn narrowest(
    job: &Job,
    d: &Development,
    wall: &[&Piece],
    all: &[Lying],
    panels: &Panels,
) -> Option<Narrowest> {
    let reach = panels.list.iter().filter_map(|p| p.off).fold(Mm::ZERO, Mm::max) * 2.0;
    let laid: Vec<Option<&Panel>> = wall.iter().map(|p| panels.of(p.number)).collect();
    // How far each piece may be off by itself: a panel's middle moves less than its corners.
    let moves = |k: usize| -> f64 {
        let Some(panel) = laid[k] else { return 0.0 };
        let Some(member) = panel.members.iter().find(|m| m.number == wall[k].number) else { return 0.0 };
        let [Some(a), Some(b)] = [0, 1].map(|i| panel.marks.get(i)) else { return 0.0 };
        let home: Rigid<_, Art> = panel.pose.inverse();
        let marks = [a, b].map(|(m, n)| home.apply(m.middle(d, *n))).map(|p| [p.x, p.y]);
        let read = job.films[panel.film.0].cut.lay.panel.read.0;
        let hull =
            convex_hull(all[k].outline.flat().moved(&d.turned(member.turns)).moved(&home).rings.concat());
        hull.iter().map(|p| off(*p, marks, read)).fold(0.0, f64::max)
    };
    let moved: Vec<f64> = (0..wall.len()).map(moves).collect();
    let mut least: Option<Narrowest> = None;
    for n in near(all, d, Mm(LEAST_GAP.0 + reach.0 + 2.0)) {
        let [a, b] = n.pair;
        let together =
            laid[a].is_some() && laid[a].map(|p| (p.film, p.number)) == laid[b].map(|p| (p.film, p.number));
        let layers = |p: &Piece| matches!(p.kind, Kind::Layer { .. });
        let apart = wall[a].pass(job) != wall[b].pass(job) || (layers(wall[a]) && layers(wall[b]));
        if together || apart || (laid[a].is_none() && laid[b].is_none()) {
            continue;
        }
        let left = Mm(n.gap - moved[a] - moved[b]);
        if least.is_none_or(|l| left < l.left) {
            least = Some(Narrowest { pieces: [wall[a].number, wall[b].number], gap: Mm(n.gap), left });
        }
    }
    least
}

/// Findings.
fn told(job: &Job, panels: &Panels, diagnostics: &mut Diagnostics) {
    for (i, film) in job.films.iter().enumerate().filter(|f| f.1.cut.lay.how == Lay::Panels) {
        let at = KeyPath::of("film").index(i);
        let own: Vec<&Panel> = panels.of_film(FilmId(i)).collect();
        if own.is_empty() {
            let message = format!("no panel of film {} pays: its pieces are laid one by one", film.name);
            diagnostics.push(
                Diagnostic::note(&NONE, at.key("lay"), message).help("allow larger panels, or lay it singly"),
            );
        }
        let unmarked: Vec<String> =
            own.iter().filter(|p| p.off.is_none()).map(|p| p.number.to_string()).collect();
        if !unmarked.is_empty() {
            let message =
                format!("panels {} of film {} have no room for two marks", unmarked.join(", "), film.name);
            let d = Diagnostic::warning(&NO_MARK, at.key("panel"), message);
            diagnostics.push(d.help("they are laid by eye; a wider gap between spots makes room"));
        }
    }
    if let Some(n) = panels.narrowest.filter(|n| n.left < LEAST_GAP) {
        let film = panels.of(n.pieces[0]).or_else(|| panels.of(n.pieces[1])).map_or(0, |p| p.film.0);
        let message = format!("pieces {} and {} could come too near each other", n.pieces[0], n.pieces[1]);
        let lacks = LEAST_GAP.0 - n.left.0;
        let wanted = ((n.gap.0 + lacks) * 100.0).ceil() / 100.0;
        diagnostics.push(
            Diagnostic::fault(&GAP, KeyPath::of("film").index(film).key("lay"), message)
                .measured(format!("a gap of {:.2}, {:.2} left if both panels lie off", n.gap, n.left))
                .allowed(format!("{LEAST_GAP:.1} or more left"))
                .help(format!(
                    "make the gap {:.2} mm; or smaller panels, or marks read more truly than {} mm",
                    wanted, job.films[film].cut.lay.panel.read.0
                )),
        );
    }
}

/// Pieces as film lays them out: each panel is one, its carrier its outline; the others as they are.
pub fn lots(job: &Job, cup: &Cup, pieces: &[Piece], panels: &Panels) -> Vec<Piece> {
    if panels.list.is_empty() {
        return pieces.to_vec();
    }
    let single = |p: &&Piece| panels.of(p.number).is_none();
    let mut out: Vec<Piece> = pieces.iter().filter(single).cloned().collect();
    for panel in &panels.list {
        let d = &cup.zones[panel.zone].development;
        let home: Rigid<_, Art> = panel.pose.inverse();
        let member = |m: &Member| {
            let piece =
                pieces.iter().find(|p| p.number == m.number).expect("a panel holds pieces of the plan");
            Piece { pose: piece.pose.then(&d.turned(m.turns)), ..piece.clone() }
        };
        let of: Vec<Piece> = panel.members.iter().map(member).collect();
        let film = &job.films[panel.film.0];
        let beyond = (film.cut.lay.panel.carrier.0 - film.spacing.0 / 2.0).max(0.0);
        let points =
            of.iter().flat_map(|p| p.cut().moved(&p.pose).moved::<Art>(&home).flat(FLATTEN).rings).flatten();
        let outline = Region::polygon(&grown_hull(points.collect(), beyond));
        let clearance = of.iter().map(|p| p.clearance).fold(Mm::ZERO, Mm::max);
        out.push(Piece {
            number: panel.members[0].number,
            kind: Kind::Lot { of: Arc::from(of) },
            name: format!("panel {}", panel.number),
            film: panel.film,
            outline,
            zone: panel.zone,
            wall: panel.middle,
            pose: panel.pose,
            clearance,
            keys: Region::empty(),
        });
    }
    out.sort_by_key(|p| p.number);
    out
}

/// A convex outline that holds all points and what is so near them.
pub(super) fn grown_hull(points: Vec<[f64; 2]>, by: f64) -> Vec<[f64; 2]> {
    let hull = convex_hull(points);
    let n = 4 * CORNERS;
    // Corners of a polygon round the circle.
    let far = (by + FLATTEN.0) / libm::cos(std::f64::consts::PI / n as f64);
    let corners = |p: &[f64; 2]| {
        let (x, y) = (p[0], p[1]);
        (0..n).map(move |k| {
            let a = FRAC_PI_2 * k as f64 / CORNERS as f64;
            [x + far * libm::cos(a), y + far * libm::sin(a)]
        })
    };
    convex_hull(hull.iter().flat_map(corners).collect())
}
