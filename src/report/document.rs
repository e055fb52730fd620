//! A letter as a document, before anything is written: sections, paragraphs, tables, pictures on two pages.
//!
//! [`html`] and [`pdf`] write the same document; [`fitted`] finds how much of it two pages hold.

pub mod html;
pub mod pdf;

mod content;
mod fit;
mod layout;
mod measure;

pub use content::{
    LetterBlock, LetterColumn, LetterDocument, LetterPicture, LetterRow, LetterSection, LetterTable,
};
pub use fit::{FittedLetter, fitted};
