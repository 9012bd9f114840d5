//! Tape readings to a cone, and the cone to its development.
//!
//! Imports: base, read::job.

pub mod frustum;
pub mod zone;
pub mod fit;

pub use frustum::{Development, Frustum, WallPoint};
pub use zone::Zone;

/// A fitted cup.
#[derive(Clone, Debug, PartialEq)]
pub struct Cup {
    /// The bare wall as measured.
    pub measured: Frustum,
    /// The surface that the film goes on: the bare wall and the build-up. Template and layout are made for it.
    pub surface: Frustum,
    /// The surface rolled out.
    pub development: Development,
    /// Where film may go.
    pub zone: Zone,
}
