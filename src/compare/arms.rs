//! The two arms of a comparison: which units they hold, within which places and other treatments they are compared.

use crate::compare::adjusted::{Adjusted, beside};
use crate::compare::carried::Carried;
use crate::compare::effective_strata::EffectiveStrata;
use crate::compare::named::{code_of, column};
use crate::compare::numbers::CompareOptions;
use crate::control::Signal;
use crate::error::{CountError, Result};
use crate::rates::{Arm, FromEarlier, OverPlaces, TraySpread, tray_spread, tray_spread_with, tray_spread_within};
use crate::trial::{Factor, Layout, Units, cells, follows_time, to_name};

/// The two arms, ready to compare.
pub(super) struct Arms {
    pub(super) first: Arm,
    pub(super) second: Arm,
    /// First and second arm in every stratum that holds both.
    pub(super) strata: Vec<(Arm, Arm)>,
    /// Names of the columns that make the strata.
    pub(super) within: Vec<String>,
    /// Spread between units for the difference: places taken out.
    pub(super) spread: Option<TraySpread>,
    /// Spread between units for the rates, where no places are recorded.
    pub(super) rate_spread: Option<TraySpread>,
    /// The places that the rates are to hold over, and the trays of either arm.
    pub(super) over: Option<OverPlaces>,
    pub(super) members: [Vec<usize>; 2],
    pub(super) unit: String,
    /// The unit, and places or plants that cross it and add to the error.
    pub(super) judged_by: Vec<String>,
    pub(super) same_mix: bool,
    /// The difference with other treatments and places taken out, where strata cannot keep them apart.
    pub(super) adjusted: Option<Adjusted>,
    pub(super) withheld: Option<String>,
    /// The units that carry the comparison.
    pub(super) carried: Carried,
    /// Season or block over which the levels follow one another.
    pub(super) follows_time: Option<String>,
}

/// Shares of trays that differ by less are the same.
const SAME_TRAYS: f64 = 0.02;
/// Shares of cuttings may differ by as much where those of trays are the same.
const SAME_CUTTINGS: f64 = 0.10;

/// A fit of all trays in place of strata.
struct Fitted {
    /// How trays differ about it, where strata would be too small to say.
    thin: Option<TraySpread>,
    adjusted: Adjusted,
    carried: Carried,
}

type Fits = (Option<Fitted>, Option<OverPlaces>);
type Spreads = (Option<TraySpread>, Option<TraySpread>);

/// What is compared, and where.
struct Setting<'a> {
    units: &'a Units,
    treatment: &'a Factor,
    codes: (u32, u32),
    kept: Vec<usize>,
    /// Of every unit whether it is kept.
    is_kept: Vec<bool>,
    /// Those of the two levels.
    asked: Vec<usize>,
    layout: Layout<'a>,
}

pub(super) fn gather(units: &Units, treatment: &Factor, codes: (u32, u32), options: &CompareOptions) -> Result<Arms> {
    let setting = setting(units, treatment, codes, options)?;
    let groups: Vec<Group<'_>> = setting.layout.groups.iter().map(|members| Group { members }).collect();
    let used = setting.used(&groups);
    let first = setting.arm(&used, codes.0)?;
    let second = setting.arm(&used, codes.1)?;
    let (strata, by) = setting.strata(&used);
    let unit = setting.layout.unit.clone();
    let within = named(&used, &by);
    let ((fitted, over), (rate_spread, between)) = setting.fits(&groups, &used, &within, &fixed(units, options));
    let fitted = fitted.filter(|_| !strata.is_empty());
    let carried = match &fitted {
        Some(Fitted { thin: Some(_), carried, .. }) => carried.clone(),
        _ => setting.carried(&used, &by),
    };
    let withheld = setting
        .single([&first, &second])
        .or_else(|| if strata.is_empty() { Some(setting.apart()) } else { carried.refusal(&treatment.name, &unit) });
    // One unit per combination of treatments: what the strata leave is all there is to judge by.
    let alone = || {
        let (arms, places) = by_arm(&strata);
        tray_spread_within(&arms, &places)
    };
    let of_fit = fitted.as_ref().and_then(|one| one.thin);
    let spread = if withheld.is_some() { None } else { of_fit.or(between).or_else(alone) };
    let rate_spread = rate_spread.or_else(|| tray_spread(&[first.clone(), second.clone()]));
    let same_mix = setting.same_mix(&within);
    let over = over.filter(|_| rate_spread.is_some());
    let members = [setting.members(codes.0), setting.members(codes.1)];
    let crossed = setting.layout.crossed(units);
    let fitted = fitted.filter(|_| spread.is_some());
    let carried = fitted.as_ref().map_or(carried, |one| one.carried.clone());
    let adjusted = fitted.map(|one| one.adjusted);
    let spread = match (&over, spread) {
        (Some(over), Some(spread)) if !crossed.is_empty() && adjusted.is_none() => {
            Some(widened(spread, [&first, &second], over, &members))
        }
        _ => spread,
    };
    // Strata that leave a place out say nothing of themselves.
    let bare = withheld.is_none() && adjusted.is_none() && setting.layout.parted();
    let (withheld, spread) = if bare { (Some(setting.apart()), None) } else { (withheld, spread) };
    let beside = crossed.iter().chain(&setting.layout.lasting).map(|one| one.name.clone());
    let judged_by = std::iter::once(unit.clone()).chain(beside).collect();
    Ok(Arms {
        same_mix: same_mix || adjusted.is_some(),
        adjusted,
        first,
        second,
        strata,
        within,
        spread,
        rate_spread,
        over,
        members,
        unit,
        judged_by,
        withheld,
        carried,
        follows_time: follows_time(units, treatment),
    })
}

fn setting<'a>(
    units: &'a Units,
    treatment: &'a Factor,
    codes: (u32, u32),
    options: &CompareOptions,
) -> Result<Setting<'a>> {
    let mut kept: Vec<usize> = (0..units.len()).collect();
    for (name, value) in &options.at {
        let other = column(units, name)?;
        let code = code_of(other, value)?;
        kept.retain(|unit| other.codes.get(*unit) == Some(&code));
    }
    let asked: Vec<usize> = kept
        .iter()
        .copied()
        .filter(|unit| treatment.codes.get(*unit).is_some_and(|code| *code == codes.0 || *code == codes.1))
        .collect();
    let mut layout = Layout::of(units, treatment, &asked);
    layout.in_trays(units, treatment, &asked);
    let mut is_kept = vec![false; units.len()];
    for unit in &kept {
        is_kept.get_mut(*unit).into_iter().for_each(|slot| *slot = true);
    }
    Ok(Setting { units, treatment, codes, kept, is_kept, asked, layout })
}

/// The names of the columns in which the groups have several levels.
fn named(used: &[&Group<'_>], by: &[&Factor]) -> Vec<String> {
    let told: Vec<&Factor> = by.iter().copied().filter(|one| several(used, one)).collect();
    to_name(&told).into_iter().map(|one| one.name.clone()).collect()
}

/// The spread of units as far as it takes in what places and plants that cross them add to the difference: never narrower, with the
/// degrees of freedom of what it draws on.
fn widened(spread: TraySpread, arms: [&Arm; 2], over: &OverPlaces, members: &[Vec<usize>; 2]) -> TraySpread {
    let [n1, n2] = arms.map(|arm| spread.effective_cuttings(arm));
    let (effective, dof) = over.behind_difference(&members[0], &members[1]);
    let factor = (n1 * n2 / (n1 + n2) / effective).max(1.0);
    let wanted =
        arms.map(|arm| (factor * spread.design_effect(arm) - 1.0) / (arm.mean_size() - 1.0).max(f64::MIN_POSITIVE));
    TraySpread { icc: wanted[0].max(wanted[1]).max(spread.icc), df: spread.df.min(dof), ..spread }
}

/// The places that the comparison stays within one level of.
fn fixed<'a>(units: &'a Units, options: &CompareOptions) -> Vec<&'a Factor> {
    let recorded = [&units.season, &units.block, &units.whole_plot, &units.stock_plant].into_iter().flatten();
    recorded.filter(|place| options.at.contains_key(&place.name)).collect()
}

impl Arms {
    /// The score of the difference; none where nothing shows how units differ.
    pub(super) fn score(&self) -> Option<EffectiveStrata> {
        let spread = self.spread?;
        let adjusted = self.adjusted.as_ref().map(|one| one.score.clone());
        Some(adjusted.unwrap_or_else(|| EffectiveStrata::new(&self.strata, &spread)))
    }
}

impl Setting<'_> {
    fn is_kept(&self, unit: usize) -> bool {
        self.is_kept.get(unit) == Some(&true)
    }

    /// The groups with a unit that is kept.
    fn used<'g>(&self, groups: &'g [Group<'g>]) -> Vec<&'g Group<'g>> {
        groups.iter().filter(|group| group.members.iter().any(|unit| self.is_kept(*unit))).collect()
    }

    /// A fit of all trays and what the rates are to hold over; and the spread of the units, which takes as long.
    fn fits(&self, groups: &[Group<'_>], used: &[&Group<'_>], within: &[String], fixed: &[&Factor]) -> (Fits, Spreads) {
        Signal::both(
            self.units.len(),
            || (self.fitted(used, within, fixed), OverPlaces::new(self.units, fixed)),
            || self.spreads(groups),
        )
    }

    /// The counts of those units of a group that are kept.
    fn counts(&self, group: &Group<'_>) -> (u64, u64) {
        group.counts(self.units, |unit| self.is_kept(unit))
    }

    /// The difference with all other treatments and all places taken out that the treatment differs within, but those that stand in the
    /// error: where strata would not set the levels side by side, or where other treatments cut the trays into strata too small.
    fn fitted(&self, used: &[&Group<'_>], within: &[String], fixed: &[&Factor]) -> Option<Fitted> {
        let thin = self.layout.thin(self.treatment, &self.asked);
        if !thin && self.same_mix(within) && !self.layout.crosswise(self.units, self.treatment) {
            return None;
        }
        // Where strata are too small, trays of other levels tell what lies beside the two.
        let members = if thin { &self.kept } else { &self.asked };
        let beside = beside(self.units, self.treatment, members, &self.layout);
        let over = OverPlaces::of_a_fit(self.units, fixed)?;
        let adjusted = Adjusted::new(self.units, (self.treatment, self.codes), members, &beside, &over)?;
        let all: Vec<&[usize]> = used.iter().map(|group| group.members).collect();
        let carried = if thin {
            Carried::of_fit(self.treatment, &beside, &all, &adjusted.drawn_on)
        } else {
            let leads: Vec<usize> = all.iter().filter_map(|trays| trays.first().copied()).collect();
            Carried::count(self.treatment, &[], &leads)
        };
        let carried = carried.of_levels([self.codes.0, self.codes.1].map(|code| self.level(code)));
        Some(Fitted { thin: thin.then(|| over.spread()), adjusted, carried })
    }

    /// The trays of one arm.
    fn members(&self, code: u32) -> Vec<usize> {
        self.kept.iter().copied().filter(|unit| self.treatment.codes.get(*unit) == Some(&code)).collect()
    }

    fn level(&self, code: u32) -> &str {
        self.treatment.levels.get(code as usize).map_or("", String::as_str)
    }

    fn arm(&self, used: &[&Group<'_>], code: u32) -> Result<Arm> {
        let chosen = used.iter().filter(|group| group.code(self.treatment) == Some(code));
        let (rooted, stuck): (Vec<u64>, Vec<u64>) = chosen.map(|group| self.counts(group)).unzip();
        if stuck.is_empty() {
            let name = format!("{} {}", self.treatment.name, self.level(code));
            return Err(CountError::TooFewTrays { name, found: 0, needed: 1 }.into());
        }
        Ok(Arm { rooted, stuck })
    }

    /// Strata by other treatments and places, or by places alone where no combination of others holds both levels. Without
    /// places and without common combinations all units are one stratum.
    fn strata(&self, used: &[&Group<'_>]) -> (Vec<(Arm, Arm)>, Vec<&Factor>) {
        let all: Vec<&Factor> = self.layout.others.iter().chain(&self.layout.places).copied().collect();
        for by in [&all, &self.layout.places] {
            let found = self.split(used, by);
            if !found.is_empty() {
                return (found, by.clone());
            }
        }
        (Vec::new(), all)
    }

    fn carried(&self, used: &[&Group<'_>], by: &[&Factor]) -> Carried {
        Carried::count(self.treatment, by, &self.leads(used))
    }

    /// The first tray of every unit of the two levels.
    fn leads(&self, used: &[&Group<'_>]) -> Vec<usize> {
        let of_pair = |group: &&&Group<'_>| {
            group.code(self.treatment).is_some_and(|code| code == self.codes.0 || code == self.codes.1)
        };
        used.iter().filter(of_pair).filter_map(|group| group.members.first().copied()).collect()
    }

    fn split(&self, used: &[&Group<'_>], by: &[&Factor]) -> Vec<(Arm, Arm)> {
        let leads: Vec<usize> = used.iter().filter_map(|group| group.members.first().copied()).collect();
        let strata = cells(by, &leads);
        let mut found: Vec<(Arm, Arm)> = vec![<(Arm, Arm)>::default(); strata.len()];
        for (group, number) in used.iter().zip(&strata.numbers) {
            let Some(stratum) = found.get_mut(*number as usize) else { continue };
            let arm = match group.code(self.treatment) {
                Some(code) if code == self.codes.0 => &mut stratum.0,
                Some(code) if code == self.codes.1 => &mut stratum.1,
                _ => continue,
            };
            let (rooted, stuck) = self.counts(group);
            arm.rooted.push(rooted);
            arm.stuck.push(stuck);
        }
        found.into_iter().filter(|(first, second)| !first.stuck.is_empty() && !second.stuck.is_empty()).collect()
    }

    /// That either level was in one place only.
    fn single(&self, arms: [&Arm; 2]) -> Option<String> {
        let place = self.layout.place.filter(|_| arms.iter().all(|arm| arm.stuck.len() == 1))?;
        let (name, place) = (&self.treatment.name, &place.name);
        Some(format!(
            "each of the two levels of {name} was in a single {place}, so the difference may just as well be one between places"
        ))
    }

    /// Why no stratum holds both levels.
    fn apart(&self) -> String {
        let places: Vec<&Factor> =
            self.layout.places.iter().chain(&self.layout.taken_out).chain(&self.layout.lasting).copied().collect();
        let names: Vec<&str> = to_name(&places).into_iter().map(|place| place.name.as_str()).collect();
        let name = names.join(" and ");
        format!(
            "no {name} holds both levels of {}, so a difference may just as well be one between places",
            self.treatment.name
        )
    }

    /// The spread of units within all combinations of treatments: as it is, and with places taken out.
    fn spreads(&self, groups: &[Group<'_>]) -> Spreads {
        let leads: Vec<usize> = groups.iter().filter_map(|group| group.members.first().copied()).collect();
        let treatments: Vec<&Factor> =
            std::iter::once(self.treatment).chain(self.layout.others.iter().copied()).collect();
        let (combinations, places) = (cells(&treatments, &leads), cells(&self.layout.places, &leads));
        let mut held: Vec<(Arm, Vec<u32>)> = vec![(Arm::default(), Vec::new()); combinations.len()];
        for ((group, number), place) in groups.iter().zip(&combinations.numbers).zip(&places.numbers) {
            let (rooted, stuck) = group.counts(self.units, |_| true);
            let Some((arm, own)) = held.get_mut(*number as usize) else { continue };
            arm.rooted.push(rooted);
            arm.stuck.push(stuck);
            own.push(*place);
        }
        let (arms, own): (Vec<Arm>, Vec<Vec<u32>>) = held.into_iter().unzip();
        let told = FromEarlier::of(self.units, &self.layout.unit);
        let nowhere: Vec<Vec<u32>> = own.iter().map(|own| vec![0; own.len()]).collect();
        let plain = tray_spread_with(&arms, &nowhere, told);
        let within = if places.len() > 1 { tray_spread_with(&arms, &own, told) } else { plain };
        (plain, within)
    }

    /// True when the comparison is within all other treatments, or when every combination of those left has the same share of trays in
    /// both arms; of cuttings, since trays hold what they hold, nearly so.
    fn same_mix(&self, within: &[String]) -> bool {
        let mut totals = [[0.0; 2]; 2];
        let left = |one: &&Factor| one.name != self.treatment.name && !within.contains(&one.name);
        let others: Vec<&Factor> = self.units.treatments.iter().filter(left).collect();
        let combinations = cells(&others, &self.asked);
        let mut shares = vec![[[0.0; 2]; 2]; combinations.len()];
        for (unit, number) in self.asked.iter().zip(&combinations.numbers) {
            let stuck = self.units.stuck.get(*unit).map_or(0.0, |stuck| *stuck as f64);
            let arm = match self.treatment.codes.get(*unit) {
                Some(code) if *code == self.codes.0 => 0,
                Some(code) if *code == self.codes.1 => 1,
                _ => continue,
            };
            for held in shares.get_mut(*number as usize).into_iter().chain([&mut totals]) {
                if let Some([trays, cuttings]) = held.get_mut(arm) {
                    *trays += 1.0;
                    *cuttings += stuck;
                }
            }
        }
        let [first, second] = totals;
        let alike = |of: usize, within: f64| {
            let share =
                |held: &[f64; 2], all: &[f64; 2]| held.get(of).zip(all.get(of)).map_or(0.0, |(own, all)| own / all);
            shares.iter().all(|[one, other]| (share(one, &first) - share(other, &second)).abs() < within)
        };
        alike(0, SAME_TRAYS) && alike(1, SAME_CUTTINGS)
    }
}

/// The arms over all strata, with the stratum of every unit.
fn by_arm(strata: &[(Arm, Arm)]) -> ([Arm; 2], [Vec<u32>; 2]) {
    let (mut arms, mut places) = ([Arm::default(), Arm::default()], [Vec::new(), Vec::new()]);
    for (stratum, (first, second)) in strata.iter().enumerate() {
        for ((arm, own), one) in arms.iter_mut().zip(&mut places).zip([first, second]) {
            arm.rooted.extend(&one.rooted);
            arm.stuck.extend(&one.stuck);
            own.extend(one.stuck.iter().map(|_| stratum as u32));
        }
    }
    (arms, places)
}

/// A tray, or what the treatment was given to as a whole.
struct Group<'a> {
    members: &'a [usize],
}

impl Group<'_> {
    fn code(&self, factor: &Factor) -> Option<u32> {
        self.members.first().and_then(|lead| factor.codes.get(*lead)).copied()
    }

    fn counts(&self, units: &Units, kept: impl Fn(usize) -> bool) -> (u64, u64) {
        let inside = self.members.iter().filter(|unit| kept(**unit));
        inside
            .filter_map(|unit| units.count(*unit))
            .fold((0, 0), |sum, count| (sum.0 + count.rooted, sum.1 + count.stuck))
    }
}

fn several(used: &[&Group<'_>], factor: &Factor) -> bool {
    let mut codes = used.iter().filter_map(|group| group.code(factor));
    let first = codes.next();
    codes.any(|code| Some(code) != first)
}
