// Package book is a workbook (.xlsx, ISO/IEC 29500) as far as calsplice needs
// one: sheets of cells that hold numbers and text, exactly.
//
// [Writer] writes. A number stands as the shortest decimal that reads back to
// the same bits; text is text, whatever it begins with: nothing is ever stored
// as a formula. The same calls give the same bytes. What surrounds the cells
// (styles, comments, links, widths, what is printed) stands in the templates of
// parts.xml as the format has it; the cells are packed between them as they come, so
// that a sheet of a million numbers takes no more memory than its part of the file.
//
// [Open] reads what a spreadsheet program saved, within bounds: a file that
// unpacks to far more than it is, or that spreads few cells over millions, is
// refused before it takes memory. A sheet is unpacked as its rows are asked for,
// and nothing of it is kept. Formulas, dates, truth values, error values and
// percentages are told apart from numbers, for the caller to refuse in the cell
// where they stand; macros and links to other files are not looked at, and that
// is reported. Rows that are hidden, and filters that have a condition, are reported,
// since a person who did not see a row did not mean it.
//
// The package does this itself. The library excelize, by which its tests judge it,
// takes hundreds of bytes for each cell that it writes and ends numbers at 15
// digits; fills each row that it reads up to its last cell, gigabytes for a hostile
// kilobyte, and does not tell a date from a number; and makes every command start
// a third later.
//
// It knows nothing of calibrations; see the package above it for those. It keeps
// no formula, no chart and no look of a workbook that it reads: what is written
// again is a new workbook.
package book
