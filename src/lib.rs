//! Benchcall: a voice companion for cylinder-head benchwork.
//!
//! | floor | modules |
//! |---|---|
//! | 0 values | [`measure`], [`event`] |
//! | 1 logic | [`engine`], [`grammar`], [`record`], [`session`] |
//! | 2 signal | [`audio`] |
//! | 3 edges | [`device`], [`recognise`], [`voice`], [`store`], [`models`], [`report`], [`web`] |
//! | 4 wiring | [`app`], [`cli`] |
//!
//! A module may know those of lower floors; `engine` and `grammar` never meet, and edges do not
//! know each other. A test reads the imports and fails on any other edge.

pub mod app;
pub mod audio;
pub mod cli;
pub mod device;
pub mod engine;
pub mod event;
pub mod grammar;
pub mod measure;
pub mod models;
pub mod recognise;
pub mod record;
pub mod report;
pub mod session;
pub mod store;
pub mod voice;
pub mod web;
