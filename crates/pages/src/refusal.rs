//! How a request that can't be served is answered: a status, and a page that says what to do.

use crate::{dress, text};
use axum::http::{HeaderName, StatusCode, Uri};
use axum::response::{IntoResponse, Response};
use maud::html;

/// Why a request was not served. One sentence each.
#[derive(Debug, thiserror::Error)]
pub enum Refused {
    /// What the steps say.
    #[error(transparent)]
    Step(#[from] steps::Error),
    /// What the project file says.
    #[error(transparent)]
    Store(#[from] store::Error),
    /// There is no such thing.
    #[error("there is no {0}; it may have been removed meanwhile")]
    Gone(String),
    /// What came in can't be read.
    #[error("{0}")]
    Unreadable(String),
    /// The token of the change is not this device's.
    #[error(
        "this form is from before this device was let in; load the page again and repeat the change"
    )]
    WrongToken,
    /// This device may not.
    #[error("{0}")]
    NotHere(String),
    /// More works than may wait.
    #[error(
        "as much is being worked out as may wait at once; stop some of it, or repeat this once some is done"
    )]
    TooMany,
    /// More than is taken in.
    #[error("{0}")]
    TooLarge(String),
}

impl Refused {
    /// The status it is answered with.
    pub fn status(&self) -> StatusCode {
        match self {
            Self::Step(
                steps::Error::NoSuch { .. }
                | steps::Error::NoTake(_)
                | steps::Error::NoVersion(_)
                | steps::Error::ByHand(assemble::by_hand::Refused::NoShot(_)),
            ) => StatusCode::NOT_FOUND,
            Self::Step(_) => StatusCode::UNPROCESSABLE_ENTITY,
            Self::Store(store::Error::Refused(..)) => StatusCode::UNPROCESSABLE_ENTITY,
            Self::Store(store::Error::NoRevision(_)) => StatusCode::NOT_FOUND,
            Self::Store(_) => StatusCode::INTERNAL_SERVER_ERROR,
            Self::Gone(_) => StatusCode::NOT_FOUND,
            Self::Unreadable(_) => StatusCode::UNPROCESSABLE_ENTITY,
            Self::WrongToken | Self::NotHere(_) => StatusCode::FORBIDDEN,
            Self::TooMany => StatusCode::TOO_MANY_REQUESTS,
            Self::TooLarge(_) => StatusCode::PAYLOAD_TOO_LARGE,
        }
    }
}

impl IntoResponse for Refused {
    fn into_response(self) -> Response {
        said(self.status(), &self.to_string())
    }
}

/// A page that says one sentence and leads back.
pub fn said(status: StatusCode, sentence: &str) -> Response {
    let body = html! {
        section.refused role="alert" {
            h1 { "That did not work" }
            p { (text::said(sentence)) }
            p { a href="/" { "To the first page" } }
        }
    };
    // The page stays where it was: nothing can be asked for at an address that only takes changes.
    let stay = [(HeaderName::from_static("hx-push-url"), "false")];
    (status, stay, dress::bare("That did not work", &body)).into_response()
}

/// The answer to an address that leads nowhere.
pub async fn not_found(uri: Uri) -> Response {
    let path: String = uri.path().chars().take(80).collect();
    said(
        StatusCode::NOT_FOUND,
        &format!("there is no page at `{path}`; the pages are listed at the top of the first one"),
    )
}
