//! Small workbooks made for a test: the least that a reader of .xlsx or .ods takes, zipped.

use flate2::Compression;
use flate2::Crc;
use flate2::write::DeflateEncoder;
use std::io::Write as _;

/// What stands in a cell of a sheet.
pub(crate) enum Value {
    Nothing,
    Text(String),
    Number(f64),
    /// A date as spreadsheets count it: days since 1899-12-30.
    Day(f64),
}

/// A workbook of one sheet.
pub(crate) fn xlsx(rows: &[Vec<Value>]) -> Vec<u8> {
    let cell = |(column, value): (char, &Value), row: usize| match value {
        Value::Nothing => String::new(),
        Value::Text(text) => format!("<c r=\"{column}{row}\" t=\"inlineStr\"><is><t>{text}</t></is></c>"),
        Value::Number(number) => format!("<c r=\"{column}{row}\"><v>{number}</v></c>"),
        Value::Day(day) => format!("<c r=\"{column}{row}\" s=\"1\"><v>{day}</v></c>"),
    };
    let row = |(row, values): (usize, &Vec<Value>)| {
        let cells: String = ('A'..='Z').zip(values).map(|one| cell(one, row)).collect();
        format!("<row r=\"{row}\">{cells}</row>")
    };
    let cells: String = (1..).zip(rows).map(row).collect();
    xlsx_of(&cells)
}

/// A workbook whose sheet holds these rows of XML.
pub(crate) fn xlsx_of(rows: &str) -> Vec<u8> {
    const MAIN: &str = "http://schemas.openxmlformats.org/spreadsheetml/2006/main";
    const OFFICE: &str = "http://schemas.openxmlformats.org/officeDocument/2006/relationships";
    const PACKAGE: &str = "http://schemas.openxmlformats.org/package/2006";
    let part = |name: &str, text: String| (name.to_owned(), text.into_bytes());
    let parts = [
        part("[Content_Types].xml", format!("<Types xmlns=\"{PACKAGE}/content-types\"/>")),
        part(
            "_rels/.rels",
            format!(
                "<Relationships xmlns=\"{PACKAGE}/relationships\"><Relationship Id=\"r1\" Type=\"{OFFICE}/officeDocument\" Target=\"xl/workbook.xml\"/></Relationships>"
            ),
        ),
        part(
            "xl/workbook.xml",
            format!(
                "<workbook xmlns=\"{MAIN}\" xmlns:r=\"{OFFICE}\"><sheets><sheet name=\"Cars\" sheetId=\"1\" r:id=\"r1\"/></sheets></workbook>"
            ),
        ),
        part(
            "xl/_rels/workbook.xml.rels",
            format!(
                "<Relationships xmlns=\"{PACKAGE}/relationships\"><Relationship Id=\"r1\" Type=\"{OFFICE}/worksheet\" Target=\"worksheets/sheet1.xml\"/><Relationship Id=\"r2\" Type=\"{OFFICE}/styles\" Target=\"styles.xml\"/></Relationships>"
            ),
        ),
        // format 14 is a date
        part(
            "xl/styles.xml",
            format!(
                "<styleSheet xmlns=\"{MAIN}\"><cellXfs><xf numFmtId=\"0\"/><xf numFmtId=\"14\"/></cellXfs></styleSheet>"
            ),
        ),
        part(
            "xl/worksheets/sheet1.xml",
            format!("<worksheet xmlns=\"{MAIN}\"><sheetData>{rows}</sheetData></worksheet>"),
        ),
    ];
    zipped(&parts.each_ref().map(|(name, content)| (name.as_str(), content.clone())))
}

/// A spreadsheet of texts; what looks like a date is one.
pub(crate) fn ods(rows: &[&[&str]]) -> Vec<u8> {
    let cell = |text: &&str| {
        let text = text.replace('&', "&amp;");
        let (kind, shown) = if text.len() == 10 && text.as_bytes()[4] == b'-' {
            (format!("date\" office:date-value=\"{text}"), "a day".to_owned())
        } else {
            ("string".to_owned(), text)
        };
        format!("<table:table-cell office:value-type=\"{kind}\"><text:p>{shown}</text:p></table:table-cell>")
    };
    let row = |row: &&[&str]| {
        format!("<table:table-row>{}</table:table-row>", row.iter().map(cell).collect::<String>())
    };
    let empty = "<table:table-row table:number-rows-repeated=\"1048000\"><table:table-cell table:number-columns-repeated=\"1024\"/></table:table-row>";
    ods_of(&(rows.iter().map(row).collect::<String>() + empty))
}

/// A spreadsheet whose sheet holds these rows of XML.
pub(crate) fn ods_of(rows: &str) -> Vec<u8> {
    let content = format!(
        "<?xml version=\"1.0\"?><office:document-content><office:body><office:spreadsheet><table:table table:name=\"Cars\">{rows}</table:table></office:spreadsheet></office:body></office:document-content>"
    );
    let kind = b"application/vnd.oasis.opendocument.spreadsheet".to_vec();
    zipped(&[("mimetype", kind), ("content.xml", content.into_bytes())])
}

/// An archive of some files.
pub(crate) fn zipped(files: &[(&str, Vec<u8>)]) -> Vec<u8> {
    let (mut archive, mut directory) = (Vec::new(), Vec::new());
    for (name, content) in files {
        let mut encoder = DeflateEncoder::new(Vec::new(), Compression::fast());
        encoder.write_all(content).unwrap();
        let packed = encoder.finish().unwrap();
        let mut crc = Crc::new();
        crc.update(content);
        let header = archive.len() as u32;
        let mut sizes = vec![20, 0, 0, 0, 8, 0, 0, 0, 0, 0];
        for number in [crc.sum(), packed.len() as u32, content.len() as u32] {
            sizes.extend(number.to_le_bytes());
        }
        sizes.extend((name.len() as u16).to_le_bytes());
        sizes.extend([0, 0]);
        archive.extend(b"PK\x03\x04");
        archive.extend(&sizes);
        archive.extend(name.as_bytes());
        archive.extend(&packed);
        directory.extend(b"PK\x01\x02\x14\x00");
        directory.extend(&sizes);
        directory.extend([0; 10]);
        directory.extend(header.to_le_bytes());
        directory.extend(name.as_bytes());
    }
    let start = archive.len() as u32;
    let count = (files.len() as u16).to_le_bytes();
    archive.extend(&directory);
    archive.extend(b"PK\x05\x06\0\0\0\0");
    archive.extend(count);
    archive.extend(count);
    archive.extend((directory.len() as u32).to_le_bytes());
    archive.extend(start.to_le_bytes());
    archive.extend([0, 0]);
    archive
}
