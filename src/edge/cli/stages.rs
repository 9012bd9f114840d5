//! A job through all stages: its file, the stages with progress, clock and Ctrl-C, and the second measuring.
//!
//! Imports: base, read::{source, job, materials, kept}, make::{plan, verify}, edge::{folder, shelf, cli},
//! edge::cli::{codes, words}.

use super::codes::{CANNOT_READ, NOT_TEXT};
use super::words::{self, Text};
use super::{Exit, OutputMode};
use crate::base::diag::{Diagnostic, Diagnostics, KeyPath};
use crate::base::units::LengthUnit;
use crate::edge::folder::Folder;
use crate::edge::shelf::WithShelf;
use crate::make::film::Effort;
use crate::make::plan::{self, Stage};
use crate::make::verify::{Verified, verify};
use crate::read::job::{CupSpec, Job, LARGEST_TEXT, is_blank, read_job_in};
use crate::read::kept::KeptKit;
use crate::read::materials::Materials;
use crate::read::source::{InMemory, Source};
use std::fs::{self, File};
use std::io::{self, IsTerminal, Read, Write};
use std::ops::ControlFlow;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU8, Ordering};
use std::sync::{Mutex, PoisonError};
use std::time::{Duration, Instant};

/// A job as it was found.
#[derive(Debug)]
pub struct LoadedJob {
    /// The job, if it has no fault.
    pub job: Option<Job>,
    /// The cup and the job's unit, if these have no fault.
    pub cup: Option<(CupSpec, LengthUnit)>,
    /// Its text, for messages.
    pub text: Text,
    /// Everything found so far.
    pub diagnostics: Diagnostics,
    /// Its folder.
    pub folder: PathBuf,
    /// The earlier kit that it is made from.
    pub keep: Option<KeptKit>,
    /// The shelf whose leftovers are used.
    pub shelf: Option<PathBuf>,
    /// What the faults so far come to.
    pub exit: Exit,
}

/// For a blank, which has none.
const ANY_FILM: &str = "film = [{ name = \"white\", sheet = [300, 200] }]\n";

/// Reads the job that a file or folder holds.
pub fn open(named: &Path) -> LoadedJob {
    let path = if named.is_dir() { named.join("job.toml") } else { named.to_owned() };
    let folder = path.parent().map(Path::to_owned).unwrap_or_default();
    let mut opened = LoadedJob {
        job: None,
        cup: None,
        text: Text::of(&path),
        diagnostics: Diagnostics::new(),
        folder,
        keep: None,
        shelf: None,
        exit: Exit::JobAtFault,
    };
    match bytes(&path) {
        Err(e) => {
            opened.diagnostics.push(unreadable(named, &path, &e));
            opened.exit = Exit::Files;
        }
        Ok(bytes) => match String::from_utf8(bytes) {
            Ok(text) => {
                // A blank's file alone: any cup of its kind, with some film.
                let text = match path.file_name().and_then(|n| n.to_str()) {
                    Some(name) if is_blank(&text) => format!("cup = \"{name}\"\n{ANY_FILM}"),
                    _ => text,
                };
                let read = with_folder(&opened.folder, |source| read_job_in(&text, source));
                opened.text.text = text;
                opened.text.places = read.places;
                opened.diagnostics = read.diagnostics;
                opened.job = read.job;
                opened.cup = read.cup;
            }
            Err(e) => {
                let at = e.utf8_error().valid_up_to();
                let sound = String::from_utf8_lossy(&e.as_bytes()[..at]).into_owned();
                opened.text.text = sound + "\u{fffd}";
                let d = Diagnostic::fault(&NOT_TEXT, KeyPath::root(), "the job file is not UTF-8 text");
                opened.diagnostics.push(
                    d.measured(format!("byte 0x{:02x}", e.as_bytes()[at]))
                        .help("save it as UTF-8; or is this another file?")
                        .bytes(at..at + 3),
                );
            }
        },
    }
    opened
}

/// Something read with the files of a folder at hand; with none, if it cannot be reached.
pub fn with_folder<T>(folder: &Path, read: impl FnOnce(&dyn Source) -> T) -> T {
    match Folder::open(folder) {
        Ok(folder) => read(&folder),
        Err(_) => read(&InMemory::default()),
    }
}

fn bytes(path: &Path) -> io::Result<Vec<u8>> {
    // Asked before opening: opening a pipe would wait for its other end.
    if !fs::metadata(path)?.is_file() {
        return Err(io::Error::new(io::ErrorKind::InvalidInput, "it is no ordinary file"));
    }
    let mut bytes = Vec::new();
    // One byte too many is enough to be refused as too large.
    File::open(path)?.take(LARGEST_TEXT as u64 + 1).read_to_end(&mut bytes)?;
    if bytes.len() > LARGEST_TEXT {
        // The cut may split a letter; such a text is refused for its length, not for that.
        bytes.fill(b' ');
    }
    Ok(bytes)
}

fn unreadable(named: &Path, path: &Path, e: &io::Error) -> Diagnostic {
    let mend = match e.kind() {
        io::ErrorKind::NotFound if named.is_dir() => {
            "name the job file itself, or start a job in a new folder with `frusta new`".into()
        }
        io::ErrorKind::NotFound => match neighbour(path) {
            Some(near) => format!("did you mean {}?", near.display()),
            None => "check the path, or start a job with `frusta new`".into(),
        },
        io::ErrorKind::PermissionDenied => "give yourself leave to read it".into(),
        _ => "name the job file, or the folder that holds job.toml".into(),
    };
    let message = format!("{} cannot be read", path.display());
    Diagnostic::fault(&CANNOT_READ, KeyPath::root(), message)
        .measured(reason(e))
        .file(path.display().to_string())
        .help(mend)
}

/// A job file that lies where one was looked for in vain.
fn neighbour(path: &Path) -> Option<PathBuf> {
    let folder = match path.parent() {
        Some(p) if p.as_os_str().is_empty() => Path::new("."),
        Some(p) => p,
        None => return None,
    };
    let mut jobs: Vec<PathBuf> = fs::read_dir(folder)
        .ok()?
        .filter_map(|e| Some(e.ok()?.path()))
        .filter(|p| p.extension().is_some_and(|x| x == "toml"))
        .collect();
    jobs.sort();
    jobs.into_iter().next()
}

/// The system's reason, in words where it is a common one.
pub fn reason(e: &io::Error) -> String {
    match e.kind() {
        io::ErrorKind::NotFound => "no such file".into(),
        io::ErrorKind::PermissionDenied => "not permitted".into(),
        io::ErrorKind::StorageFull => "the disk is full".into(),
        io::ErrorKind::QuotaExceeded => "the quota is used up".into(),
        io::ErrorKind::ReadOnlyFilesystem => "the disk is read-only".into(),
        io::ErrorKind::NotADirectory => "a file stands where a folder is needed".into(),
        _ => e.to_string(),
    }
}

/// What Ctrl-C does now.
static ON_CTRL_C: AtomicU8 = AtomicU8::new(LEAVE);
/// Leave at once: nothing has been written.
const LEAVE: u8 = 0;
/// The film search: keep the best so far; a second one leaves.
const KEEP_BEST: u8 = 1;
/// Asked to keep the best so far.
const KEEPING: u8 = 2;
/// The kit is being moved into place: a moment, and never half.
const FINISH: u8 = 3;

/// Takes Ctrl-C over.
pub fn watch_ctrl_c() {
    let _ = ctrlc::set_handler(|| match ON_CTRL_C.load(Ordering::SeqCst) {
        KEEP_BEST => {
            ON_CTRL_C.store(KEEPING, Ordering::SeqCst);
            words::tell("\nstopping the film search: the best layout so far will do; once more to leave");
        }
        FINISH => {}
        _ => {
            words::tell("\nstopped; nothing was written");
            std::process::exit(130);
        }
    });
}

/// From here on Ctrl-C waits: the kit is being written.
pub fn now_writing() {
    ON_CTRL_C.store(FINISH, Ordering::SeqCst);
}

/// Runs the stages and measures everything again; `None` if a fault was found.
pub fn run(opened: &mut LoadedJob, effort: Effort, voice: OutputMode) -> Option<Verified> {
    let job = opened.job.as_ref()?;
    let folder = match Folder::open(&opened.folder) {
        Ok(folder) => folder,
        Err(e) => {
            opened.diagnostics.push(unreadable(&opened.folder, &opened.folder, &e));
            opened.exit = Exit::Files;
            return None;
        }
    };
    let names: Vec<String> = job.films.iter().map(|f| f.name.clone()).collect();
    let mut teller = ProgressReporter::new(voice, names);
    teller.begin("art");
    let shelf = opened.shelf.as_ref().and_then(|s| Folder::open(s).ok());
    let materials = Materials::read(job, &WithShelf { job: &folder, shelf });
    let (told, hear) = (&mut opened.diagnostics, &mut |stage| teller.hear(stage));
    let plan = match &opened.keep {
        Some(record) => plan::keep::run(job, &materials, effort, record, told, hear),
        None => plan::run(job, &materials, effort, told, hear),
    };
    teller.begin("verify");
    ON_CTRL_C.store(LEAVE, Ordering::SeqCst);
    let plan = plan.ok();
    if let (Some(plan), true) = (&plan, voice.verbose) {
        for report in &plan.stages {
            teller.counts.push(format!(
                "{:>10}  {}",
                report.stage,
                report
                    .counts
                    .iter()
                    .map(|(what, n)| format!("{n} {}", what.replace('_', " ")))
                    .collect::<Vec<_>>()
                    .join(", ")
            ));
        }
    }
    let verified = plan.filter(|_| !opened.diagnostics.any_fault()).and_then(|plan| match verify(plan) {
        Ok(verified) => Some(verified),
        Err(broken) => {
            opened.diagnostics.extend(broken);
            None
        }
    });
    teller.end();
    verified
}

/// Says where a run is.
struct ProgressReporter {
    verbose: bool,
    line: bool,
    films: Vec<String>,
    stage: (&'static str, Instant),
    shown: Option<Instant>,
    started: Instant,
    counts: Vec<String>,
    /// Since when rows of a list are made.
    rows: Instant,
}

/// How far it is, and how long it will take if it goes on as it went.
pub fn far(done: usize, of: usize, taken: Duration) -> String {
    let left = taken.as_secs_f64() * of.saturating_sub(done) as f64 / done.max(1) as f64;
    match left {
        _ if done == 0 => format!("{done} of {of}"),
        s if s < 90.0 => format!("{done} of {of}, about {s:.0} s left"),
        s => format!("{done} of {of}, about {:.0} min left", s / 60.0),
    }
}

impl ProgressReporter {
    fn new(voice: OutputMode, films: Vec<String>) -> ProgressReporter {
        let (line, now) = (on_terminal(voice), Instant::now());
        ProgressReporter {
            verbose: voice.verbose,
            line,
            films,
            stage: ("", now),
            shown: None,
            started: now,
            counts: Vec::new(),
            rows: now,
        }
    }

    fn hear(&mut self, stage: Stage) -> ControlFlow<()> {
        match stage {
            Stage::Begins(name) => {
                let on = if name == "film" { KEEP_BEST } else { LEAVE };
                ON_CTRL_C.store(on, Ordering::SeqCst);
                self.begin(name);
            }
            Stage::Rows(done, of) => {
                if done == 0 {
                    self.rows = Instant::now();
                }
                self.show(&format!("names: {}", far(done, of, self.rows.elapsed())));
            }
            Stage::Film(p) => {
                let film = self.films.get(p.film.0).map_or("film", String::as_str);
                let sheets = if p.sheets == 1 { "1 sheet".into() } else { format!("{} sheets", p.sheets) };
                self.show(&format!("film {film}: step {} of {}, {sheets} so far", p.step, p.steps));
                if ON_CTRL_C.load(Ordering::SeqCst) == KEEPING {
                    return ControlFlow::Break(());
                }
            }
        }
        ControlFlow::Continue(())
    }

    fn begin(&mut self, name: &'static str) {
        self.close();
        self.stage = (name, Instant::now());
        self.show(name);
    }

    /// Shows a line in the place of the last one: nothing in the first moment, then ten times a second at
    /// most.
    fn show(&mut self, message: &str) {
        let now = Instant::now();
        let soon = self.shown.map_or(now - self.started < Duration::from_millis(300), |t| {
            now - t < Duration::from_millis(100)
        });
        if self.line && !soon {
            let mut err = io::stderr().lock();
            let _ = write!(err, "\r\x1b[K{message}").and_then(|()| err.flush());
            self.shown = Some(now);
        }
    }

    fn clear(&mut self) {
        if self.shown.take().is_some() {
            let mut err = io::stderr().lock();
            let _ = write!(err, "\r\x1b[K").and_then(|()| err.flush());
        }
    }

    fn close(&mut self) {
        if self.verbose && !self.stage.0.is_empty() {
            self.clear();
            words::tell(&format!("{:>10}  {:.3} s", self.stage.0, self.stage.1.elapsed().as_secs_f64()));
        }
    }

    fn end(&mut self) {
        self.close();
        self.clear();
        for line in &self.counts {
            words::tell(line);
        }
    }
}

/// A line on the terminal for a kit of many sheets and names: how many of their files are written.
pub struct Writing {
    line: bool,
    of: usize,
    started: Instant,
    done: Mutex<(usize, Instant)>,
}

/// Fewer files of sheets and names are written in a moment.
const MANY_FILES: usize = 60;

impl Writing {
    /// Of a plan.
    pub fn of(plan: &Verified, voice: OutputMode) -> Writing {
        let names = plan.named().map_or(0, |n| n.rows.len() * n.sizes.len());
        let (of, now) = (2 * plan.sheets().len() + names, Instant::now());
        Writing { line: on_terminal(voice) && of > MANY_FILES, of, started: now, done: Mutex::new((0, now)) }
    }
    /// A file is written.
    pub fn file(&self, path: &str) {
        let counts = ["cut/", "weeding/", "cups/cup-"].iter().any(|head| path.starts_with(head));
        if !self.line || !counts {
            return;
        }
        let mut done = self.done.lock().unwrap_or_else(PoisonError::into_inner);
        done.0 += 1;
        if done.1.elapsed() >= Duration::from_millis(100) {
            done.1 = Instant::now();
            let far = far(done.0.min(self.of), self.of, self.started.elapsed());
            let mut err = io::stderr().lock();
            let _ = write!(err, "\r\x1b[Kwriting: {far}").and_then(|()| err.flush());
        }
    }
    /// The line goes.
    pub fn end(&self) {
        if self.line {
            let mut err = io::stderr().lock();
            let _ = write!(err, "\r\x1b[K").and_then(|()| err.flush());
        }
    }
}

/// May a line be written over?
fn on_terminal(voice: OutputMode) -> bool {
    let dumb = std::env::var_os("TERM").is_none_or(|t| t == "dumb");
    io::stderr().is_terminal() && !dumb && !voice.quiet && !voice.json
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::units::Mm;
    use crate::make::film::Progress;
    use crate::read::job::FilmId;

    /// By hand: 25 of 100 in 20 s leave 75 for 60 s; a tenth in a minute leaves nine; nothing is said of the first.
    #[test]
    fn the_time_left_is_told_in_words() {
        assert_eq!(far(25, 100, Duration::from_secs(20)), "25 of 100, about 60 s left");
        assert_eq!(far(100, 1000, Duration::from_secs(60)), "100 of 1000, about 9 min left");
        assert_eq!(far(0, 9, Duration::from_secs(3)), "0 of 9");
    }

    /// The only test that touches the shared state, so that no other can disturb it.
    #[test]
    fn only_the_film_search_is_told_to_stop_and_only_when_asked() {
        let voice = OutputMode { json: false, quiet: true, verbose: false };
        let mut teller = ProgressReporter::new(voice, vec!["leaf".into()]);
        let step = || Stage::Film(Progress { film: FilmId(0), step: 1, steps: 9, sheets: 1, used: Mm(10.0) });
        let _ = teller.hear(Stage::Begins("accents"));
        assert_eq!(ON_CTRL_C.load(Ordering::SeqCst), LEAVE);
        let _ = teller.hear(Stage::Begins("film"));
        assert_eq!(ON_CTRL_C.load(Ordering::SeqCst), KEEP_BEST);
        assert!(teller.hear(step()).is_continue());
        ON_CTRL_C.store(KEEPING, Ordering::SeqCst);
        assert!(teller.hear(step()).is_break());
        let _ = teller.hear(Stage::Begins("verify"));
        assert_eq!(ON_CTRL_C.load(Ordering::SeqCst), LEAVE);
    }
}
