//! Re-measures every promise by a second method; only it makes a [`Verified`] plan.
//!
//! Imports: base, read, make.

use crate::make::plan::Plan;

/// A plan whose promises were re-measured: the only thing that writers take.
#[derive(Clone, Debug)]
pub struct Verified(Plan);

impl std::ops::Deref for Verified {
    type Target = Plan;
    fn deref(&self) -> &Plan {
        &self.0
    }
}

impl Verified {
    /// For tests of writers inside this crate: takes the caller's word.
    #[cfg(test)]
    #[allow(dead_code, reason = "used by the tests of writers")]
    pub(crate) fn unchecked(plan: Plan) -> Verified {
        Verified(plan)
    }
}
