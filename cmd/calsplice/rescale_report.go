package main

import (
	"fmt"
	"math"
	"strings"

	"calsplice/interp"
	"calsplice/tables"
)

// rescaleReport is what rescale tells, as text and as JSON.
type rescaleReport struct {
	Table   string `json:"table"`
	Method  string `json:"method"`
	Outside string `json:"outside"`
	Unit    string `json:"unit"`
	Loss    struct {
		Max  float64            `json:"max"`
		Mean float64            `json:"mean"`
		RMS  float64            `json:"rms"`
		At   map[string]float64 `json:"at,omitempty"`
		Old  tables.Number      `json:"old"` // the two surfaces there; null where one is empty
		New  tables.Number      `json:"new"`
	} `json:"loss"`
	Cells        map[string]int `json:"cells"` // those measured hold the old value to the bit
	Extrapolated [][2]int       `json:"extrapolated"`
	Advice       *interp.Advice `json:"advice"`
	Notes        []string       `json:"said"`

	table *tables.Table
}

// deliverRescaled writes the document and reports what became of the table.
func (in *input) deliverRescaled(doc *tables.Calibration, old *tables.Table, r *interp.Resampled) {
	bound := in.numberOr("within", usualBound(old))
	report := reportRescale(old, r)
	if r.Loss.Largest > bound {
		a, err := r.Advise(bound)
		if report.Advice = a; err != nil {
			report.Notes = append(report.Notes, err.Error())
		}
	}
	in.deliver(result{beside: true, notes: report.Notes, json: asJSON(report), lines: report.lines,
		write: writesDocument(doc)})
}

func reportRescale(old *tables.Table, r *interp.Resampled) *rescaleReport {
	report := &rescaleReport{Table: old.ID(), Method: string(r.Method), Outside: string(r.Outside), Unit: old.Unit(),
		Notes: append([]string{}, r.Notes...), Extrapolated: [][2]int{}, table: r.Table,
		Cells: map[string]int{"measured": -r.Moved, "fitted": r.Moved, "interpolated": 0, "extrapolated": 0}}
	l := r.Loss
	report.Loss.Max, report.Loss.Mean, report.Loss.RMS, report.Loss.Old, report.Loss.New = l.Largest, l.Mean, l.RMS, l.From, l.To
	if math.Abs(l.Mean) <= 1e-12*l.Largest { // what summing leaves of a mean that a fit makes zero
		report.Loss.Mean = 0
	}
	report.Loss.At = map[string]float64{}
	for k, a := range l.Axes {
		if a != nil {
			report.Loss.At["xy"[k:k+1]] = l.At[k]
		}
	}
	for i, s := range r.Status {
		report.Cells[s.String()]++
		if s == interp.Extrapolated {
			report.Extrapolated = append(report.Extrapolated, [2]int{i / r.Table.Columns(), i % r.Table.Columns()})
		}
	}
	return report
}

// usualBound is a loss that hardly matters: a step of the resolution, or a
// hundredth of what the table spans.
func usualBound(t *tables.Table) float64 {
	if t.Resolution() > 0 {
		return t.Resolution()
	}
	low, high := tables.Range(t.Values())
	return max(0, (high-low)/100)
}

// lines are the report for a person: what became of the cells, what was lost, and
// what would keep it.
func (r *rescaleReport) lines() []string {
	fitted := ""
	if r.Method == string(interp.Fit) {
		fitted = fmt.Sprintf("%d fitted, ", r.Cells["fitted"])
	}
	outside := map[string]string{"hold": "edge value held", "extend": "extrapolated", "refuse": "refused"}[r.Outside]
	lines := []string{fmt.Sprintf("table %s, method %s: %s kept, %s%d interpolated, %d outside the old axes (%s)", r.Table, r.Method,
		tables.Plural(r.Cells["measured"], "cell"), fitted, r.Cells["interpolated"], r.Cells["extrapolated"], outside)}
	if l := &r.Loss; l.Max == 0 {
		lines = append(lines, "loss: none, the surface is where it was")
	} else {
		lines = append(lines, fmt.Sprintf("loss: largest %s %s%s, where %s became %s; mean %s, rms %s", four(l.Max), r.Unit, r.place(),
			l.Old, l.New, four(l.Mean), four(l.RMS)))
	}
	if r.Advice != nil {
		lines = append(lines, r.suggest(r.Advice))
	}
	return lines
}

func (r *rescaleReport) place() string {
	place := r.table.Axes().Words(func(k int, _ *tables.Axis) string { return four(r.Loss.At["xy"[k:k+1]]) })
	if place == "" {
		return ""
	}
	return " at " + place
}

func (r *rescaleReport) suggest(a *interp.Advice) string {
	var add []string
	for k, points := range [][]float64{a.X, a.Y} {
		const most = 8
		var words []string
		for _, v := range points[:min(most, len(points))] {
			words = append(words, tables.FormatValue(v))
		}
		if len(points) > most {
			words = append(words, fmt.Sprintf("… %d breakpoints in all (--json lists them)", len(points)))
		}
		if words != nil {
			add = append(add, fmt.Sprintf("%s %s to %s", strings.Join(words, ", "), r.table.Axes()[k].Unit(), "xy"[k:k+1]))
		}
	}
	bound, breakpoints := four(a.Bound)+" "+r.Unit, strings.Join(add, " and ")
	switch {
	case add == nil:
		return "suggestion: no old breakpoint brings the loss to " + bound
	case a.Met:
		return fmt.Sprintf("suggestion: to lose at most %s add %s (then %s)", bound, breakpoints, four(a.Loss))
	}
	return fmt.Sprintf("suggestion: a loss of %s cannot be reached; adding %s gives %s", bound, breakpoints, four(a.Loss))
}

// four is a computed number in four digits.
func four(v float64) string { return tables.Digits(v, 4) }
