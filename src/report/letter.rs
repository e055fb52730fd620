//! What does the workshop write to the owner of a car? Two pages: how it stands, what moves the date, what comes next.
//!
//! Only what the record, the forecast and the comparison say; the sender's lines come from the workshop alone.
//! [`compose()`] computes what a letter needs, [`letter()`] writes it.

mod advice;
mod choice_page;
mod choices;
mod compose;
mod content;
mod money;
mod pages;
mod state;
mod years;

pub use choice_page::{ChoicePage, interactive_html};
pub use compose::{ComposedLetter, LetterRequest, compose, compose_with_choices, letter_day};
pub use content::Letter;
pub use pages::letter;
