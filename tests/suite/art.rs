//! SVG art against another reader's pixels: resvg paints the drawing, and the painted area must equal the
//! region's.

use frusta::base::diag::{Diagnostics, KeyPath};
use frusta::base::units::Mm;
use frusta::read::art::{Artwork, Loss, read_art};
use frusta::read::job::ArtSize;
use std::fmt::Write as _;

fn read(svg: &str) -> (Option<Artwork>, Diagnostics) {
    let mut diagnostics = Diagnostics::new();
    let art = read_art("test.svg", svg.as_bytes(), &KeyPath::of("motif"), &mut diagnostics);
    (art.ok(), diagnostics)
}

fn page(body: &str) -> String {
    format!(
        "<svg xmlns='http://www.w3.org/2000/svg' xmlns:xlink='http://www.w3.org/1999/xlink' width='100mm' \
            height='80mm' viewBox='0 0 100 80'>{body}</svg>"
    )
}

/// Painted area in square millimetres as resvg 0.49 renders it: coverage summed over pixels of 1/40 mm.
fn painted(svg: &str) -> f64 {
    let tree = resvg::usvg::Tree::from_str(svg, &resvg::usvg::Options::default()).expect("resvg reads it");
    let scale = 4000.0 / tree.size().width();
    let mut pixels =
        resvg::tiny_skia::Pixmap::new(4000, (tree.size().height() * scale).ceil() as u32).expect("pixmap");
    resvg::render(&tree, resvg::tiny_skia::Transform::from_scale(scale, scale), &mut pixels.as_mut());
    let sum: u64 = pixels.pixels().iter().map(|p| u64::from(p.alpha())).sum();
    let side = 100.0 / 4000.0;
    sum as f64 / 255.0 * side * side
}

/// Drawings after the features that the W3C SVG 1.1 test suite covers one by one; own drawings, opaque
/// throughout.
const CASES: &[(&str, &str)] = &[
    (
        "fill rules",
        "<path d='M50 5 70 75 10 30H90L30 75Z'/><path fill-rule='evenodd' transform='scale(.4)' d='M50 5 70 \
            75 10 30H90L30 75Z'/>",
    ),
    (
        "curves and arcs",
        "<path d='M10 40C10 10 40 10 50 40S80 70 90 40Q70 5 50 20T10 40Z'/><path d='M60 60A20 10 30 1 0 90 \
            70Z'/>",
    ),
    (
        "shapes",
        "<rect x='5' y='5' width='30' height='20' rx='6' ry='3'/><circle cx='60' cy='20' r='12'/><ellipse \
            cx='30' cy='55' rx='20' ry='9'/><polygon points='60,40 90,40 75,70'/>",
    ),
    (
        "nested transforms",
        "<g transform='translate(20 10) rotate(20)'><g transform='scale(2 .5) skewX(30)'><rect width='15' \
            height='40'/></g></g>",
    ),
    (
        "stroke joins",
        "<g fill='none' stroke='#000' stroke-width='6'><path d='M10 30 25 8 40 30'/><path \
            stroke-linejoin='round' d='M50 30 65 8 80 30'/><path stroke-linejoin='bevel' d='M10 70 25 48 40 \
            70'/><path stroke-miterlimit='1.2' d='M50 70 65 48 80 70'/></g>",
    ),
    (
        "stroke caps and dots",
        "<g fill='none' stroke='#000' stroke-width='8'><path stroke-linecap='round' d='M10 10H60M80 \
            10h0'/><path stroke-linecap='square' d='M10 30H60M80 30h0'/><path d='M10 50H60M80 50h0'/></g>",
    ),
    (
        "dashes",
        "<g fill='none' stroke='#000' stroke-width='3'><path stroke-dasharray='7 3 2' \
            stroke-dashoffset='-4' d='M5 10H95'/><circle cx='50' cy='45' r='25' stroke-dasharray='5'/><path \
            stroke-linecap='round' stroke-width='5' stroke-dasharray='0 9' d='M6 75H94'/></g>",
    ),
    (
        "stroke under a skewed map",
        "<g transform='matrix(1 .3 -.6 .7 30 5)'><circle cx='30' cy='40' r='22' fill='none' stroke='red' \
            stroke-width='7'/></g>",
    ),
    (
        "closed strokes keep their holes",
        "<path fill='none' stroke='#000' stroke-width='4' d='M10 10H90V70H10ZM30 30H70V50H30Z'/>",
    ),
    (
        "tight curves with wide strokes",
        "<path fill='none' stroke='#000' stroke-width='9' d='M10 70C10 0 14 0 15 70M40 40c20-30 22 30 0 \
            0M70 20c0 40 20 40 20 0'/>",
    ),
    (
        "use, symbol and view box",
        "<defs><g id='leaf'><path d='M0 0C10-10 20-10 30 0 20 10 10 10 0 0'/></g><symbol id='s' viewBox='0 \
            0 10 10'><circle cx='5' cy='5' r='6'/></symbol></defs><use href='#leaf' x='10' y='20'/><use \
            xlink:href='#leaf' transform='translate(60 60) rotate(45)'/><use href='#s' x='50' y='5' \
            width='30' height='20'/>",
    ),
    (
        "clips",
        "<clipPath id='c'><circle cx='30' cy='30' r='25'/><rect x='50' y='10' width='20' \
            height='50'/></clipPath><clipPath id='d' clip-path='url(#c)' \
            clipPathUnits='objectBoundingBox'><rect x='.1' y='.1' width='.8' height='.5'/></clipPath><rect \
            width='100' height='80' clip-path='url(#d)'/>",
    ),
    (
        "clip rule and clip on a moved group",
        "<clipPath id='c'><path clip-rule='evenodd' d='M0 0H40V40H0ZM10 10H30V30H10Z' \
            transform='rotate(10)'/></clipPath><g transform='translate(30 20) scale(1.2)' \
            clip-path='url(#c)'><circle cx='20' cy='20' r='24'/></g>",
    ),
    ("off the page", "<circle cx='0' cy='0' r='40'/><rect x='90' y='70' width='50' height='50'/>"),
    (
        "overlaps count once",
        "<circle cx='40' cy='40' r='25' fill='red'/><circle cx='60' cy='40' r='25' fill='#fff' \
            stroke='blue' stroke-width='3'/>",
    ),
    (
        "units",
        "<rect x='.5cm' y='5mm' width='1in' height='72pt'/><rect x='50%' y='10%' width='2pc' height='50%'/>",
    ),
    (
        "markers",
        "<defs><marker id='m' markerWidth='4' markerHeight='4' refX='2' refY='2' orient='auto'><path d='M0 \
            0 4 2 0 4Z'/></marker></defs><path fill='none' stroke='#000' stroke-width='2' \
            marker-start='url(#m)' marker-mid='url(#m)' marker-end='url(#m)' d='M10 60 40 20 70 60 90 30'/>",
    ),
    (
        "style sheet and inherited paint",
        "<style>.a{fill:#0a0} .b circle{fill:none;stroke:#00a;stroke-width:5}</style><g class='b'><circle \
            cx='30' cy='40' r='20'/></g><rect class='a' x='60' y='20' width='30' height='40'/>",
    ),
    (
        "switch, nested svg, visible child of a hidden group",
        "<switch><rect systemLanguage='xx' width='100' height='80'/><rect x='5' y='5' width='20' \
            height='20'/></switch><svg x='40' y='10' width='30' height='30' viewBox='0 0 10 10' \
            preserveAspectRatio='xMinYMin slice'><circle cx='5' cy='5' r='7'/></svg><g \
            visibility='hidden'><rect x='70' y='50' width='20' height='20' visibility='visible'/><rect \
            width='99' height='79'/></g>",
    ),
    (
        "pattern and gradient areas are whole",
        "<linearGradient id='g'><stop stop-color='red'/><stop offset='1' \
            stop-color='blue'/></linearGradient><rect x='5' y='5' width='60' height='60' rx='9' \
            fill='url(#g)'/>",
    ),
];

#[test]
fn areas_agree_with_rendered_coverage() {
    let mut report = String::new();
    for (name, body) in CASES {
        let svg = page(body);
        let (art, diagnostics) = read(&svg);
        let art = art.unwrap_or_else(|| panic!("{name}: {diagnostics:?}"));
        let (ours, theirs) = (art.outline().area().get(), painted(&svg));
        // Coverage in 8 bits along the outline: 0.1 percent, or what 1/255 on each boundary pixel makes.
        let allowed = 0.001 * theirs + 0.03;
        if (ours - theirs).abs() > allowed {
            let _ = writeln!(report, "{name}: region {ours:.3} mm2, painted {theirs:.3} mm2");
        }
    }
    assert!(report.is_empty(), "{report}");
}

#[test]
fn the_size_is_the_outlines_and_the_anchor_its_middle() {
    let (art, _) =
        read(&page("<rect x='10' y='10' width='30' height='60'/><circle cx='60' cy='40' r='10'/>"));
    let (art, mut diagnostics) = (art.expect("art"), Diagnostics::new());
    for (size, w, h) in [
        (ArtSize::Width(Mm(30.0)), 30.0, 30.0),
        (ArtSize::Height(Mm(12.0)), 12.0, 12.0),
        (ArtSize::Own, 60.0, 60.0),
    ] {
        let b = art.sized(size, &KeyPath::root(), &mut diagnostics).expect("sized").bounds();
        approx::assert_abs_diff_eq!(b.width().get(), w, epsilon = 0.003);
        approx::assert_abs_diff_eq!(b.height().get(), h, epsilon = 0.003);
        approx::assert_abs_diff_eq!(b.centre().x, 0.0, epsilon = 0.003);
        approx::assert_abs_diff_eq!(b.centre().y, 0.0, epsilon = 0.003);
    }
    assert!(diagnostics.is_empty());
}

#[test]
fn up_in_the_drawing_is_up_on_the_cup() {
    let (art, _) = read(&page("<rect x='0' y='0' width='10' height='5'/>"));
    let b = art.expect("art").outline().bounds();
    // The page is 80 mm high, so its top left corner lies at y = 80.
    approx::assert_abs_diff_eq!(b.max.y, 80.0, epsilon = 1e-3);
    approx::assert_abs_diff_eq!(b.min.y, 75.0, epsilon = 1e-3);
}

#[test]
fn art_without_a_physical_size_asks_for_one() {
    for root in [
        "viewBox='0 0 24 24'",
        "width='24' height='24'",
        "width='100%' height='100%' viewBox='0 0 24 24'",
        "",
    ] {
        let svg = format!("<svg xmlns='http://www.w3.org/2000/svg' {root}><path d='M2 2H22V12H2Z'/></svg>");
        let (art, mut diagnostics) = read(&svg);
        let art = art.unwrap_or_else(|| panic!("{root}"));
        assert_eq!(art.physical, None);
        assert!(art.sized(ArtSize::Own, &KeyPath::of("motif.width"), &mut diagnostics).is_err());
        let fault = diagnostics.iter().last().expect("fault");
        assert_eq!((fault.code.id, fault.at.to_string().as_str()), ("art/no-size", "motif.width"));
        assert!(fault.help.contains("width"));
        let b =
            art.sized(ArtSize::Width(Mm(40.0)), &KeyPath::root(), &mut diagnostics).expect("sized").bounds();
        approx::assert_abs_diff_eq!(b.height().get(), 20.0, epsilon = 1e-3);
    }
}

#[test]
fn physical_units_written_unusually_are_read_right() {
    for (w, h) in [("80 mm", "40 mm"), ("320Q", "160Q"), ("8cm", "4cm"), ("80mm", "")] {
        let height = if h.is_empty() { String::new() } else { format!("height='{h}'") };
        let svg = format!(
            "<svg xmlns='http://www.w3.org/2000/svg' viewBox='0 0 200 100' width='{w}' {height}><path d='M0 \
                0H200V100H0Z' fill='red'/></svg>"
        );
        let art = read(&svg).0.expect("art");
        approx::assert_relative_eq!(art.outline().area().get(), 3200.0, max_relative = 1e-4);
        assert_eq!(art.physical, Some((Mm(80.0), Mm(40.0))));
    }
}

#[test]
fn what_is_not_cut_is_listed_with_reason_and_place() {
    let svg = page(
        "\n<rect width='20' height='20'/>\n<text id='t' x='5' y='5'>Harvest fair</text>\n<image \
            href='photo.png' width='9' height='9'/>\n<image href='data:image/png;base64,AAAA' width='9' \
            height='9'/>\n<use href='other.svg#x'/>\n<use href='#gone'/>\n<foreignObject width='9' \
            height='9'><p xmlns='http://www.w3.org/1999/xhtml'>x</p></foreignObject>\n<g id='hidden' \
            display='none'><rect width='5' height='5'/></g>\n<rect id='ghost' opacity='0' width='5' \
            height='5'/>\n<rect id='pale' fill-opacity='.5' width='5' \
            height='5'/>\n<script>x</script>\n<rect id='far' x='500' width='5' height='5'/>\n<path \
            id='fixed' vector-effect='non-scaling-stroke' stroke='red' d='M1 1H9V9Z'/>\n<rect id='odd' \
            fill='url(#nothing) red' width='5' height='5'/>\n<mask id='k'><rect width='9' height='9' \
            fill='#fff'/></mask><rect id='masked' mask='url(#k)' width='5' height='5'/>\n<filter \
            id='f'><feGaussianBlur stdDeviation='2'/></filter><rect id='blurred' filter='url(#f)' width='5' \
            height='5'/>\n<g style='mix-blend-mode:multiply' id='mixed'><rect width='5' \
            height='5'/></g>\n<defs><text>never drawn</text><image href='x.png' id='i'/></defs>",
    );
    let (art, diagnostics) = read(&svg);
    let art = art.expect("art");
    let listed = |what: &str| art.not_cut.iter().filter(|l| l.what == what).collect::<Vec<_>>();
    for (what, count, how) in [
        ("text", 1, Loss::LeftOut),
        ("picture", 2, Loss::LeftOut),
        ("drawing of another file", 1, Loss::LeftOut),
        ("reference to nothing", 1, Loss::LeftOut),
        ("foreign content", 1, Loss::LeftOut),
        ("hidden part", 1, Loss::LeftOut),
        ("transparent shape", 1, Loss::LeftOut),
        ("translucent shape", 1, Loss::CutPlain),
        ("script", 1, Loss::LeftOut),
        ("shape off the page", 1, Loss::LeftOut),
        ("stroke of fixed width", 1, Loss::CutPlain),
        ("unknown paint", 1, Loss::CutPlain),
        ("mask", 1, Loss::CutPlain),
        ("filter effect", 1, Loss::CutPlain),
        ("blend mode", 1, Loss::CutPlain),
    ] {
        let list = listed(what);
        assert_eq!(
            (list.len(), list.iter().all(|l| l.how == how)),
            (count, true),
            "{what}: {:?}",
            art.not_cut
        );
    }
    assert_eq!(listed("text")[0].place, "line 3, <text id=\"t\">");
    assert!(listed("text")[0].why.contains("Harvest fair"));
    assert!(listed("transparent shape")[0].place.contains("ghost"));
    assert!(!diagnostics.any_fault());
    assert!(diagnostics.iter().any(|d| d.code.id == "art/not-cut" && d.message.contains("line 3")));
}

#[test]
fn paper_is_not_film_but_white_shapes_are() {
    let background = page("<rect width='100' height='80' fill='#fff'/><circle cx='50' cy='40' r='10'/>");
    let art = read(&background).0.expect("art");
    approx::assert_abs_diff_eq!(art.outline().area().get(), 314.16, epsilon = 0.1);
    assert!(art.not_cut.iter().any(|l| l.what == "white background"));
    let white = page("<circle cx='50' cy='40' r='10' fill='#fff'/>");
    approx::assert_abs_diff_eq!(read(&white).0.expect("art").outline().area().get(), 314.16, epsilon = 0.1);
}

#[test]
fn nothing_to_cut_is_a_fault_that_says_what_was_there() {
    let (art, diagnostics) = read(&page("<text>Only words</text>"));
    assert!(art.is_none());
    assert!(diagnostics.iter().any(|d| d.code.id == "art/nothing-to-cut"));
    assert!(diagnostics.iter().any(|d| d.code.id == "art/not-cut" && d.message.contains("Only words")));
}

#[test]
fn bad_bytes_are_clear_faults() {
    let deep = page(&format!("{}<rect/>{}", "<g>".repeat(100_000), "</g>".repeat(100_000)));
    let points: String = (0..9000).map(|i| format!(" {} {}", (i * 7919) % 97, (i * 104_729) % 79)).collect();
    // Two combs of 9,000 teeth across each other: 80 million crossings.
    let comb = |upright: bool| -> String {
        (0..9000)
            .map(|i| {
                let at = 79.0 * f64::from(i) / 9000.0;
                if upright {
                    format!("M{at:.4} 0h.003V80h-.003z")
                } else {
                    format!("M0 {at:.4}v.003H100v-.003z")
                }
            })
            .collect()
    };
    let combs = page(&format!("<path d='{}'/><path d='{}'/>", comb(true), comb(false)));
    let huge_number = page("<path d='M0 0H1e30V1e30Z'/>");
    let dashes = page("<path stroke='#000' stroke-dasharray='.0001' d='M0 0H100'/>");
    let external = "<!DOCTYPE svg [<!ENTITY e SYSTEM 'file:///etc/hostname'>]><svg \
        xmlns='http://www.w3.org/2000/svg'>&e;</svg>"
        .to_owned();
    for (what, text, code) in [
        ("empty", String::new(), "art/unreadable"),
        ("text", "a shopping list".into(), "art/unreadable"),
        ("html", "<html><body/></html>".into(), "art/unreadable"),
        ("cut off", "<svg xmlns='http://www.w3.org/2000/svg'><path".into(), "art/unreadable"),
        (
            "no width",
            "<svg xmlns='http://www.w3.org/2000/svg' width='0' height='9'><path d='M0 0H9V9Z'/></svg>".into(),
            "art/unreadable",
        ),
        ("deep", deep, "art/too-much"),
        ("crossings", page(&format!("<path d='M0 0{points}'/>")), "art/too-much"),
        ("combs", combs, "art/too-much"),
        ("far", huge_number, "art/too-much"),
        ("dashes", dashes, "art/too-much"),
        ("external entity", external, "art/unreadable"),
    ] {
        let (art, diagnostics) = read(&text);
        assert!(art.is_none(), "{what} was read");
        let fault = diagnostics.iter().last().unwrap_or_else(|| panic!("{what}"));
        assert_eq!(fault.code.id, code, "{what}: {fault:?}");
        assert!(!fault.help.is_empty() && fault.file.as_deref() == Some("test.svg"));
    }
}

/// Truth: the union of discs about one middle is the largest. What lies under it is not cut at all.
#[test]
fn thousands_of_shapes_upon_each_other_are_the_lowest_if_it_is_largest() {
    let discs: String = (0..1000)
        .map(|i| format!("<circle cx='50' cy='40' r='{:.3}'/>", 38.0 - 0.016 * f64::from(i)))
        .collect();
    let (art, diagnostics) = read(&page(&discs));
    let art = art.unwrap_or_else(|| panic!("{diagnostics:?}"));
    // Four cubics that the reader puts for a circle are off by 2.7e-4 of its radius at most, outwards.
    let want = std::f64::consts::PI * 38.0 * 38.0;
    approx::assert_relative_eq!(art.outline().area().get(), want, max_relative = 5.5e-4);
    assert!(art.outline().contours().len() == 1 && art.outline().nodes() <= 8, "{}", art.outline().nodes());
}

#[test]
fn the_deepest_drawing_allowed_fits_a_small_stack() {
    let svg = page(&format!(
        "{}<rect width='9' height='9'/>{}",
        "<g opacity='.999'>".repeat(250),
        "</g>".repeat(250)
    ));
    // 2 MiB is what Rust gives a thread by default.
    let area = std::thread::Builder::new()
        .stack_size(2 * 1024 * 1024)
        .spawn(move || {
            let (art, diagnostics) = read(&svg);
            art.unwrap_or_else(|| panic!("{diagnostics:?}")).outline().area().get()
        })
        .expect("thread")
        .join()
        .expect("no overflow");
    approx::assert_abs_diff_eq!(area, 81.0, epsilon = 1e-3);
}

#[test]
fn the_same_bytes_give_the_same_art() {
    let svg = page(CASES[9].1);
    assert_eq!(read(&svg).0, read(&svg).0);
}

/// Drawings of which something was once lost without a word (truth: what Chromium paints, see tests/outside),
/// each with what must now be said, and a line to look at.
const SILENT: [(&str, &str, &str); 12] = [
    (
        include_str!("../../fixtures/silent-losses/m01-filter-missing.svg"),
        "m01-filter-missing",
        "missing filter",
    ),
    (include_str!("../../fixtures/silent-losses/m02-css-transform.svg"), "m02-css-transform", "transform"),
    (include_str!("../../fixtures/silent-losses/m03-css-geometry.svg"), "m03-css-geometry", "x: 40px"),
    (
        include_str!("../../fixtures/silent-losses/m04-vector-effect-class.svg"),
        "m04-vector-effect-class",
        "fixed width",
    ),
    (include_str!("../../fixtures/silent-losses/m06-var-class.svg"), "m06-var-class", "style variable"),
    (include_str!("../../fixtures/silent-losses/m09-nth-child.svg"), "m09-nth-child", ":nth-of-type"),
    (include_str!("../../fixtures/silent-losses/m10-not.svg"), "m10-not", ":not"),
    (include_str!("../../fixtures/silent-losses/m11-calc.svg"), "m11-calc", "calc("),
    (include_str!("../../fixtures/silent-losses/m13-css-clip-class.svg"), "m13-css-clip-class", "clip shape"),
    (include_str!("../../fixtures/silent-losses/m14-stroke-width-rem.svg"), "m14-stroke-width-rem", "rem"),
    (include_str!("../../fixtures/silent-losses/m15-vw.svg"), "m15-vw", "vw"),
    (include_str!("../../fixtures/silent-losses/m19-nested-css.svg"), "m19-nested-css", "other rules"),
];

#[test]
fn case_m01_to_m19_what_is_lost_is_named_with_its_line() {
    for (svg, name, says) in SILENT {
        let (art, diagnostics) = read(svg);
        assert!(art.is_some(), "{name}: {diagnostics:?}");
        let told: Vec<&str> = diagnostics.iter().map(|d| d.message.as_str()).collect();
        assert!(told.iter().any(|t| t.contains(says) && t.contains("line 1, <")), "{name}: {told:?}");
    }
}

/// A missing paint without a fallback paints nothing: it is said to be missing, not to be hidden.
#[test]
fn case_20_a_missing_paint_is_not_called_hidden() {
    let (_, diagnostics) =
        read(&page("<rect width='9' height='9'/><rect x='20' width='9' height='9' fill='url(#gone)'/>"));
    let told: Vec<&str> = diagnostics.iter().map(|d| d.message.as_str()).collect();
    assert!(
        told.iter().any(|t| t.contains("unknown paint")) && !told.iter().any(|t| t.contains("hidden")),
        "{told:?}"
    );
}

/// A star of 1,000 points, filled even-odd: a third of a million crossings.
#[test]
fn case_21_an_even_odd_scribble_is_refused_early() {
    let mut d = String::new();
    for i in 0..1001u32 {
        let turn = std::f64::consts::TAU * f64::from(i * 441 % 1000) / 1000.0;
        let _ = write!(
            d,
            "{}{:.4} {:.4}",
            if i == 0 { "M" } else { "L" },
            50.0 + 39.0 * turn.cos(),
            40.0 + 39.0 * turn.sin()
        );
    }
    let (art, diagnostics) = read(&page(&format!("<path fill-rule='evenodd' d='{d}Z'/>")));
    assert!(art.is_none() && format!("{diagnostics:?}").contains("art/too-much"), "{diagnostics:?}");
}
