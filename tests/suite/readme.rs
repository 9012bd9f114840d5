//! README says what is: its job runs, its table is the kit's, its first commands are there.

use frusta::write::kit::{TABLE, When};
use frusta::{InMemory, kit_of};
use std::fs;
use std::path::Path;

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

fn readme() -> String {
    fs::read_to_string(root().join("README.md")).expect("README.md")
}

#[test]
fn the_job_in_readme_runs_and_is_the_example() {
    let text = readme();
    let blocks: Vec<&str> =
        text.split("```toml\n").skip(1).map(|b| b.split("```").next().expect("an end")).collect();
    let job = fs::read_to_string(root().join("examples/readme-job.toml")).expect("the example");
    assert_eq!(blocks.join("\n"), job, "README shows examples/readme-job.toml");
    let art = fs::read(root().join("demo-data/first-cup/art/robin.svg")).expect("art");
    let kit = kit_of(&job, &InMemory([("art/robin.svg".to_owned(), art)].into()));
    if let Err(faults) = kit {
        panic!("{:#?}", faults.iter().map(ToString::to_string).collect::<Vec<_>>());
    }
}

#[test]
fn the_table_in_readme_is_the_kits() {
    let text = readme();
    for row in TABLE {
        let only =
            if let When::If(what) = row.when { format!(" (if the job has {what})") } else { String::new() };
        let line = format!("| `{}` | {}{only} |", row.file, row.holds);
        assert!(text.contains(&line), "README lacks: {line}");
    }
    let lines = text.lines().filter(|l| l.starts_with("| `")).count();
    assert_eq!(lines, TABLE.len(), "README names files that no row makes");
}
