//! How much of a document do two pages hold, and at which sizes of letters and pictures?

use super::content::LetterDocument;
use super::layout::{LetterScale, fits};
use crate::error::{Error, Result};

/// Sizes that are tried, as a share of the usual ones: of letters, the least giving text of 8 points, and of pictures [-].
const LETTER_SCALES: [f32; 4] = [1.0, 0.96, 0.92, 0.88];
const PICTURE_SCALES: [f32; 6] = [1.0, 0.94, 0.88, 0.8, 0.72, 0.62];

/// A document and the scale at which two pages hold it.
#[derive(Debug, Clone)]
pub struct FittedLetter {
    /// The document.
    pub document: LetterDocument,
    /// What stands among the metadata of the PDF.
    pub keywords: Option<String>,
    pub(super) scale: LetterScale,
}

/// The first of several versions that two pages hold, each tried at all sizes, the fullest version first.
///
/// # Errors
/// Those of `versions`; [`Error::Invalid`] where not even the last one fits.
pub fn fitted(versions: impl IntoIterator<Item = Result<LetterDocument>>) -> Result<FittedLetter> {
    for version in versions {
        let document = version?;
        for letters in LETTER_SCALES {
            for pictures in PICTURE_SCALES {
                let scale = LetterScale { letters, pictures };
                if fits(&document, scale)? {
                    return Ok(FittedLetter { document, keywords: None, scale });
                }
            }
        }
    }
    Err(Error::invalid("letter", "more than two pages", "text that fits two pages of A4"))
}
