package cells

import (
	"encoding/base64"
	"maps"
	"strings"
	"testing"

	"calsplice/interp/cells/axes"
	"calsplice/interp/cells/logtest"
	"calsplice/tables"
)

// FuzzReadState reads damaged state: it is refused in a line or combined, and
// never panics or asks for memory that it does not have.
func FuzzReadState(f *testing.F) {
	x := &axes.Axis{Channel: "load", Axis: nil}
	x.Axis, _ = tables.NewAxis("load", "%", []float64{0, 50})
	good := fill(f, x, nil, Nearest, []string{"trim"}, drive{rho: .5, step: .3, n: 200}.log(1))
	for key, value := range good.state() {
		text := strings.Trim(value, `"`)
		raw, err := base64.RawStdEncoding.DecodeString(text)
		if err == nil {
			f.Add(key, raw)
		}
	}
	doc := document(f, good)
	f.Fuzz(func(t *testing.T, key string, raw []byte) {
		c := doc.Contents()
		c.State = maps.Clone(c.State)
		c.State[key] = `"` + base64.RawStdEncoding.EncodeToString(raw) + `"`
		odd, err := tables.NewCalibration(c)
		if err != nil {
			return
		}
		g, err := fromDocument(odd)
		if err != nil {
			return
		}
		if _, err := g.Document(); err != nil {
			t.Logf("read, but not written: %v", err)
		}
	})
}

// A document whose state is damaged is refused, and says where.
func TestStateDamaged(t *testing.T) {
	doc := document(t, fill(t, logtest.Axis(t, "load", 0, 50), nil, Nearest, []string{"trim"}, []sample{{0, 0, 0, []float64{1}}}))
	for _, tc := range []struct{ why, key, value, want string }{
		{"cut off", "trim[0,0]", `"AQAA"`, `state "trim[0,0]": the exact state of its cells is damaged`},
		{"no base64", "trim[0,0]", `"!"`, `state "trim[0,0]": the exact state of its cells is damaged`},
		{"no text", "trim[0,0]", `7`, `state "trim[0,0]": the exact state of its cells is damaged`},
		{"a cell that is not there", "trim[4,0]", `"AQAA"`, `state "trim[4,0]" names no cell of the document`},
		{"a newer version", "settings", `{"version":9}`, "carries state of version 9, expected 1"},
		{"another weight", "settings", `{"version":1,"weight":"heavy"}`, `state "settings": the exact state of its cells is damaged`},
		{"no list of logs", "logs", `{}`, `state "logs": the exact state of its cells is damaged`},
	} {
		c := doc.Contents()
		c.State = maps.Clone(c.State)
		c.State[tc.key] = tc.value
		odd, err := tables.NewCalibration(c)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := fromDocument(odd); err == nil || err.Error() != tc.want {
			t.Errorf("%s: error is %v, want %s", tc.why, err, tc.want)
		}
	}
	bare := doc.Contents()
	bare.State = nil
	odd, err := tables.NewCalibration(bare)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := Combine(odd); err == nil || !strings.Contains(err.Error(), "carries no exact state") {
		t.Errorf("a document without state combined: %v", err)
	}
	if _, err := Compare(odd, doc); err != nil {
		t.Errorf("a document without state does not compare: %v", err)
	}
}

// A cell's text that is longer than a workbook's cell holds is cut, and put
// together again.
func TestLongState(t *testing.T) {
	const distinct = 4096 // values that a cell tells apart
	var log []sample
	for i := range 2 * distinct {
		log = append(log, sample{0, 0, 0, []float64{1 / (3 + float64(i%(distinct-1)))}})
	}
	g := fill(t, logtest.Axis(t, "load", 0, 50), nil, Nearest, []string{"trim"}, log)
	state := g.state()
	parts := 0
	for key, value := range state {
		if len(value) > longest+2 {
			t.Errorf("%s has %d characters", key, len(value))
		}
		if strings.HasPrefix(key, "trim[0,0]") {
			parts++
		}
	}
	if parts < 2 {
		t.Errorf("the cell is in %d parts", parts)
	}
	back, err := fromDocument(document(t, g))
	if err != nil {
		t.Fatal(err)
	}
	if !back.state().Equal(state) {
		t.Error("the state came back otherwise")
	}
}
