//! Strengths: molar masses, conversions, hostile text, refusals, notes.

use rootling::units::{
    Basis, Formula, Method, Strength, StrengthRecord, Substance, Unit, common_axis, convert, equivalent, parse,
    plausibility,
};

use crate::support::{check, check_list};

const FORMULAS: &str = include_str!("../data/auxin_formulas.csv");

fn of(substance: &str, unit: &str) -> Strength {
    Strength::new(substance, unit).unwrap()
}

fn by(substance: &str, unit: &str, method: &str) -> Strength {
    Strength::with_method(substance, unit, method).unwrap()
}

fn record(substance: &str, unit: &str, method: Option<&str>, carrier: Option<&str>) -> StrengthRecord {
    let owned = |x: Option<&str>| x.map(str::to_owned);
    StrengthRecord {
        substance: substance.into(),
        unit: unit.into(),
        method: owned(method),
        carrier: owned(carrier),
        molar_mass: None,
    }
}

#[test]
fn molar_masses_follow_the_formulas() {
    for line in FORMULAS.lines().skip(1) {
        let parts: Vec<&str> = line.split(',').collect();
        let atoms: Vec<u16> = parts[1..].iter().map(|n| n.parse().unwrap()).collect();
        let formula =
            Formula { h: atoms[0], c: atoms[1], n: atoms[2], o: atoms[3], k: atoms[4], cl: atoms[5], na: atoms[6] };
        // Source: expected.json molar_masses (IUPAC abridged standard atomic weights).
        check("molar_masses", parts[0], formula.molar_mass());
        let short = parts[0].split(' ').next().unwrap();
        if let Some(mass) = Substance::named(short, None).unwrap().molar_mass() {
            assert_eq!(mass, formula.molar_mass(), "{short}");
        }
    }
}

#[test]
fn molar_masses_agree_with_catalogues() {
    let bap = Formula { h: 11, c: 12, n: 5, ..Formula::default() }.molar_mass();
    let known = [Substance::Iba, Substance::KIba, Substance::Naa, Substance::Iaa].map(|s| s.molar_mass().unwrap());
    // Source: expected.json molar_masses_catalogue (chemical catalogue values).
    check_list("molar_masses_catalogue", "value", &[known[0], known[1], known[2], known[3], bap]);
}

#[test]
fn conversions() {
    let id = "strength_conversions";
    // Source of all: expected.json strength_conversions (1 % w/v = 10 g/L; molar masses above).
    check(id, "percent_0_3_to_mg_per_l", convert(0.3, &by("IBA", "%", "quick dip"), Unit::MgPerL).unwrap());
    check(id, "ppm_wv_2500_to_mg_per_l", convert(2500.0, &of("IBA", "ppm w/v"), Unit::MgPerL).unwrap());
    check(id, "iba_2500_mg_per_l_to_mM", convert(2500.0, &of("IBA", "mg/L"), Unit::Millimolar).unwrap());
    check(id, "iba_10_mM_to_mg_per_l", convert(10.0, &of("IBA", "mM"), Unit::MgPerL).unwrap());
    check(id, "naa_1000_mg_per_l_to_mM", convert(1000.0, &of("NAA", "mg/L"), Unit::Millimolar).unwrap());
    check(id, "mg_per_l_1_percent", convert(1.0, &of("IBA", "% w/v"), Unit::MgPerL).unwrap());
    check(id, "kiba_to_iba_mass_factor", equivalent(1.0, &of("K-IBA", "mg/L"), &Substance::Iba).unwrap());
    check(id, "iba_to_kiba_mass_factor", equivalent(1.0, &of("IBA", "mg/L"), &Substance::KIba).unwrap());
    check(id, "kiba_5000_as_iba_mg_per_l", equivalent(5000.0, &of("K-IBA", "mg/L"), &Substance::Iba).unwrap());
}

#[test]
fn every_unit_goes_there_and_back() {
    let groups: [&[&str]; 2] =
        [&["mg/L", "g/L", "% w/v", "ppm w/v", "mM", "µM"], &["mg/kg", "g/kg", "% w/w", "ppm w/w"]];
    for group in groups {
        for from in group {
            for to in group {
                let there = convert(7.25, &of("K-IBA", from), to.parse().unwrap()).unwrap();
                let back = convert(there, &of("K-IBA", to), from.parse().unwrap()).unwrap();
                assert_rel!(back, 7.25, 1e-14, "{from} {to}");
                assert_eq!(convert(0.0, &of("IBA", from), to.parse().unwrap()).unwrap(), 0.0);
            }
        }
    }
}

#[test]
fn text_is_read_as_written() {
    let cases = [
        ("2500 mg/L", 2500.0, Unit::MgPerL),
        ("2500mg/l", 2500.0, Unit::MgPerL),
        ("  2 500 mg L-1 ", 2500.0, Unit::MgPerL),
        ("2\u{202f}500 mg·L⁻¹", 2500.0, Unit::MgPerL),
        ("2\u{a0}500,5 mg/L", 2500.5, Unit::MgPerL),
        ("1 000 000 mg/L", 1e6, Unit::MgPerL),
        ("0.3 %", 0.3, Unit::Percent(None)),
        ("0,3%", 0.3, Unit::Percent(None)),
        ("0,250 % w/w", 0.25, Unit::Percent(Some(Basis::WeightPerWeight))),
        ("2,500.5 mg/L", 2500.5, Unit::MgPerL),
        ("2.500,5 mg/L", 2500.5, Unit::MgPerL),
        ("1,000,000 mg/L", 1e6, Unit::MgPerL),
        ("1.000.000 mg/L", 1e6, Unit::MgPerL),
        ("2.500 mg/L", 2.5, Unit::MgPerL),
        ("1e3 ppm", 1000.0, Unit::Ppm(None)),
        ("5 ppm (w/v)", 5.0, Unit::Ppm(Some(Basis::WeightPerVolume))),
        ("12.3 mM", 12.3, Unit::Millimolar),
        ("12 \u{3bc}M", 12.0, Unit::Micromolar),
        ("0 mg/kg", 0.0, Unit::MgPerKg),
        ("+5 g/L", 5.0, Unit::GPerL),
    ];
    for (text, value, unit) in cases {
        assert_eq!(parse(text).unwrap(), (value, unit), "{text:?}");
        assert_eq!(unit.to_string().parse::<Unit>().unwrap(), unit);
    }
}

#[test]
fn hostile_text_is_refused_without_panic() {
    let long = "9".repeat(10_000) + " mg/L";
    let texts = [
        "",
        " ",
        "mg/L",
        "2500",
        "2500 mm",
        "NaN mg/L",
        "inf mg/L",
        "1e999 mg/L",
        "--5 mg/L",
        "1-2 mg/L",
        "5..5 mg/L",
        "25 00 mg/L",
        "1 2500 mg/L",
        "2,50,0 mg/L",
        "1,2.3,4 mg/L",
        "0x10 mg/L",
        "٣ mg/L",
        "5 mg/L mg/L",
        "5e mg/L",
        ". mg/L",
        "5\u{0} mg/L",
        "💧 mg/L",
        ", %",
        "5,,5 %",
        "-",
        "1e+-5 %",
        "5 mg/\u{301}L",
        long.as_str(),
    ];
    for text in texts {
        let error = parse(text).unwrap_err().to_string();
        assert!(error.chars().count() < 300, "{text:?}: {error}");
    }
}

#[test]
fn basis_comes_from_unit_method_or_carrier() {
    assert_eq!(by("IBA", "ppm", "soak").unit(), Unit::Ppm(Some(Basis::WeightPerVolume)));
    assert_eq!(by("IBA", "%", "talc").basis(), Basis::WeightPerWeight);
    let lanolin = Strength::try_from(record("IBA", "%", Some("paste"), Some("lanolin"))).unwrap();
    assert_eq!((lanolin.basis(), lanolin.method()), (Basis::WeightPerWeight, Some(Method::PasteOrLayering)));
    let dip = Strength::try_from(record("IBA", "ppm", None, Some("50 % ethanol"))).unwrap();
    assert_eq!(dip.basis(), Basis::WeightPerVolume);
    assert_eq!(convert(2500.0, &dip, Unit::Percent(None)).unwrap(), 0.25);
}

#[test]
fn record_goes_there_and_back() {
    let mut other = record("Substance X", "mM", Some("quick dip"), Some("water"));
    other.molar_mass = Some(150.0);
    for plain in [other, record("K-IBA", "ppm", Some("soak"), None)] {
        let strength = Strength::try_from(plain).unwrap();
        let text = serde_json::to_string(&strength).unwrap();
        assert_eq!(serde_json::from_str::<Strength>(&text).unwrap(), strength);
    }
    assert!(serde_json::from_str::<Strength>(r#"{"substance":"IBA","unit":"ppm"}"#).is_err());
    assert!(serde_json::from_str::<Strength>(r#"{"substance":"IBA","unit":"mg/L","colour":"red"}"#).is_err());
}

#[test]
fn every_refusal_says_what_to_do() {
    let message = |error: rootling::Error| error.to_string();
    let (dip, talc) = (of("IBA", "mg/L"), of("IBA", "mg/kg"));
    let unknown = Strength::try_from(record("Substance X", "mg/L", None, None)).unwrap();
    let mass = |name, m| Substance::named(name, Some(m)).map(|_| ()).unwrap_err();
    let cases = [
        (
            message(convert(-1.0, &dip, Unit::GPerL).unwrap_err()),
            "strength -1 mg/L is not a strength; it must be 0 or more and finite",
        ),
        (
            message(parse("-5 mg/kg").unwrap_err()),
            "strength -5 mg/kg is not a strength; it must be 0 or more and finite",
        ),
        (
            message(convert(f64::NAN, &dip, Unit::GPerL).unwrap_err()),
            "strength NaN mg/L is not a strength; it must be 0 or more and finite",
        ),
        (
            message(convert(1.0, &dip, Unit::MgPerKg).unwrap_err()),
            "mg/L and mg/kg cannot share one axis: one is weight per volume, the other weight per weight; give the carrier's density or keep them apart",
        ),
        (
            message(common_axis(&[(1.0, dip.clone()), (1.0, talc)]).unwrap_err()),
            "mg/kg and mg/L cannot share one axis: one is weight per volume, the other weight per weight; give the carrier's density or keep them apart",
        ),
        (
            message(common_axis(&[(1.0, dip.clone()), (1.0, of("K-IBA", "mg/L"))]).unwrap_err()),
            "IBA and K-IBA are different substances and cannot share one axis; convert to one with `equivalent` or keep them apart",
        ),
        (
            message(Strength::new("IBA", "ppm").unwrap_err()),
            "\"ppm\" does not say weight per volume or weight per weight; write \"ppm w/v\" for liquids or \"ppm w/w\" for powders",
        ),
        (
            message(parse("some").unwrap_err()),
            "\"some\" is not a strength; write a number and a unit, for example \"2500 mg/L\"",
        ),
        (
            message(convert(1.0, &unknown, Unit::Millimolar).unwrap_err()),
            "mM needs a molar mass, and none is known for \"Substance X\"; give molar_mass= in g/mol",
        ),
        (
            message(Strength::with_method("IBA", "mg/L", "talc").unwrap_err()),
            "\"mg/L\" is w/v, but \"talc\" is w/w; give liquids in mg/L and powders in mg/kg",
        ),
        (
            message(Strength::new("IBA", "oz/gal").unwrap_err()),
            "\"oz/gal\" is not a unit of strength; use mg/L, g/L, ppm w/v, % w/v, mM or µM for liquids, mg/kg, g/kg, ppm w/w or % w/w for powders",
        ),
        (
            message(Strength::with_method("IBA", "mg/L", "spray").unwrap_err()),
            "\"spray\" is not a method of treatment; use \"quick dip\", \"soak\", \"talc\" or \"paste\"",
        ),
        (message(parse("2,500 mg/L").unwrap_err()), "\"2,500 mg/L\" can be read two ways; write 2500 or 2.500"),
        (message(Strength::new(" ", "mg/L").unwrap_err()), "the substance has no name; give one, for example \"IBA\""),
        (message(mass("X", -1.0)), "molar mass -1 g/mol is not a mass; it must be above 0 and finite"),
        (
            message(mass("IBA", 241.33)),
            "molar mass 241.33 g/mol is not that of IBA (203.24 g/mol); leave molar_mass= out or name the other substance",
        ),
    ];
    for (got, want) in cases {
        assert_eq!(got, want);
    }
}

#[test]
fn unusual_strengths_get_a_note_and_nothing_more() {
    // Source: rows of the plausibility table in the domain guide, section 3.
    let table = [
        ("IBA", "mg/L", "quick dip", 100.0, 25_000.0),
        ("NAA", "mg/L", "quick dip", 50.0, 5000.0),
        ("IBA", "mg/L", "soak", 1.0, 500.0),
        ("NAA", "mg/L", "soak", 1.0, 500.0),
        ("IBA", "mg/kg", "talc", 500.0, 10_000.0),
        ("IBA", "mg/kg", "paste", 1000.0, 100_000.0),
    ];
    for (substance, unit, method, low, high) in table {
        let strength = by(substance, unit, method);
        for usual in [0.0, low, high] {
            assert_eq!(plausibility(usual, &strength), None, "{substance} {method} {usual}");
        }
        for unusual in [low * 0.99, high * 1.01] {
            let note = plausibility(unusual, &strength).unwrap();
            assert_eq!(note.code, "unusual_strength");
            assert!(note.text.ends_with("check unit and substance."));
        }
    }
    let note = plausibility(0.25, &by("IBA", "mg/L", "quick dip")).unwrap();
    assert_eq!(
        note.text,
        "IBA at 0.25 mg/L is unusual for a quick dip (usual 100 to 25000 mg/L of IBA); check unit and substance."
    );
    // 29,000 mg/L of the salt hold 24,423 mg/L of the acid (source: mass factor 0.84217 of strength_conversions).
    assert_eq!(plausibility(29_000.0, &by("K-IBA", "mg/L", "quick dip")), None);
    assert_eq!(
        plausibility(2e6, &of("X", "mg/L")).unwrap().text,
        "X at 2000000 mg/L is stronger than the pure substance; check unit and substance."
    );
    // Source: 500 mg/L and 0.05 % w/v are one strength; rounding must not push it over the edge.
    assert_eq!(plausibility(0.05, &by("IBA", "%", "soak")), None);
    assert_eq!(
        plausibility(convert(500.0, &of("IBA", "mg/L"), Unit::Millimolar).unwrap(), &by("IBA", "mM", "soak")),
        None
    );
    for odd in [-1.0, f64::NAN, f64::INFINITY] {
        assert_eq!(plausibility(odd, &by("IBA", "mg/L", "quick dip")), None);
    }
}
