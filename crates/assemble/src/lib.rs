//! From placed takes to the first assembly.
pub mod answer;
pub mod error;
pub mod picture;

pub use answer::{Answer, Choice, Note, Question, Terms, Why};
pub use error::Error;
pub use picture::{GrayFrame, Meter, measure};

/// The best cut for `q`.
///
/// # Errors
/// A lock that can't be kept, a weight that is no weight, or stopped before a first answer.
pub fn assemble(q: &Question, keep_going: &dyn Fn() -> bool) -> Result<Answer, Error> {
    let _ = (q, keep_going);
    Err(Error::Stopped)
}

/// Why the shots that touch `bar` were chosen.
///
/// # Errors
/// No such bar.
pub fn why(q: &Question, shots: &[model::Shot], bar: u32) -> Result<Why, Error> {
    let _ = (q, shots, bar);
    Err(Error::Stopped)
}
