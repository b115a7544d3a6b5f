package strictjson

import (
	"bytes"
	"encoding/json"
	"math"
	"strconv"
	"strings"
	"testing"

	"calsplice/tables"
	"calsplice/tables/tabletest"

	"pgregory.net/rapid"
)

// stricter are the words of faults where this reader refuses what RFC 8259
// leaves open and encoding/json takes.
var stricter = []string{"stands twice", "too large for a number", "surrogate", "not UTF-8", "NUL", "nested deeper"}

// likeStandard: what this reader takes, encoding/json takes too, and makes the
// same compact text of it; what encoding/json takes, this reader refuses only
// where it is stricter by design.
func likeStandard(t interface{ Fatalf(string, ...any) }, data []byte) {
	r := New(data, "x")
	got, _ := r.Raw()
	err := r.Err()
	valid := json.Valid(bytes.TrimPrefix(data, []byte("\xef\xbb\xbf")))
	if err == nil {
		var want bytes.Buffer
		if !valid || json.Compact(&want, bytes.TrimPrefix(data, []byte("\xef\xbb\xbf"))) != nil || want.String() != got {
			t.Fatalf("%q is taken as %q, encoding/json: %v %q", data, got, valid, want.String())
		}
		return
	}
	if !valid {
		return
	}
	for _, word := range stricter {
		if strings.Contains(err.Error(), word) {
			return
		}
	}
	t.Fatalf("%q is refused: %v", data, err)
}

var tokens = []string{"{", "}", "[", "]", ",", ":", `"a"`, `"b"`, `""`, `"\n"`, `"\u0041"`, `"\ud83d\ude97"`, `"\ud83d"`, `"é"`, "0", "-0", "1", "1.5",
	"1e5", "1E+5", "-1e-5", "1e999", "01", ".5", "1.", "+1", "NaN", "null", "true", "false", "nul", " ", "\n", "\t", "\r", `"`, `\`, "x", "\xff", "\x00", "\ufeff"}

func lawStandard(t *rapid.T) {
	likeStandard(t, []byte(strings.Join(rapid.SliceOfN(rapid.SampledFrom(tokens), 0, 12).Draw(t, "tokens"), "")))
	likeStandard(t, []byte(value(t, 3)))
}

// value is sound JSON.
func value(t *rapid.T, depth int) string {
	leaf := rapid.SampledFrom([]string{"0", "-0", "1.5e3", `"a"`, `"\"\\/\b\u00e9"`, "null", "true", "[]", "{}"})
	if depth == 0 {
		return leaf.Draw(t, "leaf")
	}
	switch rapid.IntRange(0, 2).Draw(t, "kind") {
	case 0:
		var list []string
		for range rapid.IntRange(0, 3).Draw(t, "n") {
			list = append(list, value(t, depth-1))
		}
		return "[" + strings.Join(list, " , ") + "]"
	case 1:
		var list []string
		for i := range rapid.IntRange(0, 3).Draw(t, "n") {
			list = append(list, string(rune('"'))+string(rune('a'+i))+"\" :\n"+value(t, depth-1))
		}
		return "{ " + strings.Join(list, ",") + " }"
	}
	return leaf.Draw(t, "leaf")
}

func TestLikeTheStandard(t *testing.T) { rapid.Check(t, lawStandard) }

func FuzzLikeTheStandard(f *testing.F) {
	for _, s := range tokens {
		f.Add([]byte(s))
	}
	f.Add([]byte(`{"a": [1, {"b": "c d"}], "e": null}`))
	f.Fuzz(func(t *testing.T, data []byte) { likeStandard(t, data) })
}

// TestText: what is written as text, this reader and encoding/json read back.
func TestText(t *testing.T) {
	for _, s := range tabletest.Texts {
		b := AppendText(nil, s)
		var std string
		if err := json.Unmarshal(b, &std); err != nil || std != s {
			t.Errorf("%q is written %s, encoding/json reads %q (%v)", s, b, std, err)
		}
		r := New(b, "x")
		if got, ok := r.Text(); !ok || got != s || r.Err() != nil {
			t.Errorf("%q is written %s and read %q", s, b, got)
		}
		if bytes.ContainsAny(b, "\n\r\x1b") {
			t.Errorf("%q is written over lines or with an escape character: %q", s, b)
		}
	}
}

// TestNumbers: every finite number reads back to the bit, here and there.
func TestNumbers(t *testing.T) {
	s := tabletest.Rand(1)
	for range 20000 {
		v := tabletest.Number(s)
		b := AppendNumber(nil, v)
		var std float64
		if err := json.Unmarshal(b, &std); err != nil || math.Float64bits(std) != math.Float64bits(v) {
			t.Fatalf("%v is written %s, encoding/json reads %v (%v)", v, b, std, err)
		}
		if got, ok := New(b, "x").Number(); !ok || math.Float64bits(got) != math.Float64bits(v) {
			t.Fatalf("%v is written %s and read %v", v, b, got)
		}
	}
}

// TestDigits: a number of any length is the double that the standard library reads,
// where that is one at all: digits are taken in where they stand only as long as they
// are few.
func TestDigits(t *testing.T) {
	s := tabletest.Rand(2)
	digits := func(n int) (text string) {
		for range n {
			text += string(rune('0' + s.N(10)))
		}
		return text
	}
	texts := []string{"-0", "-0.0", "0.00000000000000000001", "1.00000000000000000", "9007199254740993.0", "18446744073709551617.5", "900719925474099.3"}
	for range 20000 {
		texts = append(texts, []string{"", "-"}[s.N(2)]+strconv.Itoa(1+s.N(9))+digits(s.N(20))+"."+digits(1+s.N(20)))
	}
	for _, text := range texts {
		want, err := strconv.ParseFloat(text, 64)
		if got, ok := New([]byte(text), "x").Number(); err != nil || !ok || !tables.SameBit(got, want) {
			t.Fatalf("%s is read as %v, %v, want %v", text, got, ok, want)
		}
	}
}

// TestPlaces counts lines and characters from 1, a byte-order mark for none.
func TestPlaces(t *testing.T) {
	for _, c := range []struct{ text, want string }{
		{`[1, x]`, "x:1:5: [1]: found x, expected a number"},
		{"\ufeff[1, x]", "x:1:5: [1]: found x, expected a number"},
		{"[\n\n  1,\n \"é\", x]", "x:4:2: [1]: found text, expected a number\nx:4:7: [2]: found x, expected a number"},
		{"[1,\r\n2,\r\nx]", "x:3:1: [2]: found x, expected a number"},
	} {
		r := New([]byte(c.text), "x")
		r.Array(func(int) { r.Number() })
		if err := r.Err(); err == nil || err.Error() != c.want {
			t.Errorf("%q: %v, want %s", c.text, err, c.want)
		}
	}
}

// TestFormat finds the format wherever it stands, and says nothing of what is
// no document.
func TestFormat(t *testing.T) {
	for text, want := range map[string]string{
		`{"format": "a/1"}`: "a/1", `{"x": [{"format": "no"}], "format": "a/1", "y": `: "a/1", "\ufeff{\"format\": \"a/1\"}": "a/1",
		`{}`: "", `[]`: "", ``: "", `{"format": 1}`: "", `{"Format": "a/1"}`: "", `"format"`: "", "{\"format\": \"\xff\"}": "",
	} {
		if got := Format([]byte(text)); got != want {
			t.Errorf("%q has the format %q, want %q", text, got, want)
		}
	}
}

// What is said of a bad number costs a good one nothing: a number in a list is
// read without room of its own.
func TestNumbersNeedNoRoom(t *testing.T) {
	list := []byte("[" + strings.Repeat("12.5, ", 999) + "-3]")
	dst := make([]float64, 0, 1000)
	allocs := testing.AllocsPerRun(10, func() {
		r, got := New(list, ""), dst[:0]
		if ok := r.Array(func(int) {
			v, _ := r.Number()
			got = append(got, v)
		}); !ok || len(got) != 1000 {
			t.Fatal("the list was not read")
		}
	})
	if allocs > 20 {
		t.Errorf("1,000 numbers took room %v times, want at most 20 for the list", allocs)
	}
}
