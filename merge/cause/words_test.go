package cause

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
)

// TestEachCauseByItsFormulas: over settled points made from the formulas alone the
// true cause comes first. The figures over whole drives are merge/propose's.
func TestEachCauseByItsFormulas(t *testing.T) {
	drives, first, wrong := 0, 0, 0
	for _, fault := range allCauses() {
		for seed := range uint64(4) {
			d := steadyFor(fault, rand.New(rand.NewPCG(seed, 77)))
			res := d.result()
			drives++
			switch {
			case res.Leading().Cause == fault:
				first++
			case res.Certain:
				wrong++
			}
			if res.Leading().Cause != fault {
				t.Logf("%s (%.1f %%), seed %d: %s", fault, d.size, seed, list(res))
			}
		}
	}
	if 10*first < 9*drives || wrong > 1 {
		t.Errorf("first in %d of %d drives, sure and wrong in %d", first, drives, wrong)
	}
}

func list(res *Result) string {
	var s []string
	for _, f := range res.Found[:4] {
		s = append(s, fmt.Sprintf("%s %.3f", f.Cause, f.Share))
	}
	if p := res.Together; p != nil {
		s = append(s, fmt.Sprintf("together %v %.2f", p.Causes, p.Share))
	}
	return strings.Join(s, ", ")
}

// Every pair of leading causes has a test that names something to do, the same
// whichever leads but for the purge line.
func TestEveryPairHasATest(t *testing.T) {
	for _, a := range allCauses() {
		if e := a.entry(); e.title == "" || e.test == "" || len(e.alike) == 0 {
			t.Errorf("%s has no words", a)
		}
		for _, b := range allCauses() {
			if a == b || a == None || b == None {
				continue
			}
			one, other := test(a, b), test(b, a)
			one, other = strings.TrimSuffix(one, purgeTest), strings.TrimSuffix(other, purgeTest)
			if len(one) < 20 || one != other {
				t.Errorf("%s against %s: %q and %q", a, b, one, other)
			}
		}
	}
	for _, must := range []struct {
		a, b Cause
		want []string
	}{
		{UnmeteredAir, InjectorOffset, []string{"no-load 2,500 r/min", "leak shrinks", "offset stays", "purge line closed off"}},
		{PressureReference, FlowScale, []string{"pressure gauge", "at idle and under load", "vacuum hose on and off"}},
		{UnmeteredAir, AirMeter, []string{"smoke test", "speed-density air"}},
		{SupplyLimit, FlowScale, []string{"fuel volume test", "under load"}},
		{BankDifference, FlowScale, []string{"compare banks"}},
	} {
		for _, w := range must.want {
			if got := test(must.a, must.b); !strings.Contains(got, w) {
				t.Errorf("%s against %s: %q is not in %q", must.a, must.b, w, got)
			}
		}
	}
	if !slices.Contains(FlowScale.entry().alike, "fuel composition (E10 in a petrol table: +3.9 %)") {
		t.Error("flow-scale does not name fuel composition")
	}
}

// allCauses are those that a result may name.
func allCauses() (list []Cause) {
	for _, e := range catalogue {
		if !e.cause.hidden() {
			list = append(list, e.cause)
		}
	}
	return list
}
