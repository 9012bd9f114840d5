//! The command line.
//!
//! Imports: base, read, make, write, edge.

/// Arguments in, exit code out.
pub fn main() -> std::process::ExitCode {
    std::process::ExitCode::SUCCESS
}
