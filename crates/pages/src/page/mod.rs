//! The pages, one file each.

mod assembly;
mod brief;
mod cautions;
mod day;
mod devices;
mod figures;
mod first;
mod history;
mod kit;
mod noun;
mod places;
mod pocket;
mod setups;
mod song;
mod takes;
mod works;

use crate::app::App;
use crate::shell;
use axum::Router;
use axum::routing::post;
use std::sync::Arc;

/// Every page with what it posts.
pub fn routes() -> Router<Arc<App>> {
    Router::new()
        .merge(first::routes())
        .merge(history::routes())
        .merge(noun::routes())
        .merge(brief::routes())
        .merge(places::routes())
        .merge(kit::routes())
        .merge(setups::routes())
        .merge(song::routes())
        .merge(day::routes())
        .merge(pocket::routes())
        .merge(takes::routes())
        .merge(assembly::routes())
        .merge(devices::routes())
        .merge(works::routes())
        .route("/dress", post(shell::dress))
}
