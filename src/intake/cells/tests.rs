//! Cells as people write them, and what each must mean.

use super::*;
use crate::measure::{Length, Money, Unit};
use crate::trade::Quarter;

const COMMAS: Manner = Manner { comma_is_decimal: false };
const SEMICOLONS: Manner = Manner { comma_is_decimal: true };

/// Lengths as people write them, each with the same in plain text.
#[test]
fn lengths_are_read_as_they_are_meant() {
    for (text, plain) in [
        ("\u{bd}", "1/2"),
        ("7\u{bd}", "7 1/2"),
        ("7 \u{bd}", "7 1/2"),
        ("7\u{a0}\u{bd}\u{2033}", "7 1/2"),
        ("1 \u{bd}\u{201d}", "1 1/2"),
        ("\u{be}\"", "3/4"),
        ("13\u{2044}16", "13/16"),
        ("2\u{215d}", "2 5/8"),
        ("7\u{2013}1/4", "7 1/4"),
        ("7-1/4", "7 1/4"),
        ("7 - 1/4", "7 1/4"),
        ("16 3/4 in.", "16 3/4"),
        ("16 3/4 inches", "16 3/4"),
        ("16.75 inch", "16 3/4"),
        ("1 1/2''", "1 1/2"),
        ("8 ft", "96"),
        ("8 feet", "96"),
        ("8 foot", "96"),
        ("8ft.", "96"),
        ("8\u{2019}", "96"),
        ("8\u{2032} 6\u{2033}", "102"),
        ("8\u{2019} 6 1/2\u{201d}", "102 1/2"),
        ("8 ft 6 in", "102"),
        ("8 feet 6 inches", "102"),
        ("8ft, 6in", "102"),
        ("8'-6\"", "102"),
        ("184 mm.", "184mm"),
        ("184 millimetres", "184mm"),
        ("18,4 cm", "18.4cm"),
        ("1,2 metres", "1.2m"),
        ("2.4 meters", "2.4m"),
        ("11,25", "11.25"),
        ("11,5", "11 1/2"),
        ("  42  ", "42"),
        ("42\u{200b}", "42"),
    ] {
        let read = length(text, COMMAS)
            .and_then(|plain| Length::parse(&plain, Unit::Inch).map_err(|error| format!("{plain}: {error}")));
        assert_eq!(read, Ok(Length::parse(plain, Unit::Inch).unwrap()), "{text}");
    }
    assert_eq!(length("1168,5", SEMICOLONS), Ok("1168.5".to_string()));
    assert_eq!(length("1,168", SEMICOLONS), Ok("1.168".to_string()));
    for (text, hint) in [
        ("4-Mar", "did you mean 3/4?"),
        ("Mar-4", "did you mean 3/4?"),
        ("16-Nov", "did you mean 11/16?"),
        ("5-Aug", "did you mean 8/5?"),
        ("2026-03-04", "did you mean 3/4?"),
        ("2026-03-04 00:00:00", "did you mean 3/4?"),
        ("1,168", "1.168 or 1168?"),
    ] {
        assert!(length(text, COMMAS).unwrap_err().contains(hint), "{text}");
    }
    for text in ["wide", "-5", "\u{2212}5", "7 1/0", "5 x 9", "12,34,5", ""] {
        let plain = length(text, COMMAS).unwrap();
        assert!(Length::parse(&plain, Unit::Inch).is_err(), "{text} is not {plain}");
    }
}

#[test]
fn ranges_are_read_as_they_are_meant() {
    for (text, low, high) in [
        ("5..9", "5", "9"),
        ("5-9", "5", "9"),
        ("5 - 9", "5", "9"),
        ("5\u{2013}9", "5", "9"),
        ("5\u{2014}9\u{2033}", "5", "9"),
        ("5 to 9", "5", "9"),
        ("5 TO 9 in", "5", "9"),
        ("5\u{2026}9", "5", "9"),
        ("4 1/2-9", "4 1/2", "9"),
        ("4\u{bd}\u{2013}9\u{bd}", "4 1/2", "9 1/2"),
        ("5-9 1/2", "5", "9 1/2"),
        ("6'..10'", "72", "120"),
        ("6'-10'", "72", "120"),
        ("6\u{2019} to 10\u{2019}", "72", "120"),
        ("6-10 ft", "72", "120"),
        ("6..10'", "72", "120"),
        ("6 to 10 feet", "72", "120"),
        ("125-230mm", "125mm", "230mm"),
        ("2,1 to 3,3 m", "2.1m", "3.3m"),
    ] {
        let ends: Vec<Length> = range(text, COMMAS)
            .unwrap()
            .iter()
            .map(|end| {
                Length::parse(end, Unit::Inch).unwrap_or_else(|error| panic!("{text}: {end}: {error}"))
            })
            .collect();
        let meant = [low, high].map(|end| Length::parse(end, Unit::Inch).unwrap());
        assert_eq!(ends, meant, "{text}");
    }
    for (text, one) in [("7-1/4", "7 1/4"), ("8'-6\"", "102"), ("7 1/4\u{2033}", "7 1/4"), ("8'", "96")] {
        let ends = range(text, COMMAS).unwrap();
        assert_eq!(ends.len(), 1, "{text}");
        assert_eq!(Length::parse(&ends[0], Unit::Inch), Length::parse(one, Unit::Inch), "{text}");
    }
    assert!(range("9-May", COMMAS).unwrap_err().contains("5/9"));
}

#[test]
fn amounts_are_read_as_they_are_meant() {
    for (text, plain) in [
        ("$8.50", "8.50"),
        ("8.50 $", "8.50"),
        ("US$ 8.50", "8.50"),
        ("USD 8.50", "8.50"),
        ("8.50 USD", "8.50"),
        ("\u{20ac}2055", "2055"),
        ("2055 \u{20ac}", "2055"),
        ("\u{a3}4", "4"),
        ("1,250.00", "1250"),
        ("$1,250.50", "1250.50"),
        ("1.250,50", "1250.50"),
        ("1 250,50", "1250.50"),
        ("1,250,000", "1250000"),
        ("8,50", "8.50"),
        ("8,5", "8.5"),
        ("7.5 %", "7.5"),
        ("7%", "7"),
    ] {
        let read = amount(text, COMMAS).unwrap();
        assert_eq!(Money::parse(&read), Money::parse(plain), "{text} is not {read}");
    }
    assert_eq!(amount("1,250", SEMICOLONS), Ok("1.250".to_string()));
    assert!(amount("1,250", COMMAS).unwrap_err().contains("1250 or 1.250?"));
    for text in ["-8.50", "free", "8.50/bf", "1,2,3", "1,25.000,0", ""] {
        assert!(Money::parse(&amount(text, COMMAS).unwrap()).is_err(), "{text}");
    }
}

#[test]
fn counts_are_read_as_they_are_meant() {
    for (text, plain) in [
        ("4.0", "4"),
        ("4.00", "4"),
        ("4,0", "4"),
        ("1,000", "1000"),
        ("1 000", "1000"),
        ("12 pcs", "12"),
        ("12 pcs.", "12"),
        ("4 ea", "4"),
        ("4 each", "4"),
        ("20 boards", "20"),
        ("2x", "2"),
    ] {
        assert_eq!(whole(text, COMMAS).as_deref(), Ok(plain), "{text}");
    }
    for text in ["4.5", "four", "4,5", "-4", ""] {
        let plain = whole(text, COMMAS).unwrap();
        assert!(plain.parse::<u64>().is_err(), "{text} is not {plain}");
    }
}

#[test]
fn classes_and_grades_are_read_by_their_usual_names() {
    for (text, plain) in
        [("6 / 4", "6/4"), ("6/4\"", "6/4"), ("6\u{2044}4", "6/4"), (" 8/4 in", "8/4"), ("27 mm", "27mm")]
    {
        assert_eq!(class(text, false).unwrap(), plain, "{text}");
        assert!(Quarter::parse(plain).is_some());
    }
    assert_eq!(class("27", true).as_deref(), Ok("27mm"));
    assert_eq!(Quarter::parse(&class("27", false).unwrap()), None);
    assert!(class("4-May", false).unwrap_err().contains("did you mean 5/4?"));
    for (text, meant) in [
        ("#1C", Grade::C1),
        ("# 1 Common", Grade::C1),
        ("No. 1 Common", Grade::C1),
        ("No 1 Com", Grade::C1),
        ("Number 1 Common", Grade::C1),
        ("1 COM", Grade::C1),
        ("1 common", Grade::C1),
        ("#2A", Grade::C2a),
        ("2A Common", Grade::C2a),
        ("No. 2A Common", Grade::C2a),
        ("2 Com.", Grade::C2a),
        ("3A Common", Grade::C3a),
        ("Select", Grade::Sel),
        ("Selects", Grade::Sel),
        ("FAS 1 Face", Grade::F1f),
        ("FAS one face", Grade::F1f),
        ("FAS-1F", Grade::F1f),
        ("Firsts & Seconds", Grade::Fas),
        ("fas", Grade::Fas),
    ] {
        assert_eq!(grade(text), Some(meant), "{text}");
    }
    for text in ["prime", "2B", "3B", "AB", "FAS/1C", ""] {
        assert_eq!(grade(text), None, "{text}");
    }
    for (text, meant) in [
        ("bd ft", "bf"),
        ("Bd. Ft.", "bf"),
        ("board foot", "bf"),
        ("BFT", "bf"),
        ("per bf", "bf"),
        ("each", "piece"),
        ("pc.", "piece"),
        ("lin. ft", "ft"),
        ("LF", "ft"),
        ("m\u{b3}", "m3"),
        ("cubic metre", "m3"),
    ] {
        assert_eq!(per(text), Some(meant), "{text}");
    }
    assert_eq!(per("lb"), None);
    for (text, meant) in [("Y", "yes"), ("TRUE", "yes"), ("x", "yes"), ("n", "no"), ("False", "no")] {
        assert_eq!(yes_no(text), Some(meant), "{text}");
    }
}

#[test]
fn days_are_read_where_they_cannot_be_confused() {
    for (text, meant) in [
        ("2027-03-31", "2027-03-31"),
        ("2027-03-31 00:00:00", "2027-03-31"),
        ("2027/03/31", "2027-03-31"),
        ("3/31/2027", "2027-03-31"),
        ("3/31/27", "2027-03-31"),
        ("31/3/2027", "2027-03-31"),
        ("31.3.2027", "2027-03-31"),
        ("4.3.2027", "2027-03-04"),
        ("04.03.27", "2027-03-04"),
        ("4/4/2027", "2027-04-04"),
        ("March 31, 2027", "2027-03-31"),
        ("Mar 4, 2027", "2027-03-04"),
        ("31 March 2027", "2027-03-31"),
        ("4-Mar-2027", "2027-03-04"),
        ("March 3rd, 2027", "2027-03-03"),
        ("1st Sept 2027", "2027-09-01"),
    ] {
        assert_eq!(date(text).map(|date| date.to_string()).as_deref(), Ok(meant), "{text}");
    }
    assert!(date("3/4/2027").unwrap_err().contains("2027-03-04 or 2027-04-03?"));
    for text in ["2027-02-30", "31/31/2027", "soon", "March", "13/13/27", "30.2.2027", "3/4"] {
        assert!(date(text).is_err(), "{text}");
    }
}

#[test]
fn a_name_with_a_slip_is_found() {
    let known = ["Hall Table", "Side Table", "Leg"];
    assert_eq!(nearest("Hall Tabel", known.into_iter()), Some("Hall Table"));
    assert_eq!(nearest("Lge", known.into_iter()), Some("Leg"));
    assert_eq!(nearest("Bookcase", known.into_iter()), None);
    assert_eq!(key("  hall\u{a0} TABLE "), "hall table");
}
