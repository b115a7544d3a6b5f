// Package sift decides which samples of a drive log count.
//
// A [Selector] takes part in the scan of a log and tells of each instant whether it is evidence, and
// else the one [Reason] that it is not: outside a condition, cold, cut off, in
// enrichment, not steady, the trim not settled, a limit cycle that is not whole.
// A [Limiter] finds the samples at which a trim stands at its limit, so that its
// sign is evidence and its size a lower bound. [Events] finds the runs of a
// channel above a threshold, and [StepDelay] how late lambda is read.
// A [Fingerprint] keeps one log from counting twice.
//
// The package promises that no sample goes without a reason that is counted, and
// that what a log lacks for a filter is reported, or refused where the filter was
// asked for by name. Nothing is filtered but what is asked for. It takes no
// averages: that is for packages cells and tally.
package sift
