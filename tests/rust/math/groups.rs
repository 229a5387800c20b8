//! Grouping by codes against a tree of code vectors.

use std::collections::BTreeMap;

use proptest::prelude::*;
use rootling::math::design::{Codes, Key, distinct, sorted, tally};

/// The lines of every combination, in the order of the codes.
fn by_tree(columns: &[Vec<u32>], lines: usize) -> BTreeMap<Vec<u32>, Vec<usize>> {
    let mut found: BTreeMap<Vec<u32>, Vec<usize>> = BTreeMap::new();
    for line in 0..lines {
        found.entry(columns.iter().map(|codes| codes[line]).collect()).or_default().push(line);
    }
    found
}

fn check(columns: &[Vec<u32>], keys: &[Key<'_>], lines: usize) {
    let tree = by_tree(columns, lines);
    let mut members: Vec<&Vec<usize>> = tree.values().collect();
    assert_eq!(sorted(keys, lines).groups().collect::<Vec<_>>(), members);
    members.sort_by_key(|lines| lines[0]);
    let (firsts, sizes) = tally(keys, lines);
    assert_eq!(firsts, members.iter().map(|lines| lines[0]).collect::<Vec<_>>());
    assert_eq!(sizes, members.iter().map(|lines| lines.len() as u64).collect::<Vec<_>>());
    let numbered = distinct(keys, lines);
    assert_eq!(numbered.firsts, firsts);
    for (number, lines) in members.into_iter().enumerate() {
        assert!(lines.iter().all(|line| numbered.numbers[*line] as usize == number));
    }
}

fn columns(sizes: &'static [u32]) -> impl Strategy<Value = Vec<Vec<u32>>> {
    (0_usize..200)
        .prop_flat_map(move |lines| sizes.iter().map(|size| prop::collection::vec(0..*size, lines)).collect::<Vec<_>>())
}

proptest! {
    #[test]
    fn few_codes_in_a_table(columns in columns(&[3, 1, 4])) {
        let keys: Vec<Key<'_>> = columns.iter().zip([3, 1, 4]).map(|(codes, size)| Key::new(codes, size)).collect();
        check(&columns, &keys, columns[0].len());
    }

    #[test]
    fn codes_of_any_width(columns in columns(&[2, 300, 70_000])) {
        let packed: Vec<Codes> = columns.iter().zip([2, 300, 70_000]).map(|(codes, size)| {
            let mut packed = Codes::with_capacity(codes.len());
            // Codes that come in two parts: the first may still be narrow.
            let (first, second) = codes.split_at(codes.len() / 2);
            packed.extend(first, 1 + first.iter().max().map_or(0, |code| *code as usize));
            packed.extend(second, size);
            packed
        }).collect();
        let keys: Vec<Key<'_>> = packed.iter().zip([2, 300, 70_000]).map(|(codes, size)| codes.key(size)).collect();
        check(&columns, &keys, columns[0].len());
    }

    #[test]
    fn more_combinations_than_one_number_holds(columns in columns(&[2, 2, 2, 2, 2])) {
        let lines = columns[0].len();
        let keys: Vec<Key<'_>> = columns.iter().map(|codes| Key::new(codes, 1 << 20)).collect();
        let (firsts, sizes) = tally(&keys, lines);
        let narrow: Vec<Key<'_>> = columns.iter().map(|codes| Key::new(codes, 2)).collect();
        prop_assert_eq!((firsts, sizes), tally(&narrow, lines));
        prop_assert_eq!(distinct(&keys, lines), distinct(&narrow, lines));
    }
}

#[test]
fn without_columns_all_lines_are_alike() {
    assert_eq!(tally(&[], 3), (vec![0], vec![3]));
    assert_eq!(tally(&[], 0), (vec![], vec![]));
    assert!(sorted(&[], 0).is_empty());
}
