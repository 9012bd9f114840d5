//! [`NameList`]: the rows of an order: what each cup says, read from a list beside the job.
//!
//! Imports: base, read::{source, job}.

pub mod table;
pub mod findings;

use crate::base::diag::{Code, Diagnostic, Diagnostics, ErrorGuaranteed, KeyPath, undisturbed};
use crate::read::job::{MOST_CUPS, NamesSpec};
use crate::read::source::Source;
use findings::{Finding, Weight};
use table::Encoding;

/// The list cannot be read.
pub const LIST: Code = Code {
    id: "names/list",
    title: "The list of names cannot be read as a table",
    explain: "A list is a text file as spreadsheets save it: one row a line, fields between commas, semicolons or \
        tabs, text with such a mark in double quotes, headings in the first row. Save it as UTF-8.",
};
/// Something in a row.
pub const ROW: Code = Code {
    id: "names/row",
    title: "A row of the list is worth a look",
    explain: "A name that is wrong in the list is wrong on the cup. Slips of typing are mended and said; what may \
        be meant is only said: two scripts in one word, letters that look like others, digits beside letters, \
        capitals, foot marks, rows that stand twice. Names and families differ: what is meant stays as it is.",
};
/// Rows in another encoding.
pub const ENCODING: Code = Code {
    id: "names/encoding",
    title: "The list is not UTF-8 and was taken for Windows-1252",
    explain: "Spreadsheets on some systems save lists in an older encoding. The first row with a letter beyond \
        ASCII is shown: if it reads right, all is well; else save the list as UTF-8.",
};

/// All codes of this module.
pub const CODES: &[&Code] = &[&LIST, &ROW, &ENCODING];

/// Largest list, bytes.
const LARGEST: u64 = 8 << 20;
/// Longest text of a row, characters.
const LONGEST: usize = 200;

/// A row of the list.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NameRow {
    /// Line of the file, from 1.
    pub line: usize,
    /// What is lettered: NFC, slips mended.
    pub text: String,
    /// How many cups of it.
    pub copies: u32,
}

/// The rows of an order.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct NameList {
    /// In the order of the file.
    pub rows: Vec<NameRow>,
}

impl NameList {
    /// How many cups.
    pub fn cups(&self) -> u32 {
        self.rows.iter().map(|r| r.copies).sum()
    }
    /// The row of each cup, in order.
    pub fn of_cups(&self) -> Vec<usize> {
        let one = |(i, r): (usize, &NameRow)| (0..r.copies).map(move |_| i);
        self.rows.iter().enumerate().flat_map(one).collect()
    }
    /// Reads the list that a job names.
    ///
    /// # Errors
    /// Everything that is wrong with it, each with its line.
    pub fn read(
        spec: &NamesSpec,
        source: &dyn Source,
        diagnostics: &mut Diagnostics,
    ) -> Result<NameList, ErrorGuaranteed> {
        let at = KeyPath::of("order.names");
        let fault = |at: &KeyPath, message: String, help: &str| {
            Diagnostic::fault(&LIST, at.clone(), message).file(&spec.list).help(help)
        };
        let list = at.key("list");
        let bytes = source.bytes(&spec.list, LARGEST).map_err(|m| {
            let message = format!("\"{}\" cannot be read: {}", spec.list, m.why);
            diagnostics.push(fault(
                &list,
                message,
                "put the list into the job's folder, or mend its name here",
            ))
        })?;
        let Some((text, encoding)) = table::decoded(&bytes) else {
            return Err(diagnostics.push(fault(&list, "the list is torn UTF-16".into(), "save it as UTF-8")));
        };
        if let Some(at) = text.find('\0') {
            let line = text[..at].lines().count().max(1);
            let message = format!("line {line}: the list holds a NUL: it is no text");
            return Err(diagnostics.push(fault(
                &list,
                message,
                "save it as UTF-8 text, values between commas",
            )));
        }
        let (records, torn) = table::records(&text);
        for t in &torn {
            diagnostics.push(fault(&list, format!("line {}: {}", t.line, t.message), t.help));
        }
        let rows = rows(spec, &records, &at, diagnostics)?;
        if encoding == Encoding::Windows1252
            && let Some(row) = rows.iter().find(|r| !r.text.is_ascii())
        {
            let message = format!("line {} reads \"{}\"", row.line, undisturbed(&row.text));
            diagnostics.push(
                Diagnostic::warning(&ENCODING, list.clone(), message)
                    .file(&spec.list)
                    .help("if that is right, all is well; else save the list as UTF-8"),
            );
        }
        diagnostics.check()?;
        Ok(NameList { rows })
    }
}

/// The rows under the heading, mended, with everything that is to be said of them.
fn rows(
    spec: &NamesSpec,
    records: &[table::Record],
    at: &KeyPath,
    diagnostics: &mut Diagnostics,
) -> Result<Vec<NameRow>, ErrorGuaranteed> {
    let list = at.key("list");
    let Some((head, body)) = records.split_first() else {
        let d = Diagnostic::fault(&LIST, list, "the list is empty").file(&spec.list);
        return Err(diagnostics.push(d.help("write the headings into its first row, names below")));
    };
    let column = |wanted: &str, key: &str, diagnostics: &mut Diagnostics| {
        let same = |f: &String| f.trim().to_lowercase() == wanted.trim().to_lowercase();
        head.fields.iter().position(same).ok_or_else(|| {
            let heads: Vec<String> =
                head.fields.iter().map(|f| format!("\"{}\"", undisturbed(f.trim()))).collect();
            let message = format!("the list has no column \"{}\"", undisturbed(wanted));
            let d = Diagnostic::fault(&LIST, at.key(key), message).file(&spec.list);
            diagnostics.push(
                d.measured(format!("line {}: {}", head.line, heads.join(", ")))
                    .help("write the heading of the column as the list's first row has it"),
            )
        })
    };
    let name = column(&spec.column, "column", diagnostics);
    let copies = spec.copies.as_ref().map(|c| column(c, "copies", diagnostics)).transpose();
    let (name, copies) = (name?, copies?);
    let mut out: Vec<NameRow> = Vec::new();
    let mut said: Vec<Finding> = Vec::new();
    for record in body {
        let field = |i: usize| record.fields.get(i).map_or("", String::as_str);
        let (text, mended) = findings::mended(record.line, field(name), spec.mend_apostrophes);
        said.extend(mended);
        let bad = |message: &str, help: &str| Finding {
            line: record.line,
            weight: Weight::Fault,
            message: message.into(),
            help: help.into(),
        };
        if text.is_empty() {
            said.push(bad("there is no name", "write one, or take the row out"));
            continue;
        }
        if text.chars().count() > LONGEST {
            said.push(bad("the text is too long for a cup", "shorten it to 200 characters or fewer"));
            continue;
        }
        let count = copies.map_or(Ok(1), |i| match field(i).trim() {
            "" => Ok(1),
            n => n.parse::<u32>().map_err(|_| n.to_owned()),
        });
        match count {
            Ok(copies) if u64::from(copies) <= MOST_CUPS => {
                out.push(NameRow { line: record.line, text, copies });
            }
            _ => said.push(bad("the number of cups cannot be read", "write a whole number, 0 for none")),
        }
    }
    let list_of: Vec<(usize, &str)> = out.iter().map(|r| (r.line, r.text.as_str())).collect();
    said.extend(findings::in_list(&list_of));
    said.sort_by_key(|f| f.line);
    for f in said {
        let message = format!("line {}: {}", f.line, undisturbed(&f.message));
        let d = match f.weight {
            Weight::Note => Diagnostic::note(&ROW, list.clone(), message),
            Weight::Warning => Diagnostic::warning(&ROW, list.clone(), message),
            Weight::Fault => Diagnostic::fault(&ROW, list.clone(), message),
        };
        diagnostics.push(d.file(&spec.list).help(undisturbed(&f.help)));
    }
    out.retain(|r| r.copies > 0);
    let cups: u64 = out.iter().map(|r| u64::from(r.copies)).sum();
    if out.is_empty() || cups > MOST_CUPS {
        let message = format!("the list asks for {cups} cups");
        let d = Diagnostic::fault(&LIST, list, message).file(&spec.list);
        diagnostics.push(d.allowed(format!("1 to {MOST_CUPS}")).help("make longer lists in parts"));
    }
    diagnostics.check()?;
    Ok(out)
}
