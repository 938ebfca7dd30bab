//! Numbers that cannot be taken for each other: of larvae, of stems, of bouts under way. "None" is `None`, in no more
//! space.

use std::fmt;
use std::num::NonZeroU32;

macro_rules! id {
    ($(#[$doc:meta])* $name:ident) => {
        $(#[$doc])*
        #[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub struct $name(NonZeroU32);

        impl $name {
            /// The id of a place in its list, below 2^32 - 1.
            #[inline]
            #[must_use]
            pub const fn new(index: usize) -> Self {
                Self(NonZeroU32::MIN.saturating_add(index as u32))
            }

            /// Its place in its list, from 0.
            #[inline]
            #[must_use]
            pub const fn index(self) -> usize {
                self.0.get() as usize - 1
            }
        }

        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                self.index().fmt(f)
            }
        }

        impl fmt::Debug for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                write!(f, "{}({})", stringify!($name), self.index())
            }
        }
    };
}

id! {
    /// A larva or egg of a season.
    LarvaId
}
id! {
    /// A stem of a site.
    StemId
}
id! {
    /// A place for a bout under way.
    BoutSlot
}

/// Lets lists be indexed by the ids of what they hold, and by no others.
macro_rules! indexed_by {
    ($id:ty, $held:ty) => {
        impl std::ops::Index<$id> for Vec<$held> {
            type Output = $held;
            #[inline]
            fn index(&self, id: $id) -> &$held {
                &self[id.index()]
            }
        }

        impl std::ops::IndexMut<$id> for Vec<$held> {
            #[inline]
            fn index_mut(&mut self, id: $id) -> &mut $held {
                &mut self[id.index()]
            }
        }
    };
}

pub(crate) use indexed_by;

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn exact_ids_keep_their_place_and_none_takes_no_space() {
        for index in [0, 1, 77, u32::MAX as usize - 1] {
            assert_eq!(LarvaId::new(index).index(), index);
        }
        assert!(StemId::new(3) < StemId::new(4));
        assert_eq!(
            format!("{} {:?}", StemId::new(7), StemId::new(7)),
            "7 StemId(7)"
        );
        assert_eq!(size_of::<Option<BoutSlot>>(), size_of::<u32>());
    }
}
