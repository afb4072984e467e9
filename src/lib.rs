//! Benchcall: a voice companion for cylinder-head benchwork.
//!
//! | floor | modules |
//! |---|---|
//! | 0 values | [`measure`], [`event`] |
//! | 1 logic | [`engine`], [`grammar`], [`record`], [`session`] |
//! | 2 signal | [`audio`] |
//! | 3 edges | [`device`], [`recognise`], [`voice`], [`store`], [`models`], [`report`], [`web`] |
//! | 3½ | [`understand`], [`evaluate`], `learn` |
//! | 4 wiring | [`app`], [`cli`] |
//!
//! A module may know those of lower floors; `engine` and `grammar` never meet, and edges do not
//! know each other. A test reads the imports and fails on any other edge.
//!
//! Floors 0 and 1 are always built; the rest as far as its features are on.

#![cfg_attr(
    not(all(
        feature = "learn",
        feature = "mic",
        feature = "store",
        feature = "web",
        feature = "whisper"
    )),
    allow(
        dead_code,
        unused_imports,
        reason = "their only callers are in rooms that are off"
    )
)]

#[cfg(all(feature = "store", feature = "web", feature = "whisper"))]
pub mod app;
#[cfg(feature = "edges")]
pub mod audio;
#[cfg(all(feature = "store", feature = "web", feature = "whisper"))]
pub mod cli;
#[cfg(feature = "edges")]
pub mod device;
pub mod engine;
#[cfg(feature = "whisper")]
pub mod evaluate;
pub mod event;
pub mod grammar;
#[cfg(feature = "learn")]
pub mod learn;
pub mod measure;
#[cfg(feature = "edges")]
pub mod models;
#[cfg(feature = "whisper")]
pub mod recognise;
pub mod record;
#[cfg(feature = "edges")]
pub mod report;
pub mod session;
#[cfg(feature = "store")]
pub mod store;
#[cfg(feature = "whisper")]
pub mod understand;
#[cfg(feature = "edges")]
pub mod voice;
#[cfg(feature = "web")]
pub mod web;
