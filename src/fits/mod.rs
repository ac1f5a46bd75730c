//! Fits: slices of numbers in, estimates with intervals out.
//!
//! One file or folder per method. Nothing here knows of frames, files, SQL,
//! the clock or a page. A method that is not yet fitted and its fit are
//! different types; every fit carries its [`record::Record`].

pub mod collinear;
pub mod consumption;
pub mod dist;
pub mod error;
pub mod evidence;
pub mod interval;
pub mod linear;
pub mod mean;
pub mod minutes;
pub mod mixed;
pub mod positive;
pub mod proportion;
pub mod ratio;
pub mod record;
pub mod robust;
pub mod roots;
