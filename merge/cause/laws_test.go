package cause

import (
	"encoding/json"
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// Whatever points a drive leaves, the answer is sound: every cause once, shares
// from 0 to 1 and falling, words for each, and JSON.
func TestAnyPoints(t *testing.T) { rapid.Check(t, anyPoints) }

func FuzzAnyPoints(f *testing.F) { f.Fuzz(rapid.MakeFuzz(anyPoints)) }

func anyPoints(t *rapid.T) {
	banks := rapid.IntRange(1, 2).Draw(t, "banks")
	known := rapid.SliceOfN(rapid.Bool(), 4, 4).Draw(t, "known")
	or := func(known bool, v float64) float64 {
		if known {
			return v
		}
		return math.NaN()
	}
	// Few values, so that columns coincide, vanish and repeat.
	few := func(name string, v ...float64) float64 { return rapid.SampledFrom(v).Draw(t, name) }
	var points []*Point
	for i := range rapid.IntRange(1, 40).Draw(t, "points") {
		p := &Point{clock: float64(i) * few("pace", 0, 1, 60), Seconds: few("seconds", 0.02, 1, 10), Samples: rapid.IntRange(1, 90).Draw(t, "samples"),
			Speed: few("speed", 1, 800, 2500, 9000), Barometer: few("barometer", 60, 101.325), Duty: few("duty", 1, 90),
			Manifold: or(known[0], few("manifold", 0, 30, 101.325, 250)), AirFlow: or(known[1], few("air", 1e-6, 2, 20, 1e4)),
			FuelFlow: or(known[1], few("fuel", 1e-9, 0.2, 3)), Inverse: or(known[2], few("inverse", 1e-9, 0.1, 0.5, 1e6)),
			Rail: or(known[3], few("rail", -0.999, -0.2, 0, 0.1)), cell: rapid.IntRange(0, 9).Draw(t, "cell")}
		for b := range p.Trim {
			p.Trim[b] = few("trim", -99, -8, -0.78125, 0, 0.78125, 3, 25, 100)
			p.AtLimit[b] = few("limit", 0, 0, 0, 1)
		}
		if banks == 1 {
			p.Trim[1] = math.NaN()
		}
		points = append(points, p)
	}
	f := &facts{rail: few("rail pressure", 1, 300, 900), follows: rapid.Bool().Draw(t, "follows"), railGiven: rapid.Bool().Draw(t, "said"),
		metered: rapid.Bool().Draw(t, "metered")}
	res := &Result{Points: points}
	r := newRows(points, banks)
	r.rank(res, f)
	r.shares(res)
	r.describe(res, f)

	var seen []Cause
	last := 1.0
	for _, found := range res.Found {
		if !(found.Share >= 0 && found.Share <= last) || math.IsNaN(found.Margin) || !(found.Effect >= 0) {
			t.Fatalf("%s has share %v after %v, margin %v, effect %v", found.Cause, found.Share, last, found.Margin, found.Effect)
		}
		if last = found.Share; slices.Contains(seen, found.Cause) {
			t.Fatalf("%s stands twice", found.Cause)
		}
		if seen = append(seen, found.Cause); found.Test == "" || len(found.Evidence) == 0 {
			t.Fatalf("%s has no words", found.Cause)
		}
	}
	if len(res.Found) < 3 || !slices.Contains(seen, None) || res.Verdict == "" || len(res.NextSteps()) == 0 {
		t.Fatalf("%d causes, verdict %q", len(res.Found), res.Verdict)
	}
	if _, err := json.Marshal(res); err != nil {
		t.Fatal(err)
	}
	_, _, _ = res.LeanInBoost(), res.Mechanical(), res.BanksDiffer()
}

// Which bank is called 1 changes nothing but the name.
func TestBanksSwap(t *testing.T) {
	for i, fault := range allCauses() {
		banksSwap(t, fault, uint64(i))
	}
}

func FuzzBanksSwap(f *testing.F) {
	f.Add(uint8(7), uint64(1))
	f.Fuzz(func(t *testing.T, fault uint8, seed uint64) {
		banksSwap(t, allCauses()[int(fault)%len(allCauses())], seed)
	})
}

func banksSwap(t *testing.T, fault Cause, seed uint64) {
	explain := func(swap bool) *Result {
		d := steadyFor(fault, newRandom(seed))
		d.banks, d.minutes = 2, 3
		points := d.points()
		for _, p := range points {
			if swap {
				p.Trim[0], p.Trim[1] = p.Trim[1], p.Trim[0]
				p.AtLimit[0], p.AtLimit[1] = p.AtLimit[1], p.AtLimit[0]
			}
		}
		res := &Result{}
		newRows(points, 2).rank(res, &facts{rail: d.rail, metered: true})
		return res
	}
	a, b := explain(false), explain(true)
	// Of the others two shapes may explain as much, one of each bank: which one is
	// described then depends on rounding.
	lead, swapped := a.Leading(), b.Leading()
	if lead.Cause != swapped.Cause || math.Abs(lead.Share-swapped.Share) > 1e-3 {
		t.Fatalf("%s: %s, swapped %s", fault, list(a), list(b))
	}
	if math.Abs(a.Banks.Difference+b.Banks.Difference) > 1e-9 {
		t.Fatalf("difference %v, swapped %v", a.Banks.Difference, b.Banks.Difference)
	}
}
