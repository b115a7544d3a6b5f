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
// How a layout is told: each delimiter is tried on the first lines. The header is the line
// of words above the first line of readings that is about as wide, with a row of units
// between them or none; the delimiter whose rows are readings, and as wide as its header,
// wins. Rows of many words (states, names of gears) are accepted only where no delimiter
// gives rows of numbers.
//
// How a decimal mark is told: "12,5" can be read in one way, "1,250" in two. A cell that can
// be read in one way only decides for its column, and the columns of channels for the log;
// where none does, several cells of a column together may: whole numbers as long as those
// in question stand without a separator, or numbers of three digits stand beside them.
//
// How a clock's unit is told: of the units in which the steps are a possible logger's, the
// one in which speed, throttle or road speed change as an engine's can.
//
// What it leaves out: what a column means (package channel does that), and reading
// more than the beginning. It opens no file.
package dialect
