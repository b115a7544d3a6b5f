// Package sheet is the one grammar of the files that a person opens in a
// spreadsheet: rows of placed cells, of which the first names what its row holds.
// A text file (CSV) and a workbook are both that, and differ only in where their
// rows come from and in a few habits, which [Reader] knows.
//
// [Document] reads a calibration or cell averages from rows. [Field] reads one
// field of anything that has fields, and [WriteField] writes it: how many numbers
// and texts a field is made of is known to the registry in package tables alone.
//
// A text file has all rows of a document in one sequence, and a blank line ends a
// table; a workbook has a sheet for each table and one for the document. What a row
// may hold is the same: the name of a field and its cells, a kept key and its JSON,
// a fact about the engine, a log. Only the axes have two forms: in one row with
// their kept keys, or in a row for each part, as a sheet has room for. Both are read
// wherever they stand. A row that begins with "#" is a remark and is passed over.
//
// It promises that every fault and every caution names the cell, and that nothing
// is passed over in silence. It opens no file and knows no file format: the
// packages tablecsv and tablexlsx hand it rows, and lay out what it writes.
package sheet
