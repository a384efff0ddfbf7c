//! Names that the document's nouns are known by.

use serde::{Deserialize, Deserializer, Serialize, de::Error as _};
use std::fmt;

/// The longest id, in characters.
pub const MAX_ID: usize = 64;

/// Whether `text` can be an id: letters, digits, `-`, `_` and `.`, at most [`MAX_ID`] of them.
pub fn is_id(text: &str) -> bool {
    !text.is_empty()
        && text.chars().count() <= MAX_ID
        && text
            .chars()
            .all(|c| c.is_alphanumeric() || matches!(c, '-' | '_' | '.'))
}

macro_rules! id {
    ($(#[$meta:meta])* $name:ident $(of $list:literal)?) => {
        $(#[$meta])*
        #[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
        pub struct $name(String);

        impl $name {
            /// The id written `text`, or a sentence that says why it can't be one.
            ///
            /// # Errors
            /// When `text` is empty, too long or holds anything but letters, digits, `-`, `_`, `.`.
            pub fn new(text: impl Into<String>) -> Result<Self, String> {
                let text = text.into();
                if is_id(&text) {
                    Ok(Self(text))
                } else {
                    Err(format!("`{text}` can't be an id; use letters, digits, `-`, `_` and `.`, at most {MAX_ID} of them"))
                }
            }

            /// As text.
            pub fn as_str(&self) -> &str {
                &self.0
            }
        }

        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str(&self.0)
            }
        }

        impl crate::describe::Part for $name {
            const SHAPE: crate::describe::Shape = crate::describe::Shape::Id;
            $(const OF: Option<&'static crate::describe::Source> =
                Some(&crate::describe::Source::all($list));)?
            fn id(&self) -> Option<&str> {
                Some(&self.0)
            }
            fn check(
                &self,
                field: &crate::describe::Field,
                at: &crate::validate::At<'_>,
                check: &mut crate::validate::Check,
            ) {
                if let Some(source) = field.of.filter(|_| field.name != "id") {
                    check.named(source, &self.0, at);
                }
            }
        }

        impl<'de> Deserialize<'de> for $name {
            fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
                Self::new(String::deserialize(from)?).map_err(D::Error::custom)
            }
        }
    };
}

id!(
    /// A setup: one position of camera and light.
    SetupId of "setups"
);
id!(
    /// A place.
    PlaceId of "places"
);
id!(
    /// A take: one file the camera made.
    TakeId of "takes"
);
id!(
    /// An idea, a reference, a lyric line or a note.
    NoteId
);
id!(
    /// A thing, or several alike, on the packing list.
    KitId of "kit"
);
id!(
    /// A day of shooting.
    DayId of "days"
);
id!(
    /// A device that writes a log: a phone's page draws one by chance when it is first opened.
    DeviceId
);
id!(
    /// Somebody who is part of it.
    PersonId of "people"
);
id!(
    /// What a section wants.
    WishId of "wishes"
);
