//! Slips of unit in the cup's readings: found by asking which single slip would explain readings that make no
//! cup.
//!
//! The readings as typed are judged first. If they make a plausible cup (and agree with the stated capacity,
//! if there is one), nothing is said. Else each likely slip is undone in turn, and the first that gives a
//! plausible cup is reported: as a fault when the readings as typed cannot be right, as a warning when they
//! are only unusual. A capacity that agrees with the readings as typed settles every doubt in their favour.
//!
//! Imports: base, read::job::{codes, model, section, readings}.

use super::codes;
use super::model::Ring;
use super::readings::{AsTyped, STEEPEST_DEG, Said, hold_to_range};
use super::section::Section;
use crate::base::diag::{Diagnostic, ErrorGuaranteed};
use crate::base::units::{Ml, Mm};
use std::f64::consts::{PI, TAU};

/// Lean from which a wall counts as steep: bowls.
const STEEP_DEG: f64 = 25.0;

impl AsTyped {
    /// Girth at a slant on the line through the lowest and the highest reading.
    fn girth(&self, slant: Mm) -> Mm {
        let (a, b) = (self.rings[0], self.rings[self.rings.len() - 1]);
        a.girth + (b.girth - a.girth) * ((slant - a.slant) / (b.slant - a.slant))
    }
    /// Is an edge felt anywhere, or the wall a curve? Then the readings need not lie on one cone.
    fn zoned(&self) -> bool {
        self.curved || self.rings.iter().any(|r| r.edge)
    }
    /// Volume inside the outer surface, from base edge to rim: pi h (R^2 + R r + r^2) / 3; of a wall with
    /// edges, frustum by frustum between its readings.
    fn volume(&self) -> Ml {
        if self.zoned() {
            let parts = self.rings.windows(2).map(|w| {
                let (rings, wall) = (
                    w.iter().map(|r| Ring { slant: r.slant - w[0].slant, edge: false, ..*r }),
                    w[1].slant - w[0].slant,
                );
                AsTyped { rings: rings.collect(), wall, curved: false, ..self.clone() }.volume().0
            });
            return Ml(parts.sum());
        }
        let (r, big) = (self.girth(Mm::ZERO).0 / TAU, self.girth(self.wall).0 / TAU);
        let height = (self.wall.0 * self.wall.0 - (big - r) * (big - r)).max(0.0).sqrt();
        Ml(PI * height * (big * big + big * r + r * r) / 3000.0)
    }
    fn with_girths(&self, change: impl Fn(usize, Mm) -> Mm) -> AsTyped {
        let mut other = self.clone();
        for (i, ring) in other.rings.iter_mut().enumerate() {
            ring.girth = change(i, ring.girth);
        }
        other
    }
    fn with_heights(&self, factor: f64) -> AsTyped {
        let mut other = self.clone();
        other.wall = other.wall * factor;
        other.rings.iter_mut().for_each(|ring| ring.slant = ring.slant * factor);
        other
    }
    /// Could a wall be like this at all?
    fn possible(&self) -> bool {
        let (a, b) = (self.rings[0], self.rings[self.rings.len() - 1]);
        let sine = (b.girth - a.girth).abs() / TAU / (b.slant - a.slant);
        let ends = [self.girth(Mm::ZERO), self.girth(self.wall)];
        sine < STEEPEST_DEG.to_radians().sin()
            && ends.iter().all(|g| g.0 > 20.0)
            && self.rings.iter().all(|r| (60.0..=1500.0).contains(&r.girth.0))
    }
    /// Would one meet a cup like this? Bounds are wide round cups on sale (common practice, no source): 45 ml
    /// measures to 2.5 l steins, walls 0.4 to 3.2 diameters long, rim 0.6 to 2.2 times the base, readings on
    /// one cone within 6 percent.
    fn plausible(&self) -> bool {
        if !self.possible() {
            return false;
        }
        let (low, high) = (self.girth(Mm::ZERO), self.girth(self.wall));
        let slender = self.wall.0 / ((low.0 + high.0) / TAU);
        (0.6..=2.2).contains(&(high / low))
            && (0.4..=3.2).contains(&slender)
            && (45.0..=3200.0).contains(&self.volume().0)
            && self.off_cone() < 0.06
    }
    /// Rim over base as on most cups: a slip is only blamed when undoing it gives one.
    fn everyday_taper(&self) -> bool {
        (0.78..=1.75).contains(&(self.girth(self.wall) / self.girth(Mm::ZERO)))
    }
    /// Leans more than walls on sale mostly do, as typed: bowls and saucers, where rim and base may well
    /// differ threefold.
    fn steep(&self) -> bool {
        let (a, b) = (self.rings[0], self.rings[self.rings.len() - 1]);
        (b.girth - a.girth).abs() / TAU / (b.slant - a.slant) > STEEP_DEG.to_radians().sin()
    }
    /// Three readings or more on one cone: no single one of them can have slipped.
    fn confirmed(&self) -> bool {
        self.rings.len() > 2 && self.off_cone() < 0.03
    }
    /// The size and shape of most cups that are decorated (common practice, no source): 150 to 1,200 ml,
    /// walls of 0.8 to 2.6 diameters.
    fn everyday_size(&self) -> bool {
        let slender = self.wall.0 / ((self.girth(Mm::ZERO).0 + self.girth(self.wall).0) / TAU);
        (0.8..=2.6).contains(&slender) && (150.0..=1200.0).contains(&self.volume().0)
    }
    /// How far a reading lies off the line through the lowest and the highest, as a part of itself.
    fn off_cone(&self) -> f64 {
        self.rings.iter().map(|r| (r.girth - self.girth(r.slant)).abs() / r.girth).fold(0.0, f64::max)
    }
}

/// How the volume of the outside stands to the stated capacity.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Agreement {
    /// As cups on sale do.
    Good,
    /// Unusual.
    Odd,
    /// Cannot be.
    Impossible,
}

/// Outside over nominal is 1.1 to 1.4 on cups sold with both figures; double walls reach higher, brim
/// capacities lower.
fn agreement(volume: Ml, capacity: Ml) -> Agreement {
    match volume / capacity {
        r if (1.02..=1.75).contains(&r) => Agreement::Good,
        r if (0.92..=2.5).contains(&r) => Agreement::Odd,
        _ => Agreement::Impossible,
    }
}

/// One slip: what it would have been, and the readings with it undone.
struct Slip {
    /// AsTyped it is about, as places in the list; empty: all.
    about: Vec<usize>,
    message: String,
    help: String,
    undone: AsTyped,
}

/// Judges the readings; a slip that explains impossible readings is a fault, otherwise a warning.
pub(super) fn judge(
    cup: &Section<'_>,
    readings: &AsTyped,
    capacity: Option<Ml>,
) -> Result<(), ErrorGuaranteed> {
    if readings.zoned() {
        hold_to_range(cup, readings)?;
        let agreement = capacity.map(|c| (c, agreement(readings.volume(), c)));
        return agreement.map_or(Ok(()), |(c, agreement)| off_capacity(cup, readings, c, agreement));
    }
    let agrees = |r: &AsTyped| capacity.map(|c| agreement(r.volume(), c));
    let as_typed = agrees(readings);
    if readings.possible() && as_typed == Some(Agreement::Good) {
        return Ok(());
    }
    if readings.plausible() && as_typed.is_none() {
        return Ok(());
    }
    let steep = readings.possible() && readings.steep();
    let fits = |r: &AsTyped| {
        // A steep wall is taken at its word, unless undoing a slip gives a cup as most are.
        if steep && !r.everyday_size() {
            return false;
        }
        // A capacity that agrees also speaks for an unusual cup, but not for an impossible one.
        match agrees(r) {
            None => r.plausible() && r.everyday_taper(),
            Some(agreement) => r.possible() && agreement == Agreement::Good,
        }
    };
    let sure = !readings.possible()
        || as_typed == Some(Agreement::Impossible)
        || (near_pi(readings).is_some() && !steep)
        || readings.off_cone() > 0.3;
    if as_typed != Some(Agreement::Odd)
        && let Some(slip) = slips(cup, readings)
            .into_iter()
            .filter(|s| s.about.is_empty() || !(readings.possible() && readings.confirmed()))
            .find(|s| fits(&s.undone))
    {
        return report(cup, readings, capacity, slip, sure);
    }
    hold_to_range(cup, readings)?;
    match (capacity, as_typed) {
        (Some(capacity), Some(agreement)) => off_capacity(cup, readings, capacity, agreement),
        _ => Ok(()),
    }
}

/// Two girths whose ratio is near pi: the smaller is most likely a diameter.
fn near_pi(readings: &AsTyped) -> Option<usize> {
    let (first, last) = (0, readings.rings.len() - 1);
    let ratio = readings.rings[last].girth / readings.rings[first].girth;
    // Rim over base of a cup is 0.7 to 1.7; the same over pi.
    let near = |r: f64| (PI * 0.7..=PI * 1.7).contains(&r);
    match () {
        () if near(ratio) => Some(first),
        () if near(1.0 / ratio) => Some(last),
        () => None,
    }
}

/// What slips are told with: the words for what was typed, and its other unit.
struct Wording<'a> {
    cup: &'a Section<'a>,
    readings: &'a AsTyped,
    inches: bool,
}

impl Wording<'_> {
    fn typed(&self, i: usize) -> Mm {
        match self.readings.said {
            Said::Girths => self.readings.rings[i].girth,
            Said::Diameters => self.readings.rings[i].girth / PI,
        }
    }
    /// What it is, what it may be instead, and the factor between.
    fn kind(&self) -> (&'static str, &'static str, f64) {
        match self.readings.said {
            Said::Girths => ("girth", "a diameter typed as a girth", PI),
            Said::Diameters => ("diameter", "a girth typed as a diameter", 1.0 / PI),
        }
    }
    /// The factor to the other unit, and its sign.
    fn other(&self) -> (f64, &'static str) {
        if self.inches { (1.0 / 25.4, "mm") } else { (25.4, "in") }
    }
    fn own(&self) -> &'static str {
        if self.inches { "in" } else { "mm" }
    }
    fn shown(&self, i: usize) -> String {
        self.cup.reader().typed(self.typed(i))
    }
    /// Slips of one reading.
    fn of_one(&self, i: usize) -> Vec<Slip> {
        let one = |f: f64| self.readings.with_girths(|j, g| if i == j { g * f } else { g });
        let (word, mistake, by) = self.kind();
        let (factor, unit) = self.other();
        let fits = self.cup.reader().show(self.typed(i) * by);
        let slip = |message: String, help: String, undone| Slip { about: vec![i], message, help, undone };
        let mut all = vec![
            slip(
                format!("this looks like {mistake}"),
                format!("a {word} of {fits} fits the other readings; write that if so"),
                one(by),
            ),
            slip(
                format!("this looks like {} typed as {}", unit_word(unit), unit_word(self.own())),
                format!("write \"{} {unit}\" if so", self.shown(i)),
                one(factor),
            ),
        ];
        if !self.inches {
            let message = "this looks like centimetres typed as millimetres".to_owned();
            all.push(slip(message, format!("write \"{} cm\" if so", self.shown(i)), one(10.0)));
        }
        all
    }
    /// Slips of all readings together.
    fn of_all(&self) -> Vec<Slip> {
        let every = |f: f64| self.readings.with_girths(|_, g| g * f);
        let (factor, unit) = self.other();
        let shown = self.shown(0);
        let slip = |message: &str, help: String, undone| Slip {
            about: vec![],
            message: message.to_owned(),
            help,
            undone,
        };
        let by = self.kind().2;
        let mut all = match self.readings.said {
            Said::Girths => vec![
                slip(
                    "these look like diameters typed as girths",
                    "if so, say them as `[cup.diameters]` with `rim`, `base` and `slant`".into(),
                    every(by),
                ),
                slip(
                    "these look like radii typed as girths",
                    "if so, say them as `[cup.diameters]`, each twice as large".into(),
                    every(TAU),
                ),
            ],
            Said::Diameters => vec![slip(
                "these look like girths typed as diameters",
                "if so, say them as `rings`, each with `up` and `girth`".into(),
                every(by),
            )],
        };
        let units = unit_word(unit);
        let each = format!("write each with its unit, such as \"{shown} {unit}\"");
        all.push(slip(
            &format!("these look like {units} while the job's unit is {}", self.own()),
            format!("{each}, or set the job's `unit`"),
            every(factor).with_heights(factor),
        ));
        let message = format!("these look like {units}, while the heights are in the job's unit");
        all.push(slip(&message, each, every(factor)));
        if !self.inches {
            all.push(slip(
                "these look like centimetres typed as millimetres",
                format!("write each with its unit, such as \"{shown} cm\""),
                every(10.0).with_heights(10.0),
            ));
        }
        all
    }
}

/// All slips worth trying, likeliest first.
fn slips(cup: &Section<'_>, readings: &AsTyped) -> Vec<Slip> {
    let inches = cup.reader().unit.get() == crate::base::units::LengthUnit::In;
    let words = Wording { cup, readings, inches };
    let mut all: Vec<Slip> = (0..readings.rings.len()).flat_map(|i| words.of_one(i)).collect();
    all.extend(words.of_all());
    all
}

fn unit_word(unit: &str) -> &'static str {
    if unit == "in" { "inches" } else { "millimetres" }
}

fn report(
    cup: &Section<'_>,
    readings: &AsTyped,
    capacity: Option<Ml>,
    slip: Slip,
    sure: bool,
) -> Result<(), ErrorGuaranteed> {
    let reader = cup.reader();
    let show = |g: Mm| match readings.said {
        Said::Girths => reader.show(g),
        Said::Diameters => reader.show(g / PI),
    };
    let whole = if readings.said == Said::Girths { "rings" } else { "diameters" };
    let at = match slip.about[..] {
        [i] => readings.fields[i].clone(),
        _ => cup.path(whole),
    };
    let why = match capacity {
        Some(c) => format!(
            "as typed the outside holds {:.0}, stated are {:.0}; with the slip undone it holds {:.0}",
            readings.volume(),
            c,
            slip.undone.volume()
        ),
        None if readings.possible() => format!(
            "as typed the cup is {} round at the base, {} at the rim, {} up the wall and holds {:.0}",
            reader.show(readings.girth(Mm::ZERO)),
            reader.show(readings.girth(readings.wall)),
            reader.show(readings.wall),
            readings.volume()
        ),
        None => "as typed the readings make no cup".into(),
    };
    let measured = match slip.about[..] {
        [i] => format!("{}; {why}", show(readings.rings[i].girth)),
        _ => why,
    };
    let third = if readings.said == Said::Girths && readings.rings.len() == 2 {
        "read a third ring between the two, or "
    } else {
        ""
    };
    let help = format!("{}; if it is right as it is, {third}state the cup's `capacity`", slip.help);
    if sure {
        let d = Diagnostic::fault(&codes::UNIT_SLIP, at, slip.message).measured(measured);
        let settled = capacity.is_some() || !readings.possible();
        return Err(reader.push(d.help(if settled { slip.help } else { help })));
    }
    reader.push(Diagnostic::warning(&codes::UNIT_SLIP, at, slip.message).measured(measured).help(help));
    Ok(())
}

fn off_capacity(
    cup: &Section<'_>,
    readings: &AsTyped,
    capacity: Ml,
    agreement: Agreement,
) -> Result<(), ErrorGuaranteed> {
    let message = "the stated capacity does not fit the readings";
    let finish = |d: Diagnostic| {
        d.measured(format!(
            "the outside holds {:.0}, {:.2} times the stated {:.0}",
            readings.volume(),
            readings.volume() / capacity,
            capacity
        ))
        .allowed("about 1.1 to 1.4 times")
        .help("check the readings and the capacity (US or imperial ounces?), or leave `capacity` out")
    };
    match agreement {
        Agreement::Good => Ok(()),
        Agreement::Odd => {
            cup.reader().push(finish(cup.warning(&codes::CAPACITY, "capacity", message)));
            Ok(())
        }
        Agreement::Impossible => {
            Err(cup.reader().push(finish(cup.fault(&codes::CAPACITY, "capacity", message))))
        }
    }
}
