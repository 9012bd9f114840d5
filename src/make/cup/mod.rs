//! Tape readings to a cone, and the cone to its development.
//!
//! Imports: base.

pub mod frustum;
pub mod zone;
pub mod fit;

pub use fit::fit;
pub use frustum::{Development, Frustum, WallPoint};
pub use zone::Zone;

use crate::base::units::Mm;
use serde::Serialize;

/// A fitted cup.
#[derive(Clone, Debug, PartialEq)]
pub struct Cup {
    /// The bare wall as measured.
    pub measured: Frustum,
    /// The surface that the film goes on: the bare wall and the build-up. Template and layout are made for it.
    pub surface: Frustum,
    /// The surface rolled out.
    pub development: Development,
    /// Where film may go.
    pub zone: Zone,
    /// What the readings are worth.
    pub readings: Readings,
}

/// What the tape readings are worth, as the maker sees it. Worst cases hold for 95 of 100 cups measured like this.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Readings {
    /// Each reading against the fitted cone.
    pub rings: Vec<RingReport>,
    /// Worst gap or overlap of the wrap at the rim.
    #[serde(rename = "worst_gap_at_rim_mm")]
    pub rim: Mm,
    /// Worst gap or overlap of the wrap at the base edge.
    #[serde(rename = "worst_gap_at_base_mm")]
    pub base: Mm,
    /// Steps along the seam.
    pub seam: SeamReport,
    /// Can the readings tell the cup from a straight one?
    pub taper: Taper,
    /// Worst error of the difference of the circumferences at rim and base.
    #[serde(rename = "taper_uncertainty_mm")]
    pub taper_uncertainty: Mm,
    /// How far a straight rectangle would be off: C1 (C1 - C2) / (8 s).
    #[serde(rename = "rectangle_off_by_mm")]
    pub straight_enough: Mm,
    /// With three rings or more: the one farthest off the line through the others.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub bow: Option<Bow>,
}

/// One reading against the fitted cone.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct RingReport {
    /// Height along the wall.
    #[serde(rename = "up_mm")]
    pub slant: Mm,
    /// As read.
    #[serde(rename = "read_mm")]
    pub read: Mm,
    /// On the fitted cone.
    #[serde(rename = "fitted_mm")]
    pub fitted: Mm,
    /// Read less fitted.
    #[serde(rename = "off_mm")]
    pub off: Mm,
}

/// How far the two ends of a wrap miss each other along the seam.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct SeamReport {
    /// Started at the seam and worked once round.
    #[serde(rename = "step_from_one_end_mm")]
    pub step_from_one_end: Mm,
    /// Started opposite the seam and worked both ways: the two ends droop alike.
    #[serde(rename = "step_from_middle_mm")]
    pub step_from_middle: Mm,
}

/// What the readings say about the taper.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Taper {
    /// The difference is within the uncertainty of the tape.
    NotDistinguishable,
    /// Ordinary taper.
    WiderAtRim,
    /// Narrower at the rim.
    NarrowerAtRim,
}

/// A ring off the line through the others.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Bow {
    /// Height along the wall.
    #[serde(rename = "up_mm")]
    pub at: Mm,
    /// Circumference read less that on the line.
    #[serde(rename = "off_mm")]
    pub off: Mm,
    /// How far off readings like these may be by themselves.
    #[serde(rename = "uncertainty_mm")]
    pub uncertainty: Mm,
    /// The wall's bulge: off / (2 pi).
    #[serde(rename = "bulge_mm")]
    pub bulge: Mm,
    /// Strain of film laid over it, as a part of 1.
    pub strain: f64,
    /// Within the uncertainty: one cone describes the wall.
    pub one_cone: bool,
}
