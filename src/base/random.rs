//! Random numbers that are the same on every system: one ChaCha8 stream per (seed, stage, item).
//!
//! Imports: base::units.

use super::units::Seed;
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng, SeedableRng};

/// What a 64-bit FNV-1a hash begins with (RFC 9923, `offset_basis`).
pub const FNV_OFFSET: u64 = 0xcbf2_9ce4_8422_2325;
/// What each step of a 64-bit FNV-1a hash multiplies by (RFC 9923, `FNV_Prime`).
pub const FNV_PRIME: u64 = 0x0100_0000_01b3;

/// 64-bit FNV-1a of bytes (Fowler, Noll and Vo): tells things apart by a few instructions a byte; guards
/// against nobody.
pub fn fnv1a(bytes: impl IntoIterator<Item = u8>) -> u64 {
    bytes.into_iter().fold(FNV_OFFSET, |h, b| (h ^ u64::from(b)).wrapping_mul(FNV_PRIME))
}

/// A stream of its own: what one item draws never shifts what another gets.
pub struct Random(ChaCha8Rng);

impl Random {
    /// The stream of an item of a stage.
    pub fn new(seed: Seed, stage: &str, item: u64) -> Random {
        // The hash of the stage's name keeps streams apart; ChaCha mixes the rest.
        let stage = fnv1a(stage.bytes());
        let mut key = [0u8; 32];
        key[0..8].copy_from_slice(&seed.0.to_le_bytes());
        key[8..16].copy_from_slice(&stage.to_le_bytes());
        key[16..24].copy_from_slice(&item.to_le_bytes());
        Random(ChaCha8Rng::from_seed(key))
    }
    /// Any 64 bits.
    pub fn bits(&mut self) -> u64 {
        self.0.next_u64()
    }
    /// In [0, 1), 53 bits.
    pub fn unit(&mut self) -> f64 {
        (self.bits() >> 11) as f64 * (1.0 / (1u64 << 53) as f64)
    }
    /// In [from, to).
    pub fn between(&mut self, from: f64, to: f64) -> f64 {
        from + (to - from) * self.unit()
    }
    /// In 0..n, n above 0.
    pub fn below(&mut self, n: usize) -> usize {
        // Multiply-shift (Lemire 2019, doi 10.1145/3230636): bias below n / 2^64.
        ((u128::from(self.bits()) * n as u128) >> 64) as usize
    }
    /// Shuffles in place (Fisher and Yates).
    pub fn shuffle<T>(&mut self, items: &mut [T]) {
        for i in (1..items.len()).rev() {
            items.swap(i, self.below(i + 1));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Published test vectors: the empty string and "a" (RFC 9923, test values of 64-bit FNV-1a; from
    /// memory).
    #[test]
    fn the_hash_is_the_published_one() {
        assert_eq!((fnv1a(*b""), fnv1a(*b"a")), (0xcbf2_9ce4_8422_2325, 0xaf63_dc4c_8601_ec8c));
    }

    #[test]
    fn streams_differ_and_repeat() {
        let draw = |seed, stage, item| Random::new(Seed(seed), stage, item).bits();
        assert_eq!(draw(1, "accent", 0), draw(1, "accent", 0));
        let all = [draw(1, "accent", 0), draw(2, "accent", 0), draw(1, "motif", 0), draw(1, "accent", 1)];
        for i in 0..4 {
            for j in 0..i {
                assert_ne!(all[i], all[j]);
            }
        }
    }

    /// ChaCha8 with a zero key and stream 0, first block: test vector "TC1" of the eSTREAM ChaCha set
    /// (draft-strombergson-chacha-test-vectors-01), 256-bit key, 8 rounds.
    #[test]
    fn the_generator_is_the_published_one() {
        let mut zero = ChaCha8Rng::from_seed([0; 32]);
        let mut first = [0u8; 8];
        zero.fill_bytes(&mut first);
        assert_eq!(first, [0x3e, 0x00, 0xef, 0x2f, 0x89, 0x5f, 0x40, 0xd6]);
    }
}
