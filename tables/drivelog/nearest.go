package drivelog

import "calsplice/tables"

// didYouMean ends an error line about a name that is not known with the
// nearest one that is; "" where none is near.
func didYouMean(name string, all []string) string {
	best := tables.Nearest(name, all)
	switch {
	case best == "":
		return ""
	case isName(best):
		return ": did you mean " + best + "?"
	}
	return ": did you mean " + tables.Quote(best) + "?"
}
