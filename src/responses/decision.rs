//! What is decided of two levels in a response: which has more, by how much; as advice only where the response was named to lead.

use super::amounts::Amounts;
use super::compared::Found;
use crate::report::{Spoken, capital, fitted};

/// The sentence: the decision with the difference of means, its limits, and whether the response leads.
pub(super) fn sentence(found: &Found, said: &Spoken, amounts: &Amounts) -> String {
    let numbers = &found.numbers;
    let level = |one: &[String]| one.first().map(String::as_str).unwrap_or_default().to_owned();
    let names = [level(&numbers.first.levels), level(&numbers.second.levels)];
    let second = numbers.value >= 0.0;
    let (better, worse) = if second { (&names[1], &names[0]) } else { (&names[0], &names[1]) };
    let (better, worse) = (said.level(better), said.short(worse));
    let secondary = if numbers.primary { Vec::new() } else { vec!["; a secondary response".to_owned()] };
    let Some((low, high)) = numbers.low.zip(numbers.high) else {
        return fitted(
            &format!("{} and {worse} cannot be told apart in {}", capital(&better), amounts.name),
            &secondary,
        );
    };
    let (low, high) = if second { (low, high) } else { (-high, -low) };
    let gain = numbers.value.abs();
    let alpha = 1.0 - numbers.confidence;
    if numbers.p.is_none_or(|p| p > alpha) {
        let few = found.fewest < FEW;
        let start = if few { "Too few trays to tell" } else { "No difference shown in" };
        let between = if few {
            format!("{start} {better} from {worse} in {}", amounts.what())
        } else {
            format!("{start} {} between {better} and {worse}", amounts.what())
        };
        let open = format!("{between}: {} cannot be ruled out", amounts.range(low, high));
        return fitted(&open, &secondary);
    }
    let told = format!("{} than {worse} ({})", amounts.more(gain), amounts.range(low, high));
    // A test that no outcome could take below what is allowed cannot confirm.
    let doubted = numbers.randomisation.as_ref().is_some_and(|one| one.smallest_p <= alpha && one.p > alpha);
    let lead = match (numbers.primary, doubted) {
        (true, false) => format!("Use {better}: {told}"),
        (true, true) => format!("Leaning to {better}: {told}"),
        (false, false) => format!("{}: {told}", capital(&better)),
        (false, true) => format!("{} may have {told}", capital(&better)),
    };
    fitted(&lead, &secondary)
}

/// Fewer units of a level hardly tell how units differ.
const FEW: usize = 3;
