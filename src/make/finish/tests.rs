//! The whole stage: the defaults land on common practice, the rules of order find what they should.
//!
//! Imports: base, read::job, make.

use super::test_help::{cup, job, pint, spots};
use super::*;
use crate::base::diag::Severity;
use crate::base::moment::Moment;
use crate::base::money::{Money, Share, parsed};
use crate::base::units::{Grams, Ml};
use crate::make::cup::Frustum;
use crate::make::piece::Kind;
use crate::read::job::FilmId;
use crate::read::job::finish::*;
use proptest::prelude::*;
use std::f64::consts::{PI, TAU};

fn spec(kinds: &[StepKind]) -> FinishSpec {
    let mut s = FinishSpec { steps: Vec::new(), products: Vec::new(), ..FinishSpec::default() };
    for &k in kinds {
        s.add_step(usual_step(k));
    }
    s
}

fn run(spec: FinishSpec) -> (Finish, Vec<Diagnostic>) {
    run_on(pint(), spec)
}

fn run_on(f: Frustum, spec: FinishSpec) -> (Finish, Vec<Diagnostic>) {
    let (job, cup) = (job(f, Some(spec)), cup(f));
    let (pieces, sheets) = spots(&cup, 24);
    let mut diagnostics = Diagnostics::new();
    let got = finish(&job, &cup, &pieces, &LaidFilm::of_one(&pieces, &sheets), None, &mut diagnostics);
    (got, diagnostics.into_vec())
}

fn ids(diagnostics: &[Diagnostic]) -> Vec<&str> {
    diagnostics.iter().filter(|d| d.severity != Severity::Note).map(|d| d.code.id).collect()
}

/// Tapered cups of 22 US fl oz: rim 85 to 92 mm, base 0.72 to 0.85 of it, outside 1.15 to 1.35 of the
/// capacity (the plausible range of the reference notes), the height following from the volume.
fn cups_of_22_ounces() -> Vec<Frustum> {
    let mut cups = Vec::new();
    for rim in [85.0, 88.0, 92.0] {
        for part in [0.72, 0.78, 0.85] {
            for outside in [1.15, 1.25, 1.35] {
                let (r1, r2) = (rim / 2.0, rim * part / 2.0);
                let volume = outside * 22.0 * Ml::US_FLUID_OUNCE.0 * 1000.0;
                let h: f64 = 3.0 * volume / PI / (r1 * r1 + r1 * r2 + r2 * r2);
                cups.push(Frustum { upper: Mm(TAU * r1), lower: Mm(TAU * r2), slant: Mm(h.hypot(r1 - r2)) });
            }
        }
    }
    cups
}

/// Common practice, no source: on a 22 US fl oz tapered cup a full clear coat takes 20 to 25 ml, a coat to
/// seal film 15 to 20 ml, a thin levelling coat about 10 ml. The middle cup must land inside; all plausible
/// ones within a tenth.
#[test]
fn defaults_land_on_common_practice() {
    let all: Vec<[f64; 3]> = cups_of_22_ounces()
        .into_iter()
        .map(|f| {
            let (got, _) = run_on(f, FinishSpec::default());
            let of = |k| got.steps.iter().find(|s| s.kind == k).unwrap().needs.0;
            [of(StepKind::Clear), of(StepKind::Seal), of(StepKind::Level)]
        })
        .collect();
    let [full, seal, thin] = all[13];
    assert!((20.0..=25.0).contains(&full), "{full}");
    assert!((15.0..=20.0).contains(&seal), "{seal}");
    assert!((9.0..=11.0).contains(&thin), "{thin}");
    for [full, seal, thin] in all {
        assert!((18.0..=27.5).contains(&full), "{full}");
        assert!((13.5..=22.0).contains(&seal), "{seal}");
        assert!((8.0..=12.5).contains(&thin), "{thin}");
    }
}

/// Closed form: the shell between a cone and the one a thickness off along the normal is that thickness times
/// the middle surface, whose girths are longer by 2 pi (distance along the normal) cos(half-angle).
#[test]
fn coats_on_coats_cover_the_grown_surface() {
    let mut s = spec(&[StepKind::Clear, StepKind::Clear]);
    s.loss = usual(0.0);
    let (got, _) = run(s);
    let f = pint();
    let top = 149.9 - 20.0;
    let bare = (f.girth(Mm(top)).0 + 189.4) * top / 2.0;
    for (i, b) in [0.2, 0.6].into_iter().enumerate() {
        let lean = ((279.3 - 189.4) / TAU / 149.9f64).asin();
        let want = (bare + TAU * b * lean.cos() * top) * 0.4 / 1000.0;
        approx::assert_relative_eq!(got.steps[i].stays.0, want, epsilon = 1e-9);
        approx::assert_relative_eq!(got.steps[i].needs.0, want, epsilon = 1e-9);
    }
    approx::assert_relative_eq!(got.steps[1].before.0, 0.4);
}

proptest! {
    #[test]
    fn thickness_comes_back_from_its_volume(t in 0.02..2.0f64, loss in 0.0..0.6f64) {
        let mut by_thickness = spec(&[StepKind::Clear]);
        by_thickness.loss = usual(loss);
        by_thickness.steps[0].dose = Some(Dose::Thickness(usual(Mm(t))));
        let needs = run(by_thickness.clone()).0.steps[0].needs;
        by_thickness.steps[0].dose = Some(Dose::Volume(usual(needs)));
        let back = run(by_thickness).0.steps[0].thickness;
        prop_assert!((back.0 - t).abs() < 1e-9);
    }
}

#[test]
fn glitter_is_learned_by_weighing() {
    let mut s = spec(&[StepKind::Adhesive, StepKind::Glitter, StepKind::GlueSeal]);
    s.loss = usual(0.0);
    s.steps[1].dose = Some(Dose::Weighed { before: Grams(212.4), after: Grams(220.4), area: None });
    let (got, _) = run(s.clone());
    let g = &got.steps[1];
    approx::assert_relative_eq!(g.needs_weight.unwrap().0, 8.0, epsilon = 1e-9);
    assert_eq!(g.thickness_basis, Basis::OwnMeasurement);
    s.steps[1].dose = Some(Dose::Weighed {
        before: Grams(100.0),
        after: Grams(102.5),
        area: Some(crate::base::units::Mm2(10_000.0)),
    });
    let (got, _) = run(s);
    approx::assert_relative_eq!(got.steps[1].rate.unwrap().0, 2.5, epsilon = 1e-12);
    let want = 2.5 * got.steps[1].area.0 / 10_000.0;
    approx::assert_relative_eq!(got.steps[1].needs_weight.unwrap().0, want, epsilon = 1e-9);
}

#[test]
fn the_default_order_breaks_no_rule() {
    let (got, diagnostics) = run(FinishSpec::default());
    assert_eq!(ids(&diagnostics), Vec::<&str>::new());
    assert_eq!(got.burial.coats_to_add, 0);
    assert_eq!(got.cautions[0].id, "data-sheet-first");
    assert!(
        got.steps
            .iter()
            .filter(|s| s.kind.is_clear())
            .all(|s| s.cautions.iter().any(|c| c.id == "resin-skin"))
    );
}

#[test]
fn rules_of_order_are_found() {
    use StepKind::*;
    let cases: [(&[StepKind], &[&str]); 9] = [
        (&[Sand, Film, Seal, Clear], &["finish/sanded-under-film"]),
        (&[Sand, Wash, Film, Seal, Clear], &["finish/sanded-under-film"]),
        (&[Sand, Paint, Film, Seal], &[]),
        (&[Film, Sand, Clear], &["finish/film-sanded"]),
        (&[Glitter, GlueSeal, Clear, Clear, Film, Seal], &["finish/out-of-order"]),
        (
            &[Adhesive, Glitter, Sand, Film, Seal],
            // Loose glitter, sanded into it, scratches, and film on glitter.
            &[
                "finish/out-of-order",
                "finish/sanded-into-glitter",
                "finish/sanded-under-film",
                "finish/out-of-order",
            ],
        ),
        (&[Film, Seal, Cure, Level], &["finish/out-of-order"]),
        (&[Film, Paint, Seal], &["finish/out-of-order"]),
        (&[Film, BaseDisc, Seal], &["finish/out-of-order", "finish/base-disc-step"]),
    ];
    for (kinds, want) in cases {
        let mut s = spec(kinds);
        // Build-up is another rule: coats under the film count as measured over.
        let film = s.steps.iter().position(|s| s.kind == Film).unwrap();
        s.steps[..film].iter_mut().for_each(|s| s.done = true);
        assert_eq!(ids(&run(s).1), want, "{kinds:?}");
    }
}

#[test]
fn film_is_buried_by_as_many_coats_as_it_says() {
    let f = pint();
    let c = cup(f);
    // Six layers of 0.1 mm: 0.6 and 0.15 for sanding; a seal of 0.30 is 0.45 short: two full coats of 0.40.
    let (mut pieces, sheets) = spots(&c, 6);
    for p in &mut pieces {
        p.kind = Kind::Layer { decal: 0, layer: p.number as usize };
        p.pose = c.zones[0].development.pose(p.wall).then(&crate::base::frame::Rigid::identity());
        p.wall.azimuth = crate::base::units::Angle::ZERO;
        p.pose = c.zones[0].development.pose(p.wall);
    }
    let run = |spec: FinishSpec| {
        let mut diagnostics = Diagnostics::new();
        let got = finish(
            &job(f, Some(spec)),
            &c,
            &pieces,
            &LaidFilm::of_one(&pieces, &sheets),
            None,
            &mut diagnostics,
        );
        (got.burial, diagnostics.into_vec())
    };
    let (burial, diagnostics) = run(spec(&[StepKind::Film, StepKind::Seal]));
    approx::assert_relative_eq!(burial.step.height.0, 0.6, epsilon = 1e-9);
    approx::assert_relative_eq!(burial.needed.0, 0.75, epsilon = 1e-9);
    assert_eq!(burial.coats_to_add, 2);
    assert_eq!(ids(&diagnostics), ["finish/film-not-buried"]);
    let (burial, diagnostics) =
        run(spec(&[StepKind::Film, StepKind::Seal, StepKind::Clear, StepKind::Clear]));
    assert_eq!((burial.coats_to_add, ids(&diagnostics).len()), (0, 0));
}

/// 2 pi b (derived), times the cosine of the wall's lean: on this cup 0.4 mm lengthen every circumference by
/// 2.50 mm.
#[test]
fn the_layout_must_be_made_for_the_surface_the_film_goes_on() {
    let s = spec(&[StepKind::Clear, StepKind::Film, StepKind::Seal]);
    let (_, diagnostics) = run(s.clone());
    assert_eq!(ids(&diagnostics), ["finish/build-up-differs"]);
    assert!(diagnostics.iter().any(|d| d.help.contains("build-up = 0.400")));
    let f = pint();
    let mut j = job(f, Some(s));
    j.cup.build_up = Mm(0.4);
    let c = crate::make::cup::fit::fit(&j.cup, &mut Diagnostics::new()).unwrap();
    let (pieces, sheets) = spots(&c, 5);
    let mut diagnostics = Diagnostics::new();
    let got = finish(&j, &c, &pieces, &LaidFilm::of_one(&pieces, &sheets), None, &mut diagnostics);
    assert_eq!(ids(&diagnostics.into_vec()), Vec::<&str>::new());
    let lean = ((279.3 - 189.4) / TAU / 149.9f64).asin();
    approx::assert_relative_eq!(got.surfaces.growth.0, 0.4 * TAU * lean.cos(), epsilon = 1e-9);
    // What the plan takes as build-up when the job does not name it is what the finding asks for.
    j.cup.build_up = Mm::ZERO;
    approx::assert_relative_eq!(under_film(&j, &cup(f)).0, 0.4, epsilon = 1e-12);
    assert_eq!(under_film(&job(f, None), &cup(f)), Mm::ZERO);
}

#[test]
fn a_later_film_step_on_more_coats_is_told() {
    let mut s = spec(&[StepKind::Film, StepKind::Clear, StepKind::Film, StepKind::Seal]);
    s.steps[0].films = vec![FilmId(9)];
    let (_, diagnostics) = run(s.clone());
    assert!(
        diagnostics
            .iter()
            .any(|d| d.code.id == "finish/later-film-on-larger-wall" && d.at.to_string() == "finish.step[2]")
    );
    s.steps[1].dose = Some(Dose::Thickness(usual(Mm(0.01))));
    assert!(
        !run(s).1.iter().any(|d| d.code.id == "finish/later-film-on-larger-wall"),
        "0.06 mm round is no matter"
    );
}

#[test]
fn a_window_that_no_hours_meet_is_a_fault_without_a_start_too() {
    let mut s = spec(&[StepKind::Clear, StepKind::Clear]);
    s.times.hours =
        usual(vec![WorkSpan { day: crate::base::moment::DayOfWeek::Sat, from: 9 * 60, to: 12 * 60 }]);
    let (_, diagnostics) = run(s.clone());
    let window: Vec<_> = diagnostics.iter().filter(|d| d.code.id == "finish/window-not-met").collect();
    assert_eq!(window.len(), 1, "8 to 24 h after a coat on Saturday is no Saturday");
    assert_eq!(
        (window[0].severity, window[0].at.to_string()),
        (Severity::Fault, "finish.step[0]".to_owned())
    );
    // The same hours on Sunday too: 9:00 on Saturday, 9:00 on Sunday.
    s.times.hours.value.push(WorkSpan {
        day: crate::base::moment::DayOfWeek::Sun,
        from: 9 * 60,
        to: 12 * 60,
    });
    assert!(run(s).1.iter().all(|d| d.code.id != "finish/window-not-met"));
}

#[test]
fn late_is_told() {
    let mut s = FinishSpec::default();
    s.times.start = Moment::parse("2026-09-01 09:00");
    s.times.due = crate::base::moment::Day::parse("2026-09-03");
    assert_eq!(ids(&run(s.clone()).1), ["finish/late"]);
    s.times.due = crate::base::moment::Day::parse("2026-09-30");
    assert_eq!(ids(&run(s).1), Vec::<&str>::new());
}

#[test]
fn fees_and_margin_of_the_whole_price_are_a_fault_not_a_silence() {
    let mut s = spec(&[StepKind::Wash, StepKind::Film, StepKind::Seal]);
    s.products[0].pack = Some((money("48"), Content::Volume(Ml(750.0))));
    s.price = Some(PriceSpec { fee: share("0.6"), gain: Gain::Margin(share("0.4")), ..prices() });
    let (got, diagnostics) = run(s);
    assert!(got.costing.is_none());
    assert_eq!(ids(&diagnostics), ["finish/nothing-left-of-the-price"]);
}

#[test]
fn disc_and_step_go_together() {
    let (_, diagnostics) = run(spec(&[StepKind::Film, StepKind::Seal, StepKind::BaseDisc]));
    assert_eq!(ids(&diagnostics), ["finish/base-disc-step"]);
}

#[test]
fn film_that_no_step_places_is_a_fault() {
    let mut s = spec(&[StepKind::Wash, StepKind::Seal]);
    let (_, diagnostics) = run(s.clone());
    assert!(diagnostics.iter().any(|d| d.code.id == "finish/no-film-step" && d.severity == Severity::Fault));
    s = spec(&[StepKind::Wash, StepKind::Film, StepKind::Seal]);
    let (got, diagnostics) = run(s);
    assert_eq!(ids(&diagnostics), Vec::<&str>::new());
    // 24 pieces weeded in 10 s and placed in 25 s, one sheet of 10 min.
    assert_eq!((got.steps[1].pieces, got.steps[1].each), (24, Minutes(24)));
}

#[test]
fn several_cups_make_batches_for_each_load() {
    let mut s = spec(&[StepKind::Film, StepKind::Clear]);
    s.cups = 5;
    s.times.seats = usual(2);
    let (got, _) = run(s);
    let b = &got.steps[1].batches;
    assert_eq!(b.iter().map(|b| (b.cups, b.loads)).collect::<Vec<_>>(), [(2, 2), (1, 1)]);
    assert!(b[0].mix.batch.0 >= 2.0 * got.steps[1].needs.0);
}

#[test]
fn a_long_load_outlives_its_batch() {
    let mut s = spec(&[StepKind::Film, StepKind::Clear]);
    s.cups = 6;
    s.times.seats = usual(6);
    let (_, diagnostics) = run(s);
    assert_eq!(ids(&diagnostics), ["finish/pot-life"], "6 cups of 8 min are more than 30 min");
}

#[test]
fn a_job_without_a_word_on_finishing_gets_the_usual_plan() {
    let f = pint();
    let c = cup(f);
    let (pieces, sheets) = spots(&c, 3);
    let mut diagnostics = Diagnostics::new();
    let got = finish(&job(f, None), &c, &pieces, &LaidFilm::of_one(&pieces, &sheets), None, &mut diagnostics);
    assert!(!diagnostics.any_fault());
    assert_eq!(got.steps.len(), 6);
    assert!(got.calendar.is_none() && got.costing.is_none());
    assert!(diagnostics.is_empty(), "who says nothing of finishing is told nothing of it: {diagnostics:?}");
    assert!(got.rates.iter().all(|r| r.basis == "default: common practice, no source"));
    let json = serde_json::to_value(&got).unwrap();
    assert!(json["steps"][2]["needs_ml"].is_number() && json["surfaces"]["wall_mm2"].is_number());
}

#[test]
fn the_usual_plan_has_a_calendar_when_it_has_a_start() {
    let mut s = FinishSpec::default();
    s.times.start = Moment::parse("2026-09-01 09:00");
    s.cups = 3;
    let (got, diagnostics) = run(s);
    assert_eq!(ids(&diagnostics), Vec::<&str>::new());
    let c = got.calendar.unwrap();
    assert_eq!(c.ready.len(), 3);
    assert_eq!(c.entries.len(), 18);
    assert!(c.finished > Moment::parse("2026-09-06 09:00").unwrap(), "five days of curing");
}

fn money(t: &str) -> Money {
    Money(parsed(t).unwrap())
}
fn share(t: &str) -> Share {
    Share(parsed(t).unwrap())
}

pub(super) fn prices() -> PriceSpec {
    PriceSpec {
        currency: "EUR".into(),
        hour: money("22"),
        blank: money("6.40"),
        consumables: money("1.15"),
        packing: money("1.80"),
        films: std::iter::once((crate::read::job::FilmId(0), FilmPrice::PerSheet(money("1.95")))).collect(),
        charge: FilmCharge::Bought,
        waste: share("0.15"),
        overhead: share("0.12"),
        reject: share("0.05"),
        fee_fixed: money("0.35"),
        fee: share("0.029"),
        gain: Gain::Margin(share("0.25")),
        tax: share("0.19"),
        round_to: money("0.50"),
        breaks: vec![1, 5, 10, 25],
        valid_days: 30,
    }
}

#[test]
fn what_has_no_price_is_a_fault_all_at_once() {
    let mut s = spec(&[StepKind::Paint, StepKind::Film, StepKind::Seal]);
    s.steps[0].done = true;
    s.price = Some(PriceSpec { films: BTreeMap::new(), ..prices() });
    let (got, diagnostics) = run(s);
    assert!(got.costing.is_none());
    assert_eq!(
        ids(&diagnostics),
        ["finish/no-price"; 2],
        "film gold and the resin, not the paint that is on already"
    );
}

#[test]
fn larger_orders_cost_less_a_cup_and_every_price_keeps_its_margin() {
    let mut s = spec(&[StepKind::Wash, StepKind::Film, StepKind::Seal, StepKind::Clear, StepKind::Cure]);
    s.products[0].pack = Some((money("48"), Content::Volume(Ml(750.0))));
    s.times.seats = usual(2);
    s.price = Some(prices());
    let (got, _) = run(s);
    let c = got.costing.unwrap();
    assert_eq!(c.breaks.iter().map(|a| a.cups).collect::<Vec<_>>(), [1, 5, 10, 25]);
    for pair in c.breaks.windows(2) {
        assert!(pair[1].good_each < pair[0].good_each);
    }
    for a in &c.breaks {
        assert!(a.earned >= a.price * a.margin, "{} of {}", a.earned, a.price);
        assert_eq!((a.price_each.0 / prices().round_to.0).fract(), parsed("0").unwrap());
        assert_eq!(a.pays, a.price + a.tax);
        assert_eq!(a.direct, a.lines.iter().map(|l| l.total).sum());
    }
}

#[test]
fn a_band_over_the_rim_is_a_fault() {
    let mut s = FinishSpec::default();
    s.bands.push(ColourBand {
        name: "dusk".into(),
        from: Mm(100.0),
        to: Mm(170.0),
        fade_low: Mm(10.0),
        fade_high: Mm::ZERO,
        colour: None,
    });
    let (got, diagnostics) = run(s);
    assert_eq!(ids(&diagnostics), ["finish/band-off-the-wall"]);
    assert!(got.bands[0].covered.0 > 0.0);
}
