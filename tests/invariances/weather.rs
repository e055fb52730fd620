//! Climate: the same weather written in several ways.
