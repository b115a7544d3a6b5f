package view

import (
	"testing"

	"calsplice/merge/cause"
	"calsplice/merge/cause/knock"
)

// TestWhatExplainFinds: the status is that of something found where trims have a cause, or
// spark one that is no false alarm: whether that is certain or not says nothing of it.
func TestWhatExplainFinds(t *testing.T) {
	trims := func(c cause.Cause) *cause.Result { return &cause.Result{Found: []cause.Finding{{Cause: c}}} }
	spark := func(c knock.Cause) *knock.Result { return &knock.Result{Causes: []knock.Finding{{Cause: c}}} }
	for _, row := range []struct {
		why   string
		trims *cause.Result
		knock *knock.Result
		want  bool
	}{
		{"nothing at all", nil, nil, false},
		{"no cause, not for certain", trims(cause.None), nil, false},
		{"flow", trims(cause.FlowScale), nil, true},
		{"no cause of either", trims(cause.None), spark(knock.None), false},
		{"a false alarm", trims(cause.None), spark(knock.FalseKnock), false},
		{"fuel that knocks", trims(cause.None), spark(knock.LowOctane), true},
		{"a false alarm beside a leak", trims(cause.UnmeteredAir), spark(knock.FalseKnock), true},
		{"knock without trims", nil, spark(knock.HotCharge), true},
		{"none without trims", nil, spark(knock.None), false},
	} {
		for _, certain := range []bool{false, true} {
			if row.trims != nil {
				row.trims.Certain = certain
			}
			if row.knock != nil {
				row.knock.Certain = certain
			}
			if got := (&Explanation{Trims: row.trims, Knock: row.knock}).Finds(); got != row.want {
				t.Errorf("%s, certain %v: %v", row.why, certain, got)
			}
		}
	}
}
