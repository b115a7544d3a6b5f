// Package testdrive drives an invented engine under an invented controller and
// writes the log of it, so that a proposal can be judged by driving again, and
// a cause by whether it was the one put in.
//
// A [Plant] is the engine as it truly is: true tables in the spelling of a
// calibration (injector flow and offset, air meter, volumetric efficiency),
// and the [Fault] put into it. [Drive] lets a controller with a calibration of
// its own drive it along a made-up road: idle, accelerations through the
// gears, cruise over hills, overrun with the fuel cut, full throttle with open
// loop enrichment. The fuel control is closed as it is in a car: a short trim
// that ramps and jumps on a switching sensor behind a transport delay (engine
// cycles, exhaust, sensor), so that it goes on cycling round its mean; a long
// trim learned in cells of speed and load; both quantised to 0.78125 % in the
// log (SAE J1979) and clamped.
//
// Commanded and delivered fuel follow the design's algebra:
//
//	pulse = F·(1 + trim)/flow_table + offset_table
//	F     = flow_true·(pulse − offset_true)
//
// The same seed gives the same bytes on every machine: the random numbers are
// PCG's, and whatever feeds back is rounded in each step, so that a fused
// multiply-add or another exponential does not grow into another drive.
//
// Controllers, faults, roads and loggers are widened by [Control], [Fault] and
// [DriveOptions], engines by [Design]. [Needed] is the truth that no log shows:
// the trims that the engine needs under a calibration, from the steady state of
// the same equations. A correction is judged by it.
//
// An engine knocks past a margin over the true spark table, which is all that the
// demo needs; a [Knock] takes the place of that, with a cylinder, a weather, noises
// and a controller of its own.
//
// A step of 20 ms goes once round: route.go moves the vehicle and says what it
// asks of the engine; drive.go fills the cylinders, meters the air as the
// controller's sensors would, commands and delivers the fuel and burns it;
// controller.go takes the mixture down the exhaust to the sensor and closes the
// loop; knock.go reads the spark table, lets the engine knock and takes advance
// away; log.go writes what a logger would have seen of it. The engine as it is, with what is wrong with it, is plant.go; engines.go invents it
// with every table true, so that what a test makes wrong is all that is wrong.
//
// Truth and belief are kept apart on purpose: the plant has its own tables, and
// the controller never reads them. Where both have the same table, trims stand at
// 0 up to what a quantised, cycling control leaves.
//
// It is a model for tests and for the demo, not of any engine that exists:
// nothing burns in it, the road load is a van's from memory, and the
// numbers of the controller are common practice without a source.
package testdrive
