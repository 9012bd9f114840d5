//! Cautions, each shown at the step it belongs to, with its sources by title.
//!
//! They remind; they do not replace the product's data sheet, local rules or licensed advice, and say so
//! first. Titles name where to look; nothing is quoted. All were looked up and their titles seen, except
//! those that say "from memory" or "common practice".
//!
//! Imports: read::job.

use crate::read::job::finish::{ProductKind, StepKind};
use serde::Serialize;

/// One caution.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct Caution {
    /// Short name, the same everywhere.
    pub id: &'static str,
    /// A few words for a heading.
    pub title: &'static str,
    /// What to do, in plain words.
    pub text: &'static str,
    /// Where to read on, by title.
    pub sources: &'static [&'static str],
}

/// Goes before all others.
pub const FIRST: Caution = Caution {
    id: "data-sheet-first",
    title: "Data sheet and local rules first",
    text: "The product's own data sheet and safety data sheet, local rules and licensed or official advice \
        come before anything on this sheet. Where they differ, follow them.",
    sources: &["Safety data sheet of each product (REACH, Annex II, from memory)"],
};
/// Uncured resin.
pub const RESIN: Caution = Caution {
    id: "resin-skin",
    title: "Uncured resin: keep it off the skin",
    text: "Sensitisation to epoxy resin and hardener is permanent. Wear nitrile or butyl gloves (not latex) \
        and change them when soiled, cover arms, ventilate, and wash skin with soap and water, never with \
        solvent.",
    sources: &[
        "HSE Research Report RR79, An assessment of skin sensitisation by the use of epoxy resin in the \
            construction industry",
        "EU-OSHA Facts 40, Skin sensitisers",
        "NIOSH Publication 76-152, Epoxy wise is health wise",
        "HSE, Dermatitis - Stage 4: Control risk (gloves)",
    ],
};
/// Acrylate resin hardened by light.
pub const UV_RESIN: Caution = Caution {
    id: "uv-resin-skin",
    title: "Uncured UV resin: keep it off the skin",
    text: "Acrylates sensitise for good, and part-cured resin still does. Nitrile gloves, ventilation; \
        harden all waste under the lamp before it goes in the bin.",
    sources: &["EU-OSHA Facts 40, Skin sensitisers (acrylates and methacrylates)"],
};
/// UV lamp.
pub const UV_LAMP: Caution = Caution {
    id: "uv-lamp",
    title: "UV lamp: eyes and skin",
    text: "Never look into the lamp. Shield it or wear eye protection rated for its wavelength, and cover \
        hands and arms.",
    sources: &[
        "IEC 62471-6, Photobiological safety of lamps and lamp systems, part 6: Ultraviolet lamp products",
        "Directive 2006/25/EC on artificial optical radiation",
    ],
};
/// Dust.
pub const DUST: Caution = Caution {
    id: "sanding-dust",
    title: "Sand wet, with a mask",
    text: "Sand wet so that no dust flies, wear a fitted mask (FFP2 / N95 or better) and eye protection, \
        and wipe up; dust of resin that is not cured through can sensitise.",
    sources: &[
        "HSE Research Report RR79, An assessment of skin sensitisation by the use of epoxy resin in the \
            construction industry",
        "NIOSH Publication 76-152, Epoxy wise is health wise",
    ],
};
/// Isocyanates.
pub const ISOCYANATE: Caution = Caution {
    id: "isocyanate",
    title: "Isocyanate clear coat: not at home",
    text: "Isocyanates cause asthma. Do not spray or brush them in a home workshop: leave it to a trained \
        person with air-fed protection; in the EU, training is required before use.",
    sources: &[
        "REACH, Annex XVII, entry 74: diisocyanates (Regulation (EU) 2020/1149)",
        "HSE, Safety in motor vehicle repair: Working with isocyanate paints",
    ],
};
/// Blades.
pub const BLADES: Caution = Caution {
    id: "blades",
    title: "Blades and hooks",
    text: "Cut away from the hand that holds, cap the blade and the weeding hook when they are put down, \
        and put used blades in a sharps tin.",
    sources: &["common practice, no source"],
};
/// Glitter.
pub const GLITTER: Caution = Caution {
    id: "glitter",
    title: "Glitter: eyes and lungs",
    text: "Pour low over a tray, wear a mask and glasses, and never blow off the loose glitter. Check that \
        the glitter may be sold where you are.",
    sources: &["Regulation (EU) 2023/2055, synthetic polymer microparticles (loose plastic glitter)"],
};
/// Solvents and vapours.
pub const VAPOUR: Caution = Caution {
    id: "vapour",
    title: "Cleaners, paint and glue: air and flame",
    text: "Ventilate, keep away from flames and heaters, and let cloths with solvent dry spread out in the \
        open.",
    sources: &["Safety data sheet of the product, sections 7 and 8 (from memory)"],
};
/// A flame over resin.
pub const TORCH: Caution = Caution {
    id: "torch",
    title: "Torch and heat gun: fire",
    text: "A flame over fresh resin sets alight what is near: solvent and alcohol, cloths, tape, glue, loose glitter, \
        film. Clear the bench, no solvent open, a fire blanket or extinguisher at hand; keep the flame moving, never \
        rest it, never near UV resin. Overheated resin smokes: leave the room and air it. Pricking bubbles needs no \
        flame.",
    sources: &[
        "Safety data sheet of the product, sections 5 and 7 (from memory)",
        "HSE L138, Dangerous substances and explosive atmospheres (from memory)",
    ],
};
/// Food contact.
pub const FOOD: Caution = Caution {
    id: "food-contact",
    title: "Keep rim and inside free",
    text: "No film, paint or resin inside the cup or within 20 mm of the rim unless the data sheet of the \
        cured coat says it is fit for food contact and it is cured through as the sheet asks.",
    sources: &[
        "ASTM C927, Lead and cadmium extracted from the lip and rim area of glass tumblers",
        "21 CFR 175.300, Resinous and polymeric coatings",
        "Regulation (EU) 10/2011 on plastic materials and Regulation (EC) 1895/2005 on epoxy derivatives \
            (BADGE 9 mg/kg)",
        "Canada, Glazed Ceramics and Glassware Regulations, SOR/2016-175 (the 20 mm: from memory)",
    ],
};
/// Selling, children.
pub const SELLING: Caution = Caution {
    id: "selling",
    title: "Before it is sold or given to a child",
    text: "A cup meant for a child falls under stricter rules (toys, small parts, lead, phthalates): take \
        official advice first. Mark each cup with a batch number and keep the record of products and \
        batches.",
    sources: &[
        "Regulation (EU) 2023/988 on general product safety",
        "US Consumer Product Safety Improvement Act, children's products (from memory)",
    ],
};

/// All, the first first.
pub const ALL: [&Caution; 12] = [
    &FIRST,
    &RESIN,
    &TORCH,
    &UV_RESIN,
    &UV_LAMP,
    &DUST,
    &ISOCYANATE,
    &BLADES,
    &GLITTER,
    &VAPOUR,
    &FOOD,
    &SELLING,
];

/// The cautions of a step.
pub fn at_step(kind: StepKind, product: Option<ProductKind>) -> Vec<&'static Caution> {
    let mut list: Vec<&'static Caution> = match kind {
        StepKind::Wash => vec![&VAPOUR],
        StepKind::Sand => vec![&DUST],
        StepKind::Glitter => vec![&GLITTER],
        StepKind::Film | StepKind::BaseDisc | StepKind::BaseMark => vec![&BLADES, &FOOD],
        StepKind::Cure => vec![&FOOD, &SELLING],
        _ => Vec::new(),
    };
    list.extend::<&[&Caution]>(match product {
        Some(ProductKind::TwoPartResin) => &[&RESIN],
        Some(ProductKind::UvResin) => &[&UV_RESIN, &UV_LAMP],
        Some(ProductKind::IsocyanateClear) => &[&ISOCYANATE, &RESIN],
        Some(ProductKind::Paint | ProductKind::Glue) => &[&VAPOUR],
        Some(ProductKind::Glitter) | None => &[],
    });
    if kind.is_clear() && product == Some(ProductKind::TwoPartResin) {
        list.push(&TORCH);
    }
    if kind.is_coat() {
        list.push(&FOOD);
    }
    list
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::read::job::keys::Worded;

    #[test]
    fn every_caution_is_shown_somewhere_and_has_a_source() {
        let products = [
            None,
            Some(ProductKind::TwoPartResin),
            Some(ProductKind::UvResin),
            Some(ProductKind::IsocyanateClear),
            Some(ProductKind::Paint),
        ];
        let mut shown: Vec<&str> = vec![FIRST.id];
        for (_, kind) in StepKind::WORDS.iter().copied() {
            for p in products {
                shown.extend(at_step(kind, p).iter().map(|c| c.id));
            }
        }
        for c in ALL {
            assert!(shown.contains(&c.id), "{} is never shown", c.id);
            assert!(!c.sources.is_empty() && !c.text.is_empty());
        }
    }

    #[test]
    fn hardening_coats_always_warn_of_skin() {
        for kind in [StepKind::Clear, StepKind::Seal, StepKind::Level] {
            assert!(at_step(kind, Some(ProductKind::TwoPartResin)).contains(&&RESIN));
            let uv = at_step(kind, Some(ProductKind::UvResin));
            assert!(uv.contains(&&UV_RESIN) && uv.contains(&&UV_LAMP));
        }
    }
}
