//! What is left of a tube 45 x 2 mm that has lost wall, evenly and at the bottom only?
//!
//!     cargo run --example worn_tube

#![allow(clippy::print_stdout, reason = "an example shows its result")]

use ferrowane::error::Result;
use ferrowane::section::{FaceLoss, Section, Tube, properties, remaining};

fn main() -> Result<()> {
    let section = Section::from(Tube::round(45.0, 2.0)?);
    let new = properties(&section, &[FaceLoss::default(); 8])?;
    println!("new: area {:.0} mm², elastic modulus {:.0} mm³", new.area_mm2, new.w_el_mm3);
    for outside_mm in [0.1, 0.2, 0.5, 1.0] {
        let loss = FaceLoss { outside_mm, inside_mm: 0.0 };
        let even = remaining(&section, &[loss; 8])?;
        let mut losses = [FaceLoss::default(); 8];
        losses[0] = loss; // the first of eight sectors is the bottom
        let bottom = remaining(&section, &losses)?;
        let (even, bottom) = (100.0 * even.bending, 100.0 * bottom.bending);
        println!(
            "{outside_mm:.1} mm lost: bending left {even:5.1} % all round, {bottom:5.1} % at the bottom only"
        );
    }
    Ok(())
}
