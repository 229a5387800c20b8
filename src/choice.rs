//! One shape for every choice that an option offers: its values, what each is called, and an error that names the nearest.

use std::cell::RefCell;
use std::str::FromStr;

use crate::error::{ChoiceError, Error, Result};

/// A choice of an option. `choice!` makes one of an enum.
pub trait Choice: Copy + PartialEq + 'static {
    /// What the values are, in messages: "interval method".
    const WHAT: &'static str;
    /// Every value, in the order of the documentation.
    const VALUES: &'static [Self];

    /// The name that the option accepts, and that records keep.
    fn called(self) -> &'static str;

    /// The value called so.
    ///
    /// # Errors
    /// [`ChoiceError`] with all names and the nearest.
    ///
    /// ```
    /// use rootling::choice::Choice;
    /// use rootling::rates::IntervalMethod;
    /// assert_eq!(IntervalMethod::chosen("wilson")?, IntervalMethod::Wilson);
    /// assert!(IntervalMethod::chosen("wilso").unwrap_err().to_string().contains("did you mean \"wilson\""));
    /// # Ok::<(), rootling::Error>(())
    /// ```
    fn chosen(given: &str) -> Result<Self> {
        let found = Self::VALUES.iter().copied().find(|value| value.called() == given);
        found.ok_or_else(|| ChoiceError::new(Self::WHAT, given, &names::<Self>()).into())
    }
}

/// The names of all values of a choice.
#[must_use]
pub fn names<T: Choice>() -> Vec<&'static str> {
    T::VALUES.iter().map(|value| value.called()).collect()
}

thread_local! {
    /// The last name that reading did not know.
    static UNKNOWN: RefCell<Option<Error>> = const { RefCell::new(None) };
}

/// A value by its name, as it is read. A format keeps no more of an error than its text, so the error itself is kept beside it.
pub(crate) fn read_by_name<T: FromStr<Err = Error>, E: serde::de::Error>(given: &str) -> std::result::Result<T, E> {
    given.parse().map_err(|error: Error| {
        let told = E::custom(&error);
        UNKNOWN.set(Some(error));
        told
    })
}

/// What `read` reads, and the error of a name that it did not know.
#[cfg(feature = "python")]
pub(crate) fn with_unknown<T>(read: impl FnOnce() -> T) -> (T, Option<Error>) {
    UNKNOWN.set(None);
    let found = read();
    (found, UNKNOWN.take())
}

/// Makes a [`Choice`] of an enum without data: `ALL`, `name`, reading and writing by name, in options and records alike.
macro_rules! choice {
    ($type:ident, $what:literal: $($value:ident = $name:literal),+ $(,)?) => {
        impl $type {
            /// Every value, in the order of the documentation.
            pub const ALL: [Self; [$($name),+].len()] = [$(Self::$value),+];

            /// The name that the option accepts.
            #[must_use]
            pub const fn name(self) -> &'static str {
                match self {
                    $(Self::$value => $name),+
                }
            }
        }

        impl $crate::choice::Choice for $type {
            const WHAT: &'static str = $what;
            const VALUES: &'static [Self] = &Self::ALL;

            fn called(self) -> &'static str {
                self.name()
            }
        }

        impl std::str::FromStr for $type {
            type Err = $crate::error::Error;

            fn from_str(given: &str) -> $crate::error::Result<Self> {
                <Self as $crate::choice::Choice>::chosen(given)
            }
        }

        $crate::choice::written_by_name!($type, $crate::choice::names::<$type>());
    };
}
pub(crate) use choice;

/// Writing and reading by `name`, and the names that a record can hold.
macro_rules! written_by_name {
    ($type:ident, $names:expr) => {
        #[cfg(test)]
        impl schemars::JsonSchema for $type {
            fn schema_name() -> std::borrow::Cow<'static, str> {
                stringify!($type).into()
            }

            fn json_schema(_: &mut schemars::SchemaGenerator) -> schemars::Schema {
                schemars::json_schema!({ "type": "string", "enum": $names })
            }
        }

        impl serde::Serialize for $type {
            fn serialize<S: serde::Serializer>(&self, serializer: S) -> std::result::Result<S::Ok, S::Error> {
                serializer.serialize_str(self.name())
            }
        }

        impl<'de> serde::Deserialize<'de> for $type {
            fn deserialize<D: serde::Deserializer<'de>>(deserializer: D) -> std::result::Result<Self, D::Error> {
                let given = <String as serde::Deserialize>::deserialize(deserializer)?;
                $crate::choice::read_by_name(&given)
            }
        }
    };
}
pub(crate) use written_by_name;
