//! What the edge itself can find wrong, and every code of the program in one list.
//!
//! Imports: base, read, make, write.

use crate::base::diag::Code;

/// A file cannot be read.
pub const CANNOT_READ: Code = Code {
    id: "files/cannot-read",
    title: "The job file cannot be read",
    explain: "The path leads to no file, or to one that may not be read. A job is named by its file, or by \
        the folder that holds a file called job.toml.",
};
/// A file cannot be written.
pub const CANNOT_WRITE: Code = Code {
    id: "files/cannot-write",
    title: "A file cannot be written",
    explain: "The disk is full, the folder may not be written to, or something else stands in the way. A \
        kit is written whole or not at all; the message says what stands there now.",
};
/// A job was not added to.
pub const NOT_SAVED: Code = Code {
    id: "files/not-saved",
    title: "What was read was not put into the job",
    explain: "`frusta measure JOB --photo PICTURE --save` puts a table at the end of the job. It does so only if no \
        other program has the job open, nobody changed it meanwhile, and the job has no fault more with it.",
};
/// A folder holds files of the maker's.
pub const NOT_OURS: Code = Code {
    id: "files/not-the-kits",
    title: "The kit's folder holds files that are not the kit's",
    explain: "A kit takes the place of the one before it. Files that were added to the folder, or changed \
        since they were written, might be work of yours, so nothing is written over them unasked. Name \
        another folder with --out, move the files away, or say --force: then changed files are written \
        over, and files with names of their own stay where they are.",
};
/// A file of the maker's where the kit has a folder, or the other way round.
pub const IN_THE_WAY: Code = Code {
    id: "files/in-the-way",
    title: "A file or folder of yours has a name that the kit needs",
    explain: "The kit has a folder where a file of yours stands, or a file where you have a folder. They \
        cannot stand side by side, and --force deletes neither: move yours, or name another folder with \
        --out.",
};
/// An old kit that could not be swept.
pub const LEFT_OVER: Code = Code {
    id: "files/left-over",
    title: "A hidden folder of an old kit is left",
    explain: "The new kit stands, whole. The one before it was set aside under a hidden name, and the \
        system did not let all of it be removed. The next run into the same folder tries again.",
};
/// The shell stands in a folder that is gone.
pub const REPLACED: Code = Code {
    id: "files/folder-replaced",
    title: "The folder that you stand in was replaced",
    explain: "A kit takes its folder over as a whole: the new folder has the name of the old one. A shell \
        that was in the old one still is, and sees nothing there until it goes into the folder anew.",
};
/// Bytes that are no text.
pub const NOT_TEXT: Code = Code {
    id: "job/not-text",
    title: "The job file is not UTF-8 text",
    explain: "A job is a text file in UTF-8, which every present-day editor writes. The place named is the \
        first byte that is not: save the file anew as UTF-8, or check that this is the job file.",
};
/// No such paper.
pub const NO_PAPER: Code = Code {
    id: "sheet/no-paper",
    title: "there is no paper of this name",
    explain: "The page of eight discs is printed on a4, a3, letter, legal or tabloid.",
};
/// A job without printed sheets.
pub const NO_SHEETS: Code = Code {
    id: "job/no-sheets",
    title: "The job has no printed sheet",
    explain: "`frusta sheet` shows what is found on the printed sheets of a job. Each is a `[[sheet]]` with a \
        name and a picture: a scan beside the job.",
};
/// The kit would take the place of the job.
pub const OVER_JOB: Code = Code {
    id: "usage/kit-over-job",
    title: "The kit's folder holds the job itself",
    explain: "A kit takes its folder over as a whole, so that folder can be neither the job's own nor one \
        above it.",
};
/// Faults outside of the cup, where only the cup was asked for.
pub const REST_AT_FAULT: Code = Code {
    id: "job/rest-at-fault",
    title: "The readings are sound, but other parts of the job are at fault",
    explain: "What the tape readings are worth depends on the cup alone, so it is told even while films, \
        motifs or accents still have faults. `frusta check` shows those.",
};
/// Arguments that are not understood.
pub const USAGE: Code = Code {
    id: "usage/not-understood",
    title: "The command line is not understood",
    explain: "A command or an option is unknown, lacks its value, or has one that it does not take. `frusta \
        --help` lists the commands, `frusta make --help` the options of one.",
};
/// A code that is none.
pub const NO_CODE: Code = Code {
    id: "usage/no-such-code",
    title: "No message has this code",
    explain: "Codes stand in brackets after the word fault, warning or note. `frusta explain` lists all.",
};

/// No such step.
pub const NO_STEP: Code = Code {
    id: "log/no-such-step",
    title: "the job has no such step, or not one that can be logged so",
    explain: "Steps are called by their numbers, as on the maker's sheet. Work is logged of every step, weights of coats \
        and glitters, what is left of a batch of coats that are mixed.",
};
/// Never begun.
pub const NOT_BEGUN: Code = Code {
    id: "log/not-begun",
    title: "a step ends that was not begun",
    explain: "`frusta log JOB stop 8` takes the time since `frusta log JOB start 8`. Where there is no such line, or where \
        it is more than twelve hours old, say the minutes yourself: `frusta log JOB took 8 --minutes 35`.",
};
/// Amounts that cannot be.
pub const AMOUNT: Code = Code {
    id: "log/amount",
    title: "an amount of the bench log cannot be",
    explain: "A cup weighs more after a coat than before, no more is left of a batch than was mixed, and no more is lost \
        than there was.",
};

/// All codes of this module.
pub const CODES: &[&Code] = &[
    &NO_STEP,
    &NOT_BEGUN,
    &AMOUNT,
    &CANNOT_READ,
    &CANNOT_WRITE,
    &NOT_SAVED,
    &NOT_OURS,
    &IN_THE_WAY,
    &LEFT_OVER,
    &REPLACED,
    &NOT_TEXT,
    &NO_SHEETS,
    &NO_PAPER,
    &OVER_JOB,
    &REST_AT_FAULT,
    &USAGE,
    &NO_CODE,
];

/// Every code of the program, in the order in which the work flows.
pub fn all() -> impl Iterator<Item = &'static Code> {
    use crate::{make, read, write};
    let lists: Vec<&[&'static Code]> = vec![
        CODES,
        read::job::CODES,
        read::job::finish::CODES,
        read::art::CODES,
        read::letter::CODES,
        read::picture::CODES,
        read::contour::CODES,
        read::ledger::CODES,
        read::shelf::CODES,
        read::record::CODES,
        read::kept::CODES,
        read::bench_log::CODES,
        read::names::CODES,
        make::sheet::CODES,
        make::cup::fit::CODES,
        make::plan::lie::CODES,
        make::plan::seam::CODES,
        make::decal::CODES,
        make::motif::CODES,
        make::accent::CODES,
        make::panel::CODES,
        make::weed::CODES,
        make::film::CODES,
        make::film::again::CODES,
        make::look::CODES,
        make::finish::CODES,
        read::materials::CODES,
        make::plan::CODES,
        make::plan::keep::CODES,
        make::verify::CODES,
        write::CODES,
    ];
    lists.into_iter().flat_map(|l| l.iter().copied())
}
