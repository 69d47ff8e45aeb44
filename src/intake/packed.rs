//! The parts that a workbook's file is packed from, of which one is changed and the others are copied as they lie there.

use std::io::{Cursor, Error, ErrorKind, Read, Write};

use quick_xml::Reader;
use quick_xml::events::{BytesStart, Event};
use zip::write::SimpleFileOptions;
use zip::{ZipArchive, ZipWriter};

/// The most that the text of one part of a workbook may hold.
const LARGEST_PART: u64 = 1 << 30;

/// A workbook that is not as it should be.
pub fn invalid(why: impl ToString) -> Error {
    Error::new(ErrorKind::InvalidData, why.to_string())
}

/// A workbook's file.
pub struct Parts<'w> {
    archive: ZipArchive<Cursor<&'w [u8]>>,
}

impl<'w> Parts<'w> {
    /// # Errors
    /// If it is no packed file.
    pub fn of(workbook: &'w [u8]) -> std::io::Result<Parts<'w>> {
        Ok(Parts { archive: ZipArchive::new(Cursor::new(workbook)).map_err(invalid)? })
    }

    /// The text of one part.
    ///
    /// # Errors
    /// If there is none, or it is no text.
    pub fn text(&mut self, part: &str) -> std::io::Result<String> {
        let mut text = String::new();
        self.archive.by_name(part).map_err(invalid)?.take(LARGEST_PART).read_to_string(&mut text)?;
        Ok(text)
    }

    /// The file with another text in one part.
    ///
    /// # Errors
    /// If it cannot be packed.
    pub fn with(mut self, part: &str, text: &str) -> std::io::Result<Vec<u8>> {
        let mut writer = ZipWriter::new(Cursor::new(Vec::new()));
        for place in 0..self.archive.len() {
            let file = self.archive.by_index_raw(place).map_err(invalid)?;
            if file.name().map_err(invalid)? == part {
                writer.start_file(part, SimpleFileOptions::default()).map_err(invalid)?;
                writer.write_all(text.as_bytes())?;
            } else {
                writer.raw_copy_file(file).map_err(invalid)?;
            }
        }
        Ok(writer.finish().map_err(invalid)?.into_inner())
    }
}

/// What an attribute of a tag says, by its name without a prefix.
pub fn attribute(tag: &BytesStart<'_>, name: &str) -> Option<String> {
    let found = tag.attributes().flatten().find(|one| one.key.local_name().as_ref() == name)?;
    Some(quick_xml::escape::unescape(&found.value).ok()?.into_owned())
}

/// The tags of a part that have a name.
///
/// # Errors
/// If it cannot be read.
pub fn tags(text: &str, name: &str) -> std::io::Result<Vec<BytesStart<'static>>> {
    let mut reader = Reader::from_str(text);
    let mut found = Vec::new();
    loop {
        match reader.read_event().map_err(invalid)? {
            Event::Start(tag) | Event::Empty(tag) if tag.local_name().as_ref() == name => {
                found.push(tag.into_owned());
            }
            Event::Eof => return Ok(found),
            _ => {}
        }
    }
}

/// Is a text a number that a cell holds as one, to the letter?
pub fn is_number(text: &str) -> bool {
    let digits = text.strip_prefix('-').unwrap_or(text);
    let (whole, part) = digits.split_once('.').unwrap_or((digits, "0"));
    let all = |text: &str| !text.is_empty() && text.bytes().all(|byte| byte.is_ascii_digit());
    all(whole) && all(part) && digits.len() <= 15 && (whole == "0" || !whole.starts_with('0'))
}

#[cfg(test)]
mod tests {
    use super::is_number;

    #[test]
    fn numbers_are_told_to_the_letter() {
        let numbers = ["0", "12", "-7.25", "0.5"];
        assert!(numbers.iter().all(|text| is_number(text)));
        let others = ["", "007", "1/2", "1e5", ".5", "5.", "4-Mar", "1 000", "1234567890123456"];
        assert!(others.iter().all(|text| !is_number(text)));
    }
}
