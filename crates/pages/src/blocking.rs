//! The threads that may wait. Whatever reads or writes the project or computes runs on one of these, and never
//! on a thread that answers other requests meanwhile: requests are answered on them whole ([`answer`]), works
//! run on them ([`run`]). [`check`] finds what was forgotten. A panic on one of them ends as a sentence.

use crate::refusal;
use axum::extract::Request;
use axum::http::StatusCode;
use axum::middleware::Next;
use axum::response::Response;
use std::any::Any;
use std::cell::Cell;
use std::panic::{AssertUnwindSafe, catch_unwind};
use tokio::runtime::Handle;

/// The most threads that may wait at once: more than there may be connections, since each waits on one while it
/// is answered, and works that wait for their turn.
pub const MOST_THREADS: usize = 1024;

thread_local! {
    static MAY_WAIT: Cell<bool> = const { Cell::new(false) };
}

/// Runs `does` on a thread that may wait.
///
/// # Errors
/// What it panicked with, as a sentence.
pub async fn run<T: Send + 'static>(
    does: impl FnOnce() -> T + Send + 'static,
) -> Result<T, String> {
    let done = tokio::task::spawn_blocking(|| {
        MAY_WAIT.set(true);
        let out = caught(does);
        // The thread is used for other things after this.
        MAY_WAIT.set(false);
        out
    });
    // It is never aborted, and what it runs is caught.
    done.await.unwrap_or_else(|error| Err(error.to_string()))
}

/// Answers a request on a thread that may wait.
pub async fn answer(request: Request, next: Next) -> Response {
    let handle = Handle::current();
    let answered = run(move || handle.block_on(next.run(request))).await;
    answered.unwrap_or_else(|says| refusal::said(StatusCode::INTERNAL_SERVER_ERROR, &says))
}

/// What `does` gives.
///
/// # Errors
/// What it panicked with, as a sentence.
pub fn caught<T>(does: impl FnOnce() -> T) -> Result<T, String> {
    // What a panic leaves half done is not used again: an opened project is dropped with it, every change of
    // the document is one transaction, files are whole or not there.
    catch_unwind(AssertUnwindSafe(does)).map_err(|panic| sentence(&*panic))
}

/// What a panic is told as. The terminal has its place in the code.
fn sentence(panic: &(dyn Any + Send)) -> String {
    let text = panic.downcast_ref::<&str>().copied();
    let text = text.or_else(|| panic.downcast_ref::<String>().map(String::as_str));
    format!(
        "the program met a fault of its own here ({}); what was saved is as it was, and the rest goes on: change what was asked for, or try it once more",
        text.unwrap_or("of no name").trim_end_matches('.')
    )
}

/// Panics where a thread waits that must not: one that runs a server's tasks and was not set aside by [`run`].
pub fn check() {
    assert!(
        MAY_WAIT.get() || Handle::try_current().is_err(),
        "the project was asked for on a thread that must not wait; go through `blocking::run`"
    );
}

#[cfg(test)]
mod tests {
    use super::*;
    use axum::Router;
    use axum::body::{Body, to_bytes};
    use axum::middleware::from_fn;
    use axum::routing::get;
    use tower::ServiceExt as _;

    #[tokio::test]
    async fn waiting_is_found_where_it_must_not_be() {
        assert!(run(check).await.is_ok());
        assert!(caught(check).is_err(), "on the thread of a task");
        assert!(tokio::spawn(async { check() }).await.is_err());
        assert!(
            tokio::task::spawn_blocking(check).await.is_err(),
            "left again after use"
        );
        std::thread::spawn(check)
            .join()
            .expect("outside of a server");
    }

    #[tokio::test]
    async fn a_page_that_panics_says_so() {
        let breaks = async || -> &'static str { panic!("there is no bar 9") };
        let router: Router = Router::new().route("/", get(breaks)).layer(from_fn(answer));
        let request = Request::new(Body::empty());
        let response = router.oneshot(request).await.expect("an answer");
        assert_eq!(response.status(), StatusCode::INTERNAL_SERVER_ERROR);
        let page = to_bytes(response.into_body(), 1 << 20)
            .await
            .expect("a page");
        let page = String::from_utf8_lossy(&page);
        assert!(page.contains("(there is no bar 9)"), "{page}");
    }

    #[tokio::test]
    async fn a_panic_is_a_sentence() {
        let says = run(|| panic!("no bar {}", 9)).await.expect_err("a panic");
        assert!(says.contains("(no bar 9)"), "{says}");
    }
}
