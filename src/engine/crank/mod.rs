//! Where the crank stands: stops that show every valve, and the timing of the camshafts.

pub mod timing;
pub mod turns;
