package rows

import (
	"bytes"
	"math"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// lawPlaces: what a processor's own instructions find in a window is what words find:
// any bytes, crowded or without an end, as far as a stretch goes.
func lawPlaces(t *rapid.T) {
	delim, eol := rapid.ByteMax(0x7f).Draw(t, "delimiter"), rapid.ByteMax(0x7f).Draw(t, "line end")
	some := rapid.OneOf(rapid.SampledFrom([]byte{delim, eol, delim ^ 1, eol ^ 0x80}), rapid.Byte())
	part := rapid.SliceOfN(some, 1, 200).Draw(t, "bytes")
	var text window
	for at := 0; at < len(text); {
		at += copy(text[at:], part)
	}
	before := uint(rapid.IntRange(margin, margin+stretch).Draw(t, "before"))
	var got, want ends
	putPlaces(&got, &text, before, delim, eol)
	want.putWords(&text, before, delim, eol)
	if got.lines != want.lines || !bytes.Equal(got.places[2:got.size], want.places[2:want.size]) {
		t.Fatalf("%d places and %d lines, want %d and %d", got.fields(), got.lines, want.fields(), want.lines)
	}
	for i, at := 0, margin; i < want.fields(); i, at = i+1, at+1 {
		for text[at] != delim && text[at] != eol {
			at++
		}
		if want.at(i) != at {
			t.Fatalf("field %d ends at %d, want %d", i, want.at(i), at)
		}
	}
}

func TestPlaces(t *testing.T) { rapid.Check(t, lawPlaces) }
func FuzzPlaces(f *testing.F) { f.Fuzz(rapid.MakeFuzz(lawPlaces)) }

// lawNumbers: numbers that are read two at a time are those that are read one by one, and
// each of them is the nearest double to its characters.
func lawNumbers(t *rapid.T) {
	mark := rapid.SampledFrom([]byte(".,")).Draw(t, "mark")
	decimals := rapid.IntRange(0, 8).Draw(t, "decimals")
	s := newShape(decimals, mark)
	fits := rapid.Custom(func(t *rapid.T) string {
		most := rapid.SampledFrom([]int64{99999999, 99999999, 1e15 - 1, 1e17}).Draw(t, "most")
		n := rapid.Int64Range(-most, most).Draw(t, "number")
		number := strconv.FormatFloat(float64(n)/math.Pow10(decimals), 'f', decimals, 64)
		return strings.Replace(number, ".", string(mark), 1)
	})
	anything := rapid.StringOfN(rapid.SampledFrom([]rune("0123456789-+.,eE /:\x00\x80\x8a\xff")), 0, 18, 18)
	slip := rapid.Custom(func(t *rapid.T) string { // in one character, perhaps, or in their number
		digits := rapid.StringOfN(rapid.RuneFrom([]rune("0123456789")), 1, 20, 20).Draw(t, "digits")
		if at := rapid.IntRange(0, len(digits)).Draw(t, "at"); at < len(digits) {
			digits = digits[:at] + string(rapid.SampledFrom([]byte("-+.,:/e\x00\x89\xff")).Draw(t, "slip")) + digits[at+1:]
		}
		return digits
	})
	var text window
	var f found
	n := 0
	at := margin
	for range rapid.IntRange(0, together).Draw(t, "cells") {
		cell := rapid.OneOf(fits, fits, fits, slip, anything).Draw(t, "cell")
		if n++; cell == "" && rapid.Bool().Draw(t, "missing") {
			f.put(n-1, noCell)
			continue
		}
		f.put(n-1, uint32(at-1)|uint32(at+len(cell))<<16)
		at += copy(text[at:], cell)
		text[at] = rapid.SampledFrom([]byte(";-7")).Draw(t, "behind")
		at++
	}
	if n == 0 {
		return
	}
	type reader func(text *window, c *cells, out []float64) (rest uint64)
	for _, read := range [][2]reader{{s.short, s.plain}, {s.long, s.plainLong}} {
		got, want := make([]float64, n), make([]float64, n)
		rest, left := read[0](&text, &f.cells, got), read[1](&text, &f.cells, want)
		if rest != left {
			t.Fatalf("cells %b are left, want %b", rest, left)
		}
		for i := range n {
			if rest>>i&1 != 0 {
				continue
			}
			from, to := bounds(f.at(i))
			right, err := strconv.ParseFloat(strings.Replace(string(text[from:to]), string(mark), ".", 1), 64)
			if err != nil || math.Float64bits(got[i]) != math.Float64bits(right) || math.Float64bits(got[i]) != math.Float64bits(want[i]) {
				t.Errorf("%q is %v, one by one %v, want %v", text[from:to], got[i], want[i], right)
			}
		}
	}
}

func TestNumbers(t *testing.T) { rapid.Check(t, lawNumbers) }
func FuzzNumbers(f *testing.F) { f.Fuzz(rapid.MakeFuzz(lawNumbers)) }
