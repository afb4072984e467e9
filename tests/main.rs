//! The one integration-test binary: the C++ link is paid once.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod browser;
mod cli;
mod damage;
mod demo;
mod devices;
mod floors;
mod fuzz;
mod german_recogniser;
mod live;
mod long_run;
mod messages;
mod outside;
mod phantoms;
mod phrase_table;
mod readback;
mod recogniser;
mod session_crash;
mod store_crash;
mod store_fixture;
mod store_fixture_later;
mod store_fixture_v2;
mod support;
#[cfg(feature = "learn")]
mod voice;
