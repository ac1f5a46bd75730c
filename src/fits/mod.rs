//! Fits: slices of numbers in, estimates with intervals out.
//!
//! One file or folder per method. Nothing here knows of frames, files, SQL,
//! the clock or a page. A method that is not yet fitted and its fit are
//! different types; every fit carries its [`record::Record`].

pub mod collinear;
pub mod consumption;
pub mod control;
pub mod dewpoint;
pub mod discovery;
pub mod dist;
pub(crate) mod draws;
pub mod error;
pub mod evidence;
pub mod exposure;
pub mod firth;
pub mod forecast;
pub mod funnel;
pub mod interval;
pub mod learning;
pub mod linear;
pub mod mean;
pub mod minutes;
pub mod mixed;
pub(crate) mod newton;
pub mod pace;
pub mod positive;
pub mod proportion;
pub mod ratio;
pub mod record;
pub mod risk_ratio;
pub mod robust;
pub mod roots;
pub mod shrink;
pub mod stratified;
pub mod survival;
pub mod uncertain;
