package propose

import (
	"calsplice/merge"
	"calsplice/merge/caution"
	"calsplice/tables"
	"calsplice/tables/tablejson"
)

// base names the document that a proposal is made against.
func base(cal *tables.Calibration) merge.Base {
	return merge.Base{Name: cal.Name(), SHA256: tablejson.SHA256(cal)}
}

func standing() []string { return caution.Standing }
