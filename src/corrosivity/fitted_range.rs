//! Which quantities lie outside the range that a dose-response function was fitted on.

/// A quantity of [`Conditions`](crate::corrosivity::Conditions) with a range that a function was fitted on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FittedQuantity {
    /// Temperature [°C].
    Temperature,
    /// Relative humidity [%].
    Humidity,
    /// SO2 deposition [mg/(m²·d)].
    So2Deposition,
    /// Chloride deposition [mg/(m²·d)].
    ChlorideDeposition,
}

/// A quantity outside the range that a dose-response function was fitted on.
#[derive(Debug, Clone, PartialEq)]
pub struct OutsideRange {
    /// Key of the function.
    pub function: String,
    /// The quantity.
    pub quantity: FittedQuantity,
    /// Its value, in the unit of the quantity.
    pub value: f64,
}
