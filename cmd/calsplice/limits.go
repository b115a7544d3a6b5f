package main

import (
	"math"
	"strconv"

	"calsplice/tables"
)

// setLimits reads the bounds on what readers take in from the environment.
func setLimits(env func(string) string) {
	mib := countFrom(env, "CALSPLICE_MAX_MIB", tables.DefaultMaxBytes>>20)
	tables.SetMax(int64(mib)<<20, countFrom(env, "CALSPLICE_MAX_CELLS", tables.DefaultMaxCells))
}

// countFrom is a whole number above 0 from the environment, or the default.
func countFrom(env func(string) string, name string, otherwise int) int {
	text := env(name)
	if text == "" {
		return otherwise
	}
	n, err := strconv.Atoi(text)
	refuse(err != nil || n <= 0 || n > math.MaxInt32, "the environment variable %s is %s, expected a whole number above 0", name, tables.Quote(text))
	return n
}
