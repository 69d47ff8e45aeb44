//! Every constant of the solver, with its reason.

/// Money is held in whole ticks of 1e-8 of the currency: dual values rounded to ticks lose less than
/// a millionth of a cent a piece, and a job of 1e9 still fits 64 bits.
pub const TICKS_PER_UNIT: i64 = 100_000_000;

/// Ticks of a cent.
pub const CENT: i64 = TICKS_PER_UNIT / 100;

/// Money is paid in whole cents: a bound this little below a cost proves it.
pub const HALF_A_CENT: i64 = CENT / 2;

/// A reduced cost this little below zero is rounding, not an improvement (currency units, relative to
/// the column's cost where that is above 1).
pub const REDUCED_COST: f64 = 1e-9;

/// The least pivot: a smaller one would blow up the inverse.
pub const PIVOT: f64 = 1e-9;

/// Ratios this close count as tied, so that the larger pivot can be taken.
pub const RATIO_TIE: f64 = 1e-9;

/// Spread of the right-hand sides against cycling: far above rounding, far below one piece.
pub const PERTURBATION: f64 = 1e-7;

/// A level below this is zero: above what the perturbation leaves, below any use.
pub const LEVEL: f64 = 1e-6;

/// Columns re-priced between two sweeps over all of them.
pub const CANDIDATES: usize = 40;

/// After so many pivots the inverse is computed afresh, before rounding adds up.
pub const PIVOTS_BETWEEN_REFACTORINGS: usize = 400;

/// A fraction this near to a whole number is that number when the dive fixes boards.
pub const WHOLE: f64 = 1e-5;

/// Column generation stops when the bound is this close to the master's value (relative).
pub const CLOSED: f64 = 1e-7;

/// (shapes on offer at most, share of the way to the best known values) by which the master's values are
/// drawn to those of the best bound before they are priced. With more shapes an iteration brings so many
/// columns that the values hardly swing, and the smoothing only delays (measured: benches/README.md).
pub const SMOOTHING: [(usize, f64); 2] = [(1, 0.8), (16, 0.5)];

/// Iterations of column generation after which it settles for the bound it has.
pub const MAX_ITERATIONS: usize = 2_000;

/// A missing piece costs this many of the dearest boards: more than any plan would pay for it.
pub const PENALTY_BOARDS: f64 = 10.0;

/// Bits of the binary fraction by which dual values are scaled down to a feasible point.
pub const SCALE_BITS: u32 = 40;

/// Steps after which the listing of one shape's patterns within the gap gives up at first: some
/// milliseconds. Each turn of the exact end goes twice as far.
pub const LISTING_STEPS: usize = 100_000;

/// Steps of the listing of all shapes together where many pieces are wanted.
pub const LISTING_STEPS_OF_MANY: usize = 400_000;

/// Pieces up to which a component is closed by a tree sooner than by exchanges.
pub const FEW_PIECES: u32 = 300;

/// Steps at which the listing has had its last turn: hours.
pub const LISTING_STEPS_MOST: usize = 1 << 36;

/// Steps at which the listing has had its last turn where it proves nothing and only helps to find plans.
pub const LISTING_STEPS_HELPING: usize = LISTING_STEPS << 7;

/// Steps of the search for one shape's most valuable proper pattern.
pub const PRICING_STEPS: usize = 300_000;

/// Shares of the gap within which columns are listed, the whole first: where that is too many, a part of it
/// proves a part.
pub const GAP_SHARES: [i64; 6] = [1, 2, 4, 8, 16, 32];

/// Steps after which the search for fewer different patterns of one price line ends: a tenth of a second or
/// less.
pub const ALIKE_STEPS: usize = 200_000;

/// Boards of a few groups above which they are not parted anew: the ways to do so go with their square.
pub const ALIKE_BOARDS: u32 = 200;

/// Share of the settings that the exchange of layouts must save, or plans are made from the start as well.
pub const SETTINGS_SAVED: f64 = 0.1;

/// Slices of the long search in such a plan.
pub const SETTINGS_SLICES: u32 = 1;

/// Shares of its charge at which the search for fewer settings runs, one after the other.
pub const SETTINGS_CHARGES: [f64; 3] = [0.25, 0.5, 1.0];

/// Layouts freed at once by the search for fewer settings.
pub const SETTINGS_LAYOUTS: std::ops::RangeInclusive<usize> = 2..=10;

/// Columns that may cut what they gave.
pub const SETTINGS_COLUMNS: usize = 40;

/// Nodes of one such program.
pub const SETTINGS_NODES: u64 = 300;

/// Batches without any gain after which the search for fewer settings ends.
pub const SETTINGS_IDLE_BATCHES: usize = 15;

/// Columns above which the exact integer program is not tried: microlp would not close it.
pub const MIP_COLUMNS: usize = 6_000;

/// Columns at which it has had its last turn.
pub const MIP_COLUMNS_MOST: usize = 100_000;

/// How much further columns are listed each time that a tree over them was not enough.
pub const FURTHER: usize = 2;

/// The same where few pieces are wanted.
pub const FURTHER_OF_FEW: usize = 4;

/// Lots up to which the master has all of them from the start.
pub const FEW_LOTS: usize = 12;

/// Lots that join the master at once.
pub const LOTS_WOKEN: usize = 6;

/// Slices between two turns of the exact end.
pub const EXACT_WAITS: u32 = 2;

/// Slices between two turns of an exact end whose trees cannot prove the plan, at most.
pub const EXACT_WAITS_MOST: u32 = 8;

/// Rounds of cuts at the root of a tree, at most.
pub const CUT_ROUNDS: usize = 60;

/// Steps of pricing all columns against cuts for each step of listing: it is done few times.
pub const COMPLETING_STEPS: usize = 4;

/// Share of what is left to the cutoff that more cuts must gain where no column is lacking.
pub const COMPLETE_GAIN: f64 = 0.03;

/// Steps towards the values of single pieces that come nearest to what columns are worth with cuts, at most.
pub const MAJORANT_STEPS: usize = 60;

/// Shares of what is left to the cutoff within which columns are then taken, the whole first.
pub const ROOM_SHARES: [f64; 4] = [1.0, 0.5, 0.25, 0.125];

/// Share of the cutoff that may be left for columns to be taken at all.
pub const NEAR_SHARE: f64 = 0.02;

/// Columns of a program that holds for all columns, at most: its tree must still be worked through.
pub const COLUMNS_OF_COMPLETE: usize = 20_000;

/// Share of what was left between plan and bound at which all columns are priced anew.
pub const LESS_LEFT: f64 = 0.7;

/// Rounds in which columns outside a program with cuts are priced, at most.
pub const ROUNDS_OF_PRICING: usize = 40;

/// Columns that join such a program in one round, those of least reduced cost.
pub const COLUMNS_A_ROUND_OF_PRICING: usize = 1_000;

/// Rounds of cuts in each further node.
pub const CUT_ROUNDS_IN_NODE: usize = 6;

/// Nodes of a tree at its first turn; each turn has twice as many, and in between the other searches have
/// theirs.
pub const TREE_NODES_FIRST: usize = 16;

/// Nodes of one turn at most: some seconds.
pub const TREE_NODES_MOST: usize = 1_024;

/// Columns of one stock among which those that another one covers are looked for.
pub const COVERED_AMONG: usize = 6_000;

/// Columns of a node of usual size.
pub const COLUMNS_A_NODE: usize = 200;

/// Columns of all waiting nodes together, above which the deepest come first: some hundred megabytes.
pub const COLUMNS_WAITING: usize = 150_000;

/// Nodes of a tree that are worked on at once, whatever the number of threads.
pub const NODES_AT_ONCE: usize = 4;

/// Columns of a node up to which the back end solves it to its end.
pub const LEAF_COLUMNS: usize = 120;

/// Nodes that it may open for that.
pub const LEAF_NODES: u64 = 1_000;

/// Nodes that it may open at the root, to find a plan.
pub const ROOT_NODES: u64 = 300;

/// A plan is looked for in every so many levels of a tree.
pub const DEPTH_OF_PLANS: u32 = 4;

/// Sums of columns of which the children are tried before one is branched on.
pub const STRONG_BRANCHES: usize = 6;

/// Boards of all rows up to which each of them is rounded in an integer program as the dealer does.
pub const ROUNDED_IN_ALL: u32 = 400;

/// Share of what is left to gain that a round of cuts must gain.
pub const CUT_GAIN: f64 = 0.01;

/// Rounds of cuts that gain less after which there are no more.
pub const IDLE_CUT_ROUNDS: usize = 4;

/// Cuts of one round.
pub const CUTS_A_ROUND: usize = 24;

/// A cut missed by less is rounding.
pub const CUT_VIOLATION: f64 = 1e-3;

/// A cut whose dual value is below this is dropped.
pub const CUT_DUAL: f64 = 1e-7;

/// Relative slack taken off the bound of a linear program with cuts, far above the rounding of its sums.
pub const CUT_SLACK: f64 = 1e-9;

/// Denominators of the weights that are searched for.
pub const CUT_DENOMINATORS: std::ops::RangeInclusive<i64> = 2..=5;

/// Largest denominator of the weights that the basis gives.
pub const CUT_DENOMINATOR_MOST: i64 = 60;

/// Nodes of the exact integer program of what is left of a component, or at its end.
pub const EXACT_NODES: u64 = 2_000;

/// Columns of the restricted integer program.
pub const RESTRICTED_COLUMNS: usize = 400;

/// Relative slack taken off a bound that a floating-point search proved.
pub const MIP_SLACK: f64 = 1e-6;

/// Columns for each size with which the master of a node starts, cheapest at its parent's values.
pub const START_COLUMNS: usize = 3;

/// Rounds of the search with backtracking, each wider than the last.
pub const BACKTRACK_ROUNDS: u32 = 40;

/// Searches of one round, whatever the number of threads, so that the result does not depend on it.
pub const BACKTRACK_LANES: u32 = 4;

/// Slices of the exchange before the first turn of the search with backtracking, where more than one
/// step of cost is still to be gained: far from the end the exchange gains more in the same time.
pub const BACKTRACK_WAITS: u32 = 4;

/// Nodes of one search in the first round; each round has twice as many as the last, at first.
pub const BACKTRACK_NODES: u64 = 60;

/// Rounds that double their nodes: longer rounds would keep the exact end from its turns.
pub const BACKTRACK_DOUBLINGS: u32 = 5;

/// How much chance may change the order in which columns are rounded up.
pub const BACKTRACK_NOISE: f64 = 0.3;

/// Lanes in which boards are filled one after the other, whatever the number of threads.
pub const SEQUENTIAL_LANES: u64 = 4;

/// Whole plans that each lane makes in one turn.
pub const SEQUENTIAL_SWEEPS: usize = 4;

/// Turns without a gain after which no more plans are made so.
pub const SEQUENTIAL_IDLE: u32 = 30;

/// Nodes of the search that cuts the boards of one exchange afresh.
pub const RECUT_NODES: u64 = 6;

/// Nodes of the exact integer program of one exchange.
pub const RECUT_EXACT_NODES: u64 = 50;

/// Pieces left from which a node is solved to the end.
pub const BACKTRACK_EXACT_PIECES: u32 = 12;

/// Boards freed at once by the exchange: first few enough to be solved to the end, then more.
pub const EXCHANGE_BOARDS: [std::ops::RangeInclusive<usize>; 4] = [2..=6, 5..=10, 8..=16, 12..=24];

/// Of few pieces: times that the listing of an exchange goes twice as far, one more at each level of the numbers above.
pub const CLOSING_DOUBLINGS: usize = 5;

/// Of few pieces: times round those levels, after which the exchange gives up.
pub const CLOSING_ROUNDS: usize = 3;

/// Of few pieces: batches of exchanges without any gain after which more boards are freed at once.
pub const CLOSING_IDLE_BATCHES: usize = 10;

/// Of few pieces: batches of exchanges between two looks at the gap of the whole plan.
pub const CLOSING_BATCHES_IN_A_SLICE: usize = 2;

/// Nodes of usual size of the tree that closes one exchange.
pub const CLOSING_NODES: usize = 64;

/// Exchanges worked on at once, whatever the number of threads, so that the result does not depend on it.
pub const EXCHANGES_AT_ONCE: usize = 8;

/// Batches of exchanges without any gain after which the exchange gives up.
pub const IDLE_BATCHES: usize = 40;

/// Nodes of the restricted integer program.
pub const RESTRICTED_NODES: u64 = 150;

/// A break or minimum order that the linear program clears by this factor is left out of the node:
/// rounding to whole boards will not lose so much.
pub const CLEARED_BY: f64 = 1.1;

/// Words of sums of rows that are looked at where a bound is a little below a plan: some milliseconds.
pub const WORK_ON_SUMS: usize = 20_000_000;

/// A bound no further than this below a plan is raised to what sums of rows can come to.
pub const NEAR_A_PLAN: i64 = 200 * CENT;

/// Boards of one stock up to which the exact program rounds its row to the cent as the dealer does.
pub const ROUNDED_BOARDS: u32 = 8;

/// Pieces beyond which the boards of a lot are cut in rounds where a plan is made in one sweep. Below that a search for
/// each board is quick and wastes less.
pub const PIECES_OF_A_ROUND: u32 = 500;

/// Sizes up to which several dives are tried before the exchange.
pub const FEW_SIZES: usize = 20;

/// Batches of exchanges between two looks at the gap of the whole plan.
pub const BATCHES_IN_A_SLICE: usize = 5;

/// Slices of the long search after which a target cost is given up.
pub const SLICES_FOR_A_TARGET: usize = 1;

/// A component whose gap is below this share of the largest one waits.
pub const GAP_SHARE: f64 = 0.25;
