//! Names of files beside the job.
//!
//! Imports: base, read::job::{codes, section}.

use super::codes;
use super::section::Item;
use crate::base::diag::{Diagnostic, ErrorGuaranteed};

/// A file beside the job, by its path from the job's folder.
pub(super) fn art(item: &Item<'_>) -> Result<String, ErrorGuaranteed> {
    let name = item.text()?;
    let outside = name.starts_with('/')
        || name.contains(['\\', ':'])
        || name.split('/').any(|part| part.is_empty() || part == "." || part == "..");
    if outside || name.len() > 240 {
        let plain: Vec<&str> = name.split(['/', '\\']).filter(|p| !p.is_empty() && *p != ".").collect();
        let inside = !name.starts_with(['/', '\\']) && !name.contains(':') && !plain.contains(&"..");
        let help = match plain.join("/") {
            near if inside && !near.is_empty() => format!("write \"{near}\""),
            _ => "copy the file into the job's folder and write its path from there: \"art/pea-pod.svg\""
                .into(),
        };
        let d = Diagnostic::fault(
            &codes::FILE_NAME,
            item.at().clone(),
            "this is no path to a file in the job's folder",
        );
        return Err(item.reader().push(
            d.measured(format!("\"{name}\""))
                .allowed("names of folders and a file, with forward slashes between them")
                .help(help),
        ));
    }
    Ok(name)
}
