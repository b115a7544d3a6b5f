// Package tablejson is the JSON spelling of a document: the one that every
// other spelling is measured by, and whose bytes a change set's guard names.
//
// [Parse] is strict: what it does not know it refuses, with line, column and
// path. [Write] is canonical: equal documents have equal bytes, and reading
// back and writing again changes none of them. The form is made for line
// tools, so that a difference in the text is a difference in the document:
//
//   - 2 spaces of indent, a key a line, keys in the order of the format, "x-…"
//     keys last and sorted; text that is empty and facts that are absent are
//     left out.
//   - A measure, an axis, the limits, a curve's values and each row of a map
//     stand on one line of their own.
//   - Numbers are the shortest decimals that read back the same
//     ([tables.FormatValue]); −0 stays −0.
//   - Text is UTF-8 with nothing escaped but quotes, backslashes and control
//     characters. The file ends with a line feed and begins with no mark.
//
// Cell averages are the same document with the format "calsplice.cells/1". In
// it a value may be null, "source" lists the logs, and "state" holds what the
// gathering of cells keeps so that documents combine, a key a line.
//
// A fault does not end reading: each part of a document is checked as it is read,
// with its own place, and a document with ten faults is reported in ten lines. The
// values of a table are read before its axes are known, since keys may stand in any
// order, and held to them afterwards. What only cell averages may have depends on
// the format, which is therefore looked for before anything is read: its key may be
// the last.
//
// What a field is made of, and in which order fields stand, is known to the registry
// in package tables; nothing here lists a document's fields.
//
// # Objects
//
// An object is said once, as a list of [tables.Part]: the name of each key, where its
// value is kept, and whether it must be there or is left out where it is empty.
// [Reader.Parts] reads an object by the list, [Object.Part] writes it, and so neither
// can forget a key that the other knows. A table, an axis and an engine are such lists,
// and so are change sets, conflicts and decisions, which quote parts of documents
// ([Reader.Table], [AppendTable] …). A value that only its own format understands is a
// [Custom].
//
// The package knows what every type of value looks like in JSON; it does not know
// what a change set or a conflict is.
package tablejson
