//! `measure`: what the tape readings are worth, in the maker's words.
//!
//! Imports: base, make::cup, write::template, edge::cli, edge::cli::{args, codes, words, stages}.

use super::args::OutputMode;
use super::codes::REST_AT_FAULT;
use super::{Exit, Outcome, stages, words};
use crate::base::diag::{Diagnostic, Diagnostics, KeyPath, Severity, Step};
use crate::base::units::{LengthUnit, Mm};
use crate::make::cup::fit::tell;
use crate::make::cup::{Cup, Frustum, Readings, TAKE_UP, Taper, WallZone, cone};
use crate::write::template::band::letter;
use serde::Serialize;
use std::fmt::Write;
use std::io;
use std::path::Path;

#[derive(Serialize)]
struct Measured<'a> {
    #[serde(flatten)]
    outcome: Outcome<'a>,
    #[serde(skip_serializing_if = "Option::is_none")]
    cup: Option<Shape>,
    #[serde(skip_serializing_if = "Option::is_none")]
    wrap: Option<Wrap>,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    zones: Vec<ZoneShape>,
    #[serde(skip_serializing_if = "Option::is_none")]
    readings: Option<&'a Readings>,
}

/// A cone of a wall with edges.
#[derive(Serialize)]
struct ZoneShape {
    part: String,
    from_mm: f64,
    to_mm: f64,
    cup: Shape,
    wrap: Wrap,
}

#[derive(Serialize)]
struct Shape {
    rim_girth_mm: f64,
    base_girth_mm: f64,
    rim_diameter_mm: f64,
    base_diameter_mm: f64,
    slant_mm: f64,
    height_mm: f64,
    outside_volume_ml: f64,
}

#[derive(Serialize)]
struct Wrap {
    sweep_deg: f64,
    rim_arc_mm: f64,
    base_arc_mm: f64,
    #[serde(skip_serializing_if = "Option::is_none")]
    rim_radius_mm: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    base_radius_mm: Option<f64>,
}

fn fixed(v: f64) -> f64 {
    (v * 1e3).round() / 1e3
}

fn shape(f: &Frustum) -> Shape {
    Shape {
        rim_girth_mm: fixed(f.upper.0),
        base_girth_mm: fixed(f.lower.0),
        rim_diameter_mm: fixed(f.upper.0 / std::f64::consts::PI),
        base_diameter_mm: fixed(f.lower.0 / std::f64::consts::PI),
        slant_mm: fixed(f.slant.0),
        height_mm: fixed(f.height().0),
        outside_volume_ml: fixed(f.volume().0),
    }
}

fn wrap(f: &Frustum) -> Wrap {
    let sweep = f.sweep();
    // A straight cup rolls out to a rectangle: no radius.
    let radius = |girth: Mm| (sweep.deg().abs() > 0.01).then(|| fixed(girth.0 / sweep.rad().abs()));
    Wrap {
        sweep_deg: (sweep.deg() * 1e4).round() / 1e4,
        rim_arc_mm: fixed(f.upper.0),
        base_arc_mm: fixed(f.lower.0),
        rim_radius_mm: radius(f.upper),
        base_radius_mm: radius(f.lower),
    }
}

fn zones(cup: &Cup) -> Vec<ZoneShape> {
    let one = |(i, z): (usize, &WallZone)| ZoneShape {
        part: letter(i),
        from_mm: fixed(z.low.0),
        to_mm: fixed(z.high.0),
        cup: shape(&z.measured),
        wrap: wrap(&z.surface),
    };
    cup.zones.iter().enumerate().map(one).collect()
}

/// Says what the readings are worth.
///
/// # Errors
/// What writing to standard output says.
pub fn run(job: &Path, voice: OutputMode) -> io::Result<Exit> {
    let opened = stages::open(job);
    let mut diagnostics = opened.diagnostics;
    let taped = opened.cup.as_ref();
    let cup = taped.map(|(spec, _)| cone(spec));
    // A wall that no cone fits is refused, but its figures are shown: they say which ring to read again.
    let sound = match (taped, &cup) {
        (Some((spec, _)), Some(cup)) => tell(spec, cup, &mut diagnostics).is_ok(),
        _ => false,
    };
    let unit = taped.map_or(LengthUnit::Mm, |(_, unit)| *unit);
    let exit = if sound { Exit::Done } else { opened.exit };
    let diagnostics = if cup.is_some() { about_the_cup(diagnostics) } else { diagnostics.into_vec() };
    if voice.json {
        words::json(&Measured {
            outcome: Outcome::new(exit, &opened.text, &diagnostics),
            cup: cup.as_ref().filter(|c| c.is_cone()).map(|c| shape(&c.lowest().measured)),
            wrap: cup.as_ref().filter(|c| c.is_cone()).map(|c| wrap(&c.lowest().surface)),
            zones: cup.as_ref().map_or(Vec::new(), |c| if c.is_cone() { Vec::new() } else { zones(c) }),
            readings: cup.as_ref().map(|c| &c.readings),
        })?;
        return Ok(exit);
    }
    words::say(&opened.text, &diagnostics, voice.quiet);
    if let Some(cup) = &cup {
        words::data(told(cup, unit).as_bytes())?;
    }
    Ok(exit)
}

/// What was found about the cup; faults elsewhere in the job are counted, since they do not touch what is
/// answered.
fn about_the_cup(diagnostics: Diagnostics) -> Vec<Diagnostic> {
    let of_cup = |d: &Diagnostic| matches!(d.at.0.first(), Some(Step::Key(k)) if k == "cup" || k == "unit");
    let (mut kept, others): (Vec<_>, Vec<_>) = diagnostics.into_vec().into_iter().partition(of_cup);
    let faults = others.iter().filter(|d| d.severity == Severity::Fault).count();
    if faults > 0 {
        let message =
            format!("the rest of the job has {faults} {}", if faults == 1 { "fault" } else { "faults" });
        kept.push(
            Diagnostic::note(&REST_AT_FAULT, KeyPath::root(), message)
                .help("`frusta check` shows each, with its place"),
        );
    }
    kept
}

/// A length in the job's unit.
fn say(v: Mm, unit: LengthUnit) -> String {
    match unit {
        LengthUnit::Mm => format!("{v:.1}"),
        // As a tape shows it; what is smaller than its marks, to half of the finest.
        LengthUnit::In => format!("{} in", v.on_a_tape(if v.abs() < Mm::INCH { 64 } else { 32 })),
    }
}

/// What the readings are worth, in words.
pub(super) fn told(cup: &Cup, unit: LengthUnit) -> String {
    let mut out = String::new();
    // Writing to a string cannot fail.
    let _ = readings(&mut out, cup, unit).and_then(|()| expectations(&mut out, cup, unit));
    out
}

fn readings(out: &mut String, cup: &Cup, unit: LengthUnit) -> std::fmt::Result {
    let say = |v| say(v, unit);
    writeln!(out, "The cup")?;
    for (i, z) in cup.zones.iter().enumerate() {
        if !cup.is_cone() {
            let name = letter(i);
            writeln!(out, " part {name}, the wall from {} to {} up", say(z.low), say(z.high))?;
        }
        figures(out, z, if cup.is_cone() { ["rim ", "base"] } else { ["up  ", "low "] }, unit)?;
    }
    writeln!(
        out,
        "\nThe readings  {:>10} {:>10} {:>10} {:>10}",
        "up",
        "read",
        if cup.readings.curve.is_some() { "on curve" } else { "on cone" },
        "off"
    )?;
    for ring in &cup.readings.rings {
        let off = say(ring.off);
        let sign =
            if ring.off.0 > 0.0 && off.contains(|c: char| ('1'..='9').contains(&c)) { "+" } else { "" };
        let off = if off.contains(|c: char| ('1'..='9').contains(&c)) { off } else { off.replace('-', "") };
        writeln!(
            out,
            "              {:>10} {:>10} {:>10} {:>10}",
            say(ring.slant),
            say(ring.read),
            say(ring.fitted),
            format!("{sign}{off}")
        )?;
    }
    Ok(())
}

/// A zone's measures, its upper and its lower edge by these names.
fn figures(
    out: &mut String,
    zone: &WallZone,
    [upper, lower]: [&str; 2],
    unit: LengthUnit,
) -> std::fmt::Result {
    let (f, s) = (&zone.measured, &zone.surface);
    let say = |v| say(v, unit);
    let across = |girth: Mm| say(girth / std::f64::consts::PI);
    writeln!(out, "  {upper}   {} round, {} across", say(f.upper), across(f.upper))?;
    writeln!(out, "  {lower}   {} round, {} across", say(f.lower), across(f.lower))?;
    writeln!(
        out,
        "  wall   {} along it, {} straight up; the outside holds {:.0}",
        say(f.slant),
        say(f.height()),
        f.volume()
    )?;
    let w = wrap(s);
    match (w.rim_radius_mm, w.base_radius_mm) {
        (Some(rim), Some(base)) => writeln!(
            out,
            "  wrap   a ring piece of {:.2} degrees, radius {} at the rim and {} at the base",
            s.sweep().deg().abs(),
            say(Mm(rim)),
            say(Mm(base))
        )?,
        _ => writeln!(out, "  wrap   a rectangle, {} by {}", say(s.upper), say(s.slant))?,
    }
    if s != f {
        writeln!(out, "         (for the cup with its build-up: {} round at the rim)", say(s.upper))?;
    }
    Ok(())
}

fn expectations(out: &mut String, cup: &Cup, unit: LengthUnit) -> std::fmt::Result {
    let r = &cup.readings;
    let say = |v| say(v, unit);
    let taper = say((cup.highest().measured.upper - cup.lowest().measured.lower).abs());
    writeln!(out, "\nWhat they are worth (at worst, for 95 of 100 cups measured like this)")?;
    match r.taper {
        Taper::NotDistinguishable => writeln!(
            out,
            "  The taper, {taper}, cannot be told from none: the readings leave {} open. Read again, \
                further apart.",
            say(r.taper_uncertainty)
        )?,
        Taper::WiderAtRim => {
            writeln!(out, "  Wider at the rim by {taper}, give or take {}.", say(r.taper_uncertainty))?
        }
        Taper::NarrowerAtRim => {
            writeln!(out, "  Narrower at the rim by {taper}, give or take {}.", say(r.taper_uncertainty))?
        }
    }
    writeln!(
        out,
        "  The ends of a whole wrap gap or overlap by up to {} at the rim, {} at the base.",
        say(r.rim),
        say(r.base)
    )?;
    for e in &r.edges {
        let place = if cup.is_curved() { "Where two parts of the wrap meet" } else { "At the edge" };
        writeln!(out, "  {place}, {} up, by up to {}.", say(e.slant), say(e.gap))?;
    }
    writeln!(
        out,
        "  Laid from one end, they miss each other along the seam by up to {}; laid from the middle both \
            ways, by {}.",
        say(r.seam.step_from_one_end),
        if r.seam.step_from_middle.0 > 0.0 { say(r.seam.step_from_middle) } else { "nothing".into() }
    )?;
    writeln!(
        out,
        "  A straight strip in place of the curved wrap would run off by {}.",
        say(r.straight_enough)
    )?;
    straight(out, cup, unit)
}

/// Is the wall straight?
fn straight(out: &mut String, cup: &Cup, unit: LengthUnit) -> std::fmt::Result {
    let say = |v| say(v, unit);
    if let Some(curve) = &cup.readings.curve {
        writeln!(
            out,
            "  The wall is a curve ({}): {} cone{} within {:.1} percent of it stand for it.",
            if curve.parabola { "a parabola fits the readings" } else { "a spline through the readings" },
            cup.zones.len(),
            if cup.zones.len() == 1 { "" } else { "s" },
            curve.worst_off * 100.0
        )?;
        for z in cup.zones.iter().filter(|z| z.bend.curvature != 0.0) {
            let widest = |q| say(z.bend.widest(q, TAKE_UP));
            writeln!(
                out,
                "  From {} to {} up, film that takes 1 percent up lies flat as a round piece to {}, one twice as \
                    long as wide to {}, a strip to {} wide.",
                say(z.low),
                say(z.high),
                widest(1.0),
                widest(0.5),
                widest(0.0)
            )?;
        }
        return Ok(());
    }
    match &cup.readings.bow {
        None if !cup.is_cone() => writeln!(
            out,
            "  Whether the wall is straight between its edges, these readings cannot tell: a ring more in the \
                middle of a part would."
        ),
        Some(bow) if bow.one_cone && !cup.is_cone() => writeln!(
            out,
            "  Between its edges the wall is straight as far as the tape tells: the ring farthest off, at {}, is \
                off by {}.",
            say(bow.at),
            say(bow.off.abs())
        ),
        Some(bow) if !cup.is_cone() => writeln!(
            out,
            "  The readings do not lie on one cone between one edge and the next: at {} up the wall {} by {}{}.",
            say(bow.at),
            if bow.off.0 > 0.0 { "bulges" } else { "is waisted" },
            say(bow.bulge.abs()),
            if bow.named { ", or that ring was read wrongly: read it again" } else { "" },
        ),
        None => writeln!(
            out,
            "  Whether the wall is straight, two readings cannot tell: a third in the middle would."
        ),
        Some(bow) if bow.one_cone => writeln!(
            out,
            "  The wall is straight as far as the tape tells: the ring farthest off the others, at {}, is \
                off by {}.",
            say(bow.at),
            say(bow.off.abs())
        ),
        Some(bow) => writeln!(
            out,
            "  The readings do not lie on one cone: at {} up the wall {} by {}{}. A whole wrap must give by \
                {:.1} percent, a small motif by far less.",
            say(bow.at),
            if bow.off.0 > 0.0 { "bulges" } else { "is waisted" },
            say(bow.bulge.abs()),
            if bow.named { ", or that ring was read wrongly: read it again" } else { "" },
            bow.strain * 100.0
        ),
    }
}
