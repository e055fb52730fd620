//! Comparison with a stated tolerance.

/// Fails when `found` lies farther than `tolerance` from `expected`, or is not a number.
#[track_caller]
pub(crate) fn assert_close(what: &str, found: f64, expected: f64, tolerance: f64) {
    let error = (found - expected).abs();
    assert!(
        error <= tolerance,
        "{what}: {found} against {expected}, off by {error:e}, allowed {tolerance:e}"
    );
}
