//! Places that recur over seasons: benches A to D of two years, bays whose darkness changed places.
//!
//! What grows on a bench in one season is another crop than what grows there in the next, and treatments are dealt out anew. So a block or
//! whole plot within each season is a place of its own, whether labels restart or the benches are the same ones. Where they are the
//! same they also last: rates are to hold over benches, what stays on a bench over all seasons is judged by benches, and what mostly
//! stays and changes its bench now and then draws on both. As far as there is a role to spare, both are therefore kept.

use crate::math::design::{Key, ranked};
use crate::trial::columns::{Factor, Units};

/// True for a place whose labels stand in several seasons and count anew in each: not where what it was given only stays in it.
pub(super) fn counts_anew(season: &Factor, place: &Factor, treatments: &[&Factor]) -> bool {
    if season.constant_within(place) {
        return false;
    }
    let own = within_seasons(season, place);
    let given = || treatments.iter().filter(|one| one.levels.len() > 1);
    let stays = given().any(|one| one.constant_within(place));
    let changes = given().any(|one| one.constant_within(&own) && !one.constant_within(place));
    changes || !stays
}

/// The levels of a place within each season.
pub(super) fn within_seasons(season: &Factor, place: &Factor) -> Factor {
    let found = ranked(&[Key::of(&season.codes), Key::of(&place.codes)], season.codes.len());
    let level = |unit: &usize| {
        let part = |factor: &Factor| factor.label(*unit).unwrap_or_default().to_owned();
        format!("{} / {}", part(season), part(place))
    };
    Factor {
        name: format!("{} within {}", place.name, season.name),
        levels: found.firsts.iter().map(level).collect(),
        numbers: None,
        codes: found.numbers,
    }
}

/// The places to name where several stand together: a bench and a season are named by the bench within the season, where that counts too.
pub(crate) fn to_name<'a>(places: &[&'a Factor]) -> Vec<&'a Factor> {
    let whole = |own: &Factor, season: &Factor| {
        let name = format!("{} within {}", own.name, season.name);
        places.iter().any(|one| one.name == name)
    };
    let told = |one: &&&Factor| places.iter().any(|other| whole(one, other) || whole(other, one));
    places.iter().filter(|one| !told(one)).copied().collect()
}

/// Tells blocks and whole plots of different seasons apart; returns a line on each that recurred.
pub(super) fn anew_each_season(units: &mut Units) -> Vec<String> {
    let Some(season) = units.season.clone() else { return Vec::new() };
    let mut lines = Vec::new();
    for whole in [false, true] {
        let (place, spare) =
            if whole { (&mut units.whole_plot, &mut units.block) } else { (&mut units.block, &mut units.whole_plot) };
        let Some(factor) = place.clone() else { continue };
        let treatments: Vec<&Factor> = units.treatments.iter().collect();
        if !counts_anew(&season, &factor, &treatments) {
            continue;
        }
        let (name, own) = (factor.name.clone(), within_seasons(&season, &factor));
        let season = &season.name;
        if spare.is_some() {
            *place = Some(own);
            lines.push(format!(
                "{name} labels recur over levels of {season}: the {name} of each {season} counts as a place of its own"
            ));
            continue;
        }
        (units.block, units.whole_plot) = (Some(factor), Some(own));
        let role = if whole { "whole_plot" } else { "block" };
        lines.push(format!(
            "{name} labels recur over levels of {season}: each {name} counts as one place, and within each {season} as a place of its own; if each {season} had others under the same labels, say so with {role}=[{season:?}, {name:?}]"
        ));
        break;
    }
    lines
}
