//! The drawings of the demonstration jobs are what their maker promises: each one piece of film, nothing left out.
//!
//! Truth: properties that the drawings were made to have (checked by eye and by raster when drawn).

use frusta::base::diag::{Faults, KeyPath};
use frusta::base::shape::KurboShape;
use frusta::base::units::Mm;
use frusta::read::art::read_art;
use frusta::read::job::ArtSize;
use std::path::{Path, PathBuf};

fn drawings() -> Vec<PathBuf> {
    let top = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-data");
    let mut all: Vec<PathBuf> = ["harvest-fair/art", "first-cup/art"]
        .iter()
        .flat_map(|folder| std::fs::read_dir(top.join(folder)).expect("the drawings are there"))
        .map(|e| e.expect("a folder that can be read").path())
        .collect();
    all.sort();
    all
}

#[test]
fn every_drawing_is_one_piece_of_film_with_nothing_left_out() {
    let all = drawings();
    assert!(all.len() >= 14, "only {} drawings", all.len());
    for path in all {
        let name = path.file_name().unwrap().to_string_lossy().into_owned();
        let mut found = Faults::new();
        let art = read_art(&name, &std::fs::read(&path).unwrap(), &KeyPath::of("motif"), &mut found)
            .unwrap_or_else(|_| panic!("{name}: {found:?}"));
        assert!(art.not_cut.is_empty(), "{name}: {:?}", art.not_cut);
        let outline = art.sized(ArtSize::Height(Mm(40.0)), &KeyPath::of("motif"), &mut found).unwrap();
        assert!((outline.bounds().height().0 - 40.0).abs() < 1e-6, "{name}");
        let outer = outline.contours().iter().filter(|c| c.area() > 0.0).count();
        assert_eq!(outer, 1, "{name} falls into {outer} pieces");
        let specks = outline.contours().iter().filter(|c| c.area().abs() < 0.3).count();
        assert_eq!(specks, 0, "{name} has {specks} cut-outs too small to weed");
    }
}
