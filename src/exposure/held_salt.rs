//! Salt that members hold in an hour: its weight in the humidity response, and the water it binds.

use crate::exposure::film::{RoadSalt, salt_share};
use crate::exposure::salt::SaltStep;

/// Salt on each of the members, with what follows from it, by draw.
pub(super) struct Salt<const N: usize, const D: usize> {
    /// Road salt.
    pub(super) chloride_mg_m2: [[f64; D]; N],
    /// Weight of chloride-bearing rust [-].
    pub(super) share: [[f64; D]; N],
    pub(super) bound_water_g_m2: [[f64; D]; N],
}

/// Water that the salts on a member bind, by draw.
pub(super) struct WaterBinding<const D: usize> {
    /// Water that road salt binds, over its chloride [g/mg].
    road_water_g_mg: f64,
    /// Chloride of the sea salt that holds water beside it, and the water it binds [g/m²].
    sea_mg_m2: [f64; D],
    sea_water_g_m2: [f64; D],
}

impl<const D: usize> WaterBinding<D> {
    /// Sea salt binds water as sodium chloride, which it is for the most part; in one film it dries where the road salt does.
    pub(super) fn new(road_salt: RoadSalt, sea_mg_m2: [f64; D]) -> Self {
        let sea_water_g_m2 =
            sea_mg_m2.map(|sea_mg_m2| RoadSalt::SodiumChloride.bound_water_g_mg() * sea_mg_m2);
        Self { road_water_g_mg: road_salt.bound_water_g_mg(), sea_mg_m2, sea_water_g_m2 }
    }
}

impl<const N: usize, const D: usize> Salt<N, D> {
    pub(super) const NONE: Self =
        Self { chloride_mg_m2: [[0.0; D]; N], share: [[0.0; D]; N], bound_water_g_m2: [[0.0; D]; N] };

    /// Lays so much chloride on the members of a draw [mg/m²].
    #[inline(always)]
    pub(super) fn set(&mut self, draw: usize, chloride_mg_m2: &[f64; N], binding: &WaterBinding<D>) {
        for member in 0..N {
            let held = chloride_mg_m2[member];
            self.chloride_mg_m2[member][draw] = held;
            self.share[member][draw] = salt_share(held + binding.sea_mg_m2[draw]);
            self.bound_water_g_m2[member][draw] =
                binding.road_water_g_mg.mul_add(held, binding.sea_water_g_m2[draw]);
        }
    }

    #[inline(always)]
    pub(super) fn change(&mut self, draw: usize, step: SaltStep, binding: &WaterBinding<D>) {
        let mut chloride_mg_m2 = [0.0; N];
        for member in 0..N {
            chloride_mg_m2[member] = step.after(self.chloride_mg_m2[member][draw]);
        }
        self.set(draw, &chloride_mg_m2, binding);
    }
}
