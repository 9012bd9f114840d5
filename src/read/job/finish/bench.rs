//! Nouns of the bench: amounts and what they stand on, places, glitters of one step, how coarse they are, lamps.
//!
//! Imports: base, read::job::keys.

use super::super::keys::Worded;
use crate::base::moment::Minutes;
use crate::base::tolerance::WHOLE_STEPS;
use crate::base::units::{Grams, Ml, Mm, Mm2};
use serde::Serialize;

/// What a number stands on.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Basis {
    /// A default of this program: common practice, no source.
    CommonPractice,
    /// Entered in the job without saying more.
    Entered,
    /// Entered in the job, from the product's data sheet.
    DataSheet,
    /// Entered in the job, measured by the maker, or computed from such a measurement.
    OwnMeasurement,
    /// Learned from the bench log, drawn towards common practice while entries are few.
    Learned,
}

impl Basis {
    /// In words.
    pub fn words(self) -> &'static str {
        match self {
            Basis::CommonPractice => "default: common practice, no source",
            Basis::Entered => "entered in the job",
            Basis::DataSheet => "product data sheet",
            Basis::OwnMeasurement => "own measurement",
            Basis::Learned => "your bench log",
        }
    }
}

/// A value and what it stands on.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Rate<T> {
    /// The value.
    pub value: T,
    /// What it stands on.
    pub basis: Basis,
}

/// A default: common practice, no source.
pub const fn usual<T>(value: T) -> Rate<T> {
    Rate { value, basis: Basis::CommonPractice }
}

/// A coating or powder by its place in `FinishSpec::products`.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct ProductId(pub usize);

/// How much is put on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Dose {
    /// So thick a layer; the volume follows.
    Thickness(Rate<Mm>),
    /// So much put on in all, loss included; the thickness follows.
    Volume(Rate<Ml>),
    /// So much to 100 cm2, stays on the cup.
    PerArea(Rate<Grams>),
    /// What the steps before it leave of the batch that it shares.
    Rest,
    /// Learned from one cup weighed before and after; over the same surface as here unless an area is given.
    Weighed {
        /// Weight of the cup before.
        before: Grams,
        /// Weight after.
        after: Grams,
        /// What was covered on it.
        area: Option<Mm2>,
    },
}

/// Where a coat goes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Over {
    /// The wall from the base edge to the rim's keep-clear band.
    Wall,
    /// A band by its place in `FinishSpec::bands`.
    ColourBand(usize),
    /// The flat of the base.
    Base,
    /// The outer ring of the base.
    BaseRing,
    /// What the ring leaves of the base.
    BaseCentre,
}

impl Over {
    /// Somewhere on the base?
    pub fn on_base(self) -> bool {
        matches!(self, Over::Base | Over::BaseRing | Over::BaseCentre)
    }
}

impl Worded for Basis {
    const WORDS: &'static [(&'static str, Basis)] = &[
        ("data sheet", Basis::DataSheet),
        ("own measurement", Basis::OwnMeasurement),
        ("common practice", Basis::CommonPractice),
        ("entered", Basis::Entered),
    ];
}
/// What a line of the bench log tells.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Event {
    /// A step was begun.
    Start,
    /// Minutes of work that a step took.
    Work,
    /// Grams that stayed on a cup.
    Weighed,
    /// Millilitres of a batch that were used up.
    Used,
    /// Pieces spoilt, of those placed.
    Spoilt,
    /// Cups lost, of those begun.
    Lost,
}

impl Worded for Event {
    const WORDS: &'static [(&'static str, Event)] = &[
        ("start", Event::Start),
        ("work", Event::Work),
        ("weighed", Event::Weighed),
        ("used", Event::Used),
        ("spoilt", Event::Spoilt),
        ("lost", Event::Lost),
    ];
}

/// In what the maker measures volumes.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum VolumeUnit {
    /// Millilitres.
    #[default]
    Ml,
    /// US fluid ounces, beside millilitres.
    UsFluidOunce,
}

impl Worded for VolumeUnit {
    const WORDS: &'static [(&'static str, VolumeUnit)] =
        &[("ml", VolumeUnit::Ml), ("us fl oz", VolumeUnit::UsFluidOunce)];
}

/// How coarse a glitter is: it decides the usual amount, how far the grains stand out, and what levels them.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Coarseness {
    /// Lies flat; one coat covers it.
    Fine,
    /// Stands out of the coat: asks for a levelling coat.
    Coarse,
}

impl Coarseness {
    /// Usual grams on 100 cm2, and how far its grains stand out; common practice, no source.
    pub fn usual(self) -> (Grams, Mm) {
        match self {
            Coarseness::Fine => (Grams(2.5), Mm(0.20)),
            Coarseness::Coarse => (Grams(4.0), Mm(0.40)),
        }
    }
}

impl Worded for Coarseness {
    const WORDS: &'static [(&'static str, Coarseness)] =
        &[("fine", Coarseness::Fine), ("coarse", Coarseness::Coarse)];
}

/// One glitter of a step that sprinkles several on one wet adhesive.
#[derive(Clone, Debug, PartialEq)]
pub struct GlitterSpec {
    /// The glitter.
    pub product: ProductId,
    /// Where it goes.
    pub over: Over,
    /// How much, where it covers fully.
    pub dose: Dose,
    /// Part of a full cover: 0.4 is a light dusting.
    pub cover: Rate<f64>,
}

/// Glitter stirred into a coat.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stirred {
    /// The glitter.
    pub product: ProductId,
    /// Its weight as a part of the coat's.
    pub part: Rate<f64>,
}

/// A UV lamp, by what it does to one product.
///
/// What hardens the product is light on each spot. A lamp that lights an area `lights` all at once hardens a
/// small area in `small`; of a larger one that turns under it each spot is lit for the part `lights / area` of
/// the time, so it takes `small * area / lights` (closed form: dose = irradiance x time).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Lamp {
    /// Seconds for an area that is lit all at once.
    pub small: Rate<f64>,
    /// Area that is lit at once.
    pub lights: Rate<Mm2>,
}

impl Lamp {
    /// Time under the lamp, rounded up to minutes.
    pub fn time(&self, area: Mm2) -> Minutes {
        let seconds = self.small.value * (area.0 / self.lights.value.0).max(1.0);
        Minutes(libm::ceil(seconds / 60.0 - WHOLE_STEPS) as u32)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::read::job::finish::ProductKind;
    use crate::read::job::finish::usual_product;

    /// Common practice, no source: 3 to 4 minutes for a small area such as a base (62 to 75 mm across), 20 to
    /// 30 for the whole wall of a 22 US fl oz cup (330 to 400 cm2) on the turner. Both come from one rate.
    #[test]
    fn one_rate_gives_the_minutes_of_the_base_and_of_the_wall() {
        let lamp = usual_product(ProductKind::UvResin, "uv").lamp.expect("a lamp");
        for across in [62.0, 68.0, 75.0] {
            let base = Mm2(std::f64::consts::PI * across * across / 4.0);
            assert!((3..=4).contains(&lamp.time(base).0), "{across}: {}", lamp.time(base));
        }
        for cm2 in [330.0, 365.0, 400.0] {
            let minutes = lamp.time(Mm2(cm2 * 100.0)).0;
            assert!((20..=30).contains(&minutes), "{cm2}: {minutes}");
        }
    }

    /// Dose = irradiance x time: twice the lit area, half the time on the turner.
    #[test]
    fn a_lamp_that_lights_twice_as_much_takes_half_the_time() {
        let mut lamp = usual_product(ProductKind::UvResin, "uv").lamp.expect("a lamp");
        lamp.small.value = 240.0;
        let area = lamp.lights.value * 6.0;
        assert_eq!(lamp.time(area), Minutes(24));
        lamp.lights.value = lamp.lights.value * 2.0;
        assert_eq!(lamp.time(area), Minutes(12));
        assert_eq!(lamp.time(Mm2(100.0)), Minutes(4), "never shorter than all at once");
    }
}
