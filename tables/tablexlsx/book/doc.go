// Package book is a workbook (.xlsx, ISO/IEC 29500) as far as calsplice needs
// one: sheets of cells that hold numbers and text, exactly.
//
// [Writer] writes. A number stands as the shortest decimal that reads back to
// the same bits; text is text, whatever it begins with: nothing is ever stored
// as a formula. The same calls give the same bytes. The library excelize lays
// out the workbook: styles, comments, links, widths, what is printed. The cells
// themselves are put into its sheets on the way out, because in the library each
// takes hundreds of bytes, and its numbers end at 15 digits. So a sheet of a
// million numbers takes no more memory than the list that they stand in.
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
// The package reads cells itself, because the library that writes them fills
// each row up to its last cell, gigabytes for a hostile kilobyte, and does not
// tell a date from a number.
//
// It knows nothing of calibrations; see the package above it for those. It keeps
// no formula, no chart and no look of a workbook that it reads: what is written
// again is a new workbook.
package book
