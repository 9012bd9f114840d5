//! Widths, bends and mends over words in six open fonts and flower-like motifs; each answer is held to
//! another method.

use crate::kernel_corpus::{Artwork, flowers, words};
use frusta::base::frame::{Art, Plane, Point, Rigid};
use frusta::base::units::{Angle, Mm};
use frusta::outline::plane::ring_area;
use frusta::outline::{Clearance, Flat, Join, Mend, NarrowKind, Region, along_arc};

const LIMIT: Mm = Mm(0.8);

fn artworks() -> Vec<Artwork> {
    // Every third word and every fourth flower: the rest are measured by the benchmark.
    let words = words().into_iter().step_by(3);
    words.chain(flowers().into_iter().step_by(4)).collect()
}

fn parts(f: &Flat<Art>) -> usize {
    f.rings.iter().filter(|r| ring_area(r) > 0.05).count()
}

/// Each place by distances to the outline alone; and by shrinking: what falls apart has a neck.
#[test]
fn narrow_places_are_narrow_and_none_that_parts_a_word_is_missed() {
    let mut told = 0;
    for art in artworks() {
        let flat = art.region.flat(Mm(5e-4));
        let index = Clearance::new(flat.clone());
        for (places, film) in [(art.region.narrow(LIMIT), true), (art.region.gaps(LIMIT), false)] {
            for n in places.iter().filter(|n| n.kind == NarrowKind::Neck) {
                told += 1;
                let to = |p: Point<Art>| index.nearest(p, Mm(1e3)).expect("an outline").distance.0;
                assert!(n.width < LIMIT, "{}", art.name);
                assert!(
                    to(n.at[0]) < 1e-3 && to(n.at[1]) < 1e-3,
                    "{}: contacts lie on the outline",
                    art.name
                );
                assert!(to(n.middle()) > 0.5 * n.width.0 - 0.005, "{}: nothing between {:?}", art.name, n.at);
                assert_eq!(index.contains(n.middle()), film, "{}: {:?}", art.name, n.at);
            }
        }
        let shrunk = flat.offset(Mm(-0.495 * LIMIT.0), Join::Round);
        if parts(&shrunk) > parts(&flat) {
            assert!(!art.region.narrow(LIMIT).is_empty(), "{} falls apart", art.name);
        }
    }
    assert!(told > 20, "{told}");
}

#[test]
fn words_and_flowers_bend_within_the_tolerance_and_take_no_more_nodes() {
    let map = along_arc(1.0 / 415.0);
    for art in artworks() {
        let c = art.region.bounds().centre();
        let r: Region<Art> = art.region.moved(&Rigid::<Art, Art>::new(Angle::ZERO, Point::mm(-c.x, -c.y)));
        let got: Region<Plane> = r.bent(&map, Mm(0.01)).expect("no fold");
        assert!(got.nodes() <= r.nodes(), "{}: {} of {}", art.name, got.nodes(), r.nodes());
        let index = Clearance::new(got.flat(Mm(2e-4)));
        for p in r.flat(Mm(1e-3)).rings.concat() {
            // Corners of the chords lie on the curves.
            let [x, y] = map(p[0], p[1]).at;
            let off = index.nearest(Point::mm(x, y), Mm(1.0)).expect("near").distance.0;
            assert!(off < 0.0105, "{}: off by {off} at {p:?}", art.name);
        }
    }
}

#[test]
fn mended_words_have_next_to_nothing_narrow_left() {
    let (mut diagnostics, mut left) = (0, 0);
    for art in artworks() {
        for how in [Mend::Thicken, Mend::Open, Mend::Merge] {
            let narrow = |r: &Region<Art>| if how == Mend::Thicken { r.narrow(LIMIT) } else { r.gaps(LIMIT) };
            diagnostics += narrow(&art.region).len();
            left += narrow(&art.region.mended(how, LIMIT).0).len();
        }
    }
    assert!(diagnostics > 60 && left <= diagnostics / 30, "{left} of {diagnostics}");
}
