// Package propose makes small bounded corrections out of what a drive says,
// each with the evidence that it rests on, and says what it did not correct
// and why.
//
// [Fuel] and [Spark] take what a person gave, drive logs or cell averages. Fuel corrects
// injector flow, an air meter or volumetric efficiency from fuel trims, cell by cell, or fits
// flow and offset together; Spark takes spark advance away where an engine knocks
// persistently. Each returns a [Proposal]: the change set, and a [Report] for people and
// machines.
//
// What holds for all of them (law 7): no evidence, no proposal; a change never
// exceeds its bound, never goes against the sign of its evidence, never leaves
// the table's limits; a spark proposal never adds advance.
//
// # Fuel from a log
//
// A log is read once, by three readers side by side: for settled trims, for what a
// wideband sensor says where trims do not reach, and by merge/cause for the cause of
// the trims. The first two each cut the drive into blocks of a few seconds at one
// operating point, long enough for whole limit cycles of the trim and so many that
// separate visits can be counted. The way from blocks to edits is then:
//
//  1. Is the evidence sound? A logged rail pressure is held against the calibration's,
//     and the tables are replayed: blocks in which another calibration drove are taken
//     out.
//  2. Is the cause one that a table holds? The gate says which table that is, and after
//     the proposal refuses its edits where the cause is not certain, or is a fault.
//  3. What does each cell need? Blocks are gathered onto the target's cells, with the
//     standard error that visits show; or flow and offset are fitted together.
//  4. How much of it is done in one pass? Gain, bound, dead band, limits and resolution
//     turn evidence into a value, always towards the side that errs less.
//  5. What else happens? The trim that is left, the fuel at full load, the load and spark
//     that move with an air table.
//
// # Spark from a log
//
// merge/cause/knock reads the log into stays, with what the knock heard in each asked
// for; the proposal distributes that over the cells that set the spark there, and edits
// those which two separate visits confirm.
//
// # The algebra
//
// It is the design's: commanded pulse = F·(1+trim)/flow_table +
// offset_table, delivered F = flow_true·(pulse − offset_true). So with p =
// (pulse − offset_table)/(1+trim), trim = (flow_table/flow_true − 1) +
// (offset_true − offset_table)/p.
//
// The package asks merge/cause, its sibling, which cause fits the trims best,
// since a mechanical fault is repaired, not calibrated away. It does not decide what a
// cause is, and it writes no file.
package propose
