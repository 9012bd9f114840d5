//! What finishing asks of a run before and among the other stages: the build-up of the layout, the disc for the base.
//!
//! Imports: base, read, make::{cup, finish}, make::plan::run.

use super::StageReport;
use super::run::Shelf;
use crate::base::diag::{Diagnostics, ErrorGuaranteed, KeyPath};
use crate::base::units::Mm;
use crate::make::cup::{self, Cup};
use crate::make::finish::{self, BaseDisc, Finish};
use crate::read::job::{ArtSize, Job};

/// The job with the build-up that its layout is made for: what the maker says, else what the coats before the first
/// film come to on the cup as measured.
pub(super) fn with_build_up(job: &Job) -> Job {
    let mut job = job.clone();
    if job.cup.build_up == Mm::ZERO
        && let Ok(bare) = cup::fit(&job.cup, &mut Diagnostics::new())
    {
        job.cup.build_up = finish::under_film(&job, &bare);
    }
    job
}

/// The disc for the base, its mark on it.
pub(super) fn base(
    job: &Job,
    cup: &Cup,
    shelf: &mut Shelf,
    diagnostics: &mut Diagnostics,
) -> Result<Option<BaseDisc>, ErrorGuaranteed> {
    let Some(spec) = job.finish.as_ref().and_then(|f| f.base.as_ref()) else { return Ok(None) };
    let at = KeyPath::of("finish.base.mark");
    let art = spec.mark.as_ref().map(|mark| {
        let size = ArtSize::Width(mark.size);
        shelf.art(&mark.art, &at.key("art"), diagnostics).and_then(|a| a.sized(size, &at, diagnostics))
    });
    let mut disc = finish::disc::base_disc(spec, cup, diagnostics);
    if let (Some(disc), Some(mark), Some(Ok(art))) = (&mut disc, &spec.mark, &art) {
        disc.add_mark(mark, art, diagnostics);
    }
    art.transpose()?;
    diagnostics.check()?;
    Ok(disc)
}

/// What the stage did.
pub(super) fn report(finish: &Finish) -> StageReport {
    let coats = finish.steps.iter().filter(|s| s.kind.is_coat()).count();
    StageReport {
        stage: "finish",
        counts: vec![("steps", finish.steps.len() as u64), ("coats", coats as u64)],
    }
}
