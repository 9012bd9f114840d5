//! The code of a proof: 50 bits of a fingerprint and two check characters, in groups of four: `K7QM-3XTE-9RAB`.
//!
//! The checks are those of a Reed-Solomon code over 32 symbols (Reed and Solomon 1960): one or two wrong characters
//! and two that changed places are always found. It is a check on typing, no signature.
//!
//! Imports: none.

/// Digits and capitals without those that are read as others.
const ALPHABET: &[u8; 32] = b"0123456789ABCDEFGHJKMNPQRSTVWXYZ";
/// Characters of data, and with the checks.
const DATA: usize = 10;
const ALL: usize = DATA + 2;

/// Powers of a primitive element of the field of 32, x^5 + x^2 + 1.
fn power(k: usize) -> u8 {
    (0..k % 31).fold(1u8, |v, _| if v & 16 > 0 { (v << 1 ^ 0b10_0101) & 31 } else { v << 1 })
}

fn times(a: u8, b: u8) -> u8 {
    let log = |v: u8| (0..31).find(|k| power(*k) == v).unwrap_or(0);
    if a == 0 || b == 0 { 0 } else { power(log(a) + log(b)) }
}

/// Both sums that are nothing for a code without an error.
fn sums(word: &[u8; ALL]) -> [u8; 2] {
    let sum = |j: usize| word.iter().enumerate().fold(0, |s, (i, v)| s ^ times(*v, power(j * (ALL - 1 - i))));
    [sum(0), sum(1)]
}

/// The code of a fingerprint's first bytes.
pub fn of(fingerprint: &[u8; 32]) -> String {
    let bits = fingerprint[..8].iter().fold(0u64, |n, b| n << 8 | u64::from(*b)) >> 14;
    let mut word = [0u8; ALL];
    for (i, v) in word.iter_mut().take(DATA).enumerate() {
        *v = (bits >> (5 * (DATA - 1 - i)) & 31) as u8;
    }
    // a + b = s0 and a α + b = s1: a = (s0 + s1) / (α + 1).
    let [s0, s1] = sums(&word);
    let a = (0..32u8).find(|a| times(*a, power(1) ^ 1) == s0 ^ s1).unwrap_or(0);
    (word[DATA], word[DATA + 1]) = (a, a ^ s0);
    let letters: String = word.iter().map(|v| char::from(ALPHABET[usize::from(*v)])).collect();
    format!("{}-{}-{}", &letters[..4], &letters[4..8], &letters[8..])
}

/// A code as typed, in its own form: small letters, O for 0, I and L for 1, spaces and hyphens anywhere.
///
/// # Errors
/// What is wrong with it; where one character is wrong, which.
pub fn typed(text: &str) -> Result<String, String> {
    let mut word = [0u8; ALL];
    let mut n = 0;
    for c in text.chars().filter(|c| !c.is_whitespace() && *c != '-') {
        let c = match c.to_ascii_uppercase() {
            'O' => '0',
            'I' | 'L' => '1',
            c => c,
        };
        let Some(v) = ALPHABET.iter().position(|a| char::from(*a) == c) else {
            return Err(format!("\"{c}\" is no character of a code"));
        };
        if n == ALL {
            return Err(format!("a code has {ALL} characters, this one more"));
        }
        word[n] = v as u8;
        n += 1;
    }
    if n < ALL {
        return Err(format!("a code has {ALL} characters, this one {n}"));
    }
    let [s0, s1] = sums(&word);
    if (s0, s1) != (0, 0) {
        let place = (0..ALL).find(|i| s0 > 0 && times(s0, power(ALL - 1 - i)) == s1);
        return Err(match place {
            Some(i) => format!("character {} may be wrong", i + 1),
            None => "more than one character is wrong".into(),
        });
    }
    let letters: String = word.iter().map(|v| char::from(ALPHABET[usize::from(*v)])).collect();
    Ok(format!("{}-{}-{}", &letters[..4], &letters[4..8], &letters[8..]))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        /// A code of distance three finds every one or two wrong characters, and so every swap.
        #[test]
        fn wrong_characters_are_found(bytes: [u8; 32], at in 0usize..12, other in 0usize..12, a in 1u8..32, b in 1u8..32) {
            let code = of(&bytes);
            prop_assert_eq!(typed(&code), Ok(code.clone()));
            prop_assert_eq!(typed(&code.to_lowercase().replace('-', " ").replace('0', "o")), Ok(code.clone()));
            let mut letters: Vec<char> = code.chars().filter(|c| *c != '-').collect();
            let turned = |c: char, by: u8| {
                let v = ALPHABET.iter().position(|x| char::from(*x) == c).expect("a letter") as u8;
                char::from(ALPHABET[usize::from(v ^ by)])
            };
            letters[at] = turned(letters[at], a);
            let one: String = letters.iter().collect();
            prop_assert_eq!(typed(&one), Err(format!("character {} may be wrong", at + 1)));
            if other != at {
                letters[other] = turned(letters[other], b);
                let two: String = letters.iter().collect();
                prop_assert!(typed(&two).is_err());
            }
            let mut swapped: Vec<char> = code.chars().filter(|c| *c != '-').collect();
            if at != other && swapped[at] != swapped[other] {
                swapped.swap(at, other);
                prop_assert!(typed(&swapped.iter().collect::<String>()).is_err());
            }
        }
    }
}
