package drivelog

import (
	"context"
	"fmt"
	"strings"

	"calsplice/tables"
	"calsplice/tables/drivelog/channel"
	"calsplice/tables/drivelog/dialect"
	"calsplice/tables/drivelog/formula"
	"calsplice/tables/drivelog/rows"
)

// Options says how a log is to be read where it should not be as detected. The
// zero value detects everything.
type Options struct {
	// Channels maps channel names to headers as the log writes them. A name
	// that is not a known channel becomes one, its numbers as they stand.
	Channels map[string]string
	// Units gives the log's unit for a channel, over what its header says. A
	// trim also takes "factor" (1 is no correction), "hundred" (100 is)
	// and "share" (0.01 is 1 %).
	Units map[string]string
	// SpareUnits says that Units may name channels that this log does not have:
	// they are a logger's, of which each log has some.
	SpareUnits bool

	MaxAge      *float64 // seconds after which a reading no longer stands; nil is 2
	GaugeStoich float64  // air/fuel ratio of a gauge at lambda 1; 0 is 14.7
	Stoich      float64  // air/fuel ratio of the controller at lambda 1; 0 is the engine's, or 14.7

	Let     []Definition // definitions, each may use those before it
	Derived []Derived    // values that the caller computes
	Engine  *tables.Engine

	Encoding   string // utf-8, utf-16le, utf-16be, latin-1
	Delimiter  string // one character; "tab" too
	Decimal    string // "." or ","
	TimeFormat string // s, ms, us, ns, min, h, days, hh:mm:ss, mm:ss, iso
	HeaderLine int    // from 1; 0 detects it
	UnitsRow   string // yes or no: units stand on the line under the header; "" detects it
	Form       string // wide or long
	Held       string // yes or no: an empty cell of a wide log means "as above"
	Missing    []string
	Gap        float64 // seconds without a row that end a stretch; 0 is five typical steps, 2 s at least
	MaxLine    int     // bytes; 0 is 4 MiB
	Workers    int     // 0 is one for each processor

	// Overlaps, if given, remembers rows of each log that is scanned.
	Overlaps *Overlaps

	// Context ends what Open itself reads, a stream to be put aside or a log to
	// be gone through once, when it ends; nil never does.
	Context context.Context

	piece int64 // bytes that a worker reads at a time; 0 is 256 KiB. Tests make it small.

	// Progress, if given, is called whenever the log begins to be read; what it
	// gives is told now and then how far that is, in bytes of the file, and all of
	// them when the reading ends, however it does.
	Progress func() func(done, size int64)
}

// Definition is a name given to an expression over channels and earlier names.
type Definition = formula.Definition

// Fault is one kind of defect that a log was read in spite of.
type Fault = rows.Fault

// Derived is a value computed from channels by the caller: Func gets the
// inputs' values in order and returns NaN where there is no value. A derived
// value hides a channel of the same name.
type Derived struct {
	Name, Unit string
	Inputs     []string
	Func       func(in []float64) float64
}

// maxAge is how long a reading stands. Two seconds bridge the slowest rounds in
// which loggers poll their channels; common practice, no source.
func (o *Options) maxAge() float64 {
	if o.MaxAge == nil {
		return 2
	}
	return *o.MaxAge
}

// gaugeStoich is the air/fuel ratio at which a gauge that shows ratios means
// lambda 1, whatever the fuel: most are marked for petrol.
func (o *Options) gaugeStoich() float64 {
	if o.GaugeStoich > 0 {
		return o.GaugeStoich
	}
	return 14.7
}

// stoich is the controller's air/fuel ratio at lambda 1: what is asked for, else the
// calibration's, else that of petrol.
func (o *Options) stoich() float64 {
	switch {
	case o.Stoich > 0:
		return o.Stoich
	case o.Engine != nil && o.Engine.StoichAFR > 0:
		return o.Engine.StoichAFR
	}
	return 14.7
}

// asked says how readings were to be understood, as far as that is not the usual
// way: what two logs must share for their readings to be alike.
func (o *Options) asked() string {
	var parts []string
	for _, v := range []struct {
		name         string
		value, usual float64
	}{{"max age", o.maxAge(), 2}, {"gap", o.Gap, 0}, {"gauge stoich", o.gaugeStoich(), 14.7}, {"stoich", o.stoich(), 14.7}} {
		if v.value != v.usual {
			parts = append(parts, v.name+" "+tables.FormatValue(v.value))
		}
	}
	return strings.Join(parts, "; ")
}

// context ends what Open reads; without one, nothing does.
func (o *Options) context() context.Context {
	if o.Context == nil {
		return context.Background()
	}
	return o.Context
}

// pieceSize is large enough that handing pieces over costs nothing beside reading
// them, and small enough that a few of them fit a processor's cache.
func (o *Options) pieceSize() int64 {
	if o.piece > 0 {
		return o.piece
	}
	return 256 << 10
}

// maxLine bounds the memory that a file without line ends takes.
func (o *Options) maxLine() int {
	if o.MaxLine > 0 {
		return o.MaxLine
	}
	return 4 << 20
}

// asks is how the log is asked to be read.
func (o *Options) asks() *dialect.Asked {
	return &dialect.Asked{Delimiter: o.Delimiter, Decimal: o.Decimal, UnitsRow: o.UnitsRow, HeaderLine: o.HeaderLine, MaxLine: o.maxLine()}
}

// settings is what is given about channels.
func (o *Options) settings() *channel.Settings {
	s := &channel.Settings{Units: o.Units, GaugeStoich: o.gaugeStoich(), Stoich: o.stoich(), StoichFrom: "the calibration's stoich_afr"}
	if o.Stoich == 0 && (o.Engine == nil || o.Engine.StoichAFR == 0) {
		s.StoichFrom = "no calibration says otherwise"
	}
	return s
}

// checkLet refuses definitions that can mean nothing.
func (o *Options) checkLet() error {
	for _, d := range o.Let {
		if !formula.IsOwnName(d.Name) {
			return fmt.Errorf("the name %s that is to be defined is not of lower-case letters, digits and _", tables.Quote(d.Name))
		}
	}
	return formula.CheckRings(o.Let)
}
