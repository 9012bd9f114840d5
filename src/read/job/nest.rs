//! How hard to look for a tight layout, and what else the maker says about cutting.
//!
//! Imports: base.

/// How much work goes into a layout; counted in steps, never seconds, so that the same job gives the same sheets.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub enum Effort {
    /// A first layout, pieces as drawn where they may be.
    Quick,
    /// A good layout: several angles, a finer lattice for small jobs.
    #[default]
    Normal,
    /// The improving search as well: for film that is dear.
    Thorough,
}
