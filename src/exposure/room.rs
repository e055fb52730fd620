//! Air of the store from one hour to the next: heat, vapour, water on the floor and in the ground, heater and dehumidifier.

use crate::climate::humid_air::saturation_density_g_m3;
use crate::exposure::arrangement::{ArrangementParameters, EnclosureParameters};
use crate::exposure::enclosure::{VapourExchange, decay, relax};
use crate::exposure::ground::{Inflow, WetGround, ground_after_hour_c};
use crate::exposure::weather::Hour;

/// Most water that stands on the floor [g]: 5 mm on the 4 m² of wet floor of `shared/arrangements.csv`; more runs off
/// (ASSUMPTION).
pub(super) const FLOOR_HOLDS_G: f64 = 20_000.0;
/// Difference of floor water that counts as none [g], and of vapour [g/m³].
const SAME_WATER_G: f64 = 1e-6;
const SAME_VAPOUR_G_M3: f64 = 1e-9;

/// What makes the air round parked members another than that outdoors, in each of `D` draws of one arrangement.
pub(super) struct Store<const D: usize> {
    room: Option<Rooms<D>>,
    ground: Option<Grounds<D>>,
    room_decay: [f64; D],
}

/// Rooms of some draws: each parameter side by side, so that an hour of all of them is vector code.
struct Rooms<const D: usize> {
    air_changes_per_h: [f64; D],
    volume_m3: [f64; D],
    thermal_time_constant_h: [f64; D],
    warmer_k: [f64; D],
    heater_set_c: [f64; D],
    heater_lift_k: [f64; D],
    dehumidifier_set_pct: [f64; D],
    dehumidifier_l_per_d: [f64; D],
    floor_drying_m3_per_h: [f64; D],
}

/// The same of the ground.
struct Grounds<const D: usize> {
    drying_m3_per_h: [f64; D],
    underfloor_air_m3_per_h: [f64; D],
}

impl<const D: usize> Rooms<D> {
    fn new(rooms: &[EnclosureParameters; D]) -> Self {
        let of = |parameter: fn(&EnclosureParameters) -> f64| rooms.each_ref().map(parameter);
        Self {
            air_changes_per_h: of(|room| room.air_changes_per_h),
            volume_m3: of(|room| room.volume_m3),
            thermal_time_constant_h: of(|room| room.thermal_time_constant_h),
            warmer_k: of(|room| room.warmer_k),
            heater_set_c: of(|room| room.heater_set_c),
            heater_lift_k: of(|room| room.heater_lift_k),
            dehumidifier_set_pct: of(|room| room.dehumidifier_set_pct),
            dehumidifier_l_per_d: of(|room| room.dehumidifier_l_per_d),
            floor_drying_m3_per_h: of(|room| room.floor_drying_m3_per_h),
        }
    }

    #[inline(always)]
    fn at(&self, draw: usize) -> EnclosureParameters {
        EnclosureParameters {
            air_changes_per_h: self.air_changes_per_h[draw],
            volume_m3: self.volume_m3[draw],
            thermal_time_constant_h: self.thermal_time_constant_h[draw],
            warmer_k: self.warmer_k[draw],
            heater_set_c: self.heater_set_c[draw],
            heater_lift_k: self.heater_lift_k[draw],
            dehumidifier_set_pct: self.dehumidifier_set_pct[draw],
            dehumidifier_l_per_d: self.dehumidifier_l_per_d[draw],
            floor_drying_m3_per_h: self.floor_drying_m3_per_h[draw],
        }
    }
}

impl<const D: usize> Grounds<D> {
    #[inline(always)]
    fn at(&self, draw: usize) -> WetGround {
        let (drying, underfloor_air) = (self.drying_m3_per_h[draw], self.underfloor_air_m3_per_h[draw]);
        WetGround { drying_m3_per_h: drying, underfloor_air_m3_per_h: underfloor_air }
    }
}

impl<const D: usize> Store<D> {
    /// Of draws of one arrangement: all have a room or none, wet ground or none.
    pub(super) fn new(parameters: [&ArrangementParameters; D]) -> Self {
        let each = parameters.map(|parameters| parameters.room);
        let first = parameters[0];
        let room = first.room.map(|first| Rooms::new(&each.map(|room| room.unwrap_or(first))));
        let ground = first.ground.map(|first| {
            let each = parameters.map(|parameters| parameters.ground.unwrap_or(first));
            Grounds {
                drying_m3_per_h: each.map(|ground| ground.drying_m3_per_h),
                underfloor_air_m3_per_h: each.map(|ground| ground.underfloor_air_m3_per_h),
            }
        });
        let room_decay = each.map(|room| room.map_or(0.0, |room| decay(1.0 / room.thermal_time_constant_h)));
        Self { room, ground, room_decay }
    }

    /// Longest time constant of the air of a draw [h]; `None` where it has none of its own.
    pub(super) fn time_constant_h(&self, draw: usize) -> Option<f64> {
        let room_h = self.room.as_ref().map(|rooms| rooms.thermal_time_constant_h[draw]);
        room_h.or(self.ground.as_ref().map(|_| 0.0))
    }
}

/// Air round the member, the water on the floor and the temperature of the ground.
#[derive(Clone, Copy)]
pub(super) struct Air {
    pub(super) temperature_c: f64,
    pub(super) vapour_g_m3: f64,
    pub(super) humidity_pct: f64,
    pub(super) floor_water_g: f64,
    /// Surface of the ground; kept only where it gives vapour.
    pub(super) ground_c: f64,
}

impl Air {
    /// Open air in an hour.
    #[inline(always)]
    pub(super) fn outdoors(hour: &Hour) -> Self {
        let Hour { temperature_c, vapour_g_m3, humidity_pct, .. } = *hour;
        Self { temperature_c, vapour_g_m3, humidity_pct, floor_water_g: 0.0, ground_c: temperature_c }
    }

    /// Whether water and vapour are the same as another's.
    pub(super) fn is_like(&self, other: &Self) -> bool {
        (self.floor_water_g - other.floor_water_g).abs() < SAME_WATER_G
            && (self.vapour_g_m3 - other.vapour_g_m3).abs() < SAME_VAPOUR_G_M3
    }

    /// Under a car in the open the air changes many times an hour, so that it is the steady mixture of what comes from
    /// outside and from the ground.
    #[inline(always)]
    fn advance_over_ground(&mut self, hour: &Hour, ground: &WetGround) {
        let ground_c = ground_after_hour_c(self.ground_c, hour.temperature_c);
        let outside = Inflow { flow: ground.underfloor_air_m3_per_h, vapour_g_m3: hour.vapour_g_m3 };
        let evaporating = hour.soil_wetness * ground.drying_m3_per_h;
        let saturated_g_m3 = saturation_density_g_m3(hour.temperature_c);
        let mixed = outside.with_ground(evaporating, ground_c, hour.vapour_g_m3);
        *self = Self { ground_c, ..Self::outdoors(hour) };
        self.vapour_g_m3 = mixed.vapour_g_m3.min(saturated_g_m3.max(hour.vapour_g_m3));
        // not `clamp`, which looks whether its limits are in order
        self.humidity_pct = (100.0 * self.vapour_g_m3 / saturated_g_m3).max(hour.humidity_pct).min(100.0);
    }

    /// In a room the heater lifts as far as its power reaches, the dehumidifier takes out what is above its set point, at most
    /// its capacity.
    #[inline(always)]
    fn advance_in_room(
        &mut self,
        hour: &Hour,
        room: &EnclosureParameters,
        (ground, room_decay): (Option<&WetGround>, f64),
    ) {
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
        let (exchange, inflow_g_m3) = match ground {
            Some(ground) => self.with_ground(hour, room, (exchange, ground)),
            None => (exchange, hour.vapour_g_m3),
        };
        let equilibrium = exchange.equilibrium_g_m3(inflow_g_m3, saturated_g_m3);
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

    /// Exchange of a room that stands on soil: air over the ground comes in beside that from outside, where it is damper than
    /// the room is and would become. Returns it with the vapour of what comes in [g/m³].
    #[inline(always)]
    fn with_ground(
        &mut self,
        hour: &Hour,
        room: &EnclosureParameters,
        (exchange, ground): (VapourExchange, &WetGround),
    ) -> (VapourExchange, f64) {
        self.ground_c = ground_after_hour_c(self.ground_c, self.temperature_c);
        let becomes_g_m3 =
            exchange.equilibrium_g_m3(hour.vapour_g_m3, saturation_density_g_m3(self.temperature_c));
        let outside = Inflow { flow: exchange.air_changes_per_h, vapour_g_m3: hour.vapour_g_m3 };
        let evaporating_per_h = hour.soil_wetness * ground.drying_m3_per_h / room.volume_m3;
        let mixed = outside.with_ground(evaporating_per_h, self.ground_c, becomes_g_m3.max(self.vapour_g_m3));
        (VapourExchange { air_changes_per_h: mixed.flow, ..exchange }, mixed.vapour_g_m3)
    }
}

/// Air of some draws, side by side.
#[derive(Clone, Copy)]
pub(super) struct Airs<const D: usize> {
    temperature_c: [f64; D],
    vapour_g_m3: [f64; D],
    humidity_pct: [f64; D],
    floor_water_g: [f64; D],
    ground_c: [f64; D],
}

impl<const D: usize> Airs<D> {
    /// The same air in all draws.
    #[inline(always)]
    pub(super) fn all(air: &Air) -> Self {
        Self {
            temperature_c: [air.temperature_c; D],
            vapour_g_m3: [air.vapour_g_m3; D],
            humidity_pct: [air.humidity_pct; D],
            floor_water_g: [air.floor_water_g; D],
            ground_c: [air.ground_c; D],
        }
    }

    /// Air of a draw.
    #[inline(always)]
    pub(super) fn at(&self, draw: usize) -> Air {
        Air {
            temperature_c: self.temperature_c[draw],
            vapour_g_m3: self.vapour_g_m3[draw],
            humidity_pct: self.humidity_pct[draw],
            floor_water_g: self.floor_water_g[draw],
            ground_c: self.ground_c[draw],
        }
    }

    #[inline(always)]
    pub(super) fn set(&mut self, draw: usize, air: &Air) {
        self.temperature_c[draw] = air.temperature_c;
        self.vapour_g_m3[draw] = air.vapour_g_m3;
        self.humidity_pct[draw] = air.humidity_pct;
        self.floor_water_g[draw] = air.floor_water_g;
        self.ground_c[draw] = air.ground_c;
    }

    /// One hour on.
    #[inline(always)]
    pub(super) fn advance(&mut self, hour: &Hour, store: &Store<D>) {
        match (&store.room, &store.ground) {
            (None, None) => *self = Self::all(&Air::outdoors(hour)),
            (None, Some(grounds)) => {
                for draw in 0..D {
                    let mut air = self.at(draw);
                    air.advance_over_ground(hour, &grounds.at(draw));
                    self.set(draw, &air);
                }
            }
            (Some(rooms), grounds) => {
                for draw in 0..D {
                    let (mut air, ground) = (self.at(draw), grounds.as_ref().map(|grounds| grounds.at(draw)));
                    air.advance_in_room(hour, &rooms.at(draw), (ground.as_ref(), store.room_decay[draw]));
                    self.set(draw, &air);
                }
            }
        }
    }

    /// Adds water that a wet car brings into the room of each draw [g]; what the floor cannot hold runs off.
    #[inline(always)]
    pub(super) fn take_in(&mut self, brought_g: &[f64; D]) {
        for draw in 0..D {
            self.floor_water_g[draw] = (self.floor_water_g[draw] + brought_g[draw]).min(FLOOR_HOLDS_G);
        }
    }
}
