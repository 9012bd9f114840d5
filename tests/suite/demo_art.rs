//! The drawings of the demonstration jobs are what their maker promises: each one piece of film, nothing left
//! out.
//!
//! Truth: properties that the drawings were made to have (checked by eye and by raster when drawn).

use frusta::base::diag::{Diagnostics, KeyPath, Severity};
use frusta::base::units::Mm;
use frusta::make::free_area::FreeArea;
use frusta::make::motif::{Motif, lay};
use frusta::outline::KurboShape;
use frusta::read::art::read_art;
use frusta::read::job::{ArtSize, Job, read_job};
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
        let mut diagnostics = Diagnostics::new();
        let art = read_art(&name, &std::fs::read(&path).unwrap(), &KeyPath::of("motif"), &mut diagnostics)
            .unwrap_or_else(|_| panic!("{name}: {diagnostics:?}"));
        assert!(art.not_cut.is_empty(), "{name}: {:?}", art.not_cut);
        let outline = art.sized(ArtSize::Height(Mm(40.0)), &KeyPath::of("motif"), &mut diagnostics).unwrap();
        assert!((outline.bounds().height().0 - 40.0).abs() < 1e-6, "{name}");
        let outer = outline.contours().iter().filter(|c| c.area() > 0.0).count();
        assert_eq!(outer, 1, "{name} falls into {outer} pieces");
        let specks = outline.contours().iter().filter(|c| c.area().abs() < 0.3).count();
        assert_eq!(specks, 0, "{name} has {specks} cut-outs too small to weed");
    }
}

/// A demonstration job: read without a fault, its cup fitted, its motifs laid.
fn laid(folder: &str) -> (Job, usize) {
    let top = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-data").join(folder);
    let read = read_job(&std::fs::read_to_string(top.join("job.toml")).unwrap());
    assert!(
        read.diagnostics.iter().all(|d| d.severity == Severity::Note),
        "{folder}: {:?}",
        read.diagnostics
    );
    let job = read.job.unwrap_or_else(|| panic!("{folder}: {:?}", read.diagnostics));
    let mut diagnostics = Diagnostics::new();
    let cup = frusta::make::cup::fit(&job.cup, &mut diagnostics)
        .unwrap_or_else(|_| panic!("{folder}: {diagnostics:?}"));
    let motifs: Vec<Motif> = job
        .motifs
        .iter()
        .enumerate()
        .map(|(i, m)| {
            let at = KeyPath::of("motif").index(i);
            let file = m.art.drawing().expect("a drawing");
            let bytes = std::fs::read(top.join(file)).unwrap();
            let art = read_art(file, &bytes, &at, &mut diagnostics).unwrap();
            Motif {
                copies: (0..m.placing.count()).collect(),
                name: file.to_owned(),
                outline: art.sized(m.size, &at, &mut diagnostics).unwrap(),
                clearance: m.clearance,
                placing: m.placing.clone(),
                at,
                look: None,
                film: frusta::read::job::FilmId(0),
            }
        })
        .collect();
    let room = FreeArea {
        development: cup.zones[0].development,
        zone: cup.zones[0].zone.clone(),
        zone_number: 0,
        obstacles: Vec::new(),
    };
    let laying = lay(&motifs, &room, job.seed, &mut diagnostics)
        .unwrap_or_else(|_| panic!("{folder}: {diagnostics:#?}"));
    (job, laying.laid.len())
}

#[test]
fn the_jobs_are_sound_and_their_motifs_fit() {
    let (fair, motifs) = laid("harvest-fair");
    assert!((25..=35).contains(&motifs), "{motifs} motifs");
    assert_eq!((fair.films.len(), fair.accents.len(), fair.cup.rings.len()), (3, 1, 3));
    let (first, motifs) = laid("first-cup");
    assert_eq!((first.films.len(), motifs), (1, 7));
}
