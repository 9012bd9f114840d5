//! A script name of twelve letters in three layers: shaped, united, offset, checked and written.
//!
//! `cargo bench --bench decal [-- RUNS]`; the target is 30 ms for the whole. Times are the best of several
//! runs.

use frusta::base::diag::{Diagnostics, KeyPath};
use frusta::base::units::Mm;
use frusta::make::cup::fit;
use frusta::make::decal;
use frusta::make::film::Effort;
use frusta::make::plan;
use frusta::make::verify::verify;
use frusta::read::job::read_job;
use frusta::read::letter::{Align, Font, LetterSize, Words, letter};
use frusta::read::materials::Materials;
use frusta::read::source::InMemory;
use std::ops::ControlFlow;
use std::time::Instant;

const JOB: &str = r##"
title = "bench"
[cup]
rings = [{ up = 0, girth = 207.5 }, { up = 165, girth = 270.0 }]
wall = 165
keep-clear = { rim = 20, base = 6 }
[[film]]
name = "damson"
sheet = [300, 200]
[[film]]
name = "straw"
sheet = [300, 200]
[[film]]
name = "leaf"
sheet = [300, 200]
[[decal]]
text = "Meadowsweets"
font = "Kaushan Script"
width = 90
up = 80
lies = "LIES"
layers = [{ film = "damson", offset = 2 }, { film = "straw", offset = 1.2 }, { film = "leaf" }]
"##;

/// Runs of each part, of which the best counts: `-- 1` is for counting instructions.
fn runs() -> usize {
    std::env::args().skip(1).find_map(|a| a.parse().ok()).unwrap_or(15)
}

fn best<T>(mut run: impl FnMut() -> T) -> (f64, T) {
    let mut out = run();
    let mut least = f64::INFINITY;
    for _ in 0..runs() {
        let start = Instant::now();
        out = run();
        least = least.min(start.elapsed().as_secs_f64() * 1e3);
    }
    (least, out)
}

fn main() {
    let at = KeyPath::root();
    let font = Font::embedded("Kaushan Script", &at, &mut Diagnostics::new()).expect("embedded");
    let words = Words {
        lines: vec!["Meadowsweets".into()],
        align: Align::Middle,
        size: LetterSize::Width(Mm(90.0)),
        letter_spacing: 0.0,
        line_spacing: 1.0,
    };
    let (shaped, l) = best(|| letter(&words, &font, &at, &mut Diagnostics::new()).expect("letters"));
    println!("{:44} {shaped:7.2} ms  {} nodes", "shaped and united", l.outline().nodes());
    for lies in ["rigid", "upright"] {
        let job = read_job(&JOB.replace("LIES", lies)).job.expect("a job");
        let cup = fit(&job.cup, &mut Diagnostics::new()).expect("a cup");
        let materials = Materials::read(&job, &InMemory::default());
        let (made, decals) =
            best(|| decal::make(&job, &materials, &cup, &mut Diagnostics::new()).expect("a decal"));
        let nodes: usize = decals[0].layers.iter().map(|l| l.solid.nodes()).sum();
        println!(
            "{:44} {made:7.2} ms  {nodes} nodes in three layers",
            format!("{lies}: shaped, united, offset")
        );
        let planned = || {
            let go = &mut |_| ControlFlow::Continue(());
            plan::run(&job, &materials, Effort::Quick, &mut Diagnostics::new(), go).expect("a plan")
        };
        let (all, plan) = best(planned);
        println!(
            "{:44} {all:7.2} ms  {} pieces on {} sheets",
            format!("{lies}: planned, film laid"),
            plan.pieces.len(),
            plan.sheets.len()
        );
        let (checked, verified) = best(|| verify(plan.clone()).expect("kept"));
        println!("{:44} {checked:7.2} ms", format!("{lies}: measured again"));
        let (written, bytes) = best(|| {
            verified
                .sheets()
                .iter()
                .map(|s| frusta::write::cut::sheet::file(&verified, s).len())
                .sum::<usize>()
        });
        println!("{:44} {written:7.2} ms  {bytes} bytes", format!("{lies}: cut files written"));
        println!(
            "{:44} {:7.2} ms  (target 30)",
            format!("{lies}: shaped to written"),
            made + checked + written
        );
    }
}
