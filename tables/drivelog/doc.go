// Package drivelog is the one reader of drive logs: rows of channels over
// time, in the dialects of CSV that loggers write.
//
// [Open] looks at the beginning of a log, decides how it is written (encoding,
// delimiter, decimal mark, preamble, header, units, time format, wide or long
// form) and which column is which channel, and keeps the reason for each
// choice; [Options] overrides any of them. [Log.Scan] then streams the values
// that a question needs, and only those, to one function in the log's order,
// however many workers parse. [Log.Survey] looks at every column instead.
//
// What it promises: channels polled in turn are never taken for simultaneous.
// A value stands as of an instant: every input's latest reading, none older
// than the maximum age, and it is fresh only where one of them was read anew.
// Values are in the channel's own unit. Whatever was not read, or was assumed,
// is counted or said in the [Reading].
//
// What it deliberately does not do: guess. A log whose time or channels cannot
// be told, two columns for one channel, a unit that does not fit: each is
// refused in a line that names the option that would settle it. Nor does it
// hold a log in memory, whatever its size.
//
// A log on its way: bytes are unpacked and decoded; the dialect is told from the first 2000
// rows; each column's header says which channel it may be; what the header leaves open
// (a unit, a trim's scale, the decimal mark, a clock's unit) is told by the numbers, if
// need be by going through the whole log once. A question is then compiled to a plan: the
// columns that it needs, and programs over them. A scan reads those columns only, aligns
// them in time, runs the programs a few thousand rows at once, and hands on frames.
//
// Why it is so careful: a log that is read wrongly looks as good as one that is read
// rightly. A trim of 1.02 is 2 % or 1 %; a manifold pressure of 30 is 30 kPa or 30 kPa of
// vacuum; 1.004 is a thousand and four in half of the world. Every such case is settled by
// evidence that is reported, or refused.
//
// Sources: SAE J1979 for fuel status and the scaling of trims; RFC 4180 for quoting; ISO
// 8601 for times. How fast engines and loggers can go is common practice, no source.
//
// Its rooms, each of which may use those before it: formula computes values from
// values; dialect reports how a log is written and reads cells; channel knows what
// columns mean; rows reads them; this package opens a log, derives channels from
// others, and puts the answers together.
package drivelog
