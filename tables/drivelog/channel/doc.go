// Package channel knows what the columns of a drive log mean: the channels, the
// headers under which loggers write them, and the units in which they are read.
//
// [ReadHeading] takes a header apart into a name and a unit and recognises its
// channel. [Assign] gives each channel its column: the one that a person names, or
// else the one whose header says so. [SettleAll] then decides each column's unit and
// scale, by the header where it gives a unit, and by the numbers where they leave no
// doubt: trims in percent, as factors or as shares, lambda or air/fuel ratio, a
// vacuum for a pressure.
//
// What it promises: a header is a channel's only where all of its words say so, and
// where two columns may be one channel, or a unit does not fit, that is reported and
// not guessed. What was assumed is kept with the column.
//
// Why headers are compared by all of their words: "short term fuel trim bank 1 sensor 2" is
// not the bank's trim, and "relative throttle position" is not the throttle. A header that
// says one word more than is known of a channel is another thing. Abbreviations are spelled
// out first, so that each way to name a channel stands in the table once.
//
// Why numbers may overrule a header: loggers call an air/fuel ratio lambda, and write a
// vacuum under "manifold pressure". Numbers near 1 are a lambda, and numbers above 7 are
// not; a manifold pressure rises where the throttle opens. What the numbers leave open is asked.
//
// Sources: names by SAE J1979 and J1930; the rest is common practice, no source.
//
// What it leaves out: reading rows. Columns are judged by cells that others read.
package channel
