//! Files in and out: sound decoded, picture probed, measured and rendered, photographs read, content
//! hashed.
//!
//! Songs (WAV, FLAC, MP3, AIFF, Ogg Vorbis) are decoded in this process by symphonia. Camera files
//! go through ffmpeg, run as a child process, because edit lists and encoder delays decide the
//! sync and ffmpeg reads them. Everything that ffmpeg does for the program is done here, through
//! [`Tools`].
//!
//! # Conventions
//! - Sound is `f32`, full scale ±1.0, one vector per channel; rates are in Hz.
//! - Time zero of a take is the moment its first picture frame is shown; of a file without
//!   picture, its first audio sample. `_s` means seconds as `f64`.
//! - A `keep_going` closure is asked several times a second; once it answers `false` the work
//!   stops, leaves nothing behind and returns [`Error::Cancelled`].
//! - Files are written under another name beside the target and renamed when whole.
//!
//! # What it does not know
//! The document, the song's bars, where a take lies on the song, the screen. It does not
//! tone-map: HDR and log takes are shown as they are coded.

mod codes;
mod confine;
mod error;
mod frames;
mod hash;
mod inprocess;
mod jpeg;
mod kind;
mod lettering;
mod output;
mod phone;
mod photo;
mod pipe;
mod probe;
mod process;
mod reading;
mod render;
mod sink;
mod song;
mod take;
mod tools;
mod viewing;
mod wav;

pub use codes::read_codes;
pub use error::{Error, Note};
pub use frames::{extract_still, gray_frames};
pub use hash::{find_moved, hash_file};
pub use jpeg::write_jpeg;
pub use kind::{Kind, kind_of};
pub use phone::{phone_picture, phone_sound};
pub use photo::{PhotoNote, PhotoRead, read_photo};
pub use probe::{Probe, SoundTrack, probe};
pub use render::{PreviewJob, PreviewShot, Rendered, render_preview};
pub use sink::{SinkAudio, SinkSound, SinkSpec, VideoSink};
pub use song::{Audio, LONGEST_SONG_S, MOST_SAMPLES, decode_song};
pub use take::{TAKE_RATE_HZ, TakeAudio, TakeChannel, decode_take, decode_take_at};
pub use tools::Tools;
pub use viewing::{VIEW_WIDTH, key_frame_gap_s, viewing_copy};
pub use wav::{WavFormat, write_wav};

/// Asked several times a second during long work: `false` stops it.
pub type KeepGoing<'a> = &'a (dyn Fn() -> bool + Sync);
