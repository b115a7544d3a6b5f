// Package tablexlsx is the workbook spelling of a document (.xlsx): for people
// who would rather see their tables in a spreadsheet, edit them there and hand
// them back.
//
// [Write] makes a contents sheet and a sheet a table. [Read] reads them back,
// unchanged or edited in any spreadsheet program: nothing of a document is lost
// either way, and the same document gives the same bytes.
//
// The first column of a sheet names what its row holds, so that rows may be
// inserted and moved. On a table's sheet:
//
//	table       | injector.flow
//	title       | Injector flow
//	unit        | g/s
//	values      | differential pressure [kPa]
//	            |   250 |   300 |   350
//	            | 2.214 | 2.425 |  2.62
//
//	role        | injector.flow
//	x quantity  | differential pressure
//	x unit      | kPa
//
// An axis may have both in one row, "x", as forms have it and CSV does.
//
// "values" is followed by the row of the x axis's breakpoints and by the rows
// of values, each of a map's behind its y breakpoint; a scalar has "value" and
// its number. What else is known stands below: resolution, limits, notes, kept
// "x-…" keys as JSON (an axis's as "x.x-…"). On the contents sheet stand
// "format", "name", "notes", a row for each "engine" fact, a list of the tables to
// click on, and the "source" of cell averages, whose state for machines has a
// sheet of its own.
//
// Headings, the list, colours and comments are views: what they show is read
// from its own row, and a view that says otherwise is named in a caution. The
// order of the sheets is the order of the tables. A sheet's name is only a
// label: the id stands on the sheet.
//
// A text that begins with "#" explains, and is read by nobody: a row or a sheet
// that begins with one, and what stands behind the cells that a row holds.
//
// What a spreadsheet program saves again has that program's digits: LibreOffice
// keeps 15 of up to 17.
//
// Text longer than a cell (notes, JSON) goes on in the next cell of its row. A
// title, unit or id longer than that is refused.
//
// [Range] takes a block of cells out of any workbook.
package tablexlsx

// The words that a sheet begins with, and those of the contents that are a view.
const (
	rowFormat = "format"
	rowTable  = "table"
	rowState  = "state"
	rowTables = "tables"
)
