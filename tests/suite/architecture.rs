//! The layering rule: see DEVELOPERS.md.
