//! The best place for a straight seam: chosen once decals and motifs lie, before spots, where it crosses least.
//!
//! A piece that the seam crosses costs what it is worth times the share of its width on the smaller side. Between
//! two ends of pieces no piece begins or ends, so the middles of all such gaps are looked at; of the cheapest the
//! widest is taken, and of equals the one nearest to the back.
//!
//! Imports: base, make::{cup, piece}.

use crate::base::diag::{Code, Diagnostic, Diagnostics, KeyPath};
use crate::base::frame::Point;
use crate::base::tolerance::FLATTEN;
use crate::base::units::{Angle, Mm};
use crate::make::cup::Cup;
use crate::make::piece::{Kind, Piece};
use std::f64::consts::{PI, TAU};

/// Where the seam was laid.
pub const CHOSEN: Code = Code {
    id: "cup/seam-chosen",
    title: "the seam was laid where it crosses least",
    explain: "With `seam = \"best\"` a straight seam is laid once decals and motifs have their places and before \
        spots fill the rest: through the widest gap that no motif reaches into, or, where there is none, where \
        it cuts off least; a decal is crossed only if nothing else is left. Template, map and pages are parted \
        there. The film itself is not cut at the seam.",
};

/// All codes of this module.
pub const CODES: &[&Code] = &[&CHOSEN];

/// What crossing a motif costs, and a decal.
const WORTH: [f64; 2] = [10.0, 1000.0];
/// Least gap that is looked at, radians: narrower ones are rounding.
const LEAST_GAP: f64 = 1e-6;

/// A piece round the cup: from, to, and what it is worth.
struct Reach {
    number: u32,
    from: f64,
    to: f64,
    worth: f64,
}

impl Reach {
    /// Share of its width on the smaller side of a line, none if it does not cross.
    fn share(&self, line: f64) -> f64 {
        let into = (line - self.from).rem_euclid(TAU);
        let wide = self.to - self.from;
        if into <= 0.0 || into >= wide { 0.0 } else { into.min(wide - into) / wide }
    }
}

/// Lays the seam of a cup by the pieces on it, and says where.
pub(super) fn lay(cup: &mut Cup, pieces: &[Piece], diagnostics: &mut Diagnostics) {
    if !cup.zones.iter().any(|z| z.zone.seam_open) {
        return;
    }
    let reaches: Vec<Reach> = pieces.iter().filter_map(|p| reach(cup, p)).collect();
    let (seam, wide) = best(&reaches);
    cup.set_seam(Angle::radians(seam).wrapped());
    let crossed: Vec<String> = reaches
        .iter()
        .filter(|r| r.share(seam) > 0.0)
        .map(|r| match r.share(seam) * 100.0 {
            share if share < 1.0 => format!("piece {} by less than 1 percent of its width", r.number),
            share => format!("piece {} by {share:.0} percent of its width", r.number),
        })
        .collect();
    let radius = cup.zones.iter().map(|z| z.development.radius(z.low)).fold(Mm(f64::INFINITY), Mm::min);
    let message = match crossed.len() {
        0 => format!("the seam runs through a gap of {} between decals and motifs", radius * wide),
        _ => format!("no way from base to rim is free of motifs: the seam crosses {}", crossed.join(", ")),
    };
    let at = Angle::radians(seam).wrapped().deg();
    diagnostics.push(
        Diagnostic::note(&CHOSEN, KeyPath::of("cup.seam"), message).measured(format!("{at:.1} degrees")),
    );
}

/// The cheapest place, and how wide the gap is that it is the middle of, radians.
fn best(reaches: &[Reach]) -> (f64, f64) {
    let mut ends: Vec<f64> = reaches.iter().flat_map(|r| [r.from, r.to]).map(|a| a.rem_euclid(TAU)).collect();
    ends.sort_by(f64::total_cmp);
    let Some(first) = ends.first().copied() else { return (PI, TAU) };
    ends.push(first + TAU);
    let gaps = ends.windows(2).map(|w| (f64::midpoint(w[0], w[1]), w[1] - w[0])).filter(|g| g.1 > LEAST_GAP);
    let cost = |line: f64| reaches.iter().map(|r| r.worth * r.share(line)).sum::<f64>();
    let off_back = |line: f64| (Angle::radians(line) - Angle::radians(PI)).wrapped().rad().abs();
    let better = |a: &(f64, f64), b: &(f64, f64)| {
        cost(a.0)
            .total_cmp(&cost(b.0))
            .then(b.1.total_cmp(&a.1))
            .then(off_back(a.0).total_cmp(&off_back(b.0)))
    };
    gaps.min_by(better).unwrap_or((PI, TAU))
}

/// How far round a piece reaches; none for what lies over another or on the base.
fn reach(cup: &Cup, p: &Piece) -> Option<Reach> {
    let worth = match p.kind {
        Kind::Motif { .. } => WORTH[0],
        Kind::Layer { layer: 0, .. } => WORTH[1],
        _ => return None,
    };
    let d = &cup.zones[p.zone].development;
    let own = p.wall.azimuth.rad();
    let off = |q: &[f64; 2]| (d.wrap(Point::mm(q[0], q[1])).azimuth.rad() - own + PI).rem_euclid(TAU) - PI;
    let flat = p.on_plane().flat(FLATTEN);
    let all = flat.rings.iter().flatten().map(off);
    let (lo, hi) = all.fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), a| (l.min(a), h.max(a)));
    Some(Reach { number: p.number, from: own + lo, to: own + hi, worth })
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    fn reach(from: f64, to: f64, worth: f64) -> Reach {
        Reach { number: 1, from: from.to_radians(), to: to.to_radians(), worth }
    }

    /// The middle of the widest free gap, over the turn too; nothing on the wall leaves the back.
    #[test]
    fn the_widest_free_gap_is_taken() {
        let all = [reach(-170.0, -20.0, 10.0), reach(10.0, 100.0, 10.0), reach(120.0, 175.0, 10.0)];
        let (at, wide) = best(&all);
        assert_abs_diff_eq!(Angle::radians(at).wrapped().deg(), -5.0, epsilon = 1e-9);
        assert_abs_diff_eq!(wide.to_degrees(), 30.0, epsilon = 1e-9);
        assert_abs_diff_eq!(best(&[]).0, PI);
    }

    /// Where all is covered, what cuts off least; against every tenth of a degree.
    #[test]
    fn where_nothing_is_free_the_cheapest_is_near_the_least_of_all() {
        let all = [reach(-180.0, 20.0, 10.0), reach(15.0, 100.0, 1000.0), reach(90.0, 185.0, 10.0)];
        let cost = |line: f64| all.iter().map(|r| r.worth * r.share(line)).sum::<f64>();
        let got = cost(best(&all).0);
        let least = (0..3600)
            .map(|i| cost(f64::from(i).mul_add(0.1, 0.05).to_radians()))
            .fold(f64::INFINITY, f64::min);
        // Gaps are taken in their middles: the cheapest gap is the right one, its middle not the very least.
        assert!(got < 0.6 && least <= got, "{got} {least}");
    }
}
