//! The sections of printed sheets and of what is picked from them.
//!
//! Imports: base, read::job::{codes, nest, model, sheet_spec, rows, section, path, films, motifs, own_print}.

use super::codes;
use super::films::Films;
use super::model::{FilmSpec, Grain, OnSheet, Paper, Pass, Rgb, Stock, Turning};
use super::motifs::{MOST_NUMBER, sheet_number, turning};
use super::nest::CutSpec;
use super::path::art;
use super::rows as root;
use super::rows::sheet::{self as rows, DPI, pick};
use super::section::{Item, Section};
use super::sheet_spec::{Even, Gone, Holes, Known, Much, OwnSpec, PickSpec, Scale, SheetSpec};
use crate::base::diag::{Diagnostic, ErrorGuaranteed};
use crate::base::units::Mm;

/// Sheets that a job has at most.
const MOST: usize = 40;
/// Least film between the cut outlines of two motifs.
pub const BETWEEN: Mm = Mm(0.3);

/// Reads all `[[sheet]]`; their names stand beside those of the films.
pub(super) fn read(job: &Section<'_>, films: &mut Films) -> Vec<Result<SheetSpec, ErrorGuaranteed>> {
    let sections = job.tables(&root::SHEET, 40);
    if sections.len() > MOST {
        let d = job.fault(&codes::OUT_OF_RANGE, root::SHEET.row.name, "there are too many sheets");
        job.reader().push(d.measured(sections.len()).allowed(format!("1 to {MOST}")).help("take some out"));
    }
    let one = |section: Result<Section<'_>, ErrorGuaranteed>| {
        let named = section.as_ref().ok().and_then(|s| s.item(rows::NAME.row.name)?.as_text());
        let named = named.map(str::to_owned);
        let read = section.and_then(|s| sheet(s, films));
        films.has_sheet(named);
        read
    };
    sections.into_iter().map(one).collect()
}

fn sheet(s: Section<'_>, films: &Films) -> Result<SheetSpec, ErrorGuaranteed> {
    let name = films.new_name(&s, &rows::NAME);
    let own = s.inner(&rows::OWN, super::own_print::read);
    let picture = s.own(&rows::PICTURE, art).optional();
    let picture = match (picture, &own) {
        (Ok(None), Ok(Some(_))) => Ok(String::new()),
        (Ok(None), _) => Err(s.missing(&rows::PICTURE)),
        (Ok(Some(_)), Ok(Some(_))) => Err(s.reader().push(
            s.fault(
                &codes::ONE_OF,
                rows::OWN.row.name,
                "the sheet is said to be printed already and to be printed",
            )
            .help("take `picture` or `own` out"),
        )),
        (Ok(Some(p)), _) => Ok(p),
        (Err(e), _) => Err(e),
    };
    let scale = s.own(&rows::SCALE, scale).or(Scale::File);
    let bar = s.key(&rows::BAR).optional();
    let together = s.key(&rows::TOGETHER).or_usual();
    let speck = s.key(&rows::SPECK).or_usual();
    let holes = s
        .own(&rows::HOLES, holes)
        .or(Holes::Kept { least: rows::holes::LEAST.usual(), wide: rows::holes::WIDE.usual() });
    let border = if own.as_ref().is_ok_and(Option::is_some) {
        own_border(&s, own.as_ref().ok().and_then(Option::as_ref))
    } else {
        s.key(&rows::BORDER).or_usual()
    };
    let bridge = s.key(&rows::BRIDGE).or_usual();
    let cut_by = s.key(&rows::CUT_BY).or_usual();
    let thickness = s.key(&rows::THICKNESS).or_usual();
    let sheen = s.key(&rows::SHEEN).or_usual();
    let gone = s.own(&rows::GONE, |item| item.list(gone)).or(Vec::new());
    s.done();
    Ok(SheetSpec {
        name: name?,
        picture: picture?,
        scale: scale?,
        bar: bar?,
        together: together?,
        speck: speck?,
        holes: holes?,
        border: border?,
        bridge: bridge?,
        cut_by: cut_by?,
        thickness: thickness?,
        sheen: sheen?,
        gone: gone?,
        own: own?,
    })
}

/// What the maker prints is cut at its rim and bled beyond it, or has a border of clear film and no bleed.
fn own_border(s: &Section<'_>, own: Option<&OwnSpec>) -> Result<Mm, ErrorGuaranteed> {
    let border = s.key(&rows::BORDER).optional()?.unwrap_or(Mm::ZERO);
    if border > Mm::ZERO && own.is_some_and(|o| o.bleed > Mm::ZERO) {
        let d = s.fault(
            &codes::ONE_OF,
            rows::BORDER.row.name,
            "a border of clear film leaves nothing to bleed into",
        );
        return Err(s.reader().push(d.help("write `bleed = 0` under `[sheet.own]`, or take `border` out")));
    }
    Ok(border)
}

/// Pages of eight discs, by their papers.
pub const FRAMES: [(&str, Paper); 5] = [
    ("frame-a4", Paper::A4),
    ("frame-a3", Paper::A3),
    ("frame-letter", Paper::Letter),
    ("frame-legal", Paper::Legal),
    ("frame-tabloid", Paper::Tabloid),
];

fn scale(item: &Item<'_>) -> Result<Scale, ErrorGuaranteed> {
    if item.is_text() {
        let mut words = vec![("file", Scale::File)];
        words.push(("card", Scale::Photo(Known::Card)));
        words.extend(FRAMES.iter().map(|(word, paper)| (*word, Scale::Photo(Known::Frame(*paper)))));
        words.extend(Paper::ALL.iter().map(|paper| (paper.name(), Scale::Photo(Known::Paper(*paper)))));
        return item.choice(&words);
    }
    let dpi = item.number()?;
    if (DPI[0]..=DPI[1]).contains(&dpi) {
        return Ok(Scale::Dpi(dpi));
    }
    let d = Diagnostic::fault(&codes::OUT_OF_RANGE, item.at().clone(), "no sheet is scanned at that scale");
    let d = d.measured(format!("{dpi} dpi")).allowed(format!("{} to {} dpi, or \"file\"", DPI[0], DPI[1]));
    Err(item.reader().push(d.help("write the dpi that the scanner was set to, such as 300")))
}

fn holes(item: &Item<'_>) -> Result<Holes, ErrorGuaranteed> {
    if item.is_text() {
        return item.choice(&[("fill", Holes::Filled)]);
    }
    let s = item.section()?;
    let least = s.key(&rows::holes::LEAST).or_usual();
    let wide = s.key(&rows::holes::WIDE).or_usual();
    s.done();
    Ok(Holes::Kept { least: least?, wide: wide? })
}

fn gone(item: &Item<'_>) -> Result<Gone, ErrorGuaranteed> {
    if item.is_text() { art(item).map(Gone::File) } else { sheet_number(item).map(Gone::Number) }
}

/// The numbers under `gone` of a file that a kit left for the next job.
///
/// # Errors
/// Why it is no such file, in words.
pub fn gone_numbers(text: &str) -> Result<Vec<u32>, String> {
    let table: toml::Table = text.parse().map_err(|_| "it is no TOML".to_owned())?;
    let list = table.get(rows::GONE.row.name).and_then(toml::Value::as_array);
    let list = list.ok_or("it has no list `gone`")?;
    let number = |v: &toml::Value| {
        let n = v.as_integer().and_then(|n| u32::try_from(n).ok());
        n.filter(|n| (1..=MOST_NUMBER).contains(&u64::from(*n)))
            .ok_or_else(|| "`gone` holds what is no number of a motif".to_owned())
    };
    list.iter().map(number).collect()
}

/// The film that a printed sheet is; its size follows from the picture.
pub(super) fn film(spec: &SheetSpec) -> FilmSpec {
    FilmSpec {
        name: spec.name.clone(),
        colour: Rgb([0x80, 0x80, 0x80]),
        stock: Stock::Sheet { width: Mm::ZERO, height: Mm::ZERO },
        margin: Mm::ZERO,
        spacing: BETWEEN,
        weed: root::film::WEED.usual(),
        thickness: spec.thickness,
        take_up: root::film::TAKE_UP.usual() / 100.0,
        mirrored: false,
        grain: Grain::Fixed,
        sheen: spec.sheen,
        cut: CutSpec::default(),
    }
}

/// Reads one `[[pick]]`.
pub(super) fn pick(s: Section<'_>, films: &Films) -> Result<PickSpec, ErrorGuaranteed> {
    let from = s.own(&pick::FROM, |item| item.list(|i| films.sheet(i))).or(films.all_sheets());
    let (count, cover) = (s.key(&pick::COUNT).optional(), s.key(&pick::COVER).optional());
    let sizes = s
        .own(&pick::SIZES, |item| item.list(Item::length))
        .counting(2..=2, "lengths: from, to")
        .held(|sizes, at| {
            let d = Diagnostic::fault(&codes::OUT_OF_RANGE, at.clone(), "no motif has such a size");
            (sizes[0] > sizes[1])
                .then(|| d.measured(format!("{} to {}", sizes[0], sizes[1])).help("swap them"))
        })
        .or(vec![Mm::ZERO, Mm(f64::INFINITY)]);
    let with = s.own(&pick::WITH, |item| item.list(|i| on_sheet(i, films))).or(Vec::new());
    let without = s.own(&pick::WITHOUT, |item| item.list(|i| on_sheet(i, films))).or(Vec::new());
    let words = [("colour", true), ("size", false)];
    let even = s.own(&pick::EVEN, |item| item.list(|i| i.choice(&words))).or(vec![true, false]);
    let clearance = s.key(&pick::CLEARANCE).or_usual();
    let turn = s.own(&pick::TURNING, turning).or(Turning::Upright);
    let pass = s.key(&pick::PASS).optional();
    let much = match (count?, cover?) {
        (Some(n), None) => Ok(Much::Count(n as usize)),
        (None, Some(part)) => Ok(Much::Cover(part)),
        (None, None) => Err(s.missing(&pick::COUNT)),
        (Some(_), Some(_)) => Err(s.reader().push(
            s.fault(&codes::ONE_OF, pick::COVER.row.name, "how much is picked is said by count and by cover")
                .help("take one out"),
        )),
    };
    s.done();
    let (sizes, even) = (sizes?, even?);
    Ok(PickSpec {
        from: from?,
        much: much?,
        sizes: [sizes[0], sizes[1]],
        with: with?,
        without: without?,
        even: Even { colour: even.contains(&true), size: even.contains(&false) },
        clearance: clearance?,
        turning: turn?,
        pass: Pass { name: pass?, order: 0 },
    })
}

/// A motif as "meadow-1/4": the sheet's name and the number.
fn on_sheet(item: &Item<'_>, films: &Films) -> Result<OnSheet, ErrorGuaranteed> {
    let text = item.text()?;
    let parts = text.rsplit_once('/').and_then(|(name, n)| Some((name.trim(), n.trim().parse().ok()?)));
    match parts {
        Some((name, number)) if u64::from(number) <= MOST_NUMBER && number > 0 => {
            Ok(OnSheet { sheet: films.sheet_named(name, item)?, number })
        }
        _ => Err(item.unreadable("motif of a sheet", "it is no name, slash and number", "\"meadow-1/4\"")),
    }
}
