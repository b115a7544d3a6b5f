// Package cells gathers the samples of drive logs onto a table's breakpoints,
// and says how far each cell can be trusted.
//
// [Gather] reads logs and gives a [Grid]; [Grid.Document] writes it down as cell
// averages, and [Combine] makes one document of several: to the byte the
// document of one reading of all their logs, in any order, on any number of
// workers. That is so because every sum is exact, the counts of values are a
// function of the samples alone, and a document carries both. [Compare] reports which
// changes between two drives are beyond chance.
//
// Its rooms, each of which imports only those before it: exact (sums), axes (along
// what), sift (which samples count), tally (what they add up to).
//
// What the package deliberately does not do: judge. Whether a cell has enough
// evidence for a correction is for package propose.
package cells
