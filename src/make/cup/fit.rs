//! Tape readings to a cone.
//!
//! Imports: base, read::job.
