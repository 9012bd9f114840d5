//! How a step is done on the bench: what keeps a coat level, clean and clear, each line at the step where it belongs.
//!
//! Common practice unless a line names a source by title; the product's data sheet comes before all of it.
//!
//! Imports: read::job.

use crate::read::job::finish::{ProductKind, StepKind};

/// One line of advice.
#[derive(Debug, PartialEq, Eq)]
pub struct Practice {
    /// Short name.
    pub id: &'static str,
    /// What to do, in plain words.
    pub text: &'static str,
    /// Where to read on, by title.
    pub source: &'static str,
}

const COMMON: &str = "common practice, no source";
const SHEET: &str = "Product data sheet of the resin: mixing, application, curing";

macro_rules! lines {
    ($($name:ident $id:literal $source:expr, $text:literal;)*) => {
        $(#[doc = $id] pub const $name: Practice = Practice { id: $id, text: $text, source: $source };)*
        /// All of them.
        pub const ALL: &[&Practice] = &[$(&$name),*];
    };
}
lines! {
    LEVEL "level" COMMON, "Level the turner with a spirit level before you mix: on a slope the coat runs to one end.";
    TAPE "tape" COMMON, "Tape off the rim and the inside first. Pull the tape while the coat is still soft, and wipe what crept under it.";
    MIX "mix" SHEET, "Mix slowly until no streaks are left, scrape sides and bottom, pour into a second cup and mix again. What stays streaky never hardens.";
    BUBBLES "bubbles" COMMON, "Pour thin, spread, and look along the light for bubbles while it is wet: prick them or use a heat gun on low, kept moving.";
    DUST "dust" COMMON, "Wipe dust off with alcohol on a lint-free cloth first; then close windows, no fan, and put a box over the turner once the bubbles are out.";
    DRIPS "drips" COMMON, "After 10, 20 and 40 minutes wipe the drips off the base edge with a gloved finger or a brush.";
    DEMOULD "demould" COMMON, "Take the cup off its mount in time: when the coat no longer flows but can still be cut. Later its edge chips off with the mount.";
    SOFT "soft-spots" SHEET, "Feel for soft spots before the next coat (gloves). They come from a wrong ratio or poor mixing and never harden: scrape them off, do not coat over them.";
    LAMP "lamp-even" COMMON, "Turn under the middle of the lamp; its ends are weaker, and a handle throws a shadow. Turn the cup end for end half-way, and test at rim, middle and base before you go on.";
    DAYLIGHT "daylight" COMMON, "Keep UV resin out of daylight until the glitter is on: a window cures it.";
    TRAYS "trays" COMMON, "Lay out trays, spoons and brushes for all glitters before the adhesive goes on. Let the grains fall from above on the turning cup; tap off, and weigh what goes back into the jar.";
    BRUSH "brush" COMMON, "Dab, do not rub: a brush that rubs takes the glitter off. Dry means clear all over, not milky.";
    PRESS "press" COMMON, "On a hard, washed and dry coat only. Press from the middle outwards; prick what holds air.";
    HARD "mark-hard" COMMON, "Only once the layer under it has hardened: on a soft one the mark sinks and shifts.";
}

/// The lines of a step, in the order in which they are needed.
pub fn at_step(kind: StepKind, product: Option<ProductKind>, on_base: bool) -> Vec<&'static Practice> {
    use StepKind::{
        Adhesive, BaseDisc, BaseMark, Clear, Cure, Film, Glitter, GlueSeal, Level, Paint, Sand, Seal, Wash,
    };
    let uv = product == Some(ProductKind::UvResin);
    let two = product.is_some_and(ProductKind::two_part);
    let mut out: Vec<&'static Practice> = match kind {
        Clear | Seal | Level if on_base => vec![&DUST],
        Clear | Seal | Level => vec![&LEVEL, &TAPE, &DUST],
        Adhesive if on_base => Vec::new(),
        Adhesive => vec![&TAPE],
        Paint => vec![&TAPE],
        Glitter => vec![&TRAYS],
        GlueSeal => vec![&BRUSH],
        Film | BaseDisc => vec![&PRESS],
        BaseMark => vec![&HARD],
        Wash | Sand | Cure => Vec::new(),
    };
    let coat = kind.is_clear() || kind == Adhesive;
    if two && coat {
        out.extend([&MIX, &BUBBLES]);
    }
    if two && kind.is_clear() {
        out.push(&SOFT);
        if !on_base {
            out.extend([&DRIPS, &DEMOULD]);
        }
    }
    if uv && matches!(kind, Adhesive | Glitter) {
        out.push(&DAYLIGHT);
    }
    if uv && (kind.is_clear() || matches!(kind, Glitter | Cure)) && !on_base {
        out.push(&LAMP);
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::read::job::keys::Worded;

    #[test]
    fn every_line_stands_at_some_step_and_says_where_it_comes_from() {
        let mut shown = Vec::new();
        for (_, kind) in StepKind::WORDS.iter().copied() {
            for (_, product) in ProductKind::WORDS.iter().copied() {
                for on_base in [false, true] {
                    shown.extend(at_step(kind, Some(product), on_base).iter().map(|p| p.id));
                }
            }
        }
        for p in ALL {
            assert!(shown.contains(&p.id), "{} is never shown", p.id);
            assert!(!p.source.is_empty() && p.text.ends_with('.'));
        }
    }

    #[test]
    fn a_wall_of_epoxy_is_told_level_tape_drips_dust_bubbles_and_when_to_take_it_off() {
        let ids: Vec<&str> =
            at_step(StepKind::Clear, Some(ProductKind::TwoPartResin), false).iter().map(|p| p.id).collect();
        for want in ["level", "tape", "drips", "dust", "bubbles", "demould", "soft-spots"] {
            assert!(ids.contains(&want), "{want} is lacking: {ids:?}");
        }
        let uv: Vec<&str> =
            at_step(StepKind::Cure, Some(ProductKind::UvResin), false).iter().map(|p| p.id).collect();
        assert_eq!(uv, ["lamp-even"], "uneven cure");
    }
}
