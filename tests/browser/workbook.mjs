// Small workbooks made for a test: the least that a reader of .xlsx or .ods takes, zipped without compression.
import { crc32 } from "node:zlib";

const MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main";
const OFFICE = "http://schemas.openxmlformats.org/officeDocument/2006/relationships";
const PACKAGE = "http://schemas.openxmlformats.org/package/2006";
const ODF = "urn:oasis:names:tc:opendocument:xmlns";

/** A workbook of one sheet: texts, numbers, and dates as days since 1899-12-30 in `{ day }`. */
export function xlsx(rows) {
  const cell = (value) => {
    if (typeof value === "number") return `<c><v>${value}</v></c>`;
    return value.day ? `<c s="1"><v>${value.day}</v></c>` : `<c t="inlineStr"><is><t>${value}</t></is></c>`;
  };
  const links = (...all) => `<Relationships xmlns="${PACKAGE}/relationships">${all.map(([type, target], index) => `<Relationship Id="r${index + 1}" Type="${OFFICE}/${type}" Target="${target}"/>`).join("")}</Relationships>`;
  return zipped([
    ["[Content_Types].xml", `<Types xmlns="${PACKAGE}/content-types"/>`],
    ["_rels/.rels", links(["officeDocument", "xl/workbook.xml"])],
    ["xl/workbook.xml", `<workbook xmlns="${MAIN}" xmlns:r="${OFFICE}"><sheets><sheet name="Cars" sheetId="1" r:id="r1"/></sheets></workbook>`],
    ["xl/_rels/workbook.xml.rels", links(["worksheet", "worksheets/sheet1.xml"], ["styles", "styles.xml"])],
    // format 14 is a date
    ["xl/styles.xml", `<styleSheet xmlns="${MAIN}"><cellXfs><xf numFmtId="0"/><xf numFmtId="14"/></cellXfs></styleSheet>`],
    ["xl/worksheets/sheet1.xml", `<worksheet xmlns="${MAIN}"><sheetData>${rows.map((row) => `<row>${row.map(cell).join("")}</row>`).join("")}</sheetData></worksheet>`],
  ]);
}

/** The same of texts and numbers for the other family of spreadsheets. */
export function ods(rows) {
  const cell = (value) => (typeof value === "number" ? `<table:table-cell office:value-type="float" office:value="${value}"/>` : `<table:table-cell office:value-type="string"><text:p>${value}</text:p></table:table-cell>`);
  const sheet = rows.map((row) => `<table:table-row>${row.map(cell).join("")}</table:table-row>`).join("");
  const spaces = ["office", "table", "text"].map((name) => `xmlns:${name}="${ODF}:${name}:1.0"`).join(" ");
  return zipped([
    ["mimetype", "application/vnd.oasis.opendocument.spreadsheet"],
    ["META-INF/manifest.xml", `<manifest:manifest xmlns:manifest="${ODF}:manifest:1.0"/>`],
    ["content.xml", `<office:document-content ${spaces}><office:body><office:spreadsheet><table:table table:name="Cars">${sheet}</table:table></office:spreadsheet></office:body></office:document-content>`],
  ]);
}

/** Files stored in an archive [PKWARE APPNOTE 6.3, 4.3]. */
function zipped(files) {
  const [bodies, entries] = [[], []];
  let offset = 0;
  for (const [name, text] of files) {
    const [path, content] = [Buffer.from(name), Buffer.from(text)];
    const common = Buffer.alloc(26);
    common.writeUInt16LE(20, 0);
    common.writeUInt32LE(crc32(content), 10);
    common.writeUInt32LE(content.length, 14);
    common.writeUInt32LE(content.length, 18);
    common.writeUInt16LE(path.length, 22);
    const place = Buffer.alloc(14);
    place.writeUInt32LE(offset, 10);
    bodies.push(Buffer.from("PK\x03\x04"), common, path, content);
    entries.push(Buffer.from("PK\x01\x02\x14\x00"), common, place, path);
    offset += 30 + path.length + content.length;
  }
  const list = Buffer.concat(entries);
  const end = Buffer.alloc(18);
  end.writeUInt16LE(files.length, 4);
  end.writeUInt16LE(files.length, 6);
  end.writeUInt32LE(list.length, 8);
  end.writeUInt32LE(offset, 12);
  return Buffer.concat([...bodies, list, Buffer.from("PK\x05\x06"), end]);
}
