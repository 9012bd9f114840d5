//! [`Materials`]: everything that a job names (art, fonts, offcuts, own spot outlines, the base's mark, pictures
//! of printed sheets), read and checked once, before anything is planned.
//!
//! ```
//! use frusta::read::{job::read_job, materials::Materials, source::InMemory};
//! let job = read_job("[cup]\nrings = [{ up = 0, girth = 200 }, { up = 100, girth = 240 }]\nwall = 100\n\
//!                     [[film]]\nname = \"blue\"\nsheet = [200, 150]\n").job.expect("a job");
//! let materials = Materials::read(&job, &InMemory::default());
//! assert_eq!((materials.drawings(), materials.diagnostics.len()), (0, 0));
//! ```
//!
//! Imports: base, outline, read::{source, job, art, picture, letter, names, bench_log}.

use crate::base::diag::{Code, Diagnostic, Diagnostics, ErrorGuaranteed, KeyPath};
use crate::base::frame::Art;
use crate::base::units::Mm;
use crate::outline::Region;
use crate::read::art::limits::BYTES;
use crate::read::art::{Artwork, read_art};
use crate::read::bench_log::{self, Entry};
use crate::read::job::decals::{FontName, Shows};
use crate::read::job::{ArtSize, Gone, Job, OwnSpec, Printed, SpotShape, gone_numbers};
use crate::read::letter::Font;
use crate::read::letter::font::LARGEST_FONT;
use crate::read::names::NameList;
use crate::read::picture::{LARGEST_FILE, Picture, read_picture};
use crate::read::source::{Missing, Source};
use rayon::prelude::*;
use std::collections::BTreeMap;
use std::sync::Arc;

/// A file that the job names is not there.
pub const NO_FILE: Code = Code {
    id: "job/file-missing",
    title: "a file that the job names cannot be had",
    explain: "Art and fonts lie beside the job file, in its folder or below it, and are named by their path \
        from there. The file is missing, cannot be read, lies outside the job's folder, or is larger than \
        16 MiB.",
};

/// A file that should say which motifs of a sheet are gone does not.
pub const NO_LIST: Code = Code {
    id: "sheet/no-list",
    title: "a file does not say which motifs of a sheet are gone",
    explain: "Each kit leaves, for every printed sheet that it cuts from, a list of the motifs that are gone after \
        it: leftovers/NAME.toml. The next job names it under `gone`. This file is none.",
};

/// All codes of this module.
pub const CODES: &[&Code] = &[&NO_FILE, &NO_LIST];

/// Largest logo.
const LARGEST_LOGO: u64 = 1 << 20;

type Had<T> = Result<T, ErrorGuaranteed>;

/// What is left of a sheet of an earlier job: the name of its file, and its outline at its own size.
pub type OffcutOutline = (String, Region<Art>);

/// Everything that a job names, each thing read once; what could not be had has said why in
/// [`Self::diagnostics`].
#[derive(Debug, Default)]
pub struct Materials {
    art: BTreeMap<String, Had<Artwork>>,
    fonts: BTreeMap<String, Had<Font>>,
    /// By fill.
    spots: Vec<Had<Vec<Region<Art>>>>,
    /// By film.
    offcuts: Vec<Had<Vec<OffcutOutline>>>,
    mark: Option<Had<Region<Art>>>,
    /// By printed sheet.
    pictures: Vec<Option<Had<Arc<Picture>>>>,
    /// By printed sheet: what the maker prints herself.
    own: Vec<Option<Had<OwnFiles>>>,
    gone: Vec<Had<Vec<u32>>>,
    names: Option<Had<NameList>>,
    log: Option<Had<Vec<Entry>>>,
    logo: Option<Had<Vec<u8>>>,
    /// What was found while reading, in the order of the job's stages.
    pub diagnostics: Vec<Diagnostic>,
}

impl Materials {
    /// Reads everything that the job names through `source`.
    pub fn read(job: &Job, source: &dyn Source) -> Materials {
        let mut m = Materials::default();
        let mut diagnostics = Diagnostics::new();
        m.read_art(drawings(job), source, &mut diagnostics);
        m.spots =
            job.accents.iter().enumerate().map(|(i, _)| m.own_spots(job, i, &mut diagnostics)).collect();
        for (i, spec) in job.decals.iter().enumerate() {
            if let Shows::Words { font, .. } = &spec.shows {
                let at = KeyPath::root().key("decal").index(i).key("font");
                m.fonts.entry(key(font)).or_insert_with(|| read_font(font, source, &at, &mut diagnostics));
            }
        }
        m.mark = m.read_mark(job, source, &mut diagnostics);
        m.offcuts = (0..job.films.len()).map(|i| m.read_offcuts(job, i, source, &mut diagnostics)).collect();
        m.read_sheets(job, source, &mut diagnostics);
        let names = job.order.as_ref().and_then(|o| o.names.as_ref());
        m.names = names.map(|n| NameList::read(n, source, &mut diagnostics));
        m.logo = logo(job, source, &mut diagnostics);
        let logs = job.finish.as_ref().map(|f| &f.log).filter(|l| !l.is_empty());
        m.log = logs.map(|l| bench_log::read(l, source, &mut diagnostics));
        m.diagnostics = diagnostics.into_vec();
        m
    }

    /// The logo of the quote; none where the job names none, or it could not be read (a fault says so).
    pub fn logo(&self) -> Option<&[u8]> {
        self.logo.as_ref().and_then(|l| l.as_ref().ok()).map(Vec::as_slice)
    }

    /// The lines of the job's bench logs; none where it names none, or one could not be read (a fault says so).
    pub fn log(&self) -> &[Entry] {
        self.log.as_ref().and_then(|l| l.as_ref().ok()).map_or(&[], Vec::as_slice)
    }

    /// The list of names of the order; `None` if it has none.
    pub fn names(&self) -> Option<Had<&NameList>> {
        self.names.as_ref().map(|n| n.as_ref().map_err(|e| *e))
    }

    /// Reads the pictures of printed sheets alone.
    pub fn pictures(job: &Job, source: &dyn Source) -> Materials {
        let (mut m, mut diagnostics) = (Materials::default(), Diagnostics::new());
        m.read_sheets(job, source, &mut diagnostics);
        m.diagnostics = diagnostics.into_vec();
        m
    }

    fn read_sheets(&mut self, job: &Job, source: &dyn Source, d: &mut Diagnostics) {
        for i in 0..job.sheets.len() {
            let own = job.sheets[i].own.as_ref().map(|own| own_files(own, i, source, d));
            self.pictures.push(own.is_none().then(|| picture(job, i, source, d)));
            self.own.push(own);
            self.gone.push(gone(job, i, source, d));
        }
    }

    /// Numbers of the motifs of a printed sheet that are cut out already.
    ///
    /// # Errors
    /// A file that says so could not be read.
    pub fn gone(&self, sheet: usize) -> Had<&[u32]> {
        held(self.gone.get(sheet), "gone").map(Vec::as_slice)
    }

    /// The picture of a printed sheet.
    ///
    /// # Errors
    /// It could not be read.
    pub fn picture(&self, sheet: usize) -> Had<&Arc<Picture>> {
        held(self.pictures.get(sheet).and_then(Option::as_ref), "picture")
    }

    /// The pictures of a sheet that the maker prints herself.
    ///
    /// # Errors
    /// One could not be read.
    pub fn own(&self, sheet: usize) -> Had<&OwnFiles> {
        held(self.own.get(sheet).and_then(Option::as_ref), "own")
    }

    /// A drawing that the job names.
    ///
    /// # Errors
    /// It could not be read.
    pub fn art(&self, name: &str) -> Had<&Artwork> {
        held(self.art.get(name), name)
    }

    /// A font that a decal names.
    ///
    /// # Errors
    /// It could not be read.
    pub fn font(&self, name: &FontName) -> Had<&Font> {
        held(self.fonts.get(&key(name)), &key(name))
    }

    /// The maker's own spot outlines of a fill, in the order in which its shapes name them; the fill scales
    /// them.
    ///
    /// # Errors
    /// One of them could not be read.
    pub fn spot_outlines(&self, fill: usize) -> Had<&[Region<Art>]> {
        held(self.spots.get(fill), "spots").map(Vec::as_slice)
    }

    /// What earlier jobs left of a film.
    ///
    /// # Errors
    /// One of the files could not be read.
    pub fn offcuts(&self, film: usize) -> Had<&[OffcutOutline]> {
        held(self.offcuts.get(film), "offcuts").map(Vec::as_slice)
    }

    /// The maker's mark for the base, as wide as the job says; `None` if there is none.
    pub fn mark(&self) -> Option<Had<&Region<Art>>> {
        self.mark.as_ref().map(|m| m.as_ref().map_err(|e| *e))
    }

    /// How many drawings were read.
    pub fn drawings(&self) -> usize {
        self.art.len()
    }

    /// Reads all drawings that were not read before, side by side; what is found in them is told in the order
    /// asked.
    fn read_art(&mut self, wanted: Vec<(&str, KeyPath)>, source: &dyn Source, diagnostics: &mut Diagnostics) {
        let mut new = Vec::<(&str, KeyPath, Result<Vec<u8>, Missing>)>::new();
        for (name, at) in wanted {
            if !self.art.contains_key(name) && new.iter().all(|n| n.0 != name) {
                new.push((name, at, source.bytes(name, BYTES)));
            }
        }
        let read: Vec<(Had<Artwork>, Diagnostics)> =
            new.par_iter().map(|(name, at, bytes)| drawing(name, at, bytes)).collect();
        for ((name, ..), (art, faults)) in new.into_iter().zip(read) {
            diagnostics.extend(faults.into_vec());
            self.art.insert(name.to_owned(), art);
        }
    }

    fn one(&mut self, name: &str, at: &KeyPath, source: &dyn Source, d: &mut Diagnostics) -> Had<&Artwork> {
        self.read_art(vec![(name, at.clone())], source, d);
        self.art(name)
    }

    fn own_spots(&self, job: &Job, fill: usize, diagnostics: &mut Diagnostics) -> Had<Vec<Region<Art>>> {
        let at = KeyPath::root().key("accent").index(fill).key("art");
        let files = job.accents[fill].shapes.iter().flat_map(SpotShape::files);
        // The fill scales them by its own sizes: any size will do here.
        let size = ArtSize::Width(Mm(10.0));
        all(files.map(|name| self.art(name).and_then(|a| a.sized(size, &at, diagnostics))))
    }

    fn read_mark(&mut self, job: &Job, source: &dyn Source, d: &mut Diagnostics) -> Option<Had<Region<Art>>> {
        let mark = job.finish.as_ref()?.base.as_ref()?.mark.as_ref()?;
        let at = KeyPath::of("finish.base.mark");
        let size = ArtSize::Width(mark.size);
        Some(self.one(&mark.art, &at.key("art"), source, d).cloned().and_then(|a| a.sized(size, &at, d)))
    }

    fn read_offcuts(
        &mut self,
        job: &Job,
        film: usize,
        source: &dyn Source,
        d: &mut Diagnostics,
    ) -> Had<Vec<OffcutOutline>> {
        let at = KeyPath::root().key("film").index(film).key("leftovers");
        let names = job.films[film].cut.leftovers.iter().enumerate();
        let read = names.map(|(k, name)| {
            let at = at.index(k);
            self.read_art(vec![(name, at.clone())], source, d);
            let outline = self.art(name).and_then(|a| a.sized(ArtSize::Own, &at, d))?;
            Ok((name.clone(), outline))
        });
        all(read)
    }
}

/// The logo as it is: a page shows it as a picture, in which nothing runs and nothing is fetched.
fn logo(job: &Job, source: &dyn Source, d: &mut Diagnostics) -> Option<Had<Vec<u8>>> {
    let name = job.finish.as_ref()?.quote.as_ref()?.logo.as_ref()?;
    let at = KeyPath::of("finish.quote.logo");
    let svg = |b: &Vec<u8>| std::str::from_utf8(b).is_ok_and(|t| t.contains("<svg"));
    Some(match source.bytes(name, LARGEST_LOGO) {
        Ok(bytes) if svg(&bytes) => Ok(bytes),
        Ok(_) => Err(d.push(
            Diagnostic::fault(&NO_FILE, at, format!("{name} is no SVG in UTF-8"))
                .help("save the logo as SVG"),
        )),
        Err(missing) => Err(d.push(
            Diagnostic::fault(&NO_FILE, at, format!("{name} cannot be had"))
                .measured(missing.why)
                .help("put the logo beside the job, or take it out"),
        )),
    })
}

/// All of them, or the proof that one is lacking; each is tried.
fn all<T>(items: impl Iterator<Item = Had<T>>) -> Had<Vec<T>> {
    let (mut out, mut failed) = (Vec::new(), None);
    for item in items {
        match item {
            Ok(t) => out.push(t),
            Err(e) => failed = Some(e),
        }
    }
    failed.map_or(Ok(out), Err)
}

/// What was read under a name. Only a job other than the one whose materials these are names more.
fn held<'a, T>(got: Option<&'a Had<T>>, name: &str) -> Had<&'a T> {
    got.unwrap_or_else(|| panic!("\"{name}\" is not among these materials: they were read for another job"))
        .as_ref()
        .map_err(|e| *e)
}

fn drawing(name: &str, at: &KeyPath, bytes: &Result<Vec<u8>, Missing>) -> (Had<Artwork>, Diagnostics) {
    let mut diagnostics = Diagnostics::new();
    let art = match bytes {
        Ok(bytes) => read_art(name, bytes, at, &mut diagnostics),
        Err(missing) => Err(diagnostics.push(no_file(name, at, missing, "file"))),
    };
    (art, diagnostics)
}

fn no_file(name: &str, at: &KeyPath, missing: &Missing, what: &str) -> Diagnostic {
    let message = format!("\"{name}\" cannot be read: {}", missing.why);
    let d = Diagnostic::fault(&NO_FILE, at.clone(), message).file(name);
    d.help(format!("put the {what} into the job's folder, or mend its name here"))
}

fn picture(job: &Job, sheet: usize, source: &dyn Source, d: &mut Diagnostics) -> Had<Arc<Picture>> {
    let at = KeyPath::root().key("sheet").index(sheet).key("picture");
    let name = &job.sheets[sheet].picture;
    match source.bytes(name, LARGEST_FILE) {
        Ok(bytes) => read_picture(name, &bytes, &at, d).map(Arc::new),
        Err(missing) => Err(d.push(no_file(name, &at, &missing, "picture"))),
    }
}

/// Pictures of a sheet that the maker prints herself.
#[derive(Clone, Debug)]
pub struct OwnFiles {
    /// Its motifs, in their order.
    pub motifs: Vec<Arc<Picture>>,
    /// A scan of what the printer made.
    pub scan: Option<Arc<Picture>>,
}

fn own_files(own: &OwnSpec, sheet: usize, source: &dyn Source, d: &mut Diagnostics) -> Had<OwnFiles> {
    let at = KeyPath::root().key("sheet").index(sheet).key("own");
    let one = |name: &str, at: KeyPath, d: &mut Diagnostics| match source.bytes(name, LARGEST_FILE) {
        Ok(bytes) => read_picture(name, &bytes, &at, d).map(Arc::new),
        Err(missing) => Err(d.push(no_file(name, &at, &missing, "picture"))),
    };
    let motifs: Vec<Had<Arc<Picture>>> = own
        .motifs
        .iter()
        .enumerate()
        .map(|(i, m)| one(&m.picture, at.key("motifs").index(i).key("picture"), d))
        .collect();
    let scan = match &own.printed {
        Some(Printed::Scan(file, _)) => Some(one(file, at.key("printed").key("scan"), d)),
        _ => None,
    };
    Ok(OwnFiles { motifs: motifs.into_iter().collect::<Had<_>>()?, scan: scan.transpose()? })
}

fn gone(job: &Job, sheet: usize, source: &dyn Source, d: &mut Diagnostics) -> Had<Vec<u32>> {
    let at = KeyPath::root().key("sheet").index(sheet).key("gone");
    let read = job.sheets[sheet].gone.iter().enumerate().map(|(i, gone)| {
        let name = match gone {
            Gone::Number(n) => return Ok(vec![*n]),
            Gone::File(name) => name,
        };
        let at = at.index(i);
        let bytes =
            source.bytes(name, BYTES).map_err(|missing| d.push(no_file(name, &at, &missing, "file")))?;
        gone_numbers(&String::from_utf8_lossy(&bytes)).map_err(|why| {
            let message = format!("\"{name}\" does not say what is gone: {why}");
            d.push(
                Diagnostic::fault(&NO_LIST, at, message)
                    .file(name)
                    .help("name a file that a kit left for a sheet"),
            )
        })
    });
    all(read).map(|lists| lists.concat())
}

/// All drawings that the job names before its film, with the places where they are named.
fn drawings(job: &Job) -> Vec<(&str, KeyPath)> {
    let place = |table: &'static str, i: usize| KeyPath::root().key(table).index(i).key("art");
    let motifs =
        job.motifs.iter().enumerate().filter_map(|(i, m)| Some((m.art.drawing()?, place("motif", i))));
    let own = job.accents.iter().enumerate().flat_map(|(i, spec)| {
        let files = spec.shapes.iter().flat_map(SpotShape::files);
        files.map(move |f| (f.as_str(), place("accent", i)))
    });
    let decals = job.decals.iter().enumerate().filter_map(|(i, d)| match &d.shows {
        Shows::Drawing { art, .. } => Some((art.as_str(), place("decal", i))),
        Shows::Words { .. } => None,
    });
    motifs.chain(own).chain(decals).collect()
}

fn key(font: &FontName) -> String {
    match font {
        FontName::File(f) => format!("file {f}"),
        FontName::Family(f) => format!("family {}", f.trim().to_lowercase()),
    }
}

/// A font file of the job's folder, one that needs no file, or one that the machine has.
fn read_font(name: &FontName, source: &dyn Source, at: &KeyPath, diagnostics: &mut Diagnostics) -> Had<Font> {
    match name {
        FontName::File(file) => match source.bytes(file, LARGEST_FONT) {
            Ok(bytes) => Font::read(file, bytes, at, diagnostics),
            Err(missing) => Err(diagnostics.push(no_file(file, at, &missing, "font"))),
        },
        FontName::Family(family) if Font::is_embedded(family) => Font::embedded(family, at, diagnostics),
        FontName::Family(family) => match source.font(family, LARGEST_FONT) {
            Ok(file) => {
                if !file.beside {
                    Font::of_this_machine(family, &file.name, at, diagnostics);
                }
                Font::read(&file.name, file.bytes, at, diagnostics)
            }
            // The embedded ones are named by the fault.
            Err(missing) => Font::unknown(family, &missing.why, at, diagnostics),
        },
    }
}
