// Package changefile is the change set as a file: JSON (the one that every
// other spelling is measured by), CSV and workbook for people, and an RFC 6902
// JSON Patch for other programs.
//
// [Read] is as strict as the document's own reader: unknown keys, keys in other
// capitals and what does not make sense are refused with line, column and path.
// [Write] is canonical. Where a field is absent on one side of an edit, that
// side is null.
//
// The frames (the unit and the axes that cells were edited on) stand in every
// format, in CSV and workbook as JSON in a line of their own; there each row of a
// cell has its place by breakpoints too, which is held to its row and column.
// Fields that belong together name each other under "with", so that a reviewer
// who deletes one is told of the others.
//
// The kinds of edit each have one key of their own: a cell ("table" with "at"),
// fields of a table ("table" with "set"), fields of the document ("document"),
// "add" and "remove" (each with "after", the table in front, null where there is
// none) and "order".
package changefile
