//! [`Old`]: the pieces of an earlier kit in the terms of the job that is made now, each taken at most once; and when
//! two outlines are the same piece.
//!
//! Imports: base, outline, read::{job, kept}, make::{cup, piece}.

use crate::base::frame::Art;
use crate::base::tolerance::{FLATTEN, MEASURE, SAME_PIECE};
use crate::base::units::{Angle, Mm};
use crate::make::cup::Cup;
use crate::make::piece::{Kind, Piece};
use crate::outline::{Clearance, Flat, Region};
use crate::read::job::{FilmId, FilmSpec, WallPose};
use crate::read::kept::{self, KeptFilm, KeptKind, KeptKit, KeptPiece};

/// A piece of an earlier kit.
pub(super) struct OldPiece {
    /// As it was; its film is one of the job's.
    pub(super) piece: Piece,
    /// Does the job have its film, cut from the same side?
    pub(super) film_is_there: bool,
    /// It is on the cup.
    pub(super) applied: bool,
    /// It is a piece of the new kit, too.
    pub(super) taken: bool,
}

/// All pieces of an earlier kit that were on the cup.
pub(super) struct Old {
    pub(super) pieces: Vec<OldPiece>,
}

impl Old {
    pub(super) fn of(record: &KeptKit, films: &[FilmSpec], cup: &Cup) -> Old {
        let one = |p: &KeptPiece| {
            let film = film_of(&record.films[p.film], films);
            OldPiece {
                piece: piece(p, film.unwrap_or(FilmId(0)), cup),
                film_is_there: film.is_some(),
                applied: p.applied,
                taken: false,
            }
        };
        Old { pieces: record.pieces.iter().map(one).collect() }
    }
    /// The first free piece that is asked for and is the same as one of this film and outline.
    pub(super) fn find(
        &self,
        film: FilmId,
        outline: &Region<Art>,
        wanted: impl Fn(&Piece) -> bool,
    ) -> Option<usize> {
        let same = |o: &OldPiece| {
            !o.taken
                && o.film_is_there
                && o.piece.film == film
                && wanted(&o.piece)
                && same(&o.piece.outline, outline)
        };
        self.pieces.iter().position(same)
    }
}

/// The film of the job that an earlier kit's is; turned over is another one.
pub(super) fn film_of(film: &KeptFilm, films: &[FilmSpec]) -> Option<FilmId> {
    films.iter().position(|f| f.name == film.name && f.mirrored == film.mirrored).map(FilmId)
}

/// A recorded piece.
pub(super) fn piece(p: &KeptPiece, film: FilmId, cup: &Cup) -> Piece {
    let wall = WallPose {
        azimuth: Angle::radians(p.wall[0]),
        slant: Mm(p.wall[1]),
        turn: Angle::radians(p.wall[2]),
    };
    let zone = p.zone.min(cup.zones.len() - 1);
    // Path data were read once when the record was.
    let region = |text: &str| kept::outline(text).unwrap_or_else(|_| Region::empty());
    Piece {
        number: p.number,
        kind: match p.kind {
            KeptKind::Motif { motif, copy } => Kind::Motif { motif, copy },
            KeptKind::Spot { accent } => Kind::Spot { accent },
            KeptKind::Tint { accent, of } => Kind::Tint { accent, of },
            KeptKind::Layer { decal, layer } => Kind::Layer { decal, layer },
            KeptKind::Base => Kind::Base,
        },
        name: p.name.clone(),
        film,
        outline: region(&p.outline),
        zone,
        wall,
        pose: cup.zones[zone].development.pose(wall),
        clearance: Mm(p.clearance),
        keys: region(&p.keys),
    }
}

/// Are two outlines the same piece: nowhere further from each other than [`SAME_PIECE`]?
pub(super) fn same(a: &Region<Art>, b: &Region<Art>) -> bool {
    if a.contours() == b.contours() {
        return true;
    }
    let (p, q) = (a.bounds(), b.bounds());
    let off = [p.min.x - q.min.x, p.min.y - q.min.y, p.max.x - q.max.x, p.max.y - q.max.y];
    if a.is_empty() || b.is_empty() || off.iter().any(|o| o.abs() > SAME_PIECE.0) {
        return false;
    }
    let (p, q) = (a.flat(FLATTEN), b.flat(FLATTEN));
    covers(&p, &q) && covers(&q, &p)
}

/// Does every corner of one lie near the other's outline?
fn covers(one: &Flat<Art>, other: &Flat<Art>) -> bool {
    let other = Clearance::new(other.clone());
    let near = |p: &[f64; 2]| other.nearest(crate::base::frame::Point::mm(p[0], p[1]), SAME_PIECE).is_some();
    one.rings.iter().flatten().all(near)
}

/// Are two places the same?
pub(super) fn here(a: &Piece, b: &Piece) -> bool {
    let off = a.pose.origin().distance(b.pose.origin());
    let turn = (a.wall.turn.rad() - b.wall.turn.rad()).abs();
    a.zone == b.zone && off <= MEASURE && turn <= MEASURE.0
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::frame::Point;

    #[test]
    fn copies_are_the_same_and_others_are_not() {
        let disc = |r: f64| Region::<Art>::disc(Point::ORIGIN, Mm(r));
        assert!(same(&disc(5.0), &disc(5.0)));
        assert!(same(&disc(5.0), &disc(5.04)));
        // The closest two spots of the demonstration that differ do so by 0.18 mm.
        assert!(!same(&disc(5.0), &disc(5.18)));
        let square = Region::<Art>::polygon(&[[-5.0, -5.0], [5.0, -5.0], [5.0, 5.0], [-5.0, 5.0]]);
        assert!(!same(&disc(5.0), &square), "boxes alone do not tell");
        let ring = Region::gathered([&disc(5.0), &disc(2.0)]);
        assert!(!same(&ring, &disc(5.0)), "an opening more");
    }
}
