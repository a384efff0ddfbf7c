//! Not begun.
