//! What a kit must hold, on a plan built by hand.

use super::cut::sheet as cutting;
use super::map::{rows, wall as map_wall, zones};
use super::sample::plan;
use super::sheets::job_sheet;
use super::template::wrap;
use super::*;
use crate::outline::KurboShape;
use std::collections::{BTreeMap, BTreeSet};

fn text<'a>(kit: &'a Kit, path: &str) -> &'a str {
    let file = kit.files.iter().find(|f| f.path == path).unwrap_or_else(|| panic!("no {path}"));
    std::str::from_utf8(&file.bytes).unwrap()
}

#[test]
fn the_same_plan_gives_the_same_bytes() {
    let told = std::sync::Mutex::new(Vec::new());
    let tell = |f: KitFile| told.lock().unwrap().push(f);
    let (a, b) =
        (kit(&plan(180.0, 0.0)).unwrap(), kit_with_progress(&plan(180.0, 0.0), None, &tell).unwrap());
    let listed: Vec<ListedFile> =
        a.files.iter().map(|f| ListedFile { path: f.path.clone(), bytes: f.bytes.len() }).collect();
    assert_eq!(listed, b.files);
    let by_path = |a: &KitFile, b: &KitFile| a.path.cmp(&b.path);
    let (mut told, mut made) = (told.into_inner().unwrap(), a.files.clone());
    told.sort_by(by_path);
    made.sort_by(by_path);
    assert_eq!(told, made, "every file is handed out, once");
    let paths: BTreeSet<&str> = a.files.iter().map(|f| f.path.as_str()).collect();
    assert_eq!(paths.len(), a.files.len());
}

#[test]
fn seams_anywhere_and_laps_are_read_back_as_planned() {
    for (seam, lap) in [(180.0, 6.0), (135.0, 0.0), (0.0, 3.0), (-100.0, 0.0)] {
        assert!(kit::reads_back(&plan(seam, lap)), "{seam} {lap}");
    }
}

/// Changing any one digit of a coordinate by enough to matter must not pass.
#[test]
fn a_file_that_says_something_else_is_not_let_through() {
    let plan = plan(180.0, 0.0);
    let sheet = &plan.sheets()[0];
    let name = cutting::file_name(&plan, sheet);
    let good = String::from_utf8(cutting::file(&plan, sheet)).unwrap();
    let check = |s: &str| read_back::cut_file(&plan, sheet, &name, s.as_bytes());
    assert!(check(&good).is_ok());
    let at = good.find("M ").unwrap() + 2;
    let digit = good[at..].find('.').unwrap() + at + 3;
    let mut moved = good.clone();
    let other = if &good[digit - 1..digit] == "9" { "1" } else { "9" };
    moved.replace_range(digit - 1..digit, other);
    for (what, bad) in [
        ("a point off by hundredths", moved),
        ("an open path", good.replacen(" Z", "", 1)),
        ("a transform", good.replacen("<g ", "<g transform=\"scale(1)\" ", 1)),
        ("another unit", good.replacen("mm\"", "cm\"", 2)),
        ("one number twice", good.replacen("id=\"p3\"", "id=\"p1\"", 1)),
        ("a piece left out", good.replacen("<path", "<title", 1).replacen("/>", "></title>", 1)),
        ("not XML", good.replacen("</svg>", "", 1)),
    ] {
        assert_ne!(bad, good, "{what}");
        assert!(check(&bad).is_err(), "{what}");
    }
}

/// In a picture only letters are moved by a transform: an outline that is, or that is shown again, is refused.
#[test]
fn a_picture_moves_nothing_but_letters() {
    use super::cut::weeding;
    let plan = plan(180.0, 0.0);
    let sheet = &plan.sheets()[0];
    let (name, picture) = (weeding::file_name(&plan, sheet), weeding::drawing(&plan, sheet));
    let good = String::from_utf8(ink::svg::picture(&picture)).unwrap();
    let check = |name: &str, s: &str| read_back::weeding_file(&plan, sheet, name, &picture, s.as_bytes());
    assert!(good.contains("<use ") && check(&name, &good).is_ok());
    let id = format!("id=\"{}\"", weeding::outline_id(&cutting::group_ids(sheet)[0]));
    assert!(good.contains(&id));
    for (what, bad) in [
        ("a moved outline", good.replacen(&id, &format!("{id} transform=\"scale(1)\""), 1)),
        (
            "a moved group of outlines",
            good.replacen("<g id=\"pieces\"", "<g transform=\"scale(1)\" id=\"pieces\"", 1),
        ),
    ] {
        assert_ne!(bad, good, "{what}");
        assert!(check(&name, &bad).is_err(), "{what}");
    }
    assert!(check("cut/blue-1.svg", &good).is_err(), "no letters are shown again in what is cut");
}

/// Numbers on map, sheets, table and manifest agree piece by piece; XML read by roxmltree, JSON by
/// serde_json.
#[test]
fn numbers_agree_piece_by_piece() {
    let plan = plan(180.0, 0.0);
    let kit = super::kit(&plan).unwrap();
    let manifest: serde_json::Value = serde_json::from_str(text(&kit, manifest::FILE)).unwrap();
    let map = resvg::usvg::roxmltree::Document::parse(text(&kit, map_wall::FILE)).unwrap();
    let by_id = |id: &str| map.descendants().find(|n| n.attribute("id") == Some(id));
    let table: Vec<String> = by_id("table")
        .unwrap()
        .children()
        .filter(|n| n.has_tag_name("text"))
        .map(|n| n.text().unwrap_or_default().to_owned())
        .collect();
    let mut on_sheets: BTreeMap<u64, String> = BTreeMap::new();
    for file in kit.files.iter().filter(|f| f.path.starts_with("cut/")) {
        let doc = resvg::usvg::roxmltree::Document::parse(std::str::from_utf8(&file.bytes).unwrap()).unwrap();
        let name = file.path.trim_start_matches("cut/").trim_end_matches(".svg").to_owned();
        for g in doc.root_element().children().filter(|n| n.has_tag_name("g")) {
            let id = g.attribute("id").unwrap();
            if let Ok(n) = id.trim_start_matches('p').parse() {
                let title = g.children().find(|n| n.has_tag_name("title")).unwrap().text().unwrap();
                assert!(title.starts_with(&format!("{n} ")));
                assert!(on_sheets.insert(n, name.clone()).is_none());
            }
        }
    }
    let pieces = manifest["pieces"].as_array().unwrap();
    assert_eq!(pieces.len(), plan.pieces().len());
    assert_eq!(on_sheets.len(), plan.pieces().len());
    for (i, p) in pieces.iter().enumerate() {
        let number = p["number"].as_u64().unwrap();
        assert_eq!(number, i as u64 + 1);
        assert_eq!(p["sheet"].as_str().unwrap(), on_sheets[&number]);
        assert!(by_id(&format!("m{number}")).is_some());
        // The table's row: number, film letter, sheet, height up.
        let row = table
            .windows(4)
            .find(|w| w[0] == number.to_string() && w[2] == on_sheets[&number] && w[1].len() == 1);
        let up: f64 = row.unwrap_or_else(|| panic!("no row for {number}"))[3].parse().unwrap();
        approx::assert_abs_diff_eq!(up, p["up_mm"].as_f64().unwrap(), epsilon = 0.0501);
    }
}

/// Truth: the radius at a height times the azimuth, for a piece at a quarter turn.
#[test]
fn distance_round_is_the_arc_at_that_height() {
    let plan = plan(180.0, 0.0);
    let rows = rows::rows(&plan);
    let piece = &plan.pieces()[3];
    approx::assert_abs_diff_eq!(piece.wall.azimuth.deg(), 91.0, epsilon = 1e-9);
    let girth = 207.345 + (270.177 - 207.345) * 105.0 / 165.3;
    approx::assert_abs_diff_eq!(rows[3].round.0, girth * 91.0 / 360.0, epsilon = 1e-9);
}

/// Numbers stand within their pieces wherever the piece is roomy enough for the smallest size.
#[test]
fn numbers_stand_inside_their_pieces() {
    let plan = plan(180.0, 0.0);
    let (d, band) = map_wall::body(&plan);
    for p in plan.pieces().iter().take(12) {
        let g = d.groups.iter().find(|g| g.id == format!("m{}", p.number)).unwrap();
        let flat = p.outline.moved(&band[0].place(&p.pose)).flat(crate::base::units::Mm(0.01));
        let ink = g.words[0].outlines().bounding_box();
        for (x, y) in [(ink.x0, ink.y0), (ink.x1, ink.y0), (ink.x0, ink.y1), (ink.x1, ink.y1)] {
            assert!(flat.contains(x, y), "{}", p.number);
        }
    }
}

/// Nothing is clipped: all marks lie on the page.
#[test]
fn papers_hold_all_their_marks() {
    for seam in [180.0, 90.0] {
        let plan = plan(seam, 5.0);
        let body = map_wall::body(&plan);
        for d in [wrap::drawing(&plan), map_wall::drawing(&plan, &rows::rows(&plan), &body).0] {
            let ink = d.ink();
            assert!(ink.min.x > 1.0 && ink.min.y > 1.0, "{} {:?}", d.title, ink);
            assert!(ink.max.x < d.width - 1.0 && ink.max.y < d.height - 1.0, "{} {:?}", d.title, ink);
        }
    }
}

/// Case 1: a length of roll that is no whole number of thousandths; y was flipped with it, but read with the
/// page's.
#[test]
fn case_1_a_sheet_of_any_length_reads_back() {
    for part in [0.000_1, 0.000_3, 0.000_499, 0.000_501, 0.000_9] {
        let mut plan = plan(180.0, 0.0).into_plan();
        for sheet in &mut plan.sheets {
            sheet.height += crate::base::units::Mm(part);
        }
        assert!(kit::reads_back(&Verified::unchecked(plan)));
    }
}

/// Truth: turning the job by half a turn and the camera with it changes nothing. The seam runs through the
/// middle of one of the two pictures, and pieces lie over it.
#[test]
fn a_cup_turned_with_its_camera_looks_the_same() {
    use super::view::{camera::Camera, scene, still};
    use crate::base::units::Angle;
    use crate::make::cup::Window;
    let size = (210, 280);
    let shot = |round: f64| {
        let at = [(round, 60.0), (round + 14.0, 90.0), (round - 75.0, 120.0), (round + 100.0, 40.0)];
        let mut plan = crate::make::plan::sample::plan(&at);
        // The handle goes round with its cup.
        let (d, by) = (plan.cup.zones[0].development, Angle::degrees(round));
        let turned = |w: &Window| Window::new(&d, w.left + by, w.right + by, w.low, w.high);
        plan.cup.zones[0].zone.handles = plan.cup.zones[0].zone.handles.iter().map(turned).collect();
        let plan = Verified::unchecked(plan);
        let scene = scene::Scene::new(&plan);
        let camera = Camera::fitted(&scene.body, Angle::degrees(round), Angle::degrees(20.0), size, 11.0);
        still::still(&scene, &camera, size)
    };
    let front = shot(0.0);
    for round in [180.0, -135.0, 90.0] {
        let there = shot(round);
        // The last bits of a coordinate may tip one of the samples of a pixel on an edge.
        let off: Vec<u8> = front.rgba.iter().zip(&there.rgba).map(|(a, b)| a.abs_diff(*b)).collect();
        let tipped = off.iter().filter(|d| **d > 3).count();
        assert!(off.iter().all(|d| *d <= 48), "{round}: {:?}", off.iter().max());
        assert!(tipped * 500 < off.len(), "{round}: {tipped} of {}", off.len());
    }
    let film = front.rgba.chunks(4).filter(|p| i32::from(p[1]) > i32::from(p[0]) + 20).count();
    assert!(film > 500, "the discs are seen: {film} pixels");
}

/// The job sheet tells every finding, names every sheet, and has a box for every step; the same on page and
/// in print.
#[test]
fn the_job_sheet_leaves_nothing_out() {
    use crate::base::diag::{Code, KeyPath};
    const ODD: Code = Code { id: "odd", title: "odd", explain: "odd" };
    let mut plan = plan(180.0, 0.0).into_plan();
    plan.diagnostics = vec![
        Diagnostic::note(&ODD, KeyPath::root(), "a note of no place"),
        Diagnostic::warning(&ODD, KeyPath::root().key("motif").index(0), "a leaf <too> thin")
            .measured("0.3 mm"),
    ];
    let plan = Verified::unchecked(plan);
    let rows = rows::rows(&plan);
    let drawn = job_sheet::Drawn::new(&plan).expect("pictures");
    let paper = job_sheet::paper(&plan, &rows, drawn, &[]);
    let html = String::from_utf8(papers::page::html(&paper, "")).expect("text");
    for d in plan.diagnostics() {
        assert!(html.contains(&ink::html::escaped(&d.message)), "{}", d.message);
    }
    assert!(
        html.find("a leaf &lt;too").unwrap() < html.find("a note of no place").unwrap(),
        "the worst comes first"
    );
    assert!(html.contains("pieces 1 to 12"), "where it is");
    for s in plan.sheets() {
        assert!(html.contains(&cutting::file_name(&plan, s)));
    }
    let ticks: usize =
        paper.blocks.iter().map(|b| if let papers::Block::Ticks(t) = b { t.len() } else { 0 }).sum();
    assert_eq!(html.matches("type=\"checkbox\"").count(), ticks);
    assert!(ticks > plan.sheets().len() + 5);
    assert!(html.contains("Seed 7"));
    let pdf = papers::print::pdf(&paper, (210.0, 297.0));
    assert!(pdf.starts_with(b"%PDF-") && pdf == papers::print::pdf(&paper, (210.0, 297.0)));
}

/// Crowded or not, every piece stands in exactly one zone, with its whole outline in the window.
#[test]
fn zones_share_the_pieces_out() {
    let plan = plan(180.0, 0.0);
    let rows = rows::rows(&plan);
    assert!(zones::crowded(&zones::windows(&plan, &rows)));
    let mut seen = BTreeSet::new();
    for w in zones::windows(&plan, &rows) {
        for s in &w.own {
            assert!(seen.insert(s.piece.number), "{} twice", s.piece.number);
            let b = s.outline.bounds();
            assert!(
                b.min.x >= 3.9 && b.min.y >= 3.9 && b.max.x <= w.size.0 - 3.9 && b.max.y <= w.size.1 - 3.9
            );
        }
    }
    assert_eq!(seen.len(), plan.pieces().len());
}

/// Truth: the table. Every file is of one row, rows that are always there are there, files stand in the
/// table's order.
#[test]
fn a_kit_holds_what_its_table_says() {
    let plan = plan(180.0, 0.0);
    let files = kit(&plan).unwrap().files;
    let count = plan.pieces().len().to_string();
    let fits = |pattern: &str, path: &str| {
        let mut rest = path;
        for (i, part) in pattern.split(['<', '>']).enumerate() {
            match (i % 2, part) {
                (0, text) if i == 0 => match rest.strip_prefix(text) {
                    Some(r) => rest = r,
                    None => return false,
                },
                // Two that change stand side by side.
                (0, "") => {}
                (0, text) => match rest.find(text) {
                    Some(at) if at > 0 => rest = &rest[at + text.len()..],
                    _ => return false,
                },
                _ => {}
            }
        }
        rest.is_empty() || pattern.ends_with('>')
    };
    for f in &files {
        let rows = kit::TABLE.iter().filter(|r| fits(r.file, &f.path)).map(|r| r.file).collect::<Vec<_>>();
        assert!(
            rows.len() == 1 || (rows.len() == 2 && rows.contains(&"view/<side>.png")),
            "{} {rows:?}",
            f.path
        );
    }
    for row in kit::TABLE.iter().filter(|r| r.when == kit::When::Always) {
        assert!(files.iter().any(|f| f.path == row.file), "{}", row.file);
    }
    assert_eq!(files.last().map(|f| f.path.as_str()), Some(manifest::FILE));
    assert!(
        files.iter().any(|f| f.path == "trial/pieces.txt" && f.bytes == count.as_bytes()),
        "a row is all a writer needs"
    );
}

/// Every kind of file of the kit stands in one stage of its first page.
#[test]
fn every_kind_of_file_has_its_stage() {
    use super::kit::TABLE;
    use super::sheets::index::{FILE, STAGES};
    let staged: Vec<&str> = STAGES.iter().flat_map(|s| s.files).copied().collect();
    for row in TABLE.iter().filter(|r| r.file != FILE && !r.file.starts_with("trial")) {
        assert_eq!(staged.iter().filter(|f| **f == row.file).count(), 1, "{}", row.file);
    }
    // The page itself and what a test build adds.
    assert_eq!(staged.len() + 2, TABLE.len());
}
