//! [`lay`]: the panels of all films that ask for them.
//!
//! Imports: base, outline, read::job, make::{cup, piece, panel}, make::panel::{near, split, mark, moves, parts}.

use super::mark::{Mark, Pockets};
use super::moves::{narrower, narrowest};
use super::near::{Lying, near};
use super::parts::Bench;
use super::split::{Seconds, Terms, split};
use super::{Panel, Panels};
use crate::base::diag::{Code, Diagnostic, Diagnostics, KeyPath};
use crate::base::frame::Art;
use crate::base::random::Random;
use crate::base::units::Mm;
use crate::make::cup::{Cup, Development};
use crate::make::piece::{Kind, Piece};
use crate::outline::Region;
use crate::read::job::finish::Times;
use crate::read::job::{FilmId, Job, Lay, PanelSpec};

/// Least gap that may be left where panels are laid by marks.
const LEAST_GAP: Mm = Mm(0.4);
/// How far pairs of pieces are measured.
const REACH: Mm = Mm(10.0);
/// Behind the random streams of all films.
const STREAM_OF_GATHERED: usize = 1000;

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

const PARTED: Code = Code {
    id: "panel/parted",
    title: "The waste of a panel does not come off in one",
    explain: "What is weeded off a panel is one web between its pieces. Where it is narrower than 1.5 mm it tears, and \
        what hangs on the rest by such places alone would take pieces along. Short lines across those places, 0.3 mm \
        off the pieces, part it: pull the web from its widest place, and lift its parts by themselves.",
};

/// All codes of this stage.
pub const CODES: &[&Code] = &[&GAP, &NO_MARK, &NONE, &PARTED];

/// Does a piece go in a panel, if its film is laid so?
fn in_panels(p: &Piece) -> bool {
    matches!(p.kind, Kind::Motif { .. } | Kind::Spot { .. } | Kind::Tint { .. })
}

/// The panels of all films that ask for them. The first piece of each, or of each film's part, gets the panel's marks
/// as keys: they are cut with it.
pub fn lay(job: &Job, cup: &Cup, pieces: &mut [Piece], diagnostics: &mut Diagnostics) -> Panels {
    let mut panels = Panels::default();
    if job.films.iter().all(|f| !f.cut.lay.how.in_panels()) {
        return panels;
    }
    for (i, zone) in cup.zones.iter().enumerate() {
        let d = &zone.development;
        let wall: Vec<&Piece> = pieces.iter().filter(|p| p.kind != Kind::Base && p.zone == i).collect();
        let all: Vec<Lying> = wall.iter().map(|p| Lying::new(p, d)).collect();
        let pockets = Pockets::new(d, &zone.zone, &all);
        let mut known: Vec<Mark> = Vec::new();
        let passes = wall.iter().map(|p| p.pass(job)).max().unwrap_or(0) + 1;
        for (n, batch) in batches(job).into_iter().enumerate() {
            for pass in 0..passes {
                let own: Vec<Lying> = (0..wall.len())
                    .filter(|k| in_panels(wall[*k]) && wall[*k].pass(job) == pass)
                    .filter(|k| batch.films.contains(&wall[*k].film))
                    .map(|k| all[k].clone())
                    .collect();
                if own.is_empty() {
                    continue;
                }
                let mut random = Random::new(job.seed, "panels", (batch.stream(n) * passes + pass) as u64);
                let made = batch.laid((job, &panels), (d, i, &own, &pockets), &mut random, &mut known);
                panels.list.extend(made);
            }
        }
        let [least, on_carrier] = narrowest((job, LEAST_GAP), d, &wall, &all, &panels);
        panels.narrowest = narrower(panels.narrowest, least);
        panels.on_carrier = narrower(panels.on_carrier, on_carrier);
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

/// Films whose pieces are laid in panels together.
struct Batch {
    films: Vec<FilmId>,
    spec: PanelSpec,
    gathered: bool,
}

/// Each film that is laid in panels by itself, and those that are gathered.
fn batches(job: &Job) -> Vec<Batch> {
    let laid = |how: Lay| (0..job.films.len()).filter(move |f| job.films[*f].cut.lay.how == how).map(FilmId);
    let spec = |f: FilmId| job.films[f.0].cut.lay.panel;
    let alone = |f: FilmId| Batch { films: vec![f], spec: spec(f), gathered: false };
    let gathered: Vec<FilmId> = laid(Lay::Gathered).collect();
    let together =
        gathered.first().map(|f| Batch { films: gathered.clone(), spec: spec(*f), gathered: true });
    laid(Lay::Panels).map(alone).chain(together).collect()
}

/// A zone's wall for a batch: development, the zone's place, the pieces, where marks have room.
type Wall<'a> = (&'a Development, usize, &'a [Lying], &'a Pockets<'a>);

impl Batch {
    /// Where its random numbers come from: its film, or what stands behind all films.
    fn stream(&self, n: usize) -> usize {
        if self.gathered { STREAM_OF_GATHERED + n } else { self.films[0].0 }
    }
    /// Panels of a pass in a zone.
    fn laid(
        &self,
        (job, before): (&Job, &Panels),
        (d, zone, own, pockets): Wall<'_>,
        random: &mut Random,
        known: &mut Vec<Mark>,
    ) -> Vec<Panel> {
        let times = job.finish.as_ref().map_or_else(Times::default, |f| f.times.clone());
        let part = if self.gathered { times.gather_s.value } else { 0.0 };
        let seconds = Seconds { panel: times.panel_s.value, piece: times.place_s.value, part };
        let near = near(own, d, REACH);
        let terms = Terms { size: self.spec.largest, border: self.spec.border, seconds };
        let split = split(own, &near, d, &terms, random);
        // The film of which there is most first: what it bears is the truth of the marks for the others.
        let mut films = self.films.clone();
        let count = |f: FilmId| own.iter().filter(|l| l.film == f).count();
        films.sort_by_key(|f| (std::cmp::Reverse(count(*f)), *f));
        let first = if self.gathered {
            before.layings().filter(|p| p.part.is_some()).count() + 1
        } else {
            before.of_film(self.films[0]).count() + 1
        };
        let bench = Bench { own, near: &near, d, pockets, spec: self.spec, films: &films };
        bench.built(&split, (zone, first, self.gathered), known)
    }
}

/// Tells film by film whose waste does not come off in one.
fn parted(job: &Job, panels: &Panels, diagnostics: &mut Diagnostics) {
    for (i, film) in job.films.iter().enumerate() {
        let own: Vec<&Panel> = panels.of_film(FilmId(i)).filter(|p| p.web.parts > 1).collect();
        if own.is_empty() {
            continue;
        }
        let list: Vec<String> = own.iter().map(|p| format!("{} in {}", p.number, p.web.parts)).collect();
        let lines: usize = own.iter().map(|p| p.web.lines.len()).sum();
        let uncut: usize = own.iter().map(|p| p.web.uncut).sum();
        let message = format!(
            "the waste of panels of film {} comes off in parts: panel {}",
            film.name,
            list.join(", ")
        );
        let mut said = format!("{lines} lines are cut between the parts");
        if uncut > 0 {
            said += &format!("; {uncut} places are too narrow for one: hold the pieces there");
        }
        let at = KeyPath::of("film").index(i).key("lay");
        diagnostics.push(Diagnostic::note(&PARTED, at, message).help(said));
    }
}

/// Findings.
fn told(job: &Job, panels: &Panels, diagnostics: &mut Diagnostics) {
    for batch in batches(job) {
        let film = batch.films[0];
        let (at, key, name) = if batch.gathered {
            (KeyPath::of("gathered"), None, "the gathered films".to_owned())
        } else {
            let at = KeyPath::of("film").index(film.0);
            (at, Some(["lay", "panel"]), format!("film {}", job.films[film.0].name))
        };
        let there = |k: usize| key.map_or(at.clone(), |keys| at.key(keys[k]));
        let own: Vec<&Panel> = panels
            .layings()
            .filter(|p| if batch.gathered { p.part.is_some() } else { p.part.is_none() && p.film == film })
            .collect();
        if own.is_empty() {
            let message = format!("no panel of {name} pays: its pieces are laid one by one");
            diagnostics.push(
                Diagnostic::note(&NONE, there(0), message).help("allow larger panels, or lay it singly"),
            );
        }
        let unmarked: Vec<String> =
            own.iter().filter(|p| p.off.is_none()).map(|p| p.number.to_string()).collect();
        if !unmarked.is_empty() {
            let message = format!("panels {} of {name} have no room for two marks", unmarked.join(", "));
            let d = Diagnostic::warning(&NO_MARK, there(1), message);
            diagnostics.push(d.help("they are laid by eye; a wider gap between spots makes room"));
        }
    }
    parted(job, panels, diagnostics);
    if let Some(n) = panels.narrowest.filter(|n| n.left < LEAST_GAP) {
        let [a, b] = n.pieces.map(|p| panels.of(p));
        let panel = a.or(b);
        let film = panel.map_or(0, |p| p.film.0);
        let spec = job.films[film].cut.lay.panel;
        let carried = a.zip(b).is_some_and(|(a, b)| a.laid_with(b));
        let message = format!("pieces {} and {} could come too near each other", n.pieces[0], n.pieces[1]);
        let lacks = LEAST_GAP.0 - n.left.0;
        let wanted = ((n.gap.0 + lacks) * 100.0).ceil() / 100.0;
        let gathered = panel.is_some_and(|p| p.part.is_some());
        let truly = match (carried, gathered) {
            (true, _) => format!("{} on the carrier", spec.on_carrier),
            (_, true) => format!("{} on the wall and {} on the carrier", spec.read, spec.on_carrier),
            _ => format!("{} mm", spec.read.0),
        };
        let off = if carried { "both films lie off on the carrier" } else { "both panels lie off" };
        diagnostics.push(
            Diagnostic::fault(&GAP, KeyPath::of("film").index(film).key("lay"), message)
                .measured(format!("a gap of {:.2}, {:.2} left if {off}", n.gap, n.left))
                .allowed(format!("{LEAST_GAP:.1} or more left"))
                .help(format!(
                    "make the gap {wanted:.2} mm; or smaller panels, or marks read more truly than {truly}"
                )),
        );
    }
}
