//! Cups of one kind from files of their own: what a job gets of them, and what is said when they cannot be used.

use frusta::read::job::read_job_in;
use frusta::{InMemory, Severity};

const FILMS: &str = "[[film]]\nname = \"white\"\nsheet = [300, 200]\n";

fn shelf(text: &str) -> InMemory {
    InMemory([("blanks/tall.toml".to_owned(), text.as_bytes().to_vec())].into())
}

fn blank(rest: &str) -> String {
    format!(
        "blank = \"Tall\"\n[cup]\nrings = [{{ up = 0, girth = 207.0 }}, {{ up = 100, girth = 240.0 }}]\nwall = 100\n{rest}"
    )
}

fn specimen(name: &str, off: f64) -> String {
    format!("[[specimen]]\nname = \"{name}\"\ngirths = [{}, {}]\n", 207.0 + off, 240.0 + off)
}

/// By hand: the girths are the means over the specimens; a cup that was read twice counts twice.
#[test]
fn any_cup_of_the_kind_is_laid_out_by_the_mean() {
    let text = blank(&(specimen("2", 0.3) + &specimen("3", 0.6) + &specimen("3", 0.9)));
    let read = read_job_in(&format!("cup = \"blanks/tall\"\n{FILMS}"), &shelf(&text));
    let job = read.job.unwrap_or_else(|| panic!("{:?}", read.diagnostics.into_vec()));
    let girths: Vec<f64> = job.cup.rings.iter().map(|r| r.girth.0).collect();
    assert!((girths[0] - 207.45).abs() < 1e-9 && (girths[1] - 240.45).abs() < 1e-9, "{girths:?}");
    let alike = job.cup.alike.expect("a kind");
    assert_eq!(
        alike.specimens.iter().map(|s| (s.name.as_str(), s.reads)).collect::<Vec<_>>(),
        [("1", 1), ("2", 1), ("3", 2)]
    );
    assert_eq!((alike.blank.as_str(), alike.chosen), ("Tall", None));
    // Its text goes into the kit with the job's.
    assert!(job.written.text.contains("# blanks/tall.toml as it was read:\n# blank = \"Tall\""));
}

/// The chosen cup's girths lie between its own readings and the mean, the nearer to its own the oftener it was read;
/// what is promised of it is narrower than of any cup.
#[test]
fn a_chosen_cup_is_drawn_towards_its_kind() {
    let of = |rest: &str, specimen: &str| {
        let cup = format!("cup = {{ blank = \"blanks/tall\", specimen = \"{specimen}\", lap = 3 }}\n{FILMS}");
        let cup = if specimen.is_empty() { format!("cup = \"blanks/tall\"\n{FILMS}") } else { cup };
        let read = read_job_in(&cup, &shelf(&blank(rest)));
        read.job.unwrap_or_else(|| panic!("{:?}", read.diagnostics.into_vec())).cup
    };
    let others = specimen("2", 1.2) + &specimen("3", -0.3) + &specimen("4", 0.1);
    let (once, any) = (of(&others, "2"), of(&others, ""));
    let often = of(&(others.clone() + &specimen("2", 1.2).repeat(8)), "2");
    let girth = |c: &frusta::read::job::CupSpec| c.rings[0].girth.0;
    assert!(girth(&any) < girth(&once) && girth(&once) < 208.2, "{} {}", girth(&any), girth(&once));
    assert!(208.2 - girth(&often) < 0.35 * (208.2 - girth(&once)), "{}", girth(&often));
    assert!(once.common < any.common && once.lap.0 == 3.0 && any.lap.0 == 0.0);
}

/// Coats of the blank serve a job that says none, and no other.
#[test]
fn coats_of_the_blank_serve_a_job_without() {
    let text = blank("[finish]\ncups = 7\n");
    let cups = |rest: &str| {
        let read = read_job_in(&format!("cup = \"blanks/tall\"\n{FILMS}{rest}"), &shelf(&text));
        read.job.unwrap_or_else(|| panic!("{:?}", read.diagnostics.into_vec())).finish.map(|f| f.cups)
    };
    assert_eq!(cups(""), Some(7));
    assert_eq!(cups("[finish]\ncups = 2\n"), Some(2));
}

/// Few cups of a kind that differ little share a layout; many that differ much do not, and that is a warning.
#[test]
fn whether_cups_can_share_a_layout_is_told() {
    let severity = |cups: usize, off: f64| {
        let text = blank(
            &(1..8)
                .map(|i| specimen(&i.to_string(), off * if i % 2 == 0 { 1.0 } else { -1.0 }))
                .collect::<String>()
                .replace("name = \"1\"", "name = \"9\""),
        );
        let read =
            read_job_in(&format!("cup = \"blanks/tall\"\n{FILMS}[order]\ncups = {cups}\n"), &shelf(&text));
        read.diagnostics.iter().find(|d| d.code.id == "cup/alike").expect("it is told").severity
    };
    assert_eq!(severity(6, 0.1), Severity::Note);
    assert_eq!(severity(24, 1.6), Severity::Warning);
}

/// Faults of the blank's file are told with its name and line, all at once; nothing panics.
#[test]
fn faults_of_a_blank_are_told_with_its_line() {
    let job = format!("cup = \"blanks/tall\"\n{FILMS}");
    let found = |text: &str| {
        let read = read_job_in(&job, &shelf(text));
        assert!(read.job.is_none());
        read.diagnostics
            .iter()
            .map(|d| format!("{} {} {}", d.code.id, d.file.clone().unwrap_or_default(), d.at))
            .collect::<Vec<_>>()
    };
    let bad = blank(
        "girdle = 3\n[[specimen]]\nname = \"2\"\ngirths = [207.0]\n[[specimen]]\nname = \"3\"\ngirths = [207.0, 340.0]\n",
    );
    let all = found(&bad);
    for line in [5, 8, 11] {
        assert!(
            all.iter().any(|f| f.contains(&format!("blanks/tall.toml, line {line} cup"))),
            "{line}: {all:?}"
        );
    }
    assert!(
        found("blank = \"x\"\n").iter().any(|f| f.starts_with("job/missing-key blanks/tall.toml, line 1"))
    );
    let torn = found("blank = \"x\n[cup]\nwall = 3\n");
    assert!(torn.iter().any(|f| f.starts_with("job/syntax blanks/tall.toml, line 1")), "{torn:?}");
    assert!(!torn.iter().any(|f| f.starts_with("job/missing-key")), "{torn:?}");
    let none = read_job_in(&format!("cup = \"blanks/wide\"\n{FILMS}"), &shelf(""));
    assert!(none.diagnostics.iter().any(|d| d.code.id == "cup/blank" && d.file.is_none()));
    let named = format!("cup = {{ blank = \"blanks/tall\", specimen = \"7\" }}\n{FILMS}");
    let d = read_job_in(&named, &shelf(&blank(""))).diagnostics.into_vec();
    assert!(d.iter().any(|d| d.code.id == "cup/blank" && d.at.to_string() == "cup.specimen"), "{d:?}");
    let outside = read_job_in(&format!("cup = \"../tall\"\n{FILMS}"), &shelf(""));
    assert!(outside.diagnostics.iter().any(|d| d.code.id == "job/file-name"));
}

/// A specimen by a paper strip: its girths are the first one's and what the strip showed; it is read by the tape or by a
/// strip, and a strip tells the kind's spread better than a tape.
#[test]
fn a_paper_strip_tells_cups_apart() {
    let of = |rest: &str| read_job_in(&format!("cup = \"blanks/tall\"\n{FILMS}"), &shelf(&blank(rest)));
    let strip = |name: &str, by: [f64; 2]| {
        format!("[[specimen]]\nname = \"{name}\"\nstrip = [{}, {}]\n", by[0], by[1])
    };
    let read = of(&(strip("2", [0.06, 0.06]) + &strip("3", [-0.06, 0.0])));
    let cup = read.job.unwrap_or_else(|| panic!("{:?}", read.diagnostics.into_vec())).cup;
    let girths: Vec<f64> = cup.rings.iter().map(|r| r.girth.0).collect();
    assert!((girths[0] - 207.0).abs() < 1e-9 && (girths[1] - 240.02).abs() < 1e-9, "{girths:?}");
    // The mean is as sure as the one tape reading that all hang on.
    assert!(cup.rings.iter().all(|r| r.reads == 1));
    let taped = of(&(specimen("2", 0.06) + &specimen("3", -0.03)));
    let spread = |c: &frusta::read::job::CupSpec| c.alike.as_ref().expect("a kind").spread.rms();
    let taped = taped.job.expect("sound").cup;
    assert!(spread(&cup) < spread(&taped), "{} {}", spread(&cup), spread(&taped));
    for (rest, says) in [
        ("[[specimen]]\nname = \"2\"\nstrip = [0.3]\n".to_owned(), "was not read at the heights"),
        ("[[specimen]]\nname = \"2\"\nstrip = [30, 0]\n".to_owned(), "is no cup of this kind"),
        ("[[specimen]]\nname = \"2\"\n".to_owned(), "its girths"),
        (specimen("2", 0.3) + "strip = [0.3, 0.3]\n", "by the tape and by a strip"),
    ] {
        let told: Vec<String> = of(&rest).diagnostics.iter().map(|d| d.to_string()).collect();
        assert!(told.iter().any(|t| t.contains(says)), "{rest}: {told:?}");
    }
}
