//! Which way? `make --ways`: a line each for laying singly, woven, in panels and gathered.
//!
//! Imports: read::{job, materials}, make::{plan, verify}, edge::folder.

use crate::edge::folder::Folder;
use crate::make::plan::ways::Way;
use crate::make::verify::Verified;
use crate::read::job::Effort;
use crate::read::materials::Materials;
use std::path::Path;

/// All ways of a plan; none where the job's folder is gone.
pub fn of(folder: &Path, plan: &Verified, effort: Effort) -> Vec<Way> {
    let Ok(folder) = Folder::open(folder) else { return Vec::new() };
    plan.ways(&Materials::read(plan.job(), &folder), effort)
}

/// As a table in words.
pub fn lines(ways: &[Way], plan: Option<&Verified>) -> Vec<String> {
    if ways.is_empty() {
        return Vec::new();
    }
    let cups = plan.map_or(1, Verified::cups);
    let mut out = vec![format!(
        "Which way? A cup, laid each way{}:",
        if cups > 1 { format!("; film for all {cups}") } else { String::new() }
    )];
    out.push(format!(
        "  {:<20}{:>8}{:>9}{:>10}{:>14}{:>8}{:>10}",
        "lay", "layings", "minutes", "hop mm", "film mm2", "sheets", "price"
    ));
    for w in ways {
        let name = match w.largest {
            Some([x, y]) => format!("{} {:.0} x {:.0}", w.lay, x.0, y.0),
            None => w.lay.to_owned(),
        };
        let price = w.price.map_or("-".to_owned(), |p| p.to_string());
        let gathered = match w.gatherings {
            0 => String::new(),
            n => format!("  {n} films taken up"),
        };
        let gap = w.narrowest.map_or(String::new(), |g| format!("  gaps no less than {:.2} mm", g.0));
        let refused = w.refused.as_ref().map_or(String::new(), |r| format!("; not made so: {r}"));
        out.push(format!(
            "  {name:<20}{:>8}{:>9.1}{:>10.1}{:>14.0}{:>8}{price:>10}{gathered}{gap}{refused}",
            w.layings, w.minutes, w.hop, w.film.0, w.sheets
        ));
    }
    out.push(
        "  In the job: lay = \"singly\", \"woven\", \"panels\" or \"gathered\", film by film.".to_owned(),
    );
    out
}
