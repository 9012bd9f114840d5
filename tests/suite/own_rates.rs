//! Simulated makers: intervals hold as often as they say, one odd entry moves little. The makers here are not those of the
//! model: their entries are normal in logarithms with spreads of 15 to 30 percent, and one in twenty is three times off.

use frusta::make::finish::learn::{TAKES, factor};

/// Uniform in 0 to 1, the same for the same seed (SplitMix64).
struct Draws(u64);
impl Draws {
    fn uniform(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let z = (self.0 ^ (self.0 >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        let z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        (((z ^ (z >> 31)) >> 11) as f64 + 0.5) / (1u64 << 53) as f64
    }
    /// Box and Muller 1958.
    fn normal(&mut self) -> f64 {
        let (u, v) = (self.uniform(), self.uniform());
        (-2.0 * u.ln()).sqrt() * (std::f64::consts::TAU * v).cos()
    }
}

/// A maker whose own factor strays by `takes`, and her entries: normal in logarithms, one in twenty of them odd.
fn maker(d: &mut Draws, takes: f64, entries: usize) -> (f64, Vec<f64>) {
    let mu = takes * d.normal();
    let spread = 0.15 + 0.15 * d.uniform();
    let one = |d: &mut Draws| {
        let odd = if d.uniform() < 0.05 { 1.1 * if d.uniform() < 0.5 { 1.0 } else { -1.0 } } else { 0.0 };
        f64::exp(mu + spread * d.normal() + odd)
    };
    (f64::exp(mu), (0..entries).map(|_| one(d)).collect())
}

fn makers() -> usize {
    std::env::var("FRUSTA_CASES").ok().and_then(|n| n.parse().ok()).unwrap_or(400)
}

/// Of 100 intervals that say 80, 75 to 85 hold the maker's own rate.
#[test]
fn intervals_of_80_percent_hold_75_to_85() {
    let mut d = Draws(20_261_130);
    for entries in [1, 3, 8, 20] {
        let n = makers();
        let held = (0..n)
            .filter(|_| {
                let (own, seen) = maker(&mut d, TAKES, entries);
                let e = factor(&seen);
                (e.low..=e.high).contains(&own)
            })
            .count();
        let part = held as f64 / n as f64;
        println!("{entries} entries: {:.1} % of {n}", part * 100.0);
        // A count of n strays by a standard deviation of sqrt(0.16 / n): three of them beyond the promise at few makers.
        let stray = if n < 4000 { 2.0 * f64::sqrt(0.16 / n as f64) } else { 0.0 };
        assert!((0.75 - stray..=0.85 + stray).contains(&part), "{entries} entries: {part}");
    }
}

/// One more entry, a third to a tenth or three to ten times what it should be, moves a rate by less than a tenth, however
/// few there are.
#[test]
fn one_odd_entry_moves_a_rate_by_less_than_a_tenth() {
    let mut d = Draws(1_130);
    for entries in [0, 1, 2, 3, 4, 6, 8, 12] {
        let (mut worst, mut beyond): (f64, usize) = (0.0, 0);
        let n = makers() / 4;
        for _ in 0..n {
            let mu = TAKES * d.normal();
            let spread = 0.15 + 0.15 * d.uniform();
            let mut seen: Vec<f64> = (0..entries).map(|_| f64::exp(mu + spread * d.normal())).collect();
            let before = factor(&seen).value;
            let times = 3.0 + 7.0 * d.uniform();
            seen.push(f64::exp(mu) * if d.uniform() < 0.5 { times } else { 1.0 / times });
            let moved = (factor(&seen).value / before - 1.0).abs();
            worst = worst.max(moved);
            beyond += usize::from(moved >= 0.10);
        }
        println!(
            "{entries} entries and an odd one: at worst {:.1} %, {beyond} of {n} beyond 10 %",
            worst * 100.0
        );
        assert!(worst < 0.10, "{entries} entries: {worst}");
    }
}

/// A maker who takes twice as long is believed to within a tenth after twelve entries, and the rates of makers whose logs
/// are long are their own.
#[test]
fn long_logs_are_believed() {
    let mut d = Draws(77);
    for (entries, within) in [(12, 0.12), (40, 0.10)] {
        for mu in [-0.69f64, 0.69] {
            let n = makers() / 4;
            let mut off: Vec<f64> = (0..n)
                .map(|_| {
                    let seen: Vec<f64> = (0..entries).map(|_| f64::exp(mu + 0.2 * d.normal())).collect();
                    (factor(&seen).value.ln() - mu).abs()
                })
                .collect();
            off.sort_by(f64::total_cmp);
            assert!(off[n / 2] < within, "{entries} entries, {mu}: {}", off[n / 2]);
        }
    }
}
