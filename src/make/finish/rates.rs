//! Every rate that a plan stands on, and what it stands on itself, for the maker's sheet.
//!
//! Imports: base, read::job, make::finish::coat.

use super::coat::StepPlan;
use crate::base::moment::Minutes;
use crate::base::units::{Mm, without_trailing_zeros};
use crate::read::job::finish::{Basis, Event, FinishSpec, LearnedRate, StepKind};
use serde::Serialize;

/// One rate and what it stands on, for the maker's sheet.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct RateLine {
    /// What.
    pub what: String,
    /// Its value with its unit.
    pub value: String,
    /// What it stands on, in words.
    pub basis: &'static str,
}

/// Every rate that was used, each once.
pub(super) fn rates(spec: &FinishSpec, steps: &[StepPlan], panels: [bool; 2]) -> Vec<RateLine> {
    let mut out: Vec<RateLine> = Vec::new();
    let mut add = |what: String, value: String, basis: Basis| {
        let line = RateLine { what, value, basis: basis.words() };
        if !out.contains(&line) {
            out.push(line);
        }
    };
    let percent = |v: f64| format!("{:.0} %", v * 100.0);
    add("loss of coatings".into(), percent(spec.loss.value), spec.loss.basis);
    add("kept for sanding".into(), spec.sanding_margin.value.to_string(), spec.sanding_margin.basis);
    for (s, p) in spec.steps.iter().zip(steps) {
        if let Some(rate) = p.rate {
            add(format!("{} on 100 cm2", p.name), rate.to_string(), p.thickness_basis);
            add(format!("layer of {}", p.name), s.layer.value.to_string(), s.layer.basis);
        } else if p.thickness > Mm::ZERO {
            add(format!("thickness of {}", p.name), p.thickness.to_string(), p.thickness_basis);
        }
        if let Some(loss) = s.loss {
            add(format!("loss of {}", p.name), percent(loss.value), loss.basis);
        }
        let time = format!("{} a load and {} a cup", s.set_up.value, s.each.value);
        add(format!("hands-on, {}", p.name), time, s.each.basis);
        if let Some(w) = s.wait {
            add(format!("waiting after {}", p.name), w.value.to_string(), w.basis);
        }
    }
    spec.learned.iter().for_each(|l| add(learned_of(l), learned_value(l), Basis::Learned));
    product_rates(spec, &mut add);
    time_rates(spec, panels, &mut add);
    out
}

/// What a rate of the bench log is of.
pub fn learned_of(l: &LearnedRate) -> String {
    let kind = l.kind.map_or("", StepKind::name);
    match l.event {
        Event::Work if l.kind == Some(StepKind::Film) => "bench log: weeding and placing film".into(),
        Event::Work => format!("bench log: work on {kind}"),
        Event::Weighed => format!("bench log: {} that stays on, {kind}", l.product),
        Event::Used => format!("bench log: {} used up", l.product),
        Event::Spoilt => "bench log: pieces spoilt".into(),
        Event::Lost | Event::Start => "bench log: cups lost".into(),
    }
}

/// Its value, and how sure it is.
pub fn learned_value(l: &LearnedRate) -> String {
    let percent = |v: f64| format!("{:.1} %", v * 100.0);
    match l.event {
        Event::Spoilt | Event::Lost => format!(
            "{} (80 of 100 times {} to {}; of {} counted)",
            percent(l.value),
            percent(l.low),
            percent(l.high),
            l.entries
        ),
        _ => format!(
            "{:.2} times common practice (80 of 100 times {:.2} to {:.2}; {} entries)",
            l.value, l.low, l.high, l.entries
        ),
    }
}

fn product_rates(spec: &FinishSpec, add: &mut impl FnMut(String, String, Basis)) {
    for p in &spec.products {
        let n = &p.name;
        if let Some(m) = &p.mix {
            add(
                format!("{n}: parts A : B by volume"),
                format!("{} : {}", ratio_part(m.a.value), ratio_part(m.b.value)),
                m.a.basis,
            );
            let densities = format!("{:.3} and {:.3} g/ml", m.density_a.value, m.density_b.value);
            add(format!("{n}: density of A and B"), densities, m.density_a.basis);
            add(format!("{n}: smallest batch"), p.smallest.value.to_string(), p.smallest.basis);
            let off = format!("{:.1} %", m.tolerance.value * 100.0);
            add(format!("{n}: ratio may be off by"), off, m.tolerance.basis);
            add(format!("{n}: measuring cup reads to"), m.volume_step.value.to_string(), m.volume_step.basis);
            add(format!("{n}: scale reads to"), m.weight_step.value.to_string(), m.weight_step.basis);
        } else {
            add(format!("{n}: density"), format!("{} g/ml", p.density.value), p.density.basis);
        }
        if let Some(life) = p.pot_life {
            add(format!("{n}: pot life"), life.value.to_string(), life.basis);
        }
        add(format!("{n}: on the turner"), p.turning.value.to_string(), p.turning.basis);
        add(format!("{n}: next coat from"), p.recoat_from.value.to_string(), p.recoat_from.basis);
        if let Some(until) = p.recoat_until {
            add(format!("{n}: next coat until"), until.value.to_string(), until.basis);
        }
        add(format!("{n}: hard after"), p.hard_after.value.to_string(), p.hard_after.basis);
        add(format!("{n}: in use after"), p.cured_after.value.to_string(), p.cured_after.basis);
    }
}

/// A part of a ratio with at most three decimals.
fn ratio_part(v: f64) -> String {
    without_trailing_zeros(&format!("{v:.3}")).to_owned()
}

fn time_rates(spec: &FinishSpec, [panels, gathered]: [bool; 2], add: &mut impl FnMut(String, String, Basis)) {
    let t = &spec.times;
    add("cups on the turner".into(), t.seats.value.to_string(), t.seats.basis);
    add("weeding a piece".into(), format!("{} s", t.weed_s.value), t.weed_s.basis);
    add("placing a piece".into(), format!("{} s", t.place_s.value), t.place_s.basis);
    if panels {
        add("laying a panel".into(), format!("{} s", t.panel_s.value), t.panel_s.basis);
    }
    if gathered {
        add("taking up a film of a panel".into(), format!("{} s", t.gather_s.value), t.gather_s.basis);
    }
    add("cutting a sheet".into(), t.sheet.value.to_string(), t.sheet.basis);
    add("once an order".into(), t.order.value.to_string(), t.order.basis);
    add(
        "washing and abrading a cup after a missed window".into(),
        t.abrade.value.to_string(),
        t.abrade.basis,
    );
    let week: Minutes = Minutes(t.hours.value.iter().map(|s| s.to - s.from).sum());
    let hours = format!("{} spans, {:.1} h in all", t.hours.value.len(), f64::from(week.0) / 60.0);
    add("working hours of a week".into(), hours, t.hours.basis);
    if let Some(b) = &spec.base {
        add("kept clear inside the edge of the base".into(), b.inset.value.to_string(), b.inset.basis);
        add("gap between ring and centre".into(), b.gap.value.to_string(), b.gap.basis);
    }
}
