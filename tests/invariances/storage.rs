//! Storage periods, salt, use.

use crate::same::{demo, shift_a};

#[test]
fn property_a_car_compared_with_itself_shifts_nothing() {
    let car = demo("street_daily.toml");
    assert_eq!(shift_a(&car, &car).map(f64::to_bits), [0.0_f64.to_bits(); 3]);
}
