//! All settings of a job as a table: with the art files beside it, enough to make the cup again.
//!
//! Imports: base, read::job, write::{ink, papers}.

use crate::base::units::{Angle, LengthUnit, Mm};
use crate::read::job::{
    Adapt, ArtSize, Grain, Ground, Job, Lie, Placing, Sheen, SpotShape, SpotTurn, Stock, Turning,
};
use crate::write::ink::decimal::rounded;
use crate::write::papers::{Block, Grid};

/// Lengths to a thousandth of a millimetre: nothing is lost that a job can say.
fn mm(v: Mm) -> String {
    format!("{} mm", rounded(v.0, 3))
}
fn deg(a: Angle) -> String {
    format!("{}\u{b0}", rounded(a.deg(), 3))
}

/// Keys and values, section by section.
pub fn blocks(job: &Job) -> Vec<Block> {
    let mut out = vec![Block::Text(
        "What the job file said, defaults included, in millimetres and degrees. The same settings, art files, seed and version of the program give the same kit, byte for byte."
            .to_owned(),
    )];
    let mut section = |caption: String, list: Vec<(String, String)>| {
        let mut grid = Grid::new(&caption, &["setting", "value"]);
        list.into_iter().for_each(|(k, v)| grid.row([k, v]));
        out.push(Block::Table(grid));
    };
    section("job".to_owned(), whole(job));
    section("cup".to_owned(), cup(job));
    for f in &job.films {
        section(format!("film {}", f.name), film(f));
    }
    for (i, m) in job.motifs.iter().enumerate() {
        section(format!("motif {}: {}", i + 1, m.art), motif(job, m));
    }
    for (i, a) in job.accents.iter().enumerate() {
        section(format!("accent {}", i + 1), accent(job, a));
    }
    section("print".to_owned(), print(job));
    out
}

fn pair(k: &str, v: impl Into<String>) -> (String, String) {
    (k.to_owned(), v.into())
}

fn whole(job: &Job) -> Vec<(String, String)> {
    vec![
        pair("title", job.title.clone()),
        pair("date", job.date.clone().unwrap_or_else(|| "none".to_owned())),
        pair("unit", if job.unit == LengthUnit::In { "in" } else { "mm" }),
        pair("seed", job.seed.0.to_string()),
        pair("program", concat!("frusta ", env!("CARGO_PKG_VERSION"))),
    ]
}

fn cup(job: &Job) -> Vec<(String, String)> {
    let c = &job.cup;
    let rings: Vec<String> =
        c.rings.iter().map(|r| format!("{} up: {} round", mm(r.slant), mm(r.girth))).collect();
    let mut out = vec![
        pair("rings", rings.join("; ")),
        pair("wall", mm(c.wall)),
        pair("tape", mm(c.tape)),
        pair("keep-clear", format!("rim {}, base {}", mm(c.keep_clear.rim), mm(c.keep_clear.base))),
        pair("seam", deg(c.seam)),
        pair("lap", mm(c.lap)),
        pair("build-up", mm(c.build_up)),
    ];
    if let Some(h) = &c.handle {
        let message =
            format!("at {}, {} wide, from {} to {}", deg(h.azimuth), mm(h.width), mm(h.from), mm(h.to));
        out.push(pair("handle", message));
    }
    if let Some(v) = c.capacity {
        out.push(pair("capacity", format!("{} ml", rounded(v.0, 2))));
    }
    out
}

fn film(f: &crate::read::job::FilmSpec) -> Vec<(String, String)> {
    let stock = match f.stock {
        Stock::Sheet { width, height } => pair("sheet", format!("{} x {}", mm(width), mm(height))),
        Stock::Roll { width, longest } => pair("roll", format!("{}, longest cut {}", mm(width), mm(longest))),
    };
    let grain = match f.grain {
        Grain::Free => "free",
        Grain::Half => "half",
        Grain::Fixed => "fixed",
    };
    let sheen = match f.sheen {
        Sheen::Gloss => "gloss",
        Sheen::Matt => "matt",
        Sheen::Metallic => "metallic",
        Sheen::Pearl => "pearl",
    };
    vec![
        pair("colour", f.colour.to_string()),
        stock,
        pair("margin", mm(f.margin)),
        pair("spacing", mm(f.spacing)),
        pair("weed", mm(f.weed)),
        pair("thickness", mm(f.thickness)),
        pair("mirrored", f.mirrored.to_string()),
        pair("grain", grain),
        pair("sheen", sheen),
    ]
}

fn motif(job: &Job, m: &crate::read::job::MotifSpec) -> Vec<(String, String)> {
    let size = match m.size {
        ArtSize::Width(v) => format!("{} wide", mm(v)),
        ArtSize::Height(v) => format!("{} high", mm(v)),
        ArtSize::Own => "as drawn".to_owned(),
    };
    let placing = match &m.placing {
        Placing::Pinned(poses) => poses
            .iter()
            .map(|p| format!("azimuth {}, up {}, turn {}", deg(p.azimuth), mm(p.slant), deg(p.turn)))
            .collect::<Vec<_>>()
            .join("; "),
        Placing::Spread { copies, turning } => {
            let turning = match turning {
                Turning::Upright => "upright".to_owned(),
                Turning::Within(a) => format!("within {}", deg(*a)),
                Turning::Free => "free".to_owned(),
            };
            format!("{copies} copies, {turning}")
        }
    };
    vec![
        pair("size", size),
        pair("film", job.films[m.film.0].name.clone()),
        pair("placing", placing),
        pair("clearance", mm(m.clearance)),
        pair("border", mm(m.border)),
    ]
}

fn accent(job: &Job, a: &crate::read::job::AccentSpec) -> Vec<(String, String)> {
    let shapes: Vec<String> = a
        .shapes
        .iter()
        .map(|s| match s {
            SpotShape::Family(name) => name.clone(),
            SpotShape::Own(files) => files.join(", "),
        })
        .collect();
    let films: Vec<String> =
        a.films.iter().map(|(f, share)| format!("{} {}", job.films[f.0].name, rounded(*share, 4))).collect();
    let adapt = match a.adapt {
        Adapt::AsDrawn => "as drawn".to_owned(),
        Adapt::Flex(part) => format!("flex {} %", rounded(part * 100.0, 3)),
        Adapt::Mosaic => "mosaic".to_owned(),
    };
    let turn = match a.turn {
        SpotTurn::Free => "free",
        SpotTurn::Upright => "upright",
        SpotTurn::Along => "along",
    };
    vec![
        pair("shapes", shapes.join(", ")),
        pair("smallest", mm(a.smallest)),
        pair("largest", mm(a.largest)),
        pair("gap", mm(a.gap)),
        pair("films", films.join(", ")),
        pair("adapt", adapt),
        pair("turn", turn),
    ]
}

fn print(job: &Job) -> Vec<(String, String)> {
    let p = &job.print;
    let lie = match p.lie {
        Lie::Either => "either",
        Lie::Portrait => "portrait",
        Lie::Landscape => "landscape",
    };
    let ground = match p.ground {
        Ground::Transparent => "transparent".to_owned(),
        Ground::Plain(c) => c.to_string(),
    };
    vec![
        pair("papers", p.papers.iter().map(|p| p.name()).collect::<Vec<_>>().join(", ")),
        pair("orientation", lie),
        pair("bars", format!("short side {}, long side {}", mm(p.bars.short), mm(p.bars.long))),
        pair("ground", ground),
        pair("cup-colour", p.cup.to_string()),
    ]
}
