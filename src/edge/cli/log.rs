//! `log`: the bench log, one line a time, in a text file beside the job that a spreadsheet opens.
//!
//! A line is written in one go at the end of the file and seen on the disk before it is called logged: a machine that is
//! switched off loses at most the line that was being written, and what stands cut short begins no other line.
//!
//! Imports: base, read::{job, bench_log}, make::{finish, verify}, edge::{journal, cli}, edge::cli::{args, codes, words,
//! stages}.

use super::args::{Logged, OutputMode};
use super::codes::{AMOUNT, CANNOT_WRITE, NO_STEP, NOT_BEGUN, USAGE};
use super::stages::LoadedJob;
use super::{Exit, Outcome, stages, words};
use crate::base::diag::{Code, Diagnostic, KeyPath, Severity};
use crate::base::units::{Grams, Ml};
use crate::edge::journal::{self, Addition};
use crate::make::film::Effort;
use crate::make::finish::coat::{StepPlan, poured};
use crate::make::finish::learn;
use crate::make::verify::Verified;
use crate::read::bench_log::{Entry, Event, HEAD, entries, unit};
use crate::read::job::finish::{Dose, FinishSpec, Product, StepKind, StepSpec, defaults, usual_step};
use jiff::Timestamp;
use serde::Serialize;
use std::fs;
use std::io;
use std::path::{Path, PathBuf};

/// The log beside a job.
pub const FILE: &str = "bench-log.csv";

/// Longest time between start and stop that is taken for work.
const LONGEST_MIN: f64 = 12.0 * 60.0;

/// What to log.
#[derive(Clone, Debug)]
pub enum Asked {
    /// A step begins.
    Start {
        /// Its number.
        step: usize,
    },
    /// It ends, or took so many minutes.
    Work {
        /// Its number.
        step: usize,
        /// Else the time since it began.
        minutes: Option<f64>,
        /// On how many cups.
        cups: Option<u32>,
        /// Pieces of film on each.
        pieces: Option<u32>,
    },
    /// A cup before and after.
    Weighed {
        /// The step's number.
        step: usize,
        /// Grams before.
        before: f64,
        /// Grams after.
        after: f64,
        /// Which glitter, of a step that has several.
        product: Option<String>,
    },
    /// What is left of a batch.
    Left {
        /// The step that mixed it.
        step: usize,
        /// Millilitres.
        ml: f64,
        /// For how many cups it was mixed.
        cups: Option<u32>,
    },
    /// Pieces spoilt, of so many.
    Spoilt {
        /// How many.
        pieces: u32,
        /// Of how many that were cut.
        of: Option<u32>,
    },
    /// Cups lost, of so many.
    Lost {
        /// How many.
        cups: u32,
        /// Of how many that were begun.
        of: u32,
    },
}

impl From<Logged> for Asked {
    fn from(what: Logged) -> Asked {
        match what {
            Logged::Start { step } => Asked::Start { step },
            Logged::Stop { step, cups, pieces } => Asked::Work { step, minutes: None, cups, pieces },
            Logged::Took { step, minutes, cups, pieces } => {
                Asked::Work { step, minutes: Some(minutes), cups, pieces }
            }
            Logged::Weighed { step, before, after, product } => {
                Asked::Weighed { step, before, after, product }
            }
            Logged::Left { step, ml, cups } => Asked::Left { step, ml, cups },
            Logged::Spoilt { pieces, of } => Asked::Spoilt { pieces, of },
            Logged::Lost { cups, of } => Asked::Lost { cups, of },
        }
    }
}

/// What is said of it.
#[derive(Debug)]
pub struct Order {
    /// The job.
    pub job: PathBuf,
    /// The log; else beside the job.
    pub file: Option<PathBuf>,
    /// What to log; none: what the log teaches.
    pub asked: Option<Asked>,
    /// The maker's own words.
    pub note: String,
}

#[derive(Serialize)]
struct Told<'a> {
    #[serde(flatten)]
    outcome: Outcome<'a>,
    file: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    logged: Option<String>,
    rates: Vec<RateLine>,
}

#[derive(Serialize)]
struct RateLine {
    event: &'static str,
    step: &'static str,
    product: String,
    value: f64,
    low: f64,
    high: f64,
    entries: usize,
}

type Refused = (Exit, Box<Diagnostic>);

/// Logs one thing, or says what the log teaches.
///
/// # Errors
/// What writing to standard output says.
pub fn run(order: &Order, voice: OutputMode) -> io::Result<Exit> {
    let mut opened = stages::open(&order.job);
    let path = order.file.clone().unwrap_or_else(|| opened.folder.join(FILE));
    let mut logged = None;
    let mut exit = if opened.job.is_some() { Exit::Done } else { opened.exit };
    if let (Exit::Done, Some(asked)) = (exit, &order.asked) {
        match entry(&mut opened, asked, &order.note, &path).and_then(|e| appended_to(&path, &e).map(|()| e)) {
            Ok(e) => logged = Some(e),
            Err((refused, d)) => {
                exit = refused;
                opened.diagnostics.push(*d);
            }
        }
    }
    // Notes on the job are said by `check`; here only what kept the line from being written.
    let kept = |d: &&Diagnostic| exit != Exit::Done && d.severity == Severity::Fault;
    let told: Vec<Diagnostic> = opened.diagnostics.iter().filter(kept).cloned().collect();
    let known = fs::read_to_string(&path).map(|t| entries(&t)).unwrap_or_default();
    let rates = learn::learned(&known.0);
    if voice.json {
        let line = |l: &crate::read::job::finish::LearnedRate| RateLine {
            event: word(l.event),
            step: l.kind.map_or("", StepKind::name),
            product: l.product.clone(),
            value: l.value,
            low: l.low,
            high: l.high,
            entries: l.entries,
        };
        words::json(&Told {
            outcome: Outcome::new(exit, &opened.text, &told),
            file: path.display().to_string(),
            logged: logged.as_ref().map(Entry::line),
            rates: rates.iter().map(line).collect(),
        })?;
        return Ok(exit);
    }
    words::say(&opened.text, &told, voice.quiet);
    if exit == Exit::Done && !voice.quiet {
        say(&path, logged.as_ref(), &known, &rates);
        let named = opened.job.as_ref().and_then(|j| j.finish.as_ref()).is_some_and(|f| !f.log.is_empty());
        if !named && logged.is_some() {
            words::tell(&format!("The next plan uses it if the job says log = [\"{FILE}\"] under [finish]."));
        }
    }
    Ok(exit)
}

fn word(event: Event) -> &'static str {
    use crate::read::job::keys::Worded;
    event.word()
}

fn say(
    path: &Path,
    logged: Option<&Entry>,
    (all, wrong): &(Vec<Entry>, Vec<(usize, String)>),
    rates: &[crate::read::job::finish::LearnedRate],
) {
    if let Some(e) = logged {
        let what = e.step.map_or(String::new(), |s| format!("step {} ({}): ", e.number, s.name()));
        words::tell(&match e.event {
            Event::Start => format!("{what}begun {}", e.when),
            Event::Spoilt | Event::Lost => {
                format!("{what}{} of {} {} {}", e.actual, e.usual, e.unit, word(e.event))
            }
            _ => format!("{what}{:.1} {}; common practice is {:.1} {}", e.actual, e.unit, e.usual, e.unit),
        });
    }
    for (line, why) in wrong {
        words::tell(&format!("line {line} of {} is left out: {why}", path.display()));
    }
    if logged.is_none() && all.is_empty() {
        words::tell(&format!("{} holds nothing yet", path.display()));
    }
    let own = logged.map(|e| (e.event, e.step));
    for l in rates
        .iter()
        .filter(|l| own.is_none_or(|(event, step)| l.event == event && (l.kind.is_none() || l.kind == step)))
    {
        words::tell(&format!(
            "{}: {}",
            crate::make::finish::rates::learned_of(l),
            crate::make::finish::rates::learned_value(l)
        ));
    }
}

/// The job's finishing without what a log taught before, so that entries are held to common practice.
fn spec_of(opened: &mut LoadedJob) -> Option<FinishSpec> {
    let job = opened.job.as_mut()?;
    if let Some(spec) = job.finish.as_mut() {
        spec.log.clear();
    }
    Some(job.finish.clone().unwrap_or_default())
}

/// What a line is made from: the job's title and its finishing.
struct Bench {
    title: String,
    spec: FinishSpec,
}

impl Bench {
    fn blank(&self, event: Event, note: &str) -> Entry {
        Entry {
            when: Timestamp::now().strftime("%Y-%m-%dT%H:%M:%SZ").to_string(),
            event,
            job: self.title.clone(),
            number: 0,
            step: None,
            product: String::new(),
            cups: self.spec.cups.min(self.spec.times.seats.value).max(1),
            pieces: 0,
            actual: 0.0,
            usual: 0.0,
            unit: unit(event),
            note: note.to_owned(),
        }
    }
    fn of_step(&self, event: Event, number: usize, note: &str) -> Result<(Entry, &StepSpec), Refused> {
        let step = number.checked_sub(1).and_then(|i| self.spec.steps.get(i)).ok_or_else(|| {
            let d = at(&NO_STEP, format!("the job has no step {number}"));
            let d = d.allowed(format!("1 to {}", self.spec.steps.len()));
            (Exit::JobAtFault, Box::new(d.help("take its number from the maker's sheet")))
        })?;
        let product = self.spec.product(step).map_or(String::new(), |p| p.name.clone());
        Ok((Entry { number, step: Some(step.kind), product, ..self.blank(event, note) }, step))
    }
}

fn entry(opened: &mut LoadedJob, asked: &Asked, note: &str, path: &Path) -> Result<Entry, Refused> {
    let Some(spec) = spec_of(opened) else { return Err(refused(&NO_STEP, "the job could not be read", "")) };
    let bench = Bench { title: opened.job.as_ref().map_or(String::new(), |j| j.title.clone()), spec };
    match asked {
        Asked::Start { step } => bench.of_step(Event::Start, *step, note).map(|(e, _)| e),
        Asked::Work { step, minutes, cups, pieces } => {
            let (mut e, own) = bench.of_step(Event::Work, *step, note)?;
            e.cups = cups.unwrap_or(e.cups);
            e.actual = match minutes {
                Some(m) => *m,
                None => since_start(path, &e)?,
            };
            if own.kind == StepKind::Film {
                e.pieces = match pieces {
                    Some(n) => *n,
                    None => planned(opened)?.finish().steps[*step - 1].pieces as u32,
                };
            }
            e.usual = usual_minutes(own, e.cups, e.pieces);
            positive(e)
        }
        Asked::Weighed { step, before, after, product } => {
            let (mut e, own) = bench.of_step(Event::Weighed, *step, note)?;
            (e.cups, e.actual) = (1, after - before);
            if e.actual <= 0.0 {
                let message = "the cup weighs no more after the coat than before";
                let d = at(&AMOUNT, message).measured(format!("{before} g before, {after} g after"));
                return Err((Exit::JobAtFault, Box::new(d.help("swap the two, or weigh again"))));
            }
            let plan = planned(opened)?;
            let step = &plan.finish().steps[*step - 1];
            let (grams, name) = usual_grams(&bench.spec, own, step, product.as_deref())?;
            (e.usual, e.product) = (grams.0, name);
            positive(e)
        }
        Asked::Left { step, ml, cups } => {
            let (mut e, own) = bench.of_step(Event::Used, *step, note)?;
            e.cups = cups.unwrap_or(e.cups);
            let plan = planned(opened)?;
            used_up(e, &bench.spec, own, &plan.finish().steps[*step - 1], Ml(*ml))
        }
        Asked::Spoilt { pieces, of } => {
            let all = match of {
                Some(n) => *n,
                None => planned(opened)?.pieces().len() as u32,
            };
            counted(bench.blank(Event::Spoilt, note), *pieces, all)
        }
        Asked::Lost { cups, of } => counted(bench.blank(Event::Lost, note), *cups, *of),
    }
}

/// What was used of a batch, from what is left of it.
fn used_up(
    mut e: Entry,
    spec: &FinishSpec,
    own: &StepSpec,
    plan: &StepPlan,
    left: Ml,
) -> Result<Entry, Refused> {
    let product = spec.product(own).filter(|p| p.mix.is_some() && plan.served_by.is_none());
    let Some(product) = product else {
        let message = format!("step {} mixes no batch", e.number);
        return Err(refused(&NO_STEP, &message, "name the step that mixes it"));
    };
    let mixed = poured(plan, product, e.cups);
    e.actual = (mixed - left).0;
    if e.actual <= 0.0 || left < Ml::ZERO {
        let d =
            at(&AMOUNT, "more is left than was mixed").measured(left).allowed(format!("below {mixed:.1}"));
        return Err((Exit::JobAtFault, Box::new(d.help("say what is left in the cup"))));
    }
    // Later steps that share it use of it what they are planned to.
    let shared = plan.shared.unwrap_or_default() * f64::from(e.cups);
    e.actual -= shared.0;
    e.usual = plan.stays.0 / (1.0 - defaults::LOSS) * f64::from(e.cups);
    positive(e)
}

fn at(code: &'static Code, message: impl Into<String>) -> Diagnostic {
    Diagnostic::fault(code, KeyPath::root(), message.into())
}

fn refused(code: &'static Code, message: &str, help: &str) -> Refused {
    (Exit::JobAtFault, Box::new(at(code, message).help(help)))
}

fn positive(e: Entry) -> Result<Entry, Refused> {
    if e.actual > 0.0 && e.usual > 0.0 && e.actual.is_finite() {
        return Ok(e);
    }
    Err(refused(&AMOUNT, "nothing can be learned from an amount of nothing", "say what it really took"))
}

fn counted(mut e: Entry, gone: u32, of: u32) -> Result<Entry, Refused> {
    if gone > of {
        let d = at(&AMOUNT, "more was lost than there was").measured(gone).allowed(format!("up to {of}"));
        return Err((Exit::JobAtFault, Box::new(d.help("say of how many with --of"))));
    }
    (e.actual, e.usual) = (f64::from(gone), f64::from(of));
    Ok(e)
}

/// The plan of the job, as quickly as it can be had.
fn planned(opened: &mut LoadedJob) -> Result<Verified, Refused> {
    let quiet = OutputMode { json: true, quiet: true, verbose: false };
    stages::run(opened, Effort::Quick, quiet).ok_or_else(|| {
        let d = at(&USAGE, "the job cannot be planned, so nothing can be held against it");
        (Exit::JobAtFault, Box::new(d.help("run `frusta check` and mend what it finds")))
    })
}

/// Minutes since the step was begun.
fn since_start(path: &Path, e: &Entry) -> Result<f64, Refused> {
    let none = |message: String| {
        let help = format!("say the minutes: `frusta log JOB took {} --minutes 35`", e.number);
        (Exit::JobAtFault, Box::new(at(&NOT_BEGUN, message).help(help)))
    };
    let text = fs::read_to_string(path).unwrap_or_default();
    let own =
        |o: &&Entry| o.number == e.number && o.job == e.job && matches!(o.event, Event::Start | Event::Work);
    let all = entries(&text).0;
    let last = all.iter().rfind(own).filter(|l| l.event == Event::Start);
    let Some(start) = last.and_then(|l| l.when.parse::<Timestamp>().ok()) else {
        return Err(none(format!("step {} was not begun", e.number)));
    };
    let minutes = Timestamp::now().duration_since(start).as_secs_f64() / 60.0;
    if !(0.0..=LONGEST_MIN).contains(&minutes) {
        return Err(none(format!("step {} was begun {:.0} h ago", e.number, minutes / 60.0)));
    }
    // Under the clock's second nothing is told apart.
    Ok((minutes * 1000.0).round().max(1.0) / 1000.0)
}

/// Minutes that common practice takes.
fn usual_minutes(step: &StepSpec, cups: u32, pieces: u32) -> f64 {
    let usual = usual_step(step.kind);
    if step.kind == StepKind::Film {
        let times = crate::read::job::finish::Times::default();
        return f64::from(pieces * cups) * (times.weed_s.value + times.place_s.value) / 60.0;
    }
    let more = step.glitters.len().saturating_sub(1) as u32 * defaults::ANOTHER;
    f64::from(usual.set_up.value.0 + (usual.each.value.0 + more) * cups)
}

/// Grams that stay on a cup at the amount of common practice, and of what.
fn usual_grams(
    spec: &FinishSpec,
    step: &StepSpec,
    plan: &StepPlan,
    product: Option<&str>,
) -> Result<(Grams, String), Refused> {
    let by_weight = |p: &Product, area: f64| {
        let dose = match step.kind {
            StepKind::Glitter => Some(p.grain.usual().0),
            kind => match usual_step(kind).dose {
                Some(Dose::PerArea(g)) => Some(g.value),
                _ => None,
            },
        };
        dose.map(|g| Grams(g.0 * area / 10_000.0))
    };
    if !step.glitters.is_empty() {
        let named = |g: &&crate::make::finish::amount::GlitterPlan| product.is_none_or(|n| n == g.product);
        let own: Vec<_> = plan.glitters.iter().filter(named).collect();
        if own.is_empty() || (product.is_none() && own.len() > 1) {
            let names: Vec<&str> = plan.glitters.iter().map(|g| g.product.as_str()).collect();
            let help = format!("say which with --product: {}", names.join(", "));
            return Err(refused(&NO_STEP, "the step has several glitters", &help));
        }
        let grams = own.iter().filter_map(|g| by_weight(&spec.products[g.id], g.area.0)).map(|g| g.0).sum();
        return Ok((Grams(grams), own[0].product.clone()));
    }
    let none = || refused(&NO_STEP, "nothing of this step stays on the cup", "weigh coats and glitters");
    let p = spec.product(step).filter(|_| step.kind.is_coat()).ok_or_else(none)?;
    let grams = match usual_step(step.kind).dose {
        Some(Dose::Thickness(t)) => Grams(plan.area.0 * t.value.0 / 1000.0 * p.mixed_density()),
        _ => by_weight(p, plan.area.0).ok_or_else(none)?,
    };
    Ok((grams, p.name.clone()))
}

fn appended_to(path: &Path, e: &Entry) -> Result<(), Refused> {
    appended(path, &e.line()).map_err(|why| {
        let d = at(&CANNOT_WRITE, format!("{} cannot be written", path.display()));
        (Exit::Files, Box::new(d.measured(stages::reason(&why)).help("name another file with --file")))
    })
}

/// Adds a line, one writer at a time, and sees it on the disk.
fn appended(path: &Path, line: &str) -> io::Result<()> {
    let added = journal::add(path, |before| {
        let mut text = String::new();
        if before.is_empty() {
            text = format!("{HEAD}\n");
        } else if before.last() != Some(&b'\n') {
            // A line that was cut short takes no other with it.
            text.push('\n');
        }
        text += line;
        text.push('\n');
        Ok::<_, std::convert::Infallible>(Addition { keep: before.len(), text: text.into_bytes(), told: () })
    });
    added.map(|Ok(())| ())
}
