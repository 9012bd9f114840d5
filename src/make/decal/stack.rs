//! The films of a decal: each an offset of what lies above it, gaps closed, hollowed if asked.
//!
//! ```text
//! top      A = union of the art's parts (grown by its own offset)
//! under    S = (above grown by offset + c/2) shrunk by c/2: grown by the offset, gaps narrower than c closed
//! hollow   film = S less (above shrunk by the overlap), strips too narrow to weed out left in; of films side by
//!          side each shrunk by itself
//! ```
//!
//! Imports: base, outline, read::job, make::decal::{art, thicken}.

use super::art::DecalPart;
use crate::base::frame::{Art, Point};
use crate::base::tolerance::{CLEAR_GUARD, FIT, FLATTEN, LAYER_GUARD, SPECK_MM2};
use crate::base::units::{Angle, Mm, Mm2};
use crate::make::decal::thicken::{Changed, mended};
use crate::outline::plane::ring_area;
use crate::outline::{Clearance, Join, KurboShape, Op, Region};
use crate::read::job::decals::{DecalSpec, UnderSpec};
use crate::read::job::{FilmId, FilmSpec};
use std::collections::BTreeMap;

/// One layer.
#[derive(Clone, Debug, PartialEq)]
pub struct Layer {
    /// Its films and what each is cut to: one, or several side by side at the top.
    pub films: Vec<(FilmId, Region<Art>)>,
    /// What it covers as if it were not hollow: what the layer under it is an offset of.
    pub solid: Region<Art>,
    /// How far it was asked to reach out beyond what lies above it.
    pub offset: Mm,
    /// Counters of the layer above that it closed: how many.
    pub closed: usize,
    /// The overlap that was left, if it is hollow.
    pub overlap: Option<Mm>,
}

impl Layer {
    /// Mends each of its films where it is too narrow; films beside it are not covered.
    fn thicken(&mut self, films: &[FilmSpec], sharpest: Angle) -> Vec<(FilmId, Changed)> {
        let mut all = Vec::new();
        for i in 0..self.films.len() {
            let (film, region) = &self.films[i];
            let beside: Vec<&Region<Art>> =
                self.films.iter().enumerate().filter(|(j, _)| *j != i).map(|(_, (_, r))| r).collect();
            let beside = (!beside.is_empty()).then(|| Region::union_of(beside));
            let (film, (now, did)) = (*film, mended(region, films[film.0].weed, sharpest, beside.as_ref()));
            if did != Changed::default() {
                self.solid = Region::union_of([&self.solid, &now]);
                self.films[i].1 = without_specks(now);
                all.push((film, did));
            }
        }
        all
    }
    /// Takes segments too short for a blade out of what it is cut to, and of what the layer under it follows.
    fn without_short_segments(&mut self) {
        let whole = self.films.len() == 1 && self.overlap.is_none();
        self.films.iter_mut().for_each(|(_, r)| *r = r.without_short_segments());
        self.solid = if whole { self.films[0].1.clone() } else { self.solid.without_short_segments() };
    }
    /// All its film.
    pub fn film_area(&self) -> Region<Art> {
        match self.films.as_slice() {
            [(_, one)] => one.clone(),
            films => Region::union_of(films.iter().map(|(_, r)| r)),
        }
    }
}

/// The layers, base first, and what the automatic mend changed, if it is asked for. A layer is mended before
/// the one below it is made, so that the layers stay nested.
pub fn stack(
    spec: &DecalSpec,
    parts: &[DecalPart],
    films: &[FilmSpec],
) -> (Vec<Layer>, Vec<(usize, FilmId, Changed)>) {
    let (mut layers, mut all) = (Vec::new(), Vec::new());
    for place in (0..=spec.under.len()).rev() {
        let mut layer = match layers.last() {
            None => top(spec, parts),
            Some(above) => {
                let under = &spec.under[place];
                below(under, above, films[under.film.0].weed)
            }
        };
        if spec.mend {
            all.extend(layer.thicken(films, spec.sharpest).into_iter().map(|(film, m)| (place, film, m)));
        }
        layer.without_short_segments();
        layers.push(layer);
    }
    layers.reverse();
    (layers, all)
}

fn top(spec: &DecalSpec, parts: &[DecalPart]) -> Layer {
    let mut by_film: BTreeMap<FilmId, Vec<&Region<Art>>> = BTreeMap::new();
    for part in parts {
        by_film.entry(part.film).or_default().push(&part.region);
    }
    let mut films: Vec<(FilmId, Region<Art>)> =
        by_film.into_iter().map(|(film, regions)| (film, Region::union_of(regions))).collect();
    let by = spec.top.offset;
    if by > Mm::ZERO {
        films.iter_mut().for_each(|(_, r)| *r = r.offset(by + LAYER_GUARD, spec.top.join));
    }
    // Films side by side: where two reach for the same place, the later one has it.
    for i in 0..films.len() {
        for j in i + 1..films.len() {
            let cut = films[i].1.op(&films[j].1, Op::Difference);
            films[i].1 = without_specks(cut);
        }
    }
    films.retain(|(_, r)| !r.is_empty());
    let solid = match films.as_slice() {
        [(_, one)] => one.clone(),
        many => Region::union_of(many.iter().map(|(_, r)| r)),
    };
    Layer { films, solid, offset: by, closed: 0, overlap: None }
}

fn below(under: &UnderSpec, layer: &Layer, weed: Mm) -> Layer {
    let above = &layer.solid;
    let solid = grown(above, under.offset, under.join, under.close);
    let holes = |r: &Region<Art>| r.contours().iter().filter(|c| c.area() < 0.0).count();
    let closed = holes(above).saturating_sub(holes(&solid));
    let film = match under.overlap {
        Some(overlap) => {
            // Each film that lies side by side with another keeps its own edge on the layer under it; what is left
            // between two hollows is wide enough to weed round.
            let beside = overlap.max(weed / 2.0);
            let hollows: Vec<Region<Art>> = match layer.films.as_slice() {
                films @ [_, _, ..] => films.iter().map(|(_, r)| hollow(r, beside, weed)).collect(),
                _ => vec![hollow(above, overlap, weed)],
            };
            hollows.iter().fold(solid.clone(), |film, hollow| film.op(hollow, Op::Difference))
        }
        None => solid.clone(),
    };
    Layer {
        films: vec![(under.film, without_specks(film))],
        solid,
        offset: under.offset,
        closed,
        overlap: under.overlap,
    }
}

/// How often an outline that falls short of its distance is made anew, a little farther.
const TRIES: usize = 4;

/// Grown by an offset, gaps narrower than `close` closed.
fn grown(above: &Region<Art>, by: Mm, join: Join, close: Mm) -> Region<Art> {
    if by + close == Mm::ZERO {
        return above.clone();
    }
    let plain = |guard: Mm| above.offset(by + guard, join);
    if close <= Mm::ZERO {
        return kept(above, by, plain);
    }
    let closed = kept(above, by, |guard| above.there_and_back(by + guard, join, close / 2.0));
    if shortfall(above, &closed, by) == Mm::ZERO && !opened(above, &closed) {
        return closed;
    }
    // Closing opened what the offset alone covers: both together keep the distance. A hole as wide as what is closed
    // leaves a point there, and comes back a little wider.
    Region::union_of([&closed, &kept(above, by, plain)])
}

/// Does an outline have an opening whose edge lies within what it should cover?
fn opened(above: &Region<Art>, made: &Region<Art>) -> bool {
    let (whole, made) = (Clearance::new(above.flat(FLATTEN)), made.flat(FLATTEN));
    let holes = made.rings.iter().filter(|r| ring_area(r) < 0.0);
    holes.flatten().any(|p| whole.contains(Point::mm(p[0], p[1])))
}

/// What is taken out under a layer: no nearer to its edge than the overlap, nothing narrower than can be
/// weeded.
fn hollow(above: &Region<Art>, overlap: Mm, weed: Mm) -> Region<Art> {
    kept(above, overlap, |guard| above.there_and_back(-(overlap + guard), Join::Round, -weed / 2.0))
}

/// The outline that `make` gives with a guard on its distance: [`LAYER_GUARD`], or as much more as the
/// outline, measured, still lacks.
fn kept(above: &Region<Art>, asked: Mm, make: impl Fn(Mm) -> Region<Art>) -> Region<Art> {
    let mut guard = LAYER_GUARD;
    let mut made = make(guard);
    for _ in 1..TRIES {
        let lacks = shortfall(above, &made, asked);
        if lacks == Mm::ZERO {
            break;
        }
        guard += lacks + FIT;
        made = make(guard);
    }
    made
}

/// How much nearer two outlines come than asked, with what keeps it true when written; zero if they do not.
/// Of two polylines that do not cross, one has a corner where they are nearest: corners of either are asked.
fn shortfall(above: &Region<Art>, made: &Region<Art>, asked: Mm) -> Mm {
    let asked = asked + CLEAR_GUARD;
    let (one, other) = (Clearance::new(above.flat(FLATTEN)), Clearance::new(made.flat(FLATTEN)));
    let mut least = asked;
    for (corners, index) in [(&one, &other), (&other, &one)] {
        for p in corners.flat().rings.iter().flatten() {
            if let Some(near) = index.nearest(Point::mm(p[0], p[1]), least) {
                least = near.distance;
            }
        }
    }
    asked - least
}

/// Slivers that no blade can cut are dropped; they come of areas that meet along a line.
fn without_specks(region: Region<Art>) -> Region<Art> {
    if region.contours().iter().all(|c| c.area().abs() >= SPECK_MM2) {
        return region;
    }
    Region::trusted(region.into_contours().into_iter().filter(|c| c.area().abs() >= SPECK_MM2))
}

/// The greatest thickness of film over each other anywhere, and on how much area.
pub fn thickest(layers: &[Layer], films: &[FilmSpec]) -> (Mm, Mm2) {
    // Where nothing is hollow every layer lies under all of the top: no need to look for the place.
    if layers.iter().all(|l| l.overlap.is_none()) {
        let under: Mm = layers[..layers.len() - 1].iter().map(|l| films[l.films[0].0.0].thickness).sum();
        let top = &layers[layers.len() - 1].films;
        let most = top.iter().map(|(f, _)| films[f.0].thickness).fold(Mm::ZERO, Mm::max);
        let as_thick = top.iter().filter(|(f, _)| films[f.0].thickness == most);
        return (under + most, as_thick.map(|(_, r)| r.area()).sum());
    }
    thickest_by_looking(layers, films)
}

/// The same by the areas themselves.
pub fn thickest_by_looking(layers: &[Layer], films: &[FilmSpec]) -> (Mm, Mm2) {
    let mut sheets: Vec<(Mm, &Region<Art>)> = Vec::new();
    for layer in layers.iter().rev() {
        sheets.extend(layer.films.iter().map(|(f, r)| (films[f.0].thickness, r)));
    }
    let mut best = (Mm::ZERO, Mm2::ZERO);
    deepest(&sheets, None, Mm::ZERO, &mut best);
    best
}

/// Goes through the ways in which films lie over each other, top first; a way without area, or that cannot
/// come to more than the best so far, is left.
fn deepest(rest: &[(Mm, &Region<Art>)], under: Option<&Region<Art>>, so_far: Mm, best: &mut (Mm, Mm2)) {
    let most: Mm = so_far + rest.iter().map(|(t, _)| *t).sum();
    if most <= best.0 {
        return;
    }
    let Some(((thickness, region), rest)) = rest.split_first() else {
        if let Some(r) = under {
            *best = (so_far, r.area());
        }
        return;
    };
    let with = match under {
        None => (*region).clone(),
        Some(u) => u.op(region, Op::Intersection),
    };
    // Strips as thin as the guard are rounding, not a place.
    if with.area().0 > LAYER_GUARD.0 * with.perimeter().0 {
        deepest(rest, Some(&with), so_far + *thickness, best);
    }
    deepest(rest, under, so_far, best);
}
