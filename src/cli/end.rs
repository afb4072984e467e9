//! Ctrl-C, a closed terminal and the system's own end, as a wish to end in good order.

use anyhow::{Context, Result};
use std::sync::Arc;
use std::sync::atomic::AtomicBool;

/// Becomes true when the end is asked for; asked a second time, the process ends at once.
pub(super) fn asked() -> Result<Arc<AtomicBool>> {
    use signal_hook::consts::{SIGINT, SIGTERM};
    let asked = Arc::new(AtomicBool::new(false));
    let mut signals = vec![SIGINT, SIGTERM];
    #[cfg(unix)]
    signals.push(signal_hook::consts::SIGHUP);
    for signal in signals {
        // In this order: the second time the flag is up already.
        signal_hook::flag::register_conditional_shutdown(signal, 130, Arc::clone(&asked))
            .and_then(|_| signal_hook::flag::register(signal, Arc::clone(&asked)))
            .context("cannot take Ctrl-C")?;
    }
    Ok(asked)
}
