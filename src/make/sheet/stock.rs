//! [`Stocked`]: a printed sheet as stock: its motifs, their cut outlines, and the sheet with those that a job
//! cuts out of it.
//!
//! Imports: base, outline, read::{job, materials}, make::sheet, make::sheet::{codes, border, find, own}.

use super::border::{self, Shared};
use super::codes::{NO_NUMBER, USED};
use super::find::find;
use super::own::{OwnPrint, laid, printed};
use super::{FoundMotif, PrintedSheet};
use crate::base::diag::{Diagnostic, Diagnostics, ErrorGuaranteed, KeyPath};
use crate::base::frame::{Art, Point, Rigid, Sheet};
use crate::outline::Region;
use crate::read::job::{Job, OnSheet, OwnSpec, Rgb, SheetSpec, Stock};
use crate::read::materials::Materials;
use std::sync::Arc;

/// A printed sheet and where its motifs are cut out.
#[derive(Clone, Debug)]
pub struct Stocked {
    /// What is on it.
    pub sheet: PrintedSheet,
    /// Cut outlines by number: `cuts[number - 1]`.
    pub cuts: Vec<Region<Sheet>>,
    /// Motifs whose borders share a gap, and how wide it is.
    pub shared: Vec<Shared>,
    /// How it is printed, if the maker does that herself.
    pub own: Option<OwnPrint>,
}

/// The printed sheets of a job.
///
/// # Errors
/// A picture could not be read, or nothing was found on it.
pub fn stock(
    job: &Job,
    materials: &Materials,
    diagnostics: &mut Diagnostics,
) -> Result<Vec<Arc<Stocked>>, ErrorGuaranteed> {
    let (mut out, mut failed) = (Vec::new(), None);
    for (i, spec) in job.sheets.iter().enumerate() {
        let at = KeyPath::root().key("sheet").index(i);
        let found = match &spec.own {
            Some(own) => own_sheet(spec, own, (materials, i), &at, diagnostics),
            None => materials
                .picture(i)
                .and_then(|picture| find(spec, picture, materials.gone(i)?, &at, diagnostics))
                .map(|sheet| (sheet, None)),
        };
        match found {
            Ok((sheet, own)) => {
                let (cuts, shared) = border::cuts(&sheet, spec);
                out.push(Arc::new(Stocked { sheet, cuts, shared, own }));
            }
            Err(e) => failed = Some(e),
        }
    }
    failed.map_or(Ok(out), Err)
}

/// A sheet that the maker prints herself, and what the printer made of it.
fn own_sheet(
    spec: &SheetSpec,
    own: &OwnSpec,
    (materials, i): (&Materials, usize),
    at: &KeyPath,
    diagnostics: &mut Diagnostics,
) -> Result<(PrintedSheet, Option<OwnPrint>), ErrorGuaranteed> {
    let files = materials.own(i)?;
    let (sheet, mut print) = laid(spec, own, &files.motifs, materials.gone(i)?, at, diagnostics)?;
    print.fit = printed((spec, own), &print.marks, files.scan.as_deref(), at, diagnostics)?;
    Ok((sheet, Some(print)))
}

/// The job with what its pictures say of its printed sheets: their sizes, and a colour for where there is no
/// picture.
pub fn sized(job: &Job, stock: &[Arc<Stocked>]) -> Job {
    let mut job = job.clone();
    for (i, s) in stock.iter().enumerate() {
        let film = job.film_of_sheet(i);
        let film = &mut job.films[film.0];
        film.stock = Stock::Sheet { width: s.sheet.width, height: s.sheet.height };
        film.colour = s.colour();
    }
    job
}

impl Stocked {
    /// Colour of all of its print together, over white.
    fn colour(&self) -> Rgb {
        let all: f64 = self.sheet.motifs.iter().map(|m| m.area().0).sum();
        let part = |k: usize| {
            let of = |m: &FoundMotif| f64::from(m.colour.0[k]) * m.area().0;
            (self.sheet.motifs.iter().map(of).sum::<f64>() / all).round() as u8
        };
        Rgb([part(0), part(1), part(2)])
    }
    /// From the frame of a motif as a piece (the middle of its cut outline's box at the origin) to the sheet.
    pub fn pose(&self, number: u32) -> Rigid<Art, Sheet> {
        let c = self.cuts[number as usize - 1].bounds().centre();
        Rigid::from_parts(1.0, 0.0, Point::mm(c.x, c.y))
    }
    /// A motif as a piece: its cut outline in its own frame.
    pub fn piece(&self, number: u32) -> Region<Art> {
        self.cuts[number as usize - 1].moved(&self.pose(number).inverse())
    }
}

/// A motif that a job names, if it is there and not gone.
///
/// # Errors
/// `NO_NUMBER`, `USED`.
pub fn named<'a>(
    job: &Job,
    stock: &'a [Arc<Stocked>],
    on: OnSheet,
    at: &KeyPath,
    diagnostics: &mut Diagnostics,
) -> Result<&'a FoundMotif, ErrorGuaranteed> {
    let (spec, sheet) = (&job.sheets[on.sheet], &stock[on.sheet].sheet);
    let Some(motif) = sheet.motif(on.number) else {
        let message = format!("\"{}\" has no motif {}", spec.name, on.number);
        let d = Diagnostic::fault(&NO_NUMBER, at.clone(), message);
        let d = d.allowed(format!("1 to {}", sheet.motifs.len()));
        return Err(diagnostics.push(d.help("`frusta sheet` shows the numbers")));
    };
    if motif.gone {
        let message = format!("motif {} of \"{}\" is gone", on.number, spec.name);
        let d = Diagnostic::fault(&USED, at.clone(), message);
        return Err(diagnostics.push(d.help("name another one, or take the number out of `gone`")));
    }
    Ok(motif)
}
