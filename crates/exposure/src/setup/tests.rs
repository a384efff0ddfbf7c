//! Whole setups judged.
