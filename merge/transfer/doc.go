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
package transfer
