//! What was measured at each valve, what it is against its band, and which shim it asks for.

pub(crate) mod bench;
pub(crate) mod conflict;
pub(crate) mod interval;
pub(crate) mod remeasure;
pub(crate) mod rounds;
pub(crate) mod shim;
pub(crate) mod uncertainty;
pub(crate) mod valve_state;
