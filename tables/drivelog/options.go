package drivelog

import (
	"cmp"
	"context"
	"fmt"
	"slices"
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

	Let            []Definition // definitions, each may use those before it
	Engine         *tables.Engine
	EffectivePulse *EffectivePulse // nil where no calibration gives an injector's offset

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

// EffectivePulse computes effective_pulse in ms, where the log has no such channel, from
// others: Func gets the inputs' values in order and returns NaN where there is no value.
type EffectivePulse struct {
	Inputs []string
	Func   func(in []float64) float64
}

// usualMaxAge is for how many seconds a reading stands: it bridges the slowest rounds
// in which loggers poll their channels. Common practice, no source.
const usualMaxAge = 2

// petrol is the air/fuel ratio at which a gauge that shows ratios means lambda 1,
// whatever the fuel, since most are marked for petrol; and a controller's of which
// nobody says otherwise.
const petrol = 14.7

// withDefaults puts what is usual in the place of what is not asked for.
func (o Options) withDefaults() Options {
	if o.MaxAge == nil {
		age := float64(usualMaxAge)
		o.MaxAge = &age
	}
	if o.Missing == nil {
		o.Missing = dialect.MissingMarks
	}
	if o.Context == nil {
		o.Context = context.Background()
	}
	o.GaugeStoich = cmp.Or(o.GaugeStoich, petrol)
	o.MaxLine = cmp.Or(o.MaxLine, 4<<20) // bounds the memory that a file without line ends takes
	// Large enough that handing pieces over costs nothing beside reading them, and small
	// enough that a few of them fit a processor's cache.
	o.piece = cmp.Or(o.piece, 256<<10)
	return o
}

// asked says how readings were to be understood, as far as that is not the usual
// way: what two logs must share for their readings to be alike.
func (o *Options) asked() string {
	var parts []string
	for _, v := range []struct {
		name         string
		value, usual float64
	}{{"max age", *o.MaxAge, usualMaxAge}, {"gap", o.Gap, 0}, {"gauge stoich", o.GaugeStoich, petrol}, {"stoich", o.settings().Stoich, petrol}} {
		if v.value != v.usual {
			parts = append(parts, v.name+" "+tables.FormatValue(v.value))
		}
	}
	return strings.Join(parts, "; ")
}

// asks is how the log is asked to be read.
func (o *Options) asks() *dialect.Asked {
	return &dialect.Asked{Delimiter: o.Delimiter, Decimal: o.Decimal, UnitsRow: o.UnitsRow, HeaderLine: o.HeaderLine, MaxLine: o.MaxLine}
}

// settings is what is given about channels.
func (o *Options) settings() *channel.Settings {
	s := &channel.Settings{Units: o.Units, GaugeStoich: o.GaugeStoich, Stoich: petrol, StoichFrom: "no calibration says otherwise"}
	// A gauge shows ratios by its own scale, a command by the controller's.
	if o.Engine != nil && o.Engine.StoichAFR > 0 {
		s.Stoich, s.StoichFrom = o.Engine.StoichAFR, "the calibration's stoich_afr"
	}
	return s
}

// check refuses words that are none of those there are, and definitions that can mean
// nothing.
func (o *Options) check() error {
	for _, c := range []struct {
		what, word string
		known      []string
	}{
		{"encoding", o.Encoding, dialect.Encodings}, {"decimal mark", o.Decimal, []string{".", ","}}, {"units row", o.UnitsRow, []string{"yes", "no"}},
		{"form", o.Form, []string{"wide", "long"}}, {"held", o.Held, []string{"yes", "no"}},
	} {
		if c.word != "" && !slices.Contains(c.known, c.word) {
			return fmt.Errorf("%s is %s, expected %s", c.what, tables.Quote(c.word), strings.Join(c.known, " or "))
		}
	}
	for _, d := range o.Let {
		if !formula.IsOwnName(d.Name) {
			return fmt.Errorf("the name %s that is to be defined is not of lower-case letters, digits and _", tables.Quote(d.Name))
		}
	}
	return formula.CheckRings(o.Let)
}
