//! What a treatment is by its name and its levels: a kind of plant, or something that was done to cuttings.

/// Words for a kind of plant.
const PLANT: [&str; 30] = [
    "rootstock",
    "rootstocks",
    "clone",
    "clones",
    "cultivar",
    "cultivars",
    "variety",
    "varieties",
    "genotype",
    "genotypes",
    "species",
    "accession",
    "accessions",
    "made_with",
    "family",
    "ecotype",
    "ortet",
    "selection",
    "line",
    "unterlage",
    "klon",
    "sorte",
    "herkunft",
    "portegreffe",
    "clon",
    "variedad",
    "portainjerto",
    "odla",
    "onderstam",
    "ras",
];

/// Words for what is done to cuttings or where and when they stand, which a plant's cuttings can be spread over.
const DONE: [&str; 58] = [
    "treatment",
    "treated",
    "substance",
    "hormone",
    "auxin",
    "product",
    "powder",
    "talc",
    "gel",
    "dip",
    "method",
    "carrier",
    "solvent",
    "formulation",
    "strength",
    "dose",
    "concentration",
    "medium",
    "media",
    "substrate",
    "mix",
    "soil",
    "light",
    "dark",
    "darkness",
    "banding",
    "etiolation",
    "wounding",
    "wound",
    "cut",
    "base",
    "leaves",
    "leaf",
    "node",
    "position",
    "cutting",
    "type",
    "heat",
    "temperature",
    "mist",
    "fog",
    "humidity",
    "cover",
    "tray",
    "cell",
    "pot",
    "bench",
    "room",
    "bay",
    "place",
    "site",
    "house",
    "operator",
    "person",
    "period",
    "season",
    "month",
    "date",
];

/// Levels that say the same.
const DONE_LEVELS: [&str; 22] = [
    "control",
    "none",
    "water",
    "untreated",
    "yes",
    "no",
    "true",
    "false",
    "with",
    "without",
    "iba",
    "k-iba",
    "naa",
    "iaa",
    "early",
    "late",
    "before",
    "after",
    "dark",
    "light",
    "low",
    "high",
];

fn words(name: &str) -> impl Iterator<Item = String> {
    let lower = name.to_lowercase();
    let words: Vec<String> = lower.split(|letter: char| !letter.is_alphabetic()).map(str::to_owned).collect();
    words.into_iter().filter(|word| !word.is_empty())
}

/// True where the levels of a treatment can be kinds of plants, so that one mother plant has one of them: its name says so, or its levels are
/// names and nothing says that they were done to cuttings.
pub(super) fn may_be_a_kind_of_plant(name: &str, levels: &[String], numbers: bool) -> bool {
    if words(name).any(|word| PLANT.contains(&word.as_str())) {
        return true;
    }
    let done = words(name).any(|word| DONE.contains(&word.as_str()));
    let said = levels.iter().any(|level| DONE_LEVELS.contains(&level.trim().to_lowercase().as_str()));
    !numbers && !done && !said
}

/// Words for darkness that a room has as a whole; banding and bags are given to single shoots.
const DARK: [&str; 10] = [
    "dark",
    "darkness",
    "etiolation",
    "etiolated",
    "blackout",
    "dunkel",
    "dunkelheit",
    "dunkeltage",
    "obscurit\u{e9}",
    "oscuridad",
];

/// True for a treatment that is darkness by its name.
pub(super) fn is_given_to_rooms(name: &str) -> bool {
    words(name).any(|word| DARK.contains(&word.as_str()))
}
