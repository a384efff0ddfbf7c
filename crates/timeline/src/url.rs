//! Where a file lies, as a URL reference (RFC 3986).
