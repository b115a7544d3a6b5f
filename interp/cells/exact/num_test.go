package exact

import (
	"bytes"
	"fmt"
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
	var whole, left, right, read Num
	for _, v := range terms {
		whole = whole.Add(Of(v))
	}
	for i := len(terms) - 1; i >= 0; i-- {
		if i < cut {
			left = left.Add(Of(terms[i]))
		} else {
			right = right.Add(Of(terms[i]))
		}
	}
	if got, want := whole.Float64(), rational(terms); got != want {
		t.Fatalf("sum of %v is %v, want %v", terms, got, want)
	}
	for _, part := range []Num{right, left} {
		n, rest, ok := Decode(append(part.Append(nil), 7))
		if !ok || !bytes.Equal(rest, []byte{7}) || n.Float64() != part.Float64() {
			t.Fatalf("reading back left %v, %v of %v", rest, ok, n)
		}
		read = read.Add(n)
	}
	want := whole.Append([]byte("before"))
	if got := left.Add(right).Append([]byte("before")); !bytes.Equal(got, want) {
		t.Fatalf("two halves encode as %x, the whole as %x", got, want)
	}
	if got := read.Append([]byte("before")); !bytes.Equal(got, want) {
		t.Fatalf("two halves read back encode as %x, the whole as %x", got, want)
	}
}

func TestSum(t *testing.T) { rapid.Check(t, checkSum) }
func FuzzSum(f *testing.F) { f.Fuzz(rapid.MakeFuzz(checkSum)) }
func TestCarry(t *testing.T) { // more additions than a double has digits for
	var s Num
	r := rand.New(rand.NewPCG(1, 2))
	total := new(big.Rat)
	for range 20_000 {
		v := (r.Float64() - 0.3) * 1e9
		s = s.Add(Of(v))
		total.Add(total, new(big.Rat).SetFloat64(v))
	}
	want, _ := total.Float64()
	if got := s.Float64(); got != want {
		t.Errorf("sum is %v, want %v", got, want)
	}
}

// TestEncoding: the bytes of a sum, on which documents are built.
func TestEncoding(t *testing.T) {
	for v, want := range map[float64]string{0: "00", 1: "0221" + "00000800", -3: "0321" + "00001800", 5e-324: "0200" + "02000000"} {
		if got := fmt.Sprintf("%x", Of(v).Append(nil)); got != want {
			t.Errorf("%v is written %s, want %s", v, got, want)
		}
	}
}

// TestNotFinite: what no sum can hold is refused before it is lost in one.
func TestNotFinite(t *testing.T) {
	for _, v := range []float64{math.NaN(), math.Inf(1), math.Inf(-1)} {
		func() {
			defer func() {
				if recover() == nil {
					t.Errorf("%v is a sum", v)
				}
			}()
			Of(v)
		}()
	}
}

func TestEncodingRefused(t *testing.T) {
	for _, b := range [][]byte{nil, {0x80}, {4, 1}, {2, 68, 0, 0, 0, 0}, {0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 1}} {
		if _, _, ok := Decode(b); ok {
			t.Errorf("%x was read as a sum", b)
		}
	}
}

func BenchmarkAdd(b *testing.B) {
	var s Num
	v := Of(3.90625)
	for b.Loop() {
		s = s.Add(v)
		v = Num{}.Sub(v)
	}
}
