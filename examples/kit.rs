//! The whole job through the library, without the command line: reads a job folder, makes the kit in memory
//! and says what it would write. `cargo run --release --example kit -- demo-data/harvest-fair`

use frusta::base::diag::Diagnostics;
use frusta::read::job::{Effort, read_job};
use std::ops::ControlFlow;
use std::time::Instant;

struct Folder(std::path::PathBuf);

impl frusta::read::source::Source for Folder {
    fn bytes(&self, name: &str, _limit: u64) -> Result<Vec<u8>, frusta::read::source::Missing> {
        std::fs::read(self.0.join(name)).map_err(|e| frusta::read::source::Missing { why: e.to_string() })
    }
}

fn main() {
    let folder = std::path::PathBuf::from(std::env::args().nth(1).expect("a job folder"));
    let text = std::fs::read_to_string(folder.join("job.toml")).expect("job.toml");
    let read = read_job(&text);
    let mut diagnostics = Diagnostics::new();
    diagnostics.extend(read.diagnostics.iter().cloned());
    let Some(job) = read.job else { return show(&diagnostics) };
    let (start, mut last) = (Instant::now(), ("read", Instant::now()));
    let mut progress = |stage| {
        if let frusta::make::plan::Stage::Begins(name) = stage {
            eprintln!("{:>10} {:?}", last.0, last.1.elapsed());
            last = (name, Instant::now());
        }
        ControlFlow::Continue(())
    };
    let plan = frusta::make::plan::run(
        &job,
        &frusta::read::materials::Materials::read(&job, &Folder(folder)),
        Effort::Quick,
        &mut diagnostics,
        &mut progress,
    );
    eprintln!("{:>10} {:?}", last.0, last.1.elapsed());
    show(&diagnostics);
    let Ok(plan) = plan else { return };
    for stage in &plan.stages {
        eprintln!("{}: {:?}", stage.stage, stage.counts);
    }
    let t = Instant::now();
    let verified = match frusta::make::verify::verify(plan) {
        Ok(v) => v,
        Err(broken) => {
            return broken.iter().for_each(|d| eprintln!("{} {:?} {:?}", d.message, d.measured, d.allowed));
        }
    };
    eprintln!("{:>10} {:?} {:?}", "verify", t.elapsed(), verified.report());
    let t = Instant::now();
    match frusta::write::kit(&verified) {
        Ok(kit) => {
            eprintln!("{:>10} {:?}", "write", t.elapsed());
            let out = std::env::args().nth(2);
            for file in &kit.files {
                println!("{} {}", file.path, file.bytes.len());
                if let Some(out) = &out {
                    let path = std::path::Path::new(out).join(&file.path);
                    std::fs::create_dir_all(path.parent().expect("a folder")).expect("made");
                    std::fs::write(path, &file.bytes).expect("written");
                }
            }
        }
        Err(broken) => {
            broken.iter().for_each(|d| eprintln!("{} {:?} {:?}", d.message, d.measured, d.allowed))
        }
    }
    eprintln!("{:>10} {:?}", "all", start.elapsed());
}

fn show(diagnostics: &Diagnostics) {
    for d in diagnostics.iter() {
        eprintln!("{} {} {}: {} {:?}", d.severity, d.code.id, d.at, d.message, d.measured);
    }
}
