//! Air of the store from one hour to the next: heat, vapour, water on the floor, heater and dehumidifier.

use crate::climate::humid_air::saturation_density_g_m3;
use crate::exposure::arrangement::EnclosureParameters;
use crate::exposure::enclosure::{VapourExchange, decay, relax};
use crate::exposure::weather::Hour;

/// Most water that stands on the floor [g]: 5 mm on the 4 m² of wet floor of `shared/arrangements.csv`; more runs off
/// (ASSUMPTION).
pub(super) const FLOOR_HOLDS_G: f64 = 20_000.0;
/// Difference of floor water that counts as none [g], and of vapour [g/m³].
const SAME_WATER_G: f64 = 1e-6;
const SAME_VAPOUR_G_M3: f64 = 1e-9;

/// Air of the room, that outdoors without one, and the water on its floor.
#[derive(Clone, Copy)]
pub(super) struct Air {
    pub(super) temperature_c: f64,
    pub(super) vapour_g_m3: f64,
    pub(super) humidity_pct: f64,
    pub(super) floor_water_g: f64,
}

impl Air {
    /// Open air in an hour.
    #[inline(always)]
    pub(super) fn outdoors(hour: &Hour) -> Self {
        let Hour { temperature_c, vapour_g_m3, humidity_pct, .. } = *hour;
        Self { temperature_c, vapour_g_m3, humidity_pct, floor_water_g: 0.0 }
    }

    /// Whether water and vapour are the same as another's.
    pub(super) fn is_like(&self, other: &Self) -> bool {
        (self.floor_water_g - other.floor_water_g).abs() < SAME_WATER_G
            && (self.vapour_g_m3 - other.vapour_g_m3).abs() < SAME_VAPOUR_G_M3
    }

    /// One hour on; in the open air the air outdoors. The heater lifts as far as its power reaches, the dehumidifier takes out
    /// what is above its set point, at most its capacity.
    #[inline(always)]
    pub(super) fn advance(&mut self, hour: &Hour, room: Option<&EnclosureParameters>, room_decay: f64) {
        let Some(room) = room else {
            *self = Self::outdoors(hour);
            return;
        };
        let unheated_c = hour.temperature_c + room.warmer_k;
        let held_c = room.heater_set_c.min(unheated_c + room.heater_lift_k);
        self.temperature_c = relax(self.temperature_c, unheated_c, room_decay).max(held_c);
        let saturated_g_m3 = saturation_density_g_m3(self.temperature_c);
        let could_dry_g = room.floor_drying_m3_per_h * (saturated_g_m3 - self.vapour_g_m3).max(1e-9);
        let wet_floor = (self.floor_water_g / could_dry_g.max(1e-9)).min(1.0);
        let exchange = VapourExchange {
            air_changes_per_h: room.air_changes_per_h,
            evaporation_per_h: wet_floor * room.floor_drying_m3_per_h / room.volume_m3,
            source_g_m3_h: 0.0,
        };
        let equilibrium = exchange.equilibrium_g_m3(hour.vapour_g_m3, saturated_g_m3);
        let left = decay(exchange.rate_per_h());
        let mean = equilibrium + (self.vapour_g_m3 - equilibrium) * (1.0 - left) / exchange.rate_per_h();
        let dried_g = exchange.evaporation_per_h * room.volume_m3 * (saturated_g_m3 - mean);
        self.floor_water_g = (self.floor_water_g - dried_g).max(0.0);
        let undried_g_m3 = relax(self.vapour_g_m3, equilibrium, left).min(saturated_g_m3);
        let excess_g_m3 = (undried_g_m3 - saturated_g_m3 * room.dehumidifier_set_pct / 100.0).max(0.0);
        let capacity_g_m3 = 1000.0 / 24.0 * room.dehumidifier_l_per_d / room.volume_m3;
        self.vapour_g_m3 = undried_g_m3 - excess_g_m3.min(capacity_g_m3);
        self.humidity_pct = 100.0 * self.vapour_g_m3 / saturated_g_m3;
    }

    /// Adds water that a wet car brings into the room [g]; what the floor cannot hold runs off.
    #[inline(always)]
    pub(super) fn take_in(&mut self, brought_g: f64) {
        self.floor_water_g = (self.floor_water_g + brought_g).min(FLOOR_HOLDS_G);
    }
}
