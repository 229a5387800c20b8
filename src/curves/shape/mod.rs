//! What a curve can be, as plain mathematics: its axes (`axis`), the shapes (`shapes`), a shape with its link (`form`), the rate at a strength
//! (`rates`, `hormesis`), parameters in plain names (`parameters`); and the strengths that can be mixed (`mixed`).

mod axis;
mod form;
mod hormesis;
mod mixed;
mod parameters;
mod rates;
mod shapes;

pub(super) use axis::{Axis, On, Place};
pub(super) use form::{Form, Power, RateAt, Spot};
pub(super) use mixed::{MIXED, mixed};
pub(super) use parameters::{Unit, parameters};
pub(super) use rates::{EDGE, best, median};
pub(super) use shapes::{Asked, CANDIDATES, DEATHS};
pub use shapes::{Shape, ShapeChoice};
