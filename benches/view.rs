//! Pictures of the finished demonstration cup: three stills of 420 x 560 (1260 x 560 together), the animated
//! turn, the turning page's triangles. Counts first. The peer is resvg drawing the application map of the
//! same cup, the same pieces flat, at 1260 x 560 in the same run.
//!
//! Run: `cargo bench --bench view`.

use frusta::base::diag::Diagnostics;
use frusta::make::plan;
use frusta::read::job::{Effort, read_job};
use frusta::read::source::{Missing, Source};
use frusta::write::ink::svg;
use frusta::write::map::{rows, wall};
use frusta::write::view::{self, bare::Bare, camera::Camera, scene, texture::UnwrappedTexture};
use std::ops::ControlFlow;
use std::time::Instant;

struct Folder(std::path::PathBuf);

impl Source for Folder {
    fn bytes(&self, name: &str, _limit: u64) -> Result<Vec<u8>, Missing> {
        std::fs::read(self.0.join(name)).map_err(|e| Missing { why: e.to_string() })
    }
}

fn best<T>(times: usize, mut run: impl FnMut() -> T) -> (f64, T) {
    let mut least = f64::INFINITY;
    let mut last = None;
    for _ in 0..times {
        let start = Instant::now();
        last = Some(run());
        least = least.min(start.elapsed().as_secs_f64() * 1e3);
    }
    (least, last.expect("ran"))
}

fn main() {
    let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-data/harvest-fair");
    let text = std::fs::read_to_string(folder.join("job.toml")).expect("the demonstration job");
    let job = read_job(&text).job.expect("a sound job");
    let mut go_on = |_| ControlFlow::Continue(());
    let plan = plan::run(
        &job,
        &frusta::read::materials::Materials::read(&job, &Folder(folder)),
        Effort::Quick,
        &mut Diagnostics::new(),
        &mut go_on,
    )
    .expect("a plan");
    let plan = frusta::make::verify::verify(plan).expect("kept promises");
    let (worn, scene) = best(5, || scene::Scene::new(&plan));
    let points: usize = scene.patches.iter().flat_map(|p| &p.rings).map(Vec::len).sum();
    println!(
        "{} pieces, {points} points worn, {} threads",
        scene.patches.len(),
        rayon::current_num_threads()
    );
    println!("{worn:9.1} ms  outlines put on the wall, once for all pictures");
    let cameras: Vec<Camera> = view::cameras(&scene, view::SIZE).into_iter().take(3).collect();
    let (ours, pictures) = best(9, || view::stills(&scene, &cameras, view::SIZE));
    let pixels: usize = pictures.iter().map(|p| p.width * p.height).sum();
    println!("{ours:9.1} ms  three stills, {pixels} pixels together");
    let (packed, bytes) = best(5, || {
        let bare = Bare::new(&scene);
        view::views(&scene, &bare).expect("PNG").iter().map(|v| v.png.len()).sum::<usize>()
    });
    println!("{packed:9.1} ms  all five stills as PNG, {bytes} bytes");
    let (turned, bytes) = best(3, || {
        let texture = UnwrappedTexture::new(&scene.patches, &scene.body, view::turn::COLUMNS);
        view::turn::animated(&scene, &texture, &view::turn::BareTurn::new(&scene)).expect("PNG").len()
    });
    println!("{turned:9.1} ms  the animated turn, {} frames, {bytes} bytes", view::turn::FRAMES);
    let (tiled, meshes) = best(5, || view::mesh::meshes(&plan).expect("triangles"));
    let (packed, bytes) = best(5, || view::pack::packed(&meshes).bytes.len());
    let triangles: usize = meshes.iter().map(|m| m.triangles.len()).sum();
    println!("{tiled:9.1} ms  all pieces in triangles for the turning page, {triangles}");
    println!("{packed:9.1} ms  the same packed, {bytes} bytes");
    let rows = rows::rows(&plan);
    let body = wall::body(&plan);
    let flat = svg::drawing(&wall::drawing(&plan, &rows, &body).0);
    let tree = resvg::usvg::Tree::from_data(&flat, &resvg::usvg::Options::default()).expect("a map");
    let (peer, _) = best(5, || {
        let mut map = resvg::tiny_skia::Pixmap::new(1260, 560).expect("a size");
        let s = resvg::tiny_skia::Transform::from_scale(
            1260.0 / tree.size().width(),
            1260.0 / tree.size().width(),
        );
        resvg::render(&tree, s, &mut map.as_mut());
        map
    });
    println!("{peer:9.1} ms  peer: resvg draws the flat map at 1260 x 560; ours / peer = {:.2}", ours / peer);
}
