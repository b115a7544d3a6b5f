// Package tally adds up samples, and says how far their mean can be trusted.
//
// A [Log] takes the samples of one channel of one log, in the order of time; when
// the log ends, [Log.Into] adds them to the [Cell] of each place. Cells of any
// logs add up by [Cell.Merge], and [Cell.Append] writes one down to the bit.
//
// The package promises that a cell is a function of the samples alone: not of
// the order of logs, of how many were read at one time, or of how a log was cut
// into frames. Within a log sums are kept to 106 bits in the one order that there
// is; between logs they are exact (package exact). The counts of values become
// coarser where a cell has very many, at a level that follows from the values.
//
// Neighbouring samples are not independent, so the standard error of a mean comes
// from visits: see [Errors]. The package knows nothing of channels, axes and units,
// and judges nothing.
package tally
