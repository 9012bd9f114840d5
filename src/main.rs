//! Arguments in, exit code out.

fn main() -> std::process::ExitCode {
    frusta::edge::cli::main()
}
