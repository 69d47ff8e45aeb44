//! Places in the lists of a job and of its problem, each of a type of its own.
//!
//! What lives here: one index type for every list that others point into, so that the number of a board is never
//! taken for that of a part. What never does: the lists themselves. A list that is looked up by an index is a
//! [`TiVec`] with it as its key.

pub use typed_index_collections::{TiSlice, TiVec, ti_vec};

macro_rules! index {
    ($(#[$meta:meta])* $name:ident) => {
        $(#[$meta])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
        pub struct $name(u32);

        impl From<usize> for $name {
            /// # Panics
            /// If the list is longer than any job's can be. The reader of a job limits how much it may hold.
            fn from(place: usize) -> $name {
                $name(u32::try_from(place).expect("a job's lists are far shorter than 32 bits count"))
            }
        }

        impl From<$name> for usize {
            fn from(index: $name) -> usize {
                index.0 as usize
            }
        }
    };
}

index!(
    /// A part of a job.
    PartIndex
);
index!(
    /// A dealer of a job.
    SupplierIndex
);
index!(
    /// A price line of a job.
    LineIndex
);
index!(
    /// A board on the rack of a job.
    RackIndex
);
index!(
    /// A board of a plan.
    BoardIndex
);
index!(
    /// A piece size of a problem.
    SizeIndex
);
index!(
    /// Boards of one size from one source.
    StockIndex
);
index!(
    /// A kind of stock with a usable rectangle.
    ShapeIndex
);
index!(
    /// A set of sizes that some boards offer.
    KindIndex
);
index!(
    /// The drawn boards of a price line.
    LotIndex
);
index!(
    /// A pattern of a pool.
    PatternIndex
);

impl SizeIndex {
    /// The index as a number of 32 bits that [`SizeIndex::from_bits`] takes back.
    pub const fn bits(self) -> u32 {
        self.0
    }

    /// See [`SizeIndex::bits`].
    pub const fn from_bits(bits: u32) -> SizeIndex {
        SizeIndex(bits)
    }
}
