//! Air of the room around a parked car: first-order balances of heat and water vapour, solved exactly for each hour.
//!
//! Heat: `dT/dt = (T_out + dT - T)/tau`. Vapour: `dw/dt = n (w_out - w) + k (w_sat - w) + g`, with `k` the evaporation
//! from the wet floor over the volume and `g` a given source. With `k = 0` the steady state is the mixing balance
//! `w = w_out + g/n`; check values: `shared/checks_garage_balance.csv`.

use crate::numeric::elementary::exp;

/// Advances a first-order lag by one hour towards `target`; `decay` is `exp(-1 h / time constant)` [-].
///
/// # Examples
/// ```
/// use ferrowane::exposure::enclosure::{decay, relax};
/// // a room 10 K too warm with a time constant of 1 h is 10/e K too warm after one hour
/// assert!((relax(10.0, 0.0, decay(1.0)) - 3.6788).abs() < 1e-4);
/// ```
#[inline(always)]
#[must_use]
pub fn relax(value: f64, target: f64, decay: f64) -> f64 {
    decay.mul_add(value - target, target)
}

/// Factor by which a difference decays in one hour [-]; `rate_per_h` from 0 [1/h].
#[inline(always)]
#[must_use]
pub fn decay(rate_per_h: f64) -> f64 {
    exp(-rate_per_h)
}

/// Exchange of vapour in a room during one hour.
#[derive(Debug, Clone, Copy)]
pub struct VapourExchange {
    /// Air changes [1/h].
    pub air_changes_per_h: f64,
    /// Evaporation from the floor over the volume [1/h].
    pub evaporation_per_h: f64,
    /// Further source of vapour [g/(m³·h)].
    pub source_g_m3_h: f64,
}

impl VapourExchange {
    /// Vapour density of the room in the steady state [g/m³], from those outdoors and at saturation [g/m³].
    #[inline(always)]
    #[must_use]
    pub fn equilibrium_g_m3(&self, outdoor_g_m3: f64, saturated_g_m3: f64) -> f64 {
        let inflow = self.air_changes_per_h * outdoor_g_m3 + self.evaporation_per_h * saturated_g_m3;
        (inflow + self.source_g_m3_h) / (self.air_changes_per_h + self.evaporation_per_h)
    }

    /// Rate at which the room approaches the steady state [1/h].
    #[inline(always)]
    #[must_use]
    pub fn rate_per_h(&self) -> f64 {
        self.air_changes_per_h + self.evaporation_per_h
    }
}

#[cfg(test)]
mod tests {
    use super::{VapourExchange, decay, relax};

    #[test]
    fn closed_form_one_long_step_equals_many_short_ones() {
        let fine = (0..4).fold(10.0, |t, _| relax(t, 2.0, decay(0.25 / 7.0)));
        assert!((relax(10.0, 2.0, decay(1.0 / 7.0)) - fine).abs() < 1e-12);
    }

    #[test]
    fn closed_form_mixing_limit() {
        let exchange = VapourExchange { air_changes_per_h: 0.77, evaporation_per_h: 0.0, source_g_m3_h: 3.5 };
        let settle = |w, _| relax(w, exchange.equilibrium_g_m3(3.8, 9.0), decay(exchange.rate_per_h()));
        let limit = (0..200).fold(0.0, settle);
        assert!((limit - (3.8 + 3.5 / 0.77)).abs() < 1e-9);
    }
}
