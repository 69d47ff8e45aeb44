//! Lengths as people write them, and what every one of them keeps.

use proptest::prelude::*;

use super::*;

#[test]
fn the_contract_s_spellings_are_read() {
    let quarter = |count: i64| Length::inch_128ths(count * 32);
    for (text, expected) in [
        ("25", Length::inches(25)),
        ("7.25", quarter(29)),
        ("7 1/4", quarter(29)),
        ("7-1/4", quarter(29)),
        ("3/4", quarter(3)),
        ("8'", Length::inches(96)),
        ("8' 6\"", Length::inches(102)),
        ("8' 6 1/2\"", Length::inches(102) + quarter(2)),
        ("8'6", Length::inches(102)),
        ("184mm", Length::micrometres(184_000)),
        ("18.4cm", Length::micrometres(184_000)),
        ("1.2m", Length::micrometres(1_200_000)),
    ] {
        assert_eq!(Length::parse(text, Unit::Inch), Ok(expected), "{text}");
    }
    assert_eq!(Length::parse("184", Unit::Millimetre), Ok(Length::micrometres(184_000)));
}

#[test]
fn nonsense_is_refused_with_its_reason() {
    for (text, error) in [
        ("", LengthError::Empty),
        ("abc", LengthError::Malformed),
        ("NaN", LengthError::Malformed),
        ("inf", LengthError::Malformed),
        ("1e9", LengthError::Malformed),
        ("1/0", LengthError::ZeroDenominator),
        ("-3", LengthError::Negative),
        ("7 1/4 1/4", LengthError::Malformed),
        ("1.2.3", LengthError::Malformed),
        (".", LengthError::Malformed),
        ("99999999999999999999", LengthError::TooLong),
        // Found by fuzzing: it read, and what was printed of it did not.
        ("74787483'4787488748.", LengthError::TooLong),
        ("833333' 5", LengthError::TooLong),
    ] {
        assert_eq!(Length::parse(text, Unit::Inch), Err(error), "{text}");
    }
}

proptest! {
    #[test]
    fn every_128th_survives_a_round_trip(ticks in 0i64..2_000_000) {
        let length = Length::inch_128ths(ticks);
        for printed in [length.display(Unit::Inch), length.display_feet(Unit::Inch)] {
            prop_assert_eq!(Length::parse(&printed.to_string(), Unit::Inch), Ok(length));
        }
        let json = length.to_f64(Unit::Inch);
        prop_assert_eq!(Length::from_f64(json, Unit::Inch), Some(length));
    }

    #[test]
    fn every_micrometre_survives_a_round_trip(count in 0i64..300_000_000) {
        let length = Length::micrometres(count);
        for unit in [Unit::Inch, Unit::Millimetre] {
            let printed = length.display(unit).to_string();
            prop_assert_eq!(Length::parse(&printed, unit), Ok(length));
            prop_assert_eq!(Length::from_f64(length.to_f64(unit), unit), Some(length));
        }
    }

    #[test]
    fn no_text_makes_it_panic(text in ".{0,24}") {
        let _ = Length::parse(&text, Unit::Inch);
    }

    #[test]
    fn no_number_like_text_makes_it_panic(text in "[0-9 ./'\"-]{0,40}(mm|cm|m|in)?") {
        let _ = Length::parse(&text, Unit::Millimetre);
    }
}
