//! The disc on the base: outer ring and centre in two finishes, the maker's mark in the middle with its own
//! cut outline.
//!
//! Imports: base, outline, read::{job, materials}, make::{cup, piece}, make::finish::surface.

use super::surface::base_circles;
use crate::base::diag::{Code, Diagnostic, Diagnostics, ErrorGuaranteed, KeyPath};
use crate::base::frame::{Art, Point, Rigid};
use crate::base::units::{Angle, Mm};
use crate::make::cup::Cup;
use crate::make::piece::{Kind, Piece};
use crate::outline::{Join, Op, Region};
use crate::read::job::finish::{BaseSpec, MarkSpec};
use crate::read::job::{FilmId, Job, WallPose};
use crate::read::materials::Materials;
use serde::Serialize;
use std::f64::consts::PI;

/// No room for the parts.
pub const NO_ROOM: Code = Code {
    id: "finish/base-no-room",
    title: "the parts of the base disc do not fit on the base",
    explain: "Ring, gap and centre must fit inside the flat of the base less its clear edge, and the \
        maker's mark inside the centre.",
};

/// Wider than the cup there.
pub const WIDER: Code = Code {
    id: "finish/base-wider-than-cup",
    title: "the flat of the base is wider than the cup at its base edge",
    explain: "The flat lies within the base edge, so it cannot be wider than the wall's girth there divided \
        by pi. Either finish.base.across or the reading at the base edge is wrong: measure both again.",
};

/// Nothing to be seen.
pub const ONE_FILM: Code = Code {
    id: "finish/base-of-one-film",
    title: "ring, centre and mark of the base are of one film",
    explain: "A base in two zones with a mark shows something only if its parts differ. Left out, `ring-film` and \
        `mark.film` are the film of the disc. Give one of them another film, or write \"none\" for a part that is \
        sprinkled with glitter, painted or printed.",
};

/// A part of the base disc.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct DiscPart {
    /// `ring`, `centre` or `mark`.
    pub name: &'static str,
    /// What it is cut from; none: the place is painted, sprinkled or printed.
    #[serde(skip)]
    pub film: Option<FilmId>,
    /// Its outline; the origin is the middle of the base, up is towards the front line.
    #[serde(skip)]
    pub outline: Region<Art>,
    /// Number of its piece, once pieces are numbered; 0 before.
    #[serde(rename = "piece")]
    pub number: u32,
}

/// The base disc.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct BaseDisc {
    /// Across the flat of the base.
    #[serde(rename = "base_across_mm")]
    pub across: Mm,
    /// Across the disc.
    #[serde(rename = "disc_across_mm")]
    pub disc: Mm,
    /// Across the hole of the ring; 0: no ring.
    #[serde(rename = "ring_inner_mm")]
    pub ring_inner: Mm,
    /// Across the centre.
    #[serde(rename = "centre_across_mm")]
    pub centre: Mm,
    /// Measured by the maker, not taken from the girth of the wall at its base edge.
    pub measured: bool,
    /// Its parts, in the order they are put on.
    pub parts: Vec<DiscPart>,
}

/// The disc for the job's base, its mark on it; `None` where the job asks for none.
///
/// # Errors
/// Its parts have no room, or the mark could not be read.
pub fn base(
    job: &Job,
    materials: &Materials,
    cup: &Cup,
    diagnostics: &mut Diagnostics,
) -> Result<Option<BaseDisc>, ErrorGuaranteed> {
    let Some(spec) = job.finish.as_ref().and_then(|f| f.base.as_ref()) else { return Ok(None) };
    let art = materials.mark();
    let mut disc = base_disc(spec, cup, diagnostics);
    if let (Some(disc), Some(mark), Some(Ok(art))) = (&mut disc, &spec.mark, art) {
        disc.add_mark(mark, art, diagnostics);
    }
    art.transpose()?;
    diagnostics.check()?;
    Ok(disc)
}

/// The disc for a base; `None` if its parts have no room (a fault says so).
pub fn base_disc(spec: &BaseSpec, cup: &Cup, diagnostics: &mut Diagnostics) -> Option<BaseDisc> {
    let edge = cup.lowest().measured.lower / PI;
    let across = spec.across.unwrap_or(edge);
    // What the tape readings leave open at the base edge is no fault of the rule that measured the flat.
    let widest = edge + cup.readings.base / PI;
    if across > widest {
        diagnostics.push(
            Diagnostic::fault(
                &WIDER,
                KeyPath::of("finish.base.across"),
                "the flat of the base is wider than the cup at its base edge",
            )
            .measured(format!("{across:.1} across"))
            .allowed(format!("at most {widest:.1}, from the girth at the base edge"))
            .help("measure the flat across and the girth at the base edge again"),
        );
        return None;
    }
    let (disc, ring_inner, centre) = base_circles(spec, across);
    let with_ring = spec.ring > Mm::ZERO;
    // A centre too small to weed is no centre: the narrowest strip that the spot rules allow, 3 mm (common
    // practice).
    let least = Mm(3.0);
    if centre < least {
        diagnostics.push(
            Diagnostic::fault(&NO_ROOM, KeyPath::of("finish.base"), "ring, gap and edge leave no centre")
                .measured(format!("{centre:.2} across the centre of a base of {across:.2}"))
                .allowed(format!("at least {least}"))
                .help("make the ring or the gap narrower, or leave the ring out (ring = 0)"),
        );
        return None;
    }
    let circle = |d: Mm| Region::<Art>::disc(Point::ORIGIN, d * 0.5);
    let mut parts = Vec::new();
    if with_ring {
        parts.push(DiscPart {
            name: "ring",
            film: spec.ring_film,
            outline: annulus(disc, ring_inner),
            number: 0,
        });
    }
    parts.push(DiscPart { name: "centre", film: spec.centre_film, outline: circle(centre), number: 0 });
    one_film(spec, diagnostics);
    Some(BaseDisc { across, disc, ring_inner, centre, measured: spec.across.is_some(), parts })
}

/// Warns of a base whose parts are all of one film: nothing would be seen of them.
fn one_film(spec: &BaseSpec, diagnostics: &mut Diagnostics) {
    let ring = (spec.ring > Mm::ZERO).then_some(spec.ring_film);
    let films: Vec<Option<FilmId>> =
        [ring, Some(spec.centre_film), spec.mark.as_ref().map(|m| m.film)].into_iter().flatten().collect();
    let Some(first) = films[0] else { return };
    if films.len() < 3 || films.iter().any(|f| *f != Some(first)) {
        return;
    }
    diagnostics.push(
        Diagnostic::warning(
            &ONE_FILM,
            KeyPath::of("finish.base"),
            "ring, centre and mark of the base are of one film: they would not be told apart",
        )
        .help("give `ring-film` or `mark.film` another film, or \"none\" to a part that is sprinkled or printed"),
    );
}

/// Two true circles, the inner one turned round: no boolean, so no flattening.
fn annulus(outer: Mm, inner: Mm) -> Region<Art> {
    let hole = Region::<Art>::disc(Point::ORIGIN, inner * 0.5);
    let reversed = hole.contours().iter().map(crate::outline::BezPath::reverse_subpaths);
    let out = Region::<Art>::disc(Point::ORIGIN, outer * 0.5);
    Region::trusted(out.contours().iter().cloned().chain(reversed))
}

impl BaseDisc {
    /// Adds the maker's mark: art of any size and place, scaled to the size asked for, its bounding box
    /// centred, the cut outline grown round it by the border. A fault if it does not fit inside the centre.
    pub fn add_mark(&mut self, spec: &MarkSpec, art: &Region<Art>, diagnostics: &mut Diagnostics) {
        let at = KeyPath::of("finish.base.mark");
        let b = art.bounds();
        let extent = b.width().max(b.height());
        if b.is_empty() || extent <= Mm::ZERO {
            diagnostics.push(
                Diagnostic::fault(&NO_ROOM, at, "the mark has nothing to cut")
                    .help("give art with a filled outline"),
            );
            return;
        }
        let middle = b.centre();
        let home: Rigid<Art, Art> = Rigid::new(Angle::ZERO, Point::mm(-middle.x, -middle.y));
        let art = art.moved(&home).scaled(spec.size / extent).resolve_crossings();
        let cut = if spec.border > Mm::ZERO { art.offset(spec.border, Join::Round) } else { art.clone() };
        let cut = cut.without_short_segments();
        let reach = farthest(&cut);
        let room = self.centre * 0.5;
        if reach > room {
            diagnostics.push(
                Diagnostic::fault(&NO_ROOM, at, "the mark reaches over the centre of the base")
                    .measured(format!("{reach:.2} from the middle, border included"))
                    .allowed(format!("at most {room:.2}"))
                    .help(format!(
                        "make its size at most {:.1} mm",
                        (room.0 - spec.border.0) / (reach.0 - spec.border.0) * spec.size.0
                    )),
            );
            return;
        }
        self.parts.push(DiscPart { name: "mark", film: spec.film, outline: cut, number: 0 });
    }
}

impl BaseDisc {
    /// The parts as pieces to be cut, numbered on from those that are there.
    ///
    /// They lie on no wall: their pose is that of the front of the base edge, and nothing asks for it.
    pub fn pieces(&mut self, cup: &Cup, first: u32) -> Vec<Piece> {
        let wall = WallPose { azimuth: Angle::ZERO, slant: Mm::ZERO, turn: Angle::ZERO };
        let pose = cup.lowest().development.pose(wall);
        let cut = self.parts.iter_mut().filter_map(|p| Some((p.film?, p)));
        let piece = |(i, (film, part)): (usize, (FilmId, &mut DiscPart))| {
            part.number = first + i as u32;
            Piece {
                number: part.number,
                kind: Kind::Base,
                name: format!("base {}", part.name),
                film,
                outline: part.outline.clone(),
                zone: 0,
                wall,
                pose,
                clearance: Mm::ZERO,
                keys: Region::empty(),
            }
        };
        cut.enumerate().map(piece).collect()
    }
}

/// Farthest point of the outline from the origin, on polylines within the flattening error, which is added.
fn farthest(region: &Region<Art>) -> Mm {
    let flat = region.flat(crate::base::tolerance::FLATTEN);
    let far = flat.rings.iter().flatten().map(|p| libm::hypot(p[0], p[1])).fold(0.0, f64::max);
    Mm(far) + flat.error
}

/// Does the disc leave its edge free all round? Used by the check that re-measures it.
pub fn inside(part: &Region<Art>, within: Mm) -> bool {
    let circle = Region::<Art>::disc(Point::ORIGIN, within * 0.5 + crate::base::tolerance::FIT);
    part.op(&circle, Op::Difference).area().0 < crate::base::tolerance::SPECK_MM2
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::make::finish::test_help::{cup, pint};
    use crate::read::job::finish::usual;

    fn spec() -> BaseSpec {
        BaseSpec {
            across: None,
            inset: usual(Mm(1.5)),
            ring: Mm(8.0),
            gap: usual(Mm(1.0)),
            ring_film: Some(FilmId(0)),
            centre_film: Some(FilmId(0)),
            mark: None,
        }
    }
    fn mark(size: f64) -> MarkSpec {
        MarkSpec { art: "leaf.svg".into(), size: Mm(size), border: Mm(1.0), film: Some(FilmId(0)) }
    }

    /// Closed forms: circle from its circumference, annulus pi (R^2 - r^2).
    #[test]
    fn the_disc_is_true_to_the_base() {
        let d = base_disc(&spec(), &cup(pint()), &mut Diagnostics::new()).unwrap();
        approx::assert_relative_eq!(d.across.0, 189.4 / std::f64::consts::PI, epsilon = 1e-9);
        approx::assert_relative_eq!(d.disc.0, d.across.0 - 3.0, epsilon = 1e-9);
        let (r, i) = (d.disc.0 / 2.0, d.ring_inner.0 / 2.0);
        let ring = std::f64::consts::PI * (r * r - i * i);
        approx::assert_relative_eq!(d.parts[0].outline.area().0, ring, max_relative = 1e-4);
        approx::assert_relative_eq!(
            d.parts[1].outline.bounds().width().0,
            d.ring_inner.0 - 2.0,
            epsilon = 1e-6
        );
        assert!(d.parts.iter().all(|p| inside(&p.outline, d.disc)));
    }

    #[test]
    fn a_mark_is_centred_scaled_and_bordered() {
        let mut d = base_disc(&spec(), &cup(pint()), &mut Diagnostics::new()).unwrap();
        let art = Region::polygon(&[[100.0, 40.0], [140.0, 40.0], [140.0, 60.0], [100.0, 60.0]]);
        let mut diagnostics = Diagnostics::new();
        d.add_mark(&mark(20.0), &art, &mut diagnostics);
        assert!(diagnostics.is_empty());
        let b = d.parts[2].outline.bounds();
        approx::assert_abs_diff_eq!(b.width().0, 22.0, epsilon = 0.03);
        approx::assert_abs_diff_eq!(b.height().0, 12.0, epsilon = 0.03);
        approx::assert_abs_diff_eq!(b.centre().x, 0.0, epsilon = 0.02);
        // Steiner's formula: A + P d + pi d^2 for a rectangle of 20 x 10 grown by 1.
        approx::assert_abs_diff_eq!(
            d.parts[2].outline.area().0,
            200.0 + 60.0 + std::f64::consts::PI,
            epsilon = 0.1
        );
    }

    #[test]
    fn a_flat_wider_than_the_cup_is_a_fault() {
        let mut diagnostics = Diagnostics::new();
        let edge = 189.4 / PI;
        assert!(
            base_disc(&BaseSpec { across: Some(Mm(edge)), ..spec() }, &cup(pint()), &mut diagnostics)
                .is_some()
        );
        assert!(
            base_disc(&BaseSpec { across: Some(Mm(edge + 1.0)), ..spec() }, &cup(pint()), &mut diagnostics)
                .is_none()
        );
        let all = diagnostics.into_vec();
        assert_eq!((all.len(), all[0].code.id), (1, "finish/base-wider-than-cup"));
    }

    #[test]
    fn what_does_not_fit_is_a_fault_with_the_size_that_does() {
        let mut diagnostics = Diagnostics::new();
        let wide = BaseSpec { ring: Mm(40.0), ..spec() };
        assert!(base_disc(&wide, &cup(pint()), &mut diagnostics).is_none());
        let mut d = base_disc(&spec(), &cup(pint()), &mut diagnostics).unwrap();
        let art = Region::polygon(&[[0.0, 0.0], [10.0, 0.0], [10.0, 10.0], [0.0, 10.0]]);
        d.add_mark(&mark(60.0), &art, &mut diagnostics);
        let all = diagnostics.into_vec();
        assert_eq!(all.len(), 2);
        assert_eq!(d.parts.len(), 2);
        let fits: f64 = all[1].help.split(' ').filter_map(|w| w.parse().ok()).next().unwrap();
        let mut again = Diagnostics::new();
        d.add_mark(&mark(fits - 0.1), &art, &mut again);
        assert!(again.is_empty(), "{again:?}");
    }
}
