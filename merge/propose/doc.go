// Package propose makes small bounded corrections out of what a drive says,
// each with the evidence that it rests on, and says what it did not correct
// and why.
//
// [FuelFromCells] and [FuelFromLogs] correct injector flow, an air meter or
// volumetric efficiency from fuel trims, cell by cell. [FuelFit] fits flow and
// offset together. [SparkFromCells] and [SparkFromLogs] take spark advance
// away where an engine knocks persistently. Each returns a [Proposal]: the
// change set, and a [Report] for people and machines.
//
// What holds for all of them (law 7): no evidence, no proposal; a change never
// exceeds its bound, never goes against the sign of its evidence, never leaves
// the table's limits; a spark proposal never adds advance.
//
// The algebra is the design's: commanded pulse = F·(1+trim)/flow_table +
// offset_table, delivered F = flow_true·(pulse − offset_true). So with p =
// (pulse − offset_table)/(1+trim), trim = (flow_table/flow_true − 1) +
// (offset_true − offset_table)/p.
//
// The package asks merge/cause, its sibling, which cause fits the trims best,
// since a mechanical fault is repaired, not calibrated away.
package propose
