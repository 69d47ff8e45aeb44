//! Cells as people and spreadsheets write them, turned into what the readers of single values take.
//!
//! What lives here: text to plainer text, or the reason why it is not clear what is meant. What never does: a value,
//! a fault, or a guess between two readings that both make sense. The readers try a cell as it stands first, and tell
//! once what they read differently from what was written.

use jiff::civil::Date;

use crate::trade::Grade;

/// How a file writes numbers: where semicolons part its cells, a comma is the decimal mark.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Manner {
    /// Is a comma always the decimal mark?
    pub comma_is_decimal: bool,
}

/// Fractions that have a letter of their own (Unicode, Number Forms and Latin-1 Supplement).
const FRACTIONS: [(char, &str); 15] = [
    ('\u{bd}', "1/2"),
    ('\u{bc}', "1/4"),
    ('\u{be}', "3/4"),
    ('\u{2153}', "1/3"),
    ('\u{2154}', "2/3"),
    ('\u{2155}', "1/5"),
    ('\u{2156}', "2/5"),
    ('\u{2157}', "3/5"),
    ('\u{2158}', "4/5"),
    ('\u{2159}', "1/6"),
    ('\u{215a}', "5/6"),
    ('\u{215b}', "1/8"),
    ('\u{215c}', "3/8"),
    ('\u{215d}', "5/8"),
    ('\u{215e}', "7/8"),
];

/// A text with the marks of a typewriter: plain spaces, quotes, hyphens, slashes and fractions.
pub fn tidy(text: &str) -> String {
    let mut plain = String::with_capacity(text.len());
    for letter in text.chars() {
        match letter {
            '\u{201c}' | '\u{201d}' | '\u{201e}' | '\u{2033}' | '\u{ff02}' => plain.push('"'),
            '\u{2018}' | '\u{2019}' | '\u{2032}' | '\u{b4}' | '`' => plain.push('\''),
            '\u{2010}'..='\u{2015}' | '\u{2212}' => plain.push('-'),
            '\u{2044}' | '\u{2215}' => plain.push('/'),
            '\u{d7}' => plain.push('x'),
            '\u{2026}' => plain.push_str(".."),
            space if space.is_whitespace() || space == '\u{200b}' || space == '\u{feff}' => {
                if !plain.ends_with(' ') {
                    plain.push(' ');
                }
            }
            other => match FRACTIONS.iter().find(|(letter, _)| *letter == other) {
                Some((_, fraction)) => {
                    if plain.ends_with(|before: char| before.is_ascii_digit()) {
                        plain.push(' ');
                    }
                    plain.push_str(fraction);
                }
                None => plain.push(other),
            },
        }
    }
    plain.trim().replace("''", "\"")
}

const MONTHS: [&str; 12] = [
    "january",
    "february",
    "march",
    "april",
    "may",
    "june",
    "july",
    "august",
    "september",
    "october",
    "november",
    "december",
];

/// The number of a month by its name, or by three letters of it or more.
fn month(name: &str) -> Option<i8> {
    let name = name.trim_end_matches('.').to_lowercase();
    let place = MONTHS.iter().position(|month| name.len() >= 3 && month.starts_with(&name))?;
    Some(place as i8 + 1)
}

/// The fraction that a spreadsheet made a date of: `4-Mar`, `Mar-4` or a whole date.
fn fraction_made_a_date(text: &str) -> Option<String> {
    let text = tidy(text);
    if let Some(date) = text.get(..10).and_then(|text| text.parse::<Date>().ok()) {
        return Some(format!("{}/{}", date.month(), date.day()));
    }
    let (one, other) = text.split_once(['-', ' '])?;
    let (day, month) = month(other).map(|month| (one, month)).or_else(|| Some((other, month(one)?)))?;
    let day: i8 = day.parse().ok().filter(|day| (1..=64).contains(day))?;
    Some(format!("{month}/{day}"))
}

/// Refuses a date in a column of sizes or classes.
fn no_date(text: &str) -> Result<(), String> {
    match fraction_made_a_date(text) {
        Some(fraction) => Err(format!(
            "a spreadsheet made a date of it: did you mean {fraction}? format the column as text"
        )),
        None => Ok(()),
    }
}

/// Names of units, the longest first, and what the reader of lengths calls them.
const UNITS: [(&str, &str); 18] = [
    ("millimetres", "mm"),
    ("millimeters", "mm"),
    ("millimetre", "mm"),
    ("millimeter", "mm"),
    ("centimetres", "cm"),
    ("centimeters", "cm"),
    ("metres", "m"),
    ("meters", "m"),
    ("inches", "in"),
    ("inch", "in"),
    ("feet", "ft"),
    ("foot", "ft"),
    ("ins.", "in"),
    ("in.", "in"),
    ("ft.", "ft"),
    ("mm.", "mm"),
    ("cm.", "cm"),
    ("ins", "in"),
];

/// A length.
///
/// # Errors
/// What it may mean, where that is not clear.
pub fn length(text: &str, manner: Manner) -> Result<String, String> {
    no_date(text)?;
    let mut text = tidy(text).to_lowercase();
    for (name, unit) in UNITS {
        text = text.replace(name, unit);
    }
    // Feet and inches in words are feet and inches in marks.
    if let Some((feet, inches)) = text.split_once("ft")
        && !inches.trim().is_empty()
    {
        let inches = inches.trim().trim_start_matches([',', '-']);
        let inches = inches.trim().trim_end_matches("in").trim_end_matches('"').trim();
        text = format!("{}' {inches}\"", feet.trim());
    }
    decimal_point(&text, manner)
}

/// A comma between digits as a point, where only the decimal mark can be meant.
fn decimal_point(text: &str, manner: Manner) -> Result<String, String> {
    let Some((before, after)) = text.split_once(',') else { return Ok(text.to_string()) };
    let digits = after.chars().take_while(char::is_ascii_digit).count();
    let is_number = before.ends_with(|letter: char| letter.is_ascii_digit()) && digits > 0;
    if !is_number || after.contains(',') {
        return Ok(text.to_string());
    }
    if digits == 3 && !manner.comma_is_decimal {
        return Err(format!("{before}.{after} or {before}{after}? write it without the comma"));
    }
    if after.contains('.') {
        return Ok(text.to_string());
    }
    Ok(format!("{before}.{after}"))
}

/// The ends of a range of lengths, one where it is a single length: `5..9`, `5-9`, `4 to 8`, `6-8 ft`.
///
/// # Errors
/// What it may mean, where that is not clear.
pub fn range(text: &str, manner: Manner) -> Result<Vec<String>, String> {
    no_date(text)?;
    let text = tidy(text).to_lowercase();
    let ends: Vec<&str> = if text.contains("..") {
        text.split("..").collect()
    } else if let Some((low, high)) = text.split_once(" to ") {
        vec![low, high]
    } else {
        hyphened(&text).map_or_else(|| vec![text.as_str()], |(low, high)| vec![low, high])
    };
    let mut ends: Vec<String> = ends.iter().map(|end| length(end, manner)).collect::<Result<_, _>>()?;
    // A unit behind the upper end is meant for both.
    if let [low, high] = &mut ends[..]
        && let Some(unit) = unit_for_both(low, high)
    {
        low.push_str(unit);
    }
    Ok(ends)
}

/// Does a range have a unit behind its upper end only?
pub fn lacks_a_unit(text: &str) -> bool {
    let text = tidy(text).to_lowercase();
    text.split_once("..").is_some_and(|(low, high)| unit_for_both(low.trim(), high.trim()).is_some())
}

/// The unit of the upper end of a range, where it has one and the lower end has none.
fn unit_for_both<'h>(low: &str, high: &'h str) -> Option<&'h str> {
    let is_of_number = |letter: char| letter.is_ascii_digit() || " ./-".contains(letter);
    let unit = high.trim_start_matches(is_of_number);
    let is_unit = ["mm", "cm", "m", "in", "ft", "\"", "'"].contains(&unit);
    (is_unit && low.chars().all(is_of_number)).then_some(unit)
}

/// The ends of a range with a hyphen; none where the hyphen parts a whole number from its fraction, or feet from
/// inches.
fn hyphened(text: &str) -> Option<(&str, &str)> {
    let (low, high) = text.split_once('-')?;
    let (low, high) = (low.trim(), high.trim());
    if low.is_empty() || high.is_empty() {
        return None;
    }
    let is_fraction = |text: &str| {
        let text = text.trim_end_matches(['"', '\'']).trim_end_matches("in").trim();
        let (above, below) = text.split_once('/').unwrap_or(("", ""));
        let whole = |digits: &str| !digits.is_empty() && digits.bytes().all(|byte| byte.is_ascii_digit());
        whole(above.trim()) && whole(below.trim())
    };
    if is_fraction(high) && !low.contains('/') {
        return None;
    }
    let feet_and_inches = low.ends_with('\'') && !high.contains('\'');
    (!feet_and_inches).then_some((low, high))
}

/// Signs and codes of currencies that may stand beside an amount.
const CURRENCIES: [&str; 12] =
    ["$", "\u{20ac}", "\u{a3}", "usd", "us$", "eur", "gbp", "cad", "aud", "chf", "c$", "a$"];

/// An amount of money or a plain decimal number.
///
/// # Errors
/// What it may mean, where that is not clear.
pub fn amount(text: &str, manner: Manner) -> Result<String, String> {
    let mut text = tidy(text).to_lowercase();
    for currency in CURRENCIES {
        text = text.trim_start_matches(currency).trim_end_matches(currency).trim().to_string();
    }
    let mut text = text.trim_end_matches('%').trim().to_string();
    // A space parts thousands, or two amounts.
    let digits = |group: &str| group.chars().take_while(char::is_ascii_digit).count();
    if text.split(' ').skip(1).all(|group| digits(group) == 3) {
        text = text.replace(' ', "");
    }
    match (text.rfind(','), text.rfind('.')) {
        (None, _) => Ok(text),
        // With both marks the last one is the decimal mark, and the others part thousands.
        (Some(comma), Some(point)) => {
            let (decimal, thousands) = if comma > point { (',', '.') } else { ('.', ',') };
            let plain = text.replace(thousands, "").replace(decimal, ".");
            let whole = text.split(decimal).next().unwrap_or_default();
            let groups: Vec<&str> = whole.split(thousands).skip(1).collect();
            if groups.iter().all(|group| group.len() == 3) { Ok(plain) } else { Ok(text) }
        }
        (Some(_), None) if manner.comma_is_decimal => Ok(text.replacen(',', ".", 1)),
        (Some(_), None) => {
            let groups: Vec<&str> = text.split(',').collect();
            match &groups[..] {
                [whole, rest] if rest.len() == 3 => {
                    Err(format!("{whole}{rest} or {whole}.{rest}? write it without the comma"))
                }
                [_, rest @ ..] if rest.iter().all(|group| group.len() == 3) => Ok(text.replace(',', "")),
                [_, _] => Ok(text.replace(',', ".")),
                _ => Ok(text),
            }
        }
    }
}

/// Words behind a count.
const COUNTED: [&str; 9] = ["pieces", "piece", "boards", "board", "pcs", "pc", "each", "ea", "x"];

/// A whole number: `4.0`, `1,000`, `4 pcs`.
///
/// # Errors
/// What it may mean, where that is not clear.
pub fn whole(text: &str, manner: Manner) -> Result<String, String> {
    let mut text = tidy(text).to_lowercase();
    for word in COUNTED {
        let plain = text.trim_end_matches('.');
        if let Some(number) = plain.strip_suffix(word) {
            text = number.trim().to_string();
            break;
        }
    }
    // Nobody counts in thousandths.
    let groups: Vec<&str> = text.split([',', ' ']).collect();
    if groups.len() > 1 && groups[1..].iter().all(|group| group.len() == 3) && !text.contains('.') {
        return Ok(groups.concat());
    }
    let text = decimal_point(&text, manner)?;
    Ok(match text.split_once('.') {
        Some((whole, zeros)) if !zeros.is_empty() && zeros.bytes().all(|byte| byte == b'0') => {
            whole.to_string()
        }
        _ => text,
    })
}

/// A thickness class: `6 / 4`, `6/4"`, and in a metric shop a bare number of millimetres.
///
/// # Errors
/// What it may mean, where that is not clear.
pub fn class(text: &str, is_metric: bool) -> Result<String, String> {
    no_date(text)?;
    let text = tidy(text).to_lowercase().replace(" /", "/").replace("/ ", "/");
    let text = text.trim_end_matches(['"', '\'']).trim_end_matches(" in").trim();
    let is_number = text.chars().all(|letter| letter.is_ascii_digit() || letter == '.') && !text.is_empty();
    if is_metric && is_number { Ok(format!("{text}mm")) } else { Ok(text.replace(" mm", "mm")) }
}

/// A hardwood grade by the names that price sheets use for it.
pub fn grade(text: &str) -> Option<Grade> {
    let mut text = tidy(text).to_uppercase();
    if text.starts_with('-') || text.contains(['[', '=']) {
        return None;
    }
    for (word, instead) in
        [("NUMBER", ""), ("NO.", ""), ("NO ", ""), ("#", ""), ("COMMON", "C"), ("COM", "C"), ("&", "AND")]
    {
        text = text.replace(word, instead);
    }
    text.retain(|letter| letter.is_alphanumeric());
    Some(match text.as_str() {
        "FAS" | "FIRSTSANDSECONDS" | "FIRSTANDSECONDS" => Grade::Fas,
        "F1F" | "FAS1F" | "FAS1FACE" | "FASONEFACE" => Grade::F1f,
        "SEL" | "SELECT" | "SELECTS" => Grade::Sel,
        "1" | "1C" => Grade::C1,
        "2" | "2C" | "2A" | "2AC" => Grade::C2a,
        "3A" | "3AC" => Grade::C3a,
        _ => return None,
    })
}

/// What a price is for, as `prices` calls it.
pub fn per(text: &str) -> Option<&'static str> {
    let mut text = tidy(text).to_lowercase().replace("\u{b3}", "3").replace("\u{b2}", "2");
    text.retain(|letter| letter.is_alphanumeric());
    let text = text.strip_prefix("per").unwrap_or(&text);
    Some(match text {
        "bf" | "bdft" | "boardft" | "boardfoot" | "boardfeet" | "fbm" | "bft" => "bf",
        "piece" | "pieces" | "pc" | "pcs" | "each" | "ea" | "board" | "stk" => "piece",
        "ft" | "foot" | "feet" | "lf" | "linft" | "linealfoot" | "linearfoot" | "runningfoot" | "rft" => "ft",
        "m3" | "cbm" | "cubicmetre" | "cubicmeter" => "m3",
        "sheet" | "sheets" | "panel" => "piece",
        "ft2" | "sf" | "sqft" | "sft" | "squarefoot" | "squarefeet" => "ft2",
        "m2" | "sqm" | "squaremetre" | "squaremeter" => "m2",
        _ => return None,
    })
}

/// Lumber or sheets, by the names that people use for them.
pub fn material(text: &str) -> Option<&'static str> {
    let text = tidy(text).to_lowercase();
    Some(match text.trim_end_matches('s') {
        "lumber" | "solid" | "solid wood" | "board" | "timber" => "lumber",
        "sheet" | "sheet good" | "panel" | "ply" | "plywood" | "mdf" => "sheet",
        _ => return None,
    })
}

/// A yes or a no.
pub fn yes_no(text: &str) -> Option<&'static str> {
    Some(match tidy(text).to_lowercase().as_str() {
        "yes" | "y" | "true" | "x" | "1" => "yes",
        "no" | "n" | "false" | "0" => "no",
        _ => return None,
    })
}

/// A day: `2027-03-31`, `31.3.2027`, `3/31/2027`, `March 31, 2027`.
///
/// # Errors
/// What it may mean, where that is not clear.
pub fn date(text: &str) -> Result<Date, String> {
    let no_day = || "it is no day of the calendar".to_string();
    let day_of = |year: i16, month: i8, day: i8| {
        let year = if (0..100).contains(&year) { 2000 + year } else { year };
        Date::new(year, month, day).map_err(|_| no_day())
    };
    let text = tidy(text);
    // A spreadsheet's export may hold the hour of midnight.
    let text = text.strip_suffix(" 00:00:00").or_else(|| text.strip_suffix("T00:00:00")).unwrap_or(&text);
    if let Ok(date) = text.parse::<Date>() {
        return Ok(date);
    }
    let words: Vec<&str> = text.split([' ', ',', '.', '/', '-']).filter(|word| !word.is_empty()).collect();
    let [one, two, three] = words[..] else { return Err(String::new()) };
    let number = |word: &str| word.trim_end_matches(['s', 't', 'n', 'd', 'r', 'h']).parse::<i16>().ok();
    let small = |word: &str| number(word).and_then(|number| i8::try_from(number).ok());
    if let (Some(month), Some(day), Some(year)) = (month(one), small(two), number(three)) {
        return day_of(year, month, day);
    }
    if let (Some(day), Some(month), Some(year)) = (small(one), month(two), number(three)) {
        return day_of(year, month, day);
    }
    let (Some(first), Some(second), Some(year)) = (small(one), small(two), number(three)) else {
        return match (number(one), small(two), small(three)) {
            (Some(year), Some(month), Some(day)) if year > 31 => day_of(year, month, day),
            _ => Err(String::new()),
        };
    };
    // Points part day, month and year; with slashes the month comes first in the United States and nowhere else.
    match (text.contains('.'), first > 12, second > 12) {
        (true, ..) | (_, true, false) => day_of(year, second, first),
        (false, false, true) => day_of(year, first, second),
        (false, false, false) if first == second => day_of(year, first, second),
        (false, true, true) => Err(no_day()),
        (false, false, false) => {
            let shown = |month: i8, day: i8| {
                day_of(year, month, day).map_or_else(|_| "?".to_string(), |date| date.to_string())
            };
            Err(format!("{} or {}? write it that way", shown(first, second), shown(second, first)))
        }
    }
}

/// A name as names are compared: without capitals, and with one space between words.
pub fn key(name: &str) -> String {
    tidy(name).to_lowercase()
}

/// The name that is most like one that is not known, if it is like enough to be meant.
pub fn nearest<'n>(name: &str, known: impl Iterator<Item = &'n str>) -> Option<&'n str> {
    let name = key(name);
    // Two letters wrong, or one in a short name.
    let most = if name.chars().count() > 5 { 2 } else { 1 };
    let distances = known.map(|other| (strsim::damerau_levenshtein(&name, &key(other)), other));
    let nearest = distances.filter(|(distance, _)| *distance <= most).min();
    nearest.map(|(_, other)| other)
}

#[cfg(test)]
mod tests;
