//! The main job from text to the bytes of the kit, stage by stage: counts first, then time, then memory.
//!
//! The peer is a general-purpose SVG library (usvg) that does nothing but parse the same art once and the
//! kit's SVGs once, in the same run: the ratio says how much the whole job costs beside merely reading what
//! goes in and comes out.
//!
//! `cargo bench --bench job` (targets: the demonstration below 1 s and 200 MB, the small job below 0.1 s)

use frusta::base::diag::Diagnostics;
use frusta::edge::folder::Folder;
use frusta::make::plan::{self, Plan, Stage};
use frusta::make::verify::{Verified, verify};
use frusta::read::job::{Effort, Job, read_job};
use frusta::write::{Kit, kit};
use std::collections::BTreeMap;
use std::ops::ControlFlow;
use std::path::Path;
use std::time::Instant;

const ROUNDS: usize = 5;

fn job(folder: &Path) -> Job {
    let text = std::fs::read_to_string(folder.join("job.toml")).expect("job.toml");
    read_job(&text).job.expect("a job without fault")
}

/// One run: its seconds by stage in the order they ran, and what it made.
fn once(job: &Job, folder: &Path) -> (Vec<(&'static str, f64)>, Verified, Kit) {
    let source = Folder::open(folder).expect("the job's folder");
    let mut diagnostics = Diagnostics::new();
    let mut times: Vec<(&'static str, Instant)> = vec![("open", Instant::now())];
    let made: Result<Plan, _> = plan::run(
        job,
        &frusta::read::materials::Materials::read(job, &source),
        Effort::Quick,
        &mut diagnostics,
        &mut |stage| {
            if let Stage::Begins(name) = stage {
                times.push((name, Instant::now()));
            }
            ControlFlow::Continue(())
        },
    );
    let plan =
        made.unwrap_or_else(|_| panic!("{:?}", diagnostics.iter().map(|d| &d.message).collect::<Vec<_>>()));
    times.push(("verify", Instant::now()));
    let verified = verify(plan).expect("every promise kept");
    times.push(("write", Instant::now()));
    let kit = kit(&verified).expect("read back as written");
    let end = Instant::now();
    let ends = times.iter().skip(1).map(|t| t.1).chain([end]);
    let seconds = times.iter().zip(ends).map(|((name, from), to)| (*name, (to - *from).as_secs_f64()));
    (seconds.collect(), verified, kit)
}

/// Seconds that usvg takes to parse the art and the kit's SVGs.
fn peer(job: &Job, folder: &Path, kit: &Kit) -> f64 {
    let art: BTreeMap<&str, Vec<u8>> = job
        .motifs
        .iter()
        .filter_map(|m| m.art.drawing())
        .map(|file| (file, std::fs::read(folder.join(file)).expect("art")))
        .collect();
    let written = kit.files.iter().filter(|f| f.path.ends_with(".svg")).map(|f| &f.bytes);
    let texts: Vec<&Vec<u8>> = art.values().chain(written).collect();
    let options = usvg::Options::default();
    let best = (0..ROUNDS).map(|_| {
        let start = Instant::now();
        for text in &texts {
            usvg::Tree::from_data(text, &options).expect("an SVG");
        }
        start.elapsed().as_secs_f64()
    });
    best.fold(f64::INFINITY, f64::min)
}

/// Largest resident set so far, MB (Linux only).
fn peak() -> Option<f64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find(|l| l.starts_with("VmHWM:"))?;
    Some(line.split_whitespace().nth(1)?.parse::<f64>().ok()? / 1024.0)
}

fn main() {
    for (name, target) in [("demo-data/first-cup", 0.1), ("demo-data/harvest-fair", 1.0)] {
        let folder = Path::new(name);
        let job = job(folder);
        println!("{name}");
        let runs: Vec<_> = (0..ROUNDS).map(|_| once(&job, folder)).collect();
        let (_, verified, kit) = &runs[0];
        for stage in verified.stages() {
            let counts: Vec<String> = stage.counts.iter().map(|(what, n)| format!("{n} {what}")).collect();
            println!("  {:>9}  {}", stage.stage, counts.join(", "));
        }
        let r = verified.report();
        println!(
            "  {:>9}  {} pairs of edges on the wall, {} on sheets",
            "verify", r.edge_pairs_on_wall, r.edge_pairs_on_sheets
        );
        let bytes: usize = kit.files.iter().map(|f| f.bytes.len()).sum();
        println!("  {:>9}  {} files, {bytes} bytes", "write", kit.files.len());
        let same = runs.iter().all(|(_, _, k)| k.files == kit.files);
        println!("  same bytes in every run: {same}");
        let total = |run: &[(&str, f64)]| run.iter().map(|s| s.1).sum::<f64>();
        let best = runs.iter().map(|r| &r.0).min_by(|a, b| total(a).total_cmp(&total(b))).expect("a run");
        let stages: Vec<String> = best.iter().map(|(n, s)| format!("{n} {:.1}", s * 1e3)).collect();
        println!("  ms        {}", stages.join(", "));
        let (all, peer) = (total(best), peer(&job, folder, kit));
        println!(
            "  whole     {:.3} s (target {target} s); reading in and out by usvg {:.3} s: {:.1} times",
            all,
            peer,
            all / peer
        );
        match peak() {
            Some(mb) => println!("  memory    {mb:.0} MB at most so far (target 200 MB)"),
            None => println!("  memory    not known on this system"),
        }
    }
}
