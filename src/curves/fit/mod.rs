//! Fitting. The counts of one curve (`data`) with what is estimated beside its shape (`beside`), their likelihood (`likelihood`), searches (`climb`,
//! `starts`), one shape (`one_shape`); all shapes with their weights (`candidates`), what they are judged by (`judge`) and what is kept of them (`cache`,
//! `spans`); fits under a condition (`confine`), several curves of one form (`joint`, `common`); and from the trays of an input (`counts`, `level`) to
//! all its curves (`ready`).

mod beside;
mod cache;
mod candidates;
mod climb;
mod common;
mod confine;
mod counts;
mod data;
mod joint;
mod judge;
mod level;
mod likelihood;
mod one_shape;
mod ready;
mod spans;
mod starts;

#[cfg(test)]
pub(super) use candidates::fit_all;
pub(super) use candidates::{CONTRADICTED, Curve, Member};
#[cfg(test)]
pub(super) use climb::climb;
pub(super) use common::{common, pooled};
#[cfg(test)]
pub(super) use confine::augmented;
pub(super) use confine::{Care, Confined, Held};
pub(super) use counts::Counts;
pub(super) use data::{Data, Level};
pub(super) use joint::{Apart, Joint};
pub(super) use judge::Judge;
pub(super) use level::Slope;
#[cfg(test)]
pub(super) use likelihood::Likelihood;
pub(super) use one_shape::{FULL, Fitted, QUICK, fit};
pub(super) use ready::{Ready, fitted};
pub(super) use spans::{Limits, Spanned};
#[cfg(test)]
pub(super) use starts::starts;
