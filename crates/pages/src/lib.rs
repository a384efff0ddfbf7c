//! What a browser shows: the whole job as pages on this machine, and to a second screen when asked.
//!
//! Server-rendered pages over the same [`steps`] and [`model::Edit`]s as the command line. A page is a
//! function of the document and of what the steps computed from it; every change is a form or a small
//! JSON post that becomes one typed edit. Forms work without script; script adds what must be live.
//!
//! # What it keeps to
//! - Loopback only unless shared; [`guard`] checks Host and Origin of every request, [`door`] the device's
//!   key, [`posted`] the token of every change.
//! - No path is ever taken from a request: media are asked for by their id in the document.
//! - Work that takes long runs beside the request ([`work`]) with progress and stop; what is computed is
//!   kept as long as the parts of the document it came from stay the same ([`memo`]).
//!
//! It computes nothing of the trade itself.

pub mod app;
pub mod ask;
pub mod assets;
pub mod blocking;
pub mod computed;
pub mod door;
pub mod dress;
pub mod events;
pub mod finding;
pub mod form;
pub mod guard;
pub mod live;
pub mod media;
pub mod memo;
pub mod net;
pub mod page;
pub mod posted;
pub mod refusal;
pub mod router;
pub mod shell;
pub mod song_strip;
pub mod text;
pub mod upload;
pub mod viewing;
pub mod work;

pub use app::App;
pub use net::{Address, Error, Options, serve};
pub use router::router;
