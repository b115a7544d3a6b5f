package propose

import (
	"bytes"
	"context"
	"encoding/json"
	"math"
	"regexp"
	"slices"
	"strings"
	"testing"

	"calsplice/merge/cause"
	"calsplice/merge/testdrive"
	"calsplice/tables"
)

// story is an engine with something wrong, and what an honest answer to its
// drive may be.
type story struct {
	name  string
	cal   *tables.Calibration // the truth where nil
	plant testdrive.Plant
	opt   testdrive.DriveOptions
	by    string // cells where empty

	may     []string    // the causes that may be named with confidence, "a+b" for two together
	must    bool        // one of them must be named with confidence
	leads   string      // the cause that leads, sure or not; "" for any
	edits   tables.Role // the only role that may be edited, and must be where a name must; "" for no edit
	refused []string    // what a refusal says
	changed float64     // s at which the drive is found to change; 0 for never
	says    string      // what the headline says
}

// answered drives a story and asks both commands.
func (s *story) answered(t *testing.T, seed uint64) (*cause.Result, *Proposal, error, *testdrive.Log) {
	t.Helper()
	if s.opt.Minutes == 0 {
		s.opt.Minutes = 20
	}
	s.opt.Seed, s.opt.Drift = seed, 0.002
	if s.cal == nil {
		s.cal = s.plant.Truth
	}
	l := testdrive.Drive(s.cal, s.plant, s.opt)
	var b bytes.Buffer
	if err := l.WriteCSV(&b); err != nil {
		t.Fatal(err)
	}
	logs := asLog(s.cal, b.Bytes())
	res, err := cause.Explain(context.Background(), s.cal, logs, cause.Options{})
	if err != nil {
		t.Fatalf("%s: %v", s.name, err)
	}
	by := s.by
	if by == "" {
		by = "cells"
	}
	p, err := FuelFromLogs(context.Background(), s.cal, logs, by, Defaults())
	return res, p, err, l
}

// sureOf is the cause that a result names with confidence, or "".
func sureOf(res *cause.Result) string {
	switch p := res.Together; {
	case !res.Certain:
		return ""
	case p != nil:
		names := []string{string(p.Causes[0]), string(p.Causes[1])}
		slices.Sort(names)
		return strings.Join(names, "+")
	}
	return string(res.Leading().Cause)
}

// changedAt is the field of the promised JSON, NaN where it is null.
func changedAt(t *testing.T, res *cause.Result) float64 {
	t.Helper()
	text, err := json.Marshal(res)
	if err != nil {
		t.Fatal(err)
	}
	var out struct {
		At *float64 `json:"changed_at"`
	}
	if err := json.Unmarshal(text, &out); err != nil {
		t.Fatal(err)
	}
	if out.At == nil {
		return math.NaN()
	}
	return *out.At
}

var percent = regexp.MustCompile(`[0-9.]+ %`)

func (s *story) check(t *testing.T, seed uint64) {
	t.Helper()
	res, p, err, l := s.answered(t, seed)
	told := func(what string, args ...any) {
		t.Helper()
		t.Errorf("%s, seed %d: "+what+"\n\t%s", append(append([]any{s.name, seed}, args...), res.Verdict)...)
	}
	sure := sureOf(res)
	if sure != "" && !slices.Contains(s.may, sure) {
		told("%s is named with confidence", sure)
	}
	if s.must && sure == "" {
		told("nothing is named, want %v", s.may)
	}
	if lead := string(res.Leading().Cause); s.leads != "" && lead != s.leads {
		told("%s leads, want %s", lead, s.leads)
	}
	if sure == "" && percent.MatchString(res.Verdict) {
		told("a number of a cause that is not sure stands in the headline")
	}
	if sure == "" && res.Settle == "" {
		told("no test would settle it")
	}
	if !strings.Contains(res.Verdict, s.says) {
		told("the headline does not say %q", s.says)
	}
	if at := changedAt(t, res); s.changed == 0 && at == at || s.changed > 0 && !(math.Abs(at-s.changed) < 90) {
		told("changed at %v s, want %v", at, s.changed)
	}
	s.checkEdits(t, seed, p, err, l)
}

func (s *story) checkEdits(t *testing.T, seed uint64, p *Proposal, err error, l *testdrive.Log) {
	t.Helper()
	for _, want := range s.refused {
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s, seed %d: %v, want %q", s.name, seed, err, want)
		}
	}
	if err != nil || len(p.Changes.Edits) == 0 {
		if s.edits != "" && s.must {
			t.Errorf("%s, seed %d: no edit of %s: %v", s.name, seed, s.edits, err)
		}
		return
	}
	if s.edits == "" {
		t.Errorf("%s, seed %d: %d edits", s.name, seed, len(p.Changes.Edits))
		return
	}
	for _, e := range p.Changes.Edits {
		role := s.cal.Table(e.On()).Role()
		if role != s.edits && !(s.by == "fit" && role == tables.InjectorOffset) {
			t.Errorf("%s, seed %d: an edit of %s, want %s", s.name, seed, role, s.edits)
		}
	}
	was, now := testdrive.Needed(s.cal, s.plant, l), testdrive.Needed(applied(t, s.cal, p), s.plant, l)
	if now.Mean > was.Mean || math.Abs(now.Full) > math.Abs(was.Full)+1.5 {
		t.Errorf("%s, seed %d: worse off: mean size of the trim %.2f to %.2f %%, full load %+.2f to %+.2f %%", s.name, seed, was.Mean, now.Mean, was.Full, now.Full)
	}
}

// tell runs stories over two seeds each.
func tell(t *testing.T, stories ...story) {
	t.Helper()
	if testing.Short() {
		t.Skip("drives for seconds")
	}
	for i := range stories {
		for seed := range uint64(2) {
			stories[i].check(t, 40+seed)
		}
	}
}

var (
	four, six, boosted = testdrive.Four(), testdrive.Six(), testdrive.Turbo()
	fourPlant          = testdrive.Plant{Truth: four}
	sixPlant           = testdrive.Plant{Truth: six}
)

func with(p testdrive.Plant, f testdrive.Fault) testdrive.Plant {
	p.Fault = f
	return p
}

// A turbo engine whose regulator has lost its hose, on a flat motorway: the drive
// cannot tell, and no fuel is taken from an engine that is lean in boost.
func TestNoEditWhileItCannotTell(t *testing.T) {
	for _, by := range []string{"cells", "fit"} {
		tell(t, story{name: "hose off on a flat motorway, by " + by, by: by, plant: testdrive.Plant{Truth: boosted, Boost: 70, Fault: testdrive.Fault{HoseOff: true}},
			opt: testdrive.DriveOptions{Route: testdrive.Motorway}, may: []string{"pressure-reference"}})
	}
}

// An offset is corrected by fit, and by cells not at all.
func TestOffsetIsCorrectedByFit(t *testing.T) {
	plant := testdrive.Plant{Truth: boosted, Boost: 70, Fault: testdrive.Fault{Offset: 0.16}}
	tell(t,
		story{name: "by cells", plant: plant, may: []string{"injector-offset"}, must: true, refused: []string{"--by fit", "--despite-cause"}},
		story{name: "by fit", by: "fit", plant: plant, may: []string{"injector-offset"}, must: true, edits: tables.InjectorFlow},
	)
}

// A table and a rail that are referenced differently are one fault, and a second
// bank that is short of fuel at high flow is remarked on.
func TestOneFaultIsOne(t *testing.T) {
	e := *boosted.Engine()
	e.RailPressure = &tables.RailPressure{Value: 300, Unit: "kPa", RelativeTo: tables.Atmosphere}
	c := boosted.Contents()
	c.Engine = &e
	cal, err := tables.NewCalibration(c)
	if err != nil {
		t.Fatal(err)
	}
	tell(t,
		story{name: "references differ", cal: cal, plant: testdrive.Plant{Truth: boosted, Boost: 70}, may: []string{"pressure-reference"}, leads: "pressure-reference"},
		story{name: "bank 2 short at high flow", plant: testdrive.Plant{Truth: six, Banks: 2, Fault: testdrive.Fault{Bank2: 0.08, Bank2From: 1.2}},
			may: []string{"bank-difference"}, leads: "bank-difference"},
	)
}
