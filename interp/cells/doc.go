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
// A sample on its way: drivelog gives frames of channels as of an instant; sift says
// which instants are evidence; the locator finds the cell of the operating point, and
// the number of its visit there; the tally adds the reading to that cell's visit. Where
// lambda is read late, the delayer first puts the reading back to where the engine was.
//
// What a cell means: count is how many readings came, or the sum of their weights where
// they are spread; visits is how many unbroken times the operating point was in the cell.
// Neighbouring readings of an engine are not independent, so the standard error comes
// from the visits and not from the count. [Compare] is Welch's test on the visits, with
// the share of false discoveries controlled over all cells.
//
// A document keeps its exact state beside its tables: text in base64 for each cell, which
// [Combine] adds up. Where a person has edited a table since, the state no longer fits
// it, and the document is shown and compared but not combined.
//
// Its rooms, each of which imports only those before it: exact (sums), axes (along
// what), sift (which samples count), tally (what they add up to).
//
// What the package deliberately does not do: judge. Whether a cell has enough
// evidence for a correction is for package propose. Nor does it smooth or fill in: a cell
// without samples is empty.
//
// Sources: Welch, Biometrika 34, 1947; Benjamini and Hochberg, Journal of the Royal
// Statistical Society B 57, 1995; Fisher, The Design of Experiments, 1935; batch means as
// in Law and Kelton, Simulation Modeling and Analysis. The bounds of what is normal are
// common practice, no source.
package cells
