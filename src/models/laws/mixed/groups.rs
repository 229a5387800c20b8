//! Groupings of rows: codes made compact, nesting found, rows that are alike joined.

use super::rows::Table;

/// Rows sorted by group, rows with equal groups, design and offset joined into one.
#[derive(Debug, Clone)]
pub(super) struct Layout {
    pub(super) table: Table,
    /// Per grouping, the level of each row, `0 .. size - 1`, in the order of the caller's codes.
    pub(super) levels: Vec<Vec<usize>>,
    /// Per grouping, the caller's code of each level.
    pub(super) codes: Vec<Vec<usize>>,
}

impl Layout {
    /// Groupings are sorted by in the order given: outermost first.
    pub(super) fn new(table: &Table, groupings: &[&[usize]]) -> Self {
        let codes: Vec<Vec<usize>> = groupings
            .iter()
            .map(|of| {
                let mut codes = of.to_vec();
                codes.sort_unstable();
                codes.dedup();
                codes
            })
            .collect();
        let level = |g: usize, i: usize| -> usize {
            let code = groupings.get(g).and_then(|of| of.get(i)).copied().unwrap_or(0);
            codes.get(g).and_then(|codes| codes.binary_search(&code).ok()).unwrap_or(0)
        };
        let all: Vec<Vec<usize>> =
            (0..table.rows()).map(|i| (0..groupings.len()).map(|g| level(g, i)).collect()).collect();
        let of = |i: usize| all.get(i).map(Vec::as_slice).unwrap_or_default();
        let offset = |i: usize| table.offset.get(i).copied().unwrap_or(0.0);
        let mut order: Vec<usize> = (0..table.rows()).collect();
        order.sort_by(|a, b| {
            let x = table.row(*a).iter().zip(table.row(*b)).map(|(a, b)| a.total_cmp(b));
            of(*a)
                .cmp(of(*b))
                .then_with(|| x.fold(std::cmp::Ordering::Equal, std::cmp::Ordering::then))
                .then_with(|| offset(*a).total_cmp(&offset(*b)))
        });
        let mut out = Table {
            p: table.p,
            x: Vec::new(),
            rooted: Vec::new(),
            stuck: Vec::new(),
            offset: Vec::new(),
            copies: Vec::new(),
            link: table.link,
        };
        let mut levels: Vec<Vec<usize>> = vec![Vec::new(); groupings.len()];
        let mut before: Option<usize> = None;
        for i in order {
            let get = |values: &[f64]| values.get(i).copied().unwrap_or(0.0);
            #[allow(clippy::float_cmp)] // Rows are alike only when they are equal.
            let alike =
                before.is_some_and(|j| of(i) == of(j) && table.row(i) == table.row(j) && offset(i) == offset(j));
            before = Some(i);
            if let (true, Some(y), Some(m)) = (alike, out.rooted.last_mut(), out.stuck.last_mut()) {
                *y += get(&table.rooted);
                *m += get(&table.stuck);
                continue;
            }
            out.x.extend(table.row(i));
            out.rooted.push(get(&table.rooted));
            out.stuck.push(get(&table.stuck));
            out.offset.push(get(&table.offset));
            out.copies.push(get(&table.copies));
            for (levels, level) in levels.iter_mut().zip(of(i)) {
                levels.push(*level);
            }
        }
        Self { table: out, levels, codes }
    }

    /// Number of levels of a grouping.
    pub(super) fn size(&self, grouping: usize) -> usize {
        self.codes.get(grouping).map_or(0, Vec::len)
    }

    /// True when every level of the second grouping lies in one level of the first and holds a single row.
    pub(super) fn nested_in_rows(&self) -> bool {
        self.levels.len() == 2 && self.size(1) == self.table.rows()
    }
}
