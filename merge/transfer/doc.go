// Package transfer brings one injector's data from a donor calibration into a
// recipient, in the recipient's terms.
//
// The injector's tables are a group: flow, offset, the correction below the
// linear range, the minimum pulse. [Run] finds them by role on both sides, reads
// the donor's at the recipient's breakpoints and differential pressure, turns
// them into the recipient's units and fuel, rounds to the recipient's
// resolution, and returns a [Result]: the changed calibration, the change set
// that makes it, whose every edit is in the group, and what a person needs in
// order to judge it: pulse widths before and after, duty, power, the loss of a
// round trip, and every assumption with where it came from.
//
// Flow is spelled as a scalar at a reference pressure, or as a curve against
// differential pressure, manifold vacuum or manifold pressure. All are one
// function of differential pressure, through the rail pressure and what that is
// relative to; past the donor's breakpoints it follows the square-root law of an
// orifice, and is marked as inferred. Everything else is held past its axes.
//
// What is missing, contradicts itself or is not understood is an error that
// says what to supply; nothing is guessed.
//
// A value's way, in the order of the files: side.go reads what each calibration
// says of its rail, fuel and barometer; axis.go turns breakpoints of whatever
// spelling into operating points (differential pressure, voltage, effective
// pulse); reading.go reads the donor's table at the recipient's points by the
// rule of its role; flow.go turns a flow into the other unit, on the other fluid;
// transfer.go rounds and clamps to what the recipient can hold, and makes the
// change set. Then report.go drives both injectors, before and after, through a
// grid of operating points; review.go looks at the tables beside the group, and
// takes every member the way back to show what the way lost.
//
// It promises that a donor transferred into itself changes nothing, bit for bit;
// that no table outside the group changes; that everything assumed is listed with
// its origin, and everything held, inferred, rounded or clamped is counted.
//
// It leaves out how an engine runs with the new injectors: wall film, spray,
// wiring and the controller's own limits. The physics is that of an
// incompressible orifice (Bernoulli: flow goes with the root of the pressure and,
// by mass, of the density), and the linear injector of SAE J1832 with an offset
// and a correction for short pulses. The numbers that stand for facts which
// nobody gave stand at the top of report.go, each with its source or "common
// practice, no source".
package transfer
