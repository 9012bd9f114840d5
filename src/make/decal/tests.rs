use super::art::flat_art;
use super::stack::{thickest, thickest_by_looking};
use super::*;
use crate::base::frame::Point;
use crate::base::tolerance::{FIT, LAYER_GUARD};
use crate::base::units::Angle;
use crate::make::cup::{Frustum, WallPoint, fit};
use crate::make::plan::sample;
use crate::outline::{Clearance, KurboShape, Op};
use crate::read::job::read_job;
use crate::read::letter::Font;

const HEAD: &str = r##"
unit = "mm"
[cup]
rings = [{ up = 0, girth = 207.5 }, { up = 165, girth = 270.0 }]
wall = 165
keep-clear = { rim = 20, base = 6 }
[[film]]
name = "damson"
sheet = [300, 200]
thickness = 0.08
[[film]]
name = "straw"
sheet = [300, 200]
thickness = 0.1
[[film]]
name = "leaf"
sheet = [300, 200]
thickness = 0.05
"##;

const LAYERS: &str =
    r##"layers = [{ film = "damson", offset = 2 }, { film = "straw", offset = 1.2 }, { film = "leaf" }]"##;

struct Made {
    specs: Vec<DecalSpec>,
    cup: Cup,
    films: Vec<FilmSpec>,
    decals: Result<Vec<Decal>, ErrorGuaranteed>,
    diagnostics: Diagnostics,
}

/// Reads the decals of a job and makes them, as the plan does; `svg` is what every `art` shows.
fn made(decals: &str, svg: &str) -> Made {
    let read = read_job(&format!("{HEAD}{decals}"));
    let job = read.job.unwrap_or_else(|| panic!("{:#?}", read.diagnostics));
    let mut diagnostics = Diagnostics::new();
    let cup = fit(&job.cup, &mut diagnostics).expect("fits");
    let art = job.decals.iter().filter_map(|d| match &d.shows {
        Shows::Drawing { art, .. } => Some((art.clone(), svg.as_bytes().to_vec())),
        Shows::Words { .. } => None,
    });
    let materials = Materials::read(&job, &InMemory(art.collect()));
    let decals = make(&job, &materials, &cup, &mut diagnostics);
    Made { specs: job.decals, cup, films: job.films, decals, diagnostics }
}

use crate::read::job::decals::{FontName, Shows};
use crate::read::source::InMemory;

fn font(spec: &DecalSpec) -> Font {
    let name = match &spec.shows {
        Shows::Words { font: FontName::Family(name), .. } => name.as_str(),
        _ => "Fredoka One",
    };
    Font::embedded(name, &KeyPath::root(), &mut Diagnostics::new()).expect("embedded")
}

fn words(more: &str) -> Made {
    let text = r#"text = "Best in show""#;
    made(&format!("[[decal]]\n{text}\nfont = \"Kaushan Script\"\nwidth = 70\n{LAYERS}\n{more}"), "")
}

fn one(m: &Made) -> &Decal {
    match &m.decals {
        Ok(d) => &d[0],
        Err(_) => panic!("{:#?}", m.diagnostics),
    }
}

/// Steiner's formula for a convex outline grown by d: area A + P d + pi d^2, perimeter P + 2 pi d.
#[test]
fn a_convex_layer_has_steiners_area_and_perimeter() {
    let svg = r##"<svg xmlns="http://www.w3.org/2000/svg" width="30mm" height="12mm" viewBox="0 0 30 12"><rect width="30" height="12"/></svg>"##;
    let m = made(&format!("[[decal]]\nart = \"a.svg\"\nwidth = 30\nup = 70\n{LAYERS}"), svg);
    let d = one(&m);
    let (area, round) = (30.0 * 12.0, 84.0);
    let pi = std::f64::consts::PI;
    for (layer, by) in [(1, 1.2 + LAYER_GUARD.0), (0, 3.2 + 2.0 * LAYER_GUARD.0)] {
        let solid = &d.layers[layer].solid;
        // An outline off by FIT along its whole length changes the area by at most FIT times that length.
        let length = round + 2.0 * pi * by;
        approx::assert_abs_diff_eq!(
            solid.area().0,
            area + round * by + pi * by * by,
            epsilon = FIT.0 * length
        );
        approx::assert_abs_diff_eq!(solid.perimeter().0, length, epsilon = 2.0 * pi * FIT.0 * 2.0);
    }
}

/// Every point of a layer's edge is at least its offset inside the layer below: measured point by point.
#[test]
fn each_layer_reaches_out_by_its_offset_at_least() {
    for more in ["up = 80", "up = 80\nlies = \"upright\"", "up = 80\nazimuth = 110\nturn = 20"] {
        let m = words(more);
        for pair in one(&m).layers.windows(2) {
            let (below, above) = (&pair[0], &pair[1]);
            let index = Clearance::new(below.solid.flat(Mm(5e-4)));
            let mut least = f64::INFINITY;
            for p in above.solid.flat(Mm(5e-4)).rings.iter().flatten() {
                let p = Point::mm(p[0], p[1]);
                assert!(index.contains(p), "{more}: a corner lies outside");
                least = least.min(index.nearest(p, Mm(99.0)).expect("near").distance.0);
            }
            assert!(least >= below.offset.0, "{more}: {least} < {}", below.offset);
            assert!(least < below.offset.0 + 2.0 * LAYER_GUARD.0, "{more}: no more than was asked: {least}");
        }
    }
}

#[test]
fn gaps_narrower_than_asked_are_closed_and_wider_ones_stay() {
    // Two bars 2.8 mm apart; grown by 1 mm each, 0.8 mm are left between them.
    let svg = r##"<svg xmlns="http://www.w3.org/2000/svg" width="22.8mm" height="20mm" viewBox="0 0 22.8 20"><path d="M0 0h10v20h-10zM12.8 0h10v20h-10z"/></svg>"##;
    let made = |close: f64| {
        let layers =
            format!("layers = [{{ film = \"damson\", offset = 1, close = {close} }}, {{ film = \"leaf\" }}]");
        made(&format!("[[decal]]\nart = \"a.svg\"\nwidth = 22.8\nup = 70\n{layers}"), svg)
    };
    assert_eq!(one(&made(0.7)).layers[0].solid.contours().len(), 2);
    assert_eq!(one(&made(0.9)).layers[0].solid.contours().len(), 1);
}

#[test]
fn keys_are_the_same_for_all_layers_clear_of_them_and_on_the_wall() {
    for more in ["up = 80", "up = \"centred\"\nturn = 90"] {
        let m = words(more);
        let d = one(&m);
        let pieces = d.pieces(0, 1, &m.films);
        assert_eq!(pieces.len(), 3);
        assert!(pieces.iter().all(|p| p.keys == pieces[0].keys && p.pose == pieces[0].pose));
        let keys = d.keys.marks.flat(Mm(1e-3));
        let gap =
            Clearance::new(keys.clone()).distance(&Clearance::new(d.silhouette().flat(Mm(1e-3))), Mm(9.0));
        assert!(gap.expect("near").0 >= 2.0 - 1e-3, "{gap:?}");
        for p in keys.rings.iter().flatten() {
            let slant = m.cup.zones[0].development.wrap(d.pose.apply(Point::mm(p[0], p[1]))).slant;
            assert!(slant.0 >= 0.0 && slant.0 <= 165.0, "{more}");
        }
        let [a, b] = d.keys.hinge.expect("a hinge");
        assert!(a.y == b.y && a.x < b.x);
        assert!(a.y > d.silhouette().bounds().max.y, "{more}");
    }
    assert!(one(&words("up = 80\nkeys = false")).keys.marks.is_empty());
    // Where there is no wall above, they go below; where there is none below either, beside.
    let dev = words("up = 80").cup.zones[0].development;
    for (slant, half, hinge) in [(155.0, 5.0, -7.0), (82.0, 75.0, 7.5)] {
        let pose = dev.pose(WallPose { azimuth: Angle::ZERO, slant: Mm(slant), turn: Angle::ZERO });
        let b = crate::outline::Bounds { min: Point::mm(-20.0, -half), max: Point::mm(20.0, half) };
        let mut diagnostics = Diagnostics::new();
        let k = keys::keys(b, (Mm(15.0), Mm(2.0)), &dev, &pose, &KeyPath::root(), &mut diagnostics);
        assert_eq!(k.hinge.expect("a hinge")[0].y, hinge);
        assert!(diagnostics.is_empty());
    }
}

/// Truth: the wall itself. A letter's foot lies as high as its baseline, as far round as the line is long
/// there.
#[test]
fn upright_letters_stand_on_their_parallel() {
    let m = words("up = 90\nlies = \"upright\"\nazimuth = 40");
    let spec = &m.specs[0];
    let f = font(spec);
    let art = flat_art(spec, &Material::Font(&f), &KeyPath::root(), &mut Diagnostics::new()).expect("art");
    let d = one(&m);
    let ground = Ground::new(&m.cup.zones[0].development, d.wall);
    let laid = ground.laid(&art, Lies::Upright, &KeyPath::root(), &mut Diagnostics::new()).expect("laid");
    for (flat, laid) in art.parts.iter().zip(laid) {
        approx::assert_relative_eq!(flat.region.area().0, laid.region.area().0, max_relative = 1e-9);
        let slant = d.wall.slant.0 + flat.foot.y;
        let radius = m.cup.zones[0].surface.radius(Mm(slant)).0;
        let azimuth = d.wall.azimuth.rad() + flat.foot.x / radius;
        let foot = m.cup.zones[0]
            .development
            .develop(WallPoint { azimuth: Angle::radians(azimuth), slant: Mm(slant) });
        // The letter is where its middle above the foot is carried to along the generator.
        let c = flat.region.bounds().centre();
        let up = m.cup.zones[0].development.pose(WallPose {
            azimuth: Angle::radians(azimuth),
            slant: Mm(slant),
            turn: Angle::ZERO,
        });
        let want = up.apply(Point::mm(c.x - flat.foot.x, c.y - flat.foot.y));
        let got = d.pose.apply(laid.region.bounds().centre());
        assert!(got.distance(want).0 < 0.2, "boxes turn by a degree or two");
        assert!(up.origin().distance(foot).0 < 1e-9);
    }
}

/// Truth: the straight line itself, its ends wrapped back onto the wall.
#[test]
fn departure_from_level_is_what_the_wall_says() {
    for (girths, w) in [((270.0, 207.5), 80.0), ((207.5, 270.0), 60.0), ((240.0, 240.0), 90.0)] {
        let f = Frustum { upper: Mm(girths.0), lower: Mm(girths.1), slant: Mm(165.0) };
        let dev = crate::make::cup::Development::new(f);
        let at = WallPose { azimuth: Angle::degrees(30.0), slant: Mm(80.0), turn: Angle::ZERO };
        let ground = Ground::new(&dev, at);
        let got = ground.departure(art::Stretch { width: Mm(w), foot: Mm(5.0) });
        let pose = dev.pose(at);
        let slant = |x: f64| dev.wrap(pose.apply(Point::mm(x, 5.0))).slant.0;
        let want = slant(w / 2.0) - slant(0.0);
        // w^2 / 8R is the first term of a series whose next is smaller by (w / 4R)^2.
        approx::assert_abs_diff_eq!(got.0, want, epsilon = 0.01 * want.abs() + 1e-12);
    }
    let m = words("up = 90");
    assert!(m.diagnostics.iter().any(|d| d.code.id == "decal/not-level"), "{:#?}", m.diagnostics);
    assert!(!words("up = 90\nlevel = 3").diagnostics.iter().any(|d| d.code.id == "decal/not-level"));
    assert!(!words("up = 90\nlies = \"upright\"").diagnostics.iter().any(|d| d.code.id == "decal/not-level"));
}

#[test]
fn centred_is_as_far_from_one_band_as_from_the_other() {
    for more in ["up = \"centred\"", "up = \"centred\"\nlies = \"upright\"", "up = \"centred\"\nturn = 35"] {
        let m = words(more);
        let d = one(&m);
        let (low, high) = (d.reach.low - m.cup.zones[0].zone.low, m.cup.zones[0].zone.high - d.reach.high);
        approx::assert_abs_diff_eq!(low.0, high.0, epsilon = 0.05);
    }
}

#[test]
fn a_window_holds_the_whole_decal() {
    let text = "[[decal]]\ntext = [\"Best\", \"in show\"]\nfits = [60, 35]\nup = 80\n";
    let d = made(&format!("{text}{LAYERS}"), "");
    let b = one(&d).silhouette().bounds();
    assert!(b.width().0 <= 60.2 && b.height().0 <= 35.2, "{b:?}");
    assert!(b.width().0 > 59.9 || b.height().0 > 34.9, "{b:?}");
    let d = made(&format!("[[decal]]\ntext = \"x\"\nfits = [60, 6]\nup = 80\n{LAYERS}"), "");
    assert!(d.decals.is_err());
    assert_eq!(d.diagnostics.iter().next().expect("fault").code.id, "decal/window-too-small");
}

#[test]
fn films_of_a_split_top_lie_side_by_side_and_make_up_the_whole() {
    for split in ["word", "letter"] {
        let layers = format!(
            "layers = [{{ film = \"damson\", offset = 2 }}, {{ films = [\"straw\", \"leaf\"], split = \
                \"{split}\" }}]"
        );
        let text = "[[decal]]\ntext = \"Best in show\"\nfont = \"Kaushan Script\"\nwidth = 70\nup = 80\n";
        let m = made(&format!("{text}{layers}"), "");
        let d = one(&m);
        let top = d.layers.last().expect("top");
        assert_eq!(top.films.len(), 2);
        let (a, b) = (&top.films[0].1, &top.films[1].1);
        assert!(a.op(b, Op::Intersection).area().0 < 0.01, "{split}");
        approx::assert_abs_diff_eq!(a.area().0 + b.area().0, top.solid.area().0, epsilon = 0.05);
        assert_eq!(d.pieces(0, 1, &m.films).len(), 3);
    }
}

#[test]
fn a_hollow_layer_keeps_its_overlap_and_thins_the_stack() {
    let svg = r##"<svg xmlns="http://www.w3.org/2000/svg" width="40mm" height="30mm" viewBox="0 0 40 30"><rect width="40" height="30"/></svg>"##;
    let with = |overlap: &str| {
        let layers = format!(
            "layers = [{{ film = \"damson\", offset = 2{overlap} }}, {{ film = \"straw\", offset = \
                1{overlap} }}, {{ film = \"leaf\" }}]"
        );
        made(&format!("[[decal]]\nart = \"a.svg\"\nwidth = 40\nup = 70\n{layers}"), svg)
    };
    let (whole, hollow) = (with(""), with(", overlap = 3"));
    approx::assert_abs_diff_eq!(one(&whole).thickness.0, 0.08 + 0.1 + 0.05, epsilon = 1e-12);
    // The shortcut for stacks that are nowhere hollow gives what looking gives.
    let looked = thickest_by_looking(&one(&whole).layers, &whole.films);
    approx::assert_abs_diff_eq!(looked.0.0, one(&whole).thickness.0, epsilon = 1e-12);
    approx::assert_abs_diff_eq!(looked.1.0, one(&whole).thickest_area.0, epsilon = 0.05);
    let d = one(&hollow);
    // Base and middle overlap along the middle's edge, middle and top along the top's; base ends 3 mm inside
    // the middle, that is 2 mm inside the top: all three lie over each other there.
    approx::assert_abs_diff_eq!(d.thickness.0, 0.23, epsilon = 1e-12);
    assert!(d.thickest_area.0 < one(&whole).thickest_area.0);
    let film = &d.layers[0].films[0].1;
    let hole = film.contours().iter().find(|c| c.area() < 0.0).expect("a hole").bounding_box();
    // The middle is the top grown by 1; its edge less 3 mm of overlap is 2 mm inside the top's edge.
    let want = 40.0 + 2.0 * (1.0 + LAYER_GUARD.0) - 2.0 * (3.0 + LAYER_GUARD.0);
    approx::assert_abs_diff_eq!(hole.width(), want, epsilon = 2.0 * FIT.0);
    // Far apart, no place has more than two.
    let far = with(", overlap = 0.5");
    approx::assert_abs_diff_eq!(one(&far).thickness.0, 0.18, epsilon = 1e-12);
    assert_eq!(thickest(&one(&far).layers, &far.films).0, one(&far).thickness);
}

#[test]
fn what_a_decal_must_not_touch_is_a_fault_that_says_by_how_much() {
    let at = |more: &str| {
        let m = words(more);
        assert!(m.decals.is_err());
        let d = m
            .diagnostics
            .iter()
            .find(|d| d.severity == crate::base::diag::Severity::Fault)
            .expect("fault")
            .clone();
        assert!(!d.help.is_empty() && d.measured.is_some() && d.allowed.is_some(), "{d:?}");
        d
    };
    let d = at("up = 140");
    assert_eq!(d.code.id, "decal/over-band");
    assert!(d.message.contains("band at the rim"), "{}", d.message);
    assert_eq!(at("up = 10").code.id, "decal/over-band");
    let d = at("up = 80\nazimuth = 170");
    assert_eq!(d.code.id, "decal/over-seam");
    // Following the mend cures it.
    let azimuth: f64 = d.help.split("azimuth = ").nth(1).unwrap().split(';').next().unwrap().parse().unwrap();
    assert!(words(&format!("up = 80\nazimuth = {azimuth}")).decals.is_ok(), "{}", d.help);
    let two = format!(
        "[[decal]]\ntext = \"Fair\"\nwidth = 30\nup = 60\n{LAYERS}\n[[decal]]\ntext = \"Fair\"\nwidth = \
            30\nup = 60\nazimuth = 8\n{LAYERS}"
    );
    let m = made(&two, "");
    assert!(m.diagnostics.iter().any(|d| d.code.id == "decal/too-near"), "{:#?}", m.diagnostics);
}

#[test]
fn over_the_handle_is_a_fault() {
    let mut job = sample::job();
    let read =
        read_job(&format!("{HEAD}[[decal]]\ntext = \"Fair\"\nwidth = 30\nup = 70\nazimuth = 88\n{LAYERS}"));
    job.decals = read.job.expect("reads").decals;
    job.films = vec![job.films[0].clone(); 3];
    let mut diagnostics = Diagnostics::new();
    let cup = fit(&job.cup, &mut diagnostics).expect("fits");
    let materials = Materials::read(&job, &InMemory::default());
    assert!(make(&job, &materials, &cup, &mut diagnostics).is_err());
    assert!(diagnostics.iter().any(|d| d.code.id == "decal/over-handle"), "{diagnostics:#?}");
}

#[test]
fn colours_of_a_drawing_take_their_films() {
    let svg = r##"<svg xmlns="http://www.w3.org/2000/svg" width="40mm" height="30mm" viewBox="0 0 40 30"><rect width="40" height="30" fill="#c00000"/><rect x="10" y="10" width="20" height="10" fill="#0000c0"/></svg>"##;
    let with = |colours: &str| {
        let layers =
            format!("layers = [{{ film = \"damson\", offset = 2 }}, {{ colours = {{ {colours} }} }}]");
        made(&format!("[[decal]]\nart = \"a.svg\"\nwidth = 40\nup = 70\n{layers}"), svg)
    };
    let m = with("\"#c00000\" = \"straw\", \"#0000c0\" = \"leaf\"");
    let top = one(&m).layers.last().expect("top");
    approx::assert_abs_diff_eq!(top.films[0].1.area().0, 1000.0, epsilon = 0.05);
    approx::assert_abs_diff_eq!(top.films[1].1.area().0, 200.0, epsilon = 0.05);
    let m = with("\"#c00000\" = \"straw\", \"#00c000\" = \"leaf\"");
    assert!(m.decals.is_err());
    let ids: Vec<&str> = m.diagnostics.iter().map(|d| d.code.id).collect();
    assert!(
        ids.contains(&"decal/colour-without-film") && ids.contains(&"decal/film-without-part"),
        "{ids:?}"
    );
}

/// Truth: the wall. Bent art, wrapped back onto it point by point, is the art as drawn, within the fit's
/// error.
#[test]
fn bent_art_wrapped_back_is_the_art_as_drawn() {
    let m = words("up = 95\nlies = \"bent\"\nazimuth = -50");
    let spec = &m.specs[0];
    let f = font(spec);
    let art = flat_art(spec, &Material::Font(&f), &KeyPath::root(), &mut Diagnostics::new()).expect("art");
    let d = one(&m);
    let ground = Ground::new(&m.cup.zones[0].development, d.wall);
    let laid = ground.laid(&art, Lies::Bent, &KeyPath::root(), &mut Diagnostics::new()).expect("bent");
    let radius = m.cup.zones[0].surface.radius(d.wall.slant).0;
    let (mut worst, mut before, mut after) = (0.0f64, 0, 0);
    for (flat, laid) in art.parts.iter().zip(&laid) {
        let drawn = Clearance::new(flat.region.flat(Mm(5e-4)));
        for p in laid.region.flat(Mm(5e-4)).rings.iter().flatten() {
            let w = m.cup.zones[0].development.wrap(d.pose.apply(Point::mm(p[0], p[1])));
            let x = (w.azimuth.rad() - d.wall.azimuth.rad()) * radius;
            let back = Point::mm(x, (w.slant - d.wall.slant).0);
            worst = worst.max(drawn.nearest(back, Mm(9.0)).expect("near").distance.0);
        }
        before += flat.region.nodes();
        after += laid.region.nodes();
    }
    // The wall above and below the middle is a tenth wider or narrower than at it.
    assert!(worst < FIT.0 * 1.15 + 1e-3, "{worst}");
    assert!(after < 2 * before, "never by dense polylines: {before} nodes became {after}");
}

#[test]
fn what_is_hard_to_cut_is_told_with_its_place_and_mended_where_asked() {
    // Two plates joined by a bridge of 0.5 mm, a dot of 1 mm, and a spike of 14 degrees.
    let svg = r##"<svg xmlns="http://www.w3.org/2000/svg" width="40mm" height="20mm" viewBox="0 0 40 20"><path d="M0 0h10v9.75h8v-9.75h10v20h-10v-9.75h-8v9.75h-10zM33 10h1v1h-1zM36 0h2l-1 8z"/></svg>"##;
    let with = |more: &str| {
        made(
            &format!(
                "[[decal]]\nart = \"a.svg\"\nwidth = 38\nup = 70\n{more}\nlayers = [{{ film = \"leaf\" }}]"
            ),
            svg,
        )
    };
    let m = with("");
    let d = one(&m);
    let corners: Vec<f64> = d
        .hard
        .iter()
        .filter_map(|p| match p.what {
            corners::Hard::Corner(a, _) => Some(a.deg()),
            corners::Hard::Island(..) => None,
        })
        .collect();
    assert_eq!(corners.len(), 1, "{:?}", d.hard);
    approx::assert_abs_diff_eq!(corners[0], 2.0 * (1.0f64 / 8.0).atan().to_degrees(), epsilon = 0.2);
    let small: Vec<f64> = d
        .hard
        .iter()
        .filter_map(|p| match p.what {
            corners::Hard::Island(e, _) => Some(e.0),
            corners::Hard::Corner(..) => None,
        })
        .collect();
    assert_eq!(small.len(), 1, "{:?}", d.hard);
    approx::assert_abs_diff_eq!(small[0], std::f64::consts::SQRT_2, epsilon = 0.02);
    let narrow = |d: &Decal| d.layers[0].films[0].1.narrow(Mm(0.8)).len();
    assert!(narrow(d) > 0 && d.mended.is_empty());
    let mended = with("mend = true");
    assert_eq!(narrow(one(&mended)), 0);
    assert!(!one(&mended).mended.is_empty());
    assert!(mended.diagnostics.iter().any(|d| d.code.id == "decal/mended"));
}
