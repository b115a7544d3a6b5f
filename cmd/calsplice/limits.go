package main

import (
	"fmt"
	"math"
	"strconv"

	"calsplice/tables"
)

// setLimits reads the bounds on what readers take in from the environment.
func setLimits(env func(string) string) error {
	mib, err := countFrom(env, "CALSPLICE_MAX_MIB", tables.DefaultMaxBytes>>20)
	if err != nil {
		return err
	}
	cells, err := countFrom(env, "CALSPLICE_MAX_CELLS", tables.DefaultMaxCells)
	if err != nil {
		return err
	}
	tables.SetMax(int64(mib)<<20, cells)
	return nil
}

// countFrom is a whole number above 0 from the environment, or the default.
func countFrom(env func(string) string, name string, otherwise int) (int, error) {
	text := env(name)
	if text == "" {
		return otherwise, nil
	}
	n, err := strconv.Atoi(text)
	if err != nil || n <= 0 || n > math.MaxInt32 {
		return 0, fmt.Errorf("the environment variable %s is %s, expected a whole number above 0", name, tables.Quote(text))
	}
	return n, nil
}
