// Package knock says why spark is pulled in a drive, before anybody retards a
// table.
//
// A controller takes advance away when its sensor hears knock, and gives it back
// slowly. [Read] follows that through a drive log: it cuts the drive into
// [Stay]s, unbroken times at one operating point of the spark table, and judges
// in each how many degrees off the table the knock heard there asked for. Where
// knock is heard anew that is the retard, plus what a learned blend already took
// off the table; where none is heard, the retard is only an upper bound. Retard
// that decays was carried in from elsewhere and says nothing. A rise of retard
// just after a throttle lift or a gear change is no knock.
//
// [Drive.Explain] then lets causes compete. Each real cause is a need that is
// linear in a few numbers ([model]), within bounds that come from what the cause
// is: on low octane something is needed at full load in normal weather; with a
// hot charge nothing remains at a normal temperature; a lean mixture needs what
// it is lean by; a region of the table needs what it was raised by, and shows as
// a step in the table. False knock is what none of them explains, or what needs
// no load: a drive line that rattles about throttle lifts does so below load too,
// and a loose part at any load in its band of speed. The shares that a fit explains are reduced by what its
// free numbers cost.
//
// # From a reading to a need
//
// A reading of retard belongs to the bin of the spark table in which the engine is. But
// retard comes late: the channels are polled in turn, so knock may have been heard a bin
// earlier, and whether a rise was knock at all shows only half a second later, when the
// throttle is known to have been lifted or not. So rises wait, with the places of the last
// moments, and are then heard where load was highest. A stay in which nothing is heard
// bounds the need from above; one in which it is bounds it from both sides.
//
// However long the drive, some ten thousand stays are kept: those of one kind in one bin
// become one, of which counts, times and sums remain.
//
// The package changes no table. It says what is certain, and merge/propose
// refuses to retard a table for a fault that no table holds.
package knock
