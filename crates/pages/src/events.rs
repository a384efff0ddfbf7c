//! What open pages want to know as it happens, and whoever listens for it.

use store::RevisionId;
use tokio::sync::broadcast;

/// Something that open pages want to know.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Event {
    /// The document stands on another revision.
    Changed(RevisionId),
    /// Something was computed; pages that show it look again.
    Computed(&'static str),
    /// Long work moved on.
    Work,
    /// A device was let in or sent away.
    Devices,
}

impl Event {
    /// The name it goes by on the wire.
    pub const fn name(&self) -> &'static str {
        match self {
            Self::Changed(_) => "changed",
            Self::Computed(_) => "computed",
            Self::Work => "work",
            Self::Devices => "devices",
        }
    }

    /// What is said with it.
    pub fn data(&self) -> String {
        match self {
            Self::Changed(revision) => revision.to_string(),
            Self::Computed(what) => (*what).to_owned(),
            Self::Work | Self::Devices => String::new(),
        }
    }
}

/// How many events may wait for a slow listener before it is told to look again.
const WAITING: usize = 256;

/// Where events are told and listened for.
#[derive(Clone, Debug)]
pub struct Events(broadcast::Sender<Event>);

impl Default for Events {
    fn default() -> Self {
        Self(broadcast::channel(WAITING).0)
    }
}

impl Events {
    /// Tells everybody who listens.
    pub fn tell(&self, event: Event) {
        // Nobody listening is no trouble.
        let _ = self.0.send(event);
    }

    /// What happens from now on.
    pub fn listen(&self) -> broadcast::Receiver<Event> {
        self.0.subscribe()
    }
}
