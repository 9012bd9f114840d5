//! What finishing asks of a run before and among the other stages: the build-up of the layout, the disc for
//! the base.
//!
//! Imports: base, read::{job, materials}, make::{cup, finish, plan}.

use super::StageReport;
use crate::base::diag::Diagnostics;
use crate::base::units::Mm;
use crate::make::cup;
use crate::make::finish::{self, Finish};
use crate::read::job::Job;
use crate::read::job::finish::Times;
use crate::read::materials::Materials;

/// The job with the build-up that its layout is made for: what the maker says, else what the coats before the
/// first film come to on the cup as measured.
pub(super) fn with_build_up(job: &Job) -> Job {
    let mut job = job.clone();
    if job.cup.build_up == Mm::ZERO
        && let Ok(bare) = cup::fit(&job.cup, &mut Diagnostics::new())
    {
        job.cup.build_up = finish::under_film(&job, &bare);
    }
    job
}

/// The job with the maker's own rates, where a bench log teaches some, and with the logo of her quote.
pub(super) fn with_log(job: &Job, materials: &Materials) -> Job {
    let mut job = job.clone();
    if let Some(spec) = job.finish.as_mut().filter(|s| !s.log.is_empty()) {
        *spec = finish::learn::applied(spec, materials.log());
    }
    let times = job.finish.as_ref().map_or_else(Times::default, |s| s.times.clone());
    for film in &mut job.films {
        let rates = &mut film.cut.rates;
        (rates.weed_piece, rates.weed_opening) = times.weeding(rates);
    }
    if let Some(quote) = job.finish.as_mut().and_then(|s| s.quote.as_mut()) {
        quote.logo_svg = materials.logo().map(<[u8]>::to_vec);
    }
    job
}

/// What the stage did.
pub(super) fn report(finish: &Finish) -> StageReport {
    let coats = finish.steps.iter().filter(|s| s.kind.is_coat()).count();
    StageReport {
        stage: "finish",
        counts: vec![("steps", finish.steps.len() as u64), ("coats", coats as u64)],
    }
}
