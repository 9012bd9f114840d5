//! What art may cost. Measured on 26,143 SVG files of public collections: real art stays below every one of
//! these, hostile files pass at least one. All are checked before the expensive step that they bound.
//!
//! Imports: none.

/// Bytes of a file, after unpacking too.
pub const BYTES: u64 = 16 * 1024 * 1024;
/// XML nodes as written.
pub const NODES: u32 = 200_000;
/// Nesting of elements, references followed. The recursion of usvg and of the walk stays within 1 MiB of
/// stack.
pub const DEPTH: usize = 256;
/// Elements once all references (`use`, clips, masks, patterns, markers) are written out: real art reaches
/// 2.5e4.
pub const EXPANSION: u64 = 100_000;
/// Bytes that all entity references expand to.
pub const ENTITY_BYTES: u64 = 1024 * 1024;
/// Style rules times elements: what matching a style sheet costs.
pub const CSS_MATCHES: u64 = 20_000_000;
/// Dashes of all strokes.
pub const DASHES: f64 = 100_000.0;
/// Lines and curves of all painted shapes, strokes outlined and references written out.
pub const SEGMENTS: usize = 500_000;
/// Steps of all booleans: fills, clips, the union (see [`WorkBudget`](crate::outline::WorkBudget) for what a
/// step is).
pub const EFFORT: u64 = 400_000_000;
/// Steps that the union of all shapes may take in one go; beyond, it is made of unions of four, and those of
/// four again.
pub const ONE_GO: u64 = 120_000_000;
/// Closed outlines that the art may come to.
pub const PIECES: usize = 20_000;
