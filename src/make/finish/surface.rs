//! Areas to be coated, bands with their fades, guide rings, and what the coats add to the cup.
//!
//! Imports: base, read::job, make::cup.

use crate::base::units::{Ml, Mm, Mm2};
use crate::make::cup::{Frustum, Shell};
use crate::read::job::finish::{BaseSpec, ColourBand, Over};
use serde::Serialize;
use std::f64::consts::{PI, TAU};

/// Surfaces of the cup.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Surfaces {
    /// The bare wall from base edge to rim.
    #[serde(rename = "wall_mm2")]
    pub wall: Mm2,
    /// The bare wall below the rim's keep-clear band: what a coat over the wall covers.
    #[serde(rename = "coated_wall_mm2")]
    pub coated: Mm2,
    /// The part of the wall that film may cover, on the surface that the film goes on.
    #[serde(rename = "film_zone_mm2")]
    pub zone: Mm2,
    /// The flat of the base.
    #[serde(rename = "base_mm2")]
    pub base: Mm2,
    /// What the coats of this job put under the film.
    #[serde(rename = "build_up_under_film_mm")]
    pub under_film: Mm,
    /// What template and layout were made for.
    #[serde(rename = "build_up_of_layout_mm")]
    pub of_layout: Mm,
    /// By how much that build-up lengthens every circumference: 2 pi b cos(half-angle).
    #[serde(rename = "girth_growth_mm")]
    pub growth: Mm,
}

/// Area of a band of the wall: (C1 + C2) / 2 times its width along the wall.
pub fn band_area(wall: &Shell, from: Mm, to: Mm) -> Mm2 {
    Mm2(wall.sum(from, to, |f, from, to| ((f.girth(from) + f.girth(to)) * (to - from) * 0.5).0))
}

/// Area of a band, each strip counted by how much of it is covered: the integral of cover times girth.
///
/// Cover grows evenly over a fade, so each of the three parts is a quadratic: Simpson's rule gives it
/// exactly.
pub fn covered_area(wall: &Shell, band: &ColourBand) -> Mm2 {
    let strip = |f: &Frustum, (from, to): (Mm, Mm), c0: f64, c1: f64| {
        let mid = (from + to) * 0.5;
        let sum = f.girth(from) * c0 + f.girth(mid) * (2.0 * (c0 + c1)) + f.girth(to) * c1;
        sum * (to - from) * (1.0 / 6.0)
    };
    // Edges of the wall cut a fade: its cover goes on evenly from one cone to the next.
    let heights = wall.edges();
    let part = |from: Mm, to: Mm, c0: f64, c1: f64| {
        let inner = heights.iter().copied().filter(|e| *e > from && *e < to);
        let cuts: Vec<Mm> = std::iter::once(from).chain(inner).chain([to]).collect();
        let cover = |s: Mm| match () {
            () if s == from => c0,
            () if s == to => c1,
            () => c0 + (c1 - c0) * ((s - from) / (to - from)),
        };
        let one = |w: &[Mm]| {
            let (low, f) = wall.at((w[0] + w[1]) * 0.5);
            strip(f, (w[0] - low, w[1] - low), cover(w[0]), cover(w[1]))
        };
        cuts.windows(2).map(one).reduce(|a, b| a + b).unwrap_or(Mm2::ZERO)
    };
    let (low, high) = (band.from + band.fade_low, band.to - band.fade_high);
    part(band.from, low, 0.0, 1.0) + part(low, high, 1.0, 1.0) + part(high, band.to, 1.0, 0.0)
}

/// Volume of a coat of even thickness: area of its middle surface times its thickness.
pub fn volume(area: Mm2, thickness: Mm) -> Ml {
    Ml(area.0 * thickness.0 / 1000.0)
}

/// Thickness of a volume spread over an area: 1 ml over 100 cm2 is 0.1 mm.
pub fn thickness(volume: Ml, area: Mm2) -> Mm {
    Mm(volume.0 * 1000.0 / area.0)
}

/// Area of the flat of the base.
pub fn base_area(lower_girth: Mm, across: Option<Mm>) -> Mm2 {
    let r = across.map_or(lower_girth / TAU, |d| d * 0.5);
    Mm2(PI * r.0 * r.0)
}

/// Circles of the base: across the disc, across the hole of its ring (0: no ring), across its centre.
pub fn base_circles(spec: &BaseSpec, across: Mm) -> (Mm, Mm, Mm) {
    let disc = across - spec.inset.value * 2.0;
    if spec.ring <= Mm::ZERO {
        return (disc, Mm::ZERO, disc);
    }
    let inner = disc - spec.ring * 2.0;
    (disc, inner, inner - spec.gap.value * 2.0)
}

/// Area of a place on the base; of its zones where it has a ring.
pub fn base_place(lower_girth: Mm, spec: Option<&BaseSpec>, over: Over) -> Mm2 {
    let across = spec.and_then(|b| b.across);
    let zones = spec.map(|b| base_circles(b, across.unwrap_or(lower_girth / PI)));
    let circle = |d: Mm| Mm2(PI * d.0 * d.0 / 4.0);
    match (over, zones) {
        (Over::BaseRing, Some((disc, inner, _))) => circle(disc) - circle(inner),
        (Over::BaseCentre, Some((_, _, centre))) => circle(centre),
        _ => base_area(lower_girth, across),
    }
}

/// A line round the cup where a band or its fade begins or ends: the template shows it as an arc at this
/// slant.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct GuideRing {
    /// The band and which of its lines.
    pub label: String,
    /// Up the wall from the base edge.
    #[serde(rename = "slant_mm")]
    pub slant: Mm,
    /// Tape reading there on the bare cup.
    #[serde(rename = "girth_mm")]
    pub girth: Mm,
    /// Part of full cover on this line: 0 at the outer edge of a fade, 1 where the full band begins.
    pub cover: f64,
}

/// The rings of a band, lowest first; a fade of no width gives no ring of its own.
pub fn guide_rings(wall: &Shell, band: &ColourBand) -> Vec<GuideRing> {
    let hard = |fade: Mm| if fade > Mm::ZERO { 0.0 } else { 1.0 };
    let mut lines = vec![(band.from, "lower edge", hard(band.fade_low))];
    if band.fade_low > Mm::ZERO {
        lines.push((band.from + band.fade_low, "full from here up", 1.0));
    }
    if band.fade_high > Mm::ZERO {
        lines.push((band.to - band.fade_high, "full up to here", 1.0));
    }
    lines.push((band.to, "upper edge", hard(band.fade_high)));
    let ring = |(slant, what, cover): (Mm, &str, f64)| GuideRing {
        label: format!("{}: {what}", band.name),
        slant,
        girth: wall.girth(slant),
        cover,
    };
    lines.into_iter().map(ring).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const PINT: Frustum = Frustum { upper: Mm(279.3), lower: Mm(189.4), slant: Mm(149.9) };

    fn pint() -> Shell {
        Shell::of(PINT)
    }

    /// Coating arithmetic (handbook): 1 ml over 100 cm2 is 0.1 mm.
    #[test]
    fn a_millilitre_over_a_hundred_square_centimetres_is_a_tenth() {
        approx::assert_relative_eq!(thickness(Ml(1.0), Mm2(10_000.0)).0, 0.1, epsilon = 1e-12);
        approx::assert_relative_eq!(volume(Mm2(10_000.0), Mm(0.1)).0, 1.0, epsilon = 1e-12);
    }

    /// Coating arithmetic (handbook): a US gallon (231 cubic inches) covers 1604 square feet at one mil.
    #[test]
    fn a_us_gallon_covers_1604_square_feet_at_a_mil() {
        let gallon = Ml::US_FLUID_OUNCE * 128.0;
        let mil = Mm::INCH * 1e-3;
        let square_foot = (Mm::INCH * 12.0) * (Mm::INCH * 12.0);
        let feet = gallon.0 * 1000.0 / mil.0 / square_foot.0;
        approx::assert_abs_diff_eq!(feet, 231.0 / 144.0 * 1000.0, epsilon = 1e-6);
        approx::assert_abs_diff_eq!(feet, 1604.0, epsilon = 0.5);
        approx::assert_relative_eq!(thickness(gallon, square_foot * feet).0, mil.0, epsilon = 1e-12);
    }

    /// Closed form: the bands below and above a line make the whole wall, pi (R + r) s.
    #[test]
    fn bands_add_up_to_the_wall() {
        let cut = Mm(61.0);
        let sum = band_area(&pint(), Mm::ZERO, cut) + band_area(&pint(), cut, PINT.slant);
        let (r1, r2) = (279.3 / TAU, 189.4 / TAU);
        approx::assert_relative_eq!(sum.0, PI * (r1 + r2) * 149.9, epsilon = 1e-9);
    }

    /// Fades cut to nothing leave the plain band; a band that is all fade on a cylinder covers half of it.
    #[test]
    fn fades_of_no_width_and_all_width() {
        let band = |fade_low, fade_high| ColourBand {
            name: "b".into(),
            from: Mm(10.0),
            to: Mm(50.0),
            fade_low: Mm(fade_low),
            fade_high: Mm(fade_high),
            colour: None,
        };
        approx::assert_relative_eq!(
            covered_area(&pint(), &band(0.0, 0.0)).0,
            band_area(&pint(), Mm(10.0), Mm(50.0)).0,
            epsilon = 1e-9
        );
        let cylinder = Frustum { upper: Mm(250.0), lower: Mm(250.0), slant: Mm(100.0) };
        approx::assert_relative_eq!(
            covered_area(&Shell::of(cylinder), &band(15.0, 25.0)).0,
            250.0 * 20.0,
            epsilon = 1e-9
        );
        assert_eq!(guide_rings(&pint(), &band(0.0, 5.0)).len(), 3);
        assert_eq!(guide_rings(&pint(), &band(0.0, 5.0))[0].cover, 1.0);
    }

    proptest! {
        /// The from-scratch twin: a sum over ten thousand strips.
        #[test]
        fn covered_area_is_the_integral(from in 0.0..60.0f64, w in 5.0..60.0f64, a in 0.0..0.5f64, b in 0.0..0.5f64) {
            let band = ColourBand { name: "b".into(), from: Mm(from), to: Mm(from + w), fade_low: Mm(a * w), fade_high: Mm(b * w), colour: None };
            let n = 10_000;
            let h = w / f64::from(n);
            let sum: f64 = (0..n).map(|i| {
                let s = (f64::from(i) + 0.5) * h;
                let low = if a > 0.0 { s / (a * w) } else { 1.0 };
                let high = if b > 0.0 { (w - s) / (b * w) } else { 1.0 };
                low.min(high).min(1.0) * PINT.girth(Mm(from + s)).0 * h
            }).sum();
            prop_assert!((covered_area(&pint(), &band).0 / sum - 1.0).abs() < 1e-4);
        }
        #[test]
        fn thickness_undoes_volume(area in 100.0..1e6f64, t in 0.01..3.0f64) {
            prop_assert!((thickness(volume(Mm2(area), Mm(t)), Mm2(area)).0 - t).abs() < 1e-12);
        }
    }
}
