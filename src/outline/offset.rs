//! Outward and inward offsets of whole regions: smooth curves, few nodes.
//!
//! Every flattened point of an outline is moved straight out by the distance; steps that would run backwards
//! (inside of a bend tighter than the distance) are replaced by the strip that the edge sweeps. The union of
//! the moved outline (winding number above zero) is then exactly the offset of the flattened outline, and
//! every stretch of its boundary knows its source: the exact offset of a segment, or an arc about a corner.
//! Corners are where the exact offsets meet; between corners lines and cubics are fitted to them.
//!
//! Imports: base, outline::{plane, curve, region, flatten, clearance, trace, joint, fit, crossings, moving}.

use super::clearance::Clearance;
use super::curve::Seg;
use super::fit::FitSample;
use super::flatten::{Flat, Ring};
use super::joint::{BACK, Exact, Slack, exact, shared};
use super::moving::{Join, moved_out};
use super::plane::ring_area;
use super::region::Region;
use super::trace::{BoundaryLoop, Kind, Track, TrackStretch, overlay};
use crate::base::frame::{Frame, Point as Point2};
use crate::base::tolerance::{FIT, FLATTEN, GRID, MEASURE, NO_LENGTH};
use crate::base::units::Mm;
use crate::outline::crossings::{CurvedRing, Fit, Span, fitted, resolve_crossings};
use i_overlay::core::fill_rule::FillRule as Rule;
use i_overlay::core::overlay_rule::OverlayRule;
use kurbo::Point;

/// Sine of the angle to its chord below which a sample's tangent runs along it and the run is a line.
const STRAIGHT: f64 = 1e-6;

/// Chord error of the polylines that decide which stretches remain; the stretches themselves are exact.
const CHORDS: f64 = 2.0 * FLATTEN.0;
/// Corners that turn by less than this are smoothed over by the fit (radians, half a degree).
const SOFT: f64 = 0.0087;
/// Straight stretches at least this long stay lines, mm.
const LONG_LINE: f64 = 0.8;
/// Samples along an edge are at most this far apart, mm: what lies between is not looked at.
const SPACING: f64 = 0.2;
/// The fit's share of [`FIT`]: the rest covers meeting points and what lies between samples.
const SHARE: f64 = 0.93;

impl<F: Frame> Region<F> {
    /// Grown (positive) or shrunk (negative) by a distance; within [`FIT`] of the true offset, in lines and
    /// cubics.
    #[must_use]
    pub fn offset(&self, by: Mm, join: Join) -> Self {
        let clean = self.cleaned();
        if by.0 == 0.0 || !by.is_finite() {
            return clean;
        }
        let contours: Vec<Vec<Seg>> = clean.contours().iter().map(Seg::of).collect();
        let tracks = moved_out(&contours, by.0, join, CHORDS);
        let all: Vec<&Track> = tracks.iter().collect();
        let mut loops = overlay(&tracks, &[], OverlayRule::Subject, Rule::Positive, GRID.0);
        without_slivers(&mut loops, &clean, by.0.abs());
        let slack = slack(by.0);
        let mut exacts: Vec<Exact> = loops.iter().map(|l| exact(&all, l, slack)).collect();
        shared(&mut exacts);
        let drafts = loops.iter().zip(&exacts).map(|(l, e)| smooth(&all, l, e, slack));
        let passed = resolve_crossings(drafts.collect(), FIT.0 + CHORDS);
        Region::promised(passed.contours).rougher(clean.rough() + passed.rough)
    }
}

impl<F: Frame> Flat<F> {
    /// Grown (positive) or shrunk (negative) by a distance, as polylines.
    #[must_use]
    pub fn offset(&self, by: Mm, join: Join) -> Self {
        self.offset_within(by, join, FLATTEN)
    }
    /// The same, round joins within `chords` of the true arc: fewer corners where film is only counted, not
    /// cut.
    #[must_use]
    pub fn offset_within(&self, by: Mm, join: Join, chords: Mm) -> Self {
        let clean = self.cleaned();
        if by.0 == 0.0 || !by.is_finite() {
            return clean;
        }
        let line = |a: [f64; 2], b: [f64; 2]| Seg::Line(Point::new(a[0], a[1]), Point::new(b[0], b[1]));
        let sides = |r: &Vec<[f64; 2]>| (0..r.len()).map(|i| line(r[i], r[(i + 1) % r.len()])).collect();
        let contours: Vec<Vec<Seg>> = clean.rings.iter().map(sides).collect();
        let tracks = moved_out(&contours, by.0, join, chords.0);
        let mut loops = overlay(&tracks, &[], OverlayRule::Subject, Rule::Positive, GRID.0);
        without_slivers(&mut loops, &clean.to_region(), by.0.abs());
        Flat::new(loops.into_iter().map(|l| l.ring).collect(), clean.error + chords)
    }
}

/// At an inner corner that turns by little, the sides overlap by `d` times the turn and are `d turn^2 / 2`
/// apart: as long as that is below the chords' error they may not be seen to cross.
fn slack(by: f64) -> Slack {
    Slack { chords: CHORDS, back: libm::sqrt(3.0 * CHORDS * by.abs()).max(BACK) }
}

/// Moved outlines that run there and back over one place can, for their chords' error, pass each other in the
/// wrong order: a sliver of nothing is left in what is covered. A sliver is kept only if the distance bears
/// it out: nowhere much nearer, and somewhere as far as asked but for the chords' error.
fn without_slivers<F: Frame>(loops: &mut Vec<BoundaryLoop>, source: &Region<F>, by: f64) {
    let sliver = |l: &BoundaryLoop| {
        let n = l.ring.len();
        let side = |i: usize| {
            let (a, b) = (l.ring[i], l.ring[(i + 1) % n]);
            libm::hypot(b[0] - a[0], b[1] - a[1])
        };
        ring_area(&l.ring).abs() <= CHORDS * (0..n).map(side).sum::<f64>()
    };
    if !loops.iter().any(sliver) {
        return;
    }
    let outline = Clearance::new(source.flat(FLATTEN / 8.0));
    let far = |p: &[f64; 2], by: f64| outline.nearest(Point2::mm(p[0], p[1]), Mm(by)).is_none();
    loops.retain(|l| {
        !sliver(l)
            || (l.ring.iter().all(|p| far(p, by - 4.0 * CHORDS))
                && l.ring.iter().any(|p| far(p, by - 1.25 * CHORDS)))
    });
}

/// A stretch between corners.
struct Run {
    samples: Vec<FitSample>,
    line: bool,
}

/// Fits lines and cubics to the exact curves of a loop.
fn smooth(tracks: &[&Track], lp: &BoundaryLoop, ex: &Exact, slack: Slack) -> CurvedRing {
    let tolerance = FIT.0 * SHARE;
    let (mut runs, points) = runs_of(tracks, lp, ex);
    let mut spans = Vec::new();
    if runs.len() > 1 {
        // The loop's beginning need not be a corner.
        let last = &runs[runs.len() - 1];
        if !runs[0].line && !last.line && soft(last, &runs[0]) {
            let mut head = runs.remove(0);
            head.samples.iter_mut().for_each(|s| s.at += points.len());
            if let Some(tail) = runs.last_mut() {
                join(tail, head);
            }
        }
    }
    with_whole_lines(&mut runs);
    without_crumbs(&mut runs, slack.back);
    lean_on_lines(&mut runs);
    let mut followed = Vec::new();
    for mut run in runs {
        let (first, last) = (run.samples[0], run.samples[run.samples.len() - 1]);
        if run.line {
            spans.push(Span::plain(Seg::Line(first.p, last.p)));
            continue;
        }
        calm(&mut run.samples);
        let fit = Fit { run: followed.len(), from: 0, to: run.samples.len() - 1, tolerance };
        spans.extend(fitted(&run.samples, fit));
        followed.push(run.samples);
    }
    let nothing = |s: &Span| (s.seg.end() - s.seg.start()).hypot() < CHORDS;
    if spans.iter().all(nothing) {
        // Too small for runs of its own: its polyline, as plain as the chords' error lets it be.
        (spans, followed) = (plain(&lp.ring), Vec::new());
    }
    CurvedRing { spans, points, ring: lp.ring.clone(), runs: followed }
}

/// A ring as lines, without corners that lie within a quarter of the chords' error of what is left; three at
/// least.
fn plain(ring: &Ring) -> Vec<Span> {
    let mut kept: Vec<Point> = ring.iter().map(|p| Point::new(p[0], p[1])).collect();
    while kept.len() > 3 {
        let n = kept.len();
        let height = |i: usize| {
            let (a, b, c) = (kept[(i + n - 1) % n], kept[i], kept[(i + 1) % n]);
            (b - a).cross(c - a).abs() / (c - a).hypot().max(GRID.0)
        };
        let least =
            (0..n).map(|i| (height(i), i)).fold((f64::INFINITY, 0), |m, x| if x.0 < m.0 { x } else { m });
        if least.0 > 0.25 * CHORDS {
            break;
        }
        kept.remove(least.1);
    }
    let n = kept.len();
    (0..n).map(|i| Span::plain(Seg::Line(kept[i], kept[(i + 1) % n]))).collect()
}

/// Runs shorter than the chords' error are rounding: their neighbours meet in their middle.
fn without_crumbs(runs: &mut Vec<Run>, back: f64) {
    let mut k = 0;
    while runs.len() > 1 && k < runs.len() {
        let samples = &runs[k].samples;
        let (a, b) = (samples[0], samples[samples.len() - 1]);
        if b.s - a.s < CHORDS || (b.s - a.s < back && doubles_back(runs, k)) {
            let middle = a.p.midpoint(b.p);
            let n = runs.len();
            if let Some(s) = runs[(k + n - 1) % n].samples.last_mut() {
                s.p = middle;
            }
            runs[(k + 1) % n].samples[0].p = middle;
            runs.remove(k);
        } else {
            k += 1;
        }
    }
}

/// Does a run go straight back, within 8 degrees, where the runs beside it go the other way?
fn doubles_back(runs: &[Run], k: usize) -> bool {
    let n = runs.len();
    let (before, run, after) = (&runs[(k + n - 1) % n].samples, &runs[k].samples, &runs[(k + 1) % n].samples);
    let step = run[run.len() - 1].p - run[0].p;
    let least = 0.99 * step.hypot();
    step.dot(before[before.len() - 1].t) < -least && step.dot(after[0].t) < -least
}

/// Takes samples out that do not lead on: behind the one before, or so near that they have no direction to
/// speak of. The first and the last stay.
fn calm(samples: &mut Vec<FitSample>) {
    /// Shorter steps have no direction to speak of, mm.
    const NEAR: f64 = 0.1 * CHORDS;
    let last = samples[samples.len() - 1];
    let mut kept: Vec<FitSample> = Vec::with_capacity(samples.len());
    kept.push(samples[0]);
    let leads = |a: &FitSample, b: &FitSample| {
        let step = b.p - a.p;
        step.dot(a.t) > 0.0 && step.dot(b.t) > 0.0 && step.hypot() > NEAR
    };
    for s in &samples[1..samples.len() - 1] {
        if leads(&kept[kept.len() - 1], s) {
            kept.push(*s);
        }
    }
    while kept.len() > 1 && !leads(&kept[kept.len() - 1], &last) {
        kept.pop();
    }
    kept.push(last);
    for k in 1..kept.len() {
        kept[k].s = kept[k - 1].s + (kept[k].p - kept[k - 1].p).hypot();
    }
    *samples = kept;
}

fn soft(a: &Run, b: &Run) -> bool {
    let (s, t) = (&a.samples[a.samples.len() - 1], &b.samples[0]);
    (s.p - t.p).hypot() < MEASURE.0 && s.t.dot(t.t) > 0.0 && s.t.cross(t.t).abs() < SOFT
}

/// Runs that are straight from end to end are lines, however short, and lines that go straight on are one.
fn with_whole_lines(runs: &mut Vec<Run>) {
    for run in runs.iter_mut().filter(|r| !r.line) {
        let (a, b) = (run.samples[0], run.samples[run.samples.len() - 1]);
        let chord = b.p - a.p;
        let on = |s: &FitSample| {
            let across = (s.p - a.p).cross(chord).abs() <= 0.01 * GRID.0 * chord.hypot();
            across && s.t.cross(chord).abs() <= STRAIGHT * chord.hypot() && s.t.dot(chord) > 0.0
        };
        if run.samples.iter().all(on) {
            run.line = true;
            run.samples = vec![FitSample { s: 0.0, ..a }, FitSample { s: chord.hypot(), ..b }];
        }
    }
    let mut k = 0;
    while runs.len() > 2 && k < runs.len() {
        let next = (k + 1) % runs.len();
        if runs[k].line && runs[next].line && in_line(&runs[k], &runs[next]) {
            let end = runs[next].samples[1];
            straighten(&mut runs[k], end);
            runs.remove(next);
            k = k.saturating_sub(usize::from(next == 0));
        } else {
            k += 1;
        }
    }
}

/// Two lines of which the second goes straight on: the corner between lies within a grid's step of the whole.
fn in_line(a: &Run, b: &Run) -> bool {
    let (from, m, to) = (a.samples[0].p, b.samples[0].p, b.samples[b.samples.len() - 1].p);
    soft(a, b) && (m - from).cross(to - from).abs() <= GRID.0 * (to - from).hypot()
}

/// A line on to another end.
fn straighten(a: &mut Run, end: FitSample) {
    let from = a.samples[0].p;
    let len = (end.p - from).hypot();
    let t = (end.p - from) / len;
    let at = end.at;
    a.samples = vec![FitSample { p: from, t, s: 0.0, at }, FitSample { p: end.p, t, s: len, at }];
}

fn join(a: &mut Run, b: Run) {
    let last = a.samples.len() - 1;
    let (s, t) = (a.samples[last], b.samples[0]);
    let mean = s.t + t.t;
    a.samples[last].t = mean / mean.hypot();
    let shift = s.s - t.s;
    a.samples.extend(b.samples[1..].iter().map(|x| FitSample { s: x.s + shift, ..*x }));
}

/// Curves that run smoothly into a line take its direction there.
fn lean_on_lines(runs: &mut [Run]) {
    let n = runs.len();
    for k in 0..n {
        let next = (k + 1) % n;
        if k == next || runs[k].line == runs[next].line || !soft(&runs[k], &runs[next]) {
            continue;
        }
        if runs[k].line {
            let t = runs[k].samples[0].t;
            runs[next].samples[0].t = t;
        } else {
            let t = runs[next].samples[0].t;
            if let Some(s) = runs[k].samples.last_mut() {
                s.t = t;
            }
        }
    }
}

/// The stretches between corners, and the corners of the ring within the pieces in the sense of travel.
fn runs_of(tracks: &[&Track], lp: &BoundaryLoop, ex: &Exact) -> (Vec<Run>, Vec<Point>) {
    let mut runs: Vec<Run> = Vec::new();
    let mut points = Vec::new();
    let n = ex.pieces.len();
    for (k, piece) in ex.pieces.iter().enumerate() {
        let (start, end) = (ex.joints[k], ex.joints[(k + 1) % n]);
        let track = tracks[piece.track as usize];
        if piece.filler {
            straight_to(&mut runs, start, end, points.len());
        } else {
            let inner = lp.inner(piece, track.edges.len());
            stretches(track, piece, [start, end], (&inner, points.len()), &mut runs);
            points.extend(inner.iter().map(|p| p.1));
        }
        points.push(end);
    }
    (runs, points)
}

fn straight_to(runs: &mut Vec<Run>, a: Point, b: Point, at: usize) {
    let len = (b - a).hypot();
    if len > NO_LENGTH {
        let t = (b - a) / len;
        let samples = vec![FitSample { p: a, t, s: 0.0, at }, FitSample { p: b, t, s: len, at }];
        add(runs, Run { samples, line: true });
    }
}

/// Puts a run after the others, into the last one if it goes on smoothly.
fn add(runs: &mut Vec<Run>, run: Run) {
    match runs.last_mut() {
        Some(last) if last.line == run.line && soft(last, &run) => {
            if run.line {
                // Two lines are one only if they are in line.
                if in_line(last, &run) {
                    straighten(last, run.samples[1]);
                    return;
                }
                runs.push(run);
            } else {
                join(last, run);
            }
        }
        _ => runs.push(run),
    }
}

/// Samples of the exact curve along a piece: at each edge's ends and in its middle. `inner` are the corners
/// of the ring along it, of which `base` come before.
fn stretches(
    track: &Track,
    piece: &TrackStretch,
    [start, end]: [Point; 2],
    (inner, base): (&[(f64, Point)], usize),
    runs: &mut Vec<Run>,
) {
    let forward = piece.forward();
    let sign = if forward { 1.0 } else { -1.0 };
    let mut s = piece.s0;
    let mut at = start;
    // Corners passed at a place: those at the place itself count as passed.
    let mut passed = 0;
    let mut index = |s: f64| {
        let reached = |p: f64| if forward { p <= s } else { p >= s };
        while passed < inner.len() && reached(inner[passed].0) {
            passed += 1;
        }
        base + passed
    };
    let mut here = base;
    while s != piece.s1 {
        let stop = if forward { (s.floor() + 1.0).min(piece.s1) } else { (s.ceil() - 1.0).max(piece.s1) };
        let last = stop == piece.s1;
        let i = if forward { s.floor() } else { s.ceil() - 1.0 } as i64;
        let (to, _) = if forward { track.before(stop) } else { track.at(stop) };
        let to = if last { end } else { to };
        let is_line = match track.kind(i) {
            Kind::Smooth { seg, .. } => matches!(track.segs[seg as usize], Seg::Line(..)),
            Kind::Arc { .. } => false,
            Kind::Straight | Kind::Filler => true,
        };
        let length = (to - at).hypot();
        let there;
        if is_line && length >= LONG_LINE {
            there = index(stop);
            straight_to(runs, at, to, there);
        } else if length > NO_LENGTH {
            let head = |s: f64, before: bool| track.heading(s, before) * sign;
            let steps = (length / SPACING).ceil().clamp(if is_line { 1.0 } else { 2.0 }, 24.0) as usize;
            let mut samples = Vec::with_capacity(steps + 1);
            samples.push(FitSample { p: at, t: head(s, !forward), s: 0.0, at: here });
            for k in 1..=steps {
                let place = if k == steps { stop } else { s + (stop - s) * k as f64 / steps as f64 };
                let p = if k == steps { to } else { track.at(place).0 };
                let before = samples[k - 1];
                let (t, s) = (head(place, k == steps && forward), before.s + (p - before.p).hypot());
                samples.push(FitSample { p, t, s, at: index(place) });
            }
            there = index(stop);
            add(runs, Run { samples, line: false });
        } else {
            there = index(stop);
        }
        (at, s, here) = (to, stop, there);
    }
}
