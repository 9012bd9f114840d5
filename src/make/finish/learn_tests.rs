//! What a log teaches: few entries shrink, many are believed, what the job says stands.
//!
//! Imports: read::job, make::finish.

use super::*;

#[test]
fn few_entries_shrink_and_many_are_believed() {
    let none = factor(&[]);
    assert!((none.value - 1.0).abs() < 0.001 && none.entries == 0);
    // Closed form without entries: the prior's own percentiles.
    approx::assert_relative_eq!(none.high, libm::exp(1.281_551_565_5 * TAKES), max_relative = 2e-3);
    let one = factor(&[1.6]);
    let many = factor(&[1.6; 40]);
    assert!(one.value > 1.09 && one.value < 1.1 && one.value < many.value && (many.value - 1.6).abs() < 0.02);
    assert!(many.high - many.low < (one.high - one.low) / 3.0);
}

/// Beta and binomial: the mean is (1 + lost) / (20 + cups).
#[test]
fn lost_cups_are_counted_with_what_is_assumed() {
    let e = lost(3.0, 40.0);
    approx::assert_relative_eq!(e.value, 4.0 / 60.0, max_relative = 0.001);
    assert!(e.low < e.value && e.value < e.high && e.high < 0.15);
    let n = lost(0.0, 0.0);
    assert!(n.low > 0.0 && (n.value - 0.05).abs() < 0.001);
}

/// What a log teaches is used where the job leaves a rate to common practice, and nowhere else.
#[test]
fn own_rates_take_the_place_of_common_practice_only() {
    use crate::read::job::finish::{Rate, usual_step};
    let mut spec = FinishSpec::empty();
    spec.add_step(usual_step(StepKind::Clear));
    spec.add_step(usual_step(StepKind::Film));
    let mut said = usual_step(StepKind::Clear);
    said.each = Rate { value: Minutes(11), basis: Basis::Entered };
    spec.add_step(said);
    let product = spec.products[0].name.clone();
    let entry = |event: Event, step, product: &str, ratio: f64| Entry {
        when: String::new(),
        event,
        job: String::new(),
        number: 1,
        step: Some(step),
        product: product.into(),
        cups: 1,
        pieces: 0,
        actual: ratio * 20.0,
        usual: 20.0,
        unit: crate::read::bench_log::unit(event),
        note: String::new(),
    };
    let log: Vec<Entry> = (0..30)
        .flat_map(|_| {
            [
                entry(Event::Work, StepKind::Clear, &product, 1.5),
                entry(Event::Work, StepKind::Film, "", 0.8),
                entry(Event::Weighed, StepKind::Clear, &product, 1.2),
                entry(Event::Used, StepKind::Clear, &product, 1.3),
            ]
        })
        .collect();
    let got = applied(&spec, &log);
    assert_eq!((got.steps[0].set_up.value, got.steps[0].each.value), (Minutes(18), Minutes(12)));
    assert_eq!(got.steps[2].each, Rate { value: Minutes(11), basis: Basis::Entered }, "as the job says");
    assert_eq!(got.steps[0].each.basis, Basis::Learned);
    approx::assert_relative_eq!(got.times.place_s.value, 25.0 * 0.8, max_relative = 0.02);
    let Some(Dose::Thickness(t)) = got.steps[0].dose else { panic!("a thickness") };
    approx::assert_relative_eq!(t.value.0, 0.4 * 1.2, max_relative = 0.02);
    approx::assert_relative_eq!(got.steps[0].loss.unwrap().value, 1.0 - 0.65 / 1.3, max_relative = 0.03);
    assert_eq!(applied(&spec, &[]), spec, "without a log nothing changes");
}
