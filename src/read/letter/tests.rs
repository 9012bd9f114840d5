use super::*;

fn words(text: &str, size: LetterSize) -> Words {
    Words {
        lines: text.split('|').map(str::to_owned).collect(),
        align: Align::Middle,
        size,
        letter_spacing: 0.0,
        line_spacing: 1.0,
    }
}

fn font(name: &str) -> Font {
    Font::embedded(name, &KeyPath::root(), &mut Diagnostics::new()).expect("embedded")
}

fn lettered(text: &str, name: &str, size: LetterSize) -> Lettering {
    let mut diagnostics = Diagnostics::new();
    letter(&words(text, size), &font(name), &KeyPath::root(), &mut diagnostics)
        .unwrap_or_else(|_| panic!("{diagnostics:?}"))
}

/// Source: HarfBuzz itself through uharfbuzz 0.5x (PyPI), on the same font files: glyphs and their summed
/// advance.
#[test]
fn glyphs_and_advances_are_those_of_harfbuzz() {
    for (name, text, glyphs, advance) in [
        ("Source Sans Pro Bold", "Harvest Fair", 12, 5332.0),
        ("Source Sans Pro Bold", "AVATAR To.", 10, 4820.0),
        ("Source Sans Pro Bold", "Toffee & office", 13, 6220.0),
        ("Kaushan Script", "Harvest Fair", 12, 4954.0),
        ("Kaushan Script", "AVATAR To.", 10, 5072.0),
        ("Kaushan Script", "Toffee & office", 12, 5551.0),
        ("Fredoka One", "Harvest Fair", 12, 5963.0),
        ("Fredoka One", "AVATAR To.", 10, 5504.0),
        ("Fredoka One", "Toffee & office", 12, 7148.0),
    ] {
        let l = lettered(text, name, LetterSize::Width(Mm(80.0)));
        let line = &l.lines[0];
        let sum: f64 = line.glyphs.iter().map(|g| g.advance.get()).sum();
        assert_eq!(line.glyphs.len(), glyphs, "{name}: {text}");
        approx::assert_relative_eq!(sum / l.em.get() * 1000.0, advance, epsilon = 1e-6);
    }
}

#[test]
fn sizes_are_kept() {
    let b = lettered("Harvest|Fair", "Kaushan Script", LetterSize::Width(Mm(80.0))).outline().bounds();
    approx::assert_abs_diff_eq!(b.width().get(), 80.0, epsilon = 0.005);
    approx::assert_abs_diff_eq!(b.centre().x, 0.0, epsilon = 0.005);
    approx::assert_abs_diff_eq!(b.centre().y, 0.0, epsilon = 0.005);
    let window = LetterSize::Fit { width: Mm(200.0), height: Mm(25.0) };
    let b = lettered("Harvest|Fair", "Fredoka One", window).outline().bounds();
    approx::assert_abs_diff_eq!(b.height().get(), 25.0, epsilon = 0.005);
    assert!(b.width().get() < 200.0);
    let h = lettered("H", "Source Sans Pro Bold", LetterSize::CapHeight(Mm(12.0))).outline().bounds();
    approx::assert_abs_diff_eq!(h.height().get(), 12.0, epsilon = 0.005);
}

#[test]
fn letters_of_a_script_are_united_and_counters_stay_open() {
    // Letters pushed into each other overlap as those of a script do.
    let pushed = Words { letter_spacing: -0.2, ..words("HHH", LetterSize::CapHeight(Mm(10.0))) };
    let l = letter(&pushed, &font("Source Sans Pro Bold"), &KeyPath::root(), &mut Diagnostics::new())
        .expect("letters");
    let apart: f64 = l.lines[0].glyphs.iter().map(|g| g.region.area().get()).sum();
    assert!(l.outline().area().get() < apart - 1.0, "overlaps count once");
    assert_eq!(l.outline().contours().iter().filter(|c| c.area() > 0.0).count(), 1);
    // "o" is a ring: one outer contour, one counter.
    let o = lettered("o", "Fredoka One", LetterSize::CapHeight(Mm(10.0))).outline();
    assert_eq!(o.contours().len(), 2);
    assert!(o.contours().iter().any(|c| c.area() < 0.0));
}

#[test]
fn lines_stand_as_aligned() {
    for (align, edge) in [(Align::Left, 0), (Align::Right, 1)] {
        let w = Words { align, ..words("Harvest|Fair", LetterSize::Width(Mm(80.0))) };
        let l = letter(&w, &font("Fredoka One"), &KeyPath::root(), &mut Diagnostics::new()).expect("letters");
        let [a, b] = [0, 1].map(|i| l.lines[i].outline().bounds());
        let gap = if edge == 0 { a.min.x - b.min.x } else { a.max.x - b.max.x };
        assert!(gap.abs() < 0.005, "{gap}");
        assert!(l.lines[0].baseline > l.lines[1].baseline, "the first line is on top");
    }
}

#[test]
fn spacing_widens_and_words_are_counted() {
    let wide = Words { letter_spacing: 0.1, ..words("To be", LetterSize::CapHeight(Mm(10.0))) };
    let f = font("Source Sans Pro Bold");
    let l = letter(&wide, &f, &KeyPath::root(), &mut Diagnostics::new()).expect("letters");
    let tight = lettered("To be", "Source Sans Pro Bold", LetterSize::CapHeight(Mm(10.0)));
    let grew = l.outline().bounds().width() - tight.outline().bounds().width();
    approx::assert_abs_diff_eq!(grew.get(), 4.0 * 0.1 * l.em.get(), epsilon = 0.01);
    let of: Vec<usize> = l.lines[0].glyphs.iter().filter(|g| !g.region.is_empty()).map(|g| g.word).collect();
    assert_eq!(of, [0, 0, 1, 1]);
}

#[test]
fn bad_text_is_a_clear_fault() {
    let long = "a".repeat(10_000);
    for (text, code) in [
        ("", "letter/text"),
        (" | ", "letter/text"),
        ("a\u{7}b", "letter/text"),
        (long.as_str(), "letter/text"),
        ("abc \u{5d0}\u{5d1}", "letter/no-glyph"),
        ("Fair \u{1f41d}", "letter/no-glyph"),
        ("\u{6f22}", "letter/no-glyph"),
    ] {
        let mut diagnostics = Diagnostics::new();
        let w = words(text, LetterSize::CapHeight(Mm(10.0)));
        assert!(letter(&w, &font("Kaushan Script"), &KeyPath::root(), &mut diagnostics).is_err());
        let fault = diagnostics.iter().next().expect("fault");
        assert_eq!(fault.code.id, code);
        assert!(!fault.help.is_empty());
    }
}

#[test]
fn a_file_that_is_no_font_is_a_clear_fault() {
    for bytes in [Vec::new(), b"a shopping list".to_vec(), vec![0; 21 << 20]] {
        let mut diagnostics = Diagnostics::new();
        assert!(Font::read("x.ttf", bytes, &KeyPath::root(), &mut diagnostics).is_err());
        assert_eq!(diagnostics.iter().next().expect("fault").code.id, "letter/bad-font");
    }
    let mut diagnostics = Diagnostics::new();
    assert!(Font::embedded("Times", &KeyPath::root(), &mut diagnostics).is_err());
    assert!(
        diagnostics
            .iter()
            .next()
            .expect("fault")
            .allowed
            .as_deref()
            .is_some_and(|a| a.contains("Fredoka One"))
    );
}

/// Source: Unicode Standard Annex 9, BidiTest.txt's rules as worked by hand: in a right-to-left line the
/// number stands at the left, its digits from left to right; a Latin word within keeps its order; brackets
/// stay round what they hold.
#[test]
fn case_1_numbers_in_a_right_to_left_line_run_from_left_to_right() {
    let (alef, bet, gimel) = ('\u{5d0}', '\u{5d1}', '\u{5d2}');
    let visual = |text: &str| -> String {
        directed_runs(text)
            .iter()
            .flat_map(|run| {
                let part: Vec<char> = text[run.range.clone()].chars().collect();
                if run.right_to_left { part.into_iter().rev().collect::<Vec<_>>() } else { part }
            })
            .collect()
    };
    for (text, want) in [
        (format!("{alef}{bet} 2024"), format!("2024 {bet}{alef}")),
        (format!("{alef}{bet} 12:30 {gimel}"), format!("{gimel} 12:30 {bet}{alef}")),
        (format!("{alef} Fair {bet}"), format!("{bet} Fair {alef}")),
        (format!("Fair {alef}{bet} 7"), format!("Fair 7 {bet}{alef}")),
        ("Fair 2024".to_owned(), "Fair 2024".to_owned()),
        (format!("{alef}({bet})"), format!("){bet}({alef}")),
        (String::new(), String::new()),
    ] {
        assert_eq!(visual(&text), want, "{text}");
    }
}
