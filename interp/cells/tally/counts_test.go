package tally

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// TestQuantile: Student's t at 97.5 %, as textbooks print it.
func TestQuantile(t *testing.T) {
	for freedom, want := range map[float64]float64{1: 12.706, 2: 4.303, 9: 2.262, 30: 2.042, 120: 1.980} {
		if got := quantile975(freedom); math.Abs(got-want) > 0.0006 {
			t.Errorf("%v degrees of freedom: %.4f, want %.3f", freedom, got, want)
		}
	}
}

// The counts of values, and so the percentile, are a function of the samples
// and not of their order or grouping, also where a cell has more values than it
// tells apart; and the percentile stays near the true one.
func TestCountsAnyOrder(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	for _, n := range []int{1, distinct - 1, distinct, distinct + 1, 30_000} {
		values := make([]float64, n)
		for i := range values {
			values[i] = 5 + 3*r.NormFloat64()
			if n == distinct-1 { // a channel of two decimals, on both sides of zero
				values[i] = math.Round(1e4*r.NormFloat64()) / 100
			}
		}
		var whole, left, right, read counts
		for i, v := range values {
			whole.add([]slot{{math.Float64bits(v), 1}})
			if i%3 == 0 {
				left.add([]slot{{math.Float64bits(v), 1}})
			} else {
				right.add([]slot{{math.Float64bits(v), 1}})
			}
		}
		for _, c := range []*counts{&right, &left} {
			read.merge(readCounts(t, c.append(nil)))
		}
		left.merge(&right)
		want := string(whole.append(nil))
		if string(left.append(nil)) != want || string(read.append(nil)) != want {
			t.Errorf("%d values: the counts depend on their grouping", n)
		}
		if told := len(whole.sorted()); told > distinct {
			t.Errorf("%d values: %d are told apart, want at most %d", n, told, distinct)
		}
		slices.Sort(values)
		at := .95 * float64(n-1)
		low := values[int(at)]
		exact := low
		if int(at)+1 < n {
			exact += (values[int(at)+1] - low) * (at - math.Floor(at))
		}
		got := whole.quantile(.95, 1)
		if within := map[bool]float64{true: 1e-15, false: 1. / 256}[n <= distinct]; math.Abs(got/exact-1) > within {
			t.Errorf("%d values: 95th percentile is %v, want %v", n, got, exact)
		}
	}
}
