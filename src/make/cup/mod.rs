//! Tape readings to a cone, and the cone to its development.
//!
//! Imports: base.

pub mod frustum;
pub mod zone;
mod wall;
pub mod trial;
mod readings;
pub mod fit;

pub use fit::{cone, fit};
pub use frustum::{Development, Frustum, WallPoint};
pub use readings::TAKE_UP;
pub use wall::{Bend, Shell, WallZone};
pub use zone::{Window, Zone};

use crate::base::units::Mm;
use serde::Serialize;

/// A fitted cup.
#[derive(Clone, Debug, PartialEq)]
pub struct Cup {
    /// The cones of its wall, lowest first; one, where no edge is felt.
    pub zones: Vec<WallZone>,
    /// What the readings are worth.
    pub readings: Readings,
}

/// What the tape readings are worth, as the maker sees it. Worst cases hold for 95 of 100 cups measured like
/// this.
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
    /// With three heights or more: do the readings lie on one cone, and which is farthest off?
    #[serde(skip_serializing_if = "Option::is_none")]
    pub bow: Option<Bow>,
    /// Of a smooth wall: what stands for it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub curve: Option<CurveReport>,
    /// Worst gap or overlap of the wraps at each edge.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub edges: Vec<EdgeReport>,
    /// Standard uncertainty of one reading when its repeats show more than was stated.
    #[serde(rename = "repeats_stray_mm", skip_serializing_if = "Option::is_none")]
    pub repeats_stray: Option<Mm>,
    /// What came of each trial wrap.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub trials: Vec<TrialReport>,
}

/// The curve through the readings of a smooth wall, and the cones near it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CurveReport {
    /// A parabola, or the smoothing spline?
    pub parabola: bool,
    /// Largest part by which its girth is off that of the cones.
    pub worst_off: f64,
    /// Heights and girths of the curve, every [`CurveReport::STEP`] from base edge to rim, mm.
    pub profile_mm: Vec<[f64; 2]>,
}

impl CurveReport {
    /// Between two heights of the profile, at most.
    pub const STEP: Mm = Mm(2.0);
}

/// What came of a trial wrap.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct TrialReport {
    /// Added to the girth at the base edge.
    #[serde(rename = "base_corrected_mm")]
    pub base: Mm,
    /// Added to the girth at the rim.
    #[serde(rename = "rim_corrected_mm")]
    pub rim: Mm,
    /// Why it was not used.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub problem: Option<TrialProblem>,
}

impl TrialReport {
    fn refused(problem: TrialProblem) -> TrialReport {
        TrialReport { base: Mm::ZERO, rim: Mm::ZERO, problem: Some(problem) }
    }
}

/// Why a trial wrap is not used.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum TrialProblem {
    /// It was of another template than those that the readings make; these are theirs.
    OtherTemplate(Vec<String>),
    /// Tape and wrap disagree by more than both stray.
    Disagrees {
        /// Squared differences in their variance.
        chi_square: f64,
        /// What that may be, at 1 percent.
        allowed: f64,
    },
}

/// What the readings are worth at an edge of the wall.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct EdgeReport {
    /// Height along the wall.
    #[serde(rename = "up_mm")]
    pub slant: Mm,
    /// Worst gap or overlap of the wraps below and above it.
    #[serde(rename = "worst_gap_mm")]
    pub gap: Mm,
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
    /// How many times it was read.
    #[serde(skip_serializing_if = "once")]
    pub reads: u32,
}

#[allow(clippy::trivially_copy_pass_by_ref, reason = "serde asks for a reference")]
fn once(reads: &u32) -> bool {
    *reads == 1
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

/// What three heights or more say of the wall: the test of the whole, and the ring farthest off the others'
/// line.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Bow {
    /// Height along the wall.
    #[serde(rename = "up_mm")]
    pub at: Mm,
    /// Its place in the job's list, counted from 0.
    pub ring: usize,
    /// Circumference read less that on the line through the others.
    #[serde(rename = "off_mm")]
    pub off: Mm,
    /// How far off the farthest of such readings may be by themselves.
    #[serde(rename = "uncertainty_mm")]
    pub uncertainty: Mm,
    /// The wall's bulge: off / (2 pi).
    #[serde(rename = "bulge_mm")]
    pub bulge: Mm,
    /// Largest part by which a whole wrap must stretch or shorten to lie on the readings.
    pub strain: f64,
    /// Largest distance of a reading from the fitted cone.
    #[serde(rename = "worst_off_cone_mm")]
    pub worst: Mm,
    /// Sum of the squared distances from the fitted cone, each in its standard uncertainty.
    pub chi_square: f64,
    /// What it may be: passed by one true cone in a hundred.
    pub chi_square_allowed: f64,
    /// The chi-square is within what is allowed: one cone describes the wall.
    pub one_cone: bool,
    /// This one ring is so far off that it is the one to read again; three heights cannot tell.
    pub named: bool,
    /// No whole wrap lies on the wall: not one cone, and strained by more than film takes.
    pub no_cone: bool,
}
