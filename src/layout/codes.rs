//! Blind codes of trays: a letter, three digits and a check letter; and letters that seal a plan and each line of its key.
//!
//! Letters are those of the alphabet without E, I and O, so that no spreadsheet takes a code for a number and nobody takes it for 1 or 0. They
//! are 23, a prime, and so the check letter shows every single wrong sign and every two neighbours that were exchanged.

use rand_chacha::ChaCha8Rng;

use crate::math::rng::below;

const LETTERS: &[u8] = b"ABCDFGHJKLMNPQRSTUVWXYZ";
const BASE: u64 = LETTERS.len() as u64;
/// Codes that there are.
pub(super) const MOST: usize = 23_000;
/// Letters of a fingerprint and of a seal.
const PRINT: usize = 12;
const SEAL: usize = 6;

fn letter(at: u64) -> char {
    LETTERS.get((at % BASE) as usize).map_or('A', |one| char::from(*one))
}

fn place(letter: char) -> Option<u64> {
    LETTERS.iter().position(|one| char::from(*one) == letter).map(|at| at as u64)
}

/// The code with this number, below 23,000.
fn code(number: u64) -> String {
    let (first, digits) = (number / 1000, number % 1000);
    let sum = first + 2 * (digits / 100) + 3 * (digits / 10 % 10) + 4 * (digits % 10);
    format!("{}{digits:03}{}", letter(first), letter(sum))
}

/// Distinct codes in an order that tells nothing.
pub(super) fn codes(rng: &mut ChaCha8Rng, n: usize) -> Vec<String> {
    let mut taken = vec![false; MOST];
    let mut found = Vec::with_capacity(n);
    while found.len() < n.min(MOST) {
        let number = below(rng, MOST as u32) as usize;
        if let Some(slot) = taken.get_mut(number).filter(|slot| !**slot) {
            *slot = true;
            found.push(code(number as u64));
        }
    }
    found
}

/// A code as somebody wrote it: without spaces and hyphens, in capitals. None where its check letter does not fit.
///
/// ```
/// use rootling::layout::tray_code;
/// assert_eq!(tray_code(" h482a ").as_deref(), Some("H482A"));
/// assert_eq!(tray_code("H428A"), None); // two signs exchanged
/// ```
#[must_use]
pub fn tray_code(written: &str) -> Option<String> {
    let signs: Vec<char> = written
        .chars()
        .filter(|sign| !sign.is_whitespace() && *sign != '-')
        .map(|sign| sign.to_ascii_uppercase())
        .collect();
    let [first, digits @ .., _check] = signs.as_slice() else { return None };
    let first = place(*first).filter(|_| digits.len() == 3)?;
    let number = digits.iter().try_fold(0_u64, |sum, digit| Some(10 * sum + u64::from(digit.to_digit(10)?)))?;
    let right = code(1000 * first + number);
    (right.chars().eq(signs.iter().copied())).then_some(right)
}

/// A number that goes with what is held.
pub(super) fn number_of(held: &impl serde::Serialize) -> u64 {
    u64::from_str_radix(&crate::trial::fingerprint(held), 16).unwrap_or_default()
}

/// So many letters that go with what is held.
fn letters(held: &impl serde::Serialize, n: usize) -> String {
    let mut left = number_of(held);
    let mut told = String::with_capacity(n);
    for _ in 0..n {
        told.push(letter(left % BASE));
        left /= BASE;
    }
    told
}

/// The fingerprint of what a plan holds.
pub(super) fn fingerprint(held: &impl serde::Serialize) -> String {
    letters(held, PRINT)
}

/// The seal of a line of the key: it goes with this plan, this tray and these entries alone.
///
/// ```
/// use rootling::layout::seal;
/// let entries = ["2500".to_owned(), "K12".to_owned()];
/// assert_ne!(seal("ABCDABCDABCD", "H482A", &entries), seal("ABCDABCDABCD", "H482A", &entries[..1]));
/// ```
#[must_use]
pub fn seal(plan: &str, tray: &str, entries: &[String]) -> String {
    letters(&(plan, tray, entries), SEAL)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math::rng::stream;

    #[test]
    fn every_slip_of_one_sign_or_two_neighbours_shows() {
        for right in codes(&mut stream(1, 0), 40) {
            assert_eq!(tray_code(&right), Some(right.clone()));
            let signs: Vec<char> = right.chars().collect();
            for at in 0..signs.len() {
                for other in "ABCDFGHJKLMNPQRSTUVWXYZ0123456789".chars().filter(|one| *one != signs[at]) {
                    let mut wrong = signs.clone();
                    wrong[at] = other;
                    assert_eq!(tray_code(&wrong.iter().collect::<String>()), None, "{right}");
                }
                if at + 1 < signs.len() && signs[at] != signs[at + 1] {
                    let mut wrong = signs.clone();
                    wrong.swap(at, at + 1);
                    assert_eq!(tray_code(&wrong.iter().collect::<String>()), None, "{right}");
                }
            }
        }
    }
}
