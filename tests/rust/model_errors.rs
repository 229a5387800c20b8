//! Every error of models with its exact words; a new one without a line here fails.

use rootling::error::ModelError;

use crate::errors::check;

#[test]
fn models() {
    let cases = [
        (
            ModelError::NoEffects,
            "no effects were named; give a list of columns, for example [\"strength\", \"rootstock\"]",
        ),
        (
            ModelError::InteractionWithoutMain { interaction: "a x b".to_owned(), missing: "b".to_owned() },
            "interaction \"a x b\" uses \"b\", which is not among the effects; add it to the list",
        ),
        (
            ModelError::OneLevel { effect: "strength".to_owned(), level: "2500".to_owned() },
            "\"strength\" has the single level \"2500\"; it cannot be compared, so leave it out of the model",
        ),
        (
            ModelError::NotFinite { effect: "length".to_owned(), value: f64::INFINITY },
            "covariate \"length\" holds a value that is not finite (inf); correct it or leave the row out",
        ),
        (ModelError::NoData, "there are no cuttings to fit; check the rows that were set aside"),
        (ModelError::Repeated { effect: "strength".to_owned() }, "effect \"strength\" is named twice; name it once"),
        (
            ModelError::NotFitted {
                reason: "the estimates did not settle".to_owned(),
                try_next: "leave an effect out".to_owned(),
            },
            "not fitted: the estimates did not settle; leave an effect out",
        ),
        (
            ModelError::CovariateNotFinite { effect: "length".to_owned(), value: f64::INFINITY, unit: 2, row: None },
            "covariate \"length\" is not finite (inf) in unit 3; correct it or leave the row out",
        ),
        (
            ModelError::NotNumbers { effect: "rootstock".to_owned(), level: "K12".to_owned() },
            "\"rootstock\" cannot enter as a number, since its level \"K12\" is none; leave it a factor or correct the level",
        ),
        (
            ModelError::Degree { effect: "dark_days".to_owned(), degree: 3, distinct: 3 },
            "a polynomial of degree 3 in \"dark_days\" cannot be fitted to 3 different values; choose a degree of at least 1 and below their number",
        ),
        (
            ModelError::TooManyCoefficients { coefficients: 2400, limit: 1000 },
            "the model would have 2400 coefficients, and at most 1000 can be fitted; leave an interaction out, or let an effect of many levels be a random effect or a number",
        ),
        (
            ModelError::Weight { column: "care".to_owned(), value: -1.0, unit: 2, row: Some(9) },
            "weight -1 of column \"care\" in row 9 is not 0 or more; correct it, or give 0 to leave the row out",
        ),
        (
            ModelError::NoWeight { column: "care".to_owned() },
            "every weight in column \"care\" is 0, so nothing is left to fit; give the rows that count a weight above 0",
        ),
        (
            ModelError::NoNumbers { option: "weights", column: "tray".into(), covariates: vec!["care".into()] },
            "weights=\"tray\" names a column that holds no numbers; name one that covariates= lists when the trial is loaded (care)",
        ),
        (
            ModelError::RandomNeedsMode,
            "random= names what has random effects beside the trays, which needs trays=\"random\"; add that, or leave random= out",
        ),
        (
            ModelError::RandomIsEffect { column: "bay".into() },
            "\"bay\" is in the model already and cannot have random effects as well; name it in one place only",
        ),
        (
            ModelError::RandomOneLevel { column: "bay".into(), level: "1".into() },
            "\"bay\" has the single level \"1\", so its random effects cannot be seen; leave it out of random=",
        ),
        (
            ModelError::RandomLikeTrays { column: "plant".into(), levels: 48 },
            "each of the 48 levels of \"plant\" holds one tray, so its random effects cannot be told apart from those of trays; leave it out of random=",
        ),
        (
            ModelError::RandomAlike { column: "batch".into(), other: "bay".into() },
            "\"batch\" puts the same trays together as \"bay\" does, so the two cannot be told apart; leave \"batch\" out of random=",
        ),
        (
            ModelError::RandomConfounded { column: "batch".into() },
            "the effects and the other groupings leave nothing of \"batch\" to be seen; leave it out of random=, or an effect out of the model",
        ),
        (
            ModelError::RandomWithoutTrays,
            "random effects need recorded trays, since without them cuttings of one tray cannot be told from others; load the trial with tray=, or leave random= out",
        ),
        (
            ModelError::RandomVaries { column: "plant".into() },
            "\"plant\" differs between the cuttings of one tray, so trays do not belong to its levels; leave it out of random=",
        ),
        (
            ModelError::RobustNeedsMode,
            "robust_by= names the clusters of a robust covariance, which needs trays=\"robust\"; add that, or leave robust_by= out",
        ),
        (
            ModelError::RobustWithoutTrays,
            "robust_by= groups trays, and this trial records none; name the tray column with tray= when loading",
        ),
        (
            ModelError::RobustIsEffect { column: "batch".into() },
            "\"batch\" is an effect of the model, so its levels cannot be the clusters too; name it in one place only",
        ),
        (
            ModelError::RobustOneLevel { column: "batch".into(), level: "1".into() },
            "\"batch\" has the single level \"1\", and a robust covariance needs two clusters or more; name another column in robust_by=",
        ),
        (
            ModelError::RobustVaries { column: "plant".into() },
            "\"plant\" differs between the cuttings of one tray, so clusters would cut through trays; name another column in robust_by=",
        ),
        (
            ModelError::RobustCrossed { column: "plant".into(), plots: "bay".into(), level: "3".into() },
            "\"bay\" \"3\" lies in several levels of \"plant\", so clusters would cut through it; name a column in robust_by= whose levels hold whole \"bay\" levels",
        ),
        (
            ModelError::IccNeedsMode,
            "correlation_by= gives each level its own correlation within trays, which needs trays=\"beta-binomial\"; add that, or leave correlation_by= out",
        ),
        (
            ModelError::IccTooMany { column: "tray".into(), levels: 48, trays: 48 },
            "\"tray\" has 48 levels and the trial 48 trays; each level needs two trays or more for a correlation of its own",
        ),
        (
            ModelError::WeightsUnderLaw,
            "weights enter plain models and those with a dispersion only; use trays=\"dispersion\" or trays=\"ignore\", or leave the weights out",
        ),
        (
            ModelError::StatisticUnderRobust,
            "models with trays=\"robust\" have no likelihood to take scores or ratios from; ask for test=\"wald\", or use trays=\"auto\"",
        ),
        (
            ModelError::StatisticUnderLaw { trays: "random".to_owned() },
            "models with trays=\"random\" give likelihood ratios only; ask for those, or use trays=\"dispersion\"",
        ),
        (
            ModelError::NotOdds { link: "probit".to_owned() },
            "odds ratios come from the logit link only and this model uses the probit link; read its adjusted rates",
        ),
        (
            ModelError::Misaligned { column: "bench".to_owned(), units: 12 },
            "column \"bench\" does not have one known level or value for each of the 12 units; load the trial again",
        ),
        (
            ModelError::NoTypicalTray,
            "a typical tray's rate comes from trays=\"random\" only; this model has one rate, that over all trays, so leave of= out",
        ),
        (
            ModelError::NotComparable {
                reason: "neither contains the other".to_owned(),
                try_next: "give the larger one all effects of the smaller".to_owned(),
            },
            "these models cannot be set against each other: neither contains the other; give the larger one all effects of the smaller",
        ),
        (
            ModelError::NoBootstrap {
                effect: "strength".to_owned(),
                reason: "it adds no coefficient".to_owned(),
                try_next: "leave it out".to_owned(),
            },
            "\"strength\" has no bootstrap test: it adds no coefficient; leave it out",
        ),
        (
            ModelError::NoTraySpread,
            "a range for a new tray needs the spread between trays, which this model does not know; record trays and do not ignore them",
        ),
    ];
    check("src/error/model.rs", &cases);
}
