//! The cup's section: rings or diameters, bands, seam, handle, lap, build-up, capacity.
//!
//! Imports: base, read::job::{codes, section, model, readings, unit_mistakes}.

use super::codes;
use super::model::{CupSpec, Handle, KeepClear, Ring};
use super::readings::{Readings, STEEPEST_DEG, Said, WALL};
use super::section::{Item, Section, degrees};
use super::unit_mistakes;
use crate::base::diag::{Diagnostic, ErrorGuaranteed};
use crate::base::units::{Angle, Mm};
use std::f64::consts::{PI, TAU};

/// Rim band below which a warning says why it should be wider. Source: Canada's glazed ceramics and glassware
/// regulations (SOR/2016-175) and ASTM C927 look at outside decoration within 20 mm of the rim.
pub const RIM_BAND: Mm = Mm(20.0);
/// Least wall that the bands must leave.
const LEAST_WALL: Mm = Mm(5.0);

/// Reads `[cup]`.
pub(super) fn read(cup: Section<'_>) -> Result<CupSpec, ErrorGuaranteed> {
    let shape = shape(&cup);
    let tape = cup.length("tape").within(Mm(0.01)..=Mm(5.0)).or(Mm(0.5));
    let keep_clear = keep_clear(&cup);
    let seam =
        cup.angle("seam").within(Angle::degrees(-360.0)..=Angle::degrees(360.0)).or(Angle::degrees(180.0));
    let lap = cup.length("lap").within(Mm(0.0)..=Mm(30.0)).or(Mm::ZERO);
    let build_up = cup.length("build-up").within(Mm(0.0)..=Mm(10.0)).or(Mm::ZERO);
    let capacity = cup
        .volume("capacity")
        .within(crate::base::units::Ml(15.0)..=crate::base::units::Ml(6000.0))
        .optional();
    let handle = match cup.table("handle").optional() {
        Ok(Some(section)) => handle(section).map(Some),
        Ok(None) => Ok(None),
        Err(reported) => Err(reported),
    };
    let shape = shape.and_then(|(readings, rings, wall)| {
        let capacity = capacity.as_ref().ok().copied().flatten();
        unit_mistakes::judge(&cup, &readings, capacity).map(|()| (rings, wall))
    });
    let shape = shape.and_then(|(rings, wall)| leaning(&cup, &rings).map(|()| (rings, wall)));
    let fits = shape.as_ref().map_err(|r| *r).and_then(|(rings, wall)| {
        let bands = keep_clear.and_then(|k| bands_fit(&cup, k, *wall));
        let window = handle.and_then(|h| h.map_or(Ok(()), |h| handle_fits(&cup, &h, rings, *wall)));
        bands.and(window)
    });
    cup.done();
    let (rings, wall) = shape?;
    fits?;
    Ok(CupSpec {
        rings,
        wall,
        tape: tape?,
        keep_clear: keep_clear?,
        seam: seam?.wrapped(),
        handle: handle?,
        lap: lap?,
        build_up: build_up?,
        capacity: capacity?,
    })
}

type Shape = (Readings, Vec<Ring>, Mm);

/// The wall's shape, said in one of two ways.
fn shape(cup: &Section<'_>) -> Result<Shape, ErrorGuaranteed> {
    match (cup.has("rings"), cup.has("diameters")) {
        (true, false) => rings(cup),
        (false, true) => {
            let section = cup.table("diameters").required("the diameters", "diameters = { .. }")?;
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
            Err(cup.missing(
                "rings",
                "its girths at two heights or more",
                "rings = [{ up = 0, girth = 207.3 }, { up = 165, girth = 270.2 }]",
            ))
        }
    }
}

fn rings(cup: &Section<'_>) -> Result<Shape, ErrorGuaranteed> {
    let wall = cup
        .length("wall")
        .within(WALL)
        .required("the length of the wall, measured along it from base edge to rim", "wall = 165");
    let rings = cup.list("rings", ring).counting(2..=100, "readings").required("the readings", "rings = []");
    let (mut rings, wall) = (rings?, wall?);
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
    let mut order: Vec<usize> = (0..rings.len()).collect();
    order.sort_by(|a, b| rings[*a].slant.0.total_cmp(&rings[*b].slant.0));
    for pair in order.windows(2) {
        let apart = rings[pair[1]].slant - rings[pair[0]].slant;
        if apart.0 < 1.0 {
            ok = Err(cup.reader().push(
                Diagnostic::fault(
                    &codes::RINGS,
                    fields(pair[0].max(pair[1])).key("up"),
                    "two readings are at the same height",
                )
                .measured(format!("{} apart", cup.reader().show(apart)))
                .allowed("at least 1 mm apart")
                .help("take one of them out, or put their mean"),
            ));
        }
    }
    let span = rings[order[order.len() - 1]].slant - rings[order[0]].slant;
    if ok.is_ok() && span.0 < wall.0 * 0.5 {
        cup.reader().push(
            cup.warning(&codes::RINGS, "rings", "the readings span less than half the wall")
                .measured(format!("{} of {}", cup.reader().show(span), cup.reader().show(wall)))
                .help("read near the base edge and near the rim: what lies outside is stretched from what lies between"),
        );
    }
    let readings = Readings {
        fields: order.iter().map(|i| fields(*i).key("girth")).collect(),
        rings: order.iter().map(|i| rings[*i]).collect(),
        wall,
        said: Said::Girths,
    };
    rings = readings.rings.clone();
    ok.map(|()| (readings, rings, wall))
}

/// One ring. Its girth is not yet held to a range: a slip is better told than a range.
fn ring(item: &Item<'_>) -> Result<Ring, ErrorGuaranteed> {
    let section = item.section()?;
    let slant = section
        .length("up")
        .within(Mm(0.0)..=*WALL.end())
        .required("how far up the wall it was read", "up = 0");
    let girth = section
        .length("girth")
        .within(Mm(0.5)..=Mm(50_000.0))
        .required("the circumference read there", "girth = 207.3");
    section.done();
    Ok(Ring { slant: slant?, girth: girth? })
}

fn diameters(section: &Section<'_>) -> Result<Shape, ErrorGuaranteed> {
    let any = Mm(0.5)..=Mm(20_000.0);
    let rim =
        section.length("rim").within(any.clone()).required("the outside diameter at the rim", "rim = 86");
    let base =
        section.length("base").within(any).required("the outside diameter at the base edge", "base = 66");
    let slant = section.length("slant").within(WALL).optional();
    let height = section.length("height").within(WALL).optional();
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
            return Err(section.missing(
                "slant",
                "the wall's length, along it (`slant`) or straight up",
                "height = 165",
            ));
        }
    };
    let readings = Readings {
        fields: vec![section.path("base"), section.path("rim")],
        rings: vec![Ring { slant: Mm::ZERO, girth: base * PI }, Ring { slant, girth: rim * PI }],
        wall: slant,
        said: Said::Diameters,
    };
    let rings = readings.rings.clone();
    Ok((readings, rings, slant))
}

/// No pair of readings may lean more than a wall can.
fn leaning(cup: &Section<'_>, rings: &[Ring]) -> Result<(), ErrorGuaranteed> {
    let (first, last) = (rings[0], rings[rings.len() - 1]);
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

fn keep_clear(cup: &Section<'_>) -> Result<KeepClear, ErrorGuaranteed> {
    let Some(section) = cup.table("keep-clear").optional()? else {
        return Ok(KeepClear { rim: RIM_BAND, base: Mm(6.0) });
    };
    let rim = section.length("rim").within(Mm(0.0)..=Mm(300.0)).or(RIM_BAND);
    let base = section.length("base").within(Mm(0.0)..=Mm(300.0)).or(Mm(6.0));
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

fn bands_fit(cup: &Section<'_>, bands: KeepClear, wall: Mm) -> Result<(), ErrorGuaranteed> {
    let left = wall - bands.rim - bands.base;
    if left >= LEAST_WALL {
        return Ok(());
    }
    let show = |mm| cup.reader().show(mm);
    Err(cup.reader().push(
        cup.fault(&codes::NO_WALL_LEFT, "keep-clear", "the bands leave no wall to decorate")
            .measured(format!("{} + {} of {}", show(bands.rim), show(bands.base), show(wall)))
            .allowed(format!("bands of up to {} together", show(wall - LEAST_WALL)))
            .help("narrow the bands, or check the wall's length"),
    ))
}

fn handle(section: Section<'_>) -> Result<Handle, ErrorGuaranteed> {
    let full = Angle::degrees(-360.0)..=Angle::degrees(360.0);
    let at = section.angle("at").within(full).required("where it stands, from the front line", "at = 180");
    let width = section
        .length("width")
        .within(Mm(1.0)..=Mm(300.0))
        .required("how wide a window it takes, round the wall", "width = 45");
    let from = section
        .length("from")
        .within(Mm(0.0)..=*WALL.end())
        .required("its lower end, up the wall from the base edge", "from = 25");
    let to = section.length("to").within(Mm(0.0)..=*WALL.end()).required("its upper end", "to = 140");
    section.done();
    Ok(Handle { azimuth: at?.wrapped(), width: width?, from: from?, to: to? })
}

fn handle_fits(cup: &Section<'_>, handle: &Handle, rings: &[Ring], wall: Mm) -> Result<(), ErrorGuaranteed> {
    let show = |mm| cup.reader().show(mm);
    let at = cup.path("handle");
    let mut ok = Ok(());
    if handle.from >= handle.to {
        ok = Err(cup.reader().push(
            Diagnostic::fault(&codes::HANDLE, at.key("to"), "the handle ends below where it starts")
                .measured(format!("from {} to {}", show(handle.from), show(handle.to)))
                .help("`from` is the lower end, `to` the upper one, both up from the base edge"),
        ));
    }
    if handle.to.0 > wall.0 + 2.0 {
        ok = Err(cup.reader().push(
            Diagnostic::fault(&codes::HANDLE, at.key("to"), "the handle ends above the rim")
                .measured(show(handle.to))
                .allowed(format!("up to the wall's length, {}", show(wall)))
                .help("measure it along the wall from the base edge"),
        ));
    }
    let least = rings.iter().map(|r| r.girth.0).fold(f64::INFINITY, f64::min);
    if handle.width.0 > least * 0.5 {
        ok = Err(cup.reader().push(
            Diagnostic::fault(&codes::HANDLE, at.key("width"), "the handle takes more than half the wall")
                .measured(show(handle.width))
                .allowed(format!("up to {}", show(Mm(least * 0.5))))
                .help("measure only what film must not touch"),
        ));
    }
    ok
}
