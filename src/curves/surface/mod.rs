//! Strength and darkness together: what enters (`input`), numbers, the fit (`quadratic`), what is found along it (`found`), words, the answer.

mod answer;
mod found;
mod input;
mod numbers;
mod quadratic;
mod words;

pub use answer::{response_surface, response_surface_of};
pub use input::{SurfaceInput, SurfaceOptions, SurfaceTray};
pub use numbers::{BestAt, ResponseSurface, SurfaceGrid, SurfaceTop};
