//! Defaults of finishing: what a product, a step and a whole job are when the job says nothing.
//!
//! All of them are common practice (no source) and meant to be edited. The thicknesses of the clear coats
//! were chosen so that the volumes of common practice come out of them, not the other way round.
//!
//! Imports: base, read::job::{nest, finish}, read::job::finish::{bench, model}.

use super::super::nest::Rates;
use super::bench::{Coarseness, Lamp};
use super::model::*;
use crate::base::moment::{DayOfWeek, Minutes};
use crate::base::units::{Grams, Ml, Mm, Mm2};

/// Default thicknesses of clear coats: on a tapered cup of 22 US fl oz with the default loss they come to the
/// 20 to 25, 15 to 20 and about 10 ml of common practice (no source).
pub mod defaults {
    use super::{Minutes, Ml, Mm, Mm2};
    /// A full clear coat.
    pub const CLEAR: Mm = Mm(0.40);
    /// A coat to seal applied film.
    pub const SEAL: Mm = Mm(0.30);
    /// A thin levelling coat.
    pub const LEVEL: Mm = Mm(0.18);
    /// Part that does not stay on the cup.
    pub const LOSS: f64 = 0.35;
    /// What may be sanded off the last coat.
    pub const SANDING: Mm = Mm(0.15);
    /// Smallest batch mixed.
    pub const BATCH: Ml = Ml(10.0);
    /// Hours the resin needs on the turner.
    pub const TURNING: Minutes = Minutes::hours(5);
    /// Seconds under a UV lamp for an area that it lights all at once (3 to 4 minutes for a base).
    pub const LAMP_S: f64 = 210.0;
    /// What a lamp lights at once: chosen so that the whole wall of a 22 US fl oz cup takes 20 to 30 minutes.
    pub const LIGHTS: Mm2 = Mm2(5000.0);
    /// Weight of glitter stirred into a coat, as a part of the coat's.
    pub const STIRRED: f64 = 0.10;
    /// Minutes to sprinkle each further glitter of a list.
    pub const ANOTHER: u32 = 3;
}

/// A product of a kind with everything at its default.
pub fn usual_product(kind: ProductKind, name: &str) -> Product {
    use ProductKind::{Glitter, Glue, IsocyanateClear, Paint, TwoPartResin, UvResin};
    let h = Minutes::hours;
    let two = MixSpec {
        a: usual(1.0),
        b: usual(1.0),
        density_a: usual(1.13),
        density_b: usual(1.0),
        tolerance: usual(0.02),
        volume_step: usual(Ml(1.0)),
        weight_step: usual(Grams(0.1)),
    };
    // Turning, earliest next coat, latest next coat, hard, cured.
    let (turning, from, until, hard, cured) = match kind {
        TwoPartResin | IsocyanateClear => (defaults::TURNING, h(8), Some(h(24)), h(24), Minutes::days(5)),
        UvResin => (Minutes(25), Minutes(25), None, Minutes(30), h(24)),
        Paint => (Minutes(0), h(1), None, h(4), h(24)),
        Glue => (Minutes(0), h(2), None, h(4), h(24)),
        Glitter => (Minutes(0), Minutes(0), None, h(2), h(24)),
    };
    let density = match kind {
        TwoPartResin | IsocyanateClear | UvResin => 1.1,
        Paint => 1.2,
        Glue => 1.05,
        Glitter => 1.4,
    };
    // How long glitter still sticks: glue skins over; UV resin waits for the lamp, but runs and takes dust.
    let open = match kind {
        UvResin => h(1),
        TwoPartResin | IsocyanateClear => Minutes(45),
        Paint | Glue | Glitter => Minutes(15),
    };
    let lamp = Lamp { small: usual(defaults::LAMP_S), lights: usual(defaults::LIGHTS) };
    Product {
        name: name.to_owned(),
        kind,
        mix: kind.two_part().then_some(two),
        density: usual(density),
        smallest: usual(if kind.two_part() { defaults::BATCH } else { Ml::ZERO }),
        pot_life: kind.two_part().then_some(usual(Minutes(30))),
        turning: usual(turning),
        recoat_from: usual(from),
        recoat_until: until.map(usual),
        hard_after: usual(hard),
        cured_after: usual(cured),
        open: usual(open),
        lamp: (kind == UvResin).then_some(lamp),
        grain: Coarseness::Fine,
        pack: None,
        named: false,
    }
}

/// A step of a kind with everything at its default; the product is the caller's to choose.
pub fn usual_step(kind: StepKind) -> StepSpec {
    use StepKind::{
        Adhesive, BaseDisc, BaseMark, Clear, Cure, Film, Glitter, GlueSeal, Level, Paint, Sand, Seal, Wash,
    };
    let dose = match kind {
        Clear => Some(Dose::Thickness(usual(defaults::CLEAR))),
        Seal => Some(Dose::Thickness(usual(defaults::SEAL))),
        Level => Some(Dose::Thickness(usual(defaults::LEVEL))),
        Paint => Some(Dose::PerArea(usual(Grams(1.2)))),
        Adhesive => Some(Dose::PerArea(usual(Grams(1.0)))),
        Glitter => Some(Dose::PerArea(usual(Grams(2.5)))),
        GlueSeal => Some(Dose::PerArea(usual(Grams(1.0)))),
        Wash | Sand | Film | BaseDisc | BaseMark | Cure => None,
    };
    let layer = match kind {
        Paint => Mm(0.04),
        Adhesive | GlueSeal => Mm(0.03),
        Glitter => Mm(0.20),
        _ => Mm::ZERO,
    };
    // Minutes once a load, minutes a cup.
    let (set_up, each) = match kind {
        Wash => (5, 3),
        Sand => (5, 12),
        Paint => (10, 6),
        Adhesive => (5, 5),
        Glitter => (10, 6),
        GlueSeal => (5, 5),
        Clear | Seal => (12, 8),
        Level => (12, 6),
        Film => (0, 0),
        BaseDisc => (3, 4),
        BaseMark => (3, 2),
        Cure => (0, 0),
    };
    StepSpec {
        kind,
        product: None,
        dose,
        layer: usual(layer),
        over: Over::Wall,
        cover: usual(1.0),
        glitters: Vec::new(),
        water: usual(if kind == GlueSeal { 1.0 } else { 0.0 }),
        mixes: None,
        batch: None,
        stirred: None,
        loss: None,
        set_up: usual(Minutes(set_up)),
        each: usual(Minutes(each)),
        wait: None,
        films: Vec::new(),
        name: None,
        done: false,
    }
}

/// The kind of product that a step uses when the job names none.
pub fn product_kind_of(step: StepKind) -> Option<ProductKind> {
    match step {
        StepKind::Paint => Some(ProductKind::Paint),
        StepKind::Adhesive | StepKind::GlueSeal => Some(ProductKind::Glue),
        StepKind::Glitter => Some(ProductKind::Glitter),
        StepKind::Clear | StepKind::Seal | StepKind::Level => Some(ProductKind::TwoPartResin),
        StepKind::Wash
        | StepKind::Sand
        | StepKind::Film
        | StepKind::BaseDisc
        | StepKind::BaseMark
        | StepKind::Cure => None,
    }
}

impl Default for Times {
    fn default() -> Times {
        let week = &DayOfWeek::ALL[..5];
        let hours = week.iter().map(|&day| WorkSpan { day, from: 9 * 60, to: 18 * 60 }).collect();
        Times {
            start: None,
            hours: usual(hours),
            off: Vec::new(),
            due: None,
            seats: usual(1),
            weed_s: usual(10.0),
            place_s: usual(25.0),
            panel_s: usual(90.0),
            gather_s: usual(45.0),
            sheet: usual(Minutes(10)),
            order: usual(Minutes(45)),
            abrade: usual(Minutes(15)),
        }
    }
}

impl Times {
    /// Seconds to weed a piece and an opening of a film: as finish.times says or a bench log teaches, else as the
    /// film's own cutter says, else as is usual. One source for account and weeding pictures.
    pub fn weeding(&self, own: &Rates) -> (f64, f64) {
        let said = self.weed_s.basis != Basis::CommonPractice;
        if own.weed_said && !said { (own.weed_piece, own.weed_opening) } else { (self.weed_s.value, 0.0) }
    }
}

/// The usual steps: film on the bare blank, sealed, one full coat and one thin coat over it, the disc, cured.
pub const FILM_ON_BARE_CUP: [StepKind; 7] = {
    use StepKind::{BaseDisc, Clear, Cure, Film, Level, Seal, Wash};
    [Wash, Film, Seal, Clear, Level, BaseDisc, Cure]
};

impl Default for FinishSpec {
    /// [`FILM_ON_BARE_CUP`] without a disc: no build-up under the film.
    fn default() -> FinishSpec {
        let mut spec = FinishSpec::empty();
        for kind in FILM_ON_BARE_CUP.into_iter().filter(|k| *k != StepKind::BaseDisc) {
            spec.add_step(usual_step(kind));
        }
        spec
    }
}

impl Product {
    /// Grams in a millilitre as it is put on, both parts together.
    pub fn mixed_density(&self) -> f64 {
        self.mix.as_ref().map_or(self.density.value, |m| {
            let (a, b) = (m.a.value, m.b.value);
            (a * m.density_a.value + b * m.density_b.value) / (a + b)
        })
    }
}

impl FinishSpec {
    /// One cup, nothing done to it yet, everything else at its default.
    pub fn empty() -> FinishSpec {
        FinishSpec {
            cups: 1,
            volumes: VolumeUnit::Ml,
            loss: usual(defaults::LOSS),
            sanding_margin: usual(defaults::SANDING),
            products: Vec::new(),
            steps: Vec::new(),
            bands: Vec::new(),
            times: Times::default(),
            base: None,
            price: None,
            quote: None,
            spelling: Vec::new(),
            log: Vec::new(),
            learned: Vec::new(),
        }
    }
    /// Appends a step; if it needs a product and has none, gives it the first of its kind, assuming one if
    /// need be.
    pub fn add_step(&mut self, mut step: StepSpec) {
        if step.product.is_none()
            && step.glitters.is_empty()
            && let Some(kind) = product_kind_of(step.kind)
        {
            step.product = Some(self.product_of(kind));
        }
        self.steps.push(step);
    }
    fn product_of(&mut self, kind: ProductKind) -> ProductId {
        let clear = [ProductKind::TwoPartResin, ProductKind::UvResin, ProductKind::IsocyanateClear];
        let fits = |k: ProductKind| k == kind || (clear.contains(&kind) && clear.contains(&k));
        if let Some(i) = self.products.iter().position(|p| fits(p.kind)) {
            return ProductId(i);
        }
        let name = match kind {
            ProductKind::TwoPartResin => "two-part clear resin",
            ProductKind::UvResin => "UV clear resin",
            ProductKind::IsocyanateClear => "two-part clear coat",
            ProductKind::Paint => "paint",
            ProductKind::Glue => "glue",
            ProductKind::Glitter => "glitter",
        };
        self.products.push(usual_product(kind, name));
        ProductId(self.products.len() - 1)
    }
    /// What a glitter step's adhesive is: the step of the nearest adhesive before it with nothing but glitter
    /// between.
    pub fn adhesive_under(&self, glitter: usize) -> Option<usize> {
        let under = self.steps[..glitter].iter().rposition(|s| s.kind != StepKind::Glitter)?;
        (self.steps[under].kind == StepKind::Adhesive).then_some(under)
    }
    /// The product whose hardening a step waits for: of glitter, its adhesive's; of curing, the coat's under it.
    pub fn hardens(&self, step: usize) -> Option<&Product> {
        match self.steps[step].kind {
            StepKind::Glitter => self
                .adhesive_under(step)
                .map_or_else(|| self.product(&self.steps[step]), |a| self.product(&self.steps[a])),
            StepKind::Cure => {
                let coat = self.steps[..step].iter().rposition(|s| s.kind.is_coat())?;
                self.hardens(coat)
            }
            _ => self.product(&self.steps[step]),
        }
    }
    /// The product of a step.
    pub fn product(&self, step: &StepSpec) -> Option<&Product> {
        step.product.map(|ProductId(i)| &self.products[i])
    }
}
