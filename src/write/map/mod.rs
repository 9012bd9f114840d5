//! Where each numbered piece goes on the wall: the rows of its table, the whole wall, zone by zone, and the page.
//!
//! Imports: none outside this folder.

pub mod rows;
pub mod wall;
pub mod zones;
pub mod page;
