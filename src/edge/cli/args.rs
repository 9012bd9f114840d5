//! What may be typed.
//!
//! Imports: read::job.

use crate::make::film::Effort;
use clap::{Args, Parser, Subcommand, ValueEnum};
use std::path::PathBuf;

/// From a tape-measured tapered cup and your art to cut film, wrap template, application map and finishing
/// plan.
///
/// A job is a text file, job.toml, beside the art that it names. Start with `frusta new my-cup`.
#[derive(Debug, Parser)]
#[command(
    name = "frusta",
    version,
    disable_help_subcommand = true,
    after_help = "Exit codes: 0 done, 1 the job is at fault, 2 not understood, 3 a file could not be read \
        or written, 101 a defect of the program, 130 stopped by Ctrl-C, 134 out of memory."
)]
pub struct Typed {
    /// What to do.
    #[command(subcommand)]
    pub command: Command,
    /// How much to say.
    #[command(flatten)]
    pub voice: OutputMode,
}

/// How much to say, and how.
#[derive(Clone, Copy, Debug, Args)]
pub struct OutputMode {
    /// Print the result, and everything found, as JSON.
    #[arg(long, global = true)]
    pub json: bool,
    /// Say only what is wrong.
    #[arg(short, long, global = true)]
    pub quiet: bool,
    /// Say what each stage did and how long it took.
    #[arg(short, long, global = true, conflicts_with = "quiet")]
    pub verbose: bool,
}

/// How a photograph was taken, and what becomes of it.
#[derive(Debug, Args)]
pub struct PhotoArgs {
    /// From the lens to the middle of the cup: a number in the job's unit, or text with a unit.
    #[arg(long, value_name = "LENGTH", requires = "photo")]
    pub distance: Option<String>,
    /// Height of the lens over the wall's base edge [default: half the wall].
    #[arg(long, value_name = "LENGTH", requires = "photo", allow_hyphen_values = true)]
    pub lens: Option<String>,
    /// What of the cup stands above the wall's rim (a rolled lip, a lid), straight up.
    #[arg(long, value_name = "LENGTH", requires = "photo")]
    pub above: Option<String>,
    /// What of the cup stands below the wall's base edge (a foot).
    #[arg(long, value_name = "LENGTH", requires = "photo")]
    pub below: Option<String>,
    /// Draw what was found over the picture, as SVG.
    #[arg(long, value_name = "FILE", requires = "photo")]
    pub drawn: Option<PathBuf>,
    /// Put what was found at the end of the job.
    #[arg(long, requires = "photo")]
    pub save: bool,
}

/// What to do.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Start a job: a commented job.toml and a drawing, ready to run.
    New {
        /// Where to put it; made if it is not there.
        folder: PathBuf,
        /// Write discs to cut instead, and a page that says how they tell what a film takes up on a curved wall.
        #[arg(long)]
        film_test: bool,
    },
    /// Say what the tape readings are worth: the cup, the wrap, and how far off it may be.
    Measure {
        /// The job file, or the folder that holds job.toml.
        job: PathBuf,
        /// A photograph of the cup from the side: how its wall runs between the rings. The cup alone before a plain
        /// ground, whole in the middle of the picture, the lens level with the middle of its wall, half a metre to a
        /// metre away.
        #[arg(long, value_name = "PICTURE", requires = "distance")]
        photo: Option<PathBuf>,
        /// How it was taken.
        #[command(flatten)]
        taken: PhotoArgs,
    },
    /// Find the motifs on the job's printed sheets: a numbered picture of each, and a list.
    Sheet {
        /// The job file, or the folder that holds job.toml.
        job: PathBuf,
        /// Write the page of eight discs instead, to photograph film on: a4, a3, letter, legal or tabloid.
        #[arg(long, value_name = "PAPER")]
        frame: Option<String>,
        /// The folder of the pictures [default: sheets, beside the job].
        #[arg(short, long, value_name = "FOLDER")]
        out: Option<PathBuf>,
        /// Write even if the folder holds other files.
        #[arg(short, long)]
        force: bool,
    },
    /// Find everything that is wrong with a job; write nothing.
    Check {
        /// The job file, or the folder that holds job.toml.
        job: PathBuf,
        // How hard film is searched.
        #[allow(
            missing_docs,
            reason = "its own fields are documented: a doc comment here would stand in the help"
        )]
        #[command(flatten)]
        work: Work,
    },
    /// Make the kit: cut files, wrap template, application map and the rest.
    Make {
        /// The job file, or the folder that holds job.toml.
        job: PathBuf,
        /// The kit's folder [default: kit, beside the job].
        #[arg(short, long, value_name = "FOLDER")]
        out: Option<PathBuf>,
        /// Keep what need not change of this earlier kit of the job: numbers, places and sheets.
        #[arg(short, long, value_name = "KIT")]
        keep: Option<PathBuf>,
        /// A shelf's folder: its leftovers are used first, and what the kit takes of it is held for the kit.
        #[arg(short, long, value_name = "FOLDER")]
        shelf: Option<PathBuf>,
        /// Do everything but write.
        #[arg(short = 'n', long)]
        dry_run: bool,
        /// Write even if the folder holds files that are not the kit's, or that you changed. Files with other
        /// names than the new kit's stay where they are.
        #[arg(short, long)]
        force: bool,
        /// Pack the kit into one file to send on, too: beside its folder, with its name and .zip.
        #[arg(long, conflicts_with = "dry_run")]
        zip: bool,
        /// Tell what the same pieces take laid singly, woven and in panels: layings, minutes, film, price.
        #[arg(long)]
        ways: bool,
        // How hard film is searched.
        #[allow(
            missing_docs,
            reason = "its own fields are documented: a doc comment here would stand in the help"
        )]
        #[command(flatten)]
        work: Work,
    },
    /// Cut pieces of a kit anew: the outlines that were cut, by their numbers, on the smallest leftover of the
    /// kit that holds them, or on fresh film.
    Recut {
        /// The kit's folder.
        kit: PathBuf,
        /// Numbers of the pieces, as on the map; 7/12 is piece 12 of cup 7 of an order.
        #[arg(required = true, value_parser = asked)]
        numbers: Vec<(u32, u32)>,
        /// The folder it goes to [default: beside the kit, its name with -again].
        #[arg(short, long, value_name = "FOLDER")]
        out: Option<PathBuf>,
        /// Take fresh film even if a leftover would do.
        #[arg(long)]
        fresh: bool,
        /// Write even if the folder holds other files.
        #[arg(short, long)]
        force: bool,
    },
    /// Record what was done with a kit: sheets that were cut, pieces that are on the cup. The next kit keeps them.
    Cut {
        /// The kit's folder.
        kit: PathBuf,
        /// Sheets that were cut, such as straw-1.
        sheets: Vec<String>,
        /// Pieces that are on the cup now.
        #[arg(long, value_name = "NUMBERS", num_args = 1.., value_delimiter = ',')]
        applied: Vec<u32>,
        /// Pieces that were peeled off again.
        #[arg(long, value_name = "NUMBERS", num_args = 1.., value_delimiter = ',')]
        peeled: Vec<u32>,
        /// The shelf that holds their film: it is taken, and what the sheets left over goes there.
        #[arg(short, long, value_name = "FOLDER")]
        shelf: Option<PathBuf>,
    },
    /// Say what film, leftovers and blanks are on a shelf and for which order they are held; put things on it or off
    /// it.
    Shelf {
        /// The shelf's folder; made with the first thing on it.
        folder: PathBuf,
        /// What to do.
        #[command(subcommand)]
        what: Option<OnShelf>,
    },
    /// Record that a customer approved the proof of an order's kit, by the code that stands on it.
    Approve {
        /// The kit's folder.
        kit: PathBuf,
        /// The code; small letters, O for 0 and missing hyphens do no harm.
        code: String,
        /// Who approved.
        #[arg(long, value_name = "NAME")]
        by: String,
        /// The file of approvals, only added to [default: approvals.txt beside the kit].
        #[arg(long, value_name = "FILE")]
        record: Option<PathBuf>,
    },
    /// Keep the bench log: what steps took, what cups weighed, what was left, spoilt and lost. Without more, say what the
    /// log teaches.
    Log {
        /// The job file, or the folder that holds job.toml.
        job: PathBuf,
        /// The log [default: bench-log.csv beside the job].
        #[arg(long, value_name = "FILE")]
        file: Option<PathBuf>,
        /// Words of your own that stand in the line.
        #[arg(long, value_name = "TEXT")]
        note: Option<String>,
        /// What to log.
        #[command(subcommand)]
        what: Option<Logged>,
    },
    /// Make the wrap template alone, from three readings and without a job: SVG and PDF at 1:1.
    Template {
        /// Reading at the rim: a number in mm (or --inches), or text with a unit, such as "3 1/2 in".
        #[arg(long, value_name = "LENGTH")]
        rim: String,
        /// Reading at the base edge.
        #[arg(long, value_name = "LENGTH")]
        base: String,
        /// The wall from base edge to rim, measured along it.
        #[arg(long, value_name = "LENGTH", required_unless_present = "height", conflicts_with = "height")]
        wall: Option<String>,
        /// The height straight up, if the wall was not measured.
        #[arg(long, value_name = "LENGTH")]
        height: Option<String>,
        /// The readings are girths: the tape round the cup. Found out if not said, where only one makes a
        /// cup.
        #[arg(long, conflicts_with = "diameters")]
        girths: bool,
        /// The readings are diameters: straight across.
        #[arg(long)]
        diameters: bool,
        /// Bare numbers are inches.
        #[arg(long)]
        inches: bool,
        /// How far the ends of the wrap lap at the seam.
        #[arg(long, value_name = "LENGTH")]
        lap: Option<String>,
        /// Papers of the PDFs, by commas.
        #[arg(long, value_name = "NAMES", default_value = "a4,letter", value_delimiter = ',')]
        papers: Vec<String>,
        /// The folder it goes to.
        #[arg(short, long, value_name = "FOLDER", default_value = "template")]
        out: PathBuf,
        /// Write even if the folder holds other files.
        #[arg(short, long)]
        force: bool,
    },
    /// Open the page on which a job is measured, filled and changed by eye and hand; it is served to this
    /// machine only.
    Open {
        /// The job's folder, or the job file; made if it is not there [default: this folder].
        job: Option<PathBuf>,
        /// The port [default: any that is free].
        #[arg(long, default_value_t = 0, hide_default_value = true)]
        port: u16,
        /// Print the link and start no browser.
        #[arg(long)]
        no_browser: bool,
        /// End once no page was open for so many minutes.
        #[arg(long, value_name = "MINUTES")]
        idle: Option<u32>,
    },
    /// Explain a code that stands in brackets in a message, such as cup/unit-slip, or a key of the job, such
    /// as film.margin; without either, list all codes.
    Explain {
        /// The code or key.
        code: Option<String>,
    },
    /// Print a completion script for a shell.
    Completions {
        /// The shell.
        shell: clap_complete::Shell,
    },
}

/// What to do with a shelf.
#[derive(Debug, Subcommand)]
pub enum OnShelf {
    /// Something is there now: bought, or left over.
    Bring {
        // What.
        #[allow(missing_docs, reason = "its own fields are documented")]
        #[command(flatten)]
        what: What,
        /// A word of your own: asked again with the same word, nothing is written twice.
        #[arg(long, value_name = "WORD")]
        key: Option<String>,
    },
    /// Something is gone: thrown away, or used for something else.
    Drop {
        // What.
        #[allow(missing_docs, reason = "its own fields are documented")]
        #[command(flatten)]
        what: What,
        /// A word of your own: asked again with the same word, nothing is written twice.
        #[arg(long, value_name = "WORD")]
        key: Option<String>,
    },
    /// What is held for an order is free again.
    Free {
        /// The order: its kit's folder, as the shelf says it.
        order: String,
    },
    /// A line counts as never written, if nothing stands on it.
    Undo {
        /// Its number.
        line: u64,
    },
    /// Say whether all is as it was written.
    Check {
        /// Write what can be trusted into a new file beside the old one.
        #[arg(long)]
        mend: bool,
    },
}

/// A thing on a shelf.
#[derive(Debug, Args)]
pub struct What {
    /// Of which film.
    #[arg(long, value_name = "NAME")]
    pub film: Option<String>,
    /// A length of roll, in mm.
    #[arg(long, value_name = "MM")]
    pub roll: Option<f64>,
    /// Sheets of this size, in mm.
    #[arg(long, value_name = "WxH")]
    pub sheet: Option<String>,
    /// A leftover: the file of its outline.
    #[arg(long, value_name = "FILE")]
    pub left: Option<PathBuf>,
    /// Cups, as you call them.
    #[arg(long, value_name = "NAME")]
    pub blank: Option<String>,
    /// How many.
    #[arg(long, default_value_t = 1)]
    pub count: u32,
}

/// What to log, steps by their numbers on the maker's sheet.
#[derive(Debug, Subcommand)]
pub enum Logged {
    /// A step begins.
    Start {
        /// Its number.
        step: usize,
    },
    /// A step ends: the time since it began is its work.
    Stop {
        /// Its number.
        step: usize,
        /// On how many cups.
        #[arg(long)]
        cups: Option<u32>,
        /// Pieces of film on each [default: as planned].
        #[arg(long)]
        pieces: Option<u32>,
    },
    /// A step took so long.
    Took {
        /// Its number.
        step: usize,
        /// Minutes of work.
        #[arg(long)]
        minutes: f64,
        /// On how many cups.
        #[arg(long)]
        cups: Option<u32>,
        /// Pieces of film on each [default: as planned].
        #[arg(long)]
        pieces: Option<u32>,
    },
    /// A cup before and after a coat or glitter, in grams.
    Weighed {
        /// The step's number.
        step: usize,
        /// Before.
        #[arg(long)]
        before: f64,
        /// After.
        #[arg(long)]
        after: f64,
        /// Which glitter, of a step that has several.
        #[arg(long)]
        product: Option<String>,
    },
    /// What is left of a batch, in millilitres.
    Left {
        /// The number of the step that mixed it.
        step: usize,
        /// Millilitres.
        #[arg(long)]
        ml: f64,
        /// For how many cups it was mixed.
        #[arg(long)]
        cups: Option<u32>,
    },
    /// Pieces that were spoilt.
    Spoilt {
        /// How many.
        #[arg(long)]
        pieces: u32,
        /// Of how many that were cut [default: as planned].
        #[arg(long)]
        of: Option<u32>,
    },
    /// Cups that were lost.
    Lost {
        /// How many.
        #[arg(long)]
        cups: u32,
        /// Of how many that were begun.
        #[arg(long)]
        of: u32,
    },
}

/// `12`, or `7/12`: cup, or 0, and number.
fn asked(text: &str) -> Result<(u32, u32), String> {
    let (cup, number) = text.split_once('/').unwrap_or(("0", text));
    let whole =
        |t: &str| t.parse::<u32>().map_err(|_| "a number, or cup/number, such as 12 or 7/12".to_owned());
    Ok((whole(cup)?, whole(number)?))
}

/// How hard to work.
#[derive(Clone, Copy, Debug, Args)]
pub struct Work {
    /// How hard to look for a layout that saves film.
    #[arg(short, long, value_enum, default_value_t = Level::Quick)]
    pub effort: Level,
}

/// How hard to look for a layout that saves film.
#[derive(Clone, Copy, Debug, ValueEnum)]
pub enum Level {
    /// A sound layout, in a moment.
    Quick,
    /// A tighter layout, in some seconds.
    Normal,
    /// The best that a long search finds: for film that is dear.
    Thorough,
}

impl From<Level> for Effort {
    fn from(level: Level) -> Effort {
        match level {
            Level::Quick => Effort::Quick,
            Level::Normal => Effort::Normal,
            Level::Thorough => Effort::Thorough,
        }
    }
}
