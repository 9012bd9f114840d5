//! From decorated to finished: surfaces, coats, mixing, calendar, base, cost, cautions.
//!
//! [`finish`] computes all of it from the job's own geometry: areas from the fitted cup, the film to be
//! buried from the outlines of the pieces, film used from the sheets, hours from the pieces and coats. Every
//! rate is the job's or a default that says what it stands on.
//!
//! Imports: base, read::job, make::{cup, piece, film}.

pub mod caution;
pub mod practice;
pub mod mix;
pub mod surface;
pub mod stack;
pub mod schedule;
pub mod amount;
mod wait;
pub mod coat;
mod passes;
pub mod order;
pub mod rules;
pub mod disc;
pub mod buy;
pub mod cost;
pub mod learn;
pub mod rates;

use crate::base::diag::{Code, Diagnostic, Diagnostics, KeyPath, Severity};
use crate::base::moment::Minutes;
use crate::base::units::Mm;
use crate::make::cup::Cup;
use crate::make::film::SheetLayout;
use crate::make::film::cups::CupPieces;
use crate::make::piece::Piece;
use crate::read::job::decals::Shows;
use crate::read::job::finish::{FinishSpec, Over, StepSpec, VolumeUnit};
use crate::read::job::{FilmId, Job};
use serde::Serialize;
use std::collections::{BTreeMap, BTreeSet};

pub use buy::BuyLine;
pub use caution::Caution;
pub use coat::{FilmUse, StepPlan};
pub use cost::{Account, Costing};
pub use disc::{BaseDisc, base};
pub use order::Burial;
pub use rates::RateLine;
pub use schedule::Calendar;
pub use surface::{GuideRing, Surfaces};

/// A band off the wall.
pub const BAND: Code = Code {
    id: "finish/band-off-the-wall",
    title: "a band reaches beyond the wall",
    explain: "Bands of colour or glitter lie on the wall between the base edge and the rim; keep the rim's \
        band free of them as well if the cup is drunk from.",
};
/// A band in the rim's band.
pub const BAND_RIM: Code = Code {
    id: "finish/band-at-the-rim",
    title: "a band of colour or glitter reaches into the rim's keep-clear band",
    explain: "Coats over the wall end below the band that cup.keep-clear.rim keeps free, so what lies in it is sealed by \
        nothing, and lips touch it. End the band below it.",
};
/// No start.
pub const NO_START: Code = Code {
    id: "finish/no-start",
    title: "there is no calendar without a start",
    explain: "Nothing is taken from the clock. Give finish.times.start a date and a time to get a calendar \
        and a date of delivery.",
};
/// The handle is not counted.
pub const HANDLE: Code = Code {
    id: "finish/handle-not-counted",
    title: "the handle is not in the coated area",
    explain: "Areas are those of the wall; a handle's own surface is not measured. If it is coated too, \
        raise the loss or give the coat's volume.",
};
/// A band's coat under film.
pub const LIFTED: Code = Code {
    id: "finish/band-lifts-film",
    title: "a band lies under the film",
    explain: "The layout is made for one build-up over the whole wall. Where a band of glitter or paint \
        lies under film, the wall is larger by 2 pi times its thickness only there.",
};

/// Codes of this stage.
pub const CODES: &[&Code] = &[
    &BAND,
    &BAND_RIM,
    &NO_START,
    &HANDLE,
    &LIFTED,
    &schedule::WINDOW,
    &schedule::TOO_LONG,
    &schedule::MISSED,
    &schedule::NO_TIME,
    &schedule::LATE,
    &order::SCRATCHES,
    &order::SANDED_FILM,
    &order::NOT_BURIED,
    &passes::NOT_SEALED,
    &order::OTHER_SURFACE,
    &order::LARGER,
    &order::NO_DISC_STEP,
    &order::OUT_OF_ORDER,
    &order::NO_FILM_STEP,
    &order::ASSUMED,
    &order::POT_LIFE,
    &order::ISOCYANATE,
    &order::PAST_WINDOW,
    &order::RATIO,
    &disc::NO_ROOM,
    &disc::WIDER,
    &disc::ONE_FILM,
    &rules::DRIES,
    &rules::NOT_LEVELLED,
    &rules::CUTS_GRAINS,
    &rules::TOO_SOON,
    &rules::NOT_CURED,
    &rules::REST_HARD,
    &rules::TOO_LITTLE,
    &rules::REST,
    &rules::MARK,
    &cost::NO_PRICE,
];

/// A band as planned.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct BandPlan {
    /// Its name.
    pub name: String,
    /// Its area, fades counted by their cover.
    #[serde(rename = "covered_mm2")]
    pub covered: crate::base::units::Mm2,
    /// Its lines on the template, lowest first.
    pub rings: Vec<GuideRing>,
}

/// Film used by name.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FilmLine {
    /// The film.
    pub film: String,
    /// What one cup uses of it; of an order, what all cups use.
    #[serde(flatten)]
    pub used: FilmUse,
}

/// Everything between the last piece placed and the parcel.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Finish {
    /// Good cups ordered.
    pub cups: u32,
    /// In what volumes are told.
    #[serde(skip)]
    pub volumes: VolumeUnit,
    /// Surfaces.
    pub surfaces: Surfaces,
    /// Bands and their guide rings.
    pub bands: Vec<BandPlan>,
    /// Steps, in order.
    pub steps: Vec<StepPlan>,
    /// How deep the film lies.
    pub burial: Burial,
    /// Film that one cup uses.
    pub films: Vec<FilmLine>,
    /// What the whole order takes.
    pub buy: Vec<BuyLine>,
    /// Hands-on time of the whole order.
    #[serde(rename = "hands_on_min")]
    pub hands_on: Minutes,
    /// What the hours of work lie between in 80 of 100 cases, where a bench log says how sure they are.
    #[serde(rename = "work_80_percent_min", skip_serializing_if = "Option::is_none")]
    pub work_between: Option<(Minutes, Minutes)>,
    /// Base disc, its parts as pieces of the plan.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub base: Option<BaseDisc>,
    /// Calendar, if the job says when it starts.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub calendar: Option<Calendar>,
    /// Cost and price, if the job gives prices.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub costing: Option<Costing>,
    /// Words on the cup for the customer to check: those that the job names, then those of its decals.
    pub spelling: Vec<String>,
    /// Rates used and what they stand on.
    pub rates: Vec<RateLine>,
    /// Cautions of all steps, the first first; steps name them by id.
    pub cautions: Vec<&'static Caution>,
}

/// Thickness that this job's coats put on the bare wall before its first film, from the cup as measured.
pub fn under_film(job: &Job, cup: &Cup) -> Mm {
    let Some(spec) = &job.finish else { return Mm::ZERO };
    // Film used does not matter to what lies under it; bands that are off the wall are told later.
    let spec = without_lost_bands(spec, cup, &mut Diagnostics::new());
    coat::under_film(&coat::steps(job, &spec, cup, (&BTreeMap::new(), &[])))
}

/// Plans the finishing of a job whose pieces and sheets are known. Never fails: what could not be planned is
/// left out and a fault says why.
///
/// A job that says nothing of finishing gets the usual plan, and only what could spoil it is told.
pub fn finish(
    job: &Job,
    cup: &Cup,
    pieces: &[Piece],
    film: &LaidFilm<'_>,
    base: Option<BaseDisc>,
    diagnostics: &mut Diagnostics,
) -> Finish {
    let made = Decorated { job, cup, pieces, film };
    match &job.finish {
        Some(spec) => planned(&made, spec, base, diagnostics),
        None => {
            let mut all = Diagnostics::new();
            let cups = film.pieces.cups;
            let finish = planned(&made, &FinishSpec { cups, ..FinishSpec::default() }, base, &mut all);
            diagnostics.extend(all.into_vec().into_iter().filter(|d| d.severity != Severity::Note));
            finish
        }
    }
}

/// Film as it is laid out: for one cup, or for all cups of an order.
#[derive(Clone, Copy, Debug)]
pub struct LaidFilm<'a> {
    /// The pieces.
    pub pieces: CupPieces<'a>,
    /// The sheets that hold them.
    pub sheets: &'a [SheetLayout],
    /// Sheets of other numbers of cups that a price is asked for; none where film is laid out for one cup.
    pub quantities: &'a BTreeMap<u32, Vec<SheetLayout>>,
}

/// No other numbers of cups.
static NONE: BTreeMap<u32, Vec<SheetLayout>> = BTreeMap::new();

impl<'a> LaidFilm<'a> {
    /// Of one cup.
    pub fn of_one(pieces: &'a [Piece], sheets: &'a [SheetLayout]) -> LaidFilm<'a> {
        LaidFilm { pieces: CupPieces::of_one(pieces), sheets, quantities: &NONE }
    }
    /// Film used by number of cups; none where film is laid out for one cup.
    fn by_cups(&self, job: &Job) -> BTreeMap<u32, BTreeMap<FilmId, coat::FilmUse>> {
        let mut out = BTreeMap::new();
        if job.order.is_none() {
            return out;
        }
        let all = &self.pieces;
        for (&cups, sheets) in self.quantities {
            let own: Vec<Vec<Piece>> = all.own.iter().cycle().take(cups as usize).cloned().collect();
            let pieces = CupPieces { shared: all.shared, own: &own, cups, panels: all.panels };
            out.insert(cups, coat::film_use(&pieces, sheets));
        }
        out.insert(all.cups, coat::film_use(all, self.sheets));
        out
    }
}

/// What is on the cup when the finishing begins.
struct Decorated<'a> {
    job: &'a Job,
    cup: &'a Cup,
    pieces: &'a [Piece],
    film: &'a LaidFilm<'a>,
}

fn planned(
    made: &Decorated<'_>,
    spec: &FinishSpec,
    base: Option<BaseDisc>,
    diagnostics: &mut Diagnostics,
) -> Finish {
    let Decorated { job, cup, pieces, film } = *made;
    let used = coat::film_use(&film.pieces, film.sheets);
    let by_cups = film.by_cups(job);
    let spec = &without_lost_bands(spec, cup, diagnostics);
    let steps = coat::steps(job, spec, cup, (&used, &passes::used(job, spec, &film.pieces, film.sheets)));
    let developments: Vec<_> = cup.zones.iter().map(|z| &z.development).collect();
    let stack = passes::highest(job, spec, &steps, pieces, &developments, diagnostics);
    let burial = order::burial(spec, &steps, stack, diagnostics);
    let under = coat::under_film(&steps);
    if coat::on_wall(pieces).next().is_some() {
        order::surface(&steps, cup, job.cup.build_up, job.cup.tape, diagnostics);
        let wall: BTreeSet<FilmId> = coat::on_wall(pieces).map(|p| p.film).collect();
        let names: Vec<(usize, String)> = wall.iter().map(|f| (f.0, job.films[f.0].name.clone())).collect();
        order::film_steps(spec, &names, diagnostics);
    }
    let load = schedule::loads(spec.cups, spec.times.seats.value).first().copied().unwrap_or(1);
    rules::check(spec, &steps, load, diagnostics);
    order::disc_step(spec, diagnostics);
    order::products(spec, &steps, load, diagnostics);
    bands_at_rim(job, spec, cup, diagnostics);
    notes(job, spec, cup, &steps, diagnostics);
    let calendar = calendar(spec, &steps, load, diagnostics);
    let input = cost::Inputs { job, spec, plan: &steps, films: &used, by_cups: &by_cups };
    let costing = spec.price.as_ref().and_then(|p| cost::costing(&input, p, diagnostics));
    Finish {
        cups: spec.cups,
        volumes: spec.volumes,
        surfaces: surfaces(job, spec, cup, under),
        bands: spec.bands.iter().map(|b| band_plan(b, cup)).collect(),
        hands_on: Minutes(cost::minutes(spec, &steps, spec.cups)),
        work_between: learn::work(spec, &cost::by_kind(spec, &steps, spec.cups), spec.times.order.value.0),
        cautions: cautions(&steps),
        spelling: spelling(job, spec),
        rates: rates::rates(
            spec,
            &steps,
            [used.values().any(|u| u.panels > 0), used.values().any(|u| u.gathered > 0)],
        ),
        films: film_lines(job, &used),
        buy: buy::list(&input),
        steps,
        burial,
        base,
        calendar,
        costing,
    }
}

/// Bands are held to the wall here, where it is known; one that is not on it is cut to it, and a fault says
/// so.
fn without_lost_bands(spec: &FinishSpec, cup: &Cup, diagnostics: &mut Diagnostics) -> FinishSpec {
    let mut spec = spec.clone();
    let wall = cup.wall();
    for (i, b) in spec.bands.iter_mut().enumerate() {
        if b.to > wall {
            diagnostics.push(
                Diagnostic::fault(
                    &BAND,
                    KeyPath::of("finish.band").index(i).key("to"),
                    format!("band {} reaches over the rim", b.name),
                )
                .measured(b.to)
                .allowed(format!("at most {wall}, the length of the wall"))
                .help("lower its upper edge"),
            );
            b.to = wall;
            b.from = b.from.min(wall);
            (b.fade_low, b.fade_high) = (Mm::ZERO, Mm::ZERO);
        }
    }
    spec
}

/// Each text once, line by line.
fn spelling(job: &Job, spec: &FinishSpec) -> Vec<String> {
    let lines = job.decals.iter().filter_map(|d| match &d.shows {
        Shows::Words { words, .. } => Some(words.lines.iter()),
        Shows::Drawing { .. } => None,
    });
    let mut out: Vec<String> = Vec::new();
    for text in spec.spelling.iter().chain(lines.flatten()) {
        if !text.trim().is_empty() && !out.contains(text) {
            out.push(text.clone());
        }
    }
    out
}

fn surfaces(job: &Job, spec: &FinishSpec, cup: &Cup, under: Mm) -> Surfaces {
    let across = spec.base.as_ref().and_then(|b| b.across);
    Surfaces {
        wall: cup.lateral_area(),
        coated: surface::band_area(&cup.bare(), Mm::ZERO, cup.wall() - job.cup.keep_clear.rim),
        zone: cup.free_area(),
        base: surface::base_area(cup.lowest().measured.lower, across),
        under_film: under,
        of_layout: job.cup.build_up,
        growth: cup.growth(job.cup.build_up),
    }
}

fn band_plan(band: &crate::read::job::finish::ColourBand, cup: &Cup) -> BandPlan {
    BandPlan {
        name: band.name.clone(),
        covered: surface::covered_area(&cup.bare(), band),
        rings: surface::guide_rings(&cup.bare(), band),
    }
}

fn film_lines(job: &Job, used: &BTreeMap<FilmId, FilmUse>) -> Vec<FilmLine> {
    used.iter().map(|(f, &used)| FilmLine { film: job.films[f.0].name.clone(), used }).collect()
}

fn cautions(steps: &[StepPlan]) -> Vec<&'static Caution> {
    let shown = |c: &&Caution| steps.iter().any(|s| s.cautions.iter().any(|d| d.id == c.id));
    caution::ALL.into_iter().filter(|c| c.id == caution::FIRST.id || shown(c)).collect()
}

fn calendar(
    spec: &FinishSpec,
    steps: &[StepPlan],
    load: u32,
    diagnostics: &mut Diagnostics,
) -> Option<Calendar> {
    let tasks = coat::tasks(steps);
    let Some(start) = spec.times.start else {
        // A window that no working hours meet is a fault whenever the work begins.
        schedule::possible(&tasks, load, &spec.times, diagnostics);
        diagnostics.push(
            Diagnostic::note(&NO_START, KeyPath::of("finish.times.start"), "no calendar is made")
                .help("write start = \"2026-09-01 09:00\" under [finish.times]"),
        );
        return None;
    };
    let calendar = schedule::schedule(&tasks, spec.cups, &spec.times, start, diagnostics)?;
    if let Some(due) = spec.times.due.filter(|d| calendar.finished.day() > *d) {
        diagnostics.push(
            Diagnostic::warning(
                &schedule::LATE,
                KeyPath::of("finish.times.due"),
                "the order is not ready when it is due",
            )
            .measured(format!("ready {}", calendar.finished))
            .allowed(format!("by the end of {due}"))
            .help("start earlier, lengthen the hours, or agree on a later date"),
        );
    }
    Some(calendar)
}

/// Bands that coats and glitters are put on, and that reach into the rim's keep-clear band.
fn bands_at_rim(job: &Job, spec: &FinishSpec, cup: &Cup, diagnostics: &mut Diagnostics) {
    let top = cup.wall() - job.cup.keep_clear.rim;
    for (i, b) in spec.bands.iter().enumerate().filter(|(_, b)| b.to > top + crate::base::tolerance::MEASURE)
    {
        let used = |s: &StepSpec| {
            !s.done
                && (s.over == Over::ColourBand(i) || s.glitters.iter().any(|g| g.over == Over::ColourBand(i)))
        };
        if spec.steps.iter().any(used) && b.to <= cup.wall() {
            diagnostics.push(
                Diagnostic::warning(
                    &BAND_RIM,
                    KeyPath::of("finish.band").index(i).key("to"),
                    format!("band {} reaches into the band that is kept free at the rim", b.name),
                )
                .measured(format!("up to {:.1}", b.to))
                .allowed(format!("at most {top:.1}"))
                .help("lower its upper edge: no coat seals it there"),
            );
        }
    }
}

fn notes(job: &Job, spec: &FinishSpec, cup: &Cup, steps: &[StepPlan], diagnostics: &mut Diagnostics) {
    if !job.cup.handles.is_empty() {
        diagnostics.push(
            Diagnostic::note(&HANDLE, KeyPath::of("cup.handle"), "the handle's own surface is not counted")
                .help("raise finish.loss or give the volume of the coats if the handle is coated too"),
        );
    }
    let film = spec.film_steps().next().map(|s| s.0);
    for (i, s) in spec.steps.iter().enumerate().take(film.unwrap_or(0)) {
        let Over::ColourBand(b) = s.over else { continue };
        let band = &spec.bands[b];
        let lifts = cup.growth(steps[i].thickness);
        // What a tape cannot tell from the layout's own surface is no matter.
        let told = lifts > (job.cup.tape * 0.5).max(crate::base::tolerance::SAME_SURFACE);
        if told && !s.done && band.from < cup.highest().zone.high && band.to > cup.lowest().zone.low {
            diagnostics.push(
                Diagnostic::note(
                    &LIFTED,
                    coat::step_path(i),
                    format!("band {} lies under the film", band.name),
                )
                .measured(format!("{lifts:.2} longer round there"))
                .help("keep large pieces off the band's edges, or level the wall with clear coats first"),
            );
        }
    }
}

#[cfg(test)]
pub(crate) mod test_help;
#[cfg(test)]
mod tests;
