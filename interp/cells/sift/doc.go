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
// What a filter looks at: fuel status, coolant, pulse width, the commanded mixture and
// purge are judged by one reading of one channel; rates and settling need what went
// before; whole limit cycles are known only with hindsight, so frames are held back until
// a cycle is whole. A filter that the log has no channels for is skipped and reported, and
// refused where it was asked for by name.
//
// A limit: a controller stops its trims at some size, which the log does not say. A trim
// that stands still at the furthest that it reaches in the log, at least 8 %, for ten
// readings and two seconds, is at its limit. Because the furthest is known only at the
// end, samples are recorded as candidates and forgotten when the trim goes further.
//
// The package promises that no sample goes without a reason that is counted, and
// that what a log lacks for a filter is reported, or refused where the filter was
// asked for by name. Nothing is filtered but what is asked for. It takes no
// averages: that is for packages cells and tally.
//
// Sources: the values of fuel status and the scaling of trims (100/128 % a step) are SAE
// J1979's; every other bound is common practice, no source.
package sift
