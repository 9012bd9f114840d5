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
//! Imports: base, read::job, make::{cup, piece, decal}.

mod seen;
mod edges;
mod tell;

use crate::base::colour::{Light, contrast, light};
use crate::base::diag::{Code, Diagnostics};
use crate::make::cup::Cup;
use crate::make::decal::Decal;
use crate::make::piece::{Kind, Piece};
use crate::read::job::decals::Shows;
use crate::read::job::{FilmId, Job};
use rayon::prelude::*;
use seen::{Beneath, Ground, Role, Sample, Seen, judged};

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

/// Looks at everything on the wall and tells what does not stand off.
pub fn look(job: &Job, cup: &Cup, pieces: &[Piece], decals: &[Decal], diagnostics: &mut Diagnostics) {
    let films: Vec<Option<Light>> = (0..job.films.len())
        .map(|i| {
            let plain = job.sheet_of(FilmId(i)).is_none();
            (plain && job.says(&format!("film[{i}]"), "colour")).then(|| light(job.films[i].colour.0))
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
        Kind::Base | Kind::Lot { .. } => None,
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
