//! `frusta` computes the whole job of decorating a tapered cup with cut film.
//!
//! A job's text and the files that it names go in; a kit comes out: cut files, wrap template, application
//! map, pictures, sheets for people. Nothing is written before every distance was measured a second time.
//!
//! ```
//! use frusta::{InMemory, kit_of};
//! let job = r#"
//!     [cup]
//!     rings = [{ up = 0, girth = 200 }, { up = 100, girth = 240 }]
//!     wall = 100
//!     [[film]]
//!     name = "blue"
//!     sheet = [200, 150]
//!     [[motif]]
//!     art = "leaf.svg"
//!     width = 30
//!     film = "blue"
//!     poses = [{ azimuth = 0, up = 40 }]
//! "#;
//! let leaf = br#"<svg xmlns="http://www.w3.org/2000/svg" width="30mm" height="20mm" viewBox="0 0 30 20">
//!                <path d="M0 10C8 -3 22 -3 30 10C22 23 8 23 0 10Z"/></svg>"#;
//! let files = InMemory([("leaf.svg".to_string(), leaf.to_vec())].into());
//! let kit = kit_of(job, &files).expect("a sound job");
//! assert!(kit.files.iter().any(|f| f.path == "cut/blue-1.svg"));
//!
//! // What is wrong is said all at once, each thing with its place and what helps.
//! let faults = kit_of(&job.replace("width = 30", "width = 3000"), &files).expect_err("a motif of three metres");
//! assert_eq!(faults[0].at.to_string(), "motif[0].width");
//! assert!(faults[0].to_string().contains("motif[0].width"));
//! ```
//!
//! Read the modules in this order: it is the order in which the work flows, and a module names only what
//! stands above it (each says so in its `Imports:` line; `tests/suite/architecture` holds it).
//!
//! - [`base`]: words every module speaks: quantities, diagnostics, frames, tolerances, random streams.
//! - [`outline`]: regions of lines and cubics: booleans, offsets, widths, clearances.
//! - [`read`]: text and bytes to nouns: the job file, and the materials that it names.
//! - [`make`]: one stage a module: cup, decal, motif, accent, film, finish, plan, verify.
//! - [`mod@write`]: a verified plan to bytes: cut files, template, map, pictures, manifest.
//! - [`edge`]: files, terminal, clock; the only place that touches them. The command line is the feature
//!   `cli`.

#![forbid(unsafe_code)]
#![warn(missing_docs)]

pub mod base;
pub mod outline;
pub mod read;
pub mod make;
pub mod write;
pub mod edge;

pub use base::diag::{Code, Diagnostic, Diagnostics, KeyPath, Severity};
pub use make::plan::Plan;
pub use make::verify::{Verified, verify};
pub use read::job::{Effort, Job, read_job};
pub use read::materials::Materials;
pub use read::source::{InMemory, Source};
pub use write::{Kit, KitFile, kit};

/// Makes the kit of a job in memory: its text read, its materials had through `source`, planned, verified,
/// written.
///
/// # Errors
/// Everything that is wrong, with at least one fault among it.
pub fn kit_of(job: &str, source: &dyn Source) -> Result<Kit, Vec<Diagnostic>> {
    let read = read::job::read_job_in(job, source);
    let mut diagnostics = read.diagnostics;
    let Some(job) = read.job else { return Err(diagnostics.into_vec()) };
    let materials = Materials::read(&job, source);
    let go_on = &mut |_| std::ops::ControlFlow::Continue(());
    let plan = make::plan::run(&job, &materials, Effort::default(), &mut diagnostics, go_on);
    let Ok(plan) = plan else { return Err(diagnostics.into_vec()) };
    kit(&verify(plan)?)
}
