//! Where the crank stands: stops that show every valve, and the timing of the camshafts.

pub(crate) mod timing;
pub(crate) mod turns;
