// Package changefile is the change set as a file: JSON (the format that every
// other one is measured by), CSV and workbooks for people, and an RFC 6902 JSON
// Patch for other programs.
//
// It promises that a change set that is written in one of the first three formats
// and read back, in any order, is the same to the byte of its JSON; that what is
// wrong with a file is told with its place, a line each; and that what a reviewer
// left out is left out, while half of what belongs together is refused. It does
// not ask whether the edits fit a document: applying does. Edits that are written are
// sound: one of a field that no document has is a mistake of whoever made it, and panics.
//
// # JSON
//
// [ParseJSON] is as strict as the document's own reader: unknown keys, keys in
// other capitals and what does not make sense are refused with line, column and
// path. [WriteJSON] is canonical: an edit of a cell on one line and its evidence on
// the next, each side of a field on a line of its own, so that git shows a changed
// edit as a changed line. Where a field is absent on one side of an edit, that side
// is null.
//
// The kinds of edit each have one key of their own: a cell ("table" with "at"),
// fields of a table ("table" with "set"), fields of the document ("document"),
// "add" and "remove" (each with "after", the table in front, null where there is
// none) and "order". An edit with keys of two kinds is refused.
//
// What an object holds is said once, in keys.go, as the parts that reading and
// writing share; an edit's kind is told by the one key that no other kind has, wherever
// it stands.
//
// # The list
//
// CSV and workbooks hold one list for a person to review. Rows that begin with
// title, made_by, base, caution, frame or an x-… key belong to the whole set; then
// come the headings, and under them a row for each edit:
//
//	edit    cell, set, document, add, remove or order; "and" is a further field of
//	        the edit above; in a workbook "more" goes on with a text above that is
//	        longer than a cell
//	table   its id; empty for the document's own fields
//	row, column, place   of a cell, from 0 and by its breakpoints: one must be the
//	        other's, so that a row that was moved or typed wrongly is refused
//	field, with   a field, and all those that none is taken without
//	after   of an added or removed table, the one in front
//	from, to   numbers of a cell, text of a title, role, unit, notes or name, ids of
//	        an order, JSON of anything else; empty is absent
//	count … note   what the edit rests on
//
// A reviewer may delete rows and change what stands under "to". One who hides or
// filters rows in a workbook has not said whether they are to apply, so that such a
// workbook is refused. The columns "change" and "change %", and the
// sheets that show each table afterwards, are views: nothing is read from them, and
// one that says otherwise is named in a caution.
//
// A row is the same columns in both formats (list.go): written one after the other to
// CSV, each in its look to a workbook, and read by their headings from either, so that
// columns may be moved, and in a workbook others put between them.
//
// The frames (the unit and the axes that cells were edited on) stand as JSON in a
// row each. They are part of the change set: an edit lands on its breakpoints or
// nowhere.
//
// # JSON Patch
//
// [WritePatch] writes what turns the canonical JSON of one document into another,
// with a test of everything that the paths rest on. It holds no evidence and is not
// read back.
package changefile
