package exact

import (
	"bytes"
	"math"
	"math/big"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"
)

// rational is the outside judge: the same sum by exact fractions.
func rational(terms []float64) float64 {
	sum := new(big.Rat)
	for _, v := range terms {
		sum.Add(sum, new(big.Rat).SetFloat64(v))
	}
	v, _ := sum.Float64()
	return v
}

var finite = rapid.Custom(func(t *rapid.T) float64 {
	switch rapid.IntRange(0, 3).Draw(t, "kind") {
	case 0: // any double but the largest, so that no sum overflows
		v := math.Float64frombits(rapid.Uint64().Draw(t, "bits"))
		if math.IsNaN(v) || math.Abs(v) > 1e300 {
			return 0
		}
		return v
	case 1: // near-cancelling
		return float64(rapid.Int64().Draw(t, "whole"))
	case 2:
		return float64(rapid.IntRange(-3000, 3000).Draw(t, "hundredths")) / 100
	default:
		return rapid.SampledFrom([]float64{0, math.Copysign(0, -1), 1e-300, -1e-300, 5e-324, 1e16, -1e16, 1}).Draw(t, "odd")
	}
})

// A sum is the rational sum rounded once, in any order and in any grouping,
// and its encoding is a function of its value.
func checkSum(t *rapid.T) {
	terms := rapid.SliceOf(finite).Draw(t, "terms")
	cut := rapid.IntRange(0, len(terms)).Draw(t, "cut")
	var whole, left, right, read Sum
	for _, v := range terms {
		whole.Add(v)
	}
	for i := len(terms) - 1; i >= 0; i-- {
		if i < cut {
			left.Add(terms[i])
		} else {
			right.Add(terms[i])
		}
	}
	if got, want := whole.Float64(), rational(terms); got != want {
		t.Fatalf("sum of %v is %v, want %v", terms, got, want)
	}
	for _, part := range []*Sum{&right, &left} {
		rest, err := read.AddEncoded(append(part.Append(nil), 7))
		if err != nil || !bytes.Equal(rest, []byte{7}) {
			t.Fatalf("reading back left %v, %v", rest, err)
		}
	}
	left.AddSum(&right)
	want := whole.Append(nil)
	if got := left.Append(nil); !bytes.Equal(got, want) {
		t.Fatalf("two halves encode as %x, the whole as %x", got, want)
	}
	if got := read.Append(nil); !bytes.Equal(got, want) {
		t.Fatalf("two halves read back encode as %x, the whole as %x", got, want)
	}
	about, rest, err := Peek(append(want, 7))
	if sum := whole.Float64(); err != nil || !bytes.Equal(rest, []byte{7}) || math.Abs(about-sum) > 1e-15*math.Abs(sum)+5e-324 {
		t.Fatalf("peeking at %v finds %v and leaves %v, %v", sum, about, rest, err)
	}
}

func TestSum(t *testing.T) { rapid.Check(t, checkSum) }
func FuzzSum(f *testing.F) { f.Fuzz(rapid.MakeFuzz(checkSum)) }
func TestCarry(t *testing.T) { // more additions than a word has room for
	var s Sum
	r := rand.New(rand.NewPCG(1, 2))
	total := new(big.Rat)
	for range 20_000 {
		v := (r.Float64() - 0.3) * 1e9
		s.Add(v)
		total.Add(total, new(big.Rat).SetFloat64(v))
	}
	want, _ := total.Float64()
	if got := s.Float64(); got != want {
		t.Errorf("sum is %v, want %v", got, want)
	}
}

func TestEncodingRefused(t *testing.T) {
	var s Sum
	for _, b := range [][]byte{nil, {0x80}, {4, 1}, {2, 68, 0, 0, 0, 0}, {0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 1}} {
		if _, err := s.AddEncoded(b); err == nil {
			t.Errorf("%x was read as a sum", b)
		}
		if _, _, err := Peek(b); err == nil {
			t.Errorf("%x was peeked at as a sum", b)
		}
	}
}

func BenchmarkAdd(b *testing.B) {
	var s Sum
	v := 3.90625
	for b.Loop() {
		s.Add(v)
		v = -v
	}
}
