//! `seam = "best"`: through the wall that motifs leave free, and nothing else of the kit changes.
//!
//! Source: the seam is where the template is parted; the film is not cut there (a fact of the trade, common
//! practice, no source), so places and outlines of motifs are those of any other seam.

use frusta::{Plan, verify};

fn planned(seam: &str) -> Result<Plan, Vec<String>> {
    let job = format!(
        "seed = 3\n[cup]\nrings = [{{ up = 0, girth = 220 }}, {{ up = 120, girth = 250 }}]\nwall = 120\n{seam}\n\
         [[film]]\nname = \"blue\"\nsheet = [300, 200]\n[[motif]]\nart = \"leaf.svg\"\nwidth = 40\nfilm = \"blue\"\n\
         poses = [{{ azimuth = 180, up = 60 }}, {{ azimuth = 90, up = 50 }}, {{ azimuth = -60, up = 70 }}]\n"
    );
    crate::planned::planned(&job, &crate::planned::leaf())
}

/// A motif stands on the back: the seam leaves it, for the middle of the widest gap (90 - half a leaf down to -60 and
/// half a leaf, with the leaf's angle at its height, closed form to a degree).
#[test]
fn the_best_seam_leaves_the_motif_on_the_back() {
    let (back, best) = (planned("").expect("plans"), planned("seam = \"best\"").expect("plans"));
    let half = |up: f64| (20.0 / (220.0 + 30.0 * up / 120.0) * 360.0_f64).abs();
    let want = f64::midpoint(90.0 - half(50.0), -60.0 + half(70.0));
    assert!((best.cup.seam().deg() - want).abs() < 1.0, "{} {want}", best.cup.seam().deg());
    assert!((back.cup.seam().deg().abs() - 180.0).abs() < 1e-9);
    let places = |p: &Plan| p.pieces.iter().map(|p| (p.wall, p.outline.clone())).collect::<Vec<_>>();
    assert_eq!(places(&back), places(&best));
    assert!(best.diagnostics.iter().any(|d| d.code.id == "cup/seam-chosen" && d.message.contains("gap of")));
    assert!(verify(best).is_ok());
}

/// Another word is told with what is allowed.
#[test]
fn another_word_is_told() {
    let told = planned("seam = \"worst\"").expect_err("refused").join("\n");
    assert!(told.contains("cup.seam") && told.contains("\"best\""), "{told}");
    let told = planned("seam = 400").expect_err("refused").join("\n");
    assert!(told.contains("cup.seam") && told.contains("-360 to 360"), "{told}");
}
