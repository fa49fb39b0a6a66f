// Writes the workbooks of this folder that JavaScript libraries make: exceljs 4.4.0 (MIT), xlsx 0.18.5 (Apache-2.0).
// npm install exceljs@4.4.0 xlsx@0.18.5 && node make_books.mjs
import ExcelJS from "exceljs";
import * as XLSX from "xlsx";
import fs from "node:fs";

const dies = [["D1", 101, 2, 310], ["D2", 102, 2, 310], ["D3", 103, 2, 310]];
const day = new Date(Date.UTC(2024, 0, 1));

const book = new ExcelJS.Workbook();
Object.assign(book, { created: day, modified: day, creator: "an invented shop" });
const sheet = book.addWorksheet("Dies", { views: [{ state: "frozen", ySplit: 1 }], properties: { tabColor: { argb: "FF112233" } } });
sheet.addTable({
  name: "tDies", ref: "A1", headerRow: true,
  columns: ["die", "L", "t", "tau"].map((name) => ({ name })), rows: dies,
});
sheet.getCell("E1").value = { richText: [{ text: "F " }, { font: { bold: true }, text: "kN" }] };
for (const row of [2, 3, 4]) {
  sheet.getCell(`E${row}`).value = { formula: `PF_SHEARING_FORCE(B${row},C${row},D${row})`, result: 1 };
}
sheet.getCell("F2").value = { formula: "E2*2", result: 2, shareType: "shared", ref: "F2:F4" };
sheet.getCell("F3").value = { sharedFormula: "F2", result: 2 };
sheet.getCell("F4").value = { sharedFormula: "F2", result: 2 };
sheet.getCell("G2").value = { text: "link", hyperlink: "https://example.org/" };
sheet.getCell("E2").note = "look at the plate";
sheet.getCell("C2").dataValidation = { type: "decimal", operator: "greaterThan", formulae: [0] };
sheet.addConditionalFormatting({ ref: "E2:E4", rules: [{ type: "dataBar", cfvo: [{ type: "min" }, { type: "max" }] }] });
const dot = "iVBORw0KGgoAAAANSUhEUgAAAAEAAAABCAYAAAAfFcSJAAAADUlEQVR4nGNgYGBgAAAABQABh6FO1AAAAABJRU5ErkJggg==";
sheet.addImage(book.addImage({ base64: dot, extension: "png" }), "H2:I3");
sheet.mergeCells("G6:H7");
book.addWorksheet("Ärger 金型", { state: "veryHidden" }).getCell("A1").value = { formula: "SUM(Dies!E2:E4)", result: 1 };
await book.xlsx.writeFile("by_exceljs.xlsx");

const plain = XLSX.utils.aoa_to_sheet([["die", "L", "t", "tau", "F"], ...dies]);
for (const row of [2, 3, 4]) {
  plain[`E${row}`] = { t: "n", v: 1, f: `PF_SHEARING_FORCE(B${row},C${row},D${row})` };
}
plain.F2 = { t: "s", v: "old", f: '"F = "&E2' };
plain["!ref"] = "A1:F4";
plain["!cols"] = [{ wch: 12 }];
plain["!merges"] = [XLSX.utils.decode_range("H1:I2")];
plain.A2.c = [{ a: "shop", t: "look at the plate" }];
const other = XLSX.utils.book_new();
XLSX.utils.book_append_sheet(other, plain, "Dies");
other.Workbook = { Names: [{ Name: "rate", Ref: "Dies!$C$2" }] };
other.Props = { CreatedDate: day };
fs.writeFileSync("by_sheetjs.xlsx", XLSX.write(other, { type: "buffer", bookType: "xlsx", bookSST: true, compression: true }));
