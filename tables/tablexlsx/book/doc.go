// Package book is a workbook (.xlsx, ISO/IEC 29500) as far as calsplice needs
// one: sheets of cells that hold numbers and text, exactly.
//
// [Writer] writes. A number stands as the shortest decimal that reads back to
// the same bits; text is text, whatever it begins with: nothing is ever stored
// as a formula. The same calls give the same bytes.
//
// [Open] reads what a spreadsheet program saved, within bounds: a file that
// unpacks to far more than it is, or that spreads few cells over millions, is
// refused before it takes memory. Formulas, dates, truth values, error values
// and percentages are told apart from numbers, for the caller to refuse in the
// cell where they stand; macros and links to other files are not looked at, and
// that is said.
//
// The package reads cells itself, because the library that writes them fills
// each row up to its last cell, gigabytes for a hostile kilobyte, and does not
// tell a date from a number.
//
// It knows nothing of calibrations; see the package above it for those.
package book
