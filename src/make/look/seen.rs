//! A piece as an eye sees it: its role, what lies beneath its edge, and how far the two are apart.
//!
//! Imports: base, read::job, make::piece.

use crate::base::colour::{Light, Sight, contrast, difference, lab, light};
use crate::base::units::{Angle, Mm};
use crate::make::piece::Kind;
use crate::read::job::finish::ColourBand;
use crate::read::job::look_spec::Eyes;
use crate::read::job::{FilmId, Job};

/// What a piece is to the eye.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Role {
    Words,
    Layer,
    Motif,
    Spot,
}

/// What lies beneath an edge.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Beneath {
    Film(FilmId),
    /// Cup or paint at a height.
    Ground(Mm),
}

/// One step along a piece's edge.
#[derive(Clone, Copy, Debug)]
pub(super) struct Sample {
    pub(super) beneath: Beneath,
    /// To the eye that sees least of it, and to the usual one.
    pub(super) ratio: f64,
    pub(super) usual: f64,
    /// CIEDE2000 to the usual eye, and the least to any.
    pub(super) apart: [f64; 2],
    pub(super) up: Mm,
    pub(super) azimuth: Angle,
}

/// A piece as it is seen.
#[derive(Clone, Debug)]
pub(super) struct Seen {
    pub(super) number: u32,
    pub(super) role: Role,
    pub(super) kind: Kind,
    pub(super) film: FilmId,
    pub(super) samples: Vec<Sample>,
}

impl Seen {
    pub(super) fn worst(&self) -> Option<&Sample> {
        self.samples.iter().min_by(|a, b| a.ratio.total_cmp(&b.ratio))
    }
    /// The part of its edge that a rule holds of.
    pub(super) fn share(&self, rule: impl Fn(&Sample) -> bool) -> f64 {
        self.samples.iter().filter(|s| rule(s)).count() as f64 / self.samples.len().max(1) as f64
    }
}

/// The ground under the films: cup and paint.
#[derive(Clone, Debug)]
pub(super) struct Ground<'a> {
    pub(super) cup: Option<Light>,
    pub(super) bands: Vec<(&'a ColourBand, Light)>,
}

impl<'a> Ground<'a> {
    pub(super) fn of(job: &'a Job) -> Ground<'a> {
        let cup = job.says("print", "cup-colour").then(|| light(job.print.cup.0));
        let bands = job.finish.iter().flat_map(|f| &f.bands);
        Ground { cup, bands: bands.filter_map(|b| Some((b, light(b.colour?.0)))).collect() }
    }
    /// Its light at a height: bands over each other, each as thick as its fades make it.
    pub(super) fn at(&self, up: Mm) -> Option<Light> {
        self.bands.iter().fold(self.cup, |under, (b, colour)| match (b.cover(up), under) {
            (part, _) if part >= 1.0 => Some(*colour),
            // A half-covering paint over a cup of unknown colour is unknown.
            (part, under) => under.map(|u| [0, 1, 2].map(|k| u[k] + (colour[k] - u[k]) * part)),
        })
    }
}

/// How light and how far apart two colours are, as the eyes asked for see them.
pub(super) fn judged(eyes: Eyes, a: Light, b: Light) -> (f64, [f64; 2]) {
    let list = if eyes == Eyes::All { &Sight::ALL[..] } else { &Sight::ALL[..1] };
    let seen = list.iter().map(|s| (s.sees(a), s.sees(b)));
    let apart = |(a, b): (Light, Light)| difference(lab(a), lab(b));
    let least = seen.clone().map(apart).fold(f64::INFINITY, f64::min);
    let ratio = seen.map(|(a, b)| contrast(a, b)).fold(f64::INFINITY, f64::min);
    (ratio, [apart((a, b)), least])
}
