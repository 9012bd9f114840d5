//! The word that was most likely meant.
//!
//! Imports: none.

/// Words that makers may reach for, and the job's own.
const ALSO_CALLED: &[(&str, &str)] = &[
    ("circumference", "girth"),
    ("slant", "up"),
    ("height", "up"),
    ("film-name", "film"),
    ("layer", "layers"),
    ("lines", "text"),
    ("words", "text"),
    ("font-size", "cap-height"),
    ("size", "cap-height"),
    ("window", "fits"),
    ("corners", "join"),
    ("hollow", "overlap"),
    ("placing", "lies"),
    ("laying", "lies"),
    ("svg", "art"),
    ("file", "art"),
    ("count", "copies"),
    ("number", "copies"),
    ("quantity", "copies"),
    ("rotation", "turn"),
    ("angle", "turn"),
    ("overlap", "lap"),
    ("offset", "border"),
    ("min", "smallest"),
    ("max", "largest"),
    ("shape", "family"),
    ("length", "wall"),
    ("position", "at"),
    ("units", "unit"),
    ("random", "seed"),
    ("volume", "capacity"),
    ("mirror", "mirrored"),
    ("top", "rim"),
    ("bottom", "base"),
];

/// The known word nearest to a word, if any is near: case, underscores and one or two letters do not count.
pub fn suggestion<'k>(word: &str, known: &[&'k str]) -> Option<&'k str> {
    let plain = word.to_lowercase().replace(['_', ' '], "-");
    let near = known
        .iter()
        .map(|k| (strsim::damerau_levenshtein(&plain, k), *k))
        .min_by_key(|(d, _)| *d)
        .filter(|(d, k)| *d <= 1.max(k.chars().count().min(plain.chars().count()) / 3));
    near.map(|(_, k)| k).or_else(|| {
        let (_, ours) = ALSO_CALLED.iter().find(|(other, ours)| *other == plain && known.contains(ours))?;
        known.iter().copied().find(|k| k == ours)
    })
}
