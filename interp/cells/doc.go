// Package cells gathers the samples of drive logs onto a table's breakpoints,
// and says how far each cell can be trusted.
//
// [Gather] reads logs and gives a [Grid]; [Grid.Document] writes it down as cell
// averages, and [Combine] makes one document of several: to the byte the
// document of one reading of all their logs, in any order, on any number of
// workers. That is so because every sum is exact (package exact), the counts of
// values are a function of the samples alone, and a document carries both.
//
// Neighbouring samples of a log are not independent, so the standard error of a
// mean comes from visits: separate stays in the cell. See [Statistics] and the
// comment of the unexported errors for what exactly; its coverage is tested on
// simulated drives.
//
// Nothing is filtered but what is asked for: [FilterOptions]. [Select] is the
// filters alone, over a log as it is scanned, for those who need samples and
// not cells.
//
// What the package deliberately does not do: judge. Whether a cell has enough
// evidence for a correction is for package propose; [Compare] only tells which
// changes between two drives are beyond chance.
package cells
