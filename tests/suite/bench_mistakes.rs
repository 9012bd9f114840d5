//! Each of the mistakes that makers really make on a decorated cup, found when it alone is put into the order that is
//! right as it stands (common practice, no source).

use crate::bench_order::{right, run, warned};

/// Replaces what stands there once, so that a mistake that is no longer put in fails the test.
fn with(text: &str, (from, to): (&str, &str)) -> String {
    assert_eq!(text.matches(from).count(), 1, "{from:?} must stand once in the job");
    text.replacen(from, to, 1)
}

/// One mistake: its name, what is changed, what is found and at which step.
type Mistake =
    (&'static str, &'static [(&'static str, &'static str)], &'static [(&'static str, &'static str)]);

const MISTAKES: &[Mistake] = &[
    (
        "sanded under clear film",
        &[(
            "[[finish.step]]\ndo = \"film\"\nname = \"pattern\"",
            "[[finish.step]]\ndo = \"sand\"\n\n[[finish.step]]\ndo = \"film\"\nname = \"pattern\"",
        )],
        &[("finish/sanded-under-film", "finish.step[10]")],
    ),
    (
        "film on loose glitter",
        &[(
            "[[finish.step]]\ndo = \"cure\"\n\n[[finish.step]]\ndo = \"glue seal\"\nwith = \"sealing glue\"\n\n[[finish.step]]\ndo = \"clear coat\"\nwith = \"build resin\"\n\n[[finish.step]]\ndo = \"clear coat\"\nwith = \"build resin\"\n\n[[finish.step]]\ndo = \"thin coat\"\nwith = \"build resin\"\n\n[[finish.step]]\ndo = \"film\"\nname = \"pattern\"",
            "[[finish.step]]\ndo = \"film\"\nname = \"pattern\"",
        )],
        &[("finish/out-of-order", "finish.step[4]"), ("finish/out-of-order", "finish.step[5]")],
    ),
    (
        "film on the glue seal, no coat between",
        &[(
            "[[finish.step]]\ndo = \"glue seal\"\nwith = \"sealing glue\"\n\n[[finish.step]]\ndo = \"clear coat\"\nwith = \"build resin\"\n\n[[finish.step]]\ndo = \"clear coat\"\nwith = \"build resin\"\n\n[[finish.step]]\ndo = \"thin coat\"\nwith = \"build resin\"\n\n",
            "[[finish.step]]\ndo = \"glue seal\"\nwith = \"sealing glue\"\n\n",
        )],
        &[("finish/out-of-order", "finish.step[7]")],
    ),
    (
        "glitter without an adhesive",
        &[("[[finish.step]]\ndo = \"adhesive\"\nwith = \"UV resin\"\n\n# Heavy", "# Heavy")],
        &[("finish/out-of-order", "finish.step[3]")],
    ),
    (
        "glue that dries before the last of four glitters is on",
        &[(
            "[[finish.step]]\ndo = \"adhesive\"\nwith = \"UV resin\"\n\n# Heavy",
            "[[finish.step]]\ndo = \"adhesive\"\nwith = \"sealing glue\"\n\n# Heavy",
        )],
        &[("finish/adhesive-dries", "finish.step[4]")],
    ),
    (
        "recoat window missed by waiting",
        &[(
            "[[finish.step]]\ndo = \"clear coat\"\nwith = \"build resin\"\n\n[[finish.step]]\ndo = \"clear coat\"\nwith = \"build resin\"\n\n",
            "[[finish.step]]\ndo = \"clear coat\"\nwith = \"build resin\"\nwait = \"30 h\"\n\n[[finish.step]]\ndo = \"clear coat\"\nwith = \"build resin\"\n\n",
        )],
        &[("finish/window-not-met", "finish.step[7]")],
    ),
    (
        "recoat window missed by the steps between",
        &[
            (
                "[[finish.step]]\ndo = \"thin coat\"\nwith = \"build resin\"\n\n[[finish.step]]\ndo = \"film\"\nname = \"pattern\"\n\n# A full coat right over the film.\n[[finish.step]]\ndo = \"clear coat\"\nwith = \"build resin\"\n\n# The base in two zones",
                "[[finish.step]]\ndo = \"film\"\nname = \"pattern\"\n\n[[finish.step]]\ndo = \"clear coat\"\nwith = \"build resin\"\n\n# The base in two zones",
            ),
            ("do = \"base mark\"", "do = \"base mark\"\nwait = \"20 h\""),
            (
                "[[finish.step]]\ndo = \"film\"\nname = \"lettering\"",
                "[[finish.step]]\ndo = \"thin coat\"\nwith = \"build resin\"\n\n[[finish.step]]\ndo = \"film\"\nname = \"lettering\"",
            ),
        ],
        &[("finish/window-missed", "finish.step[16]")],
    ),
    (
        "uncured UV under glue and epoxy",
        &[(
            "[[finish.step]]\ndo = \"cure\"\n\n[[finish.step]]\ndo = \"glue seal\"\nwith = \"sealing glue\"\n",
            "[[finish.step]]\ndo = \"cure\"\nwait = \"5 min\"\n\n[[finish.step]]\ndo = \"glue seal\"\nwith = \"sealing glue\"\n",
        )],
        &[("finish/uv-not-cured", "finish.step[5]")],
    ),
    (
        "glue seal coated over while wet",
        &[(
            "[[finish.step]]\ndo = \"glue seal\"\nwith = \"sealing glue\"\n",
            "[[finish.step]]\ndo = \"glue seal\"\nwith = \"sealing glue\"\nwait = \"30 min\"\n",
        )],
        &[("finish/too-soon", "finish.step[6]")],
    ),
    (
        "a coat on one that is too wet",
        &[(
            "[[finish.step]]\ndo = \"clear coat\"\nwith = \"build resin\"\n\n[[finish.step]]\ndo = \"clear coat\"\nwith = \"build resin\"\n\n",
            "[[finish.step]]\ndo = \"clear coat\"\nwith = \"build resin\"\nwait = \"2 h\"\n\n[[finish.step]]\ndo = \"clear coat\"\nwith = \"build resin\"\n\n",
        )],
        &[("finish/too-soon", "finish.step[7]")],
    ),
    (
        "film on a soft coat",
        &[(
            "[[finish.step]]\ndo = \"thin coat\"\nwith = \"build resin\"\n\n",
            "[[finish.step]]\ndo = \"thin coat\"\nwith = \"build resin\"\nwait = \"8 h\"\n\n",
        )],
        &[("finish/too-soon", "finish.step[9]")],
    ),
    (
        "coarse glitter sanded instead of levelled",
        &[(
            "[[finish.step]]\ndo = \"clear coat\"\nwith = \"build resin\"\n\n[[finish.step]]\ndo = \"clear coat\"\nwith = \"build resin\"\n\n[[finish.step]]\ndo = \"thin coat\"\nwith = \"build resin\"\n\n",
            "[[finish.step]]\ndo = \"clear coat\"\nwith = \"build resin\"\n\n[[finish.step]]\ndo = \"sand\"\n\n[[finish.step]]\ndo = \"thin coat\"\nwith = \"build resin\"\n\n",
        )],
        &[("finish/sanded-into-glitter", "finish.step[8]")],
    ),
    (
        "coarse glitter under one coat only",
        &[(
            "[[finish.step]]\ndo = \"clear coat\"\nwith = \"build resin\"\n\n[[finish.step]]\ndo = \"clear coat\"\nwith = \"build resin\"\n\n[[finish.step]]\ndo = \"thin coat\"\nwith = \"build resin\"\n\n",
            "[[finish.step]]\ndo = \"clear coat\"\nwith = \"build resin\"\n\n",
        )],
        &[("finish/glitter-not-levelled", "finish.step[4]")],
    ),
    (
        "film sanded before it is sealed",
        &[(
            "[[finish.step]]\ndo = \"clear coat\"\nwith = \"build resin\"\n\n# The base in two zones",
            "[[finish.step]]\ndo = \"sand\"\n\n[[finish.step]]\ndo = \"clear coat\"\nwith = \"build resin\"\n\n# The base in two zones",
        )],
        &[("finish/film-sanded", "finish.step[11]")],
    ),
    (
        "lettering on bare film of the pattern",
        &[(
            "[[finish.step]]\ndo = \"clear coat\"\nwith = \"build resin\"\n\n# The base in two zones",
            "# The base in two zones",
        )],
        &[("finish/film-on-film", "finish.step[16]")],
    ),
    (
        "final coats left out",
        &[(
            "[[finish.step]]\ndo = \"clear coat\"\nwith = \"top resin\"\n\n[[finish.step]]\ndo = \"clear coat\"\nwith = \"top resin\"\n",
            "",
        )],
        &[("finish/film-not-buried", "finish.step")],
    ),
    (
        "final coat too thin to bury the lettering",
        &[(
            "[[finish.step]]\ndo = \"clear coat\"\nwith = \"top resin\"\n\n[[finish.step]]\ndo = \"clear coat\"\nwith = \"top resin\"\n",
            "[[finish.step]]\ndo = \"thin coat\"\nthickness = 0.1\nwith = \"top resin\"\n",
        )],
        &[("finish/film-not-buried", "finish.step")],
    ),
    (
        "cured through between two coats",
        &[(
            "[[finish.step]]\ndo = \"clear coat\"\nwith = \"top resin\"\n\n[[finish.step]]\ndo = \"clear coat\"\nwith = \"top resin\"\n",
            "[[finish.step]]\ndo = \"clear coat\"\nwith = \"top resin\"\n\n[[finish.step]]\ndo = \"cure\"\n\n[[finish.step]]\ndo = \"clear coat\"\nwith = \"top resin\"\n",
        )],
        &[("finish/out-of-order", "finish.step[19]")],
    ),
    (
        "painted over the film",
        &[(
            "[[finish.step]]\ndo = \"clear coat\"\nwith = \"build resin\"\n\n# The base in two zones",
            "[[finish.step]]\ndo = \"paint\"\nwith = \"cream paint\"\n\n[[finish.step]]\ndo = \"clear coat\"\nwith = \"build resin\"\n\n# The base in two zones",
        )],
        &[("finish/out-of-order", "finish.step[11]")],
    ),
    (
        "glitter left unsealed at the end of the base",
        &[("[[finish.step]]\ndo = \"clear coat\"\nwith = \"UV resin\"\nover = \"base\"\n\n", "")],
        &[("finish/out-of-order", "finish.step[13]"), ("finish/base-mark-step", "finish.step[14]")],
    ),
    (
        "mark on the bare base",
        &[(
            "[[finish.step]]\ndo = \"clear coat\"\nwith = \"UV resin\"\nover = \"base\"\n\n[[finish.step]]\ndo = \"base mark\"",
            "[[finish.step]]\ndo = \"base mark\"\n\n[[finish.step]]\ndo = \"clear coat\"\nwith = \"UV resin\"\nover = \"base\"",
        )],
        &[("finish/out-of-order", "finish.step[13]"), ("finish/base-mark-step", "finish.step[14]")],
    ),
    (
        "mark that nothing covers",
        &[("[[finish.step]]\ndo = \"thin coat\"\nwith = \"UV resin\"\nover = \"base\"\n\n", "")],
        &[("finish/base-mark-step", "finish.step[15]")],
    ),
    (
        "mark on a layer that the lamp has not cured",
        &[(
            "over = \"base\"\n\n[[finish.step]]\ndo = \"base mark\"",
            "over = \"base\"\nwait = \"1 min\"\n\n[[finish.step]]\ndo = \"base mark\"",
        )],
        &[("finish/uv-not-cured", "finish.step[14]")],
    ),
    (
        "ring, centre and mark of one film",
        &[
            ("film = \"none\"\nring-film = \"none\"", "film = \"ivory\"\nring-film = \"ivory\""),
            (
                "[[finish.step]]\ndo = \"adhesive\"\nwith = \"UV resin\"\nover = \"base\"\n\n[[finish.step]]\ndo = \"glitter\"\nloss = 10\nglitters = [{ with = \"fine gold\", over = \"base ring\" }, { with = \"fine moss\", over = \"base centre\" }]\n",
                "[[finish.step]]\ndo = \"base disc\"\n",
            ),
        ],
        &[("finish/base-of-one-film", "finish.base")],
    ),
    (
        "a disc of film before the last coats, uncovered",
        &[
            ("film = \"none\"\nring-film = \"none\"", "film = \"ivory\"\nring-film = \"leaf-green\""),
            (
                "[[finish.step]]\ndo = \"base mark\"\n\n[[finish.step]]\ndo = \"thin coat\"\nwith = \"UV resin\"\nover = \"base\"\n\n",
                "[[finish.step]]\ndo = \"base disc\"\n\n",
            ),
        ],
        &[("finish/out-of-order", "finish.step[15]")],
    ),
    (
        "no step puts the disc on",
        &[("film = \"none\"\nring-film = \"none\"", "film = \"leaf-green\"\nring-film = \"none\"")],
        &[("finish/base-disc-step", "finish.base")],
    ),
    (
        "six cups coated from one batch",
        &[("seats = 2", "seats = 6"), ("cups = 2", "cups = 6")],
        &[
            ("finish/adhesive-dries", "finish.step[4]"),
            ("finish/adhesive-dries", "finish.step[13]"),
            ("finish/pot-life", "finish.step[7]"),
            ("finish/pot-life", "finish.step[8]"),
            ("finish/pot-life", "finish.step[11]"),
            ("finish/pot-life", "finish.step[18]"),
            ("finish/pot-life", "finish.step[19]"),
        ],
    ),
    (
        "a build-up that is not that of the coats",
        &[("wall = 160", "wall = 160\nbuild-up = 0.3")],
        &[("finish/build-up-differs", "cup.build-up")],
    ),
    (
        "rest of a batch used the next day",
        &[
            (
                "[[finish.step]]\ndo = \"clear coat\"\nwith = \"build resin\"\n\n[[finish.step]]\ndo = \"clear coat\"\nwith = \"build resin\"\n\n",
                "[[finish.step]]\ndo = \"clear coat\"\nwith = \"build resin\"\nmix-at-once = \"60 ml\"\nbatch = \"a\"\n\n[[finish.step]]\ndo = \"clear coat\"\nwith = \"build resin\"\n\n",
            ),
            (
                "[[finish.step]]\ndo = \"thin coat\"\nwith = \"build resin\"\n\n",
                "[[finish.step]]\ndo = \"thin coat\"\nwith = \"build resin\"\nbatch = \"a\"\nvolume = \"rest\"\n\n",
            ),
        ],
        &[("finish/rest-too-late", "finish.step[9]")],
    ),
    (
        "less mixed than two cups need",
        &[(
            "[[finish.step]]\ndo = \"clear coat\"\nwith = \"build resin\"\n\n[[finish.step]]\ndo = \"clear coat\"\nwith = \"build resin\"\n\n",
            "[[finish.step]]\ndo = \"clear coat\"\nwith = \"build resin\"\nmix-at-once = \"30 ml\"\n\n[[finish.step]]\ndo = \"clear coat\"\nwith = \"build resin\"\n\n",
        )],
        &[("finish/batch-too-small", "finish.step[7]")],
    ),
    (
        "an isocyanate coat at home",
        &[(
            "name = \"top resin\"\nkind = \"two-part resin\"",
            "name = \"top resin\"\nkind = \"isocyanate clear coat\"",
        )],
        &[("finish/isocyanate", "finish.product[7]")],
    ),
    (
        "a band over the rim",
        &[("to = 140\nfade-low = 20", "to = 175\nfade-low = 20")],
        &[("finish/band-off-the-wall", "finish.band[2].to"), ("finish/band-at-the-rim", "finish.band[2].to")],
    ),
    (
        "glitter up to the rim",
        &[("to = 140\nfade-low = 20", "to = 155\nfade-low = 20")],
        &[("finish/band-at-the-rim", "finish.band[2].to")],
    ),
    (
        "no step puts the lettering on",
        &[("[[finish.step]]\ndo = \"film\"\nname = \"lettering\"\n\n", "")],
        &[("job/unknown-pass", "decal[0].pass")],
    ),
];

#[test]
fn each_true_mistake_is_found() {
    let right = right();
    let mut wrong = Vec::new();
    for (name, edits, want) in MISTAKES {
        let text = edits.iter().fold(right.clone(), |text, edit| with(&text, *edit));
        let (_, told) = run(&text);
        let got = warned(&told);
        let want: Vec<(String, String)> = want.iter().map(|(c, at)| ((*c).into(), (*at).into())).collect();
        if got != want {
            wrong.push(format!("{name}: {got:#?}"));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    assert!(MISTAKES.len() >= 20, "{}", MISTAKES.len());
}
