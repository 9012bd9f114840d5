//! The figures in the documentation of `outline` are what its example draws today.

#[allow(dead_code, reason = "its main writes the figures")]
#[path = "../../examples/outline_figures.rs"]
mod example;

#[test]
fn the_figures_of_the_documentation_are_what_the_example_draws() {
    let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join(example::FOLDER);
    let figures = example::figures();
    for (name, text) in &figures {
        let kept = std::fs::read_to_string(folder.join(name)).expect("a checked-in figure");
        assert_eq!(&kept, text, "{name}: run `cargo run --example outline_figures` and look at what changed");
        assert!(
            !text.trim_end().contains("\n\n") && text.starts_with("<svg "),
            "{name} is one block of HTML"
        );
        assert!(text.len() < 6000, "{name} is small");
    }
    let kept = std::fs::read_dir(folder).expect("the folder").count();
    assert_eq!(kept, figures.len(), "no figure that nobody draws");
}
