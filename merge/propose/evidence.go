package propose

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"calsplice/interp/cells/axes"
	"calsplice/tables"
	"calsplice/tables/drivelog"
	"calsplice/tables/unit"
)

// Evidence is what drives say about one cell of the target. Its mean is of the channel as
// logged: trims, a wideband sensor's mixture error, or retard, in per cent or degrees. What
// that asks of a table is for the rule of the table. A number that is not known is NaN, and
// null in JSON.
type Evidence struct {
	Count   int           `json:"count"`
	Visits  int           `json:"visits"`
	Mean    tables.Number `json:"mean"`         // of the channel, in its unit
	SE      tables.Number `json:"se"`           // from visits
	P95     tables.Number `json:"p95,omitzero"` // of retard
	AtLimit float64       `json:"at_limit"`     // share of samples at the trim's limit

	max  float64
	note string // where the Evidence is of another kind than its neighbours
}

// noEvidence is that of a cell where nobody was.
func noEvidence() Evidence {
	return Evidence{Mean: unknown, SE: unknown, P95: unknown, max: math.NaN()}
}

// unknown is a number that nothing tells.
var unknown = tables.Number(math.NaN())

// grid is evidence over the target's cells, from whatever it came: cell averages, the
// blocks of a drive, or a wideband sensor in the place of both. What follows does not ask.
type grid struct {
	channel string // trim, mixture_error, knock_retard …
	unit    string
	cells   []Evidence // as the target's values
	lean    []float64  // share by which each cell runs lean; NaN or nil where not known
	notes   []string
}

// readGrid takes the first of the channels that a cells document has, on the axes of the
// target. A scalar target takes the Evidence of all cells together. It is what cells
// gathered earlier say of a table, instead of a log.
func readGrid(cells *tables.Calibration, target *tables.Table, channels ...string) (*grid, error) {
	for _, ch := range channels {
		mean := cells.Table(ch + ".mean")
		if mean == nil {
			continue
		}
		g := &grid{channel: ch, unit: drivelog.ChannelUnit(ch)}
		source, err := g.read(cells, ch)
		if err != nil {
			return nil, err
		}
		if target.X() == nil {
			g.cells = []Evidence{pool(source)}
			return g, nil
		}
		order, err := align(mean, target)
		if err != nil {
			return nil, err
		}
		g.cells = make([]Evidence, len(order))
		for i, from := range order {
			g.cells[i] = source[from]
		}
		return g, nil
	}
	return nil, fmt.Errorf("cells have no %s.mean: gather with --value %s", channels[0], channels[0])
}

// statistics are what a cells document has of a channel, by name, in the channel's unit.
func statistics(cells *tables.Calibration, ch string) (map[string][]float64, error) {
	of := map[string][]float64{}
	for _, name := range []string{"mean", "count", "visits", "se", "sd", "p95", "max", "at_limit"} {
		t := cells.Table(ch + "." + name)
		if t == nil {
			continue
		}
		of[name] = t.Values()
		own, plain := drivelog.ChannelUnit(ch), name == "count" || name == "visits" || name == "at_limit"
		if plain || unit.Same(own, t.Unit()) {
			continue
		}
		c, err := unit.Find(t.Unit(), own) // a ratio or an angle: only a factor
		if err != nil {
			return nil, fmt.Errorf("table %s is in %s, expected %s", t.ID(), tables.Quote(t.Unit()), tables.Quote(own))
		}
		of[name] = c.ApplyAll(t.Values())
	}
	return of, nil
}

// read makes evidence of a channel's statistics, cell by cell.
func (g *grid) read(cells *tables.Calibration, ch string) ([]Evidence, error) {
	of, err := statistics(cells, ch)
	if err != nil {
		return nil, err
	}
	mean, count, visits, se := of["mean"], of["count"], of["visits"], of["se"]
	// Without these nothing shows how far a mean can be trusted.
	for _, name := range []string{"count", "visits"} {
		if len(of[name]) != len(mean) {
			return nil, fmt.Errorf("cells have no %s.%s on the axes of %s.mean: gather them with calsplice cells", ch, name, ch)
		}
	}
	list := make([]Evidence, len(mean))
	for i := range list {
		e := Evidence{Mean: tables.Number(mean[i]), SE: at(se, i), P95: at(of["p95"], i), max: float64(at(of["max"], i))}
		if math.IsNaN(mean[i]) || !(at(count, i) > 0) {
			list[i] = noEvidence()
			continue
		}
		e.Count, e.Visits = int(count[i]), int(at(visits, i))
		if v := at(of["at_limit"], i); v > 0 {
			e.AtLimit = float64(v)
		}
		if se == nil { // visits are as independent as samples can be
			e.SE = at(of["sd"], i) / tables.Number(math.Sqrt(float64(e.Visits)))
		}
		list[i] = e
	}
	if se == nil {
		g.notes = append(g.notes, fmt.Sprintf("cells have no %s.se: the standard deviation over the root of the visits stands in for it", ch))
	}
	return list, nil
}

// at is v[i], or NaN where there is no such list or number.
func at(v []float64, i int) tables.Number {
	if i >= len(v) {
		return unknown
	}
	return tables.Number(v[i])
}

// pool is the Evidence of all cells as one, for a table that is one number: its error
// is that of a number which every cell shares, or which they do not, whichever is larger.
func pool(cells []Evidence) Evidence {
	seen := slices.DeleteFunc(slices.Clone(cells), func(e Evidence) bool { return e.Count == 0 })
	if len(seen) == 0 {
		return noEvidence()
	}
	all := noEvidence()
	all.Mean, all.SE = 0, seen[0].SE
	for _, e := range seen {
		all.Count += e.Count
		all.Visits += e.Visits
		all.Mean += tables.Number(float64(e.Mean) * float64(e.Count))
		all.AtLimit += float64(e.AtLimit * float64(e.Count))
	}
	n, k := float64(all.Count), float64(len(seen))
	all.Mean, all.AtLimit = all.Mean/tables.Number(n), all.AtLimit/n
	if k == 1 {
		return all
	}
	// Within cells by their own errors, between cells by how far their means lie
	// apart: the larger of the two.
	within, between := 0.0, 0.0 // squared errors of the pooled mean
	for _, e := range seen {
		w, off := float64(e.Count)/n, float64(e.Mean-all.Mean)
		between += float64(w * w * off * off)
		if e.SE.Known() {
			within += float64(w * w * float64(e.SE) * float64(e.SE))
		}
	}
	all.SE = tables.Number(math.Sqrt(max(within, between*(k/(k-1)))))
	return all
}

// align finds for each cell of the target the cell of a table of averages on the same
// breakpoints, in either order of the axes and in whatever unit. It asks that cells were
// gathered on the table's own breakpoints: to move averages onto others would make
// evidence of what was measured elsewhere.
func align(mean, target *tables.Table) ([]int, error) {
	straight := sameAxis(mean.X(), target.X()) && sameAxis(mean.Y(), target.Y())
	// Averages made along the other order of axes are the same averages.
	if !straight && !(sameAxis(mean.X(), target.Y()) && sameAxis(mean.Y(), target.X())) {
		return nil, fmt.Errorf("cells lie over %s, table %s over %s: gather them with --axes CAL:%s",
			over(mean), target.ID(), over(target), target.ID())
	}
	order := make([]int, len(target.Values()))
	for i := range order {
		if order[i] = i; !straight {
			order[i] = i%target.Columns()*mean.Columns() + i/target.Columns()
		}
	}
	return order, nil
}

// sameAxis reports whether two axes have one quantity and the same breakpoints.
func sameAxis(a, b *tables.Axis) bool {
	if a == nil || b == nil {
		return a == b
	}
	if along(a) != along(b) {
		return false
	}
	c := unit.Conversion{Mul: 1, Div: 1} // an axis without a unit is taken in the other's
	if a.Unit() != "" && b.Unit() != "" && !unit.Same(a.Unit(), b.Unit()) {
		var err error
		if c, err = unit.Find(a.Unit(), b.Unit()); err != nil {
			return false
		}
	}
	return slices.EqualFunc(c.ApplyAll(a.Points()), b.Points(), func(v, want float64) bool { return math.Abs(v-want) <= 1e-9*max(1, math.Abs(want)) })
}

// along is the channel along an axis, whether the axis is named as one of a calibration or
// as a channel of a log.
func along(a *tables.Axis) string { return axes.Channel(a.Quantity()) }

// over describes a table's axes by their ends, for a message.
func over(t *tables.Table) string {
	var list []string
	for _, a := range axesOf(t, 0) {
		list = append(list, fmt.Sprintf("%s [%s] %s to %s in %d", a.Quantity(), a.Unit(), tables.FormatValue(a.At(0)), tables.FormatValue(a.At(a.Len()-1)), a.Len()))
	}
	return cmp.Or(strings.Join(list, " and "), "no axis")
}

// targetOf is the table that a person named, or the only one of the first of the roles that
// a correction is made in; where says which those are.
func targetOf(cal *tables.Calibration, id, where string, roles ...tables.Role) (*tables.Table, error) {
	found, t := cal.ByRole(roles[0]), cal.Table(id)
	switch {
	case id == "" && len(found) == 1:
		return found[0], nil
	case id == "":
		return nil, fmt.Errorf("the calibration has %s with role %s: give --target TABLE", tables.Plural(len(found), "table"), roles[0])
	case t == nil:
		return nil, errors.New(tables.Unknown("table", id, cal.IDs()))
	case !slices.Contains(roles, t.Role()):
		return nil, fmt.Errorf("table %s has role %s: %s", id, cmp.Or(string(t.Role()), "none"), where)
	}
	return t, nil
}

// fuelTarget is the table to correct and how it answers to missing fuel.
func fuelTarget(cal *tables.Calibration, id string) (*tables.Table, correctionRule, error) {
	t, err := targetOf(cal, id, "fuel is corrected in injector.flow, air.meter or air.volumetric_efficiency", fuelRoles...)
	if err == nil && t.Role() == tables.InjectorFlow {
		return t, divide, nil
	}
	return t, multiply, err
}

// fuelRoles are those of the tables that fuel is corrected in.
var fuelRoles = []tables.Role{tables.InjectorFlow, tables.AirMeter, tables.AirVolumetricEfficiency}
