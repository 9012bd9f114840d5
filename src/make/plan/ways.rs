//! Which way? What the same pieces would take, laid one by one, woven, in panels of several sizes, and
//! in panels that all films are gathered to.
//!
//! Imports: base, outline, read::{job, materials}, make::{piece, panel, film, plan}, make::plan::{printed, orders}.

use super::{Plan, orders, printed};
use crate::base::diag::{Diagnostics, Severity};
use crate::base::money::Money;
use crate::base::units::{Mm, Mm2};
use crate::make::film::bill::bills;
use crate::make::film::hops::{self, Hops};
use crate::make::panel::{self, Panels};
use crate::make::piece::{Kind, Piece};
use crate::outline::Region;
use crate::read::job::finish::Times;
use crate::read::job::{Effort, Job, Lay, PanelSpec};
use crate::read::materials::Materials;
use serde::Serialize;
use std::collections::BTreeSet;
use std::ops::ControlFlow;

/// Sizes of panels that are tried besides those that films name: along the ring and up the wall.
const SIZES: [[Mm; 2]; 3] = [[Mm(40.0), Mm(60.0)], [Mm(60.0), Mm(80.0)], [Mm(80.0), Mm(120.0)]];

/// One way of laying a cup, and what it comes to.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Way {
    /// "singly", "woven", "panels".
    pub lay: &'static str,
    /// Largest panel.
    #[serde(rename = "largest_mm", skip_serializing_if = "Option::is_none")]
    pub largest: Option<[Mm; 2]>,
    /// Things laid on the wall of a cup: panels and single pieces.
    pub layings: usize,
    /// Of those, panels.
    pub panels: usize,
    /// Films taken up onto carriers of gathered panels.
    #[serde(skip_serializing_if = "nothing")]
    pub gatherings: usize,
    /// Minutes of laying them, by the job's rates.
    #[serde(rename = "laying_min")]
    pub minutes: f64,
    /// Mean way of the hand on the sheets from one single spot to the next, mm.
    #[serde(rename = "mean_hop_mm")]
    pub hop: f64,
    /// Film taken for the whole order.
    #[serde(rename = "film_mm2")]
    pub film: Mm2,
    /// Sheets, or lengths of roll, for the whole order.
    pub sheets: usize,
    /// Price of one cup before tax; none where the job has no prices.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub price: Option<Money>,
    /// The least that a gap can come to where panels lie off; none without panels.
    #[serde(rename = "narrowest_mm", skip_serializing_if = "Option::is_none")]
    pub narrowest: Option<Mm>,
    /// Why it cannot be made so; none where it can.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub refused: Option<String>,
}

fn nothing(n: &usize) -> bool {
    *n == 0
}

/// The pieces of a plan laid in each way: all films alike. The plan itself is not changed.
pub fn ways(plan: &Plan, materials: &Materials, effort: Effort) -> Vec<Way> {
    let mut asked: Vec<(Lay, Option<[Mm; 2]>)> = vec![(Lay::Singly, None), (Lay::Woven, None)];
    let films = plan.pieces.iter().filter(|p| !matches!(p.kind, Kind::Layer { .. } | Kind::Base));
    let several = films.map(|p| p.film).collect::<BTreeSet<_>>().len() > 1;
    for lay in [Lay::Panels, Lay::Gathered] {
        if lay == Lay::Gathered && !several {
            continue;
        }
        let own = plan.job.films.iter().filter(|f| f.cut.lay.how == lay).map(|f| f.cut.lay.panel.largest);
        let small = usize::from(lay == Lay::Gathered);
        for size in SIZES[small..].iter().copied().chain(own) {
            if !asked.contains(&(lay, Some(size))) {
                asked.push((lay, Some(size)));
            }
        }
    }
    asked.into_iter().map(|(lay, size)| one(plan, materials, effort, lay, size)).collect()
}

fn job_laid(job: &Job, lay: Lay, size: Option<[Mm; 2]>) -> Job {
    let mut job = job.clone();
    let plain = job.films.len() - job.sheets.len();
    let gathered = job.films.iter().find(|f| f.cut.lay.how == Lay::Gathered).map(|f| f.cut.lay.panel);
    for film in &mut job.films[..plain] {
        // What the job asks of panels of one film is not what it would of gathered ones.
        film.cut.lay.panel = match (lay, film.cut.lay.how) {
            (Lay::Gathered, _) => gathered.unwrap_or(PanelSpec::GATHERED),
            (_, Lay::Gathered) => PanelSpec::USUAL,
            _ => film.cut.lay.panel,
        };
        film.cut.lay.how = lay;
        if let Some(size) = size {
            film.cut.lay.panel.largest = size;
        }
    }
    job
}

fn one(plan: &Plan, materials: &Materials, effort: Effort, lay: Lay, size: Option<[Mm; 2]>) -> Way {
    let job = &job_laid(&plan.job, lay, size);
    let mut pieces = plan.pieces.clone();
    // Marks of the plan's own panels are not these.
    let keyed = |p: &&mut Piece| !matches!(p.kind, Kind::Layer { .. });
    pieces.iter_mut().filter(keyed).for_each(|p| p.keys = Region::empty());
    let mut told = Diagnostics::new();
    let panels = panel::lay(job, &plan.cup, &mut pieces, &mut told);
    let own = plan.named.as_ref().map_or(&[][..], |n| n.own.as_slice());
    let offcuts = crate::make::film::offcuts(job, materials).unwrap_or_default();
    let alike = orders::Alike::of(job, &plan.cup, &pieces, own, panels);
    let film = orders::OnFilm { job, pieces: &pieces, alike: &alike, own, offcuts: &offcuts };
    let mut sheets = film.laid(effort, &mut told, &mut |_| ControlFlow::Continue(())).unwrap_or_default();
    sheets.extend(printed::layouts(job, &plan.stock, &pieces));
    let finish = film.finished(&plan.cup, &sheets, plan.finish.base.clone(), &mut Diagnostics::new());
    let hop = sheets.iter().map(|s| {
        Hops::of(&hops::places(s, &|p| {
            plan.place_of(p.number).map_or_else(|| plan.piece(p.number), |i| &pieces[i])
        }))
    });
    let bills = bills(&sheets, &job.films);
    let (layings, seconds) = laid(job, &pieces, &alike.panels);
    Way {
        lay: crate::read::job::keys::Worded::word(lay),
        largest: size,
        layings,
        panels: alike.panels.layings().count(),
        gatherings: alike.panels.gatherings(),
        minutes: (seconds / 6.0).round() / 10.0,
        hop: (hop.reduce(Hops::and).unwrap_or_default().mean() * 10.0).round() / 10.0,
        film: bills.iter().map(|b| b.film_area).sum(),
        sheets: bills.iter().map(|b| b.sheets).sum(),
        price: finish.costing.as_ref().map(|c| c.order.price_each),
        narrowest: alike.panels.narrowest.map(|n| n.left),
        refused: told.iter().find(|d| d.severity == Severity::Fault).map(|d| d.message.clone()),
    }
}

/// Layings on the wall of a cup, and their seconds.
fn laid(job: &Job, pieces: &[Piece], panels: &Panels) -> (usize, f64) {
    let times = job.finish.as_ref().map_or_else(Times::default, |f| f.times.clone());
    let singles = pieces.iter().filter(|p| p.kind != Kind::Base && panels.of(p.number).is_none()).count();
    let (n, parts) = (panels.layings().count(), panels.gatherings());
    let seconds = n as f64 * times.panel_s.value
        + parts as f64 * times.gather_s.value
        + singles as f64 * times.place_s.value;
    (n + singles, seconds)
}
