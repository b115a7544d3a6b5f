package view

import (
	"encoding/json"
	"math"
	"strings"
	"testing"

	"calsplice/merge"
	"calsplice/merge/changefile"
	"calsplice/merge/propose"
	"calsplice/tables"
	"calsplice/tables/tablejson"
)

const decidedVan = `{"format": "calsplice/1", "name": "van", "engine": {"rail_pressure": {"value": 300, "unit": "kPa", "relative_to": "atmosphere"}}, "tables": [
 {"id": "flow", "title": "Injector flow", "role": "injector.flow", "unit": "g/s", "resolution": 0.001, "limits": [0, 12],
  "x": {"quantity": "differential pressure", "unit": "kPa", "points": [250, 350]}, "values": [2, 3]},
 {"id": "offset", "role": "injector.offset", "unit": "ms", "x": {"quantity": "battery voltage", "unit": "V", "points": [10, 14]}, "values": [1, 0.8]},
 {"id": "m", "unit": "deg", "x": {"quantity": "load", "unit": "%", "points": [1, 2, 3]}, "y": {"quantity": "gear", "unit": "1", "points": [1, 2]}, "values": [[1, 2, 3], [4, 5, 9]]}]}`

func calibration(t *testing.T, replace ...string) *tables.Calibration {
	t.Helper()
	doc, err := tablejson.Parse([]byte(strings.NewReplacer(replace...).Replace(decidedVan)), "van.json")
	if err != nil {
		t.Fatal(err)
	}
	return doc
}

func decided(t *testing.T, replace ...string) (*Decide, *merge.ChangeSet) {
	t.Helper()
	old, new := calibration(t), calibration(t, replace...)
	set := merge.Diff(old, new)
	d := decideEdits(old, new, set)
	d.nominal(old)
	return d, set
}

// What the page puts together from head, entries and tail is the very file.
func TestDecideKeepsTheFile(t *testing.T) {
	d, set := decided(t, "[2, 3]", "[2.5, 3.5]", `"van"`, `"van \"edits\": [] \"left_out\": 1"`, "[4, 5, 9]", "[4, 5, 8]", `"id": "offset"`, `"id": "offset2"`)
	text := d.Head
	for i, c := range d.Choices {
		if i > 0 {
			text += ","
		}
		text += "\n    {" + c.Raw + "}"
	}
	set.LeftOut = 3
	if text += "\n  " + d.Tail[0] + "3" + d.Tail[1]; text != written(set) {
		t.Errorf("put together\n%s\nwant\n%s", text, written(set))
	}
	if _, err := changefile.ParseJSON([]byte(text), "p.json"); err != nil {
		t.Error(err)
	}
	if _, err := json.Marshal(d); err != nil {
		t.Error(err)
	}
}

// Fuel at full load, by hand: at 101.325 kPa the injectors see 300 kPa, half way
// between 2 and 3 g/s; 10 % less flow in the table is 1/0.9 of the fuel. An offset
// alone decides on nothing that the point tells, and is named where flow changes
// too.
func TestFullLoad(t *testing.T) {
	d, _ := decided(t, "[2, 3]", "[1.8, 2.7]")
	facts := d.effect()
	if want := "+11.1 % (manifold at 101.3 kPa, the same injectors)"; facts[0].Value != want {
		t.Errorf("fuel is %q, want %q", facts[0].Value, want)
	}
	if d, _ = decided(t, "[1, 0.8]", "[1, 0.7]"); d.FullLoad != nil {
		t.Errorf("an offset alone gives %+v", d.FullLoad)
	}
	d, _ = decided(t, "[2, 3]", "[1.8, 2.7]", "[1, 0.8]", "[1, 0.7]")
	if got := d.effect()[0].Value; !strings.Contains(got, "without offset") {
		t.Errorf("with an offset: %q", got)
	}
	// With a pulse, and what was learned, as a drive gives them.
	old := calibration(t)
	at, place := propose.NominalFullLoad(old.Engine())
	at.Battery, at.Pulse = 14, 10
	d.FullLoad = d.fullLoad(old, at, place, 5)
	if got := d.effect()[0].Value; !strings.HasPrefix(got, "+10.1 %; +4.9 % once learned trim is cleared") {
		t.Errorf("with a pulse of 10 ms: %q", got) // 1/0.9 − 0.1 ms/10 ms; over 1.05
	}
}

// The largest step is looked for at the cells that are decided about, and at
// their neighbours, in both directions; it does not wrap from a row to the next.
func TestLargestStep(t *testing.T) {
	d, _ := decided(t, "[4, 5, 9]", "[4.5, 5, 9]")
	if got, want := d.steps()[0], (Fact{"Largest step, m", "3.5 deg, was 3.0 deg; between 1 %, 1 1 and 1 %, 2 1"}); got != want {
		t.Errorf("%v, want %v", got, want)
	}
	d, _ = decided(t, "[[1, 2, 3]", "[[1, 2, 3.5]")
	if got := d.steps()[0].Value; !strings.HasPrefix(got, "5.5 deg, was 6.0 deg; between 3 %, 1 1 and 3 %, 2 1") {
		t.Error(got)
	}
}

// Shades with a meaning are the same in every drive.
func TestTrimShadesAreAnchored(t *testing.T) {
	level := func(v float64) float64 { return scaleOf("trim", 3).cell(v, "").Level }
	for v, want := range map[float64]float64{0: 0, 0.9: 0, 1: 0.2, -2.5: -0.4, 5: 0.6, 7.6: 0.6, 10: 0.8, -25: -1} {
		if got := level(v); math.Abs(got-want) > 1e-12 {
			t.Errorf("a trim of %v %% has the level %v, want %v", v, got, want)
		}
	}
	if got := scaleOf(knockRetard, 9).cell(1, "").Level; math.Abs(got-0.6) > 1e-12 {
		t.Errorf("1° of retard has the level %v", got)
	}
	var words []string
	for _, c := range trimScale.legend(false) {
		words = append(words, c.Text)
	}
	if got := strings.Join(words, " "); got != "−20 −10 −5 −2.5 −1 0 +1 +2.5 +5 +10 +20" {
		t.Errorf("the legend is %s", got)
	}
}

// Evidence is as thin as it is.
func TestMeter(t *testing.T) {
	for _, c := range []struct{ count, visits, want int }{{0, 0, 0}, {19, 40, 1}, {20, 2, 1}, {20, 3, 2}, {100, 6, 3}, {100, 15, 4}, {100, 30, 5}} {
		if got := meter(&merge.Evidence{Count: c.count, Visits: c.visits}); got != c.want {
			t.Errorf("%d samples in %d visits fill %d parts, want %d", c.count, c.visits, got, c.want)
		}
	}
}

// Conflicts of a curve are one question, those of a map one each; what may be
// typed is known, and a document that is not the merged one is refused.
func TestSettleQuestions(t *testing.T) {
	base, ours, theirs := calibration(t), calibration(t, "[2, 3]", "[2.1, 3.1]", "[4, 5, 9]", "[4.5, 5.5, 9]", `"title": "Injector flow"`, `"title": "A"`), calibration(t, "[2, 3]", "[2.2, 3.2]", "[4, 5, 9]", "[4.6, 5.6, 9]", `"title": "Injector flow"`, `"title": "B"`)
	r, err := merge.Merge(base, ours, theirs, merge.MergeOptions{})
	if err != nil {
		t.Fatal(err)
	}
	v, err := Settle(r.Merged, r.Conflicts)
	if err != nil {
		t.Fatal(err)
	}
	if got := v.Decide.Tables[0].Groups; len(got) != 2 || got[0] != "title" || got[1] != "the curve" {
		t.Errorf("the curve's questions are %q", got)
	}
	if got := v.Decide.Tables[1].Groups; len(got) != 2 || got[0] != "1 %, 2 1" {
		t.Errorf("the map's questions are %q", got)
	}
	if c := v.Decide.Choices[0]; c.Typed != "text" || c.Raw != `"table": "flow", "at": "title"` || c.Sides[1].Text != `"B"` {
		t.Errorf("the title's conflict is %+v", c)
	}
	if got := v.Decide.Tables[0].Values[0]; got != 2 {
		t.Errorf("before any decision the flow is %v, want the base's 2", got)
	}
	// Nor is one that differs where nothing is asked of base alone: a title.
	if _, err := Settle(calibration(t, "[2, 3]", "[2.1, 3.1]", "[4, 5, 9]", "[4.5, 5.5, 9]", `"title": "Injector flow"`, `"title": "C"`), r.Conflicts); err == nil {
		t.Error("a document with another title is decided about")
	}
	if _, err := Settle(calibration(t, "[2, 3]", "[7, 7]"), r.Conflicts); err == nil {
		t.Error("a document that is not the merged one is decided about")
	}
}
