// Package sheet is the one grammar of the files that a person opens in a
// spreadsheet: rows of placed cells, of which the first names what its row holds.
// A text file (CSV) and a workbook are both that, and differ only in where their
// rows come from and in a few habits, which [Reader] knows.
//
// [Document] reads a calibration or cell averages from rows. [Field] reads one
// field of anything that has fields, and [WriteField] writes it: how many numbers
// and texts a field is made of is known to the registry in package tables alone.
//
// It promises that every fault and every caution names the cell, and that nothing
// is passed over in silence. It opens no file and knows no file format: the
// packages tablecsv and tablexlsx hand it rows, and lay out what it writes.
package sheet
