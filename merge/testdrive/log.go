package testdrive

import (
	"encoding/csv"
	"io"
	"math"
	"slices"
	"strconv"
)

// Log is what a logger would have written of a drive.
type Log struct {
	Headers []string    // as in the file, with units
	Columns [][]float64 // by header, rounded as a logger rounds
	list    []column
	visited []visit   // one each second
	due     []float64 // s, of each column's next reading, where channels are polled in turn
}

// column is a thing logged: its channel's plain name, its header, decimals.
type column struct {
	name, header string
	digits       int
	of           func(r *Run, t float64) float64
}

var common = []column{
	{"time", "Time (s)", 2, func(r *Run, t float64) float64 { return t }},
	{"engine_speed", "Engine speed (r/min)", 0, func(r *Run, t float64) float64 { return r.now.road.Speed }},
	{"manifold_pressure", "Manifold pressure (kPa)", 1, func(r *Run, t float64) float64 { return r.now.road.Manifold }},
	{"barometric_pressure", "Barometric pressure (kPa)", 1, func(r *Run, t float64) float64 { return r.p.Barometer }},
	{"air_flow", "Air flow (g/s)", 2, func(r *Run, t float64) float64 { return r.now.reading }},
	{"air_charge", "Air charge (mg)", 1, func(r *Run, t float64) float64 { return r.now.charge }},
	{"throttle", "Throttle (%)", 1, func(r *Run, t float64) float64 { return r.now.road.Throttle }},
	{"coolant", "Coolant temperature (degC)", 0, func(r *Run, t float64) float64 { return r.now.road.Coolant }},
	{"intake_air", "Intake air temperature (degC)", 0, func(r *Run, t float64) float64 { return r.now.road.Intake }},
	{"battery", "Battery voltage (V)", 2, func(r *Run, t float64) float64 { return r.now.road.Battery }},
	{"pulse_width", "Injector pulse width (ms)", 3, func(r *Run, t float64) float64 { return r.now.pulse }},
	{"lambda_commanded", "Commanded lambda (lambda)", 3, func(r *Run, t float64) float64 { return r.k.lambda }},
	{"spark", "Spark advance (deg)", 1, func(r *Run, t float64) float64 { return r.now.spark }},
	{"knock_retard", "Knock retard (deg)", 1, func(r *Run, t float64) float64 { return r.k.retard }},
	{"fuel_status", "Fuel status", 0, func(r *Run, t float64) float64 { return float64(r.k.status) }},
	{"purge", "Purge (%)", 0, func(r *Run, t float64) float64 { return r.purge }},
	{"speed", "Vehicle speed (km/h)", 0, func(r *Run, t float64) float64 { return r.now.road.Velocity * 3.6 }},
	{"gear", "Gear", 0, func(r *Run, t float64) float64 { return float64(r.now.road.Gear) }},
}

// trimsAs says how a logger writes trims: the unit in the header, and what it
// makes of a trim in per cent.
var trimsAs = map[string]struct {
	unit string
	of   func(v float64) float64
}{
	"":       {" (%)", func(v float64) float64 { return v }},
	"%":      {" (%)", func(v float64) float64 { return v }},
	"factor": {"", func(v float64) float64 { return 1 + v/100 }},
	"100":    {" (%)", func(v float64) float64 { return 100 + v }},
}

func trims(bank int, as string) []column {
	b, written := strconv.Itoa(bank+1), trimsAs[as]
	share := func(v float64) float64 { return written.of(math.Round(v*100/quantum) * quantum) }
	return []column{
		{"short_trim_" + b, "Short term fuel trim bank " + b + written.unit, 5,
			func(r *Run, t float64) float64 { return share(r.k.banks[bank].short) }},
		{"long_trim_" + b, "Long term fuel trim bank " + b + written.unit, 5, func(r *Run, t float64) float64 {
			k := &r.k.banks[bank]
			return share(k.long[k.cell])
		}},
	}
}

// columns lists what is logged in this drive.
func columns(p *plant, opt *DriveOptions) []column {
	list := slices.Clone(common)
	for i := range p.Banks {
		list = append(list, trims(i, opt.TrimsAs)...)
	}
	if p.meter != nil {
		list = append(list, column{"meter_frequency", "Meter frequency (Hz)", 1, func(r *Run, t float64) float64 { return r.now.hz }})
	}
	if len(p.Truth.ByRole("spark.fallback")) > 0 {
		list = append(list, column{"spark_blend", "Spark blend (%)", 1, func(r *Run, t float64) float64 { return 100 * r.k.blend }})
	}
	if opt.Wideband {
		list = append(list, column{"lambda", "Lambda (lambda)", 3, func(r *Run, t float64) float64 { return r.now.lambda }})
	}
	if opt.RailSensor {
		list = append(list, column{"rail_pressure", "Fuel rail pressure (kPa)", 0, func(r *Run, t float64) float64 { return r.gauge() }})
	}
	return slices.DeleteFunc(list, func(c column) bool { return slices.Contains(opt.Without, c.name) })
}

// gauge is the rail pressure over what the controller's calibration takes it to
// be held against, which is how its log is read.
func (r *Run) gauge() float64 {
	s := r.now.road
	switch r.k.Rail.RelativeTo {
	case "manifold":
		return r.now.delta
	case "absolute":
		return r.now.delta + s.Manifold
	}
	return r.now.delta + s.Manifold - r.p.Barometer
}

func newLog(p *plant, opt *DriveOptions) *Log {
	l := &Log{list: columns(p, opt)}
	rows := int(opt.Minutes*60*opt.Hz) + 1
	for i, c := range l.list {
		l.due = append(l.due, opt.Held*float64(i)/float64(len(l.list)))
		l.Headers = append(l.Headers, c.header)
		l.Columns = append(l.Columns, make([]float64, 0, rows))
	}
	return l
}

func (r *Run) write(t float64) {
	if r.p.Knock != nil {
		r.p.Knock.Row()
	}
	for i, c := range r.log.list {
		// Polled in turn, each channel's reading is repeated until its own comes again; the
		// time is always the row's.
		if rows := r.log.Columns[i]; i > 0 && len(rows) > 0 && t < r.log.due[i] {
			r.log.Columns[i] = append(rows, rows[len(rows)-1])
			continue
		}
		r.log.due[i] += r.opt.Held
		scale := math.Pow10(c.digits)
		r.log.Columns[i] = append(r.log.Columns[i], math.Round(c.of(r, t)*scale)/scale)
	}
}

// Column is a channel by its plain name, or nil where it is not logged. The
// caller must not change it.
func (l *Log) Column(name string) []float64 {
	if i := slices.IndexFunc(l.list, func(c column) bool { return c.name == name }); i >= 0 {
		return l.Columns[i]
	}
	return nil
}

// Rows is the number of rows.
func (l *Log) Rows() int { return len(l.Columns[0]) }

// WriteCSV writes the log as a logger would: comma separated, one header row
// with units.
func (l *Log) WriteCSV(w io.Writer) error {
	out := csv.NewWriter(w)
	out.Write(l.Headers)
	cells := make([]string, len(l.Columns))
	for row := range l.Rows() {
		for i, c := range l.Columns {
			cells[i] = strconv.FormatFloat(c[row]+0, 'f', l.list[i].digits, 64)
		}
		out.Write(cells)
	}
	out.Flush()
	return out.Error()
}
