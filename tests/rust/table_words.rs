//! What is said of tests of tables: the size before the P value, and no P value alone.

use rootling::control::Control;
use rootling::counts::{
    ContingencyTable, ExactOptions, Strata, StratifiedOptions, chi_square, chi_square_answer, fisher, fisher_sentence,
    freeman_halton, freeman_halton_answer, freeman_halton_sentence, linear_by_linear, linear_by_linear_sentence,
    stratified, stratified_answer, trend, trend_sentence,
};

fn table(cells: &[&[u64]]) -> ContingencyTable {
    ContingencyTable::new(cells.iter().map(|row| row.to_vec()).collect()).unwrap()
}

#[test]
fn tables_say_how_large_the_difference_is() {
    // expected.json test2x2_20_0_14_6: Fisher's P = 0.0202; limits of Miettinen and Nurminen from the same counts
    let two = table(&[&[20, 0], &[14, 6]]);
    let said = fisher_sentence(&two, &fisher(&two).unwrap()).unwrap();
    let start = "An association is shown (P = 0.020): row 2 has 30.0 fewer per 100 (95 % interval ";
    assert!(said.starts_with(start), "{said}");
    let told = chi_square_answer(&two, chi_square(&two).unwrap()).unwrap();
    assert_eq!(told.details[0], "Of row 1 100.0 of 100 are in the first column, of row 2 70.0.");
    assert_eq!(told.details[1], "Expected counts fall to 3, so an exact test is safer.");
}

#[test]
fn larger_tables_name_the_cell_that_carries_it() {
    let (options, control) = (ExactOptions::default(), Control::new());
    // by hand: row 2, column 3 is the one cell far from row total x column total / N = 20 x 20 / 60
    let wide = table(&[&[8, 8, 4], &[4, 4, 12], &[8, 8, 4]]);
    let found = freeman_halton(&wide, options, &control).unwrap();
    let said = freeman_halton_sentence(&wide, &found).unwrap();
    assert!(said.contains("is row 2, column 3: 12 where 6.667 are"), "{said}");
    let drawn = freeman_halton(&wide, ExactOptions { work: 0, draws: 999, seed: 1 }, &control).unwrap();
    let said = freeman_halton_answer(&wide, drawn).unwrap().words();
    assert!(said.contains("6.667 are expected (standardised residual 3."), "{said}");
    assert!(said.contains("999 tables were drawn, so P has a standard error of "), "{said}");
}

#[test]
fn trends_and_strata_lead_with_numbers() {
    let (options, control) = (ExactOptions::default(), Control::new());
    let found = trend(&[1, 2, 4, 7], &[10; 4], &[0.0, 1.0, 2.0, 3.0], options, &control).unwrap();
    // by hand: sum (s - 1.5)(y - 3.5) / (10 x 5) = 10 / 50 per unit
    assert!(trend_sentence(&found).starts_with("A trend is shown (P = "), "{}", trend_sentence(&found));
    assert!(trend_sentence(&found).ends_with("a rise of 20 trees per 100 for each unit along it."));
    let ordered = table(&[&[9, 1], &[8, 2], &[6, 4], &[3, 7]]);
    let found = linear_by_linear(&ordered, &[0.0, 1.0, 2.0, 3.0], &[0.0, 1.0], options, &control).unwrap();
    assert!(
        linear_by_linear_sentence(&found).contains("have a correlation of 0.4"),
        "{}",
        linear_by_linear_sentence(&found)
    );
    // plum root cuttings, Hoblyn & Palmer 1934: common odds ratio 4.177, first row over second
    let plums = Strata::new(vec![vec![vec![156, 84], vec![84, 156]], vec![vec![107, 133], vec![31, 209]]]).unwrap();
    let told = stratified_answer(stratified(&plums, &StratifiedOptions::default(), &control).unwrap());
    let said = told.words();
    assert!(said.starts_with("An association within the tables is shown (P < 0.001): 30.8 fewer per 100"), "{said}");
    assert!(said.contains("Common odds ratio 0.239 (95 % interval "), "{said}");
}
