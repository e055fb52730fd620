//! Names of the options of a decision, for people.

use crate::decision::options::OptionName;
use crate::report::choice_words::arrangement_name;

/// Name of an option for people.
#[must_use]
pub fn option_title(name: OptionName) -> String {
    let title = match name {
        OptionName::ReworkWhenDue => "grade yearly, rework when due",
        OptionName::ReworkNow => "rework now",
        OptionName::OverRustCoatNow => "over-rust coat now, unprepared",
        OptionName::OverRustCoatEvery2A => "over-rust coat every 2 years",
        OptionName::WaxYearly => "wax film renewed yearly",
        OptionName::WashAfterSaltedDrives => "rinse after salted drives",
        OptionName::MoveTo(arrangement) => return format!("move: {}", arrangement_name(arrangement)),
    };
    title.to_owned()
}
