//! Packages in the lock file: none in two versions without a reason.

use std::collections::{BTreeMap, BTreeSet};

/// Packages that stand twice or more in the lock file, and who wants the older ones. Those that have an i_
/// are one engine of boolean operations; "off" are named by an option that is not taken, so that they are in
/// the file and not built.
const TWICE: &[(&str, &str)] = &[
    ("float_next_after", "geo is a major version ahead of lyon_tessellation; one function each"),
    ("getrandom", "off: rust_decimal's options for random decimals"),
    ("i_float", "geo's, below i_overlay"),
    ("i_key_sort", "geo's, below i_overlay"),
    (
        "i_overlay",
        "geo holds it below 4.6; outlines are made with a later one, and what verify measures comes from geo",
    ),
    ("i_shape", "geo's, below i_overlay"),
    ("i_tree", "geo's, below i_overlay"),
    (
        "miniz_oxide",
        "png names it besides flate2, which is a version ahead; flate2's own is asked for by png's options",
    ),
    ("quick-error", "tiff's is a major version ahead of proptest's"),
    ("r-efi", "off: below getrandom"),
    ("rand", "off: rust_decimal's options for random decimals"),
    ("rand_chacha", "off: below rand"),
    ("rand_core", "off: below rand"),
    ("syn", "builds macros only: zerocopy's are a major version behind serde's and clap's"),
];

/// Truth: the lock file that cargo writes (its `[[package]]` tables, The Cargo Book).
#[test]
fn a_package_in_two_versions_has_a_reason() {
    let lock = include_str!("../../Cargo.lock");
    let mut versions: BTreeMap<&str, BTreeSet<&str>> = BTreeMap::new();
    for package in lock.split("[[package]]").skip(1) {
        let of = |key: &str| {
            package.lines().find_map(|l| l.strip_prefix(key)?.strip_prefix(" = \"")?.strip_suffix('"'))
        };
        versions.entry(of("name").expect("a name")).or_default().insert(of("version").expect("a version"));
    }
    assert!(versions.len() > 100, "the file was read");
    let twice: Vec<&str> = versions.iter().filter(|v| v.1.len() > 1).map(|v| *v.0).collect();
    let known: Vec<&str> = TWICE.iter().map(|t| t.0).collect();
    assert_eq!(twice, known, "in two versions, and known to be");
}
