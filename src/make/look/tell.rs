//! What the looking found, a sentence a kind: the worst piece with its place, how many more, and what would help.
//!
//! Imports: base, read::job, make::{piece, look}, make::look::seen.

use super::seen::{Beneath, Ground, Role, Sample, Seen, judged};
use super::{
    FILMS_ALIKE, LAYERS_ALIKE, MOTIF_FAINT, MOTIF_LOST, SMALL_PIECES, SPOTS_LOST, SPOTS_LOUD, WORDS_FAINT,
};
use crate::base::colour::{Light, lightness, luminance};
use crate::base::diag::{Code, Diagnostic, Diagnostics, KeyPath};
use crate::base::tolerance::FLATTEN;
use crate::make::piece::{Kind, Piece};
use crate::read::job::{FilmId, Job, Rgb};
use std::collections::BTreeSet;

/// A motif is lost where it is no lighter or darker than this and of nearly the same colour, over so much of its
/// edge.
const LOST: f64 = 1.5;
const LOST_APART: f64 = 20.0;
const LOST_SHARE: f64 = 0.15;
/// A part of an edge below the limit that is worth a word.
const SOME: f64 = 0.05;
/// Least CIEDE2000 of two figure films, to the usual eye and to the worst.
const FIGURES: [f64; 2] = [25.0, 15.0];

struct Telling<'a> {
    job: &'a Job,
    ground: &'a Ground<'a>,
    films: &'a [Option<Light>],
}

/// Tells everything.
pub(super) fn all(
    job: &Job,
    seen: &[Seen],
    ground: &Ground<'_>,
    films: &[Option<Light>],
    diagnostics: &mut Diagnostics,
) {
    let t = Telling { job, ground, films };
    let of = |role: Role| seen.iter().filter(move |s| s.role == role).collect::<Vec<_>>();
    let look = &job.look;
    let words = of(Role::Words).into_iter().filter(|s| s.share(|x| x.ratio < look.words) > SOME);
    t.faint((&WORDS_FAINT, true), words.collect(), look.words, diagnostics);
    let on_film = |s: &Seen| s.worst().is_some_and(|w| matches!(w.beneath, Beneath::Film(_)));
    let layers = of(Role::Layer).into_iter();
    let (layers, bases): (Vec<&Seen>, Vec<&Seen>) = layers.partition(|s| on_film(s));
    let below = |s: &&Seen| s.share(|x| x.ratio < look.motifs) > SOME;
    t.faint((&LAYERS_ALIKE, false), layers.into_iter().filter(below).collect(), look.motifs, diagnostics);
    let lost = |s: &&Seen| s.share(|x| x.ratio < LOST && x.apart[0] < LOST_APART) >= LOST_SHARE;
    let figures: Vec<&Seen> = of(Role::Motif).into_iter().chain(bases).collect();
    let (gone, rest): (Vec<&Seen>, Vec<&Seen>) = figures.into_iter().partition(lost);
    t.lost(&gone, diagnostics);
    t.faint((&MOTIF_FAINT, false), rest.into_iter().filter(below).collect(), look.motifs, diagnostics);
    t.spots(&of(Role::Spot), diagnostics);
    t.alike(seen, diagnostics);
}

/// Which key made a piece.
fn place_of(kind: &Kind) -> KeyPath {
    match *kind {
        Kind::Motif { motif, .. } => KeyPath::of("motif").index(motif),
        Kind::Spot { accent } | Kind::Tint { accent, .. } => KeyPath::of("accent").index(accent),
        Kind::Layer { decal, .. } => KeyPath::of("decal").index(decal),
        // Neither is looked at.
        Kind::Base | Kind::Lot { .. } => KeyPath::root(),
    }
}

impl Telling<'_> {
    fn film(&self, f: FilmId) -> String {
        let film = &self.job.films[f.0];
        format!("{} {}", film.name, film.colour)
    }
    /// What lies beneath, with its colour.
    fn beneath(&self, s: &Sample) -> String {
        match s.beneath {
            Beneath::Film(f) => self.film(f),
            Beneath::Ground(up) => {
                let there =
                    |b: &&(&crate::read::job::finish::ColourBand, Light)| b.0.from <= up && up <= b.0.to;
                match self.ground.bands.iter().rev().find(there) {
                    Some((b, _)) => format!("band {} {}", b.name, b.colour.unwrap_or(Rgb([0; 3]))),
                    None => format!("the cup {}", self.job.print.cup),
                }
            }
        }
    }
    fn under(&self, s: &Sample) -> Option<Light> {
        match s.beneath {
            Beneath::Film(f) => self.films[f.0],
            Beneath::Ground(up) => self.ground.at(up),
        }
    }
    /// "piece 4: leaf-green #267b69 on straw #c48309", and where.
    fn pair(&self, s: &Seen, w: &Sample) -> String {
        format!("piece {}, {} on {}", s.number, self.film(s.film), self.beneath(w))
    }
    fn at(w: &Sample) -> String {
        format!("{:.0} mm up, {:.0} degrees round", w.up.0, w.azimuth.deg())
    }
    /// What lightness would give a contrast on what lies beneath.
    fn mend(&self, w: &Sample, limit: f64) -> String {
        let Some(under) = self.under(w) else { return "take another film, or another place".to_owned() };
        let y = luminance(under) + 0.05;
        let (dark, pale) = (y / limit - 0.05, y * limit - 0.05);
        let dark = (dark > 0.0).then(|| format!("below {:.0}", lightness(dark)));
        let pale = (pale < 1.0).then(|| format!("above {:.0}", lightness(pale)));
        let both: Vec<String> = dark.into_iter().chain(pale).collect();
        match both.is_empty() {
            true => format!("no film stands {limit} : 1 off that; change what lies beneath"),
            false => format!("on that, a film of lightness L* {} stands off {limit} : 1", both.join(" or ")),
        }
    }
    /// One finding of the worst of them.
    fn faint(
        &self,
        (code, warns): (&'static Code, bool),
        mut list: Vec<&Seen>,
        limit: f64,
        out: &mut Diagnostics,
    ) {
        let key = |s: &Seen| s.worst().map_or(f64::INFINITY, |w| w.ratio);
        list.sort_by(|a, b| key(a).total_cmp(&key(b)).then(a.number.cmp(&b.number)));
        let Some((first, w)) = list.first().and_then(|s| Some((*s, s.worst()?))) else { return };
        let share = first.share(|x| x.ratio < limit);
        let says = format!("{}: {}{}", code.title, self.pair(first, w), more(&list));
        let new = if warns { Diagnostic::warning } else { Diagnostic::note };
        out.push(
            new(code, place_of(&first.kind), says)
                .measured(format!(
                    "{} at {}; {:.0} % of its edge is below {limit}",
                    ratio(w),
                    Telling::at(w),
                    100.0 * share
                ))
                .allowed(format!("{limit} : 1 or more"))
                .help(self.mend(w, limit)),
        );
    }
    fn lost(&self, list: &[&Seen], out: &mut Diagnostics) {
        let rule = |x: &Sample| x.ratio < LOST && x.apart[0] < LOST_APART;
        let most =
            list.iter().max_by(|a, b| a.share(rule).total_cmp(&b.share(rule)).then(b.number.cmp(&a.number)));
        let Some((first, w)) = most.and_then(|s| Some((*s, s.worst()?))) else { return };
        let others: Vec<&Seen> =
            std::iter::once(first).chain(list.iter().copied().filter(|s| s.number != first.number)).collect();
        out.push(
            Diagnostic::warning(
                &MOTIF_LOST,
                place_of(&first.kind),
                format!("{}: {}{}", MOTIF_LOST.title, self.pair(first, w), more(&others)),
            )
            .measured(format!(
                "{} and CIEDE2000 {:.1} at {}; over {:.0} % of its edge",
                ratio(w),
                w.apart[0],
                Telling::at(w),
                100.0 * first.share(rule)
            ))
            .allowed(format!("{LOST} : 1 or CIEDE2000 {LOST_APART} over 85 % of it"))
            .help(self.mend(w, self.job.look.motifs)),
        );
    }
    /// Spots by their mean along the edge: one note for the loud, one for the lost.
    fn spots(&self, list: &[&Seen], out: &mut Diagnostics) {
        let mean = |s: &Seen| s.samples.iter().map(|x| x.ratio).sum::<f64>() / s.samples.len() as f64;
        let [low, high] = self.job.look.quiet;
        let loud: Vec<&Seen> = list.iter().copied().filter(|s| mean(s) > high).collect();
        let lost: Vec<&Seen> = list.iter().copied().filter(|s| mean(s) < low).collect();
        for (code, mut those, sign) in [(&SPOTS_LOUD, loud, -1.0), (&SPOTS_LOST, lost, 1.0)] {
            // Means of the same colours differ in their last bits: by number then.
            those.sort_by_key(|s| ((sign * mean(s) * 1e6).round() as i64, s.number));
            let Some((first, w)) = those.first().and_then(|s| Some((*s, s.worst()?))) else { continue };
            out.push(
                Diagnostic::note(
                    code,
                    place_of(&first.kind),
                    format!(
                        "{}: {} of {} spots; {}",
                        code.title,
                        those.len(),
                        list.len(),
                        self.pair(first, w)
                    ),
                )
                .measured(format!("{:.2} : 1 on the whole of its edge", mean(first)))
                .allowed(format!("{low} to {high} : 1"))
                .help("take a quiet film for the spots, or say in `[look]` what you want"),
            );
        }
    }
    /// Films of words, layers and motifs, two by two.
    fn alike(&self, seen: &[Seen], out: &mut Diagnostics) {
        let figures: BTreeSet<usize> =
            seen.iter().filter(|s| s.role != Role::Spot).map(|s| s.film.0).collect();
        let lights: Vec<(usize, Light)> =
            figures.iter().filter_map(|f| Some((*f, self.films[*f]?))).collect();
        let mut worst: Option<([f64; 2], usize, usize)> = None;
        for (i, a) in lights.iter().enumerate() {
            for b in &lights[i + 1..] {
                let apart = judged(self.job.look.eyes, a.1, b.1).1;
                let falls = apart[0] < FIGURES[0] || apart[1] < FIGURES[1];
                if falls && worst.is_none_or(|w| apart[0] < w.0[0]) {
                    worst = Some((apart, a.0, b.0));
                }
            }
        }
        let Some((apart, a, b)) = worst else { return };
        out.push(
            Diagnostic::note(
                &FILMS_ALIKE,
                KeyPath::of("film").index(b),
                format!("{}: {} and {}", FILMS_ALIKE.title, self.film(FilmId(a)), self.film(FilmId(b))),
            )
            .measured(format!("CIEDE2000 {:.1}, {:.1} to the eye that sees least of it", apart[0], apart[1]))
            .allowed(format!("{} and {}", FIGURES[0], FIGURES[1]))
            .help("take films that are farther apart, or use one of them for spots only"),
        );
    }
}

/// The contrast to the usual eye, and to the one that sees least of it where that is less.
fn ratio(w: &Sample) -> String {
    let less = w.usual - w.ratio > 0.01;
    let worst = if less { format!(" ({:.2} to eyes that lack a cone)", w.ratio) } else { String::new() };
    format!("{:.2} : 1{worst}", w.usual)
}

/// How many more there are, and their numbers.
fn more(list: &[&Seen]) -> String {
    let others: Vec<String> = list.iter().skip(1).take(6).map(|s| s.number.to_string()).collect();
    match list.len() {
        0 | 1 => String::new(),
        n if n <= 7 => format!("; so are {}", others.join(", ")),
        n => format!("; so are {} and {} more", others.join(", "), n - 7),
    }
}

/// Spots that are narrower than what lifts easily.
pub(super) fn small(job: &Job, pieces: &[Piece], out: &mut Diagnostics) {
    let spots: Vec<&Piece> = pieces.iter().filter(|p| matches!(p.kind, Kind::Spot { .. })).collect();
    let width = |p: &Piece| least_width(&p.outline.flat(FLATTEN).rings.concat());
    let mut narrow: Vec<(f64, &Piece)> = spots.iter().map(|p| (width(p), *p)).collect();
    narrow.retain(|n| n.0 < job.look.small_piece.0);
    narrow.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.number.cmp(&b.1.number)));
    let Some((least, first)) = narrow.first() else { return };
    out.push(
        Diagnostic::note(
            &SMALL_PIECES,
            place_of(&first.kind),
            format!("{}: {} of {}", SMALL_PIECES.title, narrow.len(), spots.len()),
        )
        .measured(format!("{least:.1} mm across, piece {}", first.number))
        .allowed(format!("{} or more", job.look.small_piece))
        .help("raise `smallest`, or put `small-piece` of `[look]` lower"),
    );
}

/// The least distance of two parallels that hold all points between them, to a hundredth, over 90 directions.
fn least_width(points: &[[f64; 2]]) -> f64 {
    let across = |deg: f64| {
        let (c, s) = (libm::cos(deg.to_radians()), libm::sin(deg.to_radians()));
        let along = points.iter().map(|p| c * p[0] + s * p[1]);
        let (low, high) = along.fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), v| (l.min(v), h.max(v)));
        high - low
    };
    (0..90).map(|k| across(2.0 * f64::from(k))).fold(f64::INFINITY, f64::min)
}
