//! Restrictions on the order of trays in their rows, and the set of layouts that they leave.
//!
//! * `rule`: what is asked, and whether an order meets it
//! * `count`: how many orders meet it, without listing them
//! * `draw`: one of them, each as likely as the others; chances of neighbours

mod count;
mod draw;
mod rule;

pub(super) use count::{all_orders, meeting};
pub(super) use draw::{dealt, neighbours, share_by_draws};
pub(super) use rule::{Rows, Rule};
