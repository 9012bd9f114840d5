//! The cup's section: rings or diameters, bands, seam, handle, lap, build-up, capacity.
//!
//! The one judge of the cup's shape: what it lets through is a cup that can be fitted, zoned and rolled out.
//!
//! Imports: base, read::job::{codes, model, rows, reader, section, chain, readings, unit_mistakes, handles, outlines,
//! curved}.

use super::chain::Stretch;
use super::codes;
use super::curved;
use super::handles;
use super::model::{CupSpec, KeepClear, Outline, Ring, TrialWrap, Whole};
use super::outlines;
use super::reader::{Reader, degrees};
use super::readings::{AsTyped, STEEPEST_DEG, Said};
use super::rows::cup as rows;
use super::rows::cup::RIM_BAND;
use super::section::{Item, Section};
use super::unit_mistakes;
use crate::base::diag::{Diagnostic, ErrorGuaranteed, KeyPath};
use crate::base::units::{Angle, Mm};
use std::f64::consts::{PI, TAU};

/// Least girth that the line through the readings may have at an edge of the wall.
const LEAST_GIRTH: Mm = Mm(20.0);
/// Readings less far apart than this are repeats at one height.
const ONE_HEIGHT: Mm = Mm(1.0);
/// Repeats may differ by this part of themselves; more is a slip of one of them.
const REPEATS_WITHIN: f64 = 0.05;
/// Thickest of usual tapes, assumed as the bound where `tape-thickness` is not said (common practice, no
/// source).
const TAPE_THICKNESS: Mm = Mm(0.3);
/// How far the slack of a tape or wrap laid round varies, as a standard uncertainty (common practice, no
/// source).
const SLACK: Mm = Mm(0.15);
/// Least height of a zone between edges.
const LEAST_ZONE: Mm = Mm(3.0);
/// Where the seam runs unless it is said, from the front line.
pub(super) const BACK: Angle = Angle::degrees(180.0);
/// Least wall that the bands must leave.
const LEAST_WALL: Mm = Mm(5.0);

/// Reads `[cup]`.
pub(super) fn read(cup: Section<'_>) -> Result<CupSpec, ErrorGuaranteed> {
    let shape = shape(&cup);
    let tape = cup.key(&rows::TAPE).or_usual();
    let marks = cup.key(&rows::MARKS).or_usual();
    let thickness = cup.key(&rows::TAPE_THICKNESS).optional();
    let said = if cup.has("diameters") { Said::Diameters } else { Said::Girths };
    let tape = tape.map(|t| if said == Said::Diameters { t * PI } else { t });
    let thickness = thickness.and_then(|t| tape_only(&cup, said, t));
    let keep_clear = keep_clear(&cup);
    let seam = cup.own(&rows::SEAM, seam).or(Some(BACK));
    let is_curved = cup.key(&rows::CURVED).or_usual();
    let lap = cup.key(&rows::LAP).or_usual();
    let build_up = cup.key(&rows::BUILD_UP).or_usual();
    let capacity = cup.key(&rows::CAPACITY).optional();
    let trials: Vec<_> = cup.tables(&rows::TRIAL, 20).into_iter().map(|s| s.and_then(trial)).collect();
    let handles = handles::read(&cup);
    let outlines = outlines::read(&cup);
    let seen: &[Outline] = outlines.as_deref().unwrap_or(&[]);
    let shape = shape.and_then(|(readings, rings, wall)| {
        let readings = AsTyped { curved: is_curved.unwrap_or(false), ..readings };
        let capacity = capacity.as_ref().ok().copied().flatten();
        unit_mistakes::judge(&cup, &readings, capacity).map(|()| (rings, wall))
    });
    let shape = shape.and_then(|(rings, wall)| leaning(&cup, &rings).map(|()| (rings, wall)));
    let shape = shape.and_then(|(rings, wall)| {
        outlines::on_wall(&cup, seen, wall, rings.iter().any(|r| r.edge)).map(|()| (rings, wall))
    });
    let shape = shape.and_then(|(rings, wall)| match is_curved {
        Ok(true) => curved::can_be(&cup, &rings, seen, wall).map(|()| (rings, wall)),
        _ => Ok((rings, wall)),
    });
    let shape = shape.and_then(|(mut rings, wall)| {
        let off = thickness.ok().flatten().map_or(Mm::ZERO, |t| t * PI);
        rings.iter_mut().for_each(|r| r.girth -= off);
        let tape = tape.unwrap_or(rows::TAPE.usual());
        let marks = marks.unwrap_or(rows::MARKS.usual());
        let stretches = curved::stretches((&rings, seen), wall, (tape, marks), is_curved.unwrap_or(false));
        edges(&cup, &stretches).map(|least| (rings, wall, least))
    });
    let fits = shape.as_ref().map_err(|r| *r).and_then(|(_, wall, least)| {
        let bands = keep_clear.and_then(|k| bands_fit(cup.reader(), cup.at(), k, *wall));
        let windows = handles.and_then(|h| handles::on_wall(&cup, &h, *least, *wall));
        bands.and(windows)
    });
    let zoned = shape.as_ref().is_ok_and(|(rings, ..)| rings.iter().any(|r| r.edge)) || is_curved == Ok(true);
    let trials = trials.into_iter().collect::<Result<Vec<TrialWrap>, _>>().and_then(|trials| {
        if trials.is_empty() || !zoned {
            return Ok(trials);
        }
        let message = "a trial wrap corrects a wall of one cone, and this one is of several";
        let d = cup.fault(&codes::EDGE, "trial", message);
        Err(cup.reader().push(d.help("take `trial` out, and read each ring three times instead")))
    });
    cup.done();
    let (rings, wall, _) = shape?;
    let handles = fits?;
    Ok(CupSpec {
        rings,
        wall,
        tape: tape?,
        marks: marks?,
        common: common(said, thickness?),
        keep_clear: keep_clear?,
        seam: seam?.unwrap_or(BACK).wrapped(),
        seam_best: seam?.is_none(),
        handles,
        lap: lap?,
        build_up: build_up?,
        capacity: capacity?,
        trials: trials?,
        curved: is_curved?,
        outlines: outlines?,
        whole: Whole::default(),
        alike: None,
        beside_edges: Mm::ZERO,
    })
}

/// An angle, or none for the best.
pub(super) fn seam(item: &Item<'_>) -> Result<Option<Angle>, ErrorGuaranteed> {
    if item.as_text().is_some_and(|t| t.starts_with(|c: char| c.is_alphabetic())) {
        return item.choice(&[("best", None)]);
    }
    let angle = item.angle()?;
    if angle.deg().abs() <= 360.0 {
        return Ok(Some(angle));
    }
    let d =
        Diagnostic::fault(&codes::OUT_OF_RANGE, item.at().clone(), "`cup.seam` is no place round the cup");
    Err(item.reader().push(
        d.measured(degrees(angle))
            .allowed("-360 to 360 degrees, or \"best\"")
            .help("give the angle from the front line: 180 is the back"),
    ))
}

/// A tape's thickness is said of a tape only.
fn tape_only(cup: &Section<'_>, said: Said, thickness: Option<Mm>) -> Result<Option<Mm>, ErrorGuaranteed> {
    if said == Said::Girths || thickness.is_none() {
        return Ok(thickness);
    }
    Err(cup.reader().push(
        cup.fault(&codes::ONE_OF, "tape-thickness", "diameters are not read with a tape laid round")
            .help("take `tape-thickness` out; it belongs to `rings`"),
    ))
}

/// What all girths share, as a standard uncertainty. A tape lies with its middle half its thickness t off the
/// wall, so that each girth reads pi t too long: taken off where said, else a bound whose root mean square is
/// pi t / sqrt 3.
fn common(said: Said, thickness: Option<Mm>) -> Mm {
    match (said, thickness) {
        (Said::Diameters, _) => Mm::ZERO,
        (Said::Girths, Some(_)) => SLACK,
        (Said::Girths, None) => Mm(libm::hypot(PI * TAPE_THICKNESS.0 / libm::sqrt(3.0), SLACK.0)),
    }
}

/// Holds the line through the readings to a cup at both edges of the wall, or of each of its zones; the
/// smallest girth there.
fn edges(cup: &Section<'_>, stretches: &[Stretch]) -> Result<Mm, ErrorGuaranteed> {
    let mut least = Mm(f64::INFINITY);
    for s in stretches {
        least = least.min(edges_of(cup, s, stretches.len() > 1)?);
    }
    Ok(least)
}

fn edges_of(cup: &Section<'_>, s: &Stretch, zoned: bool) -> Result<Mm, ErrorGuaranteed> {
    let key = if cup.has("diameters") { "diameters" } else { "rings" };
    let show = |mm| cup.reader().show(mm);
    let (base, rim) = (s.lower, s.upper);
    let slope = if zoned { s.slope() } else { (rim - base) / s.high };
    let lean = libm::asin((slope / TAU).abs().min(1.0)).to_degrees();
    let least = base.min(rim);
    if lean > STEEPEST_DEG || least < LEAST_GIRTH {
        let measured = if zoned {
            format!(
                "{} round at {} up and {} at {} up, leaning {}",
                show(base),
                show(s.low),
                show(rim),
                show(s.high),
                degrees(Angle::degrees(lean))
            )
        } else {
            format!(
                "{} round at the rim, {} at the base, {} of wall between, leaning {}",
                show(rim),
                show(base),
                show(s.high),
                degrees(Angle::degrees(lean))
            )
        };
        return Err(cup.reader().push(
            cup.fault(&codes::TOO_STEEP, key, "the line through the readings makes no cup")
                .measured(measured)
                .allowed(format!(
                    "both at least {}, up to {STEEPEST_DEG} degrees from upright",
                    show(LEAST_GIRTH)
                ))
                .help("check each ring's height `up` (along the wall, from the base edge) and its girth"),
        ));
    }
    Ok(least)
}

type Shape = (AsTyped, Vec<Ring>, Mm);

/// The wall's shape, said in one of two ways.
fn shape(cup: &Section<'_>) -> Result<Shape, ErrorGuaranteed> {
    match (cup.has("rings"), cup.has("diameters")) {
        (true, false) => rings(cup),
        (false, true) => {
            let section = cup.table(&rows::DIAMETERS).required()?;
            let both = cup.has("wall").then(|| {
                cup.reader().push(
                    cup.fault(&codes::ONE_OF, "wall", "the wall's length is said twice")
                        .help("take `wall` out: `cup.diameters` says it by `slant` or `height`"),
                )
            });
            let shape = diameters(&section);
            section.done();
            both.map_or(shape, Err)
        }
        (true, true) => {
            let _ = (rings(cup), cup.has("wall"));
            Err(cup.reader().push(
                cup.fault(&codes::ONE_OF, "diameters", "the cup is said by rings and by diameters")
                    .help("take one of them out; rings read with a tape are the better ones"),
            ))
        }
        (false, false) => {
            cup.has("wall");
            Err(cup.missing(&rows::RINGS))
        }
    }
}

fn rings(cup: &Section<'_>) -> Result<Shape, ErrorGuaranteed> {
    let wall = cup.key(&rows::WALL).required();
    let rings = cup.own(&rows::RINGS, |item| item.list(ring)).counting(2..=100, "readings").required();
    let (rings, wall) = (rings?, wall?);
    let fields = |i: usize| cup.path("rings").index(i);
    let mut ok = Ok(());
    for (i, ring) in rings.iter().enumerate() {
        // A reading at the rim may be a little above the measured wall: both have the tape's error.
        if ring.slant.0 > wall.0 + 2.0 {
            ok = Err(cup.reader().push(
                Diagnostic::fault(&codes::RINGS, fields(i).key("up"), "a reading lies above the rim")
                    .measured(cup.reader().show(ring.slant))
                    .allowed(format!("0 to the wall's length, {}", cup.reader().show(wall)))
                    .help("`up` is measured along the wall from the base edge; correct it or `wall`"),
            ));
        }
    }
    let heights = by_height(&rings);
    for (_, girths, places) in &heights {
        ok = ok.and(repeats_agree(cup, girths, places));
    }
    let of_entries = &rings;
    let ring = |(slant, girths, places): AtHeight| {
        let edge = places.iter().any(|i| of_entries[*i].edge);
        Ring { edge, ..mean(slant, &girths, places[0]) }
    };
    let rings: Vec<Ring> = heights.into_iter().map(ring).collect();
    let ok = ok.and(edges_apart(cup, &rings, wall));
    let span = rings[rings.len() - 1].slant - rings[0].slant;
    if rings.len() < 2 {
        let last = fields(rings[0].place.max(1)).key("up");
        let d = Diagnostic::fault(&codes::RINGS, last, "the readings are all at the same height");
        return Err(cup.reader().push(
            d.measured(cup.reader().show(rings[0].slant))
                .allowed("two heights or more, at least 1 mm apart")
                .help("read another ring, as far up or down the wall as the tape lies flat"),
        ));
    }
    let zoned = rings.iter().any(|r| r.edge);
    if ok.is_ok() && !zoned && span.0 < wall.0 * 0.5 {
        cup.reader().push(
            cup.warning(&codes::RINGS, "rings", "the readings span less than half the wall")
                .measured(format!("{} of {}", cup.reader().show(span), cup.reader().show(wall)))
                .help(
                    "read near the base edge and near the rim: what lies outside is stretched from what \
                        lies between",
                ),
        );
    }
    let readings = AsTyped {
        fields: rings.iter().map(|r| fields(r.place).key("girth")).collect(),
        rings: rings.clone(),
        wall,
        said: Said::Girths,
        curved: false,
    };
    ok.map(|()| (readings, rings, wall))
}

/// Edges lie between base edge and rim, apart from them and from each other, with a girth on either side.
fn edges_apart(cup: &Section<'_>, rings: &[Ring], wall: Mm) -> Result<(), ErrorGuaranteed> {
    let show = |mm| cup.reader().show(mm);
    let (mut ok, mut below) = (Ok(()), Mm::ZERO);
    for (i, ring) in rings.iter().enumerate().filter(|(_, r)| r.edge) {
        let at = cup.path("rings").index(ring.place).key("edge");
        let d = if ring.slant - below < LEAST_ZONE || wall - ring.slant < LEAST_ZONE {
            Diagnostic::fault(
                &codes::EDGE,
                at,
                "an edge lies too near to the base edge, the rim or another edge",
            )
            .measured(format!("{} up", show(ring.slant)))
            .allowed(format!("{} apart or more", show(LEAST_ZONE)))
            .help("take `edge` out there; base edge and rim need none")
        } else if i == 0 || i + 1 == rings.len() {
            let side = if i == 0 { "below" } else { "above" };
            Diagnostic::fault(&codes::EDGE, at, format!("no girth was read {side} this edge"))
                .measured(format!("{} up", show(ring.slant)))
                .help(format!("read one more ring {side} it: the wall there is a cone of its own"))
        } else {
            below = ring.slant;
            continue;
        };
        ok = Err(cup.reader().push(d));
        below = ring.slant;
    }
    ok
}

/// One entry of the list: a height and the girths read there.
struct Entry {
    slant: Mm,
    girths: Vec<Mm>,
    edge: bool,
}

/// Height, the girths read there, and the places of the entries that say so.
type AtHeight = (Mm, Vec<Mm>, Vec<usize>);

/// Entries drawn together by height, lowest first; within a height in the order of the job.
fn by_height(entries: &[Entry]) -> Vec<AtHeight> {
    let mut order: Vec<usize> = (0..entries.len()).collect();
    order.sort_by(|a, b| entries[*a].slant.0.total_cmp(&entries[*b].slant.0));
    let mut all: Vec<(Mm, Vec<usize>)> = Vec::new();
    for i in order {
        match all.last_mut() {
            Some((lowest, places)) if entries[i].slant - *lowest < ONE_HEIGHT => places.push(i),
            _ => all.push((entries[i].slant, vec![i])),
        }
    }
    let gather = |(lowest, mut places): (Mm, Vec<usize>)| {
        places.sort_unstable();
        let girths = places.iter().flat_map(|i| entries[*i].girths.iter().copied()).collect();
        let slant = match places[..] {
            [_] => lowest,
            _ => Mm(places.iter().map(|i| entries[*i].slant.0).sum::<f64>() / places.len() as f64),
        };
        (slant, girths, places)
    };
    all.into_iter().map(gather).collect()
}

/// Repeats differ by the tape's error, not by a slip of one of them.
fn repeats_agree(cup: &Section<'_>, girths: &[Mm], places: &[usize]) -> Result<(), ErrorGuaranteed> {
    let (least, most) = girths.iter().fold((girths[0], girths[0]), |(l, m), g| (l.min(*g), m.max(*g)));
    if (most - least).0 <= REPEATS_WITHIN * most.0 {
        return Ok(());
    }
    let show = |mm| cup.reader().show(mm);
    let at = cup.path("rings").index(places[places.len() - 1]).key("girth");
    let d = Diagnostic::fault(
        &codes::RINGS,
        at,
        "girths read at the same height disagree by more than a tape strays",
    );
    Err(cup.reader().push(
        d.measured(format!("{} to {}", show(least), show(most)))
            .allowed(format!("within {} of each other", show(most * REPEATS_WITHIN)))
            .help("correct the one that is wrong, or its `up`"),
    ))
}

fn mean(slant: Mm, girths: &[Mm], place: usize) -> Ring {
    let [only] = girths else {
        let n = girths.len() as f64;
        let mean = girths.iter().map(|g| g.0).sum::<f64>() / n;
        let scatter = girths.iter().map(|g| (g.0 - mean) * (g.0 - mean)).sum();
        return Ring {
            girth: Mm(mean),
            reads: girths.len() as u32,
            scatter,
            place,
            ..Ring::once(slant, Mm(mean))
        };
    };
    Ring { place, ..Ring::once(slant, *only) }
}

/// One entry. Its girths are not yet held to a range: a slip is better told than a range.
fn ring(item: &Item<'_>) -> Result<Entry, ErrorGuaranteed> {
    let section = item.section()?.quiet();
    let slant = section.key(&rows::ring::UP).required();
    let any = Mm(0.5)..=Mm(50_000.0);
    let girths = if section.item("girth").is_some_and(|i| i.is_list()) {
        section
            .own(&rows::ring::GIRTH, |item| item.list(Item::length))
            .counting(1..=100, "repeats")
            .held(|list, at| {
                let i = list.iter().position(|g| !any.contains(g))?;
                let d = Diagnostic::fault(&codes::OUT_OF_RANGE, at.index(i), "this repeat is no cup's girth");
                Some(d.measured(list[i]).help("correct the value or its unit"))
            })
            .required()
    } else {
        section.own(&rows::ring::GIRTH, Item::length).within(any).required().map(|g| vec![g])
    };
    let edge = section.key(&rows::ring::EDGE).or_usual();
    section.done();
    Ok(Entry { slant: slant?, girths: girths?, edge: edge? })
}

fn diameters(section: &Section<'_>) -> Result<Shape, ErrorGuaranteed> {
    let rim = section.key(&rows::diameters::RIM).required();
    let base = section.key(&rows::diameters::BASE).required();
    let slant = section.key(&rows::diameters::SLANT).optional();
    let height = section.key(&rows::diameters::HEIGHT).optional();
    let (rim, base, slant, height) = (rim?, base?, slant?, height?);
    let half = (rim - base).abs() * 0.5;
    let slant = match (slant, height) {
        (Some(slant), None) => slant,
        (None, Some(height)) => Mm(libm::hypot(height.0, half.0)),
        (Some(_), Some(_)) => {
            return Err(section.reader().push(
                section
                    .fault(&codes::ONE_OF, "height", "the wall is said by slant and by height")
                    .help("take one out; `slant` (along the wall) is the better one for a tape"),
            ));
        }
        (None, None) => {
            return Err(section.missing(&rows::diameters::SLANT));
        }
    };
    let readings = AsTyped {
        fields: vec![section.path("base"), section.path("rim")],
        rings: vec![Ring::once(Mm::ZERO, base * PI), Ring { place: 1, ..Ring::once(slant, rim * PI) }],
        wall: slant,
        said: Said::Diameters,
        curved: false,
    };
    let rings = readings.rings.clone();
    Ok((readings, rings, slant))
}

/// No pair of readings may lean more than a wall can.
fn leaning(cup: &Section<'_>, rings: &[Ring]) -> Result<(), ErrorGuaranteed> {
    // Of each zone by itself, an edge's ring in both of its zones.
    let edges: Vec<usize> = (0..rings.len()).filter(|i| rings[*i].edge).collect();
    let ends =
        std::iter::once(0).chain(edges.iter().copied()).zip(edges.iter().copied().chain([rings.len() - 1]));
    ends.map(|(from, to)| leaning_between(cup, rings[from], rings[to])).fold(Ok(()), Result::and)
}

fn leaning_between(cup: &Section<'_>, first: Ring, last: Ring) -> Result<(), ErrorGuaranteed> {
    let key = if cup.has("diameters") { "diameters" } else { "rings" };
    let run = last.slant - first.slant;
    let half = (last.girth - first.girth).abs() / TAU;
    let show = |mm| cup.reader().show(mm);
    if run.0 <= half.0 {
        return Err(cup.reader().push(
            cup.fault(
                &codes::SLANT_TOO_SHORT,
                key,
                "the wall is shorter than half the difference of the diameters",
            )
            .measured(format!("{} along the wall", show(run)))
            .allowed(format!("more than {}", show(half)))
            .help("measure the slant with the tape laid flat along the wall, and check both girths"),
        ));
    }
    let lean = libm::asin(half / run).to_degrees();
    if lean > STEEPEST_DEG {
        return Err(cup.reader().push(
            cup.fault(&codes::TOO_STEEP, key, "the wall leans more than a cup's does")
                .measured(degrees(Angle::degrees(lean)))
                .allowed(format!("up to {STEEPEST_DEG} degrees from upright"))
                .help("check that `up` is measured along the wall, and that the girths are of one cup"),
        ));
    }
    Ok(())
}

pub(super) fn keep_clear(cup: &Section<'_>) -> Result<KeepClear, ErrorGuaranteed> {
    let Some(section) = cup.table(&rows::KEEP_CLEAR).optional()? else {
        return Ok(KeepClear { rim: RIM_BAND, base: rows::keep_clear::BASE.usual() });
    };
    let rim = section.key(&rows::keep_clear::RIM).or_usual();
    let base = section.key(&rows::keep_clear::BASE).or_usual();
    if let Ok(rim) = rim
        && rim < RIM_BAND
    {
        section.reader().push(
            section
                .warning(&codes::RIM_BAND, "rim", "film comes nearer to the rim than lips do")
                .measured(section.reader().show(rim))
                .allowed(format!("{} or more", section.reader().show(RIM_BAND)))
                .help(
                    "keep 20 mm, or make sure from the product's data sheet and the rules where you sell \
                        that film and coat may touch the mouth",
                ),
        );
    }
    section.done();
    Ok(KeepClear { rim: rim?, base: base? })
}

pub(super) fn bands_fit(
    reader: &Reader<'_>,
    cup: &KeyPath,
    bands: KeepClear,
    wall: Mm,
) -> Result<(), ErrorGuaranteed> {
    let left = wall - bands.rim - bands.base;
    if left >= LEAST_WALL {
        return Ok(());
    }
    let show = |mm| reader.show(mm);
    Err(reader.push(
        Diagnostic::fault(&codes::NO_WALL_LEFT, cup.key("keep-clear"), "the bands leave no wall to decorate")
            .measured(format!("{} + {} of {}", show(bands.rim), show(bands.base), show(wall)))
            .allowed(format!("bands of up to {} together", show(wall - LEAST_WALL)))
            .help("narrow the bands, or check the wall's length"),
    ))
}

fn trial(section: Section<'_>) -> Result<TrialWrap, ErrorGuaranteed> {
    let template = section.key(&rows::trial::TEMPLATE).optional();
    let bars = section.key(&rows::trial::BARS).required();
    let paper = section.key(&rows::trial::PAPER).or_usual();
    let strays = section.key(&rows::trial::STRAYS).or_usual();
    let gaps = section.inner(&rows::trial::GAP, |gap| {
        let rim = gap.key(&rows::gap::RIM).optional();
        let middle = gap.key(&rows::gap::MIDDLE).optional();
        let base = gap.key(&rows::gap::BASE).optional();
        match (rim?, middle?, base?) {
            (None, None, None) => Err(gap.missing(&rows::gap::RIM)),
            gaps => Ok(gaps),
        }
    });
    let gaps = gaps.and_then(|gaps| gaps.ok_or_else(|| section.missing(&rows::trial::GAP)));
    section.done();
    let (rim, middle, base) = gaps?;
    Ok(TrialWrap { template: template?, paper: paper?, bars: bars?, rim, middle, base, strays: strays? })
}
