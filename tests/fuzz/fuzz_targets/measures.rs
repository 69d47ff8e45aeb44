//! Lengths, money, classes and grades: no text panics, and what is printed reads back as it was.
#![no_main]

use libfuzzer_sys::fuzz_target;
use ripwright::measure::{Length, Money, Unit};
use ripwright::trade::{Grade, Quarter};

fuzz_target!(|text: &str| {
    for unit in [Unit::Inch, Unit::Millimetre] {
        if let Ok(length) = Length::parse(text, unit) {
            assert_eq!(Length::parse(&length.display(unit).to_string(), unit).as_ref(), Ok(&length));
            assert_eq!(Length::parse(&length.display_feet(unit).to_string(), unit).as_ref(), Ok(&length));
        }
    }
    if let Ok(money) = Money::parse(text) {
        assert_eq!(Money::parse(&money.price()).ok(), Some(money));
    }
    let _ = (Quarter::parse(text), Grade::parse(text));
});
