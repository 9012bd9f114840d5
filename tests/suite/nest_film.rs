//! Film in stock, leftovers, spares, weeding aids and the bill.

use super::nest::{assert_sound, film, laid, piece};
use frusta::base::diag::Diagnostics;
use frusta::base::frame::{Art, Point};
use frusta::base::tolerance::FLATTEN;
use frusta::base::units::Mm;
use frusta::make::film::bill::{Buy, bills, tally};
use frusta::make::film::offcut::{LEAST, leftovers};
use frusta::make::film::stock::Source;
use frusta::make::film::{Effort, Offcut, SheetLayout, lay_out_on};
use frusta::make::piece::Piece;
use frusta::outline::{Op, Region, distance_by_all_pairs};
use frusta::read::job::{FilmSpec, Grain, InStock, Stock};
use std::ops::ControlFlow;

fn sheet(width: f64, height: f64) -> FilmSpec {
    film(Stock::Sheet { width: Mm(width), height: Mm(height) }, 2.0, 4.0, Grain::Free)
}

fn discs(n: u32, radius: f64) -> Vec<Piece> {
    (1..=n).map(|i| piece(i, Region::disc(Point::ORIGIN, Mm(radius)))).collect()
}

fn laid_on(pieces: &[Piece], film: &FilmSpec, left: Vec<Offcut>) -> Vec<SheetLayout> {
    let mut diagnostics = Diagnostics::new();
    let films = std::slice::from_ref(film);
    let hear = &mut |_| ControlFlow::Continue(());
    let sheets = lay_out_on(pieces, films, &[left], Effort::Quick, &mut diagnostics, hear);
    sheets.unwrap_or_else(|_| panic!("{:?}", diagnostics.iter().collect::<Vec<_>>()))
}

/// What is left of one job's sheet takes the next job's pieces, clear of all that was cut before.
#[test]
fn the_leftover_of_one_job_serves_the_next() {
    let film = sheet(200.0, 150.0);
    // A ring leaves a hole in the leftover; what lies inside it is waste.
    let ring =
        Region::disc(Point::ORIGIN, Mm(30.0)).op(&Region::disc(Point::ORIGIN, Mm(24.0)), Op::Difference);
    let mut first: Vec<Piece> = vec![piece(1, ring)];
    first.extend(discs(6, 12.0).into_iter().map(|p| Piece { number: p.number + 1, ..p }));
    let before = laid(&first, &film, Effort::Quick);
    let left = leftovers(&before[0], &film);
    assert_eq!(left.len(), 1);
    let area = left[0].area().0;
    let cut: f64 = before[0].placed.iter().map(|p| p.cuts.area().0).sum();
    assert!(area > 0.5 * 200.0 * 150.0 && area < 200.0 * 150.0 - cut, "{area}");

    let next = discs(9, 14.0);
    let corner = left[0].bounds().min;
    let outline: Region<Art> = left[0].clone().reframed();
    let after = laid_on(&next, &film, vec![Offcut::new("gold-1a.svg", &outline)]);
    assert_eq!(after.len(), 1, "all nine fit on the leftover");
    assert_eq!(after[0].stock.source, Source::Offcut("gold-1a.svg".into()));
    assert_sound(&next, &film, &after);
    // Back on the first sheet, measured against what was cut there, pair by pair.
    for p in &after[0].placed {
        let home = frusta::base::frame::Rigid::from_parts(1.0, 0.0, corner);
        let there: Region<frusta::base::frame::Sheet> = p.cuts.clone().reframed::<Art>().moved(&home);
        let b = there.bounds();
        let m = film.margin.0;
        assert!(
            b.min.x > m - 0.01
                && b.min.y > m - 0.01
                && b.max.x < 200.0 - m + 0.01
                && b.max.y < 150.0 - m + 0.01
        );
        for q in &before[0].placed {
            let d = distance_by_all_pairs(&there.flat(FLATTEN), &q.cuts.flat(FLATTEN));
            assert!(d.0 >= m, "{} mm from piece {}", d.0, q.number);
            assert!(!q.cuts.flat(FLATTEN).contains(there.bounds().centre().x, there.bounds().centre().y));
        }
    }
    let bill = &bills(&after, std::slice::from_ref(&film))[0];
    assert_eq!((bill.from_leftovers, bill.buy), (1, Buy::Nothing));
}

/// A frame is weeded with all that lies in it: only film outside it is left.
#[test]
fn with_a_frame_only_what_lies_outside_it_is_left() {
    let mut film = sheet(200.0, 150.0);
    film.cut.weeding.frame = Some(Mm(3.0));
    let sheets = laid(&discs(6, 12.0), &film, Effort::Quick);
    let frame = sheets[0].aids.frame.unwrap();
    let left: f64 = leftovers(&sheets[0], &film).iter().map(|l| l.area().0).sum();
    // Rows and columns beyond the frame that are wide enough: the right and upper sides, not the margin
    // strips.
    let (right, up) = (200.0 - frame.max.x.max(0.0), 150.0 - frame.max.y);
    assert!(right.max(up) > LEAST.0 + 8.0);
    assert!(left <= 200.0 * 150.0 - frame.width().0 * frame.height().0 + 1.0, "{left}");
    assert!(left >= 200.0 * up - 1.0, "{left} of {up}");
    assert!(sheets[0].placed.iter().all(|p| frame.min.x <= p.cuts.bounds().min.x - 3.0 + 1e-6));
}

#[test]
fn stock_is_used_before_film_is_bought() {
    let mut film = sheet(300.0, 200.0);
    film.cut.in_stock = vec![InStock { width: Mm(60.0), height: Mm(60.0), count: 2 }];
    let pieces = discs(5, 22.0);
    let sheets = laid(&pieces, &film, Effort::Quick);
    assert_sound(&pieces, &film, &sheets);
    let from: Vec<&Source> = sheets.iter().map(|s| &s.stock.source).collect();
    assert_eq!(from, [&Source::InStock, &Source::InStock, &Source::Bought]);
    assert_eq!(sheets.iter().map(|s| s.placed.len()).collect::<Vec<_>>(), [1, 1, 3]);
    let bill = &bills(&sheets, std::slice::from_ref(&film))[0];
    assert_eq!((bill.buy, bill.from_stock, bill.sheets), (Buy::Sheets(1), 2, 3));
}

#[test]
fn spares_are_a_part_of_the_small_pieces_only() {
    let mut film = sheet(300.0, 200.0);
    film.cut.spares = 0.25;
    film.cut.small = Mm(10.0);
    let mut pieces = discs(10, 4.0);
    pieces.extend(discs(3, 20.0).into_iter().map(|p| Piece { number: p.number + 10, ..p }));
    let sheets = laid(&pieces, &film, Effort::Quick);
    assert_sound(&pieces, &film, &sheets);
    let spares: Vec<u32> = sheets[0].placed.iter().filter(|p| p.spare).map(|p| p.number).collect();
    assert_eq!(spares.len(), 3, "a quarter of ten, rounded up");
    assert!(spares.iter().all(|n| *n <= 10));
}

/// Truth: lengths and areas of a circle; times by hand from the rates.
#[test]
fn a_sheet_is_tallied_as_by_hand() {
    let film = sheet(100.0, 80.0);
    let sheets = laid(&discs(2, 10.0), &film, Effort::Quick);
    let t = tally(&sheets[0], &film);
    let round = 2.0 * std::f64::consts::PI * 10.0;
    assert_eq!((t.pieces, t.spares, t.outlines), (2, 0, 2));
    approx::assert_abs_diff_eq!(t.cut.0, 2.0 * round, epsilon = 0.02);
    approx::assert_abs_diff_eq!(t.used.0, 28.0, epsilon = 1.5);
    approx::assert_abs_diff_eq!(t.used_part, 2.0 * std::f64::consts::PI * 100.0 / 8000.0, epsilon = 1e-4);
    let seconds = t.cut.0 / 60.0 + t.travel.0 / 200.0 + 2.0 * 0.15;
    approx::assert_abs_diff_eq!(t.cut_seconds, seconds, epsilon = 1e-9);
    approx::assert_abs_diff_eq!(t.weed_seconds, 10.0, epsilon = 1e-9);
    assert!(t.travel.0 < 22.1, "two circles, starts next to each other");
}

#[test]
fn weeding_lines_split_the_waste_and_keep_off_the_pieces() {
    let mut film = sheet(300.0, 200.0);
    film.cut.weeding.lines = Some(Mm(40.0));
    film.cut.weeding.clear = Mm(1.5);
    let sheets = laid(&discs(24, 14.0), &film, Effort::Quick);
    let lines = &sheets[0].aids.lines;
    let level = lines.iter().filter(|l| l[0][1] == l[1][1]).count();
    assert!(level > 4 && lines.len() - level > 4, "{lines:?}");
    for p in &sheets[0].placed {
        for [a, b] in lines {
            let line = frusta::outline::Flat::new(vec![vec![*a, *b, *a]], Mm(0.0));
            assert!(distance_by_all_pairs(&line, &p.cuts.flat(FLATTEN)).0 >= 1.5);
        }
    }
}
