// Package tables is the ground that calsplice stands on: calibrations, their
// tables and axes, valid by construction.
//
// A [Calibration] is one document: a name, a few facts about the engine, and
// named tables. A [Table] is one characteristic: a scalar, a curve (one axis)
// or a map (two axes). An [Axis] has a quantity, a unit and strictly
// increasing breakpoints. The same three hold cell averages of drive logs, for
// which the document's [Kind] is [Cells] and a value may be empty.
//
// All three are immutable. Each is built from its plain description
// ([Fields], [Contents]) by a constructor that refuses what is not sound, so
// that whatever holds one need not check again; and a changed copy is made by
// taking the description, changing it and constructing anew.
//
// The package does no input or output and knows no file format: see
// the packages under it. What all of them share lives here, once: how a number
// is written ([FormatValue]) and what an error with a place looks like
// ([Fault]).
package tables
