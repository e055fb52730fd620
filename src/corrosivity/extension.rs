//! Dose-response functions at any deposition: beyond the chloride they were fitted up to, with what ISO 9223 adds there.
//!
//! A function that leaves the average where its range ends would let the rate fall as salt rises, and the functions agree
//! where the evidence is worst. Each therefore goes on: `f(edge) + k (ISO(S) - ISO(edge))`. The sum rather than the ratio
//! of two ISO values, because the standard itself adds its salt term: a ratio would multiply dust and soot by salt (six- to
//! sevenfold in frost and heat), and would fall with sulphur dioxide. `k` is uncertain (`chloride_extension` in
//! `shared/priors.csv`), so the scatter of an extended rate grows with the distance from the edge.

use crate::corrosivity::dose_response::{Conditions, DoseResponse, DoseResponses};

impl DoseResponses {
    /// First-year rate at any deposition [µm/a], without ceiling: depositions not below their floors; beyond the chloride
    /// edge of the function that at the edge and `extension` times what ISO 9223 adds from there. `extension` from 0 [-].
    ///
    /// It never falls with chloride, sulphur dioxide, humidity or wetness.
    ///
    /// # Examples
    /// ```
    /// use ferrowane::corrosivity::{AirChemistry, Conditions, DoseResponse, DoseResponses};
    /// let at = |chloride_mg_m2_d| Conditions {
    ///     temperature_c: 10.0,
    ///     humidity_pct: 75.0,
    ///     so2_mg_m2_d: 10.0,
    ///     chloride_mg_m2_d,
    ///     wetness_h_per_a: 3800.0,
    ///     air: AirChemistry::default(),
    /// };
    /// let functions = DoseResponses::published()?;
    /// let rate = |chloride| functions.extended_rate_um_per_a(DoseResponse::MultiAssess2007, &at(chloride), 1.0);
    /// // 0.102 (20^0.62 - 3^0.62) exp(0.033 · 75 + 0.4), by hand
    /// assert!((rate(20.0) - rate(3.0) - 8.010).abs() < 0.01);
    /// # Ok::<(), ferrowane::error::Error>(())
    /// ```
    #[must_use]
    pub fn extended_rate_um_per_a(
        &self,
        dose_response: DoseResponse,
        conditions: &Conditions,
        extension: f64,
    ) -> f64 {
        let here = self.with_floors(*conditions);
        let edge = self.facts.get(&dose_response).and_then(|facts| facts.chloride_edge_mg_m2_d);
        let edge = edge.filter(|edge| here.chloride_mg_m2_d > *edge);
        let Some(chloride_mg_m2_d) = edge else { return self.monotone_rate_um_per_a(dose_response, &here) };
        let at_edge = Conditions { chloride_mg_m2_d, ..here };
        let standard = |conditions| self.rate(DoseResponse::Iso9223, conditions).rate_um_per_a;
        let added = (standard(&here) - standard(&at_edge)).max(0.0);
        extension.mul_add(added, self.monotone_rate_um_per_a(dose_response, &at_edge))
    }

    fn with_floors(&self, conditions: Conditions) -> Conditions {
        Conditions {
            so2_mg_m2_d: conditions.so2_mg_m2_d.max(self.limits.so2_floor_mg_m2_d),
            chloride_mg_m2_d: conditions.chloride_mg_m2_d.max(self.limits.chloride_floor_mg_m2_d),
            ..conditions
        }
    }

    /// The function itself, held from falling with sulphur dioxide: one function's salt term does, where steel is seldom
    /// wet, because salt and soot went together where it was fitted.
    fn monotone_rate_um_per_a(&self, dose_response: DoseResponse, conditions: &Conditions) -> f64 {
        let rate = self.rate(dose_response, conditions).rate_um_per_a;
        if dose_response != DoseResponse::FeliuMorcillo1993 {
            return rate;
        }
        let clean = Conditions { so2_mg_m2_d: self.limits.so2_floor_mg_m2_d, ..*conditions };
        rate.max(self.rate(dose_response, &clean).rate_um_per_a)
    }
}
