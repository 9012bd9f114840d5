//! From a job's text to its plan, as several tests ask for it.

use frusta::{Diagnostic, Effort, InMemory, Materials, Plan, make, read_job};
use std::ops::ControlFlow;

/// The plan of a job, none where it is at fault, and all that was found.
pub fn run(text: &str, files: &InMemory, effort: Effort) -> (Option<Plan>, Vec<Diagnostic>) {
    let read = read_job(text);
    let mut told = read.diagnostics;
    let Some(job) = read.job else { return (None, told.into_vec()) };
    let materials = Materials::read(&job, files);
    let go_on = &mut |_| ControlFlow::Continue(());
    let plan = make::plan::run(&job, &materials, effort, &mut told, go_on).ok();
    (plan, told.into_vec())
}

/// The plan, or what was said.
pub fn planned(text: &str, files: &InMemory) -> Result<Plan, Vec<String>> {
    let (plan, told) = run(text, files, Effort::Quick);
    plan.ok_or_else(|| told.iter().map(ToString::to_string).collect())
}

/// A leaf, 30 by 20 mm, as `leaf.svg`.
pub fn leaf() -> InMemory {
    let leaf = br#"<svg xmlns="http://www.w3.org/2000/svg" width="30mm" height="20mm" viewBox="0 0 30 20">
                   <path d="M0 10C8 -3 22 -3 30 10C22 23 8 23 0 10Z"/></svg>"#;
    InMemory([("leaf.svg".to_string(), leaf.to_vec())].into())
}
