//! The command line: data on standard output, words on standard error, the outcome as the exit code.
//!
//! This is the home of clap, clap_complete and ctrlc.
//!
//! Imports: base.

pub mod args;
pub mod codes;
pub mod words;
pub mod stages;
pub mod start;
pub mod measure;
mod ways;
pub mod shelf;
pub mod keep;
pub mod cut;
mod hold;
mod files;
mod made_from;
pub mod make;
pub mod sheet;
pub mod recut;
pub mod approve;
pub mod log;
pub mod template;
pub mod glossary;
mod explain;
pub mod page;
pub mod photo;

use crate::base::diag::{Diagnostic, KeyPath};
use args::{Command, OutputMode, Typed};
use clap::{CommandFactory, Parser};
use std::io;
use std::process::ExitCode;

/// How a command ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Exit {
    /// Done.
    Done = 0,
    /// The job is at fault: nothing was written.
    JobAtFault = 1,
    /// The command line was not understood.
    Usage = 2,
    /// A file could not be read or written.
    Files = 3,
}

impl From<Exit> for ExitCode {
    fn from(exit: Exit) -> ExitCode {
        ExitCode::from(exit as u8)
    }
}

/// What the stages may need of the stack: art nests groups in groups, and its reader follows them down.
const STACK: usize = 64 << 20;

/// Arguments in, exit code out.
pub fn main() -> ExitCode {
    stages::watch_ctrl_c();
    let work = std::thread::Builder::new().stack_size(STACK).spawn(|| match Typed::try_parse() {
        Ok(typed) => dispatch(typed),
        Err(e) => misunderstood(&e),
    });
    match work.map(std::thread::JoinHandle::join) {
        Ok(Ok(exit)) => exit.into(),
        Ok(Err(_)) => {
            words::tell(
                "this is a defect of frusta, not of the job; nothing was written. Please report it with the \
                    job's folder.",
            );
            ExitCode::from(101)
        }
        Err(e) => {
            words::tell(&format!("the system gives no room to work: {e}"));
            Exit::Files.into()
        }
    }
}

fn dispatch(typed: Typed) -> Exit {
    let voice = typed.voice;
    let done = match typed.command {
        Command::New { folder, film_test } => start::run(&folder, film_test, voice),
        Command::Measure { job, photo: None, .. } => measure::run(&job, voice),
        Command::Measure { job, photo: Some(photo), taken } => {
            let args::PhotoArgs { distance, lens, above, below, drawn, save } = taken;
            let distance = distance.unwrap_or_default();
            photo::run(&job, &photo::Order { photo, distance, lens, above, below, drawn, save }, voice)
        }
        Command::Sheet { job, frame: Some(paper), out, force } => {
            sheet::frame(&job, &paper, out, force, voice)
        }
        Command::Sheet { job, frame: None, out, force } => sheet::run(&job, out, force, voice),
        Command::Recut { kit, numbers, out, fresh, force } => {
            recut::run(&recut::Order { kit, numbers, out, fresh, force }, voice)
        }
        Command::Cut { kit, sheets, applied, peeled, shelf } => {
            cut::run(&cut::Order { kit, sheets, applied, peeled, shelf }, voice)
        }
        Command::Shelf { folder, what } => shelf::run(&folder, what, voice),
        Command::Approve { kit, code, by, record } => {
            approve::run(&approve::Order { kit, code, by, record }, voice)
        }
        Command::Log { job, file, note, what } => {
            let asked = what.map(log::Asked::from);
            log::run(&log::Order { job, file, asked, note: note.unwrap_or_default() }, voice)
        }
        Command::Check { job, work } => make::check(&job, work.effort.into(), voice),
        Command::Make { job, out, keep, shelf, dry_run, force, zip, ways, work } => {
            let effort = work.effort.into();
            make::run(&job, &make::Order { out, keep, shelf, dry_run, force, zip, ways, effort }, voice)
        }
        Command::Template { rim, base, wall, height, girths, diameters, inches, lap, papers, out, force } => {
            let readings = match (girths, diameters) {
                (true, _) => Some(template::Readings::Girths),
                (_, true) => Some(template::Readings::Diameters),
                _ => None,
            };
            let order =
                template::Order { rim, base, wall, height, readings, inches, lap, papers, out, force };
            template::run(&order, voice)
        }
        Command::Open { job, port, no_browser, idle } => {
            page::open(&page::Order { job: page::named(job), port, no_browser, idle })
        }
        Command::Explain { code } => explain::run(code.as_deref(), voice),
        Command::Completions { shell } => {
            let mut script = Vec::new();
            clap_complete::generate(shell, &mut Typed::command(), "frusta", &mut script);
            words::data(&script).map(|()| Exit::Done)
        }
    };
    done.unwrap_or_else(|e| no_output(&e))
}

/// Standard output took no more: a full disk behind a `>`.
fn no_output(e: &io::Error) -> Exit {
    words::tell(&format!("fault: standard output cannot be written: {}", stages::reason(e)));
    Exit::Files
}

/// Help and version are asked for; all else is a slip.
fn misunderstood(e: &clap::Error) -> Exit {
    if !e.use_stderr() {
        let text = e.render();
        let shown = if io::IsTerminal::is_terminal(&io::stdout()) && std::env::var_os("NO_COLOR").is_none() {
            text.ansi().to_string()
        } else {
            text.to_string()
        };
        return words::data(shown.as_bytes()).map_or_else(|e| no_output(&e), |()| Exit::Done);
    }
    if std::env::args_os().any(|a| a == "--json") {
        let message = e.render().to_string().trim().trim_start_matches("error: ").to_owned();
        let diagnostics = [Diagnostic::fault(&codes::USAGE, KeyPath::root(), message)];
        let result = Outcome::new(Exit::Usage, &words::Text::default(), &diagnostics);
        return words::json(&result).map_or_else(|e| no_output(&e), |()| Exit::Usage);
    }
    // A closed standard error is no reason to stop.
    let _ = e.print();
    Exit::Usage
}

/// What every command says in JSON, whatever became of it; more keys follow where there is more to say.
#[derive(Debug, serde::Serialize)]
pub struct Outcome<'a> {
    done: bool,
    exit: u8,
    #[serde(rename = "found")]
    diagnostics: Vec<words::Placed<'a>>,
}

impl<'a> Outcome<'a> {
    /// What was found, each at its place.
    pub fn new(exit: Exit, text: &words::Text, diagnostics: &'a [Diagnostic]) -> Outcome<'a> {
        Outcome { done: exit == Exit::Done, exit: exit as u8, diagnostics: words::placed(text, diagnostics) }
    }
}
