//! Words and pictures: what a forecast looks like to people. Computes no physics and rounds only at the last step.

pub mod band;
pub mod climate_plot;
pub mod compare;
pub mod compare_plot;
pub mod compare_words;
pub mod cost_plot;
pub mod decision_text;
pub mod document;
pub mod dots;
pub mod evidence;
pub mod explain_json;
pub mod explain_words;
pub mod exposure_plot;
pub mod exposure_year;
pub mod fan;
pub mod files;
pub mod font;
pub mod grades;
pub mod json;
pub mod letter;
pub mod palette;
pub mod picture;
pub mod shares;
pub mod shift_plot;
pub mod state_on_date;
pub mod table;
pub mod text;
pub mod update_plot;
pub mod waterfall;
pub mod worklist;

mod day;
mod marks;
pub(crate) mod number_words;
mod panel;
