//! What can be wrong with a fill's wishes, all of it at once, and the library of shapes they ask for.
//!
//! Imports: base, outline, read::job, make::accent::{template, task, distance_field, greedy}.

use super::greedy::FillParams;
use super::task::FillTask;
use super::template::{SPARE, Template};
use crate::base::diag::{Code, Diagnostic, Diagnostics, ErrorGuaranteed, KeyPath};
use crate::base::frame::Art;
use crate::base::units::Mm;
use crate::make::accent::distance_field::DistanceField;
use crate::outline::{FillRule, Region};
use crate::read::job::{AccentSpec, Family, SpotShape};

/// Area of a drawn outline, mm2, that a share is at least taken of; a thousandth of it is below what is added
/// anyway.
const LEAST_AREA: f64 = 1e-6;

const NO_SHAPE: Code = Code {
    id: "accent/no-shape",
    title: "a fill names no shape",
    explain: "A fill needs at least one family of spots or one outline of your own.",
};
const TOO_NARROW: Code = Code {
    id: "accent/family-too-large",
    title: "a shape is too thin to be cut at the sizes allowed",
    explain: "Every shape knows the smallest size at which nothing of it is narrower than what its film weeds \
        (`weed`) and a seventh more. Allow larger spots, choose a plumper shape, or a film that weeds finer.",
};
/// Some sizes asked for are not used.
const SIZE_RAISED: Code = Code {
    id: "accent/smallest-raised",
    title: "some shapes of a fill are cut from a larger size up than was asked",
    explain: "A spot is cut no smaller than at the size at which its narrowest place is as wide as the fill's \
        films weed (`weed`), and a seventh more for the blade. Slim shapes reach that at larger sizes than plump \
        ones. The fill is full, and proven to be, for the sizes that are used: another spot of the size that was \
        asked may fit. Allow finer weeding where the film bears it, choose plumper shapes, or leave it.",
};
const OWN_CROSSES: Code = Code {
    id: "accent/outline-crosses",
    title: "an outline of your own crosses itself",
    explain: "A spot is cut along its outline; where the outline crosses itself the blade would cut the \
        film twice and leave loose crumbs. Join the shape into one outline in the program that drew it.",
};
const OWN_EMPTY: Code = Code {
    id: "accent/outline-empty",
    title: "an outline of your own encloses nothing",
    explain: "The art of a spot holds no closed outline with an area.",
};
const OWN_MISSING: Code = Code {
    id: "accent/outline-missing",
    title: "an outline of your own was not read",
    explain: "The fill names more SVG files than outlines could be read. Another message says what was \
        wrong with the file.",
};
const GAP_TOO_WIDE: Code = Code {
    id: "accent/gap-too-wide",
    title: "the gap leaves no wall between the bands",
    explain: "Spots keep the gap from both bands. If twice the gap and the smallest spot are higher than \
        the wall between the bands, none can stand anywhere. Make the gap smaller.",
};
pub(super) const NO_ROOM: Code = Code {
    id: "accent/no-room",
    title: "no spot fits anywhere",
    explain: "The largest round space left between motifs, bands and handle is smaller than the smallest \
        spot with its gap. Make the gap or the smallest size smaller, or take a motif away.",
};

/// Families came in other shares than asked.
pub const SHARES_MISSED: Code = Code {
    id: "accent/shares-missed",
    title: "the families of a fill came in other shares than asked",
    explain: "Each family of a fill gets its share of the spots: equal ones, unless `families` is a table of \
        parts. Slim shapes and shapes that are cut from a larger size up find no place in narrow voids; what is \
        left there goes to the others, for the wall is filled until nothing fits. Allow smaller spots, take \
        shapes that are more alike, or ask for what came of it.",
};

/// All codes of this stage. The proof that no more spots fit is not whole.
pub const UNPROVEN: Code = Code {
    id: "accent/not-proven-full",
    title: "the proof that no more spots fit left places undecided",
    explain: "After the fill every pose of every shape at its smallest size is either shown to touch \
        something or filled. Poses within a fiftieth of a millimetre of fitting can stay undecided: there \
        may be a spot too few, never one too many or too near. Another seed or a slightly larger smallest \
        size often settles them.",
};

/// Polishing came to its bound before every neighbourhood had its turn.
pub const POLISH_STOPPED: Code = Code {
    id: "accent/polish-stopped",
    title: "polishing the spots came to its bound",
    explain: "Polishing takes out a neighbourhood of spots and fills it anew, thirty times for each spot, and \
        keeps what is more even. Shapes that rarely fit a place, large ones above all, make each of these slow; \
        after a fixed amount of work the fill is taken as it stands. It is sound and full, only less even than \
        it could be. The bound counts steps, not seconds: the same job gives the same fill.",
};

/// All codes of this stage.
pub const CODES: &[&Code] = &[
    &NO_SHAPE,
    &UNPROVEN,
    &POLISH_STOPPED,
    &TOO_NARROW,
    &SIZE_RAISED,
    &OWN_CROSSES,
    &OWN_EMPTY,
    &OWN_MISSING,
    &GAP_TOO_WIDE,
    &NO_ROOM,
    &SHARES_MISSED,
];

/// Shapes drawn of each family.
const SHAPES: usize = 16;

/// The library of a fill; every fault of the spec is reported before it gives up.
pub(super) fn library(
    task: &FillTask<'_>,
    diagnostics: &mut Diagnostics,
) -> Result<Vec<Template>, ErrorGuaranteed> {
    let FillTask { spec, own, at, .. } = *task;
    let height = task.room.zone.high - task.room.zone.low;
    let mut failed = None;
    if 2.0 * spec.gap.get() >= height.get() {
        let d = Diagnostic::fault(&GAP_TOO_WIDE, at.key("gap"), "The gap leaves no wall between the bands.");
        let d =
            d.measured(format!("gap {} on both sides", spec.gap)).allowed(format!("below {}", height * 0.5));
        failed = Some(diagnostics.push(d.help("Make the gap smaller.")));
    }
    if spec.shapes.is_empty() {
        let d = Diagnostic::fault(&NO_SHAPE, at.key("shapes"), "No shape is named.");
        failed = Some(diagnostics.push(d.help("Name a family, for example \"pebble\".")));
    }
    let mut library = Vec::new();
    let mut next = 0;
    for (i, shape) in spec.shapes.iter().enumerate() {
        let place = at.key("shapes").index(i);
        let drawn = match shape {
            SpotShape::Family(f) => family(*f, task, &place, diagnostics),
            SpotShape::Own(files) => {
                let from = next;
                next += files.len();
                own_outlines(files, own.get(from..).unwrap_or_default(), task, &place, diagnostics)
            }
        };
        match drawn {
            Ok(shapes) => library.extend(shapes.into_iter().map(|t| Template { kind: i, ..t })),
            Err(reported) => failed = Some(reported),
        }
    }
    failed.map_or(Ok(library), Err)
}

fn family(
    family: Family,
    task: &FillTask<'_>,
    at: &KeyPath,
    diagnostics: &mut Diagnostics,
) -> Result<Vec<Template>, ErrorGuaranteed> {
    let mut all = Template::library(family, SHAPES, task.asked(), task.seed);
    // Of a family that draws one shape only, one will do.
    all.dedup_by(|a, b| a.ring == b.ring);
    usable(family.name(), all, task, at, diagnostics)
}

/// Those of a shape's drawings that can be cut at some size asked for; a note where not at all of them.
fn usable(
    name: &str,
    all: Vec<Template>,
    task: &FillTask<'_>,
    at: &KeyPath,
    diagnostics: &mut Diagnostics,
) -> Result<Vec<Template>, ErrorGuaranteed> {
    let spec = task.spec;
    let least = all.iter().map(|t| t.smallest).fold(f64::INFINITY, f64::min);
    if least > spec.largest.get() {
        return Err(diagnostics.push(too_narrow(name, least, task, at)));
    }
    let drawn = all.len();
    let used: Vec<Template> = all.into_iter().filter(|t| t.smallest <= spec.largest.get()).collect();
    let most = used.iter().map(|t| t.smallest).fold(0.0, f64::max);
    if most > spec.smallest.get() || used.len() < drawn {
        diagnostics.push(raised(name, (least, most), (used.len(), drawn), task, at));
    }
    Ok(used)
}

/// The note that sizes from `sizes` up are used, by `of.0` of `of.1` drawings of a shape.
fn raised(
    name: &str,
    sizes: (f64, f64),
    of: (usize, usize),
    task: &FillTask<'_>,
    at: &KeyPath,
) -> Diagnostic {
    let spec = task.spec;
    let up = |mm: f64| Mm(libm::ceil(mm.max(spec.smallest.get()) * 100.0) / 100.0);
    let (low, high) = (up(sizes.0), up(sizes.1));
    let from =
        if low.get() + 0.1 < high.get() { format!("{low} to {high}, by shape,") } else { high.to_string() };
    let mut message = format!(
        "\"{name}\" is cut from {from} up: smaller, a place of it would be narrower than {}.",
        Mm(SPARE * task.weed.get())
    );
    if of.0 < of.1 {
        message += &format!(" {} of its {} drawings are too slim at any size asked for.", of.1 - of.0, of.1);
    }
    message += " That no more fit is proven for these sizes.";
    Diagnostic::note(&SIZE_RAISED, at.clone(), message)
        .measured(format!("smallest size asked for {}", spec.smallest))
        .allowed(format!("{high} or more for all of them"))
        .help("Leave it so, choose plumper shapes, or a film that weeds finer.")
}

fn too_narrow(name: &str, least: f64, task: &FillTask<'_>, at: &KeyPath) -> Diagnostic {
    let spec = task.spec;
    let message = format!(
        "\"{name}\" can only be cut from {} up, so that nothing of it is narrower than {}.",
        Mm(least),
        Mm(SPARE * task.weed.get())
    );
    Diagnostic::fault(&TOO_NARROW, at.clone(), message)
        .measured(format!("largest size allowed {}", spec.largest))
        .allowed(format!("largest size {} or more", Mm(libm::ceil(least * 10.0) / 10.0)))
        .help("Allow larger spots or choose a plumper shape.")
}

fn own_outlines(
    files: &[String],
    own: &[Region<Art>],
    task: &FillTask<'_>,
    at: &KeyPath,
    diagnostics: &mut Diagnostics,
) -> Result<Vec<Template>, ErrorGuaranteed> {
    let mut failed = None;
    let mut out = Vec::new();
    for (k, file) in files.iter().enumerate() {
        let place = at.index(k);
        let Some(region) = own.get(k) else {
            let d = Diagnostic::fault(&OWN_MISSING, place, format!("\"{file}\" gave no outline."))
                .file(file.as_str());
            failed = Some(diagnostics.push(d.help("Mend the file or leave it out.")));
            continue;
        };
        let name = file.rsplit('/').next().unwrap_or(file).trim_end_matches(".svg").to_owned();
        let (drawn, clean) = (
            region.area().get(),
            Region::<Art>::filled(region.contours().iter().cloned(), FillRule::NonZero),
        );
        // A crossing changes the signed area, or the number of outlines, once it is resolved.
        let crosses = (clean.area().get() - drawn).abs() > 1e-3 * drawn.abs().max(LEAST_AREA) + 1e-3
            || clean.contours().len() != region.contours().len();
        if region.is_empty() || clean.area().get() <= 0.0 {
            let d = Diagnostic::fault(&OWN_EMPTY, place, format!("\"{file}\" encloses nothing."))
                .file(file.as_str());
            failed = Some(diagnostics.push(d.help("Draw a closed outline.")));
        } else if crosses {
            let d =
                Diagnostic::fault(&OWN_CROSSES, place, format!("The outline in \"{file}\" crosses itself."));
            let d = d.file(file.as_str()).measured(format!(
                "{:.2} mm2 drawn, {:.2} mm2 enclosed",
                drawn,
                clean.area().get()
            ));
            failed =
                Some(diagnostics.push(
                    d.allowed("an outline that never crosses itself").help("Join it into one outline."),
                ));
        } else if let Some(t) = Template::own(name.clone(), region, task.asked()) {
            match usable(&name, vec![t], task, &place, diagnostics) {
                Ok(shapes) => out.extend(shapes),
                Err(reported) => failed = Some(reported),
            }
        }
    }
    failed.map_or(Ok(out), Err)
}

/// The note of polishing that came to its bound.
pub(super) fn polish_stopped(rounds: usize, most: usize, at: &KeyPath) -> Diagnostic {
    Diagnostic::note(&POLISH_STOPPED, at.clone(), "the spots are polished in part only: it came to its bound")
        .measured(format!("{rounds} of {most} rounds"))
        .help("slighter shapes, more families, or `turn` left free, let each neighbourhood be filled sooner")
}

/// The note of a fill that found no place for a single spot.
pub(super) fn no_room(
    kit: &FillParams,
    field: &DistanceField,
    spec: &AccentSpec,
    at: &KeyPath,
) -> Diagnostic {
    let (_, widest) = field.largest();
    let widest = Mm(2.0 * widest.max(0.0));
    let wanted = Mm(2.0 * kit.slimmest());
    let message = format!(
        "No spot fits: the widest round space left is {widest} across, the slimmest spot with its gap of {} \
            needs {wanted}; {} are missing.",
        spec.gap,
        Mm((wanted - widest).get().max(0.0))
    );
    Diagnostic::note(&NO_ROOM, at.clone(), message)
        .measured(format!("{widest} across"))
        .allowed(format!("{wanted} across"))
        .help("Make the gap or the smallest size smaller, or take a motif away.")
}
