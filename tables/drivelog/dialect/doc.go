// Package dialect reports how a drive log is written, and reads its cells.
//
// [Detect] looks at a log's beginning: the delimiter, the header among preamble and
// a row of units, the line ends, how many fields a row has. Encodings are told from
// the first bytes, decimal marks from what the cells prove ([Notation.Prove]), a
// clock's kind from its cells and its unit from how loggers and engines can move
// ([Pace]). A [Notation] is how the cells of one column are written, and reads them.
//
// What it promises: a number is read in one way or not at all. Where "1.004" may be
// two numbers and nothing proves which, where a clock's unit or the header cannot be
// told, the answer is an error that names the option that settles it. Whatever is
// detected can be asked for instead ([Asked]).
//
// What it leaves out: what a column means (package channel does that), and reading
// more than the beginning. It opens no file.
package dialect
