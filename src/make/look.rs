//! An eye for the whole: contrast of every piece to what lies beneath its edge, as each eye sees it.
//!
//! Only notes and warnings come of it: colours in a job are as the maker gave them. What she gave no colour is
//! not judged.
//!
//! ```text
//! each piece's outline, in steps of 1 mm      what lies 0.15 mm outside of it
//!   -> seen there? (nothing above covers it)    -> the highest film below it, or the ground: the cup, with the
//!                                                  bands of paint over it as their fades cover (linear light)
//! ratio = (Y1 + 0.05) / (Y2 + 0.05), the least over the eyes asked for
//! ```
//!
//! Imports: base, outline, read::job, make::{cup, piece, decal}.

mod edges;
mod tell;

use crate::base::colour::{Light, Sight, contrast, difference, lab, light};
use crate::base::diag::{Code, Diagnostics};
use crate::base::units::{Angle, Mm};
use crate::make::cup::Cup;
use crate::make::decal::Decal;
use crate::make::piece::{Kind, Piece};
use crate::read::job::decals::Shows;
use crate::read::job::finish::ColourBand;
use crate::read::job::look::Eyes;
use crate::read::job::{FilmId, Job};
use rayon::prelude::*;

/// Words that cannot be read.
pub const WORDS_FAINT: Code = Code {
    id: "look/words-faint",
    title: "words stand faintly on what is beneath them",
    explain: "Words are read by their lightness against what lies directly beneath them. Below 4.5 : 1 (the \
        least that WCAG 2.x asks of text) they are lost at arm's length, whatever their colours. Put them on a \
        film that is much lighter or much darker, or change their own. The ratio is of the colours as the job \
        gives them; `[look]` says how much is asked.",
};
/// A motif that is not to be seen.
pub const MOTIF_LOST: Code = Code {
    id: "look/motif-lost",
    title: "part of a motif is lost on what is beneath it",
    explain: "Over a good part of its edge the motif is as light as the paint, film or cup beneath, and of nearly \
        the same colour: it cannot be told from it. Move it, take another film, or change the band's colour.",
};
/// A motif that is faint.
pub const MOTIF_FAINT: Code = Code {
    id: "look/motif-faint",
    title: "a motif stands faintly on what is beneath it",
    explain: "Shapes are made out from 3 : 1 on (WCAG 2.x, graphical objects). Below that they need a second look; \
        that may be what is wanted.",
};
/// Layers too alike.
pub const LAYERS_ALIKE: Code = Code {
    id: "look/layers-alike",
    title: "two layers of a decal are nearly as light as each other",
    explain: "A layer that stands below 3 : 1 on the one beneath is hardly seen as a layer. Take films that are \
        farther apart in lightness.",
};
/// Spots that compete.
pub const SPOTS_LOUD: Code = Code {
    id: "look/spots-loud",
    title: "accent spots stand off their ground as strongly as a motif",
    explain: "Spots are the quiet ground that motifs and words stand out from. Above about 2.2 : 1 they compete with \
        them (own choice, from pictures of twelve layouts). A film nearer to the cup's lightness is quieter.",
};
/// Spots that are wasted.
pub const SPOTS_LOST: Code = Code {
    id: "look/spots-lost",
    title: "accent spots are hardly seen on their ground",
    explain: "Below about 1.25 : 1 spots are cut, weeded and placed for nothing (own choice, from pictures).",
};
/// Films that cannot be told apart.
pub const FILMS_ALIKE: Code = Code {
    id: "look/films-alike",
    title: "two films of motifs or words are hard to tell apart",
    explain: "Films of figures want a colour difference (CIEDE2000) of 25 and more, and of 15 for eyes that lack a \
        cone; small pieces want more than large ones (own choice).",
};
/// Small spots.
pub const SMALL_PIECES: Code = Code {
    id: "look/small-pieces",
    title: "spots are so narrow that they lift easily",
    explain: "Pieces below about 4 mm are hard to place and the first to lift (common practice, no source). Raise \
        the fill's `smallest`, or `look.small-piece` if that is what you want.",
};

/// All codes of this module.
pub const CODES: &[&Code] = &[
    &WORDS_FAINT,
    &MOTIF_LOST,
    &MOTIF_FAINT,
    &LAYERS_ALIKE,
    &SPOTS_LOUD,
    &SPOTS_LOST,
    &FILMS_ALIKE,
    &SMALL_PIECES,
];

/// What a piece is to the eye.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Role {
    Words,
    Layer,
    Motif,
    Spot,
}

/// What lies beneath an edge.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Beneath {
    Film(FilmId),
    /// Cup or paint at a height.
    Ground(Mm),
}

/// One step along a piece's edge.
#[derive(Clone, Copy, Debug)]
struct Sample {
    beneath: Beneath,
    /// To the eye that sees least of it, and to the usual one.
    ratio: f64,
    usual: f64,
    /// CIEDE2000 to the usual eye, and the least to any.
    apart: [f64; 2],
    up: Mm,
    azimuth: Angle,
}

/// A piece as it is seen.
#[derive(Clone, Debug)]
struct Seen {
    number: u32,
    role: Role,
    kind: Kind,
    film: FilmId,
    samples: Vec<Sample>,
}

impl Seen {
    fn worst(&self) -> Option<&Sample> {
        self.samples.iter().min_by(|a, b| a.ratio.total_cmp(&b.ratio))
    }
    /// The part of its edge that a rule holds of.
    fn share(&self, rule: impl Fn(&Sample) -> bool) -> f64 {
        self.samples.iter().filter(|s| rule(s)).count() as f64 / self.samples.len().max(1) as f64
    }
}

/// The ground under the films: cup and paint.
#[derive(Clone, Debug)]
struct Ground<'a> {
    cup: Option<Light>,
    bands: Vec<(&'a ColourBand, Light)>,
}

impl<'a> Ground<'a> {
    fn of(job: &'a Job) -> Ground<'a> {
        let cup = said(job, "print", "cup-colour").then(|| light(job.print.cup.0));
        let bands = job.finish.iter().flat_map(|f| &f.bands);
        Ground { cup, bands: bands.filter_map(|b| Some((b, light(b.colour?.0)))).collect() }
    }
    /// Its light at a height: bands over each other, each as thick as its fades make it.
    fn at(&self, up: Mm) -> Option<Light> {
        self.bands.iter().try_fold(self.cup, |under, (b, colour)| {
            let edge = |inside: f64, fade: f64| {
                if fade > 0.0 { (inside / fade).clamp(0.0, 1.0) } else { f64::from(u8::from(inside >= 0.0)) }
            };
            let part = edge((up - b.from).0, b.fade_low.0).min(edge((b.to - up).0, b.fade_high.0));
            Some(match under {
                _ if part >= 1.0 => Some(*colour),
                Some(under) => Some([0, 1, 2].map(|k| under[k] + (colour[k] - under[k]) * part)),
                // A half-covering paint over a cup of unknown colour.
                None => None,
            })
        })?
    }
}

/// Does the job say the value of a key itself?
fn said(job: &Job, table: &str, key: &str) -> bool {
    job.written.settings.iter().any(|s| s.said && s.table == table && s.key == key)
}

/// How light and how far apart two colours are, as the eyes asked for see them.
fn judged(eyes: Eyes, a: Light, b: Light) -> (f64, [f64; 2]) {
    let list = if eyes == Eyes::All { &Sight::ALL[..] } else { &Sight::ALL[..1] };
    let seen = list.iter().map(|s| (s.sees(a), s.sees(b)));
    let apart = |(a, b): (Light, Light)| difference(lab(a), lab(b));
    let least = seen.clone().map(apart).fold(f64::INFINITY, f64::min);
    let ratio = seen.map(|(a, b)| contrast(a, b)).fold(f64::INFINITY, f64::min);
    (ratio, [apart((a, b)), least])
}

/// Looks at everything on the wall and tells what does not stand off.
pub fn look(job: &Job, cup: &Cup, pieces: &[Piece], decals: &[Decal], diagnostics: &mut Diagnostics) {
    let films: Vec<Option<Light>> = (0..job.films.len())
        .map(|i| {
            let plain = job.sheet_of(FilmId(i)).is_none();
            (plain && said(job, &format!("film[{i}]"), "colour")).then(|| light(job.films[i].colour.0))
        })
        .collect();
    if films.iter().all(Option::is_none) {
        tell::small(job, pieces, diagnostics);
        return;
    }
    let ground = Ground::of(job);
    let role = |p: &Piece| match p.kind {
        Kind::Motif { .. } => Some(Role::Motif),
        Kind::Spot { .. } | Kind::Tint { .. } => Some(Role::Spot),
        Kind::Layer { decal, layer } => {
            let top = decals.get(decal).is_some_and(|d| layer + 1 == d.layers.len());
            let words = matches!(job.decals[decal].shows, Shows::Words { .. });
            Some(if top && words { Role::Words } else { Role::Layer })
        }
        Kind::Base => None,
    };
    let wall = edges::Wall::new(job, cup, pieces);
    let seen: Vec<Seen> = pieces
        .par_iter()
        .enumerate()
        .filter_map(|(i, p)| {
            let (role, own) = (role(p)?, films[p.film.0]?);
            let there = wall.edge(i).into_iter().filter_map(|(beneath, up, azimuth)| {
                let under = match beneath {
                    Beneath::Film(f) => films[f.0]?,
                    Beneath::Ground(up) => ground.at(up)?,
                };
                let (ratio, apart) = judged(job.look.eyes, own, under);
                Some(Sample { beneath, ratio, usual: contrast(own, under), apart, up, azimuth })
            });
            let samples = there.collect();
            Some(Seen { number: p.number, role, kind: p.kind.clone(), film: p.film, samples })
        })
        .filter(|s| !s.samples.is_empty())
        .collect();
    tell::all(job, &seen, &ground, &films, diagnostics);
    tell::small(job, pieces, diagnostics);
}
