//! x
use crate::app::App;
use axum::Router;
use std::sync::Arc;

/// Routes.
pub fn routes() -> Router<Arc<App>> {
    Router::new()
}
