//! A cup that the job does not say itself: a kind of cup from the maker's own shelf of blanks, in a file of its own.
//!
//! ```toml
//! cup = "blanks/tall-20"                                  # any cup of this kind
//! cup = { blank = "blanks/tall-20", specimen = "3" }      # this one
//! ```
//! The file holds `[cup]` as a job does, other cups of the kind with their girths at the same heights, and what the
//! maker wants to find again. What is wrong in it is told with its name and line.
//!
//! Imports: base, read::{source, job}, read::job::{codes, document, syntax, alike, model, rows, reader, section, path,
//! films, cup, finish}.

use super::alike::{Alike, ENOUGH, STRIP, Specimen, Spread};
use super::document::{Places, line_column};
use super::films::Films;
use super::finish::FinishSpec;
use super::model::{CupSpec, FilmSpec, KeepClear, Ring};
use super::reader::Reader;
use super::rows::blank as rows;
use super::rows::cup as cup_rows;
use super::section::{Item, Section};
use super::{LARGEST_TEXT, codes, cup, finish, path};
use crate::base::diag::{Diagnostic, Diagnostics, ErrorGuaranteed, KeyPath, Severity};
use crate::base::units::{Angle, LengthUnit, Mm};
use crate::read::source::Source;
use std::f64::consts::PI;
use toml::de::DeTable;

/// Girths of a specimen differ from those of the first by no more than this part.
const ALIKE: f64 = 0.05;
/// What the cup of `cup.rings` is called.
const FIRST: &str = "1";

/// What the job asks of a blank.
struct Asked<'a> {
    name: String,
    specimen: Option<String>,
    over: Over,
    at: KeyPath,
    /// The job's reader, to which all is told.
    job: &'a Reader<'a>,
}

/// What a job may say otherwise than its blank.
#[derive(Clone, Copy, Default)]
struct Over {
    keep_clear: Option<KeepClear>,
    seam: Option<Option<Angle>>,
    lap: Option<Mm>,
    build_up: Option<Mm>,
}

/// What a blank's file gave.
pub(super) struct Blank {
    /// The cup.
    pub cup: CupSpec,
    /// The file's name and text, to be kept with the job's.
    pub file: String,
    pub text: String,
}

/// Does this value name a blank? A text does, and a table with the key `blank`.
pub(super) fn named(item: &Item<'_>) -> bool {
    item.as_text().is_some() || item.section_quietly().is_some_and(|s| s.has(rows::asked::BLANK.row.name))
}

/// Reads the blank that the job's `cup` names.
pub(super) fn read(item: &Item<'_>, source: &dyn Source) -> Result<Blank, ErrorGuaranteed> {
    let asked = asked(item)?;
    let file =
        if asked.name.ends_with(".toml") { asked.name.clone() } else { format!("{}.toml", asked.name) };
    let bytes = source.blank(&file, LARGEST_TEXT as u64).map_err(|e| {
        let d = Diagnostic::fault(&codes::BLANK, asked.at.clone(), "the blank's file cannot be read");
        asked.job.push(
            d.measured(format!("{file}: {}", e.why))
                .help("put it beside the job, or into a folder `blanks` beside the job's folder or above it"),
        )
    })?;
    let Ok(text) = String::from_utf8(bytes) else {
        let d = Diagnostic::fault(&codes::BLANK, asked.at.clone(), "the blank's file is not UTF-8 text");
        return Err(asked.job.push(d.measured(file).help("save it as UTF-8")));
    };
    let cup = within(&text, &file, (asked.job, &asked.at), |root| whole(root, &asked, &file))?;
    Ok(Blank { cup, file, text })
}

/// The coats of a blank, for a job that says none.
pub(super) fn coats(
    blank: &Blank,
    job: &Reader<'_>,
    films: &Films,
    specs: Option<&[FilmSpec]>,
) -> Result<Option<FinishSpec>, ErrorGuaranteed> {
    within(&blank.text, &blank.file, (job, &KeyPath::of("cup")), |root| {
        let unit = root.key(&rows::UNIT).or_usual();
        root.reader().unit.set(unit.unwrap_or_default());
        finish::read(&root, films, specs)
    })
}

/// Reads a blank's text; what is wrong is told to the job's reader, with file and line.
fn within<T>(
    text: &str,
    file: &str,
    (job, at): (&Reader<'_>, &KeyPath),
    read: impl FnOnce(Section<'_>) -> Result<T, ErrorGuaranteed>,
) -> Result<T, ErrorGuaranteed> {
    let (root, slips) = DeTable::parse_recoverable(text);
    let places = Places::of(&root);
    let mut found = Diagnostics::new();
    super::syntax::report(text, &slips, &mut found);
    let reader = Reader::new(text, !slips.is_empty(), found);
    let read = read(Section::new(&reader, KeyPath::root(), root.get_ref()));
    let (found, settings) = reader.into_found();
    job.settings.borrow_mut().extend(settings);
    let mut broken = None;
    for d in found.into_vec() {
        let line = line_column(text, d.bytes.clone().unwrap_or_else(|| places.locate(&d.at)).start).line;
        let fault = d.severity == Severity::Fault;
        let told = Diagnostic { bytes: None, at: at.clone(), ..d }.file(format!("{file}, line {line}"));
        let reported = job.push(told);
        if fault {
            broken = Some(reported);
        }
    }
    match broken {
        Some(reported) => Err(reported),
        None => read,
    }
}

fn asked<'a>(item: &Item<'a>) -> Result<Asked<'a>, ErrorGuaranteed> {
    let (at, job) = (item.at().clone(), item.reader());
    if item.as_text().is_some() {
        return Ok(Asked { name: path::art(item)?, specimen: None, over: Over::default(), at, job });
    }
    let s = item.section()?;
    let name = s.own(&rows::asked::BLANK, path::art).required();
    let specimen = s.key(&rows::asked::SPECIMEN).optional();
    let keep_clear =
        if s.has(cup_rows::KEEP_CLEAR.row.name) { cup::keep_clear(&s).map(Some) } else { Ok(None) };
    // What the job does not say is the blank's: its usual values are not told here.
    let seam =
        if s.has(cup_rows::SEAM.row.name) { s.own(&cup_rows::SEAM, cup::seam).optional() } else { Ok(None) };
    let lap = if s.has(cup_rows::LAP.row.name) { s.key(&cup_rows::LAP).optional() } else { Ok(None) };
    let build_up =
        if s.has(cup_rows::BUILD_UP.row.name) { s.key(&cup_rows::BUILD_UP).optional() } else { Ok(None) };
    s.done();
    let over = Over { keep_clear: keep_clear?, seam: seam?, lap: lap?, build_up: build_up? };
    Ok(Asked { name: name?, specimen: specimen?, over, at, job })
}

fn whole(root: Section<'_>, asked: &Asked<'_>, file: &str) -> Result<CupSpec, ErrorGuaranteed> {
    let blank = root.own(&rows::BLANK, Item::text).required();
    let unit: Result<LengthUnit, _> = root.key(&rows::UNIT).or_usual();
    root.reader().unit.set(unit.unwrap_or_default());
    let thickness = root
        .item(rows::CUP.row.name)
        .and_then(|c| c.section_quietly())
        .and_then(|s| s.item(cup_rows::TAPE_THICKNESS.row.name));
    let thick = thickness.and_then(|t| t.length().ok()).unwrap_or(Mm::ZERO);
    let spec = root.table(&rows::CUP).required().and_then(cup::read);
    let within = root.key(&rows::WITHIN).or_usual();
    let tables: Vec<_> =
        root.tables(&rows::SPECIMEN, 500).into_iter().map(|s| s.and_then(|s| specimen(&s))).collect();
    let pictures = root.own(&rows::PICTURES, |i| i.list(path::art)).optional();
    let note = root.key(&rows::NOTE).optional();
    // Read later, once the films are known.
    root.has(rows::FINISH.row.name);
    let (mut spec, tables) = (spec?, tables.into_iter().collect::<Result<Vec<_>, _>>()?);
    pictures?;
    note?;
    let specimens = gathered(&root, &spec, tables, thick)?;
    root.done();
    let chosen = match &asked.specimen {
        None => None,
        Some(name) => Some(specimens.iter().position(|s| s.name == *name).ok_or_else(|| {
            let all: Vec<String> = specimens.iter().map(|s| format!("\"{}\"", s.name)).collect();
            let d = Diagnostic::fault(
                &codes::BLANK,
                asked.at.key(rows::asked::SPECIMEN.row.name),
                "no cup of this kind was read by that name",
            );
            asked.job.push(
                d.measured(format!("\"{name}\""))
                    .allowed(all.join(", "))
                    .help("add its girths to the blank's file"),
            )
        })?),
    };
    // Where strips were laid, the first one's reading is common to them and it.
    let strips = specimens.iter().any(|s| s.strip);
    let group: Vec<usize> =
        (0..specimens.len()).filter(|i| strips && (*i == 0 || specimens[*i].strip)).collect();
    let each = |strays: Mm, s: &Specimen| Mm(strays.0 / f64::from(s.reads * spec.rings.len() as u32).sqrt());
    let u = |i: usize, s: &Specimen| each(if group.contains(&i) { STRIP } else { spec.tape }, s);
    let read: Vec<(Mm, Mm)> = specimens.iter().enumerate().map(|(i, s)| (s.off, u(i, s))).collect();
    let spread = Spread::sharing(&read, &group, each(spec.tape, &specimens[0]));
    believed(&mut spec, &specimens, chosen.map(|i| (i, read[i].1)), &spread);
    let alike = Alike { blank: blank?, file: file.to_owned(), specimens, chosen, within: within?, spread };
    spec.alike = Some(alike);
    over(&mut spec, asked)?;
    Ok(spec)
}

/// The girths that the cup is laid out by: those of all specimens together, or the chosen one's, drawn towards them.
fn believed(spec: &mut CupSpec, all: &[Specimen], chosen: Option<(usize, Mm)>, spread: &Spread) {
    let reads: u32 = all.iter().map(|s| s.reads).sum();
    // What a strip showed is as sure as the first one's reading, and no surer.
    let taped: u32 = if all.iter().any(|s| s.strip) { all[0].reads } else { reads };
    for (k, ring) in spec.rings.iter_mut().enumerate() {
        let mean = all.iter().map(|s| s.girths[k].0 * f64::from(s.reads)).sum::<f64>() / f64::from(reads);
        let girth = match chosen {
            None => mean,
            Some((i, u)) => mean + spread.share(u) * (all[i].girths[k].0 - mean),
        };
        (ring.girth, ring.scatter) = (Mm(girth), 0.0);
        ring.reads = chosen.map_or(taped, |(i, _)| if all[i].strip { taped } else { all[i].reads });
    }
    let more = match chosen {
        None => spread.of_another(),
        Some((_, u)) => Mm(spread.rms().0 * u.0 / libm::hypot(spread.rms().0, u.0)),
    };
    spec.common = Mm(libm::hypot(spec.common.0, more.0));
}

/// What the job says otherwise, held to the wall.
fn over(spec: &mut CupSpec, asked: &Asked<'_>) -> Result<(), ErrorGuaranteed> {
    let Over { keep_clear, seam, lap, build_up } = asked.over;
    if let Some(bands) = keep_clear {
        cup::bands_fit(asked.job, &asked.at, bands, spec.wall)?;
        spec.keep_clear = bands;
    }
    if let Some(seam) = seam {
        (spec.seam, spec.seam_best) = (seam.unwrap_or(cup::BACK).wrapped(), seam.is_none());
    }
    spec.lap = lap.unwrap_or(spec.lap);
    spec.build_up = build_up.unwrap_or(spec.build_up);
    Ok(())
}

/// One table: name, day, girths or what a strip showed, and where.
type Read = (String, Option<String>, By, KeyPath);

/// A specimen by the tape, or by a strip against the first.
enum By {
    Girths(Vec<Mm>),
    Strip(Vec<Mm>),
}

fn specimen(s: &Section<'_>) -> Result<Read, ErrorGuaranteed> {
    let name = s.own(&rows::specimen::NAME, Item::text).required();
    let read = s.own(&rows::specimen::READ, Item::date).optional();
    let girths = s.own(&rows::specimen::GIRTHS, |i| i.list(Item::length)).optional();
    let strip = s.own(&rows::specimen::STRIP, |i| i.list(Item::length)).optional();
    let of = |row: &'static str| s.at().key(row);
    let (by, at) = match (girths?, strip?) {
        (Some(girths), None) => (By::Girths(girths), of(rows::specimen::GIRTHS.row.name)),
        (None, Some(strip)) => (By::Strip(strip), of(rows::specimen::STRIP.row.name)),
        (None, None) => return Err(s.missing(&rows::specimen::GIRTHS)),
        (Some(_), Some(_)) => {
            let own = rows::specimen::STRIP.row.name;
            let twice = s.fault(&codes::ONE_OF, own, "a specimen is read by the tape and by a strip");
            return Err(s
                .reader()
                .push(twice.help("write two tables of its name, or leave one reading out")));
        }
    };
    Ok((name?, read?, by, at))
}

/// Readings drawn together by name; the cup of `[cup]` is the first.
fn gathered(
    root: &Section<'_>,
    spec: &CupSpec,
    tables: Vec<Read>,
    thick: Mm,
) -> Result<Vec<Specimen>, ErrorGuaranteed> {
    let own = spec.rings.iter().map(|r| r.girth).collect();
    let reads = spec.rings.iter().map(|r| r.reads).min().unwrap_or(1);
    let mut all = vec![Specimen {
        name: FIRST.to_owned(),
        read: Vec::new(),
        reads,
        girths: own,
        strip: false,
        off: Mm::ZERO,
    }];
    let mut ok = Ok(());
    for (name, read, by, at) in tables {
        let (strip, read_off) = match by {
            By::Girths(girths) => (false, girths),
            By::Strip(more) => (true, more),
        };
        if read_off.len() != spec.rings.len() {
            let d = Diagnostic::fault(
                &codes::BLANK,
                at,
                format!("specimen \"{name}\" was not read at the heights of `cup.rings`"),
            );
            ok = Err(root.reader().push(
                d.measured(format!("{} of them", read_off.len()))
                    .allowed(format!("{}, one a height, the lowest first", spec.rings.len()))
                    .help("read it at the same heights"),
            ));
            continue;
        }
        let girth = |(r, v): (&Ring, &Mm)| if strip { r.girth + *v } else { *v - thick * PI };
        let girths: Vec<Mm> = spec.rings.iter().zip(&read_off).map(girth).collect();
        let far = girths.iter().zip(&spec.rings).position(|(g, r)| (*g - r.girth).abs() > r.girth * ALIKE);
        if let Some(k) = far {
            let show = |mm| root.reader().show(mm);
            let d = Diagnostic::fault(
                &codes::BLANK,
                at.index(k),
                format!("specimen \"{name}\" is no cup of this kind there"),
            );
            let near = spec.rings[k].girth;
            ok = Err(root.reader().push(
                d.measured(show(girths[k]))
                    .allowed(format!("within {} of {}", show(near * ALIKE), show(near)))
                    .help("correct it, or give it a file of its own"),
            ));
            continue;
        }
        match all.iter_mut().find(|s| s.name == name && s.strip == strip) {
            Some(s) => {
                let (n, m) = (f64::from(s.reads), f64::from(s.reads + 1));
                s.girths.iter_mut().zip(&girths).for_each(|(old, new)| *old = Mm((old.0 * n + new.0) / m));
                s.reads += 1;
                s.read.extend(read);
            }
            None => {
                let read = read.into_iter().collect();
                all.push(Specimen { name, read, reads: 1, girths, strip, off: Mm::ZERO })
            }
        }
    }
    ok?;
    let size = |s: &Specimen| s.girths.iter().map(|g| g.0).sum::<f64>() / s.girths.len() as f64;
    let mean = all.iter().map(size).sum::<f64>() / all.len() as f64;
    all.iter_mut().for_each(|s| s.off = Mm(size(s) - mean));
    Ok(all)
}

/// Can so many cups share a template? Told once the number of cups is known.
pub(super) fn tell(reader: &Reader<'_>, alike: &Alike, cups: u32) {
    let (at, m) = (KeyPath::of("cup"), alike.specimens.len());
    let show = |mm| reader.show(mm);
    let spread = show(Mm((alike.spread.rms().0 * 100.0).round() / 100.0));
    if let Some(i) = alike.chosen {
        let s = &alike.specimens[i];
        let message =
            format!("the layout is for specimen \"{}\" of {}, read {} times", s.name, alike.blank, s.reads);
        reader.push(
            Diagnostic::note(&codes::ALIKE, at, message)
                .measured(format!("{m} read, girths differ by {spread} (standard deviation)")),
        );
        return;
    }
    let chance = alike.spread.all_within(cups as usize, alike.within);
    let of = if cups == 1 { "the cup lies".to_owned() } else { format!("all {cups} cups lie") };
    let message = format!(
        "one layout for any cup of {}: {of} within {} of it with a chance of {:.0} %",
        alike.blank,
        show(alike.within),
        100.0 * chance
    );
    let found =
        format!("{m} read, girths differ by {spread} (standard deviation, with what was to be expected)");
    if chance >= ENOUGH {
        let note = Diagnostic::note(&codes::ALIKE, at, message).measured(found);
        let more = "three cups read once tell more than one read three times: add two to its file";
        reader.push(if m < 3 { note.help(more) } else { note });
    } else {
        let d = Diagnostic::warning(&codes::ALIKE, at, message)
            .measured(found)
            .allowed(format!("{:.0} % or more", 100.0 * ENOUGH));
        reader.push(
            d.help("read each cup, add it to the blank's file, and make it with `specimen = \"its name\"`"),
        );
    }
}
