//! The prices of one history: a function of run seed and history number, so that all options of a history pay the same.

use crate::decision::options::{Prices, Removal};
use crate::decision::renewal::Payments;
use crate::exposure::ArrangementKind;
use crate::numeric::normal::quantile;
use crate::numeric::stream::{Purpose, stream};
use crate::prior::Prior;
use rand::prelude::*;

/// Prices of one history [currency].
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct SampledPrices {
    /// Labour to take the member out and put it back, with parts.
    pub(crate) removal: f64,
    pub(crate) coat: f64,
    pub(crate) new_member: f64,
    pub(crate) late_per_a: f64,
    pub(crate) inspection: f64,
    pub(crate) over_rust_coat: f64,
    pub(crate) wax_per_a: f64,
    pub(crate) wash: f64,
    pub(crate) storage_per_a: [f64; ArrangementKind::ALL.len()],
}

impl SampledPrices {
    pub(crate) fn new(prices: &Prices, seed: u64, history: u64) -> Self {
        let mut generator = stream(seed, Purpose::Prices, history);
        let mut z = || quantile(generator.random::<f64>());
        let labour = match &prices.removal {
            Removal::Amount(amount) => amount.value(z()),
            Removal::Hours(hours, rate) => hours.value(z()) * rate.value(z()),
        };
        let coat = prices.blast_and_coat.value(z());
        let removal = labour + prices.parts.value(z());
        let (over_rust_coat, late_per_a) = (prices.over_rust_coat.value(z()), prices.late_penalty.value(z()));
        let mut optional = |price: &Option<Prior>| {
            let z = z();
            price.as_ref().map_or(0.0, |price| price.value(z))
        };
        Self {
            removal,
            coat,
            over_rust_coat,
            late_per_a,
            wax_per_a: optional(&prices.wax_per_year),
            wash: optional(&prices.wash_each),
            storage_per_a: std::array::from_fn(|index| optional(&prices.storage_per_year[index])),
            inspection: optional(&prices.inspection_each),
            new_member: optional(&prices.new_member),
        }
    }

    /// Present value of what is paid [currency]; a buyer pays a share of what is unused of the last coat.
    pub(crate) fn present_cost(&self, paid: &Payments, rest_value_share: f64) -> f64 {
        let work = paid.removals * self.removal + paid.coats * self.coat + paid.new_members * self.new_member;
        let rest = rest_value_share * paid.unused * (self.removal + self.coat);
        (work + paid.late_a * self.late_per_a - rest).max(0.0)
    }
}
