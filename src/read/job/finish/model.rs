//! What a job says about finishing: steps in order, products, bands, base, hours and prices.
//!
//! Every rate is a [`Rate`]: a value and the [`Basis`] it stands on, so that the maker's sheet can say which
//! numbers are the maker's own and which are common practice. Defaults marked so have no source; they are
//! meant to be edited.
//!
//! Imports: base, read::job::{keys, model}, read::job::finish::bench.

use super::super::keys::Worded;
use super::super::model::FilmId;
pub use super::bench::*;
use crate::base::moment::{Day, DayOfWeek, Minutes, Moment};
use crate::base::money::{Money, Share};
use crate::base::units::{Grams, Ml, Mm};
use serde::Serialize;
use std::collections::BTreeMap;

/// Most cups of an order.
pub(super) const MOST_CUPS: u64 = 500;

/// A rate learned from a bench log: a factor on common practice; of pieces spoilt and cups lost, the part itself.
#[derive(Clone, Debug, PartialEq)]
pub struct LearnedRate {
    /// What was logged.
    pub event: Event,
    /// Of which kind of step.
    pub kind: Option<StepKind>,
    /// With which product; empty: any.
    pub product: String,
    /// The middle.
    pub value: f64,
    /// Below it in one case of ten.
    pub low: f64,
    /// Above it in one case of ten.
    pub high: f64,
    /// From how many entries; of parts, of how many pieces or cups.
    pub entries: usize,
}

/// Everything a job says about finishing.
#[derive(Clone, Debug, PartialEq)]
pub struct FinishSpec {
    /// Good cups ordered.
    pub cups: u32,
    /// Part of a mixed coating that does not stay on the cup (drips, brush, mixing cup); 0 to under 1.
    pub loss: Rate<f64>,
    /// In what volumes are told beside millilitres.
    pub volumes: VolumeUnit,
    /// What may be sanded off the last coat without reaching film.
    pub sanding_margin: Rate<Mm>,
    /// Coatings and powders.
    pub products: Vec<Product>,
    /// What is done, in order.
    pub steps: Vec<StepSpec>,
    /// Colour and glitter bands.
    pub bands: Vec<ColourBand>,
    /// Hours and work rates.
    pub times: Times,
    /// The disc on the base, if there is one.
    pub base: Option<BaseSpec>,
    /// Prices; without them there is no cost and no quote.
    pub price: Option<PriceSpec>,
    /// The head and the words of the quote.
    pub quote: Option<QuoteSpec>,
    /// Words on the cup that the customer is to check letter by letter.
    pub spelling: Vec<String>,
    /// Bench logs beside the job.
    pub log: Vec<String>,
    /// What they teach, once they are read.
    pub learned: Vec<LearnedRate>,
}

/// What kind of product; decides cautions and how it is measured out.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum ProductKind {
    /// Resin and hardener, mixed by the maker.
    TwoPartResin,
    /// One-part resin hardened by a UV lamp.
    UvResin,
    /// Two-part clear coat hardened by an isocyanate: not for a home workshop.
    IsocyanateClear,
    /// Paint or ink.
    Paint,
    /// Glue, also glue thinned with water.
    Glue,
    /// Glitter and other powder.
    Glitter,
}

impl ProductKind {
    /// Are two parts mixed?
    pub fn two_part(self) -> bool {
        matches!(self, ProductKind::TwoPartResin | ProductKind::IsocyanateClear)
    }
}

/// How two parts are mixed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MixSpec {
    /// Parts of A by volume.
    pub a: Rate<f64>,
    /// Parts of B by volume.
    pub b: Rate<f64>,
    /// Grams per millilitre of A.
    pub density_a: Rate<f64>,
    /// Grams per millilitre of B.
    pub density_b: Rate<f64>,
    /// How far the ratio may be off after rounding to what the maker can measure, as a part (0.02 is 2
    /// percent).
    pub tolerance: Rate<f64>,
    /// Smallest step of the measuring cup.
    pub volume_step: Rate<Ml>,
    /// Smallest step of the scale.
    pub weight_step: Rate<Grams>,
}

/// How much a bought pack holds.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Content {
    /// By volume, both parts together.
    Volume(Ml),
    /// By weight.
    Weight(Grams),
}

/// A coating or powder.
#[derive(Clone, Debug, PartialEq)]
pub struct Product {
    /// Its name in the job.
    pub name: String,
    /// What kind.
    pub kind: ProductKind,
    /// How its two parts are mixed, if it has two.
    pub mix: Option<MixSpec>,
    /// Grams per millilitre of a one-part product.
    pub density: Rate<f64>,
    /// Smallest amount that may be mixed or poured out at once.
    pub smallest: Rate<Ml>,
    /// How long a mixed batch can be worked.
    pub pot_life: Option<Rate<Minutes>>,
    /// How long the cup must keep turning.
    pub turning: Rate<Minutes>,
    /// Earliest next coat, after this one was put on.
    pub recoat_from: Rate<Minutes>,
    /// Latest next coat without washing and abrading first, after this one was put on.
    pub recoat_until: Option<Rate<Minutes>>,
    /// When it can be sanded or take film, after it was put on.
    pub hard_after: Rate<Minutes>,
    /// When the cup can be used, after it was put on.
    pub cured_after: Rate<Minutes>,
    /// How long glitter sticks to it, where it is used as an adhesive.
    pub open: Rate<Minutes>,
    /// The lamp that hardens it, if one does and no time on the turner is said.
    pub lamp: Option<Lamp>,
    /// How coarse it is, if it is glitter.
    pub grain: Coarseness,
    /// Price of a pack and what it holds.
    pub pack: Option<(Money, Content)>,
    /// Named in the job, not assumed.
    pub named: bool,
}

/// What is done in a step.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum StepKind {
    /// Wash and degrease.
    Wash,
    /// Sand, or abrade a bare blank.
    Sand,
    /// Paint.
    Paint,
    /// Glue that glitter falls on.
    Adhesive,
    /// Glitter.
    Glitter,
    /// Glue and water over glitter.
    GlueSeal,
    /// A full clear coat.
    Clear,
    /// A clear coat to seal applied film.
    Seal,
    /// A thin clear coat that levels.
    Level,
    /// Film goes on.
    Film,
    /// The base disc goes on.
    BaseDisc,
    /// The maker's mark goes on the base, over a coat.
    BaseMark,
    /// Left to harden through.
    Cure,
}

impl StepKind {
    /// Its name in the job.
    pub fn name(self) -> &'static str {
        self.word()
    }
    /// A clear coat of any thickness?
    pub fn is_clear(self) -> bool {
        matches!(self, StepKind::Clear | StepKind::Seal | StepKind::Level)
    }
    /// Leaves a layer on the wall?
    pub fn is_coat(self) -> bool {
        self.is_clear()
            || matches!(self, StepKind::Paint | StepKind::Adhesive | StepKind::Glitter | StepKind::GlueSeal)
    }
}

/// One step.
#[derive(Clone, Debug, PartialEq)]
pub struct StepSpec {
    /// What is done.
    pub kind: StepKind,
    /// What with.
    pub product: Option<ProductId>,
    /// How much.
    pub dose: Option<Dose>,
    /// Thickness of the dry layer where the dose does not say it (powder, paint by weight).
    pub layer: Rate<Mm>,
    /// Where.
    pub over: Over,
    /// Part of that place that is covered, or of a full cover.
    pub cover: Rate<f64>,
    /// Several glitters on one wet adhesive, in the order in which they fall; then the step has no product.
    pub glitters: Vec<GlitterSpec>,
    /// Parts of water to one of glue, by volume.
    pub water: Rate<f64>,
    /// Mixed at once for a load, where that is more than it needs.
    pub mixes: Option<Rate<Ml>>,
    /// The batch that it shares with other steps of this name.
    pub batch: Option<String>,
    /// Glitter stirred into the coat.
    pub stirred: Option<Stirred>,
    /// Loss of this step, if it differs from the job's.
    pub loss: Option<Rate<f64>>,
    /// Hands-on time to set up, once a load.
    pub set_up: Rate<Minutes>,
    /// Hands-on time for each cup.
    pub each: Rate<Minutes>,
    /// Waiting time before the next step, if it differs from the product's.
    pub wait: Option<Rate<Minutes>>,
    /// Films of a film step; empty: all that no other step names.
    pub films: Vec<FilmId>,
    /// What a film step is called by what goes on in it.
    pub name: Option<String>,
    /// Already on the cup when it was measured: adds no build-up, no time, no cost.
    pub done: bool,
}

impl FinishSpec {
    /// The steps in which film goes on, in order, each with its place among all.
    pub fn film_steps(&self) -> impl Iterator<Item = (usize, &StepSpec)> {
        self.steps.iter().enumerate().filter(|(_, s)| s.kind == StepKind::Film)
    }
}

/// A colour or glitter band by height, fading out at its edges.
#[derive(Clone, Debug, PartialEq)]
pub struct ColourBand {
    /// What it is called.
    pub name: String,
    /// Lower edge, up the wall.
    pub from: Mm,
    /// Upper edge.
    pub to: Mm,
    /// Within the band, above its lower edge: the cover grows evenly from nothing to full.
    pub fade_low: Mm,
    /// Within the band, below its upper edge.
    pub fade_high: Mm,
    /// Its colour in pictures; without one they do not show it.
    pub colour: Option<crate::read::job::Rgb>,
}

impl ColourBand {
    /// How much of it there is at a height, 0 to 1: within its fades as much as the distance from its edge is of them.
    pub fn cover(&self, up: Mm) -> f64 {
        let edge = |inside: f64, fade: f64| {
            if fade > 0.0 { (inside / fade).clamp(0.0, 1.0) } else { f64::from(u8::from(inside >= 0.0)) }
        };
        edge((up - self.from).0, self.fade_low.0).min(edge((self.to - up).0, self.fade_high.0))
    }
}

/// A span of working time.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct WorkSpan {
    /// Day of the week.
    pub day: DayOfWeek,
    /// Minutes after midnight.
    pub from: u32,
    /// Minutes after midnight, later than `from`.
    pub to: u32,
}

/// Hours and work rates.
#[derive(Clone, Debug, PartialEq)]
pub struct Times {
    /// When work can begin; without it there is no calendar.
    pub start: Option<Moment>,
    /// Working hours of a week, no two overlapping.
    pub hours: Rate<Vec<WorkSpan>>,
    /// Days off.
    pub off: Vec<Day>,
    /// When the order must be ready.
    pub due: Option<Day>,
    /// How many cups the turner holds.
    pub seats: Rate<u32>,
    /// Seconds to weed a piece.
    pub weed_s: Rate<f64>,
    /// Seconds to place a piece.
    pub place_s: Rate<f64>,
    /// Seconds to lay a panel.
    pub panel_s: Rate<f64>,
    /// Seconds to take a film of a gathered panel up onto its carrier.
    pub gather_s: Rate<f64>,
    /// Minutes to load, cut and unload a sheet.
    pub sheet: Rate<Minutes>,
    /// Minutes once an order: measuring, layout, talking to the customer.
    pub order: Rate<Minutes>,
    /// Minutes a cup to wash and abrade when a recoat window was missed.
    pub abrade: Rate<Minutes>,
}

/// The disc on the base.
#[derive(Clone, Debug, PartialEq)]
pub struct BaseSpec {
    /// Measured across the flat of the base; else taken from the wall's girth at the base edge.
    pub across: Option<Mm>,
    /// Kept clear inside the edge of the flat.
    pub inset: Rate<Mm>,
    /// Width of the outer ring; 0: one disc.
    pub ring: Mm,
    /// Gap between ring and centre.
    pub gap: Rate<Mm>,
    /// Film of the ring; without one it is painted or sprinkled.
    pub ring_film: Option<FilmId>,
    /// Film of the centre; without one it is painted or sprinkled.
    pub centre_film: Option<FilmId>,
    /// The maker's mark.
    pub mark: Option<MarkSpec>,
}

/// The maker's mark in the middle of the base.
#[derive(Clone, Debug, PartialEq)]
pub struct MarkSpec {
    /// SVG beside the job.
    pub art: String,
    /// Longest extent of the art.
    pub size: Mm,
    /// Film left round the art: its own cut outline.
    pub border: Mm,
    /// Film it is cut from; none: it is printed.
    pub film: Option<FilmId>,
}

/// What a film costs.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FilmPrice {
    /// A square metre.
    PerSquareMetre(Money),
    /// A running metre of the roll.
    PerMetre(Money),
    /// A sheet.
    PerSheet(Money),
}

/// By what film is charged.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum FilmCharge {
    /// Whole sheets, or roll width times length: waste included.
    Bought,
    /// The area of the pieces and a share for waste.
    Pieces,
}

/// What the maker earns.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Gain {
    /// A share of the price.
    Margin(Share),
    /// A share of the cost.
    Markup(Share),
}

/// Who offers to whom, and in what words.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct QuoteSpec {
    /// The maker's name.
    pub maker: Option<String>,
    /// Her address, line by line.
    pub address: Vec<String>,
    /// The customer's name and address, line by line.
    pub customer: Vec<String>,
    /// Share of what is to pay that is paid when it is ordered.
    pub deposit: Share,
    /// The logo: an SVG beside the job.
    pub logo: Option<String>,
    /// Its text, once it is read.
    pub logo_svg: Option<Vec<u8>>,
    /// Language of the sheet, as browsers know it.
    pub language: Option<String>,
    /// Words that stand in the place of the usual ones, by key.
    pub words: BTreeMap<&'static str, String>,
}

/// Prices and rates.
#[derive(Clone, Debug, PartialEq)]
pub struct PriceSpec {
    /// ISO 4217 code, three letters.
    pub currency: String,
    /// An hour of the maker.
    pub hour: Money,
    /// A blank cup.
    pub blank: Money,
    /// Gloves, brushes, tape, mixing cups for one cup.
    pub consumables: Money,
    /// Box and padding for one cup.
    pub packing: Money,
    /// Films.
    pub films: BTreeMap<FilmId, FilmPrice>,
    /// By what film is charged.
    pub charge: FilmCharge,
    /// Share added to the area of pieces for waste.
    pub waste: Share,
    /// Rent, power, tools: share of materials and labour.
    pub overhead: Share,
    /// Share of cups that fail.
    pub reject: Share,
    /// Fee of the sale, fixed, once an order.
    pub fee_fixed: Money,
    /// Fee of the sale, share of the price.
    pub fee: Share,
    /// What the maker earns.
    pub gain: Gain,
    /// Tax added to the price.
    pub tax: Share,
    /// Prices are rounded up to a multiple of this.
    pub round_to: Money,
    /// Numbers of cups to name a price for, rising.
    pub breaks: Vec<u32>,
    /// The quote holds for so many days.
    pub valid_days: u32,
}

impl PriceSpec {
    /// Margin as a share of the price.
    pub fn margin(&self) -> Share {
        match self.gain {
            Gain::Margin(m) => m,
            Gain::Markup(m) => m.margin_of_markup(),
        }
    }
}

impl Worded for ProductKind {
    const WORDS: &'static [(&'static str, ProductKind)] = &[
        ("two-part resin", ProductKind::TwoPartResin),
        ("uv resin", ProductKind::UvResin),
        ("isocyanate clear coat", ProductKind::IsocyanateClear),
        ("paint", ProductKind::Paint),
        ("glue", ProductKind::Glue),
        ("glitter", ProductKind::Glitter),
    ];
}
impl Worded for FilmCharge {
    const WORDS: &'static [(&'static str, FilmCharge)] =
        &[("bought", FilmCharge::Bought), ("pieces", FilmCharge::Pieces)];
}
impl Worded for StepKind {
    const WORDS: &'static [(&'static str, StepKind)] = &[
        ("wash", StepKind::Wash),
        ("sand", StepKind::Sand),
        ("paint", StepKind::Paint),
        ("adhesive", StepKind::Adhesive),
        ("glitter", StepKind::Glitter),
        ("glue seal", StepKind::GlueSeal),
        ("clear coat", StepKind::Clear),
        ("seal film", StepKind::Seal),
        ("thin coat", StepKind::Level),
        ("film", StepKind::Film),
        ("base disc", StepKind::BaseDisc),
        ("base mark", StepKind::BaseMark),
        ("cure", StepKind::Cure),
    ];
}
