//! Where the crank stands: firings, stops that show every valve, and the timing of the camshafts.

pub(crate) mod firing;
pub(crate) mod timing;
pub(crate) mod turns;
