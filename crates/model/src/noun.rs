//! What every noun of the document has in common: fields of its own, and room for fields that a
//! newer version wrote.

use serde_json::Value;
use std::collections::BTreeMap;

/// Fields written by a newer version of the program: kept as they came, never read.
pub type Extra = BTreeMap<String, Value>;

/// Declares a noun of the document: a struct with the given fields, an `extra` map that keeps
/// what a newer version wrote beside them, and the list of field names, so that a plan file's
/// unknown key can be answered with the nearest known one.
macro_rules! noun {
    ($(#[$meta:meta])* pub struct $name:ident { $($(#[$field_meta:meta])* pub $field:ident : $type:ty,)* }) => {
        $(#[$meta])*
        #[derive(Clone, Debug, PartialEq, serde::Serialize, serde::Deserialize)]
        pub struct $name {
            $($(#[$field_meta])* pub $field: $type,)*
            /// Fields a newer version wrote; kept, not read.
            #[serde(flatten)]
            pub extra: $crate::noun::Extra,
        }
        impl $name {
            /// The names its fields have in files.
            pub const FIELDS: &'static [&'static str] = &[$(stringify!($field)),*];
        }
    };
}
pub(crate) use noun;
