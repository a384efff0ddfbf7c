//! How a noun of the document is declared: each field once, with everything there is to say of it.

use serde_json::Value;
use std::collections::BTreeMap;

/// Fields written by a newer version of the program: kept as they came, never read.
pub type Extra = BTreeMap<String, Value>;

/// Declares a noun of the document.
///
/// ```text
/// noun! {
///     /// What a battery holds.
///     pub struct Battery {
///         /// As printed on it.
///         pub wh: f64 => "Energy".unit("Wh").range(0.1, 100_000.0),
///         /// What it is made of.
///         pub chemistry: Chemistry = Chemistry::LithiumIon => "Chemistry".later(),
///     }
/// }
/// ```
///
/// A field is a name, a type, after `=` what it is when nothing is said, after `=>` what a person
/// calls it, and then what else there is to say, by the methods of [`Field`](crate::describe::Field).
/// In brackets after the noun's name stand fields of [`Noun`](crate::describe::Noun). From it come the
/// struct with an `extra` map that keeps what a newer version wrote, its reading and writing, its check
/// and its description. What says nothing is not written, unless it has a usual value.
#[doc(hidden)]
#[macro_export]
macro_rules! noun {
    (
        $(#[doc = $doc:literal])*
        pub struct $name:ident $(($($key:ident: $value:expr),*))? {
            $(
                $(#[doc = $field_doc:literal])*
                pub $field:ident: $type:ty $(= $usual:expr)? => $label:literal $(.$option:ident($($arg:expr),*))*,
            )*
        }
    ) => {
        $(#[doc = $doc])*
        #[derive(Clone, Debug, PartialEq)]
        pub struct $name {
            $(#[doc = $label] #[doc = ".\n\n"] $(#[doc = $field_doc])* pub $field: $type,)*
            /// Fields a newer version wrote; kept, not read.
            pub extra: $crate::noun::Extra,
        }

        impl $name {
            /// What there is to say of it and its fields.
            #[allow(clippy::needless_update, reason = "most nouns do not say all of it; some do")]
            pub const NOUN: $crate::describe::Noun = $crate::describe::Noun {
                doc: &[$($doc),*],
                fields: &[$(
                    $crate::describe::Field::new::<$type>(stringify!($field), $label)
                        .documented(&[$($field_doc),*])
                        $(.usually(|| serde_json::json!($usual)))?
                        $(.$option($($arg),*))*
                ),*],
                $($($key: $value,)*)?
                ..$crate::describe::Noun::BARE
            };
        }

        impl $crate::describe::Part for $name {
            const SHAPE: $crate::describe::Shape = $crate::describe::Shape::Inside(&Self::NOUN);
            const NEEDED: bool = false $(|| $crate::noun!(@needed $type $(; $usual)?))*;

            fn unsaid() -> Option<Self> {
                Some(Self {
                    $($field: $crate::noun!(@unsaid $type $(; $usual)?)?,)*
                    extra: Default::default(),
                })
            }

            fn says_nothing(&self) -> bool {
                if Self::NOUN.sparse {
                    return Self::unsaid().as_ref() == Some(self);
                }
                self.extra.is_empty() $(&& !$crate::noun!(@written self.$field $(; $usual)?))*
            }

            fn id(&self) -> Option<&str> {
                $(if stringify!($field) == "id" {
                    return $crate::describe::Part::id(&self.$field);
                })*
                None
            }

            fn check(
                &self,
                _: &$crate::describe::Field,
                at: &$crate::validate::At<'_>,
                check: &mut $crate::validate::Check,
            ) {
                let mut fields = Self::NOUN.fields.iter();
                $(
                    if let Some(field) = fields.next() {
                        $crate::describe::Part::check(&self.$field, field, &at.field(stringify!($field)), check);
                    }
                )*
                check.kept(&self.extra, at);
            }
        }

        impl serde::Serialize for $name {
            fn serialize<S: serde::Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
                use serde::ser::SerializeMap as _;
                let sparse = if Self::NOUN.sparse { <Self as $crate::describe::Part>::unsaid() } else { None };
                let mut map = to.serialize_map(None)?;
                $(
                    let written = match &sparse {
                        Some(usual) => usual.$field != self.$field,
                        None => $crate::noun!(@written self.$field $(; $usual)?),
                    };
                    if written {
                        map.serialize_entry(stringify!($field), &self.$field)?;
                    }
                )*
                for (name, value) in &self.extra {
                    map.serialize_entry(name, value)?;
                }
                map.end()
            }
        }

        impl<'de> serde::Deserialize<'de> for $name {
            fn deserialize<D: serde::Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
                struct Reader;
                impl<'de> serde::de::Visitor<'de> for Reader {
                    type Value = $name;
                    fn expecting(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                        f.write_str("a table of fields")
                    }
                    fn visit_map<A: serde::de::MapAccess<'de>>(self, mut map: A) -> Result<$name, A::Error> {
                        use serde::de::Error as _;
                        $(let mut $field: Option<$type> = None;)*
                        let mut extra = $crate::noun::Extra::new();
                        while let Some(key) = map.next_key::<String>()? {
                            match key.as_str() {
                                $(stringify!($field) => {
                                    if $field.replace(map.next_value()?).is_some() {
                                        return Err(A::Error::duplicate_field(stringify!($field)));
                                    }
                                })*
                                _ => {
                                    let value = map.next_value()?;
                                    extra.insert(key, value);
                                }
                            }
                        }
                        Ok($name {
                            $($field: $field
                                .or_else(|| $crate::noun!(@unsaid $type $(; $usual)?))
                                .ok_or_else(|| A::Error::missing_field(stringify!($field)))?,)*
                            extra,
                        })
                    }
                }
                from.deserialize_map(Reader)
            }
        }
    };
    (@unsaid $type:ty; $usual:expr) => { Some::<$type>($usual) };
    (@unsaid $type:ty) => { <$type as $crate::describe::Part>::unsaid() };
    (@needed $type:ty; $usual:expr) => { false };
    (@needed $type:ty) => { <$type as $crate::describe::Part>::NEEDED };
    // What has a usual value is always written: what is usual may be another thing one day.
    (@written $value:expr; $usual:expr) => { true };
    (@written $value:expr) => { !$crate::describe::Part::says_nothing(&$value) };
}

/// Declares words of the document: an enum, each with its word in files and what a person calls it.
/// After `=` stands the one that holds when nothing is said.
#[doc(hidden)]
#[macro_export]
macro_rules! words {
    (
        $(#[doc = $doc:literal])*
        pub enum $name:ident $(= $usual:ident)? {
            $($(#[doc = $word_doc:literal])* $variant:ident = $word:literal, $label:literal;)*
        }
    ) => {
        $(#[doc = $doc])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, serde::Serialize, serde::Deserialize)]
        pub enum $name {
            $($(#[doc = $word_doc])* #[serde(rename = $word)] $variant,)*
        }

        impl $name {
            /// Every one, in this order.
            pub const ALL: &'static [Self] = &[$(Self::$variant),*];

            /// Its word in files.
            pub const fn word(self) -> &'static str {
                match self { $(Self::$variant => $word,)* }
            }

            /// What a person calls it.
            pub const fn label(self) -> &'static str {
                match self { $(Self::$variant => $label,)* }
            }
        }

        impl $crate::describe::Part for $name {
            const SHAPE: $crate::describe::Shape = $crate::describe::Shape::Word(&[
                $($crate::describe::Word { word: $word, label: $label, doc: &[$($word_doc),*] }),*
            ]);
            const NEEDED: bool = true $(&& { let _ = Self::$usual; false })?;
            fn unsaid() -> Option<Self> {
                None $(.or(Some(Self::$usual)))?
            }
            fn check(&self, _: &$crate::describe::Field, _: &$crate::validate::At<'_>, _: &mut $crate::validate::Check) {}
        }

        $(impl Default for $name {
            fn default() -> Self {
                Self::$usual
            }
        })?
    };
}

/// A noun of which only `said` is said.
///
/// # Panics
/// When a field that is needed is not among `said`: the caller's mistake, found by any test.
#[track_caller]
pub(crate) fn made<T: serde::de::DeserializeOwned>(said: Value) -> T {
    serde_json::from_value(said).unwrap_or_else(|error| panic!("a noun is made without {error}"))
}
