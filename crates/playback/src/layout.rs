//! Where everything lies in a playback file, to the sample.

use crate::ltc;
use crate::speed::Speed;
use model::{SongTime, TICKS_PER_SECOND};

/// Silences and lengths around the song, in seconds of the file.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Spacing {
    /// Silence before the head beep, so that no player swallows it.
    pub lead_s: f64,
    /// From the start of the head beep to the first click, and from the end of the stretch to the
    /// start of the tail beep. Two seconds is common practice for a head and tail pop.
    pub beep_s: f64,
    /// Silence after the tail beep.
    pub after_s: f64,
}

impl Default for Spacing {
    fn default() -> Self {
        Self {
            lead_s: 0.5,
            beep_s: 2.0,
            after_s: 2.0,
        }
    }
}

/// A click of the count-in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Click {
    /// Where it starts in the file, in samples.
    pub sample: u64,
    /// The beat's time on the song; negative before it.
    pub song: SongTime,
    /// Whether it is a downbeat, which sounds higher and louder.
    pub accent: bool,
}

/// Where everything lies, in samples of the file. The song at sample `n` is
/// `song_at_stretch + (n − stretch_start) × speed`.
#[derive(Clone, Debug, PartialEq)]
pub struct Layout {
    /// Samples per second.
    pub rate_hz: u32,
    /// Song seconds per second of the file.
    pub speed: Speed,
    /// First sample of the head beep.
    pub head_beep: u64,
    /// How long a beep is.
    pub beep_samples: u64,
    /// The clicks, in order.
    pub clicks: Vec<Click>,
    /// First sample of the song.
    pub music_start: u64,
    /// First sample of the stretch.
    pub stretch_start: u64,
    /// The song at `stretch_start`: the song sample nearest to the start of the stretch.
    pub song_at_stretch: SongTime,
    /// First sample after the stretch.
    pub stretch_end: u64,
    /// First sample after the song, which fades out behind the stretch where it goes on.
    pub music_end: u64,
    /// First sample of the tail beep.
    pub tail_beep: u64,
    /// Samples in the file.
    pub samples: u64,
    /// The timecode on the right channel.
    pub timecode: Option<Course>,
}

/// How timecode runs along the file.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Course {
    /// Rate and counting of its labels.
    pub rate: ltc::Rate,
    /// The label that song time zero carries, as a frame of the day.
    pub zero: i64,
    /// Song seconds per second of labels: 1 when labels are song time, the speed when they run in
    /// real time.
    pub song_per_label: f64,
    /// The first whole label, as a frame of the day counted on from `zero`.
    pub first_frame: i64,
    /// How many whole labels there are.
    pub frames: i64,
    /// Where the first label starts, in samples of the file.
    pub first_start: f64,
    /// Samples of the file per label.
    pub spacing: f64,
    /// The song where labels and song agree: the start of the stretch.
    pub song_at_stretch: SongTime,
}

impl Layout {
    /// Seconds of the file at a sample.
    pub fn seconds(&self, sample: u64) -> f64 {
        sample as f64 / f64::from(self.rate_hz)
    }

    /// The song at a sample of the file, to the tick just before.
    pub fn song_at(&self, sample: u64) -> SongTime {
        let out = i128::from(sample) - i128::from(self.stretch_start);
        let ticks = (out * i128::from(TICKS_PER_SECOND) * i128::from(self.speed.num()))
            .div_euclid(i128::from(self.rate_hz) * i128::from(self.speed.den()));
        SongTime::from_ticks(self.song_at_stretch.ticks() + ticks as i64)
    }
}

impl Course {
    /// The label of the `index`th frame from the first.
    pub fn label(&self, index: i64) -> ltc::Label {
        self.rate.label(self.first_frame + index)
    }

    /// The song where the label of `frame` (a frame of the day counted on from `zero`) starts:
    /// `song_at_stretch + (label − label at the stretch) × song_per_label`, in seconds.
    pub fn song_s_of(&self, frame: i64) -> f64 {
        let label_s = (frame - self.zero) as f64 / self.rate.frames().fps();
        let at = self.song_at_stretch.seconds();
        at + (label_s - at) * self.song_per_label
    }
}
