//! Sentences of the job sheet, the care card and the label.
//!
//! Imports: base, read::job, make::{cup, piece, film, plan, verify}, write::{ink, cut, papers, template}.

use crate::base::moment::Minutes;
use crate::base::units::Mm;
use crate::make::cup::trial::fingerprint;
use crate::make::cup::{Taper, WallZone};
use crate::make::film::SheetLayout;
use crate::make::piece::Kind;
use crate::make::plan::keep::runs;
use crate::make::verify::Verified;
use crate::read::job::{FilmId, FilmSpec, Grain};
use crate::write::cut::sheet;
use crate::write::ink::decimal::{table_inch, table_mm};
use crate::write::papers::{Block, Tick};
use crate::write::template::band::letter;
use std::collections::BTreeMap;

/// A length of time.
pub fn minutes(m: Minutes) -> String {
    match (m.0 / 60, m.0 % 60) {
        (0, m) => format!("{m} min"),
        (h, 0) => format!("{h} h"),
        (h, m) => format!("{h} h {m} min"),
    }
}

/// With a capital letter.
pub fn capital(text: &str) -> String {
    let mut c = text.chars();
    c.next().map_or(String::new(), |f| f.to_uppercase().chain(c).collect())
}

/// Rising numbers with runs drawn together: `3, 7 to 12, 20`.
pub fn numbers(list: &[u32]) -> String {
    let mut list = list.to_vec();
    list.sort_unstable();
    runs(&list)
}

/// What the readings are worth, in the maker's terms.
pub fn readings(plan: &Verified) -> Vec<String> {
    let r = &plan.cup().readings;
    let mut out = vec![
        format!(
            "A wrap cut to the template may gap or overlap by up to {} mm at the rim and {} mm at the base \
                edge (95 of 100 cups measured like this).",
            table_mm(r.rim),
            table_mm(r.base)
        ),
        format!(
            "Started at the seam and worked once round, its ends may step by {} mm along the seam; started \
                opposite the seam and worked both ways, not at all.",
            table_mm(r.seam.step_from_one_end)
        ),
    ];
    out.push(match r.taper {
        Taper::NotDistinguishable => format!(
            "The tape cannot tell this cup from a straight one: rim and base differ by less than {} mm.",
            table_mm(r.taper_uncertainty)
        ),
        Taper::WiderAtRim => format!(
            "The rim is wider than the base; a straight rectangle of film would be {} mm off at its ends.",
            table_mm(r.straight_enough)
        ),
        Taper::NarrowerAtRim => format!(
            "The rim is narrower than the base; a straight rectangle of film would be {} mm off at its ends.",
            table_mm(r.straight_enough)
        ),
    });
    if let Some(c) = &r.curve {
        out.push(format!(
            "The wall is a smooth curve; {} within {:.1} percent of it, and distances are kept on the wall \
                itself.",
            match plan.cup().zones.len() {
                1 => "one cone stands for it,".to_owned(),
                n => format!("{n} cones stand for it,"),
            },
            c.worst_off * 100.0
        ));
    }
    if let Some(b) = &r.bow {
        out.push(if b.one_cone && !plan.cup().is_cone() {
            "Between the edges the readings lie on one cone each, as well as the tape can tell.".to_owned()
        } else if b.one_cone {
            "The readings lie on one cone, as well as the tape can tell.".to_owned()
        } else {
            format!(
                "The readings do not lie on one cone: at {} up the wall {} by {} mm. A whole wrap must give \
                    by {:.1} percent, a small motif by far less. Measure again, that ring first.",
                both(b.at),
                if b.off.0 > 0.0 { "bulges out" } else { "is waisted" },
                table_mm(b.bulge.abs()),
                b.strain * 100.0
            )
        });
    }
    out.extend(trials(plan));
    out
}

/// What trial wraps did, and how to make one.
fn trials(plan: &Verified) -> Vec<String> {
    let cup = plan.cup();
    let signed = |v: Mm| format!("{}{} mm", if v.0 > 0.0 { "+" } else { "" }, table_mm(v));
    let mut out: Vec<String> = cup
        .readings
        .trials
        .iter()
        .enumerate()
        .map(|(i, t)| {
            let (rim, base) = (signed(t.rim), signed(t.base));
            format!(
                "Trial wrap {} corrected the girth at the rim by {rim}, at the base edge by {base}.",
                i + 1
            )
        })
        .collect();
    if !cup.is_cone() {
        let part =
            |(i, z): (usize, &WallZone)| format!("{}, {} to {} up", letter(i), both(z.low), both(z.high));
        let parts: Vec<String> = cup.zones.iter().enumerate().map(part).collect();
        let (why, line) = if cup.is_curved() {
            ("is a curve", "the line between two parts")
        } else {
            ("has edges", "an edge")
        };
        out.push(format!(
            "The wall {why} and is wrapped in parts: {}. Lay each by itself, front line on front line; \
                equal letters meet over {line}. No piece of film crosses one.",
            parts.join("; ")
        ));
        return out;
    }
    out.push(format!(
        "Wrap the template as a test, snugly, and write what it did into the job under [[cup.trial]]: \
            template = \"{}\", bars = what its bar of 100 mm measures, gap = {{ rim = .., base = .. }}; \
            overlaps are negative. The next template is that much nearer.",
        fingerprint(&cup.lowest().surface)
    ));
    out
}

/// What to keep in mind with a film.
pub fn film_notes(f: &FilmSpec) -> Vec<String> {
    let mut out = vec![format!("{:.2} mm thick", f.thickness.0), format!("weed from {} up", f.weed)];
    match f.grain {
        Grain::Free => {}
        Grain::Half => out.push("runs one way: pieces stand up or upside down".to_owned()),
        Grain::Fixed => out.push("runs one way: pieces stay upright".to_owned()),
    }
    if f.mirrored {
        out.push("cut from the back, mirrored".to_owned());
    }
    out
}

/// What is done once for each cup of an order.
pub fn on_each(cups: u32) -> String {
    if cups > 1 { format!(" On each of the {cups} cups.") } else { String::new() }
}

/// The cups of an order that this sheet of a film completes, and those that go on to a later one.
pub fn ends(plan: &Verified, s: &SheetLayout) -> Option<String> {
    if s.repeat.times > 1 || plan.cups() == 1 {
        return None;
    }
    let later = |cup: u32| {
        plan.sheets()
            .iter()
            .filter(|t| t.film == s.film && t.index > s.index)
            .find(|t| t.cups().contains(&cup))
    };
    let (on, ended): (Vec<u32>, Vec<u32>) = s.cups().into_iter().partition(|c| later(*c).is_some());
    let mut out = Vec::new();
    if !ended.is_empty() {
        out.push(format!("cups that end here: {}", sheet::runs(&ended)));
    }
    for (cup, next) in on.iter().filter_map(|c| Some((c, later(*c)?))) {
        out.push(format!("cup {cup} goes on to {}", sheet::sheet_name(plan, next)));
    }
    (!out.is_empty()).then(|| capital(&format!("{}.", out.join("; "))))
}

/// Narrow places of the pieces of a sheet.
pub fn sheet_notes(plan: &Verified, s: &SheetLayout) -> Vec<String> {
    let here = |n: &u32| s.placed.iter().any(|p| p.number == *n);
    let mut by: BTreeMap<(Vec<u32>, &str), (usize, f64, f64)> = BTreeMap::new();
    for w in plan.weak() {
        let own: Vec<u32> = w.pieces.iter().copied().filter(|n| here(n)).collect();
        if !own.is_empty() {
            let e = by.entry((own, w.what.words())).or_insert((0, f64::MAX, w.limit.0));
            *e = (e.0 + 1, e.1.min(w.width.0), w.limit.0);
        }
    }
    let mut list: Vec<_> = by.into_iter().collect();
    list.sort_by(|a, b| a.1.1.total_cmp(&b.1.1));
    let more = list.len().saturating_sub(12);
    let line = |((own, what), (count, least, limit)): ((Vec<u32>, &str), (usize, f64, f64))| {
        let name = &plan.piece(own[0]).name;
        let times = if count > 1 { format!(" in {count} places") } else { String::new() };
        format!(
            "{} ({name}): {what}{times}, {least:.2} mm at the narrowest; the film asks for {limit:.2} mm.",
            numbers(&own)
        )
    };
    let mut out: Vec<String> = list.into_iter().take(12).map(line).collect();
    if more > 0 {
        out.push(format!("{more} more; the manifest lists them all."));
    }
    out
}

/// Layers of decals, lowest first.
pub fn layers(plan: &Verified) -> Vec<String> {
    let mut by: BTreeMap<(usize, usize), BTreeMap<FilmId, Vec<u32>>> = BTreeMap::new();
    for p in plan.pieces() {
        if let Kind::Layer { decal, layer } = p.kind {
            by.entry((decal, layer)).or_default().entry(p.film).or_default().push(p.number);
        }
    }
    // A layer may be of several films, by lines, words or letters.
    let line = |((decal, layer), films): ((usize, usize), BTreeMap<FilmId, Vec<u32>>)| {
        let of = |(film, list): (FilmId, Vec<u32>)| {
            format!("{}, pieces {}", plan.job().films[film.0].name, numbers(&list))
        };
        let films: Vec<String> = films.into_iter().map(of).collect();
        format!("Decal {}, layer {}: {}", decal + 1, layer + 1, films.join("; "))
    };
    by.into_iter().map(line).collect()
}

/// Steps before any film is cut.
pub fn template_steps(plan: &Verified) -> Vec<Tick> {
    let papers: Vec<&str> = plan.job().print.papers.iter().map(|p| p.name()).collect();
    let tick = |message: &str, more: &[&str]| Tick {
        message: message.to_owned(),
        more: more.iter().map(|&m| m.to_owned()).collect(),
        cautions: Vec::new(),
    };
    vec![
        tick(
            "Print the wrap template and measure both bars",
            &[&format!(
                "Folder \"template\", {}. Print at 100 %. Bars that are not 100 mm: type what they measure \
                    into the job under [print], as bars, and make the kit again.",
                papers.join(" or ")
            )],
        ),
        tick(
            "Wrap the template round the cup",
            &["Start opposite the seam and work both ways. Gaps at rim and base are what to add to the two \
                girths (overlaps: to take off)."],
        ),
        tick(
            "Mark the front line on the cup with tape",
            &["Distances round are measured from it, at the height of the piece."],
        ),
    ]
}

/// What the customer is told.
pub const CARE: [&str; 6] = [
    "Wash by hand with mild soap and a soft cloth; do not soak, do not scrub.",
    "Not for the dishwasher and not for the microwave, unless the maker says that the product data sheets \
        allow it.",
    "Keep it out of strong sun, off hot plates and away from solvents such as nail-polish remover.",
    "Drink from the bare rim. If the coat chips or a piece comes loose, stop using the cup and ask the \
        maker.",
    "The coat needs its full time to harden: first use not before the date on the label.",
    "Not a toy. Keep it away from small children unless it was made and marked for them.",
];

/// What a label leaves open where cups are not numbered.
pub const WHICH_CUP: &str = "cup ____ of ____";

/// Lines of the batch label: what is known, and lines to fill in.
pub fn label(plan: &Verified) -> Vec<String> {
    let date = plan.job().date.clone().unwrap_or_else(|| "____-__-__".to_owned());
    vec![
        plan.job().title.clone(),
        format!("batch {date} / {}    {WHICH_CUP}", plan.job().seed.0),
        "products and their lot numbers: ______________".to_owned(),
        "finished: __________    first use from: __________".to_owned(),
        "made by: ______________".to_owned(),
    ]
}

/// Card and label on the job sheet.
pub fn blocks(plan: &Verified) -> Vec<Block> {
    vec![
        Block::Text("To cut out: folder \"cards\". The words:".to_owned()),
        Block::Heading("Care".to_owned()),
        Block::Points(CARE.iter().map(|&c| c.to_owned()).collect()),
        Block::Heading("Label".to_owned()),
        Block::Points(label(plan)),
    ]
}

/// A length in both units of a bench: `82.0 mm (3 1/4 in)`.
pub(super) fn both(v: Mm) -> String {
    format!("{} mm ({} in)", table_mm(v), table_inch(v))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn runs_of_numbers_are_drawn_together() {
        assert_eq!(numbers(&[20, 3, 7, 8, 9, 12, 11]), "3, 7 to 9, 11, 12, 20");
        assert_eq!(numbers(&[5]), "5");
    }

    #[test]
    fn minutes_read_as_people_say_them() {
        let told = [0, 45, 120, 725].map(|m| minutes(Minutes(m)));
        assert_eq!(told, ["0 min", "45 min", "2 h", "12 h 5 min"]);
    }
}
